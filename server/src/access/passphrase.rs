//! Passphrases: length before composition, hashed with argon2id.

use argon2::Argon2;
use argon2::password_hash::phc::PasswordHash;
use argon2::password_hash::{PasswordHasher, PasswordVerifier};
use serde::Serialize;
use utoipa::ToSchema;
use zxcvbn::{Entropy, Score, zxcvbn};

/// Shortest passphrase taken, characters (OWASP ASVS 4.0.3, requirement 2.1.1).
pub const SHORTEST: usize = 12;

/// Longest passphrase taken, characters (OWASP ASVS 4.0.3, requirement 2.1.2).
pub const LONGEST: usize = 128;

/// Characters that are judged at most.
const JUDGED: usize = 64;

/// What is easily guessed here beside the account's own name.
const OF_THE_HOUSE: [&str; 4] = ["handcall", "glove", "costume", "workshop"];

/// How hard a passphrase is to guess.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
pub struct Strength {
    /// Guesses it would take, as a power of ten.
    pub digits: u32,
    /// Whether it is taken.
    pub is_enough: bool,
}

/// How hard a passphrase is to guess by somebody who knows the account's name and the house.
#[must_use]
pub fn strength(passphrase: &str, account: &str) -> Strength {
    let digits = estimate(passphrase, account).guesses_log10().max(0.0).floor() as u32;
    Strength { digits, is_enough: refusal(passphrase, account).is_none() }
}

fn estimate(passphrase: &str, account: &str) -> Entropy {
    let inputs: Vec<&str> = OF_THE_HOUSE.into_iter().chain([account]).collect();
    // The estimate knows the common passphrases, names, words, dates and keyboard walks, and what
    // people do to them. It costs time by the square of the length, and what is long is not in its
    // lists.
    let start: String = passphrase.chars().take(JUDGED).collect();
    zxcvbn(&start, &inputs)
}

/// What is wrong with a new passphrase, if anything: stable code.
#[must_use]
pub fn refusal(passphrase: &str, account: &str) -> Option<&'static str> {
    let length = passphrase.chars().count();
    if length < SHORTEST {
        return Some("passphrase_short");
    }
    if length > LONGEST {
        return Some("passphrase_long");
    }
    let contains_name = passphrase.to_lowercase().contains(&account.to_lowercase());
    let is_easy = contains_name || estimate(passphrase, account).score() < Score::Three;
    is_easy.then_some("passphrase_common")
}

/// Hashes a passphrase; slow on purpose, so never on a worker.
///
/// # Errors
/// When the system gives no randomness.
pub fn hash(passphrase: &str) -> Result<String, std::io::Error> {
    Argon2::default()
        .hash_password(passphrase.as_bytes())
        .map(|hash| hash.to_string())
        .map_err(|error| std::io::Error::other(error.to_string()))
}

/// Whether a passphrase fits a stored hash. Without one the same time is spent, so that the answer
/// does not tell whether the account exists.
#[must_use]
pub fn verify(passphrase: &str, stored: Option<&str>) -> bool {
    let parsed = stored.and_then(|stored| PasswordHash::new(stored).ok());
    match parsed {
        Some(hash) => Argon2::default().verify_password(passphrase.as_bytes(), &hash).is_ok(),
        None => {
            let _ = hash(passphrase);
            false
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_passphrase_verifies_against_its_own_hash_only() {
        let stored = hash("four grey mice sing").expect("hashed");
        assert!(stored.starts_with("$argon2id$v=19$"), "{stored}");
        assert!(verify("four grey mice sing", Some(&stored)));
        assert!(!verify("four grey mice sang", Some(&stored)));
        assert!(!verify("four grey mice sing", None));
        assert!(!verify("four grey mice sing", Some("not a hash")));
    }

    #[test]
    fn strength_is_told_in_guesses_and_agrees_with_what_is_taken() {
        let weak = strength("password12345", "marigold");
        let strong = strength("four grey mice sing", "marigold");
        assert!(!weak.is_enough && weak.digits < 8, "{weak:?}");
        // Below a score of 3 it takes under 10^8 guesses, by the estimate's own scale.
        assert!(strong.is_enough && strong.digits >= 8, "{strong:?}");
        assert!(!strength("", "marigold").is_enough);
        assert!(strength(&"four grey mice ".repeat(2000), "marigold").digits >= 8, "in no time");
    }

    #[test]
    fn short_common_and_own_names_are_refused() {
        let code = |text: &str| refusal(text, "marigold");
        assert_eq!(code("four mice"), Some("passphrase_short"));
        assert_eq!(code("password12345"), Some("passphrase_common"));
        assert_eq!(code("ababababababab"), Some("passphrase_common"));
        for common in [
            "Passw0rd1234",
            "qwertyuiop[]",
            "iloveyou1234",
            "123456789012",
            "letmeinletmein",
            "handcallhandcall",
            "administrator",
            "liverpool2026",
        ] {
            assert_eq!(code(common), Some("passphrase_common"), "{common}");
        }
        assert_eq!(code("Marigold and more"), Some("passphrase_common"));
        assert_eq!(code(&"four grey mice ".repeat(20)), Some("passphrase_long"));
        assert_eq!(code("four grey mice sing"), None);
    }
}

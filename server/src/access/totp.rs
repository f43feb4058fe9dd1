//! Codes of an authenticator app: time-based one-time passwords after RFC 6238, with SHA-1, six
//! digits and steps of 30 seconds, which is what every such app makes.

use hmac::{Hmac, KeyInit, Mac};
use sha1::Sha1;

use super::token;

/// Bytes of a secret: as many as the hash has (RFC 4226, section 4, requirement R6).
pub const SECRET_BYTES: usize = 20;

/// Length of a step, seconds (RFC 6238, section 4.1).
pub const STEP_SECONDS: i64 = 30;

/// Digits of a code.
pub const DIGITS: u32 = 6;

/// Steps a clock may be off either way (RFC 6238, section 5.2 recommends one at most).
const STEPS_OFF: i64 = 1;

/// Alphabet of base 32 (RFC 4648, section 6).
const BASE_32: &[u8; 32] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZ234567";

/// A new secret.
///
/// # Errors
/// When the system gives no randomness.
pub fn new_secret() -> std::io::Result<Vec<u8>> {
    let mut secret = vec![0; SECRET_BYTES];
    getrandom::fill(&mut secret).map_err(std::io::Error::other)?;
    Ok(secret)
}

/// The step of a code that fits now and has not been taken: later than `last_step`.
#[must_use]
pub fn fitting_step(secret: &[u8], typed: &str, now_ms: i64, last_step: i64) -> Option<i64> {
    let typed: String = typed.chars().filter(|c| !c.is_whitespace()).collect();
    let now = now_ms.div_euclid(1000 * STEP_SECONDS);
    (now - STEPS_OFF..=now + STEPS_OFF)
        .filter(|step| *step > last_step)
        .find(|step| token::equal(&code(secret, *step, DIGITS), &typed))
}

/// The code of a step (RFC 4226, section 5.3).
#[must_use]
pub fn code(secret: &[u8], step: i64, digits: u32) -> String {
    let Ok(mut mac) = Hmac::<Sha1>::new_from_slice(secret) else { return String::new() };
    mac.update(&step.to_be_bytes());
    let hash = mac.finalize().into_bytes();
    let offset = usize::from(hash.last().copied().unwrap_or(0) & 0x0f);
    let mut four = [0; 4];
    for (to, from) in four.iter_mut().zip(hash.iter().skip(offset)) {
        *to = *from;
    }
    let number = (u32::from_be_bytes(four) & 0x7fff_ffff) % 10_u32.pow(digits);
    format!("{number:0width$}", width = digits as usize)
}

/// Bytes in base 32 without padding, as apps take a secret that is typed.
#[must_use]
pub fn base_32(bytes: &[u8]) -> String {
    let mut text = String::new();
    for five in bytes.chunks(5) {
        let mut group = [0; 8];
        for (to, from) in group.iter_mut().skip(3).zip(five) {
            *to = *from;
        }
        let bits = u64::from_be_bytes(group);
        let letters = (five.len() * 8).div_ceil(5);
        for at in 0..letters {
            let index = (bits >> (35 - 5 * at)) & 31;
            text.extend(BASE_32.get(index as usize).map(|letter| char::from(*letter)));
        }
    }
    text
}

/// What an app reads from the square: issuer, account and secret.
#[must_use]
pub fn address(account: &str, secret: &[u8]) -> String {
    let safe = |c: char| if c.is_ascii_alphanumeric() { c } else { '-' };
    let account: String = account.chars().map(safe).collect();
    format!("otpauth://totp/Handcall:{account}?secret={}&issuer=Handcall", base_32(secret))
}

/// A new recovery code: 80 bits in four groups.
///
/// # Errors
/// When the system gives no randomness.
pub fn recovery_code() -> std::io::Result<String> {
    let mut bytes = [0; 10];
    getrandom::fill(&mut bytes).map_err(std::io::Error::other)?;
    let text = base_32(&bytes).to_lowercase();
    let groups: Vec<String> =
        text.as_bytes().chunks(4).map(|four| String::from_utf8_lossy(four).into_owned()).collect();
    Ok(groups.join("-"))
}

/// What is stored of a recovery code, however it is typed.
#[must_use]
pub fn recovery_hash(typed: &str) -> Vec<u8> {
    let letters: String =
        typed.chars().filter(char::is_ascii_alphanumeric).collect::<String>().to_lowercase();
    token::hash(&letters)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// RFC 6238, appendix B, and RFC 4226, appendix D, share this secret.
    const SECRET: &[u8] = b"12345678901234567890";

    #[test]
    fn codes_are_those_of_the_rfcs() {
        // RFC 6238, appendix B, the rows of SHA-1: eight digits.
        for (seconds, expected) in [
            (59, "94287082"),
            (1_111_111_109, "07081804"),
            (1_111_111_111, "14050471"),
            (1_234_567_890, "89005924"),
            (2_000_000_000, "69279037"),
            (20_000_000_000, "65353130"),
        ] {
            assert_eq!(code(SECRET, seconds / STEP_SECONDS, 8), expected, "{seconds} s");
        }
        // RFC 4226, appendix D: counters 0 to 9, six digits.
        let expected = [
            "755224", "287082", "359152", "969429", "338314", "254676", "287922", "162583",
            "399871", "520489",
        ];
        for (counter, expected) in (0..).zip(expected) {
            assert_eq!(code(SECRET, counter, 6), expected, "{counter}");
        }
    }

    #[test]
    fn base_32_is_that_of_the_rfc_without_padding() {
        // RFC 4648, section 10.
        for (text, expected) in [
            ("", ""),
            ("f", "MY"),
            ("fo", "MZXQ"),
            ("foo", "MZXW6"),
            ("foob", "MZXW6YQ"),
            ("fooba", "MZXW6YTB"),
            ("foobar", "MZXW6YTBOI"),
        ] {
            assert_eq!(base_32(text.as_bytes()), expected);
        }
    }

    #[test]
    fn a_code_fits_one_step_to_either_side_and_never_again() {
        let now = 1_111_111_109_000;
        let step = now / 1000 / STEP_SECONDS;
        for (at, fits) in [(step - 2, false), (step - 1, true), (step + 1, true), (step + 2, false)]
        {
            let typed = code(SECRET, at, 6);
            assert_eq!(fitting_step(SECRET, &typed, now, 0).is_some(), fits, "{}", at - step);
        }
        let typed = code(SECRET, step, 6);
        assert_eq!(fitting_step(SECRET, &format!(" {typed} "), now, 0), Some(step));
        assert_eq!(fitting_step(SECRET, &typed, now, step), None, "a replay");
        let older = code(SECRET, step - 1, 6);
        assert_eq!(fitting_step(SECRET, &older, now, step), None, "an older one");
    }

    #[test]
    fn recovery_codes_are_typed_in_any_case_and_spacing() {
        let made = recovery_code().expect("randomness");
        assert_eq!(made.len(), 19);
        let typed = made.to_uppercase().replace('-', " ");
        assert_eq!(recovery_hash(&made), recovery_hash(&typed));
    }
}

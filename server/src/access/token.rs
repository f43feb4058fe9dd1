//! Random tokens. What is stored is their hash, so that a copy of the database opens nothing.

use sha2::{Digest, Sha256};

/// Bytes of randomness in a token: 256 bits, beyond guessing.
const BYTES: usize = 32;

/// A new token in hexadecimal.
///
/// # Errors
/// When the system gives no randomness.
pub fn random() -> Result<String, std::io::Error> {
    let mut bytes = [0_u8; BYTES];
    getrandom::fill(&mut bytes).map_err(std::io::Error::other)?;
    Ok(bytes.iter().map(|byte| format!("{byte:02x}")).collect())
}

/// What is stored of a token.
#[must_use]
pub fn hash(token: &str) -> Vec<u8> {
    Sha256::digest(token.as_bytes()).to_vec()
}

/// Whether two tokens are equal, in a time that does not tell where they differ.
#[must_use]
pub fn equal(a: &str, b: &str) -> bool {
    a.len() == b.len() && a.bytes().zip(b.bytes()).fold(0, |diff, (x, y)| diff | (x ^ y)) == 0
}

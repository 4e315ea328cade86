//! Random secrets and what is kept of them: tokens by their hash only, PINs by argon2.
//!
//! Sources: SHA-256, FIPS 180-4 (NIST 2015); Argon2id, RFC 9106 (2021), with the parameters of the argon2 crate
//! 0.6.0 (19 MiB, 2 passes, 1 lane), stored as a PHC string.

use argon2::Argon2;
use argon2::password_hash::phc::PasswordHash;
use argon2::password_hash::{PasswordHasher, PasswordVerifier};
use sha2::{Digest, Sha256};

/// Why no secret could be made.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub(crate) enum SecretError {
    /// The operating system gave no random bytes.
    #[error("the computer gives no random numbers; nothing was changed. Restart it")]
    NoRandom,
    /// The PIN could not be hashed.
    #[error("the PIN could not be hashed; nothing was changed")]
    NotHashed,
}

/// A token of 256 random bits, in hexadecimal.
pub(crate) fn token() -> Result<String, SecretError> {
    let mut bytes = [0_u8; 32];
    getrandom::fill(&mut bytes).map_err(|_| SecretError::NoRandom)?;
    Ok(hex(&bytes))
}

/// A code of eight digits, each code equally likely.
pub(crate) fn code() -> Result<String, SecretError> {
    const CODES: u32 = 100_000_000;
    // The part of 2^32 that codes divide evenly.
    const EVEN: u32 = u32::MAX / CODES * CODES;
    loop {
        let mut bytes = [0_u8; 4];
        getrandom::fill(&mut bytes).map_err(|_| SecretError::NoRandom)?;
        let number = u32::from_le_bytes(bytes);
        if number < EVEN {
            return Ok(format!("{:08}", number % CODES));
        }
    }
}

/// What is kept of a token: 256 random bits need no salt and no slow hash.
pub(crate) fn hash_of(token: &str) -> String {
    hex(&Sha256::digest(token.as_bytes()))
}

/// What is kept of a PIN.
pub(crate) fn hash_pin(pin: &str) -> Result<String, SecretError> {
    let mut salt = [0_u8; 16];
    getrandom::fill(&mut salt).map_err(|_| SecretError::NoRandom)?;
    let hash: PasswordHash =
        Argon2::default().hash_password_with_salt(pin.as_bytes(), &salt).map_err(|_| SecretError::NotHashed)?;
    Ok(hash.to_string())
}

/// Whether a PIN is the one of which `kept` was made.
pub(crate) fn is_pin(pin: &str, kept: &str) -> bool {
    PasswordHash::new(kept).is_ok_and(|hash| Argon2::default().verify_password(pin.as_bytes(), &hash).is_ok())
}

/// Whether two secrets are one, in a time that does not tell where they differ.
pub(crate) fn same(a: &str, b: &str) -> bool {
    let differ = a.bytes().zip(b.bytes()).fold(0, |differ, (a, b)| differ | (a ^ b));
    a.len() == b.len() && differ == 0
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: FIPS 180-4 example "abc" (NIST, SHA-256 examples). Tolerance: none; difference seen: none.
    #[test]
    fn val_token_hash_is_sha_256() {
        assert_eq!(hash_of("abc"), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    }

    #[test]
    fn verif_secrets_differ_and_pins_verify() {
        let tokens: std::collections::BTreeSet<String> = (0..100).map(|_| token().unwrap()).collect();
        assert_eq!(tokens.len(), 100);
        assert!(tokens.iter().all(|token| token.len() == 64));
        let code = code().unwrap();
        assert!(code.len() == 8 && code.bytes().all(|byte| byte.is_ascii_digit()));
        let kept = hash_pin("4711").unwrap();
        assert!(kept.starts_with("$argon2id$v=19$m=19456,t=2,p=1$"), "{kept}");
        assert_ne!(kept, hash_pin("4711").unwrap(), "each hash has its own salt");
        assert!(is_pin("4711", &kept) && !is_pin("4712", &kept) && !is_pin("4711", "nonsense"));
        assert!(same("ab", "ab") && !same("ab", "ac") && !same("ab", "abc") && !same("", "a"));
    }
}

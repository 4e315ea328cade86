//! The chain: SHA-256 over a domain tag, the previous hash and every other column of the row, each with
//! its storage type and its length, so that null and empty, text and bytes, and shifted borders differ.
//!
//! Source: FIPS 180-4 (NIST 2015), "Secure Hash Standard", SHA-256.

use rusqlite::types::ValueRef;
use sha2::{Digest, Sha256};

/// A row's SHA-256.
pub type Hash = [u8; 32];

/// The previous hash of the first row.
pub const GENESIS: Hash = [0; 32];

/// What is hashed first, so that no other use of SHA-256 can be taken for a row.
const DOMAIN: &[u8] = b"gangion journal row 1\n";

/// Collects a row's columns and hashes them in one go; the buffer is used again for the next row.
#[derive(Debug, Default)]
pub(crate) struct Chain {
    buffer: Vec<u8>,
}

impl Chain {
    /// Begins a row that follows `previous`.
    pub(crate) fn begin(&mut self, previous: ValueRef<'_>) {
        self.buffer.clear();
        self.buffer.extend_from_slice(DOMAIN);
        self.column(previous);
    }

    /// Adds the next column.
    pub(crate) fn column(&mut self, value: ValueRef<'_>) {
        match value {
            ValueRef::Null => self.piece(b'0', &[]),
            ValueRef::Integer(number) => self.piece(b'i', &number.to_le_bytes()),
            ValueRef::Real(number) => self.piece(b'r', &number.to_bits().to_le_bytes()),
            ValueRef::Text(text) => self.piece(b't', text),
            ValueRef::Blob(bytes) => self.piece(b'b', bytes),
        }
    }

    fn piece(&mut self, storage: u8, bytes: &[u8]) {
        self.buffer.push(storage);
        self.buffer.extend_from_slice(&(bytes.len() as u64).to_le_bytes()[..4]);
        self.buffer.extend_from_slice(bytes);
    }

    /// The hash of the row.
    pub(crate) fn end(&self) -> Hash {
        Sha256::digest(&self.buffer).into()
    }

    /// How many bytes the hash covers.
    pub(crate) fn covered_bytes(&self) -> usize {
        self.buffer.len()
    }
}

/// Lower-case hexadecimal.
pub(crate) fn hex(bytes: &[u8]) -> String {
    const DIGITS: &[u8; 16] = b"0123456789abcdef";
    let digit = |value: u8| char::from(DIGITS[usize::from(value & 15)]);
    bytes.iter().flat_map(|byte| [digit(byte >> 4), digit(*byte)]).collect()
}

/// A hash from 64 hexadecimal digits of either case.
pub(crate) fn unhex(text: &str) -> Option<Hash> {
    if text.len() != 64 || !text.is_ascii() {
        return None;
    }
    let mut hash = GENESIS;
    for (byte, pair) in hash.iter_mut().zip(text.as_bytes().chunks_exact(2)) {
        let high = char::from(pair[0]).to_digit(16)?;
        let low = char::from(pair[1]).to_digit(16)?;
        *byte = u8::try_from(high * 16 + low).ok()?;
    }
    Some(hash)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn hash_of(columns: &[ValueRef<'_>]) -> Hash {
        let mut chain = Chain::default();
        chain.begin(ValueRef::Blob(&GENESIS));
        columns.iter().for_each(|column| chain.column(*column));
        chain.end()
    }

    #[test]
    fn verif_null_empty_type_and_borders_differ() {
        let rows = [
            vec![ValueRef::Null],
            vec![ValueRef::Text(b"")],
            vec![ValueRef::Blob(b"")],
            vec![ValueRef::Text(b"ab"), ValueRef::Text(b"c")],
            vec![ValueRef::Text(b"a"), ValueRef::Text(b"bc")],
            vec![ValueRef::Integer(1)],
            vec![ValueRef::Real(1.0)],
            vec![],
        ];
        let hashes: std::collections::BTreeSet<Hash> = rows.iter().map(|row| hash_of(row)).collect();
        assert_eq!(hashes.len(), rows.len());
    }

    /// FIPS 180-4 example, message "abc" (NIST, "SHA-256 example values"): exact.
    #[test]
    fn val_sha256_of_abc() {
        let hash: Hash = Sha256::digest(b"abc").into();
        let published = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
        assert_eq!(hex(&hash), published);
        assert_eq!(unhex(published), Some(hash));
        assert_eq!(unhex("ba78"), None);
    }
}

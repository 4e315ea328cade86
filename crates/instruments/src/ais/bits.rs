//! Six-bit payload characters, read as numbers and text.
//!
//! Source: gpsd `AIVDM.adoc`, "AIVDM/AIVDO Payload Armoring" and the six-bit ASCII table.

/// The bits of one whole message.
#[derive(Debug, Clone, Default)]
pub struct Bits {
    sixes: Vec<u8>,
    length: usize,
}

/// Why a payload has no bits.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum PayloadError {
    /// A character that the armour does not use.
    #[error("AIS payload has the byte {byte:02X} hex, which is not a six-bit character")]
    BadByte {
        /// The byte.
        byte: u8,
    },
    /// More fill bits than a character holds, or than there are bits.
    #[error("AIS message claims {fill_bits} fill bits, at most 5 are possible")]
    BadFill {
        /// Fill bits as sent.
        fill_bits: u32,
    },
}

impl Bits {
    /// Adds the characters of one sentence, without its fill bits.
    ///
    /// # Errors
    /// [`PayloadError`] when a character or the number of fill bits is impossible.
    pub fn add(&mut self, payload: &[u8], fill_bits: u32) -> Result<(), PayloadError> {
        let fill = usize::try_from(fill_bits).unwrap_or(usize::MAX);
        if fill > 5 || fill > payload.len() * 6 {
            return Err(PayloadError::BadFill { fill_bits });
        }
        for &byte in payload {
            self.sixes.push(match byte {
                48..=87 => byte - 48,
                96..=119 => byte - 56,
                _ => return Err(PayloadError::BadByte { byte }),
            });
        }
        self.length = self.sixes.len() * 6 - fill;
        Ok(())
    }

    /// Number of bits.
    #[must_use]
    pub const fn len(&self) -> usize {
        self.length
    }

    /// No bits at all.
    #[must_use]
    pub const fn is_empty(&self) -> bool {
        self.length == 0
    }

    /// `count` bits (up to 32) from `start` as a number; none where the message is too short.
    #[must_use]
    pub fn unsigned(&self, start: usize, count: usize) -> Option<u32> {
        if count > 32 || start.checked_add(count)? > self.length {
            return None;
        }
        let mut value = 0_u32;
        for at in start..start + count {
            value = value << 1 | u32::from(self.sixes[at / 6] >> (5 - at % 6) & 1);
        }
        Some(value)
    }

    /// The same, in two's complement.
    #[must_use]
    pub fn signed(&self, start: usize, count: usize) -> Option<i32> {
        let unused = 32_usize.checked_sub(count)?;
        Some((self.unsigned(start, count)? << unused).cast_signed() >> unused)
    }

    /// One bit.
    #[must_use]
    pub fn flag(&self, at: usize) -> Option<bool> {
        self.unsigned(at, 1).map(|bit| bit == 1)
    }

    /// `characters` six-bit characters from `start`, as far as the message goes; ends at `@`, without
    /// blanks at the end; none when nothing is left.
    #[must_use]
    pub fn text(&self, start: usize, characters: usize) -> Option<String> {
        let mut text = String::new();
        for at in 0..characters {
            let Some(six) = self.unsigned(start + at * 6, 6) else { break };
            let six = u8::try_from(six).ok()?;
            if six == 0 {
                break;
            }
            text.push(char::from(if six < 32 { six + 64 } else { six }));
        }
        text.truncate(text.trim_end().len());
        (!text.is_empty()).then_some(text)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn verif_numbers_signs_and_text() {
        let mut bits = Bits::default();
        // "0" is 000000, "w" is 111111, "1" is 000001: 18 bits less 2.
        bits.add(b"0w1", 2).unwrap();
        assert_eq!(bits.len(), 16);
        assert_eq!(bits.unsigned(0, 12), Some(63));
        assert_eq!(bits.signed(6, 6), Some(-1));
        assert_eq!(bits.unsigned(12, 5), None);
        assert_eq!(bits.text(12, 4), None);
        assert!(Bits::default().add(b"X", 0).is_err());
        assert!(Bits::default().add(b"0", 6).is_err());
        assert!(Bits::default().add(b"", 1).is_err());
    }
}

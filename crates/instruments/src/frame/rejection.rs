//! Why a piece of the input was not decoded, in plain words.

/// Why a piece of the input was rejected before its fields were looked at.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Rejection {
    /// The checksum that was sent does not match the bytes.
    #[error("checksum is {sent:02X}, should be {right:02X}")]
    ChecksumWrong {
        /// The checksum as sent.
        sent: u8,
        /// The checksum of the bytes that came.
        right: u8,
    },
    /// The sentence has no checksum and the port is not set lenient.
    #[error("no checksum; set the source lenient to accept such sentences")]
    NoChecksum,
    /// The line ended within the checksum.
    #[error("the line ends inside the checksum")]
    ChecksumCutShort,
    /// The two characters after `*` are not hexadecimal digits.
    #[error("the checksum is not two hexadecimal digits")]
    ChecksumNotHex,
    /// A start mark came before the end.
    #[error("cut short: a new sentence starts inside it")]
    Restarted,
    /// The input ended before the sentence did.
    #[error("the input ends inside it")]
    InputEnds,
    /// No end was found within the limit.
    #[error("longer than {limit_bytes} bytes without an end")]
    TooLong {
        /// The limit, bytes.
        limit_bytes: usize,
    },
    /// A line without any start mark.
    #[error("{bytes} bytes without a start mark ($ or !)")]
    Noise {
        /// How many bytes.
        bytes: u64,
    },
    /// The address field holds no talker and type.
    #[error("no talker and sentence type after the start mark")]
    NoType,
    /// A TAG block was not closed by `\`.
    #[error("the TAG block has no end")]
    TagUnclosed,
    /// A TAG block stood alone.
    #[error("a TAG block without a sentence after it")]
    TagAlone,
}

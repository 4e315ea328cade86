//! The TAG block before a sentence: time, source and grouping.
//!
//! Form: `\g:1-2-73874,n:157036,s:r003669945,c:1241544035*4A\` (gpsd project, `AIVDM.adoc`, BSD-2-Clause);
//! the checksum is the XOR of the bytes between `\` and `*`.

/// What a TAG block said. Nothing of a block with a wrong checksum is used.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Tag {
    /// `c:`, milliseconds since 1970-01-01T00:00:00Z. Sent as seconds, or as milliseconds when above 11 digits.
    pub time_ms: Option<i64>,
    /// `s:`, the source.
    pub source: Option<String>,
    /// `g:`, the grouping, as sent.
    pub group: Option<String>,
    /// `(sent, right)` when the block's checksum was wrong; `sent` is none when it had none.
    pub wrong_checksum: Option<(Option<u8>, u8)>,
}

impl Tag {
    /// Reads the bytes between the two `\`.
    pub(super) fn read(&mut self, block: &[u8]) {
        let star = block.iter().position(|&byte| byte == b'*');
        let inner = &block[..star.unwrap_or(block.len())];
        let right = inner.iter().fold(0, |sum, byte| sum ^ byte);
        let sent = star.and_then(|at| match block[at + 1..] {
            [high, low] => Some(super::hex(high)? << 4 | super::hex(low)?),
            _ => None,
        });
        if sent != Some(right) {
            self.wrong_checksum = Some((sent, right));
            return;
        }
        for part in inner.split(|&byte| byte == b',') {
            match part {
                [b'c', b':', value @ ..] => self.time_ms = time_ms(value),
                [b's', b':', value @ ..] => self.source = Some(super::text_of(value)),
                [b'g', b':', value @ ..] => self.group = Some(super::text_of(value)),
                _ => {}
            }
        }
    }

    /// A sentence about a block that was not used.
    #[must_use]
    pub fn complaint(&self) -> Option<String> {
        let (sent, right) = self.wrong_checksum?;
        Some(match sent {
            Some(sent) => format!("TAG block not used: its checksum is {sent:02X}, should be {right:02X}"),
            None => "TAG block not used: it has no checksum".to_owned(),
        })
    }
}

fn time_ms(value: &[u8]) -> Option<i64> {
    let number: i64 = std::str::from_utf8(value).ok()?.parse().ok()?;
    if value.len() > 11 { Some(number) } else { number.checked_mul(1000) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn val_published_tag_block() {
        // gpsd AIVDM.adoc; c = 2009-05-05T17:20:35Z (decoded with pyais 3.3.1).
        let mut tag = Tag::default();
        tag.read(b"g:1-2-73874,n:157036,s:r003669945,c:1241544035*4A");
        assert_eq!(tag.time_ms, Some(1_241_544_035_000));
        assert_eq!(tag.source.as_deref(), Some("r003669945"));
        assert_eq!(tag.group.as_deref(), Some("1-2-73874"));
        assert_eq!(tag.complaint(), None);
    }

    #[test]
    fn verif_wrong_block_is_not_used_and_says_so() {
        let mut tag = Tag::default();
        tag.read(b"c:1241544035*00");
        assert_eq!(tag.time_ms, None);
        assert!(tag.complaint().unwrap().contains("should be"));
    }
}

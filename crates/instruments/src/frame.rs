//! Sentences out of raw bytes: start and end, checksum, TAG block, and a plain reason for what is rejected.
//!
//! Model: a byte-by-byte machine, so any cutting of the input into chunks gives the same result.
//! Framing rules: gpsd project, "NMEA Revealed" (`www/NMEA.adoc`, BSD-2-Clause): `$` or `!`, fields, `*`,
//! two hexadecimal digits = XOR of every byte between start mark and `*`. TAG blocks: gpsd `AIVDM.adoc`.
//! Lines end with LF, CR or CR LF; sentences may also be glued together. A start mark inside a sentence
//! restarts the machine. Longer than 82 bytes is accepted and counted, up to [`LONGEST_BYTES`].

pub mod rejection;
pub mod tag;

pub use rejection::Rejection;
pub use tag::Tag;

/// The longest sentence or TAG block that is still collected, bytes.
pub const LONGEST_BYTES: usize = 1024;
/// The standard's own limit without CR LF, bytes.
const STANDARD_BYTES: usize = 80;

/// One thing found in the input: a sentence that may be decoded, or something rejected.
#[derive(Debug, Clone)]
pub struct Framed<'a> {
    /// Line of the input where it started, from 1.
    pub line: u64,
    /// The bytes from the start mark to the last checksum digit.
    pub raw: &'a [u8],
    /// The bytes between start mark and `*`; empty when rejected.
    pub body: &'a [u8],
    /// What its TAG block said.
    pub tag: Tag,
    /// Why it may not be decoded, if so.
    pub rejection: Option<Rejection>,
}

impl Framed<'_> {
    /// Talker and type as far as the raw bytes show a common address, for telling people about rejected ones.
    #[must_use]
    pub fn address(&self) -> Option<(&[u8], &[u8])> {
        match self.raw {
            [b'$' | b'!', address @ ..] => {
                let (address, rest) = address.split_at_checked(5)?;
                let common = address.iter().all(u8::is_ascii_uppercase) && rest.first() == Some(&b',');
                common.then(|| address.split_at(2))
            }
            _ => None,
        }
    }
}

/// How much of what the framer has seen.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Counts {
    /// Sentences and rejected pieces together.
    pub sentences: u64,
    /// Pieces rejected for framing or checksum.
    pub rejected: u64,
    /// Good sentences longer than the standard's 82 bytes.
    pub long: u64,
    /// Bytes outside any sentence, line ends not counted.
    pub noise_bytes: u64,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Where {
    /// Between sentences.
    Outside,
    /// After something too long, until a line end or a start mark.
    Skipping,
    /// Inside `\…\`.
    Tag,
    /// Between start mark and `*`.
    Body,
    /// After `*`, before the first digit.
    FirstDigit,
    /// After the first digit.
    SecondDigit,
}

/// Splits bytes into sentences. Push chunks as they come, then [`Framer::finish`].
#[derive(Debug)]
pub struct Framer {
    lenient: bool,
    place: Where,
    piece: Vec<u8>,
    sum: u8,
    line: u64,
    started_line: u64,
    after_cr: bool,
    /// Noise bytes on this line, as long as nothing else was found on it.
    noise_on_line: Vec<u8>,
    noise_len: u64,
    found_on_line: bool,
    tag: Tag,
    tag_pending: bool,
    counts: Counts,
}

impl Framer {
    /// A framer; a lenient one accepts sentences without a checksum.
    #[must_use]
    pub fn new(lenient: bool) -> Self {
        Self {
            lenient,
            place: Where::Outside,
            piece: Vec::with_capacity(LONGEST_BYTES),
            sum: 0,
            line: 1,
            started_line: 1,
            after_cr: false,
            noise_on_line: Vec::new(),
            noise_len: 0,
            found_on_line: false,
            tag: Tag::default(),
            tag_pending: false,
            counts: Counts::default(),
        }
    }

    /// What was seen so far.
    #[must_use]
    pub const fn counts(&self) -> Counts {
        self.counts
    }

    /// Takes the next bytes; `found` is called for each sentence or rejected piece, in order.
    pub fn push(&mut self, chunk: &[u8], found: &mut impl FnMut(Framed<'_>)) {
        for &byte in chunk {
            self.take(byte, found);
        }
    }

    /// The input ends here: what is unfinished is reported.
    pub fn finish(&mut self, found: &mut impl FnMut(Framed<'_>)) {
        self.end_of_line(Rejection::InputEnds, found);
        self.place = Where::Outside;
    }

    fn take(&mut self, byte: u8, found: &mut impl FnMut(Framed<'_>)) {
        let was_cr = std::mem::replace(&mut self.after_cr, byte == b'\r');
        if byte == b'\n' && was_cr {
            return;
        }
        if byte == b'\n' || byte == b'\r' {
            self.end_of_line(Rejection::ChecksumCutShort, found);
            self.line += 1;
            return;
        }
        if self.place == Where::Tag {
            self.take_in_tag(byte, found);
            return;
        }
        if matches!(byte, b'$' | b'!' | b'\\') {
            self.start(byte, found);
            return;
        }
        match self.place {
            Where::Outside => self.take_noise(byte),
            Where::Skipping | Where::Tag => self.counts.noise_bytes += 1,
            Where::Body => {
                self.piece.push(byte);
                if byte == b'*' {
                    self.place = Where::FirstDigit;
                } else if self.piece.len() >= LONGEST_BYTES {
                    self.reject(Rejection::TooLong { limit_bytes: LONGEST_BYTES }, found);
                    self.place = Where::Skipping;
                } else {
                    self.sum ^= byte;
                }
            }
            Where::FirstDigit => {
                self.piece.push(byte);
                self.place = Where::SecondDigit;
            }
            Where::SecondDigit => {
                self.piece.push(byte);
                self.place = Where::Outside;
                self.judge(found);
            }
        }
    }

    fn take_noise(&mut self, byte: u8) {
        self.counts.noise_bytes += 1;
        self.noise_len += 1;
        if !self.found_on_line && self.noise_on_line.len() < LONGEST_BYTES {
            self.noise_on_line.push(byte);
        }
    }

    /// A start mark: drops what was unfinished and begins anew.
    fn start(&mut self, byte: u8, found: &mut impl FnMut(Framed<'_>)) {
        if matches!(self.place, Where::Body | Where::FirstDigit | Where::SecondDigit) {
            self.reject(Rejection::Restarted, found);
        } else if self.tag_pending && self.noise_len > 0 {
            self.reject_tag(found);
        }
        self.found_on_line = true;
        self.noise_on_line.clear();
        self.noise_len = 0;
        self.started_line = self.line;
        self.piece.clear();
        self.sum = 0;
        if byte == b'\\' {
            self.place = Where::Tag;
        } else {
            self.piece.push(byte);
            self.place = Where::Body;
        }
    }

    fn take_in_tag(&mut self, byte: u8, found: &mut impl FnMut(Framed<'_>)) {
        match byte {
            b'\\' => {
                self.tag.read(&self.piece);
                self.tag_pending = true;
                self.place = Where::Outside;
            }
            b'$' | b'!' => {
                // The block was never closed; the sentence after it may still be whole.
                self.piece.insert(0, b'\\');
                self.reject(Rejection::TagUnclosed, found);
                self.start(byte, found);
            }
            _ if self.piece.len() >= LONGEST_BYTES => {
                self.reject(Rejection::TooLong { limit_bytes: LONGEST_BYTES }, found);
                self.place = Where::Skipping;
            }
            _ => self.piece.push(byte),
        }
    }

    /// A whole `…*hh` is in hand.
    fn judge(&mut self, found: &mut impl FnMut(Framed<'_>)) {
        let split = self.piece.len() - 3;
        let (Some(high), Some(low)) = (hex(self.piece[split + 1]), hex(self.piece[split + 2])) else {
            self.reject(Rejection::ChecksumNotHex, found);
            return;
        };
        let sent = high << 4 | low;
        if sent != self.sum {
            self.reject(Rejection::ChecksumWrong { sent, right: self.sum }, found);
            return;
        }
        self.accept(split, found);
    }

    fn accept(&mut self, body_end: usize, found: &mut impl FnMut(Framed<'_>)) {
        let body = &self.piece[1..body_end];
        let address_len = body.iter().position(|&byte| byte == b',').unwrap_or(body.len());
        if address_len < 3 || !body[..address_len].iter().all(u8::is_ascii_alphanumeric) {
            self.reject(Rejection::NoType, found);
            return;
        }
        self.counts.sentences += 1;
        if self.piece.len() > STANDARD_BYTES {
            self.counts.long += 1;
        }
        self.tag_pending = false;
        let tag = std::mem::take(&mut self.tag);
        found(Framed { line: self.started_line, raw: &self.piece, body, tag, rejection: None });
    }

    fn reject(&mut self, rejection: Rejection, found: &mut impl FnMut(Framed<'_>)) {
        self.counts.sentences += 1;
        self.counts.rejected += 1;
        self.tag_pending = false;
        let tag = std::mem::take(&mut self.tag);
        found(Framed { line: self.started_line, raw: &self.piece, body: &[], tag, rejection: Some(rejection) });
    }

    fn reject_tag(&mut self, found: &mut impl FnMut(Framed<'_>)) {
        self.piece.insert(0, b'\\');
        self.piece.push(b'\\');
        self.reject(Rejection::TagAlone, found);
    }

    /// A line end, or with [`Rejection::InputEnds`] the end of all input.
    fn end_of_line(&mut self, unfinished: Rejection, found: &mut impl FnMut(Framed<'_>)) {
        match self.place {
            Where::Body if self.lenient => self.accept(self.piece.len(), found),
            Where::Body if unfinished == Rejection::InputEnds => self.reject(unfinished, found),
            Where::Body => self.reject(Rejection::NoChecksum, found),
            Where::FirstDigit | Where::SecondDigit => self.reject(unfinished, found),
            Where::Tag => {
                self.piece.insert(0, b'\\');
                self.reject(Rejection::TagUnclosed, found);
            }
            Where::Outside if self.tag_pending => self.reject_tag(found),
            Where::Outside => self.report_noise(found),
            Where::Skipping => {}
        }
        self.place = Where::Outside;
        self.found_on_line = false;
        self.noise_on_line.clear();
        self.noise_len = 0;
    }

    /// A line with no sentence in it at all; a blank line is nothing.
    fn report_noise(&mut self, found: &mut impl FnMut(Framed<'_>)) {
        if self.found_on_line || self.noise_on_line.iter().all(u8::is_ascii_whitespace) {
            return;
        }
        self.started_line = self.line;
        self.piece.clear();
        self.piece.append(&mut self.noise_on_line);
        self.reject(Rejection::Noise { bytes: self.noise_len }, found);
    }
}

const fn hex(byte: u8) -> Option<u8> {
    match byte {
        b'0'..=b'9' => Some(byte - b'0'),
        b'A'..=b'F' => Some(byte - b'A' + 10),
        b'a'..=b'f' => Some(byte - b'a' + 10),
        _ => None,
    }
}

/// Bytes from the wire as text: UTF-8 where it is, else Latin-1; control characters are shown as `·`.
#[must_use]
pub fn text_of(bytes: &[u8]) -> String {
    let shown = |c: char| if c.is_control() { '·' } else { c };
    match std::str::from_utf8(bytes) {
        Ok(text) => text.chars().map(shown).collect(),
        Err(_) => bytes.iter().map(|&byte| shown(char::from(byte))).collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn split(bytes: &[u8], lenient: bool, step: usize) -> Vec<(u64, String, Option<Rejection>)> {
        let mut framer = Framer::new(lenient);
        let mut out = Vec::new();
        let mut keep = |f: Framed<'_>| out.push((f.line, text_of(f.raw), f.rejection));
        for chunk in bytes.chunks(step) {
            framer.push(chunk, &mut keep);
        }
        framer.finish(&mut keep);
        out
    }

    #[test]
    fn verif_every_line_end_counts_one_line() {
        for end in ["\n", "\r", "\r\n"] {
            let text = format!("$GPHDT,274.07,T*03{end}{end}$INMTW,17.9,C*1B{end}");
            for step in [1, 2, 7, 1000] {
                let found = split(text.as_bytes(), false, step);
                assert_eq!(found.iter().map(|f| f.0).collect::<Vec<_>>(), [1, 3], "{end:?} in steps of {step}");
                assert!(found.iter().all(|f| f.2.is_none()));
            }
        }
    }

    #[test]
    fn verif_rejections_say_why() {
        let reason = |text: &str| split(text.as_bytes(), false, 1000)[0].2.clone();
        assert_eq!(reason("$GPHDT,274.07,T\r\n"), Some(Rejection::NoChecksum));
        assert_eq!(reason("$GPHDT,274.07,T*04\r\n"), Some(Rejection::ChecksumWrong { sent: 4, right: 3 }));
        assert_eq!(reason("$GPHDT,274.07,T*0\r\n"), Some(Rejection::ChecksumCutShort));
        assert_eq!(reason("$GPHDT,274.07,T*0x\r\n"), Some(Rejection::ChecksumNotHex));
        assert_eq!(reason("$GPHDT,274"), Some(Rejection::InputEnds));
        assert_eq!(reason("hello\n"), Some(Rejection::Noise { bytes: 5 }));
        assert_eq!(reason("$*00\n"), Some(Rejection::NoType));
        assert_eq!(reason(&format!("${}", "A".repeat(2000))), Some(Rejection::TooLong { limit_bytes: LONGEST_BYTES }));
        assert_eq!(split(b"$GPHDT,274.07,T\r\n", true, 3)[0].2, None);
    }

    #[test]
    fn verif_noise_before_and_after_a_sentence_is_no_rejection() {
        let found = split(b"UdPbC\0$GPHDT,274.07,T*03 \xff\xfe\r\n", false, 5);
        assert_eq!(found.len(), 1);
        assert_eq!(found[0].2, None);
    }
}

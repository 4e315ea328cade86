//! Which source is believed for a quantity when several send it: by configured order and time-out, never mixed
//! fix by fix.
//!
//! Talkers: gpsd "NMEA Revealed" (GN combined, GP GPS, GA Galileo, GL GLONASS, GB/BD BeiDou, GQ QZSS, GI NavIC,
//! II and IN integrated, HE gyro, HC compass, SD sounder, VW/VM log, WI weather).

use crate::sentence::Reading;

/// Talker and type of a sentence, such as GP and GLL; at most eight bytes are kept.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct SourceName {
    talker: [u8; 2],
    kind: [u8; 3],
}

impl SourceName {
    /// The source of a sentence.
    #[must_use]
    pub fn of(reading: &Reading<'_>) -> Self {
        let at = |bytes: &[u8], i: usize| bytes.get(i).copied().unwrap_or(b'-');
        Self {
            talker: [at(reading.talker, 0), at(reading.talker, 1)],
            kind: [at(reading.kind, 0), at(reading.kind, 1), at(reading.kind, 2)],
        }
    }

    /// A source by its five letters, such as `GPGLL`.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        match *text.as_bytes() {
            [a, b, c, d, e] if text.bytes().all(|byte| byte.is_ascii_alphanumeric()) => {
                Some(Self { talker: [a, b], kind: [c, d, e] })
            }
            _ => None,
        }
    }
}

impl std::fmt::Display for SourceName {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        for &byte in self.talker.iter().chain(&self.kind) {
            write!(f, "{}", char::from(byte))?;
        }
        Ok(())
    }
}

/// Best first; a talker not listed comes after these.
const TALKERS: [&[u8; 2]; 20] = [
    b"GN", b"GP", b"GA", b"GL", b"GB", b"BD", b"GQ", b"GI", b"HE", b"SD", b"VW", b"VM", b"WI", b"YX", b"IN", b"II",
    b"HC", b"RA", b"EC", b"AI",
];

/// Best first: for one quantity only types that can carry it ever meet.
const KINDS: [&[u8; 3]; 18] = [
    b"RMC", b"GGA", b"GLL", b"VTG", b"ZDA", b"HDT", b"VHW", b"HDG", b"HDM", b"VBW", b"VLW", b"VDR", b"MTW", b"DPT",
    b"DBT", b"MWD", b"MWV", b"XDR",
];

/// Rank of a source by the standing order: type first, then talker; lower is better.
#[must_use]
pub fn standing_rank(source: SourceName) -> u32 {
    let place = |found: Option<usize>| u32::try_from(found.unwrap_or(50)).unwrap_or(50);
    place(KINDS.iter().position(|kind| **kind == source.kind)) * 100
        + place(TALKERS.iter().position(|talker| **talker == source.talker))
}

/// Rank of a source of positions.
#[must_use]
pub fn position_rank(source: SourceName) -> u32 {
    standing_rank(source)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn verif_order_of_sources() {
        let rank = |text: &str| standing_rank(SourceName::parse(text).unwrap());
        assert!(rank("GNRMC") < rank("GPRMC") && rank("GPRMC") < rank("GNGGA") && rank("GNGGA") < rank("GPGLL"));
        assert!(rank("HEHDT") < rank("IIHDT") && rank("IIHDT") < rank("IIVHW"));
        assert_eq!(SourceName::parse("GPGLL").unwrap().to_string(), "GPGLL");
        assert_eq!(SourceName::parse("GP").map(|s| s.to_string()), None);
    }
}

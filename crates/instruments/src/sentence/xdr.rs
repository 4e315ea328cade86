//! Transducer measurements: XDR, groups of four fields (type letter, value, unit letter, name).
//!
//! Source: gpsd "NMEA Revealed". The letters are given on as sent.

use super::fields::decimal;

/// One group of an XDR, as sent.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Group<'a> {
    /// Type letter, such as `C` temperature or `P` pressure.
    pub kind: &'a [u8],
    /// The value; none when empty or unreadable.
    pub value: Option<f64>,
    /// Unit letter, such as `C` or `B`.
    pub unit: &'a [u8],
    /// Name of the transducer.
    pub name: &'a [u8],
}

/// The groups in the fields of an XDR; a last group that is cut short is given as far as it goes.
pub fn groups(rest: &[u8]) -> impl Iterator<Item = Group<'_>> {
    let mut fields = rest.split(|&byte| byte == b',').map(<[u8]>::trim_ascii);
    std::iter::from_fn(move || {
        let kind = fields.next()?;
        let mut next = || fields.next().unwrap_or_default();
        Some(Group { kind, value: decimal(next()), unit: next(), name: next() })
    })
    .filter(|group| !(group.kind.is_empty() && group.unit.is_empty() && group.name.is_empty() && group.value.is_none()))
}

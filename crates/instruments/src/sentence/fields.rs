//! Comma fields as numbers, times, days and positions, each "no value" when empty or unreadable.

use super::{Day, TimeOfDay};

/// More fields than any listed sentence has.
const MOST: usize = 24;

/// The comma fields of one sentence, numbered from 0 here and from 1 in words to people.
#[derive(Debug)]
pub struct Fields<'a> {
    items: [&'a [u8]; MOST],
    count: usize,
    bad: Option<u8>,
}

impl<'a> Fields<'a> {
    /// Splits what follows the address.
    #[must_use]
    pub fn new(rest: &'a [u8]) -> Self {
        let mut items: [&[u8]; MOST] = [&[]; MOST];
        let (mut count, mut begin) = (0, 0);
        for (at, &byte) in rest.iter().enumerate() {
            if byte == b',' {
                if count == MOST {
                    break;
                }
                items[count] = &rest[begin..at];
                count += 1;
                begin = at + 1;
            }
        }
        if count < MOST {
            items[count] = &rest[begin..];
            count += 1;
        }
        Self { items, count, bad: None }
    }

    /// How many fields there are.
    #[must_use]
    pub const fn count(&self) -> usize {
        self.count
    }

    /// Number (from 1) of the first field that could not be read.
    #[must_use]
    pub const fn bad_field(&self) -> Option<u8> {
        self.bad
    }

    /// The field as sent, without blanks around it; empty when absent.
    #[must_use]
    pub fn raw(&self, at: usize) -> &'a [u8] {
        self.items.get(at).copied().unwrap_or_default().trim_ascii()
    }

    /// The field when not empty.
    #[must_use]
    pub fn text(&self, at: usize) -> Option<&'a [u8]> {
        Some(self.raw(at)).filter(|raw| !raw.is_empty())
    }

    fn note_bad<T>(&mut self, at: usize, value: Option<T>) -> Option<T> {
        if value.is_none() && self.bad.is_none() && !self.raw(at).is_empty() {
            self.bad = u8::try_from(at + 1).ok();
        }
        value
    }

    /// A decimal number.
    pub fn number(&mut self, at: usize) -> Option<f64> {
        let value = decimal(self.raw(at));
        self.note_bad(at, value)
    }

    /// A number not below zero.
    pub fn not_negative(&mut self, at: usize) -> Option<f64> {
        let value = decimal(self.raw(at)).filter(|&value| value >= 0.0);
        self.note_bad(at, value)
    }

    /// A bearing or angle from 0 to 360, given back in [0, 360).
    pub fn bearing_deg(&mut self, at: usize) -> Option<f64> {
        let value = decimal(self.raw(at)).filter(|value| (0.0..=360.0).contains(value));
        self.note_bad(at, value).map(quantity::wrap_bearing_deg)
    }

    /// A whole number.
    pub fn whole(&mut self, at: usize) -> Option<u32> {
        let value = whole(self.raw(at));
        self.note_bad(at, value)
    }

    /// An angle with `E` (positive) or `W` in the next field; no value without the letter.
    pub fn east_deg(&mut self, at: usize) -> Option<f64> {
        let size = self.not_negative(at).filter(|&size| size <= 180.0)?;
        match self.raw(at + 1) {
            b"E" => Some(size),
            b"W" => Some(0.0 - size),
            _ => self.note_bad(at + 1, None),
        }
    }

    /// `hhmmss[.sss]`; second 60 is held at 59 and flagged.
    pub fn time(&mut self, at: usize) -> Option<TimeOfDay> {
        let value = time_of_day(self.raw(at));
        self.note_bad(at, value)
    }

    /// `ddmmyy`; years 80 to 99 are 1980 to 1999, the rest 2000 to 2079.
    pub fn day_six_digits(&mut self, at: usize) -> Option<Day> {
        let value = match *self.raw(at) {
            [a, b, c, d, e, f] => two(a, b).zip(two(c, d)).zip(two(e, f)).and_then(|((day, month), year)| {
                let century = if year >= 80 { 1900 } else { 2000 };
                real_day(century + i16::from(year), month, day)
            }),
            _ => None,
        };
        self.note_bad(at, value)
    }

    /// Day, month and four-digit year in three fields.
    pub fn day_three_fields(&mut self, at: usize) -> Option<Day> {
        let day = self.whole(at)?;
        let month = self.whole(at + 1)?;
        let year = self.whole(at + 2)?;
        let value = match (i16::try_from(year), u8::try_from(month), u8::try_from(day)) {
            (Ok(year), Ok(month), Ok(day)) => real_day(year, month, day),
            _ => None,
        };
        self.note_bad(at, value)
    }

    /// `ddmm.mm,N,dddmm.mm,E` from field `at`: latitude and longitude in degrees, both or neither.
    pub fn position_deg(&mut self, at: usize) -> Option<(f64, f64)> {
        let latitude_deg = self.half_position(at, b"N", b"S", 90.0);
        let longitude_deg = self.half_position(at + 2, b"E", b"W", 180.0);
        let place = quantity::Position::new(latitude_deg?, longitude_deg?).ok()?;
        Some((place.latitude_deg(), place.longitude_deg()))
    }

    fn half_position(&mut self, at: usize, positive: &[u8], negative: &[u8], limit_deg: f64) -> Option<f64> {
        let size = degrees_minutes(self.raw(at)).filter(|&size_deg| size_deg <= limit_deg);
        let size_deg = self.note_bad(at, size)?;
        let letter = self.raw(at + 1);
        if letter == positive {
            Some(size_deg)
        } else if letter == negative {
            Some(0.0 - size_deg)
        } else {
            self.note_bad(at + 1, None)
        }
    }
}

/// A plain decimal number: sign, digits, at most one point. Correctly rounded up to 15 digits, since both
/// the whole number and the power of ten are then exact in `f64`.
#[must_use]
pub fn decimal(raw: &[u8]) -> Option<f64> {
    const TENS: [f64; 16] = [1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15];
    let (negative, digits) = match raw {
        [b'-', rest @ ..] => (true, rest),
        [b'+', rest @ ..] => (false, rest),
        _ => (false, raw),
    };
    let (mut whole, mut seen, mut after_point) = (0_u64, 0_usize, None);
    for &byte in digits {
        match byte {
            b'0'..=b'9' => {
                seen += 1;
                whole = whole.wrapping_mul(10).wrapping_add(u64::from(byte - b'0'));
                after_point = after_point.map(|n: usize| n + 1);
            }
            b'.' if after_point.is_none() => after_point = Some(0),
            _ => return None,
        }
    }
    if seen == 0 {
        return None;
    }
    let size = if seen <= 15 {
        #[expect(clippy::cast_precision_loss, reason = "15 digits are below 2^53")]
        let whole = whole as f64;
        whole / TENS[after_point.unwrap_or(0)]
    } else {
        std::str::from_utf8(digits).ok()?.parse().ok().filter(|size: &f64| size.is_finite())?
    };
    // "-0.0" reads as zero: a sign on nothing means nothing.
    Some(if negative { 0.0 - size } else { size })
}

/// Digits only, up to nine of them.
#[must_use]
pub fn whole(raw: &[u8]) -> Option<u32> {
    if raw.is_empty() || raw.len() > 9 {
        return None;
    }
    raw.iter().try_fold(0_u32, |sum, byte| byte.is_ascii_digit().then(|| sum * 10 + u32::from(byte - b'0')))
}

fn two(tens: u8, ones: u8) -> Option<u8> {
    (tens.is_ascii_digit() && ones.is_ascii_digit()).then(|| (tens - b'0') * 10 + (ones - b'0'))
}

fn real_day(year: i16, month: u8, day: u8) -> Option<Day> {
    let longest = match month {
        1 | 3 | 5 | 7 | 8 | 10 | 12 => 31,
        4 | 6 | 9 | 11 => 30,
        2 if year % 4 == 0 && (year % 100 != 0 || year % 400 == 0) => 29,
        2 => 28,
        _ => return None,
    };
    ((1..=longest).contains(&day) && (1..=9999).contains(&year)).then_some(Day {
        year,
        month: month.cast_signed(),
        day: day.cast_signed(),
    })
}

fn time_of_day(raw: &[u8]) -> Option<TimeOfDay> {
    let (digits, fraction) = raw.split_at_checked(6)?;
    let &[a, b, c, d, e, f] = digits else { return None };
    let (hour, minute, second) = (two(a, b)?, two(c, d)?, two(e, f)?);
    if hour > 23 || minute > 59 || second > 60 {
        return None;
    }
    let millis: u32 = match fraction {
        [] => 0,
        [b'.', digits @ ..] if digits.iter().all(u8::is_ascii_digit) => {
            digits.iter().chain(b"000").take(3).fold(0, |sum, digit| sum * 10 + u32::from(digit - b'0'))
        }
        _ => return None,
    };
    let clamped = second == 60;
    let seconds = u32::from(hour) * 3600 + u32::from(minute) * 60 + u32::from(if clamped { 59 } else { second });
    Some(TimeOfDay { ms: seconds * 1000 + if clamped { 0 } else { millis }, clamped })
}

fn degrees_minutes(raw: &[u8]) -> Option<f64> {
    let point = raw.iter().position(|&byte| byte == b'.').unwrap_or(raw.len());
    let (degrees, minutes) = raw.split_at_checked(point.checked_sub(2)?)?;
    let degrees = if degrees.is_empty() { 0 } else { whole(degrees)? };
    if !minutes.first()?.is_ascii_digit() {
        return None;
    }
    let minutes = decimal(minutes).filter(|minutes| (0.0..60.0).contains(minutes))?;
    Some(f64::from(degrees) + minutes / 60.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn verif_decimals_read_as_the_standard_library_reads_them() {
        for text in ["0", "007.5", "-12.5", "+3.", ".25", "4404.13993", "123456789012345", "1234567890123456.75"] {
            let theirs: f64 = text.parse().unwrap();
            assert_eq!(decimal(text.as_bytes()).map(f64::to_bits), Some(theirs.to_bits()), "{text}");
        }
        for text in ["", ".", "-", "1e5", "nan", "inf", "1.2.3", " 1", "0x1"] {
            assert_eq!(decimal(text.as_bytes()), None, "{text}");
        }
    }

    #[test]
    fn verif_times_and_days_at_their_edges() {
        assert_eq!(time_of_day(b"235960.50"), Some(TimeOfDay { ms: 86_399_000, clamped: true }));
        assert_eq!(time_of_day(b"000000.0129"), Some(TimeOfDay { ms: 12, clamped: false }));
        for raw in [&b"240000"[..], b"236000", b"235961", b"12000", b"120000x", b"1200.0"] {
            assert_eq!(time_of_day(raw), None);
        }
        assert_eq!(Fields::new(b"290223").day_six_digits(0), None);
        assert_eq!(Fields::new(b"191194").day_six_digits(0), Some(Day { year: 1994, month: 11, day: 19 }));
        assert_eq!(Fields::new(b"29,02,2024").day_three_fields(0), Some(Day { year: 2024, month: 2, day: 29 }));
    }

    #[test]
    fn verif_positions_out_of_range_or_without_a_letter_are_none() {
        assert_eq!(Fields::new(b"0000.000,N,18000.000,E").position_deg(0), Some((0.0, -180.0)));
        for raw in
            [&b"9000.001,N,00000.0,E"[..], b"0060.0,N,00000.0,E", b"0000.0,,00000.0,E", b"0000.0,N,,", b"1.0,N,1.0,E"]
        {
            assert_eq!(Fields::new(raw).position_deg(0), None);
        }
        let mut fields = Fields::new(b"44x4.1,N,00000.0,E");
        assert_eq!(fields.position_deg(0), None);
        assert_eq!(fields.bad_field(), Some(1));
    }
}

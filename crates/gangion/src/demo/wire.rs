//! The ship's instruments as they talk on one serial line: NMEA 0183 sentences of the script's way, weather and
//! water, with what a real cable adds to them: joined and broken sentences, wrong checksums, bytes of noise.
//!
//! Sentence fields after the public descriptions of NMEA 0183 (E. S. Raymond, "NMEA Revealed"); the checksum is the
//! exclusive or of the bytes between `$` and `*`.

use std::fmt::Write as _;

use quantity::UtcInstant;

use super::dice::Dice;
use super::sea::{self, Motion, Track};

const M_S_PER_KN: f64 = 1852.0 / 3600.0;

/// Time between two groups of sentences, s: closer while the line is worked.
#[derive(Debug, Clone, Copy)]
pub struct Span {
    /// From when (until the next span).
    pub from: UtcInstant,
    /// Seconds from group to group.
    pub step_s: f64,
}

/// One sentence with its checksum and line end.
fn sentence(body: &str) -> String {
    let sum = body.bytes().fold(0_u8, |sum, byte| sum ^ byte);
    format!("${body}*{sum:02X}\r\n")
}

/// `hhmmss.ss` and `ddmmyy` of a moment.
fn stamps(at: UtcInstant) -> (String, String) {
    let second = at.second_of_day_s();
    let (hour, minute) = ((second / 3600.0).floor(), (second / 60.0).floor() % 60.0);
    let (year, month, day) = at.ymd();
    let rest = second - hour * 3600.0 - minute * 60.0;
    (format!("{hour:02}{minute:02}{rest:05.2}"), format!("{day:02}{month:02}{:02}", year % 100))
}

/// `ddmm.mmmm,H` or `dddmm.mmmm,H`; a minute that rounds up to 60 is carried.
fn angle(value_deg: f64, width: usize, positive: char, negative: char) -> String {
    let tenthousandths = (value_deg.abs() * 600_000.0).round();
    let degrees = (tenthousandths / 600_000.0).floor();
    let minutes = (tenthousandths - degrees * 600_000.0) / 10_000.0;
    let letter = if value_deg < 0.0 { negative } else { positive };
    format!("{degrees:0width$}{minutes:07.4},{letter}")
}

/// The sentences of one moment. `count` numbers the groups: slow sensors speak only in some of them.
fn group(motion: &Motion, count: u64, dice: &mut Dice) -> Vec<String> {
    let here = motion.here;
    // A receiver's own scatter: about 2 m.
    let latitude = angle(here.latitude_deg + 0.000_018 * dice.bell(), 2, 'N', 'S');
    let east = here.longitude_deg + 0.000_018 * dice.bell();
    let longitude = angle(quantity::wrap_longitude_deg(east), 3, 'E', 'W');
    let (course, over_ground) = sea::polar(motion.north_kn, motion.east_kn);
    let over_ground = (over_ground + 0.06 * dice.bell()).max(0.0);
    let course = quantity::wrap_bearing_deg(course + 0.8 * dice.bell());
    let (set_north, set_east) = sea::parts(sea::CURRENT.0, sea::CURRENT.1);
    let (water_north, water_east) = (motion.north_kn - set_north, motion.east_kn - set_east);
    let (mut heading, through_water) = sea::polar(water_north, water_east);
    if through_water < 0.3 {
        // Lying, with the wind on the beam.
        heading = quantity::wrap_bearing_deg(sea::WIND.0 + 90.0);
    }
    let heading = quantity::wrap_bearing_deg(heading + 0.5 * dice.bell());
    let through_water = (through_water + 0.03 * dice.bell()).max(0.0);
    let (time, date) = stamps(here.at);
    let satellites = 9 + dice.below(4);
    let mut said = vec![
        format!(
            "GPRMC,{time},A,{latitude},{longitude},{over_ground:.2},{course:.1},{date},{:.1},E,A",
            sea::VARIATION_DEG
        ),
        format!("HEHDT,{heading:.1},T"),
        format!(
            "VWVHW,{heading:.1},T,{:.1},M,{through_water:.2},N,{:.2},K",
            quantity::wrap_bearing_deg(heading - sea::VARIATION_DEG),
            through_water * 1.852
        ),
    ];
    if count.is_multiple_of(2) {
        said.push(format!("GPGGA,{time},{latitude},{longitude},1,{satellites:02},0.9,14.2,M,52.1,M,,"));
        said.push(format!(
            "GPVTG,{course:.1},T,{:.1},M,{over_ground:.2},N,{:.2},K,A",
            quantity::wrap_bearing_deg(course - sea::VARIATION_DEG),
            over_ground * 1.852
        ));
    }
    if count.is_multiple_of(3) {
        let gust = (sea::WIND.1 + 0.7 * dice.bell()).max(0.0) / M_S_PER_KN;
        let from = sea::WIND.0 + 4.0 * dice.bell();
        // The wind felt aboard: the true wind blows towards the other side, and the ship runs through it.
        let (wind_north, wind_east) = sea::parts(from + 180.0, gust);
        let (felt_towards, felt) = sea::polar(wind_north - motion.north_kn, wind_east - motion.east_kn);
        let bow = quantity::wrap_bearing_deg(felt_towards + 180.0 - heading);
        said.push(format!("WIMWV,{bow:.1},R,{felt:.1},N,A"));
        said.push(format!("WIMWD,{:.1},T,,M,{gust:.1},N,{:.1},M", quantity::wrap_bearing_deg(from), gust * M_S_PER_KN));
    }
    if count.is_multiple_of(6) {
        said.push(format!("YXMTW,{:.1},C", sea::surface_temperature_c(motion, dice)));
    }
    if count.is_multiple_of(12) {
        let (towards, drift) = (sea::CURRENT.0 + 3.0 * dice.bell(), (sea::CURRENT.1 + 0.03 * dice.bell()).max(0.0));
        said.push(format!("VWVDR,{:.1},T,,M,{drift:.2},N", quantity::wrap_bearing_deg(towards)));
        // Five thousand metres of water: the sounder hears no bottom and says so with empty fields.
        said.push("SDDBT,,f,,M,,F".to_owned());
    }
    said
}

/// What the cable does to a sentence.
fn cable(text: &str, out: &mut Vec<u8>, dice: &mut Dice) {
    let bytes = text.as_bytes();
    let chance = dice.share();
    if chance < 0.0006 {
        // A sum that does not fit.
        let mut spoilt = bytes.to_vec();
        let at = 8 + dice.below(bytes.len().saturating_sub(16).max(1));
        spoilt[at] = if spoilt[at] == b'7' { b'3' } else { b'7' };
        out.extend(spoilt);
    } else if chance < 0.0010 {
        // The end is lost, so that the next sentence joins on.
        out.extend(&bytes[..bytes.len() / 2]);
    } else if chance < 0.0013 {
        // Torn by a line end in the middle.
        let (head, tail) = bytes.split_at(bytes.len() / 3);
        out.extend(head);
        out.extend(b"\r\n");
        out.extend(tail);
    } else if chance < 0.0017 {
        // The pump starts: bytes that nobody sent.
        for _ in 0..=dice.below(24) {
            out.push(dice.word().to_le_bytes()[0]);
        }
        out.extend(b"\r\n");
        out.extend(bytes);
    } else if chance < 0.0019 {
        // Two sentences on one line.
        out.extend(bytes.trim_ascii_end());
    } else {
        out.extend(bytes);
    }
}

/// The whole log, from the first point of the way to its last.
pub fn log(track: &Track, spans: &[Span], seed: u64) -> Vec<u8> {
    let mut dice = Dice::new(seed, 2);
    let mut noise = Dice::new(seed, 3);
    let mut out = Vec::new();
    let mut at = track.start().at;
    let mut count = 0;
    while at <= track.end().at {
        let motion = track.motion(at);
        if count % 600 == 0 {
            let (time, _) = stamps(at);
            let (year, month, day) = at.ymd();
            let mut body = String::new();
            let _ = write!(body, "GPZDA,{time},{day:02},{month:02},{year:04},00,00");
            cable(&sentence(&body), &mut out, &mut noise);
        }
        for body in group(&motion, count, &mut dice) {
            cable(&sentence(&body), &mut out, &mut noise);
        }
        let step_s = spans.iter().rfind(|span| span.from <= at).map_or(10.0, |span| span.step_s);
        at = at.plus_seconds(step_s);
        count += 1;
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn verif_a_sentence_has_its_sum_and_a_minute_never_reads_sixty() {
        assert_eq!(sentence("GPGLL,,"), "$GPGLL,,*50\r\n");
        assert_eq!(angle(-14.999_999_99, 2, 'N', 'S'), "1500.0000,S");
        assert_eq!(angle(179.5, 3, 'E', 'W'), "17930.0000,E");
        let at: UtcInstant = "2026-03-09T23:59:55Z".parse().unwrap();
        assert_eq!(stamps(at), ("235955.00".to_owned(), "090326".to_owned()));
    }
}

//! One record a sentence: bytes in, [`Decoded`] out, with the stream's clock and AIS messages put together.

mod measurement;

use quantity::UtcInstant;

use crate::ais::{Ais, Assembly, Outcome};
use crate::clock::{DateBasis, StreamClock, StreamTime};
use crate::frame::{Counts, Framed, Framer, text_of};
use crate::sentence::{Reading, WindReference, read};
pub use measurement::Measurement;

/// What one sentence says. Every key is always there; what the sentence does not say is null, never 0.
#[derive(Debug, Clone, Default, PartialEq, serde::Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Decoded {
    /// Line of the input where it started, from 1.
    pub line: u64,
    /// Framing and checksum are good.
    pub ok: bool,
    /// Why it is not ok, or what of a good sentence could not be used.
    pub reason: Option<String>,
    /// Who sent it, as far as a rejected one can be read: two letters, or `P` for proprietary sentences.
    pub talker: Option<String>,
    /// Sentence type, such as RMC; for proprietary ones maker and type.
    #[serde(rename = "type")]
    pub kind: Option<String>,
    /// The moment, where the day is known: its own date, else the last RMC or ZDA, else the date given.
    pub time_utc: Option<UtcInstant>,
    /// Time of day as sent, `HH:MM:SS` or `HH:MM:SS.sss`; a leap second is held at :59.
    pub time_of_day_utc: Option<String>,
    /// The sender's own word on validity; a false one comes without position, speed, course or wind.
    pub valid: Option<bool>,
    /// Latitude, degrees, north positive.
    pub latitude_deg: Option<f64>,
    /// Longitude, degrees, east positive, in [−180, 180).
    pub longitude_deg: Option<f64>,
    /// Speed over ground, knots.
    pub speed_over_ground_kn: Option<f64>,
    /// Course over ground, degrees true. Below about 0.3 kn it is noise.
    pub course_deg_true: Option<f64>,
    /// Heading, degrees true.
    pub heading_deg_true: Option<f64>,
    /// Heading, degrees magnetic; the deviation of an HDG is applied.
    pub heading_deg_magnetic: Option<f64>,
    /// Magnetic variation, degrees, east positive.
    pub magnetic_variation_deg: Option<f64>,
    /// Speed through the water, knots, ahead positive.
    pub speed_through_water_kn: Option<f64>,
    /// Total distance through the water, nautical miles.
    pub distance_through_water_nmi: Option<f64>,
    /// Water temperature, °C.
    pub water_temperature_c: Option<f64>,
    /// Depth below the transducer, metres, positive down.
    pub depth_below_transducer_m: Option<f64>,
    /// Offset of the transducer, metres: positive to the water line, negative to the keel.
    pub transducer_offset_m: Option<f64>,
    /// Where the wind comes from, degrees, counted as `wind_reference` says.
    pub wind_angle_deg: Option<f64>,
    /// `relative`: apparent, from the bow; `bow_theoretical`: true wind, from the bow; `true_north`.
    pub wind_reference: Option<WindReference>,
    /// Wind speed, m/s: apparent for `relative`, else that of the true wind.
    pub wind_speed_m_s: Option<f64>,
    /// Where the current sets to, degrees true.
    pub current_set_deg_true: Option<f64>,
    /// Speed of the current, knots.
    pub current_drift_kn: Option<f64>,
    /// 0 invalid, 1 autonomous, 2 differential, 3 precise, 4 RTK, 5 float RTK, 6 estimated, 7 manual,
    /// 8 simulator; mode letters of RMC, GLL and VTG are given as the same numbers.
    pub fix_quality: Option<u8>,
    /// Whether the fix came from satellites: false for estimated, manual and simulated ones.
    pub satellite_fix: Option<bool>,
    /// Name of a waypoint or of a radar target.
    pub waypoint: Option<String>,
    /// Number of a radar target.
    pub target_number: Option<u32>,
    /// Identity of an AIS station.
    pub mmsi: Option<u32>,
    /// What else an AIS message says.
    pub ais: Option<Ais>,
    /// Transducers of an XDR, as sent; distances, bearings and status of a radar target; trip of a VLW.
    pub measurements: Vec<Measurement>,
}

/// A sentence with its place in time, before anything is copied.
#[derive(Debug)]
pub struct Heard<'a> {
    /// Framing, raw bytes and TAG block.
    pub framed: Framed<'a>,
    /// What it says; none when rejected.
    pub reading: Option<Reading<'a>>,
    /// Its moment, when it carries a time.
    pub time: Option<StreamTime>,
    /// What came of an AIS sentence.
    pub ais: Option<Outcome>,
}

/// Bytes in, sentences out.
#[derive(Debug)]
pub struct Decoder {
    framer: Framer,
    clock: StreamClock,
    assembly: Assembly,
}

impl Decoder {
    /// A decoder, with the UTC day of the first time of day where someone knows it.
    #[must_use]
    pub fn new(lenient: bool, day: Option<UtcInstant>, basis: DateBasis) -> Self {
        Self { framer: Framer::new(lenient), clock: StreamClock::new(day, basis), assembly: Assembly::default() }
    }

    /// Takes the next bytes.
    pub fn push(&mut self, chunk: &[u8], heard: &mut impl FnMut(Heard<'_>)) {
        let Self { framer, clock, assembly } = self;
        framer.push(chunk, &mut |framed| heard(hear(framed, clock, assembly)));
    }

    /// The input ends here.
    pub fn finish(&mut self, heard: &mut impl FnMut(Heard<'_>)) {
        let Self { framer, clock, assembly } = self;
        framer.finish(&mut |framed| heard(hear(framed, clock, assembly)));
    }

    /// What the framer has counted.
    #[must_use]
    pub const fn counts(&self) -> Counts {
        self.framer.counts()
    }

    /// The stream's clock.
    #[must_use]
    pub const fn clock(&self) -> &StreamClock {
        &self.clock
    }
}

fn hear<'a>(framed: Framed<'a>, clock: &mut StreamClock, assembly: &mut Assembly) -> Heard<'a> {
    if framed.rejection.is_some() {
        return Heard { framed, reading: None, time: None, ais: None };
    }
    let reading = read(framed.body);
    let time = clock.time_of(&reading);
    let ais = reading.encapsulated.map(|rest| {
        #[expect(clippy::cast_precision_loss, reason = "milliseconds of this age stay below 2^53")]
        let tag_s = framed.tag.time_ms.map(|ms| ms as f64 / 1000.0);
        let now_s = tag_s.or_else(|| clock.last().map(StreamTime::seconds_s));
        assembly.take(rest, reading.kind == b"VDO", now_s)
    });
    Heard { framed, reading: Some(reading), time, ais }
}

/// All of a file or message at once.
#[must_use]
pub fn decode_all(bytes: &[u8], day: Option<UtcInstant>) -> Vec<Decoded> {
    let mut decoder = Decoder::new(false, day, DateBasis::Given);
    let mut out = Vec::new();
    let mut keep = |heard: Heard<'_>| out.push(Decoded::from_heard(&heard));
    decoder.push(bytes, &mut keep);
    decoder.finish(&mut keep);
    out
}

impl Decoded {
    /// The record of one sentence.
    #[must_use]
    pub fn from_heard(heard: &Heard<'_>) -> Self {
        let mut record = match &heard.reading {
            Some(reading) => Self::from_reading(reading),
            None => Self::default(),
        };
        record.line = heard.framed.line;
        record.ok = heard.framed.rejection.is_none();
        record.time_utc = heard.time.and_then(StreamTime::utc);
        match &heard.ais {
            Some(Outcome::Message(ais)) => record.take_ais(ais),
            Some(Outcome::Part { part, of }) => record.reason = Some(format!("part {part} of {of} of an AIS message")),
            Some(Outcome::Unusable(problem)) => record.reason = Some(problem.to_string()),
            None => {}
        }
        if let Some(rejection) = &heard.framed.rejection {
            record.reason = Some(rejection.to_string());
            if let Some((talker, kind)) = heard.framed.address() {
                record.talker = Some(text_of(talker));
                record.kind = Some(text_of(kind));
            }
        } else if let Some(complaint) = heard.framed.tag.complaint() {
            record.reason = Some(complaint);
        }
        record
    }

    fn from_reading(reading: &Reading<'_>) -> Self {
        Self {
            reason: reason(reading),
            talker: Some(text_of(reading.talker)),
            kind: Some(text_of(reading.kind)),
            time_of_day_utc: reading.time.map(|time| {
                let (s, ms) = (time.ms / 1000, time.ms % 1000);
                let part = if ms == 0 { String::new() } else { format!(".{ms:03}") };
                format!("{:02}:{:02}:{:02}{part}", s / 3600, s / 60 % 60, s % 60)
            }),
            valid: reading.valid,
            latitude_deg: reading.latitude_deg,
            longitude_deg: reading.longitude_deg,
            speed_over_ground_kn: reading.speed_over_ground_kn,
            course_deg_true: reading.course_deg_true,
            heading_deg_true: reading.heading_deg_true,
            heading_deg_magnetic: reading.heading_deg_magnetic,
            magnetic_variation_deg: reading.magnetic_variation_deg,
            speed_through_water_kn: reading.speed_through_water_kn,
            distance_through_water_nmi: reading.distance_through_water_nmi,
            water_temperature_c: reading.water_temperature_c,
            depth_below_transducer_m: reading.depth_below_transducer_m,
            transducer_offset_m: reading.transducer_offset_m,
            wind_angle_deg: reading.wind_angle_deg,
            wind_reference: reading.wind_reference,
            wind_speed_m_s: reading.wind_speed_m_s,
            current_set_deg_true: reading.current_set_deg_true,
            current_drift_kn: reading.current_drift_kn,
            fix_quality: reading.fix_quality,
            satellite_fix: reading.fix_quality.map(|quality| (1..=5).contains(&quality)),
            waypoint: reading.waypoint.map(text_of),
            target_number: reading.target_number,
            measurements: measurement::of(reading),
            ..Self::default()
        }
    }

    fn take_ais(&mut self, ais: &Ais) {
        self.mmsi = ais.mmsi;
        self.latitude_deg = ais.latitude_deg;
        self.longitude_deg = ais.longitude_deg;
        self.speed_over_ground_kn = ais.speed_over_ground_kn;
        self.course_deg_true = ais.course_deg_true;
        self.heading_deg_true = ais.heading_deg_true;
        self.ais = Some(ais.clone());
    }
}

fn reason(reading: &Reading<'_>) -> Option<String> {
    if let Some(number) = reading.bad_field {
        return Some(format!("field {number} cannot be read and is left out"));
    }
    reading.time.filter(|time| time.clamped).map(|_| "leap second: second 60 is given as 59".to_owned())
}

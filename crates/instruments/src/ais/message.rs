//! What an AIS message says.
//!
//! Source: gpsd `AIVDM.adoc`, bit tables of types 1–3, 5, 18, 19, 21, 24 and 27. "Not available" is no value:
//! longitude 181°, latitude 91°, speed 102.3 kn (63 in type 27), course 360° (511 in type 27), heading 511°.
//! A field beyond the end of a short message is no value.

use super::bits::Bits;

/// A decoded AIS message.
#[derive(Debug, Clone, Default, PartialEq, serde::Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Ais {
    /// Message type, 1 to 27.
    pub message_type: u32,
    /// Identity of the station.
    #[serde(skip)]
    pub mmsi: Option<u32>,
    /// Latitude, degrees, north positive.
    #[serde(skip)]
    pub latitude_deg: Option<f64>,
    /// Longitude, degrees, east positive, in [−180, 180).
    #[serde(skip)]
    pub longitude_deg: Option<f64>,
    /// Speed over ground, knots; 102.2 means that or more.
    #[serde(skip)]
    pub speed_over_ground_kn: Option<f64>,
    /// Course over ground, degrees true.
    #[serde(skip)]
    pub course_deg_true: Option<f64>,
    /// Heading, degrees true.
    #[serde(skip)]
    pub heading_deg_true: Option<f64>,
    /// Navigational status, 0 to 14 (7 = engaged in fishing); 15, not defined, is none.
    pub navigational_status: Option<u32>,
    /// Name of ship or aid, extension included.
    pub name: Option<String>,
    /// Call sign.
    pub call_sign: Option<String>,
    /// Type of ship (30 = fishing); 0, not available, is none.
    pub ship_type: Option<u32>,
    /// Type of aid to navigation (30 = special mark); 0, not specified, is none.
    pub aid_type: Option<u32>,
    /// The aid says that it is off its place.
    pub off_position: Option<bool>,
    /// The aid is not there but only sent.
    pub virtual_aid: Option<bool>,
    /// Destination.
    pub destination: Option<String>,
}

/// Where the moving-station fields begin: speed, longitude, latitude, course, heading.
struct Layout {
    speed: usize,
    longitude: usize,
    latitude: usize,
    course: usize,
    heading: usize,
}

const CLASS_A: Layout = Layout { speed: 50, longitude: 61, latitude: 89, course: 116, heading: 128 };
const CLASS_B: Layout = Layout { speed: 46, longitude: 57, latitude: 85, course: 112, heading: 124 };

/// Decodes the bits of one whole message; none when even its type is missing.
#[must_use]
pub fn decode(bits: &Bits) -> Option<Ais> {
    let mut ais = Ais { message_type: bits.unsigned(0, 6)?, mmsi: bits.unsigned(8, 30), ..Ais::default() };
    match ais.message_type {
        1..=3 => {
            ais.navigational_status = bits.unsigned(38, 4).filter(|&status| status != 15);
            moving(&mut ais, bits, &CLASS_A);
        }
        5 => {
            ais.call_sign = bits.text(70, 7);
            ais.name = bits.text(112, 20);
            ais.ship_type = bits.unsigned(232, 8).filter(|&kind| kind != 0);
            ais.destination = bits.text(302, 20);
        }
        18 => moving(&mut ais, bits, &CLASS_B),
        19 => {
            moving(&mut ais, bits, &CLASS_B);
            ais.name = bits.text(143, 20);
            ais.ship_type = bits.unsigned(263, 8).filter(|&kind| kind != 0);
        }
        21 => aid(&mut ais, bits),
        24 => match bits.unsigned(38, 2) {
            Some(0) => ais.name = bits.text(40, 20),
            Some(1) => {
                ais.ship_type = bits.unsigned(40, 8).filter(|&kind| kind != 0);
                ais.call_sign = bits.text(90, 7);
            }
            _ => {}
        },
        27 => long_range(&mut ais, bits),
        _ => {}
    }
    Some(ais)
}

fn moving(ais: &mut Ais, bits: &Bits, at: &Layout) {
    ais.speed_over_ground_kn = bits.unsigned(at.speed, 10).filter(|&tenths| tenths < 1023).map(|v| f64::from(v) / 10.0);
    place(ais, bits.signed(at.longitude, 28), bits.signed(at.latitude, 27), 600_000.0);
    ais.course_deg_true = bits.unsigned(at.course, 12).filter(|&tenths| tenths < 3600).map(|v| f64::from(v) / 10.0);
    ais.heading_deg_true = bits.unsigned(at.heading, 9).filter(|&heading| heading < 360).map(f64::from);
}

fn place(ais: &mut Ais, longitude: Option<i32>, latitude: Option<i32>, per_degree: f64) {
    let (Some(longitude), Some(latitude)) = (longitude, latitude) else { return };
    let (longitude_deg, latitude_deg) = (f64::from(longitude) / per_degree, f64::from(latitude) / per_degree);
    if longitude_deg.abs() <= 180.0
        && let Ok(position) = quantity::Position::new(latitude_deg, longitude_deg)
    {
        ais.latitude_deg = Some(position.latitude_deg());
        ais.longitude_deg = Some(position.longitude_deg());
    }
}

fn aid(ais: &mut Ais, bits: &Bits) {
    ais.aid_type = bits.unsigned(38, 5).filter(|&kind| kind != 0);
    place(ais, bits.signed(164, 28), bits.signed(192, 27), 600_000.0);
    ais.off_position = bits.flag(259);
    ais.virtual_aid = bits.flag(269);
    // Name in 20 characters, and up to 14 more at the end; a full first part runs on without a blank.
    let first = bits.text(43, 20);
    let more = bits.text(272, 14);
    ais.name = match (first, more) {
        // A blank that fell on the last of the 20 places belongs to the name.
        (Some(first), Some(more)) if bits.unsigned(157, 6) == Some(32) => Some(first + " " + &more),
        (Some(first), Some(more)) => Some(first + &more),
        (first, more) => first.or(more),
    };
}

/// Type 27: tenths of a minute, 96 bits; longer messages are read as far as these.
fn long_range(ais: &mut Ais, bits: &Bits) {
    ais.navigational_status = bits.unsigned(40, 4).filter(|&status| status != 15);
    place(ais, bits.signed(44, 18), bits.signed(62, 17), 600.0);
    ais.speed_over_ground_kn = bits.unsigned(79, 6).filter(|&knots| knots != 63).map(f64::from);
    ais.course_deg_true = bits.unsigned(85, 9).filter(|&course| course < 360).map(f64::from);
}

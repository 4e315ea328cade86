//! Depth, positive down, below the transducer: DPT, DBT.
//!
//! Source: gpsd "NMEA Revealed". 1 ft = 0.3048 m, 1 fathom = 1.8288 m (exact).

use super::Reading;
use super::fields::Fields;

/// depth m, offset m (positive to the water line, negative to the keel), [greatest range].
pub(super) fn dpt<'a>(reading: &mut Reading<'a>, fields: &mut Fields<'a>) {
    reading.depth_below_transducer_m = fields.not_negative(0);
    reading.transducer_offset_m = fields.number(1);
}

/// feet, f, metres, M, fathoms, F; metres where sent, else feet, else fathoms.
pub(super) fn dbt<'a>(reading: &mut Reading<'a>, fields: &mut Fields<'a>) {
    reading.depth_below_transducer_m = fields
        .not_negative(2)
        .or_else(|| fields.not_negative(0).map(|feet| feet * 0.3048))
        .or_else(|| fields.not_negative(4).map(|fathoms| fathoms * 1.8288));
}

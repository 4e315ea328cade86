//! How far "going on as before" was off in the past of the same buoys, over a like time ahead.
//!
//! Every fix that has later fixes is taken as the last one, the line through the fixes before it is drawn on, and the
//! distance from it to the later fixes is measured. Reckonings whose lead lies between half and one and a half times the lead
//! asked count, scaled in proportion to time. Those of one buoy overlap in time and are not independent: only as many
//! count for the width of the band as leads fit one after the other into the records. The band of 95 % is the radius
//! R = s √(2 F), with s the standard deviation on one axis and F the quantile of Fisher's F with 2 and ν degrees of
//! freedom, for which F₀.₉₅ = ν/2 (0.05^(−2/ν) − 1) in closed form (Johnson, Kotz & Balakrishnan 1995, "Continuous
//! univariate distributions" volume 2, chapter 27; SOURCE NOT CHECKED, derived from the distribution function).

use crate::fixes::{Track, WINDOWS_S, fitted, window};

/// What the past says of a window and a lead.
#[derive(Debug, Clone)]
pub(crate) struct Past {
    pub window_s: f64,
    /// Standard deviation on one axis, metres.
    pub sd_m: f64,
    /// Degrees of freedom of that.
    freedom: f64,
    pub reckonings: usize,
    pub staying_put_m: f64,
    /// True when no past lead was as long as half the one asked.
    pub stretched: bool,
    /// The longest record, seconds.
    pub longest_s: f64,
}

impl Past {
    /// Root mean square distance, metres.
    pub fn error_m(&self) -> f64 {
        self.sd_m * std::f64::consts::SQRT_2
    }

    /// The radius that holds 95 of 100, metres.
    pub fn radius_95_m(&self) -> f64 {
        let f = self.freedom / 2.0 * (0.05_f64.powf(-2.0 / self.freedom) - 1.0);
        self.sd_m * (2.0 * f).sqrt()
    }
}

/// The window that was nearest in the past, for a lead in seconds; none where there is no past.
pub(crate) fn best(tracks: &[Track], lead_s: f64) -> Option<Past> {
    WINDOWS_S
        .iter()
        .filter_map(|window_s| past(tracks, *window_s, lead_s))
        .min_by(|a, b| a.sd_m.total_cmp(&b.sd_m).then(a.window_s.total_cmp(&b.window_s)))
}

fn past(tracks: &[Track], window_s: f64, lead_s: f64) -> Option<Past> {
    let longest_s = tracks.iter().map(record_s).fold(0.0, f64::max);
    // Where no record is as long as half the lead, its longer half speaks and is stretched.
    let like_s = lead_s.min(longest_s * 0.5);
    let stretched = lead_s * 0.5 > longest_s * 0.5 * 1.5;
    let (mut sum_m2, mut still_m2, mut reckonings) = (0.0, 0.0, 0_usize);
    for track in tracks {
        for (last, from) in track.points.iter().enumerate().skip(1) {
            let before = window(&track.points, last, window_s);
            for to in &track.points[last + 1..] {
                let ahead_s = to.t_s - from.t_s;
                if !(0.5 * like_s..=1.5 * like_s).contains(&ahead_s) {
                    continue;
                }
                let Some((place_m, _)) = fitted(before, to.t_s) else { continue };
                let scale = (lead_s / ahead_s).powi(2);
                let off_m2 = |m: [f64; 2]| (to.place_m[0] - m[0]).powi(2) + (to.place_m[1] - m[1]).powi(2);
                sum_m2 += off_m2(place_m) * scale;
                still_m2 += off_m2(from.place_m) * scale;
                reckonings += 1;
            }
        }
    }
    if reckonings == 0 {
        return None;
    }
    #[expect(clippy::cast_precision_loss, reason = "counts are small")]
    let count = reckonings as f64;
    let apart: f64 = tracks.iter().map(|track| (record_s(track) / like_s).floor().max(0.0)).sum();
    let freedom = 2.0 * apart.clamp(1.0, count);
    let sd_m = (sum_m2 / count / 2.0).sqrt();
    Some(Past { window_s, sd_m, freedom, reckonings, staying_put_m: (still_m2 / count).sqrt(), stretched, longest_s })
}

fn record_s(track: &Track) -> f64 {
    track.points.first().zip(track.points.last()).map_or(0.0, |(first, last)| last.t_s - first.t_s)
}

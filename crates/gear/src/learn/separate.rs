//! What the recorders can tell apart, and what they cannot: said in words, with what would help.
//!
//! For every parameter three widths, each as a part of the prior's: if all other parameters were known exactly (alone),
//! as it is estimated together with them (together), and 1 (not learned). A parameter that the readings see well alone
//! but that stays wide together is confounded: it is refused. The limits are judgements.

use super::fit::Fit;
use super::parameters::{Prior, Which};
use serde::Serialize;

/// Seen when its width alone is below this part of the prior's.
const SEEN: f64 = 0.95;
/// Refused when its width together is above this part of the prior's (two that show only as their sum keep √½ = 0.71),
const WIDE: f64 = 0.7;
/// and its width alone is below this part of that.
const SHARP: f64 = 0.5;

/// How well one parameter was told from the others.
#[derive(Debug, Clone, PartialEq)]
pub struct Separated {
    /// The parameter.
    pub which: Which,
    /// Width after ÷ width before, together with all others.
    pub together: f64,
    /// Width after ÷ width before, if all others were known.
    pub alone: f64,
    /// Whether the readings say anything of it at all.
    pub seen: bool,
    /// Whether it was told from the others.
    pub told_apart: bool,
}

/// Where a recorder hangs, as far as it matters for telling apart.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Placed {
    /// Its stretch, from 0.
    pub stretch: usize,
    /// How far from the middle of the basket's main line: 0 there, 1 at a float; none at a float line's end.
    pub from_middle: Option<f64>,
}

/// What cannot be separated, why, and what would.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Refusal {
    /// The parameter's name.
    pub parameter: String,
    /// Its stretch, from 1, for a sag ratio; null for the others.
    pub stretch: Option<usize>,
    /// Names of the parameters that it cannot be told from; empty when the readings do not see it at all.
    pub from: Vec<String>,
    /// Why.
    pub reason: String,
    /// What would separate them.
    pub remedy: String,
}

/// Judges every parameter by the places that have observations.
#[must_use]
pub fn separate(prior: &Prior, fit: &Fit, places: &[Placed]) -> (Vec<Separated>, Vec<Refusal>) {
    let mut all = Vec::new();
    let mut refusals = Vec::new();
    for (index, which) in prior.which.iter().copied().enumerate() {
        let before = prior.covariance[(index, index)];
        let together = (fit.covariance[(index, index)] / before).sqrt();
        let alone = 1.0 / (1.0 + fit.information[(index, index)] * before).sqrt();
        let seen = alone < SEEN;
        let measured = prior.measured[index];
        let confounded = seen && !measured && together > WIDE && alone < SHARP * together;
        if confounded {
            let partners = partners(prior, fit, index);
            refusals.push(refusal(which, &partners, places));
        } else if !seen && !measured {
            refusals.push(unseen(which, places));
        }
        all.push(Separated { which, together, alone, seen, told_apart: seen && !confounded });
    }
    (all, refusals)
}

/// The parameters that each on its own, were it the only other unknown, would blur this one most.
fn partners(prior: &Prior, fit: &Fit, index: usize) -> Vec<Which> {
    let known = |a: usize, b: usize| fit.information[(a, b)] * prior.error(a) * prior.error(b);
    let own = known(index, index);
    let width = |other: usize| 1.0 / (1.0 + own - known(index, other).powi(2) / (1.0 + known(other, other))).sqrt();
    let others: Vec<(f64, usize)> =
        (0..prior.which.len()).filter(|other| *other != index).map(|other| (width(other), other)).collect();
    let widest = others.iter().map(|one| one.0).fold(0.0, f64::max);
    let clear = 1.5 / (1.0 + own).sqrt();
    others.iter().filter(|one| one.0 > 0.7 * widest && one.0 > clear).map(|one| prior.which[one.1]).collect()
}

fn refusal(which: Which, partners: &[Which], places: &[Placed]) -> Refusal {
    let mut names: Vec<String> = Vec::new();
    for name in partners.iter().map(|one| one.name().to_owned()) {
        if !names.contains(&name) {
            names.push(name);
        }
    }
    let words: Vec<String> = partners.iter().map(|one| one.words()).collect();
    let words = if words.is_empty() { "the other unknowns".to_owned() } else { words.join(" and ") };
    let pair = |a: fn(&Which) -> bool, b: fn(&Which) -> bool| {
        (a(&which) && partners.iter().any(b)) || (b(&which) && partners.iter().any(a))
    };
    let sag = |one: &Which| matches!(one, Which::SagBias(_));
    let ratio = |one: &Which| *one == Which::DragToWeight;
    let current = |one: &Which| matches!(one, Which::Shear | Which::Rotation);
    let mut remedies = Vec::new();
    if pair(sag, current) || pair(sag, ratio) {
        remedies.push(if middle_only(places) {
            "put a recorder at the first clip too, or give radio-buoy fixes of the stretch (buoy_sag_ratio)"
        } else {
            "give radio-buoy fixes of the stretch (buoy_sag_ratio)"
        });
    }
    if pair(ratio, current) {
        remedies.push(
            "give a measured current and its error (current_error): more drag and a stronger current lift the line alike, \
             wherever recorders hang",
        );
    }
    if remedies.is_empty() {
        remedies
            .push("give a measured current and its error (current_error), or recorders on stretches of another course");
    }
    Refusal {
        parameter: which.name().to_owned(),
        stretch: which.stretch(),
        from: names,
        reason: format!(
            "{} cannot be told from {words} by {}: a change of one shows in them just as a change of the other.",
            which.words(),
            where_they_hang(places)
        ),
        remedy: format!("To separate them, {}.", remedies.join("; and ")),
    }
}

fn unseen(which: Which, places: &[Placed]) -> Refusal {
    let remedy = match which {
        Which::SagBias(stretch) if !places.iter().any(|place| place.stretch == stretch) => {
            "Put a recorder into that stretch, or give its radio-buoy fixes (buoy_sag_ratio)."
        }
        Which::SagBias(_) => "Put a recorder at the middle of its baskets.",
        _ => "Nothing needs to be done: where it does not change the depths, it need not be known.",
    };
    Refusal {
        parameter: which.name().to_owned(),
        stretch: which.stretch(),
        from: Vec::new(),
        reason: format!(
            "{} hardly changes what {} read: nothing was learned of it.",
            which.words(),
            where_they_hang(places)
        ),
        remedy: remedy.to_owned(),
    }
}

fn middle_only(places: &[Placed]) -> bool {
    places.iter().filter_map(|place| place.from_middle).all(|away| away < 0.4)
}

fn where_they_hang(places: &[Placed]) -> String {
    let hang: Vec<f64> = places.iter().filter_map(|place| place.from_middle).collect();
    let count = places.len();
    let recorders = if count == 1 { "the one recorder".to_owned() } else { format!("the {count} recorders") };
    if hang.is_empty() {
        recorders
    } else if hang.iter().all(|away| *away < 0.25) {
        format!("{recorders} near the middle of the basket")
    } else if hang.iter().all(|away| *away > 0.6) {
        format!("{recorders} near the floats")
    } else {
        recorders
    }
}

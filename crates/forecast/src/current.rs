//! Baskets of a set in the current that was measured or forecast for it: the mechanics of [`gear::hang`] for each basket.
//!
//! Each basket is taken as one of an endless row that drifts freely with the sag ratio it was set with. The ends of a
//! line slump inwards meanwhile and hang deeper than this tells.

use gear::parts::{
    BranchLine, DRAG_NORMAL, DRAG_TANGENTIAL, DragAt, Float, FloatLine, MainLine, NYLON_KG_M3, STIFFNESS_N, Water,
};
use gear::{EndsHeld, HangOptions, Hung, InputErrors, Rig, hang_with_bands};
use quantity::geodesic;
use voyage::{Basket, Doubt, SetRecord};

/// What is taken where the record says nothing (common practice, no source): 6 mm float lines, floats of 30 cm half out of
/// the water, branch lines of 2 mm.
pub(crate) const FLOAT_LINE_MM: f64 = 6.0;
pub(crate) const FLOAT_DRAG_M2: f64 = 0.018;
pub(crate) const BRANCH_MM: f64 = 2.0;

/// A basket in the current of its set, on a course where one is given; none where no current is known. What is missing, or was assumed, comes as doubts.
pub(crate) fn in_the_current(
    set: &SetRecord,
    basket: &Basket,
    shape: gear::Basket,
    course_deg_true: Option<f64>,
) -> Option<(Option<Hung>, Vec<Doubt>)> {
    if set.current_profile.is_empty() {
        return None;
    }
    let number = basket.basket;
    let doubt = |kind: &str, text: String| Doubt::new(kind, format!("basket {number}"), text);
    let branch_n = branch_weight_n(set, basket);
    let bearing_deg_true = course_deg_true.or_else(|| bearing_deg_true(set, basket));
    let missing: Vec<&str> = [
        (set.gear.main_line_diameter_mm.is_none(), "diameter of the main line"),
        (branch_n.is_none(), "weight of a branch line in water"),
        (bearing_deg_true.is_none(), "positions of its floats"),
    ]
    .iter()
    .filter_map(|(absent, name)| absent.then_some(*name))
    .collect();
    let (Some(diameter_mm), Some(weight_in_water_n), Some(line_bearing_deg_true)) =
        (set.gear.main_line_diameter_mm, branch_n, bearing_deg_true)
    else {
        let text = format!(
            "The current could not be counted in basket {number}: not recorded: {}. Its depths are for still water.",
            missing.join(", ")
        );
        return Some((None, vec![doubt("current_not_counted", text)]));
    };
    let rig = Rig {
        basket: gear::Basket { sag_ratio: shape.sag_ratio.min(0.9999), ..shape },
        main_line: MainLine {
            diameter_mm,
            density_kg_m3: NYLON_KG_M3,
            axial_stiffness_n: STIFFNESS_N,
            drag_normal: DRAG_NORMAL,
            drag_tangential: DRAG_TANGENTIAL,
        },
        branch: BranchLine {
            weight_in_water_n,
            drag_area_m2: DRAG_NORMAL * BRANCH_MM / 1000.0 * shape.branch_line_m,
            drag_at: DragAt::OwnDepth,
        },
        float_line: Some(FloatLine { diameter_mm: FLOAT_LINE_MM, drag_normal: DRAG_NORMAL }),
        float: Some(Float { drag_area_m2: FLOAT_DRAG_M2, net_buoyancy_n: None }),
    };
    let water = Water { current: set.current_profile.clone(), ..Water::default() };
    let options =
        HangOptions { line_bearing_deg_true, ends: EndsHeld::Drifting, point_loads: true, elements_per_interval: 1 };
    let mut doubts = vec![doubt(
        "gear_assumed",
        format!(
            "Drag of basket {number} is assumed: nylon main line, float lines of {FLOAT_LINE_MM} mm, branch lines of {BRANCH_MM} mm, floats of 30 cm."
        ),
    )];
    match hang_with_bands(&rig, &water, &options, &InputErrors::default()) {
        Ok(hung) => {
            doubts.extend(
                gear::doubt::about(&hung, &rig, &water, &options)
                    .into_iter()
                    .filter(|about| about.kind != gear::GearDoubtKind::FinerElements)
                    .map(|about| doubt("depth_in_current", about.text)),
            );
            Some((Some(hung), doubts))
        }
        Err(error) => {
            let text =
                format!("The current could not be counted in basket {number}: {error} Its depths are for still water.");
            Some((None, vec![doubt("current_not_counted", text)]))
        }
    }
}

/// Weight in water of the basket's branch lines, N: of its own type, or of the only one there is.
pub(crate) fn branch_weight_n(set: &SetRecord, basket: &Basket) -> Option<f64> {
    let types = &set.gear.branch_lines;
    let own = types.iter().find(|kind| kind.name.is_some() && kind.name == basket.branch_type);
    own.or(if types.len() == 1 { types.first() } else { None })?.weight_in_water_n.filter(|weight_n| *weight_n > 0.0)
}

/// Course from the basket's first float to its last: of its own floats, of the whole set, or of the ship that hangs it.
fn bearing_deg_true(set: &SetRecord, basket: &Basket) -> Option<f64> {
    let at = |place: i64| set.places.iter().find(|at| at.place == place)?.position;
    let own = at(basket.basket).zip(at(basket.basket + 1));
    if let (None, Some(course)) = (own, set.outgoing.being_set.as_ref().and_then(|being| being.course_deg_true)) {
        return Some(course);
    }
    let (from, to) = own.or(set.start.zip(set.end))?;
    let leg = geodesic::inverse(from, to);
    (leg.distance_m > 1.0).then_some(leg.bearing_start_deg)
}

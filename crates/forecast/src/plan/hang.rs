//! The basket of each leg: how it hangs, and how many of its hooks hang in the wanted layer.

use gear::parts::{BranchLine, DRAG_NORMAL, DragAt, Float, FloatLine, Water as Sea};
use gear::{EndsHeld, GearError, HangOptions, Hung, InputErrors, Rig, Setting, hang_basket, hang_with_bands};
use gear::{hook_depths, hook_depths_with_band, main_line_shape};
use voyage::Doubt;

use super::answer::{PlanSection, PlannedHook, Stretch};
use super::error::PlanError;
use super::line::{Leg, Line};
use super::wanted::PlanWanted;
use super::water::Water;
use super::way::Way;
use crate::current::{BRANCH_MM, FLOAT_DRAG_M2, FLOAT_LINE_MM};

/// Points of a catenary for drawing.
const POINTS: u32 = 61;

/// All legs, and the sums over their hooks.
pub(super) struct AllHung {
    pub stretches: Vec<Stretch>,
    pub in_layer: Option<u32>,
    pub in_layer_if_stronger: Option<u32>,
}

/// How the baskets of a course hang.
#[derive(Clone)]
struct Course {
    course_deg_true: Option<f64>,
    section: PlanSection,
    in_current: bool,
    mostly: Option<gear::Cause>,
    off_current_deg: Option<f64>,
    /// By position, in a full basket and in the short last one: in the layer, and with more current.
    full: InLayer,
    short: InLayer,
    doubts: Vec<(&'static str, String)>,
}

#[derive(Clone, Default)]
struct InLayer {
    depths_m: Vec<f64>,
    now: Vec<bool>,
    stronger: Option<Vec<bool>>,
}

pub(super) fn stretches(
    wanted: &PlanWanted,
    setting: &Setting,
    line: &Line,
    way: &Way,
    water: &Water,
    doubts: &mut Vec<Doubt>,
) -> Result<AllHung, PlanError> {
    let basket = basket_of(wanted, setting, doubts);
    let mut courses: Vec<Course> = Vec::new();
    let mut all = AllHung { stretches: Vec::new(), in_layer: None, in_layer_if_stronger: None };
    let (mut sum, mut sum_stronger) = (Some(0), Some(0));
    let mut begun = 0.0;
    for leg in &line.legs {
        let ends = line.leg_ends(leg);
        let mut stretch = empty(leg, line, setting.hooks_per_basket);
        if leg.hooks.is_some() {
            (stretch.starts_at, stretch.ends_at) = (way.time_at(begun), way.time_at(ends));
        }
        begun = ends;
        if let Some(basket) = &basket {
            // Without a current every course hangs alike.
            let short = line.short_in(leg);
            let alike = |course: &&Course| {
                let same = water.current.is_empty() || course.course_deg_true == leg.course_deg_true;
                same && (short.is_none() || !course.short.now.is_empty())
            };
            let course = match courses.iter().find(alike) {
                Some(course) => course.clone(),
                None => {
                    let course = Course::of(wanted, basket, short, leg, water)?;
                    courses.push(course.clone());
                    course
                }
            };
            let (now, stronger) = course.count(leg, line, basket.hooks);
            sum = sum.zip(now).map(|(sum, now)| sum + now);
            sum_stronger = sum_stronger.zip(stronger).map(|(sum, more)| sum + more);
            if short.is_some() {
                stretch.short_basket_depths_m.clone_from(&course.short.depths_m);
            }
            course.tell(&mut stretch, wanted.layer_m.is_some());
        }
        all.stretches.push(stretch);
    }
    if wanted.layer_m.is_some() && basket.is_some() {
        (all.in_layer, all.in_layer_if_stronger) = (sum, sum_stronger);
    }
    Ok(all)
}

fn empty(leg: &Leg, line: &Line, hooks: Option<u32>) -> Stretch {
    let basket = |hook: u32| line.basket_of(hook).map(|(basket, _)| basket);
    Stretch {
        leg: leg.number,
        from_hook: leg.hooks.map(|(from, _)| from),
        to_hook: leg.hooks.map(|(_, to)| to),
        from_place: leg.hooks.and_then(|(from, _)| basket(from)),
        to_place: leg.hooks.and_then(|(_, to)| basket(to)).map(|basket| basket + 1),
        course_deg_true: leg.course_deg_true,
        off_current_deg: None,
        starts_at: None,
        ends_at: None,
        hooks,
        in_layer: None,
        in_layer_positions: Vec::new(),
        in_layer_if_current_stronger: None,
        deepest_m: None,
        deepest_band_m: None,
        mostly: None,
        shallowest_m: None,
        in_current: false,
        section: None,
        short_basket_depths_m: Vec::new(),
        doubts: Vec::new(),
    }
}

/// The basket, or a doubt that names what is missing.
fn basket_of(wanted: &PlanWanted, setting: &Setting, doubts: &mut Vec<Doubt>) -> Option<gear::Basket> {
    let missing: Vec<&str> = [
        (setting.hooks_per_basket.is_none(), "hooks per basket"),
        (setting.clip_spacing_m.is_none(), "clip spacing"),
        (setting.sag_ratio.is_none(), "sag ratio"),
        (wanted.float_line_m.is_none(), "float line"),
        (wanted.branch_line_m.is_none(), "branch line"),
    ]
    .iter()
    .filter_map(|(absent, name)| absent.then_some(*name))
    .collect();
    if !missing.is_empty() {
        let text = format!("How deep the hooks hang is not known: not given: {}.", missing.join(", "));
        doubts.push(Doubt::new("depth_unknown", "plan", text));
    }
    Some(gear::Basket {
        hooks: setting.hooks_per_basket?,
        clip_spacing_m: setting.clip_spacing_m?,
        sag_ratio: setting.sag_ratio?.min(1.0),
        float_line_m: wanted.float_line_m?,
        branch_line_m: wanted.branch_line_m?,
        float_takes_a_beat: setting.float_takes_a_beat,
    })
}

impl InLayer {
    fn of(wanted: &PlanWanted, depths_m: Vec<f64>) -> Self {
        Self { now: in_layer(wanted, &depths_m), depths_m, stronger: None }
    }
}

impl Course {
    fn of(
        wanted: &PlanWanted,
        basket: &gear::Basket,
        short: Option<u32>,
        leg: &Leg,
        water: &Water,
    ) -> Result<Self, PlanError> {
        let mut doubts = Vec::new();
        if basket.sag_ratio >= 1.0 {
            doubts.push((
                "line_taut",
                "The sag ratio is 1: the line is drawn taut and its hooks hang at their shallowest.".to_owned(),
            ));
        }
        let hung = match rig(wanted, basket, &mut doubts) {
            Some(rig) => Self::in_the_sea(wanted, &rig, short, leg, water, &mut doubts)?,
            None => None,
        };
        match hung {
            Some(course) => Ok(Self { doubts, ..course }),
            None => Self::still(wanted, basket, short, leg, doubts),
        }
    }

    /// By the mechanics; none where no balanced shape is found.
    fn in_the_sea(
        wanted: &PlanWanted,
        rig: &Rig,
        short: Option<u32>,
        leg: &Leg,
        water: &Water,
        doubts: &mut Vec<(&'static str, String)>,
    ) -> Result<Option<Self>, PlanError> {
        let bearing = leg.course_deg_true.unwrap_or(0.0);
        let sea = |current| Sea { current, ..Sea::default() };
        // Without a course nobody knows from where the current comes.
        let known = leg.course_deg_true.map_or_else(Vec::new, |_| water.current.clone());
        let options = HangOptions {
            line_bearing_deg_true: bearing,
            ends: EndsHeld::Drifting,
            point_loads: true,
            elements_per_interval: 1,
        };
        let errors = wanted.errors.unwrap_or_default();
        let sea_now = sea(known);
        let hung = match hang_with_bands(rig, &sea_now, &options, &errors) {
            Ok(hung) => hung,
            Err(
                error @ (GearError::NotConverged { .. } | GearError::HangsSlack { .. } | GearError::DoesNotSink { .. }),
            ) => {
                doubts.push(("current_not_counted", format!("{error} The depths told are for still water.")));
                return Ok(None);
            }
            Err(error) => return Err(error.into()),
        };
        doubts.extend(
            gear::doubt::about(&hung, rig, &sea_now, &options)
                .into_iter()
                .filter(|about| about.kind != gear::GearDoubtKind::FinerElements)
                .map(|about| ("depth_in_current", about.text)),
        );
        let deepest_m = hung.nodes.iter().map(|node| node.depth_m).fold(1.0, f64::max);
        let stronger = sea(water.stronger(deepest_m, bearing));
        let more =
            |rig: &Rig| hang_basket(rig, &stronger, &options).ok().map(|hung| in_layer(wanted, &hung_depths(&hung)));
        let full = InLayer { stronger: more(rig), ..InLayer::of(wanted, hung_depths(&hung)) };
        let short = short.map_or_else(InLayer::default, |hooks| {
            let rig = Rig { basket: gear::Basket { hooks, ..rig.basket }, ..*rig };
            let depths = match hang_basket(&rig, &sea_now, &options) {
                Ok(hung) => hung_depths(&hung),
                Err(_) => still_depths(&rig.basket),
            };
            InLayer { stronger: more(&rig), ..InLayer::of(wanted, depths) }
        });
        let deepest = hung.hooks.iter().max_by(|a, b| a.depth_m.total_cmp(&b.depth_m));
        let shear = water.shear(deepest_m).filter(|_| leg.course_deg_true.is_some());
        Ok(Some(Self {
            course_deg_true: leg.course_deg_true,
            in_current: !sea_now.current.is_empty(),
            mostly: deepest.and_then(|hook| hook.band_mostly),
            off_current_deg: shear.map(|shear| off_deg(bearing, shear)),
            section: section(wanted, &hung),
            full,
            short,
            doubts: Vec::new(),
        }))
    }

    /// As a catenary in still water.
    fn still(
        wanted: &PlanWanted,
        basket: &gear::Basket,
        short: Option<u32>,
        leg: &Leg,
        mut doubts: Vec<(&'static str, String)>,
    ) -> Result<Self, PlanError> {
        let missing: Vec<&str> = [
            (wanted.main_line.is_none(), "the diameter of the main line"),
            (wanted.branch.is_none(), "the weight of a branch line in water"),
        ]
        .iter()
        .filter_map(|(absent, name)| absent.then_some(*name))
        .collect();
        if !missing.is_empty() {
            let text = format!(
                "Depths are for still water, and the band holds an error of the sag ratio alone: not known: {}. A current lifts hooks.",
                missing.join(" and ")
            );
            doubts.push(("still_water", text));
        }
        let errors: InputErrors = wanted.errors.unwrap_or_default();
        let hanging = hook_depths_with_band(basket, errors.sag_ratio)?;
        let main_line = main_line_shape(basket, POINTS)?;
        let depths: Vec<f64> = hanging.hooks.iter().map(|hook| hook.depth_m).collect();
        let clips: Vec<(f64, f64)> =
            hanging.hooks.iter().map(|hook| (hook.horizontal_m, hook.depth_m - basket.branch_line_m)).collect();
        let bands: Vec<Option<f64>> = hanging.hooks.iter().map(|hook| hook.band_m).collect();
        let short = short.map_or_else(Vec::new, |hooks| still_depths(&gear::Basket { hooks, ..*basket }));
        Ok(Self {
            course_deg_true: leg.course_deg_true,
            in_current: false,
            mostly: Some(gear::Cause::SagRatio),
            off_current_deg: None,
            section: drawn(wanted, hanging.float_span_m, main_line, &clips, &depths, &bands),
            full: InLayer::of(wanted, depths),
            short: InLayer::of(wanted, short),
            doubts,
        })
    }

    /// Hooks of a leg in the layer, and with more current: hook by hook, the short last basket by its own shape.
    fn count(&self, leg: &Leg, line: &Line, each: u32) -> (Option<u32>, Option<u32>) {
        let Some(((from, to), all)) = leg.hooks.zip(line.hooks()) else { return (None, None) };
        let full_hooks = all - line.short_basket().unwrap_or(0);
        let count = |full: &[bool], short: &[bool]| {
            let up_to = |hook: u32| {
                let within = hook.min(full_hooks);
                let (baskets, rest) = (within / each, within % each);
                let yes = |part: &[bool], hooks: u32| {
                    let counted = part.iter().take(hooks as usize).filter(|in_layer| **in_layer).count();
                    u32::try_from(counted).unwrap_or(0)
                };
                baskets * yes(full, each) + yes(full, rest) + yes(short, hook - within)
            };
            up_to(to) - up_to(from - 1)
        };
        let short_is_known = line.short_in(leg).is_none() || self.short.stronger.is_some();
        let stronger = self
            .full
            .stronger
            .as_ref()
            .filter(|_| short_is_known)
            .map(|full| count(full, self.short.stronger.as_deref().unwrap_or(&[])));
        (Some(count(&self.full.now, &self.short.now)), stronger)
    }

    fn tell(self, stretch: &mut Stretch, layer: bool) {
        let hooks = &self.section.hooks;
        let deepest = hooks.iter().max_by(|a, b| a.depth_m.total_cmp(&b.depth_m));
        stretch.deepest_m = deepest.map(|hook| hook.depth_m);
        stretch.deepest_band_m = deepest.and_then(|hook| hook.band_m);
        stretch.mostly = self.mostly.filter(|_| stretch.deepest_band_m.is_some());
        stretch.shallowest_m = hooks.iter().map(|hook| hook.depth_m).reduce(f64::min);
        stretch.off_current_deg = self.off_current_deg;
        stretch.in_current = self.in_current;
        if layer {
            stretch.in_layer_positions =
                hooks.iter().filter(|hook| hook.in_layer == Some(true)).map(|hook| hook.position).collect();
            stretch.in_layer = u32::try_from(stretch.in_layer_positions.len()).ok();
            stretch.in_layer_if_current_stronger = self
                .full
                .stronger
                .map(|more| u32::try_from(more.iter().filter(|in_layer| **in_layer).count()).unwrap_or(0));
        }
        let concerns = format!("leg {}", stretch.leg);
        stretch.doubts = self.doubts.into_iter().map(|(kind, text)| Doubt::new(kind, &*concerns, text)).collect();
        stretch.section = Some(self.section);
    }
}

/// The gear for the mechanics; none where diameter or weight are not known. What was assumed comes as a doubt.
fn rig(wanted: &PlanWanted, basket: &gear::Basket, doubts: &mut Vec<(&'static str, String)>) -> Option<Rig> {
    let (main_line, given) = wanted.main_line.zip(wanted.branch)?;
    let mut assumed = Vec::new();
    let branch = if given.drag_area_m2 > 0.0 {
        given
    } else {
        assumed.push(format!("branch lines of {BRANCH_MM} mm"));
        let drag_area_m2 = DRAG_NORMAL * BRANCH_MM / 1000.0 * basket.branch_line_m;
        BranchLine { drag_area_m2, drag_at: DragAt::OwnDepth, ..given }
    };
    let float_line = wanted.float_line.unwrap_or_else(|| {
        assumed.push(format!("float lines of {FLOAT_LINE_MM} mm"));
        FloatLine { diameter_mm: FLOAT_LINE_MM, drag_normal: DRAG_NORMAL }
    });
    let float = wanted.float.unwrap_or_else(|| {
        assumed.push("floats of 30 cm half out of the water".to_owned());
        Float { drag_area_m2: FLOAT_DRAG_M2, net_buoyancy_n: None }
    });
    if !assumed.is_empty() {
        doubts.push(("gear_assumed", format!("Not given and assumed: {}.", assumed.join(", "))));
    }
    let basket = gear::Basket { sag_ratio: basket.sag_ratio.min(0.9999), ..*basket };
    Some(Rig { basket, main_line, branch, float_line: Some(float_line), float: Some(float) })
}

fn hung_depths(hung: &Hung) -> Vec<f64> {
    hung.hooks.iter().map(|hook| hook.depth_m).collect()
}

fn still_depths(basket: &gear::Basket) -> Vec<f64> {
    hook_depths(basket).map_or_else(|_| Vec::new(), |all| all.hooks.iter().map(|hook| hook.depth_m).collect())
}

fn in_layer(wanted: &PlanWanted, depths: &[f64]) -> Vec<bool> {
    let within = |depth_m: &f64| wanted.layer_m.is_some_and(|[from_m, to_m]| (from_m..=to_m).contains(depth_m));
    depths.iter().map(within).collect()
}

/// Smaller angle between a course and a shear, degrees, 0 along to 90 across.
fn off_deg(course_deg_true: f64, [east_m_s, north_m_s]: [f64; 2]) -> f64 {
    let turned = quantity::wrap_bearing_deg(east_m_s.atan2(north_m_s).to_degrees() - course_deg_true) % 180.0;
    turned.min(180.0 - turned)
}

fn section(wanted: &PlanWanted, hung: &Hung) -> PlanSection {
    let main_line: Vec<(f64, f64)> = hung.nodes.iter().map(|node| (node.horizontal_m, node.depth_m)).collect();
    let each = hung.elements_per_interval as usize;
    let clips: Vec<(f64, f64)> =
        hung.hooks.iter().filter_map(|hook| main_line.get(hook.position as usize * each).copied()).collect();
    let bands: Vec<Option<f64>> = hung.hooks.iter().map(|hook| hook.band_m).collect();
    drawn(wanted, hung.span_m, main_line, &clips, &hung_depths(hung), &bands)
}

fn drawn(
    wanted: &PlanWanted,
    span_m: f64,
    main_line: Vec<(f64, f64)>,
    clips: &[(f64, f64)],
    depths: &[f64],
    bands: &[Option<f64>],
) -> PlanSection {
    let hooks: Vec<PlannedHook> = clips
        .iter()
        .zip(depths)
        .zip(bands)
        .zip(1..)
        .map(|((((x_m, clip_depth_m), depth_m), band_m), position)| PlannedHook {
            position,
            x_m: *x_m,
            clip_depth_m: *clip_depth_m,
            depth_m: *depth_m,
            band_m: *band_m,
            in_layer: wanted.layer_m.map(|[from_m, to_m]| (from_m..=to_m).contains(depth_m)),
        })
        .collect();
    let edge = |side: f64| -> Vec<(f64, f64)> {
        if hooks.iter().any(|hook| hook.band_m.is_none()) {
            return Vec::new();
        }
        let at_clips =
            hooks.iter().map(|hook| (hook.x_m, (hook.clip_depth_m + side * hook.band_m.unwrap_or(0.0)).max(0.0)));
        main_line.first().copied().into_iter().chain(at_clips).chain(main_line.last().copied()).collect()
    };
    let (band_upper, band_lower) = (edge(-1.0), edge(1.0));
    PlanSection { span_m, main_line, hooks, band_upper, band_lower }
}

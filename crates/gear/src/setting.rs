//! The arithmetic of the line setter: from what is known of a set, everything that follows from it.
//!
//! Model: with V_v the ship's speed *through the water* (floats drift with the surface water), V_s the line's speed from
//! the shooter, t the beat, l the main line between clips, n the intervals of a basket (hooks + 1 where the float takes a
//! beat of its own, else hooks): `k = V_v / V_s`, `l = V_s t`, `L = n l`, `S = k L`; a whole set of H hooks in B baskets
//! has H + B intervals, or H. These are the definitions of the words; the test rows hold them against published practice.

use serde::{Deserialize, Serialize};

use crate::error::{GearError, above_up_to, short};

/// Metres a second in one knot (1,852 m in 3,600 s, by definition).
pub(crate) const KNOT_M_S: f64 = 1852.0 / 3600.0;
/// Numbers that differ by more than this part contradict each other.
pub const CONTRADICTION: f64 = 0.005;

/// What is known of a set. Every field may be left out; what follows from the others is worked out.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct SettingInput {
    /// The ship's speed through the water, knots.
    pub vessel_speed_through_water_kn: Option<f64>,
    /// The main line's speed from the shooter, metres a second.
    pub shooter_speed_m_s: Option<f64>,
    /// Span between floats ÷ main line between them, above 0 and up to 1.
    pub sag_ratio: Option<f64>,
    /// Seconds between two clips.
    pub beat_s: Option<f64>,
    /// Main line between two clips, metres.
    pub clip_spacing_m: Option<f64>,
    /// Hooks between two floats.
    pub hooks_per_basket: Option<f64>,
    /// Baskets of the set, a short last one included.
    pub baskets: Option<f64>,
    /// Hooks of the set.
    pub hooks: Option<f64>,
    /// True (as when left out): the float has a clip beat of its own. False: it is clipped between two beats.
    pub float_takes_a_beat: Option<bool>,
    /// Hooks from one radio buoy to the next.
    pub hooks_per_radio_buoy: Option<f64>,
}

impl SettingInput {
    /// The names of its fields.
    pub const FIELDS: [&'static str; 10] = [
        "vessel_speed_through_water_kn",
        "shooter_speed_m_s",
        "sag_ratio",
        "beat_s",
        "clip_spacing_m",
        "hooks_per_basket",
        "baskets",
        "hooks",
        "float_takes_a_beat",
        "hooks_per_radio_buoy",
    ];
}

/// A set worked out: what was given, and what follows. What does not follow is null, and a doubt says what is missing.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Setting {
    /// The ship's speed through the water, knots.
    pub vessel_speed_through_water_kn: Option<f64>,
    /// The main line's speed from the shooter, metres a second.
    pub shooter_speed_m_s: Option<f64>,
    /// Span between floats ÷ main line between them.
    pub sag_ratio: Option<f64>,
    /// Seconds between two clips.
    pub beat_s: Option<f64>,
    /// Main line between two clips, metres.
    pub clip_spacing_m: Option<f64>,
    /// Hooks between two floats.
    pub hooks_per_basket: Option<u32>,
    /// Baskets of the set, a short last one included.
    pub baskets: Option<u32>,
    /// Hooks of the set.
    pub hooks: Option<u32>,
    /// Whether the float has a clip beat of its own.
    pub float_takes_a_beat: bool,
    /// Hooks from one radio buoy to the next.
    pub hooks_per_radio_buoy: Option<u32>,
    /// Main line between two floats of a full basket, metres.
    pub main_line_per_basket_m: Option<f64>,
    /// Distance between the two floats of a full basket, metres.
    pub float_span_m: Option<f64>,
    /// Main line of the whole set, metres.
    pub main_line_total_m: Option<f64>,
    /// Length of the set over the water, metres.
    pub set_length_m: Option<f64>,
    /// Time that setting takes without stops, seconds.
    pub setting_time_s: Option<f64>,
    /// Radio buoys, both ends included.
    pub radio_buoys: Option<u32>,
    /// What is not certain.
    pub doubts: Vec<Doubt>,
}

/// Something that is not certain about a set.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = SettingDoubt))]
pub struct Doubt {
    /// What kind of doubt.
    pub kind: DoubtKind,
    /// The doubt in a sentence.
    pub text: String,
}

/// Kinds of doubt about a set.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = SettingDoubtKind))]
pub enum DoubtKind {
    /// A field of the input that this arithmetic does not know; it was passed over.
    UnknownField,
    /// A number does not follow from what was given.
    Missing,
    /// The hooks do not fill the last basket.
    ShortBasket,
    /// Counts differ by less than a contradiction.
    CountsDiffer,
}

/// Works out a set.
///
/// # Errors
/// [`GearError`] for numbers out of range, numbers that contradict each other by more than 0.5 %, and too little input.
pub fn work_out(input: &SettingInput) -> Result<Setting, GearError> {
    let mut doubts = Vec::new();
    let pace = Pace::of(input)?;
    let counts = Counts::of(input, &mut doubts)?;
    let float_takes_a_beat = input.float_takes_a_beat.unwrap_or(true);

    let per_basket = counts.hooks_per_basket.map(|hooks| f64::from(hooks) + f64::from(u8::from(float_takes_a_beat)));
    let whole_set = match (counts.hooks, counts.baskets) {
        (Some(hooks), _) if !float_takes_a_beat => Some(f64::from(hooks)),
        (Some(hooks), Some(baskets)) => Some(f64::from(hooks) + f64::from(baskets)),
        _ => None,
    };
    let span_per_clip_m = both(pace.value(SAG), pace.value(SPACING)).map(|(k, l)| k * l);
    // Without the line's own numbers, the ship's way between two beats is still known.
    let way_per_clip_m = span_per_clip_m.or_else(|| both(pace.value(VESSEL), pace.value(BEAT)).map(|(v, t)| v * t));
    let times = |count: Option<f64>, each: Option<f64>| both(count, each).map(|(count, each)| count * each);

    let mut setting = Setting {
        vessel_speed_through_water_kn: input.vessel_speed_through_water_kn.or(pace.value(VESSEL).map(|v| v / KNOT_M_S)),
        shooter_speed_m_s: pace.value(SHOOTER),
        sag_ratio: pace.value(SAG),
        beat_s: pace.value(BEAT),
        clip_spacing_m: pace.value(SPACING),
        hooks_per_basket: counts.hooks_per_basket,
        baskets: counts.baskets,
        hooks: counts.hooks,
        float_takes_a_beat,
        hooks_per_radio_buoy: counts.hooks_per_radio_buoy,
        main_line_per_basket_m: times(per_basket, pace.value(SPACING)),
        float_span_m: times(per_basket, way_per_clip_m),
        main_line_total_m: times(whole_set, pace.value(SPACING)),
        set_length_m: times(whole_set, way_per_clip_m),
        setting_time_s: times(whole_set, pace.value(BEAT)),
        radio_buoys: both(counts.hooks, counts.hooks_per_radio_buoy).map(|(hooks, each)| hooks.div_ceil(each) + 1),
        doubts,
    };
    if pace.nothing_followed() && counts.nothing_followed && setting.nothing_follows() {
        return Err(GearError::TooLittle);
    }
    setting.name_what_is_missing();
    Ok(setting)
}

impl Setting {
    fn nothing_follows(&self) -> bool {
        [self.main_line_per_basket_m, self.float_span_m, self.main_line_total_m, self.set_length_m, self.setting_time_s]
            .iter()
            .all(Option::is_none)
            && self.radio_buoys.is_none()
    }

    fn name_what_is_missing(&mut self) {
        const COUNTS: &str = "hooks_per_basket with baskets or hooks";
        let rows = [
            (
                "vessel_speed_through_water_kn",
                self.vessel_speed_through_water_kn.is_none(),
                "it, or sag_ratio with the shooter's speed",
            ),
            (
                "shooter_speed_m_s",
                self.shooter_speed_m_s.is_none(),
                "it, or sag_ratio with the ship's speed, or beat_s with clip_spacing_m",
            ),
            ("sag_ratio", self.sag_ratio.is_none(), "it, or the ship's speed with the shooter's"),
            ("beat_s", self.beat_s.is_none(), "it, or clip_spacing_m with the shooter's speed"),
            ("clip_spacing_m", self.clip_spacing_m.is_none(), "it, or beat_s with the shooter's speed"),
            ("hooks_per_basket", self.hooks_per_basket.is_none(), "it"),
            ("baskets", self.baskets.is_none(), "it, or hooks with hooks_per_basket"),
            ("hooks", self.hooks.is_none(), "it, or baskets with hooks_per_basket"),
            ("hooks_per_radio_buoy", self.hooks_per_radio_buoy.is_none(), "it to know the radio buoys"),
            ("main_line_per_basket_m", self.main_line_per_basket_m.is_none(), "hooks_per_basket and the clip spacing"),
            ("float_span_m", self.float_span_m.is_none(), "hooks_per_basket, the clip spacing and the sag ratio"),
            ("main_line_total_m", self.main_line_total_m.is_none(), COUNTS),
            ("set_length_m", self.set_length_m.is_none(), COUNTS),
            ("setting_time_s", self.setting_time_s.is_none(), "the beat, and hooks_per_basket with baskets or hooks"),
        ];
        let missing = rows.iter().filter(|row| row.1).map(|(field, _, give)| Doubt {
            kind: DoubtKind::Missing,
            text: format!("{field} does not follow from what was given; give {give}."),
        });
        self.doubts.extend(missing);
    }
}

/// Indices of the five numbers of pace.
const VESSEL: usize = 0;
const SHOOTER: usize = 1;
const SAG: usize = 2;
const BEAT: usize = 3;
const SPACING: usize = 4;
const NAMES: [&str; 5] =
    ["vessel_speed_through_water_kn", "shooter_speed_m_s", "sag_ratio", "beat_s", "clip_spacing_m"];
const UNITS: [&str; 5] = [" kn", " m/s", "", " s", " m"];
/// `product = a × b`: V_v = k V_s and l = V_s t.
const RELATIONS: [(usize, usize, usize); 2] = [(VESSEL, SAG, SHOOTER), (SPACING, SHOOTER, BEAT)];

/// The five numbers of pace (the ship's speed in m/s), each with the given fields that it comes from, as bits.
struct Pace {
    known: [Option<(f64, u8)>; 5],
}

impl Pace {
    fn of(input: &SettingInput) -> Result<Self, GearError> {
        const RULES: [((f64, f64), &str); 5] = [
            ((1e-6, 40.0), "above 0 and up to 40 kn"),
            ((1e-6, 40.0), "above 0 and up to 40 m/s"),
            ((1e-6, 1.0), "above 0 and up to 1 (span between floats ÷ main line)"),
            ((1e-6, 3600.0), "above 0 and up to 3600 s"),
            ((1e-6, 2000.0), "above 0 and up to 2000 m"),
        ];
        let given = [
            input.vessel_speed_through_water_kn,
            input.shooter_speed_m_s,
            input.sag_ratio,
            input.beat_s,
            input.clip_spacing_m,
        ];
        let mut pace = Self { known: [None; 5] };
        for (index, (value, (range, rule))) in given.into_iter().zip(RULES).enumerate() {
            if let Some(value) = value {
                let value = above_up_to(NAMES[index], value, range, UNITS[index], rule)?;
                let value = if index == VESSEL { value * KNOT_M_S } else { value };
                pace.known[index] = Some((value, 1 << index));
            }
        }
        // Two relations: whatever the second teaches, the first may use, and the other way about.
        for _ in 0..2 {
            for relation in RELATIONS {
                pace.follow(relation)?;
            }
        }
        pace.check_line_is_slack()?;
        Ok(pace)
    }

    fn value(&self, index: usize) -> Option<f64> {
        self.known[index].map(|(value, _)| value)
    }

    fn nothing_followed(&self) -> bool {
        self.known.iter().enumerate().all(|(index, known)| known.is_none_or(|(_, from)| from == 1 << index))
    }

    /// Works out the one unknown of `product = a × b`, or checks the three.
    fn follow(&mut self, (product, a, b): (usize, usize, usize)) -> Result<(), GearError> {
        match (self.known[product], self.known[a], self.known[b]) {
            (None, Some((x, from_x)), Some((y, from_y))) => self.known[product] = Some((x * y, from_x | from_y)),
            (Some((p, from_p)), None, Some((y, from_y))) => self.known[a] = Some((p / y, from_p | from_y)),
            (Some((p, from_p)), Some((x, from_x)), None) => self.known[b] = Some((p / x, from_p | from_x)),
            (Some((p, from_p)), Some((x, from_x)), Some((y, from_y))) if (p / (x * y) - 1.0).abs() > CONTRADICTION => {
                return Err(self.contradiction((product, p, from_p), (a, x, from_x), (b, y, from_y)));
            }
            _ => {}
        }
        Ok(())
    }

    /// Names the given number that is out of line, and the given ones that it does not agree with.
    fn contradiction(&self, product: (usize, f64, u8), a: (usize, f64, u8), b: (usize, f64, u8)) -> GearError {
        let given = |(index, _, from): (usize, f64, u8)| from == 1 << index;
        let (of, expected) = if given(product) {
            (product, a.1 * b.1)
        } else if given(a) {
            (a, product.1 / b.1)
        } else {
            (b, product.1 / a.1)
        };
        let from = (product.2 | a.2 | b.2) & !(1 << of.0);
        let shown = |index: usize, value: f64| if index == VESSEL { value / KNOT_M_S } else { value };
        let others: Vec<String> = (0..5)
            .filter(|index| from & (1 << index) != 0)
            .filter_map(|index| {
                self.value(index)
                    .map(|value| format!("{} {}{}", NAMES[index], short(shown(index, value)), UNITS[index]))
            })
            .collect();
        GearError::Contradiction {
            field: NAMES[of.0],
            value: shown(of.0, of.1),
            unit: UNITS[of.0],
            others: others.join(" and "),
            expected: shown(of.0, expected),
        }
    }

    /// A ship that outruns its line by more than the allowed contradiction is an error; by less, the line is just taut.
    fn check_line_is_slack(&mut self) -> Result<(), GearError> {
        if let (Some((ratio, from)), Some(vessel_speed_m_s), Some(shooter_speed_m_s)) =
            (self.known[SAG], self.value(VESSEL), self.value(SHOOTER))
        {
            if ratio > 1.0 + CONTRADICTION {
                let vessel_speed_through_water_kn = vessel_speed_m_s / KNOT_M_S;
                return Err(GearError::LineDraggedTight {
                    shooter_speed_m_s,
                    vessel_speed_through_water_kn,
                    vessel_speed_m_s,
                });
            }
            self.known[SAG] = Some((ratio.min(1.0), from));
        }
        Ok(())
    }
}

/// How many of everything.
struct Counts {
    hooks_per_basket: Option<u32>,
    baskets: Option<u32>,
    hooks: Option<u32>,
    hooks_per_radio_buoy: Option<u32>,
    nothing_followed: bool,
}

impl Counts {
    fn of(input: &SettingInput, doubts: &mut Vec<Doubt>) -> Result<Self, GearError> {
        let given_per_basket =
            count("hooks_per_basket", input.hooks_per_basket, 1000, "a whole number from 1 to 1000")?;
        let given_baskets = count("baskets", input.baskets, 100_000, "a whole number from 1 to 100000")?;
        let given_hooks = count("hooks", input.hooks, 1_000_000, "a whole number from 1 to 1000000")?;
        let hooks_per_radio_buoy =
            count("hooks_per_radio_buoy", input.hooks_per_radio_buoy, 1_000_000, "a whole number from 1 to 1000000")?;
        let (hooks_per_basket, baskets, hooks) = match (given_per_basket, given_baskets, given_hooks) {
            (Some(each), None, Some(hooks)) => (Some(each), Some(hooks.div_ceil(each)), Some(hooks)),
            (Some(each), Some(baskets), None) => (Some(each), Some(baskets), Some(each * baskets)),
            // Only a set of full baskets says how many hooks each has.
            (None, Some(baskets), Some(hooks)) if hooks % baskets == 0 => {
                (Some(hooks / baskets), Some(baskets), Some(hooks))
            }
            (None, Some(baskets), Some(hooks)) if hooks < baskets => {
                return Err(hooks_contradict(hooks, baskets, None));
            }
            (Some(each), Some(baskets), Some(hooks)) => {
                (Some(each), Some(reconcile(each, baskets, hooks, doubts)?), Some(hooks))
            }
            unknown => unknown,
        };
        if let (Some(each), Some(baskets), Some(hooks)) = (hooks_per_basket, baskets, hooks)
            && hooks % each != 0
        {
            doubts.push(Doubt {
                kind: DoubtKind::ShortBasket,
                text: format!(
                    "{hooks} hooks do not fill {baskets} baskets of {each}: the last basket has {} hooks.",
                    hooks % each
                ),
            });
        }
        let nothing_followed = (given_per_basket, given_baskets, given_hooks) == (hooks_per_basket, baskets, hooks);
        Ok(Self { hooks_per_basket, baskets, hooks, hooks_per_radio_buoy, nothing_followed })
    }
}

/// The baskets of a set of which all three counts are given.
fn reconcile(each: u32, baskets: u32, hooks: u32, doubts: &mut Vec<Doubt>) -> Result<u32, GearError> {
    let needed = hooks.div_ceil(each);
    if needed == baskets {
        return Ok(baskets);
    }
    let full = f64::from(each) * f64::from(baskets);
    if (f64::from(hooks) / full - 1.0).abs() > CONTRADICTION {
        return Err(hooks_contradict(hooks, baskets, Some(each)));
    }
    doubts.push(Doubt {
        kind: DoubtKind::CountsDiffer,
        text: format!("{hooks} hooks at {each} a basket need {needed} baskets, not {baskets}; the hooks are followed."),
    });
    Ok(needed)
}

fn hooks_contradict(hooks: u32, baskets: u32, each: Option<u32>) -> GearError {
    let others = each.map_or_else(
        || format!("baskets {baskets} (at least one hook in each)"),
        |each| format!("baskets {baskets} and hooks_per_basket {each}"),
    );
    let expected = f64::from(baskets) * f64::from(each.unwrap_or(1));
    GearError::Contradiction { field: "hooks", value: f64::from(hooks), unit: "", others, expected }
}

/// A count as it came (JSON numbers are all alike), as a whole number within its range.
pub(crate) fn count(
    field: &'static str,
    value: Option<f64>,
    most: u32,
    rule: &'static str,
) -> Result<Option<u32>, GearError> {
    let Some(value) = value else { return Ok(None) };
    if value.fract() == 0.0 && value >= 1.0 && value <= f64::from(most) {
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "whole and within range")]
        return Ok(Some(value as u32));
    }
    Err(GearError::OutOfRange { field, value, unit: "", rule })
}

fn both<A, B>(a: Option<A>, b: Option<B>) -> Option<(A, B)> {
    a.zip(b)
}

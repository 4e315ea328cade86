//! What the screens are told of the beat, and what they may order.

use quantity::UtcInstant;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use voyage::beat::{BeatAnchor, Laying, Stop};

use super::horn::Sounding;

/// The beat of the line that is being laid.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub(crate) struct BeatView {
    /// Ship's UTC of this answer.
    pub(crate) now_utc: UtcInstant,
    /// The set that is being laid: the id of its `setting_started`; null while none is.
    pub(crate) set: Option<String>,
    /// The anchor in force; null before the first.
    pub(crate) anchor: Option<AnchorView>,
    /// An anchor that is still to come: what is being counted in.
    pub(crate) counting_in: Option<AnchorView>,
    /// Where the beat is; null before the first anchor.
    pub(crate) due: Option<DueView>,
    /// The stop that lasts; null while the beat runs.
    pub(crate) stopped: Option<StopView>,
    /// Stops of which nobody has said whether line ran out.
    pub(crate) stops_unanswered: Vec<StopView>,
    /// Times without tones of which nobody has said how many hooks were clipped.
    pub(crate) silences: Vec<SilenceView>,
    /// Places at which a radio buoy hangs or by the plan will hang, from the last one out to the one after the next.
    pub(crate) radio_buoys: Vec<i64>,
    /// Bins of branch lines.
    pub(crate) bins: BinsView,
    /// Whether the ship's own computer sounds the beat.
    pub(crate) sounding: SoundingView,
}

/// An anchor: from here beats are counted.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub(crate) struct AnchorView {
    /// The basket.
    pub(crate) basket: i64,
    /// 1 … n; 0 is the float that begins the basket.
    pub(crate) position: i64,
    /// When it was or will be clipped, ship's UTC.
    pub(crate) at_utc: UtcInstant,
    /// From clip to clip, s.
    pub(crate) beat_s: f64,
    /// Hooks in its basket.
    pub(crate) hooks_per_basket: i64,
    /// Whether the float has a beat of its own.
    pub(crate) float_takes_a_beat: bool,
    /// Ticks that are counted in before it.
    pub(crate) count_in: i64,
}

/// What a thing to clip is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub(crate) enum Thing {
    /// A hook.
    Hook,
    /// A float.
    Float,
    /// A radio buoy.
    RadioBuoy,
}

/// Where the beat is.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub(crate) struct DueView {
    /// The basket that is being laid.
    pub(crate) basket: i64,
    /// The hook clipped last; 0 when it was the float that begins the basket.
    pub(crate) position: i64,
    /// When, ship's UTC.
    pub(crate) clipped_utc: UtcInstant,
    /// Hooks in this basket.
    pub(crate) hooks_in_basket: i64,
    /// What comes next.
    pub(crate) next: Thing,
    /// Its basket; for a float its place.
    pub(crate) next_basket: i64,
    /// Its position; 0 for a float.
    pub(crate) next_position: i64,
    /// Beat time until then, s; it stands in a stop.
    pub(crate) next_in_s: f64,
    /// When, ship's UTC; null in a stop.
    pub(crate) next_utc: Option<UtcInstant>,
    /// Beat time from the last to the next, s.
    pub(crate) interval_s: f64,
    /// Hooks until the next float.
    pub(crate) hooks_to_float: i64,
    /// The place of the next float.
    pub(crate) next_place: i64,
    /// What is, or should be, painted on it; null where that is not known.
    pub(crate) next_tag: Option<String>,
    /// Floats until the next radio buoy, that one counted; null where no plan says how often.
    pub(crate) baskets_to_radio_buoy: Option<i64>,
    /// Floats until the bin in use is empty; null where that is not known.
    pub(crate) baskets_to_next_bin: Option<i64>,
}

/// A stop of setting.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub(crate) struct StopView {
    /// Id of its event; an answer amends it.
    pub(crate) id: String,
    /// Since when, ship's UTC.
    pub(crate) from_utc: UtcInstant,
    /// Until when; null while it lasts.
    pub(crate) to_utc: Option<UtcInstant>,
    /// Whether line ran out; null while nobody has said it.
    pub(crate) line_running: Option<bool>,
}

/// A time without tones: "Silent for 42 s. Were 6 hooks clipped?"
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub(crate) struct SilenceView {
    /// Id of its event; an answer amends it with `hooks_clipped`, its data whole.
    pub(crate) id: String,
    /// The last tone before it, ship's UTC.
    pub(crate) from_utc: UtcInstant,
    /// When tones came again.
    pub(crate) to_utc: UtcInstant,
    /// How long it was, s.
    pub(crate) silent_s: f64,
    /// Hooks that were due meanwhile.
    pub(crate) hooks_due: i64,
}

/// Bins of branch lines.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, ToSchema)]
pub(crate) struct BinsView {
    /// The bin in use.
    pub(crate) now: Option<String>,
    /// The place at which it is empty by its bundles.
    pub(crate) empty_at_place: Option<i64>,
    /// The bins that follow, three at most.
    pub(crate) next: Vec<String>,
}

/// Whether the ship's own computer sounds the beat.
#[derive(Debug, Clone, Default, PartialEq, Serialize, ToSchema)]
pub(crate) struct SoundingView {
    /// True where it was asked to.
    pub(crate) wanted: bool,
    /// Since when its sound device is open; null while it is not.
    pub(crate) since_utc: Option<UtcInstant>,
    /// When a tone last began.
    pub(crate) last_tone_utc: Option<UtcInstant>,
    /// True while tones should sound and do not: hooks may go out unclipped.
    pub(crate) stalled: bool,
    /// Why, where that is known.
    pub(crate) trouble: Option<String>,
    /// Tones since the start.
    pub(crate) tones: u64,
    /// Tones that were passed over because they would have come too late.
    pub(crate) passed_over: u64,
    /// The latest that a tone began, s.
    pub(crate) latest_s: f64,
}

/// What to do with the beat.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub(crate) enum Doing {
    /// Begin at a float: the nearest one, or that of `basket`.
    Start,
    /// Count in what comes next; it ends a stop too.
    CountIn,
    /// More time from clip to clip, by `by_s`.
    Slower,
    /// Less time from clip to clip, by `by_s`.
    Faster,
    /// From clip to clip `beat_s`.
    Set,
}

/// An order to the beat. The same `id` again gives the same answer and changes nothing.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct BeatOrder {
    /// A UUID made by whoever orders.
    pub(crate) id: String,
    /// What to do.
    #[serde(rename = "do")]
    pub(crate) doing: Doing,
    /// From clip to clip, s: for `set`, and for `start` where no beat ran before.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(crate) beat_s: Option<f64>,
    /// How much slower or faster, s; a tenth where it is not said.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(crate) by_s: Option<f64>,
    /// Ticks before `start` or `count_in`, 0 to 8; three where it is not said. Ticks are a second apart, or a beat where
    /// that is quicker.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(crate) count_in: Option<i64>,
    /// For `start`: the basket that its float begins.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(crate) basket: Option<i64>,
    /// For `start`: hooks in a basket from here on.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(crate) hooks_per_basket: Option<i64>,
    /// For `start`: whether the float has a beat of its own.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(crate) float_takes_a_beat: Option<bool>,
}

/// What an order led to: an event `beat` of the ship itself, kept and flushed.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub(crate) struct BeatOrdered {
    /// The order's id, which is the event's id too.
    pub(crate) id: String,
    /// The row that holds it.
    pub(crate) ship_seq: i64,
    /// The anchor that it set.
    pub(crate) anchor: AnchorView,
}

impl AnchorView {
    pub(crate) fn of(anchor: &BeatAnchor, hooks_per_basket: i64) -> Self {
        Self {
            basket: anchor.clip.basket,
            position: anchor.clip.position,
            at_utc: anchor.at,
            beat_s: anchor.beat_s,
            hooks_per_basket,
            float_takes_a_beat: anchor.float_takes_a_beat,
            count_in: anchor.count_in,
        }
    }
}

impl StopView {
    fn of(stop: &Stop) -> Self {
        Self { id: stop.id.clone(), from_utc: stop.from, to_utc: stop.to, line_running: stop.line_running }
    }
}

impl BeatView {
    /// The beat as it is at `now`.
    pub(crate) fn of(line: Option<&Laying>, now: UtcInstant, sounding: Option<&Sounding>, stalled: bool) -> Self {
        let mut view = Self {
            now_utc: now,
            set: None,
            anchor: None,
            counting_in: None,
            due: None,
            stopped: None,
            stops_unanswered: Vec::new(),
            silences: Vec::new(),
            radio_buoys: Vec::new(),
            bins: BinsView::default(),
            sounding: sounding.map(|sounding| sounding_view(sounding, stalled)).unwrap_or_default(),
        };
        let Some(line) = line else { return view };
        let anchor = |anchor: &BeatAnchor| AnchorView::of(anchor, line.hooks_in(anchor.clip.basket));
        view.set = Some(line.set.clone());
        view.anchor = line.due_at(now).map(|due| anchor(&due.anchor));
        view.counting_in = line.anchor_after(now).as_ref().map(anchor);
        view.stopped = line.stopped().map(StopView::of);
        view.stops_unanswered =
            line.stops.iter().filter(|stop| stop.line_running.is_none()).map(StopView::of).collect();
        view.silences = line
            .silences
            .iter()
            .filter(|silence| silence.hooks_clipped.is_none())
            .map(|silence| SilenceView {
                id: silence.id.clone(),
                from_utc: silence.from,
                to_utc: silence.to,
                silent_s: silence.to.seconds_since(silence.from),
                hooks_due: silence.hooks_due,
            })
            .collect();
        view.bins =
            BinsView { now: line.bins.now.clone(), empty_at_place: line.bins.empty_at, next: line.bins.next.clone() };
        view.due = due_view(line, now);
        let here = view.due.as_ref().map_or(1, |due| due.basket);
        view.radio_buoys = line.radio_buoys_about(here);
        view
    }

    /// The same but for what runs with the clock: two that are equal in this look alike on a screen.
    pub(crate) fn without_the_clock(&self) -> Self {
        let mut still = self.clone();
        still.now_utc = UtcInstant::from_micros_clamped(0);
        if let Some(due) = still.due.as_mut() {
            due.next_in_s = 0.0;
        }
        (still.sounding.last_tone_utc, still.sounding.tones, still.sounding.latest_s) = (None, 0, 0.0);
        still
    }
}

fn due_view(line: &Laying, now: UtcInstant) -> Option<DueView> {
    let due = line.due_at(now)?;
    let next_place = due.last.basket + 1;
    let buoy = line.radio_buoy_from(next_place);
    let next = match due.next.position {
        0 if line.sound_of(due.next) == voyage::score::Sound::RadioBuoy => Thing::RadioBuoy,
        0 => Thing::Float,
        _ => Thing::Hook,
    };
    Some(DueView {
        basket: due.last.basket,
        position: due.last.position,
        clipped_utc: due.last_at,
        hooks_in_basket: due.hooks,
        next,
        next_basket: due.next.basket,
        next_position: due.next.position,
        next_in_s: due.next_in_s,
        next_utc: line.stopped().is_none().then(|| now.plus_seconds(due.next_in_s)),
        interval_s: due.interval_s,
        hooks_to_float: due.hooks_to_float,
        next_place,
        next_tag: line.tag_of(next_place),
        baskets_to_radio_buoy: buoy.map(|place| place - due.last.basket),
        baskets_to_next_bin: line.bins.empty_at.map(|place| place - due.last.basket),
    })
}

fn sounding_view(sounding: &Sounding, stalled: bool) -> SoundingView {
    SoundingView {
        wanted: true,
        since_utc: sounding.since,
        last_tone_utc: sounding.last_tone,
        stalled,
        trouble: sounding.trouble.as_ref().map(ToString::to_string),
        tones: sounding.tones,
        passed_over: sounding.passed_over,
        latest_s: sounding.latest_s,
    }
}

//! The beat: hooks in each basket, stops, and when a place or a hook is due.
//!
//! Beats stand still in a stop: all reckoning is done in *running time*, clock time less the stops before it.

use std::collections::BTreeMap;

use quantity::UtcInstant;

use super::SetWork;
use crate::doubt::Doubt;
use crate::kind::{Data, Kind};
use crate::loose::{time, whole};
use crate::state::Gear;

/// More places than any line has; larger numbers are slips of a finger.
pub(crate) const MOST_PLACES: i64 = 20_000;
/// More hooks than any basket has.
pub(crate) const MOST_HOOKS: i64 = 1_000;

/// More ticks than any count-in has.
const MOST_COUNT_IN: i64 = 16;

/// Where the beat was heard to be, by a person or the program.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Anchor {
    pub basket: i64,
    pub position: i64,
    pub at: UtcInstant,
    pub beat_s: f64,
    pub float_takes_a_beat: bool,
    /// Ticks that are counted in before it.
    pub count_in: i64,
    ship_seq: i64,
}

/// A stop of setting, or several that overlap.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct StopSpan {
    pub from_us: i64,
    pub to_us: i64,
    pub line_running: Option<bool>,
    /// True while nothing has ended it; `to_us` is then the moment of the fold.
    pub lasts: bool,
}

/// One stop as it was told.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct StopTold {
    pub id: String,
    pub from: UtcInstant,
    pub to: Option<UtcInstant>,
    pub line_running: Option<bool>,
}

/// Everything that says what is due when.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Beats {
    /// In order of `at`, then ship sequence.
    pub anchors: Vec<Anchor>,
    /// United, in order.
    pub stops: Vec<StopSpan>,
    /// As they were told, in order.
    pub stops_told: Vec<StopTold>,
    counted: BTreeMap<i64, (i64, i64)>,
    stated: BTreeMap<i64, ((u8, i64), i64)>,
    described: i64,
    float_takes_a_beat: bool,
    sums: HooksBefore,
}

/// How many hooks lie before a basket, without adding them up one by one: a line of two thousand baskets is asked for
/// every one of them.
#[derive(Debug, Clone, Default, PartialEq)]
struct HooksBefore {
    /// From which basket on, hooks before it, and the hooks of each from there on, as stated.
    steps: Vec<(i64, i64, i64)>,
    /// Basket that a person counted, and by how much the counts up to it differ from what was stated.
    counted: Vec<(i64, i64)>,
}

impl HooksBefore {
    fn of(beats: &Beats) -> Self {
        let mut steps: Vec<(i64, i64, i64)> = vec![(1, 0, beats.hooks_stated(1))];
        for (&from, (_, hooks)) in beats.stated.range(2..) {
            let (last, before, each) = steps[steps.len() - 1];
            steps.push((from, before + (from - last) * each, *hooks));
        }
        let mut gained = 0;
        let counted = beats.counted.iter().map(|(&basket, (_, hooks))| {
            gained += hooks - beats.hooks_stated(basket);
            (basket, gained)
        });
        Self { steps, counted: counted.collect() }
    }

    /// Hooks of the baskets before one.
    fn before(&self, basket: i64) -> i64 {
        let step = self.steps.partition_point(|(from, _, _)| *from <= basket).saturating_sub(1);
        let stated = self.steps.get(step).map_or(0, |(from, before, each)| before + (basket - from) * each);
        let counted = self.counted.partition_point(|(counted, _)| *counted < basket);
        stated + counted.checked_sub(1).and_then(|at| self.counted.get(at)).map_or(0, |(_, gained)| *gained)
    }
}

impl Beats {
    pub fn gather(work: &SetWork<'_>, gear: &Gear, doubts: &mut Vec<Doubt>) -> Self {
        let mut beats = Self {
            anchors: Vec::new(),
            stops: Vec::new(),
            stops_told: Vec::new(),
            counted: BTreeMap::new(),
            stated: BTreeMap::new(),
            described: gear.hooks_per_basket.unwrap_or(0),
            float_takes_a_beat: gear.float_takes_a_beat.unwrap_or(true),
            sums: HooksBefore::default(),
        };
        let hooks_fit = |hooks: i64| (0..=MOST_HOOKS).contains(&hooks);
        let place_fits = |place: i64| (1..=MOST_PLACES).contains(&place);
        for fact in work.facts() {
            match fact.data.as_ref() {
                Data::BasketCounted(data) => match (whole(data.basket), whole(data.hooks)) {
                    (Some(basket), Some(hooks)) if place_fits(basket) && hooks_fit(hooks) => {
                        let held = beats.counted.entry(basket).or_insert((fact.ship_seq, hooks));
                        if fact.ship_seq > held.0 {
                            *held = (fact.ship_seq, hooks);
                        }
                    }
                    _ => doubts.push(incomplete(fact.id(), "A count of a basket lacks its basket or its hooks.")),
                },
                Data::GearChanged(data) => {
                    if let Some(hooks) = whole(data.hooks_per_basket) {
                        match whole(data.from_place) {
                            Some(from) if place_fits(from) && hooks_fit(hooks) => {
                                beats.state(from, (1, fact.ship_seq), hooks)
                            }
                            _ => doubts
                                .push(incomplete(fact.id(), "A change of gear lacks the place from which it holds.")),
                        }
                    }
                }
                Data::Beat(data) => {
                    let place = whole(data.basket).zip(whole(data.position));
                    let at = time(data.at.as_ref()).map_or(fact.t, |at| fact.moved(at));
                    match place {
                        Some((basket, position)) if place_fits(basket) && hooks_fit(position) => {
                            if let Some(hooks) = whole(data.hooks_per_basket).filter(|h| hooks_fit(*h)) {
                                beats.state(if position == 0 { basket } else { basket + 1 }, (0, fact.ship_seq), hooks);
                            }
                            match data.beat_s {
                                Some(beat_s) if (0.05..=3600.0).contains(&beat_s) => beats.anchors.push(Anchor {
                                    basket,
                                    position,
                                    at,
                                    beat_s,
                                    float_takes_a_beat: data.float_takes_a_beat.unwrap_or(beats.float_takes_a_beat),
                                    count_in: whole(data.count_in).unwrap_or(0).clamp(0, MOST_COUNT_IN),
                                    ship_seq: fact.ship_seq,
                                }),
                                _ => doubts.push(incomplete(fact.id(), "A beat lacks its seconds.")),
                            }
                        }
                        _ => doubts.push(incomplete(fact.id(), "A beat lacks its basket or its position.")),
                    }
                }
                _ => {}
            }
        }
        beats.anchors.sort_by_key(|anchor| (anchor.at, anchor.ship_seq));
        (beats.stops, beats.stops_told) = united_stops(work, doubts);
        beats.sums = HooksBefore::of(&beats);
        if beats.described == 0 && beats.stated.is_empty() && beats.counted.is_empty() {
            doubts.push(Doubt::new(
                "hooks_per_basket_unknown",
                "set",
                "Nobody said how many hooks a basket holds: no hooks can be counted. Describe the gear.",
            ));
        }
        beats
    }

    fn state(&mut self, from: i64, rank: (u8, i64), hooks: i64) {
        let held = self.stated.entry(from).or_insert((rank, hooks));
        if rank > held.0 {
            *held = (rank, hooks);
        }
    }

    /// n: the hooks of a basket that has both its floats.
    pub fn hooks_in(&self, basket: i64) -> i64 {
        self.counted(basket).unwrap_or_else(|| self.hooks_stated(basket))
    }

    /// n as it was stated for all baskets from one on, whatever a person counted in this one.
    pub fn hooks_stated(&self, basket: i64) -> i64 {
        if let Some((_, (_, hooks))) = self.stated.range(..=basket).next_back() {
            return *hooks;
        }
        if self.described > 0 {
            return self.described;
        }
        self.stated.first_key_value().map_or(0, |(_, (_, hooks))| *hooks)
    }

    /// A person's count of a basket, where there is one.
    pub fn counted(&self, basket: i64) -> Option<i64> {
        self.counted.get(&basket).map(|(_, hooks)| *hooks)
    }

    pub fn has_anchors(&self) -> bool {
        !self.anchors.is_empty()
    }

    /// Seconds between two clips at a moment.
    pub fn beat_s(&self, t: UtcInstant) -> Option<f64> {
        self.anchors.iter().rfind(|anchor| anchor.at <= t).or(self.anchors.first()).map(|anchor| anchor.beat_s)
    }

    /// Whether the float has a beat of its own at a place of the line.
    pub fn float_takes_a_beat(&self, basket: i64) -> bool {
        self.anchor_for(basket, 0).map_or(self.float_takes_a_beat, |anchor| anchor.float_takes_a_beat)
    }

    /// The anchor that rules a place or hook: the latest not beyond it, else the first.
    pub fn anchor_for(&self, basket: i64, position: i64) -> Option<&Anchor> {
        self.anchors.iter().rfind(|anchor| (anchor.basket, anchor.position) <= (basket, position)).or_else(|| {
            let first = self.anchors.first()?;
            self.anchors.iter().rfind(|anchor| anchor.at == first.at)
        })
    }

    /// Clock time less all stops before it, microseconds.
    pub fn running_us(&self, t_us: i64) -> i64 {
        let stopped: i64 = self
            .stops
            .iter()
            .take_while(|stop| stop.from_us < t_us)
            .map(|stop| stop.to_us.min(t_us) - stop.from_us)
            .sum();
        t_us - stopped
    }

    /// Whether a moment lies within a stop, after its exact start.
    pub fn stands_at(&self, t: UtcInstant) -> bool {
        self.stops.iter().any(|stop| stop.from_us < t.micros() && t.micros() < stop.to_us)
    }

    /// The clock time of a running time; at the exact start of a stop, before the stop.
    pub fn clock_us(&self, running_us: i64) -> i64 {
        let mut t_us = running_us;
        for stop in &self.stops {
            if stop.from_us < t_us {
                t_us = t_us.saturating_add(stop.to_us - stop.from_us);
            } else {
                break;
            }
        }
        t_us
    }

    /// Beats from one place (position 0) or hook to a later one, as an anchor counts them.
    pub fn beats_between(&self, anchor: &Anchor, from: (i64, i64), to: (i64, i64)) -> f64 {
        let anchor = Anchor { basket: from.0, position: from.1, ..*anchor };
        self.beats_from(&anchor, to.0, to.1)
    }

    /// Beats from the anchor to a place (position 0) or hook; negative before it.
    fn beats_from(&self, anchor: &Anchor, basket: i64, position: i64) -> f64 {
        let of_position = |position: i64| {
            let position = to_f64(position);
            if anchor.float_takes_a_beat || position < 0.5 { position } else { position - 0.5 }
        };
        let floats = (basket - anchor.basket) * i64::from(anchor.float_takes_a_beat);
        let between = to_f64(self.sums.before(basket) - self.sums.before(anchor.basket) + floats);
        between + of_position(position) - of_position(anchor.position)
    }

    /// When a place (position 0) or a hook was due.
    pub fn due(&self, basket: i64, position: i64) -> Option<UtcInstant> {
        let anchor = self.anchor_for(basket, position)?;
        Some(self.due_by(anchor, basket, position))
    }

    pub fn due_by(&self, anchor: &Anchor, basket: i64, position: i64) -> UtcInstant {
        let beats = self.beats_from(anchor, basket, position);
        if beats.abs() < 1e-9 {
            return anchor.at;
        }
        self.after_beats(anchor.at, beats, anchor.beat_s)
    }

    /// The moment so many beats after (or before) another, stops put in.
    pub fn after_beats(&self, from: UtcInstant, beats: f64, beat_s: f64) -> UtcInstant {
        let running = self.running_us(from.micros()).saturating_add(to_micros(beats * beat_s));
        UtcInstant::from_micros_clamped(self.clock_us(running))
    }

    /// The anchor in force at a moment: the latest `at` by then, of one `at` the later told.
    pub fn anchor_at(&self, t: UtcInstant) -> Option<&Anchor> {
        self.anchors.iter().rfind(|anchor| anchor.at <= t)
    }

    /// The place (position 0) or hook whose beat fell last at or before `t` by an anchor; none before the line.
    pub fn last_due_by(&self, anchor: &Anchor, t: UtcInstant) -> Option<(i64, i64)> {
        let mut basket = self.basket_near(anchor, t);
        while self.due_by(anchor, basket, 0) > t {
            if basket <= 1 {
                return None;
            }
            basket -= 1;
        }
        while basket < MOST_PLACES && self.due_by(anchor, basket + 1, 0) <= t {
            basket += 1;
        }
        // Hooks of a basket come one after the other: halve until the last one is found.
        let (mut low, mut high) = (0, self.hooks_in(basket));
        while low < high {
            let middle = (low + high + 1) / 2;
            if self.due_by(anchor, basket, middle) <= t {
                low = middle;
            } else {
                high = middle - 1;
            }
        }
        Some((basket, low))
    }

    /// About the basket that an anchor's beats have come to; so that a long line is walked once.
    fn basket_near(&self, anchor: &Anchor, t: UtcInstant) -> i64 {
        let running_us = self.running_us(t.micros()) - self.running_us(anchor.at.micros());
        let mut beats = to_f64(running_us) / 1e6 / anchor.beat_s + to_f64(anchor.position);
        let of_basket = |basket: i64| to_f64(self.hooks_in(basket) + i64::from(anchor.float_takes_a_beat));
        let mut basket = anchor.basket;
        while basket < MOST_PLACES && beats >= of_basket(basket) {
            beats -= of_basket(basket);
            basket += 1;
        }
        while basket > 1 && beats < 0.0 {
            basket -= 1;
            beats += of_basket(basket);
        }
        basket
    }

    /// The hook whose beat fell last at or before `t`: the anchor with the latest `at` by then rules.
    pub fn last_hook_due(&self, t: UtcInstant) -> Option<(i64, i64)> {
        let anchor = self.anchor_at(t).or(self.anchors.first())?;
        let (mut basket, mut position) = self.last_due_by(anchor, t)?;
        while position == 0 {
            basket -= 1;
            position = if basket >= 1 { self.hooks_in(basket) } else { return None };
        }
        Some((basket, position))
    }

    /// The same for moments after the fold: a stop that nothing has ended lasts.
    pub fn going_on(mut self) -> Self {
        for stop in self.stops.iter_mut().filter(|stop| stop.lasts) {
            // Centuries, and far from where sums of microseconds run over.
            stop.to_us = i64::MAX / 4;
        }
        self
    }

    /// What follows a place or a hook in the line.
    pub fn after(&self, (basket, position): (i64, i64)) -> (i64, i64) {
        if position < self.hooks_in(basket) { (basket, position + 1) } else { (basket + 1, 0) }
    }
}

fn united_stops(work: &SetWork<'_>, doubts: &mut Vec<Doubt>) -> (Vec<StopSpan>, Vec<StopTold>) {
    let (mut stops, mut told): (Vec<StopSpan>, Vec<StopTold>) = (Vec::new(), Vec::new());
    let facts: Vec<_> = work.facts().collect();
    for (index, fact) in facts.iter().enumerate() {
        let Data::StopStarted(started) = fact.data.as_ref() else { continue };
        let ender = facts[index + 1..]
            .iter()
            .find(|later| matches!(later.kind(), Kind::StopEnded | Kind::Beat | Kind::SettingEnded));
        let mut said = started.line_running;
        if let Some(Data::StopEnded(ended)) = ender.map(|fact| fact.data.as_ref()) {
            said = ended.line_running.or(said);
        }
        let to = ender.map_or(work.now.max(fact.t), |ender| ender.t);
        told.push(StopTold {
            id: fact.id().to_owned(),
            from: fact.t,
            to: ender.map(|ender| ender.t),
            line_running: said,
        });
        let lasts = ender.is_none();
        let span = StopSpan { from_us: fact.t.micros(), to_us: to.micros(), line_running: said, lasts };
        match stops.last_mut() {
            Some(last) if span.from_us <= last.to_us => {
                last.to_us = last.to_us.max(span.to_us);
                last.line_running = span.line_running.or(last.line_running);
                last.lasts |= span.lasts;
            }
            _ => stops.push(span),
        }
        if said.is_none() {
            doubts.push(Doubt::new(
                "stop_unanswered",
                fact.id(),
                format!(
                    "At {} setting stopped; nobody said whether line was running out. It counts as not running.",
                    fact.t
                ),
            ));
        }
    }
    (stops, told)
}

pub(crate) fn incomplete(concerns: &str, text: &str) -> Doubt {
    Doubt::new("incomplete", concerns, format!("{text} It is kept and not used."))
}

/// Whole microseconds of seconds.
pub(crate) fn to_micros(seconds_s: f64) -> i64 {
    #[expect(clippy::cast_possible_truncation, reason = "a float cast saturates")]
    let micros = (seconds_s * 1e6).round() as i64;
    micros
}

/// A count as a float; counts here stay far below 2^53.
pub(crate) fn to_f64(count: i64) -> f64 {
    #[expect(clippy::cast_precision_loss, reason = "counts stay far below 2^53")]
    let float = count as f64;
    float
}

/// An anchor of a case that is reckoned by hand.
#[cfg(test)]
pub(crate) struct BeatCase {
    pub clip: (i64, i64),
    pub at: UtcInstant,
    pub beat_s: f64,
    pub float_takes_a_beat: bool,
    pub count_in: i64,
}

#[cfg(test)]
impl Beats {
    /// Beats from a case; stops in order, the last one may last.
    pub fn of_case(
        anchors: &[BeatCase],
        stops: &[(UtcInstant, Option<UtcInstant>)],
        hooks: &BTreeMap<i64, i64>,
    ) -> Self {
        let anchors = (1..).zip(anchors).map(|(ship_seq, anchor)| Anchor {
            basket: anchor.clip.0,
            position: anchor.clip.1,
            at: anchor.at,
            beat_s: anchor.beat_s,
            float_takes_a_beat: anchor.float_takes_a_beat,
            count_in: anchor.count_in,
            ship_seq,
        });
        let stops = stops.iter().map(|(from, to)| StopSpan {
            from_us: from.micros(),
            to_us: to.map_or(0, UtcInstant::micros),
            line_running: None,
            lasts: to.is_none(),
        });
        let beats = Self {
            anchors: anchors.collect(),
            stops: stops.collect(),
            stops_told: Vec::new(),
            counted: BTreeMap::new(),
            stated: hooks.iter().map(|(basket, hooks)| (*basket, ((0, 1), *hooks))).collect(),
            described: 0,
            float_takes_a_beat: true,
            sums: HooksBefore::default(),
        };
        let sums = HooksBefore::of(&beats);
        Self { sums, ..beats }.going_on()
    }
}

#[cfg(test)]
mod tests {
    use quantity::testing::assert_within;
    use serde_json::Value;

    use super::*;

    /// What the screens are held to as well, reckoned by hand: one beat in two languages.
    #[test]
    fn verif_the_beat_is_the_one_that_the_screens_count() {
        let vectors: Value =
            serde_json::from_str(include_str!("../../../../web/vectors/due.json")).expect("the screens' cases");
        let cases = vectors["cases"].as_array().expect("a list");
        assert!(cases.len() >= 15);
        for case in cases {
            let name = case["name"].as_str().expect("a name");
            let at_us = to_micros(case["at_s"].as_f64().expect("a moment"));
            let beats = beats_of(case, at_us);
            let steps =
                (1..=70).flat_map(|basket| (0..=beats.hooks_in(basket)).map(move |position| (basket, position)));
            let steps: Vec<(i64, i64)> = steps.collect();
            let due_us = |step: &(i64, i64)| beats.due(step.0, step.1).expect("anchored").micros();
            let last = steps.iter().rposition(|step| due_us(step) <= at_us);
            let expected = &case["due"];
            let Some(last) = last else {
                assert!(expected.is_null(), "{name}");
                continue;
            };
            assert_eq!(
                (Some(steps[last].0), Some(steps[last].1)),
                (expected[0].as_i64(), expected[1].as_i64()),
                "{name}"
            );
            let next = steps[last + 1];
            assert_eq!(next.1 > 0, expected[2] == "hook", "{name}");
            let wait_us = beats.running_us(due_us(&next)) - beats.running_us(at_us);
            // Instants are whole microseconds.
            assert_within(name, to_f64(wait_us) / 1e6, expected[3].as_f64().expect("seconds"), 2e-6);
            let to_float = steps[last + 1..].iter().take_while(|step| step.1 > 0).count();
            assert_eq!(i64::try_from(to_float).ok(), expected[4].as_i64(), "{name}");
        }
    }

    /// The beats of one case; a stop that has no end lasts until now.
    fn beats_of(case: &Value, at_us: i64) -> Beats {
        let number = |value: &Value| value.as_f64().expect("a number");
        let anchor = &case["anchor"];
        let float_takes_a_beat = anchor[4].as_bool().expect("true or false");
        let mut stops: Vec<StopSpan> = Vec::new();
        for stop in case["stops"].as_array().expect("stops") {
            let (from_us, to_us) = (to_micros(number(&stop[0])), stop[1].as_f64().map_or(at_us, to_micros));
            match stops.last_mut() {
                Some(before) if from_us <= before.to_us => before.to_us = before.to_us.max(to_us),
                _ => stops.push(StopSpan { from_us, to_us, line_running: None, lasts: stop[1].is_null() }),
            }
        }
        let hooks = case["hooks"].as_object().expect("hooks by basket");
        let beats = Beats {
            anchors: vec![Anchor {
                basket: anchor[0].as_i64().expect("a basket"),
                position: anchor[1].as_i64().expect("a position"),
                at: UtcInstant::from_micros_clamped(to_micros(number(&anchor[2]))),
                beat_s: number(&anchor[3]),
                float_takes_a_beat,
                count_in: 0,
                ship_seq: 1,
            }],
            stops,
            stops_told: Vec::new(),
            counted: BTreeMap::new(),
            stated: hooks
                .iter()
                .map(|(from, hooks)| (from.parse().expect("a basket"), ((0, 1), hooks.as_i64().expect("hooks"))))
                .collect(),
            described: 0,
            float_takes_a_beat,
            sums: HooksBefore::default(),
        };
        let sums = HooksBefore::of(&beats);
        Beats { sums, ..beats }
    }

    /// Stated from some baskets on, counted in others.
    fn beats_stated(stated: &[(i64, i64)], counted: &[(i64, i64)]) -> Beats {
        let hooks: BTreeMap<i64, i64> = stated.iter().copied().collect();
        let anchor = BeatCase {
            clip: (1, 0),
            at: UtcInstant::from_micros_clamped(0),
            beat_s: 6.0,
            float_takes_a_beat: true,
            count_in: 0,
        };
        let mut beats = Beats::of_case(&[anchor], &[], &hooks);
        beats.counted = counted.iter().map(|(basket, hooks)| (*basket, (1, *hooks))).collect();
        beats.sums = HooksBefore::of(&beats);
        beats
    }

    #[test]
    fn verif_hooks_before_a_basket_are_those_added_up_one_by_one() {
        type Pairs = &'static [(i64, i64)];
        let cases: [(Pairs, Pairs); 5] = [
            (&[(1, 25)], &[]),
            (&[(4, 10), (9, 7)], &[]),
            (&[(1, 25), (2, 24), (40, 5)], &[(1, 20), (2, 30), (39, 0), (40, 6), (41, 4)]),
            (&[], &[(3, 12)]),
            (&[(7, 3)], &[(1, 9), (20_000, 8)]),
        ];
        for (stated, counted) in cases {
            let beats = beats_stated(stated, counted);
            let mut sum = 0;
            for basket in 1..=60 {
                assert_eq!(beats.sums.before(basket), sum, "{stated:?} {counted:?} basket {basket}");
                sum += beats.hooks_in(basket);
            }
        }
    }

    /// What is looked up grows with the changes of a line, not with its baskets.
    #[test]
    fn verif_a_long_line_takes_no_longer_by_the_basket() {
        let beats = beats_stated(&[(1, 25), (900, 24)], &[(100, 20)]);
        assert!((1..=16_000).all(|basket| beats.due(basket, 0).is_some()));
        assert_eq!((beats.sums.steps.len(), beats.sums.counted.len()), (2, 1));
    }
}

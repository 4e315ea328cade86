//! The beat as it is heard: what is due at which moment, and which tone it gets, from the last anchor alone.
//!
//! An anchor says which position of which basket was due when; everything after it follows by counting. Position 0 is the
//! float that begins a basket. With a float that takes a beat, a basket has one beat more than hooks; without, the float is
//! clipped midway between two hooks. What was counted otherwise, or stopped, comes as a new anchor: this function never
//! looks back before its own. The screens and the ship's loudspeaker sound the same list.

use quantity::UtcInstant;
use serde::Serialize;

/// Which hook or float was due when, and how the beat goes on from there.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct BeatAnchor {
    /// The basket, from 1.
    pub basket: i64,
    /// Its hook, from 1; 0 is the float that begins it.
    pub position: i64,
    /// When that was due.
    pub at: UtcInstant,
    /// From hook to hook, seconds.
    pub beat_s: f64,
    /// Hooks in a basket, from this one on.
    pub hooks_per_basket: i64,
    /// Whether the float has a beat of its own.
    pub float_takes_a_beat: bool,
    /// A radio buoy hangs at every so many places (places 1, 1 + n, …); none when radio buoys are clipped by word.
    pub radio_buoy_every: Option<i64>,
}

/// What is clipped.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Clipped {
    /// A branch line.
    Hook,
    /// A float.
    Float,
    /// A radio buoy.
    RadioBuoy,
}

/// A warning that goes with a beat.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Warning {
    /// A float comes in three hooks.
    FloatInThree,
    /// A radio buoy comes in one basket.
    RadioBuoyNextBasket,
}

/// One beat.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Due {
    /// When.
    pub at: UtcInstant,
    /// What is clipped.
    pub clipped: Clipped,
    /// The basket; a float begins it.
    pub basket: i64,
    /// Its hook, from 1; 0 for a float or radio buoy.
    pub position: i64,
    /// The warning that goes with it.
    pub warning: Option<Warning>,
}

/// What the stern needs at a moment: the last that was due, and what comes.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct BeatNow {
    /// The last hook, float or buoy due; none before the anchor.
    pub last: Option<Due>,
    /// The next.
    pub next: Due,
    /// The next float or radio buoy.
    pub next_float: Due,
    /// Hooks due until then.
    pub hooks_to_float: i64,
}

/// More hooks than any basket has, and longer than any beat, seconds: what is beyond is no beat.
const MOST_HOOKS: i64 = 1_000;
const LONGEST_BEAT_S: f64 = 3_600.0;

impl BeatAnchor {
    /// Whether a beat can be counted from this.
    #[must_use]
    pub fn is_sound(&self) -> bool {
        (1..=MOST_HOOKS).contains(&self.hooks_per_basket)
            && (0.05..=LONGEST_BEAT_S).contains(&self.beat_s)
            && self.basket >= 1
            && (0..=self.hooks_per_basket).contains(&self.position)
            && self.radio_buoy_every.is_none_or(|every| every >= 1)
    }

    /// What was due last and is due next at a moment; none for an anchor that is not sound.
    #[must_use]
    pub fn now(&self, now: UtcInstant) -> Option<BeatNow> {
        let first = self.first_after(now)?;
        let next = self.due(first);
        let mut ahead = first;
        let mut hooks_to_float = 0;
        let next_float = loop {
            let due = self.due(ahead);
            if due.position == 0 {
                break due;
            }
            hooks_to_float += 1;
            ahead += 1;
        };
        let last = (first > 0).then(|| self.due(first - 1));
        Some(BeatNow { last, next, next_float, hooks_to_float })
    }

    /// Every beat after one moment and up to another, in order; at most `most`. None are told for an anchor that is not
    /// sound.
    #[must_use]
    pub fn between(&self, after: UtcInstant, until: UtcInstant, most: usize) -> Vec<Due> {
        let Some(first) = self.first_after(after) else { return Vec::new() };
        (first..).map(|step| self.due(step)).take_while(|due| due.at <= until).take(most).collect()
    }

    /// Steps in a basket: its float and its hooks.
    fn steps(&self) -> i64 {
        self.hooks_per_basket + 1
    }

    /// The first step, counted from the anchor (0), that is due after a moment.
    fn first_after(&self, moment: UtcInstant) -> Option<i64> {
        if !self.is_sound() {
            return None;
        }
        let elapsed_beats = moment.seconds_since(self.at) / self.beat_s;
        if elapsed_beats < 0.0 {
            return Some(0);
        }
        let per_basket = if self.float_takes_a_beat { self.steps() } else { self.hooks_per_basket };
        #[expect(clippy::cast_possible_truncation, reason = "a set lasts less than a day or two")]
        let baskets = (elapsed_beats / to_f64(per_basket)).floor().min(1e9) as i64;
        let mut step = (baskets * self.steps() - 1).max(0);
        while self.due(step).at <= moment {
            step += 1;
        }
        Some(step)
    }

    /// The step so many after the anchor.
    fn due(&self, step: i64) -> Due {
        let place = self.position + step;
        let basket = self.basket + place.div_euclid(self.steps());
        let position = place.rem_euclid(self.steps());
        let beats = self.beats_to(basket, position) - self.beats_to(self.basket, self.position);
        let clipped = match position {
            0 if self.buoy_at(basket) => Clipped::RadioBuoy,
            0 => Clipped::Float,
            _ => Clipped::Hook,
        };
        Due {
            at: self.at.plus_seconds(beats * self.beat_s),
            clipped,
            basket,
            position,
            warning: self.warning(basket, position),
        }
    }

    /// Beats from the float of basket 1.
    fn beats_to(&self, basket: i64, position: i64) -> f64 {
        if self.float_takes_a_beat {
            to_f64((basket - 1) * self.steps() + position)
        } else {
            let within = if position == 0 { 0.0 } else { to_f64(position) - 0.5 };
            to_f64((basket - 1) * self.hooks_per_basket) + within
        }
    }

    fn buoy_at(&self, place: i64) -> bool {
        self.radio_buoy_every.is_some_and(|every| (place - 1).rem_euclid(every) == 0)
    }

    fn warning(&self, basket: i64, position: i64) -> Option<Warning> {
        if position == 0 && self.buoy_at(basket + 1) {
            return Some(Warning::RadioBuoyNextBasket);
        }
        // Three hooks before the float that ends the basket: its hooks n − 2, n − 1 and n are still to come.
        (position > 0 && position == self.hooks_per_basket - 3 || position == 0 && self.hooks_per_basket == 3)
            .then_some(Warning::FloatInThree)
    }
}

#[expect(clippy::cast_precision_loss, reason = "counts of hooks")]
fn to_f64(count: i64) -> f64 {
    count as f64
}

#[cfg(test)]
mod tests {
    use quantity::testing::assert_within;

    use super::*;

    fn anchor(float_takes_a_beat: bool) -> BeatAnchor {
        BeatAnchor {
            basket: 1,
            position: 0,
            at: UtcInstant::from_ymd(2031, 3, 2).expect("a day"),
            beat_s: 7.0,
            hooks_per_basket: 25,
            float_takes_a_beat,
            radio_buoy_every: Some(20),
        }
    }

    #[test]
    fn verif_hooks_and_floats_are_due_by_counting() {
        let own = anchor(true);
        let at = |seconds_s: f64| own.now(own.at.plus_seconds(seconds_s)).expect("sound");
        // 26 beats of 7 s a basket: hook 17 of basket 3 at (2 × 26 + 17) × 7 s = 483 s.
        let now = at(483.0);
        let last = now.last.expect("under way");
        assert_eq!((last.basket, last.position, last.clipped), (3, 17, Clipped::Hook));
        assert_eq!((now.next.position, now.hooks_to_float), (18, 8));
        assert_within("float, s", now.next_float.at.seconds_since(own.at), 3.0 * 26.0 * 7.0, 1e-6);
        assert_eq!(at(0.0).last.expect("the float").clipped, Clipped::RadioBuoy);
        assert!(at(-1.0).last.is_none());

        let midway = anchor(false);
        let float = midway.now(midway.at.plus_seconds(170.0)).expect("sound").next_float;
        // 25 beats a basket, the float half a beat after hook 25 at 24.5 beats.
        assert_within("float midway, s", float.at.seconds_since(midway.at), 25.0 * 7.0, 1e-6);
    }

    #[test]
    fn verif_every_beat_comes_once_and_in_order_whatever_the_window() {
        for own in [anchor(true), anchor(false)] {
            let until = own.at.plus_seconds(4000.0);
            let all = own.between(own.at.plus_seconds(-1.0), until, 10_000);
            assert!(all.windows(2).all(|pair| pair[0].at < pair[1].at));
            let mut parts = Vec::new();
            let mut from = own.at.plus_seconds(-1.0);
            while from < until {
                let to = from.plus_seconds(1.0);
                parts.extend(own.between(from, to.min(until), 10_000));
                from = to;
            }
            assert_eq!(all, parts);
            let hooks = all.iter().filter(|due| due.clipped == Clipped::Hook).count();
            let floats = all.len() - hooks;
            assert!(hooks / floats >= 24, "{hooks} hooks, {floats} floats");
        }
    }

    #[test]
    fn verif_warnings_come_three_hooks_before_a_float_and_one_basket_before_a_buoy() {
        let own = anchor(true);
        let all = own.between(own.at, own.at.plus_seconds(21.0 * 26.0 * 7.0), 10_000);
        let warned = |kind| all.iter().filter(move |due| due.warning == Some(kind));
        assert!(warned(Warning::FloatInThree).all(|due| due.position == 22));
        let before: Vec<i64> = warned(Warning::RadioBuoyNextBasket).map(|due| due.basket).collect();
        assert_eq!(before, [20]);
        let buoys: Vec<i64> =
            all.iter().filter(|due| due.clipped == Clipped::RadioBuoy).map(|due| due.basket).collect();
        assert_eq!(buoys, [21]);
    }

    #[test]
    fn regress_an_anchor_that_cannot_be_sounds_nothing() {
        let bad = BeatAnchor { beat_s: 0.0, ..anchor(true) };
        assert!(bad.now(bad.at).is_none() && bad.between(bad.at, bad.at.plus_seconds(99.0), 9).is_empty());
        let bad = BeatAnchor { hooks_per_basket: 0, ..anchor(true) };
        assert!(!bad.is_sound());
    }
}

//! The beat of the line that is being laid: what is due at a moment, what comes next, what stands unanswered.
//!
//! A pure function of the events and the time: the server, the ship's horn and the commands that change the beat all
//! ask here. It rests on the fold's own reckoning, so that a hook's time in the record is the moment of its tone.

use std::collections::{BTreeMap, BTreeSet};

use quantity::UtcInstant;

use crate::fold::beats::{Anchor, Beats, MOST_PLACES, to_f64};

/// A thing that is clipped: a hook, or (position 0) the float that begins a basket.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Clip {
    /// Its basket; for a float also its place.
    pub basket: i64,
    /// 1 … n; 0 is the float that begins the basket.
    pub position: i64,
}

/// An anchor of the beat: from here beats are counted.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BeatAnchor {
    /// What was clipped.
    pub clip: Clip,
    /// When, ship's UTC.
    pub at: UtcInstant,
    /// Seconds from clip to clip.
    pub beat_s: f64,
    /// Whether the float has a beat of its own.
    pub float_takes_a_beat: bool,
    /// Ticks that are counted in before it.
    pub count_in: i64,
}

/// Where the beat is at a moment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Due {
    /// The anchor that rules.
    pub anchor: BeatAnchor,
    /// What was clipped last.
    pub last: Clip,
    /// When.
    pub last_at: UtcInstant,
    /// What comes next.
    pub next: Clip,
    /// Beat time until it comes, seconds; it stands in a stop.
    pub next_in_s: f64,
    /// Beat time from the last to the next, seconds.
    pub interval_s: f64,
    /// Hooks in the basket that is being laid.
    pub hooks: i64,
    /// Of these, not clipped yet.
    pub hooks_to_float: i64,
}

/// A stop of setting.
#[derive(Debug, Clone, PartialEq)]
pub struct Stop {
    /// Id of its event.
    pub id: String,
    /// Since when.
    pub from: UtcInstant,
    /// Until when; none while it lasts.
    pub to: Option<UtcInstant>,
    /// Whether line ran out meanwhile; none while nobody has said it.
    pub line_running: Option<bool>,
}

/// A time without tones.
#[derive(Debug, Clone, PartialEq)]
pub struct Silence {
    /// Id of its event.
    pub id: String,
    /// The last tone before it.
    pub from: UtcInstant,
    /// When tones came again.
    pub to: UtcInstant,
    /// Hooks that were due meanwhile.
    pub hooks_due: i64,
    /// How many of them were clipped; none while nobody has said it.
    pub hooks_clipped: Option<i64>,
}

/// Bins of branch lines: which is in use and what follows.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Bins {
    /// The bin in use.
    pub now: Option<String>,
    /// The place at which it is empty by its bundles.
    pub empty_at: Option<i64>,
    /// The bins that follow, three at most.
    pub next: Vec<String>,
}

/// The line that is being laid, with its beat. A set whose setting has not ended and whose haul has not begun.
#[derive(Debug, Clone, PartialEq)]
pub struct Laying {
    /// Id of its `setting_started`.
    pub set: String,
    /// Stops in order.
    pub stops: Vec<Stop>,
    /// Times without tones, in order.
    pub silences: Vec<Silence>,
    /// Bins.
    pub bins: Bins,
    pub(crate) beats: Beats,
    pub(crate) tags: BTreeMap<i64, String>,
    pub(crate) tag_mode: Option<String>,
    pub(crate) buoy_places: BTreeSet<i64>,
    pub(crate) hooks_per_radio_buoy: Option<i64>,
}

impl From<&Anchor> for BeatAnchor {
    fn from(anchor: &Anchor) -> Self {
        Self {
            clip: Clip { basket: anchor.basket, position: anchor.position },
            at: anchor.at,
            beat_s: anchor.beat_s,
            float_takes_a_beat: anchor.float_takes_a_beat,
            count_in: anchor.count_in,
        }
    }
}

impl Laying {
    /// Where the beat is; none before its first anchor, and where no hooks are known.
    #[must_use]
    pub fn due_at(&self, t: UtcInstant) -> Option<Due> {
        let beats = &self.beats;
        let anchor = beats.anchor_at(t)?;
        let last = beats.last_due_by(anchor, t)?;
        let hooks = beats.hooks_in(last.0);
        if hooks < 1 {
            return None;
        }
        let next = beats.after(last);
        let running = |at: UtcInstant| beats.running_us(at.micros());
        let (last_at, next_at) = (beats.due_by(anchor, last.0, last.1), beats.due_by(anchor, next.0, next.1));
        // In a stop that lasts the next thing has no time yet: its beat time is reckoned from the beats themselves.
        let interval_s = beats.beats_between(anchor, last, next) * anchor.beat_s;
        let since_us = running(t) - running(last_at);
        debug_assert!(next_at >= last_at);
        Some(Due {
            anchor: anchor.into(),
            last: Clip { basket: last.0, position: last.1 },
            last_at,
            next: Clip { basket: next.0, position: next.1 },
            next_in_s: (interval_s - to_f64(since_us) / 1e6).max(0.0),
            interval_s,
            hooks,
            hooks_to_float: hooks - last.1,
        })
    }

    /// An anchor that is to come after `t`: what is being counted in.
    #[must_use]
    pub fn anchor_after(&self, t: UtcInstant) -> Option<BeatAnchor> {
        self.beats.anchors.iter().find(|anchor| anchor.at > t).map(BeatAnchor::from)
    }

    /// Everything that is due after `from` and up to `to`, in order, each by the anchor that rules then.
    #[must_use]
    pub fn clips(&self, from: UtcInstant, to: UtcInstant) -> Vec<(UtcInstant, Clip)> {
        let (beats, mut found) = (&self.beats, Vec::new());
        let anchors = &beats.anchors;
        for (index, anchor) in anchors.iter().enumerate() {
            let until = anchors.get(index + 1).map(|next| next.at);
            if anchor.at > to || until.is_some_and(|until| until <= anchor.at || until <= from) {
                continue;
            }
            let begin = from.max(anchor.at.plus_seconds(-1e-6));
            let mut clip = match beats.last_due_by(anchor, begin) {
                Some(last) => beats.after(last),
                None => (1, 0),
            };
            while clip.0 < MOST_PLACES {
                let at = beats.due_by(anchor, clip.0, clip.1);
                if at > to || until.is_some_and(|until| at >= until) {
                    break;
                }
                if at > begin {
                    found.push((at, Clip { basket: clip.0, position: clip.1 }));
                }
                clip = beats.after(clip);
            }
        }
        found
    }

    /// Every anchor in order.
    pub(crate) fn anchors(&self) -> impl Iterator<Item = BeatAnchor> + '_ {
        self.beats.anchors.iter().map(BeatAnchor::from)
    }

    /// The hooks of a basket.
    #[must_use]
    pub fn hooks_in(&self, basket: i64) -> i64 {
        self.beats.hooks_in(basket)
    }

    /// Whether the float that begins a basket has a beat of its own.
    #[must_use]
    pub fn float_takes_a_beat(&self, basket: i64) -> bool {
        self.beats.float_takes_a_beat(basket)
    }

    /// The stop that lasts.
    #[must_use]
    pub fn stopped(&self) -> Option<&Stop> {
        self.stops.iter().rfind(|stop| stop.to.is_none())
    }

    /// What is, or should be, painted on the float of a place: as tapped or listed, else as tags run in sequence.
    #[must_use]
    pub fn tag_of(&self, place: i64) -> Option<String> {
        if let Some(tag) = self.tags.get(&place) {
            return Some(tag.clone());
        }
        let step = match self.tag_mode.as_deref() {
            Some("sequence_up") => 1,
            Some("sequence_down") => -1,
            _ => return None,
        };
        let (before, tag) =
            self.tags.range(..place).rev().find_map(|(at, tag)| tag.parse::<i64>().ok().map(|tag| (*at, tag)))?;
        let tag = tag.checked_add((place - before).checked_mul(step)?)?;
        (tag >= 0).then(|| tag.to_string())
    }

    /// The first place from `from` on at which the plan has a radio buoy; none where no plan says how often.
    #[must_use]
    pub fn radio_buoy_from(&self, from: i64) -> Option<i64> {
        let each = self.hooks_per_radio_buoy.filter(|each| *each > 0)?;
        let mut place = self.buoy_places.range(..from).next_back().copied().unwrap_or(1);
        while place < from {
            let mut hooks = 0;
            while hooks < each {
                // A basket without hooks must not hold this up for ever.
                hooks += self.hooks_in(place).max(1);
                place += 1;
            }
            if place > MOST_PLACES {
                return None;
            }
        }
        Some(place)
    }

    /// Places about a basket at which a radio buoy hangs or by the plan will hang: those that are out, and two to come.
    #[must_use]
    pub fn radio_buoys_about(&self, basket: i64) -> Vec<i64> {
        let mut places = self.buoy_places.clone();
        let mut from = basket;
        for _ in 0..2 {
            let Some(place) = self.radio_buoy_from(from) else { break };
            places.insert(place);
            from = place + 1;
        }
        places.into_iter().collect()
    }

    /// The place whose beat time is nearest to a moment: in the later half of a basket a man takes up the next float.
    #[must_use]
    pub fn nearest_place(&self, t: UtcInstant) -> i64 {
        self.due_at(t)
            .map_or(1, |due| if 2 * due.last.position > due.hooks { due.next_float() } else { due.last.basket })
    }
}

impl Due {
    /// The place of the next float.
    #[must_use]
    pub const fn next_float(&self) -> i64 {
        self.last.basket + 1
    }
}

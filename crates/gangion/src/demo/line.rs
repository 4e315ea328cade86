//! The clockwork of one setting in the script: which hook is due when. Times run in beats from the first float;
//! a stop holds the beats and not the clock. It is the script's own arithmetic, kept apart from the program's fold,
//! so that the two can be held against each other.

use std::collections::BTreeSet;

use quantity::UtcInstant;

/// The line stood still, or ran on empty, for a while.
#[derive(Debug, Clone, Copy)]
pub struct Stop {
    /// Beat time at which it began, s since the first float with all stops taken out.
    pub after_s: f64,
    /// How long it lasted, s.
    pub lasts_s: f64,
    /// True: the shooter ran on and empty line went out.
    pub line_running: bool,
}

/// One setting as the script has it.
#[derive(Debug, Clone)]
pub struct Setting {
    /// The first float.
    pub start: UtcInstant,
    /// Time from hook to hook, s.
    pub beat_s: f64,
    /// Hooks in every basket.
    pub hooks_per_basket: u32,
    /// Baskets; all are full.
    pub baskets: u32,
    /// Whether a float takes a beat of its own.
    pub float_takes_a_beat: bool,
    /// In order of time.
    pub stops: Vec<Stop>,
    /// Positions (basket, position) that stayed empty.
    pub missed: BTreeSet<(u32, u32)>,
}

impl Setting {
    /// Beat time of one basket, s.
    pub fn basket_s(&self) -> f64 {
        f64::from(self.hooks_per_basket + u32::from(self.float_takes_a_beat)) * self.beat_s
    }

    /// Beat time of a place, s.
    pub fn place_beat_s(&self, place: u32) -> f64 {
        f64::from(place - 1) * self.basket_s()
    }

    /// Beat time of a hook, s.
    pub fn hook_beat_s(&self, basket: u32, position: u32) -> f64 {
        let within = if self.float_takes_a_beat { f64::from(position) } else { f64::from(position) - 0.5 };
        self.place_beat_s(basket) + within * self.beat_s
    }

    /// The clock at a beat time: the stops that began before it are put back.
    pub fn clock(&self, beat_s: f64) -> UtcInstant {
        let stood_s: f64 = self.stops.iter().filter(|stop| stop.after_s < beat_s).map(|stop| stop.lasts_s).sum();
        self.start.plus_seconds(beat_s + stood_s)
    }

    /// When a stop began.
    pub fn stop_start(&self, index: usize) -> UtcInstant {
        self.clock(self.stops[index].after_s)
    }

    /// When a place was due.
    pub fn place_at(&self, place: u32) -> UtcInstant {
        self.clock(self.place_beat_s(place))
    }

    /// When a hook was due.
    pub fn hook_at(&self, basket: u32, position: u32) -> UtcInstant {
        self.clock(self.hook_beat_s(basket, position))
    }

    /// The last place.
    pub fn last_place(&self) -> u32 {
        self.baskets + 1
    }

    /// The positions of a basket that hold a hook, in setting order.
    pub fn live(&self, basket: u32) -> Vec<u32> {
        (1..=self.hooks_per_basket).filter(|position| !self.missed.contains(&(basket, *position))).collect()
    }

    /// Hooks really set.
    pub fn hooks_set(&self) -> usize {
        (1..=self.baskets).map(|basket| self.live(basket).len()).sum()
    }
}

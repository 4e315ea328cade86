//! One haul of the script, hook by hook in lifting order: floats aboard, fish at the rail, branch lines lost, and
//! what the fish table does afterwards.

use std::collections::{BTreeMap, BTreeSet};

use quantity::UtcInstant;
use serde_json::{Value, json};

use super::deck::{Deck, Device};
use super::dice::Dice;
use super::fish::{self, Stock, Use};
use super::line::Setting;

/// A surprise on one hook, written into the script.
#[derive(Debug, Clone)]
pub enum Surprise {
    /// The branch line is gone below the clip.
    LineLost(&'static str),
    /// A fish of this kind slips off at the rail.
    LostAtRail(&'static str),
    /// A fish of this kind comes up bitten: by whom, and kept or not.
    Bitten(&'static str, &'static str, bool),
    /// By-catch let go: what, and how it was handled.
    Released(&'static str, Value),
}

/// A haul in progress.
pub struct Haul<'a> {
    /// Where events go.
    pub deck: &'a mut Deck,
    /// Chance.
    pub dice: &'a mut Dice,
    /// The setting that is hauled.
    pub setting: &'a Setting,
    /// The clock of the script.
    pub now: UtcInstant,
    /// Seconds from hook to hook.
    pub pace_s: f64,
    /// What is in the sea.
    pub stocks: &'a [Stock],
    /// Radio buoys by place.
    pub buoys: &'a BTreeMap<u32, &'static str>,
    /// Whether a buoy hangs where a float would.
    pub buoy_in_place: bool,
    /// Tags by place.
    pub tags: &'a BTreeMap<u32, String>,
    /// Floats that are never found.
    pub missing: BTreeSet<u32>,
    /// Surprises by (basket, position).
    pub surprises: BTreeMap<(u32, u32), Surprise>,
    /// Where the ship was to be when: (time, place).
    pub way: Vec<(UtcInstant, u32)>,
    /// Fish kept and not yet stowed: id, species, weight, kg.
    pub table: Vec<(String, &'static str, f64)>,
    /// Branch lines seen since the last float.
    pub count: u32,
    /// Ties given out so far.
    pub ties: u32,
    /// Fish seen by species, for the script's own account.
    pub seen: BTreeMap<&'static str, u32>,
    /// Landed fish in order: id and what was written of each.
    pub landed: Vec<(String, Value)>,
    overdue: Vec<u32>,
}

impl<'a> Haul<'a> {
    /// A haul that begins at a moment.
    pub fn new(
        deck: &'a mut Deck,
        dice: &'a mut Dice,
        setting: &'a Setting,
        now: UtcInstant,
        stocks: &'a [Stock],
        buoys: &'a BTreeMap<u32, &'static str>,
        tags: &'a BTreeMap<u32, String>,
    ) -> Self {
        Self {
            deck,
            dice,
            setting,
            now,
            pace_s: 12.4,
            stocks,
            buoys,
            buoy_in_place: true,
            tags,
            missing: BTreeSet::new(),
            surprises: BTreeMap::new(),
            way: Vec::new(),
            table: Vec::new(),
            count: 0,
            ties: 0,
            seen: BTreeMap::new(),
            landed: Vec::new(),
            overdue: Vec::new(),
        }
    }

    fn rail(&mut self, kind: &'static str, data: Value) -> String {
        self.deck.tap(Device::Rail, self.now, kind, data)
    }

    /// Time goes by.
    pub fn wait(&mut self, seconds_s: f64) {
        self.now = self.now.plus_seconds(seconds_s);
    }

    /// A part begins.
    pub fn start(&mut self, direction: &str, from_place: u32) {
        self.deck.haul = None;
        let buoy = self.buoys.get(&from_place);
        let data = json!({"direction": direction, "from_place": from_place, "buoy": buoy});
        self.way.push((self.now, from_place));
        let id = self.rail("haul_started", data);
        self.deck.haul = Some(id);
        self.count = 0;
        self.overdue.clear();
    }

    /// A part ends.
    pub fn end(&mut self, reason: &str) {
        self.rail("haul_ended", json!({"reason": reason}));
        self.stow();
        self.deck.haul = None;
    }

    /// A place comes to the rail, or does not.
    pub fn place(&mut self, place: u32) {
        if self.missing.contains(&place) {
            self.overdue.push(place);
            return;
        }
        self.wait(14.0);
        for place in std::mem::take(&mut self.overdue) {
            self.rail("float_missing", json!({"place": place}));
            self.wait(1.5);
        }
        self.way.push((self.now, place));
        match self.buoys.get(&place) {
            Some(buoy) => {
                self.rail("radio_buoy_recovered", json!({"buoy": buoy, "place": place}));
                self.wait(45.0);
                if !self.buoy_in_place {
                    self.rail("float_hauled", json!({"place": place, "tag": self.tags.get(&place)}));
                }
            }
            None => {
                self.rail("float_hauled", json!({"place": place, "tag": self.tags.get(&place)}));
            }
        }
        self.count = 0;
    }

    /// One hook comes up with whatever is on it; nothing for a place in a tangle.
    pub fn hook(&mut self, basket: u32, position: u32) {
        let pace = (1.0 + 0.08 * self.dice.bell()).max(0.5);
        self.wait(self.pace_s * pace);
        self.count += 1;
        let count = self.count;
        if let Some(surprise) = self.surprises.remove(&(basket, position)) {
            self.surprise(surprise);
            return;
        }
        let n = f64::from(self.setting.hooks_per_basket);
        let middle = 1.0 - (2.0 * (f64::from(position) - 0.5) / n - 1.0).abs();
        let Some(stock) = fish::on_hook(self.stocks, middle, self.dice) else { return };
        *self.seen.entry(stock.species).or_default() += 1;
        // With the push-button the count is exact; without it, a guess from the pace.
        let exact = self.dice.happens(0.45);
        let guess = if exact { count } else { count + u32::from(self.dice.happens(0.5)) };
        let uncertainty = if exact { 0 } else { 2 };
        let (length_cm, weight_kg) = fish::measure(&stock, self.dice);
        let heavy = weight_kg > 55.0;
        if heavy {
            self.rail("hauler_stopped", json!({}));
            self.wait(38.0);
        } else {
            self.wait(3.0);
        }
        let alive = self.dice.happens(0.68);
        let condition = if alive { "alive" } else { "dead" };
        let mut at = json!({"species": stock.species, "count_since_float": guess, "uncertainty_hooks": uncertainty,
            "condition": condition});
        match stock.becomes {
            Use::Kept => {
                self.ties += 1;
                at["fate"] = json!("retained");
                at["tie"] = json!(self.ties.to_string());
                let id = self.rail("landed", at.clone());
                self.landed.push((id.clone(), at));
                self.dress(&id, &stock, length_cm, weight_kg);
            }
            Use::Released => {
                at["hooked"] = json!("mouth");
                at["gear_left_m"] = json!(0.5);
                at["handling"] = json!(["kept in the water", "line cut close to the hook"]);
                self.rail("released", at);
            }
            Use::Discarded => {
                at["fate"] = json!("discarded");
                self.rail("landed", at);
            }
        }
        if heavy {
            self.wait(52.0);
            self.rail("hauler_started", json!({}));
        }
    }

    fn surprise(&mut self, surprise: Surprise) {
        self.wait(3.0);
        let count = self.count;
        let (kind, species, data) = match surprise {
            Surprise::LineLost(cause) => {
                ("branch_line_lost", None, json!({"cause": cause, "count_since_float": count}))
            }
            Surprise::LostAtRail(species) => (
                "lost_at_rail",
                Some(species),
                json!({"species": species, "count_since_float": count, "uncertainty_hooks": 0}),
            ),
            Surprise::Bitten(species, by, kept) => (
                "bitten",
                Some(species),
                json!({"species": species, "count_since_float": count, "uncertainty_hooks": 0, "by": by, "kept": kept}),
            ),
            Surprise::Released(species, mut data) => {
                data["species"] = json!(species);
                data["count_since_float"] = json!(count);
                data["uncertainty_hooks"] = json!(0);
                self.wait(140.0);
                ("released", Some(species), data)
            }
        };
        if let Some(species) = species {
            *self.seen.entry(species).or_default() += 1;
        }
        self.rail(kind, data);
    }

    /// The table: the long way with every step, or the short way of two taps.
    fn dress(&mut self, id: &str, stock: &Stock, length_cm: f64, weight_kg: f64) {
        let dressed_kg = fish::tenth(weight_kg * stock.dressed);
        // A large fish takes longer, and so does a table that has hands full.
        let slow = 0.6 + length_cm / 300.0 + 0.07 * f64::from(u32::try_from(self.table.len() % 6).unwrap_or(0));
        let after = |seconds_s: f64| self.now.plus_seconds(slow * seconds_s);
        let medium = "slush";
        if self.dice.happens(0.35) {
            self.deck.tap(
                Device::Table,
                after(420.0),
                "fish_step",
                json!({"fish": id, "step": "in_cold", "medium": medium}),
            );
        } else {
            self.deck.tap(Device::Table, after(25.0), "card_taken", json!({"fish": id}));
            for (step, seconds_s) in [("killed", 45.0), ("bled", 95.0), ("gutted", 280.0)] {
                self.deck.tap(Device::Table, after(seconds_s), "fish_step", json!({"fish": id, "step": step}));
            }
            let cold = json!({"fish": id, "step": "in_cold", "medium": medium});
            self.deck.tap(Device::Table, after(520.0), "fish_step", cold);
        }
        let sex = ["f", "m", "u"][self.dice.below(3)];
        let measured = json!({"fish": id, "length_cm": length_cm, "length_kind": stock.length_kind,
            "weight_kg": dressed_kg, "weight_form": stock.form, "sex": sex});
        self.deck.tap(Device::Table, after(470.0), "fish_measured", measured);
        if self.dice.happens(0.3) {
            let read = json!({"fish": id, "temperature_c": fish::tenth(27.5 + self.dice.bell()), "depth_cm": 9});
            self.deck.tap(Device::Table, after(500.0), "probe_read", read);
        }
        self.table.push((id.to_owned(), stock.species, dressed_kg));
    }

    /// What the table has dressed goes below, a kind at a time.
    pub fn stow(&mut self) {
        let below = self.now.plus_seconds(1500.0);
        let mut kinds: BTreeMap<&str, (Vec<String>, f64)> = BTreeMap::new();
        for (id, species, weight_kg) in std::mem::take(&mut self.table) {
            let kind = kinds.entry(species).or_default();
            kind.0.push(id);
            kind.1 += weight_kg;
        }
        for (species, (ids, weight_kg)) in kinds {
            let data = json!({"fish": ids, "species": species, "count": ids.len(), "weight_kg": fish::tenth(weight_kg),
                "hold": "fish room 1", "layer": "2"});
            self.deck.tap(Device::Table, below, "stowed", data);
        }
    }
}

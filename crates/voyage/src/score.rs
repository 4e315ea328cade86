//! The score: which tone sounds at which moment while a line is laid. Pure; the horn and the screens play it.
//!
//! Tones are the rhythm of work, not alerts, and must never be taken for one. So they differ from alarms in every
//! feature by which alarms are known: each is over within a third of a second, has a fixed pitch and a soft attack, and
//! is never repeated before the next thing is due. The ship's general emergency signal is seven or more short blasts
//! and a long one, and continuous bells or horns (IMO resolution MSC.48(66), LSA Code 7.2.1: SOURCE NOT CHECKED); fire
//! evacuation is three pulses of half a second each, again and again (ISO 8201: SOURCE NOT CHECKED); a bridge alarm
//! sounds until it is acknowledged or silenced and comes again after 30 s (IMO resolutions MSC.302(87) module A,
//! 7.3.2 to 7.3.4, and MSC.252(83), 20.2.5). Nothing here sweeps, lasts, or comes again. Pitches lie within 200 to
//! 5,000 Hz, the band in which a signal has to stand out of the noise (US NUREG-0700 rev. 2, 1.3.11-17, for control
//! rooms, used here as a likeness). One tone for a hook, two for a float, three for a radio buoy: own judgement.

use quantity::UtcInstant;
use serde::Serialize;

use crate::beat::{Clip, Laying};

/// What a tone says.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub enum Sound {
    /// A hook is clipped now.
    Hook,
    /// A float is clipped now.
    Float,
    /// A radio buoy goes out now.
    RadioBuoy,
    /// A float is clipped now and the next bin begins.
    BinChange,
    /// A hook is clipped now; a float comes in three hooks.
    FloatSoon,
    /// A float is clipped now; a radio buoy comes in one basket.
    RadioBuoySoon,
    /// The beat is about to begin.
    CountIn,
}

/// One note of a sound.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Note {
    /// From the beginning of the sound, ms.
    pub after_ms: u32,
    /// How long it lasts, its attack and its fall counted, ms.
    pub length_ms: u32,
    /// Its pitch, Hz.
    pub frequency_hz: u32,
}

/// A sound at its moment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tone {
    /// When, ship's UTC.
    pub at: UtcInstant,
    /// Which.
    pub sound: Sound,
    /// What it is for.
    pub clip: Clip,
}

/// How many hooks before a float the warning sounds.
pub const HOOKS_BEFORE_FLOAT: i64 = 3;
/// The longest time between two ticks of a count-in, seconds.
pub const TICK_S: f64 = 1.0;

const fn note(after_ms: u32, length_ms: u32, frequency_hz: u32) -> Note {
    Note { after_ms, length_ms, frequency_hz }
}

impl Sound {
    /// Every sound.
    pub const ALL: [Self; 7] = [
        Self::Hook,
        Self::Float,
        Self::RadioBuoy,
        Self::BinChange,
        Self::FloatSoon,
        Self::RadioBuoySoon,
        Self::CountIn,
    ];

    /// Its notes, in order.
    #[must_use]
    pub const fn notes(self) -> &'static [Note] {
        match self {
            Self::Hook => const { &[note(0, 70, 880)] },
            Self::Float => const { &[note(0, 80, 660), note(110, 80, 990)] },
            Self::RadioBuoy => const { &[note(0, 80, 660), note(100, 80, 825), note(200, 80, 990)] },
            // Downward, so that it is told from a float by ear alone.
            Self::BinChange => const { &[note(0, 80, 990), note(110, 80, 660), note(220, 80, 440)] },
            Self::FloatSoon => const { &[note(0, 60, 880), note(90, 60, 880)] },
            Self::RadioBuoySoon => const { &[note(0, 80, 660), note(110, 80, 990), note(220, 80, 990)] },
            Self::CountIn => const { &[note(0, 60, 587)] },
        }
    }

    /// From its beginning to its end, ms.
    #[must_use]
    pub fn lasts_ms(self) -> u32 {
        self.notes().iter().map(|note| note.after_ms + note.length_ms).max().unwrap_or(0)
    }
}

impl Laying {
    /// Everything that sounds after `from` and up to `to`, in order.
    ///
    /// In a stop nothing is due and nothing sounds. While a beat is counted in only the count is heard.
    #[must_use]
    pub fn tones(&self, from: UtcInstant, to: UtcInstant) -> Vec<Tone> {
        let (mut tones, mut counts): (Vec<Tone>, Vec<(UtcInstant, UtcInstant)>) = (Vec::new(), Vec::new());
        for anchor in self.anchors().filter(|anchor| anchor.count_in > 0 && anchor.at > from) {
            let tick_s = anchor.beat_s.min(TICK_S);
            let tick = |back: i64| anchor.at.plus_seconds(-crate::fold::beats::to_f64(back) * tick_s);
            counts.push((tick(anchor.count_in), anchor.at));
            let ticks = (1..=anchor.count_in).rev().map(tick).filter(|at| *at > from && *at <= to);
            tones.extend(ticks.map(|at| Tone { at, sound: Sound::CountIn, clip: anchor.clip }));
        }
        let counted_in = |at: UtcInstant| counts.iter().any(|(begin, end)| at >= *begin && at < *end);
        for (at, clip) in self.clips(from, to) {
            if !counted_in(at) {
                tones.push(Tone { at, sound: self.sound_of(clip), clip });
            }
        }
        // A stop that came into a count-in ends it.
        tones.retain(|tone| !self.beats.stands_at(tone.at));
        tones.sort_by_key(|tone| tone.at);
        tones
    }

    /// What sounds for a thing; the most telling where several would.
    #[must_use]
    pub fn sound_of(&self, clip: Clip) -> Sound {
        if clip.position > 0 {
            let left = self.hooks_in(clip.basket) - clip.position;
            return if left == HOOKS_BEFORE_FLOAT { Sound::FloatSoon } else { Sound::Hook };
        }
        let place = clip.basket;
        if self.buoy_places.contains(&place) || self.radio_buoy_from(place) == Some(place) {
            Sound::RadioBuoy
        } else if self.bins.empty_at == Some(place) {
            Sound::BinChange
        } else if self.buoy_places.contains(&(place + 1)) || self.radio_buoy_from(place + 1) == Some(place + 1) {
            Sound::RadioBuoySoon
        } else {
            Sound::Float
        }
    }
}

#[cfg(test)]
mod tests {
    use std::collections::{BTreeMap, BTreeSet};

    use quantity::testing::assert_within;
    use serde_json::{Value, json};

    use super::*;
    use crate::beat::Bins;
    use crate::fold::beats::{BeatCase, Beats, to_micros};

    fn whole(value: &Value) -> i64 {
        value.as_i64().expect("a whole number")
    }

    fn seconds(value: &Value) -> UtcInstant {
        UtcInstant::from_micros_clamped(to_micros(value.as_f64().expect("seconds")))
    }

    /// A line as a case of the screens tells it.
    fn line(case: &Value) -> Laying {
        let list = |name: &str| case[name].as_array().cloned().unwrap_or_default();
        let anchors: Vec<BeatCase> = list("anchors")
            .iter()
            .map(|anchor| BeatCase {
                clip: (whole(&anchor[0]), whole(&anchor[1])),
                at: seconds(&anchor[2]),
                beat_s: anchor[3].as_f64().expect("seconds"),
                float_takes_a_beat: anchor[4].as_bool().expect("true or false"),
                count_in: whole(&anchor[5]),
            })
            .collect();
        let stops: Vec<(UtcInstant, Option<UtcInstant>)> = list("stops")
            .iter()
            .map(|stop| (seconds(&stop[0]), (!stop[1].is_null()).then(|| seconds(&stop[1]))))
            .collect();
        let hooks: BTreeMap<i64, i64> = case["hooks"]
            .as_object()
            .expect("hooks by basket")
            .iter()
            .map(|(basket, hooks)| (basket.parse().expect("a basket"), whole(hooks)))
            .collect();
        Laying {
            set: "s".to_owned(),
            stops: Vec::new(),
            silences: Vec::new(),
            bins: Bins { empty_at: case["bin_empty_at"].as_i64(), ..Bins::default() },
            beats: Beats::of_case(&anchors, &stops, &hooks),
            tags: BTreeMap::new(),
            tag_mode: None,
            buoy_places: list("radio_buoys").iter().map(whole).collect::<BTreeSet<i64>>(),
            hooks_per_radio_buoy: None,
        }
    }

    /// What the screens are held to as well, reckoned by hand: one score in two languages.
    #[test]
    fn verif_the_score_is_the_one_that_the_screens_play() {
        let vectors: Value =
            serde_json::from_str(include_str!("../../../web/vectors/tones.json")).expect("the screens' cases");
        let cases = vectors["cases"].as_array().expect("a list");
        assert!(cases.len() >= 12);
        for case in cases {
            let name = case["name"].as_str().expect("a name");
            let tones = line(case).tones(seconds(&case["from_s"]), seconds(&case["to_s"]));
            let ours: Vec<Value> =
                tones.iter().map(|tone| json!([tone.sound, tone.clip.basket, tone.clip.position])).collect();
            let expected = case["tones"].as_array().expect("tones");
            let theirs: Vec<Value> = expected.iter().map(|tone| json!([tone[1], tone[2], tone[3]])).collect();
            assert_eq!(ours, theirs, "{name}");
            for (tone, theirs) in tones.iter().zip(expected) {
                // Instants are whole microseconds.
                let at_s = tone.at.seconds_since(UtcInstant::from_micros_clamped(0));
                assert_within(name, at_s, theirs[0].as_f64().expect("seconds"), 2e-6);
            }
        }
    }

    /// The screens' table of sounds is made from the one here. `BLESS=1 cargo test -p voyage` writes it anew.
    #[test]
    #[expect(clippy::disallowed_methods, reason = "a test may hold a file against what it is made from")]
    fn verif_the_screens_have_the_same_sounds() {
        let mut sounds = serde_json::Map::new();
        for sound in Sound::ALL {
            let name = serde_json::to_value(sound).expect("a word");
            sounds.insert(name.as_str().expect("a word").to_owned(), json!(sound.notes()));
        }
        let table = json!({"hooks_before_float": HOOKS_BEFORE_FLOAT, "tick_s": TICK_S, "sounds": sounds});
        let text = serde_json::to_string_pretty(&table).expect("JSON") + "\n";
        let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../web/src/clock/sounds.json");
        if std::env::var_os("BLESS").is_some() {
            std::fs::write(path, &text).expect("the table can be written");
        }
        let committed = std::fs::read_to_string(path).expect("the screens' table of sounds");
        assert_eq!(committed, text, "run BLESS=1 cargo test -p voyage");
    }

    #[test]
    fn verif_no_sound_can_be_taken_for_an_alarm() {
        for sound in Sound::ALL {
            // Over long before the shortest pulse train of an alarm has been heard twice.
            assert!(sound.lasts_ms() <= 300, "{sound:?}");
            assert!(sound.notes().len() <= 3);
            for (note, next) in sound.notes().iter().zip(sound.notes().iter().skip(1)) {
                assert!(note.after_ms + note.length_ms < next.after_ms, "{sound:?}: notes stand apart");
            }
            for note in sound.notes() {
                assert!((60..=90).contains(&note.length_ms) && (200..=5_000).contains(&note.frequency_hz), "{sound:?}");
            }
        }
        for (index, one) in Sound::ALL.iter().enumerate() {
            for other in &Sound::ALL[index + 1..] {
                assert_ne!(one.notes(), other.notes(), "{one:?} and {other:?}");
            }
        }
    }
}

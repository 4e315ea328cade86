//! Corrections: `amended` and `voided`, applied in ship order, each changing only the fields it names.

use std::borrow::Cow;
use std::collections::BTreeMap;

use quantity::UtcInstant;

use super::Logged;
use crate::doubt::Doubt;
use crate::envelope::Envelope;
use crate::kind::{Data, Kind};

/// An event after corrections, not yet placed in time.
pub(crate) struct Corrected<'a> {
    pub ship_seq: i64,
    pub envelope: &'a Envelope,
    pub data: Cow<'a, Data>,
    /// A corrected time of happening, with the index of the correction whose clock it is by.
    pub happened_at: Option<(UtcInstant, usize)>,
    /// The correction whose clock the times in `data` are by.
    pub data_by: Option<usize>,
    pub set: Option<String>,
    pub haul: Option<String>,
    pub voided: bool,
}

/// All events with what their corrections made of them; corrections themselves stay in the list (they carry
/// clocks), voided events are marked.
pub(crate) fn apply<'a>(events: &[&'a Logged], doubts: &mut Vec<Doubt>) -> Vec<Corrected<'a>> {
    let mut all: Vec<Corrected<'a>> = events
        .iter()
        .map(|logged| Corrected {
            ship_seq: logged.ship_seq,
            envelope: &logged.event.envelope,
            data: Cow::Borrowed(&logged.event.data),
            happened_at: None,
            data_by: None,
            set: None,
            haul: None,
            voided: false,
        })
        .collect();
    let corrections: Vec<(usize, &str)> = events
        .iter()
        .enumerate()
        .filter_map(|(index, logged)| match &logged.event.data {
            Data::Amended(amended) => Some((index, amended.target.as_deref().unwrap_or(""))),
            Data::Voided(voided) => Some((index, voided.target.as_deref().unwrap_or(""))),
            _ => None,
        })
        .collect();
    if corrections.is_empty() {
        return all;
    }
    let mut targets: BTreeMap<&str, Option<usize>> = corrections.iter().map(|(_, target)| (*target, None)).collect();
    for (index, logged) in events.iter().enumerate() {
        if let Some(found) = targets.get_mut(logged.event.envelope.id.as_str()) {
            *found = Some(index);
        }
    }
    let mut correctors: BTreeMap<usize, Vec<&str>> = BTreeMap::new();
    for (index, target) in corrections {
        let correction = &events[index].event;
        let Some(Some(at)) = targets.get(target).copied() else {
            doubts.push(Doubt::new(
                "correction_waits",
                &correction.envelope.id,
                format!("A correction names event \"{target}\", which has not come yet. It is kept and waits for it."),
            ));
            continue;
        };
        if matches!(events[at].event.envelope.kind, Kind::Amended | Kind::Voided) {
            doubts.push(Doubt::new(
                "correction_of_correction",
                &correction.envelope.id,
                "A correction names another correction. It is kept and changes nothing: correct the event itself.",
            ));
            continue;
        }
        let devices = correctors.entry(at).or_default();
        if !devices.contains(&correction.envelope.device.as_str()) {
            devices.push(&correction.envelope.device);
        }
        match &correction.data {
            Data::Voided(_) => all[at].voided = true,
            Data::Amended(amended) => {
                all[at].voided = false;
                if let Some(data) = &amended.data {
                    let text = serde_json::to_string(data).unwrap_or_default();
                    match Data::decode(events[at].event.envelope.kind, &text) {
                        Ok(data) => {
                            all[at].data = Cow::Owned(data);
                            all[at].data_by = Some(index);
                        }
                        Err(error) => doubts.push(Doubt::new("correction_unreadable", &correction.envelope.id, format!(
                            "A correction's data does not fit the event it corrects ({error}). The event stands as it was."
                        ))),
                    }
                }
                if let Some(at_text) = &amended.happened_at {
                    match at_text.at() {
                        Some(happened_at) => all[at].happened_at = Some((happened_at, index)),
                        None => doubts.push(Doubt::new(
                            "time_unreadable",
                            &correction.envelope.id,
                            "A correction's time cannot be read. The event keeps its time.",
                        )),
                    }
                }
                if let Some(set) = &amended.set {
                    all[at].set = Some(set.clone());
                }
                if let Some(haul) = &amended.haul {
                    all[at].haul = Some(haul.clone());
                }
            }
            _ => {}
        }
    }
    for (at, devices) in correctors {
        if devices.len() > 1 {
            doubts.push(Doubt::new(
                "corrected_twice",
                &events[at].event.envelope.id,
                format!(
                    "The devices {} both corrected this {}. The later one in the journal stands.",
                    devices.join(" and "),
                    events[at].event.envelope.kind.name()
                ),
            ));
        }
    }
    all
}

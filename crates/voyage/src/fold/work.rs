//! Who worked when: `work_started` and `work_ended` of each person.

use std::collections::BTreeMap;

use super::Fact;
use super::belong::Belonging;
use crate::kind::{Data, Kind};
use crate::state::WorkSpan;

/// The stretches of work of a voyage, in order of person and time. A second start while at work changes nothing; an end
/// without a start is left out; work that nobody ended has no end.
pub(crate) fn work(index: usize, belonging: &Belonging, facts: &[Fact<'_>]) -> Vec<WorkSpan> {
    let mut names: BTreeMap<&str, (i64, &str)> = BTreeMap::new();
    let mut spans: BTreeMap<&str, Vec<WorkSpan>> = BTreeMap::new();
    for fact in facts.iter().filter(|fact| belonging.voyage_at(fact.t) == index) {
        match fact.data.as_ref() {
            Data::PersonAdded(data) => {
                if let (Some(person), Some(name)) = (&data.person, &data.name) {
                    let held = names.entry(person).or_insert((fact.ship_seq, name));
                    if fact.ship_seq >= held.0 {
                        *held = (fact.ship_seq, name);
                    }
                }
            }
            Data::WorkStarted(data) | Data::WorkEnded(data) => {
                let Some(person) = data.person.as_deref() else { continue };
                let of_person = spans.entry(person).or_default();
                let open = of_person.last_mut().filter(|span| span.to.is_none());
                match (fact.kind(), open) {
                    (Kind::WorkStarted, None) => of_person.push(WorkSpan {
                        person: person.to_owned(),
                        name: None,
                        what: data.what.clone(),
                        from: fact.t,
                        to: None,
                    }),
                    (Kind::WorkEnded, Some(open)) => open.to = Some(fact.t),
                    _ => {}
                }
            }
            _ => {}
        }
    }
    let mut all: Vec<WorkSpan> = spans.into_values().flatten().collect();
    for span in &mut all {
        span.name = names.get(span.person.as_str()).map(|(_, name)| (*name).to_owned());
    }
    all
}

//! Any order of arrival, with repeats: the same events are kept, and the chain verifies.
#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test that cannot go on must fail")]

mod support;

use std::collections::BTreeSet;

use journal::{Answer, Journal};
use proptest::prelude::*;
use support::{body, exported, incoming};

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn verif_every_order_of_arrival_keeps_the_same_events(
        arrivals in prop::collection::vec((0_usize..3, 1_u64..25, 1_usize..6), 1..80),
    ) {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("journal.db");
        let journal = Journal::open(&path).unwrap();
        let mut expected = BTreeSet::new();
        let mut next = 1;
        let mut at = 0;
        while at < arrivals.len() {
            let size = arrivals[at].2.min(arrivals.len() - at);
            let batch = &arrivals[at..at + size];
            let sent = batch.iter().map(|(device, seq, _)| incoming(body(["rail", "stern", "table"][*device], *seq), *seq));
            let answers = journal.append(sent.collect()).unwrap();
            for ((device, seq, _), answer) in batch.iter().zip(answers) {
                if expected.insert((*device, *seq)) {
                    prop_assert_eq!(answer, Answer::Kept { ship_seq: next });
                    next += 1;
                } else {
                    let known = matches!(answer, Answer::Known { .. });
                    prop_assert!(known);
                }
            }
            at += size;
        }
        drop(journal);
        let reader = Journal::open_read_only(&path).unwrap();
        let verdict = reader.verify(&[]).unwrap();
        prop_assert!(verdict.ok, "{:?}", verdict.faults);
        prop_assert_eq!(verdict.rows, expected.len() as u64);
        let copy = folder.path().join("copy.db");
        journal::import(&copy, exported(&path).as_bytes()).unwrap();
        prop_assert_eq!(reader.head().unwrap(), Journal::open_read_only(&copy).unwrap().head().unwrap());
    }
}

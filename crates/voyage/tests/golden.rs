//! Every kind and version ever written is still read: one sample a kind, never edited, only added to.
#![allow(
    clippy::unwrap_used,
    clippy::cast_precision_loss,
    clippy::disallowed_methods,
    reason = "a test reads files; one that cannot go on should fail loudly"
)]

use std::path::PathBuf;

use voyage::{Kind, Refusal, read_event};

fn folder() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/data/golden/v1")
}

#[test]
fn regress_every_kind_has_a_golden_sample_that_decodes() {
    for kind in Kind::ALL {
        let path = folder().join(format!("{}.json", kind.name()));
        let bytes = std::fs::read(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()));
        let event = read_event(&bytes).unwrap_or_else(|refusal| panic!("{}: {refusal}", path.display()));
        assert_eq!(event.envelope.kind, *kind);
        assert_eq!(event.envelope.version, 1);
    }
}

#[test]
fn verif_only_unreadable_events_are_refused() {
    let event = |change: &dyn Fn(&mut serde_json::Value)| {
        let mut event: serde_json::Value =
            serde_json::from_slice(&std::fs::read(folder().join("landed.json")).unwrap()).unwrap();
        change(&mut event);
        read_event(event.to_string().as_bytes())
    };
    assert!(event(&|_| {}).is_ok());
    assert!(event(&|e| e["data"]["species"] = "no such fish".into()).is_ok(), "an unknown code is a doubt");
    assert!(event(&|e| e["data"]["count_since_float"] = serde_json::json!(2.5)).is_ok(), "half a hook is a doubt");
    assert!(event(&|e| e["data"]["news"] = 1.into()).is_ok(), "an unknown field is kept and ignored");
    assert!(event(&|e| e["happened_at"] = "2099-01-01T00:00:00Z".into()).is_ok(), "the future is a doubt");
    assert!(matches!(event(&|e| e["data"]["species"] = 7.into()), Err(Refusal::Data { .. })));
    assert!(matches!(event(&|e| e["data"] = serde_json::json!(["BET"])), Err(Refusal::Data { .. })));
    assert!(matches!(read_event(b"[]"), Err(Refusal::Envelope { .. })));
    assert!(matches!(event(&|e| e["kind"] = "sung".into()), Err(Refusal::UnknownKind { .. })));
    assert!(matches!(event(&|e| e["version"] = 2.into()), Err(Refusal::UnknownVersion { .. })));
    assert!(matches!(event(&|e| e["device_seq"] = (-1).into()), Err(Refusal::Envelope { .. })));
    assert!(matches!(event(&|e| e["data"]["condition"] = "x".repeat(70_000).into()), Err(Refusal::TooLarge { .. })));
    let refusal = event(&|e| e["happened_at"] = "noon".into()).unwrap_err();
    assert!(refusal.id().is_some(), "the answer names its id");
}

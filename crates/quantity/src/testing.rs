//! The one comparison helper that every test of the house uses.

/// Two-sided comparison that refuses NaN and names what was compared.
///
/// # Panics
/// When `ours` and `theirs` differ by more than `tolerance`, or one of them is not a number.
#[track_caller]
pub fn assert_within(what: &str, ours: f64, theirs: f64, tolerance: f64) {
    let difference = (ours - theirs).abs();
    assert!(difference <= tolerance, "{what}: ours {ours}, source {theirs}, off by {difference}, allowed {tolerance}");
}

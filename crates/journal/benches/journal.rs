//! Benchmarks of the journal.
fn main() {}

//! One runner for everything a developer or CI does.
fn main() {}

//! Event kinds and the fold: what the events of a voyage add up to

//! Joins a voyage to its gear: the depth of every hook.

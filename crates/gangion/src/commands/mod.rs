//! One file a command: arguments, and what is done with them.

pub mod demo;

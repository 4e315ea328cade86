//! One file a command: arguments, and what is done with them.

pub mod demo;
pub mod decode;
pub mod track;
pub mod depth;
pub mod geodesic;
pub mod journal;
pub mod setting;
pub mod sky;
pub mod replay;
pub mod report;
pub mod hooks;

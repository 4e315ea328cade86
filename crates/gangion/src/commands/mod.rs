//! One file a command: arguments, and what is done with them.

pub mod advise;
pub mod ahead;
pub mod buoys;
pub mod calibrate;
pub mod decode;
pub mod demo;
pub mod depth;
pub mod ends;
pub mod geodesic;
pub mod hooks;
pub mod journal;
pub mod plan;
pub mod replay;
pub mod report;
pub mod rest;
pub mod serve;
pub mod setting;
pub mod settle;
pub mod sky;
pub mod soak;
pub mod track;

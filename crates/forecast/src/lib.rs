//! Joins a voyage to its gear: the depth of every hook, set or planned.
//!
//! Start with [`depths`]: one [`HookDepth`] for every position of a set, in its own order. [`plan::plan`] is the same before
//! the set goes out, [`ahead::ahead`] while it does, [`zones`] how near it comes to zones that were loaded.

pub mod ahead;
mod current;
mod depth;
pub mod ends;
pub mod plan;
pub mod to_come;
pub mod zones;

pub use depth::{
    DepthRow, HookDepth, HungBasket, HungShape, SAG_RATIO_ERROR, depths, hang, hang_on, hook_depth_rows, model_words,
    shape,
};
pub use to_come::{RestsOn, ToCome, to_come};

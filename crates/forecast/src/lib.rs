//! Joins a voyage to its gear: the depth of every hook, set or planned.
//!
//! Start with [`depths`]: one [`HookDepth`] for every position of a set, in its own order. [`plan::plan`] is the same before
//! the set goes out, [`zones`] how near it comes to zones that were loaded.

mod current;
mod depth;
pub mod plan;
pub mod to_come;
pub mod ends;
pub mod zones;

pub use depth::{
    DepthRow, HookDepth, HungBasket, HungShape, SAG_RATIO_ERROR, depths, hang, hook_depth_rows, model_words, shape,
};
pub use to_come::{RestsOn, ToCome, to_come};

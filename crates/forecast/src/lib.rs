//! Joins a voyage to its gear: the depth of every hook.
//!
//! Start with [`depths`]: one [`HookDepth`] for every position of a set, in the set's own order.

mod current;
mod depth;
pub mod to_come;
pub mod zones;

pub use depth::{
    DepthRow, HookDepth, HungBasket, HungShape, SAG_RATIO_ERROR, depths, hang, hook_depth_rows, model_words, shape,
};
pub use to_come::{RestsOn, ToCome, to_come};

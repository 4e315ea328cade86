//! The gear in the water: setting arithmetic and the depth of hooks.
//!
//! Pure. `setting` is the arithmetic of the line setter; `catenary` is where a basket hangs in still water.

pub mod catenary;
pub mod error;
pub mod setting;

pub use catenary::{Basket, Hanging, HookPlace, hook_depths, main_line_shape};
pub use error::GearError;
pub use setting::{Setting, SettingInput, work_out};

//! The gear in the water: setting arithmetic and the depth of hooks.
//!
//! Pure. `setting` is the arithmetic of the line setter; `catenary` is where a basket hangs in still water; `parts` and
//! `current` say what hangs in which sea.

pub mod catenary;
pub mod current;
pub mod error;
pub mod parts;
pub mod setting;
pub mod vector;

pub use catenary::{Basket, Hanging, HookPlace, hook_depths, main_line_shape};
pub use error::GearError;
pub use setting::{Setting, SettingInput, work_out};

//!

pub mod catenary;
pub mod error;

pub use catenary::{Basket, Hanging, HookPlace, hook_depths, main_line_shape};
pub use error::GearError;

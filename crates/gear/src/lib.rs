//! The gear in the water: setting arithmetic and the depth of hooks.
//!
//! Pure. Start with [`hang_basket`]: one basket in a moving sea. `setting` is the arithmetic of the line setter,
//! `catenary` is where a basket hangs in still water, `parts` and `current` say what hangs in which sea, `band` how sure
//! a depth is, `recorder` reads time–depth recorders and `learn` learns from them.

pub mod advise;
pub mod band;
pub mod catenary;
pub mod chain;
pub mod current;
pub mod doubt;
mod drift;
pub mod error;
mod float_line;
pub mod hang;
pub mod learn;
mod march;
pub mod parts;
pub mod recorder;
pub mod setting;
mod shape;
mod shoot;
pub mod sink;
pub mod soak;
pub mod vector;

pub use band::{Cause, InputErrors};
pub use catenary::{Basket, Hanging, HookPlace, hook_depths, hook_depths_with_band, main_line_shape};
pub use doubt::{GearDoubt, GearDoubtKind};
pub use error::GearError;
pub use hang::{Drift, EndsHeld, HangOptions, Hung, Node, Rig, Start, hang_basket, hang_basket_from, hang_with_bands};
pub use setting::{Setting, SettingInput, work_out};

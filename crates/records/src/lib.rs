//! Set reports: figures, drawings, CSV, GeoJSON and HTML.
//!
//! Start with [`report`] (the figures of a set) and [`page`] (the sheet a captain prints). Drawings are made in two
//! steps: [`strip`], [`section`] and [`chart`] work out plain numbers once, [`svg`] paints them on paper.

pub mod by_position;
pub mod chart;
pub mod figures;
pub mod gear_figure;
pub mod geo;
pub mod handling;
pub mod hooks;
pub mod page;
pub mod plan_page;
pub mod plan_strip;
pub mod screen_section;
pub mod screen_strip;
pub mod section;
pub mod sheet;
pub mod species;
pub mod strip;
pub mod svg;
pub mod table;
pub mod words;

pub use by_position::ByPosition;
pub use figures::{Report, report};
pub use geo::geojson;
pub use hooks::{HookRow, hook_rows};
pub use page::{Basis, page};
pub use plan_page::plan_page;
pub use plan_strip::planned_strip;
pub use screen_section::{ScreenSection, screen_section};
pub use screen_strip::{ScreenStrip, screen_strip};
pub use table::{TableError, hooks_csv, summary_csv};

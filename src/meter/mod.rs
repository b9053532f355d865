//! What a meter would show: each reading its own solve with only its own meter fitted.

mod display;
mod show;
mod target;
mod words;

pub use display::{displayed, last_digit};
pub(crate) use show::furthest_ohms;
pub use show::{Scene, Shown, show};
pub use target::{Scale, Target, lit_above};
pub use words::{diode_volts, observed, unit_of};

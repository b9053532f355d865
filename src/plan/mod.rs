//! What to measure next: the reading at which the remaining candidates differ most.

mod effort;
mod gain;
mod inseparable;
mod measurements;
mod propose;
mod suspects;
mod table;

pub use effort::Effort;
pub use gain::{Part, Shows, information};
pub use inseparable::mark_inseparable;
pub use measurements::{Measurement, is_live, measurements};
pub use propose::{Expected, Outcome, Planner, Proposal, next, standing_in, where_to_measure};
pub use suspects::{Suspect, suspects};
pub use table::{Seen, Table};

//! What to measure next: the reading at which the remaining candidates differ most.

mod inseparable;
mod propose;

pub use inseparable::mark_inseparable;
pub use propose::{Effort, Outcome, Proposal, next};

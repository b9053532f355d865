//! What to measure next: the reading at which the remaining candidates differ most.

mod propose;

pub use propose::{Effort, Outcome, Proposal, next};

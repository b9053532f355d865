//! Which faults reproduce the readings, and how likely each is.
//!
//! ```text
//! readings ─▶ Case (targets, setups)          what has to be explained
//! faults ───▶ trace (one line per hypothesis)  predictions with covariance along the value
//!          ─▶ verdict, evidence                consistency excludes, evidence ranks
//!          ─▶ Diagnosis                        candidates, groups, chains
//! ```

mod around;
mod candidate;
mod case;
mod chain;
mod fit;
mod groups;
mod other;
mod screen;
mod strain;
mod trace;

pub use candidate::{Candidate, Diagnosis, ReadingLine, RuledOut, Verdict, diagnose};
pub use case::{Case, Prediction};
pub use fit::{Fit, chi_square, chi_square_99};
pub use trace::{CauseShare, Node, Trace};

//! Which faults reproduce the readings, and how likely each is.
//!
//! ```text
//! readings ─▶ Case (targets, setups)          what has to be explained
//! faults ───▶ trace (one line per hypothesis)  predictions with covariance along the value
//!          ─▶ verdict, evidence                consistency excludes, evidence ranks
//!          ─▶ Diagnosis                        candidates, groups, chains
//! nothing fits ─▶ without, pairs               a slip in one reading, two faults
//! ```

mod around;
mod bounded;
mod candidate;
mod case;
mod chain;
mod cold;
mod diagnose;
mod earlier;
mod fit;
mod good;
mod groups;
mod misread;
mod other;
mod pairs;
mod predictor;
mod remarks;
mod screen;
mod split;
mod strain;
mod trace;
mod tried;
mod value;
mod without;

pub use candidate::{Candidate, RuledOut, Verdict};
pub use case::{Case, Prediction};
pub(crate) use chain::{NO_MOVE, chain};
pub use diagnose::{Diagnosis, Job, MARKED, Pairs, ReadingLine, diagnose, diagnose_job};
pub use earlier::Earlier;
pub use fit::{Fit, chi_square, chi_square_99};
pub use groups::{components, squared_difference};
pub use pairs::Pair;
pub use predictor::{Foreseen, Predictor, Probe};
pub use remarks::Remark;
pub use split::Flipped;
pub use trace::{Node, Trace};
pub use value::{CauseShare, Stretch};
pub use without::{LooksLike, Without};

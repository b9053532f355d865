//! The engine: from a circuit, a setup and an overlay to an operating point that carries its own
//! proof.
//!
//! ```text
//! Circuit ── Assembly::new ──▶ Assembly     branches of every setup, compiled once
//!   Overlay ── network() ───▶ Network      the same branches with a fault, and with a meter
//!              solve() ─────▶ Run          how it ended, and the operating point
//! ```
//!
//! Modified nodal analysis (C.-W. Ho, A. Ruehli, P. Brennan, "The modified nodal approach to
//! network analysis", IEEE Trans. Circuits and Systems 22, 1975): the unknowns are the voltages of
//! all nets but ground and the currents of branches whose voltage is given. They are solved for in
//! the voltages along a tree of the strongest branches, which lose nothing however far apart the
//! resistances are.

mod assembly;
mod cholesky;
mod equations;
mod factor;
mod feedback;
mod held;
mod matrix;
mod network;
mod newton;
mod patch;
mod point;
mod port;
mod reduced;
mod sensitivity;
mod several;
mod small;
mod sparse;
mod strategy;
mod structure;
mod system;
mod tree;
mod walk;

pub use assembly::Assembly;
pub use factor::Factor;
pub use held::{HELD_STEPS, Margin};
pub use network::{Element, Network, Origin};
pub use patch::Patch;
pub use point::{Ending, OperatingPoint, Run, Settings, Strategy};
pub use port::{
    BestPairs, Fitted, Line, PairScore, Port, PortTable, PortView, Refusal, Scores, Shunt, Site,
};
pub use reduced::{Active, Adjoint, Changes, From, Reduced, Small, Standing};
pub use sensitivity::{Sensitivities, Slope, Source};
pub use several::{AllPoints, Several};
pub use structure::{Trouble, examine};
pub use walk::{Cycle, PowerUp, Stands, Step, Watch, patterns, patterns_near};

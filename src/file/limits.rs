//! How much is read, and why not more.

/// The most bytes of one file: 8 MiB.
///
/// A circuit typed from a schematic takes some kilobytes. What is a thousand times larger is some
/// other file, and reading on would only cost memory.
pub const MOST_BYTES: usize = 8 << 20;

/// The most parts of a circuit.
///
/// Every part is some ten faults and every fault a solve, so that a larger board could be read but
/// not diagnosed while somebody waits.
pub const MOST_PARTS: usize = 5_000;

/// The most parts of a circuit that is diagnosed. What each of some ten faults a part predicts is kept
/// with its derivative by every part: 0.6 GB at a thousand parts, and four times that at two thousand.
pub const MOST_DIAGNOSED: usize = 1_500;

/// The most nets of a circuit; every net is an unknown of each solve.
pub const MOST_NETS: usize = 5_000;

/// The most readings of a job. The covariance of the readings is a square table of this size.
pub const MOST_READINGS: usize = 5_000;

/// The most setups of a circuit: each of them is solved for every fault.
pub(super) const MOST_SETUPS: usize = 100;

/// The most things clipped onto the board in one setup; a bench has few leads.
pub(super) const MOST_CONNECTIONS: usize = 20;

/// The most shelf files of a circuit.
pub(super) const MOST_SHELF: usize = 20;

/// The most findings of one input. Nobody reads more, and each costs an excerpt.
pub(super) const MOST_FINDINGS: usize = 100;

/// The most characters of a name, so that it fits into a line of a report.
pub const MOST_NAME: usize = 100;

/// The most characters of a foreign text that a message repeats.
pub(super) const MOST_SHOWN: usize = 60;

/// The most findings that come with a suggestion, as each costs a comparison with every name.
pub(super) const MOST_SUGGESTED: usize = 200;

/// The resistances that may be clipped onto a board, in ohms: those that the engine's arithmetic
/// is good for.
pub(super) const OHMS: std::ops::RangeInclusive<f64> = 1e-6..=1e12;

/// The temperatures that the laws of the kinds are meant for, in degrees Celsius. Common
/// practice, no published source: parts of silicon are sold for −55 to 175 °C, and the laws are
/// carried on a little to both sides.
pub(super) const CELSIUS: std::ops::RangeInclusive<f64> = -100.0..=250.0;

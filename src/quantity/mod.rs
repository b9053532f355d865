//! Values with units, preferred series, markings: pure functions.
//!
//! Text goes in, numbers in the unit itself come out (volts, amps, ohms ...), and the other way
//! round. `m` is milli and `M` is mega everywhere, and what can be read in two ways is an error
//! that says how to write it instead.
//!
//! ```
//! use ohmhound::quantity::{Unit, parse_number, print_short};
//!
//! let number = parse_number("4k7", Unit::Ohm)?;
//! assert_eq!(number.value, 4700.0);
//! assert_eq!(number.count, 100.0);
//! assert_eq!(print_short(number.value, Unit::Ohm), "4.7 kΩ");
//! # Ok::<(), ohmhound::quantity::ValueError>(())
//! ```

mod error;
mod parse;
mod toleranced;
mod unit;

pub use error::ValueError;
pub use parse::{Number, parse_number};
pub use toleranced::{
    Point, Spread, Tolerance, Toleranced, parse_joined, parse_point, parse_tolerance,
    parse_toleranced,
};
pub use unit::Unit;

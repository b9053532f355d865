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

mod designator;
mod error;
mod letter_code;
mod marking;
mod parse;
mod parse_toleranced;
mod prefix_slip;
mod print;
mod reading;
mod series;
mod shown;
mod slip;
mod toleranced;
mod unit;

pub use designator::{CLASSES, Class, class_letters};
pub use error::ValueError;
pub use letter_code::letter_code;
pub use marking::{Likelihood, MarkedTolerance, Marking, Rule, readings_of};
pub use parse::{Number, parse_number};
pub use parse_toleranced::{parse_joined, parse_point, parse_tolerance, parse_toleranced};
pub use prefix_slip::{PrefixSlip, prefix_slip};
pub use print::{in_words, print, print_count, print_exact, print_short};
pub use reading::{ReadingValue, parse_reading};
pub use series::Series;
pub use shown::{shown, with_band};
pub use slip::{Slip, SlipKind, is_usual, slips};
pub use toleranced::{Point, Spread, Tolerance, Toleranced};
pub use unit::Unit;

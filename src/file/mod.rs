//! TOML and CSV to the model, checked against the kinds' tables: the only untrusted input.
//!
//! A reader collects every complaint of a file, each with its exact place, instead of stopping at
//! the first. A value is there only when no finding is an error; warnings may come with a value.
//!
//! ```
//! use ohmhound::file::read_circuit;
//! use ohmhound::finding::Source;
//!
//! let text = r#"
//! [parts]
//! BT1 = { volts = 9, nets = ["VBAT", "GND"] }
//! R1 = { value = "4k7", nets = ["VBAT", "GND"] }
//! "#;
//! let source = Source::new("one-resistor.toml", text);
//! let read = read_circuit(&source, &mut |_| Err("no shelf here".to_owned()));
//! let circuit = read.value.ok_or("the circuit is in order")?;
//! assert_eq!(circuit.parts[1].nominal("value"), Some(4700.0));
//! # Ok::<(), &str>(())
//! ```

mod argument;
mod board;
mod chip;
mod circuit;
mod csv;
mod job;
mod keys;
mod limits;
mod load;
mod log;
mod lookup;
mod maximum;
mod meter;
mod names;
mod observed;
mod params;
mod parts;
mod pins;
mod place;
mod readings;
mod replace;
mod schema;
mod setups;
mod shelf;
mod stock;
mod substitute;
mod syntax;
mod take;
mod tree;
mod written;

use std::sync::Arc;

pub use argument::{
    place_answer, place_argument, range_argument, reading_answer, reading_argument,
};
pub use circuit::read_circuit;
pub use csv::read_readings_csv;
pub use limits::{MOST_BYTES, MOST_DIAGNOSED, MOST_NAME, MOST_NETS, MOST_PARTS, MOST_READINGS};
pub use load::{circuit_from, load_circuit, load_readings, load_source, readings_from, shown_path};
pub use log::{Entry, Log};
pub use readings::{is_circuit, lift_setups, read_readings, readings_circuit};
pub use replace::{replace_file, write_new_file};
pub use schema::{InputSchema, SCHEMAS};
pub use stock::{Wanted, load_stock, read_stock, read_stock_csv};
pub use substitute::{Named, parameter_argument, substitute_argument};

use crate::finding::{Code, Finding, Source};
use limits::MOST_FINDINGS;

/// What came of reading one input.
#[derive(Debug, Clone)]
pub struct Parsed<T> {
    /// The value; absent when any finding is an error.
    pub value: Option<T>,
    /// Everything there is to say, in the order of the text.
    pub findings: Vec<Finding>,
}

impl<T> Parsed<T> {
    /// Sorts the findings into the order of the text, says each of them once, and lets the value
    /// through when none of them is an error. Findings in `main` come before those elsewhere.
    fn new(value: Option<T>, mut findings: Vec<Finding>, main: &Arc<Source>) -> Parsed<T> {
        findings.sort_by_cached_key(|finding| {
            finding.labels.first().map(|label| {
                let elsewhere = !Arc::ptr_eq(&label.source, main);
                (elsewhere, label.source.name.clone(), label.range.start, finding.message.clone())
            })
        });
        findings.dedup();
        let value = value.filter(|_| !findings.iter().any(Finding::is_error));
        cap(&mut findings);
        Parsed { value, findings }
    }

    /// Nothing was read, for one reason.
    fn refused(finding: Finding) -> Parsed<T> {
        Parsed { value: None, findings: vec![finding] }
    }
}

/// Cuts a flood of findings, and says so. An error always stays, as the flood may be of warnings.
fn cap(findings: &mut Vec<Finding>) {
    if findings.len() <= MOST_FINDINGS {
        return;
    }
    let more = findings.split_off(MOST_FINDINGS);
    let mut left = more.len();
    if !findings.iter().any(Finding::is_error)
        && let Some(error) = more.into_iter().find(Finding::is_error)
    {
        findings.push(error);
        left -= 1;
    }
    findings.push(Finding::note(Code::TooLarge, format!("{left} more findings are not shown")));
}

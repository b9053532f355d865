//! The voltage ladder: a circuit drawn from its volts alone.
//!
//! Nets are horizontal lines in the order of their healthy volts, the highest on top; parts stand
//! upright between them, each in a column of its own. Nothing is laid out by hand: the order of the
//! columns, of nets that are level, and the places of names are searches with an objective that
//! `arrange`, `panel` and `place` state.
//!
//! ```text
//! circuit ─ figure (symbols, boxes, words) ─ panel (cut, order) ─ place (pixels) ─ draw (SVG)
//! operating point ─ levels (height of nets), values (what stands at the right of a line)
//! faults ─ fault_marks (on parts, paths between nets)
//! ```

mod arrange;
mod chip;
mod column;
mod draw;
mod fault_marks;
mod figure;
mod item;
mod label;
mod levels;
mod panel;
mod place;
mod sheet;
mod style;
mod symbol;
mod text;
mod values;
mod words;

use crate::circuit::{Circuit, POWERED, Reading, SetupId};
use crate::diagnosis::{Diagnosis, ReadingLine};
use crate::fault::Fault;
use crate::study::Operating;

/// The width of a picture, in pixels, unless another is asked for: an A4 page at which text is
/// still read.
const WIDTH: f64 = 1000.0;
/// The least width that can be asked for.
const LEAST_WIDTH: f64 = 480.0;

/// A voltage ladder.
///
/// ```
/// use ohmhound::circuit::{Overlay, POWERED};
/// use ohmhound::engine::Assembly;
/// use ohmhound::file::read_circuit;
/// use ohmhound::finding::Source;
/// use ohmhound::picture::Ladder;
/// use ohmhound::study::operating;
///
/// let text = "[parts]\nJ1 = { kind = \"supply\", volts = 10, nets = [\"IN\", \"GND\"] }\n\
///             R1 = { value = \"1k\", nets = [\"IN\", \"OUT\"] }\n\
///             R2 = { value = \"1k\", nets = [\"OUT\", \"GND\"] }";
/// let circuit = read_circuit(&Source::new("c.toml", text), &mut |_| Err(String::new()));
/// let circuit = circuit.value.ok_or("the circuit is in order")?;
/// let point = operating(&Assembly::new(&circuit), POWERED, &Overlay::none());
/// let point = point.map_err(|_| "an operating point")?;
/// let svg = Ladder::new(&circuit, &point).titled("A divider").svg();
/// assert!(svg.starts_with("<svg ") && svg.contains("OUT"));
/// # Ok::<(), &str>(())
/// ```
#[derive(Debug, Clone)]
pub struct Ladder<'a> {
    circuit: &'a Circuit,
    point: Option<&'a Operating>,
    setup: SetupId,
    readings: Vec<(&'a Reading, &'a ReadingLine)>,
    faults: Vec<Fault>,
    faulted: Option<&'a Operating>,
    has_links: bool,
    is_blank: bool,
    title: String,
    width: f64,
}

impl<'a> Ladder<'a> {
    /// The ladder of a circuit with its healthy operating point, or `None` where it has none: then
    /// nets stand in an estimated order, and the picture says so.
    pub fn new(circuit: &'a Circuit, point: impl Into<Option<&'a Operating>>) -> Ladder<'a> {
        Ladder {
            circuit,
            point: point.into(),
            setup: POWERED,
            readings: Vec::new(),
            faults: Vec::new(),
            faulted: None,
            has_links: false,
            is_blank: false,
            title: circuit.title.clone(),
            width: WIDTH,
        }
    }

    /// The setup of the operating point, where it is not [`POWERED`]: readings of that setup are
    /// drawn.
    #[must_use]
    pub fn in_setup(self, setup: SetupId) -> Self {
        Ladder { setup, ..self }
    }

    /// Puts measured volts beside the lines of their nets. Which of them are off comes from the
    /// diagnosis of these readings; what is no voltage of a net is counted below the picture.
    #[must_use]
    pub fn with_readings(self, readings: &'a [Reading], diagnosis: &'a Diagnosis) -> Self {
        Ladder { readings: readings.iter().zip(&diagnosis.readings).collect(), ..self }
    }

    /// Marks faults where they are, and writes beside each line what the net reads with all of them
    /// laid over; `None` for a board that has no operating point then.
    #[must_use]
    pub fn with_faults(self, faults: &[Fault], faulted: Option<&'a Operating>) -> Self {
        Ladder { faults: faults.to_vec(), faulted, ..self }
    }

    /// Makes the name of every net a link to `#net-NAME` of the page that the picture stands in.
    #[must_use]
    pub fn with_links(self) -> Self {
        Ladder { has_links: true, ..self }
    }

    /// Leaves the volts out, for a class to fill in: blanks stand at the lines.
    #[must_use]
    pub fn without_volts(self) -> Self {
        Ladder { is_blank: true, ..self }
    }

    /// Sets the title; without it the title of the circuit.
    #[must_use]
    pub fn titled(self, title: &str) -> Self {
        Ladder { title: title.to_owned(), ..self }
    }

    /// Sets the width that panels are fitted into, in pixels: 1000 unless asked for, 480 at least.
    #[must_use]
    pub fn wide(self, width: f64) -> Self {
        Ladder { width: if width.is_finite() { width.max(LEAST_WIDTH) } else { WIDTH }, ..self }
    }

    /// The picture, as one SVG element that stands for itself or in a page.
    #[must_use]
    pub fn svg(&self) -> String {
        sheet::whole(self)
    }

    /// The panels as pictures of their own, one after the other: a page that is printed is never
    /// broken inside a picture. The titles stand over the first, the notes below the last.
    #[must_use]
    pub fn svgs(&self) -> Vec<String> {
        sheet::pieces(self)
    }
}

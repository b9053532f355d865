//! What each part is on the ladder: one symbol or several, or a box; with its pins and its words.

use super::fault_marks::Marks;
use super::label::value_words;
use super::symbol::Symbol;
use crate::circuit::{Circuit, NetId, Part, PartId};
use crate::device::of;

/// How a line of text beside a part is meant.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Ink {
    /// The name of a part.
    Name,
    /// A value, a kind.
    Value,
    /// A value that no longer holds.
    Struck,
    /// What is wrong.
    Fault,
}

/// A line of text beside a part.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Line {
    pub(super) ink: Ink,
    pub(super) text: String,
}

/// A symbol between two pins, upright; by the numbers of the pins.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Run {
    pub(super) symbol: Symbol,
    /// The pin that is on top in the symbol as it is drawn, and the one below.
    pub(super) ends: [usize; 2],
    /// A third pin, at the side.
    pub(super) side: Option<usize>,
}

/// How a part is drawn.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Form {
    /// Symbols side by side.
    Runs(Vec<Run>),
    /// A box with pins.
    Chip,
}

/// Whose figure it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Who {
    /// A part.
    Part(PartId),
    /// A path that a fault makes: a bridge, a leak.
    Path,
}

/// What stands in one column.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Figure {
    pub(super) who: Who,
    /// Its name; for a path the phrase of the fault.
    pub(super) name: String,
    pub(super) form: Form,
    /// The net of each pin.
    pub(super) nets: Vec<NetId>,
    /// The name of each pin.
    pub(super) pins: Vec<String>,
    /// What stands beside it, the first line its name.
    pub(super) lines: Vec<Line>,
    /// Whether it should not be on the board at all.
    pub(super) is_absent: bool,
    /// Whether it feeds the board.
    pub(super) is_source: bool,
    /// Pins that it drives.
    pub(super) outputs: Vec<usize>,
    /// Pins whose signal is turned round inside.
    pub(super) turned: Vec<usize>,
    pub(super) marks: Marks,
}

/// A fault's words beside a part are broken into lines of this width, in pixels.
pub(super) const FAULT_WIDTH: f64 = 96.0;

/// The figure of every part, in the order of the circuit.
pub(super) fn figures(circuit: &Circuit, marks: &[Marks]) -> Vec<Figure> {
    circuit.parts_by_id().map(|(id, part)| figure(id, part, &marks[id.index()])).collect()
}

fn figure(id: PartId, part: &Part, marks: &Marks) -> Figure {
    let line = |ink, text| Line { ink, text };
    let mut lines = vec![line(Ink::Name, part.name.clone())];
    for (at, text) in value_words(part).into_iter().enumerate() {
        let is_struck = at == 0 && marks.value_is_off;
        lines.push(line(if is_struck { Ink::Struck } else { Ink::Value }, text));
    }
    if !part.fitted {
        lines.push(line(Ink::Value, "not fitted".to_owned()));
    }
    for words in &marks.words {
        let broken = super::text::wrapped(words, super::style::SMALL, FAULT_WIDTH, 4);
        lines.extend(broken.into_iter().map(|text| line(Ink::Fault, text)));
    }
    let kind = of(part);
    let turned = match part.word("function") {
        Some("nand" | "nor" | "not") => part.pin("y").into_iter().collect(),
        _ => Vec::new(),
    };
    Figure {
        who: Who::Part(id),
        name: part.name.clone(),
        form: form(part),
        nets: nets_of(part, marks),
        pins: part.pins.iter().map(|pin| pin_word(part, &pin.name)).collect(),
        lines,
        is_absent: !part.fitted,
        is_source: kind.is_source(),
        outputs: kind.outputs().iter().filter_map(|name| part.pin(name)).collect(),
        turned,
        marks: marks.clone(),
    }
}

/// The net of each pin, as the part is fitted.
fn nets_of(part: &Part, marks: &Marks) -> Vec<NetId> {
    let nets = part.pins.iter().map(|pin| pin.net);
    match marks.is_reversed && part.is_two_pin() {
        true => nets.rev().collect(),
        false => nets.collect(),
    }
}

/// A pin as its box names it: signs for the inputs of amplifiers, as IEC 60617 has them.
fn pin_word(part: &Part, name: &str) -> String {
    match (part.kind, name) {
        ("opamp" | "comparator", "plus") => "+".to_owned(),
        ("opamp" | "comparator", "minus") => "–".to_owned(),
        _ => name.to_owned(),
    }
}

/// How a part is drawn, by its kind.
fn form(part: &Part) -> Form {
    let pin = |name: &str| part.pin(name).unwrap_or(0);
    let two = |symbol| Form::Runs(vec![Run { symbol, ends: [0, 1], side: None }]);
    let three = |symbol, top: &str, bottom: &str, side: &str| {
        Form::Runs(vec![Run { symbol, ends: [pin(top), pin(bottom)], side: part.pin(side) }])
    };
    match part.kind {
        "link" => two(Symbol::Link),
        "fuse" => two(Symbol::Fuse),
        "contact" => two(Symbol::Closed),
        "connector" => {
            let contacts = 0..part.pins.len() / 2;
            let run =
                |at| Run { symbol: Symbol::Connector, ends: [2 * at, 2 * at + 1], side: None };
            Form::Runs(contacts.map(run).collect())
        }
        "ferrite" => two(Symbol::Bead),
        "inductor" => two(Symbol::Inductor),
        "capacitor" if is_electrolytic(part) => two(Symbol::Polarised),
        "capacitor" => two(Symbol::Capacitor),
        "diode" => two(Symbol::Diode),
        "led" => two(Symbol::Led),
        "zener" => two(Symbol::Zener),
        "supply" => two(Symbol::Source),
        "battery" => two(Symbol::Battery),
        "current-source" => two(Symbol::Current),
        "load" => two(Symbol::Load),
        "switch" => two(if part.flag("closed") { Symbol::Closed } else { Symbol::Open }),
        "potentiometer" => three(Symbol::Potentiometer, "b", "a", "wiper"),
        "thermistor" | "platinum-sensor" => two(Symbol::Thermistor),
        "npn" => three(Symbol::Npn, "collector", "emitter", "base"),
        "pnp" => three(Symbol::Pnp, "collector", "emitter", "base"),
        "nmos" => three(Symbol::Nmos, "drain", "source", "gate"),
        "pmos" => three(Symbol::Pmos, "drain", "source", "gate"),
        "shunt-reference" => three(Symbol::Reference, "cathode", "anode", "adjust"),
        "relay" => {
            let run =
                |symbol, top, bottom| Run { symbol, ends: [pin(top), pin(bottom)], side: None };
            let mut runs = vec![run(Symbol::Coil, "coil_plus", "coil_minus")];
            runs.push(run(Symbol::Make, "common", "normally_open"));
            if part.pin("normally_closed").is_some() {
                runs.push(run(Symbol::Break, "common", "normally_closed"));
            }
            Form::Runs(runs)
        }
        "optocoupler" => {
            let run =
                |symbol, top, bottom| Run { symbol, ends: [pin(top), pin(bottom)], side: None };
            Form::Runs(vec![
                run(Symbol::Led, "anode", "cathode"),
                run(Symbol::PhotoTransistor, "collector", "emitter"),
            ])
        }
        _ if part.is_two_pin() => two(Symbol::Resistor),
        _ => Form::Chip,
    }
}

/// Farads from which a capacitor is taken to be polarised, its plus at pin 1: the file does not say
/// it. Common practice, no published source.
const ELECTROLYTIC: f64 = 22e-6;

fn is_electrolytic(part: &Part) -> bool {
    part.nominal("value").is_some_and(|farads| farads >= ELECTROLYTIC)
}

//! Where faults show on the ladder: marks on parts, paths between nets, and what is told in words.

use super::figure::{Figure, Form, Ink, Line, Run, Who};
use super::label::shown_parameter;
use super::symbol::Symbol;
use crate::circuit::{Circuit, NetId, PartId};
use crate::fault::{Fault, SHORT};

/// A path beside a part that a fault makes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Bypass {
    /// As good as a wire.
    Short,
    /// With a resistance.
    Leak,
}

/// What is wrong with one part.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Marks {
    /// The phrases of its faults.
    pub(super) words: Vec<String>,
    /// Whether it carries nothing any more.
    pub(super) is_open: bool,
    /// Whether its first value no longer holds.
    pub(super) value_is_off: bool,
    /// A path across it.
    pub(super) bypass: Option<Bypass>,
    /// Whether it is fitted the wrong way round.
    pub(super) is_reversed: bool,
    /// Pins whose joint is open or resistive.
    pub(super) joints: Vec<usize>,
}

impl Marks {
    /// Whether there is a fault in it at all.
    pub(super) fn any(&self) -> bool {
        !self.words.is_empty()
    }
}

/// A path between two nets that a fault makes.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Path {
    pub(super) nets: [NetId; 2],
    pub(super) is_short: bool,
    pub(super) words: String,
}

/// Everything that faults do to the picture.
#[derive(Debug, Clone, Default)]
pub(super) struct Shown {
    /// One per part.
    pub(super) marks: Vec<Marks>,
    pub(super) paths: Vec<Path>,
    /// What has no place on the board.
    pub(super) notes: Vec<String>,
}

/// Ohms up to which a path is drawn as a wire.
const WIRE: f64 = 1.0;

/// Lays faults out over the parts and nets of a circuit.
pub(super) fn shown(circuit: &Circuit, faults: &[Fault]) -> Shown {
    let mut shown =
        Shown { marks: vec![Marks::default(); circuit.parts.len()], ..Shown::default() };
    for fault in faults {
        lay(circuit, fault, &mut shown);
    }
    shown
}

/// The phrase of a fault, in which a number stays together with its unit.
pub(super) fn phrase(circuit: &Circuit, fault: &Fault) -> String {
    let (whole, name) = (fault.full_phrase(circuit), fault.phrase(circuit));
    match whole.strip_prefix(&name) {
        Some(value) if !value.is_empty() => {
            format!("{name} {}", value.trim().replace(' ', "\u{a0}"))
        }
        _ => whole,
    }
}

fn lay(circuit: &Circuit, fault: &Fault, shown: &mut Shown) {
    let words = phrase(circuit, fault);
    let is_short = fault.value().unwrap_or(SHORT) <= WIRE;
    let mut mark = |part: PartId, change: &mut dyn FnMut(&mut Marks)| {
        let own = &mut shown.marks[part.index()];
        own.words.push(words.clone());
        change(own);
    };
    match *fault {
        Fault::Open(part) => mark(part, &mut |own| own.is_open = true),
        Fault::Absent(part) => mark(part, &mut |own| {
            own.is_open = true;
            own.value_is_off = true;
        }),
        Fault::Reversed(part) => mark(part, &mut |own| own.is_reversed = true),
        Fault::Shorted(part, _) => mark(part, &mut |own| own.bypass = Some(Bypass::Short)),
        Fault::Leaky(part, _) => mark(part, &mut |own| own.bypass = Some(Bypass::Leak)),
        Fault::Drifted(part, name, _) | Fault::Low(part, name, _) => {
            let is_shown = shown_parameter(&circuit[part]) == Some(name);
            mark(part, &mut |own| own.value_is_off |= is_shown);
        }
        Fault::JointOpen(part, pin) | Fault::JointResistive(part, pin, _) => {
            mark(part, &mut |own| own.joints.push(pin));
        }
        Fault::Exchanged(one, other) => {
            mark(one, &mut |own| own.value_is_off = true);
            mark(other, &mut |own| own.value_is_off = true);
        }
        Fault::Alike(part, _) => {
            for one in circuit.alike(part) {
                mark(one, &mut |own| own.value_is_off = true);
            }
        }
        Fault::PinShorted(part, a, b, _) | Fault::PinLeaky(part, a, b, _) => {
            let nets = [a, b].map(|pin| circuit[part].pins[pin].net);
            if nets[0] == nets[1] {
                mark(part, &mut |_| {});
            } else {
                shown.paths.push(Path { nets, is_short, words });
            }
        }
        Fault::Leak(net, _) => {
            shown.paths.push(Path { nets: [net, NetId::GROUND], is_short, words });
        }
        Fault::Bridge(a, b, _) => shown.paths.push(Path { nets: [a, b], is_short, words }),
        Fault::Resistive(part, ..)
        | Fault::Limited(part, _)
        | Fault::Struck(part, _)
        | Fault::Fitted(part) => mark(part, &mut |_| {}),
        Fault::Misread(..) => shown.notes.push(words),
    }
}

/// The figure of a path between two nets.
pub(super) fn path_figure(path: &Path) -> Figure {
    let symbol = if path.is_short { Symbol::Wire } else { Symbol::Resistor };
    let broken =
        super::text::wrapped(&path.words, super::style::SMALL, super::figure::FAULT_WIDTH, 4);
    Figure {
        who: Who::Path,
        name: path.words.clone(),
        form: Form::Runs(vec![Run { symbol, ends: [0, 1], side: None }]),
        nets: path.nets.to_vec(),
        pins: vec!["1".to_owned(), "2".to_owned()],
        lines: broken.into_iter().map(|text| Line { ink: Ink::Fault, text }).collect(),
        is_absent: false,
        is_source: false,
        outputs: Vec::new(),
        turned: Vec::new(),
        marks: super::fault_marks::Marks { words: vec![path.words.clone()], ..Marks::default() },
    }
}

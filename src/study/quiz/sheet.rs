//! Exercise sheets for a class: a hidden fault for each student, with readings that settle it.

use super::super::chance::Chance;
use super::hint::from_supply;
use super::marking::Left;
use super::play::without_load;
use super::way::{Taken, thought};
use super::{Quiz, Symptom};
use crate::circuit::{
    Circuit, Meter, NetId, Observed, POWERED, Place, Quantity, Reading, Spot, UNPOWERED,
};
use crate::device::of;
use crate::diagnosis::{NO_MOVE, Probe, chain};
use crate::engine::Assembly;
use crate::fault::Fault;
use crate::plan::{action, nets_of};

/// Seeds that are tried for a sheet before a fault comes twice.
const TRIES: usize = 12;
/// Nets whose healthy volts are asked for beside the readings.
const QUESTIONS: usize = 3;
/// A net is off beyond this many standard uncertainties.
const OFF: f64 = 3.0;

/// A healthy value that is asked for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Question {
    /// What would be measured.
    pub probe: Probe,
    /// What the meter shows on a healthy board, in the SI unit; infinite for OL.
    pub healthy: f64,
    /// One standard uncertainty of it, tolerances and meter together.
    pub u: f64,
    /// The same without the meter's load, where that differs by more than a digit of the display: it
    /// is right as well.
    pub without_meter: Option<f64>,
}

/// One sheet with its answers.
#[derive(Debug, Clone, PartialEq)]
pub struct Sheet {
    /// The number of the student.
    pub number: usize,
    /// The seed that hides the same fault in a quiz of the same level.
    pub seed: u64,
    /// What is hidden.
    pub fault: Fault,
    /// Every fault that the readings do not tell from it, itself first: all of them are right.
    pub accepted: Vec<Fault>,
    /// What is seen from outside.
    pub symptom: Symptom,
    /// The readings that are given.
    pub given: Vec<Taken>,
    /// What this board would have at each reading without the meter's load, where that is far from
    /// what the meter shows.
    pub without_meter: Vec<Option<f64>>,
    /// Faults that are not told from the hidden one after each of them; at the end those accepted.
    pub remaining: Vec<usize>,
    /// The healthy value of each reading that is given; `None` where it cannot be worked out from the
    /// parts list, or does not settle.
    pub healthy: Vec<Option<Question>>,
    /// Further nets whose healthy value is asked for.
    pub questions: Vec<Question>,
    /// The first net from the supply on that is off, with its volts on the healthy board and here.
    pub first_dead: Option<(NetId, f64, f64)>,
    /// Whether the fault shorts something: the nets before it are dragged down with it.
    pub is_short: bool,
    /// From the fault to the symptom, on this very board.
    pub chain: Vec<String>,
    /// What to do to be sure of the fault.
    pub next: String,
}

/// The sheets of a class: the same seed, the same sheets. `None` where nothing can be hidden.
pub fn sheets(assembly: &Assembly<'_>, seed: u64, count: usize, level: u8) -> Option<Vec<Sheet>> {
    let mut chance = Chance::named(seed, "sheets");
    let mut found: Vec<Sheet> = Vec::new();
    for number in 1..=count {
        let mut quiz: Option<Quiz<'_>> = None;
        for _ in 0..TRIES {
            // Short enough to be typed.
            let own = chance.bits() >> 40;
            let drawn = Quiz::new(assembly, own, level)?;
            let fault = drawn.hidden.fault.with_value(None);
            let is_new = found.iter().all(|sheet| sheet.fault.with_value(None) != fault);
            quiz = Some(drawn);
            if is_new {
                break;
            }
        }
        found.push(Sheet::of(number, &quiz?));
    }
    Some(found)
}

impl Sheet {
    fn of(number: usize, quiz: &Quiz<'_>) -> Sheet {
        let hidden = &quiz.hidden.fault;
        let mut known = quiz.symptom.readings.clone();
        let mut left = Left::default();
        left.after(&thought(quiz.assembly, &known, None), hidden);
        let mut remaining = Vec::new();
        for step in &quiz.way.steps {
            known.push(step.reading.clone());
            remaining.push(left.after(&thought(quiz.assembly, &known, None), hidden));
        }
        let question = |probe: &Probe| {
            if !is_workable(quiz.circuit(), probe) {
                return None;
            }
            let (healthy, u) = quiz.healthy(probe)?;
            let without_meter = quiz.healthy_without_meter(probe);
            Some(Question { probe: *probe, healthy, u, without_meter })
        };
        let given = quiz.way.steps.clone();
        let steps = quiz.way.steps.iter();
        let accepted = left.faults();
        Sheet {
            number,
            seed: quiz.seed,
            fault: quiz.hidden.fault,
            accepted,
            symptom: quiz.symptom.clone(),
            healthy: given.iter().map(|step| question(&step.probe())).collect(),
            questions: further(quiz, &given).iter().filter_map(question).collect(),
            given,
            without_meter: steps.map(|step| without_meter(quiz, &step.probe())).collect(),
            remaining,
            first_dead: first_dead(quiz),
            is_short: pulls_down(&quiz.hidden.fault),
            chain: chain_of_hidden(quiz),
            next: action(quiz.circuit(), &quiz.hidden.fault).0,
        }
    }
}

/// Kinds whose ohms are on the parts list, as nothing else is between the leads.
const OHMIC: [&str; 6] = ["resistor", "link", "fuse", "contact", "connector", "switch"];

/// Whether a healthy value can be worked out from the parts list: ohms only where nothing but
/// resistors, links, fuses and contacts hangs on what is between the leads; sources are taken out, and
/// capacitors let nothing through. A diode reading is the meter's own doing.
fn is_workable(circuit: &Circuit, probe: &Probe) -> bool {
    match probe.quantity {
        Quantity::Ohms => {}
        Quantity::Diode | Quantity::Beep | Quantity::Seen => return false,
        _ => return true,
    }
    let mut ends = nets_of(circuit, probe.place);
    if let Place::At(_) = probe.place {
        ends.push(NetId::GROUND);
    }
    let Some((&red, others)) = ends.split_first() else { return false };
    let mut reached = vec![red];
    let mut at = 0;
    while at < reached.len() {
        let net = reached[at];
        at += 1;
        // Behind the other lead nothing matters.
        if others.contains(&net) {
            continue;
        }
        for part in circuit.parts.iter().filter(|part| part.fitted) {
            let is_here = part.pins.iter().any(|pin| pin.net == net);
            if !is_here || of(part).is_source() || part.kind == "capacitor" {
                continue;
            }
            if !OHMIC.contains(&part.kind) {
                return false;
            }
            for pin in &part.pins {
                if !reached.contains(&pin.net) {
                    reached.push(pin.net);
                }
            }
        }
    }
    true
}

/// Whether a fault is a way for the current past the parts: it drags down what stands before it.
fn pulls_down(fault: &Fault) -> bool {
    matches!(
        fault,
        Fault::Shorted(..)
            | Fault::Struck(..)
            | Fault::Leaky(..)
            | Fault::Leak(..)
            | Fault::Bridge(..)
            | Fault::PinShorted(..)
            | Fault::PinLeaky(..)
    )
}

/// A share by which the meter's load has to move a value to be worth a line.
const LOADED: f64 = 0.02;

/// What the board would have at a place without the meter's load, where that is far from what it shows.
fn without_meter(quiz: &Quiz<'_>, probe: &Probe) -> Option<f64> {
    let with = quiz.board.truth(probe)?;
    let without = quiz.board.truth_with(probe, &without_load(quiz.meter()))?;
    let room = (LOADED * with.abs()).max(2.0 * Meter::count(probe.quantity, with));
    let is_asked = matches!(probe.quantity, Quantity::Volts | Quantity::Amps);
    (is_asked && without.is_finite() && (without - with).abs() > room).then_some(without)
}

/// The chain of the hidden fault as its board shows it: with the power on, or in the first setup
/// where anything moves.
fn chain_of_hidden(quiz: &Quiz<'_>) -> Vec<String> {
    let fault = &quiz.hidden.fault;
    let own = |setup| chain(quiz.assembly, setup, fault, (&quiz.overlay, None));
    let powered = own(POWERED);
    match powered.get(1).is_none_or(|step| step == NO_MOVE) {
        true => own(UNPOWERED),
        false => powered,
    }
}

fn volts_at(net: NetId) -> Probe {
    Probe { setup: POWERED, quantity: Quantity::Volts, place: Place::At(Spot::Net(net)) }
}

/// Nets behind the supply that no reading is given of, by seed.
fn further(quiz: &Quiz<'_>, given: &[Taken]) -> Vec<Probe> {
    let circuit = quiz.circuit();
    let is_given = |probe: &Probe| given.iter().any(|step| step.probe() == *probe);
    let mut nets: Vec<Probe> = from_supply(circuit)
        .into_iter()
        .skip(1)
        .filter(|net| circuit.board.can_probe(*net))
        .map(volts_at)
        .filter(|probe| !is_given(probe))
        .collect();
    let mut chance = Chance::named(quiz.seed, "questions");
    let mut chosen = Vec::new();
    while chosen.len() < QUESTIONS && !nets.is_empty() {
        let at = (chance.share() * nets.len() as f64) as usize;
        chosen.push(nets.remove(at.min(nets.len() - 1)));
    }
    chosen
}

/// The first net from the supply on that is off.
fn first_dead(quiz: &Quiz<'_>) -> Option<(NetId, f64, f64)> {
    from_supply(quiz.circuit()).into_iter().find_map(|net| {
        let probe = volts_at(net);
        let (healthy, u) = quiz.healthy(&probe)?;
        // As the same meter shows it, so that it is the value of a reading that is given.
        let here = match quiz.board.read(&probe)?.observed {
            Observed::Number { value, .. } => value,
            _ => quiz.board.truth(&probe)?,
        };
        ((here - healthy).abs() > OFF * u).then_some((net, healthy, here))
    })
}

/// The readings of a sheet with those of its symptom: what a diagnosis is made of.
impl Sheet {
    /// Everything that a student is told, as readings.
    pub fn readings(&self) -> Vec<Reading> {
        let given = self.given.iter().map(|step| &step.reading);
        self.symptom.readings.iter().chain(given).cloned().collect()
    }
}

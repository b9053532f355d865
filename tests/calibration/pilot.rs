//! A board of nine resistors with 27 fault classes, and its exact posterior.
//!
//! 10 V ideal at node 0; 0-1 1 kΩ, 1-2 2.2 kΩ, 2-3 1 kΩ, 3-4 4.7 kΩ, 1-ground 3.3 kΩ, 2-ground
//! 4.7 kΩ, 3-ground 2.2 kΩ, 4-ground 10 kΩ, 2-4 10 kΩ. Parts are log-normal with a deviation of
//! 2.5 %, the meter is off by 0.25 % of the reading and 2 mV. Each part is open, shorted (a
//! thousandth of its value) or drifted (log-uniform, 0.1 to 0.8 and 1.25 to 10 times), all 27 alike.
//! Nodes 1 to 4 are read.
//!
//! Boards are drawn, and the exact posterior is taken, with the four node equations written out
//! here, not with the engine.
#![allow(dead_code, reason = "the test and the bench use their own parts of it")]

use ohmhound::circuit::{
    Circuit, Input, Meter, Observed, Overlay, POWERED, Param, PartId, Place, Quantity, Reading,
    Spot,
};
use ohmhound::device::two_pin;
use ohmhound::diagnosis::{Case, Trace, chi_square};
use ohmhound::engine::Assembly;
use ohmhound::fault::{Cause, Curve, Fault, Hypothesis, Mapping, Spread};
use ohmhound::quantity::Spread as Width;

use crate::boards::rank;
use crate::chance::{Chance, Draw};

/// Ends and ohms of the parts; node 5 is ground.
pub const PARTS: [(usize, usize, f64); 9] = [
    (0, 1, 1e3),
    (1, 2, 2.2e3),
    (2, 3, 1e3),
    (3, 4, 4.7e3),
    (1, 5, 3.3e3),
    (2, 5, 4.7e3),
    (3, 5, 2.2e3),
    (4, 5, 10e3),
    (2, 4, 10e3),
];
/// Deviation of a part, in the logarithm.
pub const PART: f64 = 0.025;
/// Deviation of the meter, as a share of the reading and in volts.
const METER: (f64, f64) = (0.0025, 0.002);
pub const SOURCE: f64 = 10.0;
/// A drifted part is outside these, inside those.
pub const DRIFT: [f64; 4] = [0.1, 0.8, 1.25, 10.0];
/// Number of classes: three per part.
pub const CLASSES: usize = 27;

/// What is wrong, and by how much: the logarithm of the factor on the nominal value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Truth {
    pub class: usize,
    pub factor: f64,
}

/// The class of a part and a mode: 0 open, 1 shorted, 2 drifted.
pub fn class(part: usize, mode: usize) -> usize {
    3 * part + mode
}

/// A fault of a class, with its factor drawn.
pub fn truth(class: usize, chance: &mut Chance) -> Truth {
    let factor = match class % 3 {
        0 => f64::INFINITY,
        1 => 1e-3_f64.ln(),
        _ => {
            let [a, b, c, d] = DRIFT.map(f64::ln);
            let along = chance.share() * (b - a + d - c);
            if along < b - a { a + along } else { c + along - (b - a) }
        }
    };
    Truth { class, factor }
}

/// Conductances of a board drawn from its tolerances, with some faults in it.
pub fn siemens(faults: &[Truth], chance: &mut Chance, draw: Draw) -> [f64; 9] {
    let mut siemens =
        PARTS.map(|(_, _, ohms)| (-(draw.error(chance) * 3.0_f64.sqrt() * PART)).exp() / ohms);
    for fault in faults {
        let part = fault.class / 3;
        siemens[part] = (-fault.factor).exp() / PARTS[part].2;
    }
    siemens
}

/// Volts at the four nodes, and the inverse of the node equations.
pub fn solve(siemens: &[f64; 9]) -> ([f64; 4], [[f64; 4]; 4]) {
    let mut rows = [[0.0; 8]; 4];
    let mut right = [0.0; 4];
    for (&(a, b, _), &g) in PARTS.iter().zip(siemens) {
        for (own, other) in [(a, b), (b, a)] {
            if !(1..=4).contains(&own) {
                continue;
            }
            rows[own - 1][own - 1] += g;
            match other {
                0 => right[own - 1] += g * SOURCE,
                1..=4 => rows[own - 1][other - 1] -= g,
                _ => {}
            }
        }
    }
    for (idx, row) in rows.iter_mut().enumerate() {
        row[4 + idx] = 1.0;
    }
    // Conductances to neighbours never exceed the diagonal: no pivoting is needed.
    for pivot in 0..4 {
        let scale = 1.0 / rows[pivot][pivot];
        rows[pivot].iter_mut().for_each(|value| *value *= scale);
        let own = rows[pivot];
        for (idx, row) in rows.iter_mut().enumerate() {
            let factor = row[pivot];
            if idx != pivot && factor != 0.0 {
                row.iter_mut().zip(&own).for_each(|(value, own)| *value -= factor * own);
            }
        }
    }
    let inverse = rows.map(|row| [row[4], row[5], row[6], row[7]]);
    let volts = inverse.map(|row| row.iter().zip(&right).map(|(a, b)| a * b).sum());
    (volts, inverse)
}

/// Volts at the four nodes.
pub fn volts(siemens: &[f64; 9]) -> [f64; 4] {
    solve(siemens).0
}

pub fn deviation(volts: f64) -> f64 {
    (METER.0 * volts).hypot(METER.1)
}

/// What the meter shows of some volts.
pub fn read(volts: [f64; 4], chance: &mut Chance, draw: Draw) -> [f64; 4] {
    volts.map(|volts| volts + draw.error(chance) * 3.0_f64.sqrt() * deviation(volts))
}

/// The board as a circuit; parts are R1 to R9 in the order of the table.
pub fn circuit() -> Circuit {
    let mut circuit = Circuit::new("nine resistors", "GND");
    let name = |node: usize| if node == 5 { "GND".to_owned() } else { format!("N{node}") };
    let source = [("volts", SOURCE), ("resistance", 0.0)];
    two_pin(&mut circuit, "V1", "supply", ["N0", "GND"], &source).expect("a source");
    for (idx, (a, b, ohms)) in PARTS.iter().enumerate() {
        let nets = [name(*a), name(*b)];
        let part = format!("R{}", idx + 1);
        let nets = [nets[0].as_str(), nets[1].as_str()];
        let id = two_pin(&mut circuit, &part, "resistor", nets, &[("value", *ohms)])
            .expect("a resistor");
        // Log-normal with a deviation of 2.5 %: the factor whose logarithm is √3 of that.
        let factor = (PART * 3.0_f64.sqrt()).exp();
        for (known, param) in &mut circuit.parts[id.index()].params {
            if let (&mut "value", Param::Number(number)) = (known, param) {
                number.spread = Some(Width::Factor(factor));
            }
        }
    }
    circuit
}

/// The classes as hypotheses, in the order of their numbers.
pub fn hypotheses() -> Vec<Hypothesis> {
    let weight = 1.0 / CLASSES as f64;
    (0..CLASSES)
        .map(|class| {
            let part = class / 3;
            // The source is part 0.
            let (id, ohms) = (PartId(part as u32 + 1), PARTS[part].2);
            match class % 3 {
                0 => Hypothesis::fixed(Fault::Open(id), weight),
                1 => Hypothesis::fixed(Fault::Drifted(id, "value", Some(1e-3 * ohms)), weight),
                _ => {
                    let [low, least, most, high] = DRIFT.map(|factor| (factor * ohms).ln());
                    let fault = Fault::Drifted(id, "value", None);
                    let spread = Spread::Range { low, high, except: Some((least, most)) };
                    let cause = Cause { fault, weight, mapping: Mapping::Same, spread };
                    Hypothesis {
                        causes: vec![cause],
                        curve: Some(Curve { fault, low, high }),
                        alike: Vec::new(),
                    }
                }
            }
        })
        .collect()
}

/// The place of a truth on the line of its hypothesis.
pub fn place(truth: Truth) -> f64 {
    PARTS[truth.class / 3].2.ln() + truth.factor
}

/// Readings for the engine, each with the meter's half-width by itself.
pub fn readings(y: &[f64; 4], circuit: &Circuit) -> Vec<Reading> {
    let mut meter = Meter::default();
    meter.volts.input = Input::Ohms(1e15);
    y.iter()
        .enumerate()
        .map(|(idx, &value)| {
            let net = circuit.net(&format!("N{}", idx + 1)).expect("a node");
            let half_width = Some(3.0_f64.sqrt() * deviation(value));
            Reading {
                setup: POWERED,
                quantity: Quantity::Volts,
                place: Place::At(Spot::Net(net)),
                place_text: format!("N{}", idx + 1),
                observed: Observed::Number { value, count: 1e-3, half_width },
                meter,
            }
        })
        .collect()
}

/// The traces of all classes.
pub fn traces(case: &Case<'_>, list: &[Hypothesis]) -> Vec<Option<Trace>> {
    list.iter()
        .map(|hypothesis| Trace::new(case, hypothesis, &|overlay| case.predict(overlay).ok()))
        .collect()
}

/// Probabilities of the classes by their traces.
pub fn shares(traces: &[Option<Trace>]) -> Vec<f64> {
    let mass = |trace: &Option<Trace>| trace.as_ref().map_or(f64::NEG_INFINITY, |trace| trace.mass);
    let top = traces.iter().map(mass).fold(f64::NEG_INFINITY, f64::max);
    let masses: Vec<f64> = traces.iter().map(|trace| (mass(trace) - top).exp()).collect();
    let sum: f64 = masses.iter().sum();
    masses.iter().map(|mass| mass / sum).collect()
}

/// The engine's probabilities of the classes for some readings.
pub fn diagnosed(assembly: &Assembly<'_>, list: &[Hypothesis], y: &[f64; 4]) -> Vec<f64> {
    let readings = readings(y, assembly.circuit());
    shares(&traces(&Case::new(assembly, &readings), list))
}

/// Whether a trace fits, as the verdict has it, at the level `share`.
pub fn fits(trace: &Trace, share: f64) -> bool {
    let freedom = 4 - usize::from(trace.value_matters);
    trace.best.fit.distance <= chi_square(share, freedom)
}

/// The logarithm of how much better the best single fault explains readings than the true pair of
/// faults does, each at its best values: the pair's are found one after the other, from the true
/// ones.
pub fn displaced(case: &Case<'_>, list: &[Hypothesis], pair: [Truth; 2]) -> Option<f64> {
    let single = traces(case, list)
        .iter()
        .flatten()
        .map(|trace| trace.best.fit.evidence)
        .fold(f64::NEG_INFINITY, f64::max);
    let hypotheses = pair.map(|truth| &list[truth.class]);
    let mut places = pair.map(place);
    let mut evidence = f64::NEG_INFINITY;
    for _ in 0..3 {
        for own in 0..2 {
            let other = hypotheses[1 - own].overlay(places[1 - own]);
            let both = |overlay: &Overlay| {
                let mut overlay = overlay.clone();
                overlay.changes.extend(other.changes.iter().cloned());
                case.predict(&overlay).ok()
            };
            let trace = Trace::new(case, hypotheses[own], &both)?;
            places[own] = trace.best.place;
            evidence = evidence.max(trace.best.fit.evidence);
        }
    }
    Some(single - evidence)
}

/// Where the true drift of a part stands among what the readings leave of it, over some draws.
pub fn ranks(
    assembly: &Assembly<'_>,
    list: &[Hypothesis],
    part: usize,
    draws: usize,
    chance: &mut Chance,
) -> Vec<f64> {
    let class = class(part, 2);
    (0..draws)
        .filter_map(|_| {
            let truth = truth(class, chance);
            let y = read(volts(&siemens(&[truth], chance, Draw::Normal)), chance, Draw::Normal);
            let readings = readings(&y, assembly.circuit());
            let case = Case::new(assembly, &readings);
            let trace = traces(&case, &list[class..=class]).pop()??;
            rank(&trace, &list[class], place(truth), chance)
        })
        .collect()
}

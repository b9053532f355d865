//! Boards to draw: the demos, and random ones of 5 to 60 parts.

use std::path::Path;

use ohmhound::circuit::{Circuit, Observed, Overlay, POWERED, Reading, Readings, UNPOWERED};
use ohmhound::circuit::{Place, Quantity, Spot};
use ohmhound::diagnosis::{Diagnosis, ReadingLine, diagnose};
use ohmhound::engine::Assembly;
use ohmhound::fault::{Evidence, Fault, hypotheses};
use ohmhound::file::load_circuit;
use ohmhound::picture::Ladder;
use ohmhound::study::{Operating, operating};

use super::active::{Dice, active, built};

/// A board with its healthy operating point.
pub struct Board {
    pub name: String,
    pub circuit: Circuit,
    pub point: Option<Operating>,
}

fn board(name: String, circuit: Circuit) -> Board {
    let point = operating(&Assembly::new(&circuit), POWERED, &Overlay::none()).ok();
    Board { name, circuit, point }
}

/// The demo boards.
pub fn demos() -> Vec<Board> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("circuits");
    let mut names: Vec<String> = std::fs::read_dir(&folder)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .filter(|name| name.ends_with(".toml") && !name.contains(".readings."))
        .filter(|name| !name.ends_with(".shelf.toml"))
        .collect();
    names.sort();
    assert!(names.len() >= 13, "{names:?}");
    let load = |name: &String| {
        let circuit = load_circuit(folder.join(name)).value.expect("a circuit in order");
        board(name.trim_end_matches(".toml").to_owned(), circuit)
    };
    names.iter().map(load).collect()
}

/// The random board with that number: 5 to 60 parts, wired as boards are or between any nets.
pub fn random(number: u64) -> Board {
    let circuit = built(&active(number, 60));
    board(format!("random board {number}, {} parts", circuit.parts.len()), circuit)
}

/// The board plain, with readings, and with faults laid over.
pub fn drawn(board: &Board) -> Vec<(&'static str, String)> {
    let ladder = || Ladder::new(&board.circuit, board.point.as_ref());
    let mut found = vec![("plain", ladder().titled(&board.name).svg())];
    let (readings, diagnosis) = readings(board);
    found.push(("with readings", ladder().with_readings(&readings, &diagnosis).svg()));
    let assembly = Assembly::new(&board.circuit);
    for (at, some) in faults(&board.circuit).chunks(3).enumerate() {
        let mut overlay = Overlay::none();
        for fault in some {
            overlay.changes.extend(fault.overlay(&board.circuit).expect("a change").changes);
        }
        let faulted = operating(&assembly, POWERED, &overlay).ok();
        let ladder = ladder().with_faults(some, faulted.as_ref()).wide(700.0 + 150.0 * at as f64);
        let ladder = if at == 0 { ladder.with_readings(&readings, &diagnosis) } else { ladder };
        found.push(("with faults", ladder.svg()));
    }
    found
}

/// Readings at every net, with a judgement that is made up: only the picture is looked at.
fn readings(board: &Board) -> (Vec<Reading>, Diagnosis) {
    let mut dice = Dice::new(board.circuit.parts.len() as u64);
    let mut readings = Vec::new();
    let mut lines = Vec::new();
    for (net, name) in board.circuit.nets_by_id().skip(1) {
        let (setup, quantity) = match dice.below(6) {
            0 => (UNPOWERED, Quantity::Ohms),
            _ => (POWERED, Quantity::Volts),
        };
        readings.push(Reading {
            setup,
            quantity,
            place: Place::At(Spot::Net(net)),
            place_text: name.to_owned(),
            observed: match dice.below(5) {
                0 => Observed::Over,
                1 => Observed::Between { low: 1.234, high: 12.345 },
                _ => Observed::Number {
                    value: dice.between(-40.0, 40.0),
                    count: 1e-3,
                    half_width: None,
                },
            },
            meter: Readings::default().meter,
        });
        let off = [0.3, 7.0, -9.0, f64::NAN, -2.9][dice.below(5)];
        lines.push(ReadingLine { expected: Some(1.0), expected_u: 0.1, off, floats: false });
    }
    let tiny = {
        let mut circuit = Circuit::new("", "GND");
        ohmhound::device::two_pin(&mut circuit, "R1", "resistor", ["A", "GND"], &[("value", 1e3)])
            .unwrap();
        circuit
    };
    let mut diagnosis = diagnose(&Assembly::new(&tiny), &[], &[]);
    diagnosis.readings = lines;
    (readings, diagnosis)
}

/// A few faults of every form that the board can have.
fn faults(circuit: &Circuit) -> Vec<Fault> {
    let all = hypotheses(circuit, &Evidence::default());
    let mut seen: Vec<(&str, usize)> = Vec::new();
    let mut found = Vec::new();
    let mut causes: Vec<Fault> =
        all.iter().flat_map(|one| &one.causes).map(|cause| cause.fault).collect();
    causes.retain(|fault| !fault.is_misread());
    Dice::new(causes.len() as u64).shuffle(&mut causes);
    for fault in causes {
        let failure = fault.failure();
        match seen.iter_mut().find(|(known, _)| *known == failure) {
            Some((_, 0)) => continue,
            Some((_, left)) => *left -= 1,
            None => seen.push((failure, 0)),
        }
        let fault = fault.with_value(Some(4.7));
        if fault.overlay(circuit).is_some() {
            found.push(fault);
        }
    }
    found
}

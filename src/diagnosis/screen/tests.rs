//! The reduced board against the full network.

use super::*;
use crate::circuit::{
    Change, Circuit, Meter, NetId, Observed, POWERED, Place, Quantity, Reading, SetupId, Spot,
    UNPOWERED,
};
use crate::device::{two_pin, with_pins};
use crate::engine::Assembly;
use crate::fault::{Evidence, Hypothesis, hypotheses};

/// A supply with a limit, junctions of every sort, a load and a bridge of resistors.
fn circuit() -> Circuit {
    let mut circuit = Circuit::new("", "GND");
    let mut add = |name, kind, nets, params: &[(&'static str, f64)]| {
        two_pin(&mut circuit, name, kind, nets, params).unwrap();
    };
    add("J1", "supply", ["IN", "GND"], &[("volts", 12.0), ("limit", 0.5)]);
    add("F1", "fuse", ["IN", "A"], &[]);
    add("D1", "diode", ["A", "B"], &[]);
    add("R1", "resistor", ["B", "C"], &[("value", 330.0)]);
    add("D2", "zener", ["GND", "C"], &[("voltage", 5.1)]);
    add("R2", "resistor", ["C", "E"], &[("value", 1e3)]);
    add("D3", "led", ["E", "GND"], &[("drop", 2.0)]);
    add("R3", "resistor", ["C", "G"], &[("value", 10e3)]);
    add("R4", "resistor", ["G", "GND"], &[("value", 22e3)]);
    add("R5", "resistor", ["G", "GND"], &[("value", 47e3)]);
    add("A1", "load", ["B", "GND"], &[("amps", 5e-3)]);
    add("C1", "capacitor", ["G", "GND"], &[]);
    circuit
}

fn readings(circuit: &Circuit) -> Vec<Reading> {
    let ground = Spot::Net(NetId::GROUND);
    let spot = |name: &str| Spot::Net(circuit.net(name).unwrap());
    let part = |name: &str| Place::Part(circuit.part(name).unwrap());
    [
        (POWERED, Quantity::Volts, Place::At(spot("B"))),
        (POWERED, Quantity::Volts, Place::At(spot("G"))),
        (POWERED, Quantity::Volts, Place::Between(spot("C"), spot("E"))),
        (POWERED, Quantity::Amps, part("F1")),
        (POWERED, Quantity::Seen, part("D3")),
        (UNPOWERED, Quantity::Ohms, Place::At(spot("G"))),
        (UNPOWERED, Quantity::Diode, Place::Between(spot("A"), spot("C"))),
        (UNPOWERED, Quantity::Diode, Place::Between(ground, spot("C"))),
    ]
    .map(reading)
    .to_vec()
}

fn reading((setup, quantity, place): (SetupId, Quantity, Place)) -> Reading {
    Reading {
        setup,
        quantity,
        place,
        place_text: String::new(),
        observed: Observed::Number { value: 1.0, count: 0.001, half_width: None },
        meter: Meter::default(),
    }
}

/// Places of a hypothesis at these shares of its line; any for a change without a value.
fn places(hypothesis: &Hypothesis, shares: &[f64]) -> Vec<f64> {
    let at = |curve: crate::fault::Curve| {
        shares.iter().map(|share| curve.low + share * (curve.high - curve.low)).collect()
    };
    hypothesis.curve.map_or_else(|| vec![0.0], at)
}

#[test]
fn the_reduced_board_agrees_with_the_full_network() {
    let circuit = circuit();
    let assembly = Assembly::new(&circuit);
    let readings = readings(&circuit);
    let case = Case::new(&assembly, &readings);
    let apart = ["F1", "D3"].map(|name| circuit.part(name).unwrap()).to_vec();
    let list = hypotheses(&circuit, &Evidence { seen: Vec::new(), apart });
    let screen = Screen::new(&case).unwrap();
    let (mut quick, mut all) = (0, 0);
    for hypothesis in &list {
        let line = screen.line();
        for place in places(hypothesis, &[0.0, 0.2, 0.4, 0.6, 0.8, 1.0]) {
            let overlay = hypothesis.overlay(place);
            let Ok(full) = case.predict(&overlay) else { continue };
            all += 1;
            let Some(reduced) = line.predict(&case, &overlay) else { continue };
            quick += 1;
            for idx in 0..readings.len() {
                let name = format!("{} {place} {idx}", hypothesis.name(&circuit));
                let (a, b) = (full.y[idx], reduced.y[idx]);
                assert!((a - b).abs() <= 2e-5 * (1e-3 + a.abs()), "{name}: {a} {b}");
                let size = |spread: &[f64]| spread.iter().map(|x| x * x).sum::<f64>().sqrt();
                let (a, b) = (size(&full.spread[idx]), size(&reduced.spread[idx]));
                assert!((a - b).abs() <= 0.02 * (2e-6 + a.abs()), "{name}: spread {a} {b}");
            }
        }
    }
    assert!(quick * 10 > all * 7, "{quick} of {all}: the reduced board has to do most");
}

/// A buck with its enable, a supervisor behind it and a transistor that the supervisor switches.
fn with_chips() -> Circuit {
    let mut circuit = Circuit::new("", "GND");
    let mut add = |name, kind, nets, params: &[(&'static str, f64)]| {
        two_pin(&mut circuit, name, kind, nets, params).unwrap();
    };
    add("J1", "supply", ["IN", "GND"], &[("volts", 12.0), ("limit", 1.0)]);
    add("R1", "resistor", ["IN", "EN"], &[("value", 47e3)]);
    add("R2", "resistor", ["EN", "GND"], &[("value", 10e3)]);
    add("R3", "resistor", ["OUT", "FB"], &[("value", 52.3e3)]);
    add("R4", "resistor", ["FB", "GND"], &[("value", 10e3)]);
    add("R5", "resistor", ["OUT", "OK"], &[("value", 10e3)]);
    add("R6", "resistor", ["OK", "B"], &[("value", 22e3)]);
    add("R7", "resistor", ["OUT", "C"], &[("value", 1e3)]);
    let mut chip = |name, kind, pins: &[(&str, &str)], params: &[(&'static str, f64)]| {
        with_pins(&mut circuit, name, kind, pins, params).unwrap();
    };
    chip(
        "U1",
        "buck",
        &[
            ("input", "IN"),
            ("output", "OUT"),
            ("ground", "GND"),
            ("enable", "EN"),
            ("feedback", "FB"),
        ],
        &[("reference", 0.8), ("enable_threshold", 1.2), ("limit", 1.5)],
    );
    chip(
        "U2",
        "supervisor",
        &[("sense", "OUT"), ("supply", "OUT"), ("output", "OK"), ("ground", "GND")],
        &[("threshold", 4.4), ("hysteresis", 0.05)],
    );
    chip("Q1", "npn", &[("collector", "C"), ("base", "B"), ("emitter", "GND")], &[("gain", 200.0)]);
    circuit
}

/// The walk over reduced boards comes to the same states and volts as the full one, for faults
/// that switch chips off as well.
#[test]
fn the_walk_on_reduced_boards_agrees_with_the_full_one() {
    let circuit = with_chips();
    let assembly = Assembly::new(&circuit);
    let spot = |name: &str| Place::At(Spot::Net(circuit.net(name).unwrap()));
    let readings: Vec<Reading> = ["EN", "OUT", "FB", "OK", "C"]
        .map(|net| reading((POWERED, Quantity::Volts, spot(net))))
        .to_vec();
    let case = Case::new(&assembly, &readings);
    let list = hypotheses(&circuit, &Evidence::default());
    let screen = Screen::new(&case).unwrap();
    let (mut quick, mut all, mut off) = (0, 0, 0);
    for hypothesis in &list {
        let line = screen.line();
        for place in places(hypothesis, &[0.1, 0.3, 0.5, 0.7, 0.9]) {
            let overlay = hypothesis.overlay(place);
            // A chip without its ground may stand in more than one way.
            if lay::leaves_ground(&assembly, &overlay) {
                continue;
            }
            let Ok(full) = case.predict(&overlay) else { continue };
            all += 1;
            let Some(reduced) = line.predict(&case, &overlay) else { continue };
            quick += 1;
            off += usize::from(full.shown[1] < 0.1);
            for idx in 0..readings.len() {
                let name = format!("{} {place} {idx}", hypothesis.name(&circuit));
                let (a, b) = (full.y[idx], reduced.y[idx]);
                assert!((a - b).abs() <= 1e-4 * (0.3 + a.abs()), "{name}: {a} {b}");
            }
        }
    }
    assert!(quick * 10 > all * 6 && off > 10, "{quick} of {all}, {off} of them off");
}

/// Two changes at once, of every sort that the list has: what is asked for when a single fault
/// explains nothing.
#[test]
fn two_changes_at_once_agree_with_the_full_network() {
    let all = [circuit(), with_chips()];
    let spots: [&[&str]; 2] = [&["A", "B", "C", "G"], &["EN", "OUT", "FB", "OK", "C"]];
    for (circuit, spots) in all.iter().zip(spots) {
        let assembly = Assembly::new(circuit);
        let at = |name: &&str| Place::At(Spot::Net(circuit.net(name).unwrap()));
        let mut readings: Vec<Reading> =
            spots.iter().map(|net| reading((POWERED, Quantity::Volts, at(net)))).collect();
        readings.push(reading((UNPOWERED, Quantity::Ohms, at(&spots[1]))));
        let case = Case::new(&assembly, &readings);
        let list = hypotheses(circuit, &Evidence::default());
        let screen = Screen::new(&case).unwrap();
        let (mut quick, mut all) = (0, 0);
        // Pairs and places spread evenly, by steps that share no factor with the lengths.
        for number in 0..400_usize {
            let (first, second) = (number * 7919 % list.len(), number * 104_729 / 13 % list.len());
            let share = (number as f64 * 0.618).fract();
            let mut overlay = list[first].overlay(places(&list[first], &[share])[0]);
            let more = list[second].overlay(places(&list[second], &[1.0 - share])[0]);
            // One part fails in one way.
            let parts: Vec<_> = overlay.changes.iter().flat_map(Change::parts).collect();
            if more.changes.iter().flat_map(Change::parts).any(|part| parts.contains(&part)) {
                continue;
            }
            overlay.changes.extend(more.changes);
            if lay::leaves_ground(&assembly, &overlay) {
                continue;
            }
            let Ok(full) = case.predict(&overlay) else { continue };
            all += 1;
            let Some(reduced) = screen.line().predict(&case, &overlay) else { continue };
            quick += 1;
            for idx in 0..readings.len() {
                // A board that keeps switching, and has several points in one of its patterns
                // besides, shows something between two of them here and there.
                if full.spread[idx].len() > assembly.sources().len() {
                    continue;
                }
                let (a, b) = (full.y[idx], reduced.y[idx]);
                assert!((a - b).abs() <= 1e-4 * (0.3 + a.abs()), "{overlay:?} {idx}: {a} {b}");
                let size = |spread: &[f64]| spread.iter().map(|x| x * x).sum::<f64>().sqrt();
                let (a, b) = (size(&full.spread[idx]), size(&reduced.spread[idx]));
                assert!((a - b).abs() <= 0.02 * (2e-3 + a), "{overlay:?} {idx}: spread {a} {b}");
            }
        }
        assert!(quick * 10 > all * 4, "{quick} of {all}");
    }
}

/// What is predicted along a line, to the last bit: nothing where the reduced boards cannot say.
fn along(screen: &Screen, case: &Case<'_>, hypothesis: &Hypothesis) -> Vec<Option<Vec<u64>>> {
    let line = screen.line();
    let shares = [0.0, 0.3, 0.31, 0.32, 0.6, 1.0];
    let predict = |place: f64| {
        let overlay = hypothesis.overlay(place);
        let prediction = line.predict(case, &overlay)?;
        let others = line.predict_others(case, &overlay).unwrap_or_default();
        let all = std::iter::once(&prediction).chain(others.iter().map(|(_, other)| other));
        let numbers = all.flat_map(|one| one.y.iter().chain(one.spread.iter().flatten()));
        Some(numbers.map(|number| number.to_bits()).collect())
    };
    places(hypothesis, &shares).into_iter().map(predict).collect()
}

/// Nothing that was looked at before makes a difference: not on boards that nobody looked at, not
/// after all other hypotheses, in whatever order, and not with them looked at in between.
#[test]
fn hypotheses_have_no_order() {
    for (circuit, spots) in [(circuit(), ["B", "C", "G"]), (with_chips(), ["EN", "OUT", "C"])] {
        let assembly = Assembly::new(&circuit);
        let at = |name: &str| Place::At(Spot::Net(circuit.net(name).unwrap()));
        let mut readings: Vec<Reading> =
            spots.map(|net| reading((POWERED, Quantity::Volts, at(net)))).to_vec();
        readings.push(reading((UNPOWERED, Quantity::Ohms, at(spots[1]))));
        readings.push(reading((UNPOWERED, Quantity::Diode, at(spots[2]))));
        let case = Case::new(&assembly, &readings);
        let list = hypotheses(&circuit, &Evidence::default());
        let alone: Vec<_> = list
            .iter()
            .map(|hypothesis| along(&Screen::new(&case).unwrap(), &case, hypothesis))
            .collect();
        let known = alone.iter().flatten().filter(|place| place.is_some()).count();
        assert!(known > list.len(), "{known} places say something");
        let shared = Screen::new(&case).unwrap();
        for (hypothesis, alone) in list.iter().zip(&alone).rev() {
            let name = hypothesis.name(&circuit);
            assert_eq!(along(&shared, &case, hypothesis), *alone, "{name}, behind the later ones");
        }
        for (hypothesis, alone) in list.iter().zip(&alone) {
            let name = hypothesis.name(&circuit);
            assert_eq!(along(&shared, &case, hypothesis), *alone, "{name}, behind all others");
        }
        // Two lines side by side, place by place.
        let [one, other] = [&list[0], &list[list.len() / 2]];
        let lines = [shared.line(), shared.line()];
        for share in [0.1, 0.12, 0.5] {
            let fresh = Screen::new(&case).unwrap();
            for (line, hypothesis) in lines.iter().zip([one, other]) {
                let overlay = hypothesis.overlay(places(hypothesis, &[share])[0]);
                let (near, far) =
                    (line.predict(&case, &overlay), fresh.line().predict(&case, &overlay));
                let (Some(near), Some(far)) = (near, far) else { continue };
                for (near, far) in near.y.iter().zip(&far.y) {
                    assert!((near - far).abs() <= 1e-7 * (1.0 + far.abs()), "{near} {far}");
                }
            }
        }
    }
}

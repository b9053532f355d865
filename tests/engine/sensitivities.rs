//! Adjoint sensitivities against differences of whole solutions.

// The counts are what a reader of the test's output wants to see.
#![allow(clippy::print_stdout)]

use crate::strategies;
use crate::strategies::{Spec, circuit, config, pick};
use ohmhound::circuit::{Change, Overlay, POWERED, Param, PartId};
use ohmhound::engine::{Assembly, Sensitivities};
use proptest::prelude::*;
use proptest::test_runner::TestRunner;

/// What happened to the circuit before it is differentiated.
#[derive(Debug, Clone, Copy)]
enum Fault {
    None,
    Removed,
    Across(f64),
    Changed(f64),
}

fn faults() -> impl Strategy<Value = Fault> {
    prop_oneof![
        2 => Just(Fault::None),
        1 => Just(Fault::Removed),
        1 => (1.0..1e5).prop_map(Fault::Across),
        1 => (0.5..2.0).prop_map(Fault::Changed),
    ]
}

/// The parameter that a part of this kind is known by.
fn main_parameter(spec: &Spec) -> (&'static str, f64) {
    ["value", "volts", "drop", "voltage", "amps", "ohms"]
        .into_iter()
        .find_map(|name| Some((name, spec.number(name)?)))
        .unwrap()
}

/// How many sensitivities were compared, and how many lay too close to a corner of a law.
#[derive(Debug, Default)]
struct Count {
    compared: usize,
    at_corners: usize,
}

fn compare(
    specs: &[Spec],
    fault: Fault,
    number: usize,
    net: usize,
    count: &mut Count,
) -> Result<(), TestCaseError> {
    let specs: Vec<Spec> = specs.iter().map(|spec| spec.clone().within(0.01)).collect();
    let circuit = circuit(&specs);
    let part = PartId((number % specs.len()) as u32);
    let (name, value) = main_parameter(&specs[part.index()]);
    let changes = match fault {
        Fault::None => vec![],
        Fault::Removed => vec![Change::Removed { part }],
        Fault::Across(ohms) => vec![Change::Across { part, ohms }],
        Fault::Changed(factor) => vec![Change::Parameter { part, name, value: value * factor }],
    };
    let overlay = Overlay { changes };
    let assembly = Assembly::new(&circuit);
    let network = assembly.network(POWERED, &overlay);
    let settings = assembly.settings();
    let Some(point) = network.solve(settings).point else {
        // A drifted source may stand against another one; that is for other tests to judge.
        return Ok(());
    };
    let net = pick(&circuit, net).index();
    // A net that only the leaks of blocked junctions hold has volts, but nobody can read them.
    if point.floating[net] || point.shape(net, 0)[net - 1] > 1e9 {
        return Ok(());
    }
    let sensitivities = Sensitivities::new(&assembly, POWERED, &network, &point);
    let adjoint = point.adjoint(net, 0);
    let along = sensitivities.along(&adjoint);
    prop_assert_eq!(along.len(), assembly.sources().len());
    let steepest = adjoint.iter().fold(0.0, |largest: f64, ohms| largest.max(ohms.abs()));
    // Volts for a change of the parameter by the whole of itself.
    let largest = assembly
        .sources()
        .iter()
        .zip(&along)
        .map(|(source, along)| (source.nominal * along).abs())
        .fold(0.0, f64::max);
    for (source, along) in assembly.sources().iter().zip(&along) {
        let removed = matches!(fault, Fault::Removed) && source.part == part;
        let replaced =
            matches!(fault, Fault::Changed(_)) && source.part == part && source.parameter == name;
        if removed || replaced {
            prop_assert_eq!(*along, 0.0);
            continue;
        }
        let at = |share: f64| {
            let value = source.nominal * (1.0 + share);
            let change = Change::Parameter { part: source.part, name: source.parameter, value };
            let changes = [&[change], &overlay.changes[..]].concat();
            let network = assembly.network(POWERED, &Overlay { changes });
            network.solve_from(Some(&point), settings).point.map(|point| point.volts[net])
        };
        let slope = |step: f64| Some((at(step)? - at(-step)?) / (2.0 * step));
        let (Some(wide), Some(narrow)) = (slope(2e-4), slope(1e-4)) else {
            count.at_corners += 1;
            continue;
        };
        // The error of a central difference falls with the square of its step.
        let expected = (4.0 * narrow - wide) / 3.0;
        let scale = largest.max(1e-3 * point.volts[net].abs()).max(1e-3);
        let bend = (at(2e-4).unwrap() + at(-2e-4).unwrap() - 2.0 * point.volts[net]) / 2e-4;
        if (wide - narrow).abs() > 1e-4 * scale || bend.abs() > 0.01 * largest {
            count.at_corners += 1;
            continue;
        }
        count.compared += 1;
        // Volts behind milliohms multiply the last digit of the adjoint by thousands of amps.
        let spec = &specs[source.part.index()];
        let short_circuit = match (spec.number("volts"), spec.number("resistance")) {
            (Some(volts), Some(ohms)) if ohms > 0.0 => (volts / ohms).abs(),
            _ => 0.0,
        };
        let rounding = 4.0 * f64::EPSILON * short_circuit * steepest;
        let found = source.nominal * along;
        prop_assert!(
            (found - expected).abs() <= 1e-5 * scale + rounding,
            "net {}: {} of {:?}: {} expected {}, largest {}",
            net,
            source.parameter,
            specs[source.part.index()],
            found,
            expected,
            largest
        );
    }
    Ok(())
}

fn run(strategy: BoxedStrategy<Vec<Spec>>, cases: u32, seed: u64) {
    let count = std::cell::RefCell::new(Count::default());
    let mut runner = TestRunner::new(config(cases, seed));
    runner
        .run(&(strategy, faults(), 0_usize..100, 0_usize..100), |(specs, fault, number, net)| {
            compare(&specs, fault, number, net, &mut count.borrow_mut())
        })
        .unwrap();
    let count = count.into_inner();
    println!("{count:?}");
    assert!(count.compared > 20 * count.at_corners && count.compared > cases as usize, "{count:?}");
}

#[test]
fn adjoint_sensitivities_of_linear_networks() {
    run(strategies::linear(), 150, 1);
}

#[test]
fn adjoint_sensitivities_of_junctions() {
    run(strategies::junctions(), 150, 2);
}

#[test]
fn adjoint_sensitivities_of_nonlinear_networks() {
    run(strategies::passive(), 150, 3);
}

#[test]
fn adjoint_sensitivities_of_straight_lines() {
    run(strategies::straight_lines(), 150, 4);
}

/// A voltage divider by hand: out = V R2 / (R1 + R2).
#[test]
fn sensitivities_of_a_divider_by_hand() {
    let specs = [
        strategies::source("V1", ["IN", "GND"], 12.0),
        strategies::resistor("R1", ["IN", "OUT"], 2e3),
        strategies::resistor("R2", ["OUT", "GND"], 1e3),
    ]
    .map(|spec| spec.within(0.01));
    let circuit = circuit(&specs);
    let assembly = Assembly::new(&circuit);
    let network = assembly.network(POWERED, &Overlay::none());
    let point = network.solve(assembly.settings()).point.unwrap();
    let sensitivities = Sensitivities::new(&assembly, POWERED, &network, &point);
    let found = sensitivities.along(&point.adjoint(circuit.net("OUT").unwrap().index(), 0));
    let expected = [1.0 / 3.0, -12.0 * 1e3 / 9e6, 12.0 * 2e3 / 9e6];
    for (found, expected) in found.into_iter().zip(expected) {
        approx::assert_relative_eq!(found, expected, max_relative = 1e-8);
    }
    let Some(Param::Number(number)) = circuit.parts[1].param("value") else { panic!() };
    approx::assert_relative_eq!(number.nominal, 2e3);
}

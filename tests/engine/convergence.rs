//! Every random circuit settles: which strategies it takes is counted.
//!
//! All laws are continuous, and far out every one of them takes what it is given, so that each of
//! these circuits has an operating point. `Singular` and `NotSettled` are wrong answers here.

// The counts are what a reader of the test's output wants to see.
#![allow(clippy::print_stdout)]

use crate::strategies;
use std::collections::BTreeMap;

use crate::strategies::{Spec, circuit, config};
use ohmhound::circuit::{Overlay, POWERED};
use ohmhound::engine::{Assembly, Ending, Strategy as Way};
use proptest::strategy::{BoxedStrategy, Strategy, ValueTree};
use proptest::test_runner::TestRunner;

/// Solves random circuits; returns how often each strategy was needed.
fn count(what: &str, strategy: BoxedStrategy<Vec<Spec>>, cases: usize) -> BTreeMap<Way, usize> {
    let mut runner = TestRunner::new(config(1, 7));
    let mut found = BTreeMap::new();
    let mut steps = 0;
    for _ in 0..cases {
        let specs = strategy.new_tree(&mut runner).unwrap().current();
        let circuit = circuit(&specs);
        let run = Assembly::new(&circuit).solve(POWERED, &Overlay::none());
        let Ending::Converged { by, iterations } = run.ending else {
            panic!("{what}: {:?} for {specs:?}", run.ending);
        };
        let point = run.point.unwrap();
        assert!(point.kcl_share <= 1.0, "{what}: {} for {specs:?}", point.kcl_share);
        *found.entry(by).or_default() += 1;
        steps += iterations;
    }
    let words: Vec<_> = found.iter().map(|(by, times)| format!("{} {times}", by.words())).collect();
    println!("{what}, {cases} circuits, {steps} steps: {}", words.join(", "));
    found
}

fn share(counts: &BTreeMap<Way, usize>, way: Way) -> f64 {
    let all: usize = counts.values().sum();
    *counts.get(&way).unwrap_or(&0) as f64 / all as f64
}

#[test]
fn linear_networks_need_one_step() {
    let counts = count("linear", strategies::linear(), 1000);
    assert_eq!(counts.get(&Way::Newton), Some(&1000));
}

#[test]
fn junctions_settle() {
    let counts = count("junctions", strategies::junctions(), 1000);
    assert!(share(&counts, Way::Newton) > 0.95);
}

/// Where no current falls when its voltage rises, the line search is the last strategy needed.
#[test]
fn passive_circuits_settle() {
    let counts = count("passive", strategies::passive(), 1000);
    assert!(share(&counts, Way::Newton) > 0.7);
    assert!(counts.keys().all(|way| *way <= Way::LineSearch), "{counts:?}");
}

#[test]
fn straight_lines_settle() {
    let counts = count("straight lines", strategies::straight_lines(), 1000);
    assert!(share(&counts, Way::Newton) > 0.7);
    assert!(counts.keys().all(|way| *way <= Way::LineSearch), "{counts:?}");
}

/// Constant powers fed by constant currents are as stubborn as it gets.
#[test]
fn mixed_circuits_settle() {
    let counts = count("mixed", strategies::mixed(), 1000);
    assert!(share(&counts, Way::Newton) + share(&counts, Way::LineSearch) > 0.95);
}

//! Active circuits always end: every random board with regulators, transistors and chips comes to
//! an operating point or is found to keep switching, and so does every faulted one.
//!
//! What is solved is checked part by part: conditions agree with states, Kirchhoff's current law
//! and the balance of power hold. The tests by default run a share; the ignored ones run all.

// The counts are what a reader of the test's output wants to see.
#![allow(clippy::print_stdout)]

use crate::active;
use std::collections::BTreeMap;

use crate::active::{Dice, Draft, built, listed, shrunk};
use ohmhound::circuit::{Circuit, Overlay, POWERED};
use ohmhound::device::Law;
use ohmhound::engine::{Assembly, Element, Ending, PowerUp};
use ohmhound::fault::{Evidence, hypotheses};

/// How a run ended, in a word, or what is wrong with it.
fn verdict(assembly: &Assembly<'_>, overlay: &Overlay) -> Result<(&'static str, usize), String> {
    let up = assembly.power_up(POWERED, overlay, None);
    let conditions = assembly.watches(POWERED, &up.network).len();
    if conditions < 20 && up.steps.len() > 1 << conditions {
        return Err(format!("{} steps for {conditions} conditions", up.steps.len()));
    }
    match &up.run.ending {
        Ending::Converged { by, iterations } => {
            checked(assembly, &up)?;
            Ok((by.words(), *iterations))
        }
        Ending::Cycling { .. } => {
            let cycle = up.cycle.as_ref().ok_or("a cycle without its round")?;
            if cycle.parts.is_empty() || cycle.round.len() < 2 {
                return Err("a cycle of nothing".to_owned());
            }
            Ok(("cycling", 0))
        }
        other => Err(format!("{other:?}")),
    }
}

/// Each part's own conditions, Kirchhoff's current law and the balance of power.
fn checked(assembly: &Assembly<'_>, up: &PowerUp) -> Result<(), String> {
    let point = up.run.point.as_ref().ok_or("no point")?;
    for step in assembly.conditions(POWERED, &up.network, point) {
        if step.condition.holds(step.found, step.on) != step.on {
            return Err(format!("a condition that does not agree: {step:?}"));
        }
    }
    let mut sums = vec![0.0_f64; up.network.n_nets];
    let mut sizes = vec![0.0_f64; up.network.n_nets];
    for (element, amps) in up.network.elements.iter().zip(&point.amps) {
        sums[element.from] += amps;
        sums[element.to] -= amps;
        sizes[element.from] += amps.abs();
        sizes[element.to] += amps.abs();
    }
    // The engine knows how much rounding a steep law brings; without it a wide share must do.
    for net in 1..up.network.n_nets {
        if sums[net].abs() > 1e-6 * sizes[net] + 1e-9 {
            return Err(format!("net {net} has {} of {} amps left", sums[net], sizes[net]));
        }
    }
    if point.kcl_share.is_nan() || point.kcl_share > 1.0 {
        return Err(format!("share {}", point.kcl_share));
    }
    // A source of V volts behind R ohms gives V / R less another current of that size: rounding
    // leaves as much of the two as it leaves of the steepest slope times the volts.
    let rounding = |(element, volts): (&Element, f64)| {
        let siemens = match &element.law {
            Law::Line { siemens, .. } => *siemens,
            Law::Curve(curve) => curve.at(volts).siemens,
            _ => 0.0,
        };
        16.0 * f64::EPSILON * siemens * volts * volts
    };
    let elements = up.network.elements.iter();
    let rounding: f64 = elements.map(|e| (e, point.between(e.from, e.to))).map(rounding).sum();
    let allowed = 1e-9 * point.power_turnover + 1e-12 + rounding;
    if point.power_imbalance.abs() > allowed {
        let (imbalance, turnover) = (point.power_imbalance, point.power_turnover);
        return Err(format!("{imbalance} of {turnover} watts are missing"));
    }
    Ok(())
}

/// Counts of how runs ended, and what failed.
#[derive(Default)]
struct Tally {
    counts: BTreeMap<&'static str, usize>,
    steps: usize,
    runs: usize,
    failures: Vec<(u64, String)>,
}

impl Tally {
    fn add(&mut self, number: u64, verdict: Result<(&'static str, usize), String>) {
        self.runs += 1;
        match verdict {
            Ok((word, steps)) => {
                *self.counts.entry(word).or_default() += 1;
                self.steps += steps;
            }
            Err(what) => self.failures.push((number, what)),
        }
    }

    fn print(&self, what: &str) {
        let mean = self.steps as f64 / self.runs as f64;
        println!("{what}: {:?}, {mean:.1} Newton steps on average", self.counts);
        for (number, what) in &self.failures {
            println!("  {number}: {what}");
        }
    }
}

fn healthy(drafts: &[Draft]) -> Result<(&'static str, usize), String> {
    verdict(&Assembly::new(&built(drafts)), &Overlay::none())
}

/// Runs the random active circuits with these numbers.
fn active_circuits(numbers: std::ops::Range<u64>) {
    let mut tally = Tally::default();
    for number in numbers {
        tally.add(number, healthy(&active::active(number, 60)));
    }
    tally.print("active circuits");
    // The smallest circuit that still fails is worth more than the first one.
    let smallest = tally
        .failures
        .iter()
        .take(12)
        .map(|(number, _)| shrunk(&active::active(*number, 60), |less| healthy(less).is_err()))
        .min_by_key(Vec::len);
    if let Some(smallest) = smallest {
        let n = tally.failures.len();
        panic!("{n} of {} fail; {:?}\n{}", tally.runs, healthy(&smallest), listed(&smallest));
    }
}

#[test]
fn active_circuits_end() {
    active_circuits(0..24);
}

#[test]
#[ignore = "all of them take long"]
fn all_active_circuits_end() {
    active_circuits(0..2000);
}

/// A random hypothesis at a random place of its line, over the small circuit with that number.
fn faulted(number: u64) -> (Vec<Draft>, Overlay, String) {
    let drafts = active::small(number);
    let circuit = built(&drafts);
    let mut dice = Dice::new(number ^ 0xfa17);
    let all = hypotheses(&circuit, &Evidence::default());
    let chosen = dice.one(&all);
    let place = chosen.curve.map_or(0.0, |curve| dice.between(curve.low, curve.high));
    let name = format!("{} at {}", chosen.name(&circuit), place.exp());
    (drafts, chosen.overlay(place), name)
}

fn faulted_circuits(numbers: std::ops::Range<u64>) {
    let mut tally = Tally::default();
    for number in numbers {
        let (drafts, overlay, name) = faulted(number);
        let verdict = verdict(&Assembly::new(&built(&drafts)), &overlay);
        tally.add(number, verdict.map_err(|what| format!("{what}: {name}\n{}", listed(&drafts))));
    }
    tally.print("faulted circuits");
    assert!(tally.failures.is_empty(), "{} of {} fail", tally.failures.len(), tally.runs);
}

#[test]
fn faulted_circuits_end() {
    faulted_circuits(0..2000);
}

#[test]
#[ignore = "all of them take a while"]
fn all_faulted_circuits_end() {
    faulted_circuits(0..10_000);
}

/// Volts of the nets by name, of a board with one state to power up in.
fn by_name(circuit: &Circuit) -> Option<BTreeMap<String, f64>> {
    let assembly = Assembly::new(circuit);
    let (up, all) = assembly.all_states(POWERED, &Overlay::none());
    let point = up.run.point?;
    (all.len() == 1).then(|| {
        circuit
            .nets_by_id()
            .filter(|(id, _)| !point.floating[id.index()])
            .map(|(id, name)| (name.to_owned(), point.volts[id.index()]))
            .collect()
    })
}

/// Neither the order of the parts nor one that touches nothing changes a volt.
#[test]
fn order_and_bystanders_change_nothing() {
    let mut compared = 0;
    for number in 0..100 {
        let drafts = active::active(number, 14);
        let Some(volts) = by_name(&built(&drafts)) else { continue };
        let mut shuffled = drafts.clone();
        Dice::new(number).shuffle(&mut shuffled);
        let mut more = drafts.clone();
        let bystander = Draft::two("resistor", "ALONE", "GND").with("value", 1e3);
        more.push(bystander.named("R999"));
        for other in [shuffled, more] {
            let other = built(&other);
            let point = Assembly::new(&other).power_up(POWERED, &Overlay::none(), None).run.point;
            let point = point.unwrap_or_else(|| panic!("{number} does not settle"));
            for (name, volts) in &volts {
                let found = point.volts[other.net(name).unwrap().index()];
                let near = (found - volts).abs() <= 1e-6 * (1.0 + volts.abs());
                assert!(near, "{number}: {name} {volts} {found}\n{}", listed(&drafts));
            }
        }
        compared += 1;
    }
    println!("{compared} boards compared");
    assert!(compared > 50, "{compared}");
}

fn run(drafts: &[Draft]) -> (Circuit, PowerUp) {
    let circuit = built(drafts);
    let up = Assembly::new(&circuit).power_up(POWERED, &Overlay::none(), None);
    (circuit, up)
}

fn feed(volts: f64) -> Draft {
    Draft::two("supply", "VIN", "GND").with("volts", volts).with("resistance", 0.05).named("J1")
}

fn ohms(name: &str, from: &str, to: &str, ohms: f64) -> Draft {
    Draft::two("resistor", from, to).with("value", ohms).named(name)
}

/// The board keeps switching, within the bound; the names of the parts and the range of a net.
fn switching(drafts: &[Draft], net: &str) -> (Vec<String>, (f64, f64)) {
    let (circuit, up) = run(drafts);
    assert_eq!(up.run.ending, Ending::Cycling { exhaustive: true });
    let conditions = Assembly::new(&circuit).watches(POWERED, &up.network).len();
    assert!(up.steps.len() <= 1 << conditions, "{} steps", up.steps.len());
    let cycle = up.cycle.expect("a round");
    assert!(cycle.exhaustive && cycle.round.len() >= 2);
    let names = cycle.parts.iter().map(|part| circuit[*part].name.clone()).collect();
    (names, cycle.ranges[circuit.net(net).unwrap().index()])
}

/// A regulator of 5 V whose output turns a transistor on that pulls its own enable low.
#[test]
fn an_enable_that_the_output_pulls_low_keeps_switching() {
    let pins = [("input", "VIN"), ("output", "OUT"), ("ground", "GND"), ("enable", "EN")];
    let drafts = [
        feed(12.0),
        Draft::new("ldo", &pins)
            .with("output_volts", 5.0)
            .with("enable_threshold", 1.2)
            .named("U1"),
        ohms("R1", "VIN", "EN", 10e3),
        ohms("R2", "OUT", "B", 10e3),
        ohms("R3", "OUT", "GND", 1e3),
        Draft::new("npn", &[("collector", "EN"), ("base", "B"), ("emitter", "GND")])
            .with("gain", 150.0)
            .named("Q1"),
    ];
    let (parts, out) = switching(&drafts, "OUT");
    assert_eq!(parts, ["U1"]);
    assert!(out.0.abs() < 0.01 && (out.1 - 5.0).abs() < 1e-3, "{out:?}");
    let (_, enable) = switching(&drafts, "EN");
    assert!(enable.0 < 0.2 && enable.1 > 11.9, "{enable:?}");
}

/// A supervisor whose output, let go, turns on the transistor that shorts its own supply.
#[test]
fn a_supervisor_that_takes_its_own_supply_away_keeps_switching() {
    let pins = [("sense", "RAIL"), ("output", "RUN"), ("supply", "VIN"), ("ground", "GND")];
    let drafts = [
        feed(5.0),
        ohms("R1", "VIN", "RAIL", 1e3),
        ohms("R2", "VIN", "RUN", 10e3),
        Draft::new("supervisor", &pins).with("threshold", 3.0).with("hysteresis", 0.1).named("U1"),
        Draft::new("nmos", &[("gate", "RUN"), ("drain", "RAIL"), ("source", "GND")])
            .with("threshold", 1.5)
            .at("on_resistance", 0.1, 4.5)
            .named("Q1"),
    ];
    let (parts, rail) = switching(&drafts, "RAIL");
    assert_eq!(parts, ["U1"]);
    assert!(rail.0 < 0.01 && (rail.1 - 5.0).abs() < 0.01, "{rail:?}");
}

/// An enable fed from its own output: off after power-up, and on is stable too.
#[test]
fn an_enable_fed_by_its_own_output_has_two_states() {
    let pins = [("input", "VIN"), ("output", "OUT"), ("ground", "GND"), ("enable", "OUT")];
    let drafts = [
        feed(12.0),
        Draft::new("ldo", &pins)
            .with("output_volts", 5.0)
            .with("enable_threshold", 1.2)
            .named("U1"),
        ohms("R1", "OUT", "GND", 1e3),
    ];
    let circuit = built(&drafts);
    let (up, all) = Assembly::new(&circuit).all_states(POWERED, &Overlay::none());
    let out = circuit.net("OUT").unwrap().index();
    assert!(up.steps.is_empty());
    let volts: Vec<f64> = all.iter().map(|state| state.point.volts[out]).collect();
    assert!(all.iter().all(|state| state.stable), "{volts:?}");
    assert_eq!(volts.len(), 2, "{volts:?}");
    assert!(volts[0].abs() < 0.01 && (volts[1] - 5.0).abs() < 1e-3, "{volts:?}");
}

/// A follower without a load, between high rails: what it holds its inputs to is the last digit
/// of their volts, and Kirchhoff's current law cannot be asked to know better.
#[test]
fn an_unloaded_follower_of_high_gain_settles() {
    for gain in [3e4, 1e5, 1e6] {
        for volts in [1.0, 2.5, 5.0, 14.87, 28.0] {
            for feedback in [10.0, 1e3, 1e5] {
                let pins = [("plus", "P"), ("minus", "M"), ("output", "O"), ("supply", "VIN")];
                let pins = [&pins[..], &[("ground", "GND")]].concat();
                let source = Draft::two("supply", "P", "GND").with("volts", volts).named("J2");
                let drafts = [
                    feed(31.8),
                    source.with("resistance", 0.02),
                    Draft::new("opamp", &pins).with("gain", gain).named("U1"),
                    ohms("R1", "O", "M", feedback),
                ];
                let (circuit, up) = run(&drafts);
                let point = up.run.point.unwrap_or_else(|| panic!("{gain} {volts} {feedback}"));
                let out = point.volts[circuit.net("O").unwrap().index()];
                // Half the supply less what it stands at is made by the gain.
                assert!((out - volts).abs() < 16.0 / gain + 1e-3, "{volts} {out}");
            }
        }
    }
}

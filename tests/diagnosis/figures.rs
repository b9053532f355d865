//! Figures of whole diagnoses, kept as golden texts: what was told of a board with a hidden fault stays
//! told. Whether it is right is held elsewhere, against books, exact posteriors and other libraries;
//! here any change of a figure is seen, wanted or not, on every demo board.
//!
//! Read the difference before it is accepted: `INSTA_UPDATE=always cargo test --test diagnosis figures`.

use std::fmt::Write;

use ohmhound::circuit::{Circuit, Meter, Overlay, POWERED, Place, Quantity, SetupId, UNPOWERED};
use ohmhound::diagnosis::{Candidate, Diagnosis, Job, Verdict, diagnose_job};
use ohmhound::engine::Assembly;
use ohmhound::fault::{Evidence, Hypothesis, hypotheses};
use ohmhound::plan::measurements;

use crate::bench;
use crate::chance::{Chance, Draw, laid, place, read, shown, tolerances};

/// Candidates with less than this share are told by their sums only.
const TOLD: f64 = 1e-3;
/// The chain from fault to symptom is told of those with more than this.
const LIKELY: f64 = 0.2;
/// A distance is told up to here: what lies further off is off.
const FAR: f64 = 1e4;
/// Pairs that are told.
const PAIRS: usize = 5;

/// Some of all that can be measured, volts mostly, in the order of the board.
fn places(circuit: &Circuit, chance: &mut Chance) -> Vec<(SetupId, Quantity, Place)> {
    let all = measurements(circuit, &[], &[]);
    let chosen = all.iter().map(|one| one.probe).filter(|probe| {
        let share = match probe.quantity {
            Quantity::Volts => 0.4,
            Quantity::Ohms => 0.1,
            _ => 0.02,
        };
        [POWERED, UNPOWERED].contains(&probe.setup) && chance.share() < share
    });
    chosen.map(|probe| (probe.setup, probe.quantity, probe.place)).take(9).collect()
}

fn told(circuit: &Circuit, one: &Candidate) -> String {
    let number = |value: Option<f64>| value.map_or("-".to_owned(), |value| format!("{value:.3e}"));
    let exactly = if one.fitted_exactly { " exactly" } else { "" };
    let state = if one.other_state { " in another state" } else { "" };
    let shares: Vec<String> = one.cause_shares.iter().map(|share| format!("{share:.3}")).collect();
    let mut text = format!(
        "  {:.4} {:?} {} = {} [{} .. {}] at {:.4}{exactly}{state} of {} worst {:.2} group {:?} \
         stretches {} causes {}\n",
        one.probability,
        one.verdict,
        one.fault.with_value(None).phrase(circuit),
        number(one.value),
        number(one.value_low),
        number(one.value_high),
        one.distance,
        one.freedom,
        one.worst_sigma,
        one.group,
        one.values.len(),
        shares.join(" "),
    );
    if one.probability > LIKELY {
        one.chain.iter().for_each(|step| text += &format!("    {step}\n"));
    }
    text
}

fn figures(circuit: &Circuit, diagnosis: &Diagnosis) -> String {
    let mut text = String::new();
    for one in &diagnosis.readings {
        let expected = one.expected.unwrap_or(f64::NAN);
        let _ = writeln!(
            text,
            "  expected {expected:.4e} ± {:.2e}, off {:.3}",
            one.expected_u, one.off
        );
    }
    let _ = writeln!(
        text,
        "  healthy {:?} {:.4}, other {:.4}, of {}",
        diagnosis.healthy_verdict,
        diagnosis.healthy_probability,
        diagnosis.other_probability,
        diagnosis.faults_tried,
    );
    for one in diagnosis.candidates.iter().filter(|one| one.probability > TOLD) {
        text += &told(circuit, one);
    }
    let count = |wanted| diagnosis.candidates.iter().filter(|one| one.verdict == wanted).count();
    let [fit, strained, excluded] =
        [Verdict::Reproduces, Verdict::Strained, Verdict::Excluded].map(count);
    let near = diagnosis.candidates.iter().map(|one| one.distance.min(FAR));
    let _ = writeln!(
        text,
        "  {fit} fit, {strained} strained, {excluded} excluded, {} without a point; distances {:.6e}",
        diagnosis.no_point.len(),
        near.sum::<f64>(),
    );
    // What rules the others out, and how far off the meter would be there.
    for (number, reading) in diagnosis.readings.iter().enumerate() {
        let by = diagnosis.candidates.iter().filter_map(|one| one.ruled_out_by);
        let here: Vec<f64> =
            by.filter(|by| by.reading == number).map(|by| by.predicted.min(FAR)).collect();
        if !here.is_empty() {
            let expected = reading.expected.unwrap_or(f64::NAN);
            let sum: f64 = here.iter().sum();
            let _ = writeln!(
                text,
                "  {number} rules out {} with {sum:.5e} where {expected:.4e} is healthy",
                here.len()
            );
        }
    }
    for one in &diagnosis.remarks {
        let _ = writeln!(text, "  {one:?}");
    }
    for one in &diagnosis.without {
        let (reading, share) = (one.reading, one.share);
        let _ = writeln!(text, "  without {reading}: {share:.4}, predicted {:.4e}", one.predicted);
    }
    for one in diagnosis.pairs.iter().take(PAIRS) {
        let (share, distance, group) = (one.share, one.distance, one.group);
        let phrases = one.faults.map(|fault| fault.with_value(None).phrase(circuit)).join(" and ");
        let _ = writeln!(text, "  pair {phrases} {share:.4} at {distance:.4} group {group}");
    }
    text
}

/// Diagnoses of boards that were drawn, each with a hidden fault that was drawn too; every fourth has
/// two of them.
fn of_board(name: &str, seeds: u64) -> String {
    let circuit = bench::demo(name);
    let assembly = Assembly::new(&circuit);
    let list = hypotheses(&circuit, &Evidence::default());
    let mut text = String::new();
    for seed in 0..seeds {
        let mut chance = Chance::new(seed);
        let mut pick = || {
            let hidden = &list[chance.pick(list.iter().map(Hypothesis::weight))];
            (hidden, hidden.overlay(place(hidden, &mut chance)))
        };
        let mut hidden = vec![pick()];
        if seed % 4 == 3 {
            hidden.push(pick());
        }
        let phrases = hidden.iter().map(|(one, _)| one.causes[0].fault.phrase(&circuit));
        let phrases = phrases.collect::<Vec<_>>().join(" and ");
        let changes = hidden.iter().flat_map(|(_, overlay)| overlay.changes.clone()).collect();
        let drawn = tolerances(&assembly, &mut chance, Draw::Normal);
        let places = places(&circuit, &mut chance);
        let board = laid(drawn, &Overlay { changes });
        let meter = Meter::default();
        let Ok(values) = shown(&assembly, &board, &places, &meter) else {
            let _ = writeln!(text, "{seed} {phrases}: no point");
            continue;
        };
        let readings = read(&values, &places, meter, &mut chance, Draw::Normal);
        let diagnosis = diagnose_job(&assembly, &Job { readings: &readings, ..Job::default() });
        let _ = writeln!(text, "{seed} {phrases}, {} readings", readings.len());
        text += &figures(&circuit, &diagnosis);
    }
    text
}

/// A test for each board, with so many diagnoses.
macro_rules! boards {
    ($($test:ident: $name:literal, $seeds:literal;)*) => {
        $(#[test]
        fn $test() {
            insta::assert_snapshot!(of_board($name, $seeds));
        })*
    };
}

boards! {
    cold_store: "cold-store", 1;
    fence_loop: "fence-loop", 8;
    gate_supply: "gate-supply", 8;
    leaf_bridge: "leaf-bridge", 8;
    load_switch: "load-switch", 4;
    packing_shed: "packing-shed", 4;
    pump_controller: "pump-controller", 4;
    pump_lamp: "pump-lamp", 8;
    relay_driver: "relay-driver", 8;
    sensor_battery: "sensor-battery", 8;
    soil_amplifier: "soil-amplifier", 8;
    soil_probe: "soil-probe", 8;
    standby_supply: "standby-supply", 6;
}

/// No board is left out.
#[test]
fn every_board_has_its_figures() {
    let text = include_str!("figures.rs");
    let absent = |name: &String| !text.contains(&format!("\"{name}\", "));
    let absent: Vec<String> = bench::names().into_iter().filter(absent).collect();
    assert!(absent.is_empty(), "no figures of {absent:?}");
}

//! Quizzes: a hidden fault is found by the planned way, equal faults are accepted, marks never punish
//! a shorter way, predictions and sheets.

mod bench;

use ohmhound::circuit::{
    Circuit, NetId, Observed, POWERED, Place, Quantity, Reading, Spot, UNPOWERED,
};
use ohmhound::diagnosis::{Job, Pairs, Probe, diagnose_job};
use ohmhound::engine::Assembly;
use ohmhound::fault::Fault;
use ohmhound::plan::{Advice, Planner, measurements, standing_in};
use ohmhound::quantity::{Unit, parse_reading};
use ohmhound::report::{Style, hint_text};
use ohmhound::study::{
    Digits, Hint, Judgement, Match, Performance, Prediction, Quiz, Reply, points, sheets,
};

/// Boards that are played on here; the larger ones take longer than a test should.
const BOARDS: [&str; 6] =
    ["soil-probe", "gate-supply", "leaf-bridge", "fence-loop", "pump-lamp", "relay-driver"];

/// Plays the planned way as a student would: the same readings, then the first of what is left.
fn play_as_planned(quiz: &Quiz<'_>) -> (Judgement, f64, f64) {
    let circuit = quiz.circuit();
    let mut play = quiz.play();
    for step in &quiz.way().steps {
        match play.measure(step.probe()) {
            Reply::Read { taken, .. } => assert_eq!(taken.reading, step.reading),
            other => panic!("{other:?}"),
        }
    }
    assert!((play.effort() - quiz.way().effort).abs() < 1e-9, "{}", play.effort());
    // The repairs in the order of the plan, each with the faults that it would mend.
    for repair in &quiz.way().repairs {
        for phrase in &repair.faults {
            let hidden = quiz.hidden().fault;
            let fault = named(circuit, phrase, &hidden);
            if play.guess(fault).is_right() {
                let last = play.guesses().last().unwrap().judged;
                return (last, play.marking().points.total, play.effort());
            }
        }
    }
    let told = quiz.hidden().fault.full_phrase(circuit);
    panic!("seed {}: {told} is not among {:?}", quiz.seed(), quiz.way().repairs);
}

/// The fault of a phrase; the hidden one where the phrase needs a value.
fn named(circuit: &Circuit, phrase: &str, hidden: &Fault) -> Fault {
    if hidden.phrase(circuit) == phrase {
        return hidden.with_value(None);
    }
    let list = ohmhound::fault::hypotheses(circuit, &ohmhound::fault::Evidence::default());
    let mut causes = list.iter().flat_map(|one| &one.causes);
    let found = causes.find(|cause| cause.fault.phrase(circuit) == phrase);
    found.unwrap_or_else(|| panic!("{phrase}")).fault.with_value(None)
}

/// Every board, every level, many seeds: what is hidden is found by the planned way, and a student
/// who goes it gets the points for the way in full.
fn found(boards: &[&str], seeds: std::ops::Range<u64>) {
    for name in boards {
        let circuit = bench::demo(name);
        let assembly = Assembly::new(&circuit);
        for level in 1..=3 {
            let mut faults = std::collections::BTreeSet::new();
            for seed in seeds.clone() {
                let quiz = Quiz::new(&assembly, seed, level);
                let quiz = quiz.unwrap_or_else(|| panic!("{name} level {level} seed {seed}"));
                let fault = quiz.hidden().fault.full_phrase(&circuit);
                let (judged, total, _) = play_as_planned(&quiz);
                assert!(judged.is_right(), "{name} seed {seed}: {fault}");
                let wrong = (100.0 - total) / 10.0;
                assert!(wrong.fract() == 0.0, "{name} seed {seed}: only guesses cost: {total}");
                faults.insert(fault);
            }
            let n = (seeds.end - seeds.start) as usize;
            assert!(
                2 * faults.len() > n.min(8),
                "{name} level {level}: always the same {faults:?}"
            );
        }
    }
}

#[test]
fn what_is_hidden_is_found_by_the_planned_way() {
    found(&BOARDS, 0..6);
}

#[test]
#[ignore = "every demo board and many seeds"]
fn what_is_hidden_is_found_on_every_board() {
    let names = bench::names();
    let names: Vec<&str> = names.iter().map(String::as_str).collect();
    found(&names, 0..25);
}

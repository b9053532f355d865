//! Guided sessions on demo boards, played by a script that holds a hidden fault: a few seeds here,
//! thousands in the bench of the same name.

#[path = "../bench/mod.rs"]
mod bench;
#[path = "../chance/mod.rs"]
mod chance;
mod play;

use chance::Chance;
use ohmhound::circuit::{Meter, POWERED};
use ohmhound::diagnosis::{Job, Pairs, diagnose_job};
use ohmhound::engine::Assembly;
use ohmhound::plan::Planner;
use play::{CLAIM, Table, Way, too_many_wrong};

/// Plays sessions: probes and effort in the mean, endings that claim to be sure, those of them that
/// are wrong.
fn sessions(name: &str, seeds: u64, way: Way) -> (f64, f64, usize, Vec<String>) {
    let circuit = bench::demo(name);
    let assembly = Assembly::new(&circuit);
    let table = Table::new(&assembly);
    let (mut probes, mut effort, mut played) = (0, 0.0, 0.0);
    let (mut claims, mut wrong) = (0, Vec::new());
    for seed in 0..seeds {
        let mut chance = Chance::new(seed);
        let hidden = table.hidden(&mut chance);
        let Some(ending) = table.play(hidden, way, &mut chance) else { continue };
        assert!(ending.probes < play::MOST, "seed {seed} does not end: {}", ending.told);
        probes += ending.probes;
        effort += ending.effort;
        played += 1.0;
        if ending.claim >= CLAIM {
            claims += 1;
            if !ending.is_right {
                wrong.push(format!("seed {seed}: {}", ending.told));
            }
        }
    }
    (probes as f64 / played, effort / played, claims, wrong)
}

#[track_caller]
fn check(name: &str, seeds: u64) {
    let (probes, effort, claims, wrong) = sessions(name, seeds, Way::Planned);
    assert!(!too_many_wrong(wrong.len(), claims, CLAIM), "{} of {claims}: {wrong:?}", wrong.len());
    let (random, random_effort, ..) = sessions(name, seeds, Way::Random);
    let (chain, chain_effort, ..) = sessions(name, seeds, Way::Chain);
    assert!(
        probes < random && probes < chain,
        "{probes} probes, {random} at random, {chain} along"
    );
    assert!(
        effort < random_effort && effort < chain_effort,
        "{effort} {random_effort} {chain_effort}"
    );
}

#[test]
fn soil_probe() {
    check("soil-probe", 25);
}

/// Probing at random takes a diagnosis of dozens of readings: the bench has the figures.
#[test]
fn gate_supply() {
    let (probes, _, claims, wrong) = sessions("gate-supply", 20, Way::Planned);
    assert!(!too_many_wrong(wrong.len(), claims, CLAIM), "{} of {claims}: {wrong:?}", wrong.len());
    assert!(probes < 20.0, "{probes} probes in the mean");
}

/// What a planner asks that predicted volts alone at first is what it asks when it predicts all.
#[test]
fn a_quick_question_is_the_best_one() {
    for name in ["soil-amplifier", "standby-supply", "gate-supply", "fence-loop"] {
        let circuit = bench::demo(name);
        let assembly = Assembly::new(&circuit);
        let meter = Meter::default();
        let diagnosis = diagnose_job(&assembly, &Job { pairs: Pairs::Never, ..Job::default() });
        let best = |planner: Planner| {
            let best = planner.proposals(POWERED).into_iter().next().expect("a measurement");
            (best.measurement, best.bits, best.effort)
        };
        let quick = best(Planner::quick(&assembly, &[], &diagnosis, &meter));
        let full = best(Planner::new(&assembly, &[], &diagnosis, &meter));
        assert_eq!(quick, full, "{name}");
    }
}

#[test]
fn the_binomial_test_knows_its_tables() {
    // P(X ≥ 1) of a hundred at one in a hundred is 0.634, P(X ≥ 5) is 0.0034 (by the binomial
    // series, worked out by hand).
    assert!(!too_many_wrong(0, 100, 0.99) && !too_many_wrong(1, 100, 0.99));
    assert!(!too_many_wrong(4, 100, 0.99) && too_many_wrong(5, 100, 0.99));
}

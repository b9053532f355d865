//! Guided sessions on demo boards, played by a script that holds a hidden fault: a few seeds here,
//! thousands in the bench of the same name.

#[path = "../bench/mod.rs"]
mod bench;
#[path = "../chance/mod.rs"]
mod chance;
mod play;

use std::collections::{BTreeMap, HashMap};

use chance::Chance;
use ohmhound::circuit::{Meter, POWERED};
use ohmhound::diagnosis::{Job, Pairs, diagnose_job};
use ohmhound::engine::Assembly;
use ohmhound::plan::{Planner, Policy, Problem};
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

/// What a diagnosis of some of the readings ruled out makes no difference to the next one; nor does
/// what is remembered of boards; nor that little shares get no second look while there are many, but
/// for a few percent, and for no claim.
#[test]
fn what_was_ruled_out_before_is_ruled_out_again() {
    for (name, seeds) in [("gate-supply", 8), ("standby-supply", 3), ("load-switch", 2)] {
        let circuit = bench::demo(name);
        let assembly = Assembly::new(&circuit);
        let table = Table::new(&assembly);
        for seed in 0..seeds {
            let mut chance = Chance::new(seed);
            let hidden = table.hidden(&mut chance);
            table.watched(hidden, Way::Planned, &mut chance, &mut |readings, quick| {
                let job = Job { readings, pairs: Pairs::Never, ..Job::default() };
                let whole = diagnose_job(&assembly, &job);
                let at = format!("{name} seed {seed} after {}", readings.len());
                let best = whole.candidates.iter().map(|one| one.probability).fold(0.0, f64::max);
                let likely = best * (-7.0_f64).exp();
                let n_likely =
                    whole.candidates.iter().filter(|one| one.probability > likely).count();
                let is_brief = n_likely > 25;
                assert!(!is_brief || best < 0.9, "{at}: a claim of {best} is looked into");
                let close = if is_brief { 0.05 } else { 1e-6 };
                let apart = (quick.healthy_probability - whole.healthy_probability).abs();
                assert!(apart < close, "{at}: healthy {apart}");
                assert_eq!(quick.nothing_fits, whole.nothing_fits, "{at}");
                for one in &whole.candidates {
                    let same = quick.candidates.iter().find(|two| two.hypothesis == one.hypothesis);
                    let two = same.expect("every candidate stays one");
                    let phrase = one.fault.phrase(&circuit);
                    assert!(
                        (one.probability - two.probability).abs() < close,
                        "{at}: {phrase} {} {}",
                        one.probability,
                        two.probability
                    );
                    // What has no weight left may be called strained by one: it meets the readings
                    // on a straight line that goes on past what was traced.
                    assert!(
                        one.verdict == two.verdict || one.probability < 1e-12 || is_brief,
                        "{at}: {phrase} {} {}",
                        one.distance,
                        two.distance
                    );
                }
            });
        }
    }
}

/// What is thought while the script measures changes no question and no ending.
#[test]
fn thinking_ahead_changes_nothing_but_the_time() {
    for (name, seeds) in [("gate-supply", 4), ("standby-supply", 2)] {
        let circuit = bench::demo(name);
        let assembly = Assembly::new(&circuit);
        for seed in 0..seeds {
            let ending = |thinks_ahead: bool| {
                let mut table = Table::new(&assembly);
                table.thinks_ahead = thinks_ahead;
                let mut chance = Chance::new(seed);
                let hidden = table.hidden(&mut chance);
                let ending = table.play(hidden, Way::Planned, &mut chance)?;
                Some((ending.probes, ending.effort, ending.told))
            };
            assert_eq!(ending(true), ending(false), "{name} seed {seed}");
        }
    }
}

/// What the readings put far off has no weight, whatever states it may stay in.
#[test]
fn what_is_far_off_weighs_nothing() {
    for (name, seed) in [("soil-amplifier", 9), ("soil-amplifier", 76), ("gate-supply", 3)] {
        let circuit = bench::demo(name);
        let assembly = Assembly::new(&circuit);
        let table = Table::new(&assembly);
        let mut chance = Chance::new(seed);
        let hidden = table.hidden(&mut chance);
        table.watched(hidden, Way::Planned, &mut chance, &mut |_, diagnosis| {
            let distances = diagnosis.candidates.iter().map(|one| one.distance);
            let least = distances.fold(f64::INFINITY, f64::min);
            for one in diagnosis.candidates.iter().filter(|one| one.distance > least + 200.0) {
                let phrase = one.fault.phrase(&circuit);
                assert!(one.probability < 1e-9, "{name} seed {seed}: {phrase} {}", one.probability);
            }
        });
    }
}

/// The least expected effort of a decision tree, by trying every test everywhere: written without
/// the planner. `None` where there are too many sets.
fn exhaustive(
    problem: &Problem,
    (set, live): (u64, bool),
    known: &mut HashMap<(u64, bool), f64>,
) -> Option<f64> {
    if let Some(&effort) = known.get(&(set, live)) {
        return Some(effort);
    }
    if known.len() > 20_000 {
        return None;
    }
    let inside: Vec<usize> = (0..problem.points.len()).filter(|at| set >> at & 1 == 1).collect();
    let weight = |set: u64| -> f64 {
        inside.iter().filter(|at| set >> **at & 1 == 1).map(|&at| problem.points[at].weight).sum()
    };
    let class = |at: usize| problem.points[at].class;
    let differ = |a: usize, b: usize| {
        class(a) != class(b) && problem.tests.iter().any(|test| test.cells[a] != test.cells[b])
    };
    let told_apart = inside.iter().any(|&a| inside.iter().any(|&b| differ(a, b)));
    let mut best = f64::INFINITY;
    for test in problem.tests.iter().filter(|_| told_apart) {
        let mut cells: BTreeMap<u16, u64> = BTreeMap::new();
        for &at in &inside {
            *cells.entry(test.cells[at]).or_default() |= 1 << at;
        }
        if cells.len() < 2 {
            continue;
        }
        let switch =
            if test.live == live { 0.0 } else { problem.switching[usize::from(test.live)] };
        let mut effort = test.effort + switch;
        for cell in cells.into_values() {
            effort += weight(cell) / weight(set) * exhaustive(problem, (cell, test.live), known)?;
        }
        best = best.min(effort);
    }
    let effort = if best.is_finite() { best } else { 0.0 };
    known.insert((set, live), effort);
    Some(effort)
}

/// With a few classes left, the plan costs what the best decision tree costs: here by an exhaustive
/// search of its own; the bench `planning` has more boards and more seeds.
#[test]
fn the_plan_costs_what_the_best_tree_costs() {
    let (mut count, mut sum, mut worst) = (0, 0.0, 0.0_f64);
    for name in ["soil-probe", "leaf-bridge", "fence-loop", "gate-supply"] {
        let circuit = bench::demo(name);
        let assembly = Assembly::new(&circuit);
        let table = Table::new(&assembly);
        for seed in 0..4 {
            let mut chance = Chance::new(seed);
            let hidden = table.hidden(&mut chance);
            for (problem, live) in table.problems(hidden, &mut chance) {
                if problem.points.len() > 12 {
                    continue;
                }
                let all = problem.all();
                let Some(least) = exhaustive(&problem, (all, live), &mut HashMap::new()) else {
                    continue;
                };
                if least <= 0.0 {
                    continue;
                }
                let ratio = problem.expected(all, live, Policy::Planned) / least;
                assert!(ratio > 1.0 - 1e-9, "{name} seed {seed}: cheaper than the best, {ratio}");
                (count, sum, worst) = (count + 1, sum + ratio, worst.max(ratio));
            }
        }
    }
    assert!(count >= 10, "only {count} problems are small enough");
    assert!(sum / f64::from(count) <= 1.02 && worst <= 1.10, "{} {worst}", sum / f64::from(count));
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

//! What a plan costs beside the best there is: on random tables, and on the demo boards after the
//! first readings of guided sessions.
//!
//! Arguments: `tables=1000`, `boards=soil-probe,gate-supply`, `seeds=20`.
//!
//! Ratios are to the least expected effort, by exhaustive search of the whole decision tree: their
//! mean, and the worst. The floor is what information theory allows: the entropy of the place of
//! repair over what the most telling test can say, times the cheapest effort.
#![allow(clippy::print_stdout)]

#[path = "../tests/bench/mod.rs"]
mod bench;
#[path = "../tests/chance/mod.rs"]
mod chance;
#[path = "../tests/guided/play.rs"]
mod play;

use chance::Chance;
use ohmhound::engine::Assembly;
use ohmhound::plan::{Point, Policy, Problem, Test};
use play::Table;

const BOARDS: &str = "soil-probe,leaf-bridge,fence-loop,sensor-battery,gate-supply,pump-lamp,\
                      standby-supply,soil-amplifier,relay-driver,load-switch,pump-controller,\
                      packing-shed";
/// Sets that the exhaustive search may look into; what is larger is counted as left out.
const EXHAUSTIVE: usize = 400_000;
/// With more classes than this nobody finds the optimum.
const MOST_CLASSES: usize = 16;

/// Ratios to the optimum.
#[derive(Default)]
struct Ratios {
    count: usize,
    left_out: usize,
    classes: usize,
    /// Planned, one-step information, at random, in order, the floor.
    sums: [f64; 5],
    worst: [f64; 5],
}

impl Ratios {
    fn take(&mut self, problem: &Problem, live: bool, chance: &mut Chance) {
        let all = problem.all();
        let classes = classes(problem);
        if !(2..=MOST_CLASSES).contains(&classes) {
            return;
        }
        let step = problem.optimum(all, live, EXHAUSTIVE);
        if !step.is_optimal || step.effort <= 0.0 {
            self.left_out += usize::from(!step.is_optimal);
            return;
        }
        let walks = 20;
        let random: f64 =
            (0..walks).map(|_| problem.random_walks(live, &mut || chance.share())).sum();
        let efforts = [
            problem.expected(all, live, Policy::Planned),
            problem.expected(all, live, Policy::Gain),
            random / f64::from(walks),
            problem.expected(all, live, Policy::InOrder),
            floor(problem),
        ];
        self.count += 1;
        self.classes += classes;
        for (at, effort) in efforts.into_iter().enumerate() {
            let ratio = effort / step.effort;
            self.sums[at] += ratio;
            self.worst[at] = self.worst[at].max(ratio);
        }
    }

    fn row(&self, name: &str) {
        let n = self.count.max(1) as f64;
        print!("| {name} | {} | {:.1} |", self.count, self.classes as f64 / n);
        for at in 0..4 {
            print!(" {:.3} (worst {:.2}) |", self.sums[at] / n, self.worst[at]);
        }
        println!(" {:.2} | {} |", self.sums[4] / n, self.left_out);
    }
}

fn classes(problem: &Problem) -> usize {
    let mut classes: Vec<usize> = problem.points.iter().map(|point| point.class).collect();
    classes.sort_unstable();
    classes.dedup();
    classes.len()
}

/// The Shannon floor. Classes that no test tells apart make it a bound from above of itself: they are
/// taken as one first.
fn floor(problem: &Problem) -> f64 {
    let signature = |at: usize| -> Vec<u16> {
        problem.tests.iter().map(|test| test.cells[at]).collect::<Vec<u16>>()
    };
    let mut groups: Vec<(Vec<u16>, f64)> = Vec::new();
    for (at, Point { weight, .. }) in problem.points.iter().enumerate() {
        let own = signature(at);
        match groups.iter_mut().find(|(known, _)| *known == own) {
            Some((_, sum)) => *sum += weight,
            None => groups.push((own, *weight)),
        }
    }
    let whole: f64 = groups.iter().map(|(_, weight)| weight).sum();
    let of_groups: f64 =
        groups.iter().map(|(_, weight)| -weight / whole * (weight / whole).log2()).sum();
    let entropy = of_groups.min(problem.entropy(problem.all()));
    // What a test can say at most, for its effort.
    let says = |test: &Test| {
        let mut cells = test.cells.clone();
        cells.sort_unstable();
        cells.dedup();
        (cells.len() as f64).log2() / test.effort
    };
    let most = problem.tests.iter().map(says).fold(0.0, f64::max);
    if most > 0.0 { entropy / most } else { 0.0 }
}

/// A random table, as `tests/diagnosis/planning.rs` draws them.
fn random(round: usize, chance: &mut Chance) -> Problem {
    type Family = ((usize, usize, usize), f64, &'static [f64]);
    let families: [Family; 5] = [
        ((8, 6, 2), 1.0, &[1.0]),
        ((12, 8, 2), 100.0, &[1.0]),
        ((12, 8, 3), 100.0, &[1.0]),
        ((16, 10, 3), 100.0, &[1.0]),
        ((14, 9, 3), 100.0, &[1.0, 1.0, 2.0, 5.0]),
    ];
    let ((rows, columns, levels), skew, efforts) = families[round % families.len()];
    let any =
        |most: usize, chance: &mut Chance| ((chance.share() * most as f64) as usize).min(most - 1);
    let points = (0..rows).map(|class| Point { class, weight: skew.powf(chance.share()) });
    let points: Vec<Point> = points.collect();
    let tests = (0..columns)
        .map(|_| Test {
            effort: efforts[any(efforts.len(), chance)],
            live: true,
            cells: (0..rows).map(|_| any(levels, chance) as u16).collect(),
        })
        .collect();
    Problem { points, tests, switching: [0.0; 2] }
}

fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let value = |key: &str| arguments.iter().find_map(|one| one.strip_prefix(key));
    let number =
        |key: &str, usual: u64| value(key).and_then(|number| number.parse().ok()).unwrap_or(usual);
    println!(
        "| tables | count | classes | planned | one-step information | at random | in order | floor | left out |"
    );
    println!("| --- | --- | --- | --- | --- | --- | --- | --- | --- |");
    let mut chance = Chance::new(11);
    let mut ratios = Ratios::default();
    for round in 0..number("tables=", 1000) as usize {
        let table = random(round, &mut chance);
        ratios.take(&table, true, &mut chance);
    }
    ratios.row("random");
    let mut all = Ratios::default();
    for name in value("boards=").unwrap_or(BOARDS).split(',') {
        let circuit = bench::demo(name);
        let assembly = Assembly::new(&circuit);
        let table = Table::new(&assembly);
        let mut own = Ratios::default();
        for seed in 0..number("seeds=", 20) {
            let mut chance = Chance::new(seed);
            let hidden = table.hidden(&mut chance);
            for (problem, live) in table.problems(hidden, &mut chance) {
                own.take(&problem, live, &mut Chance::new(seed));
                all.take(&problem, live, &mut Chance::new(seed));
            }
        }
        own.row(name);
    }
    all.row("all boards");
}

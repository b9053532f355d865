//! Random active circuits: which strategies they take, and what a power-up costs beside a solve.
//!
//! Claim: every one of the 2,000 random boards with regulators, transistors and chips ends in an
//! operating point or is found to keep switching. A smaller number of boards may be given as the
//! first argument.
#![allow(clippy::print_stdout)]

#[allow(dead_code)]
#[path = "../tests/strategies/active.rs"]
mod active;

use std::collections::BTreeMap;
use std::hint::black_box;
use std::path::Path;
use std::time::Instant;

use active::{active, built};
use ohmhound::circuit::{Overlay, POWERED};
use ohmhound::engine::{Assembly, Ending};
use ohmhound::file::load_circuit;

/// Boards that are powered up.
const BOARDS: u64 = 2000;
/// Rounds that medians are taken over.
const ROUNDS: usize = 25;
/// Runs in a round.
const RUNS: usize = 20;

fn main() {
    let given = std::env::args().find_map(|argument| argument.parse().ok());
    endings(given.unwrap_or(BOARDS));
    standby_supply();
}

/// How the random boards end.
fn endings(boards: u64) {
    let mut counts: BTreeMap<&str, u64> = BTreeMap::new();
    let (mut newton_steps, mut settled, mut switched) = (0, 0_u32, 0);
    for number in 0..boards {
        let circuit = built(&active(number, 60));
        let up = Assembly::new(&circuit).power_up(POWERED, &Overlay::none(), None);
        switched += up.steps.len();
        let word = match up.run.ending {
            Ending::Converged { by, iterations } => {
                newton_steps += iterations;
                settled += 1;
                by.words()
            }
            Ending::Cycling { exhaustive: true } => "keeps switching",
            Ending::Cycling { exhaustive: false } => "keeps switching, as far as was searched",
            Ending::Singular => "singular",
            Ending::NotSettled { .. } => "not settled",
            Ending::Contradiction { .. } => "contradiction",
        };
        *counts.entry(word).or_default() += 1;
    }
    println!("{boards} random active boards, by the strategy of their last solve");
    for (word, count) in counts {
        println!("{word:40} {count:5}");
    }
    let mean = newton_steps as f64 / f64::from(settled.max(1));
    let switched = switched as f64 / boards.max(1) as f64;
    println!("{mean:.1} Newton steps of the last solve, {switched:.2} switched parts on average");
}

/// A power-up of the standby supply beside one solve with everything off.
fn standby_supply() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("circuits/standby-supply.toml");
    let circuit = load_circuit(path).value.unwrap();
    let assembly = Assembly::new(&circuit);
    let (mut solves, mut powers) = (Vec::new(), Vec::new());
    for _ in 0..ROUNDS {
        solves.push(seconds(|| {
            let network = assembly.network(POWERED, &Overlay::none());
            black_box(network.solve(assembly.settings()));
        }));
        powers.push(seconds(|| {
            black_box(assembly.power_up(POWERED, &Overlay::none(), None));
        }));
    }
    let (solve, power) = (median(&mut solves), median(&mut powers));
    println!(
        "standby supply: solve {:.1} µs, power-up {:.1} µs, ratio {:.1}",
        1e6 * solve,
        1e6 * power,
        power / solve
    );
}

fn seconds(run: impl Fn()) -> f64 {
    let start = Instant::now();
    for _ in 0..RUNS {
        run();
    }
    start.elapsed().as_secs_f64() / RUNS as f64
}

fn median(values: &mut [f64]) -> f64 {
    values.sort_by(f64::total_cmp);
    values[values.len() / 2]
}

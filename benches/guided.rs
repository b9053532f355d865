//! Guided sessions by the thousand: a hidden fault on a board drawn from its tolerances, answers with
//! the meter's errors, and what the program says at the end.
//!
//! Arguments: `boards=soil-probe,gate-supply`, `seeds=200`, `from=0`, `others=40` seeds for probing
//! at random and along the chain. The table says how often endings that claim 99 % and 99.99 % are
//! wrong, and what the measuring costs beside the two other ways.
#![allow(clippy::print_stdout, clippy::print_stderr)]

#[path = "../tests/bench/mod.rs"]
mod bench;
#[path = "../tests/chance/mod.rs"]
mod chance;
#[path = "../tests/guided/play.rs"]
mod play;

use chance::Chance;
use ohmhound::engine::Assembly;
use play::{Table, Way, too_many_wrong};

/// Boards when none is named: all that are played in minutes.
const BOARDS: &str = "soil-probe,leaf-bridge,fence-loop,sensor-battery,gate-supply,pump-lamp,\
                      standby-supply,soil-amplifier,relay-driver";

/// Sums over the sessions of one board.
#[derive(Default)]
struct Sums {
    played: usize,
    probes: usize,
    effort: f64,
    claims: [usize; 2],
    wrong: [usize; 2],
    right: usize,
}

fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let value = |key: &str| arguments.iter().find_map(|one| one.strip_prefix(key));
    let number =
        |key: &str, usual: u64| value(key).and_then(|number| number.parse().ok()).unwrap_or(usual);
    let (from, seeds, others) = (number("from=", 0), number("seeds=", 100), number("others=", 20));
    println!(
        "| board | way | sessions | probes | effort | right first | 99 %: wrong of | 99.99 %: wrong of |"
    );
    println!("| --- | --- | --- | --- | --- | --- | --- | --- |");
    let mut all = Sums::default();
    for name in value("boards=").unwrap_or(BOARDS).split(',') {
        let circuit = bench::demo(name);
        let assembly = Assembly::new(&circuit);
        let table = Table::new(&assembly);
        for (way, words, count) in [
            (Way::Planned, "planned", seeds),
            (Way::Random, "at random", others.min(seeds)),
            (Way::Chain, "along the chain", others.min(seeds)),
        ] {
            let mut sums = Sums::default();
            for seed in from..from + count {
                let mut chance = Chance::new(seed);
                let hidden = table.hidden(&mut chance);
                let Some(ending) = table.play(hidden, way, &mut chance) else { continue };
                sums.played += 1;
                sums.probes += ending.probes;
                sums.effort += ending.effort;
                sums.right += usize::from(ending.is_right);
                for (at, claim) in [0.99, 0.9999].into_iter().enumerate() {
                    if ending.claim >= claim {
                        sums.claims[at] += 1;
                        sums.wrong[at] += usize::from(!ending.is_right);
                        if !ending.is_right && way == Way::Planned && at == 0 {
                            eprintln!("{name} seed {seed}: {}", ending.told);
                        }
                    }
                }
            }
            row(name, words, &sums);
            if way == Way::Planned {
                all.played += sums.played;
                all.probes += sums.probes;
                all.effort += sums.effort;
                all.right += sums.right;
                for at in 0..2 {
                    all.claims[at] += sums.claims[at];
                    all.wrong[at] += sums.wrong[at];
                }
            }
        }
    }
    row("all", "planned", &all);
    let verdict =
        if too_many_wrong(all.wrong[0], all.claims[0], 0.99) { "too many" } else { "within" };
    println!(
        "wrong among endings that claim 99 %: {verdict} a hundredth (one-sided binomial test, 99 %)"
    );
}

fn row(name: &str, way: &str, sums: &Sums) {
    let n = sums.played.max(1) as f64;
    println!(
        "| {name} | {way} | {} | {:.1} | {:.1} | {:.0} % | {} of {} | {} of {} |",
        sums.played,
        sums.probes as f64 / n,
        sums.effort / n,
        100.0 * sums.right as f64 / n,
        sums.wrong[0],
        sums.claims[0],
        sums.wrong[1],
        sums.claims[1],
    );
}

//! How long a question takes: the time from an answer to the next question in guided sessions, on
//! every demo board, against the 150 ms after which a person notices that they wait.
//!
//! Arguments: `boards=packing-shed,cold-store`, `seeds=3`, `from=0`; `each` tells every question, and
//! with `at-once` the program does not think ahead while the script measures, as on a pipe.
#![allow(clippy::print_stdout)]

#[path = "../tests/bench/mod.rs"]
mod bench;
#[path = "../tests/chance/mod.rs"]
mod chance;
#[path = "../tests/guided/play.rs"]
mod play;

use std::time::Duration;

use chance::Chance;
use ohmhound::engine::Assembly;
use play::{Table, Way};

const BOARDS: &str = "soil-probe,leaf-bridge,fence-loop,sensor-battery,gate-supply,pump-lamp,\
                      standby-supply,soil-amplifier,relay-driver,load-switch,pump-controller,\
                      packing-shed,cold-store";
/// What a question may take.
const LIMIT: Duration = Duration::from_millis(150);

fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let value = |key: &str| arguments.iter().find_map(|one| one.strip_prefix(key));
    let number =
        |key: &str, usual: u64| value(key).and_then(|number| number.parse().ok()).unwrap_or(usual);
    let (from, seeds) = (number("from=", 0), number("seeds=", 3));
    println!("| board | parts | questions | median | longest | over 150 ms |");
    println!("| --- | --- | --- | --- | --- | --- |");
    for name in value("boards=").unwrap_or(BOARDS).split(',') {
        let circuit = bench::demo(name);
        let assembly = Assembly::new(&circuit);
        let mut table = Table::new(&assembly);
        table.thinks_ahead = !arguments.iter().any(|one| one == "at-once");
        let mut times: Vec<Duration> = Vec::new();
        for seed in from..from + seeds {
            let mut chance = Chance::new(seed);
            let hidden = table.hidden(&mut chance);
            if let Some(ending) = table.play(hidden, Way::Planned, &mut chance) {
                if arguments.iter().any(|one| one == "each") {
                    println!("{name} {seed} {} {:?}", ending.told, ending.thinking);
                }
                times.extend(ending.thinking);
            }
        }
        times.sort();
        let ms = |time: Option<&Duration>| time.map_or(0.0, |time| 1e3 * time.as_secs_f64());
        println!(
            "| {name} | {} | {} | {:.0} ms | {:.0} ms | {} |",
            circuit.parts.len(),
            times.len(),
            ms(times.get(times.len() / 2)),
            ms(times.last()),
            times.iter().filter(|time| **time > LIMIT).count(),
        );
    }
}

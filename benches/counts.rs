//! Instructions that the main cases take, compared with stored figures: a guard against getting
//! slower that does not depend on how busy the machine is.
//!
//! Each case runs as a process of its own under `valgrind --tool=callgrind`, which counts; the
//! process that does nothing is subtracted. Figures stand in `benches/counts.toml`, for one compiler,
//! one kind of processor and the profile of the tests: where these change, all of them move together.
//!
//! ```console
//! cargo bench --profile dev --bench counts                   the table
//! cargo bench --profile dev --bench counts -- --check        fails where a case takes 15 % more
//! cargo bench --profile dev --bench counts -- --store        new figures into the file
//! ```
#![allow(clippy::print_stdout, clippy::print_stderr)]

#[path = "../tests/bench/mod.rs"]
mod bench;
#[path = "measure/boards.rs"]
mod boards;
#[path = "../tests/chance/mod.rs"]
mod chance;

use std::collections::BTreeMap;
use std::env;
use std::fs;
use std::hint::black_box;
use std::path::{Path, PathBuf};
use std::process::{Command, ExitCode, Stdio};
use std::thread;

use ohmhound::circuit::{Change, Meter, Overlay, POWERED};
use ohmhound::diagnosis::{Job, Pairs, diagnose, diagnose_job};
use ohmhound::engine::{Assembly, Changes, From, PortView, Reduced, Scores, Shunt};
use ohmhound::file::load_readings;
use ohmhound::plan::Planner;

/// A case takes more when it takes this share more, and less when it takes this share less.
const LIMIT: f64 = 0.15;
/// Cases that run at the same time.
const AT_ONCE: usize = 2;

/// What a case does.
type Work = fn();

/// The cases, each with what it does.
const CASES: [(&str, Work); 11] = [
    ("nothing", || {}),
    ("read-circuit", || {
        black_box(bench::demo("cold-store"));
    }),
    ("solve-100", || {
        let circuit = boards::with_junctions(5, 50, 100, false);
        let assembly = Assembly::new(&circuit);
        let part = circuit.part("R7").expect("a resistor");
        for _ in 0..100 {
            black_box(assembly.solve(POWERED, &Overlay::one(Change::Removed { part })));
        }
    }),
    ("port-table", || {
        scored(|_, _| {});
    }),
    ("table-fault-10000", || {
        scored(|scores, faults| {
            let singles: Vec<(usize, f64)> =
                faults.iter().map(|&(site, shunt)| (site, shunt.ohms)).collect();
            let mut found = vec![0.0; singles.len()];
            for _ in 0..10_000 / singles.len() {
                scores.all(black_box(&singles), &mut found);
                black_box(&found);
            }
        });
    }),
    ("linear-pairs", || {
        scored(|scores, faults| {
            black_box(scores.best_pairs(faults, 100));
        });
    }),
    ("reduced-fault-100", reduced_faults),
    ("diagnose-gate-supply", || diagnosed("gate-supply")),
    ("diagnose-packing-shed", || diagnosed("packing-shed")),
    ("diagnose-cold-store", || diagnosed("cold-store")),
    ("question-pump-controller", || asked("pump-controller")),
];

/// The first question of a session, with nothing known.
fn asked(name: &str) {
    let circuit = bench::demo(name);
    let assembly = Assembly::new(&circuit);
    let job = Job { is_brief: true, pairs: Pairs::Never, ..Job::default() };
    let diagnosis = diagnose_job(&assembly, &job);
    let planner = Planner::quick(&assembly, &[], &diagnosis, &Meter::default());
    black_box(planner.advise(&circuit, &diagnosis, POWERED, &|_| false));
}

fn diagnosed(name: &str) {
    let circuit = bench::demo(name);
    let path = bench::folder().join(format!("{name}.readings.toml"));
    let readings = load_readings(path, &circuit).value.expect("the demo readings");
    black_box(diagnose(&Assembly::new(&circuit), &readings.readings, &readings.seen));
}

/// Forty resistors, ten nets read, two faults hidden.
fn scored(run: impl Fn(&Scores<'_>, &[(usize, Shunt)])) {
    let circuit = boards::resistors(11, 20, 40);
    let assembly = Assembly::new(&circuit);
    let view = PortView::new(&assembly, POWERED).expect("a linear board");
    let table = boards::table(&circuit, &view, 10);
    let faults = boards::faults(&table);
    let (volts, standard) = boards::readings(&table, &faults[..1]);
    run(&Scores::new(&table, &volts, &standard), &faults);
}

/// A hundred faults on a board with ten junctions, reduced.
fn reduced_faults() {
    let circuit = boards::with_junctions(5, 50, 100, false);
    let assembly = Assembly::new(&circuit);
    let network = assembly.network(POWERED, &Overlay::none());
    let point = assembly.healthy(POWERED).run.point.clone().expect("an operating point");
    let reduced = Reduced::new(&network, &point.volts, &[]).expect("a reduced board");
    for element in 1..=100 {
        let mut changes = Changes::default();
        changes.list.push(reduced.instead(element, None));
        reduced.tie(&mut changes);
        black_box(reduced.solve(&changes, Some(&point.volts), &[], (From::Afar, false)));
    }
}

fn main() -> ExitCode {
    let arguments: Vec<String> = env::args().skip(1).collect();
    if let Some(name) = arguments.iter().find_map(|one| one.strip_prefix("case=")) {
        return match CASES.iter().find(|(known, _)| *known == name) {
            Some((_, work)) => {
                work();
                ExitCode::SUCCESS
            }
            None => ExitCode::FAILURE,
        };
    }
    let has = |key: &str| arguments.iter().any(|one| one == key);
    let counts = match count_all() {
        Ok(counts) => counts,
        Err(problem) => {
            eprintln!("instructions were not counted: {problem}");
            let is_asked = has("--check") || has("--store");
            return if is_asked { ExitCode::FAILURE } else { ExitCode::SUCCESS };
        }
    };
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("benches/counts.toml");
    let stored = read(&path);
    println!("{:24} {:>15} {:>15} {:>9}", "case", "instructions", "stored", "change");
    let (mut more, mut less, mut unknown) = (Vec::new(), Vec::new(), Vec::new());
    for (name, count) in &counts {
        let Some(before) = stored.get(*name) else {
            println!("{name:24} {count:15} {:>15}", "");
            unknown.push(*name);
            continue;
        };
        let change = *count as f64 / *before as f64 - 1.0;
        println!("{name:24} {count:15} {before:15} {:+8.1} %", 100.0 * change);
        if change > LIMIT {
            more.push(format!("`{name}` takes {:.0} % more instructions", 100.0 * change));
        } else if change < -LIMIT {
            less.push(format!("`{name}` takes {:.0} % fewer instructions", -100.0 * change));
        }
    }
    if has("--store") {
        return match fs::write(&path, written(&counts)) {
            Ok(()) => ExitCode::SUCCESS,
            Err(problem) => {
                eprintln!("{}: {problem}", path.display());
                ExitCode::FAILURE
            }
        };
    }
    for line in more.iter().chain(&less) {
        println!("{line} than the stored figure");
    }
    for name in &unknown {
        println!("`{name}` has no stored figure");
    }
    let store = "new figures, where the change is meant: \
                 cargo bench --profile dev --bench counts -- --store";
    if !more.is_empty() || !less.is_empty() || !unknown.is_empty() {
        println!("{store}");
    }
    let fails = has("--check") && (!more.is_empty() || !unknown.is_empty());
    if fails { ExitCode::FAILURE } else { ExitCode::SUCCESS }
}

/// Counts every case, less what a process takes that does nothing.
fn count_all() -> Result<Vec<(&'static str, u64)>, String> {
    let found: Vec<Result<(usize, u64), String>> = thread::scope(|scope| {
        let lanes: Vec<_> = (0..AT_ONCE)
            .map(|lane| {
                scope.spawn(move || {
                    let own = (0..CASES.len()).filter(move |number| number % AT_ONCE == lane);
                    own.map(|number| Ok((number, count(CASES[number].0)?))).collect::<Vec<_>>()
                })
            })
            .collect();
        lanes.into_iter().flat_map(|lane| lane.join().unwrap_or_default()).collect()
    });
    let mut found = found.into_iter().collect::<Result<Vec<_>, _>>()?;
    found.sort_unstable();
    let nothing = found.first().map_or(0, |(_, count)| *count);
    let each = found.into_iter().skip(1);
    Ok(each.map(|(number, count)| (CASES[number].0, count.saturating_sub(nothing))).collect())
}

/// Instructions of one case as a process of its own.
fn count(case: &str) -> Result<u64, String> {
    let own = env::current_exe().map_err(|problem| problem.to_string())?;
    let out = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join(format!("counts-{case}.out"));
    let status = Command::new("valgrind")
        .arg("--tool=callgrind")
        .arg(format!("--callgrind-out-file={}", out.display()))
        .arg(own)
        .arg(format!("case={case}"))
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .status()
        .map_err(|problem| format!("expected `valgrind`: {problem}"))?;
    if !status.success() {
        return Err(format!("the case `{case}` ended with {status}"));
    }
    let text = fs::read_to_string(&out).map_err(|problem| problem.to_string())?;
    let totals = text.lines().find_map(|line| line.strip_prefix("totals:"));
    let totals = totals.and_then(|count| count.trim().parse().ok());
    totals.ok_or_else(|| format!("expected a line of totals in {}", out.display()))
}

/// The stored figures; none where there is no file.
fn read(path: &Path) -> BTreeMap<String, u64> {
    let text = fs::read_to_string(path).unwrap_or_default();
    let stored: toml_edit::DocumentMut = text.parse().unwrap_or_default();
    let count = |item: &toml_edit::Item| u64::try_from(item.as_integer()?).ok();
    stored.iter().filter_map(|(name, item)| Some((name.to_owned(), count(item)?))).collect()
}

fn written(counts: &[(&str, u64)]) -> String {
    let mut text = String::from(
        "# Instructions of each case of benches/counts.rs; written by\n\
         # cargo bench --profile dev --bench counts -- --store\n",
    );
    for (name, count) in counts {
        text.push_str(&format!("{name} = {count}\n"));
    }
    text
}

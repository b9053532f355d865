//! Writing a report beside the diagnosis that it tells of, in one run.
//!
//! Claim: the whole command, reading the files and writing the page included, takes well under
//! 300 ms on boards of 40 parts and on a passive one of 60; what is told costs less than finding it.
//! Single times depend on the machine, the ratio is what counts.
//!
//! Arguments: `rounds=15`.
#![allow(clippy::print_stdout)]

use std::fmt::Write;
use std::hint::black_box;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Instant;

use ohmhound::circuit::{Circuit, Overlay, POWERED, Readings};
use ohmhound::diagnosis::{Diagnosis, Job, diagnose_job};
use ohmhound::engine::Assembly;
use ohmhound::file::{load_circuit, load_readings};
use ohmhound::plan::{Planner, mark_inseparable, standing_in};
use ohmhound::report::{Ticket, ticket_html};
use ohmhound::study::{assumptions, coverage, operating};

/// What the whole command may take, in milliseconds.
const LIMIT: f64 = 300.0;

fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let rounds = arguments.iter().find_map(|one| one.strip_prefix("rounds="));
    let rounds: usize = rounds.and_then(|number| number.parse().ok()).unwrap_or(15);
    let circuits = Path::new(env!("CARGO_MANIFEST_DIR")).join("circuits");
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR"));
    write_sixty(folder);
    println!("| board | parts | diagnosis | plan | page | page / diagnosis | whole command |");
    println!("| --- | --- | --- | --- | --- | --- | --- |");
    let boards = [(&*circuits, "packing-shed"), (&*circuits, "cold-store"), (folder, "sixty")];
    for (folder, name) in boards {
        let circuit = load_circuit(folder.join(format!("{name}.toml"))).value.unwrap();
        let file = folder.join(format!("{name}.readings.toml"));
        let readings = load_readings(&file, &circuit).value.unwrap();
        let assembly = Assembly::new(&circuit);
        let (mut diagnoses, mut plans, mut pages, mut wholes) = (vec![], vec![], vec![], vec![]);
        for _ in 0..rounds {
            let start = Instant::now();
            let mut diagnosis = diagnose_job(&assembly, &Job::of(&readings));
            diagnoses.push(start.elapsed().as_secs_f64());
            let start = Instant::now();
            let planner = Planner::new(&assembly, &readings.readings, &diagnosis, &readings.meter);
            mark_inseparable(&assembly, &mut diagnosis, &readings.meter);
            plans.push(start.elapsed().as_secs_f64());
            let start = Instant::now();
            black_box(page(&circuit, &assembly, &readings, &diagnosis, &planner));
            pages.push(start.elapsed().as_secs_f64());
            let start = Instant::now();
            let status = Command::new(env!("CARGO_BIN_EXE_ohmhound"))
                .args(["report", file.to_str().unwrap()])
                .stdout(Stdio::null())
                .stderr(Stdio::null())
                .status();
            assert!(status.unwrap().success());
            wholes.push(start.elapsed().as_secs_f64());
        }
        let all = [&mut diagnoses, &mut plans, &mut pages, &mut wholes];
        let [diagnosis, plan, page, whole] = all.map(|times| 1e3 * median(times));
        let over = if whole > LIMIT { ", over the limit" } else { "" };
        println!(
            "| {name} | {} | {diagnosis:.1} ms | {plan:.1} ms | {page:.1} ms | {:.2} | \
             {whole:.0} ms{over} |",
            circuit.parts.len(),
            page / diagnosis
        );
    }
}

/// The page, with all that is looked up for it.
fn page(
    circuit: &Circuit,
    assembly: &Assembly<'_>,
    readings: &Readings,
    diagnosis: &Diagnosis,
    planner: &Planner,
) -> String {
    let now = standing_in(&readings.readings);
    let proposals = planner.proposals(now);
    let advice = planner.advise(circuit, diagnosis, now, &|_| false);
    let healthy = operating(assembly, POWERED, &Overlay::none()).ok();
    let likeliest = diagnosis.remaining().next();
    let faulted = likeliest.and_then(|one| operating(assembly, POWERED, &one.overlay).ok());
    ticket_html(&Ticket {
        circuit,
        readings,
        origin: "a bench",
        diagnosis,
        healthy: healthy.as_ref(),
        likeliest: likeliest.map(|one| (one.fault, faulted.as_ref())),
        planner,
        proposals: &proposals,
        advice: &advice,
        after: None,
        substitutes: None,
        assumptions: &assumptions(circuit),
        coverage: &coverage(assembly, readings, diagnosis),
    })
}

/// A passive board of 60 parts: a supply with its fuse, and 29 taps of a divider and what hangs on it.
/// One tap reads low, as with a leak there.
fn write_sixty(folder: &Path) {
    let mut text =
        "[parts]\nJ1 = { kind = \"supply\", nets = [\"IN\", \"GND\"], volts = \"24 V\" }\n\
                    F1 = { nets = [\"IN\", \"T0\"] }\n"
            .to_owned();
    for tap in 1..=29 {
        // What is written to a string cannot fail.
        let _ =
            writeln!(text, "R{tap} = {{ value = \"100\", nets = [\"T{}\", \"T{tap}\"] }}", tap - 1);
        let _ =
            writeln!(text, "R{} = {{ value = \"10k\", nets = [\"T{tap}\", \"GND\"] }}", tap + 29);
    }
    std::fs::write(folder.join("sixty.toml"), text).unwrap();
    let assembly_of = load_circuit(folder.join("sixty.toml")).value.unwrap();
    let assembly = Assembly::new(&assembly_of);
    let fault = ohmhound::fault::parse("T12 leak 820", &assembly_of).unwrap();
    let overlay = fault.overlay(&assembly_of).unwrap();
    let point = operating(&assembly, POWERED, &overlay).ok().unwrap();
    let mut readings = "circuit = \"sixty.toml\"\n[powered.volts]\n".to_owned();
    for net in point.nets.iter().filter(|net| net.net.0 % 4 == 2) {
        let _ = writeln!(readings, "{} = {:.2}", assembly_of.net_name(net.net), net.volts);
    }
    std::fs::write(folder.join("sixty.readings.toml"), readings).unwrap();
}

fn median(values: &mut [f64]) -> f64 {
    values.sort_by(f64::total_cmp);
    values[values.len() / 2]
}

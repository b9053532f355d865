//! From what was typed to circuits and readings.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use ohmhound::circuit::{
    Circuit, Meter, NetId, Overlay, Quantity, Reading, Readings, SetupId, UNPOWERED,
};
use ohmhound::fault::{self, Fault};
use ohmhound::file::{
    MOST_DIAGNOSED, Parsed, circuit_from, is_circuit, lift_setups, load_source, reading_argument,
    readings_circuit, readings_from,
};
use ohmhound::finding::{Code, Finding, Severity, Source, nearest};

use ohmhound::study::Watched;

use super::args::ReadingArgs;
use super::output::{Output, shown};
use super::{Exit, Stop};

/// The value of something that was read; its findings are printed, and errors stop the command.
pub(super) fn accept<T>(parsed: Parsed<T>, output: &Output) -> Result<T, Stop> {
    output.findings(&parsed.findings);
    parsed.value.ok_or(Stop(Exit::BadInput))
}

/// The text of a file. It is loaded once and handed on: a pipe gives its text only once.
pub(super) fn source(path: &Path, output: &Output) -> Result<Arc<Source>, Stop> {
    load_source(path).map_err(|finding| {
        output.findings(&[finding]);
        Stop(Exit::BadInput)
    })
}

/// The circuit of a file, or what is wrong with it.
pub(super) fn read_circuit(path: &Path) -> Parsed<Circuit> {
    match load_source(path) {
        Ok(source) => read_circuit_from(&source, path),
        Err(finding) => Parsed { value: None, findings: vec![finding] },
    }
}

/// The circuit of a text, or what is wrong with it. A readings file in its place is one slip, not
/// one for each of its keys.
fn read_circuit_from(source: &Arc<Source>, path: &Path) -> Parsed<Circuit> {
    let mut parsed = circuit_from(source, path);
    if parsed.value.is_none()
        && let Some(named) = readings_circuit(source)
    {
        let message = format!("expected a circuit file, found the readings file `{}`", source.name);
        let finding = Finding::error(Code::WrongShape, message);
        parsed.findings = vec![finding.help(format!("it belongs to `{named}`: name that one"))];
    }
    parsed
}

/// The readings of a text, or what is wrong with it; the same the other way round.
fn read_readings_from(source: &Arc<Source>, path: &Path, circuit: &Circuit) -> Parsed<Readings> {
    let mut parsed = readings_from(source, path, circuit);
    if parsed.value.is_none() && is_circuit(source) {
        let message = format!("expected a readings file, found the circuit file `{}`", source.name);
        let finding = Finding::error(Code::WrongShape, message);
        parsed.findings = vec![finding.help("the circuit comes first, the readings second")];
    }
    parsed
}

/// The circuit of a file.
pub(super) fn circuit(path: &Path, output: &Output) -> Result<Circuit, Stop> {
    circuit_of(&source(path, output)?, path, output)
}

/// The circuit of a text. Its notes are for `check`, not for every answer about it.
pub(super) fn circuit_of(
    source: &Arc<Source>,
    path: &Path,
    output: &Output,
) -> Result<Circuit, Stop> {
    let mut parsed = read_circuit_from(source, path);
    if parsed.value.is_some() {
        parsed.findings.retain(|finding| finding.severity != Severity::Note);
    }
    accept(parsed, output)
}

/// The setup of that name.
pub(super) fn setup(circuit: &Circuit, name: &str, output: &Output) -> Result<SetupId, Stop> {
    circuit.setup(name).ok_or_else(|| {
        let names = circuit.setups.iter().map(|setup| setup.name.as_str());
        let mut finding = on_argument(Code::UnknownSetup, "--setup", name, "unknown setup");
        finding = match nearest(name, names.clone()) {
            Some(near) => finding.help(format!("did you mean `{near}`?")),
            None => finding.help(format!("known ones: {}", names.collect::<Vec<_>>().join(", "))),
        };
        output.findings(&[finding]);
        Stop(Exit::BadInput)
    })
}

/// The nets of these names.
pub(super) fn nets(
    circuit: &Circuit,
    option: &str,
    names: &[String],
    output: &Output,
) -> Result<Vec<NetId>, Stop> {
    names.iter().map(|name| net(circuit, option, name, output)).collect()
}

/// What is to be watched: nets, or volts from one net to another, `LEFT to RIGHT`.
pub(super) fn watched(
    circuit: &Circuit,
    option: &str,
    texts: &[String],
    output: &Output,
) -> Result<Vec<Watched>, Stop> {
    let one = |text: &String| {
        let Some((red, black)) = text.split_once(" to ") else {
            return net(circuit, option, text, output).map(Watched::Net);
        };
        let red = net(circuit, option, red.trim(), output)?;
        let black = net(circuit, option, black.trim(), output)?;
        Ok(Watched::Between(red, black))
    };
    texts.iter().map(one).collect()
}

/// The net of that name.
pub(super) fn net(
    circuit: &Circuit,
    option: &str,
    name: &str,
    output: &Output,
) -> Result<NetId, Stop> {
    circuit.net(name).ok_or_else(|| {
        let mut finding = on_argument(Code::UnknownName, option, name, "unknown net");
        finding = match nearest(name, circuit.nets.iter().map(String::as_str)) {
            Some(near) => finding.help(format!("did you mean `{near}`?")),
            None => finding.help(format!("known ones: {}", circuit.nets.join(", "))),
        };
        output.findings(&[finding]);
        Stop(Exit::BadInput)
    })
}

fn on_argument(code: Code, option: &str, text: &str, message: &str) -> Finding {
    let source = Source::new(option, text);
    Finding::error(code, format!("{message} `{text}`")).at(&source, 0..text.len(), "")
}

/// The changes that fault phrases make, with the phrases as they are understood.
pub(super) fn faults(
    circuit: &Circuit,
    phrases: &[String],
    output: &Output,
) -> Result<(Overlay, Vec<Fault>), Stop> {
    let mut overlay = Overlay::none();
    let mut faults = Vec::new();
    for phrase in phrases {
        let parsed = fault::parse(phrase, circuit).and_then(|fault| {
            let change = fault.overlay(circuit);
            change.map(|change| (fault, change)).ok_or_else(|| "the fault needs a value".to_owned())
        });
        match parsed {
            Ok((fault, change)) => {
                overlay.changes.extend(change.changes);
                faults.push(fault);
            }
            Err(message) => {
                let source = Source::new("--fault", phrase.as_str());
                let finding = Finding::error(Code::FaultPhrase, message)
                    .at(&source, 0..phrase.len(), "")
                    .help("`ohmhound faults` lists every form");
                output.findings(&[finding]);
                return Err(Stop(Exit::BadInput));
            }
        }
    }
    Ok((overlay, faults))
}

/// Refuses a board that would take all memory to diagnose.
pub(super) fn diagnosable(circuit: &Circuit, output: &Output) -> Result<(), Stop> {
    if circuit.parts.len() <= MOST_DIAGNOSED {
        return Ok(());
    }
    let message = format!(
        "the circuit has {} parts; more than {MOST_DIAGNOSED} are solved, but not diagnosed",
        circuit.parts.len()
    );
    output.complain(&message, "split the board into its stages, each with what feeds it");
    Err(Stop(Exit::BadInput))
}

/// A circuit with the readings taken on it.
pub(super) struct Job {
    pub(super) circuit: Circuit,
    pub(super) readings: Readings,
    /// Where they come from, in one sentence.
    pub(super) origin: String,
    /// The files that were read.
    pub(super) files: Vec<PathBuf>,
}

/// The circuit and the readings that were asked for.
pub(super) fn job(args: &ReadingArgs, output: &Output) -> Result<Job, Stop> {
    let first = source(&args.first, output)?;
    let (circuit_path, mut circuit, taken) = match (&args.second, readings_circuit(&first)) {
        (Some(second), _) => {
            let circuit = circuit_of(&first, &args.first, output)?;
            (args.first.clone(), circuit, Some((second.clone(), source(second, output)?)))
        }
        (None, Some(named)) => {
            let path = args.first.parent().unwrap_or(Path::new("")).join(named);
            let circuit = self::circuit(&path, output)?;
            (path, circuit, Some((args.first.clone(), first)))
        }
        (None, None) => (args.first.clone(), circuit_of(&first, &args.first, output)?, None),
    };
    diagnosable(&circuit, output)?;
    if let Some((_, source)) = &taken {
        lift_setups(source, &mut circuit);
    }
    if let Some(part) = circuit.lifted_in(&args.setup) {
        circuit.lift(part);
    }
    let mut readings = match &taken {
        Some((path, source)) => accept(read_readings_from(source, path, &circuit), output)?,
        None => Readings { meter: Meter::default(), ..Readings::default() },
    };
    let n_in_file = readings.readings.len();
    let typed = typed_readings(args, &circuit, &readings.meter, output)?;
    readings.readings.extend(typed);
    if readings.readings.is_empty() {
        output.complain(
            "there are no readings",
            "name a readings file, or give some such as `--volts EN=0.02`",
        );
        return Err(Stop(Exit::BadInput));
    }
    let n_typed = readings.readings.len() - n_in_file;
    let readings_path = taken.map(|(path, _)| path);
    let origin = origin(&circuit_path, readings_path.as_deref(), n_in_file, n_typed);
    let files = std::iter::once(circuit_path).chain(readings_path).collect();
    Ok(Job { circuit, readings, origin, files })
}

/// Which files were read, and how many readings came from where.
fn origin(circuit: &Path, readings: Option<&Path>, n_in_file: usize, n_typed: usize) -> String {
    let count = |n: usize| format!("{n} reading{}", if n == 1 { "" } else { "s" });
    let mut parts = vec![shown(circuit)];
    if let Some(path) = readings {
        parts.push(format!("{} from {}", count(n_in_file), shown(path)));
    }
    if n_typed > 0 {
        parts.push(format!("{} from the command line", count(n_typed)));
    }
    parts.join(", ")
}

fn typed_readings(
    args: &ReadingArgs,
    circuit: &Circuit,
    meter: &Meter,
    output: &Output,
) -> Result<Vec<Reading>, Stop> {
    let live = setup(circuit, &args.setup, output)?;
    let groups = [
        (Quantity::Volts, &args.volts, live),
        (Quantity::Amps, &args.amps, live),
        (Quantity::Ohms, &args.ohms, off_setup(circuit, live)),
        (Quantity::Diode, &args.diode, off_setup(circuit, live)),
    ];
    let mut readings = Vec::new();
    let mut failed = false;
    for (quantity, texts, setup) in groups {
        for text in texts {
            let parsed = reading_argument(circuit, meter, setup, quantity, text);
            output.findings(&parsed.findings);
            failed |= parsed.value.is_none();
            readings.extend(parsed.value);
        }
    }
    if failed { Err(Stop(Exit::BadInput)) } else { Ok(readings) }
}

/// The setup of ohms and diode readings: the one that was named when it was named for them.
fn off_setup(circuit: &Circuit, named: SetupId) -> SetupId {
    if circuit[named].sources_on { UNPOWERED } else { named }
}

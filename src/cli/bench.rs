//! `bench`: a guided session. It asks, the person answers, and each answer is on disk before the next
//! question.

pub(super) mod answer;
mod session;
mod thought;

use std::io::{IsTerminal, stdin};
use std::path::{Component, Path, PathBuf};
use std::sync::Arc;

use ohmhound::circuit::PartId;
use ohmhound::engine::Assembly;
use ohmhound::file::{Log, is_circuit, lift_setups, readings_circuit};
use ohmhound::finding::Source;
use ohmhound::report::cautions_text;

use super::args::Bench;
use super::editor::{Editor, Line};
use super::output::{Output, shown};
use super::patience::patiently;
use super::session::View;
use super::{Exit, Stop, inputs};
use session::Session;
use thought::Parting;

pub(super) fn run(args: &Bench, output: &Output) -> Result<Exit, Stop> {
    let (circuit_path, log_path, source) = paths(args, output)?;
    let mut circuit = inputs::circuit_of(&source, &circuit_path, output)?;
    inputs::diagnosable(&circuit, output)?;
    let named = named(&circuit_path, &log_path, output)?;
    let log = Log::open(&log_path, &named).map_err(|finding| {
        output.findings(&[finding]);
        Stop(Exit::BadInput)
    })?;
    lift_setups(&log.source(), &mut circuit);
    let view = View { style: output.result_style(), width: output.width() };
    output.result(&format!("{}\n", circuit.title))?;
    output.result(&cautions_text(&circuit, view.style, view.width))?;
    let log_name = shown(&log_path);
    output.result(&format!("\nThe log is {log_name}\n`help` lists what can be typed.\n"))?;
    let is_terminal = stdin().is_terminal();
    let mut editor = Editor::new(&circuit, answer::WORDS, is_terminal);
    let mut start = Start::Anew(log);
    // A part that is lifted makes another setup of the circuit, and so another board to solve.
    loop {
        let end = {
            let assembly = Assembly::new(&circuit);
            let is_first = matches!(start, Start::Anew(_));
            let begun = patiently(|| match start {
                Start::Anew(log) => Session::begin(&circuit, &assembly, log, view),
                Start::Lifted(parting, part) => {
                    Session::resume(&circuit, &assembly, parting, part, view)
                }
            });
            let mut session = begun.map_err(|findings| {
                output.findings(&findings);
                Stop(Exit::BadInput)
            })?;
            output.result(&if is_first { session.greeting() } else { session.asks() })?;
            let lifted = answers(&mut session, &mut editor, is_terminal, output)?;
            match lifted {
                Some(part) => Err((session.parting(), part)),
                None => Ok(session.farewell(&shown(&log_path))),
            }
        };
        match end {
            Ok(farewell) => {
                output.result(&farewell)?;
                return Ok(Exit::Done);
            }
            Err((parting, part)) => {
                circuit.lift(part);
                start = Start::Lifted(parting, part);
            }
        }
    }
}

/// How a session begins.
enum Start {
    Anew(Log),
    Lifted(Parting, PartId),
}

/// Takes answers until the session is over, or a part was lifted.
fn answers(
    session: &mut Session<'_>,
    editor: &mut Editor,
    is_terminal: bool,
    output: &Output,
) -> Result<Option<PartId>, Stop> {
    while !session.is_over() {
        match asked(session, editor, is_terminal) {
            Ok(Line::Text(text)) => {
                // A log of what was answered, where no terminal shows it.
                if !is_terminal {
                    output.result(&format!("> {text}\n"))?;
                }
                let reply = patiently(|| session.answer(&text));
                output.findings(&reply.findings);
                output.result(&reply.text)?;
                if let Some(part) = session.lifting() {
                    return Ok(Some(part));
                }
            }
            Ok(Line::Again) => {}
            Ok(Line::End) => break,
            Err(why) => {
                output.complain(&format!("cannot read an answer: {why}"), "");
                return Err(Stop(Exit::BadInput));
            }
        }
    }
    Ok(None)
}

/// The next answer. While a person measures, the program thinks ahead; what was begun is brought to its
/// end, so that nothing depends on how long the person took.
fn asked(session: &Session<'_>, editor: &mut Editor, is_terminal: bool) -> Result<Line, String> {
    if !is_terminal {
        return editor.line(&session.prompt());
    }
    std::thread::scope(|scope| {
        let thinking = scope.spawn(|| session.think_ahead());
        let line = editor.line(&session.prompt());
        // What went wrong in thought goes wrong again at the question, where it is told.
        patiently(|| drop(thinking.join()));
        line
    })
}

/// The circuit file and the log, and the text of the circuit: both files may be the one argument, where a
/// log names its circuit.
fn paths(args: &Bench, output: &Output) -> Result<(PathBuf, PathBuf, Arc<Source>), Stop> {
    let source = inputs::source(&args.circuit, output)?;
    let named = readings_circuit(&source).filter(|_| !is_circuit(&source));
    match (named, &args.log) {
        (Some(circuit), None) => {
            let circuit = args.circuit.parent().unwrap_or(Path::new("")).join(circuit);
            let source = inputs::source(&circuit, output)?;
            Ok((circuit, args.circuit.clone(), source))
        }
        (Some(_), Some(_)) => {
            output.complain(
                "expected a circuit file before `--log`, found a readings file",
                "name the circuit, or the log alone",
            );
            Err(Stop(Exit::BadInput))
        }
        (None, Some(log)) => Ok((args.circuit.clone(), log.clone(), source)),
        (None, None) => {
            let name = args.circuit.file_stem().unwrap_or_default().to_string_lossy();
            let log = args.circuit.with_file_name(format!("{name}.log.toml"));
            Ok((args.circuit.clone(), log, source))
        }
    }
}

/// What the log calls its circuit. A name that no log could hold is refused: by what is nearly the name
/// the wrong circuit might be found.
pub(super) fn named(circuit: &Path, log: &Path, output: &Output) -> Result<String, Stop> {
    relative(circuit, log).ok_or_else(|| {
        let message = format!("expected a name in UTF-8, found `{}`", shown(circuit));
        output.complain(&message, "the log names its circuit: rename the file or its folder");
        Stop(Exit::BadInput)
    })
}

/// The way from the folder of the log to the circuit; `None` where it is not UTF-8.
fn relative(circuit: &Path, log: &Path) -> Option<String> {
    let folder = |path: &Path| {
        let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
        folder.unwrap_or(Path::new(".")).canonicalize().ok()
    };
    let name = circuit.file_name().unwrap_or_default();
    let (Some(own), Some(of_log)) = (folder(circuit), folder(log)) else {
        return circuit.to_str().map(str::to_owned);
    };
    let same = own.components().zip(of_log.components()).take_while(|(a, b)| a == b).count();
    let up = of_log.components().skip(same).map(|_| Component::ParentDir);
    let down = own.components().skip(same);
    let way: PathBuf = up.chain(down).collect();
    way.join(name).to_str().map(str::to_owned)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_log_names_its_circuit_from_where_it_lies() {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR"));
        let circuit = folder.join("circuits/gate-supply.toml");
        let from = |log: &str| relative(&circuit, &folder.join(log));
        assert_eq!(from("circuits/job.toml").as_deref(), Some("gate-supply.toml"));
        assert_eq!(from("job.toml").as_deref(), Some("circuits/gate-supply.toml"));
        assert_eq!(from("tests/job.toml").as_deref(), Some("../circuits/gate-supply.toml"));
    }
}

//! `quiz`: a hidden fault to be found, and the marking of the way to it; or sheets of that for a
//! class.

mod answer;
mod session;

use std::io::{IsTerminal, stdin};
use std::path::Path;

use ohmhound::circuit::Circuit;
use ohmhound::engine::Assembly;
use ohmhound::file::Log;
use ohmhound::report::{
    SheetsView, cautions_text, is_for_licensed_people, marking_json, sheets_html, sheets_markdown,
    sheets_text,
};
use ohmhound::study::{Quiz, sheets};

use super::args::{Quiz as Args, SheetFormat};
use super::editor::{Editor, Line};
use super::output::{Output, shown};
use super::patience::patiently;
use super::session::View;
use super::{Exit, Stop, inputs};
use session::Session;

pub(super) fn run(args: &Args, output: &Output) -> Result<Exit, Stop> {
    let circuit = inputs::circuit(&args.circuit, output)?;
    if is_for_licensed_people(&circuit) {
        output.complain(
            "this board has more than 60 V: it is no exercise",
            "take a board of extra-low voltage; the work on others is for people licensed to do it",
        );
        return Err(Stop(Exit::BadInput));
    }
    let assembly = Assembly::new(&circuit);
    if let Some(count) = args.class {
        return class(args, &assembly, usize::from(count), output);
    }
    let is_json = args.format == SheetFormat::Json;
    if !is_json && args.format != SheetFormat::Text {
        output.complain(
            "a quiz is played as text, and marked as text or JSON",
            "sheets with --class come as Markdown and HTML",
        );
        return Err(Stop(Exit::BadInput));
    }
    let Some(quiz) = patiently(|| Quiz::new(&assembly, args.seed, args.level)) else {
        return Err(nothing_to_hide(args, output));
    };
    let log = args.log.as_deref().map(|path| log(path, &args.circuit, output)).transpose()?;
    let view = View { style: output.result_style(), width: output.width() };
    let tell = |text: &str| if is_json { Ok(()) } else { output.result(text) };
    tell(&format!("{}\n\n", circuit.title))?;
    tell(&cautions_text(&circuit, view.style, view.width))?;
    let mut session = Session::new(&quiz, log, view);
    let opening = session.opening();
    output.findings(&opening.findings);
    tell(&opening.text)?;
    play(&mut session, &circuit, output, is_json)?;
    if let Some(marking) = session.marking().filter(|_| is_json) {
        output.json(&marking_json(session.play(), marking))?;
    }
    Ok(Exit::Done)
}

/// The sheets of a class, or their key.
fn class(
    args: &Args,
    assembly: &Assembly<'_>,
    count: usize,
    output: &Output,
) -> Result<Exit, Stop> {
    if args.format == SheetFormat::Json {
        output.complain(
            "sheets come as text, Markdown or HTML",
            "JSON is the marking of a quiz: leave out --class",
        );
        return Err(Stop(Exit::BadInput));
    }
    let made = patiently(|| sheets(assembly, args.seed, count, args.level));
    let Some(sheets) = made else { return Err(nothing_to_hide(args, output)) };
    let circuit = assembly.circuit();
    let view = SheetsView { circuit, sheets: &sheets, seed: args.seed, level: args.level };
    output.result(&match args.format {
        SheetFormat::Markdown => sheets_markdown(&view, args.key),
        SheetFormat::Html => sheets_html(&view, args.key),
        _ => sheets_text(&view, args.key, output.result_style(), output.width()),
    })?;
    Ok(Exit::Done)
}

/// Takes lines until the game is over; the end of the input gives up.
fn play(
    session: &mut Session<'_>,
    circuit: &Circuit,
    output: &Output,
    is_json: bool,
) -> Result<(), Stop> {
    let tell = |text: &str| if is_json { Ok(()) } else { output.result(text) };
    let is_terminal = stdin().is_terminal() && !is_json;
    let mut editor = Editor::new(circuit, answer::WORDS, is_terminal);
    while !session.is_over() {
        match editor.line(&session.prompt()) {
            Ok(Line::Text(text)) => {
                // A log of what was typed, where no terminal shows it; lines of a file may be remarks.
                let text = text.split('#').next().unwrap_or_default().trim().to_owned();
                if !is_terminal && !text.is_empty() {
                    tell(&format!("{}{text}\n", session.prompt()))?;
                }
                let reply = patiently(|| session.line(&text));
                output.findings(&reply.findings);
                tell(&reply.text)?;
            }
            Ok(Line::Again) => {}
            Ok(Line::End) => {
                let text = patiently(|| session.end());
                tell(&text)?;
            }
            Err(why) => {
                output.complain(&format!("cannot read an answer: {why}"), "");
                return Err(Stop(Exit::BadInput));
            }
        }
    }
    Ok(())
}

/// A log that holds nothing yet.
fn log(path: &Path, circuit: &Path, output: &Output) -> Result<Log, Stop> {
    if path.exists() {
        let message = format!("expected a new file for --log, found `{}`", shown(path));
        output.complain(&message, "a log is of one quiz alone: name another file");
        return Err(Stop(Exit::BadInput));
    }
    Log::open(path, &super::bench::named(circuit, path, output)?).map_err(|finding| {
        output.findings(&[finding]);
        Stop(Exit::BadInput)
    })
}

fn nothing_to_hide(args: &Args, output: &Output) -> Stop {
    let message = format!(
        "`{}` has no fault of level {} that readings show and that can be found by them",
        shown(&args.circuit),
        args.level
    );
    let help = match args.level {
        3 => "`check` may say why: the healthy board has to run",
        _ => "try a higher --level; `check` may say whether the healthy board runs",
    };
    output.complain(&message, help);
    Stop(Exit::BadInput)
}

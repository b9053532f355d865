//! Where answers come from: a line editor with history and completion on a terminal, plain lines
//! otherwise.

use std::io::{BufRead, stdin};

use ohmhound::circuit::Circuit;
use rustyline::completion::Completer;
use rustyline::error::ReadlineError;
use rustyline::highlight::Highlighter;
use rustyline::hint::Hinter;
use rustyline::history::DefaultHistory;
use rustyline::validate::Validator;
use rustyline::{CompletionType, Config, Context, Helper};

/// Bytes of one answer that are looked at.
const MOST: u64 = 10_000;

/// What was typed.
pub(super) enum Line {
    Text(String),
    /// An interrupted line: nothing was answered.
    Again,
    End,
}

/// Where answers come from.
pub(super) enum Editor {
    Terminal(Box<rustyline::Editor<Names, DefaultHistory>>),
    Plain,
}

impl Editor {
    /// An editor that completes the names of a circuit and some words.
    pub(super) fn new(circuit: &Circuit, words: &[&str], is_terminal: bool) -> Editor {
        let config = Config::builder().completion_type(CompletionType::List).build();
        match rustyline::Editor::with_config(config) {
            Ok(mut editor) if is_terminal => {
                editor.set_helper(Some(Names::new(circuit, words)));
                Editor::Terminal(Box::new(editor))
            }
            _ => Editor::Plain,
        }
    }

    /// The next answer.
    ///
    /// # Errors
    ///
    /// Why there is none, in words.
    pub(super) fn line(&mut self, prompt: &str) -> Result<Line, String> {
        match self {
            Editor::Terminal(editor) => match editor.readline(prompt) {
                Ok(text) => {
                    let _ = editor.add_history_entry(text.as_str());
                    Ok(Line::Text(text))
                }
                Err(ReadlineError::Interrupted) => Ok(Line::Again),
                Err(ReadlineError::Eof) => Ok(Line::End),
                Err(error) => Err(error.to_string()),
            },
            Editor::Plain => {
                let mut bytes = Vec::new();
                let mut input = std::io::Read::take(stdin().lock(), MOST);
                input.read_until(b'\n', &mut bytes).map_err(|error| error.to_string())?;
                if bytes.is_empty() {
                    return Ok(Line::End);
                }
                Ok(Line::Text(String::from_utf8_lossy(&bytes).trim().to_owned()))
            }
        }
    }
}

/// What can be completed: nets, parts, pins and the words of the session.
pub(super) struct Names(Vec<String>);

impl Names {
    fn new(circuit: &Circuit, words: &[&str]) -> Names {
        let mut names: Vec<String> = circuit.nets.clone();
        for part in &circuit.parts {
            names.push(part.name.clone());
            if !part.is_two_pin() {
                names.extend(part.pins.iter().map(|pin| format!("{}.{}", part.name, pin.name)));
            }
        }
        names.extend(words.iter().map(|word| (*word).to_owned()));
        names.sort();
        names.dedup();
        Names(names)
    }
}

impl Completer for Names {
    type Candidate = String;

    fn complete(
        &self,
        line: &str,
        at: usize,
        _context: &Context<'_>,
    ) -> rustyline::Result<(usize, Vec<String>)> {
        let start = line[..at].rfind(' ').map_or(0, |space| space + 1);
        let begun = &line[start..at];
        let fits = |name: &&String| name.starts_with(begun);
        Ok((start, self.0.iter().filter(fits).cloned().collect()))
    }
}

impl Hinter for Names {
    type Hint = String;
}

impl Highlighter for Names {}
impl Validator for Names {}
impl Helper for Names {}

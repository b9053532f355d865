//! `marking`: what is printed on a part, and what it can mean.

use ohmhound::quantity::readings_of;
use ohmhound::report::{MarkingsOf, markings_json, markings_text};

use super::args::{Format, Marking};
use super::output::Output;
use super::{Exit, Stop};

pub(super) fn run(args: &Marking, output: &Output) -> Result<Exit, Stop> {
    let mut read = Vec::new();
    for code in &args.codes {
        match readings_of(code) {
            Ok(readings) => read.push(MarkingsOf { code, readings }),
            Err(error) => {
                // Among several, say which one it is.
                let message = match args.codes.len() {
                    1 => error.message,
                    _ => format!("`{}`: {}", short(code), error.message),
                };
                output.complain(&message, error.help.as_deref().unwrap_or(""));
                return Err(Stop(Exit::BadInput));
            }
        }
    }
    match args.format {
        Format::Json => output.json(&markings_json(&read))?,
        Format::Text => {
            let text = markings_text(&read, output.result_style(), output.width());
            output.result(&text)?;
        }
    }
    Ok(Exit::Done)
}

/// A code short enough for a message.
fn short(code: &str) -> String {
    const MOST: usize = 40;
    match code.char_indices().nth(MOST) {
        Some((end, _)) => format!("{}…", &code[..end]),
        None => code.to_owned(),
    }
}

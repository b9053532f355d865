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
                output.complain(&error.message, error.help.as_deref().unwrap_or(""));
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

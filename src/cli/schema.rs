//! `schema`: the shape of what the program prints and of what it reads, as JSON Schema.

use ohmhound::file;
use ohmhound::finding::nearest;
use ohmhound::report::OUTPUTS;

use super::args::Schema;
use super::output::Output;
use super::{Exit, Stop};

pub(super) fn run(args: &Schema, output: &Output) -> Result<Exit, Stop> {
    let Some(wanted) = &args.name else {
        output.result(&list())?;
        return Ok(Exit::Done);
    };
    if let Some(schema) = OUTPUTS.iter().find(|schema| schema.name == wanted) {
        output.result(schema.text)?;
        return Ok(Exit::Done);
    }
    if let Some(schema) = file::SCHEMAS.iter().find(|schema| schema.name == wanted) {
        output.json(&(schema.make)())?;
        return Ok(Exit::Done);
    }
    let known = || rows().map(|(name, _)| name);
    let help = match nearest(wanted, known()) {
        Some(near) => format!("did you mean `{near}`?"),
        None => format!("known ones: {}", known().collect::<Vec<_>>().join(", ")),
    };
    output.complain(&format!("unknown schema `{wanted}`"), &help);
    Err(Stop(Exit::BadInput))
}

/// Every schema by name, with what it is of.
fn rows() -> impl Iterator<Item = (&'static str, &'static str)> {
    let inputs = file::SCHEMAS.iter().map(|schema| (schema.name, schema.about));
    inputs.chain(OUTPUTS.iter().map(|schema| (schema.name, schema.about)))
}

/// Every schema on a line of its own, what it is of under each other.
fn list() -> String {
    let width = rows().map(|(name, _)| name.len()).max().unwrap_or(0);
    rows().map(|(name, about)| format!("{name:width$}  {about}\n")).collect()
}

//! `faults`: every form of a fault phrase.

use ohmhound::fault::FORMS;

use super::output::Output;
use super::{Exit, Stop};

pub(super) fn faults(output: &Output) -> Result<Exit, Stop> {
    output.result(&forms())?;
    Ok(Exit::Done)
}

/// Every form of a fault phrase with its meaning, one a line.
pub(super) fn forms() -> String {
    let longest = FORMS.iter().map(|(form, _)| form.len()).max().unwrap_or(0);
    FORMS.iter().map(|(form, means)| format!("{form:longest$}  {means}\n")).collect()
}

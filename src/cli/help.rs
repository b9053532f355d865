//! `faults`: every form of a fault phrase.

use ohmhound::fault::FORMS;

use super::output::Output;
use super::{Exit, Stop};

pub(super) fn faults(output: &Output) -> Result<Exit, Stop> {
    let longest = FORMS.iter().map(|(form, _)| form.len()).max().unwrap_or(0);
    let text: String =
        FORMS.iter().map(|(form, means)| format!("{form:longest$}  {means}\n")).collect();
    output.result(&text)?;
    Ok(Exit::Done)
}

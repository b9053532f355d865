//! `next`: the measurement that tells most about what remains.

use ohmhound::diagnosis::{Job, diagnose_job};
use ohmhound::engine::Assembly;
use ohmhound::plan;
use ohmhound::report::{diagnosis_json, next_text};

use super::args::{Format, Next};
use super::output::Output;
use super::{Exit, Stop, inputs};

pub(super) fn run(args: &Next, output: &Output) -> Result<Exit, Stop> {
    let job = inputs::job(&args.readings, output)?;
    let (circuit, readings) = (&job.circuit, &job.readings);
    let assembly = Assembly::new(circuit);
    let mut diagnosis = diagnose_job(&assembly, &Job::of(readings));
    let proposals = plan::next(&assembly, &readings.readings, &diagnosis, &readings.meter);
    plan::mark_inseparable(&assembly, &mut diagnosis, &readings.meter);
    let most = usize::from(args.most).min(proposals.len());
    match args.readings.format {
        Format::Json => {
            let proposals = &proposals[..most];
            output.json(&diagnosis_json(circuit, &readings.readings, &diagnosis, proposals))?;
        }
        Format::Text => {
            let (style, width) = (output.result_style(), output.width());
            output.result(&next_text(circuit, &diagnosis, &proposals, most, style, width))?;
        }
    }
    Ok(Exit::Done)
}

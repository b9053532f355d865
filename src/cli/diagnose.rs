//! `diagnose`: which faults reproduce the readings.

use ohmhound::diagnosis::{Job, Pairs, diagnose_job};
use ohmhound::engine::Assembly;
use ohmhound::plan::{self, Planner, standing_in};
use ohmhound::report::{diagnosis_json, diagnosis_text};

use super::args::{Diagnose, Format};
use super::output::Output;
use super::patience::patiently;
use super::{Exit, Stop, inputs, picture};

pub(super) fn run(args: &Diagnose, output: &Output) -> Result<Exit, Stop> {
    picture::checked(args.picture.as_deref(), output)?;
    let job = inputs::job(&args.readings, output)?;
    let (circuit, readings) = (&job.circuit, &job.readings);
    let assembly = Assembly::new(circuit);
    let pairs = if args.pairs { Pairs::Always } else { Pairs::Needed };
    let wanted = Job { pairs, ..Job::of(readings) };
    let mut diagnosis = patiently(|| diagnose_job(&assembly, &wanted));
    let planner = Planner::new(&assembly, &readings.readings, &diagnosis, &readings.meter);
    let mut proposals = planner.proposals(standing_in(&readings.readings));
    proposals.truncate(3);
    plan::mark_inseparable(&assembly, &mut diagnosis, &readings.meter);
    match args.format {
        Format::Json => {
            output.json(&diagnosis_json(circuit, &readings.readings, &diagnosis, &proposals))?;
        }
        Format::Text => {
            let text = diagnosis_text(
                circuit,
                &readings.readings,
                &job.origin,
                &diagnosis,
                (&planner, &proposals),
                output.result_style(),
                output.width(),
            );
            output.result(&text)?;
        }
    }
    if let Some(file) = &args.picture {
        picture::diagnosed(&assembly, readings, &diagnosis, file, output)?;
    }
    Ok(if diagnosis.explains() { Exit::Done } else { Exit::No })
}

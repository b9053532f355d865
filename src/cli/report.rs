//! `report`: the page for the job ticket.

use std::path::{Path, PathBuf};

use ohmhound::circuit::{Circuit, Overlay, POWERED, Readings};
use ohmhound::diagnosis::{Job, Pairs, diagnose_job};
use ohmhound::engine::Assembly;
use ohmhound::file::replace_file;
use ohmhound::plan::{Planner, mark_inseparable, standing_in};
use ohmhound::report::{Ticket, ticket_html, ticket_markdown};
use ohmhound::study::{assumptions, compare, coverage, operating};

use super::args::{PageFormat, Report};
use super::output::{Output, shown};
use super::patience::patiently;
use super::{Exit, Stop, inputs, picture, substitute};

/// Endings of files that are read, never written.
const INPUTS: [&str; 2] = ["toml", "csv"];

pub(super) fn run(args: &Report, output: &Output) -> Result<Exit, Stop> {
    let job = inputs::job(&args.readings, output)?;
    if let Some(path) = &args.output {
        refuse_inputs(path, &job.files, output)?;
    }
    let page = patiently(|| written(args, &job, output))?;
    match &args.output {
        None => output.result(&page)?,
        Some(path) => {
            replace_file(path, page.as_bytes()).map_err(|why| {
                let message = format!("cannot write `{}`: {why}", shown(path));
                output.complain(&message, "name another file by -o, or leave it out for stdout");
                Stop(Exit::BadInput)
            })?;
            output.note(&format!("wrote the report `{}`", shown(path)));
        }
    }
    Ok(Exit::Done)
}

/// The page in the form that was asked for.
fn written(args: &Report, job: &inputs::Job, output: &Output) -> Result<String, Stop> {
    let (circuit, readings): (&Circuit, &Readings) = (&job.circuit, &job.readings);
    let substitutes = substitute::substitutes(circuit, &args.substitute, output)?;
    let assembly = Assembly::new(circuit);
    let compared = match substitutes.is_empty() {
        true => None,
        false => Some(compare(&assembly, &substitutes, &[]).map_err(|(ending, as_drawn)| {
            let which = if as_drawn { "as drawn" } else { "with the substitute" };
            substitute::no_point(circuit, &ending, which, output)
        })?),
    };
    let pairs = if args.pairs { Pairs::Always } else { Pairs::Needed };
    let mut diagnosis = diagnose_job(&assembly, &Job { pairs, ..Job::of(readings) });
    let planner = Planner::new(&assembly, &readings.readings, &diagnosis, &readings.meter);
    let now = standing_in(&readings.readings);
    let proposals = planner.proposals(now);
    let advice = planner.advise(circuit, &diagnosis, now, &|_| false);
    mark_inseparable(&assembly, &mut diagnosis, &readings.meter);
    let after =
        (!readings.after.is_empty()).then(|| diagnose_job(&assembly, &Job::after_repair(readings)));
    let healthy = operating(&assembly, POWERED, &Overlay::none()).ok();
    let likeliest = picture::likeliest(&diagnosis);
    let faulted = likeliest.and_then(|one| operating(&assembly, POWERED, &one.overlay).ok());
    let coverage = coverage(&assembly, readings, &diagnosis);
    let ticket = Ticket {
        circuit,
        readings,
        origin: &job.origin,
        diagnosis: &diagnosis,
        healthy: healthy.as_ref(),
        likeliest: likeliest.map(|one| (picture::drawn(one), faulted.as_ref())),
        planner: &planner,
        proposals: &proposals,
        advice: &advice,
        after: after.as_ref(),
        substitutes: compared.as_ref().map(|compared| (&substitutes[..], compared)),
        assumptions: &assumptions(circuit),
        coverage: &coverage,
    };
    Ok(match args.format {
        PageFormat::Html => ticket_html(&ticket),
        PageFormat::Markdown => ticket_markdown(&ticket),
    })
}

/// Refuses to write over what was read, or over what looks like something that is read.
fn refuse_inputs(path: &Path, files: &[PathBuf], output: &Output) -> Result<(), Stop> {
    let Ok(whole) = path.canonicalize() else { return Ok(()) };
    let is_input = files.iter().any(|file| file.canonicalize().is_ok_and(|file| file == whole));
    let ending = whole.extension().and_then(|ending| ending.to_str()).unwrap_or_default();
    let looks_like_one = whole.is_file() && INPUTS.contains(&ending.to_lowercase().as_str());
    if !is_input && !looks_like_one {
        return Ok(());
    }
    let what = if is_input { "is an input of this report" } else { "looks like an input" };
    let message = format!("expected a file for the page, found `{}`, which {what}", shown(path));
    output.complain(&message, "name another file by -o, such as `report.html`");
    Err(Stop(Exit::BadInput))
}

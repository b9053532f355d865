//! `next`: the measurement that tells most about what remains, or the whole tree of them.

use ohmhound::diagnosis::{Job, diagnose_job};
use ohmhound::engine::Assembly;
use ohmhound::plan::{self, Planner, standing_in};
use ohmhound::report::{diagnosis_json, next_text, tree_json, tree_markdown, tree_text};

use super::args::{Next, TreeFormat};
use super::output::Output;
use super::patience::patiently;
use super::{Exit, Stop, inputs};

pub(super) fn run(args: &Next, output: &Output) -> Result<Exit, Stop> {
    let format = args.format;
    if args.tree.is_none() && format == TreeFormat::Markdown {
        let help = "add `--tree` for the whole tree, or leave `--format markdown` out";
        output.complain("the next measurement has no form in Markdown", help);
        return Err(Stop(Exit::BadInput));
    }
    let job = inputs::job(&args.readings, output)?;
    let (circuit, readings) = (&job.circuit, &job.readings);
    let assembly = Assembly::new(circuit);
    let mut diagnosis = patiently(|| diagnose_job(&assembly, &Job::of(readings)));
    let planner = Planner::new(&assembly, &readings.readings, &diagnosis, &readings.meter);
    let now = standing_in(&readings.readings);
    let (style, width) = (output.result_style(), output.width());
    if let Some(depth) = args.tree {
        let tree = planner.tree(circuit, now, usize::from(depth));
        match format {
            TreeFormat::Json => output.json(&tree_json(circuit, &tree))?,
            TreeFormat::Markdown => output.result(&tree_markdown(circuit, &tree))?,
            TreeFormat::Text if tree.measurement.is_none() => {
                let text = next_text(circuit, &diagnosis, &planner, &[], 0, style, width);
                output.result(&text)?;
            }
            TreeFormat::Text => output.result(&tree_text(circuit, &tree, style, width))?,
        }
        return Ok(Exit::Done);
    }
    let proposals = planner.proposals(now);
    plan::mark_inseparable(&assembly, &mut diagnosis, &readings.meter);
    let most = usize::from(args.most).min(proposals.len());
    if format == TreeFormat::Json {
        let proposals = &proposals[..most];
        output.json(&diagnosis_json(circuit, &readings.readings, &diagnosis, proposals))?;
    } else {
        output.result(&next_text(circuit, &diagnosis, &planner, &proposals, most, style, width))?;
    }
    Ok(Exit::Done)
}

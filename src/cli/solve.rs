//! `solve`: the operating point, or the table for the bench.

use ohmhound::circuit::{Circuit, Meter, Overlay};
use ohmhound::engine::{Assembly, Ending};
use ohmhound::report::{
    bands_json, bands_text, cycle_json, cycle_text, expect_json, expect_text, operating_json,
    operating_text,
};
use ohmhound::study::{
    Watched, bands, draws, everything, expect, operating, watched_nets, with_others,
};
use serde_json::json;

use super::args::{Format, Solve};
use super::output::Output;
use super::patience::patiently;
use super::{Exit, Stop, inputs, picture};

pub(super) fn run(args: &Solve, output: &Output) -> Result<Exit, Stop> {
    let circuit = inputs::circuit(&args.circuit, output)?;
    let setup = inputs::setup(&circuit, &args.setup, output)?;
    picture::checked(args.picture.as_deref(), output)?;
    let (overlay, faults) = inputs::faults(&circuit, &args.fault, output)?;
    let names: Vec<String> = faults.iter().map(|fault| fault.full_phrase(&circuit)).collect();
    let assembly = Assembly::new(&circuit);
    let title = title(&circuit, &args.setup, &names);
    let (style, width) = (output.result_style(), output.width());
    if let Some(file) = &args.picture {
        let title = picture::title(&circuit, &args.setup);
        let scene = picture::Scene::new(&assembly, setup, (&faults, &overlay));
        picture::write(file, &scene.ladder(&title).svg(), output)?;
    }
    if args.expect {
        let nets = expect(&assembly, setup, &overlay, &Meter::default()).map_err(|ending| {
            no_point(&circuit, &assembly, setup, &overlay, &ending, args.format, output)
        })?;
        match args.format {
            Format::Text => output.result(&expect_text(&circuit, &title, &nets, style, width))?,
            Format::Json => output.json(&expect_json(&circuit, &nets))?,
        }
        return Ok(Exit::Done);
    }
    if args.bands {
        let mut told = inputs::watched(&circuit, "--watch", &args.watch, output)?;
        if told.is_empty() {
            told = watched_nets(&circuit).into_iter().map(Watched::Net).collect();
        }
        let mut all = everything(&assembly, setup, &overlay);
        let between = told.iter().filter(|one| matches!(one, Watched::Between(..)));
        all.extend(between.copied());
        let found = patiently(|| bands(&assembly, setup, &overlay, &all)).map_err(|ending| {
            no_point(&circuit, &assembly, setup, &overlay, &ending, args.format, output)
        })?;
        let drawn = args.draws.map(|count| {
            let boards = (count as usize, args.seed);
            patiently(|| draws(&assembly, (setup, &overlay), &all, boards))
        });
        match args.format {
            Format::Text => output.result(&bands_text(
                &circuit,
                &title,
                &found,
                &told,
                drawn.as_ref(),
                (style, width),
            ))?,
            Format::Json => output.json(&bands_json(&circuit, &found, drawn.as_ref()))?,
        }
        return Ok(Exit::Done);
    }
    let point = operating(&assembly, setup, &overlay).map_err(|ending| {
        no_point(&circuit, &assembly, setup, &overlay, &ending, args.format, output)
    })?;
    // States that remember are always looked for; every point of the board only when asked.
    let mut point = point;
    if args.all_states || assembly.has_states() {
        point = with_others(&assembly, setup, &overlay, point);
        if !args.all_states {
            point.others.retain(|other| other.stable);
        }
    }
    let healthy =
        if names.is_empty() { None } else { operating(&assembly, setup, &Overlay::none()).ok() };
    match args.format {
        Format::Text => {
            let text = operating_text(&circuit, &title, &point, healthy.as_ref(), style, width);
            output.result(&text)?;
        }
        Format::Json => {
            let mut value = operating_json(&circuit, &point);
            value["setup"] = json!(args.setup);
            value["faults"] = json!(names);
            if let Some(healthy) = &healthy {
                value["healthy"] = operating_json(&circuit, healthy);
            }
            output.json(&value)?;
        }
    }
    Ok(Exit::Done)
}

fn title(circuit: &Circuit, setup: &str, faults: &[String]) -> String {
    let mut parts = Vec::new();
    if !circuit.title.is_empty() {
        parts.push(circuit.title.clone());
    }
    parts.push(setup.to_owned());
    if !faults.is_empty() {
        parts.push(format!("with {}", faults.join(" and ")));
    }
    parts.join(", ")
}

/// Says why there is no operating point, with names.
fn no_point(
    circuit: &Circuit,
    assembly: &Assembly<'_>,
    setup: ohmhound::circuit::SetupId,
    overlay: &Overlay,
    ending: &Ending,
    format: Format,
    output: &Output,
) -> Stop {
    let network = assembly.network(setup, overlay);
    let mut help = "";
    let message = match ending {
        Ending::Cycling { exhaustive } => {
            if let Some(cycle) = assembly.power_up(setup, overlay, None).cycle {
                let (style, width) = (output.result_style(), output.width());
                let told = match format {
                    Format::Text => output.result(&cycle_text(circuit, &cycle, style, width)),
                    Format::Json => output.json(&cycle_json(circuit, &cycle)),
                };
                if let Err(stop) = told {
                    return stop;
                }
            }
            if *exhaustive {
                "no DC operating point: parts keep switching each other on and off".to_owned()
            } else {
                "no DC operating point found: parts keep switching each other on and off".to_owned()
            }
        }
        Ending::Contradiction { elements } => {
            let names: Vec<String> = elements
                .iter()
                .filter_map(|&idx| network.elements[idx].part())
                .map(|part| format!("`{}`", circuit[part].name))
                .collect();
            help = "give sources a `resistance`: real ones and their leads have one";
            format!(
                "no operating point: an ideal source is shorted, or ideal sources stand against \
                 each other: {}",
                names.join(", ")
            )
        }
        Ending::NotSettled { nets } => {
            let names: Vec<String> = nets
                .iter()
                .filter_map(|&net| circuit.nets.get(net))
                .map(|name| format!("`{name}`"))
                .collect();
            format!("no operating point found: these nets do not settle: {}", names.join(", "))
        }
        _ => "no operating point: the equations have no single answer".to_owned(),
    };
    output.complain(&message, help);
    Stop(Exit::NoPoint)
}

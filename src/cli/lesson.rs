//! `lesson`: the equations of a circuit worked step by step.

use ohmhound::circuit::Circuit;
use ohmhound::engine::{Assembly, Ending};
use ohmhound::quantity::{Unit, parse_number};
use ohmhound::report::{Lecture, lesson_html, lesson_json, lesson_markdown, lesson_text};
use ohmhound::study::lesson::{Laid, NoLesson, lesson};

use super::args::{Lesson as Args, SheetFormat};
use super::output::Output;
use super::patience::patiently;
use super::{Exit, Stop, inputs, picture};

pub(super) fn run(args: &Args, output: &Output) -> Result<Exit, Stop> {
    let circuit = inputs::circuit(&args.circuit, output)?;
    let setup = inputs::setup(&circuit, &args.setup, output)?;
    picture::checked(args.picture.as_deref(), output)?;
    let (overlay, faults) = inputs::faults(&circuit, &args.fault, output)?;
    let names: Vec<String> = faults.iter().map(|fault| fault.full_phrase(&circuit)).collect();
    let meters: Vec<Laid> =
        args.meter.iter().map(|text| meter(&circuit, text, output)).collect::<Result<_, _>>()?;
    if circuit.nets.len() < 2 {
        output.complain("the circuit has no parts", "a lesson needs at least one part to write of");
        return Err(Stop(Exit::BadInput));
    }
    let assembly = Assembly::new(&circuit);
    let found = patiently(|| lesson(&assembly, setup, &overlay, &meters));
    let found = found.map_err(|refused| {
        let (message, help) = match refused {
            NoLesson::NoPoint(Ending::Cycling { .. }) => (
                "there is no operating point to teach: parts keep switching each other on and off",
                "`solve` says which",
            ),
            NoLesson::NoPoint(Ending::Contradiction { .. }) => (
                "there is no operating point to teach: an ideal source is shorted, or ideal \
                 sources stand against each other",
                "give sources a `resistance`: real ones and their leads have one",
            ),
            NoLesson::NoPoint(_) => (
                "there is no operating point to teach: the equations have no single answer",
                "`solve` says more",
            ),
            NoLesson::NotWritten => (
                "this board has a part whose law a lesson cannot write out",
                "`solve` has its operating point",
            ),
        };
        output.complain(message, help);
        Stop(Exit::NoPoint)
    })?;
    let mut title = vec![circuit.title.clone(), args.setup.clone()];
    title.retain(|text| !text.is_empty());
    if !names.is_empty() {
        title.push(format!("with {}", names.join(" and ")));
    }
    let title = title.join(", ");
    // The circuit is drawn for a picture and for a page only.
    let is_drawn = args.picture.is_some() || args.format == SheetFormat::Html;
    let scene = is_drawn.then(|| picture::Scene::new(&assembly, setup, (&faults, &overlay)));
    let ladder = scene.as_ref().map(|scene| scene.ladder(&title));
    if let (Some(file), Some(ladder)) = (&args.picture, &ladder) {
        let ladder = ladder.clone();
        let drawn = if args.ask { ladder.without_volts() } else { ladder };
        picture::write(file, &drawn.svg(), output)?;
    }
    let (circuit, lesson) = (&circuit, &found);
    let ladder = ladder.as_ref().filter(|_| args.format == SheetFormat::Html);
    let lecture = Lecture { circuit, lesson, title: &title, asks: args.ask, ladder };
    let text = match args.format {
        SheetFormat::Text => lesson_text(&lecture, output.result_style(), output.width()),
        SheetFormat::Markdown => lesson_markdown(&lecture),
        SheetFormat::Html => lesson_html(&lecture),
        SheetFormat::Json => {
            output.json(&lesson_json(circuit, lesson))?;
            return Ok(Exit::Done);
        }
    };
    output.result(&text)?;
    Ok(Exit::Done)
}

/// A meter over a net, `NET=10M`.
fn meter(circuit: &Circuit, text: &str, output: &Output) -> Result<Laid, Stop> {
    let Some((name, ohms)) = text.rsplit_once('=') else {
        let message = format!("expected `--meter NET=OHMS`, found `{text}`");
        output.complain(&message, "write for example `--meter EN=10M`");
        return Err(Stop(Exit::BadInput));
    };
    let net = inputs::net(circuit, "--meter", name.trim(), output)?;
    if net == ohmhound::circuit::NetId::GROUND {
        output.complain(
            &format!("a meter at `{name}` has both leads on ground"),
            "name another net: the black lead is on ground",
        );
        return Err(Stop(Exit::BadInput));
    }
    match parse_number(ohms.trim(), Unit::Ohm) {
        Ok(number) if (1.0..=1e12).contains(&number.value) => Ok(Laid { net, ohms: number.value }),
        Ok(_) => {
            let message = format!("expected a meter of 1 Ω to 1 TΩ, found `{ohms}`");
            output.complain(&message, "hand-held meters have 10 MΩ: `10M`");
            Err(Stop(Exit::BadInput))
        }
        Err(error) => {
            output.complain(&format!("`--meter {text}`: {error}"), "write for example `EN=10M`");
            Err(Stop(Exit::BadInput))
        }
    }
}

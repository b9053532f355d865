//! `curve`: nets while one value goes over a range.

use ohmhound::circuit::Circuit;
use ohmhound::device::of;
use ohmhound::engine::Assembly;
use ohmhound::fault;
use ohmhound::file::{parameter_argument, range_argument};
use ohmhound::picture::{Plot, PlotLevel, PlotLine, plot_svg};
use ohmhound::quantity::Unit;
use ohmhound::report::{
    curve_csv, curve_json, curve_text, curve_title, level_words, swept_words, watched_words,
};
use ohmhound::study::{Curve, Range, Swept, Turn, Watched, curve, watched_nets};

use super::args::{Curve as Args, CurveFormat};
use super::output::Output;
use super::patience::patiently;
use super::{Exit, Stop, inputs};

/// A range of resistances over this ratio is looked at in the logarithm, unless asked otherwise.
const WIDE: f64 = 30.0;
/// A change from one place to the next of this share of all is drawn as a jump, where something
/// switches in between.
const JUMP: f64 = 0.05;

pub(super) fn run(args: &Args, output: &Output) -> Result<Exit, Stop> {
    let circuit = inputs::circuit(&args.circuit, output)?;
    let setup = inputs::setup(&circuit, &args.setup, output)?;
    let (overlay, _) = inputs::faults(&circuit, &args.fault, output)?;
    let swept = swept(&circuit, &args.over, output)?;
    let unit = swept.unit(&circuit);
    let (from, to) = inputs::accept(range_argument(&args.range, unit), output)?;
    let is_wide = from > 0.0 && to / from >= WIDE && unit == Unit::Ohm;
    let is_log = args.log || (is_wide && !args.linear);
    if is_log && from <= 0.0 {
        output.complain(
            &format!("expected a range above zero for a logarithmic axis, found `{}`", args.range),
            "leave out --log, or begin above zero",
        );
        return Err(Stop(Exit::BadInput));
    }
    if let Swept::Parameter { part, name, .. } = swept {
        let rows = of(&circuit[part]).parameters();
        let row = rows.iter().find(|row| row.name == name);
        if let Some(row) = row.filter(|row| !row.range.holds(from) || !row.range.holds(to)) {
            let message = format!(
                "`{name}` of `{}` cannot go over `{}`, expected {}",
                circuit[part].name,
                args.range,
                row.range.words(row.unit)
            );
            output.complain(&message, "");
            return Err(Stop(Exit::BadInput));
        }
    }
    let asked = inputs::watched(&circuit, "--watch", &args.watch, output)?;
    let watched = if asked.is_empty() { usual(&circuit) } else { asked };
    let assembly = Assembly::new(&circuit);
    let range = Range { from, to, count: usize::from(args.points), is_log };
    let followed = || curve(&assembly, (setup, &overlay), swept, range, &watched);
    let found = patiently(followed).map_err(|_| {
        let words = swept_words(&circuit, &swept);
        let message = format!("the board has no operating point anywhere over {words}");
        output.complain(&message, "`solve` says more at one of the values");
        Stop(Exit::NoPoint)
    })?;
    let title = curve_title(&circuit, &swept, &found);
    let text = match args.format {
        CurveFormat::Text => {
            let view = (output.result_style(), output.width());
            curve_text(&circuit, &title, &swept, &found, view)
        }
        CurveFormat::Csv => curve_csv(&circuit, &swept, &found),
        CurveFormat::Json => {
            output.json(&curve_json(&circuit, &swept, &found))?;
            return Ok(Exit::Done);
        }
        CurveFormat::Svg => plot_svg(&plot(&circuit, &title, &swept, &found)).map_err(|why| {
            output.complain(&format!("the plot cannot be drawn: {why}"), "");
            Stop(Exit::BadInput)
        })?,
    };
    output.result(&text)?;
    Ok(Exit::Done)
}

/// What goes over the range: a part, one of its parameters, the temperature, or a fault.
fn swept(circuit: &Circuit, text: &str, output: &Output) -> Result<Swept, Stop> {
    if text == "temperature" && circuit.part(text).is_none() {
        return Ok(Swept::Temperature);
    }
    if text.trim().contains(' ') {
        let found = fault::parse(text, circuit).map_err(|message| {
            output.complain(&message, "`ohmhound faults` lists every form");
            Stop(Exit::BadInput)
        })?;
        let takes = found.with_value(Some(1.0)).value().is_some();
        if !takes {
            let message = format!("`{text}` has no value that could go over a range");
            output.complain(&message, "name one such as \"R3 drifted\" or \"EN leak\"");
            return Err(Stop(Exit::BadInput));
        }
        return Ok(Swept::Fault(found));
    }
    let named = inputs::accept(parameter_argument(circuit, text), output)?;
    let (part, row) = (named.part, named.parameter);
    if circuit[part].toleranced(row.name).is_none() {
        let message = format!("`{}` has no `{}` that is a number", circuit[part].name, row.name);
        output.complain(&message, "give it a value in the file first");
        return Err(Stop(Exit::BadInput));
    }
    Ok(Swept::Parameter { part, name: row.name, unit: row.unit })
}

/// The nets that are watched when none is named.
fn usual(circuit: &Circuit) -> Vec<Watched> {
    let mut nets = watched_nets(circuit);
    if nets.is_empty() {
        nets = circuit.nets_by_id().skip(1).map(|(net, _)| net).collect();
    }
    nets.truncate(4);
    nets.into_iter().map(Watched::Net).collect()
}

/// A line with the places put in at which something switches: there it goes straight up or down.
fn with_jumps(points: Vec<(f64, Option<f64>)>, turns: &[Turn]) -> Vec<(f64, Option<f64>)> {
    let values = || points.iter().filter_map(|(_, value)| *value);
    let low = values().fold(f64::INFINITY, f64::min);
    let high = values().fold(f64::NEG_INFINITY, f64::max);
    let mut found: Vec<(f64, Option<f64>)> = Vec::with_capacity(points.len());
    for &(x, y) in &points {
        if let Some(&(before, value)) = found.last() {
            // What changes without a jump stays the slope that it is.
            let jumps = y.zip(value).is_some_and(|(y, was)| (y - was).abs() > JUMP * (high - low));
            let inside = |turn: &&Turn| before < turn.at && turn.at < x;
            if let Some(turn) = turns.iter().find(inside).filter(|_| jumps) {
                found.extend([(turn.at, value), (turn.at, y)]);
            }
        }
        found.push((x, y));
    }
    found
}

fn plot(circuit: &Circuit, title: &str, swept: &Swept, found: &Curve) -> Plot {
    let unit = swept.unit(circuit);
    let of_run = |run: &ohmhound::study::Run, ending: &str, is_dashed: bool| -> Vec<PlotLine> {
        let watched = found.watched.iter().enumerate();
        watched
            .map(|(at, one)| {
                let points = found.places.iter().zip(&run.volts);
                let points = points.map(|(x, volts)| (*x, volts.as_ref().map(|volts| volts[at])));
                let name = format!("{}{ending}", watched_words(circuit, *one));
                let points = with_jumps(points.collect(), &run.turns);
                PlotLine { name, points, group: at, is_dashed }
            })
            .collect()
    };
    let mut lines = of_run(&found.rising, "", false);
    if let Some(falling) = &found.falling {
        lines.extend(of_run(falling, ", falling", true));
    }
    let turns = |run: &ohmhound::study::Run| -> Vec<String> {
        let turns = run.turns.iter().map(|turn| {
            let at = ohmhound::quantity::print(turn.at, unit, 3);
            format!("at {at} {} is {}, was {}", circuit[turn.part].name, turn.to, turn.from)
        });
        turns.collect()
    };
    let mut words = vec![title.to_owned()];
    words.extend(turns(&found.rising));
    words.extend(found.falling.iter().flat_map(turns).map(|text| format!("falling, {text}")));
    let levels = found
        .levels
        .iter()
        .map(|level| PlotLevel { name: level_words(circuit, level), value: level.volts });
    let (first, last) = (found.places[0], found.places[found.places.len() - 1]);
    Plot {
        title: title.to_owned(),
        description: words.join(". "),
        across: format!("{}, {}", swept_words(circuit, swept), unit.symbol()),
        up: "volts".to_owned(),
        is_log: found.is_log,
        range: (first, last),
        lines,
        levels: levels.collect(),
        marks: Vec::new(),
    }
}

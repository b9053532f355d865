//! `substitute`: what another value does, and which value of those there are is the best.

use ohmhound::circuit::{Circuit, NetId, PartId, Substitute as Other};
use ohmhound::device::of;
use ohmhound::engine::{Assembly, Ending};
use ohmhound::file::{
    Named, Wanted, load_stock, parameter_argument, place_argument, substitute_argument,
};
use ohmhound::quantity::{Series, Tolerance, Unit, print, print_short};
use ohmhound::report::{choices_json, choices_text, substitute_json, substitute_text};
use ohmhound::study::{AsDrawn, Choice, Stand, choose, compare, of_series, watched_nets};

use super::args::{Format, Substitute};
use super::output::Output;
use super::patience::patiently;
use super::{Exit, Stop, inputs};

/// Choices of each sort that are shown.
const MOST: usize = 5;
/// Values that are looked at lie within this factor of the one drawn.
const AROUND: f64 = 1e3;
/// A choice whose nominal voltage is further from the target than this share is none.
const NEAR: f64 = 0.05;

pub(super) fn run(args: &Substitute, output: &Output) -> Result<Exit, Stop> {
    let circuit = inputs::circuit(&args.circuit, output)?;
    let assembly = Assembly::new(&circuit);
    let is_search = args.target.is_some() || args.stock.is_some() || args.series.is_some();
    if is_search {
        return search(args, &circuit, &assembly, output);
    }
    let substitutes = substitutes(&circuit, &args.parts, output)?;
    let watch = inputs::nets(&circuit, "--watch", &args.watch, output)?;
    let found =
        patiently(|| compare(&assembly, &substitutes, &watch)).map_err(|(ending, as_drawn)| {
            let which = if as_drawn { "as drawn" } else { "with the substitute" };
            no_point(&circuit, &ending, which, output)
        })?;
    let view = (output.result_style(), output.width());
    match args.format {
        Format::Text => output.result(&substitute_text(&circuit, &substitutes, &found, view))?,
        Format::Json => output.json(&substitute_json(&circuit, &substitutes, &found))?,
    }
    Ok(if found.stand == Stand::Broken { Exit::No } else { Exit::Done })
}

/// What is put in place of what, from `PART=VALUE`.
pub(super) fn substitutes(
    circuit: &Circuit,
    texts: &[String],
    output: &Output,
) -> Result<Vec<Other>, Stop> {
    let mut substitutes: Vec<Other> = Vec::new();
    for text in texts {
        // Each is read in front of those before it: a tolerance goes with the new value. Said twice,
        // the last one holds; of two parameters of a part both do.
        let so_far = circuit.with(&substitutes);
        let one = inputs::accept(substitute_argument(&so_far, text), output)?;
        substitutes.retain(|known| (known.part, known.parameter) != (one.part, one.parameter));
        substitutes.push(one);
    }
    Ok(substitutes)
}

pub(super) fn no_point(circuit: &Circuit, ending: &Ending, which: &str, output: &Output) -> Stop {
    let why = match ending {
        Ending::Cycling { .. } => "parts keep switching each other on and off".to_owned(),
        Ending::Contradiction { .. } => "ideal sources stand against each other".to_owned(),
        Ending::NotSettled { nets } => {
            let names = nets.iter().filter_map(|&net| circuit.nets.get(net));
            let names: Vec<String> = names.map(|name| format!("`{name}`")).collect();
            format!("these nets do not settle: {}", names.join(", "))
        }
        _ => "its equations have no single answer".to_owned(),
    };
    output.complain(&format!("the board {which} has no operating point: {why}"), "");
    Stop(Exit::NoPoint)
}

fn search(
    args: &Substitute,
    circuit: &Circuit,
    assembly: &Assembly<'_>,
    output: &Output,
) -> Result<Exit, Stop> {
    let mut named: Vec<Named> = Vec::new();
    for text in &args.parts {
        if text.contains('=') {
            output.complain(
                &format!("expected a part to find a value for, found `{text}`"),
                "name the part alone, as in `R3`, or leave out --target, --stock and --series",
            );
            return Err(Stop(Exit::BadInput));
        }
        named.push(inputs::accept(parameter_argument(circuit, text), output)?);
    }
    if named.len() > 2 {
        output.complain(
            &format!("expected one part or two, found {}", named.len()),
            "two are the two of a divider, chosen together",
        );
        return Err(Stop(Exit::BadInput));
    }
    if let [first, second] = &named[..]
        && (first.part, first.parameter.name) == (second.part, second.parameter.name)
    {
        let name = &circuit[first.part].name;
        output.complain(
            &format!("expected two different parts, found `{name}` twice"),
            "two are the two of a divider, chosen together",
        );
        return Err(Stop(Exit::BadInput));
    }
    if let [first, second] = &named[..]
        && first.parameter.unit != second.parameter.unit
    {
        let message = format!(
            "expected two parts of one unit, found {} and {}",
            first.parameter.unit.name(),
            second.parameter.unit.name()
        );
        output.complain(&message, "");
        return Err(Stop(Exit::BadInput));
    }
    let first = named[0];
    let row = first.parameter;
    let Some(drawn) = circuit[first.part].toleranced(row.name) else {
        let message =
            format!("`{}` has no `{}` that is a number", circuit[first.part].name, row.name);
        output.complain(&message, "");
        return Err(Stop(Exit::BadInput));
    };
    let as_drawn = drawn.half_width_high() / drawn.nominal.abs();
    let items = match (&args.stock, args.series) {
        (Some(path), _) => {
            let rows = of(&circuit[first.part]).parameters();
            let rated = rows.iter().find(|row| row.name == "rated").map_or(Unit::Watt, |r| r.unit);
            let tolerance = row.tolerance.unwrap_or(Tolerance::Fraction(as_drawn));
            let wanted = Wanted { unit: row.unit, rated, tolerance };
            inputs::accept(load_stock(path, wanted), output)?
        }
        (None, series) => {
            let series = series.map_or_else(|| Series::for_tolerance(as_drawn), Into::into);
            let nominals = named.iter().filter_map(|one| {
                circuit[one.part].toleranced(one.parameter.name).map(|value| value.nominal)
            });
            let (low, high) = nominals.fold((f64::INFINITY, 0.0_f64), |(low, high), value| {
                (low.min(value), high.max(value))
            });
            of_series(series, as_drawn, low / AROUND, high * AROUND)
        }
    };
    let target = target(args, circuit, assembly, &named, output)?;
    let wanted: Vec<_> = named.iter().map(|one| (one.part, one.parameter.name)).collect();
    let mut found = patiently(|| choose(assembly, &wanted, target, &items, MOST))
        .map_err(|ending| no_point(circuit, &ending, "as drawn", output))?;
    // What the rest of the board says of each choice that is shown.
    let mut judged = Vec::new();
    let touched: Vec<PartId> = named.iter().map(|one| one.part).collect();
    let drawn = patiently(|| AsDrawn::new(assembly, &touched))
        .map_err(|(ending, _)| no_point(circuit, &ending, "as drawn", output))?;
    for list in [&mut found.singles, &mut found.pairs, &mut found.both] {
        let with_verdict = |choice: Choice| {
            let comparison = patiently(|| drawn.compare(&choice.substitutes, &[])).ok()?;
            Some((choice, comparison))
        };
        let mut own: Vec<_> = std::mem::take(list).into_iter().filter_map(with_verdict).collect();
        // What breaks something stands behind what does not, however near it comes.
        own.sort_by_key(|(_, comparison)| comparison.stand == Stand::Broken);
        for (choice, comparison) in own {
            list.push(choice);
            judged.push(comparison);
        }
    }
    let view = (output.result_style(), output.width());
    match args.format {
        Format::Text => output.result(&choices_text(circuit, &found, &judged, view))?,
        Format::Json => output.json(&choices_json(circuit, &found, &judged))?,
    }
    let choices = found.singles.iter().chain(&found.pairs).chain(&found.both);
    let comes_near = |volts: f64| (volts - found.target).abs() <= NEAR * found.target.abs();
    let fit = choices.clone().zip(&judged).any(|(choice, comparison)| {
        comparison.stand != Stand::Broken && comes_near(choice.nominal)
    });
    if !fit {
        let volts = || choices.clone().map(|choice| choice.nominal);
        let (low, high) = (volts().fold(f64::INFINITY, f64::min), volts().fold(0.0, f64::max));
        let net = circuit.net_name(found.net);
        let message = if volts().any(comes_near) {
            format!("none of these is fit: each breaks something, see `{net}` and the limits")
        } else {
            let (low, high) = (print(low, Unit::Volt, 3), print(high, Unit::Volt, 3));
            let nearest = if low == high { low } else { format!("{low} .. {high}") };
            let target = print_short(found.target, Unit::Volt);
            format!(
                "none of these values brings `{net}` to {target}: the nearest come to {nearest}"
            )
        };
        output.complain(&message, "try another series, another list, or both parts of the divider");
    }
    Ok(if fit { Exit::Done } else { Exit::No })
}

/// The net and the volts that it should have: as asked, or as drawn where nothing was.
fn target(
    args: &Substitute,
    circuit: &Circuit,
    assembly: &Assembly<'_>,
    named: &[Named],
    output: &Output,
) -> Result<(NetId, f64), Stop> {
    if let Some(text) = &args.target {
        return inputs::accept(place_argument(circuit, "--target", text, Unit::Volt), output);
    }
    // The net that somebody cares for and that the part moves most.
    let candidates = watched_nets(circuit);
    let point = assembly.healthy(ohmhound::circuit::POWERED).run.point.clone();
    let Some(point) = point else {
        output.complain("the board as drawn has no operating point", "");
        return Err(Stop(Exit::NoPoint));
    };
    let best = ohmhound::study::moves_most(
        assembly,
        (named[0].part, named[0].parameter.name),
        &candidates,
    );
    let Some(net) = best else {
        output.complain(
            "expected a net that should have a value",
            "give one by `--target NET=VOLTS`; no net with limits and no output of a regulator goes \
             with this part",
        );
        return Err(Stop(Exit::BadInput));
    };
    Ok((net, point.volts[net.index()]))
}

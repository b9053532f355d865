//! Operating points and tables of expected readings as text.

use super::Style;
use super::text::Page;
use super::words::{drop_with_band, shown, with_band};
use crate::circuit::{Circuit, NetId};
use crate::device::of;
use crate::engine::Cycle;
use crate::quantity::Unit;
use crate::study::{Expected, ExpectedNet, Operating, Requirement};

/// Amps and watts that are left over of a sum and say nothing but how a machine rounds.
const LEFT_OVER: f64 = 1e-12;

/// An operating point as text; with a second one, a healthy board beside it.
pub fn operating_text(
    circuit: &Circuit,
    title: &str,
    point: &Operating,
    healthy: Option<&Operating>,
    style: Style,
    width: usize,
) -> String {
    let mut page = Page::new(style, width);
    page.heading(title);
    let nets: Vec<Vec<String>> = point
        .nets
        .iter()
        .enumerate()
        .map(|(idx, net)| {
            let value = if net.floating {
                "floats".to_owned()
            } else {
                with_band(net.volts, net.u, Unit::Volt)
            };
            let mut row = vec![circuit.net_name(net.net).to_owned(), value];
            if let Some(healthy) = healthy.and_then(|healthy| healthy.nets.get(idx)) {
                row.push(if healthy.floating {
                    "floats".to_owned()
                } else {
                    shown(healthy.volts, Unit::Volt)
                });
            }
            row
        })
        .collect();
    let header: &[&str] =
        if healthy.is_some() { &["net", "volts", "healthy"] } else { &["net", "volts"] };
    page.table(header, &nets, &[]);
    requirements(circuit, point, &mut page);
    others(circuit, point, &mut page);
    page.heading("Parts");
    let parts: Vec<Vec<String>> = point
        .parts
        .iter()
        .map(|state| {
            let part = &circuit[state.part];
            let amps = match state.amps {
                Some(amps) => shown(amps, Unit::Amp),
                None => {
                    let pins = part.pins.iter().zip(&state.pins);
                    pins.map(|(pin, amps)| format!("{} {}", pin.name, shown(*amps, Unit::Amp)))
                        .collect::<Vec<_>>()
                        .join(", ")
                }
            };
            let watts = if of(part).is_source() && state.watts < 0.0 {
                format!("gives {}", shown(-state.watts, Unit::Watt))
            } else {
                shown(state.watts, Unit::Watt)
            };
            vec![
                part.name.clone(),
                part.kind.to_owned(),
                amps,
                watts,
                state.state.unwrap_or("").to_owned(),
            ]
        })
        .collect();
    page.table(&["part", "kind", "amps", "watts", ""], &parts, &[]);
    page.line("");
    page.sentence(
        "",
        "Amps go from pin 1 to pin 2, for a source out of its plus pin. Bands are two standard \
         uncertainties of the parts.",
    );
    page.sentence(
        "",
        &format!(
            "Checked: the currents at every net add up to nothing within {:.0e} A, the watts \
             given and taken within {:.0e} W ({}, {} steps).",
            point.kcl_residual.max(LEFT_OVER),
            point.power_imbalance.abs().max(LEFT_OVER),
            point.strategy.words(),
            point.iterations,
        ),
    );
    page.finish()
}

/// What has to be there first, and what something waits for.
fn requirements(circuit: &Circuit, point: &Operating, page: &mut Page) {
    let row = |number: String, need: &Requirement| {
        let marginal = if need.marginal { "marginal" } else { "" };
        let what =
            if need.holds { need.condition.to_owned() } else { format!("no {}", need.condition) };
        vec![
            number,
            circuit[need.part].name.clone(),
            what,
            if need.against == NetId::GROUND {
                circuit.net_name(need.net).to_owned()
            } else {
                format!("{} to {}", circuit.net_name(need.net), circuit.net_name(need.against))
            },
            shown(need.found, Unit::Volt),
            shown(need.needed, Unit::Volt),
            shown(need.margin, Unit::Volt),
            marginal.to_owned(),
        ]
    };
    let header = ["", "part", "condition", "at", "found", "needed", "margin", ""];
    if !point.power_up.is_empty() {
        page.heading("Power-up order");
        let rows: Vec<Vec<String>> = point
            .power_up
            .iter()
            .enumerate()
            .map(|(at, need)| row((at + 1).to_string(), need))
            .collect();
        page.table(&header, &rows, &[]);
    }
    if !point.waiting.is_empty() {
        page.heading("Not met");
        let rows: Vec<Vec<String>> =
            point.waiting.iter().map(|need| row(String::new(), need)).collect();
        page.table(&header, &rows, &[]);
    }
    if !point.inner_paths.is_empty() {
        page.heading("Through diodes inside parts");
        for path in &point.inner_paths {
            let text = format!(
                "{} from {} through {} into {}",
                shown(path.amps, Unit::Amp),
                circuit.net_name(path.from),
                circuit[path.part].name,
                circuit.net_name(path.to)
            );
            page.sentence("  ", &text);
        }
    }
}

/// The other operating points, by the nets that differ.
fn others(circuit: &Circuit, point: &Operating, page: &mut Page) {
    for other in &point.others {
        page.heading(if other.stable { "Also stable" } else { "Not stable" });
        let rows: Vec<Vec<String>> = point
            .nets
            .iter()
            .zip(&other.volts)
            .filter(|(net, volts)| (net.volts - **volts).abs() > 1e-3 * (1.0 + volts.abs()))
            .map(|(net, volts)| {
                let name = circuit.net_name(net.net).to_owned();
                vec![name, shown(*volts, Unit::Volt), shown(net.volts, Unit::Volt)]
            })
            .collect();
        page.table(&["net", "volts", "after power-up"], &rows, &[]);
    }
}

/// A board that keeps switching, as text.
pub fn cycle_text(circuit: &Circuit, cycle: &Cycle, style: Style, width: usize) -> String {
    let mut page = Page::new(style, width);
    page.heading("Keeps switching");
    let names: Vec<&str> = cycle.parts.iter().map(|part| circuit[*part].name.as_str()).collect();
    let more =
        if cycle.exhaustive { "no other state stays" } else { "no state that stays was found" };
    page.sentence(
        "",
        &format!("{} switch each other on and off; {more}. Nets move between:", names.join(", ")),
    );
    let rows: Vec<Vec<String>> = circuit
        .nets_by_id()
        .skip(1)
        .filter_map(|(net, name)| {
            let (low, high) = *cycle.ranges.get(net.index())?;
            Some(vec![name.to_owned(), shown(low, Unit::Volt), shown(high, Unit::Volt)])
        })
        .collect();
    page.table(&["net", "least", "most"], &rows, &[]);
    page.finish()
}

/// The table of expected readings as text.
pub fn expect_text(
    circuit: &Circuit,
    title: &str,
    nets: &[ExpectedNet],
    style: Style,
    width: usize,
) -> String {
    let mut page = Page::new(style, width);
    page.heading(title);
    let value = |expected: &Option<Expected>, unit| match expected {
        Some(expected) => with_band(expected.value, expected.u, unit),
        None => "no point".to_owned(),
    };
    let drop = |expected: &Option<Expected>| match expected {
        // The text below the table says that these are volts: the column is narrow.
        Some(expected) => drop_with_band(expected.value, expected.u).replacen(" V", "", 1),
        None => "no point".to_owned(),
    };
    let rows: Vec<Vec<String>> = nets
        .iter()
        .map(|net| {
            let volts =
                if net.floating { "floats".to_owned() } else { shown(net.volts, Unit::Volt) };
            vec![
                circuit.net_name(net.net).to_owned(),
                volts,
                value(&net.shown, Unit::Volt),
                value(&net.ohms, Unit::Ohm),
                drop(&net.diode_red),
                drop(&net.diode_black),
            ]
        })
        .collect();
    let header = ["net", "true", "meter shows", "ohms", "diode, red", "diode, black"];
    page.table(&header, &rows, &[]);
    page.line("");
    page.sentence(
        "",
        "Volts with the power on; ohms and diode (in volts) with the power off and capacitors \
         discharged. Black on ground for volts and ohms; diode with the red and with the black \
         lead on the net. Bands are two standard uncertainties of the parts.",
    );
    page.finish()
}

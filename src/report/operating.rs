//! Operating points and tables of expected readings as text.

use super::Style;
use super::text::Page;
use super::words::{shown, with_band};
use crate::circuit::Circuit;
use crate::quantity::Unit;
use crate::study::{Expected, ExpectedNet, Operating};

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
            vec![
                part.name.clone(),
                part.kind.to_owned(),
                amps,
                shown(state.watts, Unit::Watt),
                state.state.unwrap_or("").to_owned(),
            ]
        })
        .collect();
    page.table(&["part", "kind", "amps, pin 1 to 2", "watts", ""], &parts, &[]);
    page.line("");
    page.sentence(
        "",
        &format!(
            "found by {} in {} steps; largest sum of currents at a net {:.1e} A, power balance \
             {:.1e} W",
            point.strategy.words(),
            point.iterations,
            point.kcl_residual,
            point.power_imbalance
        ),
    );
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
                value(&net.diode_red, Unit::Volt),
                value(&net.diode_black, Unit::Volt),
            ]
        })
        .collect();
    let header = ["net", "true", "on the meter", "ohms", "diode, red", "diode, black"];
    page.table(&header, &rows, &[]);
    page.line("");
    page.sentence(
        "",
        "Black on ground for volts and ohms; diode with the red and with the black lead on the net. \
         Volts with the power on; ohms and diode with the power off and capacitors discharged. \
         Bands are two standard uncertainties of the parts.",
    );
    page.finish()
}

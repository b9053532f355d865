//! Bands as text and JSON: worst case, standard uncertainty, what contributes, yield.

use serde_json::{Value, json};

use super::Style;
use super::json::{VERSION, number, share};
use super::text::Page;
use super::words::{percent, shown};
use crate::circuit::{Circuit, Limit, NetId};
use crate::quantity::{Unit, print};
use crate::study::{Band, Draws, Watched};

/// Contributions that are told of one number.
const MOST_SHARES: usize = 5;
/// A share of the variance that nobody would work on.
const SMALL_SHARE: f64 = 0.01;
/// Numbers whose contributions are told.
const MOST_BUDGETS: usize = 6;

/// The unit of a watched number.
pub(super) fn unit_of(watched: Watched) -> Unit {
    match watched {
        Watched::Net(_) | Watched::Between(..) => Unit::Volt,
        Watched::Amps(_) => Unit::Amp,
        Watched::Watts(_) => Unit::Watt,
    }
}

/// The name of a watched number: of a net, of two nets, of a part.
pub fn watched_words(circuit: &Circuit, watched: Watched) -> String {
    name_of(circuit, watched)
}

/// The name of a watched number.
pub(super) fn name_of(circuit: &Circuit, watched: Watched) -> String {
    match watched {
        Watched::Net(net) => circuit.net_name(net).to_owned(),
        Watched::Between(red, black) => {
            format!("{} to {}", circuit.net_name(red), circuit.net_name(black))
        }
        Watched::Amps(part) | Watched::Watts(part) => circuit[part].name.clone(),
    }
}

/// From the least to the most, in one unit of length.
pub(super) fn from_to(low: f64, high: f64, unit: Unit) -> String {
    // Below the last digit of any meter there is nothing.
    let seen = |value: f64| if shown(value, unit) == shown(0.0, unit) { 0.0 } else { value };
    let (low, high) = (print(seen(low), unit, 4), print(seen(high), unit, 4));
    if low == high { low } else { format!("{low} .. {high}") }
}

/// A limit in words.
pub(super) fn limit_words(limit: &Limit) -> String {
    match (limit.min, limit.max) {
        (Some(min), Some(max)) => {
            format!("{} .. {}", shown(min, Unit::Volt), shown(max, Unit::Volt))
        }
        (Some(min), None) => format!("at least {}", shown(min, Unit::Volt)),
        (None, Some(max)) => format!("at most {}", shown(max, Unit::Volt)),
        (None, None) => String::new(),
    }
}

/// How a worst case stands to a limit: kept, or how far it is broken.
pub(super) fn against(limit: &Limit, low: f64, high: f64) -> String {
    let under = limit.min.map_or(0.0, |min| min - low);
    let over = limit.max.map_or(0.0, |max| high - max);
    if under <= 0.0 && over <= 0.0 {
        return "kept".to_owned();
    }
    let (by, side) = if under > over { (under, "under") } else { (over, "over") };
    format!("{} {side}", print(by, Unit::Volt, 2))
}

/// The limit of a net, where it has one.
pub(super) fn limit_of(circuit: &Circuit, net: NetId) -> Option<&Limit> {
    circuit.limits.iter().find(|(known, _)| *known == net).map(|(_, limit)| limit)
}

/// Bands as text. The contributions are told of `told`.
pub fn bands_text(
    circuit: &Circuit,
    title: &str,
    bands: &[Band],
    told: &[Watched],
    draws: Option<&Draws>,
    (style, width): (Style, usize),
) -> String {
    let mut page = Page::new(style, width);
    page.heading(title);
    let limited = bands.iter().any(|band| match band.watched {
        Watched::Net(net) => limit_of(circuit, net).is_some(),
        _ => false,
    });
    let rows = |is_net: bool| -> Vec<Vec<String>> {
        bands
            .iter()
            .filter(|band| (unit_of(band.watched) == Unit::Volt) == is_net)
            .map(|band| {
                let unit = unit_of(band.watched);
                let u = 2.0 * band.u;
                let mut row = vec![
                    name_of(circuit, band.watched),
                    shown(band.nominal, unit),
                    from_to(band.low, band.high, unit),
                    if u > 0.0 { print(u, unit, 2) } else { String::new() },
                ];
                if is_net
                    && limited
                    && let Watched::Net(net) = band.watched
                {
                    let limit = limit_of(circuit, net);
                    row.push(limit.map_or(String::new(), limit_words));
                    row.push(
                        limit.map_or(String::new(), |limit| against(limit, band.low, band.high)),
                    );
                }
                row
            })
            .collect()
    };
    let mut header = vec!["net", "nominal", "worst case", "2 u"];
    if limited {
        header.extend(["limit", "worst case"]);
    }
    page.table(&header, &rows(true), &[]);
    let amps = rows(false);
    if !amps.is_empty() {
        page.heading("Currents");
        page.table(&["part", "nominal", "worst case", "2 u"], &amps, &[]);
    }
    for band in bands.iter().filter(|band| !band.switches.is_empty()) {
        let names: Vec<&str> =
            band.switches.iter().map(|part| circuit[*part].name.as_str()).collect();
        let text = format!(
            "At a worst corner of {}, {} switches: the band has a jump in it.",
            name_of(circuit, band.watched),
            names.join(", ")
        );
        page.sentence("", &text);
    }
    let budgets = bands.iter().filter(|band| told.contains(&band.watched) && band.u > 0.0);
    let mut rows: Vec<Vec<String>> = Vec::new();
    for band in budgets.take(MOST_BUDGETS) {
        let unit = unit_of(band.watched);
        let mut first = name_of(circuit, band.watched);
        for share in band.shares.iter().take(MOST_SHARES) {
            if share.of_variance < SMALL_SHARE {
                break;
            }
            rows.push(vec![
                std::mem::take(&mut first),
                format!("{} {}", circuit[share.part].name, share.parameter),
                format!("±{}", print(share.effect.abs(), unit, 2)),
                percent(share.of_variance),
            ]);
        }
    }
    if !rows.is_empty() {
        page.heading("What contributes most");
        page.table(&["", "by the tolerance of", "up to", "of u²"], &rows, &[]);
    }
    if let Some(draws) = draws {
        drawn(circuit, draws, &mut page);
    }
    page.line("");
    page.sentence(
        "",
        "Worst case: every part at the end of its tolerance that moves the number furthest, solved \
         there. 2 u: two standard uncertainties, tolerances taken as even distributions.",
    );
    page.finish()
}

fn drawn(circuit: &Circuit, draws: &Draws, page: &mut Page) {
    page.heading(&format!("{} boards drawn", draws.count));
    let rows: Vec<Vec<String>> = draws
        .numbers
        .iter()
        .filter(|drawn| unit_of(drawn.watched) == Unit::Volt)
        .map(|drawn| {
            let unit = unit_of(drawn.watched);
            let kept = draws.kept.iter().find(|(net, _)| drawn.watched == Watched::Net(*net));
            let share = |kept: usize| kept as f64 / draws.count.max(1) as f64;
            vec![
                name_of(circuit, drawn.watched),
                shown(drawn.mean, unit),
                print(drawn.deviation, unit, 2),
                from_to(drawn.central.0, drawn.central.1, unit),
                kept.map_or(String::new(), |(_, kept)| yield_words(share(*kept))),
            ]
        })
        .collect();
    page.table(&["net", "mean", "deviation", "95 % of them", "keep the limit"], &rows, &[]);
    if !draws.kept.is_empty() {
        let share = draws.good as f64 / draws.count.max(1) as f64;
        page.line(&format!("Boards that keep every limit: {}.", yield_words(share)));
    }
    if draws.lost > 0 {
        page.line(&format!("Boards without an operating point: {}.", draws.lost));
    }
}

/// A yield in percent; all of those drawn is said as that.
fn yield_words(share: f64) -> String {
    if share >= 1.0 { "all".to_owned() } else { format!("{:.1} %", 100.0 * share) }
}

/// A band as JSON.
pub(super) fn band_json(circuit: &Circuit, band: &Band) -> Value {
    let shares: Vec<Value> = band
        .shares
        .iter()
        .map(|share| {
            json!({
                "part": circuit[share.part].name,
                "parameter": share.parameter,
                "of_variance": number(self::share(share.of_variance)),
                "effect": number(share.effect),
            })
        })
        .collect();
    let names: Vec<&str> = band.switches.iter().map(|part| circuit[*part].name.as_str()).collect();
    json!({
        "nominal": number(band.nominal),
        "u": number(band.u),
        "low": number(band.low),
        "high": number(band.high),
        "shares": shares,
        "switches": names,
    })
}

/// Bands as JSON.
pub fn bands_json(circuit: &Circuit, bands: &[Band], draws: Option<&Draws>) -> Value {
    let group = |is_net: bool| -> Value {
        let own = bands.iter().filter(|band| (unit_of(band.watched) == Unit::Volt) == is_net);
        let each = own.map(|band| (name_of(circuit, band.watched), band_json(circuit, band)));
        Value::Object(each.collect())
    };
    let mut value = json!({ "version": VERSION, "nets": group(true), "amps": group(false) });
    if let Some(draws) = draws {
        let numbers: Vec<Value> = draws
            .numbers
            .iter()
            .map(|drawn| {
                let quantity = if unit_of(drawn.watched) == Unit::Volt { "volts" } else { "amps" };
                json!({
                    "place": name_of(circuit, drawn.watched),
                    "quantity": quantity,
                    "mean": number(drawn.mean),
                    "deviation": number(drawn.deviation),
                    "central": [number(drawn.central.0), number(drawn.central.1)],
                    "ends": [number(drawn.ends.0), number(drawn.ends.1)],
                })
            })
            .collect();
        let kept =
            draws.kept.iter().map(|(net, kept)| (circuit.net_name(*net).to_owned(), json!(kept)));
        value["draws"] = json!({
            "count": draws.count,
            "lost": draws.lost,
            "good": draws.good,
            "kept": Value::Object(kept.collect()),
            "numbers": numbers,
        });
    }
    value
}

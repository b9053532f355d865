//! A board with substitutes beside the board as drawn, as text and JSON.

use serde_json::{Value, json};

use super::Style;
use super::bands::{band_json, from_to, limit_words};
use super::document::{Block, Tone, lay_out};
use super::json::{VERSION, number};
use super::text::Page;
use super::words::{list, shown};
use crate::circuit::{Circuit, Param, Substitute};
use crate::quantity::{Spread, Toleranced, Unit, print, print_short};
use crate::study::{Comparison, ConditionChange, Consumer, Stand};

/// How something stands, in a word.
fn word(stand: Stand) -> &'static str {
    match stand {
        Stand::Kept => "kept",
        Stand::Tight => "kept by nominal values only",
        Stand::Broken => "broken",
    }
}

/// Whether a part may go where another one was, in a word.
fn verdict(stand: Stand) -> &'static str {
    match stand {
        Stand::Kept => "fits",
        Stand::Tight => "fits by nominal values only",
        Stand::Broken => "does not fit",
    }
}

/// A value with its tolerance.
pub(super) fn value_words(param: &Param, unit: Unit) -> String {
    let number = |number: &Toleranced| {
        let text = print_short(number.nominal, unit);
        match number.spread {
            Some(Spread::Absolute(half)) if number.nominal != 0.0 && half > 0.0 => {
                let percent = 100.0 * half / number.nominal.abs();
                format!("{text} ±{} %", (percent * 100.0).round() / 100.0)
            }
            Some(Spread::Factor(factor)) => format!("{text}, times or divided by {factor}"),
            Some(Spread::Between { least, most }) => {
                format!("{text} ({} .. {})", print_short(least, unit), print_short(most, unit))
            }
            _ => text,
        }
    };
    match param {
        Param::Number(value) => number(value),
        Param::Point(point) => number(&point.value),
        Param::Pull(pull) => {
            let unit = if pull.is_current { Unit::Amp } else { Unit::Ohm };
            let way = if pull.up { "up" } else { "down" };
            format!("{way} {}", print_short(pull.value.nominal, unit))
        }
        Param::Word(word) => word.clone(),
        Param::Flag(flag) => flag.to_string(),
    }
}

/// The unit of a parameter.
fn unit_of(circuit: &Circuit, one: &Substitute) -> Unit {
    let rows = crate::device::of(&circuit[one.part]).parameters();
    rows.iter().find(|row| row.name == one.parameter).map_or(Unit::One, |row| row.unit)
}

/// What is put in place of what: `R3 value 51 kΩ ±1 % for 52.3 kΩ ±1 %`.
pub fn substitute_words(circuit: &Circuit, one: &Substitute) -> String {
    let unit = unit_of(circuit, one);
    let part = &circuit[one.part];
    let old = part.param(one.parameter).map_or("nothing".to_owned(), |old| value_words(old, unit));
    let which =
        if one.parameter == "value" { String::new() } else { format!(" {}", one.parameter) };
    format!("{}{which} {} for {old}", part.name, value_words(&one.param, unit))
}

/// A comparison as text.
pub fn substitute_text(
    circuit: &Circuit,
    substitutes: &[Substitute],
    found: &Comparison,
    (style, width): (Style, usize),
) -> String {
    let mut page = Page::new(style, width);
    let words: Vec<String> = substitutes.iter().map(|one| substitute_words(circuit, one)).collect();
    page.heading(&words.join(", "));
    lay_out(&mut page, &substitute_blocks(circuit, found));
    page.line("");
    page.sentence("", NOT_LOOKED_AT);
    page.finish()
}

/// What a comparison knows nothing of.
pub(super) const NOT_LOOKED_AT: &str = "Only what the file says was looked at: DC, no heat, no timing. Ratings \
                             that it does not give are not checked.";

/// A comparison, piece by piece.
pub(super) fn substitute_blocks(circuit: &Circuit, found: &Comparison) -> Vec<Block> {
    let mut blocks = Vec::new();
    let rows: Vec<Vec<String>> = found
        .nets
        .iter()
        .map(|net| {
            vec![
                circuit.net_name(net.net).to_owned(),
                shown(net.before.nominal, Unit::Volt),
                shown(net.after.nominal, Unit::Volt),
                from_to(net.after.low, net.after.high, Unit::Volt),
                print(2.0 * net.after.u, Unit::Volt, 2),
            ]
        })
        .collect();
    if rows.is_empty() {
        blocks.push(Block::text("No net moves by more than its band, and none has limits."));
    } else {
        blocks.push(Block::table(&["net", "before", "after", "worst case after", "2 u"], rows));
    }
    let limits: Vec<Vec<String>> = found
        .nets
        .iter()
        .filter_map(|net| {
            let (limit, before, after) = net.limit.as_ref()?;
            Some(vec![
                circuit.net_name(net.net).to_owned(),
                limit_words(limit),
                word(*before).to_owned(),
                word(*after).to_owned(),
                margin_words(limit.min, limit.max, (net.after.low, net.after.high)),
            ])
        })
        .collect();
    let header = ["net", "limit", "before", "after", "margin in the worst case"];
    under(&mut blocks, "Limits", &header, limits);
    chips(circuit, found, &mut blocks);
    ratings(circuit, found, &mut blocks);
    consumers(circuit, found, &mut blocks);
    if let Some([before, after]) = &found.order {
        let names = |list: &[crate::study::Requirement]| {
            let names =
                list.iter().map(|need| format!("{} {}", circuit[need.part].name, need.condition));
            names.collect::<Vec<_>>().join(", ")
        };
        blocks.push(Block::Heading("Power-up order".to_owned()));
        let facts = [("before", before), ("after", after)];
        let facts = facts.map(|(name, list)| (name.to_owned(), names(list)));
        blocks.push(Block::Facts(facts.to_vec()));
    }
    blocks.push(Block::Heading("Verdict".to_owned()));
    let tone = match found.stand {
        Stand::Kept => Tone::Good,
        Stand::Tight => Tone::Plain,
        Stand::Broken => Tone::Off,
    };
    blocks.push(Block::Note(tone, verdict_words(circuit, found)));
    blocks
}

/// A table under a heading, where it has rows.
fn under(blocks: &mut Vec<Block>, heading: &str, header: &[&'static str], rows: Vec<Vec<String>>) {
    if !rows.is_empty() {
        blocks.push(Block::Heading(heading.to_owned()));
        blocks.push(Block::table(header, rows));
    }
}

/// How much room there is to the nearer limit, or how far it is passed.
fn margin_words(min: Option<f64>, max: Option<f64>, (low, high): (f64, f64)) -> String {
    let under = min.map(|min| low - min);
    let over = max.map(|max| max - high);
    let (margin, side) = match (under, over) {
        (Some(under), Some(over)) if under <= over => (under, "under"),
        (Some(under), None) => (under, "under"),
        (_, Some(over)) => (over, "over"),
        (None, None) => return String::new(),
    };
    let size = print(margin.abs(), Unit::Volt, 2);
    if margin >= 0.0 { format!("{size} left") } else { format!("{size} {side}") }
}

fn chips(circuit: &Circuit, found: &Comparison, blocks: &mut Vec<Block>) {
    let conditions: Vec<Vec<String>> = found
        .conditions
        .iter()
        .filter_map(|change| {
            let now = change.now()?;
            let margin = |need: &Option<crate::study::Requirement>| {
                need.as_ref().map_or("-".to_owned(), |need| shown(need.margin, Unit::Volt))
            };
            Some(vec![
                circuit[now.part].name.clone(),
                now.condition.to_owned(),
                circuit.net_name(now.net).to_owned(),
                shown(now.found, Unit::Volt),
                shown(now.needed, Unit::Volt),
                margin(&change.before),
                margin(&change.after),
                condition_word(change).to_owned(),
            ])
        })
        .collect();
    let pins: Vec<Vec<String>> = found
        .pins
        .iter()
        .map(|pin| {
            let part = &circuit[pin.part];
            vec![
                format!("{}.{}", part.name, part.pins[pin.pin].name),
                shown(pin.before, Unit::Volt),
                shown(pin.after, Unit::Volt),
                shown(pin.most, Unit::Volt),
                shown(pin.maximum, Unit::Volt),
                word(pin.stand).to_owned(),
            ]
        })
        .collect();
    let header = ["part", "condition", "at", "found", "needs", "margin", "then", ""];
    under(blocks, "Conditions of chips", &header, conditions);
    let header = ["pin", "before", "after", "at most", "maximum", ""];
    under(blocks, "Absolute maxima", &header, pins);
}

fn condition_word(change: &ConditionChange) -> &'static str {
    let held = change.before.as_ref().is_some_and(|before| before.holds);
    match &change.after {
        Some(after) if after.holds && after.marginal => "marginal",
        Some(after) if after.holds => "met",
        _ if held => "broken",
        _ => "not met, as before",
    }
}

fn ratings(circuit: &Circuit, found: &Comparison, blocks: &mut Vec<Block>) {
    let rows: Vec<Vec<String>> = found
        .ratings
        .iter()
        .map(|one| {
            vec![
                circuit[one.part].name.clone(),
                shown(one.before, one.unit),
                shown(one.after, one.unit),
                shown(one.most, one.unit),
                one.rated.map_or("not given".to_owned(), |rated| print_short(rated, one.unit)),
                one.rated.map_or("", |_| word(one.stand)).to_owned(),
            ]
        })
        .collect();
    let header = ["part", "before", "after", "at most", "rated", ""];
    under(blocks, "Dissipation and ratings", &header, rows);
}

fn consumers(circuit: &Circuit, found: &Comparison, blocks: &mut Vec<Block>) {
    if !found.consumers.is_empty() {
        blocks.push(Block::Heading("What it touches".to_owned()));
        let words = found.consumers.iter().map(|one| consumer_words(circuit, one));
        blocks.push(Block::List(words.collect()));
    }
}

fn consumer_words(circuit: &Circuit, one: &Consumer) -> String {
    let part = &circuit[one.part];
    let nets: Vec<String> = one
        .pins
        .iter()
        .map(|&pin| format!("{} on {}", part.pins[pin].name, circuit.net_name(part.pins[pin].net)))
        .collect();
    let nets = if part.is_two_pin() {
        format!("on {}", circuit.net_name(part.pins[one.pins[0]].net))
    } else {
        list(&nets, 4)
    };
    let state = match one.states {
        (was, Some(is)) if was != Some(is) => {
            format!("{is}, was {}; ", was.unwrap_or("nothing"))
        }
        (_, Some(is)) => format!("{is}; "),
        _ => String::new(),
    };
    let amps = one
        .amps
        .filter(|(was, is)| was.abs().max(is.abs()) > 1e-7)
        .map_or(String::new(), |(was, is)| {
            format!("{}, was {}; ", shown(is, Unit::Amp), shown(was, Unit::Amp))
        });
    let verdict = match one.stand {
        Stand::Kept if !one.is_known => "no rating given, so not checked",
        Stand::Kept => "fine",
        Stand::Tight => "fine by nominal values only",
        Stand::Broken => "broken",
    };
    format!("{} ({nets}): {state}{amps}{verdict}", part.name)
}

/// The whole in one sentence, with what breaks.
fn verdict_words(circuit: &Circuit, found: &Comparison) -> String {
    let mut reasons: Vec<String> = Vec::new();
    for net in &found.nets {
        if let Some((limit, before, after)) = &net.limit
            && *after != Stand::Kept
        {
            let margin = margin_words(limit.min, limit.max, (net.after.low, net.after.high));
            let as_before = if before >= after { ", as before" } else { "" };
            let name = circuit.net_name(net.net);
            reasons.push(format!("{name} may be {margin} its limit{as_before}"));
        }
    }
    for pin in found.pins.iter().filter(|pin| pin.stand != Stand::Kept) {
        let part = &circuit[pin.part];
        let as_before = if pin.stood >= pin.stand { ", as before" } else { "" };
        reasons.push(format!(
            "{}.{} may see {}, more than its {}{as_before}",
            part.name,
            part.pins[pin.pin].name,
            shown(pin.most, Unit::Volt),
            shown(pin.maximum, Unit::Volt)
        ));
    }
    for one in found.ratings.iter().filter(|one| one.stand != Stand::Kept) {
        let as_before = if one.stood >= one.stand { ", as before" } else { "" };
        reasons.push(format!(
            "{} may come to {}, more than its {}{as_before}",
            circuit[one.part].name,
            shown(one.most, one.unit),
            one.rated.map_or(String::new(), |rated| print_short(rated, one.unit))
        ));
    }
    for change in found.conditions.iter().filter(|change| change.stand() != Stand::Kept) {
        if let Some(now) = change.now() {
            let how = if change.stand() == Stand::Broken { "is not met" } else { "is marginal" };
            reasons.push(format!("{} of {} {how}", now.condition, circuit[now.part].name));
        }
    }
    for (part, was, is) in &found.states {
        if let (Some(was), Some(is)) = (was, is) {
            reasons.push(format!("{} is {is}, was {was}", circuit[*part].name));
        }
    }
    let word = verdict(found.stand);
    if reasons.is_empty() { format!("{word}.") } else { format!("{word}: {}.", reasons.join("; ")) }
}

/// A comparison as JSON.
pub fn substitute_json(circuit: &Circuit, substitutes: &[Substitute], found: &Comparison) -> Value {
    let words = |stand: Stand| match stand {
        Stand::Kept => "kept",
        Stand::Tight => "tight",
        Stand::Broken => "broken",
    };
    let changed: Vec<Value> = substitutes
        .iter()
        .map(|one| {
            json!({
                "part": circuit[one.part].name,
                "parameter": one.parameter,
                "value": value_words(&one.param, unit_of(circuit, one)),
            })
        })
        .collect();
    let nets: Vec<Value> = found
        .nets
        .iter()
        .map(|net| {
            let limit = net.limit.as_ref().map(|(limit, before, after)| {
                json!({
                    "min": limit.min,
                    "max": limit.max,
                    "before": words(*before),
                    "after": words(*after),
                })
            });
            json!({
                "net": circuit.net_name(net.net),
                "before": band_json(circuit, &net.before),
                "after": band_json(circuit, &net.after),
                "limit": limit,
            })
        })
        .collect();
    let ratings: Vec<Value> = found
        .ratings
        .iter()
        .map(|one| {
            json!({
                "part": circuit[one.part].name,
                "unit": one.unit.symbol(),
                "before": number(one.before),
                "after": number(one.after),
                "most": number(one.most),
                "rated": one.rated,
                "stand": words(one.stand),
            })
        })
        .collect();
    let pins: Vec<Value> = found
        .pins
        .iter()
        .map(|pin| {
            let part = &circuit[pin.part];
            json!({
                "pin": format!("{}.{}", part.name, part.pins[pin.pin].name),
                "before": number(pin.before),
                "after": number(pin.after),
                "most": number(pin.most),
                "maximum": number(pin.maximum),
                "stand": words(pin.stand),
            })
        })
        .collect();
    let conditions: Vec<Value> = found
        .conditions
        .iter()
        .filter_map(|change| {
            let now = change.now()?;
            Some(json!({
                "part": circuit[now.part].name,
                "condition": now.condition,
                "net": circuit.net_name(now.net),
                "margin_before": change.before.as_ref().map(|need| number(need.margin)),
                "margin_after": change.after.as_ref().map(|need| number(need.margin)),
                "stand": words(change.stand()),
            }))
        })
        .collect();
    let consumers: Vec<Value> = found
        .consumers
        .iter()
        .map(|one| {
            json!({
                "part": circuit[one.part].name,
                "checked": one.is_known,
                "stand": words(one.stand),
                "state_before": one.states.0,
                "state_after": one.states.1,
                "amps_before": one.amps.map(|(was, _)| number(was)),
                "amps_after": one.amps.map(|(_, is)| number(is)),
            })
        })
        .collect();
    let order = |list: &[crate::study::Requirement]| -> Vec<String> {
        list.iter().map(|need| format!("{} {}", circuit[need.part].name, need.condition)).collect()
    };
    json!({
        "version": VERSION,
        "substitutes": changed,
        "nets": nets,
        "ratings": ratings,
        "pins": pins,
        "conditions": conditions,
        "consumers": consumers,
        "power_up": found.order.as_ref().map(|[before, after]| {
            json!({ "before": order(before), "after": order(after) })
        }),
        "fits": words(found.stand),
        "verdict": verdict_words(circuit, found),
    })
}

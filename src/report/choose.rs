//! Choices from a series or a drawer, as text and JSON.

use serde_json::{Value, json};

use super::Style;
use super::bands::from_to;
use super::json::{VERSION, number};
use super::text::Page;
use super::words::shown;
use crate::circuit::{Circuit, Param, StockItem};
use crate::device::of;
use crate::quantity::{Unit, print, print_short};
use crate::study::{Choice, Choices, Comparison, Makeup, Stand};

fn unit_of(circuit: &Circuit, choice: &Choice, part: usize) -> Unit {
    let one = &choice.substitutes[part];
    let rows = of(&circuit[one.part]).parameters();
    rows.iter().find(|row| row.name == one.parameter).map_or(Unit::One, |row| row.unit)
}

/// What is put in, in words: `R3 51 kΩ + 1.3 kΩ`, `R3 100 kΩ beside 110 kΩ`.
fn makeup_words(makeup: &Makeup, unit: Unit) -> String {
    let value = |item: &StockItem| {
        let text = print_short(item.value.nominal, unit);
        if item.note.is_empty() { text } else { format!("{text} ({})", item.note) }
    };
    match makeup {
        Makeup::Single(one) => value(one),
        Makeup::Series(a, b) => format!("{} + {}", value(a), value(b)),
        Makeup::Parallel(a, b) => format!("{} beside {}", value(a), value(b)),
    }
}

fn choice_words(circuit: &Circuit, choice: &Choice) -> String {
    let parts = choice.parts.iter().enumerate().map(|(at, (part, makeup))| {
        format!("{} {}", circuit[*part].name, makeup_words(makeup, unit_of(circuit, choice, at)))
    });
    parts.collect::<Vec<_>>().join(", ")
}

/// Choices as text; `judged` says how the board stands with a choice, in the order of
/// [`Choices::singles`], `pairs` and `both`.
pub fn choices_text(
    circuit: &Circuit,
    found: &Choices,
    judged: &[Comparison],
    (style, width): (Style, usize),
) -> String {
    let mut page = Page::new(style, width);
    let net = circuit.net_name(found.net);
    page.heading(&format!("{net} at {}", print(found.target, Unit::Volt, 4)));
    for (part, ideal) in &found.ideal {
        let parameter = found
            .singles
            .iter()
            .flat_map(|choice| &choice.substitutes)
            .find(|one| one.part == *part);
        let unit = parameter.map_or(Unit::Ohm, |one| {
            let rows = of(&circuit[one.part]).parameters();
            rows.iter().find(|row| row.name == one.parameter).map_or(Unit::One, |row| row.unit)
        });
        let name = &circuit[*part].name;
        page.line(&format!("  {name} alone would have to be {}.", print(*ideal, unit, 4)));
    }
    if found.ideal.is_empty() {
        page.sentence("  ", "No value of one part alone brings it there.");
    }
    let mut judged = judged.iter();
    for (title, list) in [
        ("One part", &found.singles),
        ("Two parts in place of one", &found.pairs),
        ("One value for each of both parts", &found.both),
    ] {
        if list.is_empty() {
            continue;
        }
        page.heading(title);
        let rows: Vec<Vec<String>> = list
            .iter()
            .map(|choice| {
                let stand = judged.next().map_or("", |comparison| match comparison.stand {
                    Stand::Kept => "fits",
                    Stand::Tight => "nominal only",
                    Stand::Broken => "does not fit",
                });
                vec![
                    choice_words(circuit, choice),
                    shown(choice.nominal, Unit::Volt),
                    from_to(choice.ends.0, choice.ends.1, Unit::Volt),
                    print(choice.error, Unit::Volt, 2),
                    stand.to_owned(),
                ]
            })
            .collect();
        page.table(&["", net, "worst case", "off by", ""], &rows, &[]);
    }
    if found.singles.is_empty() && found.pairs.is_empty() && found.both.is_empty() {
        page.line("  Nothing there is comes near.");
    }
    page.line("");
    page.sentence(
        "",
        "\"+\" is one behind the other, \"beside\" is in parallel. \"off by\" is the furthest from \
         the target in the worst case. `ohmhound substitute` with a value shows a choice in full.",
    );
    page.finish()
}

/// Choices as JSON.
pub fn choices_json(circuit: &Circuit, found: &Choices, judged: &[Comparison]) -> Value {
    let mut judged = judged.iter();
    let mut list = |choices: &[Choice]| -> Vec<Value> {
        choices
            .iter()
            .map(|choice| {
                let parts: Vec<Value> = choice
                    .parts
                    .iter()
                    .zip(&choice.substitutes)
                    .map(|((part, makeup), substitute)| {
                        let (how, items) = match makeup {
                            Makeup::Single(one) => ("single", vec![one]),
                            Makeup::Series(a, b) => ("series", vec![a, b]),
                            Makeup::Parallel(a, b) => ("parallel", vec![a, b]),
                        };
                        let values: Vec<f64> =
                            items.iter().map(|item| item.value.nominal).collect();
                        let value = match &substitute.param {
                            Param::Number(value) => value.nominal,
                            Param::Point(point) => point.value.nominal,
                            _ => f64::NAN,
                        };
                        json!({
                            "part": circuit[*part].name,
                            "parameter": substitute.parameter,
                            "how": how,
                            "values": values,
                            "value": number(value),
                            "notes": items.iter().map(|item| item.note.as_str()).collect::<Vec<_>>(),
                        })
                    })
                    .collect();
                let fits = judged.next().map(|comparison| match comparison.stand {
                    Stand::Kept => "kept",
                    Stand::Tight => "tight",
                    Stand::Broken => "broken",
                });
                json!({
                    "parts": parts,
                    "nominal": number(choice.nominal),
                    "low": number(choice.ends.0),
                    "high": number(choice.ends.1),
                    "off": number(choice.error),
                    "fits": fits,
                })
            })
            .collect()
    };
    let (singles, pairs, both) = (list(&found.singles), list(&found.pairs), list(&found.both));
    let ideal: Vec<Value> = found
        .ideal
        .iter()
        .map(|(part, value)| json!({ "part": circuit[*part].name, "value": number(*value) }))
        .collect();
    json!({
        "version": VERSION,
        "net": circuit.net_name(found.net),
        "target": number(found.target),
        "ideal": ideal,
        "singles": singles,
        "pairs": pairs,
        "both": both,
    })
}

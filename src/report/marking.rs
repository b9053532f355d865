//! Part markings with all that they can mean, as text and JSON.

use serde_json::{Value, json};

use super::{Page, Style, VERSION};
use crate::quantity::{MarkedTolerance, Marking, Rule, Unit, in_words};

/// A marking with its readings.
#[derive(Debug, Clone)]
pub struct MarkingsOf<'a> {
    /// The marking as it was typed.
    pub code: &'a str,
    /// What it can mean, likeliest first.
    pub readings: Vec<Marking>,
}

/// A table for each marking, likeliest reading first.
pub fn markings_text(all: &[MarkingsOf<'_>], style: Style, width: usize) -> String {
    let mut page = Page::new(style, width);
    for of in all {
        page.heading(of.code.trim());
        let rows: Vec<Vec<String>> = of.readings.iter().map(row).collect();
        page.table(&["", "value", "tolerance", "series", "by"], &rows, &[]);
    }
    page.finish()
}

fn row(marking: &Marking) -> Vec<String> {
    vec![
        marking.likelihood.word().to_owned(),
        marking.text(),
        marking.tolerance.map_or_else(String::new, |tolerance| tolerance.words(marking.unit)),
        match marking.series {
            Some(series) => format!("{series:?}"),
            None if marking.value == 0.0 => String::new(),
            None => "none".to_owned(),
        },
        by(marking),
    ]
}

/// The rule and how it leads to the value.
fn by(marking: &Marking) -> String {
    match marking.rule {
        // Their words say the rule already.
        Rule::Link | Rule::Plain => marking.how.clone(),
        rule => format!("{}: {}", rule.words(), marking.how),
    }
}

/// The markings as JSON.
pub fn markings_json(all: &[MarkingsOf<'_>]) -> Value {
    let markings: Vec<Value> = all
        .iter()
        .map(|of| {
            let readings: Vec<Value> = of.readings.iter().map(reading).collect();
            json!({ "code": of.code, "readings": readings })
        })
        .collect();
    json!({ "version": VERSION, "markings": markings })
}

fn reading(marking: &Marking) -> Value {
    let tolerance = marking.tolerance.map(|tolerance| {
        let (below, above) = match tolerance {
            MarkedTolerance::Share { below, above } => {
                (marking.value * below, marking.value * above)
            }
            MarkedTolerance::Absolute(size) => (size, size),
        };
        json!({ "text": tolerance.words(marking.unit), "below": below, "above": above })
    });
    json!({
        "quantity": if marking.unit == Unit::Farad { "capacitance" } else { "resistance" },
        "value": marking.value,
        "text": marking.text(),
        "words": in_words(marking.value, marking.unit),
        "tolerance": tolerance,
        "rule": marking.rule.words(),
        "how": marking.how,
        "series": marking.series.map(|series| format!("{series:?}")),
        "likelihood": marking.likelihood.word(),
    })
}

//! The sums that prove the answer.

use super::document::Block;
use super::sections::{View, table};
use crate::study::lesson::Lesson;

/// A sum that is this share of its largest term is nothing but rounding.
const NOTHING: f64 = 1e-6;

/// What takes less than this share of all watts takes none.
const NO_WATTS: f64 = 1e-9;

/// Currents into nets, volts round loops, powers.
pub(super) fn section(view: &View<'_>, blocks: &mut Vec<Block>) {
    let lesson = view.lesson;
    blocks.push(Block::Heading(if view.blank { "Check the sums" } else { "Checks" }.to_owned()));
    blocks.push(Block::Sentence("Currents that leave each net:".to_owned()));
    let rows = lesson.balances.iter().map(|balance| {
        let terms: Vec<(f64, String)> = balance
            .terms
            .iter()
            .map(|(at, amps)| (*amps, format!("{} ({})", view.amps(amps.abs()), view.label(*at))))
            .collect();
        let sizes = balance.terms.iter().map(|(_, amps)| *amps);
        vec![
            view.net(balance.net).to_owned(),
            sum_words(view, &terms),
            left(view, balance.sum, sizes, |value| view.amps(value)),
        ]
    });
    blocks.push(table(&["net", "sum", "="], rows.collect(), &[]));
    if !lesson.loops.is_empty() {
        let mut by_nets: Vec<&str> = Vec::new();
        for label in lesson.loops.iter().flat_map(|one| &one.by_nets).map(|at| view.label(*at)) {
            if !by_nets.contains(&label) {
                by_nets.push(label);
            }
        }
        let but = match by_nets.is_empty() {
            true => String::new(),
            false => format!(" (across {}, what its nets have above)", by_nets.join(", ")),
        };
        blocks.push(Block::Sentence(format!(
            "Volts lost round loops, each from the law of its branch and the current above{but}:"
        )));
        let rows = lesson.loops.iter().map(|one| {
            let way: Vec<&str> = one.nets.iter().map(|net| view.net(*net)).collect();
            let terms: Vec<(f64, String)> = one
                .terms
                .iter()
                .map(|(at, _, lost)| {
                    (*lost, format!("{} ({})", view.volts(lost.abs()), view.label(*at)))
                })
                .collect();
            let sizes = one.terms.iter().map(|(_, _, lost)| *lost);
            vec![
                way.join(" → "),
                sum_words(view, &terms),
                left(view, one.sum, sizes, |value| view.volts(value)),
            ]
        });
        blocks.push(table(&["loop", "sum", "="], rows.collect(), &[]));
    }
    power(view, lesson, blocks);
}

/// Terms with their signs; as blanks no sign gives an answer away.
fn sum_words(view: &View<'_>, terms: &[(f64, String)]) -> String {
    let mut text = String::new();
    for (number, (value, words)) in terms.iter().enumerate() {
        let minus = *value < 0.0 && !view.blank && !words.starts_with("0 ");
        text += match (number, minus) {
            (0, false) => "",
            (0, true) => "-",
            (_, false) => " + ",
            (_, true) => " - ",
        };
        text += words;
    }
    text
}

fn left(
    view: &View<'_>,
    sum: f64,
    terms: impl Iterator<Item = f64>,
    words: impl Fn(f64) -> String,
) -> String {
    if view.blank {
        return words(sum);
    }
    let largest = terms.fold(0.0_f64, |most, term| most.max(term.abs()));
    if sum.abs() <= NOTHING * largest { "0".to_owned() } else { words(sum) }
}

fn power(view: &View<'_>, lesson: &Lesson, blocks: &mut Vec<Block>) {
    let of = |sign: f64| {
        let least = NO_WATTS * lesson.power.taken;
        let terms = lesson.power.terms.iter().filter(|(_, watts)| sign * watts > least);
        let words: Vec<String> = terms
            .map(|(at, watts)| format!("{} {}", view.owner(*at), view.watts(watts.abs())))
            .collect();
        words.join(", ")
    };
    let rows = vec![
        vec!["given".to_owned(), of(-1.0), view.watts(lesson.power.given)],
        vec!["taken".to_owned(), of(1.0), view.watts(lesson.power.taken)],
    ];
    blocks.push(Block::Sentence("Power given and power taken are the same:".to_owned()));
    blocks.push(table(&["", "by", "sum"], rows, &[2]));
}

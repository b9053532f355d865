//! The reference of the files, put together from the tables of the code.

use std::fmt::Write;

use super::keys::{CIRCUIT, KeyTable, READINGS, READINGS_CSV, SHELF, STOCK};
use crate::circuit::{Appearance, CLASSES, FAILURES, Quantity, Sight};
use crate::fault::{BUDGET, FORMS};
use crate::file::{MOST_BYTES, MOST_NAME, MOST_NETS, MOST_PARTS, MOST_READINGS};
use crate::report::kinds_markdown;

/// The chapters on circuit files, readings, shelf and stock, as Markdown. The file `files.md` beside
/// this one holds the same.
pub fn files_markdown() -> String {
    let mut text = String::from(
        "Every key of the files that the program reads: what may stand behind it, and what applies when \
         it is left out. The keys of the kinds of parts are in [`kinds`](super::kinds), how values are \
         written in [`values`](super::values). A key that no table has is refused, with the likely intended \
         one.\n\n",
    );
    let files = [
        ("Circuit file", CIRCUIT),
        ("Shelf file", SHELF),
        ("Readings file", READINGS),
        ("Readings as CSV", READINGS_CSV),
        ("Stock list", STOCK),
    ];
    for (title, tables) in files {
        line(&mut text, &format!("# {title}\n"));
        tables.iter().for_each(|table| put(&mut text, table));
        if title == "Circuit file" {
            words(&mut text);
        }
        if title == "Readings file" {
            readings_words(&mut text);
        }
    }
    line(&mut text, "# Fault phrases\n");
    line(&mut text, "What `--fault`, `curve` and the answers of a session take.\n");
    line(&mut text, "| phrase | what it means |\n| --- | --- |");
    for (form, means) in FORMS {
        line(&mut text, &format!("| `{form}` | {} |", means.replace('|', "\\|")));
    }
    line(&mut text, "\n# How much is read\n");
    line(
        &mut text,
        &format!(
            "At most {} MiB of one file, {MOST_PARTS} parts, {MOST_NETS} nets, {MOST_READINGS} \
             readings, and names of {MOST_NAME} characters. More is refused with a message.",
            MOST_BYTES >> 20
        ),
    );
    text
}

/// The chapter on the kinds of parts, as Markdown. The file `kinds.md` beside this one holds the
/// same.
pub fn kinds_chapter() -> String {
    let opening = "What can be typed of every kind of part, what applies when it is left out, and how it \
                   fails.\n\nEquations, rules between the keys, and limits are in [`models`](super::models); \
                   `ohmhound kinds` prints the same at the bench.";
    format!("{opening}\n\n{}", kinds_markdown())
}

fn line(text: &mut String, line: &str) {
    // What is written to a string cannot fail.
    let _ = writeln!(text, "{line}");
}

fn put(text: &mut String, table: &KeyTable) {
    // Words stand as they are, what is typed stands as code.
    let is_typed = table.place.contains(['[', '=']);
    let code = if is_typed { "`" } else { "" };
    line(text, &format!("## {code}{}{code}\n", table.place));
    if !table.about.is_empty() {
        line(text, &format!("{}\n", table.about));
    }
    line(text, "| key | value | without it | what it is |\n| --- | --- | --- | --- |");
    for key in table.keys {
        let row = [key.value.to_owned(), key.without.text(), key.about.to_owned()];
        line(text, &format!("| `{}` | {} |", key.name, row.join(" | ")));
    }
    line(text, "");
}

fn quoted<'a>(words: impl IntoIterator<Item = &'a str>) -> String {
    words.into_iter().map(|word| format!("`{word}`")).collect::<Vec<_>>().join(", ")
}

/// The words that `weight` and `budget` know.
fn words(text: &mut String) {
    line(text, "## The words of `[board]`\n");
    line(text, &format!("Failures under `weight`: {}.\n", quoted(FAILURES.iter().copied())));
    line(
        text,
        "Classes under `budget`, with the share that each usually has (common practice, no published source):\n",
    );
    line(text, "| class | share |\n| --- | ---: |");
    let shares = [
        BUDGET.healthy,
        BUDGET.parts,
        BUDGET.joints,
        BUDGET.leaks,
        BUDGET.bridges,
        BUDGET.assembly,
        BUDGET.sources,
        BUDGET.readings,
        BUDGET.other,
    ];
    for (class, share) in CLASSES.iter().zip(shares) {
        line(text, &format!("| `{class}` | {:.0} % |", 100.0 * share));
    }
    line(text, "");
}

fn readings_words(text: &mut String) {
    let sights = [Sight::Lit, Sight::Dark, Sight::Hot].map(Sight::word);
    line(text, "## `[SETUP.QUANTITY]`: PLACE = reading\n");
    line(
        text,
        &format!(
            "Quantities are {}. A list stands for repeats, as in `EN = [0.02, 0.03]`.\n",
            quoted(Quantity::ALL.map(Quantity::word))
        ),
    );
    line(text, "| place | what is read there |\n| --- | --- |");
    line(text, "| `EN` | a net, black lead on ground |");
    line(
        text,
        "| `\"EN to FB\"` | red lead on the first, black lead on the second: nets or pins |",
    );
    line(text, "| `\"U1.enable\"` | a pin, on the part's side of its joint; `\"R1.2\"` likewise |");
    line(text, "| `R1` | across a part with two pins, pin 1 to pin 2; amps through it |");
    line(text, "| `\"R1 to EN\"` | the joint between a part and a net |");
    line(text, "");
    line(text, "| reading | what it means |\n| --- | --- |");
    line(text, "| `23.9` | a number, with the digits that the meter shows: a count of 0.1 |");
    line(text, "| `\"4.70 kΩ\"`, `\"12 mA\"` | a number with its unit |");
    line(
        text,
        "| `\"24 ± 0.1\"` | a number with a half-width that takes the place of the meter's |",
    );
    line(text, "| `\"3.1..3.4\"` | it wanders between the two |");
    line(text, "| `\"< 0.05\"`, `\"> 20\"` | less, or more, than this |");
    line(text, "| `\"OL\"` | over the range of the meter |");
    line(text, "| `true`, `false` | of `beep`: it beeps, or does not |");
    line(text, &format!("| {} | of `seen`: what a part does under power |", quoted(sights)));
    line(text, "");
    line(
        text,
        &format!(
            "How parts look without power, under `[seen]`: {}.\n",
            quoted(Appearance::ALL.iter().map(|(_, word)| *word))
        ),
    );
}

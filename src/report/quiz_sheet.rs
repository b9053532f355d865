//! Exercise sheets for a class and their key, as text, Markdown and a page.
//!
//! The sheets are written from what a student may know; the key alone reads the answers.

use maud::{Markup, html};

use super::html::page;
use super::markdown::escaped;
use super::quiz::{effort, hidden_words, symptom_lines, taken_name};
use super::quiz_opening::{meter_words, parts_rows};
use super::text::Page;
use super::words::{observed, shown, unit_of, with_band};
use super::{Style, cautions};
use crate::circuit::{Circuit, Quantity};
use crate::diagnosis::Probe;
use crate::plan::is_live;
use crate::quantity::Unit;
use crate::study::{Question, Sheet, Taken, quiz_meter};

/// A line to write on.
const LINE: &str = "______________________";
/// What stands in a cell that is to be filled in.
const EMPTY: &str = "..........";
/// Faults of equal standing that are named in the key.
const NAMED: usize = 12;

/// The sheets of a class, or their key, on the way to the reader.
#[derive(Debug, Clone, Copy)]
pub struct SheetsView<'a> {
    /// The circuit.
    pub circuit: &'a Circuit,
    /// The sheets.
    pub sheets: &'a [Sheet],
    /// The seed of the class.
    pub seed: u64,
    /// The level.
    pub level: u8,
}

/// A piece of a document: what all three forms are written from.
enum Block {
    /// A heading below the title.
    Heading(String),
    Sentence(String),
    Items(Vec<String>),
    /// A header and rows; a cell that is not there is to be filled in.
    Table(Vec<&'static str>, Vec<Vec<Option<String>>>),
    /// A question with a line to write on.
    Blank(String),
}

/// One document: a title and its blocks.
struct Document {
    title: String,
    blocks: Vec<Block>,
}

impl SheetsView<'_> {
    fn title(&self) -> &str {
        if self.circuit.title.is_empty() { "Fault finding" } else { &self.circuit.title }
    }

    /// The sheet of a student: nothing of the answer goes in here.
    fn sheet(&self, sheet: &Sheet) -> Document {
        let circuit = self.circuit;
        let mut blocks = vec![
            Block::Blank("Name".to_owned()),
            Block::Heading("The board".to_owned()),
            Block::Table(vec!["part", "kind", "value", "nets"], whole(parts_rows(circuit))),
            Block::Sentence(format!(
                "Nets: {}. {} is ground.",
                circuit.nets.join(", "),
                circuit.nets[0]
            )),
            Block::Heading("What is seen".to_owned()),
            Block::Items(symptom_lines(circuit, &sheet.symptom)),
            Block::Heading("What was measured".to_owned()),
        ];
        let row = |(at, step): (usize, &Taken)| {
            // What the parts list does not say is not asked for.
            let cell = sheet.healthy.get(at).is_some_and(Option::is_none).then(|| "-".to_owned());
            vec![
                Some((at + 1).to_string()),
                Some(how(circuit, &step.probe())),
                Some(observed(&step.reading, circuit)),
                cell.clone(),
                cell,
            ]
        };
        let rows = sheet.given.iter().enumerate().map(row).collect();
        blocks.push(Block::Table(
            vec!["#", "reading", "shows", "healthy value", "higher, lower, same"],
            rows,
        ));
        blocks.push(Block::Sentence(
            "Fill in what a healthy board would show, with its unit.".to_owned(),
        ));
        blocks.push(Block::Sentence(meter_words(&quiz_meter())));
        if !sheet.questions.is_empty() {
            blocks.push(Block::Heading("On a healthy board".to_owned()));
            let ask =
                |question: &Question| Block::Blank(format!("{} =", how(circuit, &question.probe)));
            blocks.extend(sheet.questions.iter().map(ask));
        }
        blocks.push(Block::Heading("Your answer".to_owned()));
        for question in [
            "The first net, from the supply on, that is wrong",
            "The fault",
            "Why: from the fault to what was measured",
            "What to do or measure next, to be sure",
        ] {
            blocks.push(Block::Blank(question.to_owned()));
        }
        let caution = cautions(circuit).join("; ");
        blocks.push(Block::Sentence(format!("On a real board: {caution}.")));
        Document { title: format!("{}: sheet {}", self.title(), sheet.number), blocks }
    }

    /// The key to one sheet.
    fn key(&self, sheet: &Sheet) -> Document {
        let circuit = self.circuit;
        let fault = hidden_words(circuit, &sheet.fault);
        let mut blocks = vec![Block::Sentence(format!("Fault: {fault}"))];
        let also: Vec<String> =
            sheet.accepted.iter().skip(1).map(|fault| fault.phrase(circuit)).collect();
        blocks.push(Block::Sentence(match also.is_empty() {
            true => "The readings tell it from every other.".to_owned(),
            false => format!(
                "Right as well, the readings do not tell them apart: {}",
                super::words::list(&also, NAMED)
            ),
        }));
        blocks.push(Block::Sentence(format!(
            "To play it: --seed {} --level {}",
            sheet.seed, self.level
        )));
        let given = sheet.given.iter().zip(&sheet.healthy).zip(&sheet.remaining);
        let rows = given
            .enumerate()
            .map(|(at, ((step, healthy), remaining))| {
                let healthy =
                    healthy.as_ref().map_or_else(|| "-".to_owned(), |one| band(circuit, one));
                vec![
                    (at + 1).to_string(),
                    taken_name(circuit, step),
                    observed(&step.reading, circuit),
                    healthy,
                    remaining.to_string(),
                ]
            })
            .collect();
        let header = vec!["#", "reading", "shows", "healthy", "faults left"];
        blocks.push(Block::Table(header, whole(rows)));
        blocks.push(Block::Sentence(
            "Faults left: those that the readings so far do not tell from the hidden one, itself \
             among them."
                .to_owned(),
        ));
        if !sheet.questions.is_empty() {
            let answers = sheet.questions.iter().map(|question| {
                format!("{}: {}", how(circuit, &question.probe), band(circuit, question))
            });
            blocks.push(Block::Sentence("On a healthy board:".to_owned()));
            blocks.push(Block::Items(answers.collect()));
        }
        blocks.push(Block::Sentence(match sheet.first_dead {
            Some((net, healthy, here)) => format!(
                "The first net, from the supply on, that is wrong: {} at {}, healthy {}{}",
                circuit.net_name(net),
                shown(here, Unit::Volt),
                shown(healthy, Unit::Volt),
                match sheet.is_short && here < healthy {
                    true =>
                        " (a way past the parts drags down the nets before it: the fault is \
                             behind the first one)",
                    false => "",
                }
            ),
            None => {
                "The first net that is wrong: none is off with the power on; the readings without \
                     power tell it"
                    .to_owned()
            }
        }));
        if let Some((_, follows)) = sheet.chain.split_first().filter(|(_, rest)| !rest.is_empty()) {
            blocks.push(Block::Sentence(format!(
                "Why, on this board without the meter: {fault} → {}",
                follows.join(" → ")
            )));
        }
        for (step, without) in sheet.given.iter().zip(&sheet.without_meter) {
            if let Some(without) = without {
                let unit = unit_of(step.reading.quantity, circuit, Some(&step.reading));
                blocks.push(Block::Sentence(format!(
                    "The meter's load counts: {} shows {}, and would be {} without the meter.",
                    step.reading.place_text,
                    observed(&step.reading, circuit),
                    shown(*without, unit)
                )));
            }
        }
        blocks.push(Block::Sentence(format!("Next: {}", sheet.next)));
        let all = sheet.given.iter().fold(0.0, |sum, step| sum + step.effort);
        blocks.push(Block::Sentence(format!("The readings cost an effort of {}.", effort(all))));
        Document { title: format!("Sheet {}", sheet.number), blocks }
    }

    fn documents(&self, key: bool) -> Vec<Document> {
        let sheets = self.sheets.iter();
        match key {
            false => sheets.map(|sheet| self.sheet(sheet)).collect(),
            true => sheets.map(|sheet| self.key(sheet)).collect(),
        }
    }

    /// What stands over the key.
    fn key_title(&self) -> String {
        format!("{}: key to {} sheets of seed {}", self.title(), self.sheets.len(), self.seed)
    }

    /// What the key counts as right.
    const RULE: &'static str = "A healthy value is right within its band or 2 %, with the meter's \
                                load or without; any of the faults named is right.";
}

impl SheetsView<'_> {
    /// What stands over the answers.
    fn rule() -> String {
        format!("{} {}", SheetsView::RULE, meter_words(&quiz_meter()))
    }
}

/// Rows in which nothing is to be filled in.
fn whole(rows: Vec<Vec<String>>) -> Vec<Vec<Option<String>>> {
    rows.into_iter().map(|row| row.into_iter().map(Some).collect()).collect()
}

/// A measurement for people: what, where, with the power on or off.
fn how(circuit: &Circuit, probe: &Probe) -> String {
    let place = probe.place.words(circuit);
    let power = if is_live(circuit, probe.setup) { "power on" } else { "power off" };
    let word = match probe.quantity {
        Quantity::Diode => "diode mode",
        quantity => quantity.word(),
    };
    format!("{word} {place}, {power}")
}

fn band(circuit: &Circuit, question: &Question) -> String {
    let unit = unit_of(question.probe.quantity, circuit, None);
    let text = with_band(question.healthy, question.u, unit);
    let without = question.without_meter.map(|without| shown(without, unit));
    if let Some(without) = without.filter(|without| *without != shown(question.healthy, unit)) {
        return format!("{text} ({without} without the meter)");
    }
    // What is next to nothing has no band that says anything.
    if question.healthy.is_finite() && question.u > question.healthy.abs() {
        return format!(
            "{} (within {})",
            shown(question.healthy, unit),
            shown(3.0 * question.u, unit)
        );
    }
    text
}

/// The sheets as text, one after the other with a form feed between, or their key.
pub fn sheets_text(view: &SheetsView<'_>, key: bool, style: Style, width: usize) -> String {
    let mut texts: Vec<String> = Vec::new();
    for document in view.documents(key) {
        let mut page = Page::new(style, width);
        page.heading(&document.title);
        for block in &document.blocks {
            text_of(&mut page, block);
        }
        texts.push(page.finish());
    }
    if key {
        let mut page = Page::new(style, width);
        page.heading(&view.key_title());
        page.sentence("", &SheetsView::rule());
        return format!("{}\n{}", page.finish(), texts.join("\n"));
    }
    // A printer begins a page at a form feed.
    texts.join("\n\u{c}\n")
}

fn text_of(page: &mut Page, block: &Block) {
    match block {
        Block::Heading(text) => page.heading(text),
        Block::Sentence(text) => page.sentence("  ", text),
        Block::Items(items) => items.iter().for_each(|item| page.hanging("  - ", "    ", item)),
        Block::Table(header, rows) => {
            let filled = |row: &Vec<Option<String>>| -> Vec<String> {
                row.iter().map(|cell| cell.clone().unwrap_or_else(|| EMPTY.to_owned())).collect()
            };
            let rows: Vec<Vec<String>> = rows.iter().map(filled).collect();
            page.table(header, &rows, &[]);
        }
        Block::Blank(question) => {
            page.line("");
            page.sentence("  ", &format!("{question}  {LINE}"));
        }
    }
}

/// The sheets as Markdown, or their key.
pub fn sheets_markdown(view: &SheetsView<'_>, key: bool) -> String {
    let mut text = String::new();
    if key {
        text += &format!("# {}\n\n{}\n", escaped(&view.key_title()), SheetsView::rule());
    }
    for (at, document) in view.documents(key).iter().enumerate() {
        let level = if key { "##" } else { "#" };
        if at > 0 || key {
            text += if key { "\n" } else { "\n---\n\n" };
        }
        text += &format!("{level} {}\n", escaped(&document.title));
        for block in &document.blocks {
            text.push('\n');
            text += &match block {
                Block::Heading(heading) => format!("{level}# {}\n", escaped(heading)),
                Block::Sentence(sentence) => format!("{}\n", escaped(sentence)),
                Block::Items(items) => {
                    items.iter().map(|item| format!("- {}\n", escaped(item))).collect()
                }
                Block::Table(header, rows) => {
                    let line = |cells: Vec<String>| format!("| {} |\n", cells.join(" | "));
                    let rule = line(header.iter().map(|_| "---".to_owned()).collect());
                    let rows = rows.iter().map(|row| {
                        line(
                            row.iter()
                                .map(|cell| escaped(cell.as_deref().unwrap_or_default()))
                                .collect(),
                        )
                    });
                    let header = line(header.iter().map(|cell| (*cell).to_owned()).collect());
                    header + &rule + &rows.collect::<String>()
                }
                Block::Blank(question) => format!("{}: {}\n", escaped(question), escaped(LINE)),
            };
        }
    }
    text
}

/// The sheets as a page that prints one sheet on a page, or their key.
pub fn sheets_html(view: &SheetsView<'_>, key: bool) -> String {
    let documents = view.documents(key);
    let body = html! {
        @if key {
            h1 { (view.key_title()) }
            p.quiet { (SheetsView::rule()) }
        }
        @for document in &documents {
            section class=(if key { "keep" } else { "sheet" }) {
                @if key { h2 { (document.title) } } @else { h1 { (document.title) } }
                @for block in &document.blocks { (html_of(block)) }
            }
        }
    };
    let title = if key { view.key_title() } else { view.title().to_owned() };
    page(&title, &body)
}

fn html_of(block: &Block) -> Markup {
    html! {
        @match block {
            Block::Heading(text) => h2 { (text) },
            Block::Sentence(text) => p { (text) },
            Block::Items(items) => ul { @for item in items { li { (item) } } },
            Block::Table(header, rows) => div.scroll { table.grid {
                thead { tr { @for cell in header { th scope="col" { (cell) } } } }
                tbody { @for row in rows {
                    tr { @for cell in row {
                        td.empty[cell.is_none()] { (cell.as_deref().unwrap_or_default()) }
                    } }
                } }
            } },
            Block::Blank(question) => p.blank { (question) },
        }
    }
}

//! The whole picture: title, panels below each other, notes.

use std::fmt::Write;

use super::Ladder;
use super::arrange::Arranged;
use super::draw::{Columns, MARK, Pen, ground_legend, held_text, number, panel, text};
use super::fault_marks::{Shown, path_figure, phrase, shown};
use super::figure::{Figure, figures};
use super::item::{Anchor, GROUND_HEIGHT};
use super::levels::{healthy, levels};
use super::panel::{arranged, chains, cut};
use super::place::{Placed, place, width_alone};
use super::style::{CLASS, NAME, SMALL, TITLE, sheet as style_sheet};
use super::text::{width, wrapped};
use super::values::{Held, Values, net_of, values};
use super::words::description;
use crate::circuit::NetId;
use crate::picture::escaped::escaped;

/// Room around everything.
const MARGIN: f64 = 16.0;
/// Room between the ladder and its values.
const BESIDE: f64 = 18.0;
/// Room between columns of values.
const BETWEEN: f64 = 18.0;
/// The height of a line of notes.
const NOTE: f64 = 15.0;
/// Room between panels.
const APART: f64 = 20.0;
/// The share of its estimated width that a figure is hoped to get along with.
const HOPEFUL: f64 = 0.85;
/// By how much the figures of a panel that did not fit count for more, at least.
const LEAST_WIDER: f64 = 1.03;
/// Rounds of cutting at most; few boards need more than five.
const ROUNDS: usize = 60;
/// How much wider than asked for a picture may be that is one panel then.
const WHOLE: f64 = 1.12;

/// The least width of a picture: its notes want to be read.
const LEAST_FULL: f64 = 480.0;
/// The least width that columns are fitted into.
const LEAST_ROOM: f64 = 240.0;

const HEALTHY: &str = "healthy";
const MEASURED: &str = "measured";
const FAULTED: &str = "with the fault";

/// Everything laid out, before it is written down.
struct Sheet<'a> {
    ladder: &'a Ladder<'a>,
    figures: Vec<Figure>,
    values: Vec<Values>,
    value_widths: [f64; 3],
    columns: Columns,
    panels: Vec<Placed>,
    titles: Vec<String>,
    faults: Vec<String>,
    notes: Vec<String>,
    /// The nets from top to bottom.
    order: Vec<NetId>,
    width: f64,
}

/// The whole picture.
pub(super) fn whole(ladder: &Ladder<'_>) -> String {
    let sheet = Sheet::new(ladder);
    let all: Vec<usize> = (0..sheet.panels.len()).collect();
    sheet.picture(&all)
}

/// One picture per panel.
pub(super) fn pieces(ladder: &Ladder<'_>) -> Vec<String> {
    let sheet = Sheet::new(ladder);
    (0..sheet.panels.len()).map(|panel| sheet.picture(&[panel])).collect()
}

impl<'a> Sheet<'a> {
    fn new(ladder: &'a Ladder<'a>) -> Sheet<'a> {
        let circuit = ladder.circuit;
        let laid = shown(circuit, &ladder.faults);
        let mut figures = figures(circuit, &laid.marks);
        figures.extend(laid.paths.iter().map(path_figure));
        let known = healthy(circuit, ladder.point);
        let levels = levels(circuit, &known);
        let mut values = values(circuit, &known, &ladder.readings, ladder.setup, ladder.faulted);
        if ladder.is_blank {
            values.iter_mut().skip(1).for_each(Values::blank);
        }
        let value_widths = value_widths(&values);
        let shown = value_widths.iter().filter(|wide| **wide > 0.0);
        let total: f64 = shown.map(|wide| wide + BETWEEN).sum();
        let room = (ladder.width - 2.0 * MARGIN - BESIDE - total).max(LEAST_ROOM);
        let panels = fitted(ladder, &figures, &levels, room);

        let mut x = MARGIN + panels.iter().map(|one| one.width).fold(0.0, f64::max) + BESIDE;
        let mut next = |wide: f64| {
            let at = x;
            x += if wide > 0.0 { wide + BETWEEN } else { 0.0 };
            at
        };
        let [healthy, measured, faulted] = value_widths.map(&mut next);
        let columns = Columns { healthy, measured, faulted };
        let titles = wrapped(&ladder.title, TITLE, ladder.width - 2.0 * MARGIN, 3);
        let longest = titles.iter().map(|text| width(text, TITLE)).fold(0.0, f64::max);
        let width = (x - BETWEEN + MARGIN).max(longest + 2.0 * MARGIN).max(LEAST_FULL).ceil();
        let mut order: Vec<NetId> = circuit.nets_by_id().map(|(net, _)| net).collect();
        order.sort_by(|one, other| levels[other.index()].total_cmp(&levels[one.index()]));
        Sheet {
            ladder,
            figures,
            values,
            value_widths,
            columns,
            panels,
            titles: if ladder.title.is_empty() { Vec::new() } else { titles },
            faults: ladder.faults.iter().map(|one| phrase(circuit, one)).collect(),
            notes: notes(ladder, &laid),
            order,
            width,
        }
    }

    /// Some panels below each other: titles stand over the first one of all, notes below the last.
    fn picture(&self, panels: &[usize]) -> String {
        let ladder = self.ladder;
        let mut body = String::new();
        let mut y = MARGIN;
        if panels.contains(&0) {
            y = self.head(y, &mut body);
        }
        let pen = Pen {
            circuit: ladder.circuit,
            figures: &self.figures,
            values: &self.values,
            columns: self.columns,
            has_links: ladder.has_links,
        };
        for (at, &panel) in panels.iter().enumerate() {
            if at > 0 {
                let y = number(y - APART / 2.0 + 2.0);
                let end = number(self.width - MARGIN);
                let _ =
                    write!(body, "<path class=\"ladder-rule\" d=\"M {MARGIN} {y} L {end} {y}\"/>");
            }
            y = self.panel(&pen, panel, y, &mut body);
        }
        y -= 6.0;
        if self.panels.is_empty() || panels.contains(&(self.panels.len() - 1)) {
            for line in self.notes.iter().flat_map(|note| self.lines(note, SMALL)) {
                y += NOTE;
                let class = "ladder-note ladder-quiet";
                body.push_str(&text(MARGIN, y, class, SMALL, Anchor::Start, &line));
            }
        }
        y += MARGIN;
        let has_point = ladder.point.is_some();
        let mut words =
            description(ladder.circuit, &self.order, &self.values, has_point, &self.faults);
        let mut title =
            if ladder.title.is_empty() { "Voltage ladder" } else { &ladder.title }.to_owned();
        if let [panel] = panels
            && self.panels.len() > 1
        {
            title = format!("{title}, {} of {}", panel + 1, self.panels.len());
            // The whole is told once.
            if *panel > 0 {
                "It goes on from the picture before.".clone_into(&mut words);
            }
        }
        // Links inside an image are not reached by whoever hears the page: then it is a group.
        let role = if ladder.has_links { "group" } else { "img" };
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" class=\"{CLASS}\" role=\"{role}\" \
             width=\"{wide}\" height=\"{high}\" viewBox=\"0 0 {wide} {high}\">\n\
             <title>{}</title>\n<desc>{}</desc>\n<style>{}</style>\n{body}\n</svg>\n",
            escaped(&title),
            escaped(&words),
            style_sheet(),
            wide = number(self.width),
            high = number(y.ceil()),
        )
    }

    fn lines(&self, words: &str, size: f64) -> Vec<String> {
        wrapped(words, size, self.width - 2.0 * MARGIN, 6)
    }

    /// Titles and faults; where the first panel begins.
    fn head(&self, top: f64, body: &mut String) -> f64 {
        let mut y = top;
        for line in &self.titles {
            y += TITLE + 3.0;
            body.push_str(&text(MARGIN, y, "ladder-title", TITLE, Anchor::Start, line));
        }
        if !self.titles.is_empty() {
            y += 6.0;
        }
        if !self.faults.is_empty() {
            let what = if self.faults.len() == 1 { "Fault" } else { "Faults" };
            let words = format!("{what} laid over: {}", self.faults.join("; "));
            for line in self.lines(&words, NAME) {
                y += NOTE;
                body.push_str(&text(MARGIN, y, "ladder-fault-words", NAME, Anchor::Start, &line));
            }
            y += 6.0;
        }
        y
    }

    /// One panel; where the next one begins.
    fn panel(&self, pen: &Pen<'_>, at: usize, top: f64, body: &mut String) -> f64 {
        let placed = &self.panels[at];
        let mut y = top + 12.0;
        if self.panels.len() > 1 {
            let words = format!("{} of {}", at + 1, self.panels.len());
            body.push_str(&text(MARGIN, y, "ladder-name", SMALL, Anchor::Start, &words));
        }
        let [healthy, measured, faulted] = self.value_widths;
        let heads = [
            (self.columns.healthy, healthy, HEALTHY),
            (self.columns.measured, measured, MEASURED),
            (self.columns.faulted, faulted, FAULTED),
        ];
        for (x, _, words) in heads.iter().filter(|(_, wide, _)| *wide > 0.0) {
            let class = "ladder-head ladder-quiet";
            body.push_str(&text(*x, y, class, SMALL, Anchor::Start, words));
        }
        y += 4.0;
        body.push_str("<g class=\"ladder-panel\">");
        panel(pen, placed, MARGIN, y, body);
        y += placed.height;
        if !placed.rows.contains(&NetId::GROUND) {
            body.push_str(&ground_legend(self.ladder.circuit, MARGIN, y));
            y += GROUND_HEIGHT + 6.0;
        }
        body.push_str("</g>");
        y + APART
    }
}

/// The panels, cut so that each fits into `room`. What turns out wider than it was taken for counts
/// for more in the next round.
fn fitted(ladder: &Ladder<'_>, all: &[Figure], levels: &[f64], room: f64) -> Vec<Placed> {
    let chains = chains(ladder.circuit, all);
    let mut widths: Vec<f64> = all.iter().map(|one| HOPEFUL * width_alone(one)).collect();
    let mut best = Vec::new();
    for _ in 0..ROUNDS {
        let panels = cut(all, &chains, &widths, room);
        best = placed(ladder, all, &arranged(all, &panels, levels));
        // A board that is hardly too wide stays whole.
        let most = if best.len() == 1 { WHOLE * room } else { room };
        let mut fits = true;
        for panel in best.iter().filter(|one| one.width > most && one.columns.len() > 1) {
            fits = false;
            let taken: f64 = panel.columns.iter().map(|one| widths[*one]).sum();
            let wider = (panel.width / taken.max(1.0)).max(LEAST_WIDER);
            panel.columns.iter().for_each(|one| widths[*one] *= wider);
        }
        if fits {
            break;
        }
    }
    best
}

fn placed(ladder: &Ladder<'_>, all: &[Figure], found: &[Arranged]) -> Vec<Placed> {
    found
        .iter()
        .enumerate()
        .map(|(own, one)| {
            let also = |net: NetId| -> String {
                let others: Vec<String> = found
                    .iter()
                    .enumerate()
                    .filter(|(at, other)| *at != own && other.rows.contains(&net))
                    .map(|(at, _)| (at + 1).to_string())
                    .collect();
                let is_repeated = net != NetId::GROUND && !others.is_empty();
                if is_repeated { format!("also in {}", others.join(", ")) } else { String::new() }
            };
            place(ladder.circuit, all, one, &also)
        })
        .collect()
}

/// The widths of the three columns of values; 0 for one that is not there.
fn value_widths(told: &[Values]) -> [f64; 3] {
    let longest = |of: &dyn Fn(&Values) -> Option<f64>, head: &str| {
        let found: Vec<f64> = told.iter().filter_map(of).collect();
        if found.is_empty() {
            return 0.0;
        }
        found.into_iter().fold(width(head, SMALL), f64::max)
    };
    let held = |held: &Option<Held>| held.as_ref().map(|held| MARK + width(&held_text(held), NAME));
    [
        longest(&|own| Some(width(&own.healthy, NAME)), HEALTHY),
        longest(&|own| held(&own.measured), MEASURED),
        longest(&|own| held(&own.faulted), FAULTED),
    ]
}

/// What is said below the picture.
fn notes(ladder: &Ladder<'_>, laid: &Shown) -> Vec<String> {
    let mut notes = Vec::new();
    notes.push(if ladder.point.is_some() {
        "Lines stand in the order of the healthy volts, the highest on top. A dot is a joint; an arc \
         passes over. Bands are two standard uncertainties of the parts."
            .to_owned()
    } else {
        "The healthy board has no operating point: lines stand in an estimated order. A dot is a \
         joint; an arc passes over."
            .to_owned()
    });
    if !ladder.faults.is_empty() && ladder.faulted.is_none() {
        notes.push("With the fault the board has no operating point.".to_owned());
    }
    let setup = ladder.setup;
    let elsewhere =
        ladder.readings.iter().filter(|(reading, _)| net_of(reading, setup).is_none()).count();
    if elsewhere > 0 {
        let readings = if elsewhere == 1 { "reading has" } else { "readings have" };
        notes.push(format!(
            "{elsewhere} more {readings} no line here: not volts of one net against ground in this setup."
        ));
    }
    if ladder.circuit.parts.iter().any(|part| part.kind == "relay") {
        notes.push("Contacts of relays are drawn at rest.".to_owned());
    }
    for note in &laid.notes {
        notes.push(format!("Nothing on the board: {note}."));
    }
    notes
}

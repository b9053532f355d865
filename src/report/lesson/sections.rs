//! The sections of a lesson, in the order in which a class goes through them.

use super::document::Block;
use super::equations::{Mode, Writer};
use super::expr::{BLANK, number, or_nothing};
use super::matrix;
use super::shortcuts;
use super::states;
use crate::circuit::{Circuit, PartId};
use crate::quantity::{Unit, print_count};
use crate::study::lesson::{
    Branch, Form, Lesson, Owner, Role, Row, Unknown, flow_count, volts_count,
};

/// Up to so many unknown nets the matrix is written in full.
const FULL: usize = 12;

/// Up to here a conductance is what the solver keeps across blocked parts.
const LEAK_SIEMENS: f64 = 2e-12;

/// What is written.
pub(super) struct View<'a> {
    pub(super) circuit: &'a Circuit,
    pub(super) lesson: &'a Lesson,
    /// Values as blanks, for a class to fill in.
    pub(super) blank: bool,
}

impl View<'_> {
    pub(super) fn writer(&self, mode: Mode) -> Writer<'_> {
        let mode = if self.blank && mode == Mode::Values { Mode::Blanks } else { mode };
        Writer { lesson: self.lesson, mode }
    }

    pub(super) fn net(&self, net: usize) -> &str {
        &self.lesson.nets[net]
    }

    pub(super) fn label(&self, branch: usize) -> &str {
        &self.lesson.branches[branch].label
    }

    /// What a branch belongs to: its part, else the branch itself.
    pub(super) fn owner(&self, branch: usize) -> &str {
        match self.lesson.branches[branch].owner {
            Owner::Part(part) => &self.circuit[part].name,
            _ => self.label(branch),
        }
    }

    fn most(values: &[f64]) -> f64 {
        values.iter().fold(0.0_f64, |most, value| most.max(value.abs()))
    }

    /// Volts of an answer.
    pub(super) fn volts(&self, volts: f64) -> String {
        self.answer(volts, Unit::Volt, View::most(&self.lesson.solution.volts))
    }

    /// Amps of an answer.
    pub(super) fn amps(&self, amps: f64) -> String {
        self.answer(amps, Unit::Amp, View::most(&self.lesson.solution.amps))
    }

    /// Watts of an answer.
    pub(super) fn watts(&self, watts: f64) -> String {
        self.answer(watts, Unit::Watt, self.lesson.power.taken)
    }

    fn answer(&self, value: f64, unit: Unit, largest: f64) -> String {
        if self.blank {
            return BLANK.to_owned();
        }
        plain_answer(value, unit, largest)
    }

    /// A value as the equations have it.
    pub(super) fn value(&self, value: f64, unit: Unit) -> String {
        if self.blank { BLANK.to_owned() } else { self.given(value, unit) }
    }

    /// A value that the circuit gives: a class needs it to work with.
    fn given(&self, value: f64, unit: Unit) -> String {
        number(value, unit, self.lesson.value_digits)
    }

    pub(super) fn unknown(&self, unknown: Unknown) -> String {
        match unknown {
            Unknown::Volts(net) => format!("V({})", self.net(net)),
            Unknown::Amps(branch) => format!("I({})", self.label(branch)),
        }
    }

    /// What a branch is, in a few words.
    pub(super) fn branch_words(&self, at: usize) -> String {
        match self.lesson.branches[at].owner {
            Owner::Part(part) => self.circuit[part].kind.to_owned(),
            Owner::Meter => "voltmeter".to_owned(),
            Owner::Connection => "connected".to_owned(),
            Owner::Fault => "the fault".to_owned(),
        }
    }
}

/// An answer with the digits that it has; what is left over of a sum is nothing.
pub(super) fn plain_answer(value: f64, unit: Unit, largest: f64) -> String {
    // Blocked parts let a tenth of a picoamp a volt through, which is left out.
    let least = match unit {
        Unit::Volt => (1e-7 * largest).max(1e-10),
        _ => (1e-10 * largest).max(1e-12),
    };
    if value.abs() <= least {
        return number(0.0, unit, 1);
    }
    let count = match unit {
        Unit::Volt => volts_count(value, largest),
        _ => flow_count(value, largest),
    };
    or_nothing(print_count(value, count, unit), unit)
}

/// All sections.
pub(super) fn sections(view: &View<'_>) -> Vec<Block> {
    let mut blocks = Vec::new();
    known(view, &mut blocks);
    states::sections(view, &mut blocks);
    balances(view, &mut blocks);
    matrix::section(view, &mut blocks, FULL);
    states::newton(view, &mut blocks);
    super::solution::section(view, &mut blocks);
    super::checks::section(view, &mut blocks);
    shortcuts::sections(view, &mut blocks);
    blocks
}

/// A heading; as a question where a class works along.
pub(super) fn heading(blocks: &mut Vec<Block>, view: &View<'_>, told: &str, asked: &str) {
    blocks.push(Block::Heading(if view.blank { asked } else { told }.to_owned()));
}

fn known(view: &View<'_>, blocks: &mut Vec<Block>) {
    let lesson = view.lesson;
    heading(blocks, view, "Known and unknown", "Which nets are known, and why?");
    let rows = lesson.system.roles.iter().enumerate().map(|(net, role)| {
        let volts = lesson.solution.volts[net];
        let (told, why) = match role {
            Role::Ground => {
                (number(0.0, Unit::Volt, 1), "all volts are counted from here".to_owned())
            }
            Role::Held { by, against } => (
                view.value(volts, Unit::Volt),
                format!(
                    "{}, an ideal source, holds it against {}",
                    view.label(*by),
                    view.net(*against)
                ),
            ),
            Role::Floating => (
                view.value(volts, Unit::Volt),
                "nothing that carries current joins it to ground: taken as this".to_owned(),
            ),
            Role::Unknown => (format!("V({})", view.net(net)), "unknown".to_owned()),
        };
        vec![view.net(net).to_owned(), told, why]
    });
    let rows: Vec<Vec<String>> = rows.collect();
    blocks.push(table(&["net", "volts", "why"], rows, &[]));
    let n_volts =
        lesson.system.unknowns.iter().filter(|one| matches!(one, Unknown::Volts(_))).count();
    let own: Vec<usize> = lesson
        .system
        .unknowns
        .iter()
        .filter_map(|one| match one {
            Unknown::Amps(branch) => Some(*branch),
            Unknown::Volts(_) => None,
        })
        .collect();
    let count = |n: usize, word: &str| format!("{n} {word}{}", if n == 1 { "" } else { "s" });
    let mut text = match n_volts {
        0 => "No net is unknown: what is left are currents.".to_owned(),
        n => format!("{} to find.", count(n, "net")),
    };
    if !own.is_empty() {
        let names: Vec<String> = own.iter().map(|at| format!("I({})", view.label(*at))).collect();
        let verb = match own.len() {
            1 => {
                "stays an unknown as well: its law says something of volts, or another current \
                  goes with it"
            }
            _ => {
                "stay unknowns as well: their laws say something of volts, or other currents go \
                  with them"
            }
        };
        text += &format!(
            " {} {verb}. That makes {}.",
            names.join(", "),
            count(lesson.system.unknowns.len(), "equation")
        );
    }
    blocks.push(Block::Sentence(text));
    blocks.push(Block::Sentence(
        "Signs: V(X) is the voltage of X against ground. I(P) flows through P from the first net to \
         the second of the table below; through what gives power it is negative. In a balance, \
         what leaves the net counts as positive."
            .to_owned(),
    ));
    branches(view, blocks);
}

/// Parts whose states a class is asked for: what they decide is not told before. A source that is
/// wired as one is none of them.
fn asked(view: &View<'_>) -> Vec<PartId> {
    let last = view.lesson.rounds.last().filter(|_| view.blank);
    let assumed = last.into_iter().flat_map(|round| &round.assumed).map(|one| one.part);
    let is_source = |part: PartId| {
        matches!(view.circuit[part].kind, "supply" | "battery" | "current-source" | "load")
    };
    assumed.filter(|part| !is_source(*part)).collect()
}

/// Whether a part shows all of its branches: the many inside a chip are no question.
fn is_simple(view: &View<'_>, owner: Owner) -> bool {
    let Owner::Part(part) = owner else { return false };
    matches!(
        view.circuit[part].kind,
        "diode" | "led" | "zener" | "npn" | "pnp" | "nmos" | "pmos" | "optocoupler"
    )
}

/// The table of branches with their laws.
fn branches(view: &View<'_>, blocks: &mut Vec<Block>) {
    let asked = asked(view);
    let is_asked = |owner: Owner| matches!(owner, Owner::Part(part) if asked.contains(&part));
    let shown = view.lesson.branches.iter().enumerate().filter(|(_, branch)| {
        !branch.form.is_open() || is_asked(branch.owner) && is_simple(view, branch.owner)
    });
    let rows = shown.map(|(at, branch)| {
        let (law, value) = match &branch.form {
            _ if is_asked(branch.owner) => (BLANK.to_owned(), BLANK.to_owned()),
            Form::Open => (String::new(), String::new()),
            Form::Resistance { ohms } => ("resistance".to_owned(), view.given(*ohms, Unit::Ohm)),
            Form::Source { volts, ohms } => (
                "volts behind ohms".to_owned(),
                format!("{}, {}", view.given(*volts, Unit::Volt), view.given(*ohms, Unit::Ohm)),
            ),
            Form::Current { amps } => ("given current".to_owned(), view.given(*amps, Unit::Amp)),
            Form::Companion { .. } => ("curve, as tangent".to_owned(), String::new()),
            Form::Relation { terms, volts, ohms } if terms.len() == 1 && terms[0].0 == 1.0 => {
                let [plus, minus] = terms[0].1;
                let of = if terms[0].1 == [branch.from, branch.to] {
                    "given volts".to_owned()
                } else if minus == 0 {
                    format!("holds V({})", view.net(plus))
                } else if plus == 0 {
                    format!("holds -V({})", view.net(minus))
                } else {
                    format!("holds V({}) - V({})", view.net(plus), view.net(minus))
                };
                let behind = match *ohms == 0.0 {
                    true => String::new(),
                    false => format!(", {}", view.given(*ohms, Unit::Ohm)),
                };
                (of, format!("{}{behind}", view.given(*volts, Unit::Volt)))
            }
            Form::Relation { .. } => ("goes with volts elsewhere".to_owned(), String::new()),
            Form::Ratio { .. } => ("goes with another current".to_owned(), String::new()),
            Form::Steered { .. } => ("steered by volts, as tangent".to_owned(), String::new()),
        };
        vec![
            branch.label.clone(),
            view.branch_words(at),
            view.net(branch.from).to_owned(),
            view.net(branch.to).to_owned(),
            law,
            value,
        ]
    });
    let rows: Vec<Vec<String>> = rows.collect();
    blocks.push(table(&["branch", "kind", "from", "to", "written as", "value"], rows, &[]));
    let converters: Vec<String> = view
        .lesson
        .branches
        .iter()
        .filter(|branch| matches!(branch.form, Form::Ratio { .. }))
        .filter_map(|branch| match branch.owner {
            Owner::Part(part) => Some(&view.circuit[part]),
            _ => None,
        })
        .filter(|part| matches!(part.kind, "buck" | "boost"))
        .map(|part| part.name.clone())
        .collect();
    if !converters.is_empty() {
        blocks.push(Block::Sentence(format!(
            "{}: what a converter takes for each amp that it gives follows from the balance of \
             power, which is no straight line. The ratio written here is that of the operating \
             point.",
            converters.join(", ")
        )));
    }
    let mut open: Vec<String> = Vec::new();
    let told = |branch: &&Branch| branch.form.is_open() && !is_asked(branch.owner);
    for branch in view.lesson.branches.iter().filter(told) {
        // A chip has many diodes inside: its name alone stands for them.
        let name = match branch.owner {
            Owner::Part(part) => view.circuit[part].name.clone(),
            _ => branch.label.clone(),
        };
        let is_whole = !view.lesson.branches.iter().any(|other| {
            other.owner == branch.owner
                && matches!(other.owner, Owner::Part(_))
                && !other.form.is_open()
        });
        let name = if is_whole { name } else { format!("inside {name}") };
        if !open.contains(&name) {
            open.push(name);
        }
    }
    if !open.is_empty() {
        blocks.push(Block::Sentence(format!(
            "Blocked or open, so that nothing flows that a printed digit would show: {}.",
            open.join(", ")
        )));
    }
    if view.lesson.shares {
        blocks.push(Block::Sentence(
            "Ideal diodes side by side could share their current in any way: a nanohm in each \
             settles it."
                .to_owned(),
        ));
    }
    if view.lesson.leaks {
        let nets: Vec<&str> = lonely(view.lesson).into_iter().map(|net| view.net(net)).collect();
        let why = match nets[..] {
            [] => "What blocked parts let through shows in the digits of this board".to_owned(),
            [net] => format!("{net} hangs on nothing but blocked parts"),
            _ => format!("{} hang on nothing but blocked parts", nets.join(", ")),
        };
        blocks.push(Block::Sentence(format!(
            "{why}, so the 0.1 pS that the solver keeps across each of them are written out too."
        )));
    }
}

/// Nets that hang on nothing but leaks.
fn lonely(lesson: &Lesson) -> Vec<usize> {
    let is_leak = |form: &Form| match form {
        Form::Resistance { ohms } => *ohms >= 1.0 / LEAK_SIEMENS,
        Form::Companion { siemens, .. } => siemens.abs() <= LEAK_SIEMENS,
        Form::Steered { terms, .. } => terms.iter().all(|(slope, _)| slope.abs() <= LEAK_SIEMENS),
        _ => false,
    };
    let hangs = |net: &usize| {
        let at = lesson.system.at(&lesson.branches, *net);
        !at.is_empty() && at.iter().all(|(branch, _)| is_leak(&lesson.branches[*branch].form))
    };
    (1..lesson.nets.len()).filter(hangs).collect()
}

fn balances(view: &View<'_>, blocks: &mut Vec<Block>) {
    heading(
        blocks,
        view,
        "One balance per net",
        "Write one balance per net, and put the values in",
    );
    let of = |mode: Mode, keep: &dyn Fn(&Row) -> bool| -> Vec<_> {
        let writer = view.writer(mode);
        let rows = view.lesson.system.rows.iter().filter(|row| keep(row));
        rows.map(|row| {
            let name = match *row {
                Row::Balance(net) => view.net(net).to_owned(),
                Row::Law(branch) => view.label(branch).to_owned(),
            };
            (name, writer.row(*row))
        })
        .collect()
    };
    let is_balance = |row: &Row| matches!(row, Row::Balance(_));
    let is_law = |row: &Row| matches!(row, Row::Law(_));
    if view.lesson.system.rows.iter().any(is_balance) {
        blocks.push(Block::Sentence("The currents that leave a net add up to nothing:".to_owned()));
        blocks.push(Block::Equations(of(Mode::Symbols, &is_balance)));
    }
    if view.lesson.system.rows.iter().any(is_law) {
        blocks.push(Block::Sentence("The laws of the currents that stay unknown:".to_owned()));
        blocks.push(Block::Equations(of(Mode::Symbols, &is_law)));
    }
    if view.lesson.system.rows.is_empty() {
        blocks
            .push(Block::Sentence("Every net is known: there is nothing to solve for.".to_owned()));
        return;
    }
    let letters = letters(view);
    if !letters.is_empty() {
        blocks.push(Block::Sentence(letters));
    }
    blocks.push(Block::Small("With the values".to_owned()));
    blocks.push(Block::Equations(of(Mode::Values, &|_| true)));
}

/// What the letters of the symbols stand for, those that occur.
fn letters(view: &View<'_>) -> String {
    let system = &view.lesson.system;
    let writer = view.writer(Mode::Symbols);
    let text: String = system.rows.iter().map(|row| writer.row(*row).text() + " ").collect();
    let known = [
        ("R(", "R ohms"),
        ("E(", "E given volts"),
        ("G(", "G siemens of a tangent"),
        ("J(", "J the amps where the tangent crosses zero volts"),
        ("k(", "k a current for each amp of another one"),
        ("c(", "c a factor of volts"),
    ];
    let found: Vec<&str> = known
        .iter()
        .filter(|(letter, _)| {
            // A second one of its kind has a number.
            text.contains(&letter.replace('(', "2("))
                || text
                    .match_indices(letter)
                    .any(|(at, _)| !text[..at].ends_with(|before: char| before.is_alphanumeric()))
        })
        .map(|(_, words)| *words)
        .collect();
    match found.is_empty() {
        true => String::new(),
        false => format!("In it: {}.", found.join(", ")),
    }
}

/// A table.
pub(super) fn table(header: &[&str], rows: Vec<Vec<String>>, right: &[usize]) -> Block {
    let header = header.iter().map(|cell| (*cell).to_owned()).collect();
    Block::Table { header, rows, right: right.to_vec() }
}

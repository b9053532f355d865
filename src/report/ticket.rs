//! The report for the job ticket: a short version for the customer first, then what the next
//! technician needs. As HTML and as Markdown, from the same pieces.

mod customer;
mod findings;
mod left;
mod plain;
mod readings;
mod repair;

use maud::html;

use super::bench::after_words;
use super::document::{Block, Section};
use super::html::{blocks, page};
use super::markdown;

use super::words::sentence_case;
use crate::circuit::{Circuit, Readings, Substitute};
use crate::diagnosis::Diagnosis;
use crate::fault::Fault;
use crate::plan::{Advice, Planner, Proposal};
use crate::study::{Assumption, Comparison, Coverage, Operating};

/// What a report is made from; nothing in it is computed here.
#[derive(Debug, Clone, Copy)]
pub struct Ticket<'a> {
    /// The circuit as drawn.
    pub circuit: &'a Circuit,
    /// The readings, before and after, with what the ticket says.
    pub readings: &'a Readings,
    /// Which files were read, and how many readings came from where.
    pub origin: &'a str,
    /// What the readings say.
    pub diagnosis: &'a Diagnosis,
    /// The powered board as drawn; `None` where it has no operating point.
    pub healthy: Option<&'a Operating>,
    /// The likeliest fault, where it reproduces the readings, and the board with it, where that has
    /// an operating point.
    pub likeliest: Option<(Fault, Option<&'a Operating>)>,
    /// What remains.
    pub planner: &'a Planner,
    /// What could be measured next.
    pub proposals: &'a [Proposal],
    /// What to do now.
    pub advice: &'a Advice,
    /// What the readings after the repair say, where there are any.
    pub after: Option<&'a Diagnosis>,
    /// What was put in place of what, and what that does.
    pub substitutes: Option<(&'a [Substitute], &'a Comparison)>,
    /// Defaults that applied.
    pub assumptions: &'a [Assumption],
    /// What was not tested.
    pub coverage: &'a Coverage,
}

/// A part of the report with its sections.
struct Part {
    title: &'static str,
    sections: Vec<Section>,
}

impl Ticket<'_> {
    /// The title of the page: the ticket and what was brought in.
    fn title(&self) -> String {
        let entry = |key: &str| {
            let mut entries = self.readings.job.entries.iter();
            entries.find(|(known, _)| known == key).map(|(_, text)| text.as_str())
        };
        let number = entry("ticket").map(|number| format!(" {number}")).unwrap_or_default();
        let name = match self.circuit.title.as_str() {
            "" => String::new(),
            title => format!(": {title}"),
        };
        format!("Repair report{number}{name}")
    }

    /// What the ticket says besides the symptom, which has a place of its own.
    fn facts(&self) -> Vec<(String, String)> {
        let entries = self.readings.job.entries.iter().filter(|(key, _)| key != "symptom");
        entries.map(|(key, text)| (sentence_case(&key.replace('_', " ")), text.clone())).collect()
    }

    fn parts(&self) -> [Part; 2] {
        let technician = [
            left::cautions(self),
            readings::job(self),
            readings::readings(self),
            findings::explains(self),
            readings::ladder(self),
            findings::doubts(self),
            findings::excluded(self),
            findings::next(self),
            repair::done(self),
            repair::substitutes(self),
            left::untested(self),
            left::assumptions(self),
        ];
        [
            Part { title: "In short, for the customer", sections: customer::sections(self) },
            Part {
                title: "For the technician",
                sections: technician.into_iter().flatten().collect(),
            },
        ]
    }

    fn foot(&self) -> String {
        format!("ohmhound {}; {}", env!("CARGO_PKG_VERSION"), self.origin)
    }

    /// Whether the readings after a repair say that nothing is wrong any more.
    fn is_fixed(&self) -> bool {
        let after = &self.readings.after;
        self.after.is_some_and(|found| after_words(self.circuit, after, found).is_fixed)
    }
}

/// The report as one page of HTML that needs nothing else.
#[must_use]
pub fn ticket_html(ticket: &Ticket<'_>) -> String {
    let [customer, technician] = ticket.parts();
    let facts = ticket.facts();
    let body = html! {
        header {
            h1 { (ticket.title()) }
            @if !facts.is_empty() { (blocks::put(&Block::Facts(facts))) }
        }
        div #customer {
            h2 { (customer.title) }
            @for section in &customer.sections { (blocks::section(section)) }
            (blocks::put(&Block::SignOff))
        }
        div #technician {
            h2 { (technician.title) }
            nav aria-label="Contents" {
                ul {
                    @for section in &technician.sections {
                        li { a href={ "#" (section.id) } { (section.title) } }
                    }
                }
            }
            @for section in &technician.sections { (blocks::section(section)) }
        }
        footer { p.quiet { (ticket.foot()) } }
    };
    page(&ticket.title(), &body)
}

/// The same report as Markdown, without its drawings.
#[must_use]
pub fn ticket_markdown(ticket: &Ticket<'_>) -> String {
    let mut text = String::new();
    markdown::heading(&mut text, 1, &ticket.title());
    let facts = ticket.facts();
    if !facts.is_empty() {
        markdown::put(&mut text, 1, &Block::Facts(facts));
    }
    for (number, part) in ticket.parts().iter().enumerate() {
        markdown::heading(&mut text, 2, part.title);
        for section in &part.sections {
            markdown::section(&mut text, 3, section);
        }
        if number == 0 {
            markdown::put(&mut text, 3, &Block::SignOff);
        }
    }
    markdown::put(&mut text, 2, &Block::quiet(ticket.foot()));
    text.truncate(text.trim_end().len());
    text.push('\n');
    text
}

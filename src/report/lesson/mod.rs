//! A lesson as text, Markdown, a page of HTML, and JSON.

mod checks;
mod document;
mod equations;
mod expr;
mod html;
mod json;
mod markdown;
mod matrix;
mod sections;
mod shortcuts;
mod solution;
mod states;
mod text;

use document::Block;
use sections::{View, sections};

use super::Style;
use super::bench::cautions;
use crate::circuit::Circuit;
use crate::picture::Ladder;
use crate::study::lesson::Lesson;

pub use json::lesson_json;

/// A lesson with what stands around it.
#[derive(Debug, Clone, Copy)]
pub struct Lecture<'a> {
    /// The circuit.
    pub circuit: &'a Circuit,
    /// The circuit worked through.
    pub lesson: &'a Lesson,
    /// The title.
    pub title: &'a str,
    /// Whether the questions come first, with blanks for the values, and the answers at the end.
    pub asks: bool,
    /// The circuit as drawn, for the page of HTML.
    pub ladder: Option<&'a Ladder<'a>>,
}

impl Lecture<'_> {
    fn blocks(&self) -> Vec<Block> {
        let view = |blank: bool| View { circuit: self.circuit, lesson: self.lesson, blank };
        let mut blocks = vec![Block::Title(self.title.to_owned())];
        // The first caution is the one for dangerous voltage, where it is called for.
        if let Some(caution) = cautions(self.circuit).first().filter(|one| one.contains("60 V")) {
            blocks.push(Block::Sentence(format!("Caution: {caution}.")));
        }
        if self.asks {
            blocks.push(Block::Sentence(
                "Work along: fill in the blanks. A blank in a sum stands for a number with its \
                 sign, so it may be negative. The answers are at the end."
                    .to_owned(),
            ));
            let drawn = self.ladder.map(|ladder| ladder.clone().titled("").without_volts().svgs());
            blocks.extend(drawn.map(Block::Circuit));
            blocks.extend(sections(&view(true)));
            blocks.push(Block::Title("Answers".to_owned()));
        }
        blocks.extend(self.ladder.map(|ladder| Block::Circuit(ladder.clone().titled("").svgs())));
        blocks.extend(sections(&view(false)));
        blocks.push(Block::Heading("Limits".to_owned()));
        blocks.push(Block::Sentence(
            "Nominal values, taken as exact; a real board lies within the tolerances of its parts. \
             Heat, timing, AC and parts that were not drawn are outside."
                .to_owned(),
        ));
        blocks
    }
}

/// A lesson as text.
#[must_use]
pub fn lesson_text(lecture: &Lecture<'_>, style: Style, width: usize) -> String {
    text::text(&lecture.blocks(), style, width)
}

/// A lesson as Markdown.
#[must_use]
pub fn lesson_markdown(lecture: &Lecture<'_>) -> String {
    markdown::markdown(&lecture.blocks())
}

/// A lesson as a page of HTML with MathML, which needs nothing else.
#[must_use]
pub fn lesson_html(lecture: &Lecture<'_>) -> String {
    html::html(lecture.title, &lecture.blocks())
}

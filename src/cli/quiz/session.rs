//! A quiz as a step: a line in, a text out.

use ohmhound::circuit::{Circuit, Quantity, SetupId};
use ohmhound::diagnosis::Probe;
use ohmhound::fault::Fault;
use ohmhound::file::{Entry, Log, place_answer};
use ohmhound::finding::Finding;
use ohmhound::quantity::{Unit, parse_reading};
use ohmhound::report::{
    Page, Style, hint_text, judgement_text, marking_text, notes_text, observed, parts_text,
    prediction_met, prediction_text, quiz_help, quiz_opening, symptom_text, taken_text,
};
use ohmhound::study::{Marking, Play, Quiz, Reply as Read};

use super::answer::{Wish, read};
use crate::cli::help::forms;
use crate::cli::session::{Reply, View, said};

/// A game with what shows it.
pub(super) struct Session<'q> {
    play: Play<'q>,
    view: View,
    log: Option<Log>,
    marking: Option<Marking>,
}

impl<'q> Session<'q> {
    pub(super) fn new(quiz: &'q Quiz<'q>, log: Option<Log>, view: View) -> Session<'q> {
        Session { play: quiz.play(), view, log, marking: None }
    }

    fn circuit(&self) -> &'q Circuit {
        self.play.quiz().circuit()
    }

    /// What is said before the first line.
    pub(super) fn opening(&mut self) -> Reply {
        let text = quiz_opening(&self.play, self.view.style, self.view.width);
        let mut findings = Vec::new();
        for reading in self.play.quiz().symptom().readings.iter() {
            // What lights do is what a readings file can hold of a symptom.
            if reading.quantity == Quantity::Seen {
                findings.extend(self.keep(reading));
            }
        }
        Reply { text, findings }
    }

    pub(super) fn prompt(&self) -> String {
        let n = self.play.effort();
        format!("[{n:.0}]> ")
    }

    pub(super) fn is_over(&self) -> bool {
        self.marking.is_some()
    }

    pub(super) fn play(&self) -> &Play<'q> {
        &self.play
    }

    /// The marking, once it is over.
    pub(super) fn marking(&self) -> Option<&Marking> {
        self.marking.as_ref()
    }

    /// Ends the game; the marking as text.
    pub(super) fn end(&mut self) -> String {
        let marking = self.play.marking();
        let text = marking_text(&self.play, &marking, self.view.style, self.view.width);
        self.marking = Some(marking);
        format!("\n{text}")
    }

    /// Takes a line.
    pub(super) fn line(&mut self, line: &str) -> Reply {
        let circuit = self.circuit();
        let View { style, width } = self.view;
        match read(circuit, line) {
            Wish::Nothing => Reply::default(),
            Wish::Help => said(quiz_help(circuit, width)),
            Wish::Symptom => said(symptom_text(circuit, self.play.quiz().symptom(), style, width)),
            Wish::Parts => said(parts_text(circuit, style, width)),
            Wish::Faults => said(forms()),
            Wish::Notes => said(notes_text(circuit, &self.play, style, width)),
            Wish::Hint(level) => {
                let (level, hint) = self.play.hint(level);
                said(hint_text(circuit, level, &hint, style, width))
            }
            Wish::Guess(fault) => said(self.guess(fault)),
            Wish::GiveUp => said(self.end()),
            Wish::Unclear(advice) => said(self.sentence(&advice)),
            Wish::Measure { setup, quantity, place } => self.measure(setup, quantity, &place),
            Wish::Predict { setup, quantity, place, value } => {
                said(self.predict((setup, quantity), &place, &value))
            }
        }
    }

    fn sentence(&self, text: &str) -> String {
        let mut page = Page::new(Style::Plain, self.view.width);
        page.sentence("  ", text);
        page.finish()
    }

    /// The place that was named, or what is wrong with it.
    fn probe(&self, setup: SetupId, quantity: Quantity, place: &str) -> Result<Probe, String> {
        let meter = self.play.quiz().meter();
        let parsed = place_answer(self.circuit(), &meter, (setup, quantity), place);
        match parsed.value {
            Some(place) if parsed.findings.is_empty() => Ok(Probe { setup, quantity, place }),
            _ => Err(parsed
                .findings
                .iter()
                .map(|finding| {
                    let help =
                        finding.help.as_ref().map_or(String::new(), |help| format!("; {help}"));
                    self.sentence(&format!("{}{help}", finding.message))
                })
                .collect()),
        }
    }

    fn measure(&mut self, setup: SetupId, quantity: Quantity, place: &str) -> Reply {
        let circuit = self.circuit();
        let width = self.view.width;
        let probe = match self.probe(setup, quantity, place) {
            Ok(probe) => probe,
            Err(text) => return said(text),
        };
        match self.play.measure(probe) {
            Read::OutOfReach => {
                said(self.sentence(&format!("no probe reaches {place} on this board")))
            }
            Read::Unsettled => said(self.sentence(&format!(
                "the display at {place} does not settle; measure somewhere else"
            ))),
            Read::Read { taken, again, prediction } => {
                let mut text = taken_text(circuit, &taken, again, self.play.effort(), width);
                if let Some(met) = prediction.and_then(|at| self.play.predictions().get(at)) {
                    text += &prediction_met(circuit, met, width);
                }
                let findings = if again { None } else { self.keep(&taken.reading) };
                Reply { text, findings: findings.into_iter().collect() }
            }
        }
    }

    /// Puts a reading into the log.
    fn keep(&mut self, reading: &ohmhound::circuit::Reading) -> Option<Finding> {
        let circuit = self.circuit();
        let value = observed(reading, circuit);
        let value = match value.as_str() {
            "beep" => "true",
            "no beep" => "false",
            other => other,
        };
        let entry = Entry::Reading {
            after: false,
            setup: &circuit[reading.setup].name,
            quantity: reading.quantity,
            place: &reading.place_text,
            value,
        };
        self.log.as_mut()?.add(&entry).err()
    }

    fn predict(&mut self, what: (SetupId, Quantity), place: &str, value: &str) -> String {
        let (setup, quantity) = what;
        let probe = match self.probe(setup, quantity, place) {
            Ok(probe) => probe,
            Err(text) => return text,
        };
        let unit = match quantity {
            Quantity::Volts | Quantity::Diode => Unit::Volt,
            Quantity::Amps => Unit::Amp,
            Quantity::Ohms => Unit::Ohm,
            Quantity::Beep | Quantity::Seen => {
                return self.sentence("predict a value: volts, ohms, diode or amps");
            }
        };
        if let Some(text) = self.other_unit(quantity, value) {
            return text;
        }
        let written = match parse_reading(value, unit) {
            Ok(written) => written,
            Err(error) => {
                let help = error.help.map_or(String::new(), |help| format!("; {help}"));
                return self.sentence(&format!("`{value}`: {}{help}", error.message));
            }
        };
        let has_unit = value
            .chars()
            .any(|letter| letter.is_alphabetic() || matches!(letter, '\u{3a9}' | '\u{2126}'));
        let (circuit, width) = (self.circuit(), self.view.width);
        match self.play.predict(probe, written, has_unit) {
            Some(predicted) => prediction_text(circuit, predicted, width),
            None => self.sentence(&format!(
                "expected one value such as `4.2 V` or `OL` for {place}, found `{value}`"
            )),
        }
    }

    /// What is said of a value such as `4k7`, which is written as ohms are: no volts, no amps.
    fn other_unit(&self, quantity: Quantity, value: &str) -> Option<String> {
        let (unit, word) = match quantity {
            Quantity::Volts | Quantity::Diode => ('V', "volts"),
            Quantity::Amps => ('A', "amps"),
            _ => return None,
        };
        let is_of_ohms =
            !value.contains(unit) && value.contains(['k', 'K', 'R', '\u{3a9}', '\u{2126}']);
        is_of_ohms.then(|| self.sentence(&format!("`{value}`: that is not {word}")))
    }

    fn guess(&mut self, fault: Fault) -> String {
        let judged = self.play.guess(fault);
        let text = judgement_text(&self.play, &fault, judged, self.view.width);
        if judged.is_right() { text + &self.end() } else { text }
    }
}

//! A session as a step: an answer in, a text out. What it knows is what the log holds.

use std::collections::HashSet;
use std::sync::Arc;

use ohmhound::circuit::{Circuit, Done, POWERED, PartId, Quantity, Readings, SetupId};
use ohmhound::diagnosis::{Diagnosis, Job, Probe, diagnose_job};
use ohmhound::engine::Assembly;
use ohmhound::file::{Entry, Log, reading_answer};
use ohmhound::finding::Finding;
use ohmhound::plan::{Advice, Measurement, Planner, standing_in, think_ahead};
use ohmhound::report::{
    Page, Style, advice_text, after_text, moved_text, question_text, status_text, why_text,
};
use ohmhound::study::to_repeat;

use super::answer::{Answer, read};
use super::thought::{HELP, Parting, alone, brief, contradict, key, parsed, thought};
use crate::cli::session::{Reply, View, said};

/// What is done to a part that may have mended the board; lifting one is a measurement.
const MENDS: [&str; 3] = ["replaced", "cleaned", "removed"];

/// A guided session.
pub(super) struct Session<'a> {
    circuit: &'a Circuit,
    assembly: &'a Assembly<'a>,
    log: Log,
    view: View,
    readings: Readings,
    diagnosis: Diagnosis,
    planner: Planner,
    advice: Advice,
    /// Measurements that the person does not want to take.
    skipped: HashSet<String>,
    /// A reading that contradicts an earlier one, until it is said which is right.
    doubt: Option<Doubt>,
    /// After a repair: the readings still to be taken again, by their numbers.
    again: Vec<usize>,
    /// The setup that the board stands in: that of the last answer.
    stands: SetupId,
    /// A part that was lifted, and what is measured on it alone.
    alone: Option<Measurement>,
    /// A part that was lifted just now: the circuit needs a setup for it.
    to_lift: Option<PartId>,
    over: bool,
}

/// A reading that contradicts an earlier one.
struct Doubt {
    setup: SetupId,
    quantity: Quantity,
    place: String,
    value: String,
}

impl<'a> Session<'a> {
    /// Begins a session, or goes on with one: what the log holds is known.
    ///
    /// # Errors
    ///
    /// What is wrong with the log.
    pub(super) fn begin(
        circuit: &'a Circuit,
        assembly: &'a Assembly<'a>,
        log: Log,
        view: View,
    ) -> Result<Session<'a>, Vec<Finding>> {
        let readings = parsed(&log, circuit)?;
        let (diagnosis, planner) = thought(assembly, &readings, None, true);
        let mut session = Session {
            circuit,
            assembly,
            log,
            view,
            readings,
            diagnosis,
            planner,
            advice: Advice::Nothing,
            skipped: HashSet::new(),
            doubt: None,
            again: Vec::new(),
            stands: POWERED,
            alone: None,
            to_lift: None,
            over: false,
        };
        session.stands = standing_in(&session.readings.readings);
        session.look();
        Ok(session)
    }

    /// A part that was lifted just now, with what goes over into the session that knows how to
    /// measure it alone.
    pub(super) fn lifting(&mut self) -> Option<PartId> {
        self.to_lift.take()
    }

    /// What outlasts a session in front of another circuit.
    pub(super) fn parting(self) -> Parting {
        Parting { log: self.log, skipped: self.skipped }
    }

    /// Goes on after a part was lifted: it is measured alone first.
    ///
    /// # Errors
    ///
    /// What is wrong with the log.
    pub(super) fn resume(
        circuit: &'a Circuit,
        assembly: &'a Assembly<'a>,
        parting: Parting,
        lifted: PartId,
        view: View,
    ) -> Result<Session<'a>, Vec<Finding>> {
        let mut session = Session::begin(circuit, assembly, parting.log, view)?;
        session.skipped = parting.skipped;
        session.alone = alone(circuit, lifted);
        if !session.skipped.is_empty() {
            session.look_again();
        }
        Ok(session)
    }

    /// The question as it stands.
    pub(super) fn asks(&self) -> String {
        self.question()
    }

    pub(super) fn is_over(&self) -> bool {
        self.over
    }

    /// What is known at the start, and the first question.
    pub(super) fn greeting(&self) -> String {
        let n = self.readings.readings.len();
        let mut text = String::new();
        if n > 0 {
            let plural = if n == 1 { "" } else { "s" };
            text = format!("It holds {n} reading{plural} already.\n");
            text += &self.status();
        }
        text + "\n" + &self.question()
    }

    /// Finds what the likely answers lead to, so that the next question comes at once.
    pub(super) fn think_ahead(&self) {
        let Advice::Measure(asked) = &self.advice else { return };
        if self.doubt.is_none() && !self.is_after() {
            let meter = &self.readings.meter;
            think_ahead(self.assembly, &brief(&self.readings), &self.diagnosis, asked, meter);
        }
    }

    /// What stands before the place where the answer is typed.
    pub(super) fn prompt(&self) -> String {
        let unit = |quantity: Quantity| match quantity {
            Quantity::Volts | Quantity::Diode => "V",
            Quantity::Amps => "A",
            _ => "Ω",
        };
        match (&self.doubt, self.asked()) {
            (Some(_), _) => "new or old? ".to_owned(),
            (None, Some(one)) => format!("{} [{}]> ", one.place_text, unit(one.probe.quantity)),
            (None, None) => "> ".to_owned(),
        }
    }

    /// What is said at the end.
    pub(super) fn farewell(&self, log: &str) -> String {
        let (n, m) = (self.readings.readings.len(), self.readings.after.len());
        let after = if m > 0 { format!(", and {m} after the repair") } else { String::new() };
        let plural = if n == 1 { "" } else { "s" };
        let holds = format!("{n} reading{plural}{after}; start again with the same log to go on");
        format!("\nThe log is {log}\n{}", self.sentence(&holds))
    }

    /// Takes an answer.
    pub(super) fn answer(&mut self, text: &str) -> Reply {
        if let Some(doubt) = self.doubt.take() {
            return self.settle(doubt, text.trim());
        }
        let asked = self.asked();
        match read(self.circuit, asked.as_ref(), text) {
            Answer::Nothing => Reply::default(),
            Answer::Quit => {
                self.over = true;
                Reply::default()
            }
            Answer::Help => said(HELP.to_owned()),
            Answer::Status => said(self.status() + &self.question()),
            Answer::Why => said(match &self.advice {
                Advice::Measure(proposal) if self.again.is_empty() && self.alone.is_none() => {
                    why_text(self.circuit, proposal, self.view.style, self.view.width)
                }
                _ if self.alone.is_some() && self.again.is_empty() => {
                    "  alone it shows whether it is the one\n".to_owned()
                }
                _ if !self.again.is_empty() => {
                    "  the same readings as before show whether the repair holds\n".to_owned()
                }
                _ => "  nothing is asked for\n".to_owned(),
            }),
            Answer::Skip => self.skip(asked),
            Answer::Undo => self.undo(),
            Answer::Unclear(advice) => said(self.sentence(&advice)),
            Answer::Value(value) => match asked {
                Some(one) => {
                    let Probe { setup, quantity, .. } = one.probe;
                    self.reading(setup, quantity, &one.place_text, &value)
                }
                None => said(self.sentence("nothing is asked for; `EN 0.02` gives a reading")),
            },
            Answer::Reading { setup, quantity, place, value } => {
                self.reading(setup, quantity, &place, &value)
            }
            Answer::Done { action, part, with } => self.done(action, &part, with),
            Answer::Seen { part, look } => {
                if self.circuit.part(&part).is_none() {
                    return said(self.sentence(&format!("`{part}` is no part of this board")));
                }
                self.put(&Entry::Seen { part: &part, look: &look })
            }
            Answer::Job { key, text } => self.put(&Entry::Job { key: &key, text: &text }),
        }
    }

    /// What is asked for now.
    fn asked(&self) -> Option<Measurement> {
        if let Some(&number) = self.again.first() {
            let reading = &self.readings.readings[number];
            let (setup, quantity, place) = (reading.setup, reading.quantity, reading.place);
            let probe = Probe { setup, quantity, place };
            let place_text = reading.place_text.clone();
            return Some(Measurement { probe, place_text, effort: 1.0 });
        }
        if let Some(alone) = &self.alone {
            return Some(alone.clone());
        }
        match &self.advice {
            Advice::Measure(proposal) => Some(proposal.measurement.clone()),
            _ => None,
        }
    }

    fn question(&self) -> String {
        let (style, width) = (self.view.style, self.view.width);
        if let (Some(one), false) = (self.asked(), self.again.is_empty()) {
            let n = self.again.len();
            let left =
                format!("After the repair, {n} reading{} to go:\n", if n == 1 { "" } else { "s" });
            return left + &question_text(self.circuit, &one, width);
        }
        if let Some(alone) = &self.alone {
            return question_text(self.circuit, alone, width);
        }
        let mut text = advice_text(self.circuit, &self.advice, style, width);
        if !matches!(self.advice, Advice::Measure(_)) {
            text += &self.sentence(
                "say what was done, as in `replaced R1 with 47k`, `cleaned R1` or `lifted R1`; or \
                 give another reading, as in `EN 0.02`",
            );
        }
        text
    }

    fn status(&self) -> String {
        status_text(self.circuit, &self.diagnosis, self.view.style, self.view.width)
    }

    fn sentence(&self, text: &str) -> String {
        let mut page = Page::new(Style::Plain, self.view.width);
        page.sentence("  ", text);
        page.finish()
    }

    /// Takes a reading, unless it is no value or contradicts an earlier one.
    fn reading(&mut self, setup: SetupId, quantity: Quantity, place: &str, value: &str) -> Reply {
        let value = match (quantity, value) {
            (Quantity::Beep, "yes" | "beep") => "true",
            (Quantity::Beep, "no" | "none") => "false",
            _ => value,
        };
        let read =
            reading_answer(self.circuit, &self.readings.meter, (setup, quantity), place, value);
        let Some(new) = read.value else {
            return Reply { text: String::new(), findings: read.findings };
        };
        let is_after = self.is_after();
        let known = self.readings.readings.iter().rev().find(|old| old.repeats(&new));
        if let Some(old) = known.filter(|old| !is_after && contradict(self.circuit, old, &new)) {
            let text = self.sentence(&format!(
                "{} read {} before, and now {value}: which is right? `new`, `old`, or `both` where it \
                 wanders",
                old.place_text,
                ohmhound::report::observed(old, self.circuit)
            ));
            self.doubt =
                Some(Doubt { setup, quantity, place: place.to_owned(), value: value.to_owned() });
            return Reply { text, findings: read.findings };
        }
        if !self.circuit[setup].is_for_one_part() {
            self.stands = setup;
        }
        let probe = Probe { setup, quantity, place: new.place };
        let was_alone = self.alone.take_if(|alone| alone.probe == probe);
        let name = self.circuit[setup].name.clone();
        let entry = Entry::Reading { after: is_after, setup: &name, quantity, place, value };
        let mut reply = self.put(&entry);
        if !reply.findings.is_empty() {
            self.alone = was_alone;
        } else if let Some(alone) = was_alone {
            let text = format!(
                "put {0} back where it is good; where it is bad, replace it and say `replaced {0}`",
                alone.place_text
            );
            reply.text.insert_str(0, &self.sentence(&text));
        }
        reply.findings.splice(0..0, read.findings);
        reply
    }

    /// Says which of two readings is right.
    fn settle(&mut self, doubt: Doubt, text: &str) -> Reply {
        let setup = self.circuit[doubt.setup].name.clone();
        let Doubt { quantity, ref place, ref value, .. } = doubt;
        match text {
            "old" => said(self.sentence("the earlier reading stays") + &self.question()),
            "both" => {
                let after = false;
                self.put(&Entry::Reading { after, setup: &setup, quantity, place, value })
            }
            "new" => {
                let before = self.diagnosis.clone();
                match self.log.correct((&setup, quantity), place, value) {
                    Ok(()) => self.moved(&before),
                    Err(finding) => {
                        self.doubt = Some(doubt);
                        Reply { text: String::new(), findings: vec![finding] }
                    }
                }
            }
            _ => {
                self.doubt = Some(doubt);
                said(self.sentence("expected `new`, `old` or `both`"))
            }
        }
    }

    /// Whether a repair was done, so that readings are of the mended board.
    fn is_after(&self) -> bool {
        self.readings.done.iter().any(|done| MENDS.contains(&done.action.as_str()))
    }

    fn done(&mut self, action: String, part: &str, with: Option<String>) -> Reply {
        let Some(id) = self.circuit.part(part) else {
            let names = self.circuit.parts.iter().map(|part| part.name.as_str());
            let near = ohmhound::finding::nearest(part, names);
            let help = near.map_or(String::new(), |near| format!("; did you mean `{near}`?"));
            return said(self.sentence(&format!("`{part}` is no part of this board{help}")));
        };
        let is_lifted = action == "lifted";
        let done = Done { action, part: Some(id), with };
        let mut reply = self.put(&Entry::Done(&done, Some(part)));
        if is_lifted && reply.findings.is_empty() {
            if self.circuit[id].is_two_pin() {
                self.to_lift = Some(id);
                return Reply::default();
            }
            let text = format!(
                "look {part} over: if it is bad, say `replaced {part}`; if it is good, put it back \
                 and say `seen {part} fine`"
            );
            reply.text.insert_str(0, &self.sentence(&text));
        }
        reply
    }

    fn skip(&mut self, asked: Option<Measurement>) -> Reply {
        if !self.again.is_empty() {
            self.again.remove(0);
        } else if self.alone.take().is_some() {
            // What is not measured alone says nothing.
        } else if let Some(one) = asked {
            if self.skipped.insert(key(&one)) && self.skipped.len() == 1 {
                let earlier = Arc::clone(&self.diagnosis.earlier);
                (self.diagnosis, self.planner) =
                    thought(self.assembly, &self.readings, Some(&earlier), false);
            }
            self.look_again();
        }
        said(self.question())
    }

    fn undo(&mut self) -> Reply {
        match self.log.undo() {
            Ok(true) => {
                let before = self.diagnosis.clone();
                let mut reply = self.moved(&before);
                reply.text.insert_str(0, "  the last answer is taken back\n");
                reply
            }
            Ok(false) => said(self.sentence("nothing was answered in this session yet")),
            Err(finding) => Reply { text: String::new(), findings: vec![finding] },
        }
    }

    /// Puts an entry on disk, and tells what follows from it.
    fn put(&mut self, entry: &Entry<'_>) -> Reply {
        let before = self.diagnosis.clone();
        match self.log.add(entry) {
            Ok(()) => self.moved(&before),
            Err(finding) => Reply { text: String::new(), findings: vec![finding] },
        }
    }

    /// Reads the log anew, and tells how the candidates moved.
    fn moved(&mut self, before: &Diagnosis) -> Reply {
        let was_after = self.is_after();
        match parsed(&self.log, self.circuit) {
            Ok(readings) => self.readings = readings,
            Err(findings) => return Reply { text: String::new(), findings },
        }
        let n = self.readings.readings.len();
        let nothing_skipped = self.skipped.is_empty();
        (self.diagnosis, self.planner) =
            thought(self.assembly, &self.readings, Some(&before.earlier), nothing_skipped);
        self.look();
        let mut text = String::new();
        if !was_after && !self.is_after() && n > 0 {
            text = moved_text(
                self.circuit,
                &self.readings.readings,
                (before, &self.diagnosis),
                self.view.style,
                self.view.width,
            );
        }
        if self.is_after() && self.again.is_empty() {
            return said(text + &self.after());
        }
        said(text + &self.question())
    }

    /// What the readings after the repair say.
    fn after(&mut self) -> String {
        let after = &self.readings.after;
        if after.is_empty() {
            return self
                .sentence("no reading was taken before the repair, so there is none to repeat");
        }
        let diagnosis = diagnose_job(self.assembly, &Job::after_repair(&self.readings));
        let text = after_text(self.circuit, after, &diagnosis, self.view.style, self.view.width);
        self.over = diagnosis.explains() && text.contains("Fixed");
        let more = if self.over {
            String::new()
        } else {
            status_text(self.circuit, &diagnosis, self.view.style, self.view.width)
        };
        text + &more
    }

    /// Decides what to do now.
    fn look(&mut self) {
        self.again =
            if self.is_after() { to_repeat(self.circuit, &self.readings) } else { Vec::new() };
        self.look_again();
    }

    fn look_again(&mut self) {
        let now = self.stands;
        let skipped = |one: &Measurement| self.skipped.contains(&key(one));
        self.advice = self.planner.advise(self.circuit, &self.diagnosis, now, &skipped);
    }
}

//! What a guided session says: cautions, the question, why it is asked, how the candidates moved.

use super::Style;
use super::next::{follows, step};
use super::text::Page;
use super::words::{self, list, observed, percent, range, where_taken};
use crate::circuit::{Circuit, Quantity, Reading};
use crate::device::of;
use crate::diagnosis::{Diagnosis, ReadingLine, Verdict};
use crate::plan::{Advice, Measurement, Outcome, Proposal, Repair, is_live, where_to_measure};

/// The dry-touch limit of extra-low voltage in direct current, in volts: IEC 61140 and IEC 60364-4-41
/// name 60 V for dry places (figures as in the standards table of safety limits).
const EXTRA_LOW_VOLTS: f64 = 60.0;
/// Candidates that are named when they moved.
const MOVED: usize = 5;

/// What to do where nothing on the list fits.
pub(super) const LOOK_FOR: &str = "look for a slip in the readings, for two faults at once (`diagnose --pairs`), or for something \
     that was not typed in";
/// What every sheet of cautions ends with.
pub(super) const DEFERRAL: &str = "local codes and the rules of licensed practice come before anything said here; what is \
     joined to the mains is work for people licensed to do it";

/// Whether a source of the circuit is above extra-low voltage, so that the work is for people licensed
/// to do it.
pub fn is_for_licensed_people(circuit: &Circuit) -> bool {
    let sources = circuit.parts.iter().filter(|part| of(part).is_source());
    let highest = sources
        .filter_map(|part| part.nominal("volts").or(part.nominal("compliance")))
        .fold(0.0_f64, |most, volts| most.max(volts.abs()));
    highest > EXTRA_LOW_VOLTS
}

/// The cautions that this circuit calls for.
pub fn cautions(circuit: &Circuit) -> Vec<String> {
    let named = |keep: &dyn Fn(&crate::circuit::Part) -> bool| -> Vec<String> {
        let parts = circuit.parts.iter().filter(|part| part.fitted && keep(part));
        parts.map(|part| part.name.clone()).collect()
    };
    let mut found = Vec::new();
    if is_for_licensed_people(circuit) {
        found.push(
            "this board has more than 60 V: the work is for people licensed to do it, and local \
             codes come first"
                .to_owned(),
        );
    }
    let capacitors = named(&|part| part.kind == "capacitor");
    found.push(match capacitors.is_empty() {
        true => "switch the power off before ohms and diode readings".to_owned(),
        false => format!(
            "before ohms and diode readings switch the power off, and let {} discharge: measure \
             that they have",
            list(&capacitors, 4)
        ),
    });
    let batteries = named(&|part| part.kind == "battery");
    if !batteries.is_empty() {
        let names = list(&batteries, 4);
        found.push(format!("{names} stays live with the power off: disconnect it for ohms"));
    }
    let loads = named(&|part| part.kind == "load");
    if !loads.is_empty() {
        let names = list(&loads, 4);
        found.push(format!("while a rail reads too high, leave what hangs on it off: {names}"));
    }
    found
}

/// The cautions as text.
pub fn cautions_text(circuit: &Circuit, style: Style, width: usize) -> String {
    let mut page = Page::new(style, width);
    page.heading("Before you begin");
    for caution in cautions(circuit) {
        page.hanging("  - ", "    ", &caution);
    }
    page.finish()
}

/// What is asked, and how to do it.
pub fn question_text(circuit: &Circuit, measurement: &Measurement, width: usize) -> String {
    let mut page = Page::new(Style::Plain, width);
    page.hanging("? ", "  ", &question_words(circuit, measurement));
    page.finish()
}

/// What to measure, and how.
pub(super) fn question_words(circuit: &Circuit, measurement: &Measurement) -> String {
    let setup = measurement.probe.setup;
    let place = &measurement.place_text;
    if let [part] = circuit[setup].lifted[..]
        && circuit[setup].is_for_one_part()
    {
        let mode = if measurement.probe.quantity == Quantity::Diode {
            "diode mode, red lead on pin 1, the anode"
        } else {
            "ohms"
        };
        return format!("measure {} alone, one leg off ({mode})", circuit[part].name);
    }
    let power = if is_live(circuit, setup) { "power on" } else { "power off" };
    let how = match measurement.probe.quantity {
        Quantity::Volts if place.contains(" to ") => "red lead first".to_owned(),
        Quantity::Volts => {
            format!("black lead on {}", circuit.net_name(crate::circuit::NetId::GROUND))
        }
        Quantity::Amps => format!("meter in series with {place}"),
        Quantity::Diode => "diode mode, red lead first".to_owned(),
        _ => "neither lead live".to_owned(),
    };
    format!("measure {} ({power}, {how})", where_to_measure(circuit, measurement))
}

/// Why a measurement is proposed: what it may show, and what each of it would mean.
pub fn why_text(circuit: &Circuit, proposal: &Proposal, style: Style, width: usize) -> String {
    let mut page = Page::new(style, width);
    let text = format!("it tells {:.1} bits for an effort of {}", proposal.bits, proposal.effort);
    page.sentence("  ", &text);
    for outcome in &proposal.outcomes {
        page.hanging("  - ", "    ", &outcome_words(circuit, proposal, outcome));
    }
    page.finish()
}

/// What a measurement may show, how likely that is, and what would follow.
pub(super) fn outcome_words(circuit: &Circuit, proposal: &Proposal, outcome: &Outcome) -> String {
    let quantity = proposal.measurement.probe.quantity;
    let values =
        range(outcome.low, outcome.high, quantity, words::unit_of(quantity, circuit, None));
    format!("{values} ({}): {}", percent(outcome.probability), follows(circuit, outcome))
}

/// What is left: the likeliest candidates, healthy and "something else" among them.
pub fn status_text(circuit: &Circuit, diagnosis: &Diagnosis, style: Style, width: usize) -> String {
    let mut page = Page::new(style, width);
    let shares = shares(circuit, diagnosis);
    let shown: Vec<String> = shares
        .iter()
        .filter(|(_, share)| *share >= 1e-3)
        .take(2 * MOVED)
        .map(|(name, share)| format!("{name} {}", percent(*share)))
        .collect();
    let more = shares.iter().filter(|(_, share)| *share >= 1e-3).count() - shown.len();
    let tail = if more > 0 { format!(", and {more} more") } else { String::new() };
    page.hanging("  now: ", "       ", &format!("{}{tail}", shown.join(", ")));
    if diagnosis.nothing_fits {
        page.sentence("  ", "nothing on the list fits all readings; the shares are relative only");
    }
    page.finish()
}

/// How the candidates moved by an answer, the last of the readings: those that gained, and those
/// that are out now.
pub fn moved_text(
    circuit: &Circuit,
    readings: &[Reading],
    (before, after): (&Diagnosis, &Diagnosis),
    style: Style,
    width: usize,
) -> String {
    let mut page = Page::new(style, width);
    let (was, is) = (shares(circuit, before), shares(circuit, after));
    let of = |list: &[(String, f64)], name: &str| {
        list.iter().find(|(known, _)| known == name).map_or(0.0, |(_, share)| *share)
    };
    let gained: Vec<String> = is
        .iter()
        .filter(|(_, share)| *share >= 0.005)
        .take(MOVED)
        .map(|(name, share)| {
            format!("{name} {} (was {})", percent(*share), percent(of(&was, name)))
        })
        .collect();
    page.hanging("  now: ", "       ", &gained.join(", "));
    let out: Vec<String> = was
        .iter()
        .filter(|(name, share)| {
            *share >= 0.01 && of(&is, name) < 0.1 * share && of(&is, name) < 1e-3
        })
        .map(|(name, _)| name.clone())
        .collect();
    if !out.is_empty() {
        page.hanging("  out: ", "       ", &list(&out, 2 * MOVED));
    }
    if after.nothing_fits && !before.nothing_fits {
        page.sentence(
            "  ",
            "nothing on the list fits all readings any more: is one of them a slip?",
        );
        for without in after.without.iter().take(2) {
            if let Some(reading) = readings.get(without.reading) {
                let text = format!("without {} something fits", where_taken(reading, circuit));
                page.hanging("  - ", "    ", &text);
            }
        }
    }
    page.finish()
}

/// Everything that could be true with its share, likeliest first.
fn shares(circuit: &Circuit, diagnosis: &Diagnosis) -> Vec<(String, f64)> {
    let mut shares: Vec<(String, f64)> = diagnosis
        .candidates
        .iter()
        .map(|candidate| (candidate.fault.phrase(circuit), candidate.probability))
        .collect();
    shares.push(("a healthy board".to_owned(), diagnosis.healthy_probability));
    shares.push(("something else".to_owned(), diagnosis.other_probability));
    shares.sort_by(|a, b| b.1.total_cmp(&a.1).then_with(|| a.0.cmp(&b.0)));
    shares
}

/// What to do now that measuring is over.
pub fn advice_text(circuit: &Circuit, advice: &Advice, style: Style, width: usize) -> String {
    let mut page = Page::new(style, width);
    let told = |page: &mut Page, repair: &Repair| {
        let text = format!("{} ({})", step(repair), percent(repair.probability));
        page.hanging("  - ", "    ", &text);
    };
    match advice {
        Advice::Measure(proposal) => {
            return question_text(circuit, &proposal.measurement, width);
        }
        Advice::Repair(repair) => {
            let sure = repair.probability >= crate::plan::SURE;
            let text = if sure { "Found" } else { "One repair is left" };
            page.heading(text);
            told(&mut page, repair);
        }
        Advice::Try(repairs) => {
            page.heading("No measurement tells these apart; try them in this order");
            repairs.iter().take(2 * MOVED).for_each(|repair| told(&mut page, repair));
        }
        Advice::Healthy => page.heading("The readings fit a healthy board"),
        Advice::Nothing => {
            page.heading("Nothing on the list fits");
            page.sentence("  ", LOOK_FOR);
        }
    }
    page.finish()
}

/// What the readings after the repair say: fixed, or what still differs.
pub fn after_text(
    circuit: &Circuit,
    after: &[Reading],
    diagnosis: &Diagnosis,
    style: Style,
    width: usize,
) -> String {
    let mut page = Page::new(style, width);
    let found = after_words(circuit, after, diagnosis);
    page.heading(found.verdict);
    if let Some(sentence) = &found.sentence {
        page.sentence("  ", sentence);
    }
    for line in &found.still {
        page.hanging("  - ", "    ", line);
    }
    page.finish()
}

/// What the readings after a repair say.
pub(super) struct After {
    /// Whether they fit a healthy board.
    pub(super) is_fixed: bool,
    /// The verdict.
    pub(super) verdict: &'static str,
    /// The readings that still differ, and from what.
    pub(super) still: Vec<String>,
    /// What else there is to say.
    pub(super) sentence: Option<String>,
}

/// The same in words.
pub(super) fn after_words(circuit: &Circuit, after: &[Reading], diagnosis: &Diagnosis) -> After {
    let off = |line: &ReadingLine| line.is_off() || line.off.is_nan();
    let told = |(reading, line): (&Reading, &ReadingLine)| {
        let unit = words::unit_of(reading.quantity, circuit, Some(reading));
        let expected = line.expected.map_or_else(
            || "no operating point".to_owned(),
            |value| words::shown_as(value, reading.quantity, unit),
        );
        format!(
            "{} reads {}, a healthy board {expected}",
            where_taken(reading, circuit),
            observed(reading, circuit)
        )
    };
    let both = after.iter().zip(&diagnosis.readings);
    let still: Vec<String> = both.filter(|(_, line)| off(line)).map(told).collect();
    if diagnosis.healthy_verdict == Verdict::Reproduces && still.is_empty() {
        let n = after.len();
        let (plural, verb) = if n == 1 { ("", "fits") } else { ("s", "fit") };
        let sentence = format!("{n} reading{plural} after the repair {verb} a healthy board");
        return After { is_fixed: true, verdict: "Fixed", still, sentence: Some(sentence) };
    }
    let sentence = still
        .is_empty()
        .then(|| "each reading fits a healthy board by itself, but not all together".to_owned());
    After { is_fixed: false, verdict: "Not fixed yet", still, sentence }
}

//! What a session thinks between two questions: what the log says, what is left, what to repeat.

use std::collections::HashSet;

use ohmhound::circuit::{Circuit, PartId, Place, Quantity, Reading, Readings, SetupId};
use ohmhound::diagnosis::{Diagnosis, Earlier, Job, Pairs, Probe, diagnose_job};
use ohmhound::engine::Assembly;
use ohmhound::file::{Log, read_readings};
use ohmhound::finding::Finding;
use ohmhound::meter::Target;
use ohmhound::plan::{Measurement, Planner};

/// Two readings of one place contradict each other when they are further apart than this many
/// standard uncertainties of both.
const CONTRADICT: f64 = 5.0;

/// What a session leaves for the next one in front of the same board.
pub(super) struct Parting {
    pub(super) log: Log,
    pub(super) skipped: HashSet<String>,
}

/// What is measured on a part alone, one leg off; `None` where no setup is there for it.
pub(super) fn alone(circuit: &Circuit, part: PartId) -> Option<Measurement> {
    let setup = circuit
        .setups
        .iter()
        .position(|setup| setup.is_for_one_part() && setup.lifted == [part])?;
    let quantity = match circuit[part].kind {
        "diode" | "led" | "zener" => Quantity::Diode,
        _ => Quantity::Ohms,
    };
    let probe = Probe { setup: SetupId(setup), quantity, place: Place::Part(part) };
    Some(Measurement { probe, place_text: circuit[part].name.clone(), effort: 1.0 })
}

/// A measurement by its words, for a set.
pub(super) fn key(one: &Measurement) -> String {
    format!("{} {} {}", one.probe.setup.0, one.probe.quantity.word(), one.place_text)
}

pub(super) fn parsed(log: &Log, circuit: &Circuit) -> Result<Readings, Vec<Finding>> {
    let read = read_readings(&log.source(), circuit);
    read.value.ok_or(read.findings)
}

/// What has to be known between two questions. Slips and pairs of faults take longer than a question
/// may: they are looked for when it is the turn of the person to ask. Chains are not told here.
pub(super) fn brief(readings: &Readings) -> Job<'_> {
    Job { pairs: Pairs::Never, is_brief: true, ..Job::of(readings) }
}

/// What the readings say, and what could be measured next.
pub(super) fn thought(
    assembly: &Assembly<'_>,
    readings: &Readings,
    earlier: Option<&Earlier>,
    quick: bool,
) -> (Diagnosis, Planner) {
    let diagnosis = diagnose_job(assembly, &Job { earlier, ..brief(readings) });
    // What is asked for instead of something skipped is chosen among all.
    let plan = if quick { Planner::quick } else { Planner::new };
    let planner = plan(assembly, &readings.readings, &diagnosis, &readings.meter);
    (diagnosis, planner)
}

/// Whether two readings of one place cannot both be right.
pub(super) fn contradict(circuit: &Circuit, old: &Reading, new: &Reading) -> bool {
    let [old, new] = [old, new].map(|reading| Target::new(circuit, reading));
    if !old.is_number() || !new.is_number() {
        // A number outside a range, or two ranges that do not meet.
        return old.low > new.high || new.low > old.high;
    }
    // Each on its own scale: the digits of one decide.
    let (a, b) = (old.scale.value(old.low), new.scale.value(new.low));
    let share = |target: &Target, value: f64| target.standard() / target.scale.slope(value);
    (a - b).abs() > CONTRADICT * share(&old, a).hypot(share(&new, b))
}

/// What can be typed.
pub(super) const HELP: &str = "\
  23.9, 420 ohm, OL, 3.1..3.4, < 0.05   the answer, with the digits as shown
  EN 0.02, ohms EN 10k                  a reading somewhere else
  ohms A to B OL, diode GND to B 0.48   between two nets, red lead first
  seen R1 burnt, seen D1 dark           what the eye tells
  replaced R1 with 47k, cleaned R1      what was done; the readings are then
  removed R1                            taken again to see whether it holds
  lifted R1                             one leg off: R1 is measured alone then
  ticket 0412, symptom no light         for the report
  ?        why this is asked            skip     ask for something else
  status   what remains                 undo     take the last answer back
  quit     stop; the log keeps all
";

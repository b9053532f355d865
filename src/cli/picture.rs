//! `--picture FILE.svg`: the voltage ladder, put in place whole.

use std::path::Path;

use ohmhound::circuit::{Circuit, Overlay, POWERED, Readings, SetupId};
use ohmhound::diagnosis::{Candidate, Diagnosis, Verdict};
use ohmhound::engine::Assembly;
use ohmhound::fault::Fault;
use ohmhound::file::replace_file;
use ohmhound::picture::Ladder;
use ohmhound::report::percent;
use ohmhound::study::{Operating, operating};

use super::output::{Output, shown};
use super::{Exit, Stop};

/// Refuses a name that is not one of a picture, before anything is computed: what stands there may
/// be somebody's work.
pub(super) fn checked(file: Option<&Path>, output: &Output) -> Result<(), Stop> {
    let Some(file) = file else { return Ok(()) };
    let ends_well = file.extension().is_some_and(|end| end.eq_ignore_ascii_case("svg"));
    if ends_well {
        return Ok(());
    }
    let message =
        format!("expected the name of a picture that ends in `.svg`, found `{}`", shown(file));
    output.complain(&message, "");
    Err(Stop(Exit::BadInput))
}

/// A setup solved for its picture, with faults laid over where there are some.
pub(super) struct Scene<'a> {
    circuit: &'a Circuit,
    setup: SetupId,
    healthy: Option<Operating>,
    faults: &'a [Fault],
    faulted: Option<Operating>,
}

impl<'a> Scene<'a> {
    pub(super) fn new(
        assembly: &Assembly<'a>,
        setup: SetupId,
        (faults, overlay): (&'a [Fault], &Overlay),
    ) -> Scene<'a> {
        let healthy = operating(assembly, setup, &Overlay::none()).ok();
        let with_faults = || operating(assembly, setup, overlay).ok();
        let faulted = (!faults.is_empty()).then(with_faults).flatten();
        Scene { circuit: assembly.circuit(), setup, healthy, faults, faulted }
    }

    pub(super) fn ladder(&self, title: &str) -> Ladder<'_> {
        let ladder = Ladder::new(self.circuit, self.healthy.as_ref());
        let ladder = ladder.in_setup(self.setup).titled(title);
        match self.faults.is_empty() {
            true => ladder,
            false => ladder.with_faults(self.faults, self.faulted.as_ref()),
        }
    }
}

/// The ladder with the readings, and with the likeliest fault where it reproduces them.
pub(super) fn diagnosed(
    assembly: &Assembly<'_>,
    readings: &Readings,
    diagnosis: &Diagnosis,
    file: &Path,
    output: &Output,
) -> Result<(), Stop> {
    let circuit = assembly.circuit();
    let healthy = operating(assembly, POWERED, &Overlay::none()).ok();
    let likeliest = likeliest(diagnosis);
    let faulted = likeliest.and_then(|one| operating(assembly, POWERED, &one.overlay).ok());
    let mut what = "readings".to_owned();
    if let Some(one) = likeliest {
        let others = diagnosis
            .remaining()
            .filter(|other| other.hypothesis != one.hypothesis && !other.fault.is_misread())
            .count();
        let found =
            if one.fault.is_misread() { "a reading gone wrong" } else { "the likeliest fault" };
        what.push_str(&format!(", {found}, {}", percent(one.probability)));
        match others {
            0 => {}
            1 => what.push_str(", one other fits too"),
            _ => what.push_str(&format!(", {others} others fit too")),
        }
    }
    let title = title(circuit, &what);
    let mut ladder = Ladder::new(circuit, healthy.as_ref())
        .titled(&title)
        .with_readings(&readings.readings, diagnosis);
    if let Some(one) = likeliest {
        ladder = ladder.with_faults(&[drawn(one)], faulted.as_ref());
    }
    write(file, &ladder.svg(), output)
}

/// The likeliest fault, where it reproduces the readings; none where a healthy board does so too.
pub(super) fn likeliest(diagnosis: &Diagnosis) -> Option<&Candidate> {
    let first = diagnosis.candidates.first().filter(|one| one.verdict == Verdict::Reproduces);
    first.filter(|_| diagnosis.healthy_verdict != Verdict::Reproduces)
}

/// A fault as it is drawn: with its value only where the readings say one.
pub(super) fn drawn(one: &Candidate) -> Fault {
    let is_known = one.value_low.is_some() && one.value_high.is_some();
    if is_known { one.fault.rounded() } else { one.fault.with_value(None) }
}

/// The title of a circuit with what is drawn of it.
pub(super) fn title(circuit: &Circuit, what: &str) -> String {
    if circuit.title.is_empty() { what.to_owned() } else { format!("{}, {what}", circuit.title) }
}

/// Puts a picture in place.
pub(super) fn write(file: &Path, svg: &str, output: &Output) -> Result<(), Stop> {
    match replace_file(file, svg.as_bytes()) {
        Ok(()) => {
            output.note(&format!("wrote the picture `{}`", shown(file)));
            Ok(())
        }
        Err(why) => {
            let message = format!("cannot write the picture `{}`: {why}", shown(file));
            output.complain(&message, "name a file in a folder that can be written");
            Err(Stop(Exit::BadInput))
        }
    }
}

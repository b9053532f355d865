//! What the readings of a job leave open: nets without a reading, parts that no reading tells about,
//! setups that were not tried, readings that were not taken again after the repair.

use crate::circuit::{
    Circuit, NetId, Overlay, PartId, Place, Quantity, Reading, Readings, SetupId,
};
use crate::diagnosis::{Candidate, Diagnosis, MARKED, Predictor, Probe};
use crate::engine::Assembly;
use crate::fault::Fault;
use crate::meter::lit_above;
use crate::plan::nets_of;

/// What was not tested.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Coverage {
    /// Nets that no lead of a meter was on, before or after a repair.
    pub unread: Vec<NetId>,
    /// Fitted parts of which no fault would have shown in the readings.
    pub untold: Vec<PartId>,
    /// Setups without a reading.
    pub setups: Vec<SetupId>,
    /// Readings before the repair that were not taken again after it, by their numbers.
    pub not_repeated: Vec<usize>,
}

/// What the readings of a job and their diagnosis leave open.
///
/// A part counts as told about when one of the faults tried in it moves a reading by more than three
/// standard uncertainties off what a healthy board shows, or leaves the board without an operating
/// point. Where the healthy board has none itself, nothing is said of parts.
///
/// ```
/// # use ohmhound::{circuit::{Circuit, Readings}, device::two_pin, diagnosis::diagnose};
/// # use ohmhound::{engine::Assembly, study::coverage};
/// let mut circuit = Circuit::new("", "GND");
/// two_pin(&mut circuit, "R1", "resistor", ["A", "GND"], &[("value", 1e3)])?;
/// let assembly = Assembly::new(&circuit);
/// let left = coverage(&assembly, &Readings::default(), &diagnose(&assembly, &[], &[]));
/// assert_eq!(left.unread, [circuit.net("A").unwrap()]);
/// assert_eq!(left.untold, [circuit.part("R1").unwrap()]);
/// # Ok::<(), String>(())
/// ```
pub fn coverage(assembly: &Assembly<'_>, readings: &Readings, diagnosis: &Diagnosis) -> Coverage {
    let circuit = assembly.circuit();
    let taken = || readings.readings.iter().chain(&readings.after);
    let is_read = |net: NetId| taken().any(|reading| touches(circuit, reading, net));
    let is_tried = |setup: SetupId| taken().any(|reading| reading.setup == setup);
    let all_setups = (0..circuit.setups.len()).map(SetupId);
    let not_repeated =
        if readings.after.is_empty() { Vec::new() } else { to_repeat(circuit, readings) };
    Coverage {
        unread: circuit
            .nets_by_id()
            .map(|(net, _)| net)
            .filter(|net| *net != NetId::GROUND && !is_read(*net))
            .collect(),
        untold: untold(assembly, readings, diagnosis),
        setups: all_setups
            .filter(|setup| !circuit[*setup].is_for_one_part() && !is_tried(*setup))
            .collect(),
        not_repeated,
    }
}

/// The readings before the repair that were not taken again yet, by their numbers.
pub fn to_repeat(circuit: &Circuit, readings: &Readings) -> Vec<usize> {
    let before = &readings.readings;
    (0..before.len())
        .filter(|&number| !circuit[before[number].setup].is_for_one_part())
        .filter(|&number| !before[..number].iter().any(|one| one.repeats(&before[number])))
        .filter(|&number| !readings.after.iter().any(|one| one.repeats(&before[number])))
        .collect()
}

/// Whether a lead was on the net: a current is read in series, and what is seen is read by eye.
fn touches(circuit: &Circuit, reading: &Reading, net: NetId) -> bool {
    !matches!(reading.quantity, Quantity::Amps | Quantity::Seen)
        && nets_of(circuit, reading.place).contains(&net)
}

fn untold(assembly: &Assembly<'_>, readings: &Readings, diagnosis: &Diagnosis) -> Vec<PartId> {
    if diagnosis.readings.iter().any(|line| line.expected.is_none()) {
        return Vec::new();
    }
    let circuit = assembly.circuit();
    let mut told = vec![false; circuit.parts.len()];
    tell(&mut told, &diagnosis.no_point);
    let own = &readings.readings;
    let (seen, others): (Vec<_>, Vec<_>) =
        diagnosis.candidates.iter().partition(|one| shows(circuit, own, diagnosis, &one.predicted));
    for candidate in seen {
        tell(&mut told, &candidate.causes);
    }
    // What readings without power ruled out was not powered up: what it would show there is not
    // known yet.
    let is_new =
        |one: &Candidate| one.causes.iter().filter_map(own_part).any(|id| !told[id.index()]);
    let open: Vec<&Candidate> = others
        .into_iter()
        .filter(|one| one.predicted.iter().any(|value| value.is_nan()) && is_new(one))
        .collect();
    if !open.is_empty() {
        let overlays: Vec<&Overlay> = open.iter().map(|one| &one.overlay).collect();
        let foreseen = of_readings(assembly, readings).predict_all(&overlays);
        for (candidate, foreseen) in open.into_iter().zip(foreseen) {
            let shown = foreseen.into_iter().map(|one| one.map_or(f64::NAN, |one| one.shown));
            if shows(circuit, own, diagnosis, &shown.collect::<Vec<_>>()) {
                tell(&mut told, &candidate.causes);
            }
        }
    }
    let fitted = circuit.parts_by_id().filter(|(_, part)| part.fitted);
    fitted.map(|(id, _)| id).filter(|id| !told[id.index()]).collect()
}

/// Notes the parts that these are faults of.
fn tell(told: &mut [bool], causes: &[Fault]) {
    for part in causes.iter().filter_map(own_part) {
        told[part.index()] = true;
    }
}

/// The part that a fault is in, alone: what takes several parts to be wrong may show by another one.
fn own_part(fault: &Fault) -> Option<PartId> {
    match fault {
        Fault::Alike(..) | Fault::Exchanged(..) => None,
        _ => fault.part(),
    }
}

/// What predicts these readings.
fn of_readings<'a>(assembly: &'a Assembly<'a>, readings: &Readings) -> Predictor<'a> {
    let probes: Vec<Probe> = readings
        .readings
        .iter()
        .map(|one| Probe { setup: one.setup, quantity: one.quantity, place: one.place })
        .collect();
    Predictor::new(assembly, &probes, &readings.meter)
}

/// Whether a fault that predicts this would have shown in some reading.
fn shows(
    circuit: &Circuit,
    readings: &[Reading],
    diagnosis: &Diagnosis,
    predicted: &[f64],
) -> bool {
    let lines = readings.iter().zip(&diagnosis.readings).zip(predicted);
    lines.into_iter().any(|((reading, line), &predicted)| {
        let Some(expected) = line.expected else { return false };
        if predicted.is_nan() {
            return false;
        }
        if reading.quantity == Quantity::Beep {
            let beeps = |ohms: f64| ohms < reading.meter.beep_below;
            return beeps(expected) != beeps(predicted);
        }
        if let (Quantity::Seen, Place::Part(part)) = (reading.quantity, reading.place)
            && circuit[part].kind == "led"
        {
            let is_lit = |amps: f64| amps > lit_above(&circuit[part]);
            return is_lit(expected) != is_lit(predicted);
        }
        if expected.is_infinite() || predicted.is_infinite() {
            return expected.is_infinite() != predicted.is_infinite();
        }
        (predicted - expected).abs() > MARKED * line.expected_u
    })
}

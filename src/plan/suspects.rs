//! What could still be true, as the planner sees it: one cause each, with the values it may have.

use crate::circuit::{Circuit, NetId, Overlay, PartId};
use crate::diagnosis::{Candidate, Diagnosis};
use crate::fault::Fault;

/// Suspects that weigh less than this share of the likeliest do not steer the next measurement.
const LEAST_SHARE: f64 = 1e-3;
/// At most this many suspects are told apart; the rest weigh too little to matter.
const SUSPECTS: usize = 40;
/// A probability that no session ever lifts again.
const HARDLY: f64 = 1e-9;
/// With more suspects than this only the likeliest value of each is looked at.
const WITH_ENDS: usize = 16;
/// A likeliest value is rounded to this share of its interval's logarithm, or less ...
const ROUGHLY: f64 = 0.25;
/// ... and to no coarser steps than half a natural logarithm.
const COARSEST: f64 = 0.5;
/// Shares of the ends of a central 95 % interval and of its middle that have the mean and the
/// variance of a normal value: 2 w · 1.96² = 1.
const END_SHARE: f64 = 0.13;

/// A cause that remains.
#[derive(Debug, Clone)]
pub struct Suspect {
    /// The fault without its value; "healthy" for none.
    pub phrase: String,
    /// Its share among the suspects.
    pub weight: f64,
    /// Where the repair would be, by number.
    pub site: usize,
    /// The part that it is in, if it is in one.
    pub part: Option<PartId>,
    /// The fault; `None` for a healthy board.
    pub fault: Option<Fault>,
    /// The likeliest value and the ends of its interval, each with its share.
    pub points: Vec<(f64, Overlay)>,
}

/// Where a fault is repaired: a part, or a net, or two.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Site {
    Nowhere,
    Part(PartId),
    Net(NetId),
    Nets(NetId, NetId),
}

impl Site {
    fn of(fault: &Fault) -> Site {
        match *fault {
            Fault::Leak(net, _) => Site::Net(net),
            Fault::Bridge(a, b, _) => Site::Nets(a.min(b), a.max(b)),
            _ => fault.part().map_or(Site::Nowhere, Site::Part),
        }
    }
}

/// The number of an item in a list that it joins when it is new.
fn number_of<T: PartialEq>(known: &mut Vec<T>, item: T) -> usize {
    known.iter().position(|other| *other == item).unwrap_or_else(|| {
        known.push(item);
        known.len() - 1
    })
}

/// What a diagnosis leaves, likeliest first, with shares that add up to one; and the probability of
/// all of them together. Evidence ranks: what the verdict excludes by a hair keeps its weight.
///
/// ```
/// use ohmhound::plan::suspects;
/// use ohmhound::{circuit::*, engine::Assembly, file::read_circuit, finding::Source};
/// use ohmhound::{diagnosis::diagnose, file::read_readings};
///
/// let text = "[parts]\nJ1 = { kind = \"supply\", volts = \"12 V\", nets = [\"IN\", \"GND\"] }\n\
///             R1 = { value = \"10k\", nets = [\"IN\", \"OUT\"] }\n\
///             R2 = { value = \"10k\", nets = [\"OUT\", \"GND\"] }";
/// let circuit = read_circuit(&Source::new("divider.toml", text), &mut |_| Err(String::new()));
/// let circuit = circuit.value.ok_or("the circuit is in order")?;
/// let text = "[powered.volts]\nIN = 12.02\nOUT = 0.000";
/// let readings = read_readings(&Source::new("r.toml", text), &circuit).value.ok_or("in order")?;
///
/// let diagnosis = diagnose(&Assembly::new(&circuit), &readings.readings, &[]);
/// let (suspects, share) = suspects(&circuit, &diagnosis);
/// assert!(suspects.iter().any(|one| one.phrase == "R1 open"));
/// assert!(share > 0.9 && share <= 1.0);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn suspects(circuit: &Circuit, diagnosis: &Diagnosis) -> (Vec<Suspect>, f64) {
    let mut suspects: Vec<(Suspect, Option<Overlay>)> = Vec::new();
    let mut sites = vec![Site::Nowhere];
    let goes_on = diagnosis.earlier.goes_on();
    let healthy = Suspect {
        phrase: "healthy".to_owned(),
        weight: diagnosis.healthy_probability,
        site: 0,
        part: None,
        fault: None,
        points: vec![(1.0, Overlay::none())],
    };
    suspects.push((healthy, None));
    let counts =
        |candidate: &&Candidate| candidate.probability > HARDLY && !candidate.fault.is_misread();
    for candidate in diagnosis.candidates.iter().filter(counts) {
        // Causes of one change are only told apart by looking into the parts themselves.
        for (cause, share) in candidate.causes.iter().zip(&candidate.cause_shares) {
            let same = cause.with_value(None) == candidate.fault.with_value(None);
            let suspect = Suspect {
                phrase: cause.phrase(circuit),
                weight: candidate.probability * share,
                site: number_of(&mut sites, Site::of(cause)),
                part: cause.part(),
                fault: Some(*cause),
                points: points(circuit, candidate, cause, same),
            };
            let rough = (same && goes_on).then(|| rough(circuit, candidate, cause)).flatten();
            suspects.push((suspect, rough));
        }
    }
    suspects.sort_by(|(a, _), (b, _)| b.weight.total_cmp(&a.weight));
    suspects.truncate(SUSPECTS);
    let least = LEAST_SHARE * suspects.first().map_or(0.0, |(suspect, _)| suspect.weight);
    suspects.retain(|(suspect, _)| suspect.weight >= least && !suspect.points.is_empty());
    // Among many suspects the likeliest value of each is enough to see where to begin; roughly, where
    // there will be another question: the same value need not be solved again for it.
    if suspects.len() > WITH_ENDS {
        for (suspect, rough) in &mut suspects {
            suspect.points.truncate(1);
            for (share, overlay) in &mut suspect.points {
                *share = 1.0;
                if let Some(rough) = rough.take() {
                    *overlay = rough;
                }
            }
        }
    }
    let mut suspects: Vec<Suspect> = suspects.into_iter().map(|(suspect, _)| suspect).collect();
    let total: f64 = suspects.iter().map(|suspect| suspect.weight).sum();
    for suspect in &mut suspects {
        suspect.weight /= total.max(f64::MIN_POSITIVE);
    }
    (suspects, total)
}

/// The change of a cause with its likeliest value, rounded to a fraction of its interval; `None` where
/// it has no value.
fn rough(circuit: &Circuit, candidate: &Candidate, cause: &Fault) -> Option<Overlay> {
    let ends = candidate.value_low.zip(candidate.value_high);
    let width = ends.map_or(f64::INFINITY, |(low, high)| (high / low).ln());
    let step = (ROUGHLY * width).log2().floor().exp2().min(COARSEST);
    let place = candidate.value?.ln();
    let rounded = ((place / step).round() * step).exp();
    (place.is_finite() && step > 0.0).then(|| cause.with_value(Some(rounded)).overlay(circuit))?
}

/// The values of a cause: of the candidate's own fault the median and the ends of its interval.
fn points(
    circuit: &Circuit,
    candidate: &Candidate,
    cause: &Fault,
    is_own: bool,
) -> Vec<(f64, Overlay)> {
    let overlay = |value: Option<f64>| cause.with_value(value).overlay(circuit);
    if !is_own {
        return cause.overlay(circuit).map(|overlay| (1.0, overlay)).into_iter().collect();
    }
    let ends = [candidate.value_low, candidate.value_high].into_iter().flatten();
    let ends: Vec<(f64, Overlay)> =
        ends.filter_map(|value| Some((END_SHARE, overlay(Some(value))?))).collect();
    let middle = 1.0 - END_SHARE * ends.len() as f64;
    overlay(candidate.value).map(|overlay| (middle, overlay)).into_iter().chain(ends).collect()
}

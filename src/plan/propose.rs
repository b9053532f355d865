//! Proposals for the next measurement, by bits of information per unit of effort.
//!
//! Each remaining candidate predicts a value with an uncertainty. Values that are closer than three
//! standard uncertainties fall into one outcome; a measurement is worth the entropy of its
//! outcomes, in bits (C. E. Shannon, "A mathematical theory of communication", Bell System
//! Technical Journal 27, 1948). What tells where to repair goes before what does not.

use std::collections::BTreeMap;

use crate::circuit::{
    Circuit, Meter, NetId, Overlay, POWERED, PartId, Place, Quantity, Reading, SetupId, Spot,
    UNPOWERED,
};
use crate::device::of;
use crate::diagnosis::{Candidate, Diagnosis, Verdict};
use crate::engine::Assembly;
use crate::fault::Fault;
use crate::meter::{Scale, Scene, show};

/// What a measurement costs, in probes of a net. Common practice, no published source.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Effort {
    /// Holding a probe on a net.
    pub probe: f64,
    /// Switching the power off first.
    pub power_off: f64,
    /// Breaking a path to put the meter in.
    pub break_path: f64,
}

impl Default for Effort {
    fn default() -> Effort {
        Effort { probe: 1.0, power_off: 2.0, break_path: 5.0 }
    }
}

/// A range of values that a measurement may show, and the faults that predict it.
#[derive(Debug, Clone, PartialEq)]
pub struct Outcome {
    /// The least value predicted, in the SI unit of the quantity; infinite for OL.
    pub low: f64,
    /// The most.
    pub high: f64,
    /// How likely it is to be seen.
    pub probability: f64,
    /// What then remains, likeliest first; "healthy" among them where it remains.
    pub remaining: Vec<String>,
}

/// A measurement that could be taken next.
#[derive(Debug, Clone, PartialEq)]
pub struct Proposal {
    /// The setup.
    pub setup: SetupId,
    /// What to measure.
    pub quantity: Quantity,
    /// Where.
    pub place: Place,
    /// Where, as readings write it.
    pub place_text: String,
    /// Expected information in bits.
    pub bits: f64,
    /// Effort in probes of a net.
    pub effort: f64,
    /// What may be seen, the likeliest first.
    pub outcomes: Vec<Outcome>,
}

/// A candidate as the planner sees it: one cause, with the values it may have.
struct Suspect {
    phrase: String,
    weight: f64,
    /// Where the repair would be.
    site: usize,
    /// Everywhere that the repair would be for some cause of the same change.
    change: usize,
    /// At the likeliest value, and at the ends of its interval.
    overlays: Vec<Overlay>,
}

/// Suspects that weigh less than this share of the likeliest do not steer the next measurement.
const LEAST_SHARE: f64 = 1e-3;
/// At most this many suspects are told apart; the rest weigh too little to matter.
const SUSPECTS: usize = 40;
/// Values closer than this many standard uncertainties look the same.
const APART: f64 = 3.0;
/// Bits that are not worth lifting a probe for.
const WORTH: f64 = 0.01;

/// The most telling measurements that were not taken yet, best first.
pub fn next(
    assembly: &Assembly<'_>,
    readings: &[Reading],
    diagnosis: &Diagnosis,
    meter: &Meter,
) -> Vec<Proposal> {
    let suspects = suspects(assembly.circuit(), diagnosis);
    if suspects.len() < 2 {
        return Vec::new();
    }
    let mut found = Vec::new();
    for setup in [POWERED, UNPOWERED] {
        let healthy = assembly.healthy(setup).run.point.clone();
        let scenes: Vec<Vec<Scene<'_>>> = suspects
            .iter()
            .map(|suspect| {
                // The likeliest value comes first; its uncertainty stands for the ends of the
                // interval as well.
                let scene = |(at, overlay)| {
                    Scene::new(assembly, setup, overlay, healthy.as_ref(), at == 0).ok()
                };
                suspect.overlays.iter().enumerate().filter_map(scene).collect()
            })
            .collect();
        for (quantity, place, place_text, effort) in measurements(assembly.circuit(), setup) {
            let taken = readings.iter().any(|reading| {
                (reading.setup, reading.quantity, reading.place) == (setup, quantity, place)
            });
            if taken {
                continue;
            }
            let (outcomes, members) = outcomes(&suspects, &scenes, quantity, place, meter);
            let bits = entropy(outcomes.iter().map(|outcome| outcome.probability));
            if bits > WORTH {
                let tells = Tells::new(&suspects, &members);
                let proposal =
                    Proposal { setup, quantity, place, place_text, bits, effort, outcomes };
                found.push((tells, proposal));
            }
        }
    }
    found.sort_by(|(a_tells, a), (b_tells, b)| {
        let score =
            |tells: &Tells, proposal: &Proposal| tells.bits(proposal.bits) / proposal.effort;
        a_tells
            .rank()
            .cmp(&b_tells.rank())
            .then_with(|| score(b_tells, b).total_cmp(&score(a_tells, a)))
            .then_with(|| a.place_text.cmp(&b.place_text))
            .then_with(|| a.quantity.cmp(&b.quantity))
    });
    found.into_iter().map(|(_, proposal)| proposal).collect()
}

/// What a measurement tells of the repair, in bits.
struct Tells {
    /// Which change it was.
    change: f64,
    /// Where it was.
    site: f64,
}

impl Tells {
    fn new(suspects: &[Suspect], outcomes: &[Vec<usize>]) -> Tells {
        let about = |key: &dyn Fn(&Suspect) -> usize| {
            // Information is what the keys lose in entropy: each suspect has one outcome.
            let mut joint: BTreeMap<(usize, usize), f64> = BTreeMap::new();
            let mut keys: BTreeMap<usize, f64> = BTreeMap::new();
            let mut seen = vec![0.0; outcomes.len()];
            for (outcome, members) in outcomes.iter().enumerate() {
                for suspect in members.iter().map(|&idx| &suspects[idx]) {
                    *joint.entry((outcome, key(suspect))).or_default() += suspect.weight;
                    *keys.entry(key(suspect)).or_default() += suspect.weight;
                    seen[outcome] += suspect.weight;
                }
            }
            entropy(keys.values().copied()) + entropy(seen.iter().copied())
                - entropy(joint.values().copied())
        };
        Tells { change: about(&|suspect| suspect.change), site: about(&|suspect| suspect.site) }
    }

    /// What tells changes apart comes first; then what tells causes of one change apart, for which
    /// the part itself has to be looked into; then what only narrows a value.
    fn rank(&self) -> u8 {
        if self.change > WORTH {
            0
        } else if self.site > WORTH {
            1
        } else {
            2
        }
    }

    /// The bits that count within a rank.
    fn bits(&self, all: f64) -> f64 {
        match self.rank() {
            0 => self.change,
            1 => self.site,
            _ => all,
        }
    }
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

fn suspects(circuit: &Circuit, diagnosis: &Diagnosis) -> Vec<Suspect> {
    let mut suspects = Vec::new();
    let mut sites = vec![Site::Nowhere];
    let mut changes = vec![vec![Site::Nowhere]];
    if diagnosis.healthy_verdict != Verdict::Excluded {
        suspects.push(Suspect {
            phrase: "healthy".to_owned(),
            weight: diagnosis.healthy_probability,
            site: 0,
            change: 0,
            overlays: vec![Overlay::none()],
        });
    }
    let on_board = |candidate: &&Candidate| !candidate.fault.is_misread();
    for candidate in diagnosis.remaining().filter(on_board) {
        // Shorted and leaky are two hypotheses of the same parts: one repair.
        let mut everywhere: Vec<Site> = candidate.causes.iter().map(Site::of).collect();
        everywhere.sort();
        everywhere.dedup();
        let change = number_of(&mut changes, everywhere);
        // Causes of one change are only told apart by looking into the parts themselves.
        for (cause, share) in candidate.causes.iter().zip(&candidate.cause_shares) {
            let share = candidate.probability * share;
            let same = cause.with_value(None) == candidate.fault.with_value(None);
            let overlays: Vec<Overlay> = if same {
                let ends = [candidate.value_low, candidate.value_high].into_iter().flatten();
                std::iter::once(candidate.value)
                    .chain(ends.map(Some))
                    .filter_map(|value| cause.with_value(value).overlay(circuit))
                    .collect()
            } else {
                cause.overlay(circuit).into_iter().collect()
            };
            suspects.push(Suspect {
                phrase: cause.phrase(circuit),
                weight: share,
                site: number_of(&mut sites, Site::of(cause)),
                change,
                overlays,
            });
        }
    }
    suspects.sort_by(|a, b| b.weight.total_cmp(&a.weight));
    suspects.truncate(SUSPECTS);
    let least = LEAST_SHARE * suspects.first().map_or(0.0, |suspect| suspect.weight);
    suspects.retain(|suspect| suspect.weight >= least);
    let total: f64 = suspects.iter().map(|suspect| suspect.weight).sum();
    for suspect in &mut suspects {
        suspect.weight /= total.max(f64::MIN_POSITIVE);
    }
    suspects
}

/// Every measurement that could be taken in a setup, with its effort.
pub(super) fn measurements(
    circuit: &Circuit,
    setup: SetupId,
) -> Vec<(Quantity, Place, String, f64)> {
    let effort = Effort::default();
    let reach = |net: NetId| {
        let known = circuit.board.net_effort.iter().find(|(known, _)| *known == net);
        known.map_or(effort.probe, |(_, effort)| *effort)
    };
    let mut found = Vec::new();
    for (net, name) in circuit.nets_by_id().skip(1).filter(|(net, _)| circuit.board.can_probe(*net))
    {
        let (red, ground) = (Spot::Net(net), Spot::Net(NetId::GROUND));
        if setup == POWERED {
            found.push((Quantity::Volts, Place::At(red), name.to_owned(), reach(net)));
        } else {
            let cost = reach(net) + effort.power_off;
            found.push((Quantity::Ohms, Place::At(red), name.to_owned(), cost));
            let ground_name = circuit.net_name(NetId::GROUND);
            let text = format!("{name} to {ground_name}");
            found.push((Quantity::Diode, Place::Between(red, ground), text, cost));
            let text = format!("{ground_name} to {name}");
            found.push((Quantity::Diode, Place::Between(ground, red), text, cost));
        }
    }
    for (id, part) in circuit.parts_by_id().filter(|(_, part)| part.fitted && part.is_two_pin()) {
        let nets = [part.pins[0].net, part.pins[1].net];
        if nets.iter().any(|net| !circuit.board.can_probe(*net)) {
            continue;
        }
        let both = reach(nets[0]).max(reach(nets[1]));
        if setup == POWERED {
            let cost = both + effort.break_path;
            found.push((Quantity::Amps, Place::Part(id), part.name.clone(), cost));
        } else if !nets.contains(&NetId::GROUND) {
            let cost = both + effort.power_off;
            if !of(part).is_source() {
                found.push((Quantity::Ohms, Place::Part(id), part.name.clone(), cost));
            }
        }
    }
    found
}

/// What the suspects predict for one measurement, gathered into outcomes; and the suspects of each
/// outcome, in an order of their own.
fn outcomes(
    suspects: &[Suspect],
    scenes: &[Vec<Scene<'_>>],
    quantity: Quantity,
    place: Place,
    meter: &Meter,
) -> (Vec<Outcome>, Vec<Vec<usize>>) {
    let scale = if quantity == Quantity::Ohms { Scale::Log } else { Scale::Plain };
    let accuracy = meter.accuracy(quantity);
    // Per suspect: lowest, highest and central value on the scale, and its uncertainty.
    let mut predicted: Vec<(f64, f64, f64, usize)> = Vec::new();
    for (idx, scenes) in scenes.iter().enumerate() {
        let (mut low, mut high, mut widest) = (f64::INFINITY, f64::NEG_INFINITY, 0.0_f64);
        for scene in scenes {
            let Some(shown) = show(scene, quantity, place, meter) else { continue };
            let value = if shown.value.is_infinite() && quantity == Quantity::Diode {
                meter.diode.compliance
            } else {
                shown.value
            };
            let y = scale.of(value);
            let count = Meter::count(quantity, value);
            let own = accuracy.fraction * value.abs() + accuracy.counts * count;
            let sigma = scale.slope(value) * (own / 3.0_f64.sqrt()).hypot(shown.standard());
            low = low.min(y);
            high = high.max(y);
            widest = widest.max(if sigma.is_finite() { sigma } else { 0.0 });
        }
        if low <= high {
            predicted.push((low, high, widest, idx));
        }
    }
    predicted.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.3.cmp(&b.3)));
    let mut outcomes: Vec<(Outcome, f64, Vec<usize>)> = Vec::new();
    for (low, high, sigma, idx) in predicted {
        let weight = suspects[idx].weight;
        match outcomes.last_mut() {
            Some((outcome, last, members)) if low - outcome.high <= APART * sigma.hypot(*last) => {
                outcome.high = outcome.high.max(high);
                outcome.probability += weight;
                *last = last.max(sigma);
                members.push(idx);
            }
            _ => {
                let outcome = Outcome { low, high, probability: weight, remaining: Vec::new() };
                outcomes.push((outcome, sigma, vec![idx]));
            }
        }
    }
    let members = outcomes.iter().map(|(_, _, members)| members.clone()).collect();
    let mut outcomes: Vec<Outcome> = outcomes
        .into_iter()
        .map(|(mut outcome, _, mut members)| {
            // Suspects are in order of weight.
            members.sort_unstable();
            for idx in members {
                if !outcome.remaining.contains(&suspects[idx].phrase) {
                    outcome.remaining.push(suspects[idx].phrase.clone());
                }
            }
            let open = |y: f64| match quantity {
                Quantity::Ohms if y.exp() > meter.ohms.range => f64::INFINITY,
                Quantity::Diode if y > meter.diode.display_max => f64::INFINITY,
                Quantity::Ohms => y.exp(),
                _ => y,
            };
            (outcome.low, outcome.high) = (open(outcome.low), open(outcome.high));
            outcome
        })
        .collect();
    outcomes.sort_by(|a, b| b.probability.total_cmp(&a.probability).then(a.low.total_cmp(&b.low)));
    (outcomes, members)
}

/// The entropy of weights that need not add up to one, in bits.
fn entropy(weights: impl Iterator<Item = f64> + Clone) -> f64 {
    let total: f64 = weights.clone().sum();
    weights
        .map(|weight| weight / total)
        .filter(|share| *share > 0.0)
        .map(|share| -share * share.log2())
        .sum()
}

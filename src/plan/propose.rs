//! Proposals for the next measurement, by bits of information per unit of effort.
//!
//! Each suspect predicts a value with an uncertainty; a measurement is worth the information that
//! its reading is expected to give about where the repair is ([`information`]). What would only narrow
//! a value down, or tell two failures of one part apart, is not proposed.

use std::collections::BTreeMap;

use super::effort::Effort;
use super::gain::information;
use super::measurements::{Measurement, is_live, measurements};
use super::suspects::{Suspect, suspects};
use super::table::{Seen, Table, scale_of};
use crate::circuit::{Circuit, Meter, POWERED, PartId, Quantity, Reading, SetupId};
use crate::diagnosis::{Diagnosis, Earlier};
use crate::engine::Assembly;

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
    /// The suspected parts that this clears, likeliest first.
    pub clears: Vec<PartId>,
}

/// What one suspect predicts for a measurement.
#[derive(Debug, Clone, PartialEq)]
pub struct Expected {
    /// The fault without its value; "healthy" for none.
    pub phrase: String,
    /// The least that it predicts with the values it may have, in the SI unit of the quantity.
    pub low: f64,
    /// The most.
    pub high: f64,
}

/// A measurement that could be taken next.
#[derive(Debug, Clone, PartialEq)]
pub struct Proposal {
    /// What, where, in which setup.
    pub measurement: Measurement,
    /// Expected information in bits.
    pub bits: f64,
    /// Effort in probes of a net, switching the power included.
    pub effort: f64,
    /// What may be seen, the likeliest first.
    pub outcomes: Vec<Outcome>,
    /// What every suspect predicts, likeliest first.
    pub expected: Vec<Expected>,
    /// The values between the outcomes, ascending, in the SI unit of the quantity.
    pub split_at: Vec<f64>,
}

/// Values closer than this many standard uncertainties look the same.
pub(super) const APART: f64 = 3.0;
/// With more suspects than this a question is answered in two steps; see [`Planner::quick`].
const FEW: usize = 16;
/// Amps that the current range of a handheld meter takes; where a suspect may draw more, no meter is
/// put in series. Common practice, no published source.
const MOST_AMPS: f64 = 10.0;
/// Bits that are not worth lifting a probe for.
pub(super) const WORTH: f64 = 0.01;

/// What remains and what could be measured, made ready for questions.
#[derive(Debug)]
pub struct Planner {
    pub(super) table: Table,
    /// The probability of all suspects together.
    share: f64,
    /// Per measurement, whether it is not proposed: it was taken already, or no meter bears it.
    pub(super) closed: Vec<bool>,
    /// Per setup, whether a source is connected in it.
    pub(super) live: Vec<bool>,
    /// Parts that were lifted and measured alone.
    pub(super) alone: Vec<PartId>,
}

impl Planner {
    /// Predicts every measurement for all that remains of a diagnosis.
    pub fn new(
        assembly: &Assembly<'_>,
        readings: &[Reading],
        diagnosis: &Diagnosis,
        meter: &Meter,
    ) -> Planner {
        let known = suspects(assembly.circuit(), diagnosis);
        Planner::of(assembly, readings, known, (meter, &diagnosis.earlier), &|_| true)
    }

    /// The same for one question: while many suspects remain, volts with the power on are predicted
    /// first. No measurement tells more than the entropy of all sites: where the best of them tells
    /// as much per effort as that over the effort of another, that other one need not be predicted.
    pub fn quick(
        assembly: &Assembly<'_>,
        readings: &[Reading],
        diagnosis: &Diagnosis,
        meter: &Meter,
    ) -> Planner {
        let circuit = assembly.circuit();
        let (suspects, share) = suspects(circuit, diagnosis);
        if suspects.len() > FEW {
            let is_easy = |one: &Measurement| one.probe.quantity == Quantity::Volts;
            let known = (suspects.clone(), share);
            let with = (meter, &*diagnosis.earlier);
            let planner = Planner::of(assembly, readings, known, with, &is_easy);
            let now = standing_in(readings);
            let mut sites: BTreeMap<usize, f64> = BTreeMap::new();
            for suspect in &suspects {
                *sites.entry(suspect.site).or_default() += suspect.weight;
            }
            let entropy: f64 = sites
                .values()
                .filter(|share| **share > 0.0)
                .map(|share| -share * share.log2())
                .sum();
            if let Some(best) = planner.proposals(now).into_iter().next() {
                let worth = best.bits / best.effort;
                let may_be_better = |one: &Measurement| {
                    let effort = one.effort + planner.switching(now, one.probe.setup);
                    entropy > worth * effort
                };
                let others = measurements(circuit, readings, &suspects);
                if !others.iter().any(|one| !is_easy(one) && may_be_better(one)) {
                    return planner;
                }
                let keep = |one: &Measurement| is_easy(one) || may_be_better(one);
                return Planner::of(assembly, readings, (suspects, share), with, &keep);
            }
        }
        let with = (meter, &*diagnosis.earlier);
        Planner::of(assembly, readings, (suspects, share), with, &|_| true)
    }

    /// A planner of those measurements that are kept.
    fn of(
        assembly: &Assembly<'_>,
        readings: &[Reading],
        (suspects, share): (Vec<Suspect>, f64),
        (meter, earlier): (&Meter, &Earlier),
        keep: &dyn Fn(&Measurement) -> bool,
    ) -> Planner {
        let circuit = assembly.circuit();
        // With one suspect or none there is nothing to tell apart.
        let mut all = match suspects.len() {
            0 | 1 => Vec::new(),
            _ => measurements(circuit, readings, &suspects),
        };
        all.retain(keep);
        let was_taken = |one: &Measurement| {
            readings.iter().any(|reading| {
                let probe = &one.probe;
                (reading.setup, reading.quantity, reading.place)
                    == (probe.setup, probe.quantity, probe.place)
            })
        };
        let taken: Vec<bool> = all.iter().map(was_taken).collect();
        let live = (0..circuit.setups.len()).map(|id| is_live(circuit, SetupId(id))).collect();
        let alone = |reading: &Reading| {
            let setup = &circuit[reading.setup];
            setup.lifted.first().copied().filter(|_| setup.is_for_one_part())
        };
        let alone = readings.iter().filter_map(alone).collect();
        let table = Table::new(assembly, suspects, all, (meter, earlier));
        let is_closed = |(number, taken): (usize, bool)| taken || is_too_much(&table, number);
        let closed = taken.into_iter().enumerate().map(is_closed).collect();
        Planner { table, share, closed, live, alone }
    }

    /// What remains, likeliest first.
    pub fn suspects(&self) -> &[Suspect] {
        &self.table.suspects
    }

    /// The probability of all suspects together; the rest is something else, or a misreading.
    pub fn share(&self) -> f64 {
        self.share
    }

    /// What it costs to switch the power off or on.
    pub(super) fn switch_cost(&self, live: bool) -> f64 {
        Effort::default().switch(live)
    }

    /// What it costs to go from one setup to another.
    pub fn switching(&self, from: SetupId, to: SetupId) -> f64 {
        let of = |setup: SetupId| (setup, self.live[setup.0]);
        Effort::default().between(of(from), of(to))
    }

    /// The most telling measurements that were not taken yet, best first, for a board that stands
    /// in the setup `now`.
    ///
    /// ```
    /// use ohmhound::plan::Planner;
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
    /// let assembly = Assembly::new(&circuit);
    /// let diagnosis = diagnose(&assembly, &readings.readings, &[]);
    /// let planner = Planner::new(&assembly, &readings.readings, &diagnosis, &readings.meter);
    /// let proposals = planner.proposals(POWERED);
    /// let first = &proposals[0];
    /// // Whether R1 is open or OUT shorted to ground.
    /// assert!(first.bits > 0.1 && first.effort >= 1.0);
    /// assert!(first.outcomes.len() > 1);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn proposals(&self, now: SetupId) -> Vec<Proposal> {
        let mut found = Vec::new();
        for (number, one) in self.table.measurements.iter().enumerate() {
            if self.closed[number] {
                continue;
            }
            let Some(bits) = self.tells(number) else { continue };
            let effort = one.effort + self.switching(now, one.probe.setup);
            found.push((bits / effort, number, bits, effort));
        }
        found.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
        let proposal = |(_, number, bits, effort)| self.proposal(number, bits, effort);
        found.into_iter().map(proposal).collect()
    }

    /// How much a measurement tells of where the repair is, in bits; `None` where it is not worth
    /// while.
    pub(super) fn tells(&self, number: usize) -> Option<f64> {
        let site = |idx: usize| self.table.suspects[idx].site;
        let bits = information(&self.table.mixture(number, site));
        (bits > WORTH).then_some(bits)
    }

    pub(super) fn proposal(&self, number: usize, bits: f64, effort: f64) -> Proposal {
        let quantity = self.table.measurements[number].probe.quantity;
        let (outcomes, split_at) = self.outcomes(number);
        let expected = self.table.suspects.iter().enumerate().filter_map(|(idx, suspect)| {
            let (low, high) = ends(&self.table.of(idx, number))?;
            Some(Expected { phrase: suspect.phrase.clone(), low, high })
        });
        let expected = expected.collect();
        let back = |y: f64| scale_of(quantity).value(y);
        let split_at = split_at.into_iter().map(back).collect();
        let measurement = self.table.measurements[number].clone();
        Proposal { measurement, bits, effort, outcomes, expected, split_at }
    }

    /// What may be seen, and the places between on the planner's scale.
    fn outcomes(&self, number: usize) -> (Vec<Outcome>, Vec<f64>) {
        let table = &self.table;
        // Per suspect: lowest and highest on the scale, uncertainty, and what the meter shows there.
        type Predicted = (f64, f64, f64, usize, (f64, f64));
        let mut predicted: Vec<Predicted> = Vec::new();
        for idx in 0..table.suspects.len() {
            let values = table.of(idx, number);
            let Some(shown) = ends(&values) else { continue };
            let y = |seen: &Seen| if seen.shown.is_finite() { seen.y } else { f64::INFINITY };
            let low = values.iter().map(|(_, seen)| y(seen)).fold(f64::INFINITY, f64::min);
            let high = values.iter().map(|(_, seen)| y(seen)).fold(f64::NEG_INFINITY, f64::max);
            let sigma = values.iter().map(|(_, seen)| seen.sigma).filter(|s| s.is_finite());
            predicted.push((low, high, sigma.fold(0.0, f64::max), idx, shown));
        }
        predicted.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.3.cmp(&b.3)));
        // Per outcome: the end of what it holds, the uncertainty there, what is shown, the members.
        type Cell = (f64, f64, (f64, f64), Vec<usize>);
        let mut cells: Vec<Cell> = Vec::new();
        let mut split_at = Vec::new();
        for (low, high, sigma, idx, shown) in predicted {
            match cells.last_mut() {
                Some((end, last, (least, most), members))
                    if low == *end || low - *end <= APART * sigma.hypot(*last) =>
                {
                    *end = end.max(high);
                    *last = last.max(sigma);
                    (*least, *most) = (least.min(shown.0), most.max(shown.1));
                    members.push(idx);
                }
                before => {
                    if let Some((end, last, ..)) = before {
                        // Nearer to the one that is known better.
                        let share = if sigma + *last > 0.0 { *last / (sigma + *last) } else { 0.5 };
                        let gap = low - *end;
                        let past_all = *end + APART * last.max(1e-3 * end.abs());
                        split_at.push(if gap.is_finite() { *end + share * gap } else { past_all });
                    }
                    cells.push((high, sigma, shown, vec![idx]));
                }
            }
        }
        let mut outcomes: Vec<Outcome> = cells
            .into_iter()
            .map(|(_, _, (low, high), members)| self.outcome(low, high, members))
            .collect();
        outcomes
            .sort_by(|a, b| b.probability.total_cmp(&a.probability).then(a.low.total_cmp(&b.low)));
        (outcomes, split_at)
    }

    fn outcome(&self, low: f64, high: f64, mut members: Vec<usize>) -> Outcome {
        let suspects = &self.table.suspects;
        // Suspects are in order of weight.
        members.sort_unstable();
        let mut remaining: Vec<String> = Vec::new();
        for &idx in &members {
            if !remaining.contains(&suspects[idx].phrase) {
                remaining.push(suspects[idx].phrase.clone());
            }
        }
        let kept = |part: PartId| members.iter().any(|&idx| suspects[idx].part == Some(part));
        let mut clears: Vec<PartId> = Vec::new();
        for part in suspects.iter().filter_map(|suspect| suspect.part) {
            if !kept(part) && !clears.contains(&part) {
                clears.push(part);
            }
        }
        let probability = members.iter().map(|&idx| suspects[idx].weight).sum();
        Outcome { low, high, probability, remaining, clears }
    }
}

/// Whether some suspect lets more flow than the current range takes: its fuse, or the meter, would be
/// the next to fail.
fn is_too_much(table: &Table, number: usize) -> bool {
    let of = |suspect: usize| table.of(suspect, number).into_iter();
    let mut seen = (0..table.suspects.len()).flat_map(of);
    table.measurements[number].probe.quantity == Quantity::Amps
        && seen.any(|(_, seen)| seen.shown.abs() > MOST_AMPS)
}

/// The least and the most that a meter shows.
fn ends(values: &[(f64, Seen)]) -> Option<(f64, f64)> {
    let shown = || values.iter().map(|(_, seen)| seen.shown);
    let (low, high) =
        (shown().fold(f64::INFINITY, f64::min), shown().fold(f64::NEG_INFINITY, f64::max));
    (low <= high).then_some((low, high))
}

/// The setup that the board stands in: that of the last reading.
pub fn standing_in(readings: &[Reading]) -> SetupId {
    readings.last().map_or(POWERED, |reading| reading.setup)
}

/// A measurement as readings write it: `powered volts EN`.
pub fn where_to_measure(circuit: &Circuit, one: &Measurement) -> String {
    let word = one.probe.quantity.word();
    format!("{} {word} {}", circuit[one.probe.setup].name, one.place_text)
}

//! What may be wrong with the readings while the board is as it should be.
//!
//! Each is a hypothesis like any fault: it predicts the readings from those of a healthy board, and
//! it has a weight, so that a slip of the pen competes with a repair.

use super::hypothesis::{Curve, Hypothesis};
use super::list::cause;
use super::weights::Budget;
use super::{Fault, Spread};
use crate::circuit::{Circuit, Connection, Place, Quantity, Reading, SetupId};
use crate::quantity::Unit;

/// What was wrong with the readings.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Misread {
    /// The meter shows so many times the truth, on all readings of one quantity.
    Meter(Quantity),
    /// The black lead was on something that stands so many volts above the board's ground.
    BlackLead,
    /// The black lead was on nothing: every voltage to ground reads nothing.
    LooseLead,
    /// All readings of the first setup were taken in the second.
    OtherSetup(SetupId, SetupId),
    /// One value was written wrong; the number of the reading, and where it was taken.
    Slip(usize, SetupId, Quantity, Place, Slip),
}

/// How a value was written wrong.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Slip {
    /// So many decades too large; negative when too small. Three are a prefix.
    Decades(i8),
    /// With the wrong sign, or with the leads the other way round.
    Sign,
}

/// How the weight of misreadings is shared out. Common practice, no published source.
const METER: f64 = 0.2;
const BLACK_LEAD: f64 = 0.15;
const LOOSE_LEAD: f64 = 0.05;
const OTHER_SETUP: f64 = 0.3;
const SLIPS: f64 = 0.3;
/// Among slips of one value.
const KINDS: [(Slip, f64); 5] = [
    (Slip::Decades(3), 0.35),
    (Slip::Decades(-3), 0.35),
    (Slip::Decades(1), 0.1),
    (Slip::Decades(-1), 0.1),
    (Slip::Sign, 0.1),
];
/// A meter that is wrong is wrong by a factor of up to this, either way.
const METER_MOST: f64 = 5.0;
/// A meter within so many times its stated accuracy is not called wrong.
const METER_LEAST: f64 = 2.0;
/// A black lead that is off is off by so many volts.
const LEAD_VOLTS: (f64, f64) = (0.01, 30.0);

impl Misread {
    /// The unit of its number.
    pub fn unit(&self) -> Unit {
        match self {
            Misread::BlackLead => Unit::Volt,
            _ => Unit::One,
        }
    }

    /// What it is called, without its number.
    pub fn phrase(&self, circuit: &Circuit) -> String {
        match *self {
            Misread::Meter(quantity) => format!("{} meter off by a factor", quantity.word()),
            Misread::BlackLead => "black lead above ground".to_owned(),
            Misread::LooseLead => "black lead on nothing".to_owned(),
            Misread::OtherSetup(stated, taken) => {
                format!("{} readings taken in {}", circuit[stated].name, circuit[taken].name)
            }
            Misread::Slip(_, setup, quantity, place, slip) => {
                let place = place.words(circuit);
                let place = format!("{} {} {place}", circuit[setup].name, quantity.word());
                format!("{place} written {}", slip.words())
            }
        }
    }
}

impl Slip {
    /// How the value was written, such as "1000 times too large".
    pub fn words(self) -> String {
        match self {
            Slip::Sign => "with the wrong sign".to_owned(),
            Slip::Decades(decades) => {
                let factor = 10_u32.saturating_pow(u32::from(decades.unsigned_abs()));
                let side = if decades > 0 { "large" } else { "small" };
                format!("{factor} times too {side}")
            }
        }
    }
}

/// The misreadings that could stand behind these readings.
pub fn misreads(circuit: &Circuit, readings: &[Reading]) -> Vec<Hypothesis> {
    let budget = Budget::of(&circuit.board).readings;
    let mut found = Vec::new();
    let fixed = |misread: Misread, weight: f64| {
        Hypothesis::fixed(Fault::Misread(misread, None), budget * weight)
    };
    let numbers: Vec<usize> =
        (0..readings.len()).filter(|&idx| readings[idx].number().is_some()).collect();
    let mut quantities: Vec<Quantity> = numbers.iter().map(|&idx| readings[idx].quantity).collect();
    quantities.sort();
    quantities.dedup();
    let n_quantities = quantities.len().max(1) as f64;
    for &quantity in &quantities {
        // A factor that is common to one reading is no common factor.
        let n_own = numbers.iter().filter(|&&idx| readings[idx].quantity == quantity).count();
        if n_own < 2 {
            continue;
        }
        let own = readings.iter().filter(|reading| reading.quantity == quantity);
        let accuracy = own.map(|reading| reading.meter.accuracy(quantity).fraction);
        let least = (METER_LEAST * accuracy.fold(0.0, f64::max)).ln_1p();
        let most = METER_MOST.ln();
        let spread = Spread::Range { low: -most, high: most, except: Some((-least, least)) };
        found.push(line(Misread::Meter(quantity), budget * METER / n_quantities, spread));
    }
    let to_ground = |reading: &Reading| {
        reading.quantity == Quantity::Volts && matches!(reading.place, Place::At(_))
    };
    if readings.iter().filter(|reading| to_ground(reading)).count() > 1 {
        let (low, high) = (LEAD_VOLTS.0.ln(), LEAD_VOLTS.1.ln());
        let spread = Spread::Range { low, high, except: None };
        found.push(line(Misread::BlackLead, budget * BLACK_LEAD, spread));
        found.push(fixed(Misread::LooseLead, LOOSE_LEAD));
    }
    let pairs = other_setups(circuit, readings);
    for &(stated, taken) in &pairs {
        let weight = OTHER_SETUP / pairs.len() as f64;
        found.push(fixed(Misread::OtherSetup(stated, taken), weight));
    }
    let n_numbers = numbers.len().max(1) as f64;
    for &idx in &numbers {
        let reading = &readings[idx];
        for (slip, share) in KINDS {
            if slip == Slip::Sign && reading.quantity == Quantity::Ohms {
                continue;
            }
            let misread = Misread::Slip(idx, reading.setup, reading.quantity, reading.place, slip);
            found.push(fixed(misread, SLIPS * share / n_numbers));
        }
    }
    found
}

fn line(misread: Misread, weight: f64, spread: Spread) -> Hypothesis {
    let fault = Fault::Misread(misread, None);
    let Spread::Range { low, high, .. } = spread else { return Hypothesis::fixed(fault, weight) };
    Hypothesis {
        causes: vec![cause(fault, weight, spread)],
        curve: Some(Curve { fault, low, high }),
        alike: Vec::new(),
    }
}

/// Whether anything feeds the board in a setup.
fn is_live(circuit: &Circuit, setup: SetupId) -> bool {
    let mut clipped = circuit[setup].connections.iter();
    circuit[setup].sources_on || clipped.any(|one| matches!(one, Connection::Supply { .. }))
}

/// Pairs of a setup that readings state and another that they could have been taken in: one where
/// the meter's own current is not drowned.
fn other_setups(circuit: &Circuit, readings: &[Reading]) -> Vec<(SetupId, SetupId)> {
    let mut stated: Vec<SetupId> = readings.iter().map(|reading| reading.setup).collect();
    stated.sort();
    stated.dedup();
    let mut pairs = Vec::new();
    for &from in &stated {
        let own = || readings.iter().filter(|reading| reading.setup == from);
        let usual = |setup: &SetupId| !circuit[*setup].is_for_one_part();
        for to in (0..circuit.setups.len()).map(SetupId).filter(usual) {
            let fits =
                own().all(|reading| !reading.quantity.needs_power_off() || !is_live(circuit, to));
            if to != from && fits {
                pairs.push((from, to));
            }
        }
    }
    pairs
}

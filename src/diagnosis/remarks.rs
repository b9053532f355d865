//! Readings held against each other, before any fault is tried.
//!
//! Voltages round a loop add up to nothing (Kirchhoff's voltage law), a place read twice reads the
//! same, and no net stands further from ground than all sources together could put it. A reading
//! that breaks one of these is a slip, whatever is wrong with the board.

use super::case::{Case, Prediction};
use crate::circuit::{Connection, NetId, Place, Quantity, SetupId, Spot};
use crate::device::of;
use crate::fault::Slip;
use crate::meter::Scale;

/// What is odd about some readings.
#[derive(Debug, Clone, PartialEq)]
pub enum Remark {
    /// Two readings of one place differ by more than the meter explains.
    Repeat {
        /// The numbers of the readings.
        readings: [usize; 2],
        /// How far apart they are, in standard uncertainties.
        sigma: f64,
    },
    /// Voltages round a loop do not add up.
    Loop {
        /// The numbers of the readings, the one that closes the loop first.
        readings: Vec<usize>,
        /// The sum round the loop in volts, which should be nothing.
        volts: f64,
        /// The same in standard uncertainties.
        sigma: f64,
    },
    /// A value that nothing on the board can reach.
    Impossible {
        /// The number of the reading.
        reading: usize,
        /// The most that the value could be, either way, in the SI unit of the reading.
        most: f64,
        /// A way of writing it wrong that would explain it.
        slip: Option<Slip>,
    },
}

/// Differences above so many standard uncertainties are told: one in sixteen thousand by chance.
const TOLD: f64 = 4.0;
/// A loop that is off by less than this share of its largest voltage may be the meter's loading.
const LOADING: f64 = 0.02;
/// Volts that may be left on a board that nothing feeds. Common practice, no published source.
const LEFT_OVER: f64 = 0.05;
/// Room above the most that is possible, for tolerances and the meter.
const ROOM: f64 = 1.05;

/// Everything that is odd about the readings of a case by themselves.
pub(super) fn remarks(case: &Case<'_>, healthy: Option<&Prediction>) -> Vec<Remark> {
    let mut found = impossible(case);
    found.extend(repeats(case));
    for (setup, _) in &case.setups {
        found.extend(loops(case, *setup, healthy));
    }
    found
}

fn impossible(case: &Case<'_>) -> Vec<Remark> {
    let mut found = Vec::new();
    for (idx, reading) in case.readings.iter().enumerate() {
        let Some(value) = reading.number() else { continue };
        let most = match reading.quantity {
            Quantity::Volts => most_volts(case, reading.setup),
            Quantity::Amps => most_amps(case, reading.setup),
            Quantity::Ohms => Some(reading.meter.ohms.range),
            Quantity::Diode => Some(reading.meter.diode.compliance),
            Quantity::Beep | Quantity::Seen => None,
        };
        let Some(most) = most else { continue };
        let limit = ROOM * most + TOLD * case.targets[idx].own.min(most.max(LEFT_OVER));
        if value.abs() > limit {
            let fits = |decades: i8| value.abs() / 10.0_f64.powi(i32::from(decades)) <= limit;
            let slip = [3, 1, 2, 6].into_iter().find(|decades| most > 0.0 && fits(*decades));
            let slip = slip.map(Slip::Decades);
            found.push(Remark::Impossible { reading: idx, most, slip });
        }
    }
    found
}

/// The furthest from each other that two nets can stand: all sources in series. `None` where a
/// converter makes more volts than it is given.
fn most_volts(case: &Case<'_>, setup: SetupId) -> Option<f64> {
    let circuit = case.assembly.circuit();
    let mut sum = 0.0;
    for (id, part) in circuit.parts_by_id().filter(|(_, part)| part.fitted) {
        if part.kind == "boost" {
            return None;
        }
        if of(part).is_source() && case.assembly.is_connected(id, setup.0) {
            let number = part.toleranced("volts").or_else(|| part.toleranced("compliance"));
            sum += number.map_or(0.0, |number| number.most().abs());
        }
    }
    for connection in &circuit[setup].connections {
        if let Connection::Supply { volts, .. } = connection {
            sum += volts.abs();
        }
    }
    Some(if sum > 0.0 { sum } else { LEFT_OVER })
}

/// All current limits together; `None` where a source has none.
fn most_amps(case: &Case<'_>, setup: SetupId) -> Option<f64> {
    let circuit = case.assembly.circuit();
    let mut sum = 0.0;
    for (id, part) in circuit.parts_by_id().filter(|(_, part)| part.fitted) {
        if of(part).is_source() && case.assembly.is_connected(id, setup.0) {
            let number = part.toleranced("limit").or_else(|| part.toleranced("amps"))?;
            sum += number.most().abs();
        }
    }
    for connection in &circuit[setup].connections {
        if let Connection::Supply { limit, .. } = connection {
            sum += (*limit)?;
        }
    }
    (sum > 0.0).then_some(sum)
}

fn repeats(case: &Case<'_>) -> Vec<Remark> {
    let mut found = Vec::new();
    for (second, reading) in case.readings.iter().enumerate() {
        let place = (reading.setup, reading.quantity, reading.place);
        let first = case.readings[..second]
            .iter()
            .position(|other| (other.setup, other.quantity, other.place) == place);
        let Some(first) = first else { continue };
        let (a, b) = (&case.targets[first], &case.targets[second]);
        if !a.is_number() || !b.is_number() {
            continue;
        }
        let sigma = (a.low - b.low).abs() / a.own.hypot(b.own).max(f64::MIN_POSITIVE);
        if sigma > TOLD {
            found.push(Remark::Repeat { readings: [first, second], sigma });
        }
    }
    found
}

/// A reading as a step from one spot to another, by which the potential rises.
struct Step {
    reading: usize,
    from: Spot,
    to: Spot,
    rise: f64,
}

fn loops(case: &Case<'_>, setup: SetupId, healthy: Option<&Prediction>) -> Vec<Remark> {
    let circuit = case.assembly.circuit();
    let ground = Spot::Net(NetId::GROUND);
    let net = |part: crate::circuit::PartId, pin: usize| Spot::Net(circuit[part].pins[pin].net);
    let mut steps: Vec<Step> = Vec::new();
    let mut found = Vec::new();
    for (idx, reading) in case.readings.iter().enumerate() {
        let floats = healthy.is_some_and(|healthy| healthy.floats[idx]);
        if reading.setup != setup || reading.quantity != Quantity::Volts || floats {
            continue;
        }
        debug_assert!(case.targets[idx].scale == Scale::Plain);
        let Some(rise) = reading.number() else { continue };
        let (to, from) = match reading.place {
            Place::At(spot) => (spot, ground),
            Place::Between(red, black) => (red, black),
            Place::Part(part) => (net(part, 0), net(part, 1)),
        };
        if let Some(way) = way(&steps, from, to) {
            let is_repeat =
                way.len() == 1 && case.readings[steps[way[0].0].reading].place == reading.place;
            if !is_repeat {
                found.extend(closed(case, &steps, &way, idx, rise, healthy));
            }
            continue;
        }
        steps.push(Step { reading: idx, from, to, rise });
    }
    found
}

/// The steps from one spot to another, each with its direction.
fn way(steps: &[Step], from: Spot, to: Spot) -> Option<Vec<(usize, f64)>> {
    let mut reached: Vec<(Spot, Vec<(usize, f64)>)> = vec![(from, Vec::new())];
    let mut next = 0;
    while next < reached.len() {
        let (spot, way) = reached[next].clone();
        if spot == to {
            return Some(way);
        }
        for (idx, step) in steps.iter().enumerate() {
            let other = [(step.from, step.to, 1.0), (step.to, step.from, -1.0)];
            for (start, end, sign) in other {
                if start == spot && !reached.iter().any(|(known, _)| *known == end) {
                    let mut longer = way.clone();
                    longer.push((idx, sign));
                    reached.push((end, longer));
                }
            }
        }
        next += 1;
    }
    None
}

/// What is left over round a loop that a reading closes, where it is too much.
fn closed(
    case: &Case<'_>,
    steps: &[Step],
    way: &[(usize, f64)],
    closing: usize,
    rise: f64,
    healthy: Option<&Prediction>,
) -> Option<Remark> {
    let along = |value: &dyn Fn(usize) -> f64| -> f64 {
        value(closing)
            - way.iter().map(|&(idx, sign)| sign * value(steps[idx].reading)).sum::<f64>()
    };
    let readings: Vec<usize> =
        std::iter::once(closing).chain(way.iter().map(|&(idx, _)| steps[idx].reading)).collect();
    let volts = rise - way.iter().map(|&(idx, sign)| sign * steps[idx].rise).sum::<f64>();
    // The meter loads each place in its own way: what it makes of a healthy board is no slip.
    let loading = healthy.map_or(0.0, |healthy| along(&|idx| healthy.shown[idx]));
    let own = readings.iter().map(|&idx| case.targets[idx].own.powi(2)).sum::<f64>().sqrt();
    let largest = readings.iter().filter_map(|&idx| case.readings[idx].number());
    let largest = largest.fold(0.0, |largest: f64, value| largest.max(value.abs()));
    let off = (volts - loading).abs().min(volts.abs());
    let sigma = off / own.max(f64::MIN_POSITIVE);
    let told = sigma > TOLD && off > LOADING * largest + loading.abs();
    told.then_some(Remark::Loop { readings, volts, sigma })
}

//! What is seen of a board from outside, before any meter: lights, relays, loads, rails that have
//! limits.

use super::super::solved::{Solved, part_state, watched_nets};
use super::Board;
use crate::circuit::{
    Meter, NetId, Observed, Overlay, POWERED, PartId, Place, Quantity, Reading, Sight, Spot,
};
use crate::diagnosis::Probe;
use crate::engine::{Assembly, Network, OperatingPoint};
use crate::meter::lit_above;

/// A load that gets less than this share of its healthy voltage stands still.
const FED: f64 = 0.5;
/// A rail without stated limits is called low or high beyond this share of its healthy voltage.
const OFF_BY: f64 = 0.1;

/// One thing that is seen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Sign {
    /// A light.
    Light {
        /// The LED.
        part: PartId,
        /// Whether it is lit.
        lit: bool,
        /// Whether it should be.
        should: bool,
    },
    /// A relay that does not do what it should.
    Relay {
        /// The relay.
        part: PartId,
        /// What it does.
        does: &'static str,
        /// What it should do.
        should: &'static str,
    },
    /// A load that stands still.
    Load {
        /// The load.
        part: PartId,
    },
    /// A rail outside its limits, or far from where it should be.
    Rail {
        /// The net.
        net: NetId,
        /// Whether it is too high, not too low.
        is_high: bool,
        /// The limit in volts.
        limit: f64,
    },
}

impl Sign {
    /// Whether it is as it should be.
    pub fn is_well(&self) -> bool {
        matches!(self, Sign::Light { lit, should, .. } if lit == should)
    }
}

/// What is seen of a board, what is wrong first.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Symptom {
    /// What is seen; nothing at the highest level.
    pub signs: Vec<Sign>,
    /// The same as readings, for a diagnosis.
    pub readings: Vec<Reading>,
}

impl Symptom {
    pub(super) fn of(
        assembly: &Assembly<'_>,
        board: &Board<'_>,
        meter: &Meter,
        level: u8,
    ) -> Symptom {
        let healthy = Solved::new(assembly, POWERED, &Overlay::none());
        let (Ok(healthy), Some(scene)) = (healthy, board.scene(POWERED)) else {
            return Symptom::default();
        };
        if level >= super::HIGHEST_LEVEL {
            return Symptom::default();
        }
        let healthy = (&healthy.network, &healthy.point);
        let here = (&scene.network, &scene.point);
        let mut signs = signs(assembly, board, healthy, here);
        signs.sort_by_key(Sign::is_well);
        let circuit = assembly.circuit();
        let readings = signs.iter().filter_map(|sign| {
            let (quantity, place, observed) = observed(*sign, circuit, healthy.1)?;
            let place_text = place.words(circuit);
            Some(Reading { setup: POWERED, quantity, place, place_text, observed, meter: *meter })
        });
        let readings = readings.collect();
        Symptom { signs, readings }
    }
}

fn signs(
    assembly: &Assembly<'_>,
    board: &Board<'_>,
    healthy: (&Network, &OperatingPoint),
    here: (&Network, &OperatingPoint),
) -> Vec<Sign> {
    let circuit = assembly.circuit();
    let mut signs = Vec::new();
    let across = |point: &OperatingPoint, part: PartId| {
        let pins = &circuit[part].pins;
        point.between(pins[0].net.index(), pins[1].net.index())
    };
    for (part, item) in circuit.parts_by_id().filter(|(_, item)| item.fitted) {
        match item.kind {
            "led" => {
                let probe =
                    Probe { setup: POWERED, quantity: Quantity::Seen, place: Place::Part(part) };
                let least = lit_above(item);
                let amps = board.truth(&probe).unwrap_or(0.0);
                let should = amps_into(healthy, part) > least;
                signs.push(Sign::Light { part, lit: amps > least, should });
            }
            "relay" => {
                let does = |(network, point): (&Network, &OperatingPoint)| {
                    let pins = point.pin_amps(network, part, item.pins.len());
                    part_state(assembly, POWERED, (network, point), part, &pins)
                };
                if let (Some(should), Some(does)) = (does(healthy), does(here))
                    && should != does
                {
                    signs.push(Sign::Relay { part, does, should });
                }
            }
            "load" => {
                let (should, is) = (across(healthy.1, part), across(here.1, part));
                if should.abs() > LEAST_VOLTS && is / should < FED {
                    signs.push(Sign::Load { part });
                }
            }
            _ => {}
        }
    }
    for net in watched_nets(circuit) {
        let (should, is) = (healthy.1.volts[net.index()], here.1.volts[net.index()]);
        let stated = circuit.limits.iter().find(|(known, _)| *known == net).map(|(_, limit)| limit);
        let room = OFF_BY * should.abs();
        let (least, most) = match stated {
            Some(limit) => (limit.min, limit.max),
            None => (Some(should - room), Some(should + room)),
        };
        if let Some(limit) = least.filter(|least| is < *least) {
            signs.push(Sign::Rail { net, is_high: false, limit });
        } else if let Some(limit) = most.filter(|most| is > *most) {
            signs.push(Sign::Rail { net, is_high: true, limit });
        }
    }
    signs
}

/// A load that should have less than this has nothing to stand still for.
const LEAST_VOLTS: f64 = 0.1;

/// Amps into the first pin of a part.
fn amps_into((network, point): (&Network, &OperatingPoint), part: PartId) -> f64 {
    point.pin_amps(network, part, 2)[0]
}

/// A sign as a reading, where it is one. The places are such that no measurement of the same is
/// thought taken.
fn observed(
    sign: Sign,
    circuit: &crate::circuit::Circuit,
    healthy: &OperatingPoint,
) -> Option<(Quantity, Place, Observed)> {
    match sign {
        Sign::Light { part, lit, .. } => {
            let sight = if lit { Sight::Lit } else { Sight::Dark };
            Some((Quantity::Seen, Place::Part(part), Observed::Sight(sight)))
        }
        Sign::Relay { .. } => None,
        Sign::Load { part } => {
            let pins = &circuit[part].pins;
            let should = healthy.between(pins[0].net.index(), pins[1].net.index());
            let limit = FED * should;
            let observed =
                if should > 0.0 { Observed::Below(limit) } else { Observed::Above(limit) };
            Some((Quantity::Volts, Place::Part(part), observed))
        }
        Sign::Rail { net, is_high, limit } => {
            let place = Place::Between(Spot::Net(net), Spot::Net(NetId::GROUND));
            let observed = if is_high { Observed::Above(limit) } else { Observed::Below(limit) };
            Some((Quantity::Volts, place, observed))
        }
    }
}

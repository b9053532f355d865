//! Hints by level: where to look, what to measure, what remains.

use super::Quiz;
use super::way::thought;
use crate::circuit::{Circuit, NetId, Quantity, Reading, SetupId};
use crate::device::of;
use crate::plan::{Advice, Planner, Proposal, is_live, nets_of, standing_in};

/// What a hint says.
#[derive(Debug, Clone, PartialEq)]
pub enum Hint {
    /// Level 1: which quantity tells most, and in which half of the board.
    Where {
        /// The quantity.
        quantity: Quantity,
        /// Whether it is read with the power on.
        live: bool,
        /// Whether that half is the one nearer to the supply.
        near_supply: bool,
        /// The nets of that half.
        nets: Vec<NetId>,
    },
    /// Level 2: the best measurement.
    Next(Box<Proposal>),
    /// Level 3: what remains, likeliest first, with its share.
    Left(Vec<(String, f64)>),
    /// Nothing is worth measuring any more.
    Enough,
}

/// Shares that are not told.
const LEAST: f64 = 1e-3;

impl Quiz<'_> {
    /// A hint of a level, 1 to 3, for what was read so far on a board that stands in the setup `now`.
    pub(super) fn hint(&self, level: u8, readings: &[Reading], now: SetupId) -> Hint {
        let circuit = self.circuit();
        let known = self.known(readings.iter());
        let diagnosis = thought(self.assembly, &known, None);
        let planner = Planner::quick(self.assembly, &known, &diagnosis, &self.meter());
        if level >= 3 {
            let share = planner.share();
            let mut left: Vec<(String, f64)> = Vec::new();
            for suspect in planner.suspects() {
                let own = suspect.weight * share;
                match left.iter_mut().find(|(phrase, _)| *phrase == suspect.phrase) {
                    Some((_, known)) => *known += own,
                    None => left.push((suspect.phrase.clone(), own)),
                }
            }
            left.sort_by(|a, b| b.1.total_cmp(&a.1).then_with(|| a.0.cmp(&b.0)));
            // Somebody said that the board is faulty: healthy is no answer.
            left.retain(|(phrase, share)| *share >= LEAST && phrase != "healthy");
            return Hint::Left(left);
        }
        let now = if readings.is_empty() { standing_in(&known) } else { now };
        let Advice::Measure(best) = planner.advise(circuit, &diagnosis, now, &|_| false) else {
            return Hint::Enough;
        };
        if level == 2 {
            return Hint::Next(best);
        }
        let probe = best.measurement.probe;
        let order = from_supply(circuit);
        let middle = order.len().div_ceil(2);
        let at = nets_of(circuit, probe.place)
            .into_iter()
            .filter_map(|net| order.iter().position(|known| *known == net))
            .max()
            .unwrap_or(0);
        let near_supply = at < middle;
        let nets = if near_supply { &order[..middle] } else { &order[middle..] };
        Hint::Where {
            quantity: probe.quantity,
            live: is_live(circuit, probe.setup),
            near_supply,
            nets: nets.to_vec(),
        }
    }
}

/// The nets other than ground from the supplies on, by the number of parts between.
pub(super) fn from_supply(circuit: &Circuit) -> Vec<NetId> {
    let mut order: Vec<NetId> = Vec::new();
    let join = |order: &mut Vec<NetId>, net: NetId| {
        if net != NetId::GROUND && !order.contains(&net) {
            order.push(net);
        }
    };
    for part in circuit.parts.iter().filter(|part| part.fitted && of(part).is_source()) {
        part.pins.iter().for_each(|pin| join(&mut order, pin.net));
    }
    let mut at = 0;
    while at < order.len() {
        let net = order[at];
        for part in circuit.parts.iter().filter(|part| part.fitted) {
            if part.pins.iter().any(|pin| pin.net == net) {
                part.pins.iter().for_each(|pin| join(&mut order, pin.net));
            }
        }
        at += 1;
    }
    circuit.nets_by_id().for_each(|(net, _)| join(&mut order, net));
    order
}

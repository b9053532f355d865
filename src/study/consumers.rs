//! What hangs on the nets that a substitute moves, and how it takes that.

use std::collections::BTreeSet;

use super::operating::Operating;
use super::substitute::{Boards, ConditionChange, PinChange, RatingChange, Stand};
use crate::circuit::{NetId, PartId};
use crate::device::of;

/// What stands beside a substitute is told of when its current moves by more than this share, and by
/// this many amps.
const CARRIED: (f64, f64) = (0.02, 1e-6);

/// A part that a moved net feeds or looks after, or beside a substitute that sets its current.
#[derive(Debug, Clone, PartialEq)]
pub struct Consumer {
    /// The part.
    pub part: PartId,
    /// The pins on moved nets, or on those of the substitute, by their numbers.
    pub pins: Vec<usize>,
    /// The worst of what is known of it.
    pub stand: Stand,
    /// Whether the file says anything that it could be held to: a condition, a maximum, a rating, a
    /// least voltage.
    pub is_known: bool,
    /// What it does, before and after.
    pub states: (Option<&'static str>, Option<&'static str>),
    /// For a part with two pins: amps before and after.
    pub amps: Option<(f64, f64)>,
}

/// What the rails that move feed, and what carries the current of what was substituted.
pub(super) fn consumers(
    boards: &Boards<'_>,
    (rails, touched): (&BTreeSet<NetId>, &[PartId]),
    (ratings, pins, conditions): (&[RatingChange], &[PinChange], &[ConditionChange]),
) -> Vec<Consumer> {
    let state = |point: &Operating, part: PartId| {
        point.parts.iter().find(|state| state.part == part).and_then(|state| state.state)
    };
    let beside: BTreeSet<NetId> = touched
        .iter()
        .flat_map(|part| boards.circuit[*part].pins.iter().map(|pin| pin.net))
        .filter(|net| *net != NetId::GROUND)
        .collect();
    let mut found = Vec::new();
    for (part, own) in boards.circuit.parts_by_id().filter(|(_, part)| part.fitted) {
        let kind = of(own);
        // What makes the rail, or looks after it, is no consumer of it.
        let drives = |pin: usize| {
            let name = own.pins[pin].name.as_str();
            kind.outputs().contains(&name) || name == "feedback"
        };
        let pins_on = |nets: &BTreeSet<NetId>| -> Vec<usize> {
            let all = 0..own.pins.len();
            all.filter(|&pin| nets.contains(&own.pins[pin].net) && !drives(pin)).collect()
        };
        let of_board = |point: &Operating| {
            point.parts.iter().find(|state| state.part == part).and_then(|state| state.amps)
        };
        let amps = of_board(boards.before).zip(of_board(&boards.after));
        let mut on = pins_on(rails);
        // An LED keeps its volts and takes what the resistor before it lets through.
        let is_set = amps.is_some_and(|(was, is)| {
            (is - was).abs() > (CARRIED.0 * was.abs().max(is.abs())).max(CARRIED.1)
        });
        if on.is_empty() && is_set && own.kind != "resistor" {
            on = pins_on(&beside);
        }
        if on.is_empty() || kind.is_source() || touched.contains(&part) {
            continue;
        }
        let own_ratings = ratings.iter().filter(|one| one.part == part && one.rated.is_some());
        let stands: Vec<Stand> = own_ratings
            .map(|one| one.stand)
            .chain(pins.iter().filter(|one| one.part == part).map(|one| one.stand))
            .chain(
                conditions
                    .iter()
                    .filter(|one| one.now().is_some_and(|need| need.part == part))
                    .map(ConditionChange::stand),
            )
            .collect();
        let states = (state(boards.before, part), state(&boards.after, part));
        // Of a regulator and a load it is known whether they do what they should.
        let does = matches!(own.kind, "load" | "ldo" | "buck" | "boost");
        let is_known = !stands.is_empty() || !own.maximum.is_empty() || does;
        // What carries nothing takes nothing: a capacitor that is rated has its own line.
        let carries = amps.is_none_or(|(was, is)| was.abs().max(is.abs()) > 1e-7);
        if !carries && !is_known {
            continue;
        }
        let stand = stands.into_iter().max().unwrap_or(Stand::Kept);
        let stand = if is_lost(states) { Stand::Broken } else { stand };
        found.push(Consumer { part, pins: on, stand, is_known, states, amps });
    }
    found
}

/// Whether a part no longer does what it did.
pub(super) fn is_lost((was, is): (Option<&'static str>, Option<&'static str>)) -> bool {
    const LOST: [&str; 6] = [
        "off",
        "locked out",
        "disabled",
        "in dropout",
        "at its current limit",
        "below its minimum",
    ];
    was != is && is.is_some_and(|is| LOST.contains(&is))
}

//! Changes laid over a reduced board, as the full network lays them.

use super::pattern::{Pattern, SHORT};
use crate::circuit::{Change, Overlay, PartId, Place, Spot};
use crate::device::{Branch, Law, of};
use crate::engine::{Active, Assembly, Changes, Network, Origin, Patch, Reduced};

/// An added resistance: the part and the pins that it lies between or else the two nets, and ohms.
type Join = (Option<(PartId, [usize; 2])>, (usize, usize), f64);

/// A change as a reduced board sees it.
#[derive(Debug, Clone)]
pub(super) struct Laid {
    pub(super) changes: Changes,
    /// What the changes make of the parts: some lose their tolerances, whole or in a parameter.
    pub(super) patch: Patch,
    /// Pins that stand on a net of their own, by part and number, with that net.
    moved: Vec<(PartId, usize, usize)>,
}

impl Laid {
    /// The net of a pin.
    pub(super) fn net(&self, network: &Network, part: PartId, pin: usize) -> usize {
        let moved = self.moved.iter().rev().find(|(known, at, _)| (*known, *at) == (part, pin));
        moved.map_or_else(|| network.pin_net(part, pin), |(_, _, net)| *net)
    }

    /// The same change of the parts with other changes of the branches.
    pub(super) fn with(&self, changes: Changes) -> Laid {
        Laid { changes, patch: self.patch.clone(), moved: self.moved.clone() }
    }

    fn spot(&self, network: &Network, spot: Spot) -> usize {
        match spot {
            Spot::Net(net) => net.index(),
            Spot::Pin(part, pin) => self.net(network, part, pin),
        }
    }

    /// The nets that the leads of a meter touch at a place, red first.
    pub(super) fn leads(&self, network: &Network, place: Place) -> (usize, usize) {
        match place {
            Place::At(spot) => (self.spot(network, spot), 0),
            Place::Between(red, black) => (self.spot(network, red), self.spot(network, black)),
            Place::Part(part) => (self.net(network, part, 0), self.net(network, part, 1)),
        }
    }
}

impl Pattern {
    /// Lays an overlay; `None` where the full network is needed.
    pub(super) fn lay(
        &self,
        assembly: &Assembly<'_>,
        overlay: &Overlay,
        patch: &Patch,
        states: &[u8],
    ) -> Option<Laid> {
        let mut laid =
            Laid { changes: Changes::default(), patch: patch.clone(), moved: Vec::new() };
        let mut touched: Vec<PartId> = Vec::new();
        let mut joins: Vec<Join> = Vec::new();
        for change in &overlay.changes {
            match *change {
                Change::Across { part, ohms } => joins.push((Some((part, [0, 1])), (0, 0), ohms)),
                Change::Inside { part, pins, ohms } => {
                    joins.push((Some((part, pins)), (0, 0), ohms));
                }
                Change::Bridge { nets, ohms } => {
                    joins.push((None, (nets[0].index(), nets[1].index()), ohms));
                }
                Change::Joint { part, pin, ohms } => {
                    let old = laid.net(&self.network, part, pin);
                    let new = self.reduced.n_nets() + laid.changes.new_nets.len();
                    laid.changes.new_nets.push(old);
                    laid.moved.push((part, pin, new));
                    if let Some(ohms) = ohms {
                        let law = Law::conductance(1.0 / ohms);
                        laid.changes.list.push(Reduced::between(old, new, law));
                    }
                    touched.push(part);
                }
                Change::Removed { part } => {
                    // What leaks across a part goes with it, when it leaked before.
                    joins.retain(|(across, ..)| across.is_none_or(|(known, _)| known != part));
                    touched.push(part);
                }
                // What remembers is walked with its own conditions, not with those of another part.
                Change::Exchanged { parts }
                    if parts.iter().any(|part| states[part.index()] != 0) =>
                {
                    return None;
                }
                Change::Exchanged { parts } => touched.extend(parts),
                Change::Parameter { part, .. }
                | Change::Struck { part, .. }
                | Change::Reversed { part }
                | Change::Fitted { part } => touched.push(part),
            }
        }
        touched.sort();
        touched.dedup();
        for part in touched {
            self.rebuild(&mut laid, assembly, part, states[part.index()])?;
        }
        for (across, (from, to), ohms) in joins {
            if self.has_given && ohms <= SHORT {
                return None;
            }
            let law = Some(Law::conductance(1.0 / ohms));
            let at = |pin: (PartId, usize)| laid.net(&self.network, pin.0, pin.1);
            let (from, to) = match across {
                Some((part, [a, b])) => (at((part, a)), at((part, b))),
                None => (from, to),
            };
            let origin = across.map(|(part, pins)| Origin { part, number: None, pins });
            let senses = Vec::new();
            laid.changes.list.push(Active { element: None, from, to, law, senses, origin });
        }
        self.reduced.tie(&mut laid.changes);
        Some(laid)
    }

    /// The branches that a changed part has now, in place of those it has on the board.
    fn rebuild(
        &self,
        laid: &mut Laid,
        assembly: &Assembly<'_>,
        part: PartId,
        on: u8,
    ) -> Option<()> {
        let own = &self.elements[part.index()];
        if laid.patch.is_removed(part) {
            laid.changes.list.extend(own.iter().map(|&gone| self.reduced.instead(gone, None)));
            return Some(());
        }
        if !assembly.is_connected(part, self.setup.0) {
            return Some(());
        }
        let values = laid.patch.values(part, assembly, self.setup.0, on);
        let branches = of(values.part).branches(&values);
        let mut left = own.clone();
        for (number, branch) in branches.into_iter().enumerate() {
            if matches!(branch.law, Law::Volts(_) | Law::Clamp { .. }) {
                return None;
            }
            let Branch { from, to, law, senses } = branch;
            let pins = if laid.patch.is_reversed(part) { [to, from] } else { [from, to] };
            let net = |pin: usize| laid.net(&self.network, part, pin);
            let [from, to] = pins.map(net);
            let senses: Vec<(usize, usize)> =
                senses.iter().map(|pair| (net(pair[0]), net(pair[1]))).collect();
            // A branch between the nets of an old one takes its place: what does not change then
            // leaves no difference of large currents behind.
            let place = left.iter().position(|&element| {
                let (ends, driving) = self.reduced.ends(element);
                ends == (from, to) && driving == senses
            });
            let element = place.map(|place| left.remove(place));
            let origin = Some(Origin { part, number: Some(number), pins });
            laid.changes.list.push(Active { element, from, to, law: Some(law), senses, origin });
        }
        laid.changes.list.extend(left.into_iter().map(|gone| self.reduced.instead(gone, None)));
        Some(())
    }
}

/// Whether a change takes the ground of a chip away: it may then stand in more than one way, though
/// no part holds another.
pub(super) fn leaves_ground(assembly: &Assembly<'_>, overlay: &Overlay) -> bool {
    overlay.changes.iter().any(|change| {
        let Change::Joint { part, pin, ohms: None } = *change else { return false };
        let part = &assembly.circuit()[part];
        of(part).rails().is_some_and(|[_, ground]| ground == part.pins[pin].name)
    })
}

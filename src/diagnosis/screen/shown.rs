//! What a meter shows on a reduced board, and how that moves with the tolerances.

use std::sync::Arc;

use super::lay::Laid;
use super::pattern::{MeterCurrent, Near, Push, Visited};
use crate::circuit::{Meter, Place, Quantity, Reading};
use crate::device::{Law, Limited, of};
use crate::diagnosis::case::Case;
use crate::engine::{Active, Adjoint, Reduced, Small};
use crate::meter::{Shown, furthest_ohms};

/// A voltmeter that loads its net by less than this share is taken into account to first order.
const LIGHT_LOADING: f64 = 1e-3;

impl Visited {
    /// What the meter shows for a reading; `None` where the full network is needed.
    ///
    /// `small` is the board without a meter, `pushes` what acts on it; `idx` is the number of the
    /// reading.
    pub(super) fn show(
        &self,
        case: &Case<'_>,
        laid: &Laid,
        small: &Small,
        pushes: &[Push],
        idx: usize,
    ) -> Option<Shown> {
        let reading = &case.readings[idx];
        let n_sources = case.assembly.sources().len();
        let fixed = |value: f64| {
            let spread = vec![0.0; n_sources];
            Some(Shown { value, unloaded: value, latent: value, spread, floats: false })
        };
        let meter = &reading.meter;
        match reading.quantity {
            Quantity::Amps => return self.amps(case, laid, small, idx),
            Quantity::Seen => return self.seen(case, laid, small, pushes, reading),
            _ => {}
        }
        let (red, black) = laid.leads(&self.pattern.network, reading.place);
        let is_ohms = matches!(reading.quantity, Quantity::Ohms | Quantity::Beep);
        if red == black {
            return fixed(if is_ohms { meter.ohms.leads } else { 0.0 });
        }
        let is_volts = reading.quantity == Quantity::Volts;
        let floats = is_volts && (laid.changes.floats(red) || laid.changes.floats(black));
        let unloaded = small.volts[red] - small.volts[black];
        if is_volts && !floats {
            let adjoint = self.pattern.reduced.adjoint(small, red, black);
            let load = adjoint.amp(black, red) / meter.volts.input.ohms();
            if load.abs() < LIGHT_LOADING {
                let factor = 1.0 / (1.0 + load);
                let spread = spread(case, &adjoint, pushes, factor);
                let value = unloaded * factor;
                return Some(Shown { value, unloaded, latent: value, spread, floats });
            }
        }
        let behind = meter.ohms.open_volts / meter.ohms.amps;
        let law = match reading.quantity {
            Quantity::Volts => Law::conductance(1.0 / meter.volts.input.ohms()),
            Quantity::Ohms | Quantity::Beep => {
                Law::Line { siemens: 1.0 / behind, amps: -meter.ohms.amps }
            }
            _ => Law::curve(Limited::current(meter.diode.amps, meter.diode.compliance)),
        };
        let near = match is_volts {
            true => None,
            false => self.metered(laid, reading, (red, black), &law),
        };
        let mut changes = laid.changes.clone();
        changes.list.push(Reduced::between(red, black, law));
        self.pattern.reduced.tie(&mut changes);
        let first = (Some(&small.volts[..]), &small.awake[..]);
        let small = self.solve(Some(idx), &changes, near.as_deref(), first, true)?;
        let volts = small.volts[red] - small.volts[black];
        let (value, slope) = match reading.quantity {
            Quantity::Volts | Quantity::Diode => (volts, 1.0),
            _ => {
                let left = meter.ohms.open_volts - volts;
                let ohms = volts * behind / left + meter.ohms.leads;
                let most = furthest_ohms(&meter.ohms);
                if left <= 0.0 || ohms > most {
                    let over = fixed(f64::INFINITY)?;
                    return Some(Shown { latent: most, ..over });
                }
                (ohms, behind * meter.ohms.open_volts / (left * left))
            }
        };
        let pushes = self.pushes(case, laid, &small, Some(idx));
        let adjoint = self.pattern.reduced.adjoint(&small, red, black);
        let spread = spread(case, &adjoint, &pushes, slope);
        let over = match reading.quantity {
            Quantity::Diode => meter.diode.display_max,
            Quantity::Ohms | Quantity::Beep => meter.ohms.range,
            _ => f64::INFINITY,
        };
        let shown = if value > over { f64::INFINITY } else { value };
        Some(Shown { value: shown, unloaded, latent: value, spread, floats })
    }

    /// The board without a change under the current of this reading's meter, where its leads touch
    /// two nets of that board.
    fn metered(
        &self,
        laid: &Laid,
        reading: &Reading,
        (red, black): (usize, usize),
        law: &Law,
    ) -> Option<Arc<Near>> {
        let own = |net: usize| self.pattern.reduced.own_net(&laid.changes, net);
        let (red, black) = (own(red), own(black));
        if red == black {
            return None;
        }
        let Meter { ohms, diode, .. } = &reading.meter;
        let current = match reading.quantity {
            Quantity::Diode => {
                MeterCurrent::new((red, black), (diode.compliance, diode.amps), false)
            }
            _ => MeterCurrent::new((red, black), (ohms.open_volts, ohms.amps), true),
        };
        self.pattern.metered(current, law)
    }

    /// Amps through a part, with the meter in the place of its first joint.
    fn amps(&self, case: &Case<'_>, laid: &Laid, small: &Small, idx: usize) -> Option<Shown> {
        let reading = &case.readings[idx];
        let Place::Part(part) = reading.place else { return None };
        let own = &self.pattern.elements[part.index()];
        let n_sources = case.assembly.sources().len();
        if self.pattern.reduced.branches_of(&laid.changes, own, part).next().is_none() {
            let spread = vec![0.0; n_sources];
            return Some(Shown { value: 0.0, unloaded: 0.0, latent: 0.0, spread, floats: false });
        }
        let old = laid.net(&self.pattern.network, part, 0);
        let mut changes = laid.changes.clone();
        let new = self.pattern.reduced.n_nets() + changes.new_nets.len();
        changes.new_nets.push(old);
        let moved: Vec<Active> = self
            .pattern
            .reduced
            .branches_of(&laid.changes, own, part)
            .filter(|branch| branch.origin.is_some_and(|origin| origin.pins.contains(&0)))
            .map(|branch| {
                let pins = branch.origin.map_or([1, 1], |origin| origin.pins);
                let end = |pin: usize, net: usize| if pin == 0 { new } else { net };
                Active {
                    element: branch.element,
                    from: end(pins[0], branch.ends.0),
                    to: end(pins[1], branch.ends.1),
                    law: Some(branch.law.clone()),
                    senses: branch.senses.to_vec(),
                    origin: branch.origin,
                }
            })
            .collect();
        // Volts at the pin are sensed at the pin: parts with more pins are left to the full network.
        if moved.iter().any(|active| !active.senses.is_empty()) {
            return None;
        }
        let ends_at_pin = |active: &Active| {
            active.origin.is_some_and(|origin| origin.part == part && origin.pins.contains(&0))
        };
        let gone: Vec<Active> = moved
            .iter()
            .filter_map(|active| Some(self.pattern.reduced.instead(active.element?, None)))
            .collect();
        changes.list.retain(|active| !(ends_at_pin(active) && active.law.is_some()));
        changes.list.extend(gone);
        changes.list.extend(moved.into_iter().map(|active| Active { element: None, ..active }));
        let burden = reading.meter.amps.resistance.max(1e-6);
        changes.list.push(Reduced::between(old, new, Law::conductance(1.0 / burden)));
        self.pattern.reduced.tie(&mut changes);
        let first = (Some(&small.volts[..]), &small.awake[..]);
        let small = self.solve(Some(idx), &changes, None, first, true)?;
        let is_source = of(&case.assembly.circuit()[part]).is_source();
        let factor = if is_source { -1.0 } else { 1.0 } / burden;
        let value = (small.volts[old] - small.volts[new]) * factor;
        let pushes = self.pushes(case, &laid.with(changes), &small, Some(idx));
        let adjoint = self.pattern.reduced.adjoint(&small, old, new);
        let spread = spread(case, &adjoint, &pushes, factor);
        Some(Shown { value, unloaded: value, latent: value, spread, floats: false })
    }

    /// What is seen of an LED: the amps through it.
    fn seen(
        &self,
        case: &Case<'_>,
        laid: &Laid,
        small: &Small,
        pushes: &[Push],
        reading: &Reading,
    ) -> Option<Shown> {
        let Place::Part(part) = reading.place else { return None };
        let own = &self.pattern.elements[part.index()];
        let mut branches = self.pattern.reduced.branches_of(&laid.changes, own, part);
        let branch = branches.next()?;
        if branches.next().is_some() || case.assembly.circuit()[part].kind != "led" {
            return None;
        }
        let Law::Curve(curve) = branch.law else { return None };
        let (from, to) = branch.ends;
        let sample = curve.at(small.volts[from] - small.volts[to]);
        let adjoint = self.pattern.reduced.adjoint(small, from, to);
        // A part that stands the wrong way round carries its current from pin 2 to pin 1.
        let sign =
            if branch.origin.is_some_and(|origin| origin.pins == [1, 0]) { -1.0 } else { 1.0 };
        let mut spread = spread(case, &adjoint, pushes, sign * sample.siemens);
        // At unchanged volts the part's own tolerances act too.
        for push in pushes.iter().filter(|push| (push.from, push.to) == (from, to)) {
            if case.assembly.sources()[push.source].part == part {
                spread[push.source] += sign * push.amount;
            }
        }
        let value = sign * sample.amps;
        Some(Shown { value, unloaded: value, latent: value, spread, floats: false })
    }
}

/// The spread of a value that goes with `slope` times the volts of an adjoint.
pub(super) fn spread(case: &Case<'_>, adjoint: &Adjoint, pushes: &[Push], slope: f64) -> Vec<f64> {
    let mut spread = vec![0.0; case.assembly.sources().len()];
    for push in pushes {
        let answer = match push.row {
            Some(row) => adjoint.volt(row),
            None => adjoint.amp(push.from, push.to),
        };
        spread[push.source] += answer * push.amount * slope;
    }
    spread
}

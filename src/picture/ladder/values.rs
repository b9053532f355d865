//! What stands at the right of a line: the volts of a healthy board, what was measured, and what the
//! net reads with the faults laid over.

use super::levels::Healthy;
use crate::circuit::{Circuit, NetId, Place, Quantity, Reading, SetupId, Spot};
use crate::diagnosis::{MARKED, ReadingLine};
use crate::meter::observed;
use crate::quantity::{Unit, shown, with_band};
use crate::study::Operating;

/// How a value stands against the healthy one: told by shape and word as well as by colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Stand {
    Agrees,
    High,
    Low,
    /// There is nothing to hold it against.
    Unknown,
}

impl Stand {
    /// The word beside the mark.
    pub(super) fn word(self) -> &'static str {
        match self {
            Stand::Agrees => "agrees",
            Stand::High => "high",
            Stand::Low => "low",
            Stand::Unknown => "",
        }
    }

    /// Whether the value is off.
    pub(super) fn is_off(self) -> bool {
        matches!(self, Stand::High | Stand::Low)
    }
}

/// A value with how it stands.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Held {
    pub(super) stand: Stand,
    pub(super) text: String,
}

/// What stands at the right of one line.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Values {
    pub(super) healthy: String,
    pub(super) measured: Option<Held>,
    pub(super) faulted: Option<Held>,
}

impl Values {
    /// Whether something is off at the net.
    pub(super) fn is_off(&self) -> bool {
        match (&self.measured, &self.faulted) {
            (Some(measured), _) => measured.stand.is_off(),
            (None, Some(faulted)) => faulted.stand.is_off(),
            (None, None) => false,
        }
    }
}

/// What stands where a value is to be filled in.
const BLANK: &str = "________ V";

impl Values {
    /// Leaves out what the values are.
    pub(super) fn blank(&mut self) {
        self.healthy = BLANK.to_owned();
        for held in [&mut self.measured, &mut self.faulted].into_iter().flatten() {
            *held = Held { stand: Stand::Unknown, text: BLANK.to_owned() };
        }
    }
}

/// What stands at the lines of all nets, ground first.
pub(super) fn values(
    circuit: &Circuit,
    healthy: &[Healthy],
    readings: &[(&Reading, &ReadingLine)],
    setup: SetupId,
    faulted: Option<&Operating>,
) -> Vec<Values> {
    let mut found: Vec<Values> = healthy
        .iter()
        .enumerate()
        .map(|(net, own)| Values {
            healthy: match *own {
                Healthy::Volts(_, _) if net == NetId::GROUND.index() => "0 V".to_owned(),
                Healthy::Volts(volts, u) => with_band(volts, u, Unit::Volt),
                Healthy::Floats => "floats".to_owned(),
                Healthy::NoPoint => "no point".to_owned(),
            },
            ..Values::default()
        })
        .collect();
    for (reading, line) in readings {
        let Some(net) = net_of(reading, setup) else { continue };
        let held = Held { stand: stand(line), text: observed(reading, circuit) };
        let own = &mut found[net.index()].measured;
        // Of several readings at one net the one that is off is shown.
        if own.as_ref().is_none_or(|known| held.stand.is_off() || !known.stand.is_off()) {
            *own = Some(held);
        }
    }
    for net in faulted.map_or(&[][..], |point| &point.nets) {
        let stand = match (healthy[net.net.index()], net.floating) {
            (Healthy::Volts(volts, u), false) => changed(net.volts - volts, volts, u),
            (Healthy::Floats, true) => Stand::Agrees,
            _ => Stand::Unknown,
        };
        let text = match net.floating {
            true => "floats".to_owned(),
            false => shown(net.volts, Unit::Volt),
        };
        found[net.net.index()].faulted = Some(Held { stand, text });
    }
    found
}

/// The net that a reading is of, when it is volts to ground in the setup that is drawn.
pub(super) fn net_of(reading: &Reading, setup: SetupId) -> Option<NetId> {
    match (reading.quantity, reading.place) {
        (Quantity::Volts, Place::At(Spot::Net(net))) if reading.setup == setup => Some(net),
        _ => None,
    }
}

fn stand(line: &ReadingLine) -> Stand {
    match line.off {
        off if off.is_nan() => Stand::Unknown,
        _ if !line.is_off() => Stand::Agrees,
        off if off > 0.0 => Stand::High,
        _ => Stand::Low,
    }
}

/// How far a net may move before it counts as moved: as many standard uncertainties as a
/// reading is marked from, and what a handheld meter hardly shows.
fn changed(by: f64, volts: f64, u: f64) -> Stand {
    let band = (MARKED * u).max(2e-3 + 1e-3 * volts.abs());
    match by {
        _ if by.abs() <= band => Stand::Agrees,
        _ if by > 0.0 => Stand::High,
        _ => Stand::Low,
    }
}

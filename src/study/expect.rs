//! What the meter should show at every net of a healthy board: the table that goes to the bench
//! before the first probe.

use crate::circuit::{Meter, NetId, Overlay, Place, Quantity, SetupId, Spot, UNPOWERED};
use crate::engine::{Assembly, Ending};
use crate::meter::{Scene, show};

/// A value with its standard uncertainty, in SI units; the value is infinite for OL.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Expected {
    /// The value as the meter shows it.
    pub value: f64,
    /// One standard uncertainty from the tolerances of the parts.
    pub u: f64,
}

/// What a meter shows at one net.
#[derive(Debug, Clone, PartialEq)]
pub struct ExpectedNet {
    /// The net.
    pub net: NetId,
    /// Volts to ground without any meter.
    pub volts: f64,
    /// Volts as the meter shows them; `None` when the board does not settle with the meter on it.
    pub shown: Option<Expected>,
    /// Whether the net floats with the power on.
    pub floating: bool,
    /// Ohms to ground with the power off, red on the net.
    pub ohms: Option<Expected>,
    /// Diode mode with the power off, red on the net.
    pub diode_red: Option<Expected>,
    /// Diode mode with the power off, red on ground.
    pub diode_black: Option<Expected>,
}

/// What the meter should show at every net, in a setup for volts and with the power off for the
/// rest.
///
/// # Errors
///
/// How the run ended, when the board has no operating point.
///
/// ```
/// use ohmhound::study::expect;
/// use ohmhound::{circuit::*, engine::Assembly, file::read_circuit, finding::Source};
///
/// let text = "[parts]\nJ1 = { kind = \"supply\", volts = \"12 V\", nets = [\"IN\", \"GND\"] }\n\
///             R1 = { value = \"10k\", nets = [\"IN\", \"OUT\"] }\n\
///             R2 = { value = \"10k\", nets = [\"OUT\", \"GND\"] }";
/// let circuit = read_circuit(&Source::new("divider.toml", text), &mut |_| Err(String::new()));
/// let circuit = circuit.value.ok_or("the circuit is in order")?;
///
/// let expected = expect(&Assembly::new(&circuit), POWERED, &Overlay::none(), &Meter::default());
/// let expected = expected.map_err(|end| format!("{end:?}"))?;
/// let out = expected.iter().find(|one| Some(one.net) == circuit.net("OUT")).ok_or("the net")?;
/// // The meter's 10 MΩ take a little of the 6 V.
/// assert!(out.shown.ok_or("volts")?.value < 6.0);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn expect(
    assembly: &Assembly<'_>,
    setup: SetupId,
    overlay: &Overlay,
    meter: &Meter,
) -> Result<Vec<ExpectedNet>, Ending> {
    let circuit = assembly.circuit();
    let powered = Scene::new(assembly, setup, overlay, None, true)?;
    let unpowered = Scene::new(assembly, UNPOWERED, overlay, None, true)?;
    let read = |scene: &Scene<'_>, quantity, place| {
        let shown = show(scene, quantity, place, meter)?;
        Some(Expected { value: shown.value, u: shown.standard() })
    };
    Ok(circuit
        .nets_by_id()
        .skip(1)
        .map(|(net, _)| {
            let (red, ground) = (Spot::Net(net), Spot::Net(NetId::GROUND));
            ExpectedNet {
                net,
                volts: powered.point.volts[net.index()],
                shown: read(&powered, Quantity::Volts, Place::At(red)),
                floating: powered.point.floating[net.index()],
                ohms: read(&unpowered, Quantity::Ohms, Place::At(red)),
                diode_red: read(&unpowered, Quantity::Diode, Place::Between(red, ground)),
                diode_black: read(&unpowered, Quantity::Diode, Place::Between(ground, red)),
            }
        })
        .collect())
}

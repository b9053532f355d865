//! The value that a meter shows on a network, and how it moves with the tolerances.

use crate::circuit::{Meter, OhmsMeter, Overlay, PartId, Place, Quantity, SetupId};
use crate::device::{Law, Limited, of};
use crate::engine::{Assembly, Ending, Network, OperatingPoint, PowerUp, Sensitivities};

/// The largest resistance that is told from an open path, in ohms; no meter goes as far.
pub(crate) const OPEN_OHMS: f64 = 1e13;

/// How far past the range of an ohmmeter a resistance is followed, in parts of the range: tolerances
/// may bring what is just past it back.
const PAST_RANGE: f64 = 1e3;

/// A voltmeter that loads its net by less than this share is taken into account to first order;
/// one that loads it more gets a solve of its own.
const LIGHT_LOADING: f64 = 1e-3;

/// A setup of the board with a fault laid over it, solved without any meter.
#[derive(Debug)]
pub struct Scene<'a> {
    assembly: &'a Assembly<'a>,
    setup: SetupId,
    /// The branches, fault included.
    pub network: Network,
    /// The operating point without a meter.
    pub point: OperatingPoint,
    sensitivities: Option<Sensitivities>,
}

/// What a meter shows.
#[derive(Debug, Clone, PartialEq)]
pub struct Shown {
    /// The value in the SI unit of the quantity; infinite where the meter shows OL.
    pub value: f64,
    /// Volts without the meter, for volts readings.
    pub unloaded: f64,
    /// What a meter of endless range would show: the value, unless that is OL. The spread is of
    /// this.
    pub latent: f64,
    /// Change of the value by one standard uncertainty of each source of uncertainty, in the order
    /// of [`Assembly::sources`]; empty when it was not asked for.
    pub spread: Vec<f64>,
    /// Whether a lead is on a net without a DC path to ground: the value is then the meter's doing.
    pub floats: bool,
}

impl Shown {
    fn fixed(value: f64, n_sources: usize) -> Shown {
        Shown { value, unloaded: value, latent: value, spread: vec![0.0; n_sources], floats: false }
    }

    /// One standard uncertainty from the tolerances of the circuit, in the unit of the value.
    pub fn standard(&self) -> f64 {
        self.spread.iter().map(|part| part * part).sum::<f64>().sqrt()
    }
}

impl<'a> Scene<'a> {
    /// Solves a setup with an overlay.
    ///
    /// # Errors
    ///
    /// How the run ended, when there is no operating point.
    pub fn new(
        assembly: &'a Assembly<'a>,
        setup: SetupId,
        overlay: &Overlay,
        start: Option<&OperatingPoint>,
        with_spread: bool,
    ) -> Result<Scene<'a>, Ending> {
        let PowerUp { network, run, .. } = assembly.powered(setup, overlay, start);
        let Some(point) = run.point else { return Err(run.ending) };
        Ok(Scene::at(assembly, setup, network, point, with_spread))
    }

    /// A setup at an operating point that was found before.
    pub fn at(
        assembly: &'a Assembly<'a>,
        setup: SetupId,
        network: Network,
        point: OperatingPoint,
        with_spread: bool,
    ) -> Scene<'a> {
        let sensitivities =
            with_spread.then(|| Sensitivities::new(assembly, setup, &network, &point));
        Scene { assembly, setup, network, point, sensitivities }
    }

    /// The spread of a reading, given its adjoint over this scene's own operating point.
    fn spread(&self, adjoint: &[f64], factor: f64) -> Vec<f64> {
        let Some(sensitivities) = &self.sensitivities else { return Vec::new() };
        self.scaled(sensitivities, adjoint, factor)
    }

    fn scaled(&self, sensitivities: &Sensitivities, adjoint: &[f64], factor: f64) -> Vec<f64> {
        let mut spread = sensitivities.along(adjoint);
        for (value, source) in spread.iter_mut().zip(self.assembly.sources()) {
            *value *= factor * source.standard;
        }
        spread
    }

    /// Solves the network with a meter fitted and reads off the volts from `red` to `black`.
    fn fitted(
        &self,
        mut network: Network,
        red: usize,
        black: usize,
        meter: Option<Law>,
    ) -> Option<Fitted> {
        if let Some(law) = meter {
            network.add(red, black, law);
        }
        let point = network.solve_from(Some(&self.point), self.assembly.settings()).point?;
        let volts = point.between(red, black);
        let spread = if self.sensitivities.is_some() {
            let sensitivities = Sensitivities::new(self.assembly, self.setup, &network, &point);
            self.scaled(&sensitivities, &point.adjoint(red, black), 1.0)
        } else {
            Vec::new()
        };
        Some(Fitted { volts, spread })
    }

    fn volts(&self, place: Place, meter: &Meter) -> Option<Shown> {
        let (red, black) = self.network.leads(place);
        let n_sources = self.assembly.sources().len();
        if red == black {
            return Some(Shown::fixed(0.0, n_sources));
        }
        let siemens = 1.0 / meter.volts.input.ohms();
        let floats = self.point.floating[red] || self.point.floating[black];
        let unloaded = self.point.between(red, black);
        if !floats {
            let shape = self.point.shape(red, black);
            let at = |net: usize| if net == 0 { 0.0 } else { shape[net - 1] };
            let load = siemens * (at(red) - at(black));
            if load.abs() < LIGHT_LOADING {
                let factor = 1.0 / (1.0 + load);
                let spread = if self.sensitivities.is_some() {
                    self.spread(&self.point.adjoint(red, black), factor)
                } else {
                    Vec::new()
                };
                let value = unloaded * factor;
                return Some(Shown { value, unloaded, latent: value, spread, floats });
            }
        }
        let network = self.network.clone();
        let fitted = self.fitted(network, red, black, Some(Law::conductance(siemens)))?;
        let value = fitted.volts;
        Some(Shown { value, unloaded, latent: value, spread: fitted.spread, floats })
    }

    fn amps(&self, part: PartId, meter: &Meter) -> Option<Shown> {
        let n_sources = self.assembly.sources().len();
        let mut network = self.network.clone();
        let burden = meter.amps.resistance.max(1e-6);
        let old = network.pin_net(part, 0);
        network.break_pin(part, 0, Some(burden))?;
        let new = network.pin_net(part, 0);
        let carries = network.elements.iter().any(|element| element.part() == Some(part));
        if !carries {
            return Some(Shown::fixed(0.0, n_sources));
        }
        let fitted = self.fitted(network, old, new, None)?;
        let is_source = of(&self.assembly.circuit()[part]).is_source();
        let sign = if is_source { -1.0 } else { 1.0 };
        let factor = sign / burden;
        let spread = fitted.spread.iter().map(|value| value * factor).collect();
        let value = fitted.volts * factor;
        Some(Shown { value, unloaded: value, latent: value, spread, floats: false })
    }

    fn ohms(&self, place: Place, meter: &Meter) -> Option<Shown> {
        let (red, black) = self.network.leads(place);
        let n_sources = self.assembly.sources().len();
        let meter = &meter.ohms;
        if red == black {
            return Some(Shown::fixed(meter.leads, n_sources));
        }
        let behind = meter.open_volts / meter.amps;
        let law = Law::Line { siemens: 1.0 / behind, amps: -meter.amps };
        let fitted = self.fitted(self.network.clone(), red, black, Some(law))?;
        let left = meter.open_volts - fitted.volts;
        let ohms = fitted.volts * behind / left;
        let latent = ohms + meter.leads;
        let most = furthest_ohms(meter);
        if left <= 0.0 || latent > most {
            return Some(Shown { latent: most, ..Shown::fixed(f64::INFINITY, n_sources) });
        }
        let slope = behind * meter.open_volts / (left * left);
        Some(Shown {
            value: if latent > meter.range { f64::INFINITY } else { latent },
            unloaded: ohms,
            latent,
            spread: fitted.spread.iter().map(|volts| volts * slope).collect(),
            floats: false,
        })
    }

    fn diode(&self, place: Place, meter: &Meter) -> Option<Shown> {
        let (red, black) = self.network.leads(place);
        let n_sources = self.assembly.sources().len();
        let meter = &meter.diode;
        if red == black {
            return Some(Shown::fixed(0.0, n_sources));
        }
        let law = Law::curve(Limited::current(meter.amps, meter.compliance));
        let fitted = self.fitted(self.network.clone(), red, black, Some(law))?;
        let over = fitted.volts > meter.display_max;
        Some(Shown {
            value: if over { f64::INFINITY } else { fitted.volts },
            unloaded: fitted.volts,
            latent: fitted.volts,
            spread: fitted.spread,
            floats: false,
        })
    }

    /// Amps through a part with two pins as the circuit stands, for what is seen by eye.
    fn own_amps(&self, part: PartId) -> Shown {
        let (from, to) = (self.network.pin_net(part, 0), self.network.pin_net(part, 1));
        let idx = self.network.elements.iter().position(|element| element.part() == Some(part));
        let Some(idx) = idx else {
            return Shown::fixed(0.0, self.assembly.sources().len());
        };
        let amps: f64 = self
            .network
            .elements
            .iter()
            .zip(&self.point.amps)
            .filter(|(element, _)| element.part() == Some(part))
            .map(|(element, amps)| if element.from == from { *amps } else { -amps })
            .sum();
        // A part that stands the wrong way round has its law the other way as well.
        let element = &self.network.elements[idx];
        let slope = match &element.law {
            Law::Line { siemens, .. } => *siemens,
            Law::Curve(curve) => curve.at(self.point.between(element.from, element.to)).siemens,
            Law::Volts(_) | Law::Clamp { .. } | Law::Driven(_) => 0.0,
        };
        let spread = self.spread(&self.point.adjoint(from, to), slope);
        Shown { value: amps, unloaded: amps, latent: amps, spread, floats: false }
    }
}

/// The largest resistance that is followed past the range of the meter, in ohms: what is further
/// is open.
pub(crate) fn furthest_ohms(meter: &OhmsMeter) -> f64 {
    (PAST_RANGE * meter.range).min(OPEN_OHMS)
}

struct Fitted {
    volts: f64,
    spread: Vec<f64>,
}

/// What the meter shows at a place of a solved scene; for `seen`, the amps of an LED or the watts
/// of a part. `None` when the board with the meter on it has no operating point.
///
/// ```
/// use ohmhound::meter::{Scene, show};
/// use ohmhound::{circuit::*, engine::Assembly, file::read_circuit, finding::Source};
///
/// let text = "[parts]\nJ1 = { kind = \"supply\", volts = \"12 V\", nets = [\"IN\", \"GND\"] }\n\
///             R1 = { value = \"10k\", nets = [\"IN\", \"OUT\"] }\n\
///             R2 = { value = \"10k\", nets = [\"OUT\", \"GND\"] }";
/// let circuit = read_circuit(&Source::new("divider.toml", text), &mut |_| Err(String::new()));
/// let circuit = circuit.value.ok_or("the circuit is in order")?;
///
/// let assembly = Assembly::new(&circuit);
/// let scene = Scene::new(&assembly, POWERED, &Overlay::none(), None, true);
/// let scene = scene.map_err(|end| format!("{end:?}"))?;
/// let out = Place::At(Spot::Net(circuit.net("OUT").ok_or("a net")?));
/// let shown = show(&scene, Quantity::Volts, out, &Meter::default()).ok_or("a voltage")?;
/// // The net stands at 6 V behind 5 kΩ; 10 MΩ of meter take half a thousandth of it.
/// assert!((shown.unloaded - 6.0).abs() < 1e-3);
/// assert!((shown.value / shown.unloaded - 1.0 / 1.0005).abs() < 1e-5);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn show(scene: &Scene<'_>, quantity: Quantity, place: Place, meter: &Meter) -> Option<Shown> {
    match (quantity, place) {
        (Quantity::Volts, place) => scene.volts(place, meter),
        (Quantity::Amps, Place::Part(part)) => scene.amps(part, meter),
        (Quantity::Ohms | Quantity::Beep, place) => scene.ohms(place, meter),
        (Quantity::Diode, place) => scene.diode(place, meter),
        (Quantity::Seen, Place::Part(part)) => {
            let shown = scene.own_amps(part);
            if scene.assembly.circuit()[part].kind == "led" {
                return Some(shown);
            }
            let watts: f64 = (0..scene.network.elements.len())
                .filter(|&idx| scene.network.elements[idx].part() == Some(part))
                .map(|idx| scene.point.watts(&scene.network, idx))
                .sum();
            // Power goes with the square of the current.
            let scale = if shown.value == 0.0 { 0.0 } else { 2.0 * watts / shown.value };
            let spread = shown.spread.iter().map(|amps| amps * scale).collect();
            Some(Shown { value: watts, unloaded: watts, latent: watts, spread, floats: false })
        }
        (Quantity::Amps | Quantity::Seen, _) => None,
    }
}

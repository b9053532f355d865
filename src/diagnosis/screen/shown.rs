//! What a meter shows on a reduced board, and how that moves with the tolerances.

use super::{LIGHT_LOADING, Laid, ScreenShown, SetupScreen};
use crate::circuit::{Place, Quantity, Reading};
use crate::device::{Law, Limited, of};
use crate::diagnosis::case::Case;
use crate::engine::{Active, Slope, Small};
use crate::meter::furthest_ohms;

impl SetupScreen {
    /// A voltmeter that hardly loads its net, by the solution without it.
    pub(super) fn light(
        &self,
        case: &Case<'_>,
        unloaded: &Small,
        volts: &[f64],
        pushes: &[f64],
        reading: &Reading,
    ) -> Option<ScreenShown> {
        let ends = self.network.leads(reading.place);
        if reading.quantity != Quantity::Volts || ends.0 == ends.1 {
            return None;
        }
        let port = *self.pairs.get(&ends)?;
        let answers = self.reduced.answers(unloaded, port);
        let load = -answers[port] / reading.meter.volts.input.ohms();
        if load.abs() > LIGHT_LOADING {
            return None;
        }
        let factor = 1.0 / (1.0 + load);
        Some(self.spread(case, &answers, pushes, factor * volts[port], factor))
    }

    pub(super) fn show(
        &self,
        case: &Case<'_>,
        laid: &Laid,
        unloaded: &Small,
        unloaded_volts: &[f64],
        idx: usize,
    ) -> Option<ScreenShown> {
        let reading = &case.readings[idx];
        let n_sources = case.assembly.sources().len();
        let fixed =
            |value: f64| Some(ScreenShown { value, latent: value, spread: vec![0.0; n_sources] });
        let meter = &reading.meter;
        match reading.quantity {
            Quantity::Amps => return self.amps(case, laid, unloaded, reading),
            Quantity::Seen => return self.seen(case, laid, unloaded, unloaded_volts, reading),
            _ => {}
        }
        let ends = self.network.leads(reading.place);
        if ends.0 == ends.1 {
            return fixed(if matches!(reading.quantity, Quantity::Ohms | Quantity::Beep) {
                meter.ohms.leads
            } else {
                0.0
            });
        }
        let port = *self.pairs.get(&ends)?;
        let behind = meter.ohms.open_volts / meter.ohms.amps;
        let law = match reading.quantity {
            Quantity::Volts => Law::conductance(1.0 / meter.volts.input.ohms()),
            Quantity::Ohms | Quantity::Beep => {
                Law::Line { siemens: 1.0 / behind, amps: -meter.ohms.amps }
            }
            _ => Law::curve(Limited::current(meter.diode.amps, meter.diode.compliance)),
        };
        let (changes, small) = self.with(laid, unloaded, port, law, idx)?;
        let all = self.reduced.volts(&small);
        let volts = all[port];
        let (value, slope) = match reading.quantity {
            Quantity::Volts | Quantity::Diode => (volts, 1.0),
            _ => {
                let left = meter.ohms.open_volts - volts;
                let ohms = volts * behind / left + meter.ohms.leads;
                let most = furthest_ohms(&meter.ohms);
                if left <= 0.0 || ohms > most {
                    let spread = vec![0.0; n_sources];
                    return Some(ScreenShown { value: f64::INFINITY, latent: most, spread });
                }
                (ohms, behind * meter.ohms.open_volts / (left * left))
            }
        };
        let pushes = self.pushes(case, laid, &changes, &all);
        let answers = self.reduced.answers(&small, port);
        let mut shown = self.spread(case, &answers, &pushes, value, slope);
        let over = match reading.quantity {
            Quantity::Diode => meter.diode.display_max,
            Quantity::Ohms | Quantity::Beep => meter.ohms.range,
            _ => f64::INFINITY,
        };
        if value > over {
            shown.value = f64::INFINITY;
        }
        Some(shown)
    }

    /// Solves with one more branch at a port: added to what a change has there already.
    fn with(
        &self,
        laid: &Laid,
        unloaded: &Small,
        port: usize,
        law: Law,
        reading: usize,
    ) -> Option<(Vec<Active>, Small)> {
        let mut changes = laid.changes.clone();
        match changes.iter_mut().find(|active| active.port == port) {
            Some(active) => {
                active.law = Some(match active.law.take() {
                    Some(there) => there.in_parallel(law)?,
                    None => law,
                });
            }
            None => changes.push(Active { port, law: Some(law) }),
        }
        let small = self.solve(Some(reading), &changes, unloaded)?;
        Some((changes, small))
    }

    fn amps(
        &self,
        case: &Case<'_>,
        laid: &Laid,
        unloaded: &Small,
        reading: &Reading,
    ) -> Option<ScreenShown> {
        let Place::Part(part) = reading.place else { return None };
        let n_sources = case.assembly.sources().len();
        let &[element] = &self.elements[part.index()][..] else { return None };
        // A leak across the part would be read with it.
        let ends = (self.network.pin_net(part, 0), self.network.pin_net(part, 1));
        let pair = self.pairs.get(&ends);
        if laid.changes.iter().any(|active| Some(&active.port) == pair) {
            return None;
        }
        let changed = laid.changes.iter().find(|active| active.port == element);
        let law = match changed {
            Some(active) => active.law.clone(),
            None => Some(self.reduced.law(element).clone()),
        };
        let Some(law) = law else {
            return Some(ScreenShown { value: 0.0, latent: 0.0, spread: vec![0.0; n_sources] });
        };
        let Law::Line { siemens, amps } = law else { return None };
        let share = 1.0 + siemens * reading.meter.amps.resistance.max(1e-6);
        let (siemens, amps) = (siemens / share, amps / share);
        let mut changes = laid.changes.clone();
        changes.retain(|active| active.port != element);
        changes.push(Active { port: element, law: Some(Law::Line { siemens, amps }) });
        let small = self.reduced.solve(&changes, Some(unloaded))?;
        let volts = self.reduced.volts(&small);
        let through = siemens * volts[element] + amps;
        let is_source = of(&case.assembly.circuit()[part]).is_source();
        let sign = if is_source { -1.0 } else { 1.0 };
        let mut pushes = self.pushes(case, laid, &changes, &volts);
        // The part itself sees what the meter's resistance leaves it, and acts through it.
        let inside = volts[element] - through * reading.meter.amps.resistance.max(1e-6);
        let own = self.own_slopes(case, laid, element, inside);
        for ((source, at, _), push) in self.pushes.iter().zip(&mut pushes) {
            if *at == element {
                let slope = own.iter().find(|(known, _)| known == source);
                *push = slope.map_or(0.0, |(_, slope)| slope / share);
            }
        }
        let answers = self.reduced.answers(&small, element);
        let mut shown = self.spread(case, &answers, &pushes, sign * through, sign * siemens);
        // At unchanged volts the part's own tolerances act too.
        for (source, slope) in own {
            shown.spread[source] += sign * slope / share;
        }
        Some(shown)
    }

    fn seen(
        &self,
        case: &Case<'_>,
        laid: &Laid,
        unloaded: &Small,
        unloaded_volts: &[f64],
        reading: &Reading,
    ) -> Option<ScreenShown> {
        let Place::Part(part) = reading.place else { return None };
        let &[element] = &self.elements[part.index()][..] else { return None };
        let ends = (self.network.pin_net(part, 0), self.network.pin_net(part, 1));
        let pair = self.pairs.get(&ends);
        let is_touched =
            laid.changes.iter().any(|active| active.port == element || Some(&active.port) == pair);
        if is_touched || case.assembly.circuit()[part].kind != "led" {
            return None;
        }
        let volts = unloaded_volts[element];
        let Law::Curve(curve) = self.reduced.law(element) else { return None };
        let sample = curve.at(volts);
        let pushes = self.pushes(case, laid, &laid.changes, unloaded_volts);
        let answers = self.reduced.answers(unloaded, element);
        let mut shown = self.spread(case, &answers, &pushes, sample.amps, sample.siemens);
        for (source, slope) in self.own_slopes(case, laid, element, volts) {
            shown.spread[source] += slope;
        }
        Some(shown)
    }

    /// What the tolerances of a part do to the current of its own branch at unchanged volts: amps
    /// per standard uncertainty.
    fn own_slopes(
        &self,
        case: &Case<'_>,
        laid: &Laid,
        element: usize,
        volts: f64,
    ) -> Vec<(usize, f64)> {
        self.pushes
            .iter()
            .filter(|(source, at, _)| *at == element && !self.is_taken(case, laid, *source))
            .filter_map(|&(source, _, number)| {
                let known = &case.assembly.sources()[source];
                match self.slope(case, laid, source, number, self.reduced.law(element), &[volts])? {
                    Slope::Amps(amps) => Some((source, amps * known.standard)),
                    Slope::Volts(_) => None,
                }
            })
            .collect()
    }

    /// How a source's branch answers to its parameter.
    fn slope(
        &self,
        case: &Case<'_>,
        laid: &Laid,
        source: usize,
        number: usize,
        here: &Law,
        volts: &[f64],
    ) -> Option<Slope> {
        let known = &case.assembly.sources()[source];
        let laid = laid.around.iter().find(|(at, _)| *at == source).map(|(_, laws)| laws);
        match laid.or_else(|| self.around.get(&source)) {
            Some(laws) => known.slope_with(laws, number, here, volts),
            None => known.slope(self.setup, number, here, volts),
        }
    }

    fn is_taken(&self, case: &Case<'_>, laid: &Laid, source: usize) -> bool {
        let known = &case.assembly.sources()[source];
        laid.taken.contains(&known.part) || laid.replaced == Some((known.part, known.parameter))
    }

    /// What one standard uncertainty of each push drives into its element, in amps or volts.
    pub(super) fn pushes(
        &self,
        case: &Case<'_>,
        laid: &Laid,
        changes: &[Active],
        volts: &[f64],
    ) -> Vec<f64> {
        self.pushes
            .iter()
            .map(|&(source, element, number)| {
                if self.is_taken(case, laid, source) {
                    return 0.0;
                }
                let known = &case.assembly.sources()[source];
                let law = changes
                    .iter()
                    .find(|active| active.port == element)
                    .and_then(|active| active.law.as_ref())
                    .unwrap_or_else(|| self.reduced.law(element));
                let driving: Vec<f64> =
                    self.reduced.driving(element).iter().map(|&port| volts[port]).collect();
                match self.slope(case, laid, source, number, law, &driving) {
                    Some(Slope::Amps(push) | Slope::Volts(push)) => push * known.standard,
                    None => 0.0,
                }
            })
            .collect()
    }

    /// A value that goes with `slope` times the volts at a port, with its spread.
    fn spread(
        &self,
        case: &Case<'_>,
        answers: &[f64],
        pushes: &[f64],
        value: f64,
        slope: f64,
    ) -> ScreenShown {
        let mut spread = vec![0.0; case.assembly.sources().len()];
        for (&(source, element, _), push) in self.pushes.iter().zip(pushes) {
            spread[source] += answers[element] * push * slope;
        }
        ScreenShown { value, latent: value, spread }
    }
}

//! One run of Newton's method, with the equations it works on.

use nalgebra::DMatrix;

use super::factor::Factor;
use super::network::Network;
use super::point::Settings;
use super::structure::conducting_islands;
use crate::device::{Law, Sample};

/// The resistance that scales the current of a clamped branch against its voltage, in ohms: the
/// size of resistance that small boards are made of. Any positive value has the same solutions.
const CLAMP_OHMS: f64 = 1e3;

/// The equations of a network: unknowns, fixed parts, and ties of floating islands.
pub(super) struct Equations<'a> {
    pub(super) network: &'a Network,
    /// Number of nets less ground.
    n_volts: usize,
    /// Elements with a current of their own, with their row.
    own: Vec<(usize, usize)>,
    /// Elements that are curves.
    curves: Vec<usize>,
    /// Elements that are clamps, with their row.
    clamps: Vec<(usize, usize)>,
    /// One net of every floating island, tied to ground. No current can flow in the only tie of an
    /// island, so the tie changes nothing and makes the equations solvable.
    pub(super) ties: Vec<usize>,
    /// What every iteration starts from: straight lines, given voltages, ties.
    fixed: DMatrix<f64>,
    fixed_right: Vec<f64>,
    /// Currents of the curves at zero volts, which source stepping takes away.
    at_zero: Vec<f64>,
}

/// What stands between the equations and easier ones.
#[derive(Debug, Clone)]
pub(super) struct Aid<'a> {
    /// Share of the sources that is on, 0 to 1.
    pub(super) sources: f64,
    /// Siemens from every net to the voltage below.
    pub(super) shunt: f64,
    /// The voltages that shunts pull to; ground when `None`.
    pub(super) pull_to: Option<&'a [f64]>,
}

impl Aid<'_> {
    /// No help: the equations themselves.
    pub(super) const NONE: Aid<'static> = Aid { sources: 1.0, shunt: 0.0, pull_to: None };
}

/// Where one run of Newton's method went.
pub(super) enum Walk {
    /// It settled here.
    Settled { x: Vec<f64>, factor: Factor, iterations: usize },
    /// It did not: the last point, and the unknowns that still moved.
    Moving { unknowns: Vec<usize>, iterations: usize },
    /// A matrix was singular.
    Singular { iterations: usize },
}

impl<'a> Equations<'a> {
    pub(super) fn new(network: &'a Network) -> Equations<'a> {
        let n_volts = network.n_nets - 1;
        let (mut own, mut curves, mut clamps) = (Vec::new(), Vec::new(), Vec::new());
        for (idx, element) in network.elements.iter().enumerate() {
            if element.law.has_own_current() {
                let row = n_volts + own.len();
                own.push((idx, row));
                if matches!(element.law, Law::Clamp { .. }) {
                    clamps.push((idx, row));
                }
            } else if let Law::Curve(_) = element.law {
                curves.push(idx);
            }
        }
        let mut islands = conducting_islands(network);
        let ties = (1..network.n_nets).filter(|&net| islands.root(net) == net).collect();
        let n = n_volts + own.len();
        let mut equations = Equations {
            network,
            n_volts,
            own,
            curves,
            clamps,
            ties,
            fixed: DMatrix::zeros(n, n),
            fixed_right: vec![0.0; n],
            at_zero: Vec::new(),
        };
        equations.put_fixed();
        equations
    }

    /// Number of unknowns.
    pub(super) fn len(&self) -> usize {
        self.fixed.nrows()
    }

    /// Whether one linear solve is the answer.
    pub(super) fn is_linear(&self) -> bool {
        self.curves.is_empty() && self.clamps.is_empty()
    }

    fn put_fixed(&mut self) {
        for element in &self.network.elements {
            match &element.law {
                Law::Line { siemens, amps } => {
                    add_siemens(&mut self.fixed, element.from, element.to, *siemens);
                    add_amps(&mut self.fixed_right, element.from, element.to, *amps);
                }
                Law::Curve(curve) => self.at_zero.push(curve.at(0.0).amps),
                Law::Volts(_) | Law::Clamp { .. } => {}
            }
        }
        for &(idx, row) in &self.own {
            let element = &self.network.elements[idx];
            for (net, sign) in [(element.from, 1.0), (element.to, -1.0)] {
                if net != 0 {
                    self.fixed[(net - 1, row)] += sign;
                }
            }
            if let Law::Volts(volts) = element.law {
                for (net, sign) in [(element.from, 1.0), (element.to, -1.0)] {
                    if net != 0 {
                        self.fixed[(row, net - 1)] += sign;
                    }
                }
                self.fixed_right[row] = volts;
            }
        }
        for &net in &self.ties {
            self.fixed[(net - 1, net - 1)] += 1.0;
        }
    }

    fn volts(&self, x: &[f64], idx: usize) -> f64 {
        let element = &self.network.elements[idx];
        net_volts(x, element.from) - net_volts(x, element.to)
    }

    /// The linear equations around the given voltages of the curves, and around `x` for clamps.
    fn linearised(
        &self,
        samples: &[(f64, Sample)],
        x: &[f64],
        aid: &Aid<'_>,
    ) -> (DMatrix<f64>, Vec<f64>) {
        let mut matrix = self.fixed.clone();
        let mut right = self.fixed_right.clone();
        for value in &mut right {
            *value *= aid.sources;
        }
        for ((&idx, &(volts, sample)), &at_zero) in
            self.curves.iter().zip(samples).zip(&self.at_zero)
        {
            let element = &self.network.elements[idx];
            let amps = sample.amps - (1.0 - aid.sources) * at_zero;
            add_siemens(&mut matrix, element.from, element.to, sample.siemens);
            add_amps(&mut right, element.from, element.to, amps - sample.siemens * volts);
        }
        for &(idx, row) in &self.clamps {
            let element = &self.network.elements[idx];
            let Law::Clamp { low, high } = element.law else { continue };
            // v = clamp(v + R i): inside the range no current flows, at an end the volts are held.
            let reach = self.volts(x, idx) + CLAMP_OHMS * x[row];
            if reach < high && reach > low {
                matrix[(row, row)] += CLAMP_OHMS;
            } else {
                for (net, sign) in [(element.from, 1.0), (element.to, -1.0)] {
                    if net != 0 {
                        matrix[(row, net - 1)] += sign;
                    }
                }
                right[row] = if reach >= high { high } else { low };
            }
        }
        if aid.shunt > 0.0 {
            for row in 0..self.n_volts {
                matrix[(row, row)] += aid.shunt;
                right[row] += aid.shunt * aid.pull_to.map_or(0.0, |volts| volts[row]);
            }
        }
        (matrix, right)
    }

    /// Newton's method from `start`, with junction limiting.
    pub(super) fn walk(&self, start: &[f64], aid: &Aid<'_>, settings: &Settings) -> Walk {
        let mut x = start.to_vec();
        let mut samples: Vec<(f64, Sample)> =
            self.curves.iter().map(|&idx| self.sample(idx, self.volts(&x, idx))).collect();
        for iteration in 1..=settings.max_iterations {
            let (matrix, right) = self.linearised(&samples, &x, aid);
            let Some(factor) = Factor::new(matrix) else {
                return Walk::Singular { iterations: iteration };
            };
            let new = factor.solve(&right);
            if new.iter().any(|value| !value.is_finite()) {
                return Walk::Singular { iterations: iteration };
            }
            if self.is_linear() {
                return Walk::Settled { x: new, factor, iterations: iteration };
            }
            let (mut furthest, mut bent) = (0.0_f64, false);
            for (&idx, held) in self.curves.iter().zip(&mut samples) {
                let Law::Curve(curve) = &self.network.elements[idx].law else { continue };
                let volts = self.volts(&new, idx);
                let allowed = curve.limit(volts, held.0);
                bent |= curve.segment(volts) != curve.segment(held.0);
                furthest = furthest.max((allowed - held.0).abs()).max((allowed - volts).abs());
                *held = self.sample(idx, allowed);
            }
            bent |= self.clamps.iter().any(|&(idx, row)| {
                self.clamp_state(&x, idx, row) != self.clamp_state(&new, idx, row)
            });
            let moved: Vec<usize> = (0..self.n_volts)
                .filter(|&row| {
                    (new[row] - x[row]).abs()
                        > settings.step_volts + settings.step_relative * new[row].abs()
                })
                .collect();
            let still = moved.is_empty() && furthest <= settings.step_volts && !bent;
            x = new;
            if still {
                return Walk::Settled { x, factor, iterations: iteration };
            }
            if iteration == settings.max_iterations {
                return Walk::Moving { unknowns: moved, iterations: iteration };
            }
        }
        Walk::Moving { unknowns: Vec::new(), iterations: settings.max_iterations }
    }

    fn clamp_state(&self, x: &[f64], idx: usize, row: usize) -> u8 {
        let Law::Clamp { low, high } = self.network.elements[idx].law else { return 0 };
        let reach = self.volts(x, idx) + CLAMP_OHMS * x[row];
        u8::from(reach >= high) + 2 * u8::from(reach <= low)
    }

    fn sample(&self, idx: usize, volts: f64) -> (f64, Sample) {
        match &self.network.elements[idx].law {
            Law::Curve(curve) => (volts, curve.at(volts)),
            _ => (volts, Sample { amps: 0.0, siemens: 0.0 }),
        }
    }

    /// Amps of every element at a point.
    pub(super) fn amps(&self, x: &[f64]) -> Vec<f64> {
        let mut own = self.own.iter();
        (0..self.network.elements.len())
            .map(|idx| match &self.network.elements[idx].law {
                Law::Line { siemens, amps } => siemens * self.volts(x, idx) + amps,
                Law::Curve(curve) => curve.at(self.volts(x, idx)).amps,
                // Elements with a current of their own come in the order of `own`.
                Law::Volts(_) | Law::Clamp { .. } => own.next().map_or(0.0, |&(_, row)| x[row]),
            })
            .collect()
    }

    /// What the arithmetic itself may leave over at a net, in amps: a few roundings of every term.
    pub(super) fn rounding(&self, x: &[f64]) -> Vec<f64> {
        let mut sums = vec![0.0; self.network.n_nets];
        for (idx, element) in self.network.elements.iter().enumerate() {
            let (from, to) = (net_volts(x, element.from).abs(), net_volts(x, element.to).abs());
            let siemens = match &element.law {
                Law::Line { siemens, .. } => *siemens,
                Law::Curve(curve) => curve.at(self.volts(x, idx)).siemens.abs(),
                Law::Volts(_) | Law::Clamp { .. } => 0.0,
            };
            let size = 16.0 * f64::EPSILON * siemens * (from + to);
            sums[element.from] += size;
            sums[element.to] += size;
        }
        sums
    }
}

/// Volts of a net in the vector of unknowns.
pub(super) fn net_volts(x: &[f64], net: usize) -> f64 {
    if net == 0 { 0.0 } else { x[net - 1] }
}

fn add_siemens(matrix: &mut DMatrix<f64>, from: usize, to: usize, siemens: f64) {
    if from == to {
        return;
    }
    if from != 0 {
        matrix[(from - 1, from - 1)] += siemens;
    }
    if to != 0 {
        matrix[(to - 1, to - 1)] += siemens;
    }
    if from != 0 && to != 0 {
        matrix[(from - 1, to - 1)] -= siemens;
        matrix[(to - 1, from - 1)] -= siemens;
    }
}

/// Amps that leave `from` and enter `to`, moved to the right-hand side.
fn add_amps(right: &mut [f64], from: usize, to: usize, amps: f64) {
    if from != 0 {
        right[from - 1] -= amps;
    }
    if to != 0 {
        right[to - 1] += amps;
    }
}

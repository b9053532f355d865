//! A setup reduced to its ports: many small changes at the price of small systems.
//!
//! The board is replaced once by a linear one, with every curve at a fixed slope. Whatever then
//! differs from that — a curve that is no straight line, a fault, a meter — is an extra current at
//! the port of one branch, and only those ports are solved for.
//!
//! # Formula
//!
//! With A the matrix of the linear board, P the ports as columns of ±1, H = Pᵀ A⁻¹ P and v⁰ the
//! linear board's port voltages, extra currents j(v) at the ports K give
//!
//! ```text
//! v_K = v⁰_K − H_KK j(v_K)            solved by Newton's method, size |K|
//! v_e = v⁰_e − H_eK j                 at every other port
//! ∂v_m/∂i_e = −(H_me − H_mK S M⁻¹ H_Ke),   S = diag(∂j/∂v),  M = I + H_KK S
//! ```
//!
//! (the large-change view of G. C. Temes, "Efficient methods of fault simulation", 20th Midwest
//! Symposium on Circuits and Systems, 1977, from memory; the identity is that of Woodbury.) What
//! it finds is for screening: answers that a person acts on are solved again in full.

use nalgebra::DMatrix;

use super::factor::Factor;
use super::network::Network;
use super::structure::conducting_islands;
use crate::device::{Law, Sample};

/// Least slope that stands for a curve in the linear board, in siemens: blocked junctions would
/// leave their nets hanging in the air.
const LEAST_SLOPE: f64 = 1e-8;
/// A curve is quiet while it differs from its straight line by less than this at its port ...
const QUIET_VOLTS: f64 = 1e-7;
/// ... and by less current than this ...
const QUIET_AMPS: f64 = 1e-8;
/// ... and this share of its current.
const QUIET_SHARE: f64 = 1e-6;
/// Newton steps of one small system.
const STEPS: usize = 60;
/// A pivot of a small system below this share of its row is a net that lost its path to ground.
const LEAST_PIVOT: f64 = 1e-11;

/// Volts beyond which a small system stands on a pivot of rounding: no board has them.
const ABSURD_VOLTS: f64 = 1e6;

/// A setup reduced to the ports of its branches and of some further pairs of nets.
#[derive(Debug)]
pub struct Reduced {
    /// The linear board's law of every element: slope and current at zero volts.
    base: Vec<(f64, f64)>,
    /// The laws of the elements.
    laws: Vec<Law>,
    /// Elements that are curves.
    curves: Vec<usize>,
    /// Number of ports: elements first, then the further pairs.
    n_ports: usize,
    /// Port voltages of the linear board.
    volts: Vec<f64>,
    /// H, row by row.
    transfer: Vec<f64>,
    /// H, column by column.
    columns: Vec<f64>,
}

/// What a port does instead of what the linear board has there.
#[derive(Debug, Clone)]
pub struct Active {
    /// The port.
    pub port: usize,
    /// Its law now; `None` for no branch at all.
    pub law: Option<Law>,
}

/// A solved small system.
#[derive(Debug, Clone)]
pub struct Small {
    ports: Vec<usize>,
    /// Volts at those ports.
    volts: Vec<f64>,
    extra: Vec<f64>,
    slopes: Vec<f64>,
    factors: SmallFactors,
}

impl Reduced {
    /// Reduces a network to its own branches and the given pairs of nets; `None` where it has
    /// branches that are no curves, nets that float, or no linear solution.
    ///
    /// `point` holds the volts of all nets at the operating point that slopes are taken at.
    pub fn new(network: &Network, point: &[f64], pairs: &[(usize, usize)]) -> Option<Reduced> {
        let mut islands = conducting_islands(network);
        if (1..network.n_nets).any(|net| islands.root(net) != 0) {
            return None;
        }
        let n_volts = network.n_nets - 1;
        let mut base = Vec::with_capacity(network.elements.len());
        let mut own = Vec::new();
        let mut curves = Vec::new();
        for (idx, element) in network.elements.iter().enumerate() {
            match &element.law {
                Law::Line { siemens, amps } => base.push((*siemens, *amps)),
                Law::Curve(curve) => {
                    let volts = point[element.from] - point[element.to];
                    let Sample { amps, siemens } = curve.at(volts);
                    let slope = siemens.max(LEAST_SLOPE);
                    base.push((slope, amps - slope * volts));
                    curves.push(idx);
                }
                Law::Volts(_) => {
                    base.push((0.0, 0.0));
                    own.push(idx);
                }
                Law::Clamp { .. } | Law::Driven(_) => return None,
            }
        }
        let n = n_volts + own.len();
        let mut matrix = DMatrix::zeros(n, n);
        let mut right = vec![0.0; n];
        for (element, &(siemens, amps)) in network.elements.iter().zip(&base) {
            for (a, b) in [(element.from, element.to), (element.to, element.from)] {
                if a != 0 {
                    matrix[(a - 1, a - 1)] += siemens;
                    if b != 0 {
                        matrix[(a - 1, b - 1)] -= siemens;
                    }
                    right[a - 1] += if a == element.from { -amps } else { amps };
                }
            }
        }
        for (row, &idx) in (n_volts..).zip(&own) {
            let element = &network.elements[idx];
            for (net, sign) in [(element.from, 1.0), (element.to, -1.0)] {
                if net != 0 {
                    matrix[(net - 1, row)] += sign;
                    matrix[(row, net - 1)] += sign;
                }
            }
            if let Law::Volts(volts) = element.law {
                right[row] = volts;
            }
        }
        let factor = Factor::new(matrix)?;
        let solution = factor.solve(&right);
        let ends: Vec<(usize, usize)> = network
            .elements
            .iter()
            .map(|element| (element.from, element.to))
            .chain(pairs.iter().copied())
            .collect();
        let n_ports = ends.len();
        let across = |x: &[f64], (from, to): (usize, usize)| {
            let at = |net: usize| if net == 0 { 0.0 } else { x[net - 1] };
            at(from) - at(to)
        };
        let mut transfer = vec![0.0; n_ports * n_ports];
        let mut columns = Vec::with_capacity(n_ports * n_ports);
        for (column, &(from, to)) in ends.iter().enumerate() {
            let mut push = vec![0.0; n];
            match own.iter().position(|&idx| idx == column) {
                // What is driven into a given voltage is volts: the sign makes it a current's.
                Some(row) => push[n_volts + row] = -1.0,
                None => {
                    if from != 0 {
                        push[from - 1] += 1.0;
                    }
                    if to != 0 {
                        push[to - 1] -= 1.0;
                    }
                }
            }
            let shape = factor.solve(&push);
            for (row, &ends) in ends.iter().enumerate() {
                let answer = across(&shape, ends);
                transfer[row * n_ports + column] = answer;
                columns.push(answer);
            }
        }
        let volts: Vec<f64> = ends.iter().map(|&ends| across(&solution, ends)).collect();
        let sound = volts.iter().chain(&transfer).all(|value| value.is_finite());
        let laws = network.elements.iter().map(|element| element.law.clone()).collect();
        sound.then_some(Reduced { base, laws, curves, n_ports, volts, transfer, columns })
    }

    /// The port of the further pair with that number.
    pub fn pair(&self, number: usize) -> usize {
        self.base.len() + number
    }

    fn transfer(&self, row: usize, column: usize) -> f64 {
        self.transfer[row * self.n_ports + column]
    }

    /// Extra current and slope at a port that has a law of its own now.
    fn extra(&self, active: &Active, volts: f64) -> (f64, f64) {
        let (amps, siemens) = match &active.law {
            None => (0.0, 0.0),
            Some(Law::Line { siemens, amps }) => (siemens * volts + amps, *siemens),
            Some(Law::Curve(curve)) => {
                let sample = curve.at(volts);
                (sample.amps, sample.siemens)
            }
            // Given voltages and clamps never come here: `solve` refuses them.
            Some(Law::Volts(_) | Law::Clamp { .. } | Law::Driven(_)) => (f64::NAN, f64::NAN),
        };
        let (slope, offset) = self.base.get(active.port).copied().unwrap_or((0.0, 0.0));
        (amps - slope * volts - offset, siemens - slope)
    }

    /// Solves with the given changes; curves that are not changed keep their own law.
    ///
    /// `None` when it does not settle, or when a net loses its path to ground: then the whole
    /// network has to be solved.
    pub fn solve(&self, changes: &[Active], start: Option<&Small>) -> Option<Small> {
        let touches_given = changes.iter().any(|active| {
            matches!(self.laws.get(active.port), Some(Law::Volts(_)))
                || matches!(active.law, Some(Law::Volts(_) | Law::Clamp { .. } | Law::Driven(_)))
        });
        if touches_given {
            return None;
        }
        let mut actives = changes.to_vec();
        let mut quiet: Vec<usize> = self
            .curves
            .iter()
            .copied()
            .filter(|&port| changes.iter().all(|change| change.port != port))
            .collect();
        // Most curves stay on the straight line that the linear board has for them; those that
        // leave it join the system, and all of them do when the others alone do not settle.
        loop {
            let settled = self.settle(&actives, start);
            let mut woken = Vec::new();
            quiet.retain(|&port| {
                let stays = settled
                    .as_ref()
                    .is_some_and(|small| self.is_quiet(port, self.volts_at(small, port)));
                if !stays {
                    woken.push(Active { port, law: Some(self.laws[port].clone()) });
                }
                stays
            });
            if woken.is_empty() {
                let volts = |small: &Small| small.volts.iter().all(|v| v.abs() <= ABSURD_VOLTS);
                return settled.filter(volts);
            }
            actives.extend(woken);
        }
    }

    /// Whether a curve is still so near to its straight line that no meter shows the difference.
    fn is_quiet(&self, port: usize, volts: f64) -> bool {
        let Law::Curve(curve) = &self.laws[port] else { return true };
        let amps = curve.at(volts).amps;
        let (slope, offset) = self.base[port];
        let extra = (amps - slope * volts - offset).abs();
        // In a network without amplifiers an extra current moves no net by more than its own port.
        extra * self.transfer(port, port).abs() <= QUIET_VOLTS * (1.0 + volts.abs())
            && extra <= QUIET_AMPS + QUIET_SHARE * amps.abs()
    }

    fn volts_at(&self, small: &Small, port: usize) -> f64 {
        let row = &self.transfer[port * self.n_ports..(port + 1) * self.n_ports];
        let driven = small.ports.iter().zip(&small.extra);
        self.volts[port] - driven.map(|(&known, extra)| row[known] * extra).sum::<f64>()
    }

    /// Solves for exactly these ports.
    fn settle(&self, actives: &[Active], start: Option<&Small>) -> Option<Small> {
        let n = actives.len();
        let ports: Vec<usize> = actives.iter().map(|active| active.port).collect();
        let known = |port: usize| {
            let start = start?;
            let idx = start.ports.iter().position(|known| *known == port)?;
            Some(start.volts[idx])
        };
        let mut held: Vec<f64> =
            ports.iter().map(|&port| known(port).unwrap_or(self.volts[port])).collect();
        let is_linear = actives.iter().all(|active| !matches!(active.law, Some(Law::Curve(_))));
        let mut h = Vec::with_capacity(n * n);
        for &row in &ports {
            h.extend(ports.iter().map(|&column| self.transfer(row, column)));
        }
        let mut samples: Vec<(f64, f64)> = Vec::with_capacity(n);
        for _ in 0..STEPS {
            samples.clear();
            samples.extend(
                actives.iter().zip(&held).map(|(active, &volts)| self.extra(active, volts)),
            );
            // (I + H S) v = v⁰ − H (j − S v_held)
            let mut matrix = Vec::with_capacity(n * n);
            let mut right = Vec::with_capacity(n);
            for (i, row) in h.chunks(n.max(1)).enumerate() {
                let mut value = self.volts[ports[i]];
                for ((h, (extra, slope)), held) in row.iter().zip(&samples).zip(&held) {
                    value -= h * (extra - slope * held);
                    matrix.push(h * slope);
                }
                matrix[i * n + i] += 1.0;
                right.push(value);
            }
            let factors = SmallFactors::new(matrix, n)?;
            let new = factors.solve(right);
            let mut furthest = 0.0_f64;
            let mut bent = false;
            for ((active, held), &volts) in actives.iter().zip(&mut held).zip(&new) {
                let allowed = match &active.law {
                    Some(Law::Curve(curve)) => {
                        bent |= curve.segment(volts) != curve.segment(*held);
                        curve.limit(volts, *held)
                    }
                    _ => volts,
                };
                let tolerance = 1e-9 * (1.0 + volts.abs());
                furthest = furthest
                    .max((allowed - *held).abs() / tolerance)
                    .max((allowed - volts).abs() / tolerance);
                *held = allowed;
            }
            if is_linear || (furthest <= 1.0 && !bent) {
                let samples = actives.iter().zip(&held).map(|(active, &v)| self.extra(active, v));
                let (extra, slopes): (Vec<f64>, Vec<f64>) = samples.unzip();
                let sound = extra.iter().chain(&held).all(|value| value.is_finite());
                return sound.then_some(Small { ports, volts: held, extra, slopes, factors });
            }
        }
        None
    }

    /// Volts at every port of a solved small system.
    pub fn volts(&self, small: &Small) -> Vec<f64> {
        let mut volts = self.volts.clone();
        for (&port, extra) in small.ports.iter().zip(&small.extra) {
            let column = &self.columns[port * self.n_ports..(port + 1) * self.n_ports];
            for (volts, h) in volts.iter_mut().zip(column) {
                *volts -= h * extra;
            }
        }
        // Where the small system was solved for a port, its own answer has no rounding added.
        for (&port, &solved) in small.ports.iter().zip(&small.volts) {
            volts[port] = solved;
        }
        volts
    }

    /// How the volts at port `meter` answer to one amp more through each port (one volt more
    /// where the port is a given voltage), everything else reacting.
    pub fn answers(&self, small: &Small, meter: usize) -> Vec<f64> {
        let row = |port: usize| &self.transfer[port * self.n_ports..(port + 1) * self.n_ports];
        let meter = row(meter);
        let right = small.ports.iter().zip(&small.slopes).map(|(&port, slope)| slope * meter[port]);
        let weights = small.factors.solve_transposed(right.collect());
        let mut answers: Vec<f64> = meter.iter().map(|h| -h).collect();
        for (&port, weight) in small.ports.iter().zip(&weights) {
            for (answer, h) in answers.iter_mut().zip(row(port)) {
                *answer += weight * h;
            }
        }
        answers
    }

    /// The law of an element.
    pub fn law(&self, element: usize) -> &Law {
        &self.laws[element]
    }
}

/// LU factors of a small matrix, row by row, with partial pivoting on scaled rows.
#[derive(Debug, Clone)]
struct SmallFactors {
    n: usize,
    lu: Vec<f64>,
    /// The row of the matrix that stands in each row of the factors.
    rows: Vec<usize>,
}

impl SmallFactors {
    /// `None` where a pivot is next to nothing.
    fn new(mut lu: Vec<f64>, n: usize) -> Option<SmallFactors> {
        let mut rows: Vec<usize> = (0..n).collect();
        let mut sizes: Vec<f64> = lu
            .chunks(n.max(1))
            .map(|row| row.iter().fold(1e-300, |most: f64, value| most.max(value.abs())))
            .collect();
        for k in 0..n {
            let share = |row: usize| lu[row * n + k].abs() / sizes[row];
            let pivot = (k..n).max_by(|&a, &b| share(a).total_cmp(&share(b)))?;
            let best = share(pivot);
            if best.is_nan() || best < LEAST_PIVOT {
                return None;
            }
            if pivot != k {
                for column in 0..n {
                    lu.swap(pivot * n + column, k * n + column);
                }
                rows.swap(pivot, k);
                sizes.swap(pivot, k);
            }
            let (upper, lower) = lu.split_at_mut((k + 1) * n);
            let top = &upper[k * n + k..];
            for row in lower.chunks_mut(n) {
                let row = &mut row[k..];
                let factor = row[0] / top[0];
                row[0] = factor;
                for (value, top) in row[1..].iter_mut().zip(&top[1..]) {
                    *value -= factor * top;
                }
            }
        }
        Some(SmallFactors { n, lu, rows })
    }

    fn solve(&self, right: Vec<f64>) -> Vec<f64> {
        let n = self.n;
        let mut x: Vec<f64> = self.rows.iter().map(|&row| right[row]).collect();
        for row in 0..n {
            for column in 0..row {
                x[row] -= self.lu[row * n + column] * x[column];
            }
        }
        for row in (0..n).rev() {
            for column in row + 1..n {
                x[row] -= self.lu[row * n + column] * x[column];
            }
            x[row] /= self.lu[row * n + row];
        }
        x
    }

    fn solve_transposed(&self, right: Vec<f64>) -> Vec<f64> {
        let n = self.n;
        let mut x = right;
        for row in 0..n {
            for column in 0..row {
                x[row] -= self.lu[column * n + row] * x[column];
            }
            x[row] /= self.lu[row * n + row];
        }
        for row in (0..n).rev() {
            for column in row + 1..n {
                x[row] -= self.lu[column * n + row] * x[column];
            }
        }
        let mut answer = vec![0.0; n];
        for (place, &row) in self.rows.iter().enumerate() {
            answer[row] = x[place];
        }
        answer
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn small_factors_solve_both_ways() {
        // Rows out of order, so that pivoting has something to do.
        let matrix = vec![0.0, 2.0, 1.0, 1.0, 1.0, 0.0, 4.0, 0.0, 3.0];
        let factors = SmallFactors::new(matrix.clone(), 3).unwrap();
        let x = [1.0, -2.0, 3.0];
        let times = |transposed: bool| -> Vec<f64> {
            (0..3)
                .map(|i| {
                    (0..3)
                        .map(|j| matrix[if transposed { 3 * j + i } else { 3 * i + j }] * x[j])
                        .sum()
                })
                .collect()
        };
        for (found, right) in
            [(factors.solve(times(false)), x), (factors.solve_transposed(times(true)), x)]
        {
            for (found, right) in found.iter().zip(right) {
                approx::assert_relative_eq!(*found, right, max_relative = 1e-14);
            }
        }
        assert!(SmallFactors::new(vec![1.0, 2.0, 2.0, 4.0], 2).is_none());
    }
}

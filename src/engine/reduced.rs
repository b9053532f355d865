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
//! ∂v_m/∂i_e = −(H_me − H_mK S M⁻¹ H_Ke),   S = ∂j/∂v,  M = I + H_KK S
//! ```
//!
//! S is diagonal but for driven branches, whose extra current goes with the volts at several
//! ports.
//!
//!
//! (the large-change view of G. C. Temes, "Efficient methods of fault simulation", 20th Midwest
//! Symposium on Circuits and Systems, 1977, from memory; the identity is that of Woodbury.) What
//! it finds is for screening: answers that a person acts on are solved again in full.

use nalgebra::DMatrix;

use super::factor::Factor;
use super::network::Network;
use super::newton::{corner_share, go_along, stop_at_corner};
use super::small::SmallFactors;
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
/// Newton steps of one small system ...
const STEPS: usize = 100;
/// ... and those of them in which every part stops at its own corners alone.
const SOON: usize = 25;
/// Volts beyond which a small system stands on a pivot of rounding: no board has them.
const ABSURD_VOLTS: f64 = 1e6;

/// A setup reduced to the ports of its branches and of some further pairs of nets.
#[derive(Debug)]
pub struct Reduced {
    /// The linear board's law of every element: slopes by the volts at its ports, and the current
    /// at zero volts.
    base: Vec<(Vec<f64>, f64)>,
    /// The laws of the elements.
    laws: Vec<Law>,
    /// The ports of every element: its own, then those that drive it.
    ports: Vec<Vec<usize>>,
    /// Elements that are curves or driven.
    curves: Vec<usize>,
    /// Number of ports: elements first, then what drives elements, then the further pairs.
    n_ports: usize,
    /// Where the further pairs begin.
    first_pair: usize,
    /// Per element: the most volts that one amp through it moves any port by.
    reach: Vec<f64>,
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
    extra: Vec<Extra>,
    factors: SmallFactors,
}

/// What a port carries beyond the linear board.
#[derive(Debug, Clone)]
struct Extra {
    port: usize,
    amps: f64,
    /// The places, in the small system, of the ports whose volts it goes with, and the slopes.
    slopes: Vec<(usize, f64)>,
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
                Law::Line { siemens, amps } => base.push((vec![*siemens], *amps)),
                Law::Curve(curve) => {
                    let volts = point[element.from] - point[element.to];
                    let Sample { amps, siemens } = curve.at(volts);
                    let slope = siemens.max(LEAST_SLOPE);
                    base.push((vec![slope], amps - slope * volts));
                    curves.push(idx);
                }
                Law::Driven(law) => {
                    let volts: Vec<f64> = std::iter::once((element.from, element.to))
                        .chain(network.sensed(element))
                        .map(|(from, to)| point[from] - point[to])
                        .collect();
                    let mut slopes = vec![0.0; volts.len()];
                    let amps = law.at(&volts, &mut slopes);
                    let along: f64 = slopes.iter().zip(&volts).map(|(s, v)| s * v).sum();
                    base.push((slopes, amps - along));
                    curves.push(idx);
                }
                Law::Volts(_) => {
                    base.push((vec![0.0], 0.0));
                    own.push(idx);
                }
                Law::Clamp { .. } => return None,
            }
        }
        let n = n_volts + own.len();
        let mut matrix = DMatrix::zeros(n, n);
        let mut right = vec![0.0; n];
        for (element, (slopes, amps)) in network.elements.iter().zip(&base) {
            let (siemens, amps) = (slopes[0], *amps);
            for (&slope, (plus, minus)) in slopes[1..].iter().zip(network.sensed(element)) {
                for (row, out) in [(element.from, 1.0), (element.to, -1.0)] {
                    for (column, sign) in [(plus, 1.0), (minus, -1.0)] {
                        if row != 0 && column != 0 {
                            matrix[(row - 1, column - 1)] += out * sign * slope;
                        }
                    }
                }
            }
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
        let mut ends: Vec<(usize, usize)> =
            network.elements.iter().map(|element| (element.from, element.to)).collect();
        let mut ports = Vec::with_capacity(base.len());
        for (idx, element) in network.elements.iter().enumerate() {
            let first = ends.len();
            ends.extend(network.sensed(element));
            ports.push(std::iter::once(idx).chain(first..ends.len()).collect());
        }
        let first_pair = ends.len();
        ends.extend(pairs);
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
        let reach = columns
            .chunks(n_ports.max(1))
            .take(base.len())
            .map(|column: &[f64]| column.iter().fold(0.0_f64, |most, h| most.max(h.abs())))
            .collect();
        sound.then_some(Reduced {
            base,
            laws,
            ports,
            curves,
            n_ports,
            first_pair,
            reach,
            volts,
            transfer,
            columns,
        })
    }

    /// The port of the further pair with that number.
    pub fn pair(&self, number: usize) -> usize {
        self.first_pair + number
    }

    fn transfer(&self, row: usize, column: usize) -> f64 {
        self.transfer[row * self.n_ports + column]
    }

    /// Extra current and slopes at a port that has a law of its own now.
    fn extra(&self, active: &Active, volts: &[f64]) -> (f64, Vec<f64>) {
        let mut slopes = vec![0.0; volts.len()];
        let mut amps = match &active.law {
            None => 0.0,
            Some(Law::Line { siemens, amps }) => {
                slopes[0] = *siemens;
                siemens * volts[0] + amps
            }
            Some(Law::Curve(curve)) => {
                let sample = curve.at(volts[0]);
                slopes[0] = sample.siemens;
                sample.amps
            }
            Some(Law::Driven(law)) => law.at(volts, &mut slopes),
            // Given voltages and clamps never come here: `solve` refuses them.
            Some(Law::Volts(_) | Law::Clamp { .. }) => f64::NAN,
        };
        if let Some((base, offset)) = self.base.get(active.port) {
            for ((slope, base), volts) in slopes.iter_mut().zip(base).zip(volts) {
                *slope -= base;
                amps -= base * volts;
            }
            amps -= offset;
        }
        (amps, slopes)
    }

    /// The ports whose volts an active goes with.
    fn ports_of(&self, active: &Active) -> Vec<usize> {
        self.ports.get(active.port).cloned().unwrap_or_else(|| vec![active.port])
    }

    /// Solves with the given changes; curves that are not changed keep their own law.
    ///
    /// `None` when it does not settle, or when a net loses its path to ground: then the whole
    /// network has to be solved.
    pub fn solve(&self, changes: &[Active], start: Option<&Small>) -> Option<Small> {
        let touches_given = changes.iter().any(|active| {
            matches!(self.laws.get(active.port), Some(Law::Volts(_)))
                || matches!(active.law, Some(Law::Volts(_) | Law::Clamp { .. }))
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
                let stays = settled.as_ref().is_some_and(|small| self.is_quiet(port, small));
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
    fn is_quiet(&self, element: usize, small: &Small) -> bool {
        let volts: Vec<f64> =
            self.ports[element].iter().map(|&port| self.volts_at(small, port)).collect();
        let active = Active { port: element, law: Some(self.laws[element].clone()) };
        let extra = self.extra(&active, &volts).0.abs();
        let (base, offset) = &self.base[element];
        let amps = offset + base.iter().zip(&volts).map(|(base, volts)| base * volts).sum::<f64>();
        extra * self.reach[element] <= QUIET_VOLTS * (1.0 + volts[0].abs())
            && extra <= QUIET_AMPS + QUIET_SHARE * amps.abs()
    }

    fn volts_at(&self, small: &Small, port: usize) -> f64 {
        let row = &self.transfer[port * self.n_ports..(port + 1) * self.n_ports];
        let driven = small.extra.iter().map(|extra| row[extra.port] * extra.amps);
        self.volts[port] - driven.sum::<f64>()
    }

    /// Solves for exactly these ports.
    fn settle(&self, actives: &[Active], start: Option<&Small>) -> Option<Small> {
        let theirs: Vec<Vec<usize>> = actives.iter().map(|active| self.ports_of(active)).collect();
        let mut ports: Vec<usize> = theirs.iter().flatten().copied().collect();
        ports.sort_unstable();
        ports.dedup();
        let n = ports.len();
        // The place of a port in the small system; every port of an active has one.
        let place = |port: &usize| ports.binary_search(port).unwrap_or(0);
        let places: Vec<Vec<usize>> =
            theirs.iter().map(|own| own.iter().map(place).collect()).collect();
        let known = |port: usize| {
            let start = start?;
            let idx = start.ports.iter().position(|known| *known == port)?;
            Some(start.volts[idx])
        };
        let first: Vec<f64> =
            ports.iter().map(|&port| known(port).unwrap_or(self.volts[port])).collect();
        let mut held: Vec<Vec<f64>> =
            places.iter().map(|own| own.iter().map(|&place| first[place]).collect()).collect();
        let mut at = first;
        let is_linear = actives
            .iter()
            .all(|active| !matches!(active.law, Some(Law::Curve(_) | Law::Driven(_))));
        for iteration in 0..STEPS {
            // (I + H S) v = v⁰ − H (j − S v_held)
            let mut matrix = vec![0.0; n * n];
            let mut right: Vec<f64> = ports.iter().map(|&port| self.volts[port]).collect();
            for i in 0..n {
                matrix[i * n + i] = 1.0;
            }
            for ((active, places), held) in actives.iter().zip(&places).zip(&held) {
                let (mut amps, slopes) = self.extra(active, held);
                amps -= slopes.iter().zip(held).map(|(slope, held)| slope * held).sum::<f64>();
                for (i, &port) in ports.iter().enumerate() {
                    let h = self.transfer(port, active.port);
                    right[i] -= h * amps;
                    for (&column, slope) in places.iter().zip(&slopes) {
                        matrix[i * n + column] += h * slope;
                    }
                }
            }
            let factors = SmallFactors::new(matrix, n)?;
            let mut new = factors.solve(right);
            let mut furthest = 0.0_f64;
            let mut bent = false;
            // Walks that stop part by part may run in circles; those that stop together do not.
            let together = iteration >= SOON;
            if together {
                let share =
                    actives.iter().zip(&held).zip(&places).map(|((active, held), places)| {
                        let wanted: Vec<f64> = places.iter().map(|&place| new[place]).collect();
                        match &active.law {
                            Some(Law::Driven(law)) => corner_share(law.as_ref(), &wanted, held),
                            _ => 1.0,
                        }
                    });
                let share = share.fold(1.0, f64::min);
                if share < 1.0 {
                    bent = true;
                    go_along(share, &mut new, &at);
                }
            }
            at.clone_from(&new);
            for ((active, held), places) in actives.iter().zip(&mut held).zip(&places) {
                let volts: Vec<f64> = places.iter().map(|&place| new[place]).collect();
                let mut allowed = volts.clone();
                match &active.law {
                    Some(Law::Curve(curve)) => {
                        bent |= curve.segment(volts[0]) != curve.segment(held[0]);
                        allowed[0] = curve.limit(volts[0], held[0]);
                    }
                    Some(Law::Driven(law)) => {
                        bent |= law.segment(&volts) != law.segment(held);
                        law.limit(&mut allowed, held);
                        if !together {
                            stop_at_corner(law.as_ref(), &mut allowed, held);
                        }
                    }
                    _ => {}
                }
                for ((allowed, held), volts) in allowed.iter().zip(held.iter()).zip(&volts) {
                    let tolerance = 1e-9 * (1.0 + volts.abs());
                    furthest = furthest
                        .max((allowed - held).abs() / tolerance)
                        .max((allowed - volts).abs() / tolerance);
                }
                *held = allowed;
            }
            if is_linear || (furthest <= 1.0 && !bent) {
                let extra: Vec<Extra> = actives
                    .iter()
                    .zip(&held)
                    .zip(&places)
                    .map(|((active, held), places)| {
                        let (amps, slopes) = self.extra(active, held);
                        let slopes = places.iter().copied().zip(slopes).collect();
                        Extra { port: active.port, amps, slopes }
                    })
                    .collect();
                let sound = extra.iter().all(|extra| extra.amps.is_finite())
                    && new.iter().all(|volts| volts.is_finite());
                return sound.then_some(Small { ports, volts: new, extra, factors });
            }
        }
        None
    }

    /// Volts at every port of a solved small system.
    pub fn volts(&self, small: &Small) -> Vec<f64> {
        let mut volts = self.volts.clone();
        for extra in &small.extra {
            let column = &self.columns[extra.port * self.n_ports..(extra.port + 1) * self.n_ports];
            for (volts, h) in volts.iter_mut().zip(column) {
                *volts -= h * extra.amps;
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
        let mut right = vec![0.0; small.ports.len()];
        for extra in &small.extra {
            for &(place, slope) in &extra.slopes {
                right[place] += slope * meter[extra.port];
            }
        }
        let weights = small.factors.solve_transposed(right);
        let mut answers: Vec<f64> = meter.iter().map(|h| -h).collect();
        for (&port, weight) in small.ports.iter().zip(&weights) {
            for (answer, h) in answers.iter_mut().zip(row(port)) {
                *answer += weight * h;
            }
        }
        answers
    }

    /// The ports whose volts drive an element: its own, then those that it senses.
    pub fn driving(&self, element: usize) -> &[usize] {
        &self.ports[element]
    }

    /// The law of an element.
    pub fn law(&self, element: usize) -> &Law {
        &self.laws[element]
    }
}

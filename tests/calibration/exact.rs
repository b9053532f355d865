//! The exact posterior of the board of nine resistors: tolerances and drift integrated out by
//! importance sampling around the linearised posterior (Gauss-Newton to the likeliest part values,
//! and the Gaussian around them), with no approximation but the number of samples.

use crate::chance::Chance;
use crate::pilot::{CLASSES, DRIFT, PART, PARTS, SOURCE, deviation, solve};

/// The linearised posterior of the parts at one factor of a class: Gauss-Newton to the likeliest
/// part values, and the Gaussian around them.
struct Around {
    /// Logarithms of the part values over their nominal ones.
    at: [f64; 9],
    /// Lower triangle of the factors of the precision.
    lower: [[f64; 9]; 9],
    /// Logarithm of the evidence as the Gaussian has it.
    evidence: f64,
}

fn board(at: &[f64; 9], part: usize, factor: f64) -> [f64; 9] {
    let mut siemens = [0.0; 9];
    for (idx, (siemens, &(_, _, ohms))) in siemens.iter_mut().zip(&PARTS).enumerate() {
        let log = if idx == part { factor } else { at[idx] };
        *siemens = (-log).exp() / ohms;
    }
    siemens
}

/// Logarithm of likelihood times prior of the part values; the part at fault has no spread.
fn joint(y: &[f64; 4], volts: &[f64; 4], at: &[f64; 9], part: usize) -> f64 {
    let circle = std::f64::consts::TAU.ln();
    let mut total = 0.0;
    for (y, volts) in y.iter().zip(volts) {
        let deviation = deviation(*volts);
        total -= 0.5 * (((y - volts) / deviation).powi(2) + circle) + deviation.ln();
    }
    for (idx, at) in at.iter().enumerate() {
        if idx != part {
            total -= 0.5 * ((at / PART).powi(2) + circle) + PART.ln();
        }
    }
    total
}

impl Around {
    fn new(y: &[f64; 4], part: usize, factor: f64) -> Around {
        let mut at = [0.0; 9];
        let mut lower = [[0.0; 9]; 9];
        for round in 0..4 {
            let siemens = board(&at, part, factor);
            let (volts, inverse) = solve(&siemens);
            // Slopes of the volts in the logarithms of the ohms.
            let mut slopes = [[0.0; 4]; 9];
            for (idx, &(a, b, _)) in PARTS.iter().enumerate() {
                if idx == part {
                    continue;
                }
                let at = |node: usize| match node {
                    0 => SOURCE,
                    1..=4 => volts[node - 1],
                    _ => 0.0,
                };
                let amps = siemens[idx] * (at(a) - at(b));
                for (k, slope) in slopes[idx].iter_mut().enumerate() {
                    let of = |node: usize| {
                        if (1..=4).contains(&node) { inverse[k][node - 1] } else { 0.0 }
                    };
                    *slope = amps * (of(a) - of(b));
                }
            }
            let weights = volts.map(|volts| deviation(volts).powi(-2));
            let mut matrix = [[0.0; 9]; 9];
            let mut right = [0.0; 9];
            for i in 0..9 {
                matrix[i][i] += if i == part { 1.0 } else { PART.powi(-2) };
                for k in 0..4 {
                    let ahead: f64 =
                        y[k] - volts[k] + (0..9).map(|j| slopes[j][k] * at[j]).sum::<f64>();
                    right[i] += weights[k] * slopes[i][k] * ahead;
                    for j in 0..9 {
                        matrix[i][j] += weights[k] * slopes[i][k] * slopes[j][k];
                    }
                }
            }
            lower = cholesky(&matrix);
            if round < 3 {
                at = backward(&lower, &forward(&lower, &right));
                // A far point is no use: it is only a proposal.
                at.iter_mut().for_each(|at| *at = at.clamp(-6.0 * PART, 6.0 * PART));
            }
        }
        let (volts, _) = solve(&board(&at, part, factor));
        let half_determinant: f64 = (0..9).map(|idx| lower[idx][idx].ln()).sum();
        let evidence =
            joint(y, &volts, &at, part) + 4.0 * std::f64::consts::TAU.ln() - half_determinant;
        Around { at, lower, evidence }
    }

    /// The evidence by one importance sample, over that of the Gaussian; a pair of opposite samples
    /// takes out what is odd in it.
    fn sample(&self, y: &[f64; 4], part: usize, factor: f64, chance: &mut Chance) -> f64 {
        let mut normal = [0.0; 9];
        for (idx, normal) in normal.iter_mut().enumerate() {
            *normal = if idx == part { 0.0 } else { chance.normal() };
        }
        let step = backward(&self.lower, &normal);
        let square: f64 = normal.iter().map(|normal| normal * normal).sum();
        let (volts, _) = solve(&board(&self.at, part, factor));
        let peak = joint(y, &volts, &self.at, part);
        [1.0, -1.0]
            .map(|sign| {
                let mut at = self.at;
                at.iter_mut().zip(&step).for_each(|(at, step)| *at += sign * step);
                let (volts, _) = solve(&board(&at, part, factor));
                (joint(y, &volts, &at, part) - peak + 0.5 * square).exp()
            })
            .iter()
            .sum::<f64>()
            / 2.0
    }
}

fn cholesky(matrix: &[[f64; 9]; 9]) -> [[f64; 9]; 9] {
    let mut lower = [[0.0; 9]; 9];
    for i in 0..9 {
        for j in 0..=i {
            let sum: f64 = (0..j).map(|k| lower[i][k] * lower[j][k]).sum();
            lower[i][j] = if i == j {
                (matrix[i][i] - sum).sqrt()
            } else {
                (matrix[i][j] - sum) / lower[j][j]
            };
        }
    }
    lower
}

fn forward(lower: &[[f64; 9]; 9], right: &[f64; 9]) -> [f64; 9] {
    let mut found = [0.0; 9];
    for i in 0..9 {
        let sum: f64 = (0..i).map(|k| lower[i][k] * found[k]).sum();
        found[i] = (right[i] - sum) / lower[i][i];
    }
    found
}

fn backward(lower: &[[f64; 9]; 9], right: &[f64; 9]) -> [f64; 9] {
    let mut found = [0.0; 9];
    for i in (0..9).rev() {
        let sum: f64 = (i + 1..9).map(|k| lower[k][i] * found[k]).sum();
        found[i] = (right[i] - sum) / lower[i][i];
    }
    found
}

/// Places along a drift line at first, per side, and how close they are where it matters.
const COARSE: usize = 60;
const CLOSE: f64 = 0.004;
/// Nats below the best that still matter.
const DEEP: f64 = 14.0;
/// Sample pairs per fixed class, and per place of a line at most.
const SAMPLES: usize = 150;

/// Probabilities of the 27 classes, the tolerances and the drift integrated out by importance
/// sampling around the linearised posterior.
pub fn exact(y: &[f64; 4], chance: &mut Chance) -> [f64; CLASSES] {
    // The Gaussian evidence of every place first: (place, weight in the integral, Gaussian).
    let mut lines: Vec<Vec<(f64, f64, Around)>> = Vec::new();
    let length = (DRIFT[1] / DRIFT[0]).ln() + (DRIFT[3] / DRIFT[2]).ln();
    for class in 0..CLASSES {
        let part = class / 3;
        match class % 3 {
            0 => lines.push(vec![(25.0, 1.0, Around::new(y, part, 25.0))]),
            1 => {
                let short = 1e-3_f64.ln();
                lines.push(vec![(short, 1.0, Around::new(y, part, short))]);
            }
            _ => {
                let mut line = Vec::new();
                for ends in [[DRIFT[0], DRIFT[1]], [DRIFT[2], DRIFT[3]]] {
                    let [low, high] = ends.map(f64::ln);
                    let mut places: Vec<(f64, Around)> = (0..=COARSE)
                        .map(|idx| low + (high - low) * idx as f64 / COARSE as f64)
                        .map(|place| (place, Around::new(y, part, place)))
                        .collect();
                    loop {
                        let best = places.iter().map(|(_, around)| around.evidence);
                        let best = best.fold(f64::NEG_INFINITY, f64::max);
                        let mut finer = Vec::new();
                        let mut places_iter = places.into_iter().peekable();
                        let mut added = false;
                        while let Some((place, around)) = places_iter.next() {
                            let next = places_iter.peek().map(|(next, other)| {
                                let matters = around.evidence.max(other.evidence) > best - DEEP;
                                (*next, matters)
                            });
                            finer.push((place, around));
                            if let Some((next, true)) = next
                                && next - place > CLOSE
                            {
                                let middle = 0.5 * (place + next);
                                finer.push((middle, Around::new(y, part, middle)));
                                added = true;
                            }
                        }
                        places = finer;
                        if !added {
                            break;
                        }
                    }
                    let at: Vec<f64> = places.iter().map(|(place, _)| *place).collect();
                    for (idx, (place, around)) in places.into_iter().enumerate() {
                        let before = at[idx.saturating_sub(1)];
                        let after = at[(idx + 1).min(at.len() - 1)];
                        line.push((place, 0.5 * (after - before) / length, around));
                    }
                }
                lines.push(line);
            }
        }
    }
    let logs = |line: &[(f64, f64, Around)]| {
        let top = line.iter().map(|(_, _, around)| around.evidence);
        let top = top.fold(f64::NEG_INFINITY, f64::max);
        let sum: f64 =
            line.iter().map(|(_, weight, around)| weight * (around.evidence - top).exp()).sum();
        (top, top + sum.ln())
    };
    let gaussian: Vec<(f64, f64)> = lines.iter().map(|line| logs(line)).collect();
    let best = gaussian.iter().map(|(_, all)| *all).fold(f64::NEG_INFINITY, f64::max);
    let mut masses = [0.0; CLASSES];
    for (class, line) in lines.iter().enumerate() {
        let (top, all) = gaussian[class];
        if all < best - 16.0 {
            masses[class] = (all - best).exp();
            continue;
        }
        let part = class / 3;
        let total: f64 = (all - top).exp();
        for (place, weight, around) in line {
            let mass = weight * (around.evidence - top).exp();
            // As many samples as its share of the class asks for, one at least.
            let n = ((SAMPLES as f64 * mass / total).ceil() as usize).clamp(1, SAMPLES);
            let factor: f64 = if mass > 1e-6 * total {
                (0..n).map(|_| around.sample(y, part, *place, chance)).sum::<f64>() / n as f64
            } else {
                1.0
            };
            masses[class] += mass * factor * (top - best).exp();
        }
    }
    let sum: f64 = masses.iter().sum();
    masses.map(|mass| mass / sum)
}

//! Figures of calibration: coverage and size of sets, log loss, first place, calibration error,
//! ranks; each with its Monte Carlo error.
#![allow(dead_code, reason = "the test and the bench use their own parts of it")]

use statrs::distribution::{ChiSquared, ContinuousCDF};

/// A mean that is taken as the draws come, with its standard error.
#[derive(Debug, Clone, Copy, Default)]
pub struct Mean {
    n: f64,
    sum: f64,
    squares: f64,
}

impl Mean {
    pub fn add(&mut self, value: f64) {
        self.n += 1.0;
        self.sum += value;
        self.squares += value * value;
    }

    pub fn count(&self) -> f64 {
        self.n
    }

    pub fn value(&self) -> f64 {
        self.sum / self.n.max(1.0)
    }

    /// One standard error of the mean.
    pub fn error(&self) -> f64 {
        let variance = (self.squares / self.n.max(1.0) - self.value().powi(2)).max(0.0);
        (variance / self.n.max(1.0)).sqrt()
    }
}

/// The level of the sets.
pub const LEVEL: f64 = 0.99;
/// Bins of the calibration error.
const BINS: usize = 15;

/// What is known after some draws, each a list of class probabilities and the class that was true.
#[derive(Debug, Clone, Default)]
pub struct Figures {
    /// Whether the true class is in the randomised 99 % set, as a probability.
    pub coverage: Mean,
    /// Classes in the randomised set.
    pub size: Mean,
    /// Minus the logarithm of the true class's probability.
    pub loss: Mean,
    /// Whether the likeliest class is the true one, or in a group with it.
    pub first: Mean,
    /// Probabilities of classes, and whether they were true.
    pairs: Vec<(f64, bool)>,
    /// The same of the likeliest class alone.
    tops: Vec<(f64, bool)>,
}

/// The smallest probability in a log loss: a class that is ruled out by underflow.
const LEAST: f64 = 1e-30;

impl Figures {
    /// Counts a draw. `same` says whether a class cannot be told from the true one.
    pub fn add(&mut self, shares: &[f64], truth: usize, same: impl Fn(usize) -> bool) {
        let mut order: Vec<usize> = (0..shares.len()).collect();
        order.sort_by(|a, b| shares[*b].total_cmp(&shares[*a]));
        let (mut sum, mut size, mut covered) = (0.0, 0.0, 0.0);
        for &class in &order {
            let share = shares[class];
            // The class that crosses the level is in the set as often as makes it exact.
            let part = if share > 0.0 { ((LEVEL - sum) / share).clamp(0.0, 1.0) } else { 0.0 };
            size += part;
            if class == truth {
                covered = part;
            }
            sum += share;
            if sum >= LEVEL {
                break;
            }
        }
        self.coverage.add(covered);
        self.size.add(size);
        self.loss.add(-shares[truth].max(LEAST).ln());
        let top = order[0];
        self.first.add(f64::from(u8::from(top == truth || same(top))));
        self.tops.push((shares[top], top == truth));
        self.pairs.extend(shares.iter().enumerate().map(|(class, share)| (*share, class == truth)));
    }

    /// Expected calibration error over all class probabilities, and what chance alone would make.
    pub fn calibration(&self) -> (f64, f64) {
        calibration_error(self.pairs.clone())
    }

    /// The same over the probabilities of the likeliest class alone.
    pub fn top_calibration(&self) -> (f64, f64) {
        calibration_error(self.tops.clone())
    }
}

/// Mean distance between probability and frequency over bins of equal count; and the mean that it
/// would have by chance if the probabilities were exact.
fn calibration_error(mut pairs: Vec<(f64, bool)>) -> (f64, f64) {
    pairs.sort_by(|a, b| a.0.total_cmp(&b.0));
    let n = pairs.len();
    let (mut error, mut chance) = (0.0, 0.0);
    for bin in 0..BINS {
        let bin = &pairs[bin * n / BINS..(bin + 1) * n / BINS];
        let sum: f64 = bin.iter().map(|(share, _)| share).sum();
        let hits = bin.iter().filter(|(_, hit)| *hit).count() as f64;
        let variance: f64 = bin.iter().map(|(share, _)| share * (1.0 - share)).sum();
        error += (sum - hits).abs() / n as f64;
        chance += (2.0 / std::f64::consts::PI * variance).sqrt() / n as f64;
    }
    (error, chance)
}

/// Bins of a rank histogram.
pub const RANK_BINS: usize = 20;

/// How likely chance makes ranks, each between zero and one, at least as uneven as these.
pub fn even(ranks: &[f64]) -> f64 {
    let mut bins = [0.0; RANK_BINS];
    for rank in ranks {
        bins[((rank * RANK_BINS as f64) as usize).min(RANK_BINS - 1)] += 1.0;
    }
    let expected = ranks.len() as f64 / RANK_BINS as f64;
    let chi: f64 = bins.iter().map(|count| (count - expected).powi(2) / expected).sum();
    ChiSquared::new(RANK_BINS as f64 - 1.0).expect("above zero").sf(chi)
}

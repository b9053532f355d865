//! The information that one reading is expected to give.
//!
//! # Formula
//!
//! A class c, of probability P_c, predicts a reading y with a density f_c(y) that is a mixture of
//! normal ones; f is the sum of all, and
//!
//! ```text
//! I(class; y) = Σ_c ∫ f_c log₂ ( f_c / (P_c f) ) dy
//! ```
//!
//! in bits (C. E. Shannon, "A mathematical theory of communication", Bell System Technical Journal
//! 27, 1948). The integral is taken numerically, piece by piece between whole standard deviations of
//! every part, by the rule of Gauss and Legendre with three points. Readings that are no numbers, OL
//! or a beep, are summed.

use std::collections::BTreeMap;

/// What one class predicts with one of its values: a share, and what the meter would show.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Part {
    /// Parts of one class need not be told apart.
    pub class: usize,
    /// How likely it is; weights need not add up to one. A part without a weight above zero, or with
    /// a mean that is not finite, is left out.
    pub weight: f64,
    /// What the meter would show.
    pub shows: Shows,
}

/// What the meter would show.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Shows {
    /// A number, spread around a mean.
    Number {
        /// The mean.
        mean: f64,
        /// One standard uncertainty.
        sigma: f64,
    },
    /// OL.
    Over,
    /// A beep or none, a light or none.
    Flag(bool),
}

/// Standard deviations from a mean beyond which nothing is seen of a part.
const FAR: i32 = 6;
/// Parts nearer than this, in standard deviations, stand at one place. What that costs grows with the
/// distance itself: at 0.02 it came to seven thousandths of a bit.
const SAME: f64 = 0.001;
/// Standard deviations are not below this share of their mean, nor of one unit.
const LEAST: f64 = 1e-12;
/// Places and weights of the rule with three points, on −1 to 1.
const GAUSS: [(f64, f64); 3] =
    [(-0.774_596_669_241_483_4, 5.0 / 9.0), (0.0, 8.0 / 9.0), (0.774_596_669_241_483_4, 5.0 / 9.0)];

/// Parts at one place of the scale.
struct Spot {
    mean: f64,
    sigma: f64,
    /// Classes by their place in the list of all, with their weights.
    classes: Vec<(usize, f64)>,
}

/// What a reading is expected to tell about the class, in bits, to about a thousandth.
///
/// ```
/// use ohmhound::plan::{Part, Shows, information};
///
/// let at = |class, mean| Part { class, weight: 0.5, shows: Shows::Number { mean, sigma: 0.1 } };
/// assert!((information(&[at(0, 0.0), at(1, 5.0)]) - 1.0).abs() < 1e-3);
/// assert!(information(&[at(0, 0.0), at(1, 0.0)]) < 1e-3);
/// ```
pub fn information(parts: &[Part]) -> f64 {
    let counts = |part: &&Part| {
        let finite = !matches!(part.shows, Shows::Number { mean, sigma }
            if !mean.is_finite() || !sigma.is_finite());
        part.weight > 0.0 && part.weight.is_finite() && finite
    };
    let parts: Vec<&Part> = parts.iter().filter(counts).collect();
    let total: f64 = parts.iter().map(|part| part.weight).sum();
    // Classes in order, with their probabilities.
    let mut shares: BTreeMap<usize, f64> = BTreeMap::new();
    for part in &parts {
        *shares.entry(part.class).or_default() += part.weight / total;
    }
    if shares.len() < 2 {
        return 0.0;
    }
    let numbers: BTreeMap<usize, usize> = shares.keys().copied().zip(0..).collect();
    let shares: Vec<f64> = shares.into_values().collect();
    let mut spots: Vec<Spot> = Vec::new();
    // Per kind of reading that is no number, the weights of the classes.
    let mut atoms: [Vec<f64>; 3] = std::array::from_fn(|_| vec![0.0; shares.len()]);
    for part in parts {
        let (class, weight) = (numbers[&part.class], part.weight / total);
        match part.shows {
            Shows::Number { mean, sigma } => put(&mut spots, (mean, sigma), (class, weight)),
            Shows::Over => atoms[0][class] += weight,
            Shows::Flag(flag) => atoms[1 + usize::from(flag)][class] += weight,
        }
    }
    let of_atoms: f64 = atoms.iter().map(|weights| told(weights, &shares)).sum();
    (of_atoms + of_numbers(&spots, &shares)).max(0.0)
}

/// Σ_c f_c log₂ ( f_c / (P_c f) ) at one reading.
fn told(densities: &[f64], shares: &[f64]) -> f64 {
    let all: f64 = densities.iter().sum();
    if all <= 0.0 {
        return 0.0;
    }
    let each = densities.iter().zip(shares);
    each.filter(|(own, _)| **own > 0.0).map(|(own, share)| own * (own / (share * all)).log2()).sum()
}

/// Puts a part to those at its place.
fn put(spots: &mut Vec<Spot>, (mean, sigma): (f64, f64), (class, weight): (usize, f64)) {
    let sigma = sigma.abs().max(LEAST * (1.0 + mean.abs()));
    let near = |spot: &&mut Spot| {
        let least = spot.sigma.min(sigma);
        (spot.mean - mean).abs() <= SAME * least && (spot.sigma - sigma).abs() <= SAME * least
    };
    let Some(spot) = spots.iter_mut().find(near) else {
        spots.push(Spot { mean, sigma, classes: vec![(class, weight)] });
        return;
    };
    match spot.classes.iter_mut().find(|(known, _)| *known == class) {
        Some((_, known)) => *known += weight,
        None => spot.classes.push((class, weight)),
    }
}

fn of_numbers(spots: &[Spot], shares: &[f64]) -> f64 {
    let mut ends: Vec<f64> = spots
        .iter()
        .flat_map(|spot| (-FAR..=FAR).map(|far| spot.mean + f64::from(far) * spot.sigma))
        .collect();
    ends.sort_by(f64::total_cmp);
    let mut densities = vec![0.0; shares.len()];
    let mut bits = 0.0;
    let root = (2.0 * std::f64::consts::PI).sqrt();
    let reach = |spot: &&Spot, low: f64, high: f64| {
        let far = f64::from(FAR) * spot.sigma;
        low < spot.mean + far && high > spot.mean - far
    };
    for piece in ends.windows(2) {
        let (low, high) = (piece[0], piece[1]);
        let here: Vec<&Spot> = spots.iter().filter(|spot| reach(spot, low, high)).collect();
        if here.is_empty() || high <= low {
            continue;
        }
        let half = 0.5 * (high - low);
        for (place, weight) in GAUSS {
            let y = low + half * (1.0 + place);
            densities.fill(0.0);
            for spot in &here {
                let z = (y - spot.mean) / spot.sigma;
                let density = (-0.5 * z * z).exp() / (root * spot.sigma);
                for &(class, weight) in &spot.classes {
                    densities[class] += weight * density;
                }
            }
            bits += weight * half * told(&densities, shares);
        }
    }
    bits
}

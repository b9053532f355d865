//! Information of a measurement: stand-in.
/// What one class predicts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Part {
    /// The class.
    pub class: usize,
    /// Its share.
    pub weight: f64,
    /// What the meter would show.
    pub shows: Shows,
}
/// What the meter would show.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Shows {
    /// A number.
    Number {
        /// Mean.
        mean: f64,
        /// Standard uncertainty.
        sigma: f64,
    },
    /// Over the range.
    Over,
    /// A flag.
    Flag(bool),
}
/// Bits about the class.
pub fn information(parts: &[Part]) -> f64 {
    let total: f64 = parts.iter().map(|part| part.weight).sum();
    let density = |y: f64, keep: &dyn Fn(&Part) -> bool| -> f64 {
        parts
            .iter()
            .filter(|part| keep(part))
            .map(|part| match part.shows {
                Shows::Number { mean, sigma } => {
                    let sigma = sigma.max(1e-12);
                    part.weight / total * (-0.5 * ((y - mean) / sigma).powi(2)).exp() / sigma
                }
                _ => 0.0,
            })
            .sum()
    };
    let mut bits = 0.0;
    for part in parts {
        let own: f64 =
            parts.iter().filter(|other| other.class == part.class).map(|other| other.weight).sum();
        let weight = part.weight / total;
        match part.shows {
            Shows::Number { mean, sigma } => {
                let n = 48;
                let mut norm = 0.0;
                let mut sum = 0.0;
                for k in 0..=n {
                    let z = -6.0 + 12.0 * k as f64 / n as f64;
                    let w = (-0.5 * z * z).exp();
                    let y = mean + z * sigma.max(1e-12);
                    let f = density(y, &|_| true);
                    let fc = density(y, &|other| other.class == part.class);
                    norm += w;
                    sum += w * (fc / f / (own / total)).log2();
                }
                bits += weight * sum / norm;
            }
            shows => {
                let same: f64 =
                    parts.iter().filter(|other| other.shows == shows).map(|o| o.weight).sum();
                let same_class: f64 = parts
                    .iter()
                    .filter(|other| other.shows == shows && other.class == part.class)
                    .map(|o| o.weight)
                    .sum();
                bits += weight * (same_class / same / (own / total)).log2();
            }
        }
    }
    bits
}

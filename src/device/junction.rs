//! The exponential junction with series resistance and soft reverse breakdown.
//!
//! # Formula
//!
//! ```text
//! i(u) = Is (exp(u / s) − 1)  −  Ib (exp((−u − Vb) / sb) − exp(−Vb / sb))  +  floor · min(u, 0)
//! v    = u + Rs i(u)
//! ```
//!
//! in amps, volts and ohms, with `s` the ideality times the thermal voltage kT/q (W. Shockley, "The
//! theory of p-n junctions in semiconductors", Bell System Technical Journal 28, 1949, for the first
//! term). The second term is the same exponential fitted through the breakdown point; its scale `sb`
//! is what makes a knee soft. Above `TAIL_AMPS` both exponentials go on as their tangents, so that
//! every finite voltage has a finite current.

use super::law::{Curve, Sample};

/// Boltzmann's constant over the elementary charge, in volts per kelvin (exact by the SI of 2019:
/// 1.380649e-23 J/K over 1.602176634e-19 C).
const BOLTZMANN_OVER_CHARGE: f64 = 1.380_649e-23 / 1.602_176_634e-19;

/// Conductance kept across a reverse-biased junction, in siemens. At 10 V it leaks 1 pA, far below
/// the last digit of a hand-held meter; it keeps nets between two blocked junctions defined.
pub(super) const REVERSE_FLOOR: f64 = 1e-13;

/// Current above which the exponentials go on as straight lines, in amps: far above anything that
/// a board carries.
pub(super) const TAIL_AMPS: f64 = 1e4;

/// The thermal voltage kT/q in volts.
pub(super) fn thermal_volts(celsius: f64) -> f64 {
    BOLTZMANN_OVER_CHARGE * (celsius + super::thermistor::ZERO_CELSIUS)
}

/// A junction, current counted from anode to cathode.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Junction {
    /// Saturation current Is in amps.
    pub saturation: f64,
    /// Volts per e-fold of forward current.
    pub scale: f64,
    /// Series resistance Rs in ohms.
    pub series: f64,
    /// Reverse breakdown, if it has one.
    pub breakdown: Option<Breakdown>,
}

/// The reverse breakdown of a junction.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Breakdown {
    /// Reverse volts Vb at the reverse current below.
    pub volts: f64,
    /// Reverse current Ib at those volts, in amps.
    pub amps: f64,
    /// Volts per e-fold of reverse current.
    pub scale: f64,
}

/// `amps · exp(x)` and its slope by x, going on as a tangent above [`TAIL_AMPS`].
fn exponential(amps: f64, x: f64) -> (f64, f64) {
    // Far below, the result is zero to any digit, and the library's way there is slow.
    if x < -600.0 {
        return (0.0, 0.0);
    }
    let value = amps * x.exp();
    if value <= TAIL_AMPS {
        return (value, value);
    }
    let x_tail = (TAIL_AMPS / amps).ln();
    (TAIL_AMPS * (1.0 + x - x_tail), TAIL_AMPS)
}

/// How a datasheet drop moves with temperature, in volts per kelvin (silicon; common practice, from
/// memory).
pub(super) const DROP_PER_KELVIN: f64 = -2e-3;

/// The saturation current of a junction through a drop at a current, both at 25 °C; what a series
/// resistance takes of the drop is left out of `volts`.
pub(super) fn saturation_through(volts: f64, amps: f64, scale: f64, celsius: f64) -> f64 {
    let volts = volts + DROP_PER_KELVIN * (celsius - 25.0);
    // A drop that a fault, the heat or the series resistance took away is held at a tenth of the
    // thermal scale.
    amps / (volts.max(0.1 * scale) / scale).exp_m1()
}

impl Junction {
    /// A junction without series resistance or breakdown through a drop at a current, both at
    /// 25 °C.
    pub(super) fn through(volts: f64, amps: f64, ideality: f64, celsius: f64) -> Junction {
        let scale = ideality * thermal_volts(celsius);
        let saturation = saturation_through(volts, amps, scale, celsius);
        Junction { saturation, scale, series: 0.0, breakdown: None }
    }

    /// Current and slope at `u` volts across the junction itself, series resistance left out.
    fn bare(&self, u: f64) -> Sample {
        let x = u / self.scale;
        // `exp_m1` keeps the digits of a current far below the saturation current.
        let (mut amps, mut siemens) = if x < -40.0 {
            // Nothing is left of the exponential in the sixteenth digit.
            (-self.saturation, 0.0)
        } else if x < 1.0 {
            (self.saturation * x.exp_m1(), self.saturation * x.exp() / self.scale)
        } else {
            let (value, slope) = exponential(self.saturation, x);
            (value - self.saturation, slope / self.scale)
        };
        if u < 0.0 {
            amps += REVERSE_FLOOR * u;
            siemens += REVERSE_FLOOR;
        }
        if let Some(Breakdown { volts, amps: at, scale }) = self.breakdown {
            let (value, slope) = exponential(at, (-u - volts) / scale);
            amps -= value - exponential(at, -volts / scale).0;
            siemens += slope / scale;
        }
        Sample { amps, siemens }
    }

    /// A voltage beyond the solution of v = u + Rs i(u), as seen from zero, from which Newton's
    /// method walks to it monotonically: the first term is convex, the second concave.
    fn start(&self, v: f64) -> f64 {
        if v >= 0.0 {
            v.min(self.scale * (v / (self.series * self.saturation)).ln_1p())
        } else if let Some(Breakdown { volts, amps, scale }) = self.breakdown {
            v.max(-(volts + scale * (-v / (self.series * amps)).ln_1p()))
        } else {
            v
        }
    }
}

impl Curve for Junction {
    fn at(&self, volts: f64) -> Sample {
        if self.series == 0.0 {
            return self.bare(volts);
        }
        let (_, sample) = self.inside(volts);
        Sample { amps: sample.amps, siemens: sample.siemens / (1.0 + self.series * sample.siemens) }
    }

    fn limit(&self, new: f64, old: f64) -> f64 {
        if self.series == 0.0 {
            return self.bare_limit(new, old);
        }
        // Only the junction itself bends: what its series resistance drops needs no limit. The
        // straight line through the old point says how much of the step the junction takes.
        let (u, sample) = self.inside(old);
        let wanted = u + (new - old) / (1.0 + self.series * sample.siemens);
        let allowed = self.bare_limit(wanted, u);
        if allowed == wanted { new } else { allowed + self.series * self.bare(allowed).amps }
    }
}

impl Junction {
    /// Volts across the junction itself at `volts` across the part, and its sample there.
    fn inside(&self, volts: f64) -> (f64, Sample) {
        let mut u = self.start(volts);
        let mut sample = self.bare(u);
        // Monotone convergence takes a handful of steps; the bound is for inputs at the edge of
        // the number range.
        for _ in 0..200 {
            let step =
                (u + self.series * sample.amps - volts) / (1.0 + self.series * sample.siemens);
            u -= step;
            sample = self.bare(u);
            if step.abs() <= 1e-15 * (1e-3 + u.abs()) {
                break;
            }
        }
        (u, sample)
    }

    fn bare_limit(&self, new: f64, old: f64) -> f64 {
        if let Some(Breakdown { volts, amps, scale }) = self.breakdown
            && new < -0.5 * volts
        {
            return -(volts + limited(-new - volts, -old - volts, scale, amps));
        }
        limited(new, old, self.scale, self.saturation)
    }
}

/// Logarithmic compression of a step above the critical voltage, at which the exponential's
/// curvature takes over: Vcrit = s ln(s / (√2 Is)) (the usual limiting of Newton's method for
/// junctions; from memory, treated in most texts on circuit computation).
fn limited(new: f64, old: f64, scale: f64, amps: f64) -> f64 {
    let critical = scale * (scale / (std::f64::consts::SQRT_2 * amps)).ln();
    if new <= critical || (new - old).abs() <= 2.0 * scale {
        return new;
    }
    if old > 0.0 {
        let stretch = 1.0 + (new - old) / scale;
        if stretch > 0.0 { old + scale * stretch.ln() } else { critical }
    } else {
        (scale * (new / scale).ln()).max(critical.min(new))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn plain() -> Junction {
        Junction { saturation: 1e-14, scale: 0.025_851_999_8, series: 0.0, breakdown: None }
    }

    #[test]
    fn series_resistance_adds_its_drop() {
        let bare = plain();
        let with = Junction { series: 2.5, ..bare };
        for u in [0.3, 0.5, 0.7, 0.8] {
            let amps = bare.at(u).amps;
            let found = with.at(u + 2.5 * amps).amps;
            approx::assert_relative_eq!(found, amps, max_relative = 1e-11);
        }
    }

    #[test]
    fn slope_is_the_derivative() {
        let junction = Junction {
            series: 1.0,
            breakdown: Some(Breakdown { volts: 5.1, amps: 20e-3, scale: 0.1 }),
            ..plain()
        };
        for v in [-6.0, -5.1, -4.9, -1.0, 0.2, 0.6, 0.75, 3.0] {
            let h = 1e-6;
            let slope = (junction.at(v + h).amps - junction.at(v - h).amps) / (2.0 * h);
            approx::assert_relative_eq!(
                junction.at(v).siemens,
                slope,
                max_relative = 1e-5,
                epsilon = 1e-12
            );
        }
    }

    #[test]
    fn every_voltage_has_a_finite_current() {
        let junction = Junction {
            breakdown: Some(Breakdown { volts: 5.1, amps: 20e-3, scale: 0.001 }),
            ..plain()
        };
        for v in [-1e6, -1e3, 0.0, 1e3, 1e6] {
            let sample = junction.at(v);
            assert!(sample.amps.is_finite() && sample.siemens.is_finite(), "{v}: {sample:?}");
        }
    }
}

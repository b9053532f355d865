//! One port: the line that every branch beside it moves the board along, and where it ends.

use super::SHORT_OHMS;

/// The share of its own size that a sum of resistances must leave: what is less has lost more
/// digits in the difference than an answer may.
pub(in crate::engine) const LEAST_SHARE: f64 = 1e-4;

/// Why a change is not computed from the healthy solution.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Refusal {
    /// It leaves nets without a path to ground.
    Floats,
    /// It is a short across ideal sources: a contradiction, on which no board stands.
    Sourced,
    /// Too few digits would be left: the changed network has to be solved in full.
    Imprecise,
}

/// A straight branch that is laid beside a port; taking one away is laying its negative there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shunt {
    /// Ohms: zero for a short, infinite for nothing, negative for what is taken away.
    pub ohms: f64,
    /// Volts that it stands against beside those of the port: nothing but for a real source that is
    /// taken away.
    pub volts: f64,
}

impl Shunt {
    /// A short.
    pub const SHORT: Shunt = Shunt::of(0.0);

    /// A resistance: a bridge, a leak.
    pub const fn of(ohms: f64) -> Shunt {
        Shunt { ohms, volts: 0.0 }
    }

    /// What opens a resistance of so many ohms.
    pub const fn open(ohms: f64) -> Shunt {
        Shunt::of(-ohms)
    }

    /// What makes another resistance of one; zero and infinite ohms are a short and an open.
    pub fn instead(own: f64, new: f64) -> Shunt {
        Shunt::of(1.0 / (1.0 / new - 1.0 / own))
    }

    /// The resistance that this and one of `own` ohms are together.
    pub fn beside(self, own: f64) -> f64 {
        1.0 / (1.0 / own + 1.0 / self.ohms)
    }

    pub(super) fn is_short(self) -> bool {
        (0.0..=SHORT_OHMS).contains(&self.ohms)
    }
}

/// What a port needs to know for any branch beside it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Line {
    /// The resistance looking into the port, in ohms.
    pub ohms: f64,
    /// The volts across it.
    pub volts: f64,
    /// Whether ideal sources hold the volts across it.
    pub held: bool,
}

impl Line {
    /// The amps that a branch laid beside the port carries: the coordinate on the port's line.
    ///
    /// # Errors
    ///
    /// Why it cannot be told. Whether an answer without digits is one of a net that floats, only the
    /// structure of the network tells.
    pub fn amps(&self, shunt: Shunt) -> Result<f64, Refusal> {
        if self.held && shunt.is_short() {
            return Err(Refusal::Sourced);
        }
        if shunt.ohms.is_infinite() {
            return Ok(0.0);
        }
        let bottom = shunt.ohms + self.ohms;
        let sound = bottom.abs() >= LEAST_SHARE * (shunt.ohms.abs() + self.ohms.abs());
        let amps = (self.volts + shunt.volts) / bottom;
        if sound && amps.is_finite() { Ok(amps) } else { Err(Refusal::Imprecise) }
    }

    /// The branch beside the port that carries so many amps; `None` where no branch does, because
    /// nothing stands across the port.
    pub fn shunt(&self, amps: f64) -> Option<Shunt> {
        let ohms = self.volts / amps - self.ohms;
        (self.volts != 0.0 && !ohms.is_nan()).then_some(Shunt::of(ohms))
    }
}

/// The amps of branches beside two ports; `mutual` holds the volts across the first per amp through
/// the second, and the other way round.
pub(super) fn both_amps(lines: [(Line, Shunt); 2], mutual: [f64; 2]) -> Result<[f64; 2], Refusal> {
    if lines.iter().any(|(line, shunt)| line.held && shunt.is_short()) {
        return Err(Refusal::Sourced);
    }
    let [(one, one_shunt), (other, other_shunt)] = lines;
    // What is not there carries nothing.
    if one_shunt.ohms.is_infinite() {
        return Ok([0.0, other.amps(other_shunt)?]);
    }
    if other_shunt.ohms.is_infinite() {
        return Ok([one.amps(one_shunt)?, 0.0]);
    }
    let [a, b] = [one_shunt.ohms + one.ohms, other_shunt.ohms + other.ohms];
    let [top_a, top_b] = [one.volts + one_shunt.volts, other.volts + other_shunt.volts];
    let bottom = a * b - mutual[0] * mutual[1];
    let size = |shunt: Shunt, line: Line| shunt.ohms.abs() + line.ohms.abs();
    let sizes = size(one_shunt, one) * size(other_shunt, other);
    if bottom.abs() < LEAST_SHARE * sizes {
        return Err(Refusal::Imprecise);
    }
    let amps = [(b * top_a - mutual[0] * top_b) / bottom, (a * top_b - mutual[1] * top_a) / bottom];
    if amps.iter().all(|amps| amps.is_finite()) { Ok(amps) } else { Err(Refusal::Imprecise) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shunts_make_other_resistances() {
        assert_eq!(Shunt::instead(1e3, 0.0), Shunt::SHORT);
        assert_eq!(Shunt::instead(1e3, f64::INFINITY), Shunt::open(1e3));
        assert!(Shunt::instead(1e3, 1e3).ohms.is_infinite());
        // 1 kΩ with 1 kΩ beside it is 500 Ω; 2 kΩ takes −2 kΩ.
        assert_eq!(Shunt::instead(1e3, 500.0), Shunt::of(1e3));
        assert_eq!(Shunt::instead(1e3, 2e3), Shunt::of(-2e3));
        assert_eq!(Shunt::of(-2e3).beside(1e3), 2e3);
        assert_eq!(Shunt::SHORT.beside(1e3), 0.0);
    }

    #[test]
    fn a_line_knows_its_way_back() {
        let line = Line { ohms: 600.0, volts: 3.0, held: false };
        for ohms in [0.0, 10.0, 1e6, -1e3, -700.0] {
            let shunt = line.shunt(line.amps(Shunt::of(ohms)).unwrap()).unwrap();
            approx::assert_relative_eq!(shunt.ohms, ohms, epsilon = 1e-9, max_relative = 1e-9);
        }
        assert_eq!(line.amps(Shunt::open(600.0)), Err(Refusal::Imprecise));
        let held = Line { ohms: 0.0, volts: 5.0, held: true };
        assert_eq!(held.amps(Shunt::of(0.5)), Err(Refusal::Sourced));
        assert_eq!(held.amps(Shunt::of(10.0)), Ok(0.5));
    }
}

//! The law of a regulator that is on: averaged over its switching, one continuous current.
//!
//! With d = V(input) − V(output), s what is compared with the reference, u = V(input) − V(ground)
//! and w = u − d = V(output) − V(ground):
//!
//! ```text
//! e = reference · ramp(u) − s                   what the output is short of
//! i = min(max(G e, minimum load), upper(..))    into the output net, never below zero
//! ```
//!
//! in volts and amps, G in siemens. `ramp` goes from 0 at no supply (of a boost: at [`BOOST_STOPS`])
//! to 1 at [`START_VOLTS`]. G is so high that the full current takes [`SHORTFALL`] of the reference:
//! the set point is that of an ideal error amplifier to six digits.
//!
//! | type | upper | current taken from the input |
//! | --- | --- | --- |
//! | series | min(limit, (d − drop) / R) | i |
//! | buck | min(limit, (d − drop) / R) | i · min(1, max(w / efficiency, w + drop + R i) / u) |
//! | boost | limit · ramp(u) / m | i · m, with m = max(1, w / u) / efficiency |
//!
//! The input current of a converter is the balance of power, P(out) = efficiency · P(in); what the
//! switch of a buck drops is part of its losses, and counts by itself where it is more than all of
//! them: all through, it takes from its input what it gives. The limit of a boost is that of its
//! input. That averaging is standard for converters in steady state
//! (R. W. Erickson, D. Maksimović, "Fundamentals of Power Electronics", chapters 2 and 3; from
//! memory).

use super::law::Driven;

/// Volts of supply at which a regulator without a lockout has come up fully. Common practice, no
/// published source.
pub(super) const START_VOLTS: f64 = 1.0;

/// The share of the reference that the output falls short at full current.
const SHORTFALL: f64 = 1e-6;

/// The full current of a regulator without a limit, in amps, for its slopes only.
const USUAL_FULL: f64 = 1.0;

/// What a regulator drops at full current when no dropout is given, in volts.
const USUAL_DROP: f64 = 1e-3;

/// Input volts of a buck below which its ratio no longer grows.
const LEAST_INPUT: f64 = 0.1;

/// Volts of supply at which a boost has stopped. Common practice, no published source.
const BOOST_STOPS: f64 = 0.5;

/// Conductance between input and output of a pass element that is off, in siemens; see
/// `junction::REVERSE_FLOOR`.
pub(super) const BLOCKED: f64 = super::junction::REVERSE_FLOOR;

/// How the output is made from the input.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Topology {
    /// A pass element between input and output.
    Series,
    /// A converter downwards.
    Buck,
    /// A converter upwards.
    Boost,
}

/// What a regulator does at the moment.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Piece {
    /// Its output is above the set point: it gives nothing but its minimum load.
    Above,
    /// It holds its set point.
    Regulating,
    /// It gives all that it may.
    Limited,
    /// It is all through, and the output follows the input.
    Dropout,
    /// The input is no higher than the output.
    Blocked,
}

/// A regulator that is on.
#[derive(Debug, Clone, Copy)]
pub(super) struct Regulation {
    pub(super) topology: Topology,
    /// The set point in terms of what is sensed, in volts.
    pub(super) reference: f64,
    /// Amps; nothing when there is none.
    pub(super) limit: Option<f64>,
    /// Volts that are lost at any current.
    pub(super) drop: f64,
    /// Ohms of the pass element when it is all through; nothing when that is not known.
    pub(super) ohms: Option<f64>,
    /// Amps that flow out of the output whatever hangs on it.
    pub(super) minimum_load: f64,
    /// Share of the input power that reaches the output.
    pub(super) efficiency: f64,
}

/// A value with its slopes by d, s and u.
#[derive(Debug, Clone, Copy)]
struct Sloped {
    value: f64,
    slopes: [f64; 3],
}

impl Sloped {
    const fn plain(value: f64) -> Sloped {
        Sloped { value, slopes: [0.0; 3] }
    }

    fn times(self, other: Sloped) -> Sloped {
        let slope = |idx: usize| self.slopes[idx] * other.value + other.slopes[idx] * self.value;
        Sloped { value: self.value * other.value, slopes: [slope(0), slope(1), slope(2)] }
    }

    fn over(self, other: Sloped) -> Sloped {
        let value = self.value / other.value;
        let slope = |idx: usize| (self.slopes[idx] - value * other.slopes[idx]) / other.value;
        Sloped { value, slopes: [slope(0), slope(1), slope(2)] }
    }
}

impl Regulation {
    fn full(&self) -> f64 {
        self.limit.unwrap_or(USUAL_FULL)
    }

    fn pass_ohms(&self) -> f64 {
        self.ohms.unwrap_or(USUAL_DROP / self.full())
    }

    /// From 0 to 1 with the supply, and the number of the stretch. A boost stops short of nothing:
    /// the less it has, the more it would take.
    fn ramp(&self, u: f64) -> (Sloped, u8) {
        let least = if self.topology == Topology::Boost { BOOST_STOPS } else { 0.0 };
        if u <= least {
            (Sloped::plain(0.0), 0)
        } else if u < START_VOLTS {
            let slope = 1.0 / (START_VOLTS - least);
            (Sloped { value: (u - least) * slope, slopes: [0.0, 0.0, slope] }, 1)
        } else {
            (Sloped::plain(1.0), 2)
        }
    }

    /// Output over input volts of a boost, never below one, and the number of the stretch. Where the
    /// ramp has taken all current away, it no longer grows, so that it stays finite.
    fn step_up([d, _, u]: [f64; 3]) -> (Sloped, u8) {
        if d >= 0.0 {
            (Sloped::plain(1.0), 0)
        } else if u <= BOOST_STOPS {
            (Sloped { value: 1.0 - d / BOOST_STOPS, slopes: [-1.0 / BOOST_STOPS, 0.0, 0.0] }, 1)
        } else {
            (Sloped { value: 1.0 - d / u, slopes: [-1.0 / u, 0.0, d / (u * u)] }, 2)
        }
    }

    /// What the current cannot exceed, and which piece it is then on.
    fn upper(&self, at: [f64; 3]) -> (Sloped, Piece) {
        let [d, _, u] = at;
        if self.topology == Topology::Boost {
            let (ramp, _) = self.ramp(u);
            // Without a limit the resistance of the pass element is what limits.
            let limit = match self.limit {
                Some(limit) => Sloped::plain(limit),
                None => {
                    let siemens = 1.0 / self.pass_ohms();
                    Sloped { value: siemens * u.max(0.0), slopes: [0.0, 0.0, siemens] }
                }
            };
            let efficiency = Sloped::plain(self.efficiency);
            let upper = limit.times(ramp).times(efficiency).over(Self::step_up(at).0);
            let piece = if upper.value <= 0.0 { Piece::Blocked } else { Piece::Limited };
            return (upper, piece);
        }
        let ohms = self.pass_ohms();
        let through = (d - self.drop) / ohms;
        match self.limit {
            _ if through <= 0.0 => (Sloped::plain(0.0), Piece::Blocked),
            Some(limit) if through > limit => (Sloped::plain(limit), Piece::Limited),
            _ => (Sloped { value: through, slopes: [1.0 / ohms, 0.0, 0.0] }, Piece::Dropout),
        }
    }

    /// The current into the output, and the piece it is on.
    fn output(&self, at: [f64; 3]) -> (Sloped, Piece) {
        let [_, s, u] = at;
        let gain = self.full() / (SHORTFALL * self.reference);
        let (ramp, _) = self.ramp(u);
        let wanted = Sloped {
            value: gain * (self.reference * ramp.value - s),
            slopes: [0.0, -gain, gain * self.reference * ramp.slopes[2]],
        };
        let (upper, piece) = self.upper(at);
        if upper.value <= 0.0 {
            return (Sloped::plain(0.0), Piece::Blocked);
        }
        if wanted.value >= upper.value || self.minimum_load >= upper.value {
            return (upper, piece);
        }
        if wanted.value <= self.minimum_load {
            return (Sloped::plain(self.minimum_load), Piece::Above);
        }
        (wanted, Piece::Regulating)
    }

    /// Input current per output current, and the number of the stretch.
    fn share(&self, at: [f64; 3]) -> (Sloped, u8) {
        let [d, _, u] = at;
        match self.topology {
            Topology::Series => (Sloped::plain(1.0), 0),
            Topology::Buck => {
                let (floored, floor) = if u > LEAST_INPUT { (1.0, 0) } else { (0.0, 4) };
                let input = Sloped { value: u.max(LEAST_INPUT), slopes: [0.0, 0.0, floored] };
                let by_power = Sloped {
                    value: (u - d) / self.efficiency,
                    slopes: [-1.0 / self.efficiency, 0.0, 1.0 / self.efficiency],
                };
                let by_power = by_power.over(input);
                // What the switch does not drop itself, it is off for.
                let current = self.output(at).0;
                let ohms = self.pass_ohms();
                let left = Sloped {
                    value: d - self.drop - ohms * current.value,
                    slopes: [
                        1.0 - ohms * current.slopes[0],
                        -ohms * current.slopes[1],
                        -ohms * current.slopes[2],
                    ],
                };
                let off = left.over(input);
                let by_time =
                    Sloped { value: 1.0 - off.value, slopes: off.slopes.map(|slope| -slope) };
                let (share, number) =
                    if by_power.value >= by_time.value { (by_power, 1) } else { (by_time, 2) };
                if share.value <= 0.0 {
                    (Sloped::plain(0.0), floor)
                } else if share.value >= 1.0 {
                    (Sloped::plain(1.0), 3 + floor)
                } else {
                    (share, number + floor)
                }
            }
            Topology::Boost => {
                let (ratio, steps_up) = Self::step_up(at);
                (ratio.over(Sloped::plain(self.efficiency)), steps_up)
            }
        }
    }

    /// What it does with d, s and u as in the head of this file.
    pub(super) fn piece(&self, at: [f64; 3]) -> Piece {
        self.output(at).1
    }

    /// Where Newton's method begins: all through, a little below its full current, as a regulator
    /// is whose output has not come up yet.
    fn first(&self) -> [f64; 3] {
        match self.topology {
            Topology::Boost => [0.0; 3],
            _ => [self.drop + 0.5 * self.full() * self.pass_ohms(), 0.0, 2.0 * START_VOLTS],
        }
    }

    /// The current into the output net, by a branch that senses d, s and u.
    pub(super) fn output_law(self) -> Output {
        Output(self)
    }

    /// The current into the output net, by a branch from ground to output that senses d and u: what
    /// is compared with the reference is the output itself.
    pub(super) fn own_output_law(self) -> OwnOutput {
        OwnOutput(Output(self))
    }

    /// The current that a converter takes from its input.
    pub(super) fn input_law(self) -> Input {
        Input(self)
    }
}

/// The three volts after a branch's own.
fn sensed(volts: &[f64]) -> [f64; 3] {
    [volts[1], volts[2], volts[3]]
}

/// The branch into the output net; it senses d, s and u.
#[derive(Debug)]
pub(super) struct Output(Regulation);

impl Driven for Output {
    fn first(&self, volts: &mut [f64]) {
        volts[1..].copy_from_slice(&self.0.first());
    }

    fn at(&self, volts: &[f64], slopes: &mut [f64]) -> f64 {
        let (current, _) = self.0.output(sensed(volts));
        slopes[0] = BLOCKED;
        slopes[1..].copy_from_slice(&current.slopes);
        current.value + BLOCKED * volts[0]
    }

    fn segment(&self, volts: &[f64]) -> Option<u32> {
        let at = sensed(volts);
        let (_, ramp) = self.0.ramp(at[2]);
        let steps_up = match self.0.topology {
            Topology::Boost => Regulation::step_up(at).1,
            _ => 0,
        };
        Some(u32::from((self.0.piece(at) as u8 * 3 + ramp) * 3 + steps_up))
    }

    /// It corrects its own output. What can latch a regulator is its enable pin, and that is a
    /// condition.
    fn holds(&self) -> bool {
        true
    }

    fn amplifies(&self) -> bool {
        false
    }
}

/// The branch from ground to an output that is itself what is held; it senses d and u. Its steep
/// slope is a conductance of its own then, which the equations of a net that nothing else holds
/// are better solved with.
#[derive(Debug)]
pub(super) struct OwnOutput(Output);

fn with_own([own, d, u]: [f64; 3]) -> [f64; 4] {
    [own, d, -own, u]
}

impl Driven for OwnOutput {
    fn first(&self, volts: &mut [f64]) {
        let [d, _, u] = self.0.0.first();
        volts[1..].copy_from_slice(&[d, u]);
    }

    fn at(&self, volts: &[f64], slopes: &mut [f64]) -> f64 {
        let mut all = [0.0; 4];
        let amps = self.0.at(&with_own([volts[0], volts[1], volts[2]]), &mut all);
        slopes.copy_from_slice(&[all[0] - all[2], all[1], all[3]]);
        amps
    }

    fn segment(&self, volts: &[f64]) -> Option<u32> {
        self.0.segment(&with_own([volts[0], volts[1], volts[2]]))
    }

    fn amplifies(&self) -> bool {
        false
    }
}

/// The branch from input to ground of a converter; it senses d, s and u.
#[derive(Debug)]
pub(super) struct Input(Regulation);

impl Driven for Input {
    fn first(&self, volts: &mut [f64]) {
        volts[1..].copy_from_slice(&self.0.first());
    }

    fn at(&self, volts: &[f64], slopes: &mut [f64]) -> f64 {
        let at = sensed(volts);
        let current = self.0.output(at).0.times(self.0.share(at).0);
        slopes[0] = BLOCKED;
        slopes[1..].copy_from_slice(&current.slopes);
        current.value + BLOCKED * volts[0]
    }

    fn segment(&self, volts: &[f64]) -> Option<u32> {
        let at = sensed(volts);
        let (_, ramp) = self.0.ramp(at[2]);
        Some(u32::from((self.0.piece(at) as u8 * 3 + ramp) * 8 + self.0.share(at).1))
    }

    /// A converter takes less current from a higher input: with its ratio held, a walk does not
    /// see that.
    fn tame(&self, volts: &[f64], slopes: &mut [f64]) {
        let at = sensed(volts);
        let held = self.0.output(at).0.times(Sloped::plain(self.0.share(at).0.value));
        slopes[1..].copy_from_slice(&held.slopes);
    }

    fn amplifies(&self) -> bool {
        false
    }
}

#[cfg(test)]
mod tests;

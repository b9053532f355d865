//! What a part does, and the conditions that switch it between its states.

/// The volts and amps at the pins of a part.
#[derive(Debug, Clone, Copy)]
pub struct At<'a> {
    /// Volts of every pin to ground.
    pub volts: &'a [f64],
    /// Amps into every pin.
    pub amps: &'a [f64],
}

impl At<'_> {
    /// Volts from pin 1 to pin 2.
    pub fn across(&self) -> f64 {
        self.between(0, 1)
    }

    /// Volts from one pin to another, by their numbers.
    pub fn between(&self, from: usize, to: usize) -> f64 {
        self.volts[from] - self.volts[to]
    }

    /// Amps into pin 1: for a part with two pins, what flows through it.
    pub fn through(&self) -> f64 {
        self.amps[0]
    }
}

/// One condition that switches a part: volts between two of its pins against a threshold that may
/// be lower on the way back.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Condition {
    /// What it stands for, such as `enable`.
    pub name: &'static str,
    /// The pins whose volts are measured, first less second, by their numbers.
    pub pins: [usize; 2],
    /// Volts from which the condition holds.
    pub on_at: f64,
    /// Volts from which it no longer holds; between the two it stays as it is.
    pub off_at: f64,
    /// Whether it holds above `on_at`; otherwise it holds below it, and `off_at` is the higher one.
    pub rises: bool,
    /// The parameters that `on_at` and `off_at` come from: their tolerances decide what is
    /// marginal.
    pub parameters: [&'static str; 2],
}

impl Condition {
    /// A condition that holds from `on_at` volts up, and no longer from `off_at` down.
    pub fn above(
        name: &'static str,
        pins: [usize; 2],
        on_at: f64,
        off_at: f64,
        parameters: [&'static str; 2],
    ) -> Condition {
        Condition { name, pins, on_at, off_at, rises: true, parameters }
    }

    /// A condition that holds from `on_at` volts down, and no longer from `off_at` up.
    pub fn below(
        name: &'static str,
        pins: [usize; 2],
        on_at: f64,
        off_at: f64,
        parameters: [&'static str; 2],
    ) -> Condition {
        Condition { name, pins, on_at, off_at, rises: false, parameters }
    }

    /// Whether it holds at `volts`, having held before or not.
    ///
    /// ```
    /// use ohmhound::device::Condition;
    /// let enable = Condition::above("enable", [0, 1], 1.2, 1.0, ["enable_rising", "enable_falling"]);
    /// assert!(!enable.holds(1.1, false) && enable.holds(1.1, true) && !enable.holds(0.9, true));
    /// ```
    pub fn holds(&self, volts: f64, before: bool) -> bool {
        let sign = if self.rises { 1.0 } else { -1.0 };
        // A net that stands on its threshold to the last digit is on that side of it.
        let slack = 1e-9 * (1.0 + self.on_at.abs());
        if before {
            sign * (volts - self.off_at) > -slack
        } else {
            sign * (volts - self.on_at) >= -slack
        }
    }

    /// How far past its threshold it is, as a share of the threshold: what it takes to switch, in
    /// the direction away from how it stands. Positive when it has to switch.
    pub fn excess(&self, volts: f64, before: bool) -> f64 {
        let sign = if self.rises == before { -1.0 } else { 1.0 };
        let threshold = if before { self.off_at } else { self.on_at };
        sign * (volts - threshold) / threshold.abs().max(0.1)
    }
}

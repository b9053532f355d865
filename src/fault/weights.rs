//! How likely faults are before any reading: budgets per class, shares per failure mode.
//!
//! The shares are those of failures that are known to have happened in a part; they say nothing of
//! which part fails, and public editions differ by some 0.05. They rank; they are not printed as
//! exact.

use crate::circuit::Board;
use crate::device::Mode;

/// Shares of all weight, per class of cause.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Budget {
    /// Nothing is wrong with the board.
    pub healthy: f64,
    /// A part failed.
    pub parts: f64,
    /// A joint failed.
    pub joints: f64,
    /// A net leaks to ground.
    pub leaks: f64,
    /// Two nets are bridged.
    pub bridges: f64,
    /// A wrong part, a part in the wrong place, a part the wrong way round.
    pub assembly: f64,
    /// A source is missing or weak.
    pub sources: f64,
    /// The board is healthy and the readings are not what they say.
    pub readings: f64,
    /// Something that is not on the list.
    pub other: f64,
}

/// The budgets. Common practice, no published source.
pub const BUDGET: Budget = Budget {
    healthy: 0.05,
    parts: 0.65,
    joints: 0.08,
    leaks: 0.06,
    bridges: 0.05,
    assembly: 0.04,
    sources: 0.04,
    readings: 0.01,
    other: 0.02,
};

impl Budget {
    /// The budgets of a board: the usual ones, with the shares that its file states; what is left
    /// is shared out among the rest as usual.
    ///
    /// ```
    /// use ohmhound::{circuit::Board, fault::{BUDGET, Budget}};
    /// assert_eq!(Budget::of(&Board::default()), BUDGET);
    /// let board = Board { budget: vec![("joints", 0.5)], ..Board::default() };
    /// let budget = Budget::of(&board);
    /// assert_eq!(budget.joints, 0.5);
    /// assert!((budget.parts / budget.leaks - BUDGET.parts / BUDGET.leaks).abs() < 1e-12);
    /// ```
    pub fn of(board: &Board) -> Budget {
        let mut budget = BUDGET;
        if board.budget.is_empty() {
            return budget;
        }
        let stated: f64 = board.budget.iter().map(|(_, share)| share).sum();
        let is_stated = |class: &str| board.budget.iter().any(|(known, _)| *known == class);
        let mut rest = 0.0;
        budget.each(|class, share| rest += if is_stated(class) { 0.0 } else { *share });
        let scale = if rest > 0.0 { (1.0 - stated).max(0.0) / rest } else { 0.0 };
        budget.each(|class, share| {
            let own = board.budget.iter().find(|(known, _)| *known == class);
            *share = own.map_or(*share * scale, |(_, stated)| *stated);
        });
        budget
    }

    fn each(&mut self, mut with: impl FnMut(&'static str, &mut f64)) {
        with("healthy", &mut self.healthy);
        with("parts", &mut self.parts);
        with("joints", &mut self.joints);
        with("leaks", &mut self.leaks);
        with("bridges", &mut self.bridges);
        with("assembly", &mut self.assembly);
        with("sources", &mut self.sources);
        with("readings", &mut self.readings);
        with("other", &mut self.other);
    }
}

/// Share of a failure mode among the failures of one kind of part.
#[derive(Debug, Clone, Copy)]
pub struct ModeRow {
    /// The kind.
    pub kind: &'static str,
    /// The mode.
    pub mode: Mode,
    /// Its share.
    pub share: f64,
    /// Where the share comes from.
    pub source: &'static str,
}

const HANDBOOK: &str = "MIL-HDBK-338B (1998), section 7, failure mode distributions, as quoted";
const MEMORY: &str = "MIL-HDBK-338B (1998), section 7, from memory";
const SPLIT: &str =
    "MIL-HDBK-338B (1998), section 7; \"parameter change\" split by common practice";
const SPREAD: &str =
    "MIL-HDBK-338B (1998), section 7; spread over the terminals by common practice";
const PRACTICE: &str = "common practice, no published source";

const fn row(kind: &'static str, mode: Mode, share: f64, source: &'static str) -> ModeRow {
    ModeRow { kind, mode, share, source }
}

/// The table of shares. Modes that DC readings cannot show at all are left out of it, and what is
/// left is normalised to one; [`Mode::Reversed`] belongs to the assembly budget.
pub const MODE_ROWS: &[ModeRow] = &[
    // Resistor, fixed film: open .59, parameter change .36, short .05.
    row("resistor", Mode::Open, 0.59, HANDBOOK),
    row("resistor", Mode::Drifted("value"), 0.36, HANDBOOK),
    row("resistor", Mode::Shorted, 0.05, HANDBOOK),
    row("thermistor", Mode::Open, 0.63, MEMORY),
    row("thermistor", Mode::Drifted("value"), 0.22, MEMORY),
    row("thermistor", Mode::Shorted, 0.15, MEMORY),
    // A thin wire or film on long leads: it breaks, or its insulation leaks.
    row("platinum-sensor", Mode::Open, 0.70, PRACTICE),
    row("platinum-sensor", Mode::Drifted("value"), 0.15, PRACTICE),
    row("platinum-sensor", Mode::Shorted, 0.15, PRACTICE),
    // Resistor, variable: open .53 and short .07 are joint faults here, erratic .40 is drift.
    row("potentiometer", Mode::Drifted("value"), 1.0, PRACTICE),
    // Connector / connection: open .61, poor contact .23; short .16 counts as a bridge here.
    row("link", Mode::Open, 0.73, HANDBOOK),
    row("link", Mode::Resistive("resistance"), 0.27, HANDBOOK),
    row("contact", Mode::Open, 0.73, HANDBOOK),
    row("contact", Mode::Resistive("resistance"), 0.27, HANDBOOK),
    row("connector", Mode::Open, 0.73, HANDBOOK),
    row("connector", Mode::Resistive("resistance"), 0.27, HANDBOOK),
    // The handbook's "fails to open" and "slow to open" cannot be seen on a bench.
    row("fuse", Mode::Open, 0.90, PRACTICE),
    row("fuse", Mode::Resistive("resistance"), 0.10, PRACTICE),
    row("ferrite", Mode::Open, 0.70, PRACTICE),
    row("ferrite", Mode::Resistive("resistance"), 0.30, PRACTICE),
    row("inductor", Mode::Open, 0.42, HANDBOOK),
    row("inductor", Mode::Shorted, 0.42, HANDBOOK),
    row("inductor", Mode::Resistive("resistance"), 0.16, HANDBOOK),
    // Capacitor, ceramic: short .49, change in value .29 (a cracked one leaks), open .22.
    row("capacitor", Mode::Shorted, 0.49, HANDBOOK),
    row("capacitor", Mode::Leaky, 0.29, SPLIT),
    row("capacitor", Mode::Open, 0.22, HANDBOOK),
    // Diode, general: short .49, open .36, parameter change .15.
    row("diode", Mode::Shorted, 0.49, HANDBOOK),
    row("diode", Mode::Open, 0.36, HANDBOOK),
    row("diode", Mode::Leaky, 0.10, SPLIT),
    row("diode", Mode::Drifted("drop"), 0.05, SPLIT),
    row("led", Mode::Open, 0.70, HANDBOOK),
    row("led", Mode::Shorted, 0.25, SPLIT),
    row("led", Mode::Leaky, 0.05, SPLIT),
    row("zener", Mode::Open, 0.45, MEMORY),
    row("zener", Mode::Drifted("voltage"), 0.25, MEMORY),
    row("zener", Mode::Shorted, 0.20, MEMORY),
    row("zener", Mode::Leaky, 0.10, MEMORY),
    // Power supply unit: no output .52, incorrect output .48.
    row("supply", Mode::Absent, 0.52, MEMORY),
    row("supply", Mode::Low("volts"), 0.38, MEMORY),
    row("supply", Mode::Low("limit"), 0.10, MEMORY),
    // Battery, lithium: degraded output .78; the rest is rare or cannot be seen at DC.
    row("battery", Mode::Low("volts"), 0.60, PRACTICE),
    row("battery", Mode::Resistive("resistance"), 0.32, PRACTICE),
    row("battery", Mode::Absent, 0.08, PRACTICE),
    row("current-source", Mode::Absent, 0.50, PRACTICE),
    row("current-source", Mode::Low("amps"), 0.50, PRACTICE),
    row("load", Mode::Shorted, 0.40, PRACTICE),
    row("load", Mode::Open, 0.30, PRACTICE),
    row("load", Mode::Leaky, 0.30, PRACTICE),
    // Transistor, bipolar: short .73, open .27; split over the terminals by common practice.
    row("npn", Mode::Joined("collector", "emitter"), 0.45, SPREAD),
    row("npn", Mode::Joined("base", "emitter"), 0.08, SPREAD),
    row("npn", Mode::Joined("collector", "base"), 0.1, SPREAD),
    row("npn", Mode::LeakyInside("collector", "emitter"), 0.04, SPREAD),
    row("npn", Mode::LeakyInside("collector", "base"), 0.04, SPREAD),
    row("npn", Mode::LeakyInside("base", "emitter"), 0.02, SPREAD),
    row("npn", Mode::PinOpen("base"), 0.11, SPREAD),
    row("npn", Mode::PinOpen("collector"), 0.07, SPREAD),
    row("npn", Mode::PinOpen("emitter"), 0.07, SPREAD),
    row("npn", Mode::Drifted("gain"), 0.02, SPREAD),
    row("pnp", Mode::Joined("collector", "emitter"), 0.45, SPREAD),
    row("pnp", Mode::Joined("base", "emitter"), 0.08, SPREAD),
    row("pnp", Mode::Joined("collector", "base"), 0.1, SPREAD),
    row("pnp", Mode::LeakyInside("collector", "emitter"), 0.04, SPREAD),
    row("pnp", Mode::LeakyInside("collector", "base"), 0.04, SPREAD),
    row("pnp", Mode::LeakyInside("base", "emitter"), 0.02, SPREAD),
    row("pnp", Mode::PinOpen("base"), 0.11, SPREAD),
    row("pnp", Mode::PinOpen("collector"), 0.07, SPREAD),
    row("pnp", Mode::PinOpen("emitter"), 0.07, SPREAD),
    row("pnp", Mode::Drifted("gain"), 0.02, SPREAD),
    // Transistor, FET: short .51, output low .22, parameter change .17, open .05, output high .05;
    // outputs that stand low or high are leaks at the gate or the drain here.
    row("nmos", Mode::Joined("drain", "source"), 0.36, SPREAD),
    row("nmos", Mode::Joined("gate", "source"), 0.1, SPREAD),
    row("nmos", Mode::Joined("gate", "drain"), 0.05, SPREAD),
    row("nmos", Mode::LeakyInside("drain", "source"), 0.1, SPREAD),
    row("nmos", Mode::LeakyInside("gate", "source"), 0.1, SPREAD),
    row("nmos", Mode::LeakyInside("gate", "drain"), 0.07, SPREAD),
    row("nmos", Mode::PinOpen("gate"), 0.03, SPREAD),
    row("nmos", Mode::PinOpen("drain"), 0.01, SPREAD),
    row("nmos", Mode::PinOpen("source"), 0.01, SPREAD),
    row("nmos", Mode::Drifted("threshold"), 0.17, SPREAD),
    row("pmos", Mode::Joined("drain", "source"), 0.36, SPREAD),
    row("pmos", Mode::Joined("gate", "source"), 0.1, SPREAD),
    row("pmos", Mode::Joined("gate", "drain"), 0.05, SPREAD),
    row("pmos", Mode::LeakyInside("drain", "source"), 0.1, SPREAD),
    row("pmos", Mode::LeakyInside("gate", "source"), 0.1, SPREAD),
    row("pmos", Mode::LeakyInside("gate", "drain"), 0.07, SPREAD),
    row("pmos", Mode::PinOpen("gate"), 0.03, SPREAD),
    row("pmos", Mode::PinOpen("drain"), 0.01, SPREAD),
    row("pmos", Mode::PinOpen("source"), 0.01, SPREAD),
    row("pmos", Mode::Drifted("threshold"), 0.17, SPREAD),
    // Switch, toggle: open .65, sticking .19, short .16.
    row("switch", Mode::Open, 0.65, HANDBOOK),
    row("switch", Mode::Resistive("resistance"), 0.19, HANDBOOK),
    row("switch", Mode::Shorted, 0.16, HANDBOOK),
    // Regulators, references, supervisors and chips: the handbook's "improper output" .77 of a
    // linear chip does not say what the output then is.
    row("ldo", Mode::Dead, 0.35, PRACTICE),
    row("ldo", Mode::Joined("input", "output"), 0.20, PRACTICE),
    row("ldo", Mode::Drifted("reference"), 0.08, PRACTICE),
    row("ldo", Mode::Drifted("output_volts"), 0.07, PRACTICE),
    row("ldo", Mode::PinLeaky, 0.20, PRACTICE),
    row("ldo", Mode::Lost("enable_pull"), 0.05, PRACTICE),
    row("ldo", Mode::Raised("quiescent"), 0.05, PRACTICE),
    row("buck", Mode::Dead, 0.35, PRACTICE),
    row("buck", Mode::Joined("input", "output"), 0.20, PRACTICE),
    row("buck", Mode::Drifted("reference"), 0.08, PRACTICE),
    row("buck", Mode::Drifted("output_volts"), 0.07, PRACTICE),
    row("buck", Mode::PinLeaky, 0.20, PRACTICE),
    row("buck", Mode::Lost("enable_pull"), 0.05, PRACTICE),
    row("buck", Mode::Raised("quiescent"), 0.05, PRACTICE),
    row("boost", Mode::Dead, 0.35, PRACTICE),
    row("boost", Mode::Joined("input", "output"), 0.20, PRACTICE),
    row("boost", Mode::Drifted("reference"), 0.08, PRACTICE),
    row("boost", Mode::Drifted("output_volts"), 0.07, PRACTICE),
    row("boost", Mode::PinLeaky, 0.20, PRACTICE),
    row("boost", Mode::Lost("enable_pull"), 0.05, PRACTICE),
    row("boost", Mode::Raised("quiescent"), 0.05, PRACTICE),
    row("shunt-reference", Mode::Dead, 0.30, PRACTICE),
    row("shunt-reference", Mode::Joined("cathode", "anode"), 0.30, PRACTICE),
    row("shunt-reference", Mode::LeakyInside("cathode", "anode"), 0.20, PRACTICE),
    row("shunt-reference", Mode::Drifted("reference"), 0.10, PRACTICE),
    row("shunt-reference", Mode::Drifted("volts"), 0.10, PRACTICE),
    row("supervisor", Mode::Dead, 0.25, PRACTICE),
    row("supervisor", Mode::StuckHigh, 0.15, PRACTICE),
    row("supervisor", Mode::StuckLow, 0.25, PRACTICE),
    row("supervisor", Mode::Drifted("threshold"), 0.10, PRACTICE),
    row("supervisor", Mode::PinLeaky, 0.20, PRACTICE),
    row("supervisor", Mode::Raised("quiescent"), 0.05, PRACTICE),
    row("chip", Mode::Dead, 0.40, PRACTICE),
    row("chip", Mode::PinLeaky, 0.60, PRACTICE),
    // Relay: fails to trip .55, spurious trip .26, short .19; the coil and the contact share the
    // first.
    row("relay", Mode::PinOpen("coil_plus"), 0.25, SPREAD),
    row("relay", Mode::PinOpen("normally_open"), 0.15, SPREAD),
    row("relay", Mode::Resistive("resistance"), 0.15, SPREAD),
    row("relay", Mode::Joined("common", "normally_open"), 0.26, SPREAD),
    row("relay", Mode::Joined("coil_plus", "coil_minus"), 0.19, SPREAD),
    row("optocoupler", Mode::PinOpen("anode"), 0.25, PRACTICE),
    row("optocoupler", Mode::Joined("anode", "cathode"), 0.10, PRACTICE),
    row("optocoupler", Mode::Drifted("ratio"), 0.30, PRACTICE),
    row("optocoupler", Mode::Joined("collector", "emitter"), 0.15, PRACTICE),
    row("optocoupler", Mode::LeakyInside("collector", "emitter"), 0.10, PRACTICE),
    row("optocoupler", Mode::PinOpen("collector"), 0.10, PRACTICE),
    // Microcircuit, linear: improper output .77 does not say which, no output .23.
    row("opamp", Mode::Dead, 0.23, PRACTICE),
    row("opamp", Mode::StuckHigh, 0.20, PRACTICE),
    row("opamp", Mode::StuckLow, 0.20, PRACTICE),
    row("opamp", Mode::Drifted("gain"), 0.12, PRACTICE),
    row("opamp", Mode::PinLeaky, 0.20, PRACTICE),
    row("opamp", Mode::Raised("quiescent"), 0.05, PRACTICE),
    row("comparator", Mode::Dead, 0.23, PRACTICE),
    row("comparator", Mode::StuckHigh, 0.26, PRACTICE),
    row("comparator", Mode::StuckLow, 0.26, PRACTICE),
    row("comparator", Mode::PinLeaky, 0.20, PRACTICE),
    row("comparator", Mode::Raised("quiescent"), 0.05, PRACTICE),
    // Microcircuit, digital: stuck high and stuck low alike; broken leads are joint faults here.
    row("gate", Mode::Dead, 0.20, PRACTICE),
    row("gate", Mode::StuckHigh, 0.28, PRACTICE),
    row("gate", Mode::StuckLow, 0.28, PRACTICE),
    row("gate", Mode::PinLeaky, 0.20, PRACTICE),
    row("gate", Mode::Raised("quiescent"), 0.04, PRACTICE),
];

/// The share of a mode among the failures of a kind; zero when the table has no row for it.
///
/// ```
/// use ohmhound::device::Mode;
/// use ohmhound::fault::mode_share;
///
/// // MIL-HDBK-338B (1998), section 7: of failed film resistors 59 % are open.
/// assert_eq!(mode_share("resistor", Mode::Open), 0.59);
/// assert_eq!(mode_share("resistor", Mode::Dead), 0.0);
/// ```
pub fn mode_share(kind: &str, mode: Mode) -> f64 {
    MODE_ROWS.iter().find(|row| row.kind == kind && row.mode == mode).map_or(0.0, |row| row.share)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::device::ALL;

    #[test]
    fn every_mode_of_every_kind_has_a_row() {
        for kind in ALL {
            let modes = kind.modes().iter().filter(|mode| **mode != Mode::Reversed);
            for mode in modes {
                assert!(mode_share(kind.name(), *mode) > 0.0, "{} {mode:?}", kind.name());
            }
            let sum: f64 =
                MODE_ROWS.iter().filter(|row| row.kind == kind.name()).map(|row| row.share).sum();
            assert!((sum - 1.0).abs() < 1e-9, "{}: {sum}", kind.name());
        }
    }

    #[test]
    fn budgets_add_up() {
        let mut sum = 0.0;
        let mut classes = Vec::new();
        BUDGET.clone().each(|class, share| {
            sum += *share;
            classes.push(class);
        });
        assert!((sum - 1.0).abs() < 1e-12, "{sum}");
        assert_eq!(classes, crate::circuit::CLASSES);
    }
}

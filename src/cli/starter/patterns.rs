//! The patterns that `starter` writes: one text per usual piece of a schematic.

/// A circuit file to fill in.
pub(super) struct Pattern {
    /// The name that `--pattern` takes.
    pub(super) name: &'static str,
    /// What it is, in a few words.
    pub(super) about: &'static str,
    /// The file.
    pub(super) text: &'static str,
}

/// The pattern whose text is the file of its name.
macro_rules! pattern {
    ($name:literal, $about:literal) => {
        Pattern { name: $name, about: $about, text: include_str!(concat!($name, ".toml")) }
    };
}

/// Every pattern: dividers and chains, supplies, what is driven, what is sensed.
pub(super) const PATTERNS: &[Pattern] = &[
    pattern!("divider", "a supply and a loaded divider"),
    pattern!("threshold-divider", "a divider into a supervisor, or another pin with a threshold"),
    pattern!("loop", "a series loop with contacts and an end resistor"),
    pattern!("supply-chain", "fuse, connector and bead in series, then a divider and an LED"),
    pattern!("battery", "a battery with its fuse, kept from being reversed, and a load"),
    pattern!("zener-supply", "a small rail out of a series resistor and a zener diode"),
    pattern!("ldo", "a linear regulator of fixed output, with a power-good pin"),
    pattern!("regulator", "a buck with its input fuse, enable and feedback dividers"),
    pattern!("led-chain", "two LEDs and a resistor in series"),
    pattern!("transistor-switch", "a p-channel transistor as a high-side switch, and its driver"),
    pattern!("relay-driver", "an npn that pulls in a relay, with the coil's diode"),
    pattern!("optocoupler", "an LED with its resistor, a transistor with its pull-up"),
    pattern!("opamp-front-end", "a sensor in a divider and a non-inverting amplifier"),
    pattern!("comparator", "a level against a reference, with hysteresis and pull-up"),
    pattern!("bridge", "four arms, one of them a sensor, read between the middles"),
    pattern!("logic", "two gates that release an enable, one with an open drain"),
];

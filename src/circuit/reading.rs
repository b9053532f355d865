//! Readings as plain data: what was measured, where, and what was seen.

use super::{Circuit, Meter, NetId, PartId, SetupId};

/// What a reading is of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Quantity {
    /// Volts, red lead to black lead.
    Volts,
    /// Amps through a part with two pins, from pin 1 to pin 2; what a source delivers.
    Amps,
    /// Ohms with the power off.
    Ohms,
    /// Diode mode with the power off.
    Diode,
    /// Continuity with the power off.
    Beep,
    /// What a part looks or feels like in that setup: lit, dark, hot.
    Seen,
}

impl Quantity {
    /// All quantities, in the order of the readings file.
    pub const ALL: [Quantity; 6] = [
        Quantity::Volts,
        Quantity::Amps,
        Quantity::Ohms,
        Quantity::Diode,
        Quantity::Beep,
        Quantity::Seen,
    ];

    /// The word used in files and in output.
    pub fn word(self) -> &'static str {
        match self {
            Quantity::Volts => "volts",
            Quantity::Amps => "amps",
            Quantity::Ohms => "ohms",
            Quantity::Diode => "diode",
            Quantity::Beep => "beep",
            Quantity::Seen => "seen",
        }
    }

    /// Whether the reading is taken with the meter's own current, so that the board must be off.
    pub fn needs_power_off(self) -> bool {
        matches!(self, Quantity::Ohms | Quantity::Diode | Quantity::Beep)
    }
}

/// One lead of the meter.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Spot {
    /// On a net.
    Net(NetId),
    /// On a part's own pin: the part's side of the joint.
    Pin(PartId, usize),
}

/// Where a reading was taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Place {
    /// Red lead here, black lead on ground.
    At(Spot),
    /// Red lead first, black lead second.
    Between(Spot, Spot),
    /// Across or through a part with two pins, pin 1 to pin 2.
    Part(PartId),
}

impl Spot {
    /// The name of the net or pin, as readings write it.
    pub fn words(self, circuit: &Circuit) -> String {
        match self {
            Spot::Net(net) => circuit.net_name(net).to_owned(),
            Spot::Pin(part, pin) => {
                format!("{}.{}", circuit[part].name, circuit[part].pins[pin].name)
            }
        }
    }
}

impl Place {
    /// The place as readings write it: `EN`, `VIN to EN`, `R1`.
    pub fn words(self, circuit: &Circuit) -> String {
        match self {
            Place::At(spot) => spot.words(circuit),
            Place::Between(red, black) => {
                format!("{} to {}", red.words(circuit), black.words(circuit))
            }
            Place::Part(part) => circuit[part].name.clone(),
        }
    }
}

/// What a part looks or feels like under a setup.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Sight {
    /// An LED that is lit.
    Lit,
    /// An LED that is dark.
    Dark,
    /// A part that is hot.
    Hot,
}

impl Sight {
    /// The word used in files and in output.
    pub fn word(self) -> &'static str {
        match self {
            Sight::Lit => "lit",
            Sight::Dark => "dark",
            Sight::Hot => "hot",
        }
    }
}

/// What was observed, in the SI unit of the quantity.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Observed {
    /// A number.
    Number {
        /// The value.
        value: f64,
        /// The weight of its last written digit.
        count: f64,
        /// A half-width that the person stated, which replaces the meter's accuracy.
        half_width: Option<f64>,
    },
    /// It wanders between two values.
    Between {
        /// The least.
        low: f64,
        /// The most.
        high: f64,
    },
    /// Less than this.
    Below(f64),
    /// More than this.
    Above(f64),
    /// Over the range of the meter.
    Over,
    /// Beep or no beep.
    Beep(bool),
    /// Seen by eye or finger.
    Sight(Sight),
}

/// One observation.
#[derive(Debug, Clone, PartialEq)]
pub struct Reading {
    /// The condition it was taken under.
    pub setup: SetupId,
    /// What was measured.
    pub quantity: Quantity,
    /// Where.
    pub place: Place,
    /// Where, as the person wrote it.
    pub place_text: String,
    /// What was read.
    pub observed: Observed,
    /// The meter it was taken with.
    pub meter: Meter,
}

impl Reading {
    /// Whether it is of the same quantity at the same place in the same setup.
    pub fn repeats(&self, other: &Reading) -> bool {
        let of = |one: &Reading| (one.setup, one.quantity, one.place);
        of(self) == of(other)
    }

    /// The value, when it is a plain number.
    pub fn number(&self) -> Option<f64> {
        match self.observed {
            Observed::Number { value, .. } => Some(value),
            _ => None,
        }
    }
}

/// How a part looks, whatever the setup.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Appearance {
    /// Corroded.
    Corroded,
    /// Burnt.
    Burnt,
    /// Cracked.
    Cracked,
    /// Replaced in an earlier repair.
    Replaced,
    /// Looks fine.
    Fine,
}

impl Appearance {
    /// All of them with the words of the readings file.
    pub const ALL: [(Appearance, &'static str); 5] = [
        (Appearance::Corroded, "corroded"),
        (Appearance::Burnt, "burnt"),
        (Appearance::Cracked, "cracked"),
        (Appearance::Replaced, "replaced"),
        (Appearance::Fine, "fine"),
    ];
}

/// What the job ticket says. All of it may be empty.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Job {
    /// Free keys with their text, such as `ticket` and `symptom`, in the order of the file.
    pub entries: Vec<(String, String)>,
}

/// One step of the repair.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Done {
    /// What was done: replaced, lifted, cleaned, removed, disconnected.
    pub action: String,
    /// To which part.
    pub part: Option<PartId>,
    /// What was fitted instead.
    pub with: Option<String>,
}

/// The readings of one job.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Readings {
    /// The circuit file they belong to, as written.
    pub circuit: Option<String>,
    /// What the job ticket says.
    pub job: Job,
    /// The meter; single readings may carry another.
    pub meter: Meter,
    /// The readings, in the order of the file.
    pub readings: Vec<Reading>,
    /// How parts look.
    pub seen: Vec<(PartId, Appearance)>,
    /// What was done.
    pub done: Vec<Done>,
    /// Readings taken after the repair.
    pub after: Vec<Reading>,
    /// Readings of a board known to be good.
    pub good: Vec<Reading>,
}

//! Setups: the conditions under which readings are taken.

use super::{NetId, PartId};

/// A setup of a circuit, by its place in [`super::Circuit::setups`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct SetupId(pub usize);

/// The setup with the circuit as drawn.
pub const POWERED: SetupId = SetupId(0);
/// The setup with every source disconnected.
pub const UNPOWERED: SetupId = SetupId(1);

/// The temperature that datasheet values hold at, in degrees Celsius.
const ROOM_CELSIUS: f64 = 25.0;

/// What follows the name of a part in that of the setup in which it is lifted.
pub(super) const LIFTED: &str = " lifted";

/// What is clipped onto the board in a setup.
#[derive(Debug, Clone, PartialEq)]
pub enum Connection {
    /// A bench supply, plus lead first.
    Supply {
        /// Plus and minus.
        nets: [NetId; 2],
        /// Open-circuit volts.
        volts: f64,
        /// Current limit in amps.
        limit: Option<f64>,
        /// Lead resistance in ohms.
        resistance: f64,
    },
    /// A resistor or a link.
    Link {
        /// The two nets it joins.
        nets: [NetId; 2],
        /// Its resistance in ohms.
        resistance: f64,
    },
}

impl Connection {
    /// The two nets.
    pub fn nets(&self) -> [NetId; 2] {
        match self {
            Connection::Supply { nets, .. } | Connection::Link { nets, .. } => *nets,
        }
    }
}

/// A condition under which readings are taken.
#[derive(Debug, Clone, PartialEq)]
pub struct Setup {
    /// Its name, as readings use it.
    pub name: String,
    /// Whether the sources that are drawn are connected at all.
    pub sources_on: bool,
    /// Parts taken out of the circuit.
    pub disconnected: Vec<PartId>,
    /// What is clipped on.
    pub connections: Vec<Connection>,
    /// Switches that stand open here.
    pub open: Vec<PartId>,
    /// Switches that stand closed here.
    pub closed: Vec<PartId>,
    /// Parts with one leg off (two pins) or all pins off (more).
    pub lifted: Vec<PartId>,
    /// Temperature of the whole board in degrees Celsius.
    pub celsius: f64,
}

impl Setup {
    /// The circuit as drawn, at 25 °C.
    pub fn powered() -> Setup {
        Setup {
            name: "powered".to_owned(),
            sources_on: true,
            disconnected: Vec::new(),
            connections: Vec::new(),
            open: Vec::new(),
            closed: Vec::new(),
            lifted: Vec::new(),
            celsius: ROOM_CELSIUS,
        }
    }

    /// The power off, and one leg of a part with two pins lifted: what is measured across it is the
    /// part alone. The name holds a space, as no name in a file does.
    pub fn lifted(part: PartId, name: &str) -> Setup {
        Setup { name: format!("{name}{LIFTED}"), lifted: vec![part], ..Setup::unpowered() }
    }

    /// Whether it was made to measure one part alone.
    pub fn is_for_one_part(&self) -> bool {
        self.name.ends_with(LIFTED)
    }

    /// Every source disconnected.
    pub fn unpowered() -> Setup {
        Setup { name: "unpowered".to_owned(), sources_on: false, ..Setup::powered() }
    }
}

//! The circuit as plain data: nets, parts, setups, limits, what the board shows; readings, meter
//! and job.
//!
//! Nothing here computes. A [`Circuit`] is read by `file` or built in code with [`Circuit::new`]
//! and [`Circuit::add`]; the engine only reads it, and faults are laid over it as an
//! [`Overlay`] without changing it.

mod board;
mod meter;
mod overlay;
mod part;
mod reading;
mod setup;
mod substitute;

pub use board::{Board, CLASSES, FAILURES, Limit, Neighbours};
pub use meter::{Accuracy, AmpsMeter, DiodeMeter, Input, Meter, OhmsMeter, RedOn, VoltsMeter};
pub use overlay::{Change, Overlay};
pub use part::{ChipPin, Param, Part, PartId, Pin, Pull};
pub use reading::{
    Appearance, Done, Job, Observed, Place, Quantity, Reading, Readings, Sight, Spot,
};
pub use setup::{Connection, POWERED, Setup, SetupId, UNPOWERED};
pub use substitute::{StockItem, Substitute};

use std::collections::HashMap;

/// A net of a circuit, by its place in [`Circuit::nets`]. Net 0 is ground.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct NetId(pub u32);

impl NetId {
    /// The net that all voltages are counted from.
    pub const GROUND: NetId = NetId(0);

    /// The place in a list with one entry per net.
    pub fn index(self) -> usize {
        self.0 as usize
    }
}

/// Nets and parts as drawn on the schematic, with the setups under which readings are taken.
#[derive(Debug, Clone)]
pub struct Circuit {
    /// What the circuit is; may be empty.
    pub title: String,
    /// Names of the nets; the first is ground.
    pub nets: Vec<String>,
    /// The parts, in the order of the file.
    pub parts: Vec<Part>,
    /// The setups; the first two are always [`POWERED`] and [`UNPOWERED`].
    pub setups: Vec<Setup>,
    /// What nets may carry.
    pub limits: Vec<(NetId, Limit)>,
    /// What only the board shows.
    pub board: Board,
    net_index: HashMap<String, NetId>,
    part_index: HashMap<String, PartId>,
}

impl Circuit {
    /// A circuit without parts whose ground net has the given name.
    ///
    /// ```
    /// let circuit = ohmhound::circuit::Circuit::new("a divider", "GND");
    /// assert_eq!(circuit.nets, ["GND"]);
    /// assert_eq!(circuit.setups.len(), 2);
    /// ```
    pub fn new(title: impl Into<String>, ground: impl Into<String>) -> Circuit {
        let ground = ground.into();
        Circuit {
            title: title.into(),
            net_index: HashMap::from([(ground.clone(), NetId::GROUND)]),
            nets: vec![ground],
            parts: Vec::new(),
            setups: vec![Setup::powered(), Setup::unpowered()],
            limits: Vec::new(),
            board: Board::default(),
            part_index: HashMap::new(),
        }
    }

    /// The net of that name, made if it is new.
    pub fn net_or_new(&mut self, name: &str) -> NetId {
        if let Some(&id) = self.net_index.get(name) {
            return id;
        }
        let id = NetId(self.nets.len() as u32);
        self.nets.push(name.to_owned());
        self.net_index.insert(name.to_owned(), id);
        id
    }

    /// Adds a part. A second part of the same name replaces the first in look-ups, so readers
    /// refuse repeated names before they come here.
    pub fn add(&mut self, part: Part) -> PartId {
        let id = PartId(self.parts.len() as u32);
        self.part_index.insert(part.name.clone(), id);
        self.parts.push(part);
        id
    }

    /// The net of that name.
    pub fn net(&self, name: &str) -> Option<NetId> {
        self.net_index.get(name).copied()
    }

    /// The part of that name.
    pub fn part(&self, name: &str) -> Option<PartId> {
        self.part_index.get(name).copied()
    }

    /// The setup of that name.
    pub fn setup(&self, name: &str) -> Option<SetupId> {
        self.setups.iter().position(|setup| setup.name == name).map(SetupId)
    }

    /// The setup in which one leg of a part with two pins is lifted with the power off, `R1 lifted`;
    /// made where it is not there yet. `None` for any other part.
    ///
    /// ```
    /// # use ohmhound::{circuit::Circuit, device::two_pin};
    /// let mut circuit = Circuit::new("", "GND");
    /// two_pin(&mut circuit, "R1", "resistor", ["A", "GND"], &[("value", 1e3)])?;
    /// let setup = circuit.lift(circuit.part("R1").unwrap()).unwrap();
    /// assert_eq!(circuit[setup].name, "R1 lifted");
    /// # Ok::<(), String>(())
    /// ```
    pub fn lift(&mut self, part: PartId) -> Option<SetupId> {
        let own = &self[part];
        if !own.is_two_pin() || !own.fitted {
            return None;
        }
        let setup = Setup::lifted(part, &own.name);
        let known = self.setup(&setup.name);
        Some(known.unwrap_or_else(|| {
            self.setups.push(setup);
            SetupId(self.setups.len() - 1)
        }))
    }

    /// The part that the name of a setup says is lifted.
    pub fn lifted_in(&self, setup: &str) -> Option<PartId> {
        self.part(setup.strip_suffix(setup::LIFTED)?)
    }

    /// The name of a net.
    pub fn net_name(&self, net: NetId) -> &str {
        self.nets.get(net.index()).map_or("?", String::as_str)
    }

    /// The fitted parts of one kind and nominal value, the part itself among them: places that a
    /// wrong part from one reel would fill together.
    pub fn alike(&self, part: PartId) -> Vec<PartId> {
        let of = |part: &Part| (part.kind, part.nominal("value"));
        let wanted = of(&self[part]);
        let same = |(id, other): (PartId, &Part)| {
            let is_one = other.fitted && of(other) == wanted && wanted.1.is_some();
            (is_one || id == part).then_some(id)
        };
        self.parts_by_id().filter_map(same).collect()
    }

    /// Parts with their numbers.
    pub fn parts_by_id(&self) -> impl Iterator<Item = (PartId, &Part)> {
        self.parts.iter().enumerate().map(|(idx, part)| (PartId(idx as u32), part))
    }

    /// Nets with their numbers, ground first.
    pub fn nets_by_id(&self) -> impl Iterator<Item = (NetId, &str)> {
        self.nets.iter().enumerate().map(|(idx, name)| (NetId(idx as u32), name.as_str()))
    }
}

impl std::ops::Index<PartId> for Circuit {
    type Output = Part;

    fn index(&self, id: PartId) -> &Part {
        &self.parts[id.index()]
    }
}

impl std::ops::Index<SetupId> for Circuit {
    type Output = Setup;

    fn index(&self, id: SetupId) -> &Setup {
        &self.setups[id.0]
    }
}

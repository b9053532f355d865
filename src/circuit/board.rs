//! What only the board shows: neighbours, suspicion, reach; and what nets may carry.

use super::{NetId, PartId};

/// Words for what can happen to a part, a net or a source: the failures of fault phrases.
pub const FAILURES: &[&str] = &[
    "open",
    "shorted",
    "drifted",
    "leaky",
    "resistive",
    "reversed",
    "absent",
    "low",
    "limited",
    "leak",
    "bridge",
    "exchanged",
    "fitted",
    "dead",
    "stuck",
    "lost",
];

/// Words for the classes of causes that share all weight out among them.
pub const CLASSES: &[&str] =
    &["healthy", "parts", "joints", "leaks", "bridges", "assembly", "sources", "readings", "other"];

/// Two things close enough on the board for a bridge or a mix-up.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Neighbours {
    /// Two nets.
    Nets(NetId, NetId),
    /// Two parts.
    Parts(PartId, PartId),
}

/// What a net may carry, in volts.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Limit {
    /// The least.
    pub min: Option<f64>,
    /// The most.
    pub max: Option<f64>,
}

/// Facts of the board that the schematic does not show. All of it may be empty.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Board {
    /// Pairs that lie close together.
    pub neighbours: Vec<Neighbours>,
    /// How many times more suspect than usual a part is.
    pub weight: Vec<(PartId, f64)>,
    /// How many times likelier than usual one failure of a part is, by its word in [`FAILURES`].
    pub failure_weight: Vec<(PartId, &'static str, f64)>,
    /// Shares of all weight that the file states, by the class's word in [`CLASSES`].
    pub budget: Vec<(&'static str, f64)>,
    /// Effort of probing a net, where it is not 1.
    pub net_effort: Vec<(NetId, f64)>,
    /// Effort of lifting a part, where it is not the usual one.
    pub part_effort: Vec<(PartId, f64)>,
    /// Nets that cannot be probed.
    pub no_access: Vec<NetId>,
}

impl Board {
    /// How many times more suspect than usual the part is.
    pub fn weight_of(&self, part: PartId) -> f64 {
        self.weight.iter().find(|(known, _)| *known == part).map_or(1.0, |(_, weight)| *weight)
    }

    /// How many times likelier than usual this failure of the part is, its part's suspicion apart.
    pub fn failure_weight_of(&self, part: PartId, failure: &str) -> f64 {
        let mut own = self.failure_weight.iter();
        own.find(|(known, word, _)| *known == part && *word == failure)
            .map_or(1.0, |(_, _, weight)| *weight)
    }

    /// Whether a net can be probed.
    pub fn can_probe(&self, net: NetId) -> bool {
        !self.no_access.contains(&net)
    }
}

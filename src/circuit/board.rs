//! What only the board shows: neighbours, suspicion, reach; and what nets may carry.

use super::{NetId, PartId};

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

    /// Whether a net can be probed.
    pub fn can_probe(&self, net: NetId) -> bool {
        !self.no_access.contains(&net)
    }
}

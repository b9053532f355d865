//! Another value in place of the one on the schematic.

use super::{Circuit, Param, PartId};
use crate::quantity::Toleranced;

/// A parameter of a part with another value: what is in the drawer instead of what is drawn.
#[derive(Debug, Clone, PartialEq)]
pub struct Substitute {
    /// The part.
    pub part: PartId,
    /// The name of the parameter.
    pub parameter: &'static str,
    /// Its new value, tolerance included.
    pub param: Param,
}

impl Circuit {
    /// The circuit with these values in place of those drawn.
    #[must_use]
    pub fn with(&self, substitutes: &[Substitute]) -> Circuit {
        let mut circuit = self.clone();
        for Substitute { part, parameter, param } in substitutes {
            let own = &mut circuit.parts[part.index()];
            match own.params.iter_mut().find(|(name, _)| name == parameter) {
                Some((_, known)) => *known = param.clone(),
                None => own.params.push((parameter, param.clone())),
            }
            own.defaulted.retain(|name| name != parameter);
            own.usual.retain(|name| name != parameter);
        }
        circuit
    }
}

/// What lies in the drawer: one value, with what is known of it.
#[derive(Debug, Clone, PartialEq)]
pub struct StockItem {
    /// The value with its tolerance, in its SI unit.
    pub value: Toleranced,
    /// What it is rated for, in the unit of the kind it replaces.
    pub rated: Option<f64>,
    /// How many there are; `None` where that was not said.
    pub quantity: Option<u32>,
    /// Where it lies, or what else is to be said.
    pub note: String,
}

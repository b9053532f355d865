//! The port table: many ports of one setup, each with its shape at the places that are read.
//!
//! What a fault does to readings is then a few multiplications: y' = y − s t with s the shape at the
//! places and t the amps of [`Line::amps`]. All shapes come from one factorisation, solved once per
//! port; sensitivities of readings to conductances are ∂y/∂g = −s v, v the volts across the port.

use super::line::both_amps;
use super::{Line, Port, PortView, Refusal, Shunt, across};
use crate::circuit::{Change, NetId, Overlay, PartId};

/// A port of the table: a part, or two nets.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Site {
    /// The nets.
    pub port: Port,
    /// The part that lies between them, if it is about one.
    pub part: Option<PartId>,
    /// The conductance of the part, in siemens; nothing between two nets.
    pub siemens: f64,
    /// What the part carries at no volts, in amps.
    pub amps: f64,
}

impl Site {
    /// A pair of nets with nothing of its own between them.
    pub fn nets(from: usize, to: usize) -> Site {
        Site { port: Port { from, to }, part: None, siemens: 0.0, amps: 0.0 }
    }

    /// Volts that a real source stands against, in series with its resistance; nothing for any other
    /// part.
    pub fn emf(&self) -> f64 {
        if self.siemens > 0.0 { self.amps / self.siemens } else { 0.0 }
    }

    /// What opens the part; laying nothing where there is no part.
    pub fn open(&self) -> Shunt {
        self.instead(f64::INFINITY)
    }

    /// What gives it another resistance, in ohms: a real source the one inside.
    pub fn instead(&self, ohms: f64) -> Shunt {
        Shunt { ohms: 1.0 / (1.0 / ohms - self.siemens), volts: self.emf() }
    }

    /// The changes that lay the same over a circuit, for a solve in full; an exact short is given as
    /// the `least` ohms that are solved for. `None` for another resistance inside a source.
    pub fn overlay(&self, shunt: Shunt, least: f64) -> Option<Overlay> {
        let nets = [self.port.from, self.port.to].map(|net| NetId(net as u32));
        let bridge = |ohms: f64| Change::Bridge { nets, ohms: ohms.max(least) };
        if shunt.ohms >= 0.0 && shunt.volts == 0.0 {
            return Some(Overlay::one(bridge(shunt.ohms)));
        }
        let gone = Change::Removed { part: self.part? };
        let left = self.siemens + 1.0 / shunt.ohms;
        // Rounding leaves next to nothing of what is open.
        if left.abs() <= 1e-12 * self.siemens {
            Some(Overlay::one(gone))
        } else {
            let changes = vec![gone, bridge(1.0 / left)];
            (self.amps == 0.0).then_some(Overlay { changes })
        }
    }
}

/// The ports of one linear setup with their shapes at the places that are read.
///
/// ```
/// # fn main() -> Result<(), String> {
/// use ohmhound::circuit::{Circuit, POWERED};
/// use ohmhound::device::two_pin;
/// use ohmhound::engine::{Assembly, PortTable, PortView, Scores};
///
/// let mut circuit = Circuit::new("divider", "GND");
/// two_pin(&mut circuit, "V1", "supply", ["IN", "GND"], &[("volts", 12.0), ("resistance", 0.0)])?;
/// let r1 = two_pin(&mut circuit, "R1", "resistor", ["IN", "OUT"], &[("value", 2e3)])?;
/// let r2 = two_pin(&mut circuit, "R2", "resistor", ["OUT", "GND"], &[("value", 1e3)])?;
/// let view = PortView::new(&Assembly::new(&circuit), POWERED).ok_or("not linear")?;
/// let out = circuit.net("OUT").unwrap().index();
/// let table = PortTable::of_parts(&view, [r1, r2], vec![(out, 0)]);
/// let [opened] = table.with(1, table.sites()[1].open()).unwrap()[..] else { panic!() };
/// assert!((opened - 12.0).abs() < 1e-12);
/// // 6 V on OUT, read to 10 mV, are R1 at 1 kΩ or R2 at 2 kΩ.
/// let scores = Scores::new(&table, &[6.0], &[0.01]);
/// let [first, second] = [0, 1].map(|site| scores.fitted(site).unwrap());
/// assert!((first.ohms - 1e3).abs() < 1e-6 && (second.ohms - 2e3).abs() < 1e-6);
/// # Ok(())
/// # }
/// ```
#[derive(Debug, Clone)]
pub struct PortTable {
    sites: Vec<Site>,
    lines: Vec<Line>,
    places: Vec<(usize, usize)>,
    /// Volts at the places on the healthy board.
    healthy: Vec<f64>,
    /// Volts at every place per amp through a port: one row per port.
    shapes: Vec<f64>,
    /// Volts across every port per amp through a port: one row per port that is driven.
    mutual: Vec<f64>,
}

impl PortTable {
    /// The table of some sites, for volts read between pairs of nets, red first.
    pub fn new(view: &PortView, sites: Vec<Site>, places: Vec<(usize, usize)>) -> PortTable {
        let healthy = places.iter().map(|&(red, black)| view.point().between(red, black)).collect();
        let mut lines = Vec::with_capacity(sites.len());
        let mut shapes = Vec::with_capacity(sites.len() * places.len());
        let mut mutual = Vec::with_capacity(sites.len() * sites.len());
        for site in &sites {
            let (shape, line) = view.line(site.port);
            lines.push(line);
            let at_places = places.iter().map(|&(red, black)| Port { from: red, to: black });
            shapes.extend(at_places.map(|place| across(&shape, place)));
            mutual.extend(sites.iter().map(|other| across(&shape, other.port)));
        }
        PortTable { sites, lines, places, healthy, shapes, mutual }
    }

    /// The table of every two-pin part that is one straight branch.
    pub fn of_parts(
        view: &PortView,
        parts: impl IntoIterator<Item = PartId>,
        places: Vec<(usize, usize)>,
    ) -> PortTable {
        let sites = parts.into_iter().filter_map(|part| {
            let (port, siemens, amps) = view.branch_of(part)?;
            Some(Site { port, part: Some(part), siemens, amps })
        });
        PortTable::new(view, sites.collect(), places)
    }

    /// The ports.
    pub fn sites(&self) -> &[Site] {
        &self.sites
    }

    /// The places, red lead first.
    pub fn places(&self) -> &[(usize, usize)] {
        &self.places
    }

    /// Volts at the places on the healthy board.
    pub fn healthy(&self) -> &[f64] {
        &self.healthy
    }

    /// The line of a port, by its place among the sites.
    pub fn line(&self, site: usize) -> Line {
        self.lines[site]
    }

    /// Volts at the places per amp through a port, less what stands there: the port's shape.
    pub fn shape(&self, site: usize) -> &[f64] {
        let m = self.places.len();
        &self.shapes[site * m..(site + 1) * m]
    }

    /// Volts across one port per amp through another one, in ohms.
    pub fn mutual(&self, across: usize, through: usize) -> f64 {
        self.mutual[through * self.sites.len() + across]
    }

    /// How the volts at the places answer to one siemens more at a port, in volts per siemens.
    pub fn sensitivity(&self, site: usize) -> impl Iterator<Item = f64> {
        let volts = self.lines[site].volts;
        self.shape(site).iter().map(move |shape| -shape * volts)
    }

    /// Volts at the places with a branch beside a port.
    ///
    /// # Errors
    ///
    /// Why they have to come from a full solve; see [`PortView::with`], which tells a net that floats
    /// from an answer without digits.
    pub fn with(&self, site: usize, shunt: Shunt) -> Result<Vec<f64>, Refusal> {
        let amps = self.lines[site].amps(shunt)?;
        let moved = self.healthy.iter().zip(self.shape(site));
        Ok(moved.map(|(healthy, shape)| healthy - shape * amps).collect())
    }

    /// Volts at the places with branches beside two ports.
    ///
    /// # Errors
    ///
    /// As for one port.
    pub fn with_both(&self, branches: [(usize, Shunt); 2]) -> Result<Vec<f64>, Refusal> {
        let lines = branches.map(|(site, shunt)| (self.lines[site], shunt));
        let [(one, _), (other, _)] = branches;
        let amps = both_amps(lines, [self.mutual(one, other), self.mutual(other, one)])?;
        let shapes = self.shape(one).iter().zip(self.shape(other));
        let moved = self.healthy.iter().zip(shapes);
        Ok(moved.map(|(y, (one, other))| y - one * amps[0] - other * amps[1]).collect())
    }
}

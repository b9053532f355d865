//! The fault table of a board: one row per single fault, one column per place of the meter, and in
//! each cell what the meter shows and how that stands against the healthy board.
//!
//! # Formula
//!
//! With y what the meter shows on the scale that its quantity is compared on, u one standard
//! uncertainty of the healthy board from the tolerances of its parts, and m that of the meter,
//!
//! ```text
//! higher or lower  when  |y_fault − y_healthy| > 3 √(u² + m²)
//! ```
//!
//! which is where a diagnosis marks a reading as off. Two faults look the same where what they predict
//! differs by no more than that, tolerances being shared by both boards.

use std::collections::BTreeSet;

use rayon::prelude::*;

use super::solved::watched_nets;
use super::typical::typical;
use crate::circuit::{
    Circuit, Meter, NetId, Observed, Overlay, Place, Quantity, Reading, SetupId, Spot, UNPOWERED,
};
use crate::diagnosis::{MARKED, Probe};
use crate::engine::{Assembly, Ending};
use crate::fault::{Evidence, Fault, hypotheses};
use crate::meter::{Scale, Scene, Shown, Target, show};
use crate::plan::is_live;

/// Columns that are chosen when none is asked for.
const COLUMNS: usize = 5;

/// How a cell stands against the healthy board.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Arrow {
    /// Within what tolerance and meter make of the healthy value.
    Same,
    /// Above that.
    Higher,
    /// Below that.
    Lower,
    /// The net floats, and the value is the meter's doing.
    Floating,
    /// The board keeps switching.
    Switching,
    /// There is no operating point.
    NoPoint,
}

impl Arrow {
    /// The word, for spreadsheets and scripts.
    pub fn word(self) -> &'static str {
        match self {
            Arrow::Same => "same",
            Arrow::Higher => "higher",
            Arrow::Lower => "lower",
            Arrow::Floating => "floating",
            Arrow::Switching => "switching",
            Arrow::NoPoint => "no operating point",
        }
    }
}

/// What the meter shows in one cell.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cell {
    /// The least, in the SI unit of the quantity; infinite for OL, no number without an operating
    /// point.
    pub low: f64,
    /// The most; the same unless the board keeps switching.
    pub high: f64,
    /// How it stands against the healthy board.
    pub arrow: Arrow,
}

/// The healthy board at one place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HealthyCell {
    /// What the meter shows, in the SI unit; infinite for OL.
    pub value: f64,
    /// One standard uncertainty of it, tolerances and meter together.
    pub u: f64,
    /// Whether the net floats on the healthy board already.
    pub floats: bool,
}

/// One fault.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// The fault, with a typical value where it has one.
    pub fault: Fault,
    /// What the meter shows, by columns.
    pub cells: Vec<Cell>,
    /// The number of an earlier row that looks the same at all columns.
    pub same_as: Option<usize>,
}

impl Row {
    /// Whether it looks healthy at all columns.
    pub fn looks_healthy(&self) -> bool {
        self.cells.iter().all(|cell| cell.arrow == Arrow::Same)
    }
}

/// A fault table.
#[derive(Debug, Clone, PartialEq)]
pub struct FaultTable {
    /// The setup of the volts.
    pub setup: SetupId,
    /// Where the meter is put.
    pub columns: Vec<Probe>,
    /// The healthy board, by columns.
    pub healthy: Vec<HealthyCell>,
    /// The faults: those without a value first, in the order of the list.
    pub rows: Vec<Row>,
}

/// The fault table of a setup. Without `places` the columns are the nets with limits, the outputs of
/// regulators, and the few more that tell most faults apart; `with_ohms` adds ohms at the same places
/// with the power off.
///
/// # Errors
///
/// How the run ended, when the healthy board has no operating point.
///
/// ```
/// # fn main() -> Result<(), String> {
/// use ohmhound::circuit::{Circuit, POWERED};
/// use ohmhound::device::two_pin;
/// use ohmhound::engine::Assembly;
/// use ohmhound::study::{Arrow, fault_table};
///
/// let mut circuit = Circuit::new("divider", "GND");
/// two_pin(&mut circuit, "V1", "supply", ["IN", "GND"], &[("volts", 12.0)])?;
/// two_pin(&mut circuit, "R1", "resistor", ["IN", "OUT"], &[("value", 2e3)])?;
/// two_pin(&mut circuit, "R2", "resistor", ["OUT", "GND"], &[("value", 1e3)])?;
/// let assembly = Assembly::new(&circuit);
/// let table = fault_table(&assembly, POWERED, &[], false).map_err(|_| "no operating point")?;
/// let is_open = |row: &&ohmhound::study::Row| row.fault.phrase(&circuit) == "R2 open";
/// let open = table.rows.iter().find(is_open).unwrap();
/// assert_eq!(open.cells.last().unwrap().arrow, Arrow::Higher);
/// # Ok(())
/// # }
/// ```
pub fn fault_table(
    assembly: &Assembly<'_>,
    setup: SetupId,
    places: &[Place],
    with_ohms: bool,
) -> Result<FaultTable, Ending> {
    let circuit = assembly.circuit();
    let usual: Vec<Place> = match places {
        [] => nets(circuit).map(|net| Place::At(Spot::Net(net))).collect(),
        asked => asked.to_vec(),
    };
    let first = if is_live(circuit, setup) { Quantity::Volts } else { Quantity::Ohms };
    let mut columns: Vec<Probe> =
        usual.iter().map(|&place| Probe { setup, quantity: first, place }).collect();
    if with_ohms && first == Quantity::Volts {
        let cold = |&place: &Place| Probe { setup: UNPOWERED, quantity: Quantity::Ohms, place };
        columns.extend(usual.iter().map(cold));
    }
    let looks = Looks { circuit, meter: Meter::default(), columns };
    // What a fault changes is told against a board that stands still.
    for setup in looks.columns.iter().map(|probe| probe.setup) {
        let run = &assembly.healthy(setup).run;
        if run.point.is_none() {
            return Err(run.ending.clone());
        }
    }
    let healthy = looks.of(assembly, &Overlay::none())?;
    let changes: Vec<(Fault, Overlay)> = faults(circuit)
        .into_iter()
        .filter_map(|fault| Some((fault, fault.overlay(circuit)?)))
        .collect();
    let boards: Vec<(Fault, Vec<Option<Seen>>)> = changes
        .into_par_iter()
        .with_max_len(1)
        .map(|(fault, overlay)| {
            // What has no operating point at all still has its row.
            let none = vec![None; looks.columns.len()];
            (fault, looks.of(assembly, &overlay).unwrap_or(none))
        })
        .collect();
    let chosen = match places {
        [] => looks.telling(&healthy, &boards),
        _ => (0..looks.columns.len()).collect(),
    };
    let rows = looks.rows(&healthy, &boards, &chosen);
    let columns: Vec<Probe> = chosen.iter().map(|&at| looks.columns[at]).collect();
    let healthy = chosen.iter().map(|&at| looks.healthy_cell(at, healthy[at].as_ref())).collect();
    Ok(FaultTable { setup, columns, healthy, rows })
}

/// Nets that a probe reaches.
fn nets(circuit: &Circuit) -> impl Iterator<Item = NetId> + '_ {
    circuit.nets_by_id().skip(1).map(|(net, _)| net).filter(|net| circuit.board.can_probe(*net))
}

/// Every single fault of the list with a typical value: those that carry none first, slips of a decade
/// last, in the order of the parts, nets behind them.
fn faults(circuit: &Circuit) -> Vec<Fault> {
    let list = hypotheses(circuit, &Evidence::default());
    let mut found: Vec<(u8, usize, Fault)> = Vec::new();
    for cause in list.iter().flat_map(|hypothesis| &hypothesis.causes) {
        let Some(fault) = typical(circuit, cause) else { continue };
        let place = fault.part().map_or(circuit.parts.len(), |part| part.index());
        // Wrong values that are slips of the person who fitted the part come last.
        let is_slip = cause.point().is_some() || matches!(fault, Fault::Alike(..));
        let class = if is_slip { 2 } else { u8::from(fault.value().is_some()) };
        if !found.iter().any(|(.., known)| *known == fault) {
            found.push((class, place, fault));
        }
    }
    found.sort_by_key(|(class, place, _)| (*class, *place));
    found.into_iter().map(|(.., fault)| fault).collect()
}

/// What the meter shows in one place.
#[derive(Debug, Clone, PartialEq)]
struct Seen {
    low: f64,
    high: f64,
    /// The ends as a meter of endless range would show them.
    latent: (f64, f64),
    /// Change of the value by one standard uncertainty of each source of the board.
    spread: Vec<f64>,
    floats: bool,
}

/// What boards look like at all columns.
struct Looks<'a> {
    circuit: &'a Circuit,
    meter: Meter,
    columns: Vec<Probe>,
}

impl Looks<'_> {
    /// What a changed board looks like.
    ///
    /// # Errors
    ///
    /// How the run ended in a setup that has neither an operating point nor a cycle.
    fn of(&self, assembly: &Assembly<'_>, overlay: &Overlay) -> Result<Vec<Option<Seen>>, Ending> {
        let mut setups: Vec<SetupId> = self.columns.iter().map(|probe| probe.setup).collect();
        setups.dedup();
        let mut seen = vec![None; self.columns.len()];
        for setup in setups {
            let found = assembly.powered(setup, overlay, None);
            let round = match (found.run.point, found.cycle) {
                (Some(point), _) => vec![(found.network, point)],
                (None, Some(cycle)) => cycle.round,
                (None, None) => return Err(found.run.ending),
            };
            let scenes: Vec<Scene<'_>> = round
                .into_iter()
                .map(|(network, point)| Scene::at(assembly, setup, network, point, true))
                .collect();
            for (seen, probe) in seen.iter_mut().zip(&self.columns) {
                if probe.setup == setup {
                    *seen = self.at(&scenes, probe);
                }
            }
        }
        Ok(seen)
    }

    fn at(&self, scenes: &[Scene<'_>], probe: &Probe) -> Option<Seen> {
        let shown: Vec<Shown> = scenes
            .iter()
            .map(|scene| show(scene, probe.quantity, probe.place, &self.meter))
            .collect::<Option<_>>()?;
        let ends = |of: &dyn Fn(&Shown) -> f64| {
            let values = shown.iter().map(of);
            (values.clone().fold(f64::INFINITY, f64::min), values.fold(f64::NEG_INFINITY, f64::max))
        };
        let (low, high) = ends(&|one| one.value);
        let latent = ends(&|one| one.latent);
        let floats = shown.iter().any(|one| one.floats);
        let spread = shown.into_iter().next()?.spread;
        Some(Seen { low, high, latent, spread, floats })
    }

    /// How far what one board shows is from another, in standard uncertainties of the meter and of
    /// the tolerances: those of the first board, or what both do differently where they share them.
    fn off(&self, column: usize, from: &Seen, to: &Seen, shared: bool) -> f64 {
        let one = |value: f64, latent: f64, beside: f64| {
            let target = self.target(column, value);
            let (here, there) = (target.scale.slope(latent), target.scale.slope(beside));
            let spread: f64 = from
                .spread
                .iter()
                .zip(&to.spread)
                .map(|(own, other)| {
                    let other = if shared { other * there } else { 0.0 };
                    (own * here - other).powi(2)
                })
                .sum();
            let y = target.scale.of(latent);
            let away = if y < target.low {
                target.low - y
            } else if y > target.high {
                target.high - y
            } else {
                0.0
            };
            away / spread.sqrt().hypot(target.standard()).max(f64::MIN_POSITIVE)
        };
        let low = one(to.low, from.latent.0, to.latent.0);
        let high = one(to.high, from.latent.1, to.latent.1);
        if low.abs() > high.abs() { low } else { high }
    }

    /// The target that a value on the display would be.
    fn target(&self, column: usize, value: f64) -> Target {
        let Probe { setup, quantity, place } = self.columns[column];
        let observed = if value.is_finite() {
            Observed::Number { value, count: Meter::count(quantity, value), half_width: None }
        } else {
            Observed::Over
        };
        let place_text = String::new();
        let meter = self.meter;
        Target::new(self.circuit, &Reading { setup, quantity, place, place_text, observed, meter })
    }

    fn arrow(&self, column: usize, healthy: Option<&Seen>, seen: Option<&Seen>) -> Arrow {
        let (Some(healthy), Some(seen)) = (healthy, seen) else { return Arrow::NoPoint };
        let digit = Meter::count(self.columns[column].quantity, seen.high);
        if seen.high - seen.low > digit {
            return Arrow::Switching;
        }
        if seen.floats && !healthy.floats {
            return Arrow::Floating;
        }
        match self.off(column, healthy, seen, false) {
            off if off > MARKED => Arrow::Higher,
            off if off < -MARKED => Arrow::Lower,
            _ => Arrow::Same,
        }
    }

    fn healthy_cell(&self, column: usize, seen: Option<&Seen>) -> HealthyCell {
        let Some(seen) = seen else {
            return HealthyCell { value: f64::NAN, u: f64::NAN, floats: false };
        };
        let own: f64 = seen.spread.iter().map(|part| part * part).sum::<f64>().sqrt();
        let target = self.target(column, seen.low);
        let slope = match target.scale {
            Scale::Plain => 1.0,
            scale => scale.slope(seen.latent.0),
        };
        let u = own.hypot(target.standard() / slope);
        HealthyCell { value: seen.low, u, floats: seen.floats }
    }

    /// The rows of some columns.
    fn rows(
        &self,
        healthy: &[Option<Seen>],
        boards: &[(Fault, Vec<Option<Seen>>)],
        columns: &[usize],
    ) -> Vec<Row> {
        let mut rows: Vec<Row> = Vec::new();
        for (number, (fault, seen)) in boards.iter().enumerate() {
            let cell = |&at: &usize| {
                let (low, high) =
                    seen[at].as_ref().map_or((f64::NAN, f64::NAN), |seen| (seen.low, seen.high));
                let arrow = self.arrow(at, healthy[at].as_ref(), seen[at].as_ref());
                Cell { low, high, arrow }
            };
            let cells: Vec<Cell> = columns.iter().map(cell).collect();
            let is_same = |earlier: &usize| {
                rows[*earlier].same_as.is_none()
                    && self.looks_same(
                        (&rows[*earlier].cells, &boards[*earlier].1),
                        (&cells, seen),
                        columns,
                    )
            };
            let same_as = (0..number).find(is_same);
            rows.push(Row { fault: *fault, cells, same_as });
        }
        rows
    }

    /// Whether two rows look the same: with the same arrows, and where these are not "the same as
    /// healthy" with values that nobody would tell apart.
    fn looks_same(
        &self,
        (one, seen_one): (&[Cell], &[Option<Seen>]),
        (other, seen_other): (&[Cell], &[Option<Seen>]),
        columns: &[usize],
    ) -> bool {
        one.iter().zip(other).zip(columns).all(|((one, other), &at)| {
            if one.arrow != other.arrow {
                return false;
            }
            match (&seen_one[at], &seen_other[at]) {
                _ if one.arrow == Arrow::Same => true,
                // By the narrower of both: a wide tolerance of one of them makes no two values one.
                (Some(one), Some(other)) => {
                    [(one, other), (other, one)].into_iter().all(|(from, to)| {
                        [true, false]
                            .iter()
                            .all(|&shared| self.off(at, from, to, shared).abs() <= MARKED)
                    })
                }
                _ => true,
            }
        })
    }

    /// The columns that are shown when none was asked for: nets that somebody cares for, and then
    /// one after the other the place that leaves most rows of their own.
    fn telling(
        &self,
        healthy: &[Option<Seen>],
        boards: &[(Fault, Vec<Option<Seen>>)],
    ) -> Vec<usize> {
        let cared = watched_nets(self.circuit);
        let is_cared = |at: &usize| match self.columns[*at].place {
            Place::At(Spot::Net(net)) => cared.contains(&net),
            _ => false,
        };
        let n = self.columns.len();
        let places = |at: usize| -> Vec<usize> {
            (0..n).filter(|&other| self.columns[other].place == self.columns[at].place).collect()
        };
        let mut chosen: Vec<usize> = (0..n).filter(is_cared).collect();
        let count = |columns: &[usize]| {
            let rows = self.rows(healthy, boards, columns);
            rows.iter().filter(|row| row.same_as.is_none()).count()
        };
        let mut most = count(&chosen);
        loop {
            let n_places = chosen.iter().map(|&at| places(at)[0]).collect::<BTreeSet<_>>();
            if n_places.len() >= COLUMNS {
                break;
            }
            let open: Vec<usize> =
                (0..n).filter(|at| !chosen.contains(at) && places(*at)[0] == *at).collect();
            let better = open
                .into_par_iter()
                .map(|at| {
                    let with: Vec<usize> = chosen.iter().copied().chain(places(at)).collect();
                    (count(&with), at)
                })
                .max_by(|a, b| a.0.cmp(&b.0).then(b.1.cmp(&a.1)));
            match better {
                Some((rows, at)) if rows > most => {
                    chosen.extend(places(at));
                    most = rows;
                }
                _ => break,
            }
        }
        // Volts first, in the order of the circuit.
        chosen.sort_unstable();
        if chosen.is_empty() { (0..n).take(COLUMNS).collect() } else { chosen }
    }
}

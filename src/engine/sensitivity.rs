//! How answers move with the parameters that have a tolerance: adjoint sensitivities.
//!
//! # Formula
//!
//! With F(x, p) = 0 the equations, J = ∂F/∂x at the operating point and y = cᵀx a reading,
//!
//! ```text
//! dy/dp = −λᵀ ∂F/∂p      with Jᵀ λ = c
//! ```
//!
//! one transposed solve per reading, whatever the number of parameters (S. W. Director and R. A.
//! Rohrer, "The generalized adjoint network and network sensitivities", IEEE Trans. Circuit
//! Theory 16, 1969). ∂F/∂p is taken from the part's own law by central differences, so that a
//! new kind of part needs no derivatives of its own.

use super::assembly::Assembly;
use super::network::Network;
use super::newton::net_volts;
use super::point::OperatingPoint;
use crate::circuit::{Param, PartId, Pull, SetupId};
use crate::device::{Branch, Law, PARAMETER_STEP, of};

/// A parameter that is uncertain.
#[derive(Debug, Clone)]
pub struct Source {
    /// The part.
    pub part: PartId,
    /// The parameter's name.
    pub parameter: &'static str,
    /// Its nominal value, in its SI unit.
    pub nominal: f64,
    /// Half-width of what it may be, in its SI unit.
    pub half_width: f64,
    /// One standard uncertainty, in its SI unit: the half-width over √3 (JCGM 100:2008, 4.3.7).
    pub standard: f64,
    /// The laws with the parameter a step up and a step down, per setup.
    laws: Vec<[Vec<Branch>; 2]>,
    /// Per setup: the branches of the part, by number, that the parameter makes a difference to.
    touched: Vec<Vec<bool>>,
}

/// Every parameter with a tolerance. What it makes a difference to is taken over from sources of the
/// same circuit with other values, where there are any.
pub(super) fn sources_of(assembly: &Assembly<'_>, like: Option<&[Source]>) -> Vec<Source> {
    let circuit = assembly.circuit();
    let mut found: Vec<Source> = Vec::new();
    for (id, part) in circuit.parts_by_id() {
        for (name, param) in &part.params {
            let (Param::Number(number)
            | Param::Point(crate::quantity::Point { value: number, .. })
            | Param::Pull(Pull { value: number, .. })) = param
            else {
                continue;
            };
            let standard = number.standard_uncertainty();
            if standard <= 0.0 {
                continue;
            }
            let laws: Vec<_> = (0..circuit.setups.len())
                .map(|setup| laws_around(assembly, id, name, number.nominal, setup))
                .collect();
            let known = like.and_then(|like| like.get(found.len()));
            let known = known.filter(|known| known.part == id && known.parameter == *name);
            let touched = match known {
                Some(known) => known.touched.clone(),
                None => laws.iter().map(touched).collect(),
            };
            found.push(Source {
                part: id,
                parameter: name,
                nominal: number.nominal,
                half_width: standard * 3.0_f64.sqrt(),
                standard,
                laws,
                touched,
            });
        }
    }
    found
}

/// Which branches differ between two lists of laws; by all that they are made of, so that a piece
/// of a law that nothing stands on yet counts too.
fn touched([up, down]: &[Vec<Branch>; 2]) -> Vec<bool> {
    let differ = |(up, down): (&Branch, &Branch)| format!("{up:?}") != format!("{down:?}");
    up.iter().zip(down).map(differ).collect()
}

fn laws_around(
    assembly: &Assembly<'_>,
    part: PartId,
    name: &'static str,
    nominal: f64,
    setup: usize,
) -> [Vec<Branch>; 2] {
    [1.0, -1.0].map(|sign| {
        let mut values = assembly.values(part, setup);
        values.replaced.insert(0, (name, nominal + sign * step_of(nominal)));
        of(values.part).branches(&values)
    })
}

/// Half the step by which a law is differentiated in a parameter; one of nothing, such as an
/// offset, is moved by a share of its unit.
fn step_of(nominal: f64) -> f64 {
    PARAMETER_STEP * if nominal == 0.0 { 1.0 } else { nominal }
}

/// ∂F/∂p of every uncertain parameter at one operating point.
#[derive(Debug, Clone)]
pub struct Sensitivities {
    /// Per source: the change of each touched equation.
    pushes: Vec<Vec<Push>>,
}

#[derive(Debug, Clone, Copy)]
enum Push {
    /// Amps leave the first net and enter the second, per unit of the parameter.
    Amps(usize, usize, f64),
    /// The given voltage in this row rises, per unit of the parameter.
    Volts(usize, f64),
}

impl Sensitivities {
    /// Differentiates the laws of all parts at the operating point of `network`.
    pub fn new(
        assembly: &Assembly<'_>,
        setup: SetupId,
        network: &Network,
        point: &OperatingPoint,
    ) -> Sensitivities {
        // Where a part's own branches stand among the elements.
        let mut first: Vec<Vec<usize>> = vec![Vec::new(); assembly.circuit().parts.len()];
        let mut own_row = vec![usize::MAX; network.elements.len()];
        let mut n_own = 0;
        for (idx, element) in network.elements.iter().enumerate() {
            if let Some(origin) = element.origin
                && origin.number.is_some()
            {
                first[origin.part.index()].push(idx);
            }
            if element.law.has_own_current() {
                own_row[idx] = network.n_nets - 1 + n_own;
                n_own += 1;
            }
        }
        let pushes = assembly
            .sources()
            .iter()
            .map(|source| {
                // Of two parts in each other's place, each takes its tolerance with it.
                let place = network.patch.place_of(source.part);
                let idxs = &first[place.index()];
                if idxs.is_empty() || network.patch.is_taken(source.part) {
                    return Vec::new();
                }
                let rebuilt;
                let replaced = network.patch.replaced(source.part);
                let on = network.states()[place.index()];
                let laws = match replaced {
                    [] if on == 0 => &source.laws[setup.0],
                    [] => {
                        rebuilt = laws_around_fault(assembly, source, &[], setup.0, on);
                        &rebuilt
                    }
                    // The parameter that a fault replaces loses its own tolerance; the part's
                    // other parameters are taken around the faulted law.
                    replaced => {
                        if replaced.iter().any(|(name, _)| *name == source.parameter) {
                            return Vec::new();
                        }
                        rebuilt = laws_around_fault(assembly, source, replaced, setup.0, on);
                        &rebuilt
                    }
                };
                let step = 2.0 * step_of(source.nominal);
                idxs.iter()
                    .filter_map(|&idx| {
                        let element = &network.elements[idx];
                        let number = element.origin?.number?;
                        let [up, down] =
                            [laws[0].get(number)?, laws[1].get(number)?].map(|branch| &branch.law);
                        let volts: Vec<f64> = std::iter::once((element.from, element.to))
                            .chain(network.sensed(element))
                            .map(|(from, to)| net_volts(&point.x, from) - net_volts(&point.x, to))
                            .collect();
                        push([up, &element.law, down], &volts, point.amps[idx], step).map(|push| {
                            match push {
                                Push::Amps(_, _, amps) => {
                                    Push::Amps(element.from, element.to, amps)
                                }
                                Push::Volts(_, volts) => Push::Volts(own_row[idx], volts),
                            }
                        })
                    })
                    .collect()
            })
            .collect();
        Sensitivities { pushes }
    }

    /// dy/dp of a reading with this adjoint, for every source; volts per unit of the parameter.
    pub fn along(&self, adjoint: &[f64]) -> Vec<f64> {
        self.pushes
            .iter()
            .map(|pushes| {
                pushes
                    .iter()
                    .map(|push| match *push {
                        Push::Amps(from, to, amps) => {
                            -amps * (net_volts(adjoint, from) - net_volts(adjoint, to))
                        }
                        Push::Volts(row, volts) => volts * adjoint[row],
                    })
                    .sum()
            })
            .collect()
    }
}

fn laws_around_fault(
    assembly: &Assembly<'_>,
    source: &Source,
    replaced: &[(&'static str, f64)],
    setup: usize,
    on: u8,
) -> [Vec<Branch>; 2] {
    [1.0, -1.0].map(|sign| {
        let mut values = assembly.values(source.part, setup);
        values.on = on;
        values.replaced.splice(0..0, replaced.iter().copied());
        let moved = source.nominal + sign * step_of(source.nominal);
        values.replaced.insert(0, (source.parameter, moved));
        of(values.part).branches(&values)
    })
}

/// How one branch answers to a parameter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Slope {
    /// Amps through it, per unit of the parameter, at unchanged volts.
    Amps(f64),
    /// Its given volts, per unit of the parameter.
    Volts(f64),
}

impl Source {
    /// How the part's branch of that number, whose law is `here`, answers to the parameter at a
    /// voltage; `None` for a part whose laws in this setup have no such branch.
    pub fn slope(&self, setup: SetupId, number: usize, here: &Law, volts: &[f64]) -> Option<Slope> {
        self.slope_with(&self.laws[setup.0], number, here, volts)
    }

    /// The branches of the part, by number, that the parameter makes a difference to.
    pub fn touched(&self, setup: SetupId) -> &[bool] {
        &self.touched[setup.0]
    }

    /// The part's laws a step up and a step down in this parameter, where a fault replaces other
    /// ones, or some of its conditions hold.
    pub fn laws_around(
        &self,
        assembly: &Assembly<'_>,
        setup: SetupId,
        replaced: &[(&'static str, f64)],
        on: u8,
    ) -> [Vec<Branch>; 2] {
        laws_around_fault(assembly, self, replaced, setup.0, on)
    }

    /// [`Source::slope`] between laws that were taken around a fault.
    pub fn slope_with(
        &self,
        [up, down]: &[Vec<Branch>; 2],
        number: usize,
        here: &Law,
        volts: &[f64],
    ) -> Option<Slope> {
        let (up, down) = (&up.get(number)?.law, &down.get(number)?.law);
        let step = 2.0 * step_of(self.nominal);
        match push([up, here, down], volts, 0.0, step)? {
            Push::Amps(_, _, amps) => Some(Slope::Amps(amps)),
            Push::Volts(_, volts) => Some(Slope::Volts(volts)),
        }
    }
}

/// How one law moves with its parameter at the operating point. The laws are those a step up, at the
/// parameter itself, and a step down; `step` leads from the last to the first. `all` holds the
/// branch's own volts, then those that drive it.
fn push([up, here, down]: [&Law; 3], all: &[f64], amps: f64, step: f64) -> Option<Push> {
    let volts = all.first().copied().unwrap_or(f64::NAN);
    let flow = |law: &Law| match law {
        Law::Line { siemens, amps } => Some(siemens * volts + amps),
        Law::Curve(curve) => Some(curve.at(volts).amps),
        Law::Driven(law) => {
            // Nearly all laws go with a few volts: no list is made for them.
            let mut few = [0.0; 8];
            match few.get_mut(..all.len()) {
                Some(slopes) => Some(law.at(all, slopes)),
                None => Some(law.at(all, &mut vec![0.0; all.len()])),
            }
        }
        Law::Volts(_) | Law::Clamp { .. } => None,
    };
    let segment = |law: &Law| match law {
        Law::Curve(curve) => curve.segment(volts).map(u32::from),
        Law::Driven(law) => law.segment(all),
        _ => None,
    };
    if let (Some(above), Some(below)) = (flow(up), flow(down)) {
        // Where a corner of the law lies inside the step, the side without it is the true one.
        let slope = match (flow(here), segment(up), segment(here), segment(down)) {
            (Some(at), up, here, down) if up != down && here == up => (above - at) / (0.5 * step),
            (Some(at), up, here, down) if up != down && here == down => (at - below) / (0.5 * step),
            _ => (above - below) / step,
        };
        return Some(Push::Amps(0, 0, slope));
    }
    match (up, down) {
        (Law::Volts(up), Law::Volts(down)) => Some(Push::Volts(0, (up - down) / step)),
        (Law::Clamp { low, high }, Law::Clamp { low: low_down, high: high_down }) => {
            // Only an end that is held has an influence; inside the range a leak is left.
            let held =
                |end: f64| end.is_finite() && (volts - end).abs() <= 1e-6 * (1.0 + end.abs());
            let (high_is, low_is) = (0.5 * (high + high_down), 0.5 * (low + low_down));
            if amps > 0.0 && held(high_is) {
                Some(Push::Volts(0, (high - high_down) / step))
            } else if amps < 0.0 && held(low_is) {
                Some(Push::Volts(0, (low - low_down) / step))
            } else {
                None
            }
        }
        _ => None,
    }
}

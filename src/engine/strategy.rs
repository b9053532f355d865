//! From equations to a checked operating point: the strategies, tried in order.

use super::factor::Factor;
use super::network::Network;
use super::newton::{Aid, Equations, Walk, net_volts};
use super::point::{Ending, OperatingPoint, Run, Settings, Strategy};
use super::structure::{conducting_islands, source_loop};

/// What a strategy made of the equations.
struct Attempt {
    found: Option<(Vec<f64>, Factor)>,
    iterations: usize,
    moving: Vec<usize>,
}

impl Network {
    /// Solves the network from nothing: plain Newton first, then the stubborn strategies.
    pub fn solve(&self, settings: &Settings) -> Run {
        self.solve_from(None, settings)
    }

    /// Solves the network from the operating point of a similar one, where there is one.
    pub fn solve_from(&self, start: Option<&OperatingPoint>, settings: &Settings) -> Run {
        if let Some(elements) = source_loop(self) {
            return Run { ending: Ending::Contradiction { elements }, point: None };
        }
        let equations = Equations::new(self);
        let n = equations.len();
        if n == 0 {
            return self.nothing();
        }
        let zero = vec![0.0; n];
        let warm = start.filter(|point| point.x.len() == n).map(|point| point.x.clone());
        let mut iterations = 0;
        let mut moving = Vec::new();
        let mut singular = false;
        let plain = |x: &[f64]| plain(&equations, x, settings);
        let attempts: [(Strategy, &dyn Fn() -> Attempt); 5] = [
            (Strategy::Newton, &|| plain(warm.as_deref().unwrap_or(&zero))),
            (Strategy::Newton, &|| {
                if warm.is_some() { plain(&zero) } else { Attempt::none() }
            }),
            (Strategy::ConductanceStepping, &|| conductance_stepping(&equations, settings)),
            (Strategy::SourceStepping, &|| source_stepping(&equations, settings)),
            (Strategy::PseudoTransient, &|| pseudo_transient(&equations, settings)),
        ];
        for (by, attempt) in attempts {
            let attempt = attempt();
            iterations += attempt.iterations;
            if !attempt.moving.is_empty() {
                moving = attempt.moving;
            }
            let Some((x, factor)) = attempt.found else { continue };
            let point = self.check(&equations, x, factor);
            if point.kcl_share <= 1.0 {
                if factor_is_sound(&point, settings) {
                    return Run {
                        ending: Ending::Converged { by, iterations },
                        point: Some(point),
                    };
                }
                singular = true;
                break;
            }
        }
        let ending = if singular || (moving.is_empty() && equations.is_linear()) {
            Ending::Singular
        } else {
            let nets = moving.into_iter().map(|row| row + 1).filter(|&net| net < self.n_nets);
            Ending::NotSettled { nets: nets.collect() }
        };
        Run { ending, point: None }
    }

    /// The operating point of a network without unknowns: every branch is on ground.
    fn nothing(&self) -> Run {
        let equations = Equations::new(self);
        let point = Factor::new(nalgebra::DMatrix::zeros(0, 0))
            .map(|factor| self.check(&equations, Vec::new(), factor));
        let by = Strategy::Newton;
        Run { ending: Ending::Converged { by, iterations: 0 }, point }
    }

    /// Recomputes every current from its law and adds up: the proof of the answer.
    ///
    /// `kcl_share` comes out as the share of what is allowed, so that 1 is the border.
    fn check(&self, equations: &Equations<'_>, x: Vec<f64>, factor: Factor) -> OperatingPoint {
        let settings = Settings::default();
        let amps = equations.amps(&x);
        let rounding = equations.rounding(&x);
        let mut sums = vec![0.0_f64; self.n_nets];
        let mut sizes = vec![0.0_f64; self.n_nets];
        let (mut imbalance, mut turnover) = (0.0_f64, 0.0_f64);
        for (element, &amps) in self.elements.iter().zip(&amps) {
            sums[element.from] += amps;
            sums[element.to] -= amps;
            sizes[element.from] += amps.abs();
            sizes[element.to] += amps.abs();
            let watts = (net_volts(&x, element.from) - net_volts(&x, element.to)) * amps;
            imbalance += watts;
            turnover += watts.abs();
        }
        let (mut residual, mut share) = (0.0_f64, 0.0_f64);
        for net in 1..self.n_nets {
            let allowed = settings.absolute_amps + settings.relative * sizes[net] + rounding[net];
            residual = residual.max(sums[net].abs());
            share = share.max(sums[net].abs() / allowed);
        }
        let mut islands = conducting_islands(self);
        let floating = (0..self.n_nets).map(|net| islands.root(net) != 0).collect();
        OperatingPoint {
            volts: (0..self.n_nets).map(|net| net_volts(&x, net)).collect(),
            floating,
            amps,
            kcl_residual: residual,
            kcl_share: share,
            power_imbalance: imbalance,
            power_turnover: turnover,
            factor,
            x,
        }
    }
}

fn factor_is_sound(point: &OperatingPoint, settings: &Settings) -> bool {
    point.factor.reciprocal_condition() >= settings.least_condition
}

impl Attempt {
    fn none() -> Attempt {
        Attempt { found: None, iterations: 0, moving: Vec::new() }
    }
}

fn plain(equations: &Equations<'_>, start: &[f64], settings: &Settings) -> Attempt {
    let mut attempt = Attempt::none();
    step(equations, start, &Aid::NONE, settings, &mut attempt);
    attempt
}

/// One walk that adds to the attempt; the point it settled in.
fn step(
    equations: &Equations<'_>,
    start: &[f64],
    aid: &Aid<'_>,
    settings: &Settings,
    attempt: &mut Attempt,
) -> Option<Vec<f64>> {
    match equations.walk(start, aid, settings) {
        Walk::Settled { x, factor, iterations } => {
            attempt.iterations += iterations;
            attempt.found = Some((x.clone(), factor));
            Some(x)
        }
        Walk::Moving { unknowns, iterations } => {
            attempt.iterations += iterations;
            attempt.moving = unknowns;
            attempt.found = None;
            None
        }
        Walk::Singular { iterations } => {
            attempt.iterations += iterations;
            attempt.found = None;
            None
        }
    }
}

/// A conductance from every net to ground, from 1 S down by tens, then none.
fn conductance_stepping(equations: &Equations<'_>, settings: &Settings) -> Attempt {
    let mut attempt = Attempt::none();
    let mut x = vec![0.0; equations.len()];
    let mut shunt = 1.0;
    while shunt > 1e-13 {
        let aid = Aid { shunt, ..Aid::NONE };
        match step(equations, &x, &aid, settings, &mut attempt) {
            Some(settled) => x = settled,
            None => return attempt,
        }
        shunt /= 10.0;
    }
    step(equations, &x, &Aid::NONE, settings, &mut attempt);
    attempt
}

/// All sources raised from zero; the step halves when it fails and grows when it settles.
fn source_stepping(equations: &Equations<'_>, settings: &Settings) -> Attempt {
    let mut attempt = Attempt::none();
    let mut x = vec![0.0; equations.len()];
    let (mut done, mut stride) = (0.0, 0.1);
    while done < 1.0 {
        let sources = f64::min(done + stride, 1.0);
        let aid = Aid { sources, ..Aid::NONE };
        match step(equations, &x, &aid, settings, &mut attempt) {
            Some(settled) => {
                x = settled;
                done = sources;
                stride *= 1.5;
            }
            None => {
                stride /= 4.0;
                if stride < 1e-6 {
                    return attempt;
                }
            }
        }
    }
    attempt
}

/// Every net carried along by a capacitance: implicit steps of growing length until nothing moves,
/// then the equations themselves.
fn pseudo_transient(equations: &Equations<'_>, settings: &Settings) -> Attempt {
    let mut attempt = Attempt::none();
    let mut x = vec![0.0; equations.len()];
    let mut shunt = 1.0;
    for _ in 0..400 {
        let pull = x.clone();
        let aid = Aid { shunt, pull_to: Some(&pull), ..Aid::NONE };
        match step(equations, &x, &aid, settings, &mut attempt) {
            Some(settled) => {
                x = settled;
                shunt /= 2.0;
            }
            None => shunt *= 8.0,
        }
        if shunt < 1e-12 {
            break;
        }
        if shunt > 1e9 {
            return attempt;
        }
    }
    step(equations, &x, &Aid::NONE, settings, &mut attempt);
    attempt
}

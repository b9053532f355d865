//! From equations to a checked operating point: the strategies, tried in order.

use super::equations::{Aid, Equations, State};
use super::factor::Factor;
use super::network::Network;
use super::newton::Walk;
use super::point::{Ending, OperatingPoint, Run, Settings, Strategy};
use super::structure::{conducting_islands, held_loop, source_loop};

/// Steps after which a walk that stops part by part is taken to run in circles.
const SOON: usize = 20;

/// What a strategy made of the equations.
pub(super) struct Attempt {
    pub(super) found: Option<(State, Factor)>,
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
        self.solve_near(start.map(|point| &point.x[..]), settings)
    }

    /// Solves the network from the volts of its nets, as far as they are known.
    pub fn solve_from_volts(&self, volts: &[f64], settings: &Settings) -> Run {
        let n_own = self.elements.iter().filter(|element| element.law.has_own_current()).count();
        let mut start = volts.get(1..).unwrap_or_default().to_vec();
        start.extend(std::iter::repeat_n(0.0, n_own));
        self.solve_near(Some(&start), settings)
    }

    fn solve_near(&self, start: Option<&[f64]>, settings: &Settings) -> Run {
        if let Some(elements) = source_loop(self) {
            return Run { ending: Ending::Contradiction { elements }, point: None };
        }
        let equations = Equations::new(self, settings);
        let n = equations.len();
        let zero = equations.state(&vec![0.0; n]);
        let warm = start.filter(|start| start.len() == n).map(|start| equations.state(start));
        let mut iterations = 0;
        let mut moving = Vec::new();
        let mut singular = false;
        // Converters and other driven branches are walked to without the slopes that fall.
        let plain = |state: &State| match equations.driven.is_empty() {
            true => plain(&equations, state, settings),
            false => tamed(&equations, state, settings),
        };
        // From nothing, a board that may have several states goes up with its sources.
        let ramped = start.is_none() && self.may_latch();
        let attempts: [(Strategy, &dyn Fn() -> Attempt); 9] = [
            (Strategy::Ramp, &|| {
                if ramped { ramp(&equations, &zero, settings) } else { Attempt::none() }
            }),
            (Strategy::Newton, &|| plain(warm.as_ref().unwrap_or(&zero))),
            (Strategy::Newton, &|| {
                if warm.is_some() { plain(&zero) } else { Attempt::none() }
            }),
            (Strategy::Newton, &|| {
                if equations.driven.is_empty() {
                    Attempt::none()
                } else {
                    self::plain(&equations, &zero, settings)
                }
            }),
            (Strategy::LineSearch, &|| line_search(&equations, &zero, settings)),
            (Strategy::ConductanceStepping, &|| conductance_stepping(&equations, &zero, settings)),
            (Strategy::SourceStepping, &|| source_stepping(&equations, &zero, settings)),
            (Strategy::PseudoTransient, &|| pseudo_transient(&equations, &zero, 1.0, settings)),
            (Strategy::Ramp, &|| {
                if ramped { Attempt::none() } else { ramp(&equations, &zero, settings) }
            }),
        ];
        for (by, attempt) in attempts {
            let attempt = attempt();
            iterations += attempt.iterations;
            if !attempt.moving.is_empty() {
                moving = attempt.moving;
            }
            let Some((state, factor)) = attempt.found else { continue };
            if let Some(elements) = held_loop(self, &state.own) {
                return Run { ending: Ending::Contradiction { elements }, point: None };
            }
            let point = self.check(&equations, &state, factor, settings);
            if point.kcl_share <= 1.0 {
                // No board stays in a point of the wrong sign: its neighbours are looked for.
                if equations.sign(&state, &Aid::NONE) < 0.0 {
                    continue;
                }
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
            Ending::NotSettled { nets: moving }
        };
        Run { ending, point: None }
    }

    /// Adds up the currents of all elements: the proof of the answer.
    ///
    /// `kcl_share` comes out as the share of what is allowed, so that 1 is the border.
    pub(super) fn check(
        &self,
        equations: &Equations<'_>,
        state: &State,
        factor: Factor,
        settings: &Settings,
    ) -> OperatingPoint {
        let (amps, rounding) = equations.amps(state);
        let mut sums = vec![0.0_f64; self.n_nets];
        let mut allowed = vec![settings.absolute_amps; self.n_nets];
        let (mut imbalance, mut turnover) = (0.0_f64, 0.0_f64);
        for (idx, (element, &amps)) in self.elements.iter().zip(&amps).enumerate() {
            sums[element.from] += amps;
            sums[element.to] -= amps;
            for net in [element.from, element.to] {
                allowed[net] += settings.relative * amps.abs() + rounding[idx];
            }
            let watts = state.drops[idx] * amps;
            imbalance += watts;
            turnover += watts.abs();
        }
        let (mut residual, mut share) = (0.0_f64, 0.0_f64);
        for net in 1..self.n_nets {
            residual = residual.max(sums[net].abs());
            let here = sums[net].abs() / allowed[net];
            // Not-a-number must not pass for a small share.
            if here > share || here.is_nan() {
                share = here;
            }
        }
        let mut islands = conducting_islands(self);
        let floating = (0..self.n_nets).map(|net| islands.root(net) != 0).collect();
        OperatingPoint {
            volts: state.volts.clone(),
            floating,
            amps,
            kcl_residual: residual,
            kcl_share: share,
            power_imbalance: imbalance,
            power_turnover: turnover,
            factor,
            x: state.unknowns(),
        }
    }
}

pub(super) fn factor_is_sound(point: &OperatingPoint, settings: &Settings) -> bool {
    point.factor.reciprocal_condition() >= settings.least_condition
}

impl Attempt {
    fn none() -> Attempt {
        Attempt { found: None, iterations: 0, moving: Vec::new() }
    }

    /// Adds a walk; the state it settled in.
    fn take(&mut self, walk: Walk) -> Option<State> {
        self.found = None;
        match walk {
            Walk::Settled { state, factor, iterations } => {
                self.iterations += iterations;
                self.found = Some((state.clone(), *factor));
                Some(state)
            }
            Walk::Moving { unknowns, iterations } => {
                self.iterations += iterations;
                self.moving = unknowns;
                None
            }
            Walk::Singular { iterations } => {
                self.iterations += iterations;
                None
            }
        }
    }
}

fn plain(equations: &Equations<'_>, start: &State, settings: &Settings) -> Attempt {
    let mut attempt = Attempt::none();
    step(equations, start, &Aid::NONE, settings, &mut attempt);
    attempt
}

/// One walk that adds to the attempt; the point it settled in.
fn step(
    equations: &Equations<'_>,
    start: &State,
    aid: &Aid<'_>,
    settings: &Settings,
    attempt: &mut Attempt,
) -> Option<State> {
    attempt.take(equations.walk(start, aid, settings))
}

/// A walk without the slopes that fall, then the whole equations.
fn tamed(equations: &Equations<'_>, start: &State, settings: &Settings) -> Attempt {
    let mut attempt = Attempt::none();
    // A walk that does not settle soon runs in circles; the one that stops together does not.
    let soon = Settings { max_iterations: SOON, ..settings.clone() };
    for (together, settings) in [(false, &soon), (true, settings)] {
        let aid = Aid { tamed: true, together, ..Aid::NONE };
        if let Some(state) = step(equations, start, &aid, settings, &mut attempt) {
            step(equations, &state, &Aid::NONE, settings, &mut attempt);
            return attempt;
        }
    }
    attempt
}

/// A line search to the region of the answer, then plain steps.
fn line_search(equations: &Equations<'_>, zero: &State, settings: &Settings) -> Attempt {
    let mut attempt = Attempt::none();
    let (found, iterations) = equations.descend(zero, settings);
    attempt.iterations = iterations;
    if let Some(state) = found
        && attempt.take(equations.finish(&state, settings)).is_none()
    {
        step(equations, &state, &Aid::NONE, settings, &mut attempt);
    }
    attempt
}

/// A conductance from every net to ground, from 1 S down by tens, then none.
fn conductance_stepping(equations: &Equations<'_>, zero: &State, settings: &Settings) -> Attempt {
    let mut attempt = Attempt::none();
    let mut state = zero.clone();
    let mut shunt = 1.0;
    while shunt > 1e-13 {
        let aid = Aid { shunt, tamed: true, ..Aid::NONE };
        match step(equations, &state, &aid, settings, &mut attempt) {
            Some(settled) => state = settled,
            None => return attempt,
        }
        shunt /= 10.0;
    }
    step(equations, &state, &Aid::NONE, settings, &mut attempt);
    attempt
}

/// All sources raised from zero; the step halves when it fails and grows when it settles.
fn source_stepping(equations: &Equations<'_>, zero: &State, settings: &Settings) -> Attempt {
    let mut attempt = Attempt::none();
    let mut state = zero.clone();
    let (mut done, mut stride) = (0.0, 0.1);
    while done < 1.0 {
        let sources = f64::min(done + stride, 1.0);
        let aid = Aid { sources, ..Aid::NONE };
        match step(equations, &state, &aid, settings, &mut attempt) {
            Some(settled) => {
                state = settled;
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
/// then the equations themselves, with this share of the sources.
///
/// A step that is longer than a state takes to run away would settle in the state that it runs
/// away from; such a step shows by the sign of its matrix, and is shortened.
pub(super) fn pseudo_transient(
    equations: &Equations<'_>,
    start: &State,
    sources: f64,
    settings: &Settings,
) -> Attempt {
    let mut attempt = Attempt::none();
    let mut state = start.clone();
    let mut shunt = 1.0;
    let mut first = true;
    // A state that stands on the edge between two others is not stayed in: a millivolt decides.
    let mut nudge = 1e-3;
    for _ in 0..400 {
        let pull: Vec<f64> = state
            .volts
            .iter()
            .enumerate()
            .map(|(net, volts)| volts + nudge * share_of(net))
            .collect();
        let aid = Aid { sources, shunt, pull_to: Some(&pull), tamed: true, together: false };
        let walk = if first {
            equations.walk_anywhere(&state, &aid, settings)
        } else {
            equations.walk(&state, &aid, settings)
        };
        match attempt.take(walk) {
            Some(settled) if equations.sign(&settled, &aid) >= 0.0 => {
                state = settled;
                shunt /= 2.0;
                nudge = 0.0;
                first = false;
            }
            Some(_) => shunt *= 3.0,
            None => shunt *= 8.0,
        }
        if shunt < 1e-12 {
            break;
        }
        if shunt > 1e9 {
            return attempt;
        }
    }
    let aid = Aid { sources, ..Aid::NONE };
    step(equations, &state, &aid, settings, &mut attempt);
    attempt
}

/// A share between −1 and 1 that differs from net to net.
fn share_of(net: usize) -> f64 {
    if net == 0 { 0.0 } else { 2.0 * (net as f64 * 0.618_033_988_75).fract() - 1.0 }
}

/// All sources raised from zero; where the point that is followed vanishes or loses its hold, steps
/// of time lead to the next one.
fn ramp(equations: &Equations<'_>, zero: &State, settings: &Settings) -> Attempt {
    let mut attempt = Attempt::none();
    let mut state = zero.clone();
    let (mut done, mut stride) = (0.0, 0.1);
    while done < 1.0 {
        let sources = f64::min(done + stride, 1.0);
        let aid = Aid { sources, ..Aid::NONE };
        let settled = step(equations, &state, &aid, settings, &mut attempt)
            .filter(|settled| equations.sign(settled, &aid) > 0.0);
        // A leap to another branch of points is told by its length: a step half as long is tried.
        let leaps = settled.as_ref().is_some_and(|settled| far(settled, &state, sources - done));
        match settled {
            Some(settled) if !leaps => {
                state = settled;
                done = sources;
                stride *= 1.5;
            }
            _ if stride > 2e-3 => stride /= 3.0,
            _ => {
                let timed = pseudo_transient(equations, &state, sources, settings);
                attempt.iterations += timed.iterations;
                attempt.found = timed.found;
                match &attempt.found {
                    Some((settled, _)) => {
                        state = settled.clone();
                        done = sources;
                        stride *= 2.0;
                    }
                    None => {
                        attempt.moving = timed.moving;
                        return attempt;
                    }
                }
            }
        }
    }
    attempt
}

/// Whether a net moved much further than the sources alone would have carried it.
fn far(new: &State, old: &State, share: f64) -> bool {
    let largest = new.volts.iter().fold(0.0_f64, |most, volts| most.max(volts.abs()));
    let allowed = 5.0 * share.max(0.02) * largest + 0.05;
    new.volts.iter().zip(&old.volts).any(|(new, old)| (new - old).abs() > allowed)
}

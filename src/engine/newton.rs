//! Runs of Newton's method: with junction limiting, and with a line search.

use super::equations::{Aid, Equations, Held, HeldDriven, Local, State};
use super::factor::Factor;
use super::point::Settings;
use crate::device::{Driven, Law, Sample};

/// What a clamp drops per amp beyond its end while the line search looks for the region, in ohms.
const SOFT_OHMS: f64 = 1e-6;

/// A share of a step below which it leads nowhere: a corner is stood in ...
pub(super) const NOWHERE: f64 = 1e-9;
/// ... and after so many such steps in a row the walk goes to and fro between corners for ever.
pub(super) const MOST_NOWHERE: usize = 24;

/// Where one run of Newton's method went.
pub(super) enum Walk {
    /// It settled here.
    Settled { state: State, factor: Box<Factor>, iterations: usize },
    /// It did not: the unknowns that still moved.
    Moving { unknowns: Vec<usize>, iterations: usize },
    /// A matrix was singular.
    Singular { iterations: usize },
}

impl Equations<'_> {
    /// Newton's method from `start`, with junction limiting.
    pub(super) fn walk(&self, start: &State, aid: &Aid<'_>, settings: &Settings) -> Walk {
        let known = start.volts.iter().any(|volts| *volts != 0.0);
        let held = if known { self.held_at(&start.drops) } else { self.at_first() };
        self.walk_around(start, held, aid, settings)
    }

    /// Newton's method from any volts at all: junctions begin no further than one limited step
    /// from zero.
    pub(super) fn walk_anywhere(&self, start: &State, aid: &Aid<'_>, settings: &Settings) -> Walk {
        let mut held = self.held_at(&start.drops);
        for (&idx, held) in self.curves.iter().zip(&mut held.curves) {
            if let Law::Curve(curve) = &self.network.elements[idx].law {
                let volts = curve.limit(held.0, 0.0);
                *held = (volts, curve.at(volts));
            }
        }
        for (number, held) in held.driven.iter_mut().enumerate() {
            if let Some(law) = self.driven_law(number) {
                let mut volts = held.volts.clone();
                let zeros = vec![0.0; volts.len()];
                law.limit(&mut volts, &zeros);
                *held = HeldDriven::new(law, volts);
            }
        }
        self.walk_around(start, held, aid, settings)
    }

    fn walk_around(
        &self,
        start: &State,
        mut held: Held,
        aid: &Aid<'_>,
        settings: &Settings,
    ) -> Walk {
        let mut state = start.clone();
        let mut unknowns = Vec::new();
        let (mut before, mut was_quiet, mut nowhere) = (None, false, 0);
        let most = settings.max_iterations * if aid.together { 5 } else { 1 };
        for iteration in 1..=most {
            let locals = self.locals(&state, &held, aid);
            let mut system = self.system(&locals, aid, before);
            let residual = self.residual(&system, &state, &locals, aid);
            let Some(factor) = system.factor() else {
                return Walk::Singular { iterations: iteration };
            };
            let Some(mut step) = downhill(&factor, &residual) else {
                return Walk::Singular { iterations: iteration };
            };
            let mut new = self.moved(&system, &state, &step);
            let share = if aid.together { self.first_corner(&held, &new) } else { 1.0 };
            nowhere = if share < NOWHERE { nowhere + 1 } else { 0 };
            if nowhere > MOST_NOWHERE {
                return Walk::Moving { unknowns, iterations: iteration };
            }
            if share < 1.0 {
                for step in &mut step {
                    *step *= share;
                }
                new = self.moved(&system, &state, &step);
            }
            let (mut furthest, mut bent) = (0.0_f64, self.clamps_differ(&state, &new));
            for (&idx, held) in self.curves.iter().zip(&mut held.curves) {
                let Law::Curve(curve) = &self.network.elements[idx].law else { continue };
                let volts = new.drops[idx];
                let allowed = curve.limit(volts, held.0);
                bent |= curve.segment(volts) != curve.segment(held.0);
                furthest = furthest.max((allowed - held.0).abs()).max((allowed - volts).abs());
                let mut sample = curve.at(allowed);
                if aid.tamed {
                    sample.siemens = sample.siemens.max(0.0);
                }
                *held = (allowed, sample);
            }
            let shares = match aid.together {
                true => vec![1.0; self.driven.len()],
                false => self.corner_shares(&held, &new),
            };
            for ((number, held), share) in held.driven.iter_mut().enumerate().zip(shares) {
                let Some(law) = self.driven_law(number) else { continue };
                let volts = self.driven_volts(number, &new.drops);
                let mut allowed = volts.clone();
                law.limit(&mut allowed, &held.volts);
                if share < 1.0 {
                    go_along(share, &mut allowed, &held.volts);
                }
                bent |= law.segment(&volts) != law.segment(&held.volts);
                for ((allowed, held), volts) in allowed.iter().zip(&held.volts).zip(&volts) {
                    furthest = furthest.max((allowed - held).abs()).max((allowed - volts).abs());
                }
                *held = HeldDriven::new(law, allowed).tamed(law, aid.tamed);
            }
            unknowns = moved(&new, &state, settings);
            // What stands in a corner of its law lies on two segments: once nothing else moves, it
            // may change between them. Kirchhoff's current law decides in the end.
            let quiet = unknowns.is_empty() && furthest <= settings.step_volts;
            let still = quiet && share == 1.0 && (!bent || was_quiet);
            was_quiet = quiet;
            state = new;
            if still || self.is_linear() {
                // Two more steps with the same factors take away what rounding left over.
                for _ in 0..2 {
                    let locals = self.locals(&state, &self.held_at(&state.drops), aid);
                    let residual = self.residual(&system, &state, &locals, aid);
                    if let Some(step) = downhill(&factor, &residual) {
                        state = self.moved(&system, &state, &step);
                    }
                }
                return Walk::Settled { state, factor: Box::new(factor), iterations: iteration };
            }
            before = Some(system);
        }
        Walk::Moving { unknowns, iterations: most }
    }

    /// Per driven element: the share of its step to take. What one part does must stand at one
    /// place: its branches all stop where the first of them meets a corner.
    fn corner_shares(&self, held: &Held, new: &State) -> Vec<f64> {
        let mut shares = vec![1.0; self.driven.len()];
        let part = |number: usize| self.network.elements[self.driven[number].0].part();
        let mut first = 0;
        while first < shares.len() {
            let mut last = first + 1;
            while last < shares.len() && part(last).is_some() && part(last) == part(first) {
                last += 1;
            }
            let mut least = 1.0_f64;
            for number in first..last {
                let Some(law) = self.driven_law(number) else { continue };
                let old = &held.driven[number].volts;
                let mut wanted = self.driven_volts(number, &new.drops);
                law.limit(&mut wanted, old);
                least = least.min(corner_share(law, &wanted, old));
            }
            shares[first..last].fill(least);
            first = last;
        }
        shares
    }

    /// The share of a step at which the first driven law meets a corner.
    fn first_corner(&self, held: &Held, new: &State) -> f64 {
        let mut least = 1.0_f64;
        for (number, held) in held.driven.iter().enumerate() {
            let Some(law) = self.driven_law(number) else { continue };
            let wanted = self.driven_volts(number, &new.drops);
            least = least.min(corner_share(law, &wanted, &held.volts));
        }
        least
    }

    /// Where laws wish to begin when nothing is known.
    fn at_first(&self) -> Held {
        let at = |&idx: &usize| match &self.network.elements[idx].law {
            Law::Curve(curve) => (curve.first(), curve.at(curve.first())),
            _ => (0.0, Sample::NOTHING),
        };
        let driven = (0..self.driven.len())
            .filter_map(|number| {
                let law = self.driven_law(number)?;
                let mut volts = vec![0.0; 1 + self.driven[number].1.len()];
                law.first(&mut volts);
                Some(HeldDriven::new(law, volts))
            })
            .collect();
        Held { curves: self.curves.iter().map(at).collect(), driven }
    }

    /// Newton's method with a line search, to a state that [`Equations::finish`] makes exact.
    ///
    /// Laws i = f(v) between two nets have a potential, the co-content ∫ i dv summed over all
    /// branches, whose gradient is what is left over of Kirchhoff's current law (W. Millar, "Some
    /// general theorems for non-linear systems possessing resistance", Philosophical Magazine 42,
    /// 1951). Where no current falls when its voltage rises it is convex: its only minimum is the
    /// only operating point, and steps along which it falls cannot run in circles.
    pub(super) fn descend(&self, start: &State, settings: &Settings) -> (Option<State>, usize) {
        // What drives a branch from elsewhere leaves no potential to go down.
        if !self.driven.is_empty() {
            return (None, 0);
        }
        let mut state = start.clone();
        let bound = 8 * settings.max_iterations;
        let mut before = None;
        for iteration in 1..=bound {
            let mut locals = self.soft_locals(&state.drops, SOFT_OHMS);
            // A falling current would turn the step uphill; a flat one would leave it without end.
            for local in &mut locals.elements {
                if let Local::Flow(sample) = local {
                    sample.siemens = sample.siemens.max(1e-20);
                }
            }
            let mut system = self.system(&locals, &Aid::NONE, before);
            let residual = self.residual(&system, &state, &locals, &Aid::NONE);
            let step = system.factor().and_then(|factor| downhill(&factor, &residual));
            let Some(mut step) = step else { return (None, iteration) };
            let directions: Vec<f64> =
                (0..state.drops.len()).map(|idx| system.across(idx, &step)).collect();
            // The first step goes all the way, so that given voltages hold from then on.
            let share = if iteration == 1 { 1.0 } else { self.share(&state.drops, &directions) };
            for step in &mut step {
                *step *= share;
            }
            let new = self.moved(&system, &state, &step);
            // At a corner of a law made of straight lines the whole step stays long, and the share
            // of it that goes downhill sinks below the last digit.
            let (mut short, mut stuck) = (true, true);
            for (new, old) in new.volts.iter().zip(&state.volts) {
                let moved = (new - old).abs();
                short &= moved <= share * (1e3 * settings.step_volts);
                stuck &= moved <= 4.0 * f64::EPSILON * new.abs();
            }
            state = new;
            if iteration > 1 && (short || stuck) {
                self.harden(&mut state, SOFT_OHMS);
                return (Some(state), iteration);
            }
            before = Some(system);
        }
        (None, bound)
    }

    /// The share of a step at which the potential has nearly stopped falling.
    fn share(&self, drops: &[f64], directions: &[f64]) -> f64 {
        let slope = |share: f64| -> f64 {
            let there: Vec<f64> =
                drops.iter().zip(directions).map(|(drop, way)| drop + share * way).collect();
            self.soft_locals(&there, SOFT_OHMS)
                .elements
                .iter()
                .zip(directions)
                .map(|(local, way)| match local {
                    Local::Flow(sample) => sample.amps * way,
                    Local::Held { .. } => 0.0,
                })
                .sum()
        };
        let enough = 0.1 * slope(0.0).abs();
        if slope(1.0) <= enough {
            return 1.0;
        }
        let (mut low, mut high) = (0.0, 1.0);
        for _ in 0..120 {
            // A step may be a billion times too long: by sixteenths first, then by halves.
            let middle = if low == 0.0 { high / 16.0 } else { 0.5 * (low + high) };
            let at = slope(middle);
            if at.abs() <= enough || middle <= low || middle >= high {
                return middle;
            }
            if at > 0.0 { high = middle } else { low = middle }
        }
        high
    }

    /// Plain steps from a state next to the answer, without limiting and without a word on
    /// segments: an answer in a corner of a law lies on two of them.
    pub(super) fn finish(&self, start: &State, settings: &Settings) -> Walk {
        let mut state = start.clone();
        let mut iterations = 0;
        let mut before = None;
        loop {
            iterations += 1;
            let locals = self.locals(&state, &self.held_at(&state.drops), &Aid::NONE);
            let mut system = self.system(&locals, &Aid::NONE, before);
            let residual = self.residual(&system, &state, &locals, &Aid::NONE);
            let Some(factor) = system.factor() else { return Walk::Singular { iterations } };
            let Some(step) = downhill(&factor, &residual) else {
                return Walk::Singular { iterations };
            };
            let new = self.moved(&system, &state, &step);
            let moved = moved(&new, &state, settings);
            state = new;
            if iterations >= 3 && moved.is_empty() {
                return Walk::Settled { state, factor: Box::new(factor), iterations };
            }
            if iterations == 6 {
                return Walk::Moving { unknowns: moved, iterations };
            }
            before = Some(system);
        }
    }
}

/// The share of a step of a driven law that leads to just past the first corner on its way, so
/// that no piece is leapt over, however narrow: from full current to none, a stage with a high gain
/// passes through its steep piece, and there its answer lies.
pub(super) fn corner_share(law: &dyn Driven, new: &[f64], old: &[f64]) -> f64 {
    let segment = law.segment(old);
    if segment.is_none() || law.segment(new) == segment {
        return 1.0;
    }
    let mut there = new.to_vec();
    let (mut low, mut high) = (0.0, 1.0);
    // The narrowest piece is a millionth of its reference wide: a trillionth of the step finds it.
    for _ in 0..44 {
        let middle = 0.5 * (low + high);
        there.copy_from_slice(new);
        go_along(middle, &mut there, old);
        if law.segment(&there) == segment { low = middle } else { high = middle }
    }
    high
}

/// Goes a share of the way from `old` to `new`.
pub(super) fn go_along(share: f64, new: &mut [f64], old: &[f64]) {
    for (new, old) in new.iter_mut().zip(old) {
        *new = old + share * (*new - old);
    }
}

/// Nets whose volts are not still.
fn moved(new: &State, old: &State, settings: &Settings) -> Vec<usize> {
    let far = |net: &usize| {
        let (new, old) = (new.volts[*net], old.volts[*net]);
        (new - old).abs() > settings.step_volts + settings.step_relative * new.abs()
    };
    (1..new.volts.len()).filter(far).collect()
}

/// The step to where nothing is left over; `None` when it is not finite.
fn downhill(factor: &Factor, residual: &[f64]) -> Option<Vec<f64>> {
    let mut step = factor.solve_cuts(residual);
    for step in &mut step {
        *step = -*step;
    }
    step.iter().all(|step| step.is_finite()).then_some(step)
}

/// Volts of a net in the vector of unknowns.
pub(super) fn net_volts(x: &[f64], net: usize) -> f64 {
    if net == 0 { 0.0 } else { x[net - 1] }
}

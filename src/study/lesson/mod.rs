//! The equations of a circuit worked through, step by step: what is known, what is asked, one
//! balance of currents per net, the matrix, the answer, and the sums that prove it.
//!
//! The method is nodal analysis with the currents of given voltages as further unknowns (C.-W. Ho,
//! A. Ruehli, P. Brennan, IEEE Trans. Circuits and Systems 22, 1975). Parts with states are assumed
//! in one, solved, tested and corrected; curves are followed by Newton's method. What a lesson
//! solves for itself is held against the engine's operating point.

mod branch;
mod checks;
mod form;
mod load_line;
mod newton;
mod port;
mod rounds;
mod scene;
mod shortcut;
mod states;
mod system;
mod tableau;

pub use branch::{Branch, Form, Owner, Pair, rounded};
pub use checks::{Balance, Loop, Power};
pub use load_line::LoadLine;
pub use newton::{Step, Touched};
pub use port::{Port, port};
pub use rounds::Round;
pub use shortcut::{Leg, Shortcut};
pub use states::{Assumed, Looked, Test};
pub use system::{Role, Row, System, Unknown};
pub use tableau::Solution;

use crate::circuit::{Change, NetId, Overlay, PartId, SetupId};
use crate::device::Law;
use crate::engine::{Assembly, Ending};
use rounds::Ended;
use scene::Scene;

/// The digits of answers.
pub const ANSWER_DIGITS: usize = 5;

/// The digits that values are printed with, the fewest that will do.
const VALUE_DIGITS: [usize; 5] = [6, 7, 8, 10, 12];

/// A share of the last digit of an answer that rounding the values may move it by.
const MOVED: f64 = 0.05;

/// What is left out, in the order in which it is tried: curves that carry less than a share of the
/// largest current; leaks; what ideal diodes side by side share a current by. The first that has the
/// engine's answer is written.
const ATTEMPTS: [(f64, bool, bool); 6] = [
    (1e-5, false, false),
    (1e-7, false, false),
    (1e-7, true, false),
    (1e-5, false, true),
    (1e-7, false, true),
    (1e-7, true, true),
];

/// A meter laid over a net.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Laid {
    /// The net; its other lead is on ground.
    pub net: NetId,
    /// Its input resistance in ohms.
    pub ohms: f64,
}

/// What a meter does to the net that it is laid over.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Loading {
    /// The meter.
    pub meter: Laid,
    /// Volts without any meter.
    pub without: f64,
    /// Volts with all meters.
    pub with: f64,
}

/// A condition that switched a part, and what it found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Switched {
    /// The part.
    pub part: PartId,
    /// What the condition stands for.
    pub condition: &'static str,
    /// The nets whose volts are looked at, first less second.
    pub pair: Pair,
    /// Volts found.
    pub found: f64,
    /// Volts from which it holds, or no longer holds.
    pub needed: f64,
    /// Whether it holds above that; else below.
    pub rises: bool,
    /// Whether it holds.
    pub on: bool,
}

/// A circuit worked through.
#[derive(Debug, Clone, PartialEq)]
pub struct Lesson {
    /// Names of the nets; the first is ground.
    pub nets: Vec<String>,
    /// Every branch, open ones too.
    pub branches: Vec<Branch>,
    /// Unknowns and equations.
    pub system: System,
    /// The answer.
    pub solution: Solution,
    /// The rounds of assumptions, the last of which holds.
    pub rounds: Vec<Round>,
    /// The conditions that switch parts.
    pub switched: Vec<Switched>,
    /// The steps of Newton's method in the last round; none where no curve takes part.
    pub steps: Vec<Step>,
    /// Whether the tangents had to be taken around the engine's own answer, since the steps did not
    /// settle from where a class would begin.
    pub is_helped: bool,
    /// Whether what flows through blocked parts is written out too.
    pub leaks: bool,
    /// Whether ideal diodes are written with a nanohm each, which settles how they share a current.
    pub shares: bool,
    /// The digits that values need so that the printed equations have the printed answer.
    pub value_digits: usize,
    /// Volts of the nets by the engine.
    pub engine_volts: Vec<f64>,
    /// The largest difference between the two, in volts.
    pub departure: f64,
    /// Whether the two agree within the printed digits.
    pub agrees: bool,
    /// Currents at the nets.
    pub balances: Vec<Balance>,
    /// Volts round loops.
    pub loops: Vec<Loop>,
    /// Powers.
    pub power: Power,
    /// What meters do to their nets.
    pub loadings: Vec<Loading>,
    /// Branches that are no straight line over all volts: what a port sees is linear without them.
    pub bent: Vec<usize>,
    /// Shorter ways to parts of the answer.
    pub shortcuts: Vec<Shortcut>,
    /// The load line, where exactly one curve between two nets takes part.
    pub load_line: Option<LoadLine>,
}

/// Why there is no lesson.
#[derive(Debug, Clone, PartialEq)]
pub enum NoLesson {
    /// There is no operating point: how the run of the solver ended.
    NoPoint(Ending),
    /// There is one, but a law of the board cannot be written as an equation that has it.
    NotWritten,
}

/// Works a circuit through.
///
/// # Errors
///
/// Why there is no lesson.
///
/// ```
/// # fn main() -> Result<(), String> {
/// use ohmhound::circuit::{Circuit, Overlay, POWERED};
/// use ohmhound::device::two_pin;
/// use ohmhound::engine::Assembly;
/// use ohmhound::study::lesson::lesson;
///
/// let mut circuit = Circuit::new("divider", "GND");
/// two_pin(&mut circuit, "V1", "supply", ["IN", "GND"], &[("volts", 12.0), ("resistance", 0.0)])?;
/// two_pin(&mut circuit, "R1", "resistor", ["IN", "OUT"], &[("value", 2e3)])?;
/// two_pin(&mut circuit, "R2", "resistor", ["OUT", "GND"], &[("value", 1e3)])?;
/// let assembly = Assembly::new(&circuit);
/// let found = lesson(&assembly, POWERED, &Overlay::none(), &[]).map_err(|_| "no point")?;
/// assert_eq!(found.system.unknowns.len(), 1);
/// assert!(found.agrees && (found.solution.volts[2] - 4.0).abs() < 1e-12);
/// # Ok(())
/// # }
/// ```
pub fn lesson(
    assembly: &Assembly<'_>,
    setup: SetupId,
    overlay: &Overlay,
    meters: &[Laid],
) -> Result<Lesson, NoLesson> {
    let mut all = overlay.clone();
    for meter in meters {
        all.changes.push(Change::Bridge { nets: [meter.net, NetId::GROUND], ohms: meter.ohms });
    }
    let found = assembly.powered(setup, &all, None);
    let ending = found.run.ending.clone();
    let scene = Scene::new(assembly, setup, &all, meters.len(), found);
    let mut scene = scene.ok_or(NoLesson::NoPoint(ending))?;
    let mut best: Option<Lesson> = None;
    // What blocked parts let through counts on some boards, and how ideal diodes share a current.
    for attempt in ATTEMPTS {
        (scene.nothing, scene.leaks, scene.shares) = attempt;
        let Some(tried) = rounds::go(&scene).map(|ended| written(&scene, ended)) else { continue };
        if best.as_ref().is_none_or(|best| tried.departure < best.departure) {
            best = Some(tried);
        }
        if best.as_ref().is_some_and(|best| best.agrees) {
            break;
        }
    }
    let mut lesson = best.ok_or(NoLesson::NotWritten)?;
    (scene.leaks, scene.shares) = (lesson.leaks, lesson.shares);
    if !meters.is_empty()
        && let Some(point) = assembly.powered(setup, overlay, None).run.point
    {
        let loading = |meter: &Laid| Loading {
            meter: *meter,
            without: point.volts[meter.net.index()],
            with: lesson.solution.volts[meter.net.index()],
        };
        lesson.loadings = meters.iter().map(loading).collect();
    }
    lesson.shortcuts = shortcut::shortcuts(&lesson);
    lesson.load_line = load_line::load_line(&scene, &lesson);
    Ok(lesson)
}

/// Puts down what the rounds came to.
fn written(scene: &Scene<'_>, ended: Ended) -> Lesson {
    let Ended { rounds, branches, solution, steps, fixed, is_helped } = ended;
    let n_nets = scene.network.n_nets;
    let elements = scene.network.elements.iter().enumerate();
    let sources: Vec<usize> =
        elements.filter(|(_, one)| matches!(one.law, Law::Volts(_))).map(|(at, _)| at).collect();
    let system = System::new(n_nets, &branches, &sources, &fixed, &solution.volts);
    let engine_volts = scene.point.volts.clone();
    let departure = solution
        .volts
        .iter()
        .zip(&engine_volts)
        .map(|(own, engine)| (own - engine).abs())
        .fold(0.0, f64::max);
    let agrees = scene.has_volts(&solution.volts, &[]);
    let value_digits = value_digits(n_nets, &branches, &fixed, &solution);
    let switched = scene
        .assembly
        .conditions(scene.setup, &scene.network, &scene.point)
        .into_iter()
        // A coil that is wired one way round does not wait for the other.
        .filter(|step| step.on || !step.condition.name.ends_with("reversed"))
        .map(|step| {
            let pair = step.condition.pins.map(|pin| scene.network.pin_net(step.part, pin));
            let condition = step.condition;
            let found = solution.across(pair);
            // What is on may stand between its two thresholds: then the one that lets go counts.
            let is_past = (found >= condition.on_at) == condition.rises;
            let needed = if step.on && !is_past { condition.off_at } else { condition.on_at };
            Switched {
                part: step.part,
                condition: condition.name,
                pair,
                found,
                needed,
                rises: condition.rises,
                on: step.on,
            }
        })
        .collect();
    Lesson {
        nets: scene::net_names(scene.circuit(), &scene.network),
        balances: checks::balances(n_nets, &branches, &solution),
        loops: checks::loops(n_nets, &branches, &solution),
        power: checks::power(&branches, &solution),
        bent: bent(scene, &branches),
        branches,
        system,
        solution,
        rounds,
        switched,
        steps,
        is_helped,
        leaks: scene.leaks,
        shares: scene.shares,
        value_digits,
        engine_volts,
        departure,
        agrees,
        loadings: Vec::new(),
        shortcuts: Vec::new(),
        load_line: None,
    }
}

/// Branches with a bend: curves, clamps and steered currents; but for sources and loads, whose
/// straight piece is the circuit that is seen.
fn bent(scene: &Scene<'_>, branches: &[Branch]) -> Vec<usize> {
    let elements = scene.network.elements.iter().enumerate();
    let bent = elements.filter(|(at, element)| match &element.law {
        Law::Curve(_) | Law::Clamp { .. } => match scene.kind(*at) {
            "diode" | "led" | "zener" => true,
            "" | "supply" | "battery" | "current-source" => false,
            _ => matches!(branches[*at].form, Form::Companion { .. } | Form::Relation { .. }),
        },
        Law::Driven(_) => !branches[*at].form.is_open(),
        Law::Line { .. } | Law::Volts(_) => false,
    });
    bent.map(|(at, _)| at).collect()
}

/// What the last printed digit of volts is worth: [`ANSWER_DIGITS`] digits, but no finer than the
/// hundred-thousandth part of the largest on the board.
pub fn volts_count(volts: f64, largest: f64) -> f64 {
    // What rounding leaves of volts on a board without any is far below a nanovolt.
    count(volts, (1e-5 * largest).max(1e-9))
}

/// What the last printed digit of amps or watts is worth: [`ANSWER_DIGITS`] digits; small ones beside
/// large ones are found as well.
pub fn flow_count(value: f64, largest: f64) -> f64 {
    count(value, 1e-9 * largest)
}

fn count(value: f64, least: f64) -> f64 {
    let size = rounded(value.abs(), ANSWER_DIGITS).max(f64::MIN_POSITIVE);
    let own = 10.0_f64.powf(size.log10().floor() - (ANSWER_DIGITS as f64 - 1.0));
    let least = 10.0_f64.powf(least.max(1e-300).log10().floor());
    own.max(least)
}

/// The fewest digits of values with which the equations still have the same answer.
fn value_digits(
    n_nets: usize,
    branches: &[Branch],
    fixed: &[(usize, f64)],
    solution: &Solution,
) -> usize {
    let most = |values: &[f64]| values.iter().fold(0.0_f64, |most, value| most.max(value.abs()));
    let (most_volts, most_amps) = (most(&solution.volts), most(&solution.amps));
    let is_enough = |digits: &usize| {
        let rounded: Vec<Branch> = branches
            .iter()
            .map(|branch| Branch { form: branch.form.rounded(*digits), ..branch.clone() })
            .collect();
        let Some(again) = tableau::solve(n_nets, &rounded, fixed) else { return false };
        let same = |a: &[f64], b: &[f64], count: &dyn Fn(f64) -> f64| {
            a.iter().zip(b).all(|(a, b)| (a - b).abs() <= MOVED * count(*a))
        };
        same(&solution.volts, &again.volts, &|volts| volts_count(volts, most_volts))
            && same(&solution.amps, &again.amps, &|amps| flow_count(amps, most_amps))
    };
    VALUE_DIGITS.into_iter().find(is_enough).unwrap_or(VALUE_DIGITS[VALUE_DIGITS.len() - 1])
}

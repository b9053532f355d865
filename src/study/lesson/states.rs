//! What a part is assumed to do, in which form that is written, and what its assumption is held
//! against.

use super::branch::{Branch, Form, Pair};
use super::form::Tangent;
use super::scene::{Choice, Scene};
use super::tableau::Solution;
use crate::circuit::PartId;
use crate::device::Law;

/// What a test looks at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Looked {
    /// Volts from one net to another.
    Volts(Pair),
    /// Amps of a branch, from its first net to its second.
    Amps(usize),
}

/// One test of an assumption.
#[derive(Debug, Clone, PartialEq)]
pub struct Test {
    /// What is looked at.
    pub looked: Looked,
    /// What was found.
    pub found: f64,
    /// Whether it has to be at least the bound; else at most.
    pub is_least: bool,
    /// The bound.
    pub bound: f64,
    /// The parameter that the bound is, or what else it is called; empty for zero.
    pub name: &'static str,
    /// Whether it holds.
    pub holds: bool,
}

/// A part with the state that is assumed of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Assumed {
    /// The part.
    pub part: PartId,
    /// What it is assumed to do, in the words of its kind.
    pub state: &'static str,
    /// The tests.
    pub tests: Vec<Test>,
}

impl Assumed {
    /// Whether every test holds.
    pub fn holds(&self) -> bool {
        self.tests.iter().all(|test| test.holds)
    }
}

/// A part whose state is assumed at first as a class would, before anything is known.
#[derive(Debug, Clone)]
pub(super) struct Guess {
    pub(super) part: PartId,
    /// What is assumed first.
    pub(super) state: &'static str,
    /// The branches that the assumption writes, with their forms.
    pub(super) forms: Vec<(usize, Form)>,
}

/// What classes assume first of every part that has states of straight pieces.
pub(super) fn guesses(scene: &Scene<'_>) -> Vec<Guess> {
    let parts = scene.circuit().parts_by_id();
    parts.filter_map(|(id, _)| guess(scene, id)).collect()
}

fn guess(scene: &Scene<'_>, part: PartId) -> Option<Guess> {
    let own = scene.own(part);
    let first = *own.first()?;
    let values = scene.values(part);
    let pair = |at: usize| [scene.network.elements[at].from, scene.network.elements[at].to];
    let given =
        |pair: Pair, volts: f64| Form::Relation { terms: vec![(1.0, pair)], volts, ohms: 0.0 };
    let (state, forms) = match scene.circuit()[part].kind {
        "diode" | "led" | "zener" => match &scene.network.elements[first].law {
            Law::Clamp { low, .. } if low.is_finite() => {
                let [from, to] = pair(first);
                ("in breakdown", vec![(first, given([to, from], -low))])
            }
            Law::Clamp { high, .. } => ("conducting", vec![(first, given(pair(first), *high))]),
            law @ Law::Curve(curve) if curve.segment(0.0).is_some() => {
                let is_zener = scene.circuit()[part].kind == "zener";
                let (state, far) =
                    if is_zener { ("in breakdown", -1e3) } else { ("conducting", 1e3) };
                let form = Tangent::new(law, &[far])?.straight(&[pair(first)], false, false, 0.0);
                (state, vec![(first, form)])
            }
            _ => return None,
        },
        "npn" | "pnp" if values.part.word("approximation") == Some("constant drop") => {
            let follows = Form::Ratio { terms: vec![(values.need("gain"), own[0])] };
            let held = given(pair(own[0]), values.need("drop"));
            ("active", vec![(own[0], held), (*own.get(1)?, follows)])
        }
        "ldo" | "buck" | "boost" => {
            let output = scene.output_of(part)?;
            let element = &scene.network.elements[output];
            let pairs = scene.pairs(element);
            let reference = values.get("reference").or_else(|| values.get("output_volts"))?;
            // With three senses the second is what is compared with the reference; with two it is
            // the output itself.
            let sense = if pairs.len() == 4 { pairs[2] } else { [pairs[0][1], pairs[0][0]] };
            ("regulating", vec![(output, given(sense, reference))])
        }
        "opamp" => return amplifier(scene, part),
        _ => return None,
    };
    Some(Guess { part, state, forms })
}

/// An amplifier in its linear range: S/2 + gain (d + offset) less what its output resistance drops.
fn amplifier(scene: &Scene<'_>, part: PartId) -> Option<Guess> {
    let values = scene.values(part);
    let own = &scene.circuit()[part];
    let net = |name: &str| Some(scene.network.pin_net(part, own.pin(name)?));
    let (plus, minus, output) = (net("plus")?, net("minus")?, net("output")?);
    let (supply, ground) = (net("supply")?, net("ground")?);
    // One half drives the output: the one that does on the board, else the upper one.
    let halves = halves(scene, part)?;
    let [high, low] = halves.map(|at| scene.point.amps[at]);
    let is_low = low > high;
    let (gain, ohms) = (values.need("gain"), values.need("output_resistance"));
    let terms = vec![(1.0, [output, ground]), (-0.5, [supply, ground]), (-gain, [plus, minus])];
    let (driving, idle) = if is_low { (halves[1], halves[0]) } else { (halves[0], halves[1]) };
    let form = Form::Relation {
        terms,
        volts: gain * values.need("offset"),
        ohms: if is_low { ohms } else { -ohms },
    };
    Some(Guess {
        part,
        state: "in its linear range",
        forms: vec![(driving, form), (idle, Form::Open)],
    })
}

/// The two halves of an amplifier's output stage: from the supply, and to the ground.
fn halves(scene: &Scene<'_>, part: PartId) -> Option<[usize; 2]> {
    let output = scene.circuit()[part].pin("output")?;
    let driven: Vec<usize> = scene
        .own(part)
        .into_iter()
        .filter(|&at| {
            let element = &scene.network.elements[at];
            let touches = element.origin.is_some_and(|origin| origin.pins.contains(&output));
            matches!(element.law, Law::Driven(_)) && touches && element.senses.len() == 2
        })
        .collect();
    <[usize; 2]>::try_from(driven).ok()
}

/// What a part does on the solved board, in the words of its kind; diodes by what they carry.
pub(super) fn found_state(scene: &Scene<'_>, part: PartId) -> Option<&'static str> {
    let own = &scene.circuit()[part];
    let branches = scene.own(part);
    let first = *branches.first()?;
    let amps = |at: usize| scene.point.amps[at];
    match own.kind {
        "diode" | "led" | "zener" => Some(if scene.carries_nothing(first) {
            "off"
        } else if amps(first) > 0.0 {
            "conducting"
        } else {
            "in breakdown"
        }),
        "npn" | "pnp" if own.word("approximation") == Some("constant drop") => {
            let second = *branches.get(1)?;
            Some(if scene.carries_nothing(first) {
                "off"
            } else if scene.ratio(second).is_some() {
                "active"
            } else {
                "saturated"
            })
        }
        _ => {
            let pins = scene.point.pin_amps(&scene.network, part, own.pins.len());
            let solved = (&scene.network, &scene.point);
            super::super::solved::part_state(scene.assembly, scene.setup, solved, part, &pins)
        }
    }
}

/// The tests of a part in a state.
pub(super) fn tests(
    scene: &Scene<'_>,
    part: PartId,
    state: &str,
    branches: &[Branch],
    solution: &Solution,
) -> Vec<Test> {
    let own = &scene.circuit()[part];
    let numbers = scene.own(part);
    let Some(&first) = numbers.first() else { return Vec::new() };
    let values = scene.values(part);
    let mut found = Vec::new();
    let pair = |at: usize| [branches[at].from, branches[at].to];
    let net = |name: &str| own.pin(name).map(|pin| scene.network.pin_net(part, pin));
    let mut look = |looked: Looked, is_least: bool, bound: f64, name: &'static str| {
        let value = match looked {
            Looked::Volts(pair) => solution.across(pair),
            Looked::Amps(at) => solution.amps[at],
        };
        // An answer that stands in the corner itself agrees with both sides.
        let own = match looked {
            // What no printed digit shows decides nothing.
            Looked::Volts(_) => 10.0 * scene.small_volts(),
            Looked::Amps(_) => 1e-12,
        };
        let slack = 1e-6 * bound.abs().max(value.abs()) + own;
        let holds = if is_least { value >= bound - slack } else { value <= bound + slack };
        found.push(Test { looked, found: value, is_least, bound, name, holds });
    };
    let volts = Looked::Volts;
    match (own.kind, state) {
        ("diode" | "led" | "zener", "conducting") => look(Looked::Amps(first), true, 0.0, ""),
        ("diode" | "led" | "zener", "in breakdown") => look(Looked::Amps(first), false, 0.0, ""),
        ("diode" | "led" | "zener", _) => {
            let drop = match &scene.network.elements[first].law {
                Law::Clamp { high, .. } => *high,
                _ => values.get("drop").unwrap_or(0.0),
            };
            look(volts(pair(first)), false, drop, if drop == 0.0 { "" } else { "drop" });
            if own.kind == "zener" {
                let [from, to] = pair(first);
                look(volts([to, from]), false, values.need("voltage"), "voltage");
            }
        }
        ("npn" | "pnp", _) => {
            let (Some(&last), base) = (numbers.last(), numbers[0]) else { return Vec::new() };
            match state {
                "active" => {
                    look(volts(pair(last)), true, values.need("saturation"), "saturation");
                    look(Looked::Amps(base), true, 0.0, "");
                }
                "saturated" => {
                    let most = values.need("gain") * solution.amps[base];
                    look(Looked::Amps(last), false, most, "gain × base current");
                }
                "off" => look(volts(pair(base)), false, values.need("drop"), "drop"),
                _ => {}
            }
        }
        ("nmos" | "pmos", _) => {
            let gate = scene.pairs(&scene.network.elements[first]).get(1).copied();
            let Some(gate) = gate else { return Vec::new() };
            let threshold = values.need("threshold");
            let over = solution.across(gate) - threshold;
            match state {
                "off" => look(volts(gate), false, threshold, "threshold"),
                "on" => {
                    look(volts(gate), true, threshold, "threshold");
                    look(volts(pair(first)), false, over, "gate volts − threshold");
                }
                "saturated" => {
                    look(volts(gate), true, threshold, "threshold");
                    look(volts(pair(first)), true, over, "gate volts − threshold");
                }
                _ => {}
            }
        }
        ("ldo" | "buck" | "boost", _) => {
            let Some(output) = scene.output_of(part) else { return found };
            let pairs = scene.pairs(&scene.network.elements[output]);
            let sense = if pairs.len() == 4 { pairs[2] } else { [pairs[0][1], pairs[0][0]] };
            let reference = values.get("reference").or_else(|| values.get("output_volts"));
            let amps = solution.amps[output];
            match state {
                "regulating" => {
                    if let (Some(input), Some(out), Some(dropout)) =
                        (net("input"), net("output"), values.get("dropout"))
                        && own.kind != "boost"
                    {
                        // A dropout that is stated at a current is a resistance.
                        let at = values.at("dropout").filter(|at| *at > 0.0);
                        let needed = at.map_or(dropout, |at| dropout * amps / at);
                        look(volts([input, out]), true, needed, "dropout at this current");
                    }
                    if let Some(limit) = values.get("limit").filter(|_| own.kind != "boost") {
                        look(Looked::Amps(output), false, limit, "limit");
                    }
                }
                // With its input no higher than its output it gives nothing, all through as it is.
                "in dropout" if branches[output].form.is_open() => {
                    if let (Some(input), Some(out)) = (net("input"), net("output")) {
                        let at = values.at("dropout").filter(|at| *at > 0.0);
                        let drop = values.get("dropout").filter(|_| at.is_none()).unwrap_or(0.0);
                        look(volts([input, out]), false, drop, "dropout");
                    }
                }
                "in dropout" | "at its current limit" => {
                    let name =
                        if own.param("reference").is_some() { "reference" } else { "output_volts" };
                    if let Some(reference) = reference {
                        look(volts(sense), false, reference, name);
                    }
                }
                _ => {}
            }
        }
        ("opamp", _) => {
            let (Some(out), Some(supply), Some(ground)) =
                (net("output"), net("supply"), net("ground"))
            else {
                return found;
            };
            let (Some(plus), Some(minus)) = (net("plus"), net("minus")) else { return found };
            let all = solution.across([supply, ground]);
            let high = all - values.need("swing_high");
            let low = values.need("swing_low");
            let gain = values.need("gain");
            let input = |wanted: f64| (wanted - 0.5 * all) / gain - values.need("offset");
            match state {
                "in its linear range" => {
                    look(volts([out, ground]), false, high, "supply − swing_high");
                    look(volts([out, ground]), true, low, "swing_low");
                }
                "at its high limit" => {
                    look(volts([plus, minus]), true, input(high), "what takes it there")
                }
                "at its low limit" => {
                    look(volts([plus, minus]), false, input(low), "what takes it there")
                }
                _ => {}
            }
        }
        ("supply" | "battery", "holding its voltage") => {
            // What a source gives flows through it backwards.
            let sign = values.need("volts").signum();
            let limit = values.get("limit").unwrap_or(f64::INFINITY);
            look(Looked::Amps(first), sign > 0.0, -sign * limit, "limit, given");
        }
        ("supply" | "battery", "at its current limit") => {
            look(volts(pair(first)), false, values.need("volts"), "volts");
        }
        ("current-source", "holding its current") => {
            look(volts(pair(first)), false, values.need("compliance"), "compliance");
        }
        ("load", "running") => {
            look(volts(pair(first)), true, values.get("minimum").unwrap_or(1.0), "minimum");
        }
        ("load", "below its minimum") => {
            look(volts(pair(first)), false, values.get("minimum").unwrap_or(1.0), "minimum");
        }
        _ => {}
    }
    found
}

/// Where the tangent of a curve touches first: a datasheet's point where the part has one.
pub(super) fn start(scene: &Scene<'_>, at: usize) -> Choice {
    let element = &scene.network.elements[at];
    let mut volts = vec![0.0; 1 + element.senses.len()];
    let values = element.part().map(|part| scene.values(part));
    let drop = values.as_ref().and_then(|values| values.get("drop"));
    let number = element.origin.and_then(|origin| origin.number);
    match (&element.law, scene.kind(at)) {
        (Law::Curve(_), "zener") if scene.point.amps[at] < 0.0 => {
            volts[0] = -values.and_then(|values| values.get("voltage")).unwrap_or(0.0);
        }
        (Law::Curve(_), "diode" | "led" | "zener") => volts[0] = drop.unwrap_or(0.6),
        (Law::Curve(_), "npn" | "pnp") if number == Some(0) => volts[0] = drop.unwrap_or(0.6),
        (Law::Curve(_), "optocoupler") => volts[0] = drop.unwrap_or(1.0),
        (Law::Curve(curve), _) => volts[0] = curve.first(),
        (Law::Driven(law), _) => law.first(&mut volts),
        _ => {}
    }
    Choice::Tangent(volts)
}

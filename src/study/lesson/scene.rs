//! The solved board that a lesson is written about: its branches, and their forms in a choice of
//! states.

use super::branch::{Branch, Form, Owner, Pair};
use super::form::{Tangent, is_smooth};
use crate::circuit::{Change, Circuit, Overlay, PartId, SetupId};
use crate::device::{Law, Values};
use crate::engine::{Assembly, Element, Network, OperatingPoint, PowerUp};

/// Leaks through blocked parts are below this, in amps: 0.1 pA a volt.
const LEAK_AMPS: f64 = 1e-11;

/// What the engine gives ideal diodes, in ohms.
const SHARING_OHMS: f64 = 1e-9;

/// A share of the last printed digit within which two volts are the same.
const SAME_DIGIT: f64 = 0.4;

/// A share by which a current may differ from what a ratio makes of another one.
const SAME: f64 = 1e-6;

/// What the equation of a branch is taken from.
#[derive(Debug, Clone)]
pub(super) enum Choice {
    /// The state in which the board powers up.
    AsFound,
    /// A state that is tried.
    Tried(Form),
    /// A tangent to its curve with these volts, its own first.
    Tangent(Vec<f64>),
}

/// A solved board.
pub(super) struct Scene<'a> {
    pub(super) assembly: &'a Assembly<'a>,
    pub(super) setup: SetupId,
    pub(super) network: Network,
    pub(super) point: OperatingPoint,
    /// Whether what flows through blocked parts counts.
    pub(super) leaks: bool,
    /// A curve that carries less than this share of the largest current is left out.
    pub(super) nothing: f64,
    /// Whether ideal diodes have [`SHARING_OHMS`], so that some side by side share their current.
    pub(super) shares: bool,
    labels: Vec<(String, Owner)>,
    most_amps: f64,
}

impl<'a> Scene<'a> {
    /// `meters` of the changes, the last ones, are meters. `None` without an operating point.
    pub(super) fn new(
        assembly: &'a Assembly<'a>,
        setup: SetupId,
        overlay: &Overlay,
        meters: usize,
        found: PowerUp,
    ) -> Option<Scene<'a>> {
        let PowerUp { network, run, .. } = found;
        let point = run.point?;
        let labels = labels(assembly.circuit(), setup, overlay, meters, &network);
        let most_amps = point.amps.iter().fold(0.0_f64, |most, amps| most.max(amps.abs()));
        Some(Scene {
            assembly,
            setup,
            network,
            point,
            leaks: false,
            shares: false,
            nothing: 0.0,
            labels,
            most_amps,
        })
    }

    pub(super) fn circuit(&self) -> &'a Circuit {
        self.assembly.circuit()
    }

    pub(super) fn values(&self, part: PartId) -> Values<'a> {
        self.network.values(part, self.assembly, self.setup.0)
    }

    /// The pair of nets of a branch itself, then those of what it senses.
    pub(super) fn pairs(&self, element: &Element) -> Vec<Pair> {
        let senses = element.senses.iter().filter_map(|pins| {
            let part = element.part()?;
            Some(pins.map(|pin| self.network.pin_net(part, pin)))
        });
        std::iter::once([element.from, element.to]).chain(senses).collect()
    }

    /// Volts of a branch and of what it senses, at the operating point.
    pub(super) fn volts(&self, element: &Element) -> Vec<f64> {
        self.pairs(element).iter().map(|[plus, minus]| self.point.between(*plus, *minus)).collect()
    }

    /// The numbers of the branches of a part, in its own order; what an overlay puts across is left
    /// out.
    pub(super) fn own(&self, part: PartId) -> Vec<usize> {
        let elements = self.network.elements.iter().enumerate();
        let own = elements.filter(|(_, element)| {
            element.origin.is_some_and(|origin| origin.part == part && origin.number.is_some())
        });
        own.map(|(at, _)| at).collect()
    }

    /// The kind of the part of a branch.
    pub(super) fn kind(&self, element: usize) -> &'static str {
        self.network.elements[element].part().map_or("", |part| self.circuit()[part].kind)
    }

    /// Whether a branch carries nothing that a printed digit would show.
    pub(super) fn carries_nothing(&self, element: usize) -> bool {
        self.point.amps[element].abs() <= (self.nothing * self.most_amps).max(LEAK_AMPS)
    }

    /// A drop that no printed digit of an answer shows, in volts.
    pub(super) fn small_volts(&self) -> f64 {
        let volts = self.point.volts.iter();
        let largest = volts.fold(0.0_f64, |most, volts| most.max(volts.abs()));
        0.1 * super::volts_count(largest, largest)
    }

    /// Whether these volts are those of the board, as far as digits are printed.
    /// Nets of `but` are not looked at.
    pub(super) fn has_volts(&self, volts: &[f64], but: &[usize]) -> bool {
        let known = &self.point.volts;
        let largest = known.iter().fold(0.0_f64, |most, volts| most.max(volts.abs()));
        volts.iter().zip(known).enumerate().filter(|(net, _)| !but.contains(net)).all(
            |(_, (own, known))| {
                (own - known).abs() <= SAME_DIGIT * super::volts_count(*known, largest)
            },
        )
    }

    /// Branches whose equation is a tangent that is found step by step.
    pub(super) fn smooth(&self) -> Vec<usize> {
        let elements = self.network.elements.iter().enumerate();
        let smooth = elements.filter(|(at, element)| {
            is_smooth(&element.law, &self.volts(element))
                && (self.leaks || !self.carries_nothing(*at))
                && self.ratio(*at).is_none()
        });
        smooth.map(|(at, _)| at).collect()
    }

    /// All branches with these choices, one per element.
    pub(super) fn branches(&self, choices: &[Choice]) -> Vec<Branch> {
        let forms: Vec<Form> =
            choices.iter().enumerate().map(|(at, choice)| self.form(at, choice)).collect();
        let mut branches: Vec<Branch> = self
            .network
            .elements
            .iter()
            .zip(forms)
            .zip(&self.labels)
            .map(|((element, form), (label, owner))| Branch {
                label: label.clone(),
                owner: *owner,
                from: element.from,
                to: element.to,
                is_own: matches!(form, Form::Relation { .. }),
                // A branch from a net to itself carries nothing from anywhere.
                form: if element.from == element.to { Form::Open } else { form },
            })
            .collect();
        let open: Vec<bool> = branches.iter().map(|branch| branch.form.is_open()).collect();
        let mut followed = Vec::new();
        for branch in &mut branches {
            if let Form::Ratio { terms } = &mut branch.form {
                terms.retain(|(factor, of)| !open[*of] && *factor != 0.0);
                followed.extend(terms.iter().map(|(_, of)| *of));
                if terms.is_empty() {
                    branch.form = Form::Open;
                }
            }
        }
        for of in followed {
            branches[of].is_own = true;
        }
        branches
    }

    fn form(&self, at: usize, choice: &Choice) -> Form {
        let element = &self.network.elements[at];
        match choice {
            Choice::Tried(form) => return form.clone(),
            Choice::Tangent(volts) => {
                let tangent = Tangent::new(&element.law, volts);
                return tangent.map_or(Form::Open, |tangent| tangent.smooth(&self.pairs(element)));
            }
            Choice::AsFound => {}
        }
        let volts = self.volts(element);
        if let Law::Volts(given) = element.law {
            return Form::Relation {
                terms: vec![(1.0, [element.from, element.to])],
                volts: given,
                ohms: 0.0,
            };
        }
        if let Law::Clamp { low, high } = element.law {
            return self.clamped(at, low, high);
        }
        let is_inside = of_chip(self.kind(at)) || !element.law.is_linear();
        if !self.leaks && self.carries_nothing(at) && is_inside {
            return Form::Open;
        }
        if let Some(terms) = self.ratio(at) {
            return Form::Ratio { terms };
        }
        let pairs = self.pairs(element);
        let Some(tangent) = Tangent::new(&element.law, &volts) else { return Form::Open };
        if is_smooth(&element.law, &volts) {
            tangent.smooth(&pairs)
        } else {
            tangent.straight(&pairs, self.leaks, self.kind(at) == "opamp", self.small_volts())
        }
    }

    /// What holds the volts of a clamped branch, if anything does.
    fn clamped(&self, at: usize, low: f64, high: f64) -> Form {
        let element = &self.network.elements[at];
        let (volts, amps) = (self.point.between(element.from, element.to), self.point.amps[at]);
        let is_at = |end: f64| end.is_finite() && (volts - end).abs() <= 1e-6 * end.abs().max(1.0);
        let ohms = if self.shares { SHARING_OHMS } else { 0.0 };
        let held =
            |pair: Pair, volts: f64| Form::Relation { terms: vec![(1.0, pair)], volts, ohms };
        if self.carries_nothing(at) {
            Form::Open
        } else if is_at(high) && amps > 0.0 {
            held([element.from, element.to], high)
        } else if is_at(low) && amps < 0.0 {
            let Form::Relation { terms, volts, ohms } = held([element.to, element.from], -low)
            else {
                return Form::Open;
            };
            // The current is still counted from the first net to the second.
            Form::Relation { terms, volts, ohms: -ohms }
        } else {
            Form::Open
        }
    }

    /// The currents of other branches that the current of this one goes with, as they stand.
    pub(super) fn ratio(&self, at: usize) -> Option<Vec<(f64, usize)>> {
        let element = &self.network.elements[at];
        let part = element.part()?;
        let own = self.own(part);
        let values = self.values(part);
        let amps = |at: usize| self.point.amps[at];
        match self.kind(at) {
            "npn" | "pnp" => {
                let number = own.iter().position(|one| *one == at)?;
                let gain = values.need("gain");
                if values.part.word("approximation") == Some("constant drop") {
                    // Active is where the base steers the collector.
                    let tangent = Tangent::new(&element.law, &self.volts(element))?;
                    let follows = number == 1 && tangent.slopes[1] != 0.0;
                    return follows.then(|| vec![(gain, own[0])]);
                }
                (number == 2).then(|| vec![(gain, own[0]), (-values.need("reverse_gain"), own[1])])
            }
            "optocoupler" => {
                let ratio = values.need("ratio");
                let led = own.iter().position(|one| *one == at).filter(|number| *number == 1)?;
                let lit = own[led - 1];
                let follows = amps(at) >= ratio * amps(lit) * (1.0 - 0.01 * SAME);
                follows.then(|| vec![(ratio, lit)])
            }
            "ldo" | "buck" | "boost" => {
                let output = self.output_of(part)?;
                let is_input = at != output && element.senses.len() == 3;
                let share = amps(at) / amps(output);
                // The ratio of a converter's currents has noise of rounding behind its digits.
                (is_input && share.is_finite())
                    .then(|| vec![(super::branch::rounded(share, 10), output)])
            }
            _ => None,
        }
    }

    /// The branch by which a regulator that is on feeds its output.
    pub(super) fn output_of(&self, part: PartId) -> Option<usize> {
        let output = self.circuit()[part].pin("output")?;
        self.own(part).into_iter().find(|&at| {
            let element = &self.network.elements[at];
            let ends = element.origin.map(|origin| origin.pins[1]);
            matches!(element.law, Law::Driven(_))
                && ends == Some(output)
                && element.senses.len() >= 2
        })
    }
}

/// Whether a kind is a chip, whose branches are its inner workings.
fn of_chip(kind: &str) -> bool {
    crate::device::kind(kind).is_some_and(|kind| kind.rails().is_some())
}

/// The pins of a branch in a name: transistors by the letters of the trade.
fn pin_words(kind: &str, [from, to]: [&str; 2]) -> String {
    let letter = |name: &str| name.chars().next().unwrap_or(' ').to_ascii_uppercase();
    match kind {
        "npn" | "pnp" | "nmos" | "pmos" => {
            // The emitter or the source stands last, whichever way the current goes.
            let turned =
                matches!(from, "emitter" | "source") || (from, to) == ("collector", "base");
            let (from, to) = if turned { (to, from) } else { (from, to) };
            format!("{}{}", letter(from), letter(to))
        }
        "optocoupler" if from == "anode" => "LED".to_owned(),
        "optocoupler" => "CE".to_owned(),
        "relay" => match to {
            "normally_open" => "NO",
            "normally_closed" => "NC",
            _ => "coil",
        }
        .to_owned(),
        _ => format!("{from}-{to}").replace(' ', "_"),
    }
}

/// Names of the branches: their parts, and the pins where a part has several.
fn labels(
    circuit: &Circuit,
    setup: SetupId,
    overlay: &Overlay,
    meters: usize,
    network: &Network,
) -> Vec<(String, Owner)> {
    let mut loose =
        circuit[setup].connections.iter().map(|_| Owner::Connection).collect::<Vec<_>>();
    for (at, change) in overlay.changes.iter().enumerate() {
        match change {
            Change::Bridge { .. } if at + meters >= overlay.changes.len() => {
                loose.push(Owner::Meter)
            }
            Change::Bridge { .. } | Change::Joint { ohms: Some(_), .. } => loose.push(Owner::Fault),
            _ => {}
        }
    }
    let mut loose = loose.into_iter();
    let mut counts = [0_usize; 3];
    let mut found: Vec<(String, Owner)> = Vec::new();
    for element in &network.elements {
        let (mut label, owner) = match element.origin {
            Some(origin) => {
                let part = &circuit[origin.part];
                let several = network
                    .elements
                    .iter()
                    .filter(|other| other.part() == Some(origin.part))
                    .count();
                let label = if several > 1 {
                    let pins = origin.pins.map(|pin| part.pins[pin].name.as_str());
                    format!("{}.{}", part.name, pin_words(part.kind, pins))
                } else {
                    part.name.clone()
                };
                let owner = match origin.number {
                    Some(_) => Owner::Part(origin.part),
                    None => Owner::Fault,
                };
                (label, owner)
            }
            None => {
                let owner = loose.next().unwrap_or(Owner::Fault);
                let (at, word) = match owner {
                    Owner::Meter => (0, "meter"),
                    Owner::Connection => (1, "bench"),
                    _ => (2, "fault"),
                };
                counts[at] += 1;
                (format!("{word}{}", counts[at]), owner)
            }
        };
        let taken = |label: &str| found.iter().any(|(known, _)| known == label);
        if taken(&label) {
            let number = (2..).find(|number| !taken(&format!("{label}#{number}"))).unwrap_or(2);
            label = format!("{label}#{number}");
        }
        found.push((label, owner));
    }
    found
}

/// Names of the nets of a network: those of the circuit, then the pins that stand alone.
pub(super) fn net_names(circuit: &Circuit, network: &Network) -> Vec<String> {
    let mut names = circuit.nets.clone();
    for net in names.len()..network.n_nets {
        let pin = circuit.parts_by_id().find_map(|(id, part)| {
            let pins = part.pins.iter().enumerate();
            let mut alone = pins.filter(|(pin, _)| network.pin_net(id, *pin) == net);
            alone.next().map(|(_, pin)| format!("{}.{}", part.name, pin.name.replace(' ', "_")))
        });
        names.push(pin.unwrap_or_else(|| format!("net{net}")));
    }
    names
}

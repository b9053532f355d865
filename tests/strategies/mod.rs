//! Circuits for tests: a short way to write one down, and strategies that draw them at random.
//!
//! Every test binary compiles this file for itself and uses its own share of it.
#![allow(dead_code)]

use ohmhound::circuit::{Circuit, NetId, Param, Part, PartId, Pin};
use ohmhound::device::complete;
use ohmhound::engine::OperatingPoint;
use ohmhound::quantity::{Point, Tolerance, Toleranced};
use proptest::prelude::*;
use proptest::test_runner::{Config, RngSeed};

/// A part with two pins as plain data.
#[derive(Debug, Clone)]
pub struct Spec {
    pub name: String,
    pub kind: &'static str,
    pub nets: [String; 2],
    pub params: Vec<(&'static str, Param)>,
    /// Tolerance of every given number, as a share of it.
    pub tolerance: f64,
}

/// A part with two pins; parameters follow by [`Spec::with`], [`Spec::at`] and [`Spec::word`].
pub fn part(name: &str, kind: &'static str, nets: [&str; 2]) -> Spec {
    Spec {
        name: name.to_owned(),
        kind,
        nets: nets.map(str::to_owned),
        params: Vec::new(),
        tolerance: 0.0,
    }
}

/// A resistor.
pub fn resistor(name: &str, nets: [&str; 2], ohms: f64) -> Spec {
    part(name, "resistor", nets).with("value", ohms)
}

/// An ideal source.
pub fn source(name: &str, nets: [&str; 2], volts: f64) -> Spec {
    part(name, "supply", nets).with("volts", volts).with("resistance", 0.0)
}

impl Spec {
    /// A parameter that is a number.
    pub fn with(mut self, name: &'static str, value: f64) -> Spec {
        self.params.push((name, Param::Number(Toleranced::bare(value))));
        self
    }

    /// A parameter that is a number, holding at another one or at nothing stated.
    pub fn at(mut self, name: &'static str, value: f64, at: impl Into<Option<f64>>) -> Spec {
        let point = Point { value: Toleranced::bare(value), at: at.into() };
        self.params.push((name, Param::Point(point)));
        self
    }

    /// A parameter that is a word.
    pub fn word(mut self, name: &'static str, word: &str) -> Spec {
        self.params.push((name, Param::Word(word.to_owned())));
        self
    }

    /// A tolerance for every given number.
    pub fn within(self, tolerance: f64) -> Spec {
        Spec { tolerance, ..self }
    }

    /// A number of the part.
    pub fn number(&self, name: &str) -> Option<f64> {
        self.params.iter().find(|(known, _)| *known == name).and_then(|(_, param)| match param {
            Param::Number(number) | Param::Point(Point { value: number, .. }) => {
                Some(number.nominal)
            }
            _ => None,
        })
    }

    /// Adds the part to a circuit.
    pub fn add_to(&self, circuit: &mut Circuit) -> PartId {
        let mut params = self.params.clone();
        for (_, param) in &mut params {
            if let Param::Number(number) | Param::Point(Point { value: number, .. }) = param {
                *number = number.or(Tolerance::Fraction(self.tolerance));
            }
        }
        let pins = self
            .nets
            .iter()
            .zip(["1", "2"])
            .map(|(net, name)| Pin { name: name.to_owned(), net: circuit.net_or_new(net) })
            .collect();
        let mut part = Part {
            name: self.name.clone(),
            kind: self.kind,
            pins,
            params,
            defaulted: Vec::new(),
            usual: Vec::new(),
            chip: Vec::new(),
            maximum: Vec::new(),
            fitted: true,
        };
        if let Err(problem) = complete(&mut part) {
            panic!("{self:?}: {problem:?}");
        }
        circuit.add(part)
    }
}

/// A circuit of these parts; its ground is `GND`.
pub fn circuit(specs: &[Spec]) -> Circuit {
    let mut circuit = Circuit::new("", "GND");
    for spec in specs {
        spec.add_to(&mut circuit);
    }
    circuit
}

/// The number of a net in the operating points of a circuit.
pub fn net(circuit: &Circuit, name: &str) -> usize {
    circuit.net(name).unwrap_or_else(|| panic!("no net `{name}`")).index()
}

/// Volts of a net, by name.
pub fn volts(circuit: &Circuit, point: &OperatingPoint, name: &str) -> f64 {
    point.volts[net(circuit, name)]
}

/// Sum of the amps that leave each net, and of their sizes, added up from the amps of the elements
/// alone.
pub fn sums(network: &ohmhound::engine::Network, amps: &[f64]) -> (Vec<f64>, Vec<f64>) {
    let (mut sums, mut sizes) = (vec![0.0; network.n_nets], vec![0.0; network.n_nets]);
    for (element, amps) in network.elements.iter().zip(amps) {
        sums[element.from] += amps;
        sums[element.to] -= amps;
        sizes[element.from] += amps.abs();
        sizes[element.to] += amps.abs();
    }
    (sums, sizes)
}

/// A fixed seed, and no files of failures: a failing case is printed whole.
pub fn config(cases: u32, seed: u64) -> Config {
    Config {
        cases,
        failure_persistence: None,
        rng_seed: RngSeed::Fixed(seed),
        max_shrink_iters: 2000,
        ..Config::default()
    }
}

fn name_of(net: usize) -> String {
    if net == 0 { "GND".to_owned() } else { format!("n{net}") }
}

/// A number whose logarithm is evenly spread.
pub fn log_uniform(low: f64, high: f64) -> impl Strategy<Value = f64> {
    (low.ln()..high.ln()).prop_map(f64::exp)
}

/// Resistances from 1 mΩ to 100 MΩ.
pub fn ohms() -> impl Strategy<Value = f64> {
    log_uniform(1e-3, 1e8)
}

/// What a branch of a random network is.
#[derive(Debug, Clone)]
struct Draft {
    kind: &'static str,
    params: Vec<(&'static str, Param)>,
}

fn draft(spec: Spec) -> Draft {
    Draft { kind: spec.kind, params: spec.params }
}

fn resistances() -> BoxedStrategy<Draft> {
    ohms().prop_map(|ohms| draft(resistor("", ["", ""], ohms))).boxed()
}

fn real_sources() -> BoxedStrategy<Draft> {
    (-30.0..30.0, log_uniform(1e-3, 1e3))
        .prop_map(|(volts, ohms)| {
            draft(part("", "supply", ["", ""]).with("volts", volts).with("resistance", ohms))
        })
        .boxed()
}

fn ideal_sources() -> BoxedStrategy<Draft> {
    (-30.0..30.0).prop_map(|volts| draft(source("", ["", ""], volts))).boxed()
}

/// Parts over a connected graph of `nets` nets and ground: a tree, whose branches may be ideal
/// sources, and further branches, which may not, so that sources never form a loop.
fn graph(
    nets: std::ops::RangeInclusive<usize>,
    tree: BoxedStrategy<Draft>,
    more: BoxedStrategy<Draft>,
    first: BoxedStrategy<Draft>,
) -> BoxedStrategy<Vec<Spec>> {
    nets.prop_flat_map(move |n| {
        let branches: Vec<_> = (1..=n).map(|net| (0..net, tree.clone(), any::<bool>())).collect();
        let further = prop::collection::vec((0..=n, 0..=n, more.clone()), 0..=n + 2);
        (branches, further, first.clone()).prop_map(|(branches, further, first)| {
            let mut ends: Vec<(usize, usize, Draft)> = Vec::new();
            for (idx, (other, draft, turned)) in branches.into_iter().enumerate() {
                let net = idx + 1;
                // The first branch feeds net 1 from ground.
                let draft = if idx == 0 { first.clone() } else { draft };
                let ends_of = if turned && idx > 0 { (other, net) } else { (net, other) };
                ends.push((ends_of.0, ends_of.1, draft));
            }
            ends.extend(further.into_iter().filter(|(from, to, _)| from != to));
            ends.into_iter()
                .enumerate()
                .map(|(idx, (from, to, draft))| Spec {
                    name: format!("X{idx}"),
                    kind: draft.kind,
                    nets: [name_of(from), name_of(to)],
                    params: draft.params,
                    tolerance: 0.0,
                })
                .collect()
        })
    })
    .boxed()
}

/// Connected networks of resistances and of ideal and real sources, fed at net `n1`.
pub fn linear() -> BoxedStrategy<Vec<Spec>> {
    let tree = prop_oneof![6 => resistances(), 1 => real_sources(), 1 => ideal_sources()].boxed();
    let more = prop_oneof![6 => resistances(), 1 => real_sources()].boxed();
    let first = prop_oneof![real_sources(), ideal_sources()].boxed();
    graph(2..=12, tree, more, first)
}

/// Connected networks of resistances with one ideal source at `n1`.
pub fn resistive() -> BoxedStrategy<Vec<Spec>> {
    graph(2..=12, resistances(), resistances(), ideal_sources())
}

fn moderate_resistances() -> BoxedStrategy<Draft> {
    log_uniform(1.0, 1e6).prop_map(|ohms| draft(resistor("", ["", ""], ohms))).boxed()
}

/// Connected networks as boards have them: resistances from an ohm to a megohm, ideal and real
/// sources.
pub fn ordinary() -> BoxedStrategy<Vec<Spec>> {
    let tree = prop_oneof![8 => moderate_resistances(), 1 => real_sources()].boxed();
    let first = prop_oneof![real_sources(), ideal_sources()].boxed();
    graph(3..=12, tree, moderate_resistances(), first)
}

/// Diodes, LEDs and zeners by their datasheet points.
fn exponential() -> BoxedStrategy<Draft> {
    let diodes = (0.3..0.9, log_uniform(1e-4, 0.1), 1.0..2.0, prop_oneof![Just(0.0), 0.01..1.0])
        .prop_map(|(drop, at, ideality, series)| {
            draft(
                part("", "diode", ["", ""])
                    .at("drop", drop, at)
                    .with("ideality", ideality)
                    .with("series_resistance", series),
            )
        });
    let leds = (1.6..3.4, log_uniform(1e-3, 20e-3))
        .prop_map(|(drop, at)| draft(part("", "led", ["", ""]).at("drop", drop, at)));
    let zeners = (2.7..33.0, log_uniform(1e-3, 50e-3), prop::option::of(1.0..40.0)).prop_map(
        |(voltage, at, slope)| {
            let zener = part("", "zener", ["", ""]).at("voltage", voltage, at);
            draft(match slope {
                Some(ohms) => zener.with("dynamic_resistance", ohms),
                None => zener,
            })
        },
    );
    prop_oneof![2 => diodes, 1 => leds, 1 => zeners].boxed()
}

/// The approximations of the classroom.
fn classroom() -> BoxedStrategy<Draft> {
    let words = prop_oneof![Just("ideal"), Just("constant drop"), Just("drop and slope")];
    let diodes =
        (words.clone(), 0.2..0.9, log_uniform(0.1, 50.0)).prop_map(|(word, drop, ohms)| {
            draft(
                part("", "diode", ["", ""])
                    .at("drop", drop, None)
                    .with("series_resistance", ohms)
                    .word("approximation", word),
            )
        });
    let zeners = (words, 2.7..33.0, log_uniform(0.1, 50.0)).prop_map(|(word, voltage, ohms)| {
        draft(
            part("", "zener", ["", ""])
                .at("voltage", voltage, None)
                .with("dynamic_resistance", ohms)
                .with("series_resistance", ohms)
                .word("approximation", word),
        )
    });
    prop_oneof![2 => diodes, 1 => zeners].boxed()
}

/// Supplies with a limit.
fn limited_supplies() -> BoxedStrategy<Draft> {
    (1.0..30.0, log_uniform(1e-3, 10.0), log_uniform(1e-3, 3.0))
        .prop_map(|(volts, ohms, limit)| {
            draft(
                part("", "supply", ["", ""])
                    .with("volts", volts)
                    .with("resistance", ohms)
                    .with("limit", limit),
            )
        })
        .boxed()
}

fn current_sources() -> BoxedStrategy<Draft> {
    (log_uniform(1e-4, 0.1), 1.0..30.0)
        .prop_map(|(amps, compliance)| {
            draft(
                part("", "current-source", ["", ""])
                    .with("amps", amps)
                    .with("compliance", compliance),
            )
        })
        .boxed()
}

/// Loads by ohms and by amps, whose current never falls when the voltage rises.
fn tame_loads() -> BoxedStrategy<Draft> {
    let by_ohms =
        log_uniform(1.0, 1e5).prop_map(|ohms| draft(part("", "load", ["", ""]).with("ohms", ohms)));
    let by_amps = (log_uniform(1e-4, 1.0), 0.5..5.0).prop_map(|(amps, minimum)| {
        draft(part("", "load", ["", ""]).with("amps", amps).with("minimum", minimum))
    });
    prop_oneof![by_ohms, by_amps].boxed()
}

/// Loads by watts: the current rises when the voltage falls.
fn watt_loads() -> BoxedStrategy<Draft> {
    (log_uniform(1e-3, 10.0), 0.5..5.0)
        .prop_map(|(watts, minimum)| {
            draft(part("", "load", ["", ""]).with("watts", watts).with("minimum", minimum))
        })
        .boxed()
}

/// Resistances and exponential junctions, fed by one ideal source at `n1` alone.
pub fn junctions() -> BoxedStrategy<Vec<Spec>> {
    let parts = prop_oneof![3 => moderate_resistances(), 2 => exponential()].boxed();
    graph(2..=10, parts.clone(), parts, ideal_sources())
}

/// Every kind whose current never falls when its voltage rises: such circuits have one operating
/// point.
pub fn passive() -> BoxedStrategy<Vec<Spec>> {
    let parts = prop_oneof![
        6 => moderate_resistances(),
        4 => exponential(),
        1 => limited_supplies(),
        1 => current_sources(),
        1 => tame_loads(),
    ]
    .boxed();
    graph(2..=10, parts.clone(), parts, limited_supplies())
}

/// Resistances, supplies and the approximations of the classroom.
pub fn straight_lines() -> BoxedStrategy<Vec<Spec>> {
    let parts = prop_oneof![
        6 => moderate_resistances(),
        4 => classroom(),
        1 => limited_supplies(),
        1 => tame_loads(),
    ]
    .boxed();
    graph(2..=10, parts.clone(), parts, limited_supplies())
}

/// All of it together, constant power as well.
pub fn mixed() -> BoxedStrategy<Vec<Spec>> {
    let parts = prop_oneof![
        6 => moderate_resistances(),
        3 => exponential(),
        2 => classroom(),
        1 => limited_supplies(),
        1 => current_sources(),
        1 => tame_loads(),
        1 => watt_loads(),
    ]
    .boxed();
    graph(2..=10, parts.clone(), parts, limited_supplies())
}

/// A net of a circuit other than ground, by a number that proptest drew.
pub fn pick(circuit: &Circuit, number: usize) -> NetId {
    NetId((1 + number % (circuit.nets.len() - 1)) as u32)
}

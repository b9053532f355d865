//! Active circuits at random: supplies, regulators, transistors, amplifiers, logic and what hangs
//! on them, always the same for the same seed.
//!
//! Half of them are wired as boards are, stage after stage off the rails; the others between any
//! nets at all, as faults and slips leave them. No source is ideal, so that every circuit has an
//! operating point, or keeps switching.

use ohmhound::circuit::{Circuit, Param, Part, Pin, Pull};
use ohmhound::device::{Pins, Problem, complete, kind};
use ohmhound::quantity::{Point, Toleranced};

/// Numbers at random (G. L. Steele, D. Lea, C. H. Flood, "Fast splittable pseudorandom number
/// generators", 2014: SplitMix64; the constants are from memory).
#[derive(Debug, Clone)]
pub struct Dice(u64);

impl Dice {
    pub fn new(seed: u64) -> Dice {
        Dice(seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) ^ 0x5851_f42d_4c95_7f2d)
    }

    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// From 0 to 1, 1 left out.
    pub fn share(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1_u64 << 53) as f64
    }

    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.share()
    }

    /// Evenly spread in its logarithm.
    pub fn log(&mut self, low: f64, high: f64) -> f64 {
        self.between(low.ln(), high.ln()).exp()
    }

    /// Below `n`.
    pub fn below(&mut self, n: usize) -> usize {
        (self.next() % n.max(1) as u64) as usize
    }

    /// Whether something happens that happens with this share.
    pub fn chance(&mut self, share: f64) -> bool {
        self.share() < share
    }

    pub fn one<'a, T>(&mut self, of: &'a [T]) -> &'a T {
        &of[self.below(of.len())]
    }

    /// Puts things into another order.
    pub fn shuffle<T>(&mut self, things: &mut [T]) {
        for at in (1..things.len()).rev() {
            things.swap(at, self.below(at + 1));
        }
    }
}

/// A part as plain data.
#[derive(Debug, Clone)]
pub struct Draft {
    pub name: String,
    pub kind: &'static str,
    pub pins: Vec<(&'static str, String)>,
    pub params: Vec<(&'static str, Param)>,
}

impl Draft {
    pub fn new(kind: &'static str, pins: &[(&'static str, &str)]) -> Draft {
        let pins = pins.iter().map(|(pin, net)| (*pin, (*net).to_owned())).collect();
        Draft { name: String::new(), kind, pins, params: Vec::new() }
    }

    pub fn two(kind: &'static str, from: &str, to: &str) -> Draft {
        Draft::new(kind, &[("1", from), ("2", to)])
    }

    pub fn named(mut self, name: &str) -> Draft {
        name.clone_into(&mut self.name);
        self
    }

    pub fn with(mut self, name: &'static str, value: f64) -> Draft {
        self.params.push((name, Param::Number(Toleranced::bare(value))));
        self
    }

    pub fn at(mut self, name: &'static str, value: f64, at: f64) -> Draft {
        let point = Point { value: Toleranced::bare(value), at: Some(at) };
        self.params.push((name, Param::Point(point)));
        self
    }

    pub fn word(mut self, name: &'static str, word: &str) -> Draft {
        self.params.push((name, Param::Word(word.to_owned())));
        self
    }

    pub fn flag(mut self, name: &'static str, flag: bool) -> Draft {
        self.params.push((name, Param::Flag(flag)));
        self
    }

    pub fn pull(mut self, name: &'static str, up: bool, amps: f64) -> Draft {
        let pull = Pull { up, is_current: true, value: Toleranced::bare(amps) };
        self.params.push((name, Param::Pull(pull)));
        self
    }

    /// Adds the part to a circuit, its pins in the order of its kind.
    fn add_to(&self, circuit: &mut Circuit) -> Result<(), Problem> {
        let known = kind(self.kind).expect("a kind");
        let order: Vec<&str> = match known.pins() {
            Pins::Named(names) => names.to_vec(),
            Pins::Fitted(required, optional) => [required, optional].concat(),
            _ => vec!["1", "2"],
        };
        let pins = order
            .into_iter()
            .filter_map(|name| self.pins.iter().find(|(pin, _)| *pin == name))
            .map(|(pin, net)| Pin { name: (*pin).to_owned(), net: circuit.net_or_new(net) })
            .collect();
        let mut part = Part {
            name: self.name.clone(),
            kind: self.kind,
            pins,
            params: self.params.clone(),
            defaulted: Vec::new(),
            usual: Vec::new(),
            chip: Vec::new(),
            maximum: Vec::new(),
            fitted: true,
        };
        complete(&mut part)?;
        circuit.add(part);
        Ok(())
    }

    /// The part in one line.
    fn line(&self) -> String {
        let mut line = format!("{} {}", self.name, self.kind);
        for (pin, net) in &self.pins {
            line += &format!(" {pin}:{net}");
        }
        for (name, param) in &self.params {
            line += &match param {
                Param::Number(number) => format!(" {name}={:?}", number.nominal),
                Param::Point(point) => {
                    format!(" {name}={:?}@{:?}", point.value.nominal, point.at.unwrap_or(0.0))
                }
                Param::Pull(pull) => format!(" {name}={}{:?}", pull.up, pull.value.nominal),
                Param::Word(word) => format!(" {name}={word}"),
                Param::Flag(flag) => format!(" {name}={flag}"),
            };
        }
        line
    }
}

/// A circuit of these parts; its ground is `GND`.
pub fn built(drafts: &[Draft]) -> Circuit {
    accepted(drafts).unwrap_or_else(|problem| panic!("{problem:?}\n{}", listed(drafts)))
}

/// A circuit of these parts, or what the rules of their kinds say against it.
pub fn accepted(drafts: &[Draft]) -> Result<Circuit, Problem> {
    let mut circuit = Circuit::new("", "GND");
    for draft in drafts {
        draft.add_to(&mut circuit)?;
    }
    Ok(circuit)
}

/// The parts, one a line.
pub fn listed(drafts: &[Draft]) -> String {
    drafts.iter().map(|draft| draft.line() + "\n").collect()
}

/// Numbers the parts.
fn numbered(mut drafts: Vec<Draft>) -> Vec<Draft> {
    for (number, draft) in drafts.iter_mut().enumerate() {
        let letter = match draft.kind {
            "resistor" => "R",
            "diode" | "led" | "zener" => "D",
            "npn" | "pnp" | "nmos" | "pmos" => "Q",
            "supply" => "J",
            "relay" => "K",
            _ => "U",
        };
        draft.name = format!("{letter}{}", number + 1);
    }
    drafts
}

fn resistor(dice: &mut Dice, from: &str, to: &str, low: f64, high: f64) -> Draft {
    Draft::two("resistor", from, to).with("value", dice.log(low, high))
}

fn supply(dice: &mut Dice, net: &str, volts: f64) -> Draft {
    Draft::two("supply", net, "GND")
        .with("volts", volts)
        .with("resistance", dice.log(5e-3, 1.0))
        .with("limit", dice.log(0.05, 5.0))
}

fn diode(dice: &mut Dice, from: &str, to: &str) -> Draft {
    Draft::two("diode", from, to).at("drop", dice.between(0.3, 0.8), dice.log(1e-3, 0.1))
}

fn led(dice: &mut Dice, from: &str, to: &str) -> Draft {
    Draft::two("led", from, to).at("drop", dice.between(1.6, 3.2), dice.log(2e-3, 20e-3))
}

fn zener(dice: &mut Dice, from: &str, to: &str) -> Draft {
    Draft::two("zener", from, to).at("voltage", dice.between(2.7, 24.0), dice.log(1e-3, 20e-3))
}

fn load(dice: &mut Dice, net: &str, low: &str, volts: f64) -> Draft {
    let draft = Draft::two("load", net, low);
    match dice.below(3) {
        0 => draft.with("ohms", dice.log(10.0, 10e3)),
        1 => draft.with("amps", dice.log(1e-4, 0.3)).with("minimum", 0.2 * volts),
        _ => draft.with("watts", dice.log(1e-3, 1.0)).with("minimum", 0.2 * volts),
    }
}

fn switch(dice: &mut Dice, from: &str, to: &str) -> Draft {
    Draft::two("switch", from, to).flag("closed", dice.chance(0.6))
}

fn bipolar(dice: &mut Dice, kind: &'static str, [c, b, e]: [&str; 3]) -> Draft {
    Draft::new(kind, &[("collector", c), ("base", b), ("emitter", e)])
        .with("gain", dice.log(20.0, 500.0))
        .at("drop", dice.between(0.55, 0.75), 1e-3)
}

fn mosfet(dice: &mut Dice, kind: &'static str, [g, d, s]: [&str; 3]) -> Draft {
    let threshold = dice.between(0.7, 3.0);
    Draft::new(kind, &[("gate", g), ("drain", d), ("source", s)]).with("threshold", threshold).at(
        "on_resistance",
        dice.log(5e-3, 5.0),
        threshold + dice.between(1.5, 6.0),
    )
}

/// A regulator; `feedback` is the net of its feedback pin, where it has one.
fn regulator(
    dice: &mut Dice,
    kind: &'static str,
    [input, output, ground]: [&str; 3],
    set: f64,
    feedback: Option<&str>,
    enable: Option<&str>,
    good: Option<&str>,
) -> Draft {
    let mut pins = vec![("input", input), ("output", output), ("ground", ground)];
    pins.extend(enable.map(|net| ("enable", net)));
    pins.extend(feedback.map(|net| ("feedback", net)));
    pins.extend(good.map(|net| ("power_good", net)));
    let mut draft = Draft::new(kind, &pins);
    draft = draft.with(if feedback.is_some() { "reference" } else { "output_volts" }, set);
    if dice.chance(0.7) {
        draft = draft.with("limit", dice.log(0.05, 3.0));
    }
    if kind != "boost" && dice.chance(0.6) {
        draft = draft.at("dropout", dice.between(0.1, 2.0), dice.log(0.05, 1.0));
    }
    if dice.chance(0.5) {
        draft = draft.with("quiescent", dice.log(1e-5, 5e-3));
    }
    if feedback.is_some() && dice.chance(0.3) {
        let sign = if dice.chance(0.5) { -1.0 } else { 1.0 };
        draft = draft.with("feedback_bias", sign * dice.log(1e-8, 1e-5));
    }
    if dice.chance(0.3) {
        draft = draft.with("lockout_rising", dice.between(1.5, 5.0));
    }
    if enable.is_some() {
        draft = draft.with("enable_threshold", dice.between(0.6, 2.0));
        if dice.chance(0.2) {
            draft = draft.word("enable_active", "low");
        }
        if dice.chance(0.3) {
            draft = draft.pull("enable_pull", dice.chance(0.5), dice.log(1e-7, 1e-5));
        }
    }
    draft
}

fn supervisor(dice: &mut Dice, [sense, output, supply]: [&str; 3], volts: f64) -> Draft {
    let pins = [("sense", sense), ("output", output), ("supply", supply), ("ground", "GND")];
    Draft::new("supervisor", &pins)
        .with("threshold", volts * dice.between(0.5, 0.95))
        .with("hysteresis", 0.02 * volts)
        .flag("open_drain", dice.chance(0.7))
}

fn comparator(dice: &mut Dice, nets: [&str; 5]) -> Draft {
    let names = ["plus", "minus", "output", "supply", "ground"];
    let pins: Vec<_> = names.into_iter().zip(nets).collect();
    let draft = Draft::new("comparator", &pins).flag("open_drain", dice.chance(0.7));
    match dice.chance(0.5) {
        true => draft.with("hysteresis", dice.log(2e-3, 0.2)),
        false => draft,
    }
}

fn opamp(dice: &mut Dice, nets: [&str; 5]) -> Draft {
    let names = ["plus", "minus", "output", "supply", "ground"];
    let pins: Vec<_> = names.into_iter().zip(nets).collect();
    Draft::new("opamp", &pins).with("gain", dice.log(1e4, 1e6))
}

fn gate(dice: &mut Dice, supply: &str, ground: &str, y: &str, inputs: &[&str]) -> Draft {
    let mut pins = vec![("y", y), ("supply", supply), ("ground", ground)];
    pins.extend(["a", "b", "c"].into_iter().zip(inputs.iter().copied()));
    let many = ["and", "or", "nand", "nor", "xor"];
    let function = if inputs.len() == 1 { *dice.one(&["not", "buffer"]) } else { *dice.one(&many) };
    Draft::new("gate", &pins).word("function", function).flag("open_drain", dice.chance(0.2))
}

fn relay(dice: &mut Dice, nets: [&str; 5], volts: f64) -> Draft {
    let names = ["coil_plus", "coil_minus", "common", "normally_open", "normally_closed"];
    let count = if dice.chance(0.4) { 5 } else { 4 };
    let pins: Vec<_> = names.into_iter().zip(nets).take(count).collect();
    Draft::new("relay", &pins)
        .with("coil", dice.log(50.0, 2e3))
        .with("pull_in", 0.7 * volts)
        .with("drop_out", 0.2 * volts)
}

fn optocoupler(dice: &mut Dice, [a, k, c, e]: [&str; 4]) -> Draft {
    Draft::new("optocoupler", &[("anode", a), ("cathode", k), ("collector", c), ("emitter", e)])
        .with("ratio", dice.log(0.3, 3.0))
}

/// A board that grows stage by stage.
struct Growing {
    parts: Vec<Draft>,
    /// Rails and the volts that they should have.
    rails: Vec<(String, f64)>,
    /// Nets that carry something between nothing and a rail.
    signals: Vec<String>,
    nets: usize,
}

impl Growing {
    fn net(&mut self) -> String {
        self.nets += 1;
        format!("N{}", self.nets)
    }

    fn rail(&self, dice: &mut Dice) -> (String, f64) {
        dice.one(&self.rails).clone()
    }

    fn signal(&self, dice: &mut Dice) -> String {
        if self.signals.is_empty() || dice.chance(0.1) {
            self.rail(dice).0
        } else {
            dice.one(&self.signals).clone()
        }
    }

    fn divider(&mut self, dice: &mut Dice) {
        let (rail, mid) = (self.rail(dice).0, self.net());
        self.parts.push(resistor(dice, &rail, &mid, 1e3, 300e3));
        self.parts.push(resistor(dice, &mid, "GND", 1e3, 300e3));
        self.signals.push(mid);
    }

    fn regulated(&mut self, dice: &mut Dice) {
        let (input, volts) = self.rail(dice);
        let output = self.net();
        let kind = *dice.one(&["ldo", "buck", "boost"]);
        let target = if kind == "boost" {
            volts * dice.between(1.2, 4.0)
        } else {
            volts * dice.between(0.2, 0.95)
        };
        let enable = dice.chance(0.6).then(|| self.signal(dice));
        let good = dice.chance(0.2).then(|| self.net());
        let ends = [input.as_str(), &output, "GND"];
        if dice.chance(0.6) {
            let (reference, feedback) = (dice.between(0.5, 1.3), self.net());
            let bottom = dice.log(1e3, 100e3);
            let top = bottom * (target / reference - 1.0).max(0.05);
            let part = regulator(
                dice,
                kind,
                ends,
                reference,
                Some(&feedback),
                enable.as_deref(),
                good.as_deref(),
            );
            self.parts.push(part);
            self.parts.push(Draft::two("resistor", &output, &feedback).with("value", top));
            self.parts.push(Draft::two("resistor", &feedback, "GND").with("value", bottom));
        } else {
            let part =
                regulator(dice, kind, ends, target, None, enable.as_deref(), good.as_deref());
            self.parts.push(part);
        }
        if let Some(good) = good {
            self.parts.push(resistor(dice, &output, &good, 1e3, 100e3));
            self.signals.push(good);
        }
        self.parts.push(load(dice, &output, "GND", target));
        self.rails.push((output, target));
    }

    /// A transistor that a signal switches, with what hangs in its collector or drain.
    fn switched(&mut self, dice: &mut Dice) {
        let (signal, rail) = (self.signal(dice), self.rail(dice).0);
        let out = self.net();
        if dice.chance(0.5) {
            let base = self.net();
            self.parts.push(resistor(dice, &signal, &base, 470.0, 100e3));
            self.parts.push(bipolar(dice, "npn", [&out, &base, "GND"]));
        } else {
            self.parts.push(mosfet(dice, "nmos", [&signal, &out, "GND"]));
        }
        if dice.chance(0.3) {
            let mid = self.net();
            self.parts.push(led(dice, &rail, &mid));
            self.parts.push(resistor(dice, &mid, &out, 100.0, 10e3));
        } else {
            self.parts.push(resistor(dice, &rail, &out, 100.0, 100e3));
        }
        self.signals.push(out);
    }

    /// A transistor between a rail and another one that a signal pulls on.
    fn high_side(&mut self, dice: &mut Dice) {
        let ((rail, volts), signal) = (self.rail(dice), self.signal(dice));
        let (gate, out) = (self.net(), self.net());
        self.parts.push(resistor(dice, &rail, &gate, 1e3, 100e3));
        self.parts.push(resistor(dice, &gate, &signal, 100.0, 10e3));
        self.parts.push(match dice.chance(0.5) {
            true => mosfet(dice, "pmos", [&gate, &out, &rail]),
            false => bipolar(dice, "pnp", [&out, &gate, &rail]),
        });
        self.parts.push(load(dice, &out, "GND", volts));
        self.rails.push((out, volts));
    }

    fn follower(&mut self, dice: &mut Dice) {
        let (rail, volts) = self.rail(dice);
        let (base, out) = (self.net(), self.net());
        self.parts.push(resistor(dice, &rail, &base, 470.0, 10e3));
        self.parts.push(zener(dice, "GND", &base));
        self.parts.push(bipolar(dice, "npn", [&rail, &base, &out]));
        self.parts.push(load(dice, &out, "GND", 0.5 * volts));
        self.rails.push((out, 0.5 * volts));
    }

    fn watched(&mut self, dice: &mut Dice) {
        let ((rail, volts), out) = (self.rail(dice), self.net());
        let supply = if dice.chance(0.5) { rail.clone() } else { self.rail(dice).0 };
        self.parts.push(supervisor(dice, [&rail, &out, &supply], volts));
        self.parts.push(resistor(dice, &supply, &out, 1e3, 100e3));
        self.signals.push(out);
    }

    fn shunted(&mut self, dice: &mut Dice) {
        let ((rail, volts), out) = (self.rail(dice), self.net());
        self.parts.push(resistor(dice, &rail, &out, 100.0, 10e3));
        if dice.chance(0.5) {
            let pins = [("cathode", out.as_str()), ("anode", "GND")];
            let held = dice.between(1.2, 5.0);
            self.parts.push(Draft::new("shunt-reference", &pins).with("volts", held));
        } else {
            let adjust = self.net();
            let pins = [("cathode", out.as_str()), ("anode", "GND"), ("adjust", &adjust)];
            let part = Draft::new("shunt-reference", &pins).with("reference", 2.495);
            self.parts.push(part.with("minimum", dice.log(1e-5, 1e-3)));
            self.parts.push(resistor(dice, &out, &adjust, 1e3, 30e3));
            self.parts.push(resistor(dice, &adjust, "GND", 1e3, 30e3));
        }
        self.rails.push((out, 0.5 * volts));
    }

    fn amplified(&mut self, dice: &mut Dice) {
        let (rail, signal) = (self.rail(dice).0, self.signal(dice));
        let (out, minus) = (self.net(), self.net());
        self.parts.push(opamp(dice, [&signal, &minus, &out, &rail, "GND"]));
        self.parts.push(resistor(dice, &out, &minus, 1e3, 300e3));
        self.parts.push(resistor(dice, &minus, "GND", 1e3, 300e3));
        self.signals.push(out);
    }

    fn compared(&mut self, dice: &mut Dice) {
        let (rail, one, other) = (self.rail(dice).0, self.signal(dice), self.signal(dice));
        let out = self.net();
        self.parts.push(comparator(dice, [&one, &other, &out, &rail, "GND"]));
        self.parts.push(resistor(dice, &rail, &out, 1e3, 100e3));
        self.signals.push(out);
    }

    fn gated(&mut self, dice: &mut Dice) {
        let (rail, out) = (self.rail(dice).0, self.net());
        let inputs: Vec<String> = (0..=dice.below(3)).map(|_| self.signal(dice)).collect();
        let inputs: Vec<&str> = inputs.iter().map(String::as_str).collect();
        self.parts.push(gate(dice, &rail, "GND", &out, &inputs));
        self.parts.push(resistor(dice, &out, "GND", 1e3, 100e3));
        self.signals.push(out);
    }

    fn relayed(&mut self, dice: &mut Dice) {
        let ((rail, volts), (common, on)) = (self.rail(dice), self.rail(dice));
        let (signal, out) = (self.signal(dice), self.net());
        let (coil, other) = (self.net(), self.net());
        self.parts.push(relay(dice, [&rail, &coil, &common, &out, &other], volts));
        self.parts.push(mosfet(dice, "nmos", [&signal, &coil, "GND"]));
        self.parts.push(diode(dice, &coil, &rail));
        self.parts.push(load(dice, &out, "GND", on));
        self.rails.push((out, on));
    }

    fn isolated(&mut self, dice: &mut Dice) {
        let (signal, rail) = (self.signal(dice), self.rail(dice).0);
        let (anode, out) = (self.net(), self.net());
        self.parts.push(resistor(dice, &signal, &anode, 100.0, 10e3));
        self.parts.push(optocoupler(dice, [&anode, "GND", &out, "GND"]));
        self.parts.push(resistor(dice, &rail, &out, 470.0, 100e3));
        self.signals.push(out);
    }

    /// Something small between what is there.
    fn small(&mut self, dice: &mut Dice) {
        let (rail, volts) = self.rail(dice);
        match dice.below(6) {
            0 => {
                let mid = self.net();
                self.parts.push(resistor(dice, &rail, &mid, 100.0, 10e3));
                self.parts.push(led(dice, &mid, "GND"));
            }
            1 => self.parts.push(load(dice, &rail, "GND", volts)),
            2 => {
                let out = self.net();
                self.parts.push(switch(dice, &rail, &out));
                self.parts.push(load(dice, &out, "GND", volts));
                self.rails.push((out, volts));
            }
            3 => {
                let other = self.rail(dice).0;
                self.parts.push(diode(dice, &rail, &other));
            }
            // What closes loops.
            _ => {
                let (one, other) = (self.signal(dice), self.signal(dice));
                self.parts.push(resistor(dice, &one, &other, 1e3, 1e6));
            }
        }
    }
}

/// Kinds of chips that a build of the crate may lack.
fn has(name: &str) -> bool {
    kind(name).is_some()
}

/// A board of stages fed by rails.
fn sensible(dice: &mut Dice, most: usize) -> Vec<Draft> {
    let mut board = Growing { parts: Vec::new(), rails: Vec::new(), signals: Vec::new(), nets: 0 };
    for _ in 0..=dice.below(3) {
        let (net, volts) = (board.net(), dice.log(3.3, 36.0));
        board.parts.push(supply(dice, &net, volts));
        board.rails.push((net, volts));
    }
    while board.parts.len() + 4 < most {
        match dice.below(17) {
            0 | 1 => board.divider(dice),
            2..=4 => board.regulated(dice),
            5 | 6 => board.switched(dice),
            7 => board.high_side(dice),
            8 => board.follower(dice),
            9 => board.watched(dice),
            10 => board.shunted(dice),
            11 if has("opamp") => board.amplified(dice),
            12 if has("comparator") => board.compared(dice),
            13 if has("gate") => board.gated(dice),
            14 if has("relay") => board.relayed(dice),
            15 if has("optocoupler") => board.isolated(dice),
            _ => board.small(dice),
        }
    }
    board.parts
}

/// Parts between any nets at all.
fn tangled(dice: &mut Dice, most: usize) -> Vec<Draft> {
    let count = 2 + (most as f64 / dice.between(1.5, 3.0)) as usize;
    let nets: Vec<String> =
        (0..count).map(|net| if net == 0 { "GND".to_owned() } else { format!("N{net}") }).collect();
    let mut parts = Vec::new();
    for _ in 0..=dice.below(3) {
        let net = nets[1 + dice.below(count - 1)].clone();
        let volts = dice.log(3.3, 36.0);
        parts.push(supply(dice, &net, volts));
    }
    while parts.len() < most {
        let picked: Vec<String> = (0..8).map(|_| dice.one(&nets).clone()).collect();
        let n: Vec<&str> = picked.iter().map(String::as_str).collect();
        // A part all of whose pins are on one net says nothing.
        if n[0] == n[1] {
            continue;
        }
        let ground = if dice.chance(0.8) { "GND" } else { n[2] };
        let volts = dice.log(1.0, 24.0);
        parts.push(match dice.below(26) {
            0..=7 => resistor(dice, n[0], n[1], 1.0, 1e6),
            8 => diode(dice, n[0], n[1]),
            9 => led(dice, n[0], n[1]),
            10 => zener(dice, n[0], n[1]),
            11 => load(dice, n[0], ground, volts),
            12 => switch(dice, n[0], n[1]),
            13 => bipolar(dice, "npn", [n[0], n[1], n[2]]),
            14 => bipolar(dice, "pnp", [n[0], n[1], n[2]]),
            15 => mosfet(dice, "nmos", [n[0], n[1], n[2]]),
            16 => mosfet(dice, "pmos", [n[0], n[1], n[2]]),
            17..=19 => {
                let kind = *dice.one(&["ldo", "buck", "boost"]);
                let feedback = dice.chance(0.5).then_some(n[3]);
                let enable = dice.chance(0.5).then_some(n[4]);
                let good = dice.chance(0.2).then_some(n[5]);
                let set = if feedback.is_some() { dice.between(0.5, 1.3) } else { volts };
                regulator(dice, kind, [n[0], n[1], ground], set, feedback, enable, good)
            }
            20 => supervisor(dice, [n[0], n[1], n[2]], volts),
            21 => {
                let pins = [("cathode", n[0]), ("anode", n[1]), ("adjust", n[2])];
                match dice.chance(0.5) {
                    true => Draft::new("shunt-reference", &pins).with("reference", 2.495),
                    false => Draft::new("shunt-reference", &pins[..2]).with("volts", volts),
                }
            }
            22 if has("opamp") => opamp(dice, [n[3], n[4], n[1], n[0], ground]),
            23 if has("comparator") => comparator(dice, [n[3], n[4], n[1], n[0], ground]),
            24 if has("gate") => {
                let last = 4 + dice.below(3);
                gate(dice, n[0], ground, n[1], &n[3..last])
            }
            25 if has("relay") && dice.chance(0.5) => {
                relay(dice, [n[0], n[1], n[3], n[4], n[5]], volts)
            }
            25 if has("optocoupler") => optocoupler(dice, [n[0], n[1], n[3], n[4]]),
            _ => resistor(dice, n[0], n[1], 1.0, 1e6),
        });
    }
    parts
}

/// The active circuit with that number, of up to `most` parts: by turns wired as a board and wired
/// at random.
pub fn active(number: u64, most: usize) -> Vec<Draft> {
    let mut dice = Dice::new(number);
    let size = 5 + dice.below(most.saturating_sub(4));
    let parts =
        if number.is_multiple_of(2) { sensible(&mut dice, size) } else { tangled(&mut dice, size) };
    numbered(parts)
}

/// The small circuit with that number: up to ten junctions among resistors, fed by one or two
/// supplies, and now and then a transistor or a regulator.
pub fn small(number: u64) -> Vec<Draft> {
    let mut dice = Dice::new(number ^ 0x5eed_0000);
    let count = 3 + dice.below(8);
    let nets: Vec<String> =
        (0..count).map(|net| if net == 0 { "GND".to_owned() } else { format!("N{net}") }).collect();
    let volts = dice.log(3.3, 36.0);
    let mut parts = vec![supply(&mut dice, "N1", volts)];
    // A tree of resistors and junctions reaches every net; the others go anywhere.
    let mut junctions = 1 + dice.below(10);
    let extra = junctions + dice.below(4);
    for number in 2..count + extra {
        let (from, to) = match number < count {
            true => (nets[number].clone(), nets[dice.below(number)].clone()),
            false => (dice.one(&nets).clone(), dice.one(&nets).clone()),
        };
        if from == to {
            continue;
        }
        let third = dice.one(&nets).clone();
        let way = if junctions > 0 { dice.below(7) } else { 0 };
        junctions -= usize::from(way > 2);
        parts.push(match way {
            0..=2 => resistor(&mut dice, &from, &to, 1.0, 1e6),
            3 => diode(&mut dice, &from, &to),
            4 => led(&mut dice, &from, &to),
            5 => zener(&mut dice, &from, &to),
            _ => {
                let kind = *dice.one(&["npn", "pnp", "nmos", "pmos"]);
                match kind {
                    "npn" | "pnp" => bipolar(&mut dice, kind, [&to, &from, &third]),
                    _ => mosfet(&mut dice, kind, [&to, &from, &third]),
                }
            }
        });
    }
    numbered(parts)
}

/// The parts that are left when as many as possible are taken away and it still `fails`.
pub fn shrunk(drafts: &[Draft], fails: impl Fn(&[Draft]) -> bool) -> Vec<Draft> {
    let mut left = drafts.to_vec();
    loop {
        let before = left.len();
        let mut at = 0;
        while at < left.len() {
            let mut fewer = left.clone();
            fewer.remove(at);
            if fails(&fewer) { left = fewer } else { at += 1 }
        }
        if left.len() == before {
            return left;
        }
    }
}

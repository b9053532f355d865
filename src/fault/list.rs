//! The list of hypotheses of a circuit.
//!
//! Everything that adds conductance between the same two nets is one physical change: parts that
//! short or leak, a resistor that drifted low, a bridge, a net's leak to ground. It is listed
//! once, with its causes.

use std::collections::BTreeMap;

use super::Fault;
use super::hypothesis::{Cause, Curve, Hypothesis, Mapping, Spread};
use super::weights::{Budget, mode_share};
use crate::circuit::{Appearance, Circuit, Neighbours, NetId, Part, PartId};
use crate::device::{Mode, Pins, of};

/// "Shorted" runs from a milliohm to an ohm.
const SHORT: (f64, f64) = (1e-3, 1.0);
/// A leak runs from an ohm to twenty megohms.
const LEAK: (f64, f64) = (1.0, 20e6);
/// A poor contact runs from a tenth of an ohm to as far as leaks go: behind a battery divider of
/// hundreds of kilohms a switch that has all but given up still shows as one.
const POOR: (f64, f64) = (0.1, 20e6);
/// A drifted resistance runs from a thousandth to a thousand times its nominal value, and a tenth
/// further, so that a slip of three decades is not the very end of the line.
pub(super) const DRIFT: f64 = 1.1e3;
/// A current that rose goes up to a thousand times its nominal value.
const RAISED: f64 = 1e3;
/// Below this a part counts as a plain join: a bridge beside it shows nothing.
const JOIN_OHMS: f64 = 1.0;
/// Shares of a net's or a pair's weight: dead short, leak.
const SHORT_SHARE: f64 = 0.4;

/// What is known of the parts besides readings, and which of them readings look into.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Evidence {
    /// How parts look.
    pub seen: Vec<(PartId, Appearance)>,
    /// Parts whose own current or own legs are read: what happens in them is told from what
    /// happens beside them.
    pub apart: Vec<PartId>,
}

impl Evidence {
    fn looks(&self, part: PartId) -> impl Iterator<Item = Appearance> + '_ {
        self.seen.iter().filter(move |(known, _)| *known == part).map(|(_, look)| *look)
    }

    /// How much likelier a failure of the part is for how it looks. Common practice, no published
    /// source.
    fn ageing(&self, part: PartId, by_corrosion: bool) -> f64 {
        self.looks(part)
            .map(|look| match look {
                Appearance::Corroded if by_corrosion => 10.0,
                Appearance::Corroded => 1.0,
                Appearance::Burnt | Appearance::Cracked => 30.0,
                Appearance::Fine | Appearance::Replaced => 0.3,
            })
            .product()
    }

    /// How much likelier a mistake of assembly is for how the part looks.
    pub(super) fn assembly(&self, part: PartId) -> f64 {
        self.looks(part).map(|look| if look == Appearance::Replaced { 10.0 } else { 1.0 }).product()
    }
}

/// Where conductance may be added: two nets, and the part when readings look into it.
type Place = (NetId, NetId, Option<PartId>);

/// How a part can fail, given the pins and parameters that it has.
fn applicable(part: &Part) -> impl Iterator<Item = Mode> + '_ {
    of(part).modes().iter().copied().filter(|mode| match mode {
        Mode::Joined(a, b) | Mode::LeakyInside(a, b) => {
            part.pin(a).is_some() && part.pin(b).is_some()
        }
        Mode::PinOpen(pin) => part.pin(pin).is_some(),
        Mode::Drifted(name) | Mode::Raised(name) | Mode::Lost(name) => part.param(name).is_some(),
        _ => true,
    })
}

/// The list while it is built.
pub(super) struct List<'a> {
    pub(super) circuit: &'a Circuit,
    pub(super) evidence: &'a Evidence,
    pub(super) found: Vec<Hypothesis>,
    shorts: BTreeMap<Place, Vec<Cause>>,
    leaks: BTreeMap<Place, Vec<Cause>>,
    /// How suspect all parts are together, and all sources.
    suspicion: [f64; 2],
    pub(super) budget: Budget,
}

/// Every hypothesis that a diagnosis of the circuit tries, in a fixed order.
///
/// ```
/// use ohmhound::fault::{Evidence, hypotheses};
/// use ohmhound::{circuit::*, engine::Assembly, file::read_circuit, finding::Source};
///
/// let text = "[parts]\nJ1 = { kind = \"supply\", volts = \"12 V\", nets = [\"IN\", \"GND\"] }\n\
///             R1 = { value = \"10k\", nets = [\"IN\", \"OUT\"] }\n\
///             R2 = { value = \"10k\", nets = [\"OUT\", \"GND\"] }";
/// let circuit = read_circuit(&Source::new("divider.toml", text), &mut |_| Err(String::new()));
/// let circuit = circuit.value.ok_or("the circuit is in order")?;
/// let list = hypotheses(&circuit, &Evidence::default());
/// let phrases: Vec<String> =
///     list.iter().map(|one| one.causes[0].fault.phrase(&circuit)).collect();
/// assert!(phrases.contains(&"R1 open".to_owned()));
/// // Weights are shares of all causes: those of faults on the board are less than one.
/// let weight: f64 = list.iter().map(|one| one.weight()).sum();
/// assert!(weight > 0.5 && weight < 1.0);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn hypotheses(circuit: &Circuit, evidence: &Evidence) -> Vec<Hypothesis> {
    let mut list = List {
        circuit,
        evidence,
        found: Vec::new(),
        shorts: BTreeMap::new(),
        leaks: BTreeMap::new(),
        suspicion: [0.0; 2],
        budget: Budget::of(&circuit.board),
    };
    for (id, part) in circuit.parts_by_id().filter(|(_, part)| part.fitted) {
        list.suspicion[usize::from(of(part).is_source())] += circuit.board.weight_of(id);
    }
    list.parts();
    list.joints();
    list.nets();
    list.assembly();
    list.close();
    list.stated();
    list.found.retain(|hypothesis| hypothesis.weight() > 0.0);
    list.found
}

fn range(low: f64, high: f64) -> Spread {
    Spread::Range { low: low.ln(), high: high.ln(), except: None }
}

pub(super) fn cause(fault: Fault, weight: f64, spread: Spread) -> Cause {
    Cause { fault, weight, mapping: Mapping::Same, spread }
}

impl List<'_> {
    fn place(&self, part: PartId) -> Place {
        let pins = &self.circuit[part].pins;
        let (a, b) = (pins[0].net, pins[1].net);
        (a.min(b), a.max(b), self.evidence.apart.contains(&part).then_some(part))
    }

    /// Whether two nets are joined by something of less than an ohm, so that more joining there
    /// shows nothing.
    fn is_joined(&self, a: NetId, b: NetId) -> bool {
        self.circuit.parts.iter().any(|part| {
            part.fitted
                && part.is_two_pin()
                && (part.pins[0].net.min(part.pins[1].net), part.pins[0].net.max(part.pins[1].net))
                    == (a.min(b), a.max(b))
                && part.kind != "switch"
                && part.kind != "supply"
                && part.kind != "battery"
                && part.nominal("resistance").is_some_and(|ohms| ohms < JOIN_OHMS)
        })
    }

    /// Applies what the file says of single failures.
    fn stated(&mut self) {
        for cause in self.found.iter_mut().flat_map(|hypothesis| &mut hypothesis.causes) {
            if let Some(part) = cause.fault.part() {
                // "stuck high" and "stuck low" are both "stuck".
                let failure = cause.fault.failure();
                let word = failure.split(' ').next().unwrap_or(failure);
                cause.weight *= self.circuit.board.failure_weight_of(part, word);
            }
        }
    }

    fn parts(&mut self) {
        for (id, part) in self.circuit.parts_by_id().filter(|(_, part)| part.fitted) {
            let kind = of(part);
            let share = self.part_weight(id);
            // What a part has no pin or parameter for cannot happen to it; the rest shares its weight.
            let all: f64 = applicable(part).map(|mode| mode_share(kind.name(), mode)).sum();
            for mode in applicable(part) {
                let corrodes = matches!(mode, Mode::Open | Mode::Leaky | Mode::Resistive(_));
                let weight = share * mode_share(kind.name(), mode) / all
                    * self.evidence.ageing(id, corrodes);
                self.mode(id, mode, weight);
            }
        }
    }

    fn mode(&mut self, id: PartId, mode: Mode, weight: f64) {
        let part = &self.circuit[id];
        let two_pin = part.is_two_pin();
        match mode {
            Mode::Open => self.found.push(Hypothesis::fixed(Fault::Open(id), weight)),
            Mode::Absent => self.found.push(Hypothesis::fixed(Fault::Absent(id), weight)),
            // Reversed parts are mistakes of assembly.
            Mode::Reversed => {}
            // A lead that is broken inside is told from its joint by nothing: see `joints`.
            Mode::PinOpen(_) => {}
            Mode::Joined(a, b) => self.inside(id, a, b, (1.0, 0.0), weight),
            Mode::LeakyInside(a, b) => self.inside(id, a, b, (0.0, 1.0), weight),
            Mode::Dead | Mode::StuckHigh | Mode::StuckLow | Mode::Lost(_) => {
                if let Some(what) = mode.strike() {
                    self.found.push(Hypothesis::fixed(Fault::Struck(id, what), weight));
                }
            }
            Mode::Raised(name) => {
                if let Some(number) = part.toleranced(name) {
                    let (low, high) = (number.most(), RAISED * number.nominal);
                    self.line(Fault::Drifted(id, name, None), weight, low, high, None);
                }
            }
            Mode::PinLeaky => {
                let rails = of(part).rails().unwrap_or_default();
                let pairs: Vec<(String, &'static str)> = part
                    .pins
                    .iter()
                    .flat_map(|pin| rails.map(|rail| (pin.name.clone(), rail)))
                    .filter(|(pin, rail)| {
                        // The two rails are one pair.
                        pin != rail && (!rails.contains(&pin.as_str()) || *rail == rails[1])
                    })
                    .filter(|(_, rail)| part.pin(rail).is_some())
                    // What is a mode of its own is not listed twice.
                    .filter(|(pin, rail)| {
                        !of(part).modes().iter().any(|mode| match mode {
                            Mode::Joined(a, b) | Mode::LeakyInside(a, b) => {
                                (*a, *b) == (pin, rail) || (*b, *a) == (pin, rail)
                            }
                            _ => false,
                        })
                    })
                    .collect();
                let each = weight / pairs.len().max(1) as f64;
                for (pin, rail) in &pairs {
                    self.inside(id, pin, rail, (SHORT_SHARE, 1.0 - SHORT_SHARE), each);
                }
            }
            Mode::Shorted if two_pin => {
                let cause = cause(Fault::Shorted(id, None), weight, range(SHORT.0, SHORT.1));
                self.shorts.entry(self.place(id)).or_default().push(cause);
            }
            Mode::Leaky if two_pin => {
                let cause = cause(Fault::Leaky(id, None), weight, range(LEAK.0, LEAK.1));
                self.leaks.entry(self.place(id)).or_default().push(cause);
            }
            Mode::Shorted | Mode::Leaky => {}
            Mode::Resistive(name) => {
                let least = part.number(name).map_or(POOR.0, |number| number.most().max(POOR.0));
                let most = POOR.1.max(10.0 * least);
                self.line(Fault::Resistive(id, name, None), weight, least, most, None);
            }
            Mode::Low("limit") => {
                if let Some(limit) = part.number("limit") {
                    let fault = Fault::Limited(id, None);
                    self.line(fault, weight, 1e-3 * limit.nominal, limit.least(), None);
                }
            }
            Mode::Low(name) => {
                if let Some(number) = part.number(name).filter(|number| number.nominal > 0.0) {
                    let fault = Fault::Low(id, name, None);
                    self.line(fault, weight, 0.02 * number.nominal, number.least(), None);
                }
            }
            Mode::Drifted("value") => self.drifted(id, weight),
            // A gain that is lost goes down, by a thousand times at most.
            Mode::Drifted("gain") => {
                if let Some(number) = part.toleranced("gain") {
                    let (low, high) = (1e-3 * number.nominal, number.least());
                    self.line(Fault::Drifted(id, "gain", None), weight, low, high, None);
                }
            }
            Mode::Drifted(name) => {
                // A drop or a zener voltage moves by a factor of a few at most.
                let number = part.toleranced(name).filter(|number| number.least() > 0.0);
                if let Some(number) = number {
                    let (low, high) = (number.nominal / 3.0, number.nominal * 2.0);
                    let except = Some((number.least().ln(), number.most().ln()));
                    self.line(Fault::Drifted(id, name, None), weight, low, high, except);
                }
            }
        }
    }

    /// A short and a leak between two pins inside a part, in these shares of the weight.
    fn inside(&mut self, id: PartId, a: &str, b: &str, (short, leak): (f64, f64), weight: f64) {
        let part = &self.circuit[id];
        let (Some(a), Some(b)) = (part.pin(a), part.pin(b)) else { return };
        let (one, other) = (part.pins[a].net, part.pins[b].net);
        if one == other || self.is_joined(one, other) {
            return;
        }
        let apart = self.evidence.apart.contains(&id).then_some(id);
        let place = (one.min(other), one.max(other), apart);
        if short > 0.0 {
            let fault = Fault::PinShorted(id, a, b, None);
            let cause = cause(fault, weight * short, range(SHORT.0, SHORT.1));
            self.shorts.entry(place).or_default().push(cause);
        }
        if leak > 0.0 {
            let fault = Fault::PinLeaky(id, a, b, None);
            let cause = cause(fault, weight * leak, range(LEAK.0, LEAK.1));
            self.leaks.entry(place).or_default().push(cause);
        }
    }

    /// A fault with a line of its own.
    fn line(&mut self, fault: Fault, weight: f64, low: f64, high: f64, except: Option<(f64, f64)>) {
        if low >= high || weight <= 0.0 {
            return;
        }
        let spread = Spread::Range { low: low.ln(), high: high.ln(), except };
        self.found.push(Hypothesis {
            causes: vec![cause(fault, weight, spread)],
            curve: Some(Curve { fault, low: low.ln(), high: high.ln() }),
            alike: Vec::new(),
        });
    }

    /// A resistance that drifted: its own line; what leaks beside it joins in `close`.
    fn drifted(&mut self, id: PartId, weight: f64) {
        let part = &self.circuit[id];
        let Some(number) = part.number("value") else { return };
        let (low, high) = (number.nominal / DRIFT, number.nominal * DRIFT);
        let except = Some((number.least().ln(), number.most().ln()));
        self.line(Fault::Drifted(id, "value", None), weight, low, high, except);
    }

    fn joints(&mut self) {
        let jointed: Vec<(PartId, usize)> = self
            .circuit
            .parts_by_id()
            .filter(|(_, part)| part.fitted && !part.is_two_pin())
            .flat_map(|(id, part)| {
                // The two pins of a connector's contact are one joint.
                let step = if of(part).pins() == Pins::Contacts { 2 } else { 1 };
                (0..part.pins.len()).step_by(step).map(move |pin| (id, pin))
            })
            .collect();
        for &(id, pin) in &jointed {
            let ageing = self.evidence.ageing(id, true);
            let weight = self.budget.joints / jointed.len() as f64 * ageing;
            let inner = self.lead_weight(id, pin) * ageing;
            // Connector / connection: open .61, poor contact .23 (see `weights`).
            self.found.push(Hypothesis::fixed(Fault::JointOpen(id, pin), 0.73 * weight + inner));
            let fault = Fault::JointResistive(id, pin, None);
            self.line(fault, 0.27 * weight, POOR.0, POOR.1, None);
        }
    }

    /// The weight of a lead that broke inside the part.
    fn lead_weight(&self, id: PartId, pin: usize) -> f64 {
        let part = &self.circuit[id];
        let kind = of(part);
        let all: f64 = applicable(part).map(|mode| mode_share(kind.name(), mode)).sum();
        let open = applicable(part)
            .filter(|mode| matches!(mode, Mode::PinOpen(name) if *name == part.pins[pin].name))
            .map(|mode| mode_share(kind.name(), mode))
            .sum::<f64>();
        if open > 0.0 { self.part_weight(id) * open / all } else { 0.0 }
    }

    /// The weight of one part among those of its budget.
    fn part_weight(&self, id: PartId) -> f64 {
        let is_source = of(&self.circuit[id]).is_source();
        let [parts, sources] = self.suspicion;
        let budget = &self.budget;
        let each = if is_source { budget.sources / sources } else { budget.parts / parts };
        each * self.circuit.board.weight_of(id)
    }

    fn nets(&mut self) {
        let nets: Vec<NetId> = (1..self.circuit.nets.len() as u32).map(NetId).collect();
        for &net in &nets {
            let corroded = self.corroded_near(net);
            let weight = self.budget.leaks / nets.len() as f64 * corroded;
            self.join(Fault::Leak(net, None), NetId::GROUND, net, weight);
        }
        let mut pairs: Vec<(NetId, NetId)> = Vec::new();
        for part in self.circuit.parts.iter().filter(|part| part.fitted) {
            for a in &part.pins {
                pairs.extend(part.pins.iter().map(|b| (a.net, b.net)));
            }
        }
        for neighbours in &self.circuit.board.neighbours {
            if let Neighbours::Nets(a, b) = *neighbours {
                pairs.push((a, b));
            }
        }
        for (a, b) in &mut pairs {
            (*a, *b) = ((*a).min(*b), (*a).max(*b));
        }
        pairs.retain(|(a, b)| a != b && *a != NetId::GROUND);
        pairs.sort();
        pairs.dedup();
        for &(a, b) in &pairs {
            let corroded = self.corroded_near(a).max(self.corroded_near(b));
            let weight = self.budget.bridges / pairs.len() as f64 * corroded;
            self.join(Fault::Bridge(a, b, None), a, b, weight);
        }
    }

    /// Salts of a corroded part reach the nets it is on.
    fn corroded_near(&self, net: NetId) -> f64 {
        let near = self.evidence.seen.iter().any(|&(part, look)| {
            look == Appearance::Corroded && self.circuit[part].pins.iter().any(|pin| pin.net == net)
        });
        if near { 10.0 } else { 1.0 }
    }

    /// A short and a leak between two nets, whatever causes them.
    fn join(&mut self, fault: Fault, a: NetId, b: NetId, weight: f64) {
        if self.is_joined(a, b) {
            return;
        }
        let place = (a.min(b), a.max(b), None);
        let short = cause(fault, weight * SHORT_SHARE, range(SHORT.0, SHORT.1));
        self.shorts.entry(place).or_default().push(short);
        let leak = cause(fault, weight * (1.0 - SHORT_SHARE), range(LEAK.0, LEAK.1));
        self.leaks.entry(place).or_default().push(leak);
    }

    /// Turns what was collected per pair of nets into hypotheses: one short each, and one leak,
    /// which joins the line of a resistor that stands alone between the two nets.
    fn close(&mut self) {
        for (_, causes) in std::mem::take(&mut self.shorts) {
            self.added(causes, SHORT);
        }
        self.split_parallel();
        for (place, causes) in std::mem::take(&mut self.leaks) {
            match self.lone_resistance(place) {
                Some((idx, ohms)) => {
                    let hypothesis = &mut self.found[idx];
                    // The line has to reach as low as the leaks do.
                    if let Some(curve) = &mut hypothesis.curve {
                        curve.low = curve.low.min((LEAK.0 * ohms / (LEAK.0 + ohms)).ln());
                    }
                    let mapped = causes
                        .into_iter()
                        .map(|cause| Cause { mapping: Mapping::Beside(ohms), ..cause });
                    hypothesis.causes.extend(mapped);
                }
                None => self.added(causes, LEAK),
            }
        }
    }

    /// Where several resistances lie between two nets, one that drifted low is told from a leak by
    /// nothing: the low side of each joins the leak, and its own line keeps the high side.
    fn split_parallel(&mut self) {
        let mut lines: BTreeMap<Place, Vec<(usize, PartId, f64)>> = BTreeMap::new();
        for (idx, hypothesis) in self.found.iter().enumerate() {
            if let Some(Curve { fault: Fault::Drifted(part, "value", _), .. }) = hypothesis.curve
                && self.circuit[part].is_two_pin()
                && let Some(ohms) = self.circuit[part].nominal("value")
            {
                lines.entry(self.place(part)).or_default().push((idx, part, ohms));
            }
        }
        for (place, lines) in lines.into_iter().filter(|(_, lines)| lines.len() > 1) {
            for (idx, _, ohms) in lines {
                let hypothesis = &mut self.found[idx];
                if let Some(curve) = &mut hypothesis.curve {
                    curve.low = ohms.ln();
                }
                let with = Mapping::With(ohms);
                for cause in std::mem::take(&mut hypothesis.causes) {
                    match cause.spread {
                        Spread::Range { low, high, except: Some((least, most)) } => {
                            let share = (high - most) / (high - most + least - low);
                            let weight = cause.weight;
                            let upper = Spread::Range { low: most, high, except: None };
                            let lower = Spread::Range { low, high: least, except: None };
                            let high_side =
                                Cause { weight: weight * share, spread: upper, ..cause };
                            let low_side = Cause {
                                weight: weight * (1.0 - share),
                                spread: lower,
                                mapping: with,
                                ..cause
                            };
                            self.found[idx].causes.push(high_side);
                            self.leaks.entry(place).or_default().push(low_side);
                        }
                        Spread::At(at) if at < ohms.ln() => {
                            let added = 1.0 / (1.0 / at.exp() - 1.0 / ohms);
                            let spread = Spread::At(added.ln());
                            let cause = Cause { spread, mapping: with, ..cause };
                            self.leaks.entry(place).or_default().push(cause);
                        }
                        _ => self.found[idx].causes.push(cause),
                    }
                }
            }
        }
    }

    fn added(&mut self, causes: Vec<Cause>, (low, high): (f64, f64)) {
        // The line runs along an added resistance, whatever drifted part may be behind it.
        let across = |cause: &&Cause| !matches!(cause.fault, Fault::Drifted(..));
        let likeliest = |a: &&Cause, b: &&Cause| a.weight.total_cmp(&b.weight);
        let Some(runs) = causes.iter().filter(across).max_by(likeliest) else { return };
        let curve = Curve { fault: runs.fault, low: low.ln(), high: high.ln() };
        self.found.push(Hypothesis { causes, curve: Some(curve), alike: Vec::new() });
    }

    /// The drift line and the ohms of the only resistance between two nets.
    fn lone_resistance(&self, (a, b, apart): Place) -> Option<(usize, f64)> {
        let mut there = self.found.iter().enumerate().filter_map(|(idx, hypothesis)| {
            let Some(Curve { fault: Fault::Drifted(part, "value", _), .. }) = hypothesis.curve
            else {
                return None;
            };
            let place = self.circuit[part].is_two_pin().then(|| self.place(part))?;
            (place == (a, b, apart)).then(|| Some((idx, self.circuit[part].nominal("value")?)))
        });
        let first = there.next()?;
        there.next().is_none().then_some(first)?
    }
}

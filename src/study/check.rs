//! What is worth a second look in a circuit: structure, odd values, ratings, assumptions.

use crate::circuit::{Circuit, NetId, Overlay, POWERED, Param, Part};
use crate::device::{Shape, of};
use crate::engine::{Assembly, Ending, Trouble, examine};
use crate::finding::{Code, Finding};
use crate::quantity::{Tolerance, Unit, print, print_short};

use super::odd_values::odd_values;
use super::operating::{Operating, PartState, Requirement, operating};

/// A default that applies because the file does not say otherwise.
#[derive(Debug, Clone, PartialEq)]
pub struct Assumption {
    /// The kind of part.
    pub kind: &'static str,
    /// The parameter.
    pub parameter: &'static str,
    /// The value with its tolerance, in words.
    pub value: String,
    /// The parts it applies to.
    pub parts: Vec<String>,
}

/// Everything worth a second look, errors first.
///
/// ```
/// use ohmhound::study::check;
/// use ohmhound::{circuit::*, engine::Assembly, file::read_circuit, finding::Source};
///
/// let text = "[parts]\nJ1 = { kind = \"supply\", volts = \"12 V\", nets = [\"IN\", \"GND\"] }\n\
///             R1 = { value = \"10k\", nets = [\"IN\", \"OUT\"] }\n\
///             R2 = { value = \"10k\", nets = [\"OUT\", \"GND\"] }";
/// let circuit = read_circuit(&Source::new("divider.toml", text), &mut |_| Err(String::new()));
/// let circuit = circuit.value.ok_or("the circuit is in order")?;
///
/// let text = text.replace("\"10k\", nets = [\"OUT\"", "\"10k\", nets = [\"OUT_\"");
/// let circuit = read_circuit(&Source::new("slip.toml", text), &mut |_| Err(String::new()));
/// let circuit = circuit.value.ok_or("nets are what parts name")?;
/// // OUT hangs on one part alone, and so does OUT_.
/// let found = check(&Assembly::new(&circuit));
/// assert!(found.iter().any(|finding| finding.message.contains("OUT")), "{found:?}");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn check(assembly: &Assembly<'_>) -> Vec<Finding> {
    let circuit = assembly.circuit();
    let mut found = structure(assembly);
    found.extend(floating_inputs(circuit));
    found.extend(odd_values(circuit));
    match operating(assembly, POWERED, &Overlay::none()) {
        Ok(point) => {
            found.extend(ratings(circuit, &point));
            found.extend(limits(circuit, &point));
            found.extend(maximums(circuit, &point));
            found.extend(blocked_currents(circuit, &point));
            found.extend(conditions(circuit, &point));
            found.extend(set_points(circuit, &point));
        }
        Err(Ending::Contradiction { .. }) => {}
        Err(ending) => {
            let mut message =
                format!("the board has no operating point: {}", ending_words(&ending));
            if let Ending::NotSettled { nets } = &ending {
                let names = nets.iter().filter_map(|net| circuit.nets.get(*net));
                let names: Vec<String> = names.map(|name| format!("`{name}`")).collect();
                if !names.is_empty() {
                    message = format!("{message} these nets: {}", names.join(", "));
                }
            }
            if let Ending::Cycling { .. } = &ending {
                let cycle = assembly.healthy(POWERED).cycle.clone();
                let parts = cycle.map(|cycle| cycle.parts).unwrap_or_default();
                let names: Vec<String> =
                    parts.iter().map(|part| format!("`{}`", circuit[*part].name)).collect();
                message = format!("{message}: {}", names.join(", "));
            }
            found.push(Finding::error(Code::NoOperatingPoint, message));
        }
    }
    found.sort_by_key(|finding| std::cmp::Reverse(finding.severity));
    found
}

/// How a run ended, in a few words.
pub(crate) fn ending_words(ending: &Ending) -> &'static str {
    match ending {
        Ending::Converged { .. } => "it settled",
        Ending::NotSettled { .. } => "nothing settles",
        Ending::Cycling { .. } => "parts keep switching each other on and off",
        Ending::Singular => "its equations have no single answer",
        Ending::Contradiction { .. } => "an ideal source is shorted or stands against another",
    }
}

fn structure(assembly: &Assembly<'_>) -> Vec<Finding> {
    let circuit = assembly.circuit();
    let network = assembly.network(POWERED, &Overlay::none());
    let mut found = Vec::new();
    for trouble in examine(&network) {
        match trouble {
            Trouble::SourceLoop { elements } => {
                let names: Vec<String> = elements
                    .iter()
                    .filter_map(|&idx| network.elements[idx].part())
                    .map(|part| format!("`{}`", circuit[part].name))
                    .collect();
                let message = format!("ideal sources form a loop: {}", names.join(", "));
                found.push(
                    Finding::error(Code::SourceLoop, message)
                        .help("give them a `resistance`: real sources and wires have one"),
                );
            }
            Trouble::Floating { nets } => {
                let names: Vec<String> = nets
                    .iter()
                    .filter(|net| **net < circuit.nets.len())
                    .map(|&net| format!("`{}`", circuit.nets[net]))
                    .collect();
                if names.is_empty() {
                    continue;
                }
                let (verb, noun) = if names.len() == 1 { ("has", "net") } else { ("have", "nets") };
                let message = format!("{noun} {} {verb} no DC path to ground", names.join(", "));
                found.push(Finding::warning(Code::Floating, message).help(
                    "a meter there shows what it makes of it; check the pins and the ground",
                ));
            }
        }
    }
    for (net, name) in circuit.nets_by_id() {
        let mut pins = circuit.parts.iter().flat_map(|part| {
            part.pins.iter().filter(|pin| pin.net == net).map(move |pin| (part, pin))
        });
        if let (Some((part, pin)), None) = (pins.next(), pins.next())
            && net != NetId::GROUND
        {
            let message =
                format!("net `{name}` has a single pin on it: `{}` of `{}`", pin.name, part.name);
            found.push(Finding::warning(Code::LonePin, message));
        }
    }
    found
}

/// Inputs of chips on nets that hold nothing but inputs.
fn floating_inputs(circuit: &Circuit) -> Vec<Finding> {
    let is_input = |part: &Part, pin: &str| {
        of(part).inputs().contains(&pin) && part.pull(&format!("{pin}_pull")).is_none()
    };
    let mut driven = vec![false; circuit.nets.len()];
    driven[NetId::GROUND.index()] = true;
    let fitted = || circuit.parts.iter().filter(|part| part.fitted);
    for part in fitted() {
        for pin in part.pins.iter().filter(|pin| !is_input(part, &pin.name)) {
            driven[pin.net.index()] = true;
        }
    }
    let floats = |part: &'_ Part| {
        let pins = part.pins.iter().filter(|pin| !driven[pin.net.index()]);
        pins.map(|pin| format!("input `{}` of {} `{}`", pin.name, part.kind, part.name))
            .collect::<Vec<_>>()
    };
    fitted()
        .flat_map(floats)
        .map(|input| {
            let message = format!("{input} floats: nothing drives it");
            Finding::warning(Code::InputFloats, message)
                .help("join it to what drives it, or tie it to a rail")
        })
        .collect()
}

/// Ratings exceeded on a healthy board.
fn ratings(circuit: &Circuit, point: &Operating) -> Vec<Finding> {
    let mut found = Vec::new();
    for state in &point.parts {
        let part = &circuit[state.part];
        let Some(rated) = part.nominal("rated") else { continue };
        let rows = of(part).parameters();
        let unit = rows.iter().find(|row| row.name == "rated").map_or(Unit::One, |row| row.unit);
        let (now, what) = match unit {
            Unit::Watt => (state.watts, "dissipates"),
            Unit::Amp => (state.amps.unwrap_or(0.0).abs(), "carries"),
            Unit::Volt => {
                let volts = |pin: usize| {
                    let net = part.pins[pin].net;
                    point.nets.iter().find(|state| state.net == net).map_or(0.0, |net| net.volts)
                };
                ((volts(0) - volts(1)).abs(), "sees")
            }
            _ => continue,
        };
        if now > rated {
            let message = format!(
                "`{}` {what} {} on a healthy board, more than its {}",
                part.name,
                print_short(now, unit),
                print_short(rated, unit)
            );
            found.push(Finding::warning(Code::RatingExceeded, message));
        }
    }
    found
}

/// Limits of nets that a healthy board does not keep.
fn limits(circuit: &Circuit, point: &Operating) -> Vec<Finding> {
    let mut found = Vec::new();
    for &(net, limit) in &circuit.limits {
        let Some(state) = point.nets.iter().find(|state| state.net == net) else { continue };
        let low = limit.min.filter(|least| state.volts < *least);
        let high = limit.max.filter(|most| state.volts > *most);
        if let Some(bound) = low.or(high) {
            let side = if low.is_some() { "under" } else { "over" };
            let message = format!(
                "net `{}` is at {} on a healthy board, {side} its limit of {}",
                circuit.net_name(net),
                print_short(state.volts, Unit::Volt),
                print_short(bound, Unit::Volt)
            );
            found.push(Finding::warning(Code::LimitBroken, message));
        }
    }
    found
}

/// Pins over their absolute maximum, counted from the part's ground pin where it has one.
fn maximums(circuit: &Circuit, point: &Operating) -> Vec<Finding> {
    let volts = |net: NetId| {
        point.nets.iter().find(|state| state.net == net).map_or(0.0, |state| state.volts)
    };
    let mut found = Vec::new();
    for part in circuit.parts.iter().filter(|part| part.fitted) {
        let ground = part.pin("ground").map_or(0.0, |pin| volts(part.pins[pin].net));
        for &(pin, most) in &part.maximum {
            let Some(pin) = part.pins.get(pin) else { continue };
            let now = volts(pin.net) - ground;
            if now > most {
                let message = format!(
                    "`{}.{}` is at {} on a healthy board, more than its {}",
                    part.name,
                    pin.name,
                    print_short(now, Unit::Volt),
                    print_short(most, Unit::Volt)
                );
                found.push(Finding::warning(Code::PinOverdriven, message));
            }
        }
    }
    found
}

/// Conditions of chips that a healthy board does not meet, or only just.
fn conditions(circuit: &Circuit, point: &Operating) -> Vec<Finding> {
    let told = |need: &Requirement| {
        let short = (print_short(need.found, Unit::Volt), print_short(need.needed, Unit::Volt));
        // A hair short of what is needed looks like enough in few digits.
        let (found, needed) = match short.0 == short.1 {
            true => (print(need.found, Unit::Volt, 6), print(need.needed, Unit::Volt, 6)),
            false => short,
        };
        let side = if need.margin < 0.0 { "needs" } else { "against" };
        format!("it finds {found} at `{}`, {side} {needed}", circuit.net_name(need.net))
    };
    let waiting =
        point.waiting.iter().filter(|need| matches!(need.condition, "enable" | "lockout")).map(
            |need| {
                let message = format!(
                    "`{}` does not start on a healthy board: `{}` is not met, {}",
                    circuit[need.part].name,
                    need.condition,
                    told(need)
                );
                Finding::warning(Code::NeverStarts, message)
                    .help("check the threshold, what feeds the pin, and the order of supplies")
            },
        );
    let marginal = point.power_up.iter().filter(|need| need.marginal && need.holds).map(|need| {
        let message = format!(
            "`{}` of `{}` is met by no more than tolerances on a healthy board: {}",
            need.condition,
            circuit[need.part].name,
            told(need)
        );
        Finding::warning(Code::Marginal, message)
    });
    waiting.chain(marginal).collect()
}

/// Regulators that cannot hold their set point on a healthy board.
fn set_points(circuit: &Circuit, point: &Operating) -> Vec<Finding> {
    let out =
        |state: &&PartState| matches!(state.state, Some("in dropout" | "at its current limit"));
    point
        .parts
        .iter()
        .filter(|state| matches!(circuit[state.part].kind, "ldo" | "buck" | "boost"))
        .filter(out)
        .map(|state| {
            let message = format!(
                "`{}` cannot hold its set point on a healthy board: it is {}",
                circuit[state.part].name,
                state.state.unwrap_or_default()
            );
            Finding::warning(Code::OutOfRegulation, message).help(
                "check the reference, the feedback divider, the input voltage and what hangs on \
                 the output",
            )
        })
        .collect()
}

/// Current sources that stand at their compliance on a healthy board: their current has no way, or
/// too hard a one.
fn blocked_currents(circuit: &Circuit, point: &Operating) -> Vec<Finding> {
    let blocked = |state: &&PartState| {
        circuit[state.part].kind == "current-source" && state.state == Some("at its compliance")
    };
    point
        .parts
        .iter()
        .filter(blocked)
        .map(|state| {
            let part = &circuit[state.part];
            let message = format!(
                "current source `{}` is at its compliance on a healthy board: it gives {} of {}",
                part.name,
                print_short(state.amps.unwrap_or(0.0), Unit::Amp),
                print_short(part.nominal("amps").unwrap_or(0.0), Unit::Amp)
            );
            Finding::warning(Code::NoWayForCurrent, message)
                .help("is the loop that it feeds closed, and its resistance as drawn?")
        })
        .collect()
}

/// Every default that applies, gathered by kind and parameter.
///
/// ```
/// use ohmhound::study::assumptions;
/// use ohmhound::{circuit::*, engine::Assembly, file::read_circuit, finding::Source};
///
/// let text = "[parts]\nJ1 = { kind = \"supply\", volts = \"12 V\", nets = [\"IN\", \"GND\"] }\n\
///             R1 = { value = \"10k\", nets = [\"IN\", \"OUT\"] }\n\
///             R2 = { value = \"10k\", nets = [\"OUT\", \"GND\"] }";
/// let circuit = read_circuit(&Source::new("divider.toml", text), &mut |_| Err(String::new()));
/// let circuit = circuit.value.ok_or("the circuit is in order")?;
///
/// let found = assumptions(&circuit);
/// let resistors = found.iter().find(|one| one.kind == "resistor").ok_or("a default")?;
/// assert_eq!((resistors.parameter, resistors.parts.len()), ("value", 2));
/// assert_eq!(resistors.value, "±5 %");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn assumptions(circuit: &Circuit) -> Vec<Assumption> {
    let mut found: Vec<Assumption> = Vec::new();
    for part in circuit.parts.iter().filter(|part| part.fitted) {
        for row in of(part).parameters() {
            let filled = part.defaulted.contains(&row.name);
            if !filled && !part.usual.contains(&row.name) {
                continue;
            }
            let number = match part.param(row.name) {
                Some(Param::Number(number)) => *number,
                Some(Param::Point(point)) => point.value,
                _ => continue,
            };
            // What was given but has a default tolerance shows the tolerance alone.
            let tolerance = row.tolerance.map(|tolerance| match tolerance {
                Tolerance::Fraction(fraction) => format!("±{} %", (1e4 * fraction).round() / 1e2),
                Tolerance::Absolute(value) => format!("±{}", print_short(value, row.unit)),
                Tolerance::Factor(factor) => format!("times or divided by {factor}"),
            });
            let mut words = Vec::new();
            if filled {
                words.push(print_short(number.nominal, row.unit));
                if let (Shape::Point(at_unit), Some(at)) =
                    (row.shape, part.point(row.name).and_then(|point| point.at))
                {
                    words.push(format!("at {}", print_short(at, at_unit)));
                }
            }
            words.extend(tolerance);
            let value = words.join(" ");
            if value.is_empty() {
                continue;
            }
            let same = |known: &&mut Assumption| {
                (known.kind, known.parameter, &known.value) == (part.kind, row.name, &value)
            };
            match found.iter_mut().find(same) {
                Some(known) => known.parts.push(part.name.clone()),
                None => found.push(Assumption {
                    kind: part.kind,
                    parameter: row.name,
                    value,
                    parts: vec![part.name.clone()],
                }),
            }
        }
    }
    found
}

//! What to do about what remains: where to put hands on the board, and in which order.

use super::effort::Effort;
use super::suspects::Suspect;
use crate::circuit::{Circuit, NetId, PartId};
use crate::device::of;
use crate::fault::Fault;
use crate::quantity::{Unit, print_short};

/// Effort of cleaning or looking over a place, in probes of a net. Common practice, no published
/// source.
const LOOK_OVER: f64 = 3.0;

/// One place to put hands on, with what it would mend.
#[derive(Debug, Clone, PartialEq)]
pub struct Repair {
    /// The part, if it is one.
    pub part: Option<PartId>,
    /// The faults that it would mend, likeliest first, without their values.
    pub faults: Vec<String>,
    /// Its share of all that is known, "something else" among it.
    pub probability: f64,
    /// What it costs, in probes of a net.
    pub effort: f64,
    /// What to do, to be sure before anything is replaced.
    pub action: String,
}

/// The repairs that are left, in the order in which trying one after the other costs least in the
/// mean: by ascending effort over probability (what a single fault among parts that are checked one
/// by one is best found by; see `plan::decide`). `share` is that of all suspects together.
///
/// ```
/// use ohmhound::plan::{repairs, suspects};
/// use ohmhound::{circuit::*, engine::Assembly, file::read_circuit, finding::Source};
/// use ohmhound::{diagnosis::diagnose, file::read_readings};
///
/// let text = "[parts]\nJ1 = { kind = \"supply\", volts = \"12 V\", nets = [\"IN\", \"GND\"] }\n\
///             R1 = { value = \"10k\", nets = [\"IN\", \"OUT\"] }\n\
///             R2 = { value = \"10k\", nets = [\"OUT\", \"GND\"] }";
/// let circuit = read_circuit(&Source::new("divider.toml", text), &mut |_| Err(String::new()));
/// let circuit = circuit.value.ok_or("the circuit is in order")?;
/// let text = "[powered.volts]\nIN = 12.02\nOUT = 0.000";
/// let readings = read_readings(&Source::new("r.toml", text), &circuit).value.ok_or("in order")?;
///
/// let diagnosis = diagnose(&Assembly::new(&circuit), &readings.readings, &[]);
/// let (suspects, share) = suspects(&circuit, &diagnosis);
/// let repairs = repairs(&circuit, &suspects, share);
/// assert!(repairs.iter().any(|one| one.part == circuit.part("R1")));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn repairs(circuit: &Circuit, suspects: &[Suspect], share: f64) -> Vec<Repair> {
    let mut found: Vec<(usize, Repair)> = Vec::new();
    for suspect in suspects {
        let Some(fault) = &suspect.fault else { continue };
        let own = suspect.weight * share;
        match found.iter_mut().find(|(site, _)| *site == suspect.site) {
            Some((_, repair)) => {
                repair.probability += own;
                if !repair.faults.contains(&suspect.phrase) {
                    repair.faults.push(suspect.phrase.clone());
                }
            }
            None => {
                let (action, effort) = action(circuit, fault);
                let faults = vec![suspect.phrase.clone()];
                let part = fault.part();
                let repair = Repair { part, faults, probability: own, effort, action };
                found.push((suspect.site, repair));
            }
        }
    }
    let mut found: Vec<Repair> = found.into_iter().map(|(_, repair)| repair).collect();
    let cost = |repair: &Repair| repair.effort / repair.probability.max(f64::MIN_POSITIVE);
    found.sort_by(|a, b| cost(a).total_cmp(&cost(b)));
    found
}

/// What confirms a fault, and what that costs.
pub(crate) fn action(circuit: &Circuit, fault: &Fault) -> (String, f64) {
    let name = |part: PartId| circuit[part].name.as_str();
    let net = |net: NetId| circuit.net_name(net);
    let effort = Effort::default();
    match *fault {
        Fault::JointOpen(part, pin) | Fault::JointResistive(part, pin, _) => {
            let pin = &circuit[part].pins[pin].name;
            (format!("resolder {}.{pin}, then measure again", name(part)), LOOK_OVER)
        }
        Fault::Leak(at, _) => (
            format!("clean and look over the board around {}, then measure again", net(at)),
            LOOK_OVER,
        ),
        Fault::Bridge(a, b, _) => (
            format!("look for a bridge between {} and {}, then measure again", net(a), net(b)),
            LOOK_OVER,
        ),
        Fault::Exchanged(a, b) => {
            (format!("read the markings of {} and {}", name(a), name(b)), effort.probe)
        }
        Fault::Reversed(part) => (format!("look which way round {} is", name(part)), effort.probe),
        Fault::Fitted(part) => {
            (format!("{} should not be fitted: take it out", name(part)), effort.lift)
        }
        Fault::Alike(part, _) => (
            format!("read the marking of {} and of its likes: one wrong reel", name(part)),
            effort.probe,
        ),
        Fault::Absent(part) | Fault::Low(part, ..) | Fault::Limited(part, _) => (
            format!("disconnect {} and measure it alone", name(part)),
            effort.lift_of(circuit, part).min(effort.break_path),
        ),
        _ => match fault.part() {
            Some(part) => on_part(circuit, part),
            None => ("measure again".to_owned(), effort.probe),
        },
    }
}

/// What confirms that a part itself has failed.
fn on_part(circuit: &Circuit, id: PartId) -> (String, f64) {
    let part = &circuit[id];
    let effort = Effort::default().lift_of(circuit, id);
    let name = &part.name;
    if of(part).is_source() {
        return (format!("disconnect {name} and measure it alone"), effort);
    }
    if !part.is_two_pin() {
        return (format!("replace {name}, after a look at its joints and its supply"), effort);
    }
    let ohms = |key: &str| {
        let ohms = part.nominal(key)?;
        Some(format!(": a good one reads {}", print_short(ohms, Unit::Ohm)))
    };
    let good = match part.kind {
        "capacitor" => Some(": a good one reads OL once it is charged".to_owned()),
        "diode" | "led" | "zener" => Some(", diode mode both ways".to_owned()),
        "resistor" | "thermistor" | "platinum-sensor" => ohms("value"),
        _ => ohms("resistance"),
    };
    let good = good.unwrap_or_default();
    (format!("lift one leg of {name} and measure it alone{good}"), effort)
}

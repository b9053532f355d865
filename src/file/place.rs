//! Where a reading was taken: a net, a part, a pin, or from one spot to another.

use super::lookup::unknown;
use super::pins::suggest_pin;
use super::written::Written;
use crate::circuit::{Circuit, Meter, NetId, Part, PartId, Place, Quantity, RedOn, Spot};
use crate::finding::{Code, Finding};

/// What stands between the red and the black lead of a place.
const TO: &str = " to ";

/// Reads a place and checks that the quantity can be read there.
pub(super) fn read(
    circuit: &Circuit,
    quantity: Quantity,
    meter: &Meter,
    text: &Written,
    found: &mut Vec<Finding>,
) -> Option<Place> {
    if quantity == Quantity::Seen {
        return seen(circuit, text, found);
    }
    let place = if text.text.contains(TO) {
        between(circuit, text, found)?
    } else {
        match thing(circuit, text, found)? {
            Thing::Spot(spot) => Place::At(spot),
            Thing::Part(part) if circuit[part].is_two_pin() => Place::Part(part),
            Thing::Part(part) => {
                found.push(many_pins(text, &circuit[part]));
                return None;
            }
        }
    };
    fit(circuit, quantity, meter, text, place, found)
}

/// What one end of a place names.
#[derive(Clone, Copy)]
enum Thing {
    Spot(Spot),
    Part(PartId),
}

/// A known whole name wins over splitting at a point.
fn thing(circuit: &Circuit, text: &Written, found: &mut Vec<Finding>) -> Option<Thing> {
    if let Some(net) = circuit.net(&text.text) {
        return Some(Thing::Spot(Spot::Net(net)));
    }
    if let Some(part) = circuit.part(&text.text) {
        return Some(Thing::Part(part));
    }
    let mut half = None;
    for (point, _) in text.text.match_indices('.') {
        let Some(part) = circuit.part(&text.text[..point]) else { continue };
        if let Some(pin) = circuit[part].pin(&text.text[point + 1..]) {
            return Some(Thing::Spot(Spot::Pin(part, pin)));
        }
        half = half.or(Some((part, point + 1)));
    }
    let finding = match half {
        Some((part, at)) => unknown_pin(&circuit[part], &text.slice(at..text.text.len()), found),
        None => {
            let nets = circuit.nets.iter().map(String::as_str);
            let names = nets.chain(circuit.parts.iter().map(|part| part.name.as_str()));
            unknown(text, Code::UnknownPlace, "net or part", names, found)
        }
    };
    found.push(finding);
    None
}

fn unknown_pin(part: &Part, pin: &Written, found: &[Finding]) -> Finding {
    let names = part.pins.iter().map(|pin| pin.name.as_str());
    let message = format!("{} `{}` has no pin `{}`", part.kind, part.name, pin.shown());
    pin.error(Code::UnknownPlace, message, "").help(suggest_pin(names, &pin.text, found))
}

fn many_pins(text: &Written, part: &Part) -> Finding {
    let pins: Vec<String> =
        part.pins.iter().map(|pin| format!("`{}.{}`", part.name, pin.name)).collect();
    let message =
        format!("`{}` has {} pins, so that no reading is across it", part.name, pins.len());
    text.error(Code::PlaceUnfit, message, "")
        .help(format!("name a pin ({}) or its net", pins.join(", ")))
}

fn between(circuit: &Circuit, text: &Written, found: &mut Vec<Finding>) -> Option<Place> {
    let mut cuts = text.text.match_indices(TO).map(|(at, _)| at);
    let cut = cuts.next()?;
    if cuts.next().is_some() {
        let message = format!("`{}` has more than two ends", text.shown());
        found.push(
            text.error(Code::UnknownPlace, message, "")
                .help("write `A to B`: the red lead on `A`, the black lead on `B`"),
        );
        return None;
    }
    let red_text = text.slice(0..cut);
    let black_text = text.slice(cut + TO.len()..text.text.len());
    let red = thing(circuit, &red_text, found);
    let black = thing(circuit, &black_text, found);
    let (red, black) = (red?, black?);
    let spots = [
        lead(circuit, &red_text, red, &black_text, black, found),
        lead(circuit, &black_text, black, &red_text, red, found),
    ];
    let [red, black] = [spots[0]?, spots[1]?];
    if red == black {
        let message = format!("both leads are on `{}`", red_text.shown());
        found.push(text.error(Code::PlaceUnfit, message, ""));
        return None;
    }
    Some(Place::Between(red, black))
}

/// One end of a place between two. A part beside a net that just one of its pins is on means that
/// pin: `R1 to EN` tests the joint between the two.
fn lead(
    circuit: &Circuit,
    text: &Written,
    thing: Thing,
    other_text: &Written,
    other: Thing,
    found: &mut Vec<Finding>,
) -> Option<Spot> {
    let id = match thing {
        Thing::Spot(spot) => return Some(spot),
        Thing::Part(part) => part,
    };
    let part = &circuit[id];
    if let Thing::Spot(Spot::Net(net)) = other {
        let mut on = part.pins.iter().enumerate().filter(|(_, pin)| pin.net == net);
        if let (Some((pin, _)), None) = (on.next(), on.next()) {
            return Some(Spot::Pin(id, pin));
        }
    }
    let pins: Vec<String> =
        part.pins.iter().map(|pin| format!("`{}.{}`", part.name, pin.name)).collect();
    let message = format!("`{}` does not say which pin the lead is on", part.name);
    found.push(
        text.error(Code::PlaceUnfit, message, "")
            .at(&other_text.source, other_text.range.clone(), "not on just one of its pins")
            .help(format!("name one of {}", pins.join(", "))),
    );
    None
}

/// What can be read where.
fn fit(
    circuit: &Circuit,
    quantity: Quantity,
    meter: &Meter,
    text: &Written,
    place: Place,
    found: &mut Vec<Finding>,
) -> Option<Place> {
    let shown = text.shown();
    match (quantity, place) {
        (Quantity::Amps, Place::Part(_)) => Some(place),
        (Quantity::Amps, _) => {
            let message = format!("amps are read through a part with two pins, found `{shown}`");
            found.push(
                text.error(Code::PlaceUnfit, message, "")
                    .help("name the part that the meter was put in series with"),
            );
            None
        }
        (_, Place::At(Spot::Net(NetId::GROUND))) => {
            let message = format!("both leads are on ground `{shown}`");
            found.push(
                text.error(Code::PlaceUnfit, message, "")
                    .help("a bare net is read against ground; name another net"),
            );
            None
        }
        (Quantity::Diode, Place::At(spot)) => match meter.diode.red_on {
            Some(RedOn::Net) => Some(place),
            Some(RedOn::Ground) => Some(Place::Between(Spot::Net(NetId::GROUND), spot)),
            None => {
                let ground = circuit.net_name(NetId::GROUND);
                let message = format!("the diode reading at `{shown}` does not say where red was");
                found.push(text.error(Code::DiodeLeads, message, "").help(format!(
                    "write `\"{ground} to {shown}\"` (red on ground) or `\"{shown} to {ground}\"`, \
                     or set `diode.red_on` to `\"ground\"` or `\"net\"` under `[meter]`"
                )));
                None
            }
        },
        _ => Some(place),
    }
}

/// What is seen is seen of a part, whatever its pins.
fn seen(circuit: &Circuit, text: &Written, found: &mut Vec<Finding>) -> Option<Place> {
    super::lookup::part(circuit, text, Code::UnknownPlace, found).map(Place::Part)
}

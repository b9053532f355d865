//! What has to hold of a picture, whatever the board.

use std::collections::BTreeMap;

use ohmhound::circuit::{Circuit, NetId};
use ohmhound::study::Operating;

use super::drawing::{Drawing, Panel, Part, Piece, Rect, net_at, netlist};

/// Every part once, every pin on its net, every net once in each panel that touches it.
pub fn holds_the_circuit(circuit: &Circuit, drawing: &Drawing) {
    let ground = circuit.net_name(NetId::GROUND);
    let found = netlist(drawing, ground);
    let mut wanted = BTreeMap::new();
    // A part that is fitted the wrong way round has its pins on each other's nets.
    let faults = drawing.words.rsplit_once(" Fault: ").map_or("", |(_, faults)| faults);
    let faults: Vec<&str> = faults.trim_end_matches('.').split("; ").collect();
    for part in &circuit.parts {
        let is_reversed = faults.contains(&format!("{} reversed", part.name).as_str());
        for (pin, own) in part.pins.iter().enumerate() {
            let net = circuit.net_name(own.net).to_owned();
            let at = if is_reversed { part.pins.len() - pin } else { pin + 1 };
            wanted.insert((part.name.clone(), at), net);
        }
    }
    assert_eq!(found, wanted, "the circuit is not what was drawn");
    let mut names: Vec<&str> = drawing
        .panels
        .iter()
        .flat_map(|panel| &panel.parts)
        .filter(|part| !part.is_path)
        .map(|part| part.name.as_str())
        .collect();
    names.sort_unstable();
    let mut wanted: Vec<&str> = circuit.parts.iter().map(|part| part.name.as_str()).collect();
    wanted.sort_unstable();
    assert_eq!(names, wanted, "parts");

    let of_panel =
        |panel: &Panel| -> Vec<String> { panel.nets.iter().map(|net| net.name.clone()).collect() };
    for (at, panel) in drawing.panels.iter().enumerate() {
        let mut own = of_panel(panel);
        own.sort();
        let count = own.len();
        own.dedup();
        assert_eq!(own.len(), count, "a net twice in panel {}", at + 1);
        for net in panel.nets.iter().filter(|net| net.name != ground) {
            let others: Vec<String> = (0..drawing.panels.len())
                .filter(|other| *other != at)
                .filter(|other| of_panel(&drawing.panels[*other]).contains(&net.name))
                .map(|other| (other + 1).to_string())
                .collect();
            let also = if others.is_empty() {
                String::new()
            } else {
                format!("also in {}", others.join(", "))
            };
            assert_eq!(net.also, also, "{}", net.name);
        }
    }
    for (_, name) in circuit.nets_by_id() {
        let touched = circuit.parts.iter().flat_map(|part| &part.pins);
        let is_touched = touched.into_iter().any(|pin| circuit.net_name(pin.net) == name);
        let is_drawn =
            drawing.panels.iter().any(|panel| of_panel(panel).iter().any(|own| own == name));
        assert!(is_drawn || !is_touched, "{name} is not drawn");
    }
}

/// Whether two places are one.
fn same(a: (f64, f64), b: (f64, f64)) -> bool {
    (a.0 - b.0).abs() < 0.05 && (a.1 - b.1).abs() < 0.05
}

/// Wires lead from the joint of a pin to that very lead of the symbol; a line that a wire crosses
/// without belonging to it is passed by an arc, and one that it ends on has a joint there.
pub fn joints_and_crossings(circuit: &Circuit, drawing: &Drawing) {
    for panel in &drawing.panels {
        for part in &panel.parts {
            leads(circuit, part);
            for wire in &part.wires {
                crossings(panel, part, wire);
            }
        }
        for net in panel.nets.iter().filter(|net| net.y.is_some()) {
            in_one_piece(panel, net);
        }
    }
}

/// The stretches of a line, those through boxes and those behind them make one line without a gap.
fn in_one_piece(panel: &Panel, net: &super::drawing::Net) {
    let y = net.y.expect("a line");
    let near = |own: f64| (own - y).abs() < 0.02;
    let more = panel.through.iter().chain(&panel.behind).filter(|(_, _, own)| near(*own));
    let mut all: Vec<(f64, f64)> = net.stretches.clone();
    all.extend(more.map(|(from, to, _)| (*from, *to)));
    all.sort_by(|a, b| a.0.total_cmp(&b.0));
    for pair in all.windows(2) {
        assert!((pair[0].1 - pair[1].0).abs() < 0.05, "{}: {all:?}", net.name);
    }
}

fn crossings(panel: &Panel, part: &Part, wire: &[Piece]) {
    for piece in wire.iter().filter(|piece| !piece.is_arc && piece.from.0 == piece.to.0) {
        let rect = piece.rect();
        for net in &panel.nets {
            let Some(y) = net.y else { continue };
            if y < rect.top - 0.05 || y > rect.bottom + 0.05 {
                continue;
            }
            let place = (piece.from.0, y);
            if net_at(panel, place).is_none() {
                continue;
            }
            let is_end = same(place, piece.from) || same(place, piece.to);
            let has_joint = part.joints.iter().any(|(_, joint)| same(*joint, place));
            assert!(is_end && has_joint, "{} crosses {} without an arc", part.name, net.name);
        }
    }
}

/// What the pins of a symbol are called, from its upper lead over its lower one to its side, as the
/// symbols of IEC 60617 have them (from memory).
fn ends(kind: &str) -> Option<[&'static str; 3]> {
    match kind {
        "npn" | "pnp" => Some(["collector", "emitter", "base"]),
        "nmos" | "pmos" => Some(["drain", "source", "gate"]),
        "potentiometer" => Some(["b", "a", "wiper"]),
        "shunt-reference" => Some(["cathode", "anode", "adjust"]),
        "relay" | "optocoupler" | "connector" => None,
        _ => Some(["1", "2", ""]),
    }
}

fn leads(circuit: &Circuit, part: &Part) {
    let [symbol] = &part.symbols[..] else {
        assert!(part.chip.is_some() || part.symbols.len() > 1, "{}", part.name);
        return;
    };
    let Some(own) = circuit.parts.iter().find(|own| own.name == part.name) else { return };
    let Some(ends) = ends(own.kind) else { return };
    for (name, lead) in ends.iter().zip([symbol.top, symbol.bottom, symbol.side]) {
        let Some(pin) = own.pin(name) else { continue };
        let is_pin = |(pins, _): &&(Vec<usize>, (f64, f64))| pins.contains(&(pin + 1));
        let start = part.joints.iter().find(is_pin).or(part.grounds.iter().find(is_pin));
        let (_, start) = start.unwrap_or_else(|| panic!("{}.{name} has no joint", part.name));
        assert!(reaches(part, *start, lead), "{}.{name} does not reach its symbol", part.name);
    }
}

/// Whether wires of a part lead from one place to another.
fn reaches(part: &Part, from: (f64, f64), to: (f64, f64)) -> bool {
    let mut met = vec![from];
    let mut at = 0;
    while let Some(&place) = met.get(at) {
        if same(place, to) {
            return true;
        }
        for wire in &part.wires {
            let ends = [wire[0].from, wire[wire.len() - 1].to];
            if ends.iter().any(|end| same(*end, place)) {
                for end in ends {
                    if !met.iter().any(|known| same(*known, end)) {
                        met.push(end);
                    }
                }
            }
        }
        at += 1;
    }
    false
}

/// The lines of a panel stand in the order of their volts; what a handheld meter cannot tell apart
/// may stand either way.
pub fn in_order(circuit: &Circuit, point: Option<&Operating>, drawing: &Drawing) {
    let Some(point) = point else { return };
    let volts = |name: &str| -> Option<f64> {
        let net = circuit.net(name)?;
        if net == NetId::GROUND {
            return Some(0.0);
        }
        point
            .nets
            .iter()
            .find(|own| own.net == net)
            .filter(|own| !own.floating)
            .map(|own| own.volts)
    };
    for panel in &drawing.panels {
        let mut lines: Vec<(f64, &str)> =
            panel.nets.iter().filter_map(|net| Some((net.y?, net.name.as_str()))).collect();
        lines.sort_by(|a, b| a.0.total_cmp(&b.0));
        let known: Vec<(f64, &str)> =
            lines.iter().filter_map(|(_, name)| Some((volts(name)?, *name))).collect();
        for pair in known.windows(2) {
            let ((above, one), (below, other)) = (pair[0], pair[1]);
            let level = 2e-4 + 2e-4 * above.abs().max(below.abs());
            assert!(above >= below - level, "{one} at {above} V above {other} at {below} V");
        }
        for pair in lines.windows(2) {
            assert!(pair[1].0 - pair[0].0 >= 20.0, "{pair:?}: no room for words");
        }
    }
}

/// Nothing lies on anything else, and everything within the picture.
pub fn nothing_overlaps(drawing: &Drawing) {
    let page = Rect { left: 0.0, top: 0.0, right: drawing.size.0, bottom: drawing.size.1 };
    let texts = &drawing.texts;
    for (at, text) in texts.iter().enumerate() {
        assert!(page.holds(&text.rect), "{:?} leaves the picture", text);
        for other in &texts[at + 1..] {
            assert!(!text.rect.meets(&other.rect), "{text:?}\n{other:?}");
        }
        for mark in &drawing.marks {
            assert!(!text.rect.meets(mark), "{text:?} on a mark {mark:?}");
        }
        for panel in &drawing.panels {
            for net in panel.nets.iter().filter(|net| net.y.is_some()) {
                let y = net.y.expect("a line");
                for (left, right) in &net.stretches {
                    let line = Rect { left: *left, right: *right, top: y - 1.3, bottom: y + 1.3 };
                    assert!(!text.rect.meets(&line), "{text:?} on the line of {}", net.name);
                }
            }
            for (left, right, y) in panel.through.iter().chain(&panel.behind) {
                let line = Rect { left: *left, right: *right, top: y - 1.3, bottom: y + 1.3 };
                assert!(!text.rect.meets(&line), "{text:?} on a line through a box");
            }
            for part in &panel.parts {
                for solid in solids(part) {
                    assert!(!text.rect.meets(&solid), "{text:?} on {} {solid:?}", part.name);
                }
                if let Some(chip) = part.chip {
                    let is_inside = chip.holds(&text.rect) && text.owner == part.name;
                    assert!(is_inside || !text.rect.meets(&chip), "{text:?} on box {}", part.name);
                }
            }
        }
    }
    for panel in &drawing.panels {
        for (at, one) in panel.parts.iter().enumerate() {
            for other in &panel.parts[at + 1..] {
                apart(one, other);
                apart(other, one);
            }
            for net in panel.nets.iter().filter(|net| net.y.is_some()) {
                let y = net.y.expect("a line");
                for (left, right) in &net.stretches {
                    let line = Rect { left: *left, right: *right, top: y - 1.3, bottom: y + 1.3 };
                    let bodies = one.symbols.iter().map(|symbol| symbol.rect);
                    for body in bodies.chain(one.ground_rects.iter().copied()) {
                        assert!(!body.meets(&line), "{} on the line of {}", one.name, net.name);
                    }
                    if let Some(chip) = one.chip {
                        let inside = chip.grown(-0.5);
                        assert!(!inside.meets(&line), "{} on the line of {}", one.name, net.name);
                    }
                }
            }
            for rect in solids(one).iter().chain(one.chip.iter()) {
                assert!(page.holds(rect), "{} leaves the picture", one.name);
            }
        }
    }
}

/// What of a part nothing may lie on: wires, symbols, symbols of ground, joints, marks.
fn solids(part: &Part) -> Vec<Rect> {
    let wires = part.wires.iter().flatten().map(|piece| piece.rect().grown(0.6));
    let joints = part.joints.iter().map(|(_, (x, y))| Rect::around(&[(*x, *y)]).grown(2.7));
    wires
        .chain(part.symbols.iter().map(|symbol| symbol.rect))
        .chain(part.ground_rects.iter().copied())
        .chain(joints)
        .chain(part.marks.iter().copied())
        .collect()
}

/// Bodies of one part are away from everything of another.
fn apart(one: &Part, other: &Part) {
    let bodies = one
        .symbols
        .iter()
        .map(|symbol| symbol.rect)
        .chain(one.chip)
        .chain(one.ground_rects.iter().copied())
        .chain(one.marks.iter().copied());
    for body in bodies {
        for solid in solids(other).iter().chain(other.chip.iter()) {
            assert!(!body.meets(solid), "{} {body:?} on {} {solid:?}", one.name, other.name);
        }
    }
    for piece in one.wires.iter().flatten() {
        for foreign in other.wires.iter().flatten() {
            let meets = piece.rect().grown(0.6).meets(&foreign.rect().grown(0.6));
            assert!(!meets, "a wire of {} on one of {}", one.name, other.name);
        }
    }
}

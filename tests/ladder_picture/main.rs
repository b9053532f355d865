//! The voltage ladder, read back from its SVG: it holds the circuit and nothing else, in the order of
//! its volts, and nothing lies on anything else.

// Which board failed is what a reader of the test's output wants to see.
#![allow(clippy::print_stdout)]

#[allow(dead_code)]
#[path = "../strategies/active.rs"]
mod active;
mod boards;
mod drawing;
mod geometry;

use ohmhound::circuit::{Circuit, NetId, Overlay, POWERED};
use ohmhound::device::two_pin;
use ohmhound::engine::Assembly;
use ohmhound::fault::parse;
use ohmhound::picture::{Ladder, OFF, PAPER};
use ohmhound::study::{Operating, operating};

use boards::{Board, demos, drawn, random};
use drawing::{Drawing, read};

fn healthy(circuit: &Circuit) -> Option<Operating> {
    operating(&Assembly::new(circuit), POWERED, &Overlay::none()).ok()
}

/// Every check that holds for any picture.
fn check(board: &Board, drawing: &Drawing) {
    geometry::holds_the_circuit(&board.circuit, drawing);
    geometry::joints_and_crossings(&board.circuit, drawing);
    geometry::in_order(&board.circuit, board.point.as_ref(), drawing);
    geometry::nothing_overlaps(drawing);
}

#[test]
fn demo_boards_in_every_mode() {
    for board in demos() {
        for (mode, svg) in drawn(&board) {
            println!("{} {mode}", board.name);
            check(&board, &read(&svg));
        }
    }
}

#[test]
fn random_boards_in_every_mode() {
    for number in 0..24 {
        let board = random(number);
        for (mode, svg) in drawn(&board) {
            println!("{} {mode}", board.name);
            check(&board, &read(&svg));
        }
    }
}

/// As many more as one has patience for.
#[test]
#[ignore = "minutes"]
fn many_random_boards() {
    for number in 24..1500 {
        let board = random(number);
        for (mode, svg) in drawn(&board) {
            println!("{} {mode}", board.name);
            check(&board, &read(&svg));
        }
    }
}

#[test]
fn the_same_board_gives_the_same_picture() {
    for number in [3, 8, 21] {
        let (one, other) = (random(number), random(number));
        assert_eq!(drawn(&one), drawn(&other));
    }
}

#[test]
fn a_board_without_an_operating_point_says_so() {
    let board = random(5);
    let svg = Ladder::new(&board.circuit, None).svg();
    let drawing = read(&svg);
    geometry::holds_the_circuit(&board.circuit, &drawing);
    geometry::nothing_overlaps(&drawing);
    assert!(svg.contains("no operating point"));
    for net in drawing.panels.iter().flat_map(|panel| &panel.nets) {
        if net.name != "GND" {
            assert!(net.texts.iter().any(|text| text == "no point"), "{net:?}");
        }
    }
}

#[test]
fn a_net_that_floats_is_told_as_floating() -> Result<(), String> {
    let mut circuit = Circuit::new("", "GND");
    two_pin(&mut circuit, "J1", "supply", ["IN", "GND"], &[("volts", 9.0)])?;
    two_pin(&mut circuit, "R1", "resistor", ["IN", "GND"], &[("value", 1e3)])?;
    two_pin(&mut circuit, "C1", "capacitor", ["IN", "LOOSE"], &[("value", 1e-9)])?;
    let point = healthy(&circuit);
    let drawing = read(&Ladder::new(&circuit, point.as_ref()).svg());
    let nets: Vec<_> = drawing.panels.iter().flat_map(|panel| &panel.nets).collect();
    let loose = nets.iter().find(|net| net.name == "LOOSE").expect("the net");
    assert!(loose.texts.iter().any(|text| text == "floats"), "{loose:?}");
    assert!(drawing.words.contains("LOOSE floats"), "{}", drawing.words);
    Ok(())
}

/// Names as people, and other programs, may write them.
#[test]
fn odd_names_are_written_out_and_break_nothing() -> Result<(), String> {
    let long = "SUPPLY_OF_THE_SECOND_FAN_BEHIND_THE_DOOR";
    let nets =
        ["<script>alert(1)</script>", "a&b]]>", long, "ПИТАНИЕ_ВЕНТИЛЯТОРА_ХОЛОДНОГО_СКЛАДА_ЯБЛОК"];
    let more = [
        "漢字の名前漢字の名前漢字の名前漢字の名前",
        "e\u{301}\u{302}\u{303}",
        "🍎🍏🍐",
        "\u{202e}RAIL",
    ];
    let mut circuit = Circuit::new("</style><script>", "GND");
    let all: Vec<&str> = nets.iter().chain(&more).copied().collect();
    two_pin(&mut circuit, "J1", "supply", [all[0], "GND"], &[("volts", 12.0)])?;
    for (at, pair) in all.windows(2).enumerate() {
        let name = format!("R{at}<&>");
        two_pin(&mut circuit, &name, "resistor", [pair[0], pair[1]], &[("value", 1e3)])?;
    }
    two_pin(&mut circuit, "R9", "resistor", [all[7], "GND"], &[("value", 1e3)])?;
    let point = healthy(&circuit);
    let svg = Ladder::new(&circuit, point.as_ref()).with_links().svg();
    assert!(!svg.contains("<script") && !svg.contains("\u{202e}"));
    let drawing = read(&svg);
    geometry::nothing_overlaps(&drawing);
    assert_eq!(drawing.title, "</style><script>");
    assert!(svg.contains("href=\"#net-%3Cscript%3Ealert%281%29%3C%2Fscript%3E\""));
    // A long name is broken, not cut.
    let words: String = drawing
        .texts
        .iter()
        .filter(|text| text.owner == long)
        .map(|text| text.words.as_str())
        .collect();
    assert!(words.contains(long), "{words}");
    Ok(())
}

#[test]
fn names_are_links_only_when_asked() {
    let board = random(2);
    let plain = Ladder::new(&board.circuit, board.point.as_ref()).svg();
    assert!(!plain.contains("<a ") && plain.contains("role=\"img\""));
    let linked = Ladder::new(&board.circuit, board.point.as_ref()).with_links().svg();
    for (_, name) in board.circuit.nets_by_id().skip(1) {
        assert!(linked.contains(&format!("<a href=\"#net-{name}\">")), "{name}");
    }
}

/// Several pictures in one page: nothing has an id that another could have, and no rule of a style
/// sheet reaches beyond its picture.
#[test]
fn a_picture_keeps_to_itself() {
    let board = random(4);
    let svg = Ladder::new(&board.circuit, board.point.as_ref()).svg();
    assert!(!svg.contains(" id=") && !svg.contains("url("));
    let drawing = read(&svg);
    for rule in drawing.style.split('}').filter(|rule| !rule.trim().is_empty()) {
        let selector = rule.rsplit_once('{').map_or(rule, |(selector, _)| selector);
        for one in selector.split(',').filter(|one| !one.starts_with("@media")) {
            assert!(one.contains("ladder-"), "{one}");
        }
    }
}

#[test]
fn light_and_dark_are_the_colours_of_the_palette() {
    let board = random(4);
    let svg = Ladder::new(&board.circuit, board.point.as_ref()).svg();
    let (light, dark) = svg.split_once("@media screen and (prefers-color-scheme:dark)").unwrap();
    assert!(light.contains(&format!("--paper:#{:06x}", PAPER.light)));
    assert!(dark.contains(&format!("--paper:#{:06x}", PAPER.dark)));
    assert!(light.contains(&format!("--off:#{:06x}", OFF.light)));
    // Every colour is a property of the sheet: a page that sets it changes the picture.
    assert!(!svg.split("</style>").nth(1).unwrap().contains("#1c2230"));
}

#[test]
fn faults_are_drawn_where_they_are() {
    let board = demos().into_iter().find(|board| board.name == "standby-supply").unwrap();
    let circuit = &board.circuit;
    let fault = |text: &str| parse(text, circuit).unwrap();
    let svg = |texts: &[&str]| {
        let faults: Vec<_> = texts.iter().map(|text| fault(text)).collect();
        Ladder::new(circuit, board.point.as_ref()).with_faults(&faults, None).svg()
    };
    let part = |svg: &str, name: &str| {
        let drawing = read(svg);
        let mut parts = drawing.panels.into_iter().flat_map(|panel| panel.parts);
        parts.find(|part| part.name == name).unwrap_or_else(|| panic!("{name}"))
    };
    // A break in the part, the joint of a pin, a path across.
    assert_eq!(part(&svg(&["R1 open"]), "R1").marks.len(), 1);
    assert_eq!(part(&svg(&["U1.enable open"]), "U1").marks.len(), 1);
    assert_eq!(part(&svg(&["R5 shorted"]), "R5").marks.len(), 1);
    assert!(part(&svg(&["R5 open"]), "R1").marks.is_empty());
    // A path between two nets ends on their two lines; one to ground on a symbol of ground.
    let drawing = read(&svg(&["EN to FB bridge 0.1"]));
    let panel =
        drawing.panels.iter().find(|one| one.parts.iter().any(|part| part.is_path)).unwrap();
    let path = panel.parts.iter().find(|part| part.is_path).unwrap();
    let mut ends: Vec<_> =
        path.joints.iter().map(|(_, place)| drawing::net_at(panel, *place).unwrap()).collect();
    ends.sort();
    assert_eq!(ends, ["EN", "FB"]);
    let leak = part(&svg(&["5V_SB leak 12"]), "5V_SB leak 12\u{a0}Ω");
    assert_eq!((leak.joints.len(), leak.grounds.len()), (1, 1));
    // A value that no longer holds is struck through, with the new one beside it.
    let drifted = svg(&["R3 drifted 68k"]);
    assert!(drifted.contains("ladder-struck") && drifted.contains("R3 drifted 68\u{a0}kΩ"));
    assert!(svg(&["U1 dead"]).contains("U1 dead"));
    assert!(svg(&["U1 dead"]).contains("no operating point"));
}

#[test]
fn what_a_net_reads_with_the_fault_stands_at_its_line() {
    let board = demos().into_iter().find(|board| board.name == "standby-supply").unwrap();
    let fault = parse("R1 open", &board.circuit).unwrap();
    let overlay = fault.overlay(&board.circuit).unwrap();
    let faulted = operating(&Assembly::new(&board.circuit), POWERED, &overlay).ok();
    let svg = Ladder::new(&board.circuit, board.point.as_ref())
        .with_faults(&[fault], faulted.as_ref())
        .svg();
    let drawing = read(&svg);
    let nets: Vec<_> = drawing.panels.iter().flat_map(|panel| &panel.nets).collect();
    let texts = |name: &str| nets.iter().find(|net| net.name == name).unwrap().texts.join(" ");
    assert!(texts("EN").contains("0 V low"), "{}", texts("EN"));
    assert!(!texts("VIN").contains("low") && !texts("VIN").contains("high"));
    assert!(drawing.words.contains("Fault: R1 open"));
    assert!(drawing.words.contains("R1, resistor 47 kΩ, VIN_F to EN"), "{}", drawing.words);
}

#[test]
fn wide_boards_wrap_and_narrow_pages_wrap_sooner() {
    let board = demos().into_iter().find(|board| board.name == "packing-shed").unwrap();
    let count = |width: f64| {
        let svg = Ladder::new(&board.circuit, board.point.as_ref()).wide(width).svg();
        let drawing = read(&svg);
        geometry::holds_the_circuit(&board.circuit, &drawing);
        assert!(drawing.size.0 <= 1.13 * width, "{} over {width}", drawing.size.0);
        drawing.panels.len()
    };
    assert!(count(2600.0) == 1 && count(1000.0) > 1 && count(600.0) > count(1000.0));
}

/// For pages that are printed: every panel is a picture of its own, and together they are the whole.
#[test]
fn panels_come_as_pictures_of_their_own_too() {
    let board = demos().into_iter().find(|board| board.name == "cold-store").unwrap();
    let ladder = Ladder::new(&board.circuit, board.point.as_ref());
    let whole = read(&ladder.svg());
    let pieces: Vec<Drawing> = ladder.svgs().iter().map(|svg| read(svg)).collect();
    assert_eq!(pieces.len(), whole.panels.len());
    let mut together = Drawing::default();
    for (at, piece) in pieces.into_iter().enumerate() {
        geometry::nothing_overlaps(&piece);
        // A page of A4 is 1.41 times as high as it is wide, margins left out.
        assert!(piece.size.1 < 1.4 * piece.size.0, "piece {at} does not fit on a page");
        assert!(piece.title.ends_with(&format!("{} of {}", at + 1, whole.panels.len())));
        together.panels.extend(piece.panels);
    }
    geometry::holds_the_circuit(&board.circuit, &together);
}

#[test]
fn both_pins_on_one_net_are_drawn_as_a_loop() -> Result<(), String> {
    let mut circuit = Circuit::new("", "GND");
    two_pin(&mut circuit, "J1", "supply", ["IN", "GND"], &[("volts", 9.0)])?;
    two_pin(&mut circuit, "R1", "resistor", ["IN", "IN"], &[("value", 1e3)])?;
    two_pin(&mut circuit, "R2", "resistor", ["GND", "GND"], &[("value", 1e3)])?;
    let point = healthy(&circuit);
    let drawing = read(&Ladder::new(&circuit, point.as_ref()).svg());
    geometry::holds_the_circuit(&circuit, &drawing);
    geometry::joints_and_crossings(&circuit, &drawing);
    geometry::nothing_overlaps(&drawing);
    assert_eq!(circuit.net_name(NetId::GROUND), "GND");
    Ok(())
}

/// Writes pictures of one board into a folder, to be looked at.
#[test]
#[ignore = "for the eye"]
fn show() {
    let number = std::env::var("BOARD").map_or(16, |text| text.parse().unwrap());
    for (at, (mode, svg)) in drawn(&random(number)).into_iter().enumerate() {
        let name = format!("board-{number}-{at}-{}.svg", mode.replace(' ', "-"));
        std::fs::write(std::path::Path::new(env!("CARGO_TARGET_TMPDIR")).join(name), svg).unwrap();
    }
}

/// One small picture whole, so that a change of the drawing is seen in a diff.
#[test]
fn a_divider_as_it_is_written() -> Result<(), String> {
    let mut circuit = Circuit::new("A divider", "GND");
    two_pin(&mut circuit, "J1", "supply", ["IN", "GND"], &[("volts", 9.0)])?;
    two_pin(&mut circuit, "R1", "resistor", ["IN", "OUT"], &[("value", 2e3)])?;
    two_pin(&mut circuit, "R2", "resistor", ["OUT", "GND"], &[("value", 1e3)])?;
    let point = healthy(&circuit);
    let svg = Ladder::new(&circuit, point.as_ref()).svg();
    let body = svg.split("</style>").nth(1).ok_or("a body")?;
    insta::assert_snapshot!("divider", body.replace("><", ">\n<"));
    Ok(())
}

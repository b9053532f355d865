//! `--picture`: what is written where, what is told, and what is refused.

use crate::program;
use crate::program::{Run, folder};

fn run(args: &[&str]) -> Run {
    program::run_in(&program::circuits(), args, "")
}

fn title(svg: &str) -> &str {
    svg.split("<title>").nth(1).and_then(|rest| rest.split('<').next()).unwrap_or("")
}

#[test]
fn solve_writes_the_picture_beside_its_result() {
    let folder = folder("picture-solve");
    let file = folder.join("gate.svg");
    let name = file.to_str().unwrap();
    let plain = run(&["solve", "gate-supply.toml"]);
    let drawn = run(&["solve", "gate-supply.toml", "--picture", name]);
    assert_eq!((drawn.status, &drawn.out), (0, &plain.out));
    assert_eq!(drawn.err, format!("wrote the picture `{name}`\n"));
    let svg = std::fs::read_to_string(&file).unwrap();
    assert_eq!(title(&svg), "Orchard gate opener, input chain, powered");
    // A picture that is there is replaced, and nothing else is left in the folder.
    let again = run(&["solve", "gate-supply.toml", "--fault", "R1 open", "--picture", name]);
    assert_eq!(again.status, 0);
    let svg = std::fs::read_to_string(&file).unwrap();
    assert!(svg.contains("R1 open"));
    assert_eq!(std::fs::read_dir(&folder).unwrap().count(), 1);
}

#[test]
fn diagnose_marks_the_likeliest_fault_that_reproduces_the_readings() {
    let file = folder("picture-diagnose").join("standby.svg");
    let name = file.to_str().unwrap();
    let drawn = run(&[
        "diagnose",
        "standby-supply.toml",
        "standby-supply.readings.toml",
        "--picture",
        name,
    ]);
    assert_eq!(drawn.status, 0);
    let svg = std::fs::read_to_string(&file).unwrap();
    assert!(svg.contains("Fault laid over: R1 open") && svg.contains("0 mV low"), "{svg}");
    // Where a healthy board reads like this nothing is marked.
    let healthy = run(&["diagnose", "gate-supply.toml", "--volts", "VIN=24.0", "--picture", name]);
    assert_eq!(healthy.status, 0);
    let svg = std::fs::read_to_string(&file).unwrap();
    assert!(svg.contains("agrees") && !svg.contains("laid over"));
}

#[test]
fn a_picture_that_cannot_be_written_is_said_before_anything_else() {
    let folder = folder("picture-refused");
    let text = folder.join("notes.txt");
    std::fs::write(&text, "somebody's work").unwrap();
    let refused = run(&["solve", "gate-supply.toml", "--picture", text.to_str().unwrap()]);
    assert_eq!((refused.status, refused.out.as_str()), (2, ""));
    assert!(refused.err.contains("ends in `.svg`"), "{}", refused.err);
    assert_eq!(std::fs::read_to_string(&text).unwrap(), "somebody's work");

    let nowhere = folder.join("missing").join("a.svg");
    let refused = run(&["solve", "gate-supply.toml", "--picture", nowhere.to_str().unwrap()]);
    assert_eq!(refused.status, 2);
    assert!(refused.err.contains("cannot write the picture"), "{}", refused.err);
    let words: Vec<&str> = refused.err.split_whitespace().collect();
    assert!(words.join(" ").contains("no such file or directory"), "{}", refused.err);

    let a_folder = folder.join("folder.svg");
    std::fs::create_dir(&a_folder).unwrap();
    let refused = run(&["solve", "gate-supply.toml", "--picture", a_folder.to_str().unwrap()]);
    assert_eq!(refused.status, 2);
    assert!(refused.err.contains("it is a folder"), "{}", refused.err);
}

#[test]
fn a_board_without_an_operating_point_is_drawn_all_the_same() {
    let folder = folder("picture-no-point");
    let circuit = folder.join("short.toml");
    let text = "[parts]\nJ1 = { kind = \"supply\", volts = 5, resistance = 0, nets = [\"A\", \"GND\"] }\n\
                J2 = { kind = \"supply\", volts = 6, resistance = 0, nets = [\"A\", \"GND\"] }\n";
    std::fs::write(&circuit, text).unwrap();
    let file = folder.join("short.svg");
    let drawn = run(&["solve", circuit.to_str().unwrap(), "--picture", file.to_str().unwrap()]);
    assert_eq!(drawn.status, 3, "{}", drawn.err);
    let svg = std::fs::read_to_string(&file).unwrap();
    assert!(svg.contains("has no operating point"));
}

/// The picture of a lesson shows the volts; where they are asked for, it leaves them out.
#[test]
fn a_lesson_is_drawn_with_its_volts_or_with_blanks() {
    let file = folder("picture-lesson").join("divider.svg");
    let name = file.to_str().unwrap();
    let lesson = ["lesson", "lessons/meter-divider.toml", "--picture", name];
    let plain = run(&lesson);
    assert_eq!(plain.status, 0, "{}", plain.err);
    let shown = std::fs::read_to_string(&file).unwrap();
    assert!(!shown.contains("____") && shown.contains("4.00 V"), "{shown}");
    let asked = run(&[&lesson[..], &["--ask"]].concat());
    assert_eq!(asked.status, 0, "{}", asked.err);
    let blank = std::fs::read_to_string(&file).unwrap();
    assert!(blank.contains("____"), "{blank}");
    // Of the volts at the lines only ground's are left; those of the sources stand beside them.
    let volts = |svg: &str| svg.matches("class=\"ladder-value").count();
    assert_eq!(volts(&blank), volts(&shown));
    assert!(!blank.contains("4.00 V"), "{blank}");
}

/// A reading that was written ten times too small is no fault of the board, and nothing else fits.
#[test]
fn a_slip_is_drawn_as_no_fault() {
    let file = folder("picture-slip").join("gate.svg");
    let name = file.to_str().unwrap();
    let readings = ["VIN=24.0", "VIN_C=24.0", "RAIL=24.0", "RAIL_Q=2.40", "EN=4.21"];
    let mut args = vec!["diagnose", "gate-supply.toml", "--picture", name];
    args.extend(readings.iter().flat_map(|one| ["--volts", one]));
    assert_eq!(run(&args).status, 0);
    let svg = std::fs::read_to_string(&file).unwrap();
    assert_eq!(
        title(&svg),
        "Orchard gate opener, input chain, readings, a reading gone wrong, &gt; 99 %"
    );
    assert!(svg.contains("Nothing on the board"));
}

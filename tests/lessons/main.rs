//! Lessons: the equations that they print are complete and right, and their examples are those of
//! the books.

#[allow(dead_code)]
#[path = "../strategies/active.rs"]
mod active;
#[path = "../strategies/mod.rs"]
mod strategies;

mod boards;
mod books;
mod pages;
mod printed;
mod random;

use ohmhound::circuit::{Circuit, Overlay, POWERED};
use ohmhound::engine::Assembly;
use ohmhound::report::{Lecture, Style, lesson_markdown, lesson_text};
use ohmhound::study::lesson::{Laid, Lesson, lesson};

/// A circuit of the demo lessons, or another one of the folder of circuits.
pub fn load(name: &str) -> Circuit {
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("circuits").join(name);
    let parsed = ohmhound::file::load_circuit(&path);
    parsed.value.unwrap_or_else(|| panic!("{name}: {:?}", parsed.findings))
}

/// A circuit worked through.
#[track_caller]
pub fn worked(circuit: &Circuit, overlay: &Overlay, meters: &[Laid]) -> Lesson {
    let assembly = Assembly::new(circuit);
    lesson(&assembly, POWERED, overlay, meters).unwrap_or_else(|why| panic!("{why:?}"))
}

/// Holds what a lesson prints against itself, against the engine, and against another library.
#[track_caller]
pub fn check(circuit: &Circuit, lesson: &Lesson) {
    let lecture = Lecture { circuit, lesson, title: "a lesson", asks: false, ladder: None };
    let text = lesson_text(&lecture, Style::Plain, 80);
    assert!(lesson.agrees, "off by {}\n{text}", lesson.departure);
    let equations = printed::equations_of_text(&text);
    assert_eq!(equations, printed::equations_of_markdown(&lesson_markdown(&lecture)), "{text}");
    let solved = printed::solved(&equations);
    let solution = printed::solution_of_text(&text);
    assert_eq!(
        solved.len() - solved.keys().filter(|name| name.starts_with('#')).count(),
        solution.len(),
        "{text}"
    );
    let largest = lesson.engine_volts.iter().fold(0.0_f64, |most, volts| most.max(volts.abs()));
    let most_amps = lesson.solution.amps.iter().fold(0.0_f64, |most, amps| most.max(amps.abs()));
    for (name, value, count) in solution {
        let found = *solved.get(&name).unwrap_or_else(|| panic!("{name} in no equation\n{text}"));
        let is_volts = name.starts_with('V');
        // What is printed as nothing is below every printed digit.
        let count = match (value == 0.0 && count >= 1.0, is_volts) {
            (true, true) => (1e-5 * largest).max(1e-9),
            // Blocked parts let 0.1 pA a volt through.
            (true, false) => (1e-9 * most_amps).max(2e-12),
            (false, _) => count,
        };
        assert!((found - value).abs() <= 0.6 * count, "{name}: {found}, printed {value}\n{text}");
        if let Some(net) = lesson.nets.iter().position(|net| format!("V({net})") == name) {
            let engine = lesson.engine_volts[net];
            assert!((found - engine).abs() <= 0.6 * count, "{name}: {found}, {engine}\n{text}");
        }
    }
    for balance in &lesson.balances {
        let size = balance.terms.iter().fold(0.0_f64, |most, (_, amps)| most.max(amps.abs()));
        assert!(balance.sum.abs() <= 1e-6 * size + 1e-12, "{balance:?}\n{text}");
    }
    for one in &lesson.loops {
        let size = one.terms.iter().fold(0.0_f64, |most, (.., volts)| most.max(volts.abs()));
        assert!(one.sum.abs() <= 1e-6 * size + 1e-9, "{one:?}\n{text}");
    }
    let power = &lesson.power;
    assert!((power.given - power.taken).abs() <= 1e-6 * power.taken + 1e-12, "{power:?}");
    let last = lesson.rounds.last().expect("a last round");
    for one in &last.assumed {
        assert!(one.holds(), "{one:?}\n{text}");
    }
    assert!(!text.contains("NaN") && !text.contains("inf"), "{text}");
    // What begins like a known word is not cut: the page is 80 columns wide.
    for line in text.lines() {
        assert!(line.chars().count() <= 80, "{line}");
    }
}

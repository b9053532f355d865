//! Random circuits: what is printed has the printed answer.

// The counts are what a reader of the test's output wants to see.
#![allow(clippy::print_stdout)]

use ohmhound::circuit::{Overlay, POWERED};
use ohmhound::engine::Assembly;
use ohmhound::report::{Lecture, Style, lesson_text};
use ohmhound::study::lesson::{NoLesson, lesson};
use proptest::prelude::*;

use crate::active;
use crate::strategies::{self, circuit, config};
use crate::{check, worked};

proptest! {
    #![proptest_config(config(150, 71))]

    #[test]
    fn linear(specs in strategies::linear()) {
        let circuit = circuit(&specs);
        check(&circuit, &worked(&circuit, &Overlay::none(), &[]));
    }
}

proptest! {
    #![proptest_config(config(60, 72))]

    #[test]
    fn approximations_of_the_classroom(specs in strategies::straight_lines()) {
        let circuit = circuit(&specs);
        check(&circuit, &worked(&circuit, &Overlay::none(), &[]));
    }
}

proptest! {
    #![proptest_config(config(60, 73))]

    #[test]
    fn exponential_junctions(specs in strategies::passive()) {
        let circuit = circuit(&specs);
        check(&circuit, &worked(&circuit, &Overlay::none(), &[]));
    }
}

/// Random boards with regulators, transistors, amplifiers and logic: a lesson writes nearly every one
/// so that its printed equations have the engine's answer, and says so where it cannot.
#[test]
fn active_boards() {
    let (mut right, mut told, mut refused) = (0, 0, 0);
    for number in 0..120 {
        let circuit = active::built(&active::active(number, 8));
        let assembly = Assembly::new(&circuit);
        match lesson(&assembly, POWERED, &Overlay::none(), &[]) {
            Ok(lesson) if lesson.agrees => {
                check(&circuit, &lesson);
                right += 1;
            }
            Ok(lesson) => {
                let lecture = Lecture {
                    circuit: &circuit,
                    lesson: &lesson,
                    title: "a board",
                    asks: false,
                    ladder: None,
                };
                let text = lesson_text(&lecture, Style::Plain, 80);
                assert!(text.contains("has a part whose law these equations do not hold exactly"));
                told += 1;
            }
            Err(NoLesson::NotWritten) => refused += 1,
            // Such boards may keep switching.
            Err(NoLesson::NoPoint(_)) => {}
        }
    }
    println!("{right} right, {told} told, {refused} refused");
    assert!(right >= 90 && told + refused <= right / 20, "{right} {told} {refused}");
}

//! Exercise sheets: their readings settle what the key says, and nothing of the key is on them.

use crate::bench;
use ohmhound::circuit::Quantity;
use ohmhound::diagnosis::{Job, Pairs, diagnose_job};
use ohmhound::engine::Assembly;
use ohmhound::fault::Fault;
use ohmhound::plan::{Advice, Planner, standing_in};
use ohmhound::report::{SheetsView, Style, sheets_html, sheets_markdown, sheets_text};
use ohmhound::study::{Quiz, quiz_meter, sheets};

/// A diagnosis of what a sheet gives settles the group that the key names.
#[test]
fn the_readings_of_a_sheet_settle_what_the_key_says() {
    for (name, level) in [("soil-probe", 2), ("gate-supply", 1), ("pump-lamp", 3)] {
        let circuit = bench::demo(name);
        let assembly = Assembly::new(&circuit);
        let class = sheets(&assembly, 5, 6, level).unwrap();
        assert_eq!(
            class,
            sheets(&assembly, 5, 6, level).unwrap(),
            "the same seed, the same sheets"
        );
        let seeds: std::collections::BTreeSet<u64> = class.iter().map(|sheet| sheet.seed).collect();
        let faults: std::collections::BTreeSet<String> =
            class.iter().map(|sheet| sheet.fault.phrase(&circuit)).collect();
        assert_eq!((seeds.len(), faults.len()), (6, 6), "each student has a fault of their own");
        for sheet in &class {
            let readings = sheet.readings();
            let job = Job { readings: &readings, pairs: Pairs::Never, ..Job::default() };
            let diagnosis = diagnose_job(&assembly, &job);
            let planner = Planner::new(&assembly, &readings, &diagnosis, &quiz_meter());
            let advice = planner.advise(&circuit, &diagnosis, standing_in(&readings), &|_| false);
            assert!(!matches!(advice, Advice::Measure(_)), "{name} sheet {}", sheet.number);
            // The likeliest that a diagnosis names is right by the key, or in the part that it names.
            let likeliest = diagnosis.candidates[0].fault;
            let accepted = sheet.accepted.iter().any(|fault| {
                *fault == likeliest.with_value(None)
                    || fault.part().is_some() && fault.part() == likeliest.part()
            });
            let told = likeliest.full_phrase(&circuit);
            assert!(accepted, "{name} sheet {}: {told}, {:?}", sheet.number, sheet.accepted);
            // Faults left never rise, and end at those that are right.
            assert!(sheet.remaining.windows(2).all(|pair| pair[1] <= pair[0]), "{told}");
            assert!(sheet.remaining.last().is_none_or(|left| *left == sheet.accepted.len()));
            // The chain and the next step are those of what is hidden.
            assert_eq!(sheet.chain[0], sheet.fault.rounded().full_phrase(&circuit));
            if let Some(part) = sheet.fault.part() {
                assert!(sheet.next.contains(&circuit[part].name), "{}", sheet.next);
            }
            // Nobody can work out what a diode reading of a healthy board is.
            for (step, healthy) in sheet.given.iter().zip(&sheet.healthy) {
                assert!(step.reading.quantity != Quantity::Diode || healthy.is_none());
            }
            // The seed alone hides the same.
            let quiz = Quiz::new(&assembly, sheet.seed, level).unwrap();
            assert_eq!(quiz.hidden().fault, sheet.fault);
            assert_eq!(quiz.way().steps, sheet.given);
            assert!(sheet.accepted.contains(&sheet.fault.with_value(None)));
        }
    }
}

/// A sheet is written from what a student may know: with every answer changed it is the same, byte for
/// byte. The key is not.
#[test]
fn nothing_of_the_key_is_on_a_sheet() {
    let circuit = bench::demo("gate-supply");
    let assembly = Assembly::new(&circuit);
    let class = sheets(&assembly, 9, 3, 2).unwrap();
    let mut other = class.clone();
    for sheet in &mut other {
        sheet.seed ^= 0xffff;
        sheet.fault = Fault::Reversed(circuit.part("D1").unwrap());
        sheet.accepted = vec![sheet.fault];
        sheet.chain = vec!["another".to_owned(), "chain".to_owned()];
        sheet.first_dead = None;
        sheet.next.clear();
        sheet.is_short = !sheet.is_short;
        sheet.without_meter.fill(Some(1.25));
        sheet.remaining.iter_mut().for_each(|left| *left += 7);
        let questions = sheet.healthy.iter_mut().flatten().chain(&mut sheet.questions);
        questions.for_each(|question| (question.healthy, question.u) = (1.2345, 0.5));
    }
    let view = |sheets| SheetsView { circuit: &circuit, sheets, seed: 9, level: 2 };
    type Form = fn(&SheetsView<'_>, bool) -> String;
    let forms: [Form; 3] =
        [|view, key| sheets_text(view, key, Style::Plain, 80), sheets_markdown, sheets_html];
    for form in forms {
        let sheet = form(&view(&class), false);
        assert_eq!(sheet, form(&view(&other), false));
        let key = form(&view(&class), true);
        assert_ne!(key, form(&view(&other), true));
        for own in &class {
            let fault = own.fault.with_value(None).phrase(&circuit);
            assert!(key.contains(&fault), "{fault}: {key}");
            assert!(key.contains(&own.seed.to_string()) && !sheet.contains(&own.seed.to_string()));
        }
    }
    let html = sheets_html(&view(&class), false);
    assert_eq!(html.matches("class=\"sheet\"").count(), 3);
    assert!(html.contains(".sheet+.sheet{break-before:page"));
}

//! The forms of a lesson: work along, pages, Markdown, JSON.

use ohmhound::circuit::Overlay;
use ohmhound::report::{Lecture, Style, lesson_html, lesson_json, lesson_markdown, lesson_text};

use crate::{load, printed, worked};

const LESSONS: [&str; 4] = ["diode-models", "leaf-bridge", "low-battery", "valve-switch"];

/// Every element in its order, closed as it was opened; the texts between them.
fn elements(page: &str) -> (Vec<String>, String) {
    // Elements of HTML that have no end.
    const VOID: [&str; 2] = ["meta", "br"];
    let (mut open, mut found, mut text): (Vec<String>, Vec<String>, String) = Default::default();
    let mut rest = page;
    while let Some(at) = rest.find('<') {
        text.push_str(&rest[..at]);
        let end = at + rest[at..].find('>').expect("an end of the tag");
        let tag = &rest[at + 1..end];
        rest = &rest[end + 1..];
        let name: String =
            tag.trim_start_matches('/').chars().take_while(|one| one.is_alphanumeric()).collect();
        if tag.starts_with('!') || tag.starts_with('?') {
            continue;
        }
        if tag.starts_with('/') {
            assert_eq!(open.pop().as_deref(), Some(name.as_str()), "{tag}");
            continue;
        }
        found.push(name.clone());
        if name == "style" {
            let end = rest.find("</style>").expect("the end of the sheet");
            rest = &rest[end..];
        }
        // What stands alone: void elements, and those of MathML and SVG that close themselves.
        if !tag.ends_with('/') && !VOID.contains(&name.as_str()) {
            open.push(name);
        }
    }
    assert!(open.is_empty(), "{open:?}");
    (found, text)
}

/// MathML Core (W3C), section 3: a fraction and an index have two children, a row of a table has
/// cells alone.
fn check_maths(page: &str) {
    const KNOWN: [&str; 13] = [
        "math", "mrow", "mi", "mn", "mo", "mtext", "mspace", "mfrac", "msub", "msup", "mtable",
        "mtr", "mtd",
    ];
    let mut rest = page;
    while let Some(at) = rest.find("<math") {
        let end = at + rest[at..].find("</math>").expect("an end") + "</math>".len();
        let one = &rest[at..end];
        rest = &rest[end..];
        // The number of children that each open element has had.
        let mut open: Vec<(String, usize)> = Vec::new();
        let mut left = one;
        while let Some(at) = left.find('<') {
            let end = at + left[at..].find('>').unwrap();
            let tag = &left[at + 1..end];
            left = &left[end + 1..];
            if let Some(name) = tag.strip_prefix('/') {
                let (opened, children) = open.pop().expect("an open element");
                assert_eq!(opened, name);
                if ["mfrac", "msub", "msup"].contains(&name) {
                    assert_eq!(children, 2, "{one}");
                }
                continue;
            }
            let name: String = tag.chars().take_while(|one| one.is_alphanumeric()).collect();
            assert!(KNOWN.contains(&name.as_str()), "{name}");
            if let Some((parent, children)) = open.last_mut() {
                *children += 1;
                let cell = match parent.as_str() {
                    "mtable" => Some("mtr"),
                    "mtr" => Some("mtd"),
                    _ => None,
                };
                assert!(cell.is_none_or(|cell| cell == name), "{name} in {parent}");
            }
            open.push((name, 0));
        }
    }
}

#[test]
fn pages_are_well_formed() {
    for name in LESSONS {
        let circuit = load(&format!("lessons/{name}.toml"));
        let lesson = worked(&circuit, &Overlay::none(), &[]);
        for asks in [false, true] {
            let lecture = Lecture {
                circuit: &circuit,
                lesson: &lesson,
                title: "A & B <x>",
                asks,
                ladder: None,
            };
            let page = lesson_html(&lecture);
            let (found, text) = elements(&page);
            assert!(found.iter().any(|one| one == "math"), "{name}");
            assert!(text.contains("A &amp; B &lt;x&gt;"));
            check_maths(&page);
            // Every table and formula may be moved by itself where it is wider than the page.
            let wide = found.iter().filter(|one| ["table", "math"].contains(&one.as_str())).count();
            assert_eq!(page.matches("class=\"scroll").count(), wide);
            assert!(!page.contains("http://www.w3.org/1999/xhtml") && !page.contains("<script"));
        }
    }
}

/// Nothing before the answers gives one of them away: no value in an equation, no solution.
#[test]
fn questions_hold_no_answers() {
    for name in LESSONS {
        let circuit = load(&format!("lessons/{name}.toml"));
        let lesson = worked(&circuit, &Overlay::none(), &[]);
        let lecture = Lecture {
            circuit: &circuit,
            lesson: &lesson,
            title: "a lesson",
            asks: true,
            ladder: None,
        };
        let text = lesson_text(&lecture, Style::Plain, 80);
        let (asked, answers) = text.split_once("\nAnswers\n").expect("two halves");
        let printed = printed::solution_of_text(answers);
        assert!(!printed.is_empty());
        assert!(asked.contains("______"));
        for line in answers.lines().skip_while(|line| *line != "Solution").skip(2) {
            let Some((_, value)) = line.trim().split_once(") ") else { break };
            assert!(!asked.contains(value.trim()), "{value}: {asked}");
        }
        // The values of the parts are given, and nothing after them.
        let (given, asked) = asked.split_once("\nWrite one balance").expect("the parts first");
        assert!(given.contains("Ω"), "{given}");
        for unit in [" V", " A", "mA", "Ω", " mV", "µA"] {
            let digit_before = asked.match_indices(unit).find(|(at, _)| {
                asked[..*at].ends_with(|one: char| one.is_ascii_digit())
                    // Ground is nothing by definition.
                    && !asked[..*at].ends_with(" 0")
            });
            assert!(digit_before.is_none(), "{unit}: {asked}");
        }
        // The answers are the lesson as it is without questions.
        let plain = Lecture { asks: false, ..lecture };
        let whole = lesson_text(&plain, Style::Plain, 80);
        let body = |text: &str| text.split_once("Known and unknown").unwrap().1.to_owned();
        assert_eq!(body(answers), body(&whole));
    }
}

/// The table before the question of the states does not answer it, and blanks have their signs.
#[test]
fn states_are_asked_for_and_not_told() {
    for (name, held) in [("zener-rail", "V(RAIL)"), ("valve-switch", "given volts  200 mV")] {
        let circuit = load(&format!("lessons/{name}.toml"));
        let lesson = worked(&circuit, &Overlay::none(), &[]);
        let lecture =
            Lecture { circuit: &circuit, lesson: &lesson, title: "x", asks: true, ladder: None };
        let text = lesson_text(&lecture, Style::Plain, 80);
        let (before, _) = text.split_once("Which states do you assume?").expect("a question");
        let table = before.split_once("written as").expect("the table of branches").1;
        assert!(!table.contains(held), "{table}");
        let told = before.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(told.contains("with its sign"), "{told}");
    }
}

/// A long sum goes over several rows, and a wide matrix over several blocks; a name with a hyphen is
/// not broken there.
#[test]
fn long_equations_have_room() {
    let circuit = load("standby-supply.toml");
    let lesson = worked(&circuit, &Overlay::none(), &[]);
    let lecture =
        Lecture { circuit: &circuit, lesson: &lesson, title: "x", asks: false, ladder: None };
    let page = lesson_html(&lecture);
    check_maths(&page);
    for row in page.split("<mtr>").skip(1) {
        let row = row.split_once("</mtr>").map_or(row, |(row, _)| row);
        // Signs that stand between the terms of a row; those of fractions are not between them.
        assert!(row.matches("<mfrac>").count() <= 4, "{row}");
    }
    assert!(!page.contains("<mtext>U1.ground-output"), "a name that can be broken");
}

#[test]
fn json_holds_what_the_text_holds() {
    let circuit = load("lessons/valve-switch.toml");
    let lesson = worked(&circuit, &Overlay::none(), &[]);
    let value = lesson_json(&circuit, &lesson);
    let equations: Vec<String> = value["equations"]
        .as_array()
        .unwrap()
        .iter()
        .map(|one| one["values"].as_str().unwrap().to_owned())
        .collect();
    let solved = printed::solved(&equations);
    for unknown in value["unknowns"].as_array().unwrap() {
        let name = unknown.as_str().unwrap();
        let inner = &name[2..name.len() - 1];
        let found = match &name[..1] {
            "V" => value["nets"][inner]["volts"].as_f64().unwrap(),
            _ => value["branches"][inner]["amps"].as_f64().unwrap(),
        };
        approx::assert_relative_eq!(solved[name], found, max_relative = 1e-6, epsilon = 1e-9);
    }
    assert_eq!(value["rounds"][0]["corrected"][0], "Q1");
    assert_eq!(value["agrees"], true);
}

#[test]
fn markdown_is_headed_and_escaped() {
    let circuit = load("lessons/leaf-bridge.toml");
    let lesson = worked(&circuit, &Overlay::none(), &[]);
    let lecture =
        Lecture { circuit: &circuit, lesson: &lesson, title: "a_b *c*", asks: false, ladder: None };
    let text = lesson_markdown(&lecture);
    assert!(text.starts_with("# a\\_b \\*c\\*\n"));
    assert_eq!(text.matches("```").count() % 2, 0);
    for heading in ["Known and unknown", "One balance per net", "As a matrix", "Solution", "Checks"]
    {
        assert!(text.contains(&format!("\n## {heading}\n")), "{heading}");
    }
}

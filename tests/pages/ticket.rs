//! What a report says, and how the command ends.

use std::path::Path;

use scraper::{Html, Selector};

use super::jobs::{folder, printed, root, run};

/// Every text of a page, sheets left out, one per line.
fn texts(html: &str) -> String {
    let page = Html::parse_document(html);
    let body = Selector::parse("body").expect("a selector");
    let body = page.select(&body).next().expect("a body");
    body.text().map(|text| text.replace('\u{a0}', " ")).collect::<Vec<_>>().join("\n")
}

fn circuits() -> std::path::PathBuf {
    root().join("circuits")
}

fn own(readings: &str) -> String {
    printed(&root().join("tests/pages/jobs"), &["report", readings])
}

#[test]
fn the_whole_job_is_in_the_report() {
    let folder = root().join("tests/pages/jobs");
    let args = ["report", "fixed.readings.toml", "--substitute", "R1=51k", "--pairs"];
    let text = texts(&printed(&folder, &args));
    for words in [
        "Repair report 0412: Orchard gate opener, input chain",
        "upper orchard",
        "gate opener, box 3",
        "2026-11-24",
        "Reported: the gate does not move, the light on the post is dim.",
        "the connector P1 is corroded, the capacitor C1 looks fine, the LED D1 is lit",
        "The connector P1 conducts badly: about 218 Ω.",
        "The connector P1 was cleaned",
        "Fixed: 3 measurements after the repair are as on a good board.",
        "2 measurements were not repeated after the repair.",
        "P1 resistive: 218 Ω",
        "→ VIN_C, RAIL, RAIL_Q at 14.7 V, should be 24.0 V → EN at 2.58 V, should be 4.21 V",
        "a healthy board is ruled out",
        "invisible to DC readings, so neither found nor ruled out: C1 open, C2 open",
        "something that is not on this list",
        "P1 was cleaned",
        "R1 was replaced: 51k 1 %",
        "Fixed: 3 readings after the repair fit a healthy board.",
        "R1 51 kΩ ±1 % for 47 kΩ ±1 %",
        "Nets without a reading",
        "RAIL, RAIL_Q, LIGHT",
        "powered volts VIN_F, powered seen D1",
        "fuse resistance: times or divided by 2 (F1)",
        "Heat, timing, alternating current",
        "let C1, C2 discharge",
        "local codes",
    ] {
        let joined = text.replace('\n', "").to_lowercase();
        assert!(joined.contains(&words.to_lowercase()), "{words}\n{text}");
    }
}

#[test]
fn a_repair_that_did_not_help_is_told_with_what_is_left() {
    let text = texts(&own("not-fixed.readings.toml")).replace('\n', "");
    for words in [
        "Not fixed yet: of 3 measurements after the repair, 2 differ from a good board.",
        "powered volts VIN_C reads 14.7 V, a healthy board 24.0 V",
        "What explains the readings after it",
        "What to do next",
    ] {
        assert!(text.contains(words), "{words}\n{text}");
    }
}

#[test]
fn nothing_that_fits_and_nothing_that_is_wrong_are_told() {
    let text = texts(&own("nothing-fits.readings.toml")).replace('\n', "");
    for words in [
        "No single failed part explains what was measured.",
        "if one reading is a slip",
        "two faults at once",
        "Look for a slip in the readings",
        "8.1 V .. 8.3 V",
        "> 7 V",
    ] {
        assert!(text.contains(words), "{words}\n{text}");
    }
    let text = texts(&own("healthy.readings.toml")).replace('\n', "");
    for words in ["nothing: a healthy board reads like this", "beep", "What to measure next"] {
        assert!(text.contains(words), "{words}\n{text}");
    }
}

#[test]
fn names_and_job_data_that_look_like_markup_stay_text() {
    let html = own("odd-names.readings.toml");
    assert!(!html.contains("<script") && !html.contains("<b>") && !html.contains("<i>"));
    let text = texts(&html);
    for words in [
        "<script>alert('x')</script> & \"dead\"",
        "Customer & <i>unit</i>",
        "](javascript:alert) | *box* `7`",
        "A <b>box</b> & more",
        "powered volts <script>",
        "powered volts 50%#|*5V*",
    ] {
        assert!(text.contains(words), "{words}\n{text}");
    }
    // The links of a drawing lead to these.
    for id in ["net-&lt;script&gt;", "net-a&amp;b", "net-50%#|*5V*", "net-+3.3V"] {
        assert_eq!(html.matches(&format!("id=\"{id}\"")).count(), 1, "{id}");
    }
    let args = ["report", "odd-names.readings.toml", "--format", "markdown"];
    let markdown = printed(&root().join("tests/pages/jobs"), &args);
    for (at, _) in markdown.match_indices('<') {
        let is_text = markdown[..at].ends_with('\\');
        assert!(is_text || markdown[at..].starts_with("<br>"), "{markdown}");
    }
    assert!(markdown.contains("| powered volts 50%\\#\\|\\*5V\\* | 1.60 V |"), "{markdown}");
}

#[test]
fn the_report_in_markdown() {
    let args = ["report", "gate-supply.readings.toml", "--format", "markdown"];
    let text = printed(&circuits(), &args);
    insta::assert_snapshot!("report_markdown", text);
}

#[test]
fn the_same_job_gives_the_same_bytes() {
    for format in ["html", "markdown"] {
        let args = ["report", "cold-store.readings.toml", "--format", format];
        assert_eq!(printed(&circuits(), &args), printed(&circuits(), &args));
    }
}

#[test]
fn a_file_is_written_whole_and_holds_what_stdout_would() {
    let folder = folder("written");
    let out = folder.join("report.html");
    let out = out.to_str().expect("a plain name");
    std::fs::write(out, "what was there").expect("a file");
    let args = ["report", "soil-probe.readings.toml", "-o", out];
    let output = run(&circuits(), &args);
    assert!(output.status.success() && output.stdout.is_empty());
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert_eq!(said, format!("wrote the report `{out}`\n"));
    let page = std::fs::read_to_string(out).expect("the page");
    assert_eq!(page, printed(&circuits(), &args[..2]));
    let names: Vec<_> = std::fs::read_dir(&folder).expect("the folder").collect();
    assert_eq!(names.len(), 1, "nothing is left beside it: {names:?}");
}

/// What a run says that goes wrong: nothing on stdout, exit status 2.
#[track_caller]
fn refused(folder: &Path, args: &[&str]) -> String {
    let output = run(folder, args);
    assert_eq!((output.status.code(), output.stdout.as_slice()), (Some(2), &b""[..]), "{args:?}");
    String::from_utf8(output.stderr).expect("UTF-8")
}

#[test]
fn what_cannot_be_done_is_said() {
    let folder = folder("refused");
    for file in ["gate-supply.toml", "gate-supply.readings.toml"] {
        std::fs::copy(circuits().join(file), folder.join(file)).expect("a copy");
    }
    std::fs::write(folder.join("other.toml"), "# notes").expect("a file");
    std::fs::write(folder.join("empty.readings.toml"), "circuit = \"gate-supply.toml\"\n")
        .expect("a file");
    let job = "gate-supply.readings.toml";
    let report = |args: &[&str]| refused(&folder, &[&["report"], args].concat());
    let said = [
        report(&[job, "--substitute", "R11=51k"]),
        report(&[job, "--substitute", "R1"]),
        report(&[job, "-o", "no/such/folder.html"]),
        report(&[job, "-o", "."]),
        report(&[job, "-o", job]),
        report(&[job, "-o", "./gate-supply.toml"]),
        report(&[job, "-o", "other.toml"]),
        report(&["empty.readings.toml"]),
        report(&["gate-supply.toml"]),
    ];
    insta::assert_snapshot!("report_refused", said.join("\n"));
    let untouched = |file: &str| {
        std::fs::read(folder.join(file)).expect("a file")
            == std::fs::read(circuits().join(file)).expect("a file")
    };
    assert!(untouched(job) && untouched("gate-supply.toml"));
    assert_eq!(std::fs::read(folder.join("other.toml")).expect("a file"), b"# notes");
}

/// A link to an input is the input.
#[cfg(unix)]
#[test]
fn a_link_to_an_input_is_refused_too() {
    let folder = folder("linked");
    for file in ["gate-supply.toml", "gate-supply.readings.toml"] {
        std::fs::copy(circuits().join(file), folder.join(file)).expect("a copy");
    }
    std::os::unix::fs::symlink("gate-supply.readings.toml", folder.join("page.html"))
        .expect("a link");
    let text = refused(&folder, &["report", "gate-supply.readings.toml", "-o", "page.html"]);
    assert!(text.contains("which is an input of"), "{text}");
}

//! `check`: what is worth a second look in a circuit file.

use ohmhound::engine::Assembly;
use ohmhound::finding::{Finding, Severity};
use ohmhound::report::{Page, assumption_words, check_json, render};
use ohmhound::study::{assumptions, check};

use super::args::{Check, Format};
use super::output::{Output, shown};
use super::{Exit, Stop, inputs};

/// How many findings there are of what kind.
fn verdict(findings: &[Finding]) -> String {
    let count = |severity: Severity| {
        let n = findings.iter().filter(|finding| finding.severity == severity).count();
        let plural = if n == 1 { "" } else { "s" };
        (n > 0).then(|| format!("{n} {}{plural}", severity.word()))
    };
    let counts: Vec<String> = [Severity::Error, Severity::Warning, Severity::Note]
        .into_iter()
        .filter_map(count)
        .collect();
    if counts.is_empty() { "nothing to complain of".to_owned() } else { counts.join(", ") }
}

/// Here the findings are the result.
pub(super) fn run(args: &Check, output: &Output) -> Result<Exit, Stop> {
    let parsed = inputs::read_circuit(&args.circuit);
    let mut findings = parsed.findings;
    let Some(circuit) = parsed.value else {
        match args.format {
            Format::Json => output.json(&check_json(&findings, &[]))?,
            Format::Text => output.findings(&findings),
        }
        return Ok(Exit::BadInput);
    };
    findings.extend(check(&Assembly::new(&circuit)));
    let defaults = assumptions(&circuit);
    let failed = findings.iter().any(Finding::is_error);
    match args.format {
        Format::Json => output.json(&check_json(&findings, &defaults))?,
        Format::Text => {
            let style = output.result_style();
            let mut page = Page::new(style, output.width());
            if !findings.is_empty() {
                page.line(&render(&findings, style, output.width()));
            }
            let word = verdict(&findings);
            page.line(&format!(
                "{}: {} parts, {} nets: {word}",
                shown(&args.circuit),
                circuit.parts.len(),
                circuit.nets.len()
            ));
            if !defaults.is_empty() {
                page.heading("Defaults that apply");
                for default in &defaults {
                    page.hanging("  - ", "    ", &assumption_words(default));
                }
            }
            output.result(&page.finish())?;
        }
    }
    Ok(if failed { Exit::No } else { Exit::Done })
}

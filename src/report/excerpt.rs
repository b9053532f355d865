//! Findings as text with an excerpt of the file, the faulty stretch marked.

use std::ops::Range;
use std::sync::Arc;

use annotate_snippets::{Annotation, AnnotationKind, Group, Level, Origin, Renderer, Snippet};

use super::visible::{visible, visible_in_place};
use crate::finding::{Finding, Label, Severity, Source};

/// Whether text is coloured.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Style {
    /// Text alone.
    Plain,
    /// With the colours of a terminal (ANSI escapes).
    Color,
}

/// Labels at most this many lines apart share an excerpt.
const NEAR: usize = 4;

/// The longest line that is shown, in bytes. Longer ones are trimmed to the width up to here; past
/// it, the place alone says enough and the text would cost more than it tells.
const LONGEST_LINE: usize = 4096;

/// The most characters that are marked, so that a mark fits the width.
const LONGEST_MARK: usize = 50;

/// Columns that stand before the text of an advice.
const ADVICE_INDENT: usize = 16;

/// The least width that an excerpt can be set in, in columns.
const NARROWEST: usize = 40;

/// The findings as text, `width` columns wide where the excerpt can be trimmed to it. Every
/// finding ends in a line break, and a blank line stands between two.
///
/// ```
/// use ohmhound::finding::{Code, Finding, Source};
/// use ohmhound::report::{Style, render};
///
/// let source = Source::new("a.toml", "[parts]\nR1 = { valu = 5 }\n");
/// let finding = Finding::error(Code::WrongShape, "unknown key `valu`")
///     .at(&source, 15..19, "")
///     .help("did you mean `value`?");
/// let text = render(&[finding], Style::Plain, 80);
/// assert!(text.contains("a.toml:2:8"));
/// assert!(text.contains("help: did you mean `value`?"));
/// ```
pub fn render(findings: &[Finding], style: Style, width: usize) -> String {
    let width = width.max(NARROWEST);
    let renderer = match style {
        Style::Plain => Renderer::plain(),
        Style::Color => Renderer::styled(),
    }
    .term_width(width);
    let mut text = String::new();
    for finding in findings {
        if !text.is_empty() {
            text.push('\n');
        }
        let finding = &made_visible(finding);
        let help = finding.help.as_deref().map(|help| wrapped(help, width));
        text.push_str(renderer.render(&[group(finding, help.as_deref())]).trim_end());
        text.push('\n');
    }
    text
}

/// The finding without control characters in its words; its sources stay as they are.
fn made_visible(finding: &Finding) -> Finding {
    let mut finding = finding.clone();
    finding.message = visible(&finding.message).into_owned();
    finding.help = finding.help.map(|help| visible(&help).into_owned());
    for label in &mut finding.labels {
        label.text = visible(&label.text).into_owned();
    }
    finding
}

fn group<'a>(finding: &'a Finding, help: Option<&'a str>) -> Group<'a> {
    let level = match finding.severity {
        Severity::Error => Level::ERROR,
        Severity::Warning => Level::WARNING,
        Severity::Note => Level::NOTE,
    };
    let title = level.primary_title(finding.message.as_str()).id(finding.code.name());
    let mut group = Group::with_title(title);
    for excerpt in excerpts(&finding.labels) {
        let name = visible(&excerpt.source.name);
        group = match excerpt.text {
            Some(text) => group.element(
                Snippet::source(text)
                    .path(name)
                    .line_start(excerpt.first_line)
                    .annotations(excerpt.marks),
            ),
            None => {
                let (line, column) = excerpt.position;
                group.element(Origin::path(name).line(line).char_column(column))
            }
        };
    }
    match help {
        Some(help) => group.element(Level::HELP.message(help)),
        None => group,
    }
}

/// The text with line breaks between words, so that it fits beside the indent.
fn wrapped(text: &str, width: usize) -> String {
    let room = width - ADVICE_INDENT;
    let mut wrapped = String::new();
    let mut used = 0;
    for word in words(text) {
        let length = word.chars().count();
        if used > 0 && used + 1 + length > room {
            wrapped.push('\n');
            used = 0;
        } else if used > 0 {
            wrapped.push(' ');
            used += 1;
        }
        wrapped.push_str(word);
        used += length;
    }
    wrapped
}

/// The words of a text; what stands in backticks is one word, so that it can be copied.
fn words(text: &str) -> Vec<&str> {
    let mut words = Vec::new();
    let (mut start, mut quoted) = (0, false);
    for (at, c) in text.char_indices() {
        match c {
            '`' => quoted = !quoted,
            ' ' if !quoted => {
                words.push(&text[start..at]);
                start = at + 1;
            }
            _ => {}
        }
    }
    words.push(&text[start..]);
    words
}

/// Some lines of a source with the marks on them.
struct Excerpt<'a> {
    source: &'a Arc<Source>,
    /// Line and column of the first label in it.
    position: (usize, usize),
    first_line: usize,
    /// Nothing when there is none, or too much of it.
    text: Option<String>,
    marks: Vec<Annotation<'a>>,
}

/// Labels of one source that lie near each other share an excerpt; the first label is the main one.
fn excerpts(labels: &[Label]) -> Vec<Excerpt<'_>> {
    let mut clusters: Vec<Vec<Spot<'_>>> = Vec::new();
    for (idx, label) in labels.iter().enumerate() {
        let spot = Spot::new(label, idx == 0);
        let near =
            clusters.iter_mut().find(|cluster| cluster.iter().any(|other| other.is_near(&spot)));
        match near {
            Some(cluster) => cluster.push(spot),
            None => clusters.push(vec![spot]),
        }
    }
    clusters.into_iter().filter_map(|cluster| excerpt(&cluster)).collect()
}

/// A label with the line that it starts on.
struct Spot<'a> {
    label: &'a Label,
    main: bool,
    /// From 1.
    line: usize,
    column: usize,
    /// Bytes of the line, without its end.
    line_range: Range<usize>,
    /// Bytes of the mark in the source, on this one line.
    mark: Range<usize>,
}

impl<'a> Spot<'a> {
    fn new(label: &'a Label, main: bool) -> Spot<'a> {
        let text = label.source.text.as_str();
        let start = boundary(text, label.range.start);
        let (line, column) = label.source.line_column(start);
        let line_start = text[..start].rfind('\n').map_or(0, |at| at + 1);
        let line_end = text[start..].find('\n').map_or(text.len(), |at| start + at);
        let line_end = line_start + text[line_start..line_end].trim_end_matches('\r').len();
        // What stands behind the text of a line, such as one carriage return more, is not printed,
        // and cannot be marked.
        let start = start.min(line_end);
        // A mark over many lines would print them all; its start says where it is.
        let end = boundary(text, label.range.end).clamp(start, line_end);
        let end =
            text[start..end].char_indices().nth(LONGEST_MARK).map_or(end, |(at, _)| start + at);
        Spot { label, main, line, column, line_range: line_start..line_end, mark: start..end }
    }

    fn is_near(&self, other: &Spot<'_>) -> bool {
        Arc::ptr_eq(&self.label.source, &other.label.source)
            && self.line.abs_diff(other.line) <= NEAR
    }
}

fn excerpt<'a>(cluster: &[Spot<'a>]) -> Option<Excerpt<'a>> {
    let lead = cluster.first()?;
    let (first, last) = (
        cluster.iter().min_by_key(|spot| spot.line)?,
        cluster.iter().max_by_key(|spot| spot.line)?,
    );
    let source = &lead.label.source;
    let range = first.line_range.start..last.line_range.end;
    let lines = source.text.get(range.clone()).unwrap_or("");
    let shown = !lines.trim().is_empty() && lines.lines().all(|line| line.len() <= LONGEST_LINE);
    let mark = |spot: &Spot<'a>| {
        let kind = if spot.main { AnnotationKind::Primary } else { AnnotationKind::Context };
        let mark = kind.span(spot.mark.start - range.start..spot.mark.end - range.start);
        match spot.label.text.as_str() {
            "" => mark,
            said => mark.label(said),
        }
    };
    Some(Excerpt {
        source,
        position: (lead.line, lead.column),
        first_line: first.line,
        text: shown.then(|| visible_in_place(lines).into_owned()),
        marks: cluster.iter().map(mark).collect(),
    })
}

/// The character boundary at or before a byte.
fn boundary(text: &str, mut at: usize) -> usize {
    at = at.min(text.len());
    while !text.is_char_boundary(at) {
        at -= 1;
    }
    at
}

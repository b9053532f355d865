//! Where answers go: results on stdout, findings on stderr, colour on terminals only.

use std::io::{IsTerminal, Write, stderr, stdout};

pub(super) use ohmhound::file::shown_path as shown;
use ohmhound::finding::Finding;
use ohmhound::report::{Page, Style, render, visible};
use serde_json::Value;
use terminal_size::{Height, Width, terminal_size_of};

use super::args::Color;
use super::{Exit, Stop};

/// Columns when the output is no terminal.
const USUAL_WIDTH: usize = 80;

/// Where answers go.
pub(super) struct Output {
    color: Color,
}

impl Output {
    pub(super) fn new(color: Color) -> Output {
        Output { color }
    }

    fn style(&self, is_terminal: bool) -> Style {
        let wanted = match self.color {
            Color::Always => true,
            Color::Never => false,
            Color::Auto => {
                is_terminal
                    && std::env::var_os("NO_COLOR").is_none_or(|value| value.is_empty())
                    && std::env::var_os("TERM").is_none_or(|term| term != "dumb")
            }
        };
        if wanted { Style::Color } else { Style::Plain }
    }

    /// The style of results.
    pub(super) fn result_style(&self) -> Style {
        self.style(stdout().is_terminal())
    }

    /// The columns that results have: those of the terminal they go to.
    pub(super) fn width(&self) -> usize {
        columns(terminal_size_of(stdout()))
    }

    /// Prints a result.
    pub(super) fn result(&self, text: &str) -> Result<(), Stop> {
        // A reader that has seen enough closes the pipe: that is no failure. A full disk is.
        match stdout().lock().write_all(text.as_bytes()).and_then(|()| stdout().flush()) {
            Ok(()) => Ok(()),
            Err(error) if error.kind() == std::io::ErrorKind::BrokenPipe => Err(Stop(Exit::Done)),
            Err(error) => {
                self.complain(&format!("cannot write the result: {}", error.kind()), "");
                Err(Stop(Exit::BadInput))
            }
        }
    }

    /// Prints a result as JSON.
    pub(super) fn json(&self, value: &Value) -> Result<(), Stop> {
        self.result(&format!("{value:#}\n"))
    }

    /// Prints findings where they do not get into the way of results.
    pub(super) fn findings(&self, findings: &[Finding]) {
        if !findings.is_empty() {
            let style = self.style(stderr().is_terminal());
            let text = render(findings, style, columns(terminal_size_of(stderr())));
            let _ = stderr().write_all(text.as_bytes());
        }
    }

    /// Prints one sentence beside the result: what was written where.
    pub(super) fn note(&self, message: &str) {
        let _ = stderr().write_all(format!("{}\n", visible(message)).as_bytes());
    }

    /// Prints one sentence of trouble, and one of advice unless it is empty.
    pub(super) fn complain(&self, message: &str, help: &str) {
        let mut page = Page::new(Style::Plain, columns(terminal_size_of(stderr())));
        page.hanging("error: ", "       ", &visible(message));
        if !help.is_empty() {
            page.hanging("  = help: ", "          ", &visible(help));
        }
        let _ = stderr().write_all(page.finish().as_bytes());
    }
}

fn columns(terminal: Option<(Width, Height)>) -> usize {
    terminal.map_or(USUAL_WIDTH, |(width, _)| usize::from(width.0))
}

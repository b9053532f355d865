//! Text for people: headings, tables, wrapped sentences.

use std::fmt::Write;

use comfy_table::{CellAlignment, ContentArrangement, Table};

use super::Style;

/// Text that is put together line by line.
#[derive(Debug)]
pub struct Page {
    text: String,
    style: Style,
    width: usize,
}

impl Page {
    /// An empty page.
    pub fn new(style: Style, width: usize) -> Page {
        Page { text: String::new(), style, width: width.clamp(40, 120) }
    }

    /// The text.
    pub fn finish(self) -> String {
        self.text
    }

    /// A heading, with a blank line before it; one that is longer than the width goes on below.
    pub fn heading(&mut self, text: &str) {
        if !self.text.is_empty() {
            self.text.push('\n');
        }
        let bold = anstyle::Style::new().bold();
        let mut wrapped = Page::new(Style::Plain, self.width);
        if text.chars().count() > self.width {
            wrapped.hanging("", "  ", text);
        } else {
            wrapped.line(text);
        }
        for line in wrapped.text.lines() {
            match self.style {
                Style::Plain => self.line(line),
                Style::Color => self.line(&format!("{bold}{line}{bold:#}")),
            }
        }
    }

    /// A line as it is.
    pub fn line(&mut self, text: &str) {
        let _ = writeln!(self.text, "{}", text.trim_end());
    }

    /// A sentence, wrapped to the width; every line begins with `indent`.
    pub fn sentence(&mut self, indent: &str, text: &str) {
        self.hanging(indent, indent, text);
    }

    /// A sentence whose first line begins differently from the others.
    pub fn hanging(&mut self, first: &str, others: &str, text: &str) {
        let mut line = first.to_owned();
        let mut used = first.chars().count();
        let mut empty = true;
        for word in words(text) {
            let size = word.chars().count();
            if !empty && used + 1 + size > self.width {
                self.line(&line);
                line = others.to_owned();
                used = others.chars().count();
                empty = true;
            }
            if !empty {
                line.push(' ');
                used += 1;
            }
            line.push_str(&word);
            used += size;
            empty = false;
        }
        self.line(&line);
    }

    /// A table without lines: a header and rows; columns named in `right` are set to the right.
    pub fn table(&mut self, header: &[&str], rows: &[Vec<String>], right: &[usize]) {
        let mut table = Table::new();
        table.load_style(comfy_table::presets::NOTHING);
        table.set_content_arrangement(ContentArrangement::Dynamic);
        table.set_width(u16::try_from(self.width).unwrap_or(120));
        table.set_header(header.iter().map(|cell| (*cell).to_owned()));
        for row in rows {
            table.add_row(row.iter().map(|cell| glued(cell)));
        }
        for &column in right {
            if let Some(column) = table.column_mut(column) {
                column.set_cell_alignment(CellAlignment::Right);
            }
        }
        for line in table.to_string().lines() {
            self.line(&line.replace('\u{a0}', " "));
        }
    }
}

/// Units and percent signs that stay on the line of their number.
const UNITS: [&str; 10] = ["V", "A", "Ω", "W", "%", "F", "H", "K", "°C", "S"];

/// The words of a text, a number and its unit together as one word.
fn words(text: &str) -> Vec<String> {
    let mut words: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        let bare = word.trim_end_matches([',', ';', ':', '.', ')']);
        let is_unit = UNITS
            .iter()
            .any(|unit| bare.strip_suffix(unit).is_some_and(|prefix| prefix.chars().count() <= 1));
        match words.last_mut() {
            Some(last) if is_unit && last.ends_with(|end: char| end.is_ascii_digit()) => {
                last.push(' ');
                last.push_str(word);
            }
            _ => words.push(word.to_owned()),
        }
    }
    words
}

/// A text in which a space that does not break keeps a number and its unit on one line.
pub(super) fn glued(text: &str) -> String {
    let words: Vec<String> = words(text).iter().map(|word| word.replace(' ', "\u{a0}")).collect();
    words.join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_number_keeps_its_unit_on_its_line() {
        let mut page = Page::new(Style::Plain, 40);
        page.sentence("", "the rail that should be at five is at 4.62 V, and not at 5 V");
        assert_eq!(
            page.finish(),
            "the rail that should be at five is at\n4.62 V, and not at 5 V\n"
        );
    }
}

//! Foreign text for a terminal: what cannot be seen is shown as something that can.

use std::borrow::Cow;

/// The text with a replacement for every control character but the ends of lines. Names of files may
/// hold them, and a terminal would obey.
///
/// ```
/// assert_eq!(ohmhound::report::visible("a\u{1b}[31m.toml"), "a\u{fffd}[31m.toml");
/// ```
pub fn visible(text: &str) -> Cow<'_, str> {
    let is_bad = |c: char| c.is_control() && c != '\n';
    match text.contains(is_bad) {
        true => Cow::Owned(text.replace(is_bad, "\u{fffd}")),
        false => Cow::Borrowed(text),
    }
}

/// The same for an excerpt, in which marks have their places by bytes: the controls of one byte are
/// drawn by the excerpt itself, those of two bytes become a point of two bytes.
pub(super) fn visible_in_place(text: &str) -> Cow<'_, str> {
    let is_bad = |c: char| ('\u{80}'..='\u{9f}').contains(&c);
    match text.contains(is_bad) {
        true => Cow::Owned(text.replace(is_bad, "\u{b7}")),
        false => Cow::Borrowed(text),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn controls_are_seen_and_nothing_moves() {
        let text = "漢 a\tb\u{85}\u{9b}31m é";
        let shown = visible_in_place(text);
        assert_eq!(shown.len(), text.len());
        assert!(!shown.contains(|c: char| ('\u{80}'..='\u{9f}').contains(&c)));
        assert_eq!(visible("a\nb\t\u{7f}"), "a\nb\u{fffd}\u{fffd}");
        assert!(matches!(visible("µ Ω"), Cow::Borrowed(_)));
    }
}

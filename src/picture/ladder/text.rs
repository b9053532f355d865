//! How much room text takes, without a font at hand.
//!
//! A page is shown with whatever sans font the reader has, so the table holds the widest of the
//! common ones: the advance widths of DejaVu Sans Bold, in thousandths of the size (measured; Arial,
//! Helvetica, Roboto and Segoe UI are narrower). What is not in the table counts as the widest letter
//! that is likely there.

/// Advance widths of the characters from blank to `~`.
#[rustfmt::skip]
const WIDTHS: [u16; 95] = [
    348, 456, 521, 838, 696, 1002, 872, 306, 457, 457, 523, 838, 380, 415, 380, 365,
    696, 696, 696, 696, 696, 696, 696, 696, 696, 696, 400, 400, 838, 838, 838, 580,
    1000, 774, 762, 734, 830, 683, 683, 821, 837, 372, 372, 775, 637, 995, 837, 850,
    733, 850, 770, 720, 682, 812, 774, 1103, 771, 724, 725, 457, 365, 457, 838, 500,
    500, 675, 716, 593, 716, 678, 435, 716, 712, 343, 343, 665, 343, 1042, 712, 687,
    716, 716, 493, 595, 478, 712, 652, 924, 645, 652, 582, 712, 365, 712, 838,
];

/// The width of one character, in thousandths of the size.
fn advance(letter: char) -> u16 {
    match letter {
        ' '..='~' => WIDTHS[letter as usize - ' ' as usize],
        '\u{a0}' => WIDTHS[0],
        '°' | '·' | '–' => 500,
        'µ' | 'μ' | 'Ω' | '\u{2126}' | '±' | '×' | '→' | '≥' | '∞' | 'é' => 850,
        // Pictures and what takes two places; everything else is below the widest Cyrillic letter.
        '\u{1f000}'.. => 1400,
        _ => 1350,
    }
}

/// The width of a text, in pixels. Bold and plain text count alike: the table is of bold letters,
/// and plain ones are a tenth narrower.
pub(super) fn width(text: &str, size: f64) -> f64 {
    text.chars().map(|letter| f64::from(advance(letter))).sum::<f64>() * size / 1000.0
}

/// How far letters reach above their base line, as a share of the size.
pub(super) const ASCENT: f64 = 0.80;
/// How far letters reach below their base line, as a share of the size.
pub(super) const DESCENT: f64 = 0.24;

/// Breaks a text into lines of a width at blanks, dots and underscores, or anywhere where a word is
/// longer than a line; what is beyond `most` lines is left out, with an ellipsis.
pub(super) fn wrapped(text: &str, size: f64, limit: f64, most: usize) -> Vec<String> {
    let mut lines = Vec::new();
    let mut line = String::new();
    for mut piece in pieces(text) {
        while width(&format!("{line}{}", piece.trim_end()), size) > limit {
            if line.is_empty() {
                let (fits, rest) = piece.split_at(fitting(piece, size, limit));
                line.push_str(fits);
                piece = rest;
            }
            lines.push(std::mem::take(&mut line));
        }
        line.push_str(piece);
    }
    if !line.is_empty() || lines.is_empty() {
        lines.push(line);
    }
    let is_cut = lines.len() > most;
    lines.truncate(most);
    let mut lines: Vec<String> = lines.iter().map(|line| line.trim().to_owned()).collect();
    if let Some(last) = lines.last_mut().filter(|_| is_cut) {
        while !last.is_empty() && width(&format!("{last}…"), size) > limit {
            last.pop();
        }
        last.push('…');
    }
    lines
}

/// A text cut where it may be broken: not at the point of a number.
fn pieces(text: &str) -> impl Iterator<Item = &str> {
    let mut left = text;
    std::iter::from_fn(move || {
        if left.is_empty() {
            return None;
        }
        let is_end = |(at, letter): (usize, char)| {
            let next = left[at + letter.len_utf8()..].chars().next();
            match letter {
                ' ' | '_' => true,
                '.' => !next.is_some_and(|next| next.is_ascii_digit()),
                _ => false,
            }
        };
        let end = left.char_indices().find(|&one| is_end(one)).map_or(left.len(), |(at, _)| at + 1);
        let (piece, rest) = left.split_at(end);
        left = rest;
        Some(piece)
    })
}

/// How many bytes of a text fit into a line; one character at least.
fn fitting(text: &str, size: f64, limit: f64) -> usize {
    let mut used = 0.0;
    let mut end = 0;
    for (at, letter) in text.char_indices() {
        used += f64::from(advance(letter)) * size / 1000.0;
        if used > limit && at > 0 {
            break;
        }
        end = at + letter.len_utf8();
    }
    end
}

/// A text for XML: what is markup there is written out, and what XML cannot hold is left out.
pub(super) fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for letter in text.chars() {
        match letter {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            '\t' | '\n' | '\r' => out.push(' '),
            '\u{0}'..='\u{1f}' | '\u{7f}'..='\u{9f}' | '\u{fffe}' | '\u{ffff}' => {}
            // A mark that turns the direction of text would turn what follows it, too.
            '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' => {}
            _ => out.push(letter),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_keep_their_width_and_lose_nothing_but_what_is_cut() {
        let name = "SUPPLY_OF_THE_SECOND_FAN_BEHIND_THE_DOOR";
        let lines = wrapped(name, 11.0, 110.0, 9);
        assert_eq!(lines.concat(), name);
        assert!(lines.iter().all(|line| width(line, 11.0) <= 110.0), "{lines:?}");
        let cut = wrapped(name, 11.0, 110.0, 2);
        assert!(cut.len() == 2 && cut[1].ends_with('…'), "{cut:?}");
        assert_eq!(wrapped(&"漢".repeat(40), 11.0, 110.0, 9).concat(), "漢".repeat(40));
        assert_eq!(wrapped("", 11.0, 110.0, 3), [""]);
        assert_eq!(
            wrapped("R7 drifted 22.3\u{a0}kΩ", 11.0, 90.0, 3),
            ["R7 drifted", "22.3\u{a0}kΩ"]
        );
    }

    #[test]
    fn markup_is_written_out() {
        assert_eq!(escaped("<a b='\"&'>\u{1}"), "&lt;a b=&#39;&quot;&amp;&#39;&gt;");
    }
}

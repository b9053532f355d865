//! What to say of a text that is no marking.

use super::code::{E96_LETTERS, LONGEST, drafts, e96_parts};
use crate::quantity::error::{ValueError, trimmed};
use crate::quantity::parse::brief;

/// Why `code`, of which `bare` are the first characters without blanks, is no marking.
pub(super) fn error(code: &str, bare: &str) -> ValueError {
    let all = trimmed(code, 0..code.len());
    let shown = brief(&code[all.clone()]);
    let told = |message: String| ValueError::new(all.clone(), message);
    const FORMS: &str = "markings are such as `103`, `1002`, `4K7`, `01C`, `104K`, `2n2` and `000`";
    if bare.is_empty() {
        return told("expected a part marking, found nothing".to_owned()).help(FORMS);
    }
    if let Some(meant) = with_digits(bare) {
        return told(format!("expected a part marking, found `{shown}`"))
            .help(format!("did you mean `{meant}`, with a digit in place of the letter?"));
    }
    if let Some((number, digits, letter)) = e96_parts(bare)
        && E96_LETTERS.iter().any(|(known, _)| *known == letter)
        && !(1..=96).contains(&number)
    {
        return told(format!(
            "expected two digits from 01 to 96 before the letter, found `{digits}`"
        ))
        .help("the two digits count the values of E96: 01 is 100, 96 is 976");
    }
    let digits_only = bare.bytes().all(|byte| byte.is_ascii_digit());
    if digits_only && bare.len() > 4 {
        return told(format!("expected at most four digits, found `{shown}`"))
            .help("three digits are two and a power of ten, four are three and a power of ten");
    }
    if digits_only && bare.len() == 2 {
        return told(format!("expected a letter after the two digits, found `{shown}`"))
            .help(format!("a code of E96 ends in a letter, such as `{bare}C`"));
    }
    if digits_only {
        return told(format!("expected a first digit that is not zero, found `{shown}`"))
            .help("zeros alone are a link; below one there is a letter, such as `R05`");
    }
    if bare.chars().count() <= LONGEST
        && let Some((at, last)) = bare.char_indices().next_back()
        && last.is_alphabetic()
        && let known = drafts(&bare[..at])
        && !known.is_empty()
    {
        if known.iter().all(|draft| draft.tolerance.is_some()) {
            let whole = &bare[..at];
            return told(format!("expected nothing after `{whole}`, found `{last}`"))
                .help("the tolerance is one letter, and the last one");
        }
        return told(format!(
            "expected a tolerance letter after `{}`, found `{last}`",
            &bare[..at]
        ))
        .help("the usual ones are B C D F G J K M; 0.1, 0.25, 0.5, 1, 2, 5, 10, 20 %");
    }
    told(format!("expected a part marking, found `{shown}`")).help(FORMS)
}

/// The marking with `O` and `I` as the digits that they look like, if that is one.
fn with_digits(bare: &str) -> Option<String> {
    let digits: String = bare
        .chars()
        .map(|c| match c {
            'O' | 'o' => '0',
            'I' | 'l' => '1',
            _ => c,
        })
        .collect();
    (digits != bare && !drafts(&digits).is_empty()).then_some(digits)
}

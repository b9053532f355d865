//! `kinds`: the kinds of parts, what can be typed of each, and how it fails.

use ohmhound::device::{ALL, kind, kind_of_class};
use ohmhound::finding::nearest;
use ohmhound::report::{kind_text, kinds_text};

use super::args::Kinds;
use super::output::Output;
use super::{Exit, Stop};

pub(super) fn run(args: &Kinds, output: &Output) -> Result<Exit, Stop> {
    let (style, width) = (output.result_style(), output.width());
    let mut text = String::new();
    for name in &args.kinds {
        // Class letters stand for their kind, as in circuit files.
        let Some(found) = kind(name).or_else(|| kind_of_class(name)) else {
            let short: String = name.chars().take(40).collect();
            let near = nearest(name, ALL.iter().map(|kind| kind.name()));
            let help = match near {
                Some(near) => format!("did you mean `{near}`?"),
                None => "`ohmhound kinds` lists them".to_owned(),
            };
            output.complain(&format!("unknown kind `{short}`"), &help);
            return Err(Stop(Exit::BadInput));
        };
        if !text.is_empty() {
            text.push('\n');
        }
        text.push_str(&kind_text(found, style, width));
    }
    if args.kinds.is_empty() {
        text = kinds_text(style, width);
    }
    output.result(&text)?;
    Ok(Exit::Done)
}

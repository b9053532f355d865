//! `starter`: a commented circuit file to fill in from the schematic.

mod patterns;

use std::io::ErrorKind;

use ohmhound::file::write_new_file;
use ohmhound::finding::nearest;

use patterns::{PATTERNS, Pattern};

use super::args::Starter;
use super::output::{Output, shown};
use super::{Exit, Stop};

pub(super) fn run(args: &Starter, output: &Output) -> Result<Exit, Stop> {
    if args.list {
        output.result(&list())?;
        return Ok(Exit::Done);
    }
    let (Some(file), Some(wanted)) = (&args.file, &args.pattern) else {
        output.complain(
            "expected a file to write and a pattern",
            "`ohmhound starter my.toml --pattern divider`; `ohmhound starter --list` lists the \
             patterns",
        );
        return Err(Stop(Exit::BadInput));
    };
    let Some(pattern) = PATTERNS.iter().find(|pattern| pattern.name == wanted) else {
        let known = PATTERNS.iter().map(|pattern| pattern.name);
        let help = match nearest(wanted, known.clone()) {
            Some(near) => format!("did you mean `{near}`?"),
            None => format!("known ones: {}", known.collect::<Vec<_>>().join(", ")),
        };
        output.complain(&format!("unknown pattern `{wanted}`"), &help);
        return Err(Stop(Exit::BadInput));
    };
    // A file that exists is somebody's work.
    match write_new_file(file, pattern.text.as_bytes()) {
        Ok(()) => {
            output.result(&format!(
                "wrote {0}: fill it in, then run `ohmhound check {0}`\n",
                shown(file)
            ))?;
            Ok(Exit::Done)
        }
        Err(error) => {
            let (why, help) = match error.kind() {
                ErrorKind::AlreadyExists if file.is_dir() => {
                    ("it is a folder".to_owned(), "name a file in it")
                }
                ErrorKind::AlreadyExists => {
                    ("it exists already".to_owned(), "nothing was changed; choose another name")
                }
                ErrorKind::NotFound => ("its folder does not exist".to_owned(), "make it first"),
                ErrorKind::NotADirectory => {
                    ("what should be its folder is a file".to_owned(), "choose another folder")
                }
                ErrorKind::PermissionDenied => {
                    ("writing there is not permitted".to_owned(), "choose another folder")
                }
                kind => (kind.to_string(), ""),
            };
            output.complain(&format!("cannot write `{}`: {why}", shown(file)), help);
            Err(Stop(Exit::BadInput))
        }
    }
}

/// Every pattern on a line of its own, what it is under each other.
fn list() -> String {
    let width = PATTERNS.iter().map(|pattern| pattern.name.len()).max().unwrap_or(0);
    let line = |pattern: &Pattern| format!("{:width$}  {}\n", pattern.name, pattern.about);
    PATTERNS.iter().map(line).collect()
}

//! `manual`: the pages of the manual, one per command, made of the same words as the help.

use std::fs;
use std::io;
use std::path::Path;

use clap::Command;
use clap_mangen::Man;
use clap_mangen::roff::{Roff, roman};
use ohmhound::file::replace_file;

use super::args::Manual;
use super::output::Output;
use super::{Exit, Stop, help};

/// The version without a commit: pages of the same version are the same bytes.
const VERSION: &str = env!("CARGO_PKG_VERSION");

pub(super) fn run(args: &Manual, output: &Output) -> Result<Exit, Stop> {
    let pages = pages();
    let Some(folder) = &args.into else {
        let main = pages.first().map_or("", |(_, page)| page);
        output.result(main)?;
        return Ok(Exit::Done);
    };
    if let Err(error) = fs::create_dir_all(folder) {
        let why = match error.kind() {
            io::ErrorKind::AlreadyExists => "it is a file".to_owned(),
            _ => error.to_string(),
        };
        output.complain(
            &format!("cannot make the folder `{}`: {why}", folder.display()),
            "name a folder for the pages, such as ~/.local/share/man/man1",
        );
        return Err(Stop(Exit::BadInput));
    }
    for (name, page) in &pages {
        write(&folder.join(name), page, output)?;
    }
    output.result(&format!("wrote {} pages into {}\n", pages.len(), folder.display()))?;
    Ok(Exit::Done)
}

fn write(file: &Path, page: &str, output: &Output) -> Result<(), Stop> {
    replace_file(file, page.as_bytes()).map_err(|why| {
        output.complain(&format!("cannot write `{}`: {why}", file.display()), "");
        Stop(Exit::BadInput)
    })
}

/// Every page by the name of its file, the main one first.
fn pages() -> Vec<(String, String)> {
    let mut program = super::command().version(VERSION);
    program.build();
    let commands = program.get_subcommands().filter(|command| command.get_name() != "help");
    let mut pages = vec![("ohmhound.1".to_owned(), page(&program, "ohmhound"))];
    for command in commands {
        let name = format!("ohmhound-{}", command.get_name());
        pages.push((format!("{name}.1"), page(command, &name)));
    }
    pages
}

/// One page, with what stands below the help: sentences, or a list that stays as it is.
fn page(command: &Command, name: &str) -> String {
    let plain = command.clone().after_help(None::<&str>).version(VERSION);
    let man = Man::new(plain)
        .title(name.to_uppercase())
        .source(format!("ohmhound {VERSION}"))
        .manual("ohmhound");
    let mut bytes = Vec::new();
    // Writing into memory does not fail.
    let _ = man.render(&mut bytes);
    let mut text = String::from_utf8_lossy(&bytes).into_owned();
    let mut roff = Roff::new();
    match command.get_name() {
        "ohmhound" => {
            roff.control("SH", ["EXIT STATUS"]).text([roman(super::args::EXITS)]);
        }
        "faults" => {
            roff.control("SH", ["FORMS"]).control("nf", []);
            for line in help::forms().lines() {
                roff.text([roman(line)]);
            }
            roff.control("fi", []);
        }
        _ => {}
    }
    text.push_str(&roff.to_roff());
    text
}

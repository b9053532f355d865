//! Files from the disk.

use std::fs::File;
use std::io::{ErrorKind, Read};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use super::limits::MOST_BYTES;
use super::syntax::too_long;
use super::{Parsed, read_circuit, read_readings, read_readings_csv};
use crate::circuit::{Circuit, Readings};
use crate::finding::{Code, Finding, Source, nearest};

/// The most names of a folder that are looked at for one like the missing file's.
const MOST_BESIDE: usize = 1_000;

/// Reads a circuit file from the disk, and the shelf files that it names, relative to itself.
///
/// ```
/// # use ohmhound::file::load_circuit;
/// let read = load_circuit("no-such-board.toml");
/// assert!(read.value.is_none());
/// assert!(read.findings[0].message.contains("no-such-board.toml"));
/// ```
pub fn load_circuit(path: impl AsRef<Path>) -> Parsed<Circuit> {
    let path = path.as_ref();
    match load_source(path) {
        Ok(source) => circuit_from(&source, path),
        Err(finding) => Parsed::refused(finding),
    }
}

/// Reads a circuit whose text was loaded from that path; the shelf files that it names are loaded
/// from beside it. A pipe can be read only once, so whoever needs the text twice keeps it.
pub fn circuit_from(source: &Arc<Source>, path: impl AsRef<Path>) -> Parsed<Circuit> {
    let folder = path.as_ref().parent().unwrap_or(Path::new(""));
    read_circuit(source, &mut |name| {
        load_source(folder.join(name)).map_err(|finding| match finding.help {
            Some(help) => format!("{}: {help}", finding.message),
            None => finding.message,
        })
    })
}

/// Reads a readings file from the disk; a name that ends in `.csv` is read as comma-separated
/// values.
pub fn load_readings(path: impl AsRef<Path>, circuit: &Circuit) -> Parsed<Readings> {
    let path = path.as_ref();
    match load_source(path) {
        Ok(source) => readings_from(&source, path, circuit),
        Err(finding) => Parsed::refused(finding),
    }
}

/// Reads readings whose text was loaded from that path.
pub fn readings_from(
    source: &Arc<Source>,
    path: impl AsRef<Path>,
    circuit: &Circuit,
) -> Parsed<Readings> {
    match path.as_ref().extension().is_some_and(|end| end.eq_ignore_ascii_case("csv")) {
        true => read_readings_csv(source, circuit),
        false => read_readings(source, circuit),
    }
}

/// The text of a file, without its byte order mark.
///
/// # Errors
///
/// The file is missing, a folder, larger than [`MOST_BYTES`](super::MOST_BYTES), or not UTF-8.
pub fn load_source(path: impl AsRef<Path>) -> Result<Arc<Source>, Finding> {
    let path = path.as_ref();
    let text = load_text(path)?;
    let text = text.strip_prefix('\u{feff}').map(str::to_owned).unwrap_or(text);
    Ok(Source::new(path.display().to_string(), text))
}

/// The text of a file as it is, with its byte order mark.
pub(super) fn load_text(path: &Path) -> Result<String, Finding> {
    let name = shown_path(path);
    let unreadable =
        |why: String| Finding::error(Code::Unreadable, format!("cannot read `{name}`: {why}"));
    let failed = |error: std::io::Error| match error.kind() {
        ErrorKind::NotFound => missing(path, unreadable("there is no such file".to_owned())),
        ErrorKind::PermissionDenied => unreadable("reading it is not permitted".to_owned()),
        _ if path.is_dir() => folder(&unreadable),
        kind => unreadable(kind.to_string()),
    };
    if path.is_dir() {
        return Err(folder(&unreadable));
    }
    let mut bytes = Vec::new();
    let file = File::open(path).map_err(failed)?;
    // One byte more than the limit is enough to know, however large the file or endless the pipe.
    file.take(MOST_BYTES as u64 + 1).read_to_end(&mut bytes).map_err(failed)?;
    if bytes.len() > MOST_BYTES {
        return Err(too_long(&name));
    }
    String::from_utf8(bytes).map_err(|error| {
        let at = error.utf8_error().valid_up_to();
        let bytes = error.as_bytes();
        let byte = bytes.get(at).copied().unwrap_or_default();
        let finding = unreadable(format!("it is not UTF-8 text; byte {} is 0x{byte:02x}", at + 1));
        if bytes.starts_with(&[0xff, 0xfe]) || bytes.starts_with(&[0xfe, 0xff]) {
            finding.help("it looks like UTF-16: save it as UTF-8")
        } else {
            finding.help("save it as UTF-8 in the editor")
        }
    })
}

/// The most characters of a path that a message repeats: its end, which names the file.
const MOST_OF_PATH: usize = 150;

/// A path as messages and results show it: on one line, without what a terminal would obey, and with
/// its end alone where it is longer than any that a person typed.
///
/// ```
/// assert_eq!(ohmhound::file::shown_path("a\u{1b}[31m.toml".as_ref()), "a\u{fffd}[31m.toml");
/// ```
pub fn shown_path(path: &Path) -> String {
    let whole = path.display().to_string().replace(char::is_control, "\u{fffd}");
    match whole.char_indices().rev().nth(MOST_OF_PATH) {
        Some((at, _)) => format!("…{}", whole.get(at..).unwrap_or_default()),
        None => whole,
    }
}

fn folder(unreadable: &dyn Fn(String) -> Finding) -> Finding {
    unreadable("it is a folder".to_owned()).help("name a file in it")
}

/// The finding with the name of a file in the same folder that is nearly the one wanted.
fn missing(path: &Path, finding: Finding) -> Finding {
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
    let wanted = path.file_name().and_then(|name| name.to_str());
    let Ok(entries) = std::fs::read_dir(folder.unwrap_or(Path::new("."))) else { return finding };
    let names: Vec<String> = entries
        .take(MOST_BESIDE)
        .filter_map(|entry| entry.ok()?.file_name().into_string().ok())
        .collect();
    let near = wanted.and_then(|wanted| nearest(wanted, names.iter().map(String::as_str)));
    match near {
        Some(near) => {
            let near: PathBuf = folder.map_or(near.into(), |folder| folder.join(near));
            finding.help(format!("did you mean `{}`?", shown_path(&near)))
        }
        None => finding,
    }
}

//! A file put in place of another one, whole or not at all.

use std::fs::File;
use std::hash::{Hash, Hasher};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

/// Writes a whole file, or puts it in place of the one there: written beside it, flushed, renamed
/// over it, so that whenever the program is killed there is either the new file or what was there
/// before. A link is written through.
///
/// # Errors
///
/// Why it could not be written, in a few words; what was there is as it was.
///
/// ```
/// use ohmhound::file::replace_file;
///
/// let path = std::env::temp_dir().join("ohmhound-replace-file.txt");
/// replace_file(&path, b"once").unwrap();
/// replace_file(&path, b"twice").unwrap();
/// assert_eq!(std::fs::read(&path).unwrap(), b"twice");
/// assert_eq!(replace_file(&std::env::temp_dir(), b""), Err("it is a folder".to_owned()));
/// # std::fs::remove_file(path).unwrap();
/// ```
pub fn replace_file(path: &Path, bytes: &[u8]) -> Result<(), String> {
    let path = end_of_link(path).map_err(|error| reason(&error))?;
    let wrong = match std::fs::metadata(&path) {
        Ok(known) if known.is_dir() => Some("it is a folder"),
        // A new file in place of a device or a pipe would be none of these any more.
        Ok(known) if !known.is_file() => Some("it is no plain file"),
        Ok(known) if known.permissions().readonly() => Some("it is write-protected"),
        _ => None,
    };
    match wrong {
        Some(wrong) => Err(wrong.to_owned()),
        None => replace(&path, bytes).map_err(|error| reason(&error)),
    }
}

/// What the system says of an error, without its number.
pub(super) fn reason(error: &io::Error) -> String {
    let text = error.to_string();
    let end = text.find(" (os error").unwrap_or(text.len());
    text[..end].to_lowercase()
}

/// Writes a file that is not there yet; one that is there already is left as it is.
///
/// # Errors
///
/// Why it could not be written; nothing is left of it then.
pub fn write_new_file(path: &Path, bytes: &[u8]) -> io::Result<()> {
    let file = File::options().write(true).create_new(true).open(path)?;
    write_whole(&file, bytes, &|| file.sync_all()).inspect_err(|_| {
        // What is half there is of no use to anybody, and in the way of the next attempt.
        let _ = std::fs::remove_file(path);
    })
}

/// The most links that lead on to the next one; systems have a limit like this one of their own.
const MOST_LINKS: usize = 40;

/// The file at the end of a name, through all links, be it there or not yet.
///
/// # Errors
///
/// That links go in a circle.
pub(super) fn end_of_link(path: &Path) -> io::Result<PathBuf> {
    if let Ok(whole) = path.canonicalize() {
        return Ok(whole);
    }
    // The last link may lead to nothing: it stays, and what it names is made.
    let mut end = path.to_owned();
    for _ in 0..MOST_LINKS {
        let Ok(target) = std::fs::read_link(&end) else { return Ok(end) };
        end = end.parent().unwrap_or(Path::new("")).join(target);
    }
    Err(io::Error::other("its links lead in a circle"))
}

/// The most bytes of a name beside which a longer one still fits: file systems take 255.
const LONG_NAME: usize = 200;

/// A hidden file beside another one.
pub(super) fn beside(path: &Path, end: &str) -> PathBuf {
    let mut name = std::ffi::OsString::from(".");
    let own = path.file_name().unwrap_or_default();
    if own.len() > LONG_NAME {
        // A number in its place, that of the name: two files with long names never share one.
        let mut hasher = std::hash::DefaultHasher::new();
        own.hash(&mut hasher);
        name.push(format!("{:016x}", hasher.finish()));
    } else {
        name.push(own);
    }
    name.push(".");
    name.push(end);
    path.with_file_name(name)
}

/// Puts bytes into a file in such a way that it holds either them or what it held before.
pub(super) fn replace(path: &Path, bytes: &[u8]) -> io::Result<()> {
    let new = beside(path, "new");
    let rights = std::fs::metadata(path).map(|known| known.permissions());
    let written = File::create(&new).and_then(|file| {
        // Who may read the file stays as it was.
        if let Ok(rights) = rights {
            file.set_permissions(rights)?;
        }
        write_whole(&file, bytes, &|| file.sync_all())
    });
    if let Err(error) = written.and_then(|()| std::fs::rename(&new, path)) {
        // What is half there is of no use to anybody.
        let _ = std::fs::remove_file(&new);
        return Err(error);
    }
    // The new name has to outlive a power cut too, where the system can promise that.
    if let Some(folder) = path.parent().filter(|folder| !folder.as_os_str().is_empty())
        && let Ok(folder) = File::open(folder)
    {
        let _ = folder.sync_all();
    }
    Ok(())
}

fn write_whole(
    mut to: impl Write,
    bytes: &[u8],
    sync: &dyn Fn() -> io::Result<()>,
) -> io::Result<()> {
    to.write_all(bytes)?;
    to.flush()?;
    sync()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A disk with room for a few bytes.
    struct Full(usize);

    impl Write for Full {
        fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
            if self.0 == 0 {
                return Err(io::ErrorKind::StorageFull.into());
            }
            let taken = bytes.len().min(self.0);
            self.0 -= taken;
            Ok(taken)
        }

        fn flush(&mut self) -> io::Result<()> {
            Ok(())
        }
    }

    #[test]
    fn a_full_disk_is_an_error_and_not_a_short_file() {
        let error = write_whole(Full(3), b"circuit", &|| Ok(())).unwrap_err();
        assert_eq!(error.kind(), io::ErrorKind::StorageFull);
        let error = write_whole(Full(99), b"x", &|| Err(io::ErrorKind::Other.into())).unwrap_err();
        assert_eq!(error.kind(), io::ErrorKind::Other);
    }
}

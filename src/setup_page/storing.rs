//! The sheet's file: read as text, written whole or not at all, and never over a change that nobody saw.

use crate::outputs::{FileError, Over, write_whole};
use crate::sheet::MAX_SHEET_BYTES;
use sha2::{Digest, Sha256};
use std::fs;
use std::io::{self, Read};
use std::path::{Path, PathBuf};

/// Why the sheet's file cannot be read or written.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum StoreError {
    /// Reading failed.
    #[error("the sheet `{path}` cannot be read: {source}")]
    Unreadable {
        /// The sheet.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// Writing failed; the sheet is as it was.
    #[error("the sheet cannot be written: {0}")]
    Unwritable(#[from] FileError),
}

impl StoreError {
    /// What to do next.
    pub const fn hint(&self) -> &'static str {
        match self {
            Self::Unreadable { .. } => "see that it is a plain text file that you may read",
            Self::Unwritable(FileError::NotOurs { .. }) => {
                "allow it to be written, or name another sheet with `--sheet`"
            }
            Self::Unwritable(FileError::Changed { .. }) => {
                "save again: the page shows both texts before it writes"
            }
            Self::Unwritable(_) => {
                "see that its folder is there and may be written to, and that the disk is not full"
            }
        }
    }
}

/// The text on disk; `None` where there is no file.
///
/// # Errors
/// [`StoreError::Unreadable`], also for a file that is no text or far too large.
pub(super) fn read(path: &Path) -> Result<Option<String>, StoreError> {
    let unreadable = |source| StoreError::Unreadable {
        path: path.to_path_buf(),
        source,
    };
    let file = match fs::File::open(path) {
        Ok(file) => file,
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(None),
        Err(error) => return Err(unreadable(error)),
    };
    let mut text = String::new();
    file.take(MAX_SHEET_BYTES as u64 + 1)
        .read_to_string(&mut text)
        .map_err(unreadable)?;
    if text.len() > MAX_SHEET_BYTES {
        return Err(unreadable(io::Error::other(
            "it is too large for a run sheet",
        )));
    }
    Ok(Some(text))
}

/// What a text on disk is known by.
pub(super) fn key_of(text: Option<&str>) -> String {
    match text {
        Some(text) => super::gate::in_hexadecimal(&Sha256::digest(text)),
        None => "none".into(),
    }
}

/// Writes the text over the sheet as it was read (`seen`; `None` where there was none), so that nobody ever sees
/// half a sheet and no change that nobody saw is lost.
///
/// # Errors
/// [`StoreError::Unwritable`]; the sheet is then as it was.
pub(super) fn write(path: &Path, text: &str, seen: Option<&str>) -> Result<(), StoreError> {
    // A link stays a link: what it points to is written.
    let home = fs::canonicalize(path).unwrap_or_else(|_| path.to_path_buf());
    let over = Over::Seen(seen.map(str::as_bytes));
    Ok(write_whole(&home, text.as_bytes(), over)?)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sheet_is_replaced_whole_and_nothing_is_left_beside_it() {
        let home = tempfile::tempdir().unwrap();
        let path = home.path().join("run.toml");
        assert_eq!(read(&path).unwrap(), None);
        write(&path, "a = 1\n", None).unwrap();
        write(&path, "a = 2\n", Some("a = 1\n")).unwrap();
        assert_eq!(read(&path).unwrap().as_deref(), Some("a = 2\n"));
        assert_eq!(fs::read_dir(home.path()).unwrap().count(), 1);
        assert_ne!(key_of(Some("a = 2\n")), key_of(Some("a = 1\n")));
    }

    #[test]
    fn a_protected_sheet_stays_as_it_was() {
        let home = tempfile::tempdir().unwrap();
        let path = home.path().join("run.toml");
        write(&path, "a = 1\n", None).unwrap();
        let mut permissions = fs::metadata(&path).unwrap().permissions();
        permissions.set_readonly(true);
        fs::set_permissions(&path, permissions).unwrap();
        assert!(
            write(&path, "a = 2\n", Some("a = 1\n"))
                .unwrap_err()
                .to_string()
                .contains("protected")
        );
        assert_eq!(read(&path).unwrap().as_deref(), Some("a = 1\n"));
        assert!(write(&home.path().join("no/run.toml"), "", None).is_err());
    }

    #[test]
    fn a_change_that_nobody_saw_is_kept() {
        let home = tempfile::tempdir().unwrap();
        let path = home.path().join("run.toml");
        write(&path, "a = 1\n", None).unwrap();
        fs::write(&path, "a = 7 # by hand\n").unwrap();
        for seen in [None, Some("a = 1\n")] {
            let error = write(&path, "a = 2\n", seen).unwrap_err();
            assert!(matches!(error, StoreError::Unwritable(_)), "{error}");
        }
        assert_eq!(read(&path).unwrap().as_deref(), Some("a = 7 # by hand\n"));
    }
}

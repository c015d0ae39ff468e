//! The sheet's file: read as text, written whole or not at all, and never over a change that nobody saw.

use crate::sheet::MAX_SHEET_BYTES;
use sha2::{Digest, Sha256};
use std::fs;
use std::io::{self, Read, Write};
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
    #[error("the sheet `{path}` cannot be written: {source}")]
    Unwritable {
        /// The sheet.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
}

impl StoreError {
    /// What to do next.
    pub const fn hint(&self) -> &'static str {
        match self {
            Self::Unreadable { .. } => "see that it is a plain text file that you may read",
            Self::Unwritable { .. } => {
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

/// Writes the text beside the sheet's place and then gives it the sheet's name, so that nobody ever sees
/// half a sheet.
///
/// # Errors
/// [`StoreError::Unwritable`]; the sheet is then as it was.
pub(super) fn write(path: &Path, text: &str) -> Result<(), StoreError> {
    // A link stays a link: what it points to is written.
    let home = fs::canonicalize(path).unwrap_or_else(|_| path.to_path_buf());
    replace(&home, text).map_err(|source| StoreError::Unwritable {
        path: path.to_path_buf(),
        source,
    })
}

fn replace(path: &Path, text: &str) -> io::Result<()> {
    let folder = path
        .parent()
        .filter(|folder| !folder.as_os_str().is_empty());
    let old = fs::metadata(path).ok().map(|old| old.permissions());
    if old.as_ref().is_some_and(fs::Permissions::readonly) {
        return Err(io::Error::new(
            io::ErrorKind::PermissionDenied,
            "it is protected against writing",
        ));
    }
    let mut builder = tempfile::Builder::new();
    builder.prefix(".gripline-sheet-");
    #[cfg(unix)]
    let everybody = {
        use std::os::unix::fs::PermissionsExt;
        // The system takes off what the user's mask forbids.
        fs::Permissions::from_mode(0o666)
    };
    #[cfg(unix)]
    builder.permissions(everybody);
    let mut fresh = builder.tempfile_in(folder.unwrap_or_else(|| Path::new(".")))?;
    fresh.write_all(text.as_bytes())?;
    if let Some(permissions) = old {
        fresh.as_file().set_permissions(permissions)?;
    }
    fresh.as_file().sync_all()?;
    fresh.persist(path)?;
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sheet_is_replaced_whole_and_nothing_is_left_beside_it() {
        let home = tempfile::tempdir().unwrap();
        let path = home.path().join("run.toml");
        assert_eq!(read(&path).unwrap(), None);
        write(&path, "a = 1\n").unwrap();
        write(&path, "a = 2\n").unwrap();
        assert_eq!(read(&path).unwrap().as_deref(), Some("a = 2\n"));
        assert_eq!(fs::read_dir(home.path()).unwrap().count(), 1);
        assert_ne!(key_of(Some("a = 2\n")), key_of(Some("a = 1\n")));
    }

    #[test]
    fn a_protected_sheet_stays_as_it_was() {
        let home = tempfile::tempdir().unwrap();
        let path = home.path().join("run.toml");
        write(&path, "a = 1\n").unwrap();
        let mut permissions = fs::metadata(&path).unwrap().permissions();
        permissions.set_readonly(true);
        fs::set_permissions(&path, permissions).unwrap();
        assert!(
            write(&path, "a = 2\n")
                .unwrap_err()
                .to_string()
                .contains("protected")
        );
        assert_eq!(read(&path).unwrap().as_deref(), Some("a = 1\n"));
        assert!(write(&home.path().join("no/run.toml"), "").is_err());
    }
}

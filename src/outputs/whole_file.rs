//! One file that appears whole or not at all.

use std::io::{self, Write};
use std::path::{Path, PathBuf};

/// Why a file could not be written.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum FileError {
    /// A file of that name is there.
    #[error("`{path}` is there already, and it was kept")]
    Exists {
        /// The file.
        path: PathBuf,
    },
    /// The name is that of a folder, or none at all.
    #[error("`{path}` does not name a file")]
    NotAFile {
        /// What was named.
        path: PathBuf,
    },
    /// The file could not be written.
    #[error("`{path}` could not be written: {source}")]
    Io {
        /// The file.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
}

impl FileError {
    /// What to do next.
    pub const fn hint(&self) -> &'static str {
        match self {
            Self::Exists { .. } => {
                "pass `--replace` to write over it, or another name with `--out`"
            }
            Self::NotAFile { .. } => {
                "name a file, for example with the folder before it: `--out folder/name`"
            }
            Self::Io { .. } => {
                "choose a place that you may write to, with `--out`, and see that the disk is not full"
            }
        }
    }
}

/// Writes a file beside its place and moves it there whole; what was there goes only when `replace` is set.
///
/// # Errors
/// [`FileError`]; nothing is left behind then.
pub fn write_whole(path: &Path, bytes: &[u8], replace: bool) -> Result<(), FileError> {
    let failed = |source| FileError::Io {
        path: path.to_path_buf(),
        source,
    };
    if path.is_dir() || path.file_name().is_none() {
        return Err(FileError::NotAFile {
            path: path.to_path_buf(),
        });
    }
    if !replace && path.exists() {
        return Err(FileError::Exists {
            path: path.to_path_buf(),
        });
    }
    let parent = match path.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    };
    let mut fresh = tempfile::Builder::new()
        .prefix(".gripline-")
        .tempfile_in(parent)
        .map_err(failed)?;
    fresh.write_all(bytes).map_err(failed)?;
    fresh.as_file().sync_all().map_err(failed)?;
    readable(fresh.path()).map_err(failed)?;
    let placed = if replace {
        fresh.persist(path)
    } else {
        // Someone may have written it meanwhile.
        fresh.persist_noclobber(path)
    };
    match placed {
        Ok(_) => Ok(()),
        Err(error) if error.error.kind() == io::ErrorKind::AlreadyExists => {
            Err(FileError::Exists {
                path: path.to_path_buf(),
            })
        }
        Err(error) => Err(failed(error.error)),
    }
}

/// Temporary files are private; results are for everyone who may read the folder they lie in.
#[cfg(unix)]
fn readable(path: &Path) -> io::Result<()> {
    use std::os::unix::fs::PermissionsExt;
    std::fs::set_permissions(path, std::fs::Permissions::from_mode(0o644))
}

#[cfg(not(unix))]
fn readable(_path: &Path) -> io::Result<()> {
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names(folder: &Path) -> Vec<String> {
        let entries = std::fs::read_dir(folder).unwrap();
        entries
            .map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned())
            .collect()
    }

    #[test]
    fn a_file_is_kept_unless_it_may_be_replaced() {
        let home = tempfile::tempdir().unwrap();
        let path = home.path().join("kit.pdf");
        write_whole(&path, b"one", false).unwrap();
        let again = write_whole(&path, b"two", false);
        assert!(matches!(again, Err(FileError::Exists { .. })));
        assert_eq!(std::fs::read(&path).unwrap(), b"one");
        write_whole(&path, b"two", true).unwrap();
        assert_eq!(std::fs::read(&path).unwrap(), b"two");
        assert_eq!(names(home.path()), ["kit.pdf"]);
    }

    #[test]
    fn what_is_no_file_is_refused_and_nothing_is_left() {
        let home = tempfile::tempdir().unwrap();
        let folder = write_whole(home.path(), b"one", true);
        assert!(matches!(folder, Err(FileError::NotAFile { .. })));
        let nowhere = home.path().join("none").join("kit.pdf");
        assert!(matches!(
            write_whole(&nowhere, b"one", false),
            Err(FileError::Io { .. })
        ));
        assert!(names(home.path()).is_empty());
    }
}

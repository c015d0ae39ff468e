//! A result folder that appears whole or not at all.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

/// Why results could not be written.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum WriteError {
    /// There is a result of that name already.
    #[error("there is a result in `{path}` already, and it was kept")]
    Exists {
        /// The folder.
        path: PathBuf,
    },
    /// The folder could not be made or filled.
    #[error("the results could not be written to `{path}`: {source}")]
    Io {
        /// The folder or file.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// The clip's name cannot name a folder.
    #[error("`{path}` has no name to call the result folder by")]
    NoName {
        /// The clip.
        path: PathBuf,
    },
}

impl WriteError {
    /// What to do next.
    pub const fn hint(&self) -> &'static str {
        match self {
            Self::Exists { .. } => {
                "pass `--replace` to write it anew, or another folder with `--out`"
            }
            Self::Io { .. } => {
                "choose a folder that you may write to, with `--out`, and see that the disk is not full"
            }
            Self::NoName { .. } => "give the clip a plain file name",
        }
    }
}

/// Folder of a clip's results: `<out>/<clip name without its ending>`.
///
/// # Errors
/// [`WriteError::NoName`] for a path without a file name.
pub fn result_folder(out: &Path, clip: &Path) -> Result<PathBuf, WriteError> {
    let stem = clip.file_stem().filter(|stem| !stem.is_empty());
    stem.map(|stem| out.join(stem))
        .ok_or_else(|| WriteError::NoName {
            path: clip.to_path_buf(),
        })
}

/// A result folder in the making: its files are gathered in a hidden folder beside its place, which
/// takes its name when all are there. Dropped before that, it leaves nothing behind.
#[derive(Debug)]
pub struct NewResult {
    folder: PathBuf,
    fresh: tempfile::TempDir,
}

fn failed(path: &Path) -> impl FnOnce(io::Error) -> WriteError {
    let path = path.to_path_buf();
    move |source| WriteError::Io { path, source }
}

impl NewResult {
    /// Begins the result that will be called `folder`.
    ///
    /// # Errors
    /// [`WriteError::Exists`] where a result is there and `replace` is not set; [`WriteError::Io`].
    pub fn begin(folder: &Path, replace: bool) -> Result<Self, WriteError> {
        if folder.exists() && !replace {
            return Err(WriteError::Exists {
                path: folder.to_path_buf(),
            });
        }
        let parent = parent_of(folder);
        fs::create_dir_all(parent).map_err(failed(parent))?;
        let fresh = tempfile::Builder::new()
            .prefix(".gripline-")
            .tempdir_in(parent)
            .map_err(failed(parent))?;
        Ok(Self {
            folder: folder.to_path_buf(),
            fresh,
        })
    }

    /// Where a file that is written piece by piece goes for now.
    pub fn path_for(&self, name: &str) -> PathBuf {
        self.fresh.path().join(name)
    }

    /// Writes a file.
    ///
    /// # Errors
    /// [`WriteError::Io`].
    pub fn write(&self, name: &str, bytes: &[u8]) -> Result<(), WriteError> {
        let path = self.path_for(name);
        fs::write(&path, bytes).map_err(failed(&path))
    }

    /// Gives the folder its name. An old result of that name goes once the new one is in place.
    ///
    /// # Errors
    /// [`WriteError::Io`]; the old result is then where it was.
    pub fn finish(self) -> Result<(), WriteError> {
        let (folder, fresh) = (self.folder, self.fresh);
        open_to_readers(fresh.path()).map_err(failed(&folder))?;
        if folder.exists() {
            let parent = parent_of(&folder);
            let aside = tempfile::Builder::new()
                .prefix(".gripline-old-")
                .tempdir_in(parent)
                .map_err(failed(parent))?;
            let old = aside.path().join("result");
            fs::rename(&folder, &old).map_err(failed(&folder))?;
            if let Err(source) = fs::rename(fresh.path(), &folder) {
                // The old result goes back where it was; nothing is lost.
                fs::rename(&old, &folder).map_err(failed(&folder))?;
                return Err(WriteError::Io {
                    path: folder,
                    source,
                });
            }
        } else {
            fs::rename(fresh.path(), &folder).map_err(failed(&folder))?;
        }
        // The folder has moved to its name: nothing is left to clean up under the temporary one.
        let _moved = fresh.keep();
        Ok(())
    }
}

fn parent_of(folder: &Path) -> &Path {
    folder
        .parent()
        .filter(|parent| !parent.as_os_str().is_empty())
        .unwrap_or_else(|| Path::new("."))
}

/// Temporary folders are private; results are for everyone who may read the folder they lie in.
#[cfg(unix)]
fn open_to_readers(folder: &Path) -> io::Result<()> {
    use std::os::unix::fs::PermissionsExt;
    fs::set_permissions(folder, fs::Permissions::from_mode(0o755))
}

#[cfg(not(unix))]
fn open_to_readers(_folder: &Path) -> io::Result<()> {
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn write_result(
        folder: &Path,
        files: &[(&str, Vec<u8>)],
        replace: bool,
    ) -> Result<(), WriteError> {
        let result = NewResult::begin(folder, replace)?;
        for (name, bytes) in files {
            result.write(name, bytes)?;
        }
        result.finish()
    }

    #[test]
    fn an_old_result_is_kept_unless_asked() {
        let home = tempfile::tempdir().unwrap();
        let folder = home.path().join("deep/run");
        write_result(&folder, &[("a.txt", b"one".to_vec())], false).unwrap();
        let again = write_result(&folder, &[("a.txt", b"two".to_vec())], false);
        assert!(matches!(again, Err(WriteError::Exists { .. })));
        assert_eq!(fs::read(folder.join("a.txt")).unwrap(), b"one");
        write_result(&folder, &[("b.txt", b"two".to_vec())], true).unwrap();
        assert!(!folder.join("a.txt").exists());
        assert_eq!(fs::read(folder.join("b.txt")).unwrap(), b"two");
        let left: Vec<_> = fs::read_dir(folder.parent().unwrap()).unwrap().collect();
        assert_eq!(left.len(), 1, "nothing half-written stays behind");
    }

    #[test]
    fn a_file_that_cannot_be_written_leaves_nothing() {
        let home = tempfile::tempdir().unwrap();
        let folder = home.path().join("run");
        let files = [("fine.txt", vec![1]), ("no/such/folder.txt", vec![2])];
        assert!(matches!(
            write_result(&folder, &files, false),
            Err(WriteError::Io { .. })
        ));
        assert_eq!(fs::read_dir(home.path()).unwrap().count(), 0);
    }
}

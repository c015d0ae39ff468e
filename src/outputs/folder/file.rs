//! One file that appears whole or not at all.

use super::parent_of;
use super::swap::put_new;
use super::work::{FolderLock, Work};
use std::fs::{self, File};
use std::io::{self, Read, Write};
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
    /// The file of that name is somebody's.
    #[error("`{path}` was kept as it is: it is {what}")]
    NotOurs {
        /// The file.
        path: PathBuf,
        /// What it is.
        what: &'static str,
    },
    /// The file is no longer as it was read.
    #[error("`{path}` was changed in the meantime, and it was kept")]
    Changed {
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
            Self::NotOurs { .. } => "give another name with `--out`; nothing was changed",
            Self::Changed { .. } => "read it again, then write it",
            Self::NotAFile { .. } => {
                "name a file, for example with the folder before it: `--out folder/name`"
            }
            Self::Io { .. } => {
                "choose a place that you may write to, and see that the disk is not full"
            }
        }
    }
}

/// What may be written over.
#[derive(Debug, Clone, Copy)]
pub enum Over<'a> {
    /// Nothing: the name must be free.
    Nothing,
    /// A file whose first bytes and some of the later ones are these: one that this tool wrote.
    Marked {
        /// What it begins with.
        start: &'a [u8],
        /// What stands somewhere in it.
        within: &'a [u8],
    },
    /// The file with just this content, which somebody has seen; `None` where there was none.
    Seen(Option<&'a [u8]>),
}

/// Largest file that is searched for a mark.
const MOST_MARKED_BYTES: u64 = 64 * 1024 * 1024;

/// Writes a file beside its place and moves it there whole. A file that may be written over keeps its
/// permissions.
///
/// # Errors
/// [`FileError`]; nothing is changed then and nothing left behind.
pub fn write_whole(path: &Path, bytes: &[u8], over: Over<'_>) -> Result<(), FileError> {
    let failed = |source| FileError::Io {
        path: path.to_path_buf(),
        source,
    };
    if path.is_dir() || path.file_name().is_none() {
        return Err(FileError::NotAFile {
            path: path.to_path_buf(),
        });
    }
    // Refused before anything is written; looked at again at the end.
    let old = allowed(path, over)?;
    let parent = parent_of(path);
    let work = Work::begin(parent).map_err(failed)?;
    let written = fill(&work.single(), bytes, old).map_err(failed);
    let placed = written.and_then(|()| {
        let held = FolderLock::wait_for(parent);
        let there = allowed(path, over)?;
        let moved = match there {
            Some(_) => fs::rename(work.single(), path),
            // Someone who is no gripline may have written it meanwhile.
            None => put_new(&work.single(), path),
        };
        held.sync();
        moved.map_err(|error| match error.kind() {
            io::ErrorKind::AlreadyExists => FileError::Exists {
                path: path.to_path_buf(),
            },
            _ => failed(error),
        })
    });
    work.end();
    placed
}

fn fill(fresh: &Path, bytes: &[u8], old: Option<fs::Permissions>) -> io::Result<()> {
    let mut file = File::create_new(fresh)?;
    file.write_all(bytes)?;
    if let Some(permissions) = old {
        file.set_permissions(permissions)?;
    }
    file.sync_all()
}

/// The permissions of what is written over; `None` where the name is free.
fn allowed(path: &Path, over: Over<'_>) -> Result<Option<fs::Permissions>, FileError> {
    let path_buf = || path.to_path_buf();
    let failed = |source| FileError::Io {
        path: path_buf(),
        source,
    };
    let about = match fs::symlink_metadata(path) {
        Ok(about) => about,
        Err(error) if error.kind() == io::ErrorKind::NotFound => {
            return match over {
                Over::Seen(Some(_)) => Err(FileError::Changed { path: path_buf() }),
                _ => Ok(None),
            };
        }
        Err(error) => return Err(failed(error)),
    };
    let not_ours = |what| {
        Err(FileError::NotOurs {
            path: path_buf(),
            what,
        })
    };
    match over {
        Over::Nothing => return Err(FileError::Exists { path: path_buf() }),
        _ if about.is_symlink() => return not_ours("a link"),
        _ if !about.is_file() => return not_ours("no plain file"),
        Over::Seen(seen) => {
            if seen != Some(&fs::read(path).map_err(failed)?[..]) {
                return Err(FileError::Changed { path: path_buf() });
            }
            if about.permissions().readonly() {
                return not_ours("protected against writing");
            }
        }
        Over::Marked { start, within } => {
            if !marked(path, start, within).map_err(failed)? {
                return not_ours("not a file that gripline wrote");
            }
        }
    }
    Ok(Some(about.permissions()))
}

fn marked(path: &Path, start: &[u8], within: &[u8]) -> io::Result<bool> {
    let mut bytes = Vec::new();
    File::open(path)?
        .take(MOST_MARKED_BYTES)
        .read_to_end(&mut bytes)?;
    Ok(bytes.starts_with(start) && bytes.windows(within.len()).any(|part| part == within))
}

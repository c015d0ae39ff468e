//! The one door to the disk: a result folder or a file appears whole or not at all, and nothing goes that this
//! tool did not write.
//!
//! A result is gathered in a hidden folder beside its place (`work.rs`) and gets its name at the end. Where a
//! result has that name already, the two change places at once (`swap.rs`), so that a process that is killed
//! leaves the old result or the new one. Only a folder that holds a result and nothing else, each file with the
//! hash that it was written with, is ever replaced (`ours.rs`), and never one that holds an input. Locks on the
//! parent folder keep two processes from taking turns in the middle.
//!
//! # What holds of every file that is written
//!
//! - Whole or not at all. Files are gathered in a hidden folder `.gripline-work-*` beside their place, brought to
//!   the disk, listed with their hashes in `gripline-contents.json`, and then get their name. A new name must be
//!   free at that moment (`RENAME_NOREPLACE`); an old result and the new one change places at once
//!   (`RENAME_EXCHANGE`). Linux and macOS have both calls. Elsewhere, and on file systems without them, the old
//!   result waits in the hidden folder while two renames are made, under a note of its name; a stop between the two
//!   leaves its place empty until the next start puts it back.
//! - Only what is ours goes. A folder is replaced only if it holds a result of the same kind and nothing else, each
//!   file with its listed hash, and no input. This is asked before the work, again under the lock, and once more of
//!   what was exchanged, which goes back if a file was put into it at the last moment. Files are removed one by
//!   one, by known names; a folder goes only when it is empty.
//! - One wins. The parent folder is locked (`flock`) while names change hands. A result that is not the one that
//!   stood there at the start is not replaced, so of several processes the first wins and the others say so.
//!   Systems that lock no folders do without; their names still change hands one at a time.
//! - The next start cleans up (`recover`, called by every command that writes). A working folder has a locked file
//!   as long as its process lives, however it ends. What a dead one left is removed or put back, with a note; what
//!   this tool does not write is brought to light as `kept-by-gripline-*`.
//!
//! Windows has not been tried: a folder cannot be locked there, and the step-by-step way is taken.

mod file;
mod ours;
mod swap;
mod work;

#[cfg(test)]
mod tests;

pub use file::{FileError, Over, write_whole};
pub use ours::{CONTENTS_NAME, Foreign, Kind};
pub use work::{Recovered, recover};

use ours::{Identity, examine, seal};
use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use swap::{exchange, put_new};
use work::{FolderLock, Work};

/// Why results could not be written.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum WriteError {
    /// There is something of that name already.
    #[error("there is a result in `{path}` already, and it was kept")]
    Exists {
        /// The folder.
        path: PathBuf,
    },
    /// Another process wrote or took away a result of that name in the meantime.
    #[error("another gripline wrote `{path}` in the meantime, and its result was kept")]
    Meanwhile {
        /// The folder.
        path: PathBuf,
    },
    /// What has that name is not a result of this tool alone.
    #[error("`{path}` was kept as it is: it {what}")]
    NotOurs {
        /// The folder.
        path: PathBuf,
        /// What about it is not this tool's.
        what: Foreign,
    },
    /// What has that name holds a file that is read.
    #[error("`{path}` was kept as it is: `{input}`, which is to be read, lies in it")]
    HoldsInput {
        /// The folder.
        path: PathBuf,
        /// The input.
        input: PathBuf,
    },
    /// What was to be the folder of the results is none.
    #[error("`{path}` is {what}, and no folder for results")]
    NotAFolder {
        /// The path.
        path: PathBuf,
        /// What it is.
        what: &'static str,
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
    #[error("the name of `{path}` cannot name a result folder: {why}")]
    NoName {
        /// The clip.
        path: PathBuf,
        /// Why not.
        why: &'static str,
    },
}

impl WriteError {
    /// What to do next.
    pub const fn hint(&self) -> &'static str {
        match self {
            Self::Exists { .. } => {
                "pass `--replace` to write it anew, or another folder with `--out`"
            }
            Self::Meanwhile { .. } => {
                "look at that result first; to write over it, run this again with `--replace`"
            }
            Self::NotOurs { .. } => {
                "move it elsewhere yourself, or choose another folder with `--out`; nothing was changed"
            }
            Self::HoldsInput { .. } => "choose another folder with `--out`; nothing was changed",
            Self::NotAFolder { .. } => "choose another folder with `--out`",
            Self::Io { .. } => {
                "choose a folder that you may write to, with `--out`, and see that the disk is not full"
            }
            Self::NoName { .. } => "give the clip a plain file name, such as run-7.mp4",
        }
    }
}

/// Folder of a clip's results: `<out>/<clip name without its ending>`.
///
/// # Errors
/// [`WriteError::NoName`] for a name that is only an ending or dots, or that would make a hidden folder.
pub fn result_folder(out: &Path, clip: &Path) -> Result<PathBuf, WriteError> {
    let refused = |why| WriteError::NoName {
        path: clip.to_path_buf(),
        why,
    };
    let stem = clip
        .file_stem()
        .filter(|stem| !stem.is_empty())
        .ok_or_else(|| refused("there is no file name in it"))?;
    if stem.as_encoded_bytes().starts_with(b".") {
        return Err(refused(
            "it begins with a dot, so the folder would be hidden",
        ));
    }
    Ok(out.join(stem))
}

/// A moment of putting a result in its place. Tests stop the process there.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Step {
    /// The new result is whole, under its hidden name.
    Sealed,
    /// The old result has left its place, which is empty now: only where two folders cannot change places.
    OldAside,
    /// The new result has its name.
    InPlace,
    /// The old result is gone.
    OldGone,
}

/// A result in the making: its files are gathered in a hidden folder beside its place, which takes its name when
/// all are there. Dropped before that, it leaves nothing behind.
#[derive(Debug)]
pub struct NewResult {
    folder: PathBuf,
    kind: Kind,
    /// What stood there at the start and may be replaced.
    replaces: Option<Identity>,
    work: Option<Work>,
    /// The topmost folder that was made for it.
    made: Option<PathBuf>,
}

fn failed(path: &Path) -> impl FnOnce(io::Error) -> WriteError {
    let path = path.to_path_buf();
    move |source| WriteError::Io { path, source }
}

impl NewResult {
    /// Begins the result that will be called `folder`. Asked before the work as well as after it: nobody wants to
    /// wait for a refusal. `inputs` are the files that are read; they may not lie in what is replaced.
    ///
    /// # Errors
    /// [`WriteError`], all but [`WriteError::Meanwhile`].
    pub fn begin(
        folder: &Path,
        kind: Kind,
        replace: bool,
        inputs: &[PathBuf],
    ) -> Result<Self, WriteError> {
        let replaces = if fs::symlink_metadata(folder).is_err() {
            None
        } else if replace {
            Some(replaceable(folder, kind, inputs)?)
        } else {
            return Err(WriteError::Exists {
                path: folder.to_path_buf(),
            });
        };
        let parent = parent_of(folder);
        let made = make_folders(parent)?;
        let mut result = Self {
            folder: folder.to_path_buf(),
            kind,
            replaces,
            work: None,
            made,
        };
        let work = Work::begin(parent).map_err(failed(parent))?;
        fs::create_dir(work.result()).map_err(failed(parent))?;
        result.work = Some(work);
        Ok(result)
    }

    /// Where a file that is written piece by piece goes for now.
    pub fn path_for(&self, name: &str) -> PathBuf {
        let home = self.work.as_ref().map(Work::result);
        home.unwrap_or_default().join(name)
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
    /// [`WriteError`]; what had that name is then where it was.
    pub fn finish(self) -> Result<(), WriteError> {
        self.finish_by(true, &|_| ())
    }

    /// The same; without `atomic` as on a system that cannot let two folders change places at once.
    fn finish_by(mut self, atomic: bool, reached: &dyn Fn(Step)) -> Result<(), WriteError> {
        let Some(work) = self.work.take() else {
            return Ok(());
        };
        let done = self.place(&work, atomic, reached);
        if done.is_ok() {
            // What was made for the result holds it now.
            self.made = None;
        }
        // An old result that cannot be taken away whole comes to light at the next start.
        work.end();
        if done.is_ok() {
            reached(Step::OldGone);
        }
        done
    }

    fn place(&self, work: &Work, atomic: bool, reached: &dyn Fn(Step)) -> Result<(), WriteError> {
        let (folder, fresh) = (&self.folder, work.result());
        seal(&fresh, self.kind).map_err(failed(folder))?;
        open_to_readers(&fresh).map_err(failed(folder))?;
        reached(Step::Sealed);
        let held = FolderLock::wait_for(parent_of(folder));
        match &self.replaces {
            None => put_new(&fresh, folder).map_err(|error| self.refused(error))?,
            Some(then) => {
                self.see_that_it_is(then, folder)?;
                self.replace(work, then, atomic, reached)?;
            }
        }
        held.sync();
        reached(Step::InPlace);
        Ok(())
    }

    /// Puts the new result where the old one is. The parent folder is locked.
    fn replace(
        &self,
        work: &Work,
        then: &Identity,
        atomic: bool,
        reached: &dyn Fn(Step),
    ) -> Result<(), WriteError> {
        let (folder, fresh) = (&self.folder, work.result());
        if let Some(exchanged) = atomic.then(|| exchange(&fresh, folder)).flatten() {
            exchanged.map_err(failed(folder))?;
            // Somebody may have put a file into it at the last moment.
            let still = self.see_that_it_is(then, &fresh);
            if still.is_err() {
                exchange(&fresh, folder)
                    .unwrap_or(Ok(()))
                    .map_err(failed(folder))?;
            }
            return still;
        }
        let old = work.aside(folder).map_err(failed(folder))?;
        fs::rename(folder, &old).map_err(failed(folder))?;
        reached(Step::OldAside);
        let placed = self
            .see_that_it_is(then, &old)
            .and_then(|()| put_new(&fresh, folder).map_err(|error| self.refused(error)));
        if placed.is_err() {
            // The old result goes back where it was; nothing is lost.
            put_new(&old, folder).map_err(failed(folder))?;
        }
        placed
    }

    /// Says that what is at `at` is the result that stood here at the start, unchanged.
    fn see_that_it_is(&self, then: &Identity, at: &Path) -> Result<(), WriteError> {
        let path = self.folder.clone();
        match examine(at, self.kind) {
            Ok(now) if now == *then => Ok(()),
            Ok(_) => Err(WriteError::Meanwhile { path }),
            Err(_) if fs::symlink_metadata(at).is_err() => Err(WriteError::Meanwhile { path }),
            Err(what) => Err(WriteError::NotOurs { path, what }),
        }
    }

    fn refused(&self, error: io::Error) -> WriteError {
        let path = self.folder.clone();
        match error.kind() {
            io::ErrorKind::AlreadyExists | io::ErrorKind::DirectoryNotEmpty => {
                WriteError::Meanwhile { path }
            }
            _ => WriteError::Io {
                path,
                source: error,
            },
        }
    }
}

impl Drop for NewResult {
    fn drop(&mut self) {
        if let Some(work) = self.work.take() {
            work.end();
        }
        // Folders that were made for a result which did not come about go again, if they are empty.
        if let Some(top) = &self.made {
            let parent = parent_of(&self.folder);
            for folder in parent.ancestors() {
                if fs::remove_dir(folder).is_err() || folder == top {
                    break;
                }
            }
        }
    }
}

/// What stands at a name, if it may be replaced.
fn replaceable(folder: &Path, kind: Kind, inputs: &[PathBuf]) -> Result<Identity, WriteError> {
    if let Some(input) = inputs.iter().find(|input| lies_in(input, folder)) {
        return Err(WriteError::HoldsInput {
            path: folder.to_path_buf(),
            input: input.clone(),
        });
    }
    examine(folder, kind).map_err(|what| WriteError::NotOurs {
        path: folder.to_path_buf(),
        what,
    })
}

/// Whether a file is a folder or lies in it, by its own path or by that of what it links to.
fn lies_in(input: &Path, folder: &Path) -> bool {
    let Ok(folder) = fs::canonicalize(folder) else {
        return false;
    };
    let itself = fs::canonicalize(parent_of(input))
        .ok()
        .zip(input.file_name())
        .map(|(parent, name)| parent.join(name));
    let linked = fs::canonicalize(input).ok();
    [itself, linked]
        .into_iter()
        .flatten()
        .any(|path| path.starts_with(&folder))
}

fn parent_of(path: &Path) -> &Path {
    path.parent()
        .filter(|parent| !parent.as_os_str().is_empty())
        .unwrap_or_else(|| Path::new("."))
}

/// Makes a folder and those that it lies in; the topmost that was not there.
fn make_folders(folder: &Path) -> Result<Option<PathBuf>, WriteError> {
    let mut missing = None;
    for folder in folder.ancestors().filter(|f| !f.as_os_str().is_empty()) {
        let path = || folder.to_path_buf();
        match (fs::symlink_metadata(folder), fs::metadata(folder)) {
            (Err(_), _) => missing = Some(path()),
            (Ok(_), Ok(about)) if about.is_dir() => break,
            (Ok(_), found) => {
                let what = match found {
                    Ok(_) => "a file",
                    Err(_) => "a link to a place that is not there",
                };
                return Err(WriteError::NotAFolder { path: path(), what });
            }
        }
    }
    fs::create_dir_all(folder).map_err(failed(folder))?;
    Ok(missing)
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

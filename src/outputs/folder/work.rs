//! Hidden folders in which results are gathered, and what to do about those whose process has died.
//!
//! Such a folder lies beside the result's place, so that a rename brings it there. While a process works in it
//! that process holds a lock on its file `lock`; the system lets go of the lock however the process ends.

use super::ours;
use super::swap::put_new;
use std::ffi::OsString;
use std::fs::{self, File, TryLockError};
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::time::Duration;

const PREFIX: &str = ".gripline-work-";
const LOCK: &str = "lock";
/// The new result.
const RESULT: &str = "result";
/// A single file on its way to its place.
const SINGLE: &str = "file";
/// An old result while its place is empty, and the name of that place: only where two folders cannot change
/// places at once.
const OLD: &str = "old";
const OLD_NAME: &str = "old-name";
/// A working folder without a lock is being begun, or its process died right then: it is left alone this long.
const BEGINNING: Duration = Duration::from_secs(60);

/// What was found of a process that had died.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub enum Recovered {
    /// It died while it replaced a result; the old one has its name again.
    PutBack {
        /// The result.
        folder: PathBuf,
    },
    /// What it had half written, or had replaced, was taken away.
    Removed {
        /// Where.
        parent: PathBuf,
    },
    /// Among its leftovers was something that this tool does not write; it was kept.
    Kept {
        /// Where it is now.
        folder: PathBuf,
    },
}

impl Recovered {
    /// What to tell the user.
    pub fn words(&self) -> String {
        match self {
            Self::PutBack { folder } => format!(
                "gripline was stopped while it replaced `{}`: the earlier result is back in its place",
                folder.display()
            ),
            Self::Removed { parent } => format!(
                "removed from `{}` what a gripline that was stopped had left unfinished",
                parent.display()
            ),
            Self::Kept { folder } => format!(
                "gripline was stopped in the middle of its work, and what it was about to replace holds files that \
                 it did not write: they are in `{}`",
                folder.display()
            ),
        }
    }
}

/// A lock on a folder, held while names in it change hands; none where the system locks no folders. Then
/// another gripline might come between; its names still change hands at once.
pub(super) struct FolderLock(Option<File>);

impl FolderLock {
    pub(super) fn wait_for(folder: &Path) -> Self {
        let file = File::open(folder).ok();
        Self(file.filter(|file| file.lock().is_ok()))
    }

    /// Brings the folder's names to the disk.
    pub(super) fn sync(&self) {
        if let Some(folder) = &self.0 {
            folder.sync_all().ok();
        }
    }
}

/// A working folder of this process.
#[derive(Debug)]
pub(super) struct Work {
    path: PathBuf,
    _lock: File,
}

impl Work {
    pub(super) fn begin(parent: &Path) -> io::Result<Self> {
        let held = FolderLock::wait_for(parent);
        let home = tempfile::Builder::new().prefix(PREFIX).tempdir_in(parent)?;
        let lock = File::create(home.path().join(LOCK))?;
        lock.lock()?;
        drop(held);
        Ok(Self {
            path: home.keep(),
            _lock: lock,
        })
    }

    pub(super) fn result(&self) -> PathBuf {
        self.path.join(RESULT)
    }

    pub(super) fn single(&self) -> PathBuf {
        self.path.join(SINGLE)
    }

    /// Where an old result waits while its place is empty. Its name is written down first.
    pub(super) fn aside(&self, place: &Path) -> io::Result<PathBuf> {
        let name = place.file_name().unwrap_or_default();
        let mut note = File::create(self.path.join(OLD_NAME))?;
        note.write_all(name.as_encoded_bytes())?;
        note.sync_all()?;
        Ok(self.path.join(OLD))
    }

    /// Takes the folder away; what this tool does not write comes to light again under another name.
    pub(super) fn end(self) -> Option<Recovered> {
        // Kept until the folder is gone, so that nobody else clears it too.
        clear(&self.path).err()
    }
}

/// What a process that died has left in the folder, put right. Working folders of processes that live are
/// left alone.
pub fn recover(parent: &Path) -> Vec<Recovered> {
    let Ok(entries) = fs::read_dir(parent) else {
        return Vec::new();
    };
    let held = FolderLock::wait_for(parent);
    let mut paths: Vec<PathBuf> = entries
        .flatten()
        .filter(|entry| entry.file_type().is_ok_and(|what| what.is_dir()))
        .map(|entry| entry.path())
        .filter(|path| {
            let name = path.file_name().unwrap_or_default();
            name.as_encoded_bytes().starts_with(PREFIX.as_bytes())
        })
        .collect();
    paths.sort();
    let mut found = Vec::new();
    for path in paths {
        let owner = owner_of(&path);
        if matches!(owner, Owner::Lives) {
            continue;
        }
        let back = put_back(parent, &path);
        let kept = clear(&path).err();
        let removed = (back.is_none() && kept.is_none()).then(|| Recovered::Removed {
            parent: parent.to_path_buf(),
        });
        found.extend(back.into_iter().chain(kept).chain(removed));
    }
    held.sync();
    found.dedup();
    found
}

/// Whose a working folder is.
enum Owner {
    Lives,
    /// Its process has died; its lock, now held here, so that nobody else clears it too.
    Dead {
        _lock: Option<File>,
    },
}

fn owner_of(path: &Path) -> Owner {
    match File::open(path.join(LOCK)) {
        Ok(lock) => match lock.try_lock() {
            Ok(()) => Owner::Dead { _lock: Some(lock) },
            Err(TryLockError::WouldBlock | TryLockError::Error(_)) => Owner::Lives,
        },
        Err(error) if error.kind() == io::ErrorKind::NotFound => {
            let changed = fs::metadata(path).and_then(|about| about.modified()).ok();
            match changed.and_then(|changed| changed.elapsed().ok()) {
                Some(age) if age > BEGINNING => Owner::Dead { _lock: None },
                _ => Owner::Lives,
            }
        }
        Err(_) => Owner::Lives,
    }
}

/// Gives an old result its name again where its place is empty.
fn put_back(parent: &Path, path: &Path) -> Option<Recovered> {
    let old = path.join(OLD);
    let name = fs::read(path.join(OLD_NAME)).ok()?;
    let name = name_from(name);
    let plain = Path::new(&name).file_name() == Some(name.as_ref());
    let folder = parent.join(&name);
    (plain && old.is_dir() && put_new(&old, &folder).is_ok())
        .then_some(Recovered::PutBack { folder })
}

#[cfg(unix)]
fn name_from(bytes: Vec<u8>) -> OsString {
    std::os::unix::ffi::OsStringExt::from_vec(bytes)
}

#[cfg(not(unix))]
fn name_from(bytes: Vec<u8>) -> OsString {
    String::from_utf8_lossy(&bytes).into_owned().into()
}

/// Takes away a working folder with all that this tool writes.
fn clear(path: &Path) -> Result<(), Recovered> {
    let parts = [
        ours::clear(&path.join(RESULT)),
        ours::clear(&path.join(OLD)),
    ];
    if parts == [true, true] {
        fs::remove_file(path.join(SINGLE)).ok();
        fs::remove_file(path.join(OLD_NAME)).ok();
        fs::remove_file(path.join(LOCK)).ok();
    }
    if fs::remove_dir(path).is_ok() {
        return Ok(());
    }
    let foreign = [path.join(RESULT), path.join(OLD)]
        .iter()
        .any(|part| fs::read_dir(part).is_ok_and(|mut inside| inside.next().is_some()));
    if !foreign {
        // A folder that cannot be written to just now: the next start tries again.
        return Ok(());
    }
    let name = path.file_name().unwrap_or_default().to_string_lossy();
    let folder = path.with_file_name(name.replacen(PREFIX, "kept-by-gripline-", 1));
    // Where even that fails it stays where it is: nothing is lost.
    let folder = put_new(path, &folder).map_or(path.to_path_buf(), |()| folder);
    Err(Recovered::Kept { folder })
}

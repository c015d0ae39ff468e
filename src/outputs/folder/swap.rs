//! Names that change hands at once: a new name that must be free, and two names that change places.

use std::fs;
use std::io;
use std::path::Path;

/// Gives `from` the name `to`, which must be free.
///
/// # Errors
/// [`io::ErrorKind::AlreadyExists`] where the name is taken; what the system said otherwise.
pub(super) fn put_new(from: &Path, to: &Path) -> io::Result<()> {
    match at_once(from, to, Flag::NameMustBeFree) {
        Some(done) => done,
        // The file system has no such call. The caller holds the lock of the folder, so that no other gripline
        // comes between question and answer.
        None if fs::symlink_metadata(to).is_ok() => Err(io::ErrorKind::AlreadyExists.into()),
        None => fs::rename(from, to),
    }
}

/// Lets two names change places at once; `None` where system or file system cannot.
pub(super) fn exchange(one: &Path, other: &Path) -> Option<io::Result<()>> {
    at_once(one, other, Flag::BothStay)
}

#[derive(Clone, Copy)]
enum Flag {
    NameMustBeFree,
    BothStay,
}

#[cfg(any(target_os = "linux", target_os = "android", target_vendor = "apple"))]
fn at_once(from: &Path, to: &Path, flag: Flag) -> Option<io::Result<()>> {
    use rustix::fs::{CWD, RenameFlags, renameat_with};
    use rustix::io::Errno;
    let flags = match flag {
        Flag::NameMustBeFree => RenameFlags::NOREPLACE,
        Flag::BothStay => RenameFlags::EXCHANGE,
    };
    match renameat_with(CWD, from, CWD, to, flags) {
        // Old kernels and some network and memory-card file systems.
        Err(Errno::INVAL | Errno::NOSYS | Errno::NOTSUP) => None,
        done => Some(done.map_err(io::Error::from)),
    }
}

#[cfg(not(any(target_os = "linux", target_os = "android", target_vendor = "apple")))]
fn at_once(_from: &Path, _to: &Path, _flag: Flag) -> Option<io::Result<()>> {
    None
}

//! Clips on their way: pieces in order, each on the disk before it is answered for.
//!
//! The phone asks how much is there, sends the next piece with its place, and hears how much is there now. The fields are
//! those of the IETF's draft on resumable uploads (draft-ietf-httpbis-resumable-upload, from memory): `Upload-Offset`.

use super::book::{Book, BookError, State};
use super::files::sync_folder;
use std::fs::{self, OpenOptions};
use std::io::{self, Seek, SeekFrom, Write};
use std::path::Path;

/// Largest piece, bytes.
pub(super) const MOST_PIECE_BYTES: usize = 4 << 20;
/// Smallest clip that is taken, bytes: nothing smaller is a film.
const LEAST_CLIP_BYTES: u64 = 1000;
/// What stays free on the disk for results, bytes.
const KEPT_FREE_BYTES: u64 = 500 << 20;
/// The station was stopped: what was written last may not have been brought to the disk in full.
const DOUBTFUL_BYTES: u64 = MOST_PIECE_BYTES as u64;

/// Why a piece was not taken.
#[derive(Debug, thiserror::Error)]
pub(super) enum IntakeError {
    /// It does not go on where the clip ends.
    #[error("{there} bytes are here already")]
    Elsewhere { there: u64 },
    /// It is more than was said.
    #[error("the clip is larger than the phone said")]
    TooMuch,
    #[error(transparent)]
    Book(#[from] BookError),
    /// No room.
    #[error("the laptop's disk is nearly full")]
    DiskFull,
}

impl From<io::Error> for IntakeError {
    fn from(error: io::Error) -> Self {
        if error.kind() == io::ErrorKind::StorageFull {
            Self::DiskFull
        } else {
            Self::Book(error.into())
        }
    }
}

/// Whether a clip of this size may come at all.
pub(super) fn may_come(folder: &Path, bytes: u64, most_bytes: u64) -> Result<(), IntakeError> {
    if !(LEAST_CLIP_BYTES..=most_bytes).contains(&bytes) {
        let says = format!(
            "a clip of {:.1} MB is not taken: at most {} MB",
            bytes as f64 / 1e6,
            most_bytes / 1_000_000
        );
        return Err(BookError::Wrong { says }.into());
    }
    if free_bytes(folder).is_some_and(|free| free < bytes + KEPT_FREE_BYTES) {
        return Err(IntakeError::DiskFull);
    }
    Ok(())
}

/// Free bytes of a folder's disk, where the system tells.
#[cfg(unix)]
pub(super) fn free_bytes(folder: &Path) -> Option<u64> {
    let about = rustix::fs::statvfs(folder).ok()?;
    Some(about.f_bavail.saturating_mul(about.f_frsize))
}

/// Free bytes of a folder's disk, where the system tells.
#[cfg(not(unix))]
pub(super) fn free_bytes(_folder: &Path) -> Option<u64> {
    None
}

/// After a stop the end of what had arrived is taken off: it may never have reached the disk.
pub(super) fn after_a_stop(part: &Path) -> io::Result<()> {
    let length = match fs::metadata(part) {
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(()),
        about => about?.len(),
    };
    let file = OpenOptions::new().write(true).open(part)?;
    file.set_len(length.saturating_sub(DOUBTFUL_BYTES))
}

/// Writes a piece at its place and answers how much is there; a clip that is whole goes into the queue.
pub(super) fn take(
    book: &std::sync::Mutex<Book>,
    (team, number): (&str, u32),
    offset: u64,
    piece: &[u8],
) -> Result<u64, IntakeError> {
    let run = {
        let mut book = super::locked(book);
        let run = book.run(team, number)?.clone();
        let State::Receiving { bytes, busy } = run.state else {
            return Err(IntakeError::Elsewhere {
                there: run.order.bytes,
            });
        };
        if bytes != offset || busy {
            return Err(IntakeError::Elsewhere { there: bytes });
        }
        if offset + piece.len() as u64 > run.order.bytes {
            return Err(IntakeError::TooMuch);
        }
        // Whoever sends the same piece at the same time is told that it is not its turn.
        book.set(team, number, State::Receiving { bytes, busy: true })?;
        run
    };
    let written = write(&run.part(), offset, piece);
    let there = match &written {
        Ok(()) => offset + piece.len() as u64,
        Err(_) => offset,
    };
    let whole = there == run.order.bytes;
    let named = if whole {
        fs::rename(run.part(), run.clip()).and_then(|()| sync_folder(&run.folder))
    } else {
        Ok(())
    };
    let state = if whole && named.is_ok() {
        State::Waiting
    } else {
        State::Receiving {
            bytes: there,
            busy: false,
        }
    };
    super::locked(book).set(team, number, state)?;
    written?;
    named?;
    Ok(there)
}

fn write(part: &Path, offset: u64, piece: &[u8]) -> io::Result<()> {
    let mut file = OpenOptions::new()
        .create(true)
        .truncate(false)
        .write(true)
        .open(part)?;
    file.set_len(offset)?;
    file.seek(SeekFrom::Start(offset))?;
    file.write_all(piece)?;
    file.sync_data()
}

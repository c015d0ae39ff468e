//! The class's own small files: each is there whole or not at all.

use crate::outputs::CONTENTS_NAME;
use serde::Serialize;
use serde::de::DeserializeOwned;
use std::fs::{self, File};
use std::io::{self, Read, Write};
use std::path::Path;

/// Largest file of the station's own that is read, bytes.
const MOST_BYTES: u64 = 1 << 20;

/// Files that were written whole.
pub(super) struct Written;

impl Written {
    /// Writes beside the place, brings it to the disk and renames.
    pub(super) fn text(path: &Path, text: &str) -> io::Result<()> {
        let folder = path.parent().unwrap_or(Path::new("."));
        let mut file = tempfile::Builder::new()
            .prefix(".gripline-station-")
            .tempfile_in(folder)?;
        file.write_all(text.as_bytes())?;
        file.as_file().sync_all()?;
        file.persist(path).map_err(|error| error.error)?;
        sync_folder(folder)
    }
}

/// Brings a folder's names to the disk, where the system can.
pub(super) fn sync_folder(folder: &Path) -> io::Result<()> {
    if cfg!(unix) {
        File::open(folder)?.sync_all()?;
    }
    Ok(())
}

/// Writes JSON.
pub(super) fn put(path: &Path, what: &impl Serialize) -> io::Result<()> {
    let text = serde_json::to_string_pretty(what).map_err(io::Error::other)?;
    Written::text(path, &(text + "\n"))
}

/// Reads JSON; `None` where there is no such file.
///
/// # Errors
/// With the file's name, where it cannot be read or is not what it should be.
pub(super) fn read_json<T: DeserializeOwned>(path: &Path) -> io::Result<Option<T>> {
    let file = match File::open(path) {
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(None),
        file => file?,
    };
    let mut text = String::new();
    file.take(MOST_BYTES).read_to_string(&mut text)?;
    let read = serde_json::from_str(&text);
    read.map(Some)
        .map_err(|error| io::Error::other(format!("`{}`: {error}", path.display())))
}

/// Deletes a file, if it is there.
pub(super) fn remove_if_there(path: &Path) -> io::Result<()> {
    match fs::remove_file(path) {
        Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(()),
        done => done,
    }
}

/// Deletes a result's folder, its list of contents first: without it there is no result.
pub(super) fn remove_result(folder: &Path) -> io::Result<()> {
    if !folder.exists() {
        return Ok(());
    }
    remove_if_there(&folder.join(CONTENTS_NAME))?;
    fs::remove_dir_all(folder)
}

/// Deletes a run's folder. Its order goes first: a deletion that is cut short leaves no run behind.
pub(super) fn remove_run(folder: &Path) -> io::Result<()> {
    fs::remove_file(folder.join("order.json"))?;
    fs::remove_dir_all(folder)
}

/// Deletes a team's folder, its name first.
pub(super) fn remove_team(folder: &Path) -> io::Result<()> {
    fs::remove_file(folder.join("team.json"))?;
    fs::remove_dir_all(folder)
}

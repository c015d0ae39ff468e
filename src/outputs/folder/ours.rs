//! What this tool wrote, and can therefore take away again: a list of names, and in each result a list of
//! its files with their hashes. All else is somebody's.

use crate::clip::sha256_of_file;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::fs::{self, File};
use std::io::{self, Read};
use std::path::Path;

/// The list of its files that lies in each result.
pub const CONTENTS_NAME: &str = "gripline-contents.json";
/// Largest such list that is read: a real one has under 1 kB.
const MOST_CONTENTS_BYTES: u64 = 64 * 1024;
/// Layout of the list.
const VERSION: u32 = 1;

/// What a result is of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Kind {
    /// One measured run.
    Run,
    /// A comparison of runs.
    Comparison,
    /// A plan for a car.
    Plan,
}

impl Kind {
    /// The kind in words, with its article.
    pub(super) const fn words(self) -> &'static str {
        match self {
            Self::Run => "a measured run",
            Self::Comparison => "a comparison",
            Self::Plan => "a plan",
        }
    }

    /// Every file that a result of this kind may have, beside the list of them.
    const fn names(self) -> &'static [&'static str] {
        match self {
            Self::Run => &[
                "frames.csv",
                "frames.csv-metadata.json",
                "summary.json",
                "report.html",
                "overlay.mp4",
                "poster.png",
                "poster.html",
                "worksheet.html",
            ],
            Self::Comparison => &["comparison.csv", "comparison.json", "comparison.html"],
            Self::Plan => &["plan.json", "plan.html"],
        }
    }
}

/// Whether a file of this name may be one that this tool writes into a result.
pub(super) fn is_known(name: &str) -> bool {
    name == CONTENTS_NAME
        || [Kind::Run, Kind::Comparison, Kind::Plan]
            .iter()
            .any(|kind| kind.names().contains(&name))
}

#[derive(Debug, PartialEq, Eq, Serialize, Deserialize)]
struct Written {
    bytes: u64,
    sha256: String,
}

/// The list of a result's files.
#[derive(Debug, PartialEq, Eq, Serialize, Deserialize)]
struct Contents {
    version: u32,
    made_by: String,
    kind: Kind,
    files: BTreeMap<String, Written>,
}

/// One result on disk, told apart from every other, of the same content too.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Identity {
    contents: Vec<u8>,
    folder: u64,
}

fn hashed(path: &Path) -> io::Result<Written> {
    Ok(Written {
        bytes: fs::metadata(path)?.len(),
        sha256: sha256_of_file(path).map_err(io::Error::other)?,
    })
}

/// Writes the list of what is in a folder, after seeing to it that all of it is on the disk.
///
/// # Errors
/// What the system said; a file that no result of this kind has is an error too.
pub(super) fn seal(folder: &Path, kind: Kind) -> io::Result<()> {
    let mut files = BTreeMap::new();
    for entry in fs::read_dir(folder)? {
        let path = entry?.path();
        let name = name_of(&path);
        if !kind.names().contains(&name.as_str()) {
            return Err(io::Error::other(format!(
                "{} has no file `{name}`",
                kind.words()
            )));
        }
        files.insert(name, hashed(&path)?);
        File::open(&path)?.sync_all()?;
    }
    let contents = Contents {
        version: VERSION,
        made_by: concat!("gripline ", env!("CARGO_PKG_VERSION")).to_owned(),
        kind,
        files,
    };
    let mut text = serde_json::to_vec_pretty(&contents)?;
    text.push(b'\n');
    let path = folder.join(CONTENTS_NAME);
    fs::write(&path, text)?;
    File::open(&path)?.sync_all()
}

fn name_of(path: &Path) -> String {
    path.file_name()
        .unwrap_or_default()
        .to_string_lossy()
        .into_owned()
}

/// What in a folder, or about it, is not this tool's: words that go on from the folder's name.
#[derive(Debug, thiserror::Error)]
pub enum Foreign {
    /// The system does not let it be read.
    #[error("cannot be read: {0}")]
    Unreadable(#[from] io::Error),
    /// It is a link.
    #[error("is a link, and not a folder that gripline wrote")]
    Link,
    /// It is a file.
    #[error("is a file, and not a folder that gripline wrote")]
    File,
    /// It is a result of another kind.
    #[error("is {}, and not {}", found.words(), wanted.words())]
    OtherKind {
        /// What it is.
        found: Kind,
        /// What was to be written.
        wanted: Kind,
    },
    /// It holds something of another.
    #[error("holds `{0}`, which gripline did not write")]
    Entry(String),
    /// A file of it was changed.
    #[error("holds `{0}`, which was changed after gripline wrote it")]
    Changed(String),
    /// It has no list of its files.
    #[error("has no `{CONTENTS_NAME}`, so it cannot be told who wrote what is in it")]
    NoContents,
    /// Its list of files is of another.
    #[error("holds a `{CONTENTS_NAME}` that gripline did not write")]
    OtherContents,
    /// Its list of files has another layout.
    #[error("was written by another version ({0})")]
    OtherVersion(String),
}

/// Says that a folder holds a result of this kind and nothing else, each file as it was written.
///
/// # Errors
/// What in it, or about it, is not this tool's.
pub(super) fn examine(folder: &Path, kind: Kind) -> Result<Identity, Foreign> {
    let about = fs::symlink_metadata(folder)?;
    if about.is_symlink() {
        return Err(Foreign::Link);
    }
    if !about.is_dir() {
        return Err(Foreign::File);
    }
    let (contents, text) = contents_of(folder)?;
    if contents.kind != kind {
        return Err(Foreign::OtherKind {
            found: contents.kind,
            wanted: kind,
        });
    }
    for entry in fs::read_dir(folder)? {
        let entry = entry?;
        let name = entry.file_name().to_string_lossy().into_owned();
        if name == CONTENTS_NAME {
            continue;
        }
        let ours = contents.files.get(&name).filter(|_| is_known(&name));
        let Some(ours) = ours else {
            return Err(Foreign::Entry(name));
        };
        if !entry.file_type().is_ok_and(|what| what.is_file()) || hashed(&entry.path())? != *ours {
            return Err(Foreign::Changed(name));
        }
    }
    Ok(Identity {
        contents: text,
        folder: number_of(&about),
    })
}

fn contents_of(folder: &Path) -> Result<(Contents, Vec<u8>), Foreign> {
    let path = folder.join(CONTENTS_NAME);
    let plain = fs::symlink_metadata(&path).is_ok_and(|about| about.is_file());
    if !plain {
        return Err(first_foreign(folder).map_or(Foreign::NoContents, Foreign::Entry));
    }
    let mut text = Vec::new();
    File::open(&path)?
        .take(MOST_CONTENTS_BYTES)
        .read_to_end(&mut text)?;
    let contents: Contents = serde_json::from_slice(&text).map_err(|_| Foreign::OtherContents)?;
    if contents.version != VERSION {
        return Err(Foreign::OtherVersion(contents.made_by));
    }
    Ok((contents, text))
}

/// By name the first thing in a folder that no result has.
fn first_foreign(folder: &Path) -> Option<String> {
    let mut names: Vec<String> = fs::read_dir(folder)
        .ok()?
        .filter_map(|entry| Some(name_of(&entry.ok()?.path())))
        .filter(|name| !is_known(name))
        .collect();
    names.sort();
    names.into_iter().next()
}

#[cfg(unix)]
fn number_of(about: &fs::Metadata) -> u64 {
    std::os::unix::fs::MetadataExt::ino(about)
}

#[cfg(not(unix))]
fn number_of(about: &fs::Metadata) -> u64 {
    let made = about.created().or_else(|_| about.modified()).ok();
    let since = made.and_then(|made| made.duration_since(std::time::UNIX_EPOCH).ok());
    since.map_or(0, |since| since.as_nanos() as u64)
}

/// Takes away what this tool writes, and the folder if nothing else is in it; whether the folder is gone.
pub(super) fn clear(folder: &Path) -> bool {
    let Ok(entries) = fs::read_dir(folder) else {
        return fs::symlink_metadata(folder).is_err();
    };
    for entry in entries.flatten() {
        let plain = entry.file_type().is_ok_and(|what| what.is_file());
        if plain && is_known(&entry.file_name().to_string_lossy()) {
            fs::remove_file(entry.path()).ok();
        }
    }
    fs::remove_dir(folder).is_ok()
}

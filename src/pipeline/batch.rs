//! Many clips, one call: which sheet each clip has, which results are up to date already, and several clips
//! worked at once. Prints nothing.

use super::{MakeError, OVERLAY_NAME, REPORT_NAME, Stage, Ways, Written, make_result};
use crate::clip::sha256_of_file;
use crate::outputs::{WriteError, result_folder, sheet_facts};
use crate::sheet::{RunSheet, SheetError};
use serde_json::Value;
use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

/// Clips worked at once, at most, unless someone says otherwise. Each holds a few decoded frames, the blobs of
/// its whole length and the pictures of its report: about 200 MB for 1080p.
pub const MOST_AT_ONCE: usize = 4;

/// Why a clip of a batch has no result.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum BatchError {
    /// It could not be measured, or its result not written.
    #[error(transparent)]
    Make(#[from] MakeError),
    /// Its run sheet is wrong.
    #[error(transparent)]
    Sheet(#[from] SheetError),
    /// It has no run sheet.
    #[error("no run sheet for `{clip}`: there is no `{beside}`, and no `--sheet` for all")]
    NoSheet {
        /// The clip.
        clip: PathBuf,
        /// The sheet that would have been taken.
        beside: PathBuf,
    },
    /// Another clip of the batch has the same name.
    #[error("`{clip}` and `{other}` have one name, and so one result folder")]
    SameName {
        /// The clip.
        clip: PathBuf,
        /// The clip that has the folder.
        other: PathBuf,
    },
    /// There is a result, and it is not of this clip, sheet, number of draws or version.
    #[error("there is a result in `{folder}` already, and it was kept: {differs}")]
    Stale {
        /// The result.
        folder: PathBuf,
        /// What it differs in.
        differs: String,
    },
}

impl BatchError {
    /// What to do next.
    pub fn hint(&self) -> String {
        match self {
            Self::Make(error) => error.hint().to_owned(),
            Self::Sheet(error) => error.hint(),
            Self::NoSheet { .. } => {
                "write it, or give a sheet for all clips with `--sheet`".to_owned()
            }
            Self::SameName { .. } => {
                "give the clips names of their own, or measure them into different folders with `--out`".to_owned()
            }
            Self::Stale { .. } => {
                "pass `--replace` to measure again, or another folder with `--out`".to_owned()
            }
        }
    }
}

/// What became of a clip.
#[derive(Debug)]
pub enum Outcome {
    /// It was measured now.
    Measured(Box<Written>),
    /// Its result is up to date: made of the same clip and sheet, with as many draws, by this version.
    UpToDate {
        /// The result.
        folder: PathBuf,
        /// What its verdict blames.
        cause: String,
        /// What shows it best.
        because: Option<String>,
    },
    /// There is no result.
    Failed(BatchError),
}

/// The sheet that may stand beside a clip: of its name, with the ending `.toml`.
pub fn sheet_beside(clip: &Path) -> PathBuf {
    clip.with_extension("toml")
}

/// The sheet of a clip: the common one with the one beside the clip laid over it, or whichever there is.
///
/// # Errors
/// [`BatchError::Sheet`] and [`BatchError::NoSheet`].
pub fn sheet_of(clip: &Path, common: Option<&RunSheet>) -> Result<RunSheet, BatchError> {
    let beside = sheet_beside(clip);
    match (common, beside.is_file()) {
        (Some(common), true) => Ok(common.with(&beside)?),
        (Some(common), false) => Ok(common.clone()),
        (None, true) => Ok(RunSheet::read(&beside)?),
        (None, false) => Err(BatchError::NoSheet {
            clip: clip.to_path_buf(),
            beside,
        }),
    }
}

/// Measures a clip, unless its result is up to date.
pub fn measure_unless_done(
    clip: &Path,
    sheet: &RunSheet,
    out: &Path,
    ways: &Ways<'_>,
    progress: &dyn Fn(Stage, u64, Option<u64>),
) -> Outcome {
    let found = result_folder(out, clip).map_err(MakeError::from);
    let standing = found.and_then(|folder| {
        let there = folder.symlink_metadata().is_ok() && !ways.replace;
        there
            .then(|| standing(clip, sheet, &folder, ways))
            .transpose()
    });
    match standing {
        Err(error) => Outcome::Failed(error.into()),
        Ok(Some(outcome)) => outcome,
        Ok(None) => match make_result(clip, sheet, out, ways, progress) {
            Ok(written) => Outcome::Measured(Box::new(written)),
            Err(error) => Outcome::Failed(error.into()),
        },
    }
}

/// How an earlier result stands to what would be made now.
fn standing(
    clip: &Path,
    sheet: &RunSheet,
    folder: &Path,
    ways: &Ways<'_>,
) -> Result<Outcome, MakeError> {
    let text = fs::read(folder.join("summary.json")).unwrap_or_default();
    let Ok(summary) = serde_json::from_slice::<Value>(&text) else {
        return Err(WriteError::Exists {
            path: folder.to_path_buf(),
        }
        .into());
    };
    let end_sha256 = ways.end_view.map(sha256_of_file).transpose()?;
    let missing = |wanted: bool, name: &str| wanted && !folder.join(name).is_file();
    let run = &summary["run"];
    let by = &summary["measured_by"];
    let differs = [
        (
            run["clip_sha256"] != sha256_of_file(clip)?,
            "it is of another clip",
        ),
        (
            run["sheet"] != sheet_facts(sheet),
            "the run sheet was another one",
        ),
        (
            by["draws_asked"] != ways.draws,
            "it has another number of draws",
        ),
        (
            by["tool"] != concat!("gripline ", env!("CARGO_PKG_VERSION")),
            "another version of gripline made it",
        ),
        (
            summary["end_view"]["clip_sha256"].as_str() != end_sha256.as_deref(),
            "the second phone's clip was another one",
        ),
        (
            missing(ways.report, REPORT_NAME) || missing(ways.overlay.is_some(), OVERLAY_NAME),
            "it lacks a file that is wanted now",
        ),
    ];
    let differs: Vec<&str> = differs.iter().filter(|d| d.0).map(|d| d.1).collect();
    if !differs.is_empty() {
        return Ok(Outcome::Failed(BatchError::Stale {
            folder: folder.to_path_buf(),
            differs: differs.join(", "),
        }));
    }
    let text = |value: &Value| value.as_str().map(str::to_owned);
    let verdict = &summary["verdict"];
    Ok(Outcome::UpToDate {
        folder: folder.to_path_buf(),
        cause: text(&verdict["cause"]).unwrap_or_default(),
        because: text(&verdict["because"][0]),
    })
}

/// What is done in a batch at a moment; `stage` is `None` once a clip is done.
pub type Tell<'a> = dyn Fn(usize, Option<Stage>, u64, Option<u64>) + Sync + 'a;

/// Measures many clips, `at_once` of them at a time, and says what became of each, in the order given. A clip
/// that fails does not stop the others. `tell` is given the clip's place in the list.
pub fn measure_all(
    clips: &[PathBuf],
    common: Option<&RunSheet>,
    out: &Path,
    ways: &Ways<'_>,
    at_once: usize,
    tell: &Tell<'_>,
) -> Vec<Outcome> {
    let taken = folders_taken(clips, out);
    let next = AtomicUsize::new(0);
    let done: Mutex<BTreeMap<usize, Outcome>> = Mutex::new(BTreeMap::new());
    let work = || {
        loop {
            let place = next.fetch_add(1, Ordering::Relaxed);
            let Some(clip) = clips.get(place) else { break };
            let progress = |stage, done, expected| tell(place, Some(stage), done, expected);
            let outcome = match (&taken[place], sheet_of(clip, common)) {
                (Some(other), _) => Outcome::Failed(BatchError::SameName {
                    clip: clip.clone(),
                    other: other.clone(),
                }),
                (None, Err(error)) => Outcome::Failed(error),
                (None, Ok(sheet)) => measure_unless_done(clip, &sheet, out, ways, &progress),
            };
            tell(place, None, 0, None);
            if let Ok(mut done) = done.lock() {
                done.insert(place, outcome);
            }
        }
    };
    std::thread::scope(|scope| {
        for _ in 0..at_once.clamp(1, clips.len().max(1)) {
            scope.spawn(work);
        }
    });
    done.into_inner()
        .unwrap_or_default()
        .into_values()
        .collect()
}

/// For each clip the earlier one that has its result folder, if any.
fn folders_taken(clips: &[PathBuf], out: &Path) -> Vec<Option<PathBuf>> {
    let mut owners: BTreeMap<PathBuf, &PathBuf> = BTreeMap::new();
    (clips.iter())
        .map(|clip| {
            let folder = result_folder(out, clip).ok()?;
            let other = owners.get(&folder).map(|other| (*other).clone());
            owners.entry(folder).or_insert(clip);
            other
        })
        .collect()
}

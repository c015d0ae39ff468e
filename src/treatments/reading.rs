//! Summaries on disk become runs.

use super::facts::{Facts, SheetKey};
use super::place::{place_in_picture, set_up};
use crate::findings::Key;
use serde::Deserialize;
use serde_json::{Map, Value};
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

/// What the file of a result is called.
const SUMMARY: &str = "summary.json";
/// Folders of folders are searched this deep: enough for a season of club evenings.
const DEEPEST: usize = 4;
/// Largest summary that is read, bytes; a long one has 30 kB.
const MOST_BYTES: u64 = 4 << 20;
/// More results than anyone films; keeps the memory bounded.
const MOST_RUNS: usize = 2000;
/// No quantity of a car is larger, in its own unit; squares and sums of what is smaller stay numbers.
const MOST: f64 = 1e9;
/// The newest layout of `summary.json` that is understood.
pub const LAYOUT: u64 = 1;

/// A quantity of one run: its value and 95 % interval, or why it could not be observed.
pub type Seen = Result<Value95, Unseen>;

/// Why a quantity of a run could not be observed, as its summary says it.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
pub struct Unseen {
    /// The words.
    pub not_observable: String,
}

/// A value with its own 95 % interval, from one clip.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize)]
pub struct Value95 {
    /// Best value.
    pub value: f64,
    /// Low end.
    pub low: f64,
    /// High end.
    pub high: f64,
}

/// One run, as its summary tells it.
#[derive(Debug, Clone, PartialEq)]
pub struct Run {
    /// The summary's file.
    pub path: PathBuf,
    /// Name of the result folder.
    pub name: String,
    /// File name of the clip.
    pub clip: String,
    /// SHA-256 of the clip.
    pub clip_sha256: String,
    /// What its sheet said.
    pub facts: Facts,
    /// When the clip was made, as its file says, UTC.
    pub filmed: Option<String>,
    /// Frames a second, in real time.
    pub frames_per_s: Option<f64>,
    /// How the run was seen: `floor_marks`, `plain_scale` or `pixels_only`.
    pub view: Option<String>,
    /// Where that view lay, from the sheet's floor marks and the car's facing side.
    pub set_up: Option<String>,
    /// Width and height of the picture, px.
    pub picture_px: Option<[f64; 2]>,
    /// Where the sheet's floor marks lay in the picture, px; `None` where the summary does not say, or the camera
    /// moved.
    pub marks_at_px: Option<Vec<Option<[f64; 2]>>>,
    /// What the verdict blamed.
    pub cause: String,
    /// Which version of the tool measured it.
    pub tool: String,
    /// The quantities.
    pub values: BTreeMap<Key, Seen>,
    /// For each quantity the share of every input in its variance, by the input's name.
    pub budgets: BTreeMap<Key, BTreeMap<String, f64>>,
}

/// Why results could not be read.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum ReadError {
    /// Nothing of that name.
    #[error("`{path}` cannot be read: {source}")]
    Unreadable {
        /// The file or folder.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// A folder without results.
    #[error("no summary.json in `{path}` or the folders below it")]
    NoResults {
        /// The folder.
        path: PathBuf,
    },
    /// Not a summary.
    #[error("`{path}` is no summary of a run: {why}")]
    NotASummary {
        /// The file.
        path: PathBuf,
        /// What is wrong.
        why: String,
    },
    /// Written by a later version of the tool.
    #[error("`{path}` has layout {version}, and this gripline reads up to {LAYOUT}")]
    TooNew {
        /// The file.
        path: PathBuf,
        /// Its layout.
        version: u64,
    },
    /// More runs than are compared.
    #[error("more than {MOST_RUNS} results below `{path}`")]
    TooMany {
        /// Where the last straw lay.
        path: PathBuf,
    },
}

impl ReadError {
    /// What to do next.
    pub const fn hint(&self) -> &'static str {
        match self {
            Self::Unreadable { .. } => "check the path, and that you may read it",
            Self::NoResults { .. } => {
                "give result folders of `gripline measure`, a folder that holds them, or summary.json files"
            }
            Self::NotASummary { .. } => {
                "leave the file out, or measure its clip again with `gripline measure --replace`"
            }
            Self::TooNew { .. } => {
                "use the newer gripline, or measure the clip again with this one"
            }
            Self::TooMany { .. } => "compare the runs of fewer evenings at once",
        }
    }
}

/// The runs below files and folders, each once, by path.
///
/// # Errors
/// [`ReadError`] for the first place that holds no result or a file that is none.
pub fn read_runs(places: &[PathBuf]) -> Result<Vec<Run>, ReadError> {
    let mut files = BTreeSet::new();
    for place in places {
        let before = files.len();
        let whole = fs::canonicalize(place).map_err(failed(place))?;
        if whole.is_file() {
            files.insert(whole);
            continue;
        }
        let mut seen_here = false;
        gather(&whole, DEEPEST, &mut files, &mut seen_here)?;
        if files.len() == before && !seen_here {
            return Err(ReadError::NoResults {
                path: place.clone(),
            });
        }
    }
    files.iter().map(|path| read_run(path)).collect()
}

fn failed(path: &Path) -> impl FnOnce(io::Error) -> ReadError {
    let path = path.to_path_buf();
    move |source| ReadError::Unreadable { path, source }
}

fn gather(
    folder: &Path,
    deep: usize,
    files: &mut BTreeSet<PathBuf>,
    seen_here: &mut bool,
) -> Result<(), ReadError> {
    let summary = folder.join(SUMMARY);
    if summary.is_file() {
        *seen_here = true;
        files.insert(summary);
        if files.len() > MOST_RUNS {
            return Err(ReadError::TooMany {
                path: folder.to_path_buf(),
            });
        }
        return Ok(());
    }
    if deep == 0 {
        return Ok(());
    }
    for entry in fs::read_dir(folder).map_err(failed(folder))? {
        let path = entry.map_err(failed(folder))?.path();
        // Hidden folders are results in the making.
        let hidden = (path.file_name()).is_some_and(|n| n.to_string_lossy().starts_with('.'));
        if path.is_dir() && !path.is_symlink() && !hidden {
            gather(&path, deep - 1, files, seen_here)?;
        }
    }
    Ok(())
}

#[derive(Deserialize)]
struct File {
    run: RunPart,
    verdict: VerdictPart,
    measured_by: MethodPart,
    #[serde(flatten)]
    rest: Map<String, Value>,
}

#[derive(Deserialize)]
struct RunPart {
    clip: Option<String>,
    clip_sha256: String,
    car: Option<String>,
    treatment: Option<String>,
    change: Option<String>,
    sheet: Option<Value>,
    filmed: Option<String>,
    frames_per_s: Option<f64>,
}

#[derive(Deserialize)]
struct VerdictPart {
    cause: String,
}

#[derive(Deserialize)]
struct MethodPart {
    tool: String,
    view: Option<Value>,
    picture_px: Option<[f64; 2]>,
    floor_marks_at_px: Option<Vec<Option<[f64; 2]>>>,
}

#[derive(Deserialize)]
#[serde(untagged)]
enum QuantityPart {
    Stated(Value95),
    Unknown(Unseen),
}

fn read_run(path: &Path) -> Result<Run, ReadError> {
    let size = fs::metadata(path).map_err(failed(path))?.len();
    let not = |why: String| ReadError::NotASummary {
        path: path.to_path_buf(),
        why,
    };
    if size > MOST_BYTES {
        return Err(not(format!("it has {size} bytes")));
    }
    let text = fs::read(path).map_err(failed(path))?;
    let whole: Value = serde_json::from_slice(&text).map_err(|error| not(error.to_string()))?;
    let Some(version) = whole.get("version").and_then(Value::as_u64) else {
        return Err(not("it does not say which layout it has".to_owned()));
    };
    if version > LAYOUT {
        return Err(ReadError::TooNew {
            path: path.to_path_buf(),
            version,
        });
    }
    let file: File = serde_json::from_value(whole).map_err(|error| not(error.to_string()))?;
    let values = values(&file.rest).map_err(|why| not(why.to_string()))?;
    Ok(run(path, file, values))
}

/// Why a file's quantities cannot be read.
#[derive(Debug, thiserror::Error)]
enum ValueError {
    #[error("`{}` is no quantity", .0.as_str())]
    NoQuantity(Key),
    #[error("`{}` lies outside its own interval", .0.as_str())]
    OutsideInterval(Key),
    #[error("`{}` is larger than anything of a car", .0.as_str())]
    TooLarge(Key),
    #[error("it holds no quantity")]
    None,
}

fn values(rest: &Map<String, Value>) -> Result<BTreeMap<Key, Seen>, ValueError> {
    let mut out = BTreeMap::new();
    for key in Key::ALL {
        // A quantity that a version does not know is none of its runs'.
        let Some(value) = rest.get(key.as_str()) else {
            continue;
        };
        let part = QuantityPart::deserialize(value).map_err(|_| ValueError::NoQuantity(key))?;
        let seen = match part {
            QuantityPart::Unknown(unseen) => Err(unseen),
            QuantityPart::Stated(v) if [v.low, v.value, v.high].iter().any(|n| n.abs() > MOST) => {
                return Err(ValueError::TooLarge(key));
            }
            QuantityPart::Stated(v) if v.low <= v.value && v.value <= v.high => Ok(v),
            QuantityPart::Stated(_) => return Err(ValueError::OutsideInterval(key)),
        };
        out.insert(key, seen);
    }
    if out.is_empty() {
        return Err(ValueError::None);
    }
    Ok(out)
}

#[derive(Deserialize)]
struct SharePart {
    input: String,
    share: f64,
}

/// The uncertainty budgets; a summary without them, or with others, has none.
fn budgets(rest: &Map<String, Value>) -> BTreeMap<Key, BTreeMap<String, f64>> {
    let budget = |key: Key| {
        let value = rest.get("uncertainty_budget")?.get(key.as_str())?;
        let parts = Vec::<SharePart>::deserialize(value).ok()?;
        let shares = parts
            .into_iter()
            .map(|part| (part.input, part.share.clamp(0.0, 1.0)));
        Some((key, shares.collect()))
    };
    Key::ALL.into_iter().filter_map(budget).collect()
}

fn run(path: &Path, file: File, values: BTreeMap<Key, Seen>) -> Run {
    let budgets = budgets(&file.rest);
    let part = file.run;
    let facts = part.sheet.as_ref().map_or_else(
        || {
            Facts::few(&[
                (SheetKey::CAR, part.car.as_deref()),
                (SheetKey::TREATMENT, part.treatment.as_deref()),
                (SheetKey::CHANGE, part.change.as_deref()),
            ])
        },
        Facts::from_json,
    );
    let folder = path.parent().and_then(Path::file_name);
    let name = folder.map_or_else(String::new, |n| n.to_string_lossy().into_owned());
    Run {
        path: path.to_path_buf(),
        clip: part.clip.unwrap_or_else(|| name.clone()),
        name,
        clip_sha256: part.clip_sha256,
        filmed: part.filmed,
        frames_per_s: part.frames_per_s.filter(|rate| *rate > 0.0),
        view: file.measured_by.view.as_ref().and_then(view_name),
        set_up: part.sheet.as_ref().and_then(set_up),
        picture_px: file.measured_by.picture_px,
        marks_at_px: file
            .measured_by
            .floor_marks_at_px
            .and_then(place_in_picture),
        facts,
        cause: file.verdict.cause,
        tool: file.measured_by.tool,
        values,
        budgets,
    }
}

/// `floor_marks` of `{"floor_marks": {...}}`; `pixels_only` of `"pixels_only"`.
fn view_name(view: &Value) -> Option<String> {
    match view {
        Value::String(name) => Some(name.clone()),
        Value::Object(map) => map.keys().next().cloned(),
        _ => None,
    }
}

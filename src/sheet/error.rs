//! What can be wrong with a run sheet, where, and what to do about it.

use std::error::Error;
use std::fmt;
use std::io;
use std::path::{Path, PathBuf};

use super::MAX_SHEET_BYTES;

/// The first thing that is wrong with a run sheet: which file, which line, what.
///
/// Its text is one line; [`SheetError::hint`] is the next thing to try.
#[derive(Debug)]
pub struct SheetError {
    path: PathBuf,
    line: Option<usize>,
    problem: Box<Problem>,
}

/// What is wrong, without the place.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum Problem {
    /// The file cannot be opened or read.
    #[error("cannot read it: {source}")]
    Unreadable {
        /// What the operating system says.
        source: io::Error,
    },
    /// The file has more than [`MAX_SHEET_BYTES`].
    #[error("larger than {} KiB, so it is no run sheet", MAX_SHEET_BYTES / 1024)]
    TooLarge,
    /// The file is not text.
    #[error("not UTF-8 text")]
    NotUtf8,
    /// The text is not TOML.
    #[error("not valid TOML: {what}")]
    Syntax {
        /// What the TOML reader says.
        what: String,
    },
    /// A key or table that no run sheet has.
    #[error("unknown {kind} `{key}` {place}; {nearest}")]
    UnknownKey {
        /// `key` or `table`.
        kind: &'static str,
        /// The key as written.
        key: String,
        /// Where it stands.
        place: String,
        /// The known key that was probably meant, and its unit.
        nearest: String,
        /// What to write instead.
        hint: String,
    },
    /// A table lacks a key that it must have.
    #[error("[{table}] has no `{key}`")]
    MissingKey {
        /// The table.
        table: &'static str,
        /// The key.
        key: &'static str,
    },
    /// A value of the wrong type.
    #[error("`{key}` is {got}, where {wanted} is wanted")]
    WrongType {
        /// The key.
        key: &'static str,
        /// The type that was written.
        got: &'static str,
        /// The type that is needed.
        wanted: &'static str,
    },
    /// A number that such a car, floor or camera cannot have.
    #[error("`{key} = {written}` {why}")]
    NotPlausible {
        /// The key.
        key: &'static str,
        /// The number as written.
        written: String,
        /// Why it is refused.
        why: String,
        /// What to write instead, where the number looks like one in another unit.
        instead: Option<f64>,
    },
    /// A word that is not on the key's list.
    #[error("`{key} = \"{written}\"` is not one of {choices}")]
    NotAChoice {
        /// The key.
        key: &'static str,
        /// The word as written.
        written: String,
        /// The list.
        choices: String,
        /// The word on the list that is nearest, if any is near.
        nearest: Option<String>,
    },
    /// A text that is too long or cannot be printed.
    #[error("`{key}` {why}")]
    BadText {
        /// The key.
        key: &'static str,
        /// Why it is refused.
        why: String,
    },
    /// Values that are fine alone and cannot be true together.
    #[error("{what}")]
    Conflict {
        /// Which values, and why.
        what: String,
        /// What to look at.
        hint: &'static str,
    },
}

impl SheetError {
    pub(super) fn new(path: &Path, line: Option<usize>, problem: Problem) -> Self {
        Self {
            path: path.to_path_buf(),
            line,
            problem: Box::new(problem),
        }
    }

    /// The same fault of two sheets laid over each other, where lines tell nothing.
    pub(super) fn without_line(self) -> Self {
        Self { line: None, ..self }
    }

    /// The run sheet's file.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// The line of the fault, counted from 1; `None` where it concerns the file as a whole.
    pub fn line(&self) -> Option<usize> {
        self.line
    }

    /// What is wrong, without the place.
    pub fn problem(&self) -> &Problem {
        &self.problem
    }

    /// The next thing to try, as one line of plain text.
    pub fn hint(&self) -> String {
        match self.problem.as_ref() {
            Problem::Unreadable { source } => unreadable_hint(source.kind()).to_string(),
            Problem::TooLarge => {
                "name the run sheet (a short TOML text), not the clip or a results file".to_string()
            }
            Problem::NotUtf8 => "save it again as plain text in UTF-8".to_string(),
            Problem::Syntax { what } => syntax_hint(what).to_string(),
            Problem::UnknownKey { hint, .. } => hint.clone(),
            Problem::MissingKey { table, key } => match *key {
                "at_px" => "add `at_px = [u, v]`, or take `at_s` out".to_string(),
                "from_mm" | "to_mm" => format!("add `{key} = [x, y]` under [{table}]"),
                _ => format!("add `{key} = ...` under [{table}], in millimetres"),
            },
            Problem::WrongType { key, wanted, .. } => match *wanted {
                "a number" => format!("write `{key} = 12.5`: no quotes, no unit, a decimal point"),
                "a text" => format!("put it in quotes: `{key} = \"...\"`"),
                "two numbers" => format!("write `{key} = [1.0, 2.0]`"),
                _ => format!("write `[{key}]` on a line of its own and its keys below it"),
            },
            Problem::NotPlausible {
                key,
                instead: Some(number),
                ..
            } => format!("did you mean `{key} = {number}`?"),
            Problem::NotPlausible { .. } => "measure again, or correct the number".to_string(),
            Problem::NotAChoice {
                nearest: Some(word),
                ..
            } => format!("did you mean `{word}`?"),
            Problem::NotAChoice { .. } => "choose the nearest one of that list".to_string(),
            Problem::BadText { .. } => "shorten it to one line of plain text".to_string(),
            Problem::Conflict { hint, .. } => (*hint).to_string(),
        }
    }
}

fn unreadable_hint(kind: io::ErrorKind) -> &'static str {
    match kind {
        io::ErrorKind::NotFound => "check the name and the folder; `--sheet` takes a TOML file",
        io::ErrorKind::PermissionDenied => "allow yourself to read the file",
        io::ErrorKind::IsADirectory => "name the run sheet in that folder",
        _ => "check that it is a plain file on a disk that works",
    }
}

fn syntax_hint(what: &str) -> &'static str {
    if what.contains("duplicate key") {
        "each key stands once in a table; several marks are written `[[floor_mark]]`, once each"
    } else {
        "a line reads `key = value`: text in quotes, numbers without unit and with a decimal point"
    }
}

impl fmt::Display for SheetError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "run sheet `{}`", self.path.display())?;
        if let Some(line) = self.line {
            write!(f, ", line {line}")?;
        }
        write!(f, ": {}", self.problem)
    }
}

impl Error for SheetError {
    fn source(&self) -> Option<&(dyn Error + 'static)> {
        self.problem.source()
    }
}

/// Most characters of the user's own text that an error repeats.
const MAX_SHOWN_CHARS: usize = 80;

/// `text` fit for one line of a terminal: control characters escaped, the rest of a long one cut.
pub(super) fn shown(text: &str) -> String {
    let mut line = String::new();
    for (count, c) in text.chars().enumerate() {
        if count == MAX_SHOWN_CHARS {
            line.push_str("...");
            break;
        }
        match c {
            '\n' => line.push_str("; "),
            c if c.is_control() => line.extend(c.escape_default()),
            c => line.push(c),
        }
    }
    line
}

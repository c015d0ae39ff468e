//! What a comparison of runs leaves behind: `comparison.html`, `comparison.csv`, `comparison.json`, and words.
//!
//! The page shares its style sheet and its way of drawing with the report of a single run. It has no
//! script at all: charts are inline SVG, and the numbers behind each stand in a table.

mod care;
mod dots;
mod method;
mod names;
mod numbers;
mod page;
mod phrases;
mod rows;
mod say;
mod scatter;
mod table;
mod terminal;
mod unlike;

use crate::outputs::{Kind, NewResult, WriteError};
use crate::treatments::Comparison;
use std::path::{Path, PathBuf};

/// The page's file name.
pub const PAGE_NAME: &str = "comparison.html";

pub use numbers::{COMPARISON_SCHEMA, COMPARISON_VERSION, comparison_json};
pub use page::{PageError, comparison_html};
pub use table::comparison_csv;
pub use terminal::comparison_words;

/// Why a comparison could not be written.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum ComparisonError {
    /// The files could not be written.
    #[error(transparent)]
    Write(#[from] WriteError),
    /// The table could not be put together.
    #[error("comparison.csv could not be put together: {0}")]
    Table(#[from] csv::Error),
    /// The numbers could not be put together.
    #[error("comparison.json could not be put together: {0}")]
    Numbers(#[from] serde_json::Error),
    /// The page could not be put together.
    #[error(transparent)]
    Page(#[from] PageError),
}

impl ComparisonError {
    /// What to do next.
    pub const fn hint(&self) -> &'static str {
        match self {
            Self::Write(error) => error.hint(),
            Self::Table(_) | Self::Numbers(_) | Self::Page(_) => {
                "this is a fault of the tool: please report it with the summary.json files"
            }
        }
    }
}

/// Writes all files of a comparison into a folder, whole or not at all. `inputs` are the results that it is made
/// of: what is replaced may not hold them.
///
/// # Errors
/// [`ComparisonError`]; then nothing was written, and an earlier comparison is where it was.
pub fn write_comparison(
    of: &Comparison,
    out: &Path,
    replace: bool,
    inputs: &[PathBuf],
) -> Result<(), ComparisonError> {
    let result = NewResult::begin(out, Kind::Comparison, replace, inputs)?;
    result.write("comparison.csv", &comparison_csv(of)?)?;
    result.write("comparison.json", &comparison_json(of)?)?;
    result.write(PAGE_NAME, &comparison_html(of)?)?;
    Ok(result.finish()?)
}

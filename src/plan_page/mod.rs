//! What a plan leaves behind: `plan.html`, `plan.json`, and words.
//!
//! The page shares its style sheet and its way of drawing with the report of a single run, prints on one page of A4 and has
//! no script. Its sentences are made once, in `say.rs`, for page, file and terminal.

mod numbers;
mod page;
mod rows;
mod say;
mod terminal;
mod trade_off;

use crate::outputs::{Kind, NewResult, WriteError};
use crate::plan::Plan;
use std::path::{Path, PathBuf};

/// The page's file name.
pub const PLAN_PAGE_NAME: &str = "plan.html";
/// The name of the file for other programs.
pub const PLAN_NAME: &str = "plan.json";

pub use numbers::{PLAN_SCHEMA, PLAN_VERSION, plan_json};
pub use page::{PlanPageError, plan_html};
pub use say::CAUTIONS;
pub use terminal::plan_words;

/// Why a plan could not be written.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum PlanWriteError {
    /// The files could not be written.
    #[error(transparent)]
    Write(#[from] WriteError),
    /// The numbers could not be put together.
    #[error("plan.json could not be put together: {0}")]
    Numbers(#[from] serde_json::Error),
    /// The page could not be put together.
    #[error(transparent)]
    Page(#[from] PlanPageError),
}

impl PlanWriteError {
    /// What to do next.
    pub const fn hint(&self) -> &'static str {
        match self {
            Self::Write(error) => error.hint(),
            Self::Numbers(_) | Self::Page(_) => {
                "this is a fault of the tool: please report it with the summary.json files"
            }
        }
    }
}

/// Writes all files of a plan into a folder, whole or not at all. `inputs` are the results that it is made of: what is
/// replaced may not hold them.
///
/// # Errors
/// [`PlanWriteError`]; then nothing was written, and an earlier plan is where it was.
pub fn write_plan(
    of: &Plan,
    out: &Path,
    replace: bool,
    inputs: &[PathBuf],
) -> Result<(), PlanWriteError> {
    let result = NewResult::begin(out, Kind::Plan, replace, inputs)?;
    result.write(PLAN_NAME, &plan_json(of)?)?;
    result.write(PLAN_PAGE_NAME, &plan_html(of)?)?;
    Ok(result.finish()?)
}

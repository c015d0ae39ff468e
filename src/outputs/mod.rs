//! What a measured clip leaves behind: frames.csv, summary.json, a report page, an annotated clip, and
//! words for the terminal.

mod csvw;
pub mod film;
mod folder;
mod frames;
pub mod overlay;
mod printable;
pub(crate) mod report;
mod second_look;
pub(crate) mod shown;
pub mod sketch;
mod summary;
mod values;
mod words;

pub use csvw::{METADATA_NAME, frames_metadata_json};
pub use folder::{
    CONTENTS_NAME, FileError, Kind, NewResult, Over, Recovered, WriteError, recover, result_folder,
    write_whole,
};
pub use frames::{COLUMNS, frames_csv};
pub use printable::{printable, printable_lines, printable_path};
pub use report::{ReportError, report_html};
pub use second_look::{LookError, Made, Wishes, look_again};
pub use summary::{SUMMARY_SCHEMA, SUMMARY_VERSION, sheet_facts, summary_json};
pub use values::{Band, FrameValues, frame_values};
pub use words::summary_words;

use crate::camera::View;
use crate::clip::ClipInfo;
use crate::findings::Findings;
use crate::motion::Motion;
use crate::priors::Priors;
use crate::sheet::RunSheet;
use crate::track::Track;
use crate::two_views::{Alignment, Joined};
use crate::uncertainty::Result95;
use crate::verdict::Verdict;

/// Everything that the outputs tell of. What needs metres is absent where the path could not be put
/// on the floor.
#[derive(Debug, Clone, Copy)]
pub struct Story<'a> {
    /// The clip.
    pub clip: &'a ClipInfo,
    /// SHA-256 of the clip's file, in hexadecimal.
    pub clip_sha256: &'a str,
    /// What was wrong with the clip's file.
    pub damage: &'a [String],
    /// Monte Carlo draws that were asked for.
    pub draws: usize,
    /// Where the frames' real times come from, in a user's words.
    pub clock: &'a str,
    /// Why the times cannot be believed. Nothing with a second in its unit is stated then.
    pub clock_doubt: Option<&'a str>,
    /// The run sheet.
    pub sheet: &'a RunSheet,
    /// What is known of the run.
    pub priors: &'a Priors,
    /// The marks in pixels.
    pub track: &'a Track,
    /// Motion and findings, or why there are none.
    pub measured: Result<Measures<'a>, &'a str>,
    /// The second phone's clip of the same run, where there is one.
    pub end_view: Option<EndStory<'a>>,
}

/// What a second phone's clip of the same run gave.
#[derive(Debug, Clone, Copy)]
pub struct EndStory<'a> {
    /// The clip.
    pub clip: &'a ClipInfo,
    /// SHA-256 of the clip's file, in hexadecimal.
    pub clip_sha256: &'a str,
    /// What was wrong with its file and its clock.
    pub notes: &'a [String],
    /// How its clock lies to the side clip's, or why that cannot be told.
    pub alignment: Result<&'a Alignment, &'a str>,
    /// The joining, or why the side view stands alone.
    pub joined: Result<&'a Joined, &'a str>,
}

/// The measured part of a story.
#[derive(Debug, Clone, Copy)]
pub struct Measures<'a> {
    /// How the run is seen.
    pub view: &'a View,
    /// How the car moved.
    pub motion: &'a Motion,
    /// What that says.
    pub findings: &'a Findings,
    /// The same with intervals.
    pub result: &'a Result95,
    /// The judgement.
    pub verdict: &'a Verdict,
}

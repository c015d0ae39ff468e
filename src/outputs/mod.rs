//! What a measured clip leaves behind: frames.csv, summary.json, a report page, an annotated clip, and
//! words for the terminal.
//!
//! # How the pictures are made
//!
//! `values.rs` holds what was measured in each frame with its interval: one source for `frames.csv`, the charts and
//! the overlay. `second_look.rs` decodes the stretch of the clip in which the run is (`stretch.rs`) a second time, from
//! the key frame before it, and hands each frame to whoever wants it, so memory does not grow with the clip: `film/`
//! keeps four to six key frames and a contact sheet of small ones, `overlay/` draws into the planes and has a thread of
//! its own encode them. Frames are not kept from the first pass: three seconds of 1080p60 are 560 MB. Both draw with
//! `sketch/`, a clear sheet over the picture; only what was drawn on is blended, so the rest keeps its codes. Where a frame shows a point of the floor is asked in one place,
//! `seen_in` of `sketch/scene.rs`: with a moving camera by the pose at the time at which the point's own row was
//! taken, and trails move with the floor. Where the clock is in doubt, `FrameValues::time_s` is empty, charts go by
//! frame numbers, and no speed is drawn.
//!
//! In the same pass `poster/` takes a few frames for one picture of the whole run, which the report and the poster show.
//!
//! `report/` makes the page from a compiled template. Charts are inline SVG from the plotting library; the style
//! sheet picks their colours up by attribute, which is how they turn light on a dark ground. Marks look alike on film,
//! on the page and in the words under pictures (`sketch/look.rs`): the kit's colours, with outlines of their own; the
//! car's and the rim's lines and bars have those of sticker and wheel mark. Other colours are those of Okabe and Ito
//! (Color Universal Design, 2008); each line has its own dashes as well, each chart a table and each picture words.
//! The script adds reading-off, opens the folded parts for printing, and says so where the clip that the page plays
//! is not beside it, and opens the large view for a projector. `worksheet/` makes the sheet for the write-up and has the
//! ten words that the report explains. What is left out in print stands on screen only: the clip, tables behind charts,
//! names of keys.
//!
//! The metadata of `frames.csv` is in `csvw.rs` and the schema of `summary.json` in `summary.schema.json`; a new
//! column or quantity gets a row there, and tests fail until it has.

mod csvw;
pub mod film;
mod folder;
mod frames;
pub mod overlay;
pub mod poster;
mod printable;
pub(crate) mod report;
mod second_look;
pub(crate) mod shown;
pub mod sketch;
mod stretch;
mod summary;
mod values;
mod wording;
mod words;
mod worksheet;

pub use csvw::{METADATA_NAME, frames_metadata_json};
pub use folder::{
    CONTENTS_NAME, FileError, Foreign, Kind, NewResult, Over, Recovered, WriteError, recover,
    result_folder, write_whole,
};
pub use frames::{COLUMNS, frames_csv};
pub use poster::{Paper, PosterError, poster};
pub use printable::{printable, printable_lines, printable_path};
pub use report::{ReportError, report_html};
pub use second_look::{LookError, Made, Wishes, look_again};
pub use summary::{SUMMARY_SCHEMA, SUMMARY_VERSION, sheet_facts, summary_json};
pub use values::{Band, FrameValues, frame_values};
pub use wording::{Said, VerdictWords, cause_name, caution, meaning, verdict_words};
pub use words::{cause_in_words, summary_words};
pub use worksheet::worksheet_html;

use crate::analysis::{AnalysisReason, ClockDoubt};
use crate::camera::View;
use crate::clip::{ClipInfo, Damage};
use crate::findings::Findings;
use crate::motion::Motion;
use crate::priors::Priors;
use crate::sheet::RunSheet;
use crate::texts::{Language, Note, Texts};
use crate::track::Track;
use crate::two_views::{Alignment, AlignmentReason, JoinReason, Joined};
use crate::uncertainty::Result95;
use crate::verdict::Verdict;

/// Everything that the outputs tell of. What needs metres is absent where the path could not be put
/// on the floor.
#[derive(Debug, Clone, Copy)]
pub struct Story<'a> {
    /// The language of pages, pictures and words; machine files are English in all.
    pub language: Language,
    /// The clip.
    pub clip: &'a ClipInfo,
    /// SHA-256 of the clip's file, in hexadecimal.
    pub clip_sha256: &'a str,
    /// What was wrong with the clip's file.
    pub damage: &'a [Damage],
    /// Monte Carlo draws that were asked for.
    pub draws: usize,
    /// Where the frames' real times come from.
    pub clock: &'a Note,
    /// Why the times cannot be believed. Nothing with a second in its unit is stated then.
    pub clock_doubt: Option<&'a ClockDoubt>,
    /// The run sheet.
    pub sheet: &'a RunSheet,
    /// What is known of the run.
    pub priors: &'a Priors,
    /// The marks in pixels.
    pub track: &'a Track,
    /// When each frame is shown, in the file's own time base.
    pub frame_ticks: &'a [i64],
    /// Motion and findings, or why there are none.
    pub measured: Result<Measures<'a>, AnalysisReason>,
    /// The second phone's clip of the same run, where there is one.
    pub end_view: Option<EndStory<'a>>,
}

impl Story<'_> {
    /// The texts of its language.
    pub fn texts(&self) -> &'static Texts {
        Texts::of(self.language)
    }

    /// What the car is called.
    pub(crate) fn car_name(&self) -> String {
        let name = self.sheet.car.name.clone();
        name.unwrap_or_else(|| self.texts().text("the-car"))
    }
}

/// What a second phone's clip of the same run gave.
#[derive(Debug, Clone, Copy)]
pub struct EndStory<'a> {
    /// The clip.
    pub clip: &'a ClipInfo,
    /// SHA-256 of the clip's file, in hexadecimal.
    pub clip_sha256: &'a str,
    /// What was wrong with its file.
    pub damage: &'a [Damage],
    /// Why its times cannot be believed.
    pub clock_doubt: Option<&'a ClockDoubt>,
    /// How its clock lies to the side clip's, or why that cannot be told.
    pub alignment: Result<&'a Alignment, AlignmentReason>,
    /// The joining, or why the side view stands alone.
    pub joined: Result<&'a Joined, JoinReason>,
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

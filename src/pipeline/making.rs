//! One clip in, one result folder out: calls the stages in order and the outputs after them. Prints
//! nothing, so that whoever has a clip to measure (a command, a page) can call it.

use super::spent::timed;
use super::{Clock, Measured, RunError, Spent, measure};
use super::{EndView, measure_pair};
use crate::analysis::AnalysisReason;
use crate::clip::{Clip, ClipError, sha256_of_file};
use crate::outputs::overlay::Pace;
use crate::outputs::{
    EndStory, Kind, LookError, METADATA_NAME, Made, Measures, NewResult, Paper, PosterError,
    ReportError, Said as _, Story, Wishes, WriteError, frame_values, frames_csv,
    frames_metadata_json, look_again, poster, report_html, result_folder, summary_json,
    summary_words, worksheet_html,
};
use crate::sheet::RunSheet;
use crate::texts::{Language, Note, say};
use std::path::{Path, PathBuf};
use std::time::Instant;

/// The report page's file name.
pub const REPORT_NAME: &str = "report.html";
/// The annotated clip's.
pub const OVERLAY_NAME: &str = "overlay.mp4";
/// The poster's as a picture.
const POSTER_NAME: &str = "poster.png";
/// ... and as a page.
const POSTER_PAGE_NAME: &str = "poster.html";

/// The worksheet's.
const WORKSHEET_NAME: &str = "worksheet.html";

/// How a clip is to be measured, and what is written.
#[derive(Debug, Clone, Copy)]
pub struct Ways<'a> {
    /// A second phone's clip of the same run.
    pub end_view: Option<&'a Path>,
    /// The run sheets that are read. As the clips they may not lie in what is replaced.
    pub sheets: &'a [PathBuf],
    /// The language of pages, pictures and words.
    pub language: Language,
    /// Whether an earlier result goes. Only a folder that holds such a result and nothing else is replaced.
    pub replace: bool,
    /// Monte Carlo draws.
    pub draws: usize,
    /// Whether the report page is written.
    pub report: bool,
    /// How fast the annotated clip plays; none is written where this is `None`.
    pub overlay: Option<Pace>,
    /// The poster's paper; none is made where this is `None`.
    pub poster: Option<Paper>,
}

/// What is being done to a clip; each is one pass over its frames.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stage {
    /// Marks are looked for.
    Looking,
    /// Pictures and the annotated clip are drawn.
    Drawing,
}

/// A result that was written.
#[derive(Debug)]
pub struct Written {
    /// Its folder.
    pub folder: PathBuf,
    /// The annotated clip, if there is one.
    pub overlay: Option<PathBuf>,
    /// The report page, if there is one.
    pub report: Option<PathBuf>,
    /// The poster, if there is one.
    pub poster: Option<PathBuf>,
    /// The summary in words, for a terminal.
    pub words: String,
    /// What else the user should know.
    pub notes: Vec<String>,
    /// What was measured.
    pub measured: Measured,
    /// What it cost.
    pub spent: Spent,
}

/// Why there is no result.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum MakeError {
    /// The clip could not be measured.
    #[error(transparent)]
    Run(#[from] RunError),
    /// The clip could not be read once more.
    #[error(transparent)]
    Clip(#[from] ClipError),
    /// The pictures could not be drawn or the annotated clip not written.
    #[error(transparent)]
    Observation(#[from] LookError),
    /// The files could not be written.
    #[error(transparent)]
    Write(#[from] WriteError),
    /// The table of frames could not be put together.
    #[error("frames.csv could not be put together: {0}")]
    Table(#[from] csv::Error),
    /// The summary could not be put together.
    #[error("summary.json could not be put together: {0}")]
    Summary(#[from] serde_json::Error),
    /// The report could not be put together.
    #[error(transparent)]
    Report(#[from] ReportError),
    /// The poster could not be put together.
    #[error(transparent)]
    Poster(#[from] PosterError),
}

impl MakeError {
    /// What to do next.
    pub fn hint(&self) -> &'static str {
        match self {
            Self::Run(error) => error.hint(),
            Self::Clip(error) => error.hint(),
            Self::Observation(error) => error.hint(),
            Self::Write(error) => error.hint(),
            Self::Poster(PosterError::Memory) => "leave the poster out with `--no-poster`",
            Self::Table(_) | Self::Summary(_) | Self::Report(_) | Self::Poster(_) => {
                "this is a fault of the tool: please report it with the clip and the run sheet"
            }
        }
    }
}

/// Measures one clip and writes its result folder in `out`, whole or not at all. `progress` is told
/// the stage, frames done and frames expected.
///
/// # Errors
/// Why there is no result; then nothing was written.
pub fn make_result(
    clip: &Path,
    sheet: &RunSheet,
    out: &Path,
    ways: &Ways<'_>,
    progress: &dyn Fn(Stage, u64, Option<u64>),
) -> Result<Written, MakeError> {
    let start = Instant::now();
    let folder = result_folder(out, clip)?;
    // A clip that is none is said before folders are made for its result.
    Clip::open(clip)?;
    let mut inputs = ways.sheets.to_vec();
    inputs.push(clip.to_path_buf());
    inputs.extend(ways.end_view.map(Path::to_path_buf));
    let result = NewResult::begin(&folder, Kind::Run, ways.replace, &inputs)?;
    let looking = |done: u64, expected: Option<u64>| progress(Stage::Looking, done, expected);
    // The clip is read for its hash while it is looked at.
    let (measured, clip_sha256) = std::thread::scope(|scope| {
        let hash = scope.spawn(|| sha256_of_file(clip));
        let measured = measured_as(clip, sheet, ways, &looking);
        let hash = hash.join();
        (measured, hash.unwrap_or_else(|_| sha256_of_file(clip)))
    });
    let ((measured, end_view), clip_sha256) = (measured?, clip_sha256?);
    let drawing = |done: u64, expected: Option<u64>| progress(Stage::Drawing, done, expected);
    let end_clip = end_view.as_ref().map(|end| end.clip.path.as_path());
    let end_sha256 = end_clip.map_or_else(|| Ok(String::new()), sha256_of_file)?;
    let shown = &measured.outline;
    let clock = clock_note(shown.clock);
    let story = Story {
        language: ways.language,
        clip: &measured.clip,
        clip_sha256: &clip_sha256,
        draws: ways.draws,
        damage: &measured.damage,
        clock: &clock,
        clock_doubt: shown.doubt.as_ref(),
        sheet,
        priors: &shown.priors,
        track: &shown.track,
        frame_ticks: &measured.frame_ticks,
        measured: measures(&measured),
        end_view: end_view.as_ref().map(|end| end_story(end, &end_sha256)),
    };
    let mut spent = measured.spent;
    let made = write(clip, &story, &result, ways, &drawing, &mut spent)?;
    let words = summary_words(&story);
    result.finish()?;
    spent.total = start.elapsed();
    Ok(Written {
        overlay: made.overlay.then(|| folder.join(OVERLAY_NAME)),
        report: ways.report.then(|| folder.join(REPORT_NAME)),
        poster: has_poster(ways, &made).then(|| folder.join(POSTER_PAGE_NAME)),
        folder,
        words,
        notes: made.notes,
        measured,
        spent,
    })
}

/// Measures a clip, with a second phone's if there is one.
fn measured_as(
    clip: &Path,
    sheet: &RunSheet,
    ways: &Ways<'_>,
    looking: &dyn Fn(u64, Option<u64>),
) -> Result<(Measured, Option<EndView>), RunError> {
    match ways.end_view {
        None => Ok((measure(clip, sheet, ways.draws, looking)?, None)),
        Some(end) => {
            let (measured, end) = measure_pair(clip, end, sheet, ways.draws, looking)?;
            Ok((measured, Some(end)))
        }
    }
}

/// Writes every file of a result, machine files first.
fn write(
    clip: &Path,
    story: &Story<'_>,
    result: &NewResult,
    ways: &Ways<'_>,
    progress: &dyn Fn(u64, Option<u64>),
    spent: &mut Spent,
) -> Result<Made, MakeError> {
    timed(&mut spent.tables, || -> Result<(), MakeError> {
        result.write("frames.csv", &frames_csv(story)?)?;
        result.write(METADATA_NAME, &frames_metadata_json()?)?;
        result.write("summary.json", &summary_json(story)?)?;
        Ok(())
    })?;
    let overlay = result.path_for(OVERLAY_NAME);
    let wishes = Wishes {
        film: ways.report,
        exposure: ways.report || ways.poster.is_some(),
        overlay: ways.overlay.map(|pace| (overlay.as_path(), pace)),
    };
    let pictures = || look_again(clip, story, &wishes, progress);
    let mut made = timed(&mut spent.pictures, pictures)?;
    if ways.report {
        let beside = made.overlay.then_some(OVERLAY_NAME);
        let exposure = made.exposure.as_ref().and_then(|made| made.as_ref().ok());
        let page = || report_html(story, &made.film, exposure, beside);
        let page = timed(&mut spent.report, page)?;
        result.write(REPORT_NAME, &page)?;
        let sheet = worksheet_html(story).map_err(ReportError::from)?;
        result.write(WORKSHEET_NAME, &sheet)?;
    }
    if let Some(paper) = ways.poster {
        timed(&mut spent.poster, || {
            write_poster(story, result, paper, &mut made)
        })?;
    }
    Ok(made)
}

fn has_poster(ways: &Ways<'_>, made: &Made) -> bool {
    ways.poster.is_some() && matches!(made.exposure, Some(Ok(_)))
}

/// Writes the poster, or says why there is none.
fn write_poster(
    story: &Story<'_>,
    result: &NewResult,
    paper: Paper,
    made: &mut Made,
) -> Result<(), MakeError> {
    match &made.exposure {
        Some(Ok(exposure)) => {
            let files = poster(story, &frame_values(story), exposure, paper)?;
            result.write(POSTER_NAME, &files.png)?;
            result.write(POSTER_PAGE_NAME, &files.html)?;
        }
        Some(Err(why)) => {
            let texts = story.texts();
            made.notes
                .push(say!(texts, "note-no-poster", why = why.said(texts)));
        }
        None => {}
    }
    Ok(())
}

fn measures(measured: &Measured) -> Result<Measures<'_>, AnalysisReason> {
    let analysis = measured.outline.analysis.as_ref().map_err(|why| *why)?;
    let judged = measured.result.as_ref().zip(measured.verdict.as_ref());
    let (result, verdict) = judged.ok_or(AnalysisReason::NoRun)?;
    Ok(Measures {
        view: &analysis.view,
        motion: &analysis.motion,
        findings: &analysis.findings,
        result,
        verdict,
    })
}

fn end_story<'a>(end: &'a EndView, clip_sha256: &'a str) -> EndStory<'a> {
    EndStory {
        clip: &end.clip,
        clip_sha256,
        damage: &end.damage,
        clock_doubt: end.clock_doubt.as_ref(),
        alignment: end.alignment.as_ref().map_err(|why| *why),
        joined: end.joined.as_ref().map_err(|why| *why),
    }
}

fn clock_note(clock: Clock) -> Note {
    match clock {
        Clock::File => Note::new("clock-file"),
        Clock::Slowed {
            capture_fps,
            slowed,
            by_sheet,
        } => {
            let who = if by_sheet {
                "clock-sheet"
            } else {
                "clock-clip"
            };
            Note::new(who)
                .exact("fps", capture_fps)
                .number("slowed", slowed, 3)
        }
    }
}

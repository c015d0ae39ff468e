//! `gripline measure`: clips in, result folders out.

use super::{complain, progress, say};
use crate::clip::sha256_of_file;
use crate::outputs::overlay::Pace;
use crate::outputs::{
    EndStory, LookError, METADATA_NAME, Made, Measures, NewResult, Story, Wishes, frames_csv,
    frames_metadata_json, look_again, report_html, result_folder, summary_json, summary_words,
};
use crate::pair::{EndView, measure_pair};
use crate::run::{Clock, Measured, measure};
use crate::sheet::RunSheet;
use crate::uncertainty::DEFAULT_DRAWS;
use clap::Args;
use std::path::{Path, PathBuf};

/// The report page's file name.
const REPORT: &str = "report.html";
/// The annotated clip's.
const OVERLAY: &str = "overlay.mp4";

#[derive(Debug, Args)]
pub(super) struct MeasureArguments {
    /// Clips to measure (MP4 or MOV, as phones make them)
    #[arg(required = true, value_name = "CLIP")]
    clips: Vec<PathBuf>,
    /// The run sheet (TOML): sizes and colours of the marks
    #[arg(long, value_name = "RUN.TOML")]
    sheet: PathBuf,
    /// A second phone's clip of the same run, from behind the start line or from above; with one CLIP
    #[arg(long, value_name = "CLIP2")]
    end_view: Option<PathBuf>,
    /// Folder for the results, one folder in it for each clip
    #[arg(long, value_name = "FOLDER", default_value = "results")]
    out: PathBuf,
    /// Measure again where a result is there already
    #[arg(long)]
    replace: bool,
    /// Monte Carlo draws for the intervals
    #[arg(long, value_name = "N", default_value_t = DEFAULT_DRAWS,
          value_parser = clap::builder::RangedU64ValueParser::<usize>::new().range(10..=5000))]
    draws: usize,
    #[command(flatten)]
    outputs: OutputChoice,
}

/// Which outputs are made beside the numbers.
#[derive(Debug, Clone, Copy, Default, Args)]
pub(super) struct OutputChoice {
    /// Write no report page
    #[arg(long)]
    no_report: bool,
    /// Write no annotated clip
    #[arg(long)]
    no_overlay: bool,
    /// How fast the annotated clip plays
    #[arg(long, value_name = "SPEED", value_enum, default_value_t = OverlaySpeed::Full,
          conflicts_with = "no_overlay")]
    overlay_speed: OverlaySpeed,
}

/// Speeds of the annotated clip.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, clap::ValueEnum)]
enum OverlaySpeed {
    /// as the clip itself, with its sound
    #[default]
    Full,
    /// half as fast
    Half,
    /// a quarter as fast
    Quarter,
}

impl From<OverlaySpeed> for Pace {
    fn from(speed: OverlaySpeed) -> Self {
        match speed {
            OverlaySpeed::Full => Self::Full,
            OverlaySpeed::Half => Self::Half,
            OverlaySpeed::Quarter => Self::Quarter,
        }
    }
}

/// How a clip is to be measured.
#[derive(Debug, Clone, Copy)]
pub(super) struct Ways<'a> {
    /// A second phone's clip of the same run.
    pub(super) end_view: Option<&'a Path>,
    /// Whether an earlier result goes.
    pub(super) replace: bool,
    /// Monte Carlo draws.
    pub(super) draws: usize,
    /// What is written.
    pub(super) outputs: OutputChoice,
}

/// Measures every clip; false where one or more could not be measured. One bad clip does not stop
/// the rest.
pub(super) fn run(arguments: &MeasureArguments) -> bool {
    if arguments.end_view.is_some() && arguments.clips.len() > 1 {
        super::wrong_usage(
            "--end-view belongs to one run: give one CLIP with it, and measure the other runs one by one",
        );
    }
    let sheet = match RunSheet::read(&arguments.sheet) {
        Ok(sheet) => sheet,
        Err(error) => {
            complain(&error, &error.hint());
            return false;
        }
    };
    let mut all_good = true;
    for clip in &arguments.clips {
        if arguments.clips.len() > 1 {
            say(&format!("{}\n", clip.display()));
        }
        let ways = Ways {
            end_view: arguments.end_view.as_deref(),
            replace: arguments.replace,
            draws: arguments.draws,
            outputs: arguments.outputs,
        };
        all_good &= one(clip, &sheet, &arguments.out, &ways).is_some();
    }
    all_good
}

/// Measures one clip and prints its verdict; the folder written, or `None` after complaining.
pub(super) fn one(clip: &Path, sheet: &RunSheet, out: &Path, ways: &Ways<'_>) -> Option<PathBuf> {
    let folder = match result_folder(out, clip) {
        Ok(folder) => folder,
        Err(error) => {
            complain(&error, error.hint());
            return None;
        }
    };
    if folder.exists() && !ways.replace {
        let error = crate::outputs::WriteError::Exists { path: folder };
        complain(&error, error.hint());
        return None;
    }
    let name = clip.file_name().unwrap_or_default().to_string_lossy();
    let bar = progress::bar("looking", &name);
    let progress = |done: u64, expected: Option<u64>| progress::step(&bar, done, expected);
    let measured = match ways.end_view {
        None => measure(clip, sheet, ways.draws, &progress).map(|measured| (measured, None)),
        Some(end) => measure_pair(clip, end, sheet, ways.draws, &progress)
            .map(|(measured, end)| (measured, Some(end))),
    };
    bar.finish_and_clear();
    let (measured, end_view) = match measured {
        Ok(measured) => measured,
        Err(error) => {
            complain(&error, error.hint());
            return None;
        }
    };
    match tell(clip, sheet, &measured, end_view.as_ref(), &folder, ways) {
        Ok(words) => {
            say(&words);
            Some(folder)
        }
        Err(error) => {
            let hint = (error.downcast_ref::<crate::outputs::WriteError>())
                .map(crate::outputs::WriteError::hint)
                .or_else(|| error.downcast_ref::<LookError>().map(LookError::hint));
            complain(&error, hint.unwrap_or_default());
            None
        }
    }
}

/// Writes the result and returns what to print.
fn tell(
    clip: &Path,
    sheet: &RunSheet,
    measured: &Measured,
    end_view: Option<&EndView>,
    folder: &Path,
    ways: &Ways<'_>,
) -> anyhow::Result<String> {
    let clip_sha256 = sha256_of_file(clip)?;
    let end_sha256 = match end_view {
        Some(end) => sha256_of_file(&end.clip.path)?,
        None => String::new(),
    };
    let clock = match &measured.clock_doubt {
        None => clock_words(measured.clock),
        Some(doubt) => format!("not known: {doubt}"),
    };
    let story = Story {
        clip: &measured.clip,
        clip_sha256: &clip_sha256,
        damage: &measured.damage,
        clock: &clock,
        clock_doubt: measured.clock_doubt.as_deref(),
        sheet,
        known: &measured.known,
        track: &measured.track,
        measured: match (&measured.analysis, &measured.result, &measured.verdict) {
            (Ok(analysis), Some(result), Some(verdict)) => Ok(Measures {
                view: &analysis.view,
                motion: &analysis.motion,
                findings: &analysis.findings,
                result,
                verdict,
            }),
            (Err(why), _, _) => Err(why.as_str()),
            _ => Err("the run was not analysed"),
        },
        end_view: end_view.map(|end| EndStory {
            clip: &end.clip,
            clip_sha256: &end_sha256,
            notes: &end.notes,
            alignment: end.alignment.as_ref().map_err(String::as_str),
            joined: end.joined.as_ref().map_err(String::as_str),
        }),
    };
    let result = NewResult::begin(folder, ways.replace)?;
    result.write("frames.csv", &frames_csv(&story)?)?;
    result.write(METADATA_NAME, &frames_metadata_json()?)?;
    result.write("summary.json", &summary_json(&story)?)?;
    let made = second_look(clip, &story, &result, ways.outputs)?;
    if !ways.outputs.no_report {
        result.write(REPORT, &report_html(&story, &made.film)?)?;
    }
    result.finish()?;
    let mut words = summary_words(&story);
    for note in &made.notes {
        words += "  note: ";
        words += note;
        words.push('\n');
    }
    let mut place = |what: &str, path: &Path| {
        words += what;
        words += &path.display().to_string();
        words.push('\n');
    };
    place("Results: ", folder);
    if made.overlay {
        place("Annotated clip: ", &folder.join(OVERLAY));
    }
    if !ways.outputs.no_report {
        place("Report: ", &folder.join(REPORT));
    }
    Ok(words)
}

fn second_look(
    clip: &Path,
    story: &Story<'_>,
    result: &NewResult,
    outputs: OutputChoice,
) -> Result<Made, LookError> {
    let overlay = result.path_for(OVERLAY);
    let wishes = Wishes {
        film: !outputs.no_report,
        overlay: (!outputs.no_overlay).then(|| (overlay.as_path(), outputs.overlay_speed.into())),
    };
    let name = clip.file_name().unwrap_or_default().to_string_lossy();
    let bar = progress::bar("drawing", &name);
    let made = look_again(clip, story, &wishes, &|done, expected| {
        progress::step(&bar, done, expected);
    });
    bar.finish_and_clear();
    made
}

fn clock_words(clock: Clock) -> String {
    match clock {
        Clock::File => "the file's own frame times".to_owned(),
        Clock::ClipRate {
            capture_fps,
            slowed,
        } => format!(
            "slow motion: the clip says it was taken at {capture_fps} frames a second, so its times were \
             divided by {slowed:.3}"
        ),
        Clock::SheetRate {
            capture_fps,
            slowed,
        } => format!(
            "slow motion: the run sheet says it was taken at {capture_fps} frames a second, so the file's \
             times were divided by {slowed:.3}"
        ),
    }
}

//! `gripline measure`: clips in, result folders out.

use super::{complain, progress, recovered, say, timings};
use crate::outputs::overlay::Pace;
use crate::outputs::{Paper, printable, printable_path};
use crate::pipeline::{Outcome, measure_unless_done, sheet_beside, sheet_of};
use crate::pipeline::{Stage, Ways, Written};
use crate::sheet::RunSheet;
use crate::sheet::kit::no_sheet;
use crate::station::bound_this_process;
use crate::texts::{Language, Texts};
use crate::uncertainty::DEFAULT_DRAWS;
use clap::Args;
use std::path::{Path, PathBuf};

#[derive(Debug, Args)]
#[command(after_long_help = super::help::measure())]
pub(super) struct MeasureArguments {
    /// Clips to measure (MP4 or MOV, as phones make them)
    #[arg(required = true, value_name = "CLIP")]
    clips: Vec<PathBuf>,
    /// The run sheet (TOML) of all clips: sizes and colours of the marks. A sheet beside a clip, of the same name
    /// with the ending .toml, is laid over it: what stands there holds for that clip. Without any sheet the
    /// printed kit's marks are looked for
    #[arg(long, value_name = "RUN.TOML")]
    sheet: Option<PathBuf>,
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
    /// Clips measured at the same time [default: as many as the computer has cores, at most 4]
    #[arg(long, value_name = "N",
          value_parser = clap::builder::RangedU64ValueParser::<usize>::new().range(1..=64))]
    at_once: Option<usize>,
    /// Say on the error stream what each stage cost; results stay as they are
    #[arg(long)]
    timings: bool,
    /// Keep within bounds of memory, time and files, and write to the folder of the results alone
    #[arg(long, hide = true)]
    bounded: bool,
    #[command(flatten)]
    outputs: OutputChoice,
}

/// Which outputs are made beside the numbers.
#[derive(Debug, Clone, Copy, Default, Args)]
pub(super) struct OutputChoice {
    /// Language of report, worksheet, poster, annotated clip and of what is printed of one clip. frames.csv and
    /// summary.json, messages of errors and the table of many clips are English in all. A result that is there keeps
    /// its language unless you add --replace
    #[arg(long, value_name = "LANGUAGE", value_enum, default_value_t = SpokenLanguage::En)]
    language: SpokenLanguage,
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
    /// Make a poster, on A4 unless you say --poster=a3. One clip gets one anyway, with its report; of many clips
    /// none does, unless you ask for it
    #[arg(long, value_name = "PAPER", value_enum, num_args = 0..=1, require_equals = true,
          default_missing_value = "a4")]
    poster: Option<PosterPaper>,
    /// Make no poster
    #[arg(long, conflicts_with = "poster")]
    no_poster: bool,
}

/// Languages by their tags.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, clap::ValueEnum)]
enum SpokenLanguage {
    /// English
    #[default]
    En,
    /// German
    De,
}

/// Papers of the poster.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
enum PosterPaper {
    /// 297 x 210 mm
    A4,
    /// 420 x 297 mm
    A3,
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

impl OutputChoice {
    /// The language that was asked for.
    pub(super) const fn language(self) -> Language {
        match self.language {
            SpokenLanguage::En => Language::English,
            SpokenLanguage::De => Language::German,
        }
    }

    /// The annotated clip's pace, if one is wanted.
    pub(super) fn overlay(self) -> Option<Pace> {
        (!self.no_overlay).then(|| self.overlay_speed.into())
    }

    /// The poster's paper, if one is wanted; `one` says that a single clip is measured.
    pub(super) const fn poster(self, one: bool) -> Option<Paper> {
        match self.poster {
            Some(PosterPaper::A4) => Some(Paper::A4),
            Some(PosterPaper::A3) => Some(Paper::A3),
            None if one && !self.no_report && !self.no_poster => Some(Paper::A4),
            None => None,
        }
    }

    /// Whether a report page is wanted.
    pub(super) const fn report(self) -> bool {
        !self.no_report
    }
}

/// Measures every clip; false where one or more have no result. One bad clip does not stop the rest.
pub(super) fn run(arguments: &MeasureArguments) -> bool {
    let clips = &arguments.clips;
    if arguments.end_view.is_some() && clips.len() > 1 {
        super::wrong_usage(
            "--end-view belongs to one run: give one CLIP with it, and measure the other runs one by one",
        );
    }
    let bare = arguments.sheet.is_none() && clips.iter().all(|clip| !sheet_beside(clip).is_file());
    let common = match arguments.sheet.as_deref().map(RunSheet::read).transpose() {
        Ok(_) if bare => Some(no_sheet()),
        Ok(common) => common,
        Err(error) => {
            complain(&error, &error.hint());
            return false;
        }
    };
    recovered(Some(&arguments.out));
    if arguments.bounded
        && let Err(error) = bound_this_process(&arguments.out)
    {
        complain(
            &format!("the bounds of this process could not be set: {error}"),
            "this is a fault of the tool or the system: please report it",
        );
        return false;
    }
    let sheets: Vec<PathBuf> = arguments.sheet.iter().cloned().collect();
    let ways = Ways {
        language: arguments.outputs.language(),
        end_view: arguments.end_view.as_deref(),
        sheets: &sheets,
        replace: arguments.replace,
        draws: arguments.draws,
        report: arguments.outputs.report(),
        overlay: arguments.outputs.overlay(),
        poster: arguments.outputs.poster(clips.len() == 1),
    };
    if let [clip] = clips.as_slice() {
        return match sheet_of(clip, common.as_ref()) {
            Ok(sheet) => one(clip, &sheet, &arguments.out, &ways, arguments.timings),
            Err(error) => {
                complain(&error, &error.hint());
                false
            }
        };
    }
    super::batch::run(
        clips,
        common.as_ref(),
        &arguments.out,
        &ways,
        arguments.at_once,
        arguments.timings,
    )
}

/// Measures one clip and prints its verdict, or complains; whether there is a result. With `timings` it says what each
/// stage cost.
pub(super) fn one(
    clip: &Path,
    sheet: &RunSheet,
    out: &Path,
    ways: &Ways<'_>,
    timings: bool,
) -> bool {
    let name = clip.file_name().unwrap_or_default().to_string_lossy();
    let name = printable(&name);
    let looking = progress::bar("looking", &name);
    let drawing = progress::bar("drawing", &name);
    let outcome = measure_unless_done(clip, sheet, out, ways, &|stage, done, expected| {
        let bar = match stage {
            Stage::Looking => &looking,
            Stage::Drawing => {
                looking.finish_and_clear();
                &drawing
            }
        };
        progress::step(bar, done, expected);
    });
    looking.finish_and_clear();
    drawing.finish_and_clear();
    match outcome {
        Outcome::Measured(written) => {
            say(&words(Texts::of(ways.language), &written));
            if timings {
                timings::tell(&name, &written.spent);
            }
            true
        }
        Outcome::UpToDate { folder, cause, .. } => {
            say(&format!(
                "Up to date: clip, run sheet, draws and gripline are those of the result that is there\n  \
                 verdict: {cause}; `--replace` measures it again\nResults: {}\n",
                printable_path(&folder)
            ));
            true
        }
        Outcome::Failed(error) => {
            complain(&error, &error.hint());
            false
        }
    }
}

/// What is printed of a result: its summary, and where its files are.
fn words(texts: &Texts, written: &Written) -> String {
    let notes =
        (written.notes.iter()).map(|note| format!("  {}\n", texts.with("said-note", "note", note)));
    let places = [
        ("place-results", Some(&written.folder)),
        ("place-clip", written.overlay.as_ref()),
        ("place-report", written.report.as_ref()),
        ("place-poster", written.poster.as_ref()),
    ];
    let places = (places.into_iter())
        .filter_map(|(what, path)| Some(texts.with(what, "path", &printable_path(path?)) + "\n"));
    std::iter::once(written.words.clone())
        .chain(notes)
        .chain(places)
        .collect()
}

//! `gripline measure`: clips in, result folders out.

use super::{complain, progress, say};
use crate::clip::sha256_of_file;
use crate::outputs::{
    EndStory, Measures, Story, frames_csv, result_folder, summary_json, summary_words, write_result,
};
use crate::pair::{EndView, measure_pair};
use crate::run::{Clock, Measured, measure};
use crate::sheet::RunSheet;
use crate::uncertainty::DEFAULT_DRAWS;
use clap::Args;
use std::path::{Path, PathBuf};

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
        all_good &= one(
            clip,
            arguments.end_view.as_deref(),
            &sheet,
            &arguments.out,
            arguments.replace,
            arguments.draws,
        )
        .is_some();
    }
    all_good
}

/// Measures one clip and prints its verdict; the folder written, or `None` after complaining.
pub(super) fn one(
    clip: &Path,
    end_view: Option<&Path>,
    sheet: &RunSheet,
    out: &Path,
    replace: bool,
    draws: usize,
) -> Option<PathBuf> {
    let folder = match result_folder(out, clip) {
        Ok(folder) => folder,
        Err(error) => {
            complain(&error, error.hint());
            return None;
        }
    };
    if folder.exists() && !replace {
        let error = crate::outputs::WriteError::Exists { path: folder };
        complain(&error, error.hint());
        return None;
    }
    let bar = progress::bar(&clip.file_name().unwrap_or_default().to_string_lossy());
    let progress = |done: u64, expected: Option<u64>| {
        if let Some(expected) = expected {
            bar.set_length(expected.max(done));
        }
        bar.set_position(done);
    };
    let measured = match end_view {
        None => measure(clip, sheet, draws, &progress).map(|measured| (measured, None)),
        Some(end) => measure_pair(clip, end, sheet, draws, &progress)
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
    match tell(clip, sheet, &measured, end_view.as_ref(), &folder, replace) {
        Ok(words) => {
            say(&words);
            say(&format!("Results: {}\n", folder.display()));
            Some(folder)
        }
        Err(error) => {
            let hint = error
                .downcast_ref::<crate::outputs::WriteError>()
                .map_or("", crate::outputs::WriteError::hint);
            complain(&error, hint);
            None
        }
    }
}

fn tell(
    clip: &Path,
    sheet: &RunSheet,
    measured: &Measured,
    end_view: Option<&EndView>,
    folder: &Path,
    replace: bool,
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
    let files = [
        ("frames.csv", frames_csv(&story)?),
        ("summary.json", summary_json(&story)?),
    ];
    write_result(folder, &files, replace)?;
    Ok(summary_words(&story))
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

//! Whether a clip is good enough: gathers what the stages make of it, as a run or, where nothing goes anywhere, as a
//! test shot of a car at rest with an ordinary run imagined in its place. `checking` judges it.

use super::hypothesis::priors_at;
use super::imagined::imagined_run;
use super::kit::{completed, marks_wanted};
use super::{Clock, Observed, RunError, measure_observed, observe_clip};
use crate::analysis::AnalysisReason;
use crate::camera::{View, locate};
use crate::clip_quality::{Checked, Evidence, RunEvidence, car_moved, check};
use crate::priors::Priors;
use crate::sheet::{KitPart, RunSheet};
use crate::track::{Track, follow_at_rest};
use std::path::Path;

/// Draws for the intervals: their half-widths are good to a tenth, which is enough to judge by.
pub(super) const DRAWS: usize = 60;

/// Judges a clip. `progress` is told frames done and frames expected.
///
/// # Errors
/// What is wrong with the clip; that its marks cannot be followed is part of the judgement.
pub fn inspect(
    clip: &Path,
    sheet: &RunSheet,
    progress: &dyn Fn(u64, Option<u64>),
) -> Result<Checked, RunError> {
    let wanted = marks_wanted(sheet);
    let observed = observe_clip(clip, &wanted, progress)?;
    let measured = measure_observed(clip, &observed, sheet, DRAWS);
    let told = measured
        .as_ref()
        .map_err(|why| (why.to_string(), why.hint()));
    let moved = told.as_ref().is_ok_and(|run| car_moved(&run.outline.track));
    // A clip in which nothing goes anywhere is a test shot: its marks are taken as they stand.
    let rest = if moved {
        None
    } else {
        at_rest(&observed, sheet)
    };
    let mut evidence = match (&rest, &told) {
        (Some((track, priors, view)), _) => Ok(RunEvidence {
            track,
            priors,
            view: Ok(view),
            analysis: Err(AnalysisReason::NoRun),
            result: None,
        }),
        (None, Ok(run)) => {
            let shown = &run.outline;
            let analysis = shown.analysis.as_ref().map_err(|why| *why);
            Ok(RunEvidence {
                track: &shown.track,
                priors: &shown.priors,
                view: analysis.map(|best| &best.view),
                analysis,
                result: run.result.as_ref(),
            })
        }
        (None, Err((why, hint))) => Err((why.as_str(), *hint)),
    };
    let still = evidence.as_mut().ok().filter(|_| !moved);
    let imagined = still
        .as_ref()
        .and_then(|run| imagined_run(run, wanted.wheel.is_some()));
    if let Some(run) = still {
        run.result = imagined.as_ref();
    }
    let shown = measured.as_ref().ok().map(|run| &run.outline);
    Ok(check(&Evidence {
        seen: &observed.seen,
        wanted: &wanted,
        damage: &observed.damage,
        clock_doubt: shown.and_then(|shown| shown.doubt.as_ref()),
        slowed: shown.map_or(1.0, |shown| shown.clock.slowed()),
        run: evidence,
    }))
}

/// A car that only stands there: its marks, what is known, and how the floor is seen. `None` where nothing of
/// the sticker's colour stands still.
fn at_rest(observed: &Observed, sheet: &RunSheet) -> Option<(Track, Priors, View)> {
    let times_s = Clock::stated(observed, sheet).times_s(&observed.seen);
    let track = follow_at_rest(&observed.seen, times_s, &marks_wanted(sheet))?;
    let mut full = completed(sheet, &track);
    // Whether a mark of the wheel's colour is on the wheel, only a run shows.
    if sheet.wheel_marks.is_empty() {
        full.wheel_marks.clear();
        full.from_kit.retain(|part| *part != KitPart::WheelMark);
    }
    let priors = priors_at(&full, &track);
    let view = locate(&track, &priors.camera_sheet());
    Some((track, priors, view))
}

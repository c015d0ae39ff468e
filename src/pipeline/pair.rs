//! Two clips of one run: all stages for each, then the joining.

use super::{Clock, Measured, RunError, measure};
use crate::analysis::{AnalysisReason, ClockDoubt};
use crate::camera::Projection;
use crate::clip::{ClipInfo, Damage, read_loudness};
use crate::findings::{Estimate, Key};
use crate::sheet::RunSheet;
use crate::two_views::{
    Alignment, AlignmentReason, JoinReason, Joined, Missed, Moment, Snap, SnapReason, ViewName,
    Viewed, align, find_snap, join,
};
use crate::verdict::judge;
use std::path::Path;

/// What the second phone's clip gave.
#[derive(Debug)]
pub struct EndView {
    /// The clip.
    pub clip: ClipInfo,
    /// What was wrong with its file, and with its clock.
    pub damage: Vec<Damage>,
    /// Why its times cannot be believed.
    pub clock_doubt: Option<ClockDoubt>,
    /// How its clock lies to the side clip's; the reason where that cannot be told.
    pub alignment: Result<Alignment, AlignmentReason>,
    /// The joined result; the reason where there is none and the side view stands alone.
    pub joined: Result<Joined, JoinReason>,
}

/// Measures two clips of one run. What is joined is put into the side view's measures.
///
/// # Errors
/// What is wrong with either clip, or that no sticker could be followed in it.
pub fn measure_pair(
    side: &Path,
    end: &Path,
    sheet: &RunSheet,
    draws: usize,
    progress: &dyn Fn(u64, Option<u64>),
) -> Result<(Measured, EndView), RunError> {
    let mut ours = measure(side, sheet, draws, progress)?;
    let theirs = measure(end, &sheet.for_end_view(), draws, progress)?;
    ours.spent += theirs.spent;
    let alignment = align(&moment(&ours)?, &moment(&theirs)?);
    let joined = joined(&ours, &theirs, alignment.as_ref());
    if let (Ok(analysis), Ok(joined)) = (&mut ours.outline.analysis, &joined) {
        analysis.findings.frames.clone_from(&joined.frames);
        ours.verdict = Some(judge(&joined.result));
        ours.result = Some(joined.result.clone());
    }
    Ok((
        ours,
        EndView {
            clip: theirs.clip,
            damage: theirs.damage,
            clock_doubt: theirs.outline.doubt,
            alignment,
            joined,
        },
    ))
}

fn joined(
    ours: &Measured,
    theirs: &Measured,
    alignment: Result<&Alignment, &AlignmentReason>,
) -> Result<Joined, JoinReason> {
    join(
        viewed(ours, ViewName::Side)?,
        viewed(theirs, ViewName::End)?,
        alignment.map_err(|why| JoinReason::NotAligned(*why))?,
    )
}

fn viewed(measured: &Measured, view: ViewName) -> Result<Viewed<'_>, JoinReason> {
    let not_measured = |why| JoinReason::NotMeasured(Missed { view, why });
    let analysis = measured
        .outline
        .analysis
        .as_ref()
        .map_err(|why| not_measured(*why))?;
    let result = (measured.result.as_ref()).ok_or(not_measured(AnalysisReason::NoRun))?;
    Ok(Viewed { analysis, result })
}

fn moment(measured: &Measured) -> Result<Moment, RunError> {
    let first_motion = match &measured.outline.analysis {
        Ok(analysis) => analysis.findings.get(Key::ReleaseS).map_err(Into::into),
        Err(why) => Err((*why).into()),
    };
    Ok(Moment {
        snap: snap(measured, first_motion.as_ref().ok())?,
        phone_away_m: phone_away_m(measured),
        first_motion,
    })
}

/// The snap is looked for this near to the first motion, s; a shout or a clap may be elsewhere.
const SNAP_NEAR_S: f64 = 0.3;

/// The snap in a clip's sound. Slow motion has no sound, or a stretched one.
fn snap(
    measured: &Measured,
    first_motion: Option<&Estimate>,
) -> Result<Result<Snap, SnapReason>, RunError> {
    if measured.outline.clock != Clock::File || measured.outline.doubt.is_some() {
        return Ok(Err(SnapReason::SlowMotion));
    }
    let Some(sound) = read_loudness(&measured.clip.path)? else {
        return Ok(Err(SnapReason::NoSound));
    };
    let (from_s, to_s) = first_motion.map_or((f64::NEG_INFINITY, f64::INFINITY), |motion| {
        (motion.value - SNAP_NEAR_S, motion.value + SNAP_NEAR_S)
    });
    Ok(find_snap(&sound, measured.zero_s, from_s, to_s))
}

fn phone_away_m(measured: &Measured) -> Option<f64> {
    let from = measured.outline.priors.aim_m[0];
    match &measured.outline.view.projection {
        Projection::Pinhole(camera) => {
            let away = camera.position_m - nalgebra::Point3::new(from.x, from.y, 0.0);
            Some(away.norm())
        }
        Projection::Flat(_) => None,
    }
}

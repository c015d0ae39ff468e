//! Two clips of one run: all stages for each, then the joining.

use super::{Clock, Measured, RunError, measure};
use crate::camera::Projection;
use crate::clip::{ClipInfo, read_loudness};
use crate::findings::{Estimate, Key};
use crate::sheet::RunSheet;
use crate::two_views::{Alignment, Joined, Moment, Snap, Viewed, align, find_snap, join};
use crate::verdict::judge;
use std::path::Path;

/// What the second phone's clip gave.
#[derive(Debug)]
pub struct EndView {
    /// The clip.
    pub clip: ClipInfo,
    /// What was wrong with its file, and with its clock.
    pub notes: Vec<String>,
    /// How its clock lies to the side clip's; the reason where that cannot be told.
    pub alignment: Result<Alignment, String>,
    /// The joined result; the reason where there is none and the side view stands alone.
    pub joined: Result<Joined, String>,
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
    let mut notes = theirs.damage;
    notes.extend(theirs.outline.doubt.map(|doubt| doubt.words));
    Ok((
        ours,
        EndView {
            clip: theirs.clip,
            notes,
            alignment,
            joined,
        },
    ))
}

fn joined(
    ours: &Measured,
    theirs: &Measured,
    alignment: Result<&Alignment, &String>,
) -> Result<Joined, String> {
    join(
        viewed(ours).map_err(|why| format!("the side view: {why}"))?,
        viewed(theirs).map_err(|why| format!("the end view: {why}"))?,
        alignment.map_err(Clone::clone)?,
    )
}

fn viewed(measured: &Measured) -> Result<Viewed<'_>, String> {
    let analysis = measured.outline.analysis.as_ref().map_err(Clone::clone)?;
    let result = measured.result.as_ref().ok_or("it was not analysed")?;
    Ok(Viewed { analysis, result })
}

fn moment(measured: &Measured) -> Result<Moment, RunError> {
    let first_motion = match &measured.outline.analysis {
        Ok(analysis) => analysis.findings.get(Key::ReleaseS),
        Err(why) => Err(why.clone()),
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
) -> Result<Result<Snap, String>, RunError> {
    let name = measured.clip.path.display();
    if measured.outline.clock != Clock::File || measured.outline.doubt.is_some() {
        return Ok(Err(format!(
            "the sound of slow motion ({name}) is not in step"
        )));
    }
    let Some(sound) = read_loudness(&measured.clip.path)? else {
        return Ok(Err(format!("{name} has no sound")));
    };
    let (from_s, to_s) = first_motion.map_or((f64::NEG_INFINITY, f64::INFINITY), |motion| {
        (motion.value - SNAP_NEAR_S, motion.value + SNAP_NEAR_S)
    });
    Ok(find_snap(&sound, measured.zero_s, from_s, to_s).map_err(|why| format!("{name}: {why}")))
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

//! From floor marks to a view: how the floor frame is seen, and what that view can show.
//!
//! # A camera that stands still
//!
//! How patches are named after marks stands in `matching.rs`. Patches whose camera misfits by 30 mm on the floor
//! are no marks; where marks misfit by more than a tape does, their places count as that uncertain. Focal length
//! and pose start from Zhang's two constraints and are refined by least squares on the reprojection, together with
//! the lens's bend `k1`. What is known beforehand (phones' focal lengths, `k1` of 0 ± 0.04) counts as two observations
//! more, and is drawn anew in each Monte Carlo draw, so that a lens that the marks leave open widens the intervals.
//! The middle of a mark's outline is not where its centre is seen (`outline.rs`): near marks are corrected by up to
//! a third of a pixel.
//!
//! # A camera that moves (`moving.rs`)
//!
//! Where most patches of the floor marks' colour wander, each is followed through the clip (`track/unsteady.rs`),
//! marks are named in a frame that shows many, and the names are carried forth and back: a patch that comes into view
//! is met where its mark must appear. Eight frames together give one lens and the marks' true places (`bundle.rs`),
//! each observation brought to the middle of its frame first, because rows are taken one after another. Then turn and
//! shift of the camera are smoothed over all observations, each at its row's time (`shake.rs`): a Kalman smoother
//! whose two densities and pixel variance are those of greatest likelihood. The pose is asked for at any time
//! (`View::at`); farther than 60 ms from any observation it is not known. In each Monte Carlo draw the observations'
//! errors are drawn too, alike from frame to frame by 0.6. Each frame's pose is fitted again with that lens before it
//! is smoothed; names whose smooth path leaves more than 3 px, by which the car would go backwards, or with which four
//! marks ask for a lens that no phone has, are dropped. A camera that stands still takes the other way, and gets no
//! noise from this. Travel and rest of patches are judged without the picture's own shift.
//!
//! # A plain scale (`flat.rs`)
//!
//! A plain scale stands in where there are fewer marks. The wheel mark's circle then drifts against the sticker
//! (parallax), is flattened, leans and grows as the car goes by: `fit_drifting_circle` takes that out. A circle
//! that grows is a car that comes nearer: the picture is straightened by that growth as from a keystone, and 0.35
//! of it stays as uncertainty (a drawn car that goes away by 6 %: slip off by 0.009, 0.07 without). Where more than
//! 4 % is left no slip is stated.

mod bundle;
mod circle;
mod flat;
mod homography;
mod matching;
mod moving;
mod outline;
mod path;
mod pose;
mod projection;
mod reason;
mod shake;

pub use bundle::{Bundle, MarkObservation, fit_bundle};
pub use circle::{Circle, DriftingCircle, algebraic_circle, fit_circle, fit_drifting_circle};
pub use flat::{FlatSource, flat_view};
pub use homography::{apply, homography};
pub use matching::{Correspondence, Course, MarkPrior, name_marks};
pub use moving::Moving;
pub use outline::disc_shift_px;
pub use path::{CameraPath, PoseNode};
pub use pose::{FittedCamera, LensPrior, MarkPair, fit_camera, fit_pose};
pub use projection::{Flat, Keystone, Pinhole, Projection};
pub use reason::CameraReason;
pub use shake::ShakeTuning;

use crate::track::{StillMark, Track};
use nalgebra::{Point3, Vector2};
use serde::Serialize;

/// What the camera stage needs of the run sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct CameraSheet {
    /// The floor marks.
    pub marks: Vec<MarkPrior>,
    /// Start and end of the aim line, m.
    pub aim_m: [Vector2<f64>; 2],
    /// What is known of the lens.
    pub lens: LensPrior,
    /// Standard uncertainty of a floor mark's place, m.
    pub mark_sd_m: f64,
    /// Half of the driven wheel's diameter, m.
    pub wheel_radius_m: Option<f64>,
    /// Distance of the wheel mark from the hub, m.
    pub mark_radius_m: Option<f64>,
    /// Whether the camera sees the car's right side.
    pub from_right: bool,
    /// Height of the sticker above the floor, m.
    pub sticker_height_m: f64,
    /// Distance of the sticker ahead of the driven axle, m.
    pub sticker_ahead_m: f64,
    /// Time that the sensor takes from its first row to its last, s.
    pub readout_s: f64,
}

/// Where the floor frame's numbers come from.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum ViewSource {
    /// A camera fitted to this many floor marks.
    FloorMarks {
        /// Marks used.
        marks: usize,
        /// Root mean square of the marks' residuals, px.
        residual_px: f64,
        /// Focal length, px.
        focal_px: f64,
        /// Radial distortion.
        k1: f64,
        /// Whether the camera moved and was followed.
        moving: bool,
    },
    /// A plain scale.
    PlainScale {
        /// What it was taken from.
        from: FlatSource,
    },
    /// No scale at all: pixels only.
    PixelsOnly,
}

/// How sure lengths along the track are, apart from what the floor marks' places and the camera leave open.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Scale {
    /// Standard uncertainty of all lengths alike, as a share: 0 for a camera, more for a plain scale.
    pub rel_sd: f64,
    /// By how much the scale may differ from one end of the run to the other, as a share: a car that
    /// comes nearer or goes away before a plain scale.
    pub uneven: f64,
}

/// How the run is seen.
#[derive(Debug, Clone, PartialEq)]
pub struct View {
    /// Points to pixels and back; where the camera moves, at the beginning of the clip.
    pub projection: Projection,
    /// How a moving camera was followed; `None` where it stands still.
    pub moving: Option<Moving>,
    /// Where it comes from.
    pub source: ViewSource,
    /// How sure lengths along the track are; the reason where there are no metres.
    pub scale: Result<Scale, CameraReason>,
    /// Whether what moves in the picture moves on the floor; the reason where the camera moves unseen.
    pub travel: Result<(), CameraReason>,
    /// Whether sideways quantities can be seen; the reason where not.
    pub lateral: Result<(), CameraReason>,
    /// Which still patch was taken for which floor mark, by the sheet's order.
    pub correspondence: Correspondence,
    /// Why a better view was not to be had.
    pub note: Option<CameraReason>,
}

#[cfg(test)]
impl View {
    /// How a camera that stands still sees by a projection, everything told.
    pub(crate) fn example(projection: Projection) -> Self {
        Self {
            projection,
            moving: None,
            source: ViewSource::PixelsOnly,
            scale: Ok(Scale::default()),
            travel: Ok(()),
            lateral: Ok(()),
            correspondence: Vec::new(),
            note: None,
        }
    }
}

impl View {
    /// How points are seen at a time (s since the first row of the first frame); `None` while a moving
    /// camera sees too few floor marks to tell where it is.
    pub fn at(&self, time_s: f64) -> Option<Projection> {
        match &self.moving {
            None => Some(self.projection),
            Some(moving) => moving.path.at(time_s).map(Projection::Pinhole),
        }
    }
}

impl View {
    /// Root mean square residual of the floor marks as a length on the floor, m; `None` without a camera.
    pub fn mark_residual_m(&self, marks: &[MarkPrior]) -> Option<f64> {
        let ViewSource::FloorMarks { residual_px, .. } = self.source else {
            return None;
        };
        median_px_per_m(&self.projection, marks).map(|px_per_m| residual_px / px_per_m)
    }
}

/// Finds the view from what lies still on the floor, or from what shows how the camera moves.
pub fn locate(track: &Track, sheet: &CameraSheet) -> View {
    if camera_moves(track) {
        return match enough_marks(sheet).and_then(|()| moving::follow_camera(track, sheet)) {
            Ok(moving) => moving_view(moving),
            Err(why) => no_view(track, sheet, why),
        };
    }
    let why = match pinhole_view(track, sheet, None) {
        Ok(view) => return view,
        Err(why) => why,
    };
    View {
        note: Some(why),
        ..flat_view(track, sheet)
    }
}

/// Fits the camera with the marks named as before: for the same clip with slightly other inputs.
pub fn relocate(track: &Track, sheet: &CameraSheet, before: &View) -> View {
    if let Some(moving) = &before.moving {
        return moving::follow_again(track, sheet, moving)
            .map_or_else(|| no_view(track, sheet, CameraReason::Moves), moving_view);
    }
    if camera_moves(track) {
        return no_view(track, sheet, before.note.unwrap_or(CameraReason::Moves));
    }
    match pinhole_view(track, sheet, Some(&before.correspondence)) {
        Ok(view) => view,
        Err(why) => View {
            note: Some(why),
            ..flat_view(track, sheet)
        },
    }
}

/// Namings that a first rough fit leaves standing, a few of the best.
fn likeliest(
    patches: &[StillMark],
    size: (f64, f64),
    sheet: &CameraSheet,
    correspondences: Vec<Correspondence>,
) -> Vec<Correspondence> {
    if correspondences.len() < 2 {
        return correspondences;
    }
    let mut rough: Vec<(f64, Correspondence)> = correspondences
        .into_iter()
        .filter_map(|correspondence| {
            let fitted = fit_named(patches, size, sheet, &correspondence, 1)?;
            let cost = unlikeliness(&(correspondence.clone(), fitted));
            Some((cost, correspondence))
        })
        .collect();
    rough.sort_by(|a, b| a.0.total_cmp(&b.0));
    rough.truncate(FINALISTS);
    rough
        .into_iter()
        .map(|(_, correspondence)| correspondence)
        .collect()
}

/// Namings that are fitted with all care.
const FINALISTS: usize = 12;

fn camera_moves(track: &Track) -> bool {
    !track.floor_paths.is_empty()
}

fn moving_view(moving: Moving) -> View {
    let marks: std::collections::BTreeSet<usize> = moving.names.iter().copied().flatten().collect();
    let base = moving.path.base;
    View {
        projection: Projection::Pinhole(base),
        source: ViewSource::FloorMarks {
            marks: marks.len(),
            residual_px: moving.residual_px,
            focal_px: base.focal_px,
            k1: base.k1,
            moving: true,
        },
        scale: Ok(Scale::default()),
        travel: Ok(()),
        lateral: Ok(()),
        correspondence: Vec::new(),
        note: None,
        moving: Some(moving),
    }
}

/// A camera that moves and cannot be followed: no place on the floor can be told, and a plain scale, which
/// takes the camera to stand still, would be wrong.
fn no_view(track: &Track, sheet: &CameraSheet, why: CameraReason) -> View {
    View {
        scale: Err(why),
        travel: Err(why),
        lateral: Err(why),
        note: Some(why),
        source: ViewSource::PixelsOnly,
        ..flat_view(track, sheet)
    }
}

fn enough_marks(sheet: &CameraSheet) -> Result<(), CameraReason> {
    if sheet.marks.len() < 4 {
        let named = sheet.marks.len();
        return Err(CameraReason::FewMarks { named });
    }
    if matching::in_line(&sheet.marks) {
        return Err(CameraReason::MarksInLine);
    }
    Ok(())
}

fn pinhole_view(
    track: &Track,
    sheet: &CameraSheet,
    correspondence: Option<&Correspondence>,
) -> Result<View, CameraReason> {
    enough_marks(sheet)?;
    let correspondences = match correspondence {
        Some(correspondence) => vec![correspondence.clone()],
        None => name_marks(&sheet.marks, &track.floor, course(track, sheet).as_ref()),
    };
    let size = (track.width_px, track.height_px);
    // A layout that looks the same from two sides fits both ways; the car's own course tells them apart.
    let cost = |found: &(Correspondence, FittedCamera)| {
        let poses = vec![Some(found.1.camera); track.sticker.len()];
        unlikeliness(found) - moving::course(track, sheet, &poses).unwrap_or(-4.0)
    };
    let (correspondence, fitted) = likeliest(&track.floor, size, sheet, correspondences)
        .into_iter()
        .filter_map(|correspondence| {
            fit_named(&track.floor, size, sheet, &correspondence, ROUNDS)
                .map(|fitted| (correspondence, fitted))
        })
        .filter(|found| believable(&found.1, size) && fits_the_floor(found, &sheet.marks))
        .min_by(|a, b| cost(a).total_cmp(&cost(b)))
        .ok_or(CameraReason::NoFit {
            patches: track.floor.len(),
        })?;
    Ok(View {
        projection: Projection::Pinhole(fitted.camera),
        source: ViewSource::FloorMarks {
            marks: correspondence.iter().flatten().count(),
            residual_px: fitted.residual_px,
            focal_px: fitted.camera.focal_px,
            k1: fitted.camera.k1,
            moving: false,
        },
        scale: Ok(Scale::default()),
        travel: Ok(()),
        lateral: Ok(()),
        correspondence,
        note: None,
        moving: None,
    })
}

/// Marks stuck down by hand fit within this share of the picture's long side; a correspondence that leaves
/// more is wrong.
const MAX_RESIDUAL_SHARE: f64 = 0.004;
/// Focal lengths of phones, from ultra-wide to three times zoom, as a share of the long side: from
/// memory, no source.
const FOCAL_SHARES: std::ops::RangeInclusive<f64> = 0.35..=3.5;
/// No phone films with more distortion than this: from memory, no source.
const MAX_K1: f64 = 0.3;
/// A mark more is worth this much residual, px.
const PX_PER_MARK: f64 = 2.0;

fn believable(fitted: &FittedCamera, size: (f64, f64)) -> bool {
    let long = size.0.max(size.1);
    FOCAL_SHARES.contains(&(fitted.camera.focal_px / long))
        && fitted.camera.k1.abs() < MAX_K1
        && fitted.residual_px < (MAX_RESIDUAL_SHARE * long).max(2.0)
}

/// Marks that are off their places by more than this are none, m: no tape measure is that wrong, and what is
/// misread by less widens the intervals.
const MAX_MISPLACED_M: f64 = 0.05;
/// What marks tell of a camera: six of its pose, and its focal length.
const CAMERA_UNKNOWNS: f64 = 7.0;

/// How much farther marks are off their places than what a camera fitted to `marks` of them leaves: a few leave
/// little, however wrong they are (Birge ratio, R. T. Birge, Phys. Rev. 40, 207, 1932).
pub fn off_by_left(marks: usize) -> f64 {
    let observations = 2.0 * marks as f64;
    (observations / (observations - CAMERA_UNKNOWNS).max(1.0)).sqrt()
}

/// Whether marks are where the sheet says.
fn fits_the_floor(
    (correspondence, fitted): &(Correspondence, FittedCamera),
    marks: &[MarkPrior],
) -> bool {
    let off_px = fitted.residual_px * off_by_left(matching::named(correspondence));
    median_px_per_m(&Projection::Pinhole(fitted.camera), marks)
        .is_some_and(|px_per_m| off_px / px_per_m < MAX_MISPLACED_M)
}

/// How far a metre of floor goes in the picture, in the middle of the marks.
fn median_px_per_m(view: &Projection, marks: &[MarkPrior]) -> Option<f64> {
    let scales = marks.iter().filter_map(|mark| px_per_m(view, mark.floor_m));
    crate::noise::median(scales)
}

fn unlikeliness((correspondence, fitted): &(Correspondence, FittedCamera)) -> f64 {
    fitted.residual_px / PX_PER_MARK - matching::named(correspondence) as f64
}

fn course(track: &Track, sheet: &CameraSheet) -> Option<Course> {
    let mut seen = track.sticker.iter().flatten();
    let first = seen.next()?;
    let last = seen.last().unwrap_or(first);
    Some(Course {
        from_px: Vector2::new(first.u_px, first.v_px),
        to_px: Vector2::new(last.u_px, last.v_px),
        aim_from_m: sheet.aim_m[0],
        aim_to_m: sheet.aim_m[1],
    })
}

/// Fits of a named layout: the first tells how large a millimetre of misplaced mark looks and how far
/// the middle of a mark's outline lies from its centre; the next use that.
const ROUNDS: usize = 3;

fn fit_named(
    patches: &[StillMark],
    size: (f64, f64),
    sheet: &CameraSheet,
    correspondence: &Correspondence,
    rounds: usize,
) -> Option<FittedCamera> {
    let named: Vec<(&MarkPrior, &StillMark)> = correspondence
        .iter()
        .zip(&sheet.marks)
        .filter_map(|(patch, mark)| Some((mark, patches.get((*patch)?)?)))
        .collect();
    let mut fitted: Option<FittedCamera> = None;
    for _ in 0..rounds {
        let before = fitted.as_ref().map(|f| Projection::Pinhole(f.camera));
        let pairs = named
            .iter()
            .map(|(mark, patch)| pair_of(mark, patch, before.as_ref(), sheet.mark_sd_m))
            .collect::<Option<Vec<_>>>()?;
        fitted = Some(fit_camera(&pairs, size, &sheet.lens)?);
    }
    fitted
}

fn pair_of(
    mark: &MarkPrior,
    patch: &StillMark,
    view: Option<&Projection>,
    mark_sd_m: f64,
) -> Option<MarkPair> {
    let mut pixel = Vector2::new(patch.u_px, patch.v_px);
    let mut sd_px = patch.sd_px.max(0.02);
    if let Some(view) = view {
        pixel -= disc_shift_px(view, mark.floor_m, patch.area_px2)?;
        sd_px = sd_px.hypot(mark_sd_m * px_per_m(view, mark.floor_m)?);
    }
    Some(MarkPair {
        floor_m: mark.floor_m,
        pixel,
        sd_px,
    })
}

/// Step of numerical derivatives by a place on the floor, m: far more than rounding, far less than what is filmed.
pub(crate) const STEP_M: f64 = 1e-3;
/// The same by parameters of a camera, which are of the order of 1: about the cube root of what doubles round to.
const STEP: f64 = 1e-6;

/// How far a metre of floor goes in the picture, the mean of along and across.
fn px_per_m(view: &Projection, at: Vector2<f64>) -> Option<f64> {
    let pixel = |x: f64, y: f64| view.pixel(&Point3::new(at.x + x, at.y + y, 0.0));
    let (here, along, across) = (pixel(0.0, 0.0)?, pixel(STEP_M, 0.0)?, pixel(0.0, STEP_M)?);
    Some(f64::midpoint((along - here).norm(), (across - here).norm()) / STEP_M)
}

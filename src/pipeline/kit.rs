//! Marks of the printed kit that a run sheet does not name: looked for, and taken only where the clip shows
//! them.
//!
//! A floor plan gives metres, and no picture can show how far apart the marks were truly laid: a layout of
//! the same shape and another size looks the same. So the plan is taken only where it fits, the marks have
//! the size that the kit prints, and, where the car coasts, its wheel rolls on about the diameter that the
//! run sheet gives. It is named among the assumptions all the same.

use crate::analysis::Analysis;
use crate::camera::STEP_M;
use crate::camera::{Projection, View, ViewSource, locate};
use crate::colour::{Closeness, Colour, MAX_WANTED, closeness};
use crate::findings::RollingSource;
use crate::noise::median;
use crate::outputs::Said as _;
use crate::priors::{Priors, marks_named};
use crate::sheet::kit::FLOOR_MARK_DIAMETER_MM;
use crate::sheet::{KitPart, RunSheet, kit};
use crate::texts::Note;
use crate::track::{MIN_CIRCLING_FRAMES, MarksWanted, Track};
use nalgebra::Point3;

/// Marks laid by a tape fit the plan within this, root mean square, m: three times what the tape and a hand
/// leave.
const PLAN_FITS_M: f64 = 0.006;
/// A mark seen smaller or larger than the kit prints it by more than this share is another's. Blur and the
/// white margin change the seen diameter by up to a tenth where a mark is a few rows high.
const SAME_SIZE: f64 = 0.15;
/// Focal length of a phone's main camera over the long side of the picture, with and without the crop of its
/// stabiliser: it sees 80 to 43 degrees across. From memory, no source. Another rectangle that is taken for
/// the plan needs another lens.
const FOCAL_SHARES: std::ops::RangeInclusive<f64> = 0.6..=1.25;
/// A wheel rolls on its diameter to a per cent or so; the plan is wrong where the coast says otherwise.
const SAME_WHEEL: f64 = 0.03;

/// The marks to look for: those of the run sheet, and the kit's where the sheet leaves them open.
///
/// A sheet that names a wheel mark, an axle mark or floor marks has said what there is to see; else the kit's
/// wheel mark is looked for, but not its axle mark: few cars carry one, and reflections of the wheel may pass
/// for it. The kit's floor plan is looked for where the sheet names neither floor marks nor an aim line.
pub fn marks_wanted(sheet: &RunSheet) -> MarksWanted {
    let mut wanted = marks_named(sheet);
    let mut used: Vec<Colour> = wanted.floor.clone();
    used.push(wanted.sticker);
    used.extend(wanted.wheel);
    used.extend(&wanted.more_wheel);
    used.extend(wanted.axle);
    used.sort_unstable();
    used.dedup();
    let mut add = |colour: Colour| {
        let apart = |other: &Colour| matches!(closeness(colour, *other), Closeness::Apart { .. });
        let free = used.len() < MAX_WANTED && used.iter().all(apart);
        if free {
            used.push(colour);
        }
        free.then_some(colour)
    };
    let bare =
        sheet.wheel_marks.is_empty() && sheet.axle_mark.is_none() && sheet.floor_marks.is_empty();
    if sheet.floor_marks.is_empty() && sheet.aim.is_none() {
        wanted.floor.extend(add(kit::FLOOR_MARK));
    }
    if bare {
        wanted.wheel = add(kit::WHEEL_MARK);
    }
    wanted
}

/// The sheet with the kit's marks that the clip shows; as it was where it shows none.
pub(super) fn completed(sheet: &RunSheet, track: &Track) -> RunSheet {
    let wanted = marks_wanted(sheet);
    let mut out = sheet.clone();
    let circles = |places: &[Option<_>]| places.iter().flatten().count() >= MIN_CIRCLING_FRAMES;
    if sheet.wheel_marks.is_empty() && wanted.wheel.is_some() && circles(&track.wheel) {
        out.wheel_marks.push(kit::wheel_mark());
        out.from_kit.push(KitPart::WheelMark);
    }
    if sheet.floor_marks.is_empty() && !wanted.floor.is_empty() {
        return on_plan(&out, track).map_or(out, |(with_plan, _)| with_plan);
    }
    out
}

/// The sheet with the kit's floor plan, and the view by it; `None` where the clip's floor marks do not lie on it.
pub fn on_plan(sheet: &RunSheet, track: &Track) -> Option<(RunSheet, View)> {
    let mut with_plan = sheet.clone();
    with_plan.floor_marks = kit::floor_marks();
    with_plan.aim = Some(kit::aim());
    with_plan.from_kit.push(KitPart::FloorPlan);
    let camera = Priors::from_sheet(&with_plan).camera_sheet();
    let view = locate(track, &camera);
    is_the_plan(track, &view, &camera.marks).then_some((with_plan, view))
}

/// Whether the marks that were named lie on the plan and are of the kit's size.
fn is_the_plan(track: &Track, view: &View, marks: &[crate::camera::MarkPrior]) -> bool {
    let ViewSource::FloorMarks {
        residual_px,
        focal_px,
        ..
    } = view.source
    else {
        return false;
    };
    let seen = seen_marks(track, view, marks);
    let sizes: Vec<f64> = seen.iter().map(|mark| mark.diameter_m).collect();
    let scales: Vec<f64> = seen.iter().map(|mark| mark.px_per_m).collect();
    let (Some(diameter_m), Some(px_per_m)) = (median(sizes), median(scales)) else {
        return false;
    };
    let off = diameter_m / (FLOOR_MARK_DIAMETER_MM / 1000.0) - 1.0;
    let focal_share = focal_px / track.width_px.max(track.height_px);
    seen.len() >= 4
        && residual_px < PLAN_FITS_M * px_per_m
        && off.abs() < SAME_SIZE
        && FOCAL_SHARES.contains(&focal_share)
}

/// A floor mark as the view has it.
struct SeenMark {
    diameter_m: f64,
    px_per_m: f64,
}

fn seen_marks(track: &Track, view: &View, marks: &[crate::camera::MarkPrior]) -> Vec<SeenMark> {
    let still = view
        .correspondence
        .iter()
        .zip(marks)
        .filter_map(|(patch, mark)| {
            let patch = track.floor.get((*patch)?)?;
            seen_mark(&view.projection, mark, patch.area_px2)
        });
    let moving = view.moving.iter().flat_map(|moving| {
        let paths = moving.names.iter().zip(&track.floor_paths);
        paths.filter_map(|(name, path)| {
            let (frame, place) = path.steps.get(path.steps.len() / 2)?;
            let projection = view.at(*track.times_s.get(*frame)?)?;
            seen_mark(&projection, marks.get((*name)?)?, place.area_px2)
        })
    });
    still.chain(moving).collect()
}

/// Diameter of a disc of this area at the mark's place, and the picture's scale across the line of sight
/// there.
fn seen_mark(
    projection: &Projection,
    mark: &crate::camera::MarkPrior,
    area_px2: f64,
) -> Option<SeenMark> {
    let pixel = |x: f64, y: f64| {
        projection.pixel(&Point3::new(mark.floor_m.x + x, mark.floor_m.y + y, 0.0))
    };
    let centre = pixel(0.0, 0.0)?;
    let (along, across) = (
        (pixel(STEP_M, 0.0)? - centre) / STEP_M,
        (pixel(0.0, STEP_M)? - centre) / STEP_M,
    );
    let magnification = along.perp(&across).abs();
    Some(SeenMark {
        diameter_m: (4.0 * area_px2 / (std::f64::consts::PI * magnification)).sqrt(),
        px_per_m: along.norm().max(across.norm()),
    })
}

/// Why the kit's plan, where it was taken, cannot be right: by it the wheel mark circles where the sheet has no wheel,
/// or the wheel of a coasting car rolls on another diameter than the sheet's.
pub(super) fn plan_contradicted(priors: &Priors, track: &Track, best: &Analysis) -> Option<Note> {
    if !priors.from_kit.contains(&KitPart::FloorPlan) {
        return None;
    }
    let wheel_m = priors.wheel_radius_m.value;
    let wheel = best.motion.wheel.as_ref();
    let rolling = wheel
        .map_err(|why| (*why).into())
        .and(best.findings.rolling);
    match rolling {
        Err(why) if track.wheel_frames() >= MIN_CIRCLING_FRAMES => {
            Some(Note::new("assumed-no-plan-mark").told("why", |texts| why.said(texts)))
        }
        Ok(on) if on.source == RollingSource::Coast && priors.wheel_radius_given => {
            let off_m = (on.radius_m.value - wheel_m).abs() - 2.0 * on.radius_m.sd;
            if off_m <= SAME_WHEEL * wheel_m {
                return None;
            }
            let note = Note::new("assumed-no-plan-wheel")
                .number("rolls", 2000.0 * on.radius_m.value, 0)
                .number("sheet", 2000.0 * wheel_m, 0);
            Some(note)
        }
        _ => None,
    }
}

/// The same sheet without the kit's plan.
#[must_use]
pub(super) fn without_plan(sheet: &RunSheet) -> RunSheet {
    let mut out = sheet.clone();
    out.floor_marks.clear();
    out.aim = None;
    out.from_kit.retain(|part| *part != KitPart::FloorPlan);
    out
}

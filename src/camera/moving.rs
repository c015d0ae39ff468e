//! A hand-held or panning camera: the marks seen in each frame give that frame's pose.
//!
//! The marks are named in a frame that shows many of them; from there the names are carried through the
//! clip, marks that come into view being met where they must appear. Several frames together give one
//! lens; then the poses are smoothed over all observations.

use super::bundle::{Bundle, MarkObservation, fit_bundle};
use super::matching::{Correspondence, along_course, name_part, named};
use super::outline::disc_shift_px;
use super::path::CameraPath;
use super::pose::{FittedCamera, MarkPair, fit_pose};
use super::projection::{Pinhole, Projection};
use super::shake::{ShakeTuning, TimedObservation, smooth_path};
use super::{CameraReason, CameraSheet, believable, fit_named};
use crate::track::{Place, StillMark, Track};
use nalgebra::Vector2;

/// How a moving camera was followed.
#[derive(Debug, Clone, PartialEq)]
pub struct Moving {
    /// The pose over time.
    pub path: CameraPath,
    /// For each floor path of the track, the mark that it shows, by the sheet's order.
    pub names: Vec<Option<usize>>,
    /// Rough poses, an entry a frame.
    pub rough: Vec<Option<Pinhole>>,
    /// What the smoother settled on.
    pub tuning: ShakeTuning,
    /// Root mean square residual of the marks, px.
    pub residual_px: f64,
    /// Log-likelihood of the looks at the marks.
    pub log_likelihood: f64,
}

/// Frames tried as the one in which marks are named.
const KEY_FRAMES: usize = 4;
/// Namings followed through the clip for each.
const NAMINGS: usize = 8;
/// Names with this score need no second opinion: nearly all observations explained, and the car goes from the
/// start along the aim line.
const SURE_SCORE: f64 = 5.0;
/// Namings, the likeliest first, of which the first that a smooth path of the camera fits is taken.
const FOLLOWED: usize = 3;
/// A path that leaves the looks at the marks this far off on average is none, px.
const MAX_PATH_RESIDUAL_PX: f64 = 3.0;
/// A mark that comes into view is taken for the sheet's where it appears this near, px.
const MEET_PX: f64 = 8.0;
/// An observation this far from where its mark must be is not of it, px.
const STRAY_PX: f64 = 6.0;
/// Fewer marks than this do not give a frame's pose.
const MIN_MARKS: usize = 3;
/// Frames that share in the fit of the lens.
const LENS_FRAMES: usize = 8;
/// The names must explain at least this share of the looks at the floor marks' colours.
const MIN_EXPLAINED: f64 = 0.4;

/// A course that fits the aim line worse than this is of marks that were named from the wrong side: it goes
/// backwards, or across from far beside the start.
const MIN_COURSE: f64 = -0.5;

/// Names carried through the clip.
struct Carried {
    names: Vec<Option<usize>>,
    rough: Vec<Option<Pinhole>>,
    score: f64,
}

/// Follows the camera.
///
/// # Errors
/// The reason where the marks do not tell its pose.
pub(super) fn follow_camera(track: &Track, sheet: &CameraSheet) -> Result<Moving, CameraReason> {
    let mut found: Vec<Carried> = Vec::new();
    for frame in key_frames(track) {
        found.extend(carried_from(track, sheet, frame));
        if found.iter().any(|carried| carried.score > SURE_SCORE) {
            break;
        }
    }
    if found.is_empty() {
        let named = sheet.marks.len();
        return Err(CameraReason::MovesUnplaced { named });
    }
    found.sort_by(|a, b| b.score.total_cmp(&a.score));
    found
        .into_iter()
        .take(FOLLOWED)
        .find_map(|carried| smoothed(track, sheet, carried.names, carried.rough, None))
        .ok_or(CameraReason::MovesOtherwise)
}

/// The same on slightly other inputs: names and smoothing as before.
pub(super) fn follow_again(track: &Track, sheet: &CameraSheet, before: &Moving) -> Option<Moving> {
    let names = before.names.clone();
    // The path found before is a better start than the rough poses.
    let rough = before
        .rough
        .iter()
        .zip(&track.times_s)
        .map(|(rough, time)| rough.and(before.path.at(time + 0.5 * sheet.readout_s)))
        .collect();
    smoothed(track, sheet, names, rough, Some(before.tuning))
}

/// The floor paths that show something in a frame: index and place.
fn visible(track: &Track, frame: usize) -> impl Iterator<Item = (usize, &Place)> {
    track
        .floor_paths
        .iter()
        .enumerate()
        .filter_map(move |(index, path)| {
            let at = path
                .steps
                .binary_search_by_key(&frame, |step| step.0)
                .ok()?;
            Some((index, &path.steps[at].1))
        })
}

/// Frames with the most marks in view, well apart.
fn key_frames(track: &Track) -> Vec<usize> {
    let frames = track.times_s.len();
    let mut counts: Vec<(usize, usize)> = (0..frames)
        .map(|f| (visible(track, f).filter(|(_, p)| p.fitted).count(), f))
        .collect();
    counts.sort_by_key(|&(count, frame)| (std::cmp::Reverse(count), frame));
    let mut out: Vec<usize> = Vec::new();
    for (count, frame) in counts {
        let apart = out.iter().all(|f| f.abs_diff(frame) > frames / 8);
        if count >= 4 && apart && out.len() < KEY_FRAMES {
            out.push(frame);
        }
    }
    out
}

fn carried_from(track: &Track, sheet: &CameraSheet, frame: usize) -> Vec<Carried> {
    let shown: Vec<(usize, &Place)> = visible(track, frame).collect();
    let patches: Vec<StillMark> = shown
        .iter()
        .map(|(index, place)| StillMark {
            colour: track.floor_paths[*index].colour,
            u_px: place.u_px,
            v_px: place.v_px,
            sd_px: place.var_u_px2.max(place.var_v_px2).sqrt().max(0.1),
            area_px2: place.area_px2,
            frames: track.floor_paths[*index].steps.len(),
        })
        .collect();
    let size = (track.width_px, track.height_px);
    let mut fits: Vec<_> = name_part(&sheet.marks, &patches)
        .into_iter()
        .filter_map(|correspondence| {
            Some((
                fit_named(&patches, size, sheet, &correspondence, 1)?,
                correspondence,
            ))
        })
        .filter(|(fitted, _)| believable(fitted, size))
        .filter(|(fitted, correspondence)| {
            named(correspondence) > 4 || usual_lens(&fitted.camera, size, sheet)
        })
        .collect();
    let cost = |(fitted, correspondence): &(FittedCamera, Correspondence)| {
        fitted.residual_px / super::PX_PER_MARK - named(correspondence) as f64
    };
    fits.sort_by(|a, b| cost(a).total_cmp(&cost(b)));
    fits.truncate(NAMINGS);
    fits.into_iter()
        .filter_map(|(fitted, correspondence)| {
            let mut names = vec![None; track.floor_paths.len()];
            for (mark, patch) in correspondence.iter().enumerate() {
                if let Some(patch) = patch {
                    names[shown[*patch].0] = Some(mark);
                }
            }
            carry(track, sheet, frame, fitted.camera, names)
        })
        .collect()
}

/// Four marks fit any names with a strange enough lens: three standard deviations of what lenses are.
const STRANGE: f64 = 9.0;

fn usual_lens(camera: &Pinhole, size: (f64, f64), sheet: &CameraSheet) -> bool {
    let lens = &sheet.lens;
    let share = camera.focal_px / size.0.max(size.1);
    let focal = (share / lens.focal_share).ln() / lens.focal_log_sd;
    let bend = (camera.k1 - lens.k1) / lens.k1_sd;
    focal * focal + bend * bend < STRANGE
}

/// Carries names and pose from the key frame to both ends of the clip.
fn carry(
    track: &Track,
    sheet: &CameraSheet,
    key: usize,
    camera: Pinhole,
    mut names: Vec<Option<usize>>,
) -> Option<Carried> {
    let frames = track.times_s.len();
    let mut rough: Vec<Option<Pinhole>> = vec![None; frames];
    let orders: [Vec<usize>; 2] = [(key..frames).collect(), (0..key).rev().collect()];
    for order in orders {
        let mut pose = camera;
        for frame in order {
            if let Some(fitted) = frame_pose(track, sheet, frame, &pose, &names) {
                pose = fitted;
                rough[frame] = Some(fitted);
            }
            meet(track, sheet, frame, &pose, &mut names);
        }
    }
    let (mut all, mut explained) = (0_usize, 0_usize);
    for (frame, pose) in rough.iter().enumerate() {
        let seen: Vec<_> = visible(track, frame).collect();
        all += seen.len();
        if let Some(pose) = pose {
            explained += observations(track, frame, pose, &names, &places(sheet)).len();
        }
    }
    let share = explained as f64 / all.max(1) as f64;
    let course = course(track, sheet, &rough)?;
    (share > MIN_EXPLAINED && course > MIN_COURSE).then_some(Carried {
        names,
        rough,
        score: 4.0 * share + course,
    })
}

fn places(sheet: &CameraSheet) -> Vec<Vector2<f64>> {
    sheet.marks.iter().map(|mark| mark.floor_m).collect()
}

/// The named observations of a frame that are where `pose` has their marks.
fn observations(
    track: &Track,
    frame: usize,
    pose: &Pinhole,
    names: &[Option<usize>],
    marks_m: &[Vector2<f64>],
) -> Vec<(MarkObservation, Place)> {
    let view = Projection::Pinhole(*pose);
    visible(track, frame)
        .filter_map(|(path, place)| {
            let mark = names[path]?;
            let shift = disc_shift_px(&view, marks_m[mark], place.area_px2)?;
            let pixel = Vector2::new(place.u_px, place.v_px) - shift;
            let at = nalgebra::Point3::new(marks_m[mark].x, marks_m[mark].y, 0.0);
            let stray = (view.pixel(&at)? - pixel).norm() > STRAY_PX;
            let sd_px = place.var_u_px2.max(place.var_v_px2).sqrt().max(0.05);
            (!stray).then_some((MarkObservation { mark, pixel, sd_px }, *place))
        })
        .collect()
}

/// The pose of one frame, from a pose nearby.
fn frame_pose(
    track: &Track,
    sheet: &CameraSheet,
    frame: usize,
    near: &Pinhole,
    names: &[Option<usize>],
) -> Option<Pinhole> {
    let fitted = frame_fit(track, frame, near, names, &places(sheet))?;
    // A few marks fit nearly any pose: one that leaps is a wrong name.
    let leap = (fitted.camera.position_m - near.position_m).norm();
    (fitted.residual_px < STRAY_PX && leap < 0.3).then_some(fitted.camera)
}

/// The camera, with the lens of `near`, that fits one frame's looks at the named marks best.
fn frame_fit(
    track: &Track,
    frame: usize,
    near: &Pinhole,
    names: &[Option<usize>],
    marks_m: &[Vector2<f64>],
) -> Option<FittedCamera> {
    let view = Projection::Pinhole(*near);
    let pairs: Vec<MarkPair> = visible(track, frame)
        .filter_map(|(path, place)| {
            let floor_m = marks_m[names[path]?];
            let shift = disc_shift_px(&view, floor_m, place.area_px2)?;
            Some(MarkPair {
                floor_m,
                pixel: Vector2::new(place.u_px, place.v_px) - shift,
                sd_px: place.var_u_px2.max(place.var_v_px2).sqrt().max(0.1),
            })
        })
        .collect();
    if pairs.len() < MIN_MARKS {
        return None;
    }
    fit_pose(near, &pairs)
}

/// Names the paths that appear where a mark not yet shown in this frame must be.
fn meet(
    track: &Track,
    sheet: &CameraSheet,
    frame: usize,
    pose: &Pinhole,
    names: &mut [Option<usize>],
) {
    let shown: Vec<usize> = visible(track, frame)
        .filter_map(|(p, _)| names[p])
        .collect();
    let view = Projection::Pinhole(*pose);
    let strangers: Vec<(usize, Place)> = visible(track, frame)
        .filter(|(path, _)| names[*path].is_none())
        .map(|(path, place)| (path, *place))
        .collect();
    for (index, mark) in sheet.marks.iter().enumerate() {
        if shown.contains(&index) {
            continue;
        }
        let at = nalgebra::Point3::new(mark.floor_m.x, mark.floor_m.y, 0.0);
        let Some(expected) = view.pixel(&at) else {
            continue;
        };
        let away = |place: &Place| (Vector2::new(place.u_px, place.v_px) - expected).norm();
        let nearest = strangers
            .iter()
            .filter(|(path, _)| track.floor_paths[*path].colour == mark.colour)
            .min_by(|a, b| away(&a.1).total_cmp(&away(&b.1)));
        if let Some((path, place)) = nearest
            && away(place) < MEET_PX
            && names[*path].is_none()
        {
            names[*path] = Some(index);
        }
    }
}

/// How well the car's course fits the aim line, seen with these poses.
pub(super) fn course(track: &Track, sheet: &CameraSheet, rough: &[Option<Pinhole>]) -> Option<f64> {
    let mut on_floor = track.sticker.iter().zip(rough).filter_map(|(place, pose)| {
        let (place, pose) = (place.as_ref()?, pose.as_ref()?);
        let pixel = Vector2::new(place.u_px, place.v_px);
        let point = Projection::Pinhole(*pose).at_height(pixel, sheet.sticker_height_m)?;
        Some(Vector2::new(point.x, point.y))
    });
    let first = on_floor.next()?;
    let last = on_floor.next_back().unwrap_or(first);
    Some(along_course(first, last, sheet.aim_m[0], sheet.aim_m[1]))
}

fn smoothed(
    track: &Track,
    sheet: &CameraSheet,
    names: Vec<Option<usize>>,
    rough: Vec<Option<Pinhole>>,
    tuning: Option<ShakeTuning>,
) -> Option<Moving> {
    let lens = shared_lens(track, sheet, &names, &rough)?;
    // A pose belongs to the lens that it was found with: with another one the camera stands elsewhere.
    let mut near: Option<Pinhole> = None;
    let posed: Vec<Option<Pinhole>> = rough
        .iter()
        .enumerate()
        .map(|(frame, pose)| {
            let start = Pinhole {
                focal_px: lens.focal_px,
                k1: lens.k1,
                ..near.or(*pose)?
            };
            near = frame_fit(track, frame, &start, &names, &lens.marks_m)
                .filter(|fitted| fitted.residual_px < STRAY_PX)
                .map(|fitted| fitted.camera);
            near
        })
        .collect();
    let mut timed: Vec<TimedObservation> = Vec::new();
    for (frame, pose) in posed.iter().enumerate() {
        let Some(pose) = pose else { continue };
        for (observation, place) in observations(track, frame, pose, &names, &lens.marks_m) {
            timed.push(TimedObservation {
                time_s: track.times_s[frame] + place.row_frac * sheet.readout_s,
                floor_m: lens.marks_m[observation.mark],
                pixel: observation.pixel,
                var_px2: Vector2::new(place.var_u_px2, place.var_v_px2),
                about: *pose,
            });
        }
    }
    timed.sort_by(|a, b| a.time_s.total_cmp(&b.time_s));
    let base = *posed.iter().flatten().next()?;
    let smoothed = smooth_path(&base, &timed, tuning)?;
    (smoothed.residual_px < MAX_PATH_RESIDUAL_PX).then_some(Moving {
        path: smoothed.path,
        names,
        rough,
        tuning: smoothed.tuning,
        residual_px: smoothed.residual_px,
        log_likelihood: smoothed.log_likelihood,
    })
}

/// How fast a mark goes through the picture, px/s, from the poses of the frames before and after.
fn velocity(
    track: &Track,
    rough: &[Option<Pinhole>],
    frame: usize,
    mark_m: Vector2<f64>,
) -> Option<Vector2<f64>> {
    let at = nalgebra::Point3::new(mark_m.x, mark_m.y, 0.0);
    let pixel = |frame: usize| Projection::Pinhole(*rough.get(frame)?.as_ref()?).pixel(&at);
    let before = frame.checked_sub(1)?;
    let span_s = track.times_s.get(frame + 1)? - track.times_s[before];
    Some((pixel(frame + 1)? - pixel(before)?) / span_s)
}

/// Lens and marks that fit frames all along the clip.
fn shared_lens(
    track: &Track,
    sheet: &CameraSheet,
    names: &[Option<usize>],
    rough: &[Option<Pinhole>],
) -> Option<Bundle> {
    let marks_m = places(sheet);
    let rich: Vec<(Pinhole, Vec<MarkObservation>)> = rough
        .iter()
        .enumerate()
        .filter_map(|(frame, pose)| {
            let pose = (*pose)?;
            let of: Vec<MarkObservation> = observations(track, frame, &pose, names, &marks_m)
                .into_iter()
                .filter(|(_, place)| place.fitted)
                .filter_map(|(observation, place)| {
                    let since_s = (place.row_frac - 0.5) * sheet.readout_s;
                    let velocity = velocity(track, rough, frame, marks_m[observation.mark])?;
                    Some(MarkObservation {
                        pixel: observation.pixel - velocity * since_s,
                        ..observation
                    })
                })
                .collect();
            (of.len() >= 4).then_some((pose, of))
        })
        .collect();
    if rich.is_empty() {
        return None;
    }
    let share = rich.len().min(LENS_FRAMES);
    let chosen: Vec<_> = (0..share)
        .map(|i| rich[i * (rich.len() - 1) / (share - 1).max(1)].clone())
        .collect();
    let size = (track.width_px, track.height_px);
    fit_bundle(&chosen, &marks_m, sheet.mark_sd_m, &sheet.lens, size)
}

#[cfg(test)]
mod tests;

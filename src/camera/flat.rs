//! The plain-scale fallback: a camera square to the track, one distance for everything.

use super::circle::DriftingCircle;
use super::{CameraReason, CameraSheet, Flat, Keystone, Projection, Scale, View, ViewSource};
use crate::track::{Place, Track};
use nalgebra::Vector2;
use serde::Serialize;

/// What a plain scale was taken from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum FlatSource {
    /// The distance between floor marks.
    FloorMarks,
    /// The circle of the wheel mark, whose radius the sheet gives.
    WheelMarkCircle,
    /// The wheel's diameter and its turns, taking the car to roll where it coasts.
    RollingWheel,
}

/// A plain scale from floor marks is off by the difference of distance between marks and car; phones
/// stand 1.5 to 3 m away and marks lie up to 0.3 m beside the car's line, so by about a tenth. Common
/// practice, no source.
const MARK_SCALE_REL_SD: f64 = 0.05;
/// The wheel mark's circle is in the car's own plane: what remains is reading its radius and the view
/// not being quite square.
const CIRCLE_SCALE_REL_SD: f64 = 0.025;
/// Scale from rolling: as good as the diameter (0.3 %, see the rolling circumference tables named in
/// tests) and the assumption that the coast does not slip.
const ROLLING_SCALE_REL_SD: f64 = 0.05;

/// A view with a plain scale, from whatever gives one; pixels only where nothing does.
pub fn flat_view(track: &Track, sheet: &CameraSheet) -> View {
    let lateral = Err(CameraReason::PlainScale);
    let found = scale_from_circle(track, sheet)
        .map(|px| (px, FlatSource::WheelMarkCircle, CIRCLE_SCALE_REL_SD))
        .or_else(|| {
            scale_from_marks(track, sheet).map(|px| (px, FlatSource::FloorMarks, MARK_SCALE_REL_SD))
        })
        .or_else(|| {
            scale_from_rolling(track, sheet)
                .map(|px| (px, FlatSource::RollingWheel, ROLLING_SCALE_REL_SD))
        });
    let (keystone, uneven) = keystone(track);
    let found = found.map(|(px, from, rel_sd)| (px, from, rel_sd.hypot(0.5 * uneven)));
    match found {
        Some((px_per_m, from, rel_sd)) => View {
            projection: Projection::Flat(flat(track, sheet, px_per_m, keystone)),
            source: ViewSource::PlainScale { from },
            scale: Ok(Scale { rel_sd, uneven }),
            travel: Ok(()),
            lateral,
            correspondence: Vec::new(),
            note: None,
            moving: None,
        },
        None => View {
            // One "metre" a thousand pixels: ratios stay right, and nothing in metres is stated.
            projection: Projection::Flat(flat(track, sheet, 1000.0, keystone)),
            source: ViewSource::PixelsOnly,
            scale: Err(CameraReason::NoKnownSize),
            travel: Ok(()),
            lateral,
            correspondence: Vec::new(),
            note: None,
            moving: None,
        },
    }
}

/// A circle that grows by more than this is not only farther off: nothing is corrected by it.
const MAX_KEYSTONE: f64 = 0.25;
/// What is left of the change of scale once the circle's growth is taken out, as a share of it: the car may
/// have come nearer at another pace, and what it goes towards the camera is not seen at all.
const LEFT_OF_KEYSTONE: f64 = 0.35;

/// How the scale changes along the picture, and what is left of that from one end of the run to the other,
/// as a share: a car that comes nearer or goes away has no single one. The growth of the wheel mark's circle
/// shows it; the sticker's size also changes with the angle from which it is seen, and only tells how much.
fn keystone(track: &Track) -> (Keystone, f64) {
    let middle_px = Vector2::new(0.5 * track.width_px, 0.5 * track.height_px);
    let grown = full_circle(track)
        .map(|(circle, ways)| (circle.growth / middle_px.x, (circle.growth * ways).abs()))
        .filter(|(_, all)| *all < MAX_KEYSTONE);
    match grown {
        Some((per_px, all)) => {
            let keystone = Keystone {
                middle_px,
                growth_per_px: Vector2::new(per_px, 0.0),
            };
            (keystone, LEFT_OF_KEYSTONE * all)
        }
        None => (Keystone::default(), sticker_growth(track).abs()),
    }
}

/// Change of the sticker's size from one end of the run to the other, as a share.
fn sticker_growth(track: &Track) -> f64 {
    let sizes: Vec<f64> = track
        .sticker
        .iter()
        .flatten()
        .map(|p| p.area_px2.sqrt())
        .collect();
    let part = (sizes.len() / 8).max(1);
    let middle = |slice: &[f64]| {
        let mut sorted = slice.to_vec();
        sorted.sort_by(f64::total_cmp);
        sorted.get(sorted.len() / 2).copied().unwrap_or(1.0)
    };
    let early = middle(&sizes[..part.min(sizes.len())]);
    let late = middle(&sizes[sizes.len().saturating_sub(part)..]);
    (late / early).ln()
}

fn at(place: &Place) -> Vector2<f64> {
    Vector2::new(place.u_px, place.v_px)
}

/// Direction in which the sticker went, px; right or left of the picture where it did not move.
fn direction(track: &Track, sheet: &CameraSheet) -> Vector2<f64> {
    let mut seen = track.sticker.iter().flatten();
    let fallback = if sheet.from_right {
        Vector2::x()
    } else {
        -Vector2::x()
    };
    let Some(first) = seen.next() else {
        return fallback;
    };
    let went = seen
        .last()
        .map_or_else(Vector2::zeros, |last| at(last) - at(first));
    if went.norm() > 5.0 {
        went.normalize()
    } else {
        fallback
    }
}

fn flat(track: &Track, sheet: &CameraSheet, px_per_m: f64, keystone: Keystone) -> Flat {
    let along = direction(track, sheet);
    // Of the two directions square to the course, up is the one that points up in the picture.
    let square = Vector2::new(along.y, -along.x);
    let up = if square.y <= 0.0 { square } else { -square };
    let sticker = track
        .sticker
        .iter()
        .flatten()
        .next()
        .map_or_else(Vector2::zeros, |place| keystone.straight(at(place)));
    // The origin is the floor under the middle of the driven axle, where the car was first seen.
    let origin = sticker - (along * sheet.sticker_ahead_m + up * sheet.sticker_height_m) * px_per_m;
    Flat {
        keystone,
        origin_px: origin,
        along_px_per_m: along * px_per_m,
        up_px_per_m: up * px_per_m,
        from_right: sheet.from_right,
    }
}

/// The wheel mark's circle about a hub that travels with the sticker, px, by the sticker's way from the
/// picture's middle in half widths; and that way from the first to the last observation.
fn full_circle(track: &Track) -> Option<(DriftingCircle, f64)> {
    let half_px = 0.5 * track.width_px;
    let relative: Vec<(Vector2<f64>, f64)> = track
        .sticker
        .iter()
        .zip(&track.wheel)
        .filter_map(|(sticker, wheel)| {
            let (sticker, wheel) = (at(sticker.as_ref()?), at(wheel.as_ref()?));
            Some((wheel - sticker, sticker.x / half_px - 1.0))
        })
        .collect();
    let circle = super::circle::fit_drifting_circle(&relative)?;
    let full = circle.covered_rad > 1.5 * std::f64::consts::PI;
    let ways = relative.iter().map(|(_, way)| *way);
    let way = ways.clone().fold(f64::NEG_INFINITY, f64::max) - ways.fold(f64::INFINITY, f64::min);
    (full && circle.residual < 0.15 * circle.radii.x).then_some((circle, way))
}

fn scale_from_circle(track: &Track, sheet: &CameraSheet) -> Option<f64> {
    Some(full_circle(track)?.0.radii.x / sheet.mark_radius_m?)
}

/// Scale from two or more floor marks, paired in the order of the car's course.
fn scale_from_marks(track: &Track, sheet: &CameraSheet) -> Option<f64> {
    if sheet.marks.len() < 2 || track.floor.len() != sheet.marks.len() {
        return None;
    }
    let along = direction(track, sheet);
    let aim = (sheet.aim_m[1] - sheet.aim_m[0]).normalize();
    let mut known: Vec<f64> = sheet
        .marks
        .iter()
        .map(|mark| mark.floor_m.dot(&aim))
        .collect();
    let mut seen: Vec<f64> = track
        .floor
        .iter()
        .map(|mark| Vector2::new(mark.u_px, mark.v_px).dot(&along))
        .collect();
    known.sort_by(f64::total_cmp);
    seen.sort_by(f64::total_cmp);
    let length_m = known.last()? - known.first()?;
    let length_px = seen.last()? - seen.first()?;
    (length_m > 0.05 && length_px > 20.0).then(|| length_px / length_m)
}

/// Scale from the wheel's own turns over the last third of the run, where a car coasts.
fn scale_from_rolling(track: &Track, sheet: &CameraSheet) -> Option<f64> {
    let radius_m = sheet.wheel_radius_m?;
    let relative: Vec<(usize, Vector2<f64>)> = track
        .sticker
        .iter()
        .zip(&track.wheel)
        .enumerate()
        .filter_map(|(i, (sticker, wheel))| Some((i, at(wheel.as_ref()?) - at(sticker.as_ref()?))))
        .collect();
    let points: Vec<_> = relative.iter().map(|(_, p)| *p).collect();
    let circle = super::circle::fit_circle(&points)?;
    if circle.covered_rad < 1.5 * std::f64::consts::PI {
        return None;
    }
    let late = &relative[relative.len() * 2 / 3..];
    let (first, last) = (late.first()?.0, late.last()?.0);
    let mut turned = 0.0;
    for pair in late.windows(2) {
        let angle = |p: Vector2<f64>| (p - circle.centre).y.atan2((p - circle.centre).x);
        let step = angle(pair[1].1) - angle(pair[0].1);
        turned += step.sin().atan2(step.cos());
    }
    let travelled = (at(track.sticker[last].as_ref()?) - at(track.sticker[first].as_ref()?)).norm();
    (turned.abs() > 3.0 && travelled > 20.0).then(|| travelled / (turned.abs() * radius_m))
}

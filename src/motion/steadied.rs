//! The marks as a camera that stands still would have seen them.

use super::CarGeometry;
use crate::camera::{Projection, View};
use crate::track::{Place, Places, Track};
use nalgebra::{Point3, Vector2, Vector3};

/// Sticker and wheel mark as seen from the moving camera's first pose. Frames in which the camera is lost
/// lose their marks.
pub(super) fn steadied(track: &Track, view: &View, car: &CarGeometry) -> Track {
    let mut out = track.clone();
    let points: Vec<Option<Point3<f64>>> = (0..track.sticker.len())
        .map(|frame| {
            let place = track.sticker[frame]?;
            seen_by(view, track, frame, &place, car)?
                .at_height(Vector2::new(place.u_px, place.v_px), car.sticker_height_m)
        })
        .collect();
    let again = |place: &Place, point: &Point3<f64>| -> Option<Place> {
        let pixel = view.projection.pixel(point)?;
        Some(Place {
            u_px: pixel.x,
            v_px: pixel.y,
            ..*place
        })
    };
    out.sticker = (0..track.sticker.len())
        .map(|frame| again(track.sticker[frame].as_ref()?, points[frame].as_ref()?))
        .collect();
    // The wheel's face is a plane along the car's way beside the sticker; a small error of its distance
    // hardly matters between poses that are near each other.
    let (sin, cos) = car.aim_heading_rad.sin_cos();
    let normal = Vector3::new(-sin, cos, 0.0);
    let beside = normal * (car.face_left_m - car.sticker_left_m);
    let wheel: Places = (0..track.wheel.len())
        .map(|frame| {
            let (place, point) = (track.wheel[frame].as_ref()?, points[frame].as_ref()?);
            let pixel = Vector2::new(place.u_px, place.v_px);
            let on = seen_by(view, track, frame, place, car)?.on_plane(
                pixel,
                &(point + beside),
                &normal,
            )?;
            again(place, &on)
        })
        .collect();
    out.wheel = wheel;
    out
}

fn seen_by(
    view: &View,
    track: &Track,
    frame: usize,
    place: &Place,
    car: &CarGeometry,
) -> Option<Projection> {
    view.at(track.times_s[frame] + place.row_frac * car.readout_s)
}

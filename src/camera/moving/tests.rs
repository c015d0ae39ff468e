//! The followed camera alone: a hand whose way is a closed form films marks at known places, with rows read one after
//! another.

use super::super::{LensPrior, MarkPrior};
use super::*;
use crate::colour::Colour;
use crate::track::FloorPath;
use nalgebra::{Matrix3, Point3, Rotation3, Vector3};
use std::f64::consts::PI;

const FRAMES: usize = 40;
const FPS: f64 = 60.0;
const READOUT_S: f64 = 0.012;
const SIZE: (f64, f64) = (1280.0, 720.0);

/// Two rows of marks, one out of line: no other naming fits.
const PLACES: [[f64; 2]; 8] = [
    [0.0, -0.30],
    [0.8, -0.35],
    [1.6, -0.30],
    [2.4, -0.25],
    [0.1, 0.40],
    [0.9, 0.45],
    [1.7, 0.35],
    [2.5, 0.50],
];

/// A camera that pans along the track while the hand drifts and sways.
fn hand(time_s: f64) -> Pinhole {
    let sway = 0.004 * (5.0 * time_s).sin();
    let position = Point3::new(0.9 + 0.15 * time_s, -2.1 + sway, 1.2 + 0.05 * time_s);
    let ahead = (Point3::new(0.95 + 0.5 * time_s, 0.05, 0.0) - position).normalize();
    let right = ahead.cross(&Vector3::z()).normalize();
    let down = ahead.cross(&right);
    let rows = Matrix3::from_rows(&[right.transpose(), down.transpose(), ahead.transpose()]);
    Pinhole {
        focal_px: 1000.0,
        centre_px: Vector2::new(639.5, 359.5),
        k1: -0.02,
        camera_from_floor: Rotation3::from_matrix_unchecked(rows),
        position_m: position,
    }
}

/// Where a point is seen by the row that sees it, and that row's share: found by going to and fro.
fn seen_by_rows(point: &Point3<f64>, frame: usize) -> Option<(Vector2<f64>, f64)> {
    let start = frame as f64 / FPS;
    let mut row = 0.5;
    for _ in 0..20 {
        let pixel = Projection::Pinhole(hand(start + row * READOUT_S)).pixel(point)?;
        row = (pixel.y + 0.5) / SIZE.1;
    }
    let pixel = Projection::Pinhole(hand(start + row * READOUT_S)).pixel(point)?;
    let inside =
        (10.0..SIZE.0 - 10.0).contains(&pixel.x) && (10.0..SIZE.1 - 10.0).contains(&pixel.y);
    inside.then_some((pixel, row))
}

fn place(point: &Point3<f64>, frame: usize, radius_m: f64) -> Option<Place> {
    let (pixel, row_frac) = seen_by_rows(point, frame)?;
    let view = Projection::Pinhole(hand(frame as f64 / FPS + row_frac * READOUT_S));
    let at = Vector2::new(point.x, point.y);
    // Area of the disc, and where the middle of its outline lies: both by the rim.
    let rim: Vec<Vector2<f64>> = (0..64)
        .map(|i| {
            let (sin, cos) = (PI * f64::from(i) / 32.0).sin_cos();
            view.pixel(&Point3::new(
                at.x + radius_m * cos,
                at.y + radius_m * sin,
                point.z,
            ))
        })
        .collect::<Option<_>>()?;
    let (mut area, mut moment) = (0.0, Vector2::zeros());
    for (i, a) in rim.iter().enumerate() {
        let b = rim[(i + 1) % 64];
        let slice = (a - pixel).perp(&(b - pixel)) / 2.0;
        area += slice;
        moment += (a + b - 2.0 * pixel) * (slice / 3.0);
    }
    let middle = pixel + moment / area;
    Some(Place {
        u_px: middle.x,
        v_px: middle.y,
        var_u_px2: 0.0025,
        var_v_px2: 0.0025,
        area_px2: area.abs(),
        contrast: 60.0,
        row_frac,
        fitted: true,
    })
}

fn sheet() -> CameraSheet {
    CameraSheet {
        marks: PLACES
            .iter()
            .map(|[x, y]| MarkPrior {
                floor_m: Vector2::new(*x, *y),
                colour: Colour::Blue,
                pointed_px: None,
            })
            .collect(),
        aim_m: [Vector2::new(0.3, 0.05), Vector2::new(2.5, 0.05)],
        lens: LensPrior {
            focal_share: 0.8,
            focal_log_sd: 0.2,
            k1: 0.0,
            k1_sd: 0.04,
        },
        mark_sd_m: 0.002,
        wheel_radius_m: None,
        mark_radius_m: None,
        from_right: true,
        sticker_height_m: 0.06,
        sticker_ahead_m: 0.1,
        readout_s: READOUT_S,
    }
}

/// The paths of these marks in this order, and of a car that goes along the aim line at 2.4 m/s.
fn track(order: &[usize]) -> Track {
    let path = |mark: usize| FloorPath {
        colour: Colour::Blue,
        steps: (0..FRAMES)
            .filter_map(|frame| {
                let [x, y] = PLACES[mark];
                Some((frame, place(&Point3::new(x, y, 0.0), frame, 0.02)?))
            })
            .collect(),
    };
    let car = |frame: usize| {
        let x = 0.3 + 2.4 * frame as f64 / FPS;
        place(&Point3::new(x, 0.05, 0.06), frame, 0.015)
    };
    Track {
        width_px: SIZE.0,
        height_px: SIZE.1,
        times_s: (0..FRAMES).map(|frame| frame as f64 / FPS).collect(),
        sticker: (0..FRAMES).map(car).collect(),
        in_view: (0, FRAMES - 1),
        wheel: vec![None; FRAMES],
        more_wheel: Vec::new(),
        axle: vec![None; FRAMES],
        floor: Vec::new(),
        floor_paths: order.iter().map(|mark| path(*mark)).collect(),
        notes: Vec::new(),
    }
}

const ALL: [usize; 8] = [0, 1, 2, 3, 4, 5, 6, 7];

#[track_caller]
fn follows_the_hand(moving: &Moving) {
    for step in 2..4 * (FRAMES - 2) {
        let time_s = step as f64 / (4.0 * FPS) + READOUT_S / 2.0;
        let (found, truth) = (moving.path.at(time_s).unwrap(), hand(time_s));
        let off = (found.position_m - truth.position_m).norm();
        assert!(off < 0.004, "{time_s}: {off} m");
        let turned = found.camera_from_floor.angle_to(&truth.camera_from_floor);
        assert!(turned < 0.002, "{time_s}: {turned} rad");
        // What matters: a place of the car is put on the floor to within a millimetre.
        let point = Point3::new(0.3 + 2.4 * time_s, 0.05, 0.06);
        let pixel = Projection::Pinhole(truth).pixel(&point).unwrap();
        let back = Projection::Pinhole(found).at_height(pixel, 0.06).unwrap();
        assert!((back - point).norm() < 1e-3, "{time_s}: {back}");
    }
}

#[test]
fn a_panning_hand_is_followed_and_its_lens_found() {
    let (track, sheet) = (track(&ALL), sheet());
    assert!(track.sticker_frames() > 30);
    let moving = follow_camera(&track, &sheet).unwrap();
    let names: Vec<Option<usize>> = ALL.iter().copied().map(Some).collect();
    assert_eq!(moving.names, names);
    assert!(moving.residual_px < 0.05, "{}", moving.residual_px);
    assert!(
        (moving.path.base.focal_px / 1000.0 - 1.0).abs() < 2e-3,
        "{:?}",
        moving.path.base
    );
    assert!(
        (moving.path.base.k1 + 0.02).abs() < 2e-3,
        "{:?}",
        moving.path.base
    );
    follows_the_hand(&moving);
    // The same again from what was found.
    let again = follow_again(&track, &sheet, &moving).unwrap();
    assert_eq!(again.names, names);
    follows_the_hand(&again);
}

#[test]
fn marks_are_named_in_whatever_order_their_paths_come() {
    let order = [5, 0, 7, 2, 4, 6, 1, 3];
    let moving = follow_camera(&track(&order), &sheet()).unwrap();
    let names: Vec<Option<usize>> = order.iter().copied().map(Some).collect();
    assert_eq!(moving.names, names);
    follows_the_hand(&moving);
}

/// The run seen in a looking glass: picture and floor mirrored, the camera on the other side.
#[test]
fn a_mirrored_run_is_followed_by_the_mirrored_camera() {
    let (mut track, mut sheet) = (track(&ALL), sheet());
    let mirror = |place: &mut Place| place.u_px = SIZE.0 - 1.0 - place.u_px;
    track.sticker.iter_mut().flatten().for_each(mirror);
    for path in &mut track.floor_paths {
        path.steps.iter_mut().for_each(|(_, place)| mirror(place));
    }
    for mark in &mut sheet.marks {
        mark.floor_m.x = -mark.floor_m.x;
    }
    for end in &mut sheet.aim_m {
        end.x = -end.x;
    }
    let moving = follow_camera(&track, &sheet).unwrap();
    for step in 1..FRAMES - 2 {
        let time_s = step as f64 / FPS + READOUT_S / 2.0;
        let (found, truth) = (moving.path.at(time_s).unwrap(), hand(time_s));
        let glass = Point3::new(-truth.position_m.x, truth.position_m.y, truth.position_m.z);
        assert!((found.position_m - glass).norm() < 0.004, "{time_s}");
    }
    // Told that the floor is not mirrored, no naming from above fits all of it.
    let plain = self::sheet();
    assert!(
        follow_camera(&track, &plain)
            .is_err_and(|why| matches!(why, CameraReason::MovesUnplaced { .. }))
    );
}

#[test]
fn a_clock_that_starts_later_gives_the_same_poses_later() {
    let mut track = track(&ALL);
    for time in &mut track.times_s {
        *time += 7.25;
    }
    let moving = follow_camera(&track, &sheet()).unwrap();
    let time_s = 20.0 / FPS + READOUT_S / 2.0;
    let (found, truth) = (moving.path.at(time_s + 7.25).unwrap(), hand(time_s));
    assert!((found.position_m - truth.position_m).norm() < 0.004);
    assert!(moving.path.at(time_s).is_none());
}

#[test]
fn a_mark_that_comes_into_view_is_named_where_it_must_be() {
    let (mut track, sheet) = (track(&ALL), sheet());
    // One mark is seen until frame 9 and two from frame 25 on, and one patch that is none appears beside another.
    track.floor_paths[0].steps.retain(|(frame, _)| *frame < 10);
    for mark in [3, 7] {
        track.floor_paths[mark]
            .steps
            .retain(|(frame, _)| *frame >= 25);
    }
    let stray = |(frame, place): &(usize, Place)| {
        let mut place = *place;
        place.u_px += 30.0;
        (*frame, place)
    };
    let steps = track.floor_paths[1].steps.iter().map(stray).collect();
    track.floor_paths.push(FloorPath {
        colour: Colour::Blue,
        steps,
    });
    let moving = follow_camera(&track, &sheet).unwrap();
    let mut names: Vec<Option<usize>> = ALL.iter().copied().map(Some).collect();
    names.push(None);
    assert_eq!(moving.names, names);
    follows_the_hand(&moving);
    // Met within 8 px and of its colour only.
    let pose = hand(30.0 / FPS + 0.5 * READOUT_S);
    let met = |shift: f64, colour: Colour| {
        let mut track = track.clone();
        track.floor_paths[7].colour = colour;
        for (_, place) in &mut track.floor_paths[7].steps {
            place.u_px += shift;
        }
        let mut names = names.clone();
        names[7] = None;
        meet(&track, &sheet, 30, &pose, &mut names);
        names[7]
    };
    assert_eq!(met(0.0, Colour::Blue), Some(7));
    assert_eq!(met(6.0, Colour::Blue), Some(7));
    assert_eq!(met(-11.0, Colour::Blue), None);
    assert_eq!(met(0.0, Colour::Red), None);
}

#[test]
fn looks_are_at_the_centres_of_their_marks_and_strays_are_none() {
    // Marks of 7 cm: the middle of the outline is off the centre by what perspective makes of it.
    let mut track = track(&ALL);
    let frame = 20;
    for (path, [x, y]) in track.floor_paths.iter_mut().zip(PLACES) {
        let large = place(&Point3::new(x, y, 0.0), frame, 0.07);
        path.steps = large.into_iter().map(|place| (frame, place)).collect();
    }
    let marks_m = places(&sheet());
    let names: Vec<Option<usize>> = ALL.iter().copied().map(Some).collect();
    let pose = hand(frame as f64 / FPS + 0.5 * READOUT_S);
    let found = observations(&track, frame, &pose, &names, &marks_m);
    assert_eq!(found.len(), visible(&track, frame).count());
    assert!(found.len() >= 6);
    let mut most: f64 = 0.0;
    for (observation, seen) in &found {
        let [x, y] = PLACES[observation.mark];
        let (centre, _) = seen_by_rows(&Point3::new(x, y, 0.0), frame).unwrap();
        assert!(
            (observation.pixel - centre).norm() < 0.02,
            "{observation:?} for {centre}"
        );
        assert!((observation.sd_px - 0.05).abs() < 1e-12);
        most = most.max((Vector2::new(seen.u_px, seen.v_px) - centre).norm());
    }
    assert!(most > 0.2, "{most}");
    // Rows taken all at once: the frame's own pose, from one nearby.
    let mut at_once = track.clone();
    let view = Projection::Pinhole(pose);
    for (path, [x, y]) in at_once.floor_paths.iter_mut().zip(PLACES) {
        for (_, place) in &mut path.steps {
            let centre = view.pixel(&Point3::new(x, y, 0.0)).unwrap();
            let shift = disc_shift_px(&view, Vector2::new(x, y), place.area_px2).unwrap();
            (place.u_px, place.v_px) = ((centre + shift).x, (centre + shift).y);
        }
    }
    let fitted = frame_fit(&at_once, frame, &pose, &names, &marks_m).unwrap();
    let off = (fitted.camera.position_m - pose.position_m).norm();
    assert!(off < 1e-6 && fitted.residual_px < 1e-4, "{off} {fitted:?}");
    let stray = |off: f64| {
        let mut track = track.clone();
        track.floor_paths[5].steps[0].1.v_px += off;
        let found = observations(&track, frame, &pose, &names, &marks_m);
        found.iter().all(|(observation, _)| observation.mark != 5)
    };
    assert!(!stray(3.0) && stray(9.0) && stray(-9.0));
    let mut unnamed = names.clone();
    unnamed[5] = None;
    assert_eq!(
        observations(&track, frame, &pose, &unnamed, &marks_m).len(),
        found.len() - 1
    );
}

#[test]
fn a_marks_velocity_is_the_slope_of_its_way_through_the_picture() {
    let track = track(&ALL);
    let rough: Vec<Option<Pinhole>> = (track.times_s.iter())
        .map(|time| Some(hand(time + 0.5 * READOUT_S)))
        .collect();
    let mark = Vector2::new(1.6, -0.3);
    let pixel = |time_s: f64| {
        let view = Projection::Pinhole(hand(time_s));
        view.pixel(&Point3::new(mark.x, mark.y, 0.0)).unwrap()
    };
    let time_s = 20.0 / FPS + 0.5 * READOUT_S;
    let slope = (pixel(time_s + 1e-5) - pixel(time_s - 1e-5)) / 2e-5;
    let found = velocity(&track, &rough, 20, mark).unwrap();
    assert!(
        (found - slope).norm() < 0.005 * slope.norm(),
        "{found} for {slope}"
    );
    assert!(slope.norm() > 50.0);
    assert!(velocity(&track, &rough, 0, mark).is_none());
    assert!(velocity(&track, &rough, FRAMES - 1, mark).is_none());
}

#[test]
fn key_frames_show_the_most_marks_and_lie_apart() {
    let mut track = track(&ALL);
    for (mark, path) in track.floor_paths.iter_mut().enumerate() {
        // All eight in frames 10 to 12, seven from 30 on, six elsewhere.
        path.steps.retain(|(frame, _)| match mark {
            0 => (10..13).contains(frame),
            1 => (10..13).contains(frame) || *frame >= 30,
            _ => true,
        });
    }
    let seen = |frame: usize| visible(&track, frame).count();
    assert_eq!((seen(11), seen(35), seen(20)), (8, 7, 6));
    // More than an eighth of the clip apart, the first of equals first.
    let first_of_six = (0..10).find(|frame| seen(*frame) == 6).unwrap();
    assert!(first_of_six < 5);
    assert_eq!(key_frames(&track), [10, 30, 36, first_of_six]);
}

#[test]
fn the_course_is_that_of_the_car_on_the_floor() {
    let (track, sheet) = (track(&ALL), sheet());
    let poses = |off: f64| -> Vec<Option<Pinhole>> {
        let pose = |time: &f64| {
            let mut pose = hand(time + 0.5 * READOUT_S);
            pose.position_m.x += off;
            Some(pose)
        };
        track.times_s.iter().map(pose).collect()
    };
    // Along the line from its start: 2; a camera taken to be 0.1 m ahead puts the start 0.1 m off: 0.2 less.
    assert!((course(&track, &sheet, &poses(0.0)).unwrap() - 2.0).abs() < 0.05);
    assert!((course(&track, &sheet, &poses(0.1)).unwrap() - 1.8).abs() < 0.05);
    let mut back = sheet.clone();
    back.aim_m.reverse();
    assert!(course(&track, &back, &poses(0.0)).unwrap() < MIN_COURSE);
}

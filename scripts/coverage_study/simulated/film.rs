//! A pinhole camera that sees the marks: pixels with noise, no pictures.

use super::car::{Car, State, at};
use gripline::colour::Colour;
use gripline::track::{Place, Places, StillMark, Track};
use rand::{Rng, RngExt};
use rand_distr::{Distribution, StandardNormal};

pub type Vec3 = [f64; 3];

/// Where the camera stands and how it sees.
#[derive(Debug, Clone, Copy)]
pub struct Camera {
    pub at_m: Vec3,
    pub to_m: Vec3,
    pub focal_px: f64,
    pub k1: f64,
    pub size_px: [f64; 2],
    pub readout_s: f64,
    pub fps: f64,
}

fn minus(a: Vec3, b: Vec3) -> Vec3 {
    [a[0] - b[0], a[1] - b[1], a[2] - b[2]]
}

fn dot(a: Vec3, b: Vec3) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

fn cross(a: Vec3, b: Vec3) -> Vec3 {
    [
        a[1] * b[2] - a[2] * b[1],
        a[2] * b[0] - a[0] * b[2],
        a[0] * b[1] - a[1] * b[0],
    ]
}

fn unit(a: Vec3) -> Vec3 {
    let n = dot(a, a).sqrt();
    [a[0] / n, a[1] / n, a[2] / n]
}

impl Camera {
    pub fn see(&self, point: Vec3) -> Option<[f64; 2]> {
        let ahead = unit(minus(self.to_m, self.at_m));
        let right = unit(cross(ahead, [0.0, 0.0, 1.0]));
        let down = cross(ahead, right);
        let off = minus(point, self.at_m);
        let z = dot(off, ahead);
        if z <= 0.05 {
            return None;
        }
        let (x, y) = (dot(off, right) / z, dot(off, down) / z);
        let bent = 1.0 + self.k1 * (x * x + y * y);
        Some([
            (self.size_px[0] - 1.0) / 2.0 + self.focal_px * bent * x,
            (self.size_px[1] - 1.0) / 2.0 + self.focal_px * bent * y,
        ])
    }
}

/// Where the marks sit on the car, m.
#[derive(Debug, Clone, Copy)]
pub struct Marks {
    pub sticker_ahead_m: f64,
    pub sticker_left_m: f64,
    pub sticker_height_m: f64,
    pub face_left_m: f64,
    pub wheel_mark_m: Option<f64>,
    pub axle_mark_m: Option<f64>,
}

/// Noise of the places in the picture.
#[derive(Debug, Clone, Copy)]
pub struct Noise {
    /// Standard deviation, px, and what the places claim of it.
    pub sd_px: f64,
    pub claimed_px: f64,
    /// Likeness of one frame's error to the next one's.
    pub likeness: f64,
    /// Share of looks at the wheel mark that are lost.
    pub lost: f64,
}

fn on_car(state: &State, ahead: f64, left: f64, height: f64) -> Vec3 {
    let (sin, cos) = state.heading_rad.sin_cos();
    [
        state.x_m + ahead * cos - left * sin,
        state.y_m + ahead * sin + left * cos,
        height,
    ]
}

/// One filmed run.
pub struct Filmed {
    pub track: Track,
    /// True state at each frame's sticker row; frames in which the sticker was seen.
    pub states: Vec<Option<State>>,
}

/// Films a run that is released `release_s` after the first frame.
#[allow(
    clippy::too_many_arguments,
    reason = "everything that a film depends on"
)]
pub fn film<R: Rng>(
    car: &Car,
    run: &[State],
    camera: &Camera,
    marks: &Marks,
    noise: &Noise,
    floor_m: &[[f64; 2]],
    (release_s, duration_s): (f64, f64),
    random: &mut R,
) -> Filmed {
    let frames = (duration_s * camera.fps) as usize;
    let times_s: Vec<f64> = (0..frames).map(|i| i as f64 / camera.fps).collect();
    let height = camera.size_px[1];
    // A mark is seen when its row is read: the row depends on where it is by then.
    let seen = |time: f64, of: &dyn Fn(&State) -> Vec3| -> Option<([f64; 2], f64)> {
        let mut row = 0.5;
        let mut pixel = [0.0; 2];
        for _ in 0..4 {
            let state = at(run, time + row * camera.readout_s - release_s);
            pixel = camera.see(of(&state))?;
            row = (pixel[1] / height).clamp(0.0, 1.0);
        }
        let margin = 14.0;
        let inside = (0..2).all(|i| pixel[i] > margin && pixel[i] < camera.size_px[i] - margin);
        inside.then_some((pixel, row))
    };
    let mut errors = [[0.0; 2]; 3];
    let mut follow =
        |slot: usize, of: &dyn Fn(&State) -> Vec3, lost: f64, random: &mut R| -> Places {
            let fresh = (1.0 - noise.likeness * noise.likeness).sqrt();
            times_s
                .iter()
                .map(|time| {
                    for error in &mut errors[slot] {
                        let normal: f64 = StandardNormal.sample(random);
                        *error = noise.likeness * *error + fresh * normal * noise.sd_px;
                    }
                    let gone = random.random::<f64>() < lost;
                    let (pixel, row_frac) = seen(*time, of)?;
                    (!gone).then(|| Place {
                        u_px: pixel[0] + errors[slot][0],
                        v_px: pixel[1] + errors[slot][1],
                        var_u_px2: noise.claimed_px.powi(2),
                        var_v_px2: noise.claimed_px.powi(2),
                        area_px2: 400.0,
                        contrast: 60.0,
                        row_frac,
                        fitted: true,
                    })
                })
                .collect()
        };
    let sticker_at = |s: &State| {
        on_car(
            s,
            marks.sticker_ahead_m,
            marks.sticker_left_m,
            marks.sticker_height_m,
        )
    };
    let circling = |s: &State, radius: f64, angle: f64, out: f64| {
        // Forward takes the mark from up to ahead.
        let (sin, cos) = angle.sin_cos();
        on_car(
            s,
            radius * cos,
            marks.face_left_m + out,
            car.radius_m - radius * sin,
        )
    };
    let sticker = follow(0, &sticker_at, 0.0, random);
    let wheel = marks.wheel_mark_m.map_or_else(
        || vec![None; frames],
        |r| {
            follow(
                1,
                &|s| circling(s, r, s.wheel_rad + 2.0, 0.0),
                noise.lost,
                random,
            )
        },
    );
    let axle = marks.axle_mark_m.map_or_else(
        || vec![None; frames],
        |r| {
            follow(
                2,
                &|s| circling(s, r, s.axle_rad + 1.0, 0.0),
                noise.lost,
                random,
            )
        },
    );
    let mut floor = Vec::new();
    for place in floor_m {
        let Some(pixel) = camera.see([place[0], place[1], 0.0]) else {
            continue;
        };
        if (0..2).any(|i| pixel[i] < 5.0 || pixel[i] > camera.size_px[i] - 5.0) {
            continue;
        }
        let (u, v): (f64, f64) = (StandardNormal.sample(random), StandardNormal.sample(random));
        floor.push(StillMark {
            colour: Colour::Blue,
            u_px: pixel[0] + 0.05 * u,
            v_px: pixel[1] + 0.05 * v,
            sd_px: 0.05,
            area_px2: 300.0,
            frames,
        });
    }
    let last = sticker.iter().rposition(Option::is_some).unwrap_or(0);
    let first = sticker.iter().position(Option::is_some).unwrap_or(0);
    let states = sticker
        .iter()
        .zip(&times_s)
        .map(|(place, time)| {
            place.map(|p| at(run, time + p.row_frac * camera.readout_s - release_s))
        })
        .collect();
    Filmed {
        track: Track {
            width_px: camera.size_px[0],
            height_px: camera.size_px[1],
            times_s,
            sticker,
            in_view: (first, last),
            wheel,
            axle,
            floor,
            floor_paths: Vec::new(),
            notes: Vec::new(),
        },
        states,
    }
}

//! A pinhole camera that sees the marks: pixels with noise, no pictures.

use super::car::{Car, State, at};
use gripline::colour::Colour;
use gripline::track::{Place, Places, StillMark, Track};
use rand::{Rng, RngExt};
use rand_distr::{Distribution, StandardNormal};
use std::f64::consts::TAU;

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

    /// Middle and area of the outline of a disc on the floor, px and px².
    fn sees_disc(&self, [x, y]: [f64; 2], radius_m: f64) -> Option<([f64; 2], f64)> {
        const CORNERS: usize = 120;
        let corners: Vec<[f64; 2]> = (0..CORNERS)
            .map(|i| {
                let (sin, cos) = (TAU * i as f64 / CORNERS as f64).sin_cos();
                self.see([x + radius_m * cos, y + radius_m * sin, 0.0])
            })
            .collect::<Option<_>>()?;
        // Middle and area of a polygon, about its first corner.
        let origin = corners[0];
        let (mut area, mut moment) = (0.0, [0.0; 2]);
        for pair in corners.windows(2) {
            let [a, b] = [0, 1].map(|k: usize| [0, 1].map(|i: usize| pair[k][i] - origin[i]));
            let slice = (a[0] * b[1] - a[1] * b[0]) / 2.0;
            area += slice;
            for i in 0..2 {
                moment[i] += slice * (a[i] + b[i]) / 3.0;
            }
        }
        Some(([0, 1].map(|i| origin[i] + moment[i] / area), area.abs()))
    }
}

/// Half the diameter of a floor mark, m: a picture shows its outline, not its centre.
const FLOOR_MARK_RADIUS_M: f64 = 0.03;

/// Where the marks sit on the car, m.
#[allow(clippy::struct_field_names, reason = "the unit ends every name")]
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
    /// Standard deviation of a further error that lasts for about [`SLOW_S`], px: a sharpened or coded mark keeps
    /// its halo while it crosses a part of the picture. Nothing claims it.
    pub slow_px: f64,
    /// Share of looks at the wheel mark that are lost.
    pub lost: f64,
}

/// How long a slow error lasts, s.
const SLOW_S: f64 = 0.15;

fn on_car(state: &State, ahead: f64, left: f64, height: f64) -> Vec3 {
    let (sin, cos) = state.heading_rad.sin_cos();
    let left = left + state.aside_m;
    [
        state.x_m + ahead * cos - left * sin,
        state.y_m + ahead * sin + left * cos,
        height + state.risen_m,
    ]
}

/// One filmed run.
pub struct Filmed {
    pub track: Track,
    /// True state at each frame's sticker row; frames in which the sticker was seen.
    pub states: Vec<Option<State>>,
}

/// How a run is filmed.
pub struct Filming<'a> {
    pub car: &'a Car,
    pub run: &'a [State],
    pub camera: &'a Camera,
    pub marks: &'a Marks,
    pub noise: &'a Noise,
    pub release_s: f64,
    pub duration_s: f64,
}

impl Filming<'_> {
    fn times_s(&self) -> Vec<f64> {
        let frames = (self.duration_s * self.camera.fps) as usize;
        (0..frames).map(|i| i as f64 / self.camera.fps).collect()
    }

    /// A mark is seen when its row is read, and its row depends on where it is by then.
    fn seen(&self, time_s: f64, of: &dyn Fn(&State) -> Vec3) -> Option<([f64; 2], f64)> {
        const MARGIN_PX: f64 = 14.0;
        let camera = self.camera;
        let mut row = 0.5;
        let mut pixel = [0.0; 2];
        for _ in 0..4 {
            let since = time_s + row * camera.readout_s - self.release_s;
            pixel = camera.see(of(&at(self.run, since)))?;
            row = (pixel[1] / camera.size_px[1]).clamp(0.0, 1.0);
        }
        let inside =
            (0..2).all(|i| pixel[i] > MARGIN_PX && pixel[i] < camera.size_px[i] - MARGIN_PX);
        inside.then_some((pixel, row))
    }

    fn places<R: Rng>(&self, of: &dyn Fn(&State) -> Vec3, lost: f64, random: &mut R) -> Places {
        let noise = self.noise;
        let fresh = (1.0 - noise.likeness * noise.likeness).sqrt();
        let mut errors = [0.0; 2];
        let mut slow = [0.0; 2];
        let lasts = (-1.0 / (SLOW_S * self.camera.fps)).exp();
        self.times_s()
            .iter()
            .map(|time_s| {
                for error in &mut errors {
                    let normal: f64 = StandardNormal.sample(random);
                    *error = noise.likeness * *error + fresh * normal * noise.sd_px;
                }
                // Drawn only where there is one, so that other runs stay as they are.
                if noise.slow_px > 0.0 {
                    for error in &mut slow {
                        let normal: f64 = StandardNormal.sample(random);
                        *error =
                            lasts * *error + (1.0 - lasts * lasts).sqrt() * normal * noise.slow_px;
                    }
                }
                let gone = random.random::<f64>() < lost;
                let (pixel, row_frac) = self.seen(*time_s, of)?;
                (!gone).then(|| Place {
                    u_px: pixel[0] + errors[0] + slow[0],
                    v_px: pixel[1] + errors[1] + slow[1],
                    var_u_px2: noise.claimed_px.powi(2),
                    var_v_px2: noise.claimed_px.powi(2),
                    area_px2: 400.0,
                    contrast: 60.0,
                    row_frac,
                    fitted: true,
                })
            })
            .collect()
    }

    /// A mark that circles on the wheel's face: forward takes it from up to ahead.
    fn circling(&self, state: &State, radius_m: f64, angle_rad: f64) -> Vec3 {
        let (sin, cos) = angle_rad.sin_cos();
        let (down, ahead) = state.shown_rad.sin_cos();
        let off = self.car.off_axle_m;
        on_car(
            state,
            off * ahead + radius_m * cos,
            self.marks.face_left_m,
            self.car.radius_m - off * down - radius_m * sin,
        )
    }

    fn floor<R: Rng>(&self, places_m: &[[f64; 2]], random: &mut R) -> Vec<StillMark> {
        const NOISE_PX: f64 = 0.05;
        let size = self.camera.size_px;
        let inside = |p: &[f64; 2]| (0..2).all(|i| p[i] > 5.0 && p[i] < size[i] - 5.0);
        places_m
            .iter()
            .filter_map(|p| self.camera.sees_disc(*p, FLOOR_MARK_RADIUS_M))
            .filter(|(middle, _)| inside(middle))
            .map(|(middle, area_px2)| {
                let (u, v): (f64, f64) =
                    (StandardNormal.sample(random), StandardNormal.sample(random));
                StillMark {
                    colour: Colour::Blue,
                    u_px: middle[0] + NOISE_PX * u,
                    v_px: middle[1] + NOISE_PX * v,
                    sd_px: NOISE_PX,
                    area_px2,
                    frames: self.times_s().len(),
                }
            })
            .collect()
    }

    /// Films the run: what the tool would make of the pictures, and the truth beside it.
    pub fn film<R: Rng>(&self, floor_m: &[[f64; 2]], random: &mut R) -> Filmed {
        let (marks, times_s) = (self.marks, self.times_s());
        let frames = times_s.len();
        let sticker_at = |s: &State| {
            on_car(
                s,
                marks.sticker_ahead_m,
                marks.sticker_left_m,
                marks.sticker_height_m,
            )
        };
        let sticker = self.places(&sticker_at, 0.0, random);
        let none = || vec![None; frames];
        let lost = self.noise.lost;
        let wheel = marks.wheel_mark_m.map_or_else(none, |radius| {
            self.places(
                &|s| self.circling(s, radius, s.shown_rad + 2.0),
                lost,
                random,
            )
        });
        let axle = marks.axle_mark_m.map_or_else(none, |radius| {
            self.places(
                &|s| self.circling(s, radius, s.axle_rad + 1.0),
                lost,
                random,
            )
        });
        let floor = self.floor(floor_m, random);
        let last = sticker.iter().rposition(Option::is_some).unwrap_or(0);
        let first = sticker.iter().position(Option::is_some).unwrap_or(0);
        let states = sticker
            .iter()
            .zip(&times_s)
            .map(|(place, time_s)| {
                let row = place.as_ref()?.row_frac;
                let since = time_s + row * self.camera.readout_s - self.release_s;
                Some(at(self.run, since))
            })
            .collect();
        Filmed {
            track: Track {
                width_px: self.camera.size_px[0],
                height_px: self.camera.size_px[1],
                times_s,
                sticker,
                in_view: (first, last),
                wheel,
                more_wheel: Vec::new(),
                axle,
                floor,
                floor_paths: Vec::new(),
                notes: Vec::new(),
            },
            states,
        }
    }
}

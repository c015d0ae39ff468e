//! The phone: where it is at each moment, what pixel a point falls on, and the ray of a pixel.
//!
//! Pinhole with square pixels and the principal point in the middle. Pixel places count from the
//! corner of the top-left pixel of the upright picture, so its centre is (0.5, 0.5).

use nalgebra::{Matrix3, Vector3};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use crate::scene::{Camera, Scene};

pub(crate) type Vec3 = Vector3<f64>;

/// One pose of the camera, with its lens.
#[derive(Debug, Clone, Copy)]
pub(crate) struct View {
    pub(crate) position: Vec3,
    /// Rows: right, down, forward.
    pub(crate) axes: Matrix3<f64>,
    pub(crate) focal_px: f64,
    pub(crate) half_size: [f64; 2],
    pub(crate) k1: f64,
}

impl View {
    /// Looks from one point at another; a positive roll turns the camera clockwise, seen from behind.
    pub(crate) fn new(position: Vec3, look_at: Vec3, roll_rad: f64, lens: Lens) -> Self {
        let forward = (look_at - position).normalize();
        let right = forward.cross(&Vec3::z()).normalize();
        let down = forward.cross(&right);
        let (s, c) = roll_rad.sin_cos();
        let (right, down) = (right * c + down * s, down * c - right * s);
        Self {
            position,
            axes: Matrix3::from_rows(&[right.transpose(), down.transpose(), forward.transpose()]),
            focal_px: lens.focal_px,
            half_size: lens.half_size,
            k1: lens.k1,
        }
    }

    /// Where a point is seen; `None` behind the camera.
    pub(crate) fn project(&self, point: &Vec3) -> Option<[f64; 2]> {
        let p = self.axes * (point - self.position);
        if p.z < 1e-6 {
            return None;
        }
        let (x, y) = (p.x / p.z, p.y / p.z);
        let stretch = 1.0 + self.k1 * (x * x + y * y);
        Some([
            self.half_size[0] + self.focal_px * x * stretch,
            self.half_size[1] + self.focal_px * y * stretch,
        ])
    }

    /// Direction (of length 1) in which a pixel place looks.
    pub(crate) fn ray(&self, u: f64, v: f64) -> Vec3 {
        let seen_x = (u - self.half_size[0]) / self.focal_px;
        let seen_y = (v - self.half_size[1]) / self.focal_px;
        let seen = seen_x.hypot(seen_y);
        let mut r = seen;
        if self.k1 != 0.0 {
            for _ in 0..8 {
                let miss = r * (1.0 + self.k1 * r * r) - seen;
                r -= miss / (1.0 + 3.0 * self.k1 * r * r);
            }
        }
        let scale = if seen > 0.0 { r / seen } else { 1.0 };
        let local = Vec3::new(seen_x * scale, seen_y * scale, 1.0);
        (self.axes.transpose() * local).normalize()
    }
}

/// Focal length, picture size and distortion.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Lens {
    pub(crate) focal_px: f64,
    pub(crate) half_size: [f64; 2],
    pub(crate) k1: f64,
}

/// One swing of the hand.
#[derive(Debug, Clone, Copy)]
struct Swing {
    amplitude: f64,
    rate_rad_per_s: f64,
    phase_rad: f64,
}

/// The phone over the whole clip.
#[derive(Debug, Clone)]
pub(crate) struct Phone {
    camera: Camera,
    lens: Lens,
    /// Yaw, pitch and roll; then x, y and z.
    swings: [Vec<Swing>; 6],
    pub(crate) clock: RowClock,
}

/// When each row of each frame is exposed.
#[derive(Debug, Clone, Copy)]
pub(crate) struct RowClock {
    pub(crate) shutter_s: f64,
    pub(crate) readout_s: f64,
    rotation_deg: u32,
    size: [f64; 2],
}

impl RowClock {
    /// How far down the sensor a place of the upright picture is, 0 to 1. The stored picture's rows
    /// are the sensor's: a turned phone reads out along the upright picture's columns.
    pub(crate) fn sensor_row(&self, u: f64, v: f64) -> f64 {
        match self.rotation_deg {
            90 => 1.0 - u / self.size[0],
            180 => 1.0 - v / self.size[1],
            270 => u / self.size[0],
            _ => v / self.size[1],
        }
    }

    /// Whether the sensor's rows are columns of the upright picture.
    pub(crate) fn is_turned(&self) -> bool {
        self.rotation_deg % 180 == 90
    }

    /// Middle of the exposure there, after the first row of the frame begins.
    pub(crate) fn mid_exposure_s(&self, u: f64, v: f64) -> f64 {
        self.sensor_row(u, v).clamp(0.0, 1.0) * self.readout_s + self.shutter_s / 2.0
    }
}

impl Phone {
    pub(crate) fn new(scene: &Scene) -> Self {
        let size = [scene.clip.width as f64, scene.clip.height as f64];
        let focal_px = size[0] / 2.0 / (scene.camera.hfov_deg.to_radians() / 2.0).tan();
        let mut rng = ChaCha8Rng::seed_from_u64(scene.seed ^ 0x5eed_ca3e);
        let mut swing = |deviation: f64| -> Vec<Swing> {
            // Four swings whose variances add up; a hand moves mostly below 8 Hz.
            [(0.7, 0.7), (1.9, 0.55), (4.1, 0.4), (7.3, 0.2)]
                .map(|(hz, share)| Swing {
                    amplitude: deviation * share * std::f64::consts::SQRT_2,
                    rate_rad_per_s: std::f64::consts::TAU * hz * rng.random_range(0.8..1.2),
                    phase_rad: rng.random_range(0.0..std::f64::consts::TAU),
                })
                .to_vec()
        };
        let angle = scene.camera.shake_mrad / 1e3;
        let place = scene.camera.shake_mm / 1e3;
        let swings = [angle, angle, angle, place, place, place].map(&mut swing);
        Self {
            camera: scene.camera.clone(),
            lens: Lens {
                focal_px,
                half_size: [size[0] / 2.0, size[1] / 2.0],
                k1: scene.camera.k1,
            },
            swings,
            clock: RowClock {
                shutter_s: scene.exposure.shutter_s,
                readout_s: scene.exposure.readout_s,
                rotation_deg: scene.clip.rotation_deg,
                size,
            },
        }
    }

    pub(crate) fn moves(&self) -> bool {
        self.camera.shake_mrad > 0.0 || self.camera.shake_mm > 0.0 || self.camera.pan_to_m.is_some()
    }

    pub(crate) fn at(&self, time_s: f64) -> View {
        let c = &self.camera;
        let sway = |i: usize| -> f64 {
            self.swings[i]
                .iter()
                .map(|s| s.amplitude * (s.rate_rad_per_s * time_s + s.phase_rad).sin())
                .sum()
        };
        let position = Vec3::from(c.position_m) + Vec3::new(sway(3), sway(4), sway(5));
        let mut look_at = Vec3::from(c.look_at_m);
        if let Some(to) = c.pan_to_m {
            let part = (time_s - c.pan_from_s) / (c.pan_until_s - c.pan_from_s);
            let part = part.clamp(0.0, 1.0);
            look_at += (Vec3::from(to) - look_at) * (part * part * (3.0 - 2.0 * part));
        }
        let out = look_at - position;
        let distance = out.norm();
        let right = out.cross(&Vec3::z()).normalize();
        let up = right.cross(&out).normalize();
        let look_at = look_at + (right * sway(0) + up * sway(1)) * distance;
        View::new(
            position,
            look_at,
            c.roll_deg.to_radians() + sway(2),
            self.lens,
        )
    }

    /// Where a moving point is seen in the frame that begins at `frame_s`, and when: the row that
    /// sees it fixes the time, and the time fixes the row.
    pub(crate) fn see(
        &self,
        frame_s: f64,
        point_at: impl Fn(f64) -> Vec3,
    ) -> (f64, Option<[f64; 2]>) {
        let mut time_s = frame_s + self.clock.readout_s / 2.0 + self.clock.shutter_s / 2.0;
        let mut seen = None;
        for _ in 0..12 {
            seen = self.at(time_s).project(&point_at(time_s));
            let Some([u, v]) = seen else { break };
            time_s = frame_s + self.clock.mid_exposure_s(u, v);
        }
        (time_s, seen)
    }
}

//! One frame in linear light: many rays per pixel, each at its own place in the pixel, in the lens'
//! blur and in the exposure. What stands still before a still camera is drawn once.

use rayon::prelude::*;

use crate::paint::Rgb;
use crate::pose::Pose;
use crate::room::World;
use crate::scene::Scene;
use crate::solids::Ray;
use crate::texture::scramble;
use crate::view::{Phone, View};

/// Steps of a sequence that fills four dimensions evenly (powers of the inverse of the root of
/// `x^5 = x + 1`).
const STEPS: [f64; 4] = [
    0.856_674_883_854_502,
    0.733_891_856_627_126,
    0.628_706_721_016_726,
    0.538_597_245_725_948,
];
const STILL_SAMPLES: usize = 36;
const MARGIN_PX: f64 = 6.0;

/// A picture in linear light, rows from the top.
#[derive(Debug, Clone)]
pub(crate) struct Picture {
    pub(crate) width: usize,
    pub(crate) height: usize,
    pub(crate) pixels: Vec<Rgb>,
}

/// Where everything is at one moment.
struct Instant {
    time_s: f64,
    view: View,
    pose: Pose,
}

/// Draws the frames of one scene.
pub(crate) struct Painter<'a> {
    world: &'a World,
    phone: &'a Phone,
    width: usize,
    height: usize,
    blur_px: f64,
    samples: usize,
    still: Option<Picture>,
}

impl<'a> Painter<'a> {
    pub(crate) fn new(scene: &Scene, world: &'a World, phone: &'a Phone) -> Self {
        let mut painter = Self {
            world,
            phone,
            width: scene.clip.width,
            height: scene.clip.height,
            blur_px: scene.exposure.optics_blur_px,
            samples: scene.exposure.samples,
            still: None,
        };
        if !phone.moves() {
            let empty = world.without_movers();
            let away = Instant {
                time_s: 0.0,
                view: phone.at(0.0),
                pose: Pose::parked([-1e3, 0.0], 0.0),
            };
            let mut still = painter.blank();
            still
                .pixels
                .par_chunks_mut(painter.width)
                .enumerate()
                .for_each(|(row, pixels)| {
                    for (column, pixel) in pixels.iter_mut().enumerate() {
                        let sum = (0..STILL_SAMPLES).fold([0.0; 3], |sum, k| {
                            let ray = painter.ray(column, row, k, &away.view);
                            added(sum, empty.look(ray, 0.0, &away.pose))
                        });
                        *pixel = sum.map(|c| c / STILL_SAMPLES as f64);
                    }
                });
            painter.still = Some(still);
        }
        painter
    }

    fn blank(&self) -> Picture {
        let pixels = vec![[0.0; 3]; self.width * self.height];
        Picture {
            width: self.width,
            height: self.height,
            pixels,
        }
    }

    /// The frame whose first row begins at a time.
    pub(crate) fn frame(&self, frame_s: f64) -> Picture {
        let (mut picture, spans) = match &self.still {
            Some(still) => (still.clone(), self.moving_spans(frame_s)),
            None => (self.blank(), vec![(0, self.width); self.height]),
        };
        let lines = self.lines(frame_s);
        picture
            .pixels
            .par_chunks_mut(self.width)
            .zip(spans.par_iter())
            .enumerate()
            .for_each(|(row, (pixels, &(from, to)))| {
                for (column, pixel) in pixels.iter_mut().enumerate().take(to).skip(from) {
                    let line = if self.phone.clock.is_turned() {
                        column
                    } else {
                        row
                    };
                    if let Some(light) = self.pixel(column, row, &lines[line]) {
                        *pixel = light;
                    }
                }
            });
        picture
    }

    /// For each sensor line, given by its row or column of the upright picture, the moments at which
    /// its samples are taken.
    fn lines(&self, frame_s: f64) -> Vec<Vec<Instant>> {
        let clock = &self.phone.clock;
        let count = if clock.is_turned() {
            self.width
        } else {
            self.height
        };
        (0..count)
            .map(|line| {
                let at = line as f64 + 0.5;
                let start_s = frame_s + clock.sensor_row(at, at).clamp(0.0, 1.0) * clock.readout_s;
                (0..self.samples)
                    .map(|k| {
                        let part = (k as f64 + 0.5) / self.samples as f64;
                        let time_s = start_s + part * clock.shutter_s;
                        let (view, pose) = (self.phone.at(time_s), self.world.pose(time_s));
                        Instant { time_s, view, pose }
                    })
                    .collect()
            })
            .collect()
    }

    /// The ray of one sample of a pixel: spread over the pixel, and over the lens' blur.
    fn ray(&self, column: usize, row: usize, k: usize, view: &View) -> Ray {
        let q: [f64; 4] = std::array::from_fn(|i| {
            (scramble(column as u64, row as u64, 100 + i as u64) + STEPS[i] * k as f64).fract()
        });
        let far = self.blur_px * (-2.0 * (1.0 - q[2]).ln()).sqrt();
        let (s, c) = (std::f64::consts::TAU * q[3]).sin_cos();
        let along = view.ray(column as f64 + q[0] + far * c, row as f64 + q[1] + far * s);
        Ray {
            start: view.position,
            along,
            from: 1e-3,
        }
    }

    /// Light on a pixel; `None` where the still picture holds.
    fn pixel(&self, column: usize, row: usize, instants: &[Instant]) -> Option<Rgb> {
        let rays: Vec<Ray> = instants
            .iter()
            .enumerate()
            .map(|(k, i)| self.ray(column, row, k, &i.view))
            .collect();
        let samples = rays.iter().zip(instants);
        if self.still.is_some()
            && !samples
                .clone()
                .any(|(ray, i)| self.world.stirs(ray, i.time_s, &i.pose))
        {
            return None;
        }
        let sum = samples.fold([0.0; 3], |sum, (ray, i)| {
            added(sum, self.world.look(*ray, i.time_s, &i.pose))
        });
        Some(sum.map(|c| c / instants.len() as f64))
    }

    /// The part of each row in which something may move during a frame.
    fn moving_spans(&self, frame_s: f64) -> Vec<(usize, usize)> {
        let view = self.phone.at(frame_s);
        let end_s = frame_s + self.phone.clock.readout_s + self.phone.clock.shutter_s;
        let mut spans = vec![(self.width, 0); self.height];
        let first = self.world.moving_corners(frame_s);
        let last = self.world.moving_corners(end_s);
        for (a, b) in first.iter().zip(&last) {
            let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
            for corner in a.iter().chain(b) {
                // A corner behind the camera: the thing may be anywhere in the picture.
                let seen = view.project(corner);
                for i in 0..2 {
                    low[i] = low[i].min(seen.map_or(f64::NEG_INFINITY, |p| p[i]));
                    high[i] = high[i].max(seen.map_or(f64::INFINITY, |p| p[i]));
                }
            }
            let clip = |x: f64, end: usize| x.clamp(0.0, end as f64) as usize;
            let rows =
                clip(low[1] - MARGIN_PX, self.height)..clip(high[1] + MARGIN_PX, self.height);
            let from = clip(low[0] - MARGIN_PX, self.width);
            let to = clip(high[0] + MARGIN_PX, self.width);
            for span in &mut spans[rows] {
                *span = (span.0.min(from), span.1.max(to));
            }
        }
        spans
    }
}

fn added(a: Rgb, b: Rgb) -> Rgb {
    [a[0] + b[0], a[1] + b[1], a[2] + b[2]]
}

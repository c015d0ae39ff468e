//! From light to code values: exposure, flicker, noise, transfer curve, and the planes of a 4:2:0
//! picture with the colour samples where the file will say that they are.

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use rayon::prelude::*;

use crate::paint::{Rgb, encoded};
use crate::picture::Picture;
use crate::scene::{Matrix, Scene, Siting};
use crate::view::RowClock;

/// The camera's electronics, with the noise that it carries from frame to frame.
pub(crate) struct Sensor<'a> {
    scene: &'a Scene,
    clock: RowClock,
    grain: Vec<[f32; 3]>,
    kernel: Vec<f32>,
}

impl<'a> Sensor<'a> {
    pub(crate) fn new(scene: &'a Scene, clock: RowClock) -> Self {
        let sigma = scene.noise.grain_px;
        let reach = (3.0 * sigma).ceil() as i32;
        let mut kernel: Vec<f32> = (-reach..=reach)
            .map(|i| {
                if sigma > 0.0 {
                    (-0.5 * (f64::from(i) / sigma).powi(2)).exp() as f32
                } else {
                    1.0
                }
            })
            .collect();
        // Weights of unit sum of squares keep the variance.
        let norm = kernel.iter().map(|k| k * k).sum::<f32>().sqrt();
        for k in &mut kernel {
            *k /= norm;
        }
        Self {
            scene,
            clock,
            grain: Vec::new(),
            kernel,
        }
    }

    /// The picture as gamma-encoded red, green and blue from 0 to 1.
    pub(crate) fn develop(&mut self, light: &Picture, index: usize, frame_s: f64) -> Vec<[f32; 3]> {
        let fresh = self.fresh_grain(light.width, light.height, index);
        let carry = self.scene.noise.carry_over as f32;
        if self.grain.is_empty() {
            self.grain = fresh;
        } else {
            let new = (1.0 - carry * carry).sqrt();
            self.grain
                .par_iter_mut()
                .zip(fresh.par_iter())
                .for_each(|(old, fresh)| {
                    for i in 0..3 {
                        old[i] = carry * old[i] + new * fresh[i];
                    }
                });
        }
        let noise = &self.scene.noise;
        let width = light.width;
        let mut out = vec![[0.0; 3]; light.pixels.len()];
        out.par_chunks_mut(width)
            .enumerate()
            .for_each(|(row, line)| {
                for (column, pixel) in line.iter_mut().enumerate() {
                    let at = row * width + column;
                    let gain = self.gain(column as f64 + 0.5, row as f64 + 0.5, frame_s);
                    for i in 0..3 {
                        let level = light.pixels[at][i] * gain[i];
                        let shot = if noise.full_well > 0.0 {
                            level / noise.full_well
                        } else {
                            0.0
                        };
                        let deviation = (shot + noise.read * noise.read).sqrt();
                        let level = level + deviation * f64::from(self.grain[at][i]);
                        pixel[i] = encoded(level.clamp(0.0, 1.0)) as f32;
                    }
                }
            });
        out
    }

    /// Exposure, white balance and lamp at a pixel's own time.
    fn gain(&self, u: f64, v: f64, frame_s: f64) -> Rgb {
        let e = &self.scene.exposure;
        let time_s = frame_s + self.clock.mid_exposure_s(u, v);
        let part = (time_s / self.scene.duration_s).clamp(0.0, 1.0);
        let ramp = part * part * (3.0 - 2.0 * part);
        // Lamps beat at twice the mains; the mean over the exposure is a sinc.
        let rate = std::f64::consts::TAU * 2.0 * e.mains_hz;
        let half = rate * e.shutter_s / 2.0;
        let beat = e.flicker_depth * (rate * time_s).sin() * half.sin() / half;
        let level = e.brightness * (1.0 + e.drift * ramp) * (1.0 + beat);
        let warm = e.white_balance_drift * ramp;
        [level * (1.0 + warm), level, level * (1.0 - warm)]
    }

    fn fresh_grain(&self, width: usize, height: usize, index: usize) -> Vec<[f32; 3]> {
        let quiet = self.scene.noise.full_well <= 0.0 && self.scene.noise.read <= 0.0;
        let mut white = vec![[0.0_f32; 3]; width * height];
        if quiet {
            return white;
        }
        white
            .par_chunks_mut(width)
            .enumerate()
            .for_each(|(row, line)| {
                let mut rng = ChaCha8Rng::seed_from_u64(self.scene.seed);
                rng.set_stream((index * height + row) as u64);
                for pixel in line {
                    *pixel = std::array::from_fn(|_| StandardNormal.sample(&mut rng));
                }
            });
        let across = self.smeared(&white, width, height, 1, 0);
        self.smeared(&across, width, height, 0, 1)
    }

    fn smeared(
        &self,
        from: &[[f32; 3]],
        width: usize,
        height: usize,
        dx: usize,
        dy: usize,
    ) -> Vec<[f32; 3]> {
        let reach = self.kernel.len() / 2;
        let mut out = vec![[0.0_f32; 3]; from.len()];
        out.par_chunks_mut(width)
            .enumerate()
            .for_each(|(row, line)| {
                for (column, pixel) in line.iter_mut().enumerate() {
                    for (k, weight) in self.kernel.iter().enumerate() {
                        // The noise wraps round: its variance is the same at the edges.
                        let x = (column + width + dx * k - dx * reach) % width;
                        let y = (row + height + dy * k - dy * reach) % height;
                        for i in 0..3 {
                            pixel[i] += weight * from[y * width + x][i];
                        }
                    }
                }
            });
        out
    }
}

/// Turns the upright picture into the one that is stored, given the turn that a player will make.
pub(crate) fn stored<T: Copy>(
    upright: &[T],
    width: usize,
    height: usize,
    rotation_deg: u32,
) -> (Vec<T>, usize, usize) {
    let (w, h) = if rotation_deg.is_multiple_of(180) {
        (width, height)
    } else {
        (height, width)
    };
    let pixels = (0..w * h)
        .map(|i| {
            let (x, y) = (i % w, i / w);
            let (column, row) = match rotation_deg {
                90 => (h - 1 - y, x),
                180 => (w - 1 - x, h - 1 - y),
                270 => (y, w - 1 - x),
                _ => (x, y),
            };
            upright[row * width + column]
        })
        .collect();
    (pixels, w, h)
}

/// How code values become the numbers of a file.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Coding {
    pub(crate) matrix: Matrix,
    pub(crate) full_range: bool,
    pub(crate) bits: u32,
    pub(crate) siting: Siting,
}

impl Coding {
    /// Luma weights of red and blue: ITU-R BT.709-6 and BT.601-7.
    fn weights(self) -> (f64, f64) {
        match self.matrix {
            Matrix::Bt709 => (0.2126, 0.0722),
            Matrix::Bt601 => (0.299, 0.114),
        }
    }

    /// Y from 0 to 1, Cb and Cr from -0.5 to 0.5.
    fn split(self, rgb: [f32; 3]) -> [f64; 3] {
        let (kr, kb) = self.weights();
        let [r, g, b] = rgb.map(f64::from);
        let y = kr * r + (1.0 - kr - kb) * g + kb * b;
        [
            y,
            (b - y) / (2.0 * (1.0 - kb)),
            (r - y) / (2.0 * (1.0 - kr)),
        ]
    }

    fn code(self, value: f64, chroma: bool) -> u16 {
        let step = f64::from(1_u32 << (self.bits - 8));
        let top = f64::from((1_u32 << self.bits) - 1);
        let code = match (self.full_range, chroma) {
            (false, false) => step * (16.0 + 219.0 * value),
            (false, true) => step * (128.0 + 224.0 * value),
            (true, false) => top * value,
            (true, true) => step * 128.0 + top * value,
        };
        code.round().clamp(0.0, top) as u16
    }

    /// Colour of one pixel as the triple of a file.
    #[cfg(test)]
    pub(crate) fn triple(self, rgb: [f32; 3]) -> [u16; 3] {
        let [y, cb, cr] = self.split(rgb);
        [
            self.code(y, false),
            self.code(cb, true),
            self.code(cr, true),
        ]
    }

    /// Planes Y, Cb and Cr one after the other, as ffmpeg's `yuv420p` or `yuv420p10le`.
    pub(crate) fn planes(self, rgb: &[[f32; 3]], width: usize, height: usize) -> Vec<u8> {
        let full: Vec<[f64; 3]> = rgb.iter().map(|p| self.split(*p)).collect();
        let mut codes: Vec<u16> = full.iter().map(|p| self.code(p[0], false)).collect();
        for plane in [1, 2] {
            for y in 0..height / 2 {
                for x in 0..width / 2 {
                    codes.push(self.code(self.chroma(&full, width, x, y, plane), true));
                }
            }
        }
        if self.bits == 8 {
            codes.into_iter().map(|c| c as u8).collect()
        } else {
            codes.into_iter().flat_map(u16::to_le_bytes).collect()
        }
    }

    fn chroma(self, full: &[[f64; 3]], width: usize, x: usize, y: usize, plane: usize) -> f64 {
        let row = |row: usize| {
            let at = |column: usize| full[row * width + column][plane];
            match self.siting {
                Siting::Center => f64::midpoint(at(2 * x), at(2 * x + 1)),
                Siting::Left => {
                    let before = at((2 * x).saturating_sub(1));
                    0.25 * before + 0.5 * at(2 * x) + 0.25 * at(2 * x + 1)
                }
            }
        };
        f64::midpoint(row(2 * y), row(2 * y + 1))
    }
}

//! The ellipse on which a wheel mark goes round, seen from the sticker.
//!
//! Random sample consensus (Fischler and Bolles, Communications of the ACM 24 (1981) 381): an ellipse
//! with upright axes through four looks of different frames, scored by how many frames have a look on
//! it and how well these are spread round it. What stands in the room slides past as the car goes, and
//! what rides on the car stays at one place of the ellipse, so neither makes a circle.

use super::link::median;
use nalgebra::{Matrix4, SMatrix, SVector, Vector4};

/// One patch that may be the wheel mark.
#[derive(Debug, Clone, Copy)]
pub(super) struct Look {
    /// When: -1 at the first frame, 1 at the last.
    pub(super) when: f64,
    /// Relative to the sticker, in sticker sizes.
    pub(super) at: (f64, f64),
    /// Its own size in sticker sizes.
    pub(super) size: f64,
    /// How much fainter than the clip's strong looks, as a cost.
    pub(super) faint: f64,
}

/// The ellipse (hub, half-axes) that the looks keep to, in sticker sizes.
#[derive(Debug, Clone, Copy)]
pub(super) struct Ring {
    hub: (f64, f64),
    half: (f64, f64),
    /// Change of hub and half-axes from the middle of the clip to its end: a car that turns its side to
    /// the camera, or drives past it, is seen from another angle at each place.
    drift: [f64; 4],
    /// Usual size of the mark.
    pub(super) size: f64,
    /// Frames with a look on it, each sector's share limited: see [`Ring::score`].
    pub(super) frames: f64,
}

/// Ellipses tried: with a quarter of the looks right, four right ones come up about twice in this many.
const TRIES: usize = 600;
/// A look is on the ellipse within this share of its mean half-axis ...
const ON_SHARE: f64 = 0.14;
/// ... but within no less and no more than this many sticker sizes.
const ON_SIZES: (f64, f64) = (0.10, 0.25);
/// Half-axes of a wheel mark's circle, in sticker sizes.
const HALF_SIZES: (f64, f64) = (0.15, 5.0);
/// Width over height: a wheel stands upright and is seen from anywhere but along its axle's end.
const WIDTH_SHARE: (f64, f64) = (0.12, 2.0);
const SECTORS: usize = 12;
/// A sector counts at most this many times its even share of the frames: a mark at rest before the
/// release, or something fixed to the car, is no circle.
const SECTOR_CAP: f64 = 2.5;

impl Ring {
    /// Relative distance from the ellipse: 0 on it, 1 at twice its size, -1 at the hub.
    pub(super) fn off(&self, look: &Look) -> f64 {
        let (x, y) = self.scaled(look);
        x.hypot(y) - 1.0
    }

    fn half_at(&self, when: f64) -> (f64, f64) {
        (
            (self.half.0 + when * self.drift[2]).max(0.3 * self.half.0),
            (self.half.1 + when * self.drift[3]).max(0.3 * self.half.1),
        )
    }

    fn scaled(&self, look: &Look) -> (f64, f64) {
        let half = self.half_at(look.when);
        (
            (look.at.0 - self.hub.0 - look.when * self.drift[0]) / half.0,
            (look.at.1 - self.hub.1 - look.when * self.drift[1]) / half.1,
        )
    }

    fn is_on(&self, look: &Look) -> bool {
        let half = self.half_at(look.when);
        let mean = (half.0 * half.1).sqrt();
        self.off(look).abs() * mean < (ON_SHARE * mean).clamp(ON_SIZES.0, ON_SIZES.1)
    }

    /// The look of a frame that lies on it, the strongest.
    fn pick<'a>(&self, looks: &'a [Look]) -> Option<&'a Look> {
        looks
            .iter()
            .filter(|look| self.is_on(look))
            .min_by(|a, b| a.faint.total_cmp(&b.faint))
    }

    fn score(&self, frames: &[&[Look]]) -> f64 {
        let mut sectors = [0.0; SECTORS];
        for look in frames.iter().filter_map(|looks| self.pick(looks)) {
            let (x, y) = self.scaled(look);
            let turn = y.atan2(x) / std::f64::consts::TAU + 0.5;
            let sector = ((turn * SECTORS as f64) as usize).min(SECTORS - 1);
            sectors[sector] += 1.0 / (1.0 + look.faint);
        }
        let cap = SECTOR_CAP * frames.len() as f64 / SECTORS as f64;
        sectors.iter().map(|count| count.min(cap)).sum()
    }

    /// The ellipse `u² + b v² + c u + d v + e = 0`.
    fn from_conic(k: &Vector4<f64>) -> Option<Self> {
        let (b, c, d, e) = (k[0], k[1], k[2], k[3]);
        if !(b.is_finite() && b > 1e-3) {
            return None;
        }
        let hub = (-c / 2.0, -d / (2.0 * b));
        let square = hub.0 * hub.0 + b * hub.1 * hub.1 - e;
        let half = (square.max(0.0).sqrt(), (square.max(0.0) / b).sqrt());
        let fits = |x: f64| x > HALF_SIZES.0 && x < HALF_SIZES.1;
        let width = half.0 / half.1;
        let shaped = width > WIDTH_SHARE.0 && width < WIDTH_SHARE.1;
        (fits(half.0.max(half.1)) && shaped).then_some(Self {
            hub,
            half,
            drift: [0.0; 4],
            size: 0.0,
            frames: 0.0,
        })
    }
}

/// The ellipse that the looks of a clip keep to best; `None` where no four of them lie on one.
pub(super) fn find_ring(looks: &[Vec<Look>]) -> Option<Ring> {
    let frames: Vec<&[Look]> = looks
        .iter()
        .filter(|list| !list.is_empty())
        .map(Vec::as_slice)
        .collect();
    if frames.len() < 4 {
        return None;
    }
    let mut dice = Dice(0x9e37_79b9_7f4a_7c15);
    let mut best: Option<Ring> = None;
    for _ in 0..TRIES {
        let four: [Look; 4] = std::array::from_fn(|quarter| {
            // One look of each quarter of the clip: neighbours in time lie too near each other.
            let from = quarter * frames.len() / 4;
            let to = ((quarter + 1) * frames.len() / 4).max(from + 1);
            let list = frames[from + dice.below(to - from)];
            list[dice.below(list.len())]
        });
        let Some(ring) = through(&four) else { continue };
        let score = ring.score(&frames);
        if best.is_none_or(|kept| score > kept.frames) {
            best = Some(Ring {
                frames: score,
                ..ring
            });
        }
    }
    let mut ring = best?;
    for _ in 0..REFINEMENTS {
        if let Some(finer) = refined(&ring, &frames).filter(|finer| finer.frames >= ring.frames) {
            ring = finer;
        }
    }
    let picks = frames.iter().filter_map(|list| ring.pick(list));
    ring.size = median(picks.map(|look| look.size).collect()).max(0.05);
    Some(ring)
}

fn through(four: &[Look; 4]) -> Option<Ring> {
    let rows = Matrix4::from_fn(|i, j| conic_row(four[i].at)[j]);
    let right = Vector4::from_fn(|i, _| -four[i].at.0.powi(2));
    Ring::from_conic(&rows.lu().solve(&right)?)
}

fn conic_row((u, v): (f64, f64)) -> [f64; 4] {
    [v * v, u, v, 1.0]
}

/// Steps of Gauss and Newton from the first ellipse to the drifting one.
const REFINEMENTS: usize = 6;
/// Ties that keep the ellipse, and more firmly its drift, where few looks say otherwise.
const TIES: [f64; 2] = [0.05, 1.0];

/// One least-squares step through all looks on the ellipse: hub, half-axes and their drift.
fn refined(ring: &Ring, frames: &[&[Look]]) -> Option<Ring> {
    let mut normal = SMatrix::<f64, 8, 8>::zeros();
    let mut right = SVector::<f64, 8>::zeros();
    for look in frames.iter().filter_map(|list| ring.pick(list)) {
        let (x, y) = ring.scaled(look);
        let half = ring.half_at(look.when);
        let rho = x.hypot(y).max(1e-6);
        let slope = [
            -x / rho / half.0,
            -y / rho / half.1,
            -x * x / rho / half.0,
            -y * y / rho / half.1,
        ];
        let row = SVector::<f64, 8>::from_fn(|i, _| {
            slope[i % 4] * if i < 4 { 1.0 } else { look.when }
        });
        let weight = 1.0 / (1.0 + look.faint);
        normal += row * row.transpose() * weight;
        right -= row * (rho - 1.0) * weight;
    }
    for i in 0..8 {
        normal[(i, i)] += TIES[i / 4];
    }
    let step = normal.cholesky()?.solve(&right);
    let finer = Ring {
        hub: (ring.hub.0 + step[0], ring.hub.1 + step[1]),
        half: (ring.half.0 + step[2], ring.half.1 + step[3]),
        drift: std::array::from_fn(|i| ring.drift[i] + step[4 + i]),
        ..*ring
    };
    let sound = finer.half.0.min(finer.half.1) > 0.05;
    sound.then(|| Ring {
        frames: finer.score(frames),
        ..finer
    })
}

/// Small repeatable random numbers (xorshift64, Marsaglia 2003): which looks are tried is no matter of
/// the machine.
struct Dice(u64);

impl Dice {
    fn below(&mut self, end: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 % end.max(1) as u64) as usize
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn look(frame: i32, u: f64, v: f64) -> Look {
        Look {
            when: f64::from(frame) / 50.0 - 1.0,
            at: (u, v),
            size: 0.6,
            faint: 0.0,
        }
    }

    /// A mark on a circle about (-2, 1), half-axes 0.9 and 1.0, a poster that slides past and a driver
    /// that rides along.
    fn crowded() -> Vec<Vec<Look>> {
        (0..100)
            .map(|frame| {
                let (s, c) = (0.37 * f64::from(frame)).sin_cos();
                let mut list = vec![look(frame, -2.0 + 0.9 * c, 1.0 + s)];
                list.push(look(frame, 6.0 - 0.12 * f64::from(frame), 0.5));
                list.push(look(frame, 0.8, -1.1));
                list
            })
            .collect()
    }

    #[test]
    fn the_circling_mark_is_told_from_what_slides_and_what_rides() {
        let ring = find_ring(&crowded()).expect("there is a circle");
        assert!((ring.hub.0 + 2.0).hypot(ring.hub.1 - 1.0) < 0.05, "{ring:?}");
        assert!((ring.half.0 - 0.9).abs() < 0.05 && (ring.half.1 - 1.0).abs() < 0.05);
        assert!(ring.frames > 90.0, "{ring:?}");
    }

    #[test]
    fn what_only_rides_along_is_no_circle() {
        let rides: Vec<Vec<Look>> = (0..100)
            .map(|frame| {
                let shake = 0.02 * (f64::from(frame) * 1.7).sin();
                vec![look(frame, 0.8 + shake, -1.1 - shake)]
            })
            .collect();
        let frames = find_ring(&rides).map_or(0.0, |ring| ring.frames);
        assert!(frames < 50.0, "{frames} frames");
    }
}

//! The ellipse on which a wheel mark goes round, seen from the sticker.
//!
//! Random sample consensus (Fischler and Bolles, Communications of the ACM 24 (1981) 381): an ellipse
//! through five observations of different frames, scored by how many frames have an observation on
//! it and how well these are spread round it. What stands in the room slides past as the car goes, and
//! what rides on the car stays at one place of the ellipse, so neither makes a circle.

use super::link::median;
use nalgebra::{SMatrix, SVector};

/// One patch that may be the wheel mark.
#[derive(Debug, Clone, Copy)]
pub(super) struct Observation {
    /// When: -1 at the first frame, 1 at the last.
    pub(super) when: f64,
    /// Relative to the sticker, in sticker sizes.
    pub(super) at: (f64, f64),
    /// Its own size in sticker sizes.
    pub(super) size: f64,
    /// How much fainter than the clip's strong observations, as a cost.
    pub(super) faint: f64,
}

/// The ellipse that the observations keep to, in sticker sizes: hub (u, v), half the width, half the height and
/// the slope of the level diameter. The upright diameter of a wheel stays upright in an upright picture.
#[derive(Debug, Clone, Copy)]
pub(super) struct Ring {
    shape: [f64; SHAPE],
    /// Change of each from the middle of the clip to its end: a car that turns its side to the camera,
    /// or drives past it, is seen from another angle at each place.
    drift: [f64; SHAPE],
    /// Likewise by the square of time, of the hub alone: a car may turn in the middle of a run.
    bend: [f64; 2],
    /// Usual size of the mark.
    pub(super) size: f64,
    /// Frames with an observation on it, each sector's share limited: see [`Ring::score`].
    pub(super) frames: f64,
}

/// Numbers that make an ellipse.
const SHAPE: usize = 5;
/// Ellipses tried: with a third of the observations right, five right ones come up about three times in this
/// many.
const TRIES: usize = 800;
/// An observation is on the ellipse within this share of its mean half-axis ...
const ON_SHARE: f64 = 0.14;
/// ... but within no less and no more than this many sticker sizes.
const ON_SIZES: (f64, f64) = (0.10, 0.25);
/// Half-axes of a wheel mark's circle, in sticker sizes.
const HALF_SIZES: (f64, f64) = (0.15, 5.0);
/// Width over height: a wheel stands upright and is seen from anywhere but along its axle's end.
const WIDTH_SHARE: (f64, f64) = (0.12, 2.0);
/// Steepest slope of the level diameter.
const MAX_SLOPE: f64 = 0.9;
/// Parts of the circle that are counted apart.
const SECTORS: usize = 12;
/// A sector counts at most this many times its even share of the frames: a mark at rest before the
/// release, or something fixed to the car, is no circle.
const SECTOR_CAP: f64 = 2.5;

impl Ring {
    /// Relative distance from the ellipse: 0 on it, 1 at twice its size, -1 at the hub.
    pub(super) fn off(&self, observation: &Observation) -> f64 {
        let (x, y) = self.scaled(observation);
        x.hypot(y) - 1.0
    }

    fn shape_at(&self, when: f64) -> [f64; SHAPE] {
        let mut shape: [f64; SHAPE] = std::array::from_fn(|i| self.shape[i] + when * self.drift[i]);
        for i in [0, 1] {
            shape[i] += when * when * self.bend[i];
        }
        for i in [2, 3] {
            shape[i] = shape[i].max(0.3 * self.shape[i]);
        }
        shape
    }

    fn scaled(&self, observation: &Observation) -> (f64, f64) {
        let [u, v, width, height, slope] = self.shape_at(observation.when);
        let (du, dv) = (observation.at.0 - u, observation.at.1 - v);
        (du / width, (dv - slope * du) / height)
    }

    /// How near an observation is to the ellipse: 1 on it, 0 from the edge of what counts as on it.
    fn nearness(&self, observation: &Observation) -> f64 {
        let [_, _, width, height, _] = self.shape_at(observation.when);
        let mean = (width * height).sqrt();
        let off = self.off(observation) * mean / (ON_SHARE * mean).clamp(ON_SIZES.0, ON_SIZES.1);
        (1.0 - off * off).max(0.0)
    }

    /// The observation of a frame that lies on it, the strongest and nearest, and what it counts.
    fn pick<'a>(&self, observations: &'a [Observation]) -> Option<(&'a Observation, f64)> {
        observations
            .iter()
            .map(|observation| {
                (
                    observation,
                    self.nearness(observation) / (1.0 + observation.faint),
                )
            })
            .filter(|(_, worth)| *worth > 0.0)
            .max_by(|a, b| a.1.total_cmp(&b.1))
    }

    fn score(&self, frames: &[&[Observation]]) -> f64 {
        let mut sectors = [0.0; SECTORS];
        for (observation, worth) in frames
            .iter()
            .filter_map(|observations| self.pick(observations))
        {
            let (x, y) = self.scaled(observation);
            let turn = y.atan2(x) / std::f64::consts::TAU + 0.5;
            let sector = ((turn * SECTORS as f64) as usize).min(SECTORS - 1);
            sectors[sector] += worth;
        }
        let cap = SECTOR_CAP * frames.len() as f64 / SECTORS as f64;
        sectors.iter().map(|count| count.min(cap)).sum()
    }

    fn scored(self, frames: &[&[Observation]]) -> Self {
        Self {
            frames: self.score(frames),
            ..self
        }
    }

    /// The ellipse `v² + p u² + q u v + c u + d v + e = 0`.
    fn from_conic(k: &SVector<f64, SHAPE>) -> Option<Self> {
        let [p, q, c, d, e] = [k[0], k[1], k[2], k[3], k[4]];
        let slope = -q / 2.0;
        let ratio = p - slope * slope;
        if !(ratio.is_finite() && ratio > 1e-3) {
            return None;
        }
        let u = (q * d / 2.0 - c) / (2.0 * ratio);
        let v = -(d + q * u) / 2.0;
        let height = (p * u * u + q * u * v + v * v - e).max(0.0).sqrt();
        let width = height / ratio.sqrt();
        let fits = |x: f64| x > HALF_SIZES.0 && x < HALF_SIZES.1;
        let share = width / height;
        let shaped = share > WIDTH_SHARE.0 && share < WIDTH_SHARE.1 && slope.abs() < MAX_SLOPE;
        (fits(width.max(height)) && shaped).then_some(Self {
            shape: [u, v, width, height, slope],
            drift: [0.0; SHAPE],
            bend: [0.0; 2],
            size: 0.0,
            frames: 0.0,
        })
    }
}

/// The ellipse that the observations of a clip keep to best; `None` where no five of them lie on one.
pub(super) fn find_ring(observations: &[Vec<Observation>]) -> Option<Ring> {
    let frames: Vec<&[Observation]> = observations
        .iter()
        .filter(|list| !list.is_empty())
        .map(Vec::as_slice)
        .collect();
    if frames.len() < SHAPE {
        return None;
    }
    let mut dice = Dice(0x9e37_79b9_7f4a_7c15);
    let mut tried: Vec<Ring> = (0..TRIES)
        .filter_map(|_| through(&five_observations(&frames, &mut dice)))
        .map(|ring| ring.scored(&frames))
        .collect();
    tried.sort_by(|a, b| b.frames.total_cmp(&a.frames));
    let finest = tried.iter().take(FINALISTS).map(|ring| {
        let mut best = *ring;
        let mut now = *ring;
        for _ in 0..REFINEMENTS {
            let Some(finer) = refined(&now, &frames) else {
                break;
            };
            now = finer;
            if now.frames > best.frames {
                best = now;
            }
        }
        best
    });
    let mut ring = finest.max_by(|a, b| a.frames.total_cmp(&b.frames))?;
    let picks = frames.iter().filter_map(|list| ring.pick(list));
    ring.size = median(picks.map(|(observation, _)| observation.size).collect()).max(0.05);
    Some(ring)
}

/// Five observations spread over a part of the clip: neighbours in time lie too near each other, and over the
/// whole of it the view may change.
fn five_observations(frames: &[&[Observation]], dice: &mut Dice) -> [Observation; SHAPE] {
    let least = (frames.len() / 3).max(SHAPE);
    let span = least + dice.below(frames.len() - least + 1);
    let start = dice.below(frames.len() - span + 1);
    std::array::from_fn(|part| {
        let from = start + part * span / SHAPE;
        let to = start + ((part + 1) * span / SHAPE);
        let list = frames[from + dice.below(to - from)];
        list[dice.below(list.len())]
    })
}

fn through(five: &[Observation; SHAPE]) -> Option<Ring> {
    let rows = SMatrix::<f64, SHAPE, SHAPE>::from_fn(|i, j| {
        let (u, v) = five[i].at;
        [u * u, u * v, u, v, 1.0][j]
    });
    let right = SVector::<f64, SHAPE>::from_fn(|i, _| -five[i].at.1.powi(2));
    Ring::from_conic(&rows.lu().solve(&right)?)
}

/// Ellipses that are refined, the best of those tried.
const FINALISTS: usize = 8;
/// Steps of Gauss and Newton from the first ellipse to the drifting one.
const REFINEMENTS: usize = 6;
/// Ties that keep the ellipse, and more firmly its drift, where few observations say otherwise.
const TIES: [f64; 3] = [0.05, 1.0, 1.0];
/// Shape, its drift, and the bend of the hub's way.
const UNKNOWNS: usize = 2 * SHAPE + 2;

/// One least-squares step through all observations on the ellipse: its shape and the drift of it.
fn refined(ring: &Ring, frames: &[&[Observation]]) -> Option<Ring> {
    let mut normal = SMatrix::<f64, UNKNOWNS, UNKNOWNS>::zeros();
    let mut right = SVector::<f64, UNKNOWNS>::zeros();
    for (observation, worth) in frames.iter().filter_map(|list| ring.pick(list)) {
        let (x, y) = ring.scaled(observation);
        let [_, _, width, height, slope] = ring.shape_at(observation.when);
        let rho = x.hypot(y).max(1e-6);
        let by_x = x / rho / width;
        let by_y = y / rho / height;
        let by_shape = [
            slope * by_y - by_x,
            -by_y,
            -x * by_x,
            -y * by_y,
            -x * width * by_y,
        ];
        let when = observation.when;
        let row = SVector::<f64, UNKNOWNS>::from_fn(|i, _| {
            by_shape[i % SHAPE] * [1.0, when, when * when][i / SHAPE]
        });
        normal += row * row.transpose() * worth;
        right -= row * (rho - 1.0) * worth;
    }
    for i in 0..UNKNOWNS {
        normal[(i, i)] += TIES[i / SHAPE];
    }
    let step = normal.cholesky()?.solve(&right);
    let finer = Ring {
        shape: std::array::from_fn(|i| ring.shape[i] + step[i]),
        drift: std::array::from_fn(|i| ring.drift[i] + step[SHAPE + i]),
        bend: std::array::from_fn(|i| ring.bend[i] + step[2 * SHAPE + i]),
        ..*ring
    };
    let sound = finer.shape[2].min(finer.shape[3]) > 0.05;
    sound.then(|| finer.scored(frames))
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

    fn observation(frame: i32, u: f64, v: f64) -> Observation {
        Observation {
            when: f64::from(frame) / 50.0 - 1.0,
            at: (u, v),
            size: 0.6,
            faint: 0.0,
        }
    }

    /// A mark on a circle about (-2, 1), half-axes 0.9 and 1.0, a poster that slides past and a driver
    /// that rides along.
    fn crowded() -> Vec<Vec<Observation>> {
        (0..100)
            .map(|frame| {
                let (s, c) = (0.37 * f64::from(frame)).sin_cos();
                let mut list = vec![observation(frame, -2.0 + 0.9 * c, 1.0 + s)];
                list.push(observation(frame, 6.0 - 0.12 * f64::from(frame), 0.5));
                list.push(observation(frame, 0.8, -1.1));
                list
            })
            .collect()
    }

    #[test]
    fn the_circling_mark_is_told_from_what_slides_and_what_rides() {
        let ring = find_ring(&crowded()).expect("there is a circle");
        let [u, v, width, height, _] = ring.shape;
        assert!((u + 2.0).hypot(v - 1.0) < 0.05, "{ring:?}");
        assert!(
            (width - 0.9).abs() < 0.05 && (height - 1.0).abs() < 0.05,
            "{ring:?}"
        );
        assert!(ring.frames > 90.0, "{ring:?}");
    }

    #[test]
    fn what_only_rides_along_is_no_circle() {
        let rides: Vec<Vec<Observation>> = (0..100)
            .map(|frame| {
                let shake = 0.02 * (f64::from(frame) * 1.7).sin();
                vec![observation(frame, 0.8 + shake, -1.1 - shake)]
            })
            .collect();
        let frames = find_ring(&rides).map_or(0.0, |ring| ring.frames);
        assert!(frames < 50.0, "{frames} frames");
    }
}

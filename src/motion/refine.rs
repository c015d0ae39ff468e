//! A sway and a rise that go through the whole clip, and their sizes of greatest likelihood.

use super::CarGeometry;
use super::body::Body;
use super::car_model::CarModel;
use crate::camera::View;
use crate::track::Track;
use nalgebra::{Matrix4, Vector4, Vector6};

/// A course of the heading, and of the car's height, that is known frame by frame: the sway of a
/// wobbling wheel with the rise and fall that goes with it, and the turn of a car whose wheel spins.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct SwayCourse {
    /// Turn through spinning, rad, an entry a frame.
    pub turn_rad: Vec<f64>,
    /// Sine and cosine of the sway's phase, less what they were at rest, an entry a frame; nothing where
    /// the car does not sway.
    pub phase: Vec<[f64; 2]>,
    /// Sine and cosine part of the heading's sway (rad) and of the rise (m).
    pub parts: [f64; 4],
}

impl SwayCourse {
    /// Added to the smooth heading at a frame, rad.
    pub fn heading_rad(&self, frame: usize) -> f64 {
        let turn = self.turn_rad.get(frame).copied().unwrap_or(0.0);
        let [sin, cos] = self.phase.get(frame).copied().unwrap_or_default();
        turn + self.parts[0] * sin + self.parts[1] * cos
    }

    /// Added to the car's height at a frame, m.
    pub fn rise_m(&self, frame: usize) -> f64 {
        let [sin, cos] = self.phase.get(frame).copied().unwrap_or_default();
        self.parts[2] * sin + self.parts[3] * cos
    }
}

/// A wheel that is not round or not in the middle lifts its axle by about this. Common practice, no
/// source.
const RISE_SD_M: f64 = 0.001;
const BELIEVED_SDS: f64 = 2.5;

/// The sway of greatest likelihood in step with the phases of `course`: heading and rise together, for
/// both move the sticker sideways in the picture, and only the smoothness of the way tells them apart.
pub(super) fn refine_sway(
    track: &Track,
    view: &View,
    car: &CarGeometry,
    released_s: Option<f64>,
    body: &Body,
    course: &SwayCourse,
) -> Option<SwayCourse> {
    let first = body.states.iter().position(Option::is_some)?;
    let last = body.states.iter().rposition(Option::is_some)?;
    let mut model = CarModel::new(track, view, car, released_s, (first, last));
    let path: Vec<Vector6<f64>> = (first..=last)
        .map(|frame| {
            let mut mean = body.states[frame].map(|s| s.mean)?;
            mean[2] -= course.heading_rad(frame);
            Some(mean)
        })
        .collect::<Option<_>>()?;
    let mut likelihood = |parts: [f64; 4]| {
        let tried = SwayCourse {
            parts,
            ..course.clone()
        };
        // Seen from some sides a rise looks much like a sway: without a bound on what wheels do, the one
        // would be taken for the other.
        let rise = (parts[2] * parts[2] + parts[3] * parts[3]) / (RISE_SD_M * RISE_SD_M);
        model.likelihood(&tried, first, &path, &body.settled) - 0.5 * rise
    };
    let parts = highest_of_parabola(
        course.parts,
        [0.005, 0.005, 0.0005, 0.0005],
        &mut likelihood,
    )?;
    // More than that is no rise: it has taken the place of something else.
    let believable = parts[2].hypot(parts[3]) < BELIEVED_SDS * RISE_SD_M;
    believable.then(|| SwayCourse {
        parts,
        ..course.clone()
    })
}

/// Where a function that is a parabola in four variables is highest, from its values about `start`.
fn highest_of_parabola(
    start: [f64; 4],
    steps: [f64; 4],
    of: &mut impl FnMut([f64; 4]) -> f64,
) -> Option<[f64; 4]> {
    let at = |moves: &[(usize, f64)]| {
        let mut point = start;
        for (i, share) in moves {
            point[*i] += share * steps[*i];
        }
        point
    };
    let here = of(start);
    let mut slope = Vector4::zeros();
    let mut bend = Matrix4::zeros();
    let mut ahead = [0.0; 4];
    for i in 0..4 {
        let (up, down) = (of(at(&[(i, 1.0)])), of(at(&[(i, -1.0)])));
        slope[i] = (up - down) / 2.0;
        bend[(i, i)] = up + down - 2.0 * here;
        ahead[i] = up;
    }
    for i in 0..4 {
        for j in 0..i {
            let both = of(at(&[(i, 1.0), (j, 1.0)]));
            let mixed = both - ahead[i] - ahead[j] + here;
            bend[(i, j)] = mixed;
            bend[(j, i)] = mixed;
        }
    }
    let step = (-bend).cholesky()?.solve(&slope);
    let out = std::array::from_fn(|i| start[i] + step[i] * steps[i]);
    step.iter().all(|s| s.is_finite()).then_some(out)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_top_of_a_parabola_is_found_in_one_step() {
        let top = [0.3, -0.2, 0.01, 0.004];
        let mut of = |p: [f64; 4]| {
            let d: Vec<f64> = p.iter().zip(top).map(|(a, b)| a - b).collect();
            -(2.0 * d[0] * d[0]
                + d[1] * d[1]
                + 50.0 * d[2] * d[2]
                + 80.0 * d[3] * d[3]
                + 0.5 * d[0] * d[1]
                + 3.0 * d[2] * d[3])
        };
        let found = highest_of_parabola([0.0; 4], [0.01; 4], &mut of).unwrap();
        for (a, b) in found.iter().zip(top) {
            assert!((a - b).abs() < 1e-6, "{found:?}");
        }
    }
}

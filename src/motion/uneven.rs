//! What the wheel mark's angle adds to the wheel's own once and twice a turn.
//!
//! A wheel that is off its axle turns unevenly under a car that goes steadily; a hub that moves to and fro
//! against where it is taken to be, or a face that is seen askew, makes the mark's circle look like an
//! ellipse. Either way the angle seen is the steady turn and a little more, which comes again with every
//! turn, and would pass for slip. Its first two harmonics are estimated beside the turn as constants of the
//! same linear model; their usual size is taken from the observations themselves (empirical Bayes: B. Efron and C.
//! Morris, J. Amer. Statist. Assoc. 68 (1973) 117).

use super::change_points::{Jumping, Settled};
use super::refine::{SEEN_BETTER, STEADIER};
use super::spin::Chain;
use crate::smoothing::{Observation, StateEstimate, Step, likelihood};
use nalgebra::{Matrix4, RowSVector, SMatrix, SVector, Vector4};
use rayon::prelude::*;

/// Sine and cosine of once and of twice a turn in an angle, rad.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Uneven {
    /// The parts.
    pub parts: Vector4<f64>,
    /// Their covariance.
    pub covariance: Matrix4<f64>,
}

/// Sizes of a part that are tried, rad: marks glued by eye on a true wheel, a wheel drilled by hand, one that
/// wobbles for all to see. Common practice, no source.
const PART_SDS: [f64; 3] = [0.004, 0.02, 0.08];

/// No wheel is so uneven that its mark goes at half the wheel's own rate, or less, somewhere in each turn: what a piece of
/// a turn shows as that is something else, and is left to the turn itself.
const MOST_STEEP: f64 = 0.5;

type Joint = SMatrix<f64, 7, 7>;

impl Uneven {
    /// Added to the steady angle where this angle is seen, rad.
    pub fn at(&self, angle_rad: f64) -> f64 {
        self.parts.dot(&harmonics(angle_rad))
    }

    /// The angle that is seen where this steady one is left after [`Self::at`] was taken from it.
    pub(super) fn seen(&self, steady_rad: f64) -> f64 {
        // Each round leaves of the error what the unevenness changes by in a radian: a half at most.
        (0..12).fold(steady_rad, |seen, _| steady_rad + self.at(seen))
    }

    /// Variance that what is not known of it gives an angle (rad²) and, for each radian of turn, a rate.
    pub(super) fn variances(&self, angle_rad: f64) -> (f64, f64) {
        let here = harmonics(angle_rad);
        let slope = Vector4::new(here[1], -here[0], 2.0 * here[3], -2.0 * here[2]);
        let of = |direction: Vector4<f64>| direction.dot(&(self.covariance * direction)).max(0.0);
        (of(here), of(slope))
    }

    /// What the observations of a chain show of it, `known` having been taken from them already.
    pub(super) fn found(chain: &Chain, settled: &Settled, known: &Self) -> Self {
        let joint = |sd: f64, steadier: f64, better: f64| {
            let jerk = settled.jerk_density * steadier;
            let steps: Vec<Step<7>> = chain
                .steps(jerk, &settled.change_points_s)
                .iter()
                .map(beside)
                .collect();
            let observations: Vec<Option<Observation<7, 1>>> = chain
                .observations(settled.variance_factor * better)
                .iter()
                .map(|observation| {
                    observation
                        .as_ref()
                        .map(|observation| with_harmonics(observation, known))
                })
                .collect();
            likelihood(start(chain, sd), &steps, &observations)
        };
        let tries: Vec<(f64, f64, f64)> = PART_SDS
            .iter()
            .flat_map(|sd| STEADIER.iter().map(move |steadier| (*sd, *steadier)))
            .flat_map(|(sd, steadier)| SEEN_BETTER.iter().map(move |b| (sd, steadier, *b)))
            .collect();
        let tried: Vec<(f64, StateEstimate<7>)> = tries
            .par_iter()
            .map(|(sd, steadier, better)| joint(*sd, *steadier, *better))
            .collect();
        let likeliest = tried
            .into_iter()
            .filter(|(likelihood, _)| likelihood.is_finite())
            .max_by(|a, b| a.0.total_cmp(&b.0));
        let found = likeliest.map(|(_, end)| Self {
            parts: end.mean.fixed_rows::<4>(3).into_owned(),
            covariance: end.covariance.fixed_view::<4, 4>(3, 3).into_owned(),
        });
        found
            .filter(|found| found.steepest() < MOST_STEEP)
            .unwrap_or_else(Self::untold)
    }

    /// What is not told by the turns that were seen: none, as sure as most wheels are even.
    fn untold() -> Self {
        Self {
            parts: Vector4::zeros(),
            covariance: Matrix4::identity() * (PART_SDS[1] * PART_SDS[1]),
        }
    }

    /// By how much it changes in a radian at most.
    fn steepest(&self) -> f64 {
        let [sin, cos, sin_twice, cos_twice] = self.parts.into();
        f64::hypot(sin, cos) + 2.0 * f64::hypot(sin_twice, cos_twice)
    }
}

/// Sine and cosine of once and twice an angle.
fn harmonics(angle_rad: f64) -> Vector4<f64> {
    let (sin, cos) = angle_rad.sin_cos();
    let (sin_twice, cos_twice) = (2.0 * angle_rad).sin_cos();
    Vector4::new(sin, cos, sin_twice, cos_twice)
}

fn start(chain: &Chain, sd: f64) -> StateEstimate<7> {
    let turn = chain.prior();
    let mut mean = SVector::<f64, 7>::zeros();
    mean.fixed_rows_mut::<3>(0).copy_from(&turn.mean);
    let mut covariance = Joint::zeros();
    covariance
        .fixed_view_mut::<3, 3>(0, 0)
        .copy_from(&turn.covariance);
    for part in 3..7 {
        covariance[(part, part)] = sd * sd;
    }
    StateEstimate { mean, covariance }
}

fn beside(step: &Step<3>) -> Step<7> {
    let mut transition = Joint::identity();
    transition
        .fixed_view_mut::<3, 3>(0, 0)
        .copy_from(&step.transition);
    let mut offset = SVector::<f64, 7>::zeros();
    offset.fixed_rows_mut::<3>(0).copy_from(&step.offset);
    let mut noise = Joint::zeros();
    noise.fixed_view_mut::<3, 3>(0, 0).copy_from(&step.noise);
    Step {
        transition,
        offset,
        noise,
    }
}

/// An observation with what was taken from it put back.
fn with_harmonics(observation: &Observation<3, 1>, known: &Uneven) -> Observation<7, 1> {
    let steady = observation.value[0];
    let harmonics = harmonics(steady);
    let mut design = RowSVector::<f64, 7>::zeros();
    design
        .fixed_columns_mut::<3>(0)
        .copy_from(&observation.design);
    design
        .fixed_columns_mut::<4>(3)
        .copy_from(&harmonics.transpose());
    Observation {
        design,
        value: SVector::<f64, 1>::new(steady + known.parts.dot(&harmonics)),
        noise: observation.noise,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_part_that_is_taken_out_and_put_back_leaves_the_look() {
        let uneven = Uneven {
            parts: Vector4::new(0.03, -0.02, 0.01, 0.005),
            covariance: Matrix4::zeros(),
        };
        let observation = Observation {
            design: nalgebra::RowVector3::new(1.0, 0.0, 0.0),
            value: SVector::<f64, 1>::new(2.5),
            noise: SMatrix::<f64, 1, 1>::new(1e-4),
        };
        let put_back = with_harmonics(&observation, &uneven);
        assert!((put_back.value[0] - 2.5 - uneven.at(2.5)).abs() < 1e-12);
        // Sine and cosine of 2.5 and of 5 rad (standard table).
        let expected = 0.03 * 0.598_472 + 0.02 * 0.801_144 - 0.01 * 0.958_924 + 0.005 * 0.283_662;
        assert!((uneven.at(2.5) - expected).abs() < 1e-6);
    }
}

//! Where an interval comes from: the share of each input in its variance.
//!
//! # Source
//! JCGM 100:2008 (GUM), 5.1 and the tables of H.1: contributions `c_i u(x_i)` added in squares. The
//! sensitivities are taken from the Monte Carlo draws themselves, by regression of the results on the
//! draws of the single sizes; what these do not explain comes from the floor marks. What is not drawn is taken
//! apart in `own.rs`.

use super::own::OwnParts;
use super::{COVERAGE_FACTOR, MIN_DRAWS, Repeat, standard_deviation};
use crate::findings::{Finding, Findings};
use crate::priors::Input;
use nalgebra::{DMatrix, DVector};
use serde::Serialize;
use statrs::distribution::{ContinuousCDF, StudentsT};
use std::collections::BTreeMap;

/// One input's share.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Share {
    /// The input.
    pub input: Input,
    /// Its share of the variance, 0 to 1.
    pub share: f64,
}

/// One contribution to a result's uncertainty.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Part {
    /// The input.
    pub input: Input,
    /// Standard uncertainty that it adds, in the result's unit.
    pub sd: f64,
    /// Degrees of freedom of that estimate; infinite where it is no estimate from a sample.
    pub freedom: f64,
}

/// Everything that makes a result uncertain.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Sources(Vec<Part>);

/// Two-sided 95 %.
const UPPER: f64 = 0.975;

impl Sources {
    /// From its parts.
    pub const fn new(parts: Vec<Part>) -> Self {
        Self(parts)
    }

    /// All of them in squares.
    pub fn total_sd(&self) -> f64 {
        self.0.iter().map(|p| p.sd * p.sd).sum::<f64>().sqrt()
    }

    /// Effective degrees of freedom of the total: `u⁴ / Σ (u_i⁴ / ν_i)`.
    ///
    /// # Source
    /// Welch-Satterthwaite, JCGM 100:2008, G.4.1.
    pub fn effective_freedom(&self) -> f64 {
        let sum: f64 = self.0.iter().map(|p| p.sd.powi(4) / p.freedom).sum();
        let total = self.total_sd().powi(4);
        if sum > 0.0 {
            total / sum
        } else {
            f64::INFINITY
        }
    }

    /// Standard uncertainties on each side of a 95 % interval: Student's t for the effective degrees of
    /// freedom, so that few draws give wider intervals.
    pub fn coverage_factor(&self) -> f64 {
        let freedom = self.effective_freedom();
        if freedom > 1e4 {
            return COVERAGE_FACTOR;
        }
        StudentsT::new(0.0, 1.0, freedom.max(1.0))
            .map_or(COVERAGE_FACTOR, |student| student.inverse_cdf(UPPER))
    }

    /// Shares of the variance, largest first; those under a hundredth are left out.
    pub fn shares(&self) -> Vec<Share> {
        let total = self.total_sd();
        if total <= 0.0 {
            return Vec::new();
        }
        // An input that acts in two ways has one share.
        let mut by_input: BTreeMap<Input, f64> = BTreeMap::new();
        for part in &self.0 {
            *by_input.entry(part.input).or_default() += (part.sd / total).powi(2);
        }
        let mut out: Vec<Share> = by_input
            .into_iter()
            .map(|(input, share)| Share { input, share })
            .filter(|share| share.share >= 0.01)
            .collect();
        out.sort_by(|a, b| b.share.total_cmp(&a.share));
        out
    }
}

/// An input that multiplies a result: its standard uncertainty as a share of the result.
pub(super) type Factor = (Input, f64);

/// What makes one result uncertain. `wheel_drawn` is the share of the draws that move with the wheel on the sheet.
pub(super) fn sources(
    best: &Finding,
    own: OwnParts,
    repeats: &[Repeat],
    wheel_drawn: f64,
    of: &dyn Fn(&Findings) -> Finding,
    factors: &[Factor],
) -> Sources {
    let Ok(best) = best else {
        return Sources::default();
    };
    let (values, moved): (Vec<f64>, Vec<&Vec<f64>>) = repeats
        .iter()
        .filter_map(|r| Some((of(&r.findings).ok()?.value, &r.moved)))
        .unzip();
    let spread = standard_deviation(&values);
    let drawn = values.len().saturating_sub(1).max(1) as f64;
    let part = |input, sd, freedom| Part { input, sd, freedom };
    let not_drawn = |input, sd: f64| part(input, sd.abs(), f64::INFINITY);
    let mut parts = vec![
        not_drawn(Input::PixelNoise, own.noise.sqrt()),
        not_drawn(Input::StringSizes, own.string.sqrt()),
        not_drawn(Input::PlainScale, own.scale.sqrt()),
        not_drawn(Input::Method, own.method.sqrt()),
    ];
    parts.extend(
        factors
            .iter()
            .map(|(input, share)| not_drawn(*input, best.value * share)),
    );
    let undrawn = if values.len() < MIN_DRAWS {
        1.0
    } else {
        1.0 - wheel_drawn
    };
    parts.push(not_drawn(
        Input::WheelDiameter,
        (own.wheel * undrawn).sqrt(),
    ));
    let mut rest = spread * spread;
    for (input, var) in Input::SIZES.iter().zip(by_size(&values, &moved)) {
        // The draws scatter: shares can add up to a little more than all.
        let var = var.min(rest);
        rest -= var;
        parts.push(part(*input, var.sqrt(), drawn));
    }
    parts.push(part(Input::FloorMarks, rest.max(0.0).sqrt(), drawn));
    Sources::new(parts)
}

/// Variance that each size causes: the square of its regression coefficient, less what chance alone
/// would give it.
fn by_size(values: &[f64], moved: &[&Vec<f64>]) -> Vec<f64> {
    let sizes = Input::SIZES.len();
    let nothing = vec![0.0; sizes];
    let n = values.len();
    if n < 4 * sizes {
        return nothing;
    }
    let mean = values.iter().sum::<f64>() / n as f64;
    let design = DMatrix::from_fn(n, sizes, |i, j| moved[i][j]);
    let value = DVector::from_fn(n, |i, _| values[i] - mean);
    let normal = design.transpose() * &design;
    let Some(inverse) = normal.cholesky().map(|c| c.inverse()) else {
        return nothing;
    };
    let slopes = &inverse * design.transpose() * &value;
    let left = (&value - &design * &slopes).norm_squared() / (n - sizes) as f64;
    (0..sizes)
        .map(|j| (slopes[j].powi(2) - left * inverse[(j, j)]).max(0.0))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn parts(of: &[(Input, f64, f64)]) -> Sources {
        Sources::new(
            of.iter()
                .map(|&(input, sd, freedom)| Part { input, sd, freedom })
                .collect(),
        )
    }

    #[test]
    fn what_no_draw_moves_of_the_sheets_wheel_stays_in_the_budget() {
        use crate::findings::{Estimate, FindingReason, Pull};
        let repeat = || Repeat {
            findings: Findings {
                values: BTreeMap::new(),
                frames: Vec::new(),
                pull: Pull {
                    release_s: None,
                    peak_s: None,
                    end_s: None,
                    stopped_s: None,
                    change_point: None,
                },
                path: Err(FindingReason::NotComputed),
                rolling: Err(FindingReason::NotComputed),
                effects: BTreeMap::new(),
            },
            moved: vec![0.0; Input::SIZES.len()],
        };
        let repeats: Vec<Repeat> = (0..10).map(|_| repeat()).collect();
        let own = OwnParts {
            wheel: 4.0,
            ..OwnParts::default()
        };
        let best = Ok(Estimate {
            value: 1.0,
            sd: 2.0,
        });
        let variance = |wheel_drawn: f64| {
            let sources = sources(&best, own, &repeats, wheel_drawn, &|_| best, &[]);
            sources.total_sd().powi(2)
        };
        // By hand: draws that all give the same add nothing, and leave what they do not move.
        for (wheel_drawn, left) in [(1.0, 0.0), (0.25, 3.0), (0.0, 4.0)] {
            assert!((variance(wheel_drawn) - left).abs() < 1e-12);
        }
    }

    #[test]
    fn parts_add_up_as_in_the_end_gauge_example() {
        // JCGM 100:2008 (GUM), example H.1: parts 25, 9.7, 2.9 and 16.6 nm give u_c = 32 nm (31.7), and
        // with 18, 25.6, 50 and 2 degrees of freedom 16.7 effective ones (H.1.6; from memory, recomputed
        // from u_c² = 1002 nm²).
        let sources = parts(&[
            (Input::StickerHeight, 25.0, 18.0),
            (Input::StickerAhead, 9.7, 25.6),
            (Input::TrackWidth, 2.9, 50.0),
            (Input::Lens, 16.6, 2.0),
        ]);
        assert_eq!(sources.total_sd().round(), 32.0);
        assert!((sources.effective_freedom() - 16.7).abs() < 0.15);
        assert_eq!(sources.shares()[0].input, Input::StickerHeight);
        assert!((sources.shares()[0].share - 625.0 / 1003.06).abs() < 1e-4);
    }

    #[test]
    fn effective_freedom_follows_the_guides_worked_example() {
        // JCGM 100:2008 (GUM), G.4.1: relative u 0.25, 0.57, 0.82 % with 9, 4, 14 degrees of freedom:
        // u_c 1.03 %, 19.0 effective, k95 2.09.
        let sources = parts(&[
            (Input::StickerHeight, 0.25, 9.0),
            (Input::StickerAhead, 0.57, 4.0),
            (Input::TrackWidth, 0.82, 14.0),
        ]);
        assert!((sources.total_sd() - 1.029_466).abs() < 1e-6);
        assert!((sources.effective_freedom() - 18.998_74).abs() < 1e-5);
        assert!((sources.coverage_factor() - 2.09).abs() < 0.005);
    }

    #[test]
    fn many_draws_end_at_the_normal_factor() {
        // Student's t, 0.975: 2.2622 for 9 degrees of freedom, 1.984 for 100 (standard table).
        let factor = |n| parts(&[(Input::FloorMarks, 1.0, n)]).coverage_factor();
        assert!((factor(9.0) - 2.262_2).abs() < 5e-5);
        assert!((factor(100.0) - 1.984_0).abs() < 5e-5);
        assert!((factor(1e6) - COVERAGE_FACTOR).abs() < 1e-9);
        assert!((factor(f64::INFINITY) - 1.959_964).abs() < 1e-6);
    }

    #[test]
    fn four_equal_normal_inputs_give_the_supplements_interval() {
        // JCGM 101:2008, 9.2.2 (from memory): the sum of four standard normal inputs has u = 2.00 and the 95 %
        // interval ± 3.92.
        use rand::SeedableRng;
        use rand_distr::{Distribution, StandardNormal};
        let mut random = rand_chacha::ChaCha8Rng::seed_from_u64(3);
        let sums: Vec<f64> = (0..200_000)
            .map(|_| {
                (0..4)
                    .map(|_| -> f64 { StandardNormal.sample(&mut random) })
                    .sum()
            })
            .collect();
        let sd = standard_deviation(&sums);
        assert!((sd - 2.0).abs() < 0.01, "{sd}");
        let sources = parts(&[(Input::FloorMarks, sd, sums.len() as f64 - 1.0)]);
        let half = sources.coverage_factor() * sources.total_sd();
        assert!((half - 3.92).abs() < 0.02, "{half}");
    }

    #[test]
    fn an_interval_of_inputs_with_hard_ends_is_that_of_the_guides_recipe() {
        // JCGM 101:2008, 9.2.3 and 9.2.4 (from memory): four rectangular inputs of u = 1, and three such with one of
        // u = 10. The guide's recipe, which this tool follows, gives u 2.0 and 10.1 and intervals of ± 3.92 and
        // ± 19.9; the true ones are ± 3.88 (analytic) and ± 17.0. No size is drawn from a rectangle here, so the
        // narrower ones are nowhere claimed.
        let cases = [
            ([1.0, 1.0, 1.0, 1.0], 2.0, 3.92),
            ([1.0, 1.0, 1.0, 10.0], 10.148_892, 19.9),
        ];
        for (inputs, u, recipe) in cases {
            let all = inputs.map(|sd| (Input::StickerHeight, sd, f64::INFINITY));
            let sources = parts(&all);
            assert!((sources.total_sd() - u).abs() < 1e-6);
            let half = sources.coverage_factor() * sources.total_sd();
            assert!((half - recipe).abs() < 0.01, "{half}");
        }
    }

    #[test]
    fn the_size_that_moves_the_result_gets_the_share() {
        use rand::SeedableRng;
        use rand_distr::{Distribution, StandardNormal};
        let mut random = rand_chacha::ChaCha8Rng::seed_from_u64(7);
        let moved: Vec<Vec<f64>> = (0..400)
            .map(|_| {
                (0..Input::SIZES.len())
                    .map(|_| StandardNormal.sample(&mut random))
                    .collect()
            })
            .collect();
        let values: Vec<f64> = moved
            .iter()
            .map(|m| {
                let other: f64 = StandardNormal.sample(&mut random);
                3.0 * m[0] - 1.0 * m[5] + 0.5 * other
            })
            .collect();
        let vars = by_size(&values, &moved.iter().collect::<Vec<_>>());
        assert!(
            (vars[0] - 9.0).abs() < 0.5 && (vars[5] - 1.0).abs() < 0.2,
            "{vars:?}"
        );
        assert!(vars[1] < 0.05);
    }
}

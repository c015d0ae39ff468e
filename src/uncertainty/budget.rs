//! Where an interval comes from: the share of each input in its variance.
//!
//! # Source
//! JCGM 100:2008 (GUM), 5.1 and the tables of H.1: contributions `c_i u(x_i)` added in squares. The
//! sensitivities are taken from the Monte Carlo draws themselves, by regression of the results on the
//! draws of the single sizes; what these do not explain comes from the floor marks.

use super::{Repeat, standard_deviation};
use crate::findings::{Finding, Findings};
use crate::known::Input;
use nalgebra::{DMatrix, DVector};
use serde::Serialize;

/// One input's share.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Share {
    /// The input.
    pub input: Input,
    /// Its share of the variance, 0 to 1.
    pub share: f64,
}

/// Standard uncertainties that an input adds to a result, in the result's unit.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Sources(Vec<(Input, f64)>);

impl Sources {
    /// From standard uncertainties by input.
    pub const fn new(parts: Vec<(Input, f64)>) -> Self {
        Self(parts)
    }

    /// All of them in squares.
    pub fn total_sd(&self) -> f64 {
        self.0.iter().map(|(_, sd)| sd * sd).sum::<f64>().sqrt()
    }

    /// Shares of the variance, largest first; those under a hundredth are left out.
    pub fn shares(&self) -> Vec<Share> {
        let total = self.total_sd();
        let mut out: Vec<Share> = self
            .0
            .iter()
            .map(|(input, sd)| Share {
                input: *input,
                share: if total > 0.0 {
                    (sd / total).powi(2)
                } else {
                    0.0
                },
            })
            .filter(|share| share.share >= 0.01)
            .collect();
        out.sort_by(|a, b| b.share.total_cmp(&a.share));
        out
    }
}

/// What makes one result uncertain.
pub(super) fn sources(
    best: &Finding,
    repeats: &[Repeat],
    of: &dyn Fn(&Findings) -> Finding,
    scale_rel_sd: f64,
) -> Sources {
    let Ok(best) = best else {
        return Sources::default();
    };
    let (values, moved): (Vec<f64>, Vec<&Vec<f64>>) = repeats
        .iter()
        .filter_map(|r| Some((of(&r.findings).ok()?.value, &r.moved)))
        .unzip();
    let spread = standard_deviation(&values);
    let mut parts = vec![
        (Input::PixelNoise, best.sd),
        (Input::PlainScale, best.value * scale_rel_sd),
    ];
    let mut rest = spread * spread;
    for (input, var) in Input::SIZES.into_iter().zip(by_size(&values, &moved)) {
        // The draws scatter: shares can add up to a little more than all.
        let var = var.min(rest);
        rest -= var;
        parts.push((input, var.sqrt()));
    }
    parts.push((Input::FloorMarks, rest.max(0.0).sqrt()));
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

    #[test]
    fn parts_add_up_as_in_the_end_gauge_example() {
        // JCGM 100:2008 (GUM), example H.1: parts 25, 9.7, 2.9 and 16.6 nm give u_c = 32 nm (31.7).
        let sources = Sources::new(vec![
            (Input::StickerHeight, 25.0),
            (Input::StickerAhead, 9.7),
            (Input::TrackWidth, 2.9),
            (Input::Lens, 16.6),
        ]);
        assert_eq!(sources.total_sd().round(), 32.0);
        assert_eq!(sources.shares()[0].input, Input::StickerHeight);
        assert!((sources.shares()[0].share - 625.0 / 1003.06).abs() < 1e-4);
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

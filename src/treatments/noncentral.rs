//! Student's t where there is a difference: what power and intervals of effect sizes rest on. The
//! distribution crate has the central one only.

use statrs::distribution::{ContinuousCDF, Normal};
use statrs::function::gamma::ln_gamma;

/// Steps of Simpson's rule; errors stay below 1e-9 from one degree of freedom up.
const STEPS: usize = 800;
/// The spread S of a sample is integrated over this many of its standard deviations to each side of 1.
const WIDE: f64 = 10.0;

/// Chance that a noncentral t is at most `t`.
///
/// T = (Z + δ) / S with Z normal and S² = χ²/ν, so it is the mean of Φ(t s − δ) over the density of S (Johnson,
/// Kotz and Balakrishnan, *Continuous Univariate Distributions* 2, ch. 31).
pub fn noncentral_t_cdf(t: f64, df: f64, noncentrality: f64) -> f64 {
    let normal = Normal::standard();
    let half = df / 2.0;
    let log_scale = std::f64::consts::LN_2 + half * half.ln() - ln_gamma(half);
    let density = |s: f64| {
        if s <= 0.0 {
            // A limit: finite for one degree of freedom, else nothing.
            return if df == 1.0 { log_scale.exp() } else { 0.0 };
        }
        (log_scale + (df - 1.0) * s.ln() - half * s * s).exp()
    };
    let wide = WIDE / (2.0 * df).sqrt();
    let (low, high) = ((1.0 - wide).max(0.0), 1.0 + wide);
    let step = (high - low) / STEPS as f64;
    let sum: f64 = (0..=STEPS)
        .map(|place| {
            let s = low + step * place as f64;
            let weight = match place {
                0 | STEPS => 1.0,
                odd if odd % 2 == 1 => 4.0,
                _ => 2.0,
            };
            weight * density(s) * normal.cdf(t * s - noncentrality)
        })
        .sum();
    (sum * step / 3.0).clamp(0.0, 1.0)
}

/// The noncentrality for which a t of this size or less has the chance `share`.
pub fn noncentrality_at(t: f64, df: f64, share: f64) -> f64 {
    // The chance falls as the noncentrality grows.
    let reach = 8.0 + 4.0 * t.abs();
    root(t - reach, t + reach, |nc| {
        share - noncentral_t_cdf(t, df, nc)
    })
}

/// Where a function that grows from `low` to `high` is zero, by halving.
pub(super) fn root(mut low: f64, mut high: f64, grows: impl Fn(f64) -> f64) -> f64 {
    for _ in 0..60 {
        let middle = f64::midpoint(low, high);
        if grows(middle) < 0.0 {
            low = middle;
        } else {
            high = middle;
        }
    }
    f64::midpoint(low, high)
}

#[cfg(test)]
mod tests {
    use super::*;
    use statrs::distribution::StudentsT;

    #[test]
    fn it_is_the_central_one_without_a_difference() {
        for df in [1.0, 2.0, 3.0, 6.0, 30.0, 500.0] {
            let central = StudentsT::new(0.0, 1.0, df).unwrap();
            for t in [-3.0, 0.0, 0.7, 2.5] {
                let found = noncentral_t_cdf(t, df, 0.0);
                assert!((found - central.cdf(t)).abs() < 1e-8, "{df} {t}: {found}");
            }
        }
    }

    #[test]
    fn it_agrees_with_a_reference_library() {
        // scipy 1.17.1, scipy.stats.nct.cdf(t, df, nc).
        let table = NCT_TABLE;
        for (t, df, nc, expected) in table {
            let found = noncentral_t_cdf(t, df, nc);
            assert!((found - expected).abs() < 1e-8, "{t} {df} {nc}: {found}");
            let back = noncentrality_at(t, df, expected);
            assert!((back - nc).abs() < 1e-6, "{t} {df}: {back} for {nc}");
        }
    }

    const NCT_TABLE: [(f64, f64, f64, f64); 5] = [
        (2.0, 6.0, 1.5, 0.640_258_786_7),
        (2.447, 6.0, 2.8, 0.351_728_846_8),
        (-1.0, 3.0, 0.5, 0.092_121_209_8),
        (5.0, 6.0, 4.0, 0.668_511_114_5),
        (1.98, 98.0, 2.5, 0.301_563_855_4),
    ];
}

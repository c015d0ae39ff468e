//! Errors of observations in a row are alike: a codec carries a mark's error from frame to frame. How alike they are is
//! read from what a fit leaves, here for every stage that fits observations; so is the middle of a list, which odd ones do not move.

mod robust;

pub use robust::{
    cauchy_cost, cauchy_weight, huber_weight, variance_inflation, weighed_by_likelihood,
};

use nalgebra::SVector;

/// Lags from this one on are left out: of the errors of drawn marks at 120 frames a second hardly anything is alike
/// after eight frames (`scripts/random_scenes score` prints it). What stays alike for longer is a wrong model.
const LONGEST_LAG: usize = 8;
/// The same of a smoother's residuals, whose own unlikeness is known. Errors that a codec carries on are small and last
/// long: on drawn clips at 120 frames a second slopes over 45 frames vary about three times as much as by independent
/// errors, those over 8 frames 1.3 times.
pub const LONGEST_LAG_OF_SMOOTHED: usize = 24;
/// Autocorrelation of a mark's errors summed over time, s, as a codec carries them on: what lasts longer than a smoother's
/// window is followed by it, and does not show in its residuals. On drawn clips slopes over 30 frames vary 2.5 times as
/// much as by independent errors at 120 frames a second and 1.6 times at 60, those over 15 frames 1.2 times at 30
/// (`scripts/random_scenes score` prints it).
const CARRIED_ON_S: f64 = 0.006;
/// ... and no more than this share of the observations, beyond which too few pairs are left to tell.
const LONGEST_SHARE: usize = 4;
/// No more than this many observations are taken to be worth only one: what a fit leaves then is a wrong model, not
/// noise.
const MOST_ALIKE: f64 = 20.0;
/// The same for a smoother, which bends to follow what it can.
pub const MOST_ALIKE_OF_SMOOTHED: f64 = 8.0;

/// The value of a list that a share of it, such as (3, 4), lies below; `None` of an empty list.
pub fn quantile(values: impl IntoIterator<Item = f64>, share: (usize, usize)) -> Option<f64> {
    let mut sorted: Vec<f64> = values.into_iter().collect();
    sorted.sort_by(f64::total_cmp);
    sorted.get(sorted.len() * share.0 / share.1).copied()
}

/// The middle value of a list, or the upper of the two in the middle, so that it is always one of the list.
pub fn median(values: impl IntoIterator<Item = f64>) -> Option<f64> {
    quantile(values, (1, 2))
}

/// The usual (median) step from one time to the next, s; `None` where there is none or it is nothing.
pub fn median_step_s(times_s: &[f64]) -> Option<f64> {
    median(times_s.windows(2).map(|pair| pair[1] - pair[0])).filter(|step_s| *step_s > 0.0)
}

/// Autocorrelation of residuals at a lag, all axes together; 0 where there is no pair. Residuals are in the order of
/// their times, `None` where there was no observation.
///
/// Without gaps this is the usual estimate (products of all pairs over all squares, as NIST's certified lag-1 values
/// have it); with gaps the mean product of the pairs that there are stands for those that there are not.
pub fn autocorrelation<const D: usize>(residuals: &[Option<SVector<f64, D>>], lag: usize) -> f64 {
    let both = residuals.iter().zip(residuals.iter().skip(lag));
    let products: Vec<f64> = both
        .filter_map(|(a, b)| Some(a.as_ref()?.dot(b.as_ref()?)))
        .collect();
    let squares = residuals.iter().flatten().map(SVector::norm_squared);
    let squares: Vec<f64> = squares.collect();
    let mean_square = squares.iter().sum::<f64>() / squares.len().max(1) as f64;
    if products.is_empty() || mean_square <= 0.0 {
        return 0.0;
    }
    let mean_product = products.iter().sum::<f64>() / products.len() as f64;
    mean_product / mean_square * (residuals.len() - lag) as f64 / residuals.len() as f64
}

/// How many observations with errors as alike as these are worth one, 1 where they are independent, if they are a
/// first-order autoregression: `(1 + r) / (1 - r)` with their correlation r at lag one.
pub fn first_order_inflation<const D: usize>(residuals: &[Option<SVector<f64, D>>]) -> f64 {
    let lag_one = autocorrelation(residuals, 1).clamp(0.0, 0.95);
    ((1.0 + lag_one) / (1.0 - lag_one)).min(MOST_ALIKE)
}

/// The same whatever the errors are: the integrated autocorrelation, by which the variance of a mean exceeds that of
/// independent observations.
///
/// It is the larger of two estimates: that of a first-order autoregression, and for errors of which a part stays alike
/// for longer `1 + 2 (r1 + r2 + ...)`, summed as long as pairs of neighbouring lags fall and stand out of what
/// independent observations would give by chance (the initial monotone sequence of C. J. Geyer, Statistical Science 7
/// (1992) 473, from memory).
pub fn integrated_autocorrelation<const D: usize>(residuals: &[Option<SVector<f64, D>>]) -> f64 {
    integrated_beyond(residuals, &[])
}

/// The same of residuals that are unlike by themselves: `unlike` is, by lag from 1, what has to be added to their
/// autocorrelation to have that of the errors (`unlikeness` of the smoother gives it).
pub fn integrated_beyond<const D: usize>(
    residuals: &[Option<SVector<f64, D>>],
    unlike: &[f64],
) -> f64 {
    let seen = residuals.iter().flatten().count();
    let by_chance = (2.0 / (seen * D).max(1) as f64).sqrt();
    let alike = |lag: usize| {
        autocorrelation(residuals, lag) + unlike.get(lag - 1).copied().unwrap_or_default()
    };
    let mut summed = 1.0 + 2.0 * alike(1).max(0.0);
    let mut before = f64::INFINITY;
    let longest = LONGEST_LAG.max(unlike.len());
    for lag in (2..longest.min(seen / LONGEST_SHARE)).step_by(2) {
        let pair = alike(lag) + alike(lag + 1);
        if pair <= by_chance {
            break;
        }
        before = pair.min(before);
        summed += 2.0 * before;
    }
    summed
        .max(first_order_inflation(residuals))
        .clamp(1.0, MOST_ALIKE)
}

/// How many errors of marks in frames so far apart are worth one at least, whatever residuals show.
pub fn carried_on(step_s: f64) -> f64 {
    1.0 + 2.0 * CARRIED_ON_S / step_s
}

/// Residuals without gaps along one axis, as the other functions take them.
pub fn in_a_row(residuals: impl IntoIterator<Item = f64>) -> Vec<Option<SVector<f64, 1>>> {
    let residuals = residuals.into_iter();
    residuals.map(|left| Some(SVector::from([left]))).collect()
}

#[cfg(test)]
mod tests;

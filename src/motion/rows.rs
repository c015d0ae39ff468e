//! How long the sensor takes from its first row to its last, from the clip itself.
//!
//! A mark that goes round with the wheel is seen by earlier rows when it is up and by later rows when
//! it is down: with the wrong row time its turning is uneven once a turn, the more the faster it turns.
//! A hand-held picture shears. The row time of greatest likelihood is taken, what is known beforehand
//! (phones take 8 to 25 ms) being one observation more.

use super::{CarGeometry, Motion, estimate};
use crate::camera::{CameraSheet, View, relocate};
use crate::track::Track;
use rayon::prelude::*;

/// Errors of neighbouring frames are alike, so a difference of likelihood counts for about a quarter.
const LIKELIHOOD_SHARE: f64 = 0.25;
/// Row times tried, in standard uncertainties from the value beforehand.
const TRIES: [f64; 7] = [-2.4, -1.6, -0.8, 0.0, 0.8, 1.6, 2.4];

/// The row time, s, and its standard uncertainty, from `prior` of the same.
pub fn settle_readout(
    track: &Track,
    view: &View,
    sheet: &CameraSheet,
    car: &CarGeometry,
    motion: &Motion,
    prior: (f64, f64),
) -> (f64, f64) {
    let penalty = |off: f64| -> Option<f64> {
        let readout_s = (prior.0 + off * prior.1).max(0.0);
        let sheet = CameraSheet {
            readout_s,
            ..sheet.clone()
        };
        let car = CarGeometry { readout_s, ..*car };
        let view = match &view.moving {
            Some(_) => relocate(track, &sheet, view),
            None => view.clone(),
        };
        let motion = estimate(track, &view, &car, Some(motion.tuning.clone())).ok()?;
        let wheel = motion.wheel.as_ref().map_or(0.0, |w| w.log_likelihood);
        let gained = motion.body.log_likelihood + wheel;
        Some(0.5 * off * off - LIKELIHOOD_SHARE * gained)
    };
    let tried: Vec<(f64, f64)> = TRIES
        .par_iter()
        .filter_map(|&off| Some((off, penalty(off)?)))
        .collect();
    let Some((off, sd)) = lowest(&tried) else {
        return prior;
    };
    (
        (prior.0 + off * prior.1).max(0.0),
        (sd * prior.1).min(prior.1),
    )
}

/// Bottom of the parabola through the least value and its neighbours, and the half-width at which it has
/// risen by a half.
fn lowest(tried: &[(f64, f64)]) -> Option<(f64, f64)> {
    let least = (0..tried.len()).min_by(|&a, &b| tried[a].1.total_cmp(&tried[b].1))?;
    let middle = least.clamp(1, tried.len().checked_sub(2).filter(|n| *n >= 1)?);
    let [a, b, c] = [tried[middle - 1], tried[middle], tried[middle + 1]];
    let step = b.0 - a.0;
    let bend = (a.1 - 2.0 * b.1 + c.1) / (step * step);
    let slope = (c.1 - a.1) / (2.0 * step);
    (bend > 0.0).then(|| {
        let off = (b.0 - slope / bend).clamp(TRIES[0] - 1.0, TRIES[6] + 1.0);
        (off, 1.0 / bend.sqrt())
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_bottom_of_a_parabola_is_found_with_its_width() {
        let tried: Vec<(f64, f64)> = TRIES
            .iter()
            .map(|&x| (x, 7.0 + 0.5 * ((x - 1.3) / 0.4_f64).powi(2)))
            .collect();
        let (off, sd) = lowest(&tried).unwrap();
        assert!((off - 1.3).abs() < 1e-9 && (sd - 0.4).abs() < 1e-9);
    }
}

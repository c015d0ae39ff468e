//! When the car was let go: the break between rest and a beginning parabola, in both marks at once.

use crate::track::{Place, Places, Track};
use nalgebra::{Matrix3, Vector2, Vector3};

/// The moment of first motion.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Release {
    /// Time since the first row of the first frame, s.
    pub time_s: f64,
    /// Its standard uncertainty, s.
    pub sd_s: f64,
}

/// Pixel places scatter by at least this much whatever the rest shows, px: errors at rest repeat
/// themselves from frame to frame and look smaller than they are.
const MIN_SCATTER_PX: f64 = 0.06;
/// A mark has moved when it is this many scatters away from rest and stays away.
const MOVED_SCATTERS: f64 = 6.0;
/// Frames of rest needed before the first motion.
const MIN_REST_FRAMES: usize = 4;
/// How far back from the first visible motion the release is sought, s.
const SEARCH_BACK_S: f64 = 0.35;
/// The beginning of the motion that is taken for a parabola: this much of the mark's own size ...
const PARABOLA_SIZES: f64 = 0.5;
/// ... and no longer than this, s.
const PARABOLA_S: f64 = 0.16;
/// A pull that is not constant from the first moment shifts the break by about this, s.
const MODEL_SD_S: f64 = 0.004;
/// How many looks with errors alike are worth one.
const ALIKE: f64 = 2.0;
/// A pull that changes, and a mark on a wheel that leaves its tangent, add a cubic to the parabola: up to
/// about this share of it at the end of the part that is looked at.
const CUBIC_SHARE: f64 = 0.15;
/// Codecs leave a block as it was while it moves by less than about half a pixel, so the last looks
/// before the first clear motion do not prove a rest: they are this uncertain, px ...
const UNMOVED_PX: f64 = 0.2;
/// ... over this time, s.
const UNMOVED_S: f64 = 0.08;

/// One mark's way from its resting place along the direction in which it sets off.
struct Signal {
    times_s: Vec<f64>,
    away_px: Vec<f64>,
    scatter_px: f64,
    first_motion_s: f64,
}

/// Finds the release from the sticker and the wheel mark.
///
/// # Errors
/// The reason, for the user, where no rest before the motion was seen, or no motion.
pub fn find_release(track: &Track, readout_s: f64) -> Result<Release, String> {
    let interval = typical_interval(&track.times_s);
    let sticker = signal(&track.sticker, &track.times_s, readout_s)?;
    let mut signals = vec![sticker];
    if let Ok(wheel) = signal(&track.wheel, &track.times_s, readout_s)
        // A wheel that is turned by hand long before the car moves is no release.
        && (wheel.first_motion_s - signals[0].first_motion_s).abs() < SEARCH_BACK_S
    {
        signals.push(wheel);
    }
    let latest = signals
        .iter()
        .map(|s| s.first_motion_s)
        .fold(f64::INFINITY, f64::min);
    let step = interval / 8.0;
    let tries: Vec<(f64, f64)> = (0..=(SEARCH_BACK_S / step) as usize)
        .map(|back| latest - back as f64 * step)
        .map(|t0| {
            (
                t0,
                signals.iter().map(|s| misfit(s, t0, latest)).sum::<f64>(),
            )
        })
        .collect();
    let best = tries
        .iter()
        .min_by(|a, b| a.1.total_cmp(&b.1))
        .copied()
        .ok_or_else(|| "the clip is too short".to_owned())?;
    // Errors of neighbouring frames are alike, so a change of the misfit counts for about a third.
    let weighted: Vec<(f64, f64)> = tries
        .iter()
        .map(|(t, m)| (*t, (-(m - best.1) / (2.0 * ALIKE)).exp()))
        .collect();
    let total: f64 = weighted.iter().map(|(_, w)| w).sum();
    let mean = weighted.iter().map(|(t, w)| t * w).sum::<f64>() / total;
    let var = weighted
        .iter()
        .map(|(t, w)| (t - mean).powi(2) * w)
        .sum::<f64>()
        / total;
    Ok(Release {
        time_s: mean,
        sd_s: var.sqrt().hypot(MODEL_SD_S).hypot(interval * 0.1),
    })
}

fn typical_interval(times_s: &[f64]) -> f64 {
    let mut steps: Vec<f64> = times_s.windows(2).map(|pair| pair[1] - pair[0]).collect();
    steps.sort_by(f64::total_cmp);
    steps
        .get(steps.len() / 2)
        .copied()
        .unwrap_or(1.0 / 60.0)
        .max(1e-4)
}

fn signal(places: &Places, times_s: &[f64], readout_s: f64) -> Result<Signal, String> {
    let seen: Vec<(f64, Place)> = places
        .iter()
        .zip(times_s)
        .filter_map(|(place, time)| place.map(|p| (time + p.row_frac * readout_s, p)))
        .collect();
    if seen.len() < MIN_REST_FRAMES + 3 {
        return Err("the mark was seen in too few frames".to_owned());
    }
    let at = |p: &Place| Vector2::new(p.u_px, p.v_px);
    let rest_place = at(&seen[1].1);
    let size = seen[0].1.area_px2.sqrt();
    // A first rough start: when the mark is half its size away for good.
    let rough = seen
        .iter()
        .position(|(_, p)| (at(p) - rest_place).norm() > 0.35 * size)
        .ok_or_else(|| "the car does not move in this clip".to_owned())?;
    let calm = &seen[..rough.saturating_sub(2).max(1)];
    let middle = component_median(calm, at);
    let scatter = calm_scatter(calm, middle, at).max(MIN_SCATTER_PX);
    let moving = |i: usize| (at(&seen[i].1) - middle).norm() > MOVED_SCATTERS * scatter;
    let mut first = rough;
    while first > 0 && moving(first - 1) {
        first -= 1;
    }
    if first < MIN_REST_FRAMES {
        return Err("the car was already moving when the clip begins".to_owned());
    }
    let until = seen
        .iter()
        .position(|(t, p)| {
            *t > seen[first].0
                && ((at(p) - middle).norm() > PARABOLA_SIZES * size
                    || *t > seen[first].0 + PARABOLA_S)
        })
        .unwrap_or(seen.len())
        .max((first + 3).min(seen.len()));
    let direction = (at(&seen[until - 1].1) - middle).normalize();
    let used = &seen[..until];
    Ok(Signal {
        times_s: used.iter().map(|(t, _)| *t).collect(),
        away_px: used
            .iter()
            .map(|(_, p)| (at(p) - middle).dot(&direction))
            .collect(),
        scatter_px: scatter,
        first_motion_s: seen[first].0,
    })
}

fn component_median(calm: &[(f64, Place)], at: impl Fn(&Place) -> Vector2<f64>) -> Vector2<f64> {
    let middle = |get: fn(&Vector2<f64>) -> f64| {
        let mut values: Vec<f64> = calm.iter().map(|(_, p)| get(&at(p))).collect();
        values.sort_by(f64::total_cmp);
        values[values.len() / 2]
    };
    Vector2::new(middle(|p| p.x), middle(|p| p.y))
}

fn calm_scatter(
    calm: &[(f64, Place)],
    middle: Vector2<f64>,
    at: impl Fn(&Place) -> Vector2<f64>,
) -> f64 {
    let mut off: Vec<f64> = calm.iter().map(|(_, p)| (at(p) - middle).norm()).collect();
    off.sort_by(f64::total_cmp);
    // The median distance of a two-dimensional normal scatter is 1.177 of its standard deviation.
    off[off.len() / 2] / 1.177
}

/// Weighted squares left when the mark rests until `t0` and then follows a parabola with a little of a
/// cubic in it.
fn misfit(signal: &Signal, t0: f64, latest: f64) -> f64 {
    let mut normal = Matrix3::zeros();
    let mut right = Vector3::zeros();
    let from = latest - SEARCH_BACK_S - 0.2;
    let unmoved = signal.first_motion_s - UNMOVED_S..signal.first_motion_s;
    let mut rows: Vec<(Vector3<f64>, f64)> = signal
        .times_s
        .iter()
        .zip(&signal.away_px)
        .filter(|(t, _)| **t >= from)
        .map(|(t, away)| {
            let since = (t - t0).max(0.0);
            let scatter = if unmoved.contains(t) {
                signal.scatter_px.hypot(UNMOVED_PX)
            } else {
                signal.scatter_px
            };
            let row = Vector3::new(1.0, since * since, since.powi(3));
            (row / scatter, away / scatter)
        })
        .collect();
    let (Some(last_s), Some(last_px)) = (signal.times_s.last(), signal.away_px.last()) else {
        return f64::INFINITY;
    };
    let span = (last_s - t0).max(1e-3);
    let cubic = CUBIC_SHARE * last_px.abs().max(signal.scatter_px) / span.powi(3);
    rows.push((Vector3::new(0.0, 0.0, 1.0 / cubic), 0.0));
    for (row, value) in &rows {
        normal += row * row.transpose();
        right += row * *value;
    }
    let Some(solved) = normal.cholesky().map(|c| c.solve(&right)) else {
        return f64::INFINITY;
    };
    rows.iter()
        .map(|(row, value)| (value - row.dot(&solved)).powi(2))
        .sum()
}

//! When the car was let go: the change point between rest and a beginning parabola, in both marks at once.

mod parabola;

use super::MotionReason;
use crate::noise::{median, median_step_s, weighed_by_likelihood};
use crate::track::{Place, Places, Track};
use nalgebra::Vector2;
use parabola::misfits;

/// The moment of first motion.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Release {
    /// Time since the first row of the first frame, s.
    pub time_s: f64,
    /// Its standard uncertainty, s.
    pub sd_s: f64,
}

/// A release, and how it goes with the time that the sensor takes from row to row: all that it depends on but the places
/// in the picture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ReleaseByReadout {
    /// With the readout time that is taken for the best.
    best: Release,
    best_readout_s: f64,
    /// Seconds for a second of readout.
    slope: f64,
}

impl ReleaseByReadout {
    /// How a release that was found with the best readout time goes with it: sought again with those a `sd_s` off it.
    /// `None` where there is no release with one of them.
    pub fn about(best: Release, best_readout_s: f64, track: &Track, sd_s: f64) -> Option<Self> {
        let at = |readout_s: f64| find_release(track, readout_s).ok();
        let step_s = sd_s.max(LEAST_STEP_S);
        let later = at(best_readout_s + step_s)?.time_s - at(best_readout_s - step_s)?.time_s;
        Some(Self {
            best,
            best_readout_s,
            slope: later / (2.0 * step_s),
        })
    }

    /// The release with a readout time near to the best one.
    pub fn at(&self, readout_s: f64) -> Release {
        let later_s = self.slope * (readout_s - self.best_readout_s);
        Release {
            time_s: self.best.time_s + later_s,
            ..self.best
        }
    }
}

/// Readout times are told apart by no less than this, s.
const LEAST_STEP_S: f64 = 1e-4;

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
/// A pull that is not constant from the first moment shifts the change point by about this, s.
const MODEL_SD_S: f64 = 0.004;
/// How many observations with errors alike are worth one, where the rest does not show how alike they are.
const ALIKE: f64 = 2.0;
/// A rest that wanders by more than the floor of the scatter shows how alike neighbouring errors are; more
/// alike than this is a drift.
const MOST_ALIKE: f64 = 0.95;
/// Fewer looks at rest than this show nothing of their likeness.
const FEW_OBSERVATIONS: usize = 10;
/// Places nearer to each other than this, px, are one place that the codec repeated: the later look says
/// nothing of its own.
const REPEATED_PX: f64 = 0.01;
/// Codecs leave a block as it was while it moves by less than about half a pixel, or more where it is dim,
/// so the last observations before the first clear motion do not prove a rest: they are this uncertain, px, ...
const UNMOVED_PX: f64 = 0.2;
/// ... or this share of the leap that they end with ...
const UNMOVED_LEAPS: f64 = 0.6;
/// ... over this time, s.
const UNMOVED_S: f64 = 0.12;
/// Observations after a leap are uncertain by this share of what was saved up for it.
const HELD_SHARE: f64 = 0.5;
/// The release must lie in the clip by this many standard uncertainties.
const SURE_SDS: f64 = 2.0;

/// One mark's way from its resting place along the direction in which it sets off.
struct Signal {
    times_s: Vec<f64>,
    away_px: Vec<f64>,
    scatter_px: f64,
    /// Likeness of an error to that of the observation before.
    likeness: f64,
    /// How uncertain the last observations before the first motion are.
    unmoved_px: f64,
    /// ... and those after it.
    moving_px: f64,
    first_motion_s: f64,
}

/// Finds the release from the sticker and the wheel mark.
///
/// # Errors
/// The reason where no rest before the motion was seen, or no motion.
pub fn find_release(track: &Track, readout_s: f64) -> Result<Release, MotionReason> {
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
    let steps = (SEARCH_BACK_S / step) as usize;
    let times: Vec<f64> = (0..=steps)
        .map(|back| latest - back as f64 * step)
        .collect();
    let mut cost = vec![0.0; times.len()];
    for signal in &signals {
        for (sum, of_signal) in cost.iter_mut().zip(misfits(signal, &times, latest)) {
            *sum += of_signal / signal.alike();
        }
    }
    let likely = times.iter().zip(&cost).map(|(t, cost)| (*t, -cost / 2.0));
    let (mean, spread_s) = weighed_by_likelihood(&likely)
        .filter(|(mean, _)| mean.is_finite())
        .ok_or(MotionReason::ShortClip)?;
    let sd_s = spread_s.hypot(MODEL_SD_S).hypot(interval * 0.1);
    if mean - SURE_SDS * sd_s < track.times_s.first().copied().unwrap_or(0.0) {
        return Err(MotionReason::RestUnsure);
    }
    Ok(Release { time_s: mean, sd_s })
}

impl Signal {
    /// How many observations are worth one, once their likeness has been taken out.
    fn alike(&self) -> f64 {
        if self.likeness > 0.0 { 1.0 } else { ALIKE }
    }
}

fn typical_interval(times_s: &[f64]) -> f64 {
    median_step_s(times_s).unwrap_or(1.0 / 60.0).max(1e-4)
}

fn signal(places: &Places, times_s: &[f64], readout_s: f64) -> Result<Signal, MotionReason> {
    let seen: Vec<(f64, Place)> = places
        .iter()
        .zip(times_s)
        .filter_map(|(place, time)| place.map(|p| (time + p.row_frac * readout_s, p)))
        .collect();
    if seen.len() < MIN_REST_FRAMES + 3 {
        return Err(MotionReason::StickerSeldom);
    }
    let at = |p: &Place| Vector2::new(p.u_px, p.v_px);
    let rest_place = at(&seen[1].1);
    let size = seen[0].1.area_px2.sqrt();
    // A first rough start: when the mark is half its size away for good.
    let rough = seen
        .iter()
        .position(|(_, p)| (at(p) - rest_place).norm() > 0.35 * size)
        .ok_or(MotionReason::NeverMoves)?;
    let calm = &seen[..rough.saturating_sub(2).max(1)];
    let middle = component_median(calm, at);
    let scatter = calm_scatter(calm, middle, at).max(MIN_SCATTER_PX);
    let moving = |i: usize| (at(&seen[i].1) - middle).norm() > MOVED_SCATTERS * scatter;
    let mut first = rough;
    while first > 0 && moving(first - 1) {
        first -= 1;
    }
    if first < MIN_REST_FRAMES {
        return Err(MotionReason::AlreadyMoving);
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
    let away = |p: &Place| (at(p) - middle).dot(&direction);
    let leap = away(&seen[first].1) - away(&seen[first - 1].1);
    let next = (first + 1 < until).then(|| away(&seen[first + 1].1) - away(&seen[first].1));
    let repeated =
        |i: usize| i > first && (at(&seen[i].1) - at(&seen[i - 1].1)).norm() < REPEATED_PX;
    let used: Vec<(f64, f64)> = (0..until)
        .filter(|i| !repeated(*i))
        .map(|i| (seen[i].0, away(&seen[i].1)))
        .collect();
    let calm_away: Vec<f64> = calm.iter().map(|(_, p)| away(p)).collect();
    Ok(Signal {
        times_s: used.iter().map(|(t, _)| *t).collect(),
        away_px: used.iter().map(|(_, a)| *a).collect(),
        scatter_px: scatter,
        likeness: likeness(&calm_away, scatter),
        unmoved_px: UNMOVED_PX.max(UNMOVED_LEAPS * leap.abs()),
        moving_px: scatter.hypot(held(leap, next)),
        first_motion_s: seen[first].0,
    })
}

/// What a codec that held a mark back still holds back as it lets it go, px: a car that gathers speed goes
/// further in each step than in the one before, so a first step that is longer than the next was saved up.
fn held(leap: f64, next: Option<f64>) -> f64 {
    next.map_or(0.0, |next| HELD_SHARE * (leap - next).max(0.0))
}

fn component_median(calm: &[(f64, Place)], at: impl Fn(&Place) -> Vector2<f64>) -> Vector2<f64> {
    let middle = |get: fn(&Vector2<f64>) -> f64| {
        median(calm.iter().map(|(_, p)| get(&at(p)))).unwrap_or(0.0)
    };
    Vector2::new(middle(|p| p.x), middle(|p| p.y))
}

fn calm_scatter(
    calm: &[(f64, Place)],
    middle: Vector2<f64>,
    at: impl Fn(&Place) -> Vector2<f64>,
) -> f64 {
    let off = calm.iter().map(|(_, p)| (at(p) - middle).norm());
    // The median distance of a two-dimensional normal scatter is 1.177 of its standard deviation.
    median(off).unwrap_or(0.0) / 1.177
}

/// Likeness of neighbouring errors at rest; 0 where the rest is calmer than the floor of the scatter.
fn likeness(away_px: &[f64], scatter_px: f64) -> f64 {
    if away_px.len() < FEW_OBSERVATIONS || scatter_px <= MIN_SCATTER_PX {
        return 0.0;
    }
    let squares: f64 = away_px.iter().map(|a| a * a).sum();
    let products: f64 = away_px.windows(2).map(|pair| pair[0] * pair[1]).sum();
    if squares <= 0.0 {
        return 0.0;
    }
    // A short rest shows too little of it (F. H. C. Marriott, J. A. Pope, Biometrika 41 (1954) 390).
    let seen = products / squares;
    let whole = seen + (1.0 + 3.0 * seen) / away_px.len() as f64;
    whole.clamp(0.0, MOST_ALIKE)
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::SeedableRng;
    use rand_distr::{Distribution, StandardNormal};

    const RELEASED_S: f64 = 0.4;

    fn place(u_px: f64) -> Place {
        Place {
            u_px,
            v_px: 200.0,
            var_u_px2: 0.0016,
            var_v_px2: 0.0016,
            area_px2: 150.0,
            contrast: 60.0,
            row_frac: 0.0,
            fitted: true,
        }
    }

    /// A sticker that rests and then gathers speed by 150 px/s², seen with these errors at 60 frames a second.
    fn seen(errors_px: &[f64]) -> Track {
        let times_s: Vec<f64> = (0..errors_px.len()).map(|i| i as f64 / 60.0).collect();
        let way = |t: &f64| 75.0 * (t - RELEASED_S).max(0.0).powi(2);
        Track {
            width_px: 640.0,
            height_px: 360.0,
            sticker: times_s
                .iter()
                .zip(errors_px)
                .map(|(t, error)| Some(place(100.0 + way(t) + error)))
                .collect(),
            wheel: vec![None; times_s.len()],
            more_wheel: Vec::new(),
            axle: vec![None; times_s.len()],
            in_view: (0, times_s.len() - 1),
            floor: Vec::new(),
            floor_paths: Vec::new(),
            notes: Vec::new(),
            times_s,
        }
    }

    /// Errors that are alike from frame to frame: an autoregression of first order.
    fn wandering(seed: u64, likeness: f64, sd_px: f64) -> Vec<f64> {
        let mut random = rand_chacha::ChaCha8Rng::seed_from_u64(seed);
        let fresh = (1.0 - likeness * likeness).sqrt() * sd_px;
        let mut error = 0.0;
        (0..50)
            .map(|_| {
                let normal: f64 = StandardNormal.sample(&mut random);
                error = likeness * error + fresh * normal;
                error
            })
            .collect()
    }

    #[test]
    fn a_rest_that_wanders_keeps_the_release_within_its_interval() {
        for (likeness, sd_px) in [(0.0, 0.05), (0.6, 0.15), (0.9, 0.3)] {
            let found: Vec<Release> = (0..100)
                .filter_map(|seed| find_release(&seen(&wandering(seed, likeness, sd_px)), 0.0).ok())
                .collect();
            assert!(found.len() > 90, "{} found", found.len());
            let held = found
                .iter()
                .filter(|r| (r.time_s - RELEASED_S).abs() < 1.96 * r.sd_s)
                .count();
            assert!(
                held as f64 > 0.9 * found.len() as f64,
                "{held} of {} with {likeness} and {sd_px} px",
                found.len()
            );
        }
    }

    #[test]
    fn a_release_goes_with_the_readout_time_as_one_that_is_sought_again() {
        // A mark at 0.7 of the rows is seen by 0.7 of the readout later than the frame's time.
        let mut track = seen(&wandering(3, 0.0, 0.05));
        for place in track.sticker.iter_mut().flatten() {
            place.row_frac = 0.7;
        }
        let best = find_release(&track, 0.012).unwrap();
        let found = ReleaseByReadout::about(best, 0.012, &track, 0.005).unwrap();
        for readout_s in [0.004, 0.012, 0.021] {
            let (quick, sought) = (
                found.at(readout_s),
                find_release(&track, readout_s).unwrap(),
            );
            assert!(
                (quick.time_s - sought.time_s).abs() < 1e-6,
                "{quick:?} {sought:?}"
            );
            let expected_s = found.best.time_s + 0.7 * (readout_s - 0.012);
            assert!((quick.time_s - expected_s).abs() < 1e-6, "{quick:?}");
        }
    }

    #[test]
    fn a_mark_that_a_codec_holds_back_does_not_start_late() {
        let mut track = seen(&[0.0; 50]);
        let resting = track.sticker[0];
        // Held until it had moved by 0.8 px, a tenth of a second late.
        let late = RELEASED_S + (0.8_f64 / 75.0).sqrt();
        for (time_s, place) in track.times_s.iter().zip(&mut track.sticker) {
            if *time_s < late {
                *place = resting;
            }
        }
        let found = find_release(&track, 0.0).unwrap();
        assert!((found.time_s - RELEASED_S).abs() < 0.02, "{found:?}");
    }

    #[test]
    fn a_picture_that_jumps_for_some_frames_is_no_release() {
        let mut errors = [0.0; 50];
        for (frame, error) in errors.iter_mut().enumerate() {
            *error = if frame % 2 == 0 { 0.04 } else { -0.04 };
            if (25..29).contains(&frame) {
                *error = -2.0;
            }
        }
        let found = find_release(&seen(&errors), 0.0).unwrap();
        let off = (found.time_s - RELEASED_S).abs();
        assert!(off < 1.96 * found.sd_s && off < 0.05, "{found:?}");
    }
}

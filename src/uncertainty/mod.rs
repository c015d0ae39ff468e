//! From findings to 95 % intervals.
//!
//! Two kinds of uncertainty meet here. What differs from frame to frame is in the smoothers' own
//! covariances. What is the same all along a clip (places of the floor marks, height of the sticker,
//! plane of the wheel, lens, row time) is propagated by Monte Carlo: the stages after `track` run again
//! on inputs drawn within their uncertainties, and the spread of the results is added in squares.
//!
//! # How an interval is made
//!
//! The smoothers' covariances are enlarged by (1 + r) / (1 - r), r being the residuals' autocorrelation from one
//! frame to the next. Drawn are places of the floor marks (on the floor and in the picture), heights and offsets of
//! sticker and wheel, lens and row time, within their uncertainties (`priors/`); everything after `track` runs again
//! with the marks named and the smoothers tuned as before. The spread is added in squares (JCGM 100, 5.1.2), and so
//! is the uncertainty of a plain scale. The interval is the value ± Student's t for the effective degrees of
//! freedom (Welch-Satterthwaite, JCGM 100, G.4.1): 1.96 standard uncertainties where there are many draws. The
//! share of each input is its regression coefficient over the draws, squared; what the single sizes do not explain
//! comes from the floor marks. What is not drawn is taken apart by working the findings out again with one thing
//! less uncertain (`own.rs`): all observations with nine tenths of their variance and as much nearer to the smoothed
//! motion (`pixel_noise`), the string's turns sure, the sheet's wheel sure, no plain scale. What none of that
//! explains is the methods' own (`method`), and no advice goes with it. The sheet's wheel is drawn too, so its part
//! of a finding's own uncertainty is left out, but for the share of the draws that take the radius from elsewhere.
//! A plain scale multiplies lengths, and energies by its square; the driven share, known to 0.01, divides the
//! friction. Each draw has its own stream of a fixed seed, so the result does not depend on the order of threads.
//!
//! # Source
//! Combination in squares and intervals from standard uncertainties: JCGM 100:2008 (GUM), 5.1.2 and annex G. The
//! draws of the inputs are those of JCGM 101:2008, but only their spread is used: the intervals are not its
//! quantiles.

mod budget;
mod own;
mod quantity;
mod reason;

pub use budget::{Part, Share, Sources};
pub use quantity::{COVERAGE_FACTOR, ModelWeights, Quantity, Result95};
pub use reason::QuantityReason;

use crate::analysis::{Analysis, analyse, car_facts};
use crate::camera::{View, relocate};
use crate::findings::{Effect, Estimate, Finding, Findings, Key, RollingSource};
use crate::motion::{ReleaseByReadout, Tuning};
use crate::priors::{DRIVEN_SHARE_SD, Input, Priors};
use crate::track::Track;
use budget::Factor;
use own::Surer;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use rayon::prelude::*;
use std::collections::BTreeMap;

/// Draws when the caller does not say.
pub const DEFAULT_DRAWS: usize = 200;
/// The same clip and sheet must give the same bytes, so the seed is fixed.
const SEED: u64 = 0x6772_6970;

/// The analysis with its 95 % intervals.
pub fn with_intervals(track: &Track, best: &Analysis, priors: &Priors, draws: usize) -> Result95 {
    let mut tuning = best.motion.tuning.clone();
    // What weighs nothing on the best inputs is not fitted again on every draw.
    if let Ok(path) = &best.findings.path {
        tuning.shapes = path.worth_fitting();
    }
    if let (None, Ok(release)) = (&best.view.moving, best.motion.release) {
        let readout = &priors.readout_s;
        tuning.release = ReleaseByReadout::about(release, readout.value, track, readout.sd);
    }
    let from = drawn_from(track, best);
    let (shorter, tuning) = (track.starting_at(from), tuning.starting_at(from));
    let repeats: Vec<Repeat> = (0..draws)
        .into_par_iter()
        .filter_map(|draw| repeat(&shorter, best, priors, &tuning, draw as u64))
        .collect();
    let scale_rel_sd = best.view.scale.as_ref().map_or(0.0, |scale| scale.rel_sd);
    let surer = Surer::of(best, &car_facts(priors));
    let wheel_drawn = wheel_drawn(best, &repeats);
    let quantity = |of: &dyn Fn(&Findings) -> Finding, factors: &[Factor]| {
        let value = of(&best.findings);
        let own = surer.parts(&value, of);
        let sources = budget::sources(&value, own, &repeats, wheel_drawn, of, factors);
        (combine(&value, &sources), sources.shares())
    };
    let mut values = BTreeMap::new();
    let mut budgets = BTreeMap::new();
    for key in Key::ALL {
        let factors = [
            (
                Input::PlainScale,
                power_of_scale(key, &best.findings) * scale_rel_sd,
            ),
            (Input::DrivenShare, by_driven_share(key, priors)),
        ];
        let (value, shares) = quantity(&|f| f.get(key), &factors);
        values.insert(key, bounded(key, value));
        budgets.insert(key, shares);
    }
    let scaled = [(Input::PlainScale, scale_rel_sd)];
    let effects = Effect::ALL
        .into_iter()
        .map(|effect| (effect, quantity(&|f| f.effect(effect), &scaled).0))
        .collect();
    Result95 {
        values,
        effects,
        budgets,
        models: model_weights(&best.findings),
        frame_spread: frame_spread(best, &repeats, from, (&surer, wheel_drawn)),
        draws: repeats.len(),
        scale_rel_sd,
    }
}

fn model_weights(findings: &Findings) -> ModelWeights {
    let Ok(path) = &findings.path else {
        return ModelWeights::default();
    };
    let (driven, other) = path.sway_weights();
    ModelWeights {
        curve: path.compared.weight(|s| s.curves),
        curve_coasts_on: path.coasts_on,
        yaw: path.compared.weight(|s| s.yaws),
        sway_of_driven_wheel: driven,
        sway_at_another_rate: other,
    }
}

/// Uncertainty of a frame's columns that is the same all along the clip, standard deviations.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct FrameSpread {
    /// Of the slip ratio.
    pub slip: f64,
    /// Of the deviation, m.
    pub deviation_m: f64,
    /// Of the speed, m/s.
    pub speed_m_per_s: f64,
    /// Of the rim's speed, m/s.
    pub rim_speed_m_per_s: f64,
}

/// One repeat: what was found, and how far each size was moved.
struct Repeat {
    findings: Findings,
    moved: Vec<f64>,
}

/// So much of the rest before the release is worked out again in each draw, s ...
const REST_DRAWN_S: f64 = 0.5;
/// ... and no fewer frames: the looks at rest that count are among them.
const REST_DRAWN_FRAMES: usize = 24;

/// The frame from which on the draws look. A rest says the same in every frame, and a car may stand for a minute before
/// it goes. All frames where the camera moves, since they show how it does.
fn drawn_from(track: &Track, best: &Analysis) -> usize {
    let release = best.motion.release.as_ref().ok();
    let Some(release) = release.filter(|_| best.view.moving.is_none()) else {
        return 0;
    };
    let rest = |until_s: f64| track.times_s.partition_point(|time_s| *time_s < until_s);
    let enough = rest(release.time_s).saturating_sub(REST_DRAWN_FRAMES);
    rest(release.time_s - REST_DRAWN_S).min(enough)
}

/// One repeat with drawn inputs.
fn repeat(
    track: &Track,
    best: &Analysis,
    priors: &Priors,
    tuning: &Tuning,
    draw: u64,
) -> Option<Repeat> {
    let mut random = ChaCha8Rng::seed_from_u64(SEED);
    random.set_stream(draw + 1);
    let (drawn, shifts) = priors.drawn(&mut random);
    let mut moved = track.clone();
    for mark in &mut moved.floor {
        let (u, v): (f64, f64) = (
            StandardNormal.sample(&mut random),
            StandardNormal.sample(&mut random),
        );
        mark.u_px += u * mark.sd_px;
        mark.v_px += v * mark.sd_px;
    }
    shake_paths(&mut moved, &best.view, &mut random);
    let view = relocate(&moved, &drawn.camera_sheet(), &best.view);
    let tuning = tuning.drawn(&mut random);
    analyse(&moved, view, &drawn, Some(tuning))
        .ok()
        .map(|a| Repeat {
            findings: a.findings,
            moved: shifts,
        })
}

/// Errors of a followed floor mark are alike from one frame to the next by about this share.
const PATH_CORRELATION: f64 = 0.6;

/// Draws the errors of the looks at floor marks by which a moving camera was followed.
fn shake_paths(track: &mut Track, view: &View, random: &mut ChaCha8Rng) {
    let Some(moving) = &view.moving else { return };
    let factor = moving.tuning.variance_factor;
    let fresh = (1.0 - PATH_CORRELATION * PATH_CORRELATION).sqrt();
    for path in &mut track.floor_paths {
        let mut error = [0.0, 0.0];
        for (index, (_, place)) in path.steps.iter_mut().enumerate() {
            for value in &mut error {
                let normal: f64 = StandardNormal.sample(random);
                *value = if index == 0 {
                    normal
                } else {
                    PATH_CORRELATION * *value + fresh * normal
                };
            }
            place.u_px += error[0] * (factor * place.var_u_px2).sqrt();
            place.v_px += error[1] * (factor * place.var_v_px2).sqrt();
        }
    }
}

/// The share of the draws whose rolling radius comes from where the best one does: only these move with the wheel on the
/// sheet as it does. A coast that is just long enough to give a radius is so in some draws only.
fn wheel_drawn(best: &Analysis, repeats: &[Repeat]) -> f64 {
    let source = |findings: &Findings| findings.rolling.as_ref().ok().map(|r| r.source);
    let own = source(&best.findings);
    let alike = repeats.iter().filter(|r| source(&r.findings) == own);
    alike.count() as f64 / repeats.len().max(1) as f64
}

/// Fewer draws than this have no spread.
const MIN_DRAWS: usize = 3;

fn standard_deviation(values: &[f64]) -> f64 {
    let n = values.len() as f64;
    if values.len() < MIN_DRAWS {
        return 0.0;
    }
    let mean = values.iter().sum::<f64>() / n;
    (values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (n - 1.0)).sqrt()
}

/// By which power of the floor's scale a quantity grows.
fn power_of_scale(key: Key, findings: &Findings) -> f64 {
    match key {
        Key::PeakSpeedMPerS
        | Key::DistanceM
        | Key::SpunAwayM
        | Key::GainWithoutSlipM
        | Key::FinalDeviationM
        | Key::WobbleM
        | Key::CoastDecelerationMPerS2
        | Key::RollingResistance
        | Key::GripCoefficient => 1.0,
        Key::EnergyMovingCarJ | Key::EnergyLostInSlipJ | Key::EnergyLostRollingJ => 2.0,
        // Half the sheet's diameter knows nothing of the picture's scale.
        Key::RollingRadiusM => match &findings.rolling {
            Ok(rolling) if rolling.source == RollingSource::RunSheet => 0.0,
            _ => 1.0,
        },
        Key::ReleaseS
        | Key::PoweredS
        | Key::WheelTurns
        | Key::MaxSlip
        | Key::DriftMPerM
        | Key::AimErrorRad
        | Key::CurvaturePerM
        | Key::ImpliedSkewRad
        | Key::StringSlipTurns
        | Key::LooseWheelTurns => 0.0,
    }
}

/// What the share of the weight on the driven axle is not known by, as a share of the result: friction is a force
/// over the load on the driven wheels.
fn by_driven_share(key: Key, priors: &Priors) -> f64 {
    match (key, priors.driven_share) {
        (Key::GripCoefficient, Some(share)) => DRIVEN_SHARE_SD / share,
        _ => 0.0,
    }
}

fn combine(best: &Finding, sources: &Sources) -> Quantity {
    match best {
        Ok(Estimate { value, sd }) if value.is_finite() && sd.is_finite() => {
            let half = sources.coverage_factor() * sources.total_sd();
            Quantity::stated(*value, value - half, value + half)
        }
        Ok(_) => Quantity::not_observable(QuantityReason::Indeterminate),
        Err(reason) => Quantity::not_observable(*reason),
    }
}

/// Quantities that cannot be negative keep their interval above zero.
fn bounded(key: Key, quantity: Quantity) -> Quantity {
    match (key, quantity) {
        (
            Key::PeakSpeedMPerS
            | Key::DistanceM
            | Key::RollingRadiusM
            | Key::WobbleM
            | Key::MaxSlip,
            Quantity::Stated { value, low, high },
        ) => Quantity::stated(value, low.max(0.0).min(value), high),
        (_, other) => other,
    }
}

fn frame_spread(
    best: &Analysis,
    repeats: &[Repeat],
    from: usize,
    (surer, wheel_drawn): (&Surer, f64),
) -> Vec<FrameSpread> {
    (0..best.findings.frames.len())
        .map(|frame| {
            let of = |get: &dyn Fn(&crate::findings::FrameFinding) -> Option<f64>| {
                let values: Vec<f64> = repeats
                    .iter()
                    .filter_map(|r| get(r.findings.frames.get(frame.max(from) - from)?))
                    .collect();
                standard_deviation(&values)
            };
            FrameSpread {
                // The sheet's wheel is in the frame's own uncertainty already, and counts once.
                slip: (of(&|f| f.slip.map(|s| s.ratio)).powi(2)
                    - wheel_drawn * surer.slip_by_wheel(&best.findings, frame))
                .max(0.0)
                .sqrt(),
                deviation_m: of(&|f| f.deviation.map(|d| d.0)),
                speed_m_per_s: of(&|f| f.speed_m_per_s),
                rim_speed_m_per_s: of(&|f| f.rim_speed_m_per_s),
            }
        })
        .collect()
}

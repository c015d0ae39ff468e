//! What a finding's own standard uncertainty is made of, before any draw: the marks' places in the picture, the
//! sizes of the sheet that enter the findings alone, and what the methods leave open.
//!
//! The findings are worked out again with one of these less uncertain at a time; by how much the variance falls
//! is that one's part (JCGM 100:2008, 5.1.2: a sum of squares). What none of them explains is the methods' own.

use crate::analysis::Analysis;
use crate::camera::Scale;
use crate::findings::{CarFacts, Finding, Findings, find};
use crate::motion::{BodyState, Lever, Motion, WheelState};
use nalgebra::Vector2;

/// By this factor the variances of all observations are made smaller. Near 1, so that whatever weighs observations
/// against each other, and is no straight line in their variances, stays at its place.
const QUIETER: f64 = 0.9;

/// The findings of the same motion, each with one thing less uncertain.
pub(super) struct Surer {
    quieter: Findings,
    wheel: Findings,
    string: Findings,
    scale: Findings,
}

/// Parts of a finding's own variance.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(super) struct OwnParts {
    /// From the marks' places in the picture, frame by frame.
    pub(super) noise: f64,
    /// From the wheel's diameter on the sheet. The draws move it as well.
    pub(super) wheel: f64,
    /// From the string's and the axle's sizes.
    pub(super) string: f64,
    /// From a plain scale, where it does not only multiply the result.
    pub(super) scale: f64,
    /// What none of these explains.
    pub(super) method: f64,
}

impl Surer {
    /// Works them out.
    pub(super) fn of(best: &Analysis, car: &CarFacts) -> Self {
        let by = |car: &CarFacts| find(&best.motion, &best.view, car);
        let mut even = best.view.clone();
        if let Ok(scale) = &mut even.scale {
            *scale = Scale {
                rel_sd: 0.0,
                uneven: 0.0,
            };
        }
        Self {
            quieter: find(&quieter(&best.motion, car.lever), &best.view, car),
            wheel: by(&CarFacts {
                wheel_radius_m: car.wheel_radius_m.map(|(radius, _)| (radius, 0.0)),
                ..*car
            }),
            string: by(&CarFacts {
                string_turns: car.string_turns.map(|(turns, _)| (turns, 0.0)),
                ..*car
            }),
            scale: find(&best.motion, &even, car),
        }
    }

    /// The parts of a finding's variance.
    pub(super) fn parts(&self, best: &Finding, of: &dyn Fn(&Findings) -> Finding) -> OwnParts {
        // What is no number is told as not observable, and has no parts.
        let Some(best) = best.as_ref().ok().filter(|best| best.sd.is_finite()) else {
            return OwnParts::default();
        };
        let all = best.sd * best.sd;
        let mut left = all;
        let mut fall = |surer: &Findings, per: f64| {
            let var = of(surer).map_or(all, |e| e.sd * e.sd);
            let part = ((all - var) / per).clamp(0.0, left);
            left -= part;
            part
        };
        let wheel = fall(&self.wheel, 1.0);
        let string = fall(&self.string, 1.0);
        let scale = fall(&self.scale, 1.0);
        let noise = fall(&self.quieter, 1.0 - QUIETER);
        OwnParts {
            noise,
            wheel,
            string,
            scale,
            method: left,
        }
    }

    /// Variance of a frame's slip that comes from the wheel's diameter on the sheet.
    pub(super) fn slip_by_wheel(&self, best: &Findings, frame: usize) -> f64 {
        let var = |findings: &Findings| {
            let slip = findings.frames.get(frame)?.slip?;
            Some(slip.sd * slip.sd)
        };
        match (var(best), var(&self.wheel)) {
            (Some(all), Some(surer)) => (all - surer).max(0.0),
            _ => 0.0,
        }
    }
}

/// The motion as observations of smaller errors would give it: variances times [`QUIETER`], and each observation as
/// much nearer to the smoothed motion.
fn quieter(motion: &Motion, lever: Lever) -> Motion {
    let mut out = motion.clone();
    for state in out.body.states.iter_mut().flatten() {
        quieten_body(state, lever);
    }
    for wheel in [&mut out.wheel, &mut out.axle].into_iter().flatten() {
        wheel.states.iter_mut().flatten().for_each(quieten_wheel);
    }
    out
}

fn quieten_body(state: &mut BodyState, lever: Lever) {
    state.covariance *= QUIETER;
    let (sin, cos) = state.heading_rad().sin_cos();
    let expected = Vector2::new(
        state.x_m() + lever.ahead_m * cos - lever.left_m * sin,
        state.y_m() + lever.ahead_m * sin + lever.left_m * cos,
    );
    if let Some(observation) = &mut state.observation {
        observation.at_m = expected + (observation.at_m - expected) * QUIETER.sqrt();
        observation.var_px2 *= QUIETER;
    }
}

fn quieten_wheel(state: &mut WheelState) {
    state.covariance *= QUIETER;
    let angle = state.angle_rad();
    if let Some((observation, var)) = &mut state.observation {
        *observation = angle + (*observation - angle) * QUIETER.sqrt();
        *var *= QUIETER;
    }
}

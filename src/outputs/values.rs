//! What was measured in each frame, each value with its interval: one source for `frames.csv`, the
//! charts and the overlay.

use super::{Measures, Story};
use crate::findings::Phase;
use crate::motion::{BodyState, WheelState};
use crate::texts::{Texts, say};
use crate::uncertainty::COVERAGE_FACTOR;
use std::f64::consts::TAU;

/// A value and the ends of its 95 % interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Band {
    /// Best value.
    pub value: f64,
    /// Low end.
    pub low: f64,
    /// High end.
    pub high: f64,
}

impl Band {
    /// A value with the same half width on both sides.
    pub fn about(value: f64, half: f64) -> Self {
        Self {
            value,
            low: value - half,
            high: value + half,
        }
    }

    /// The same in another unit.
    #[must_use]
    pub fn times(self, factor: f64) -> Self {
        Self {
            value: self.value * factor,
            low: self.low * factor,
            high: self.high * factor,
        }
    }
}

/// What was measured in one frame; `None` where it was not seen or cannot be told.
#[derive(Debug, Clone, Copy, Default)]
pub struct FrameValues {
    /// Real time since the first frame, s; `None` where the clip's clock cannot be believed. Nothing with
    /// a second in its unit is known then.
    pub time_s: Option<f64>,
    /// Reference point along the aim line, m.
    pub x_m: Option<f64>,
    /// Reference point to the left, m.
    pub y_m: Option<f64>,
    /// Heading, rad.
    pub heading_rad: Option<f64>,
    /// Speed, m/s.
    pub speed: Option<Band>,
    /// Acceleration, m/s².
    pub acceleration: Option<f64>,
    /// Angle of the driven wheel, rad.
    pub wheel_angle: Option<Band>,
    /// Its rate, rad/s.
    pub wheel_rate: Option<f64>,
    /// Speed of the rim, m/s.
    pub rim_speed: Option<Band>,
    /// Slip ratio.
    pub slip: Option<Band>,
    /// Distance from the aim line, left positive, m.
    pub deviation: Option<Band>,
    /// Way since the first frame in view, m.
    pub travelled_m: Option<f64>,
    /// Part of the run.
    pub phase: Option<Phase>,
    /// Whether the sticker was hidden.
    pub sticker_hidden: bool,
    /// Whether the wheel mark was hidden, where there is one.
    pub wheel_hidden: bool,
    /// Whether the wheel made more than half a turn since the frame before.
    pub turn_ambiguous: bool,
}

/// A frame's moment in words: its time, or its number where the clock cannot be believed.
pub(super) fn when(texts: &Texts, frame: usize, time_s: Option<f64>) -> String {
    time_s.map_or_else(
        || say!(texts, "frame-at", frame = frame),
        |time_s| format!("{} s", texts.fixed(time_s, 2)),
    )
}

/// The values of every frame of a story.
pub fn frame_values(story: &Story<'_>) -> Vec<FrameValues> {
    let mut out: Vec<FrameValues> = (story.track.times_s.iter().zip(&story.track.sticker))
        .map(|(&time_s, sticker)| FrameValues {
            time_s: story.clock_doubt.is_none().then_some(time_s),
            sticker_hidden: sticker.is_none(),
            ..FrameValues::default()
        })
        .collect();
    let Ok(measures) = &story.measured else {
        return out;
    };
    for (frame, values) in out.iter_mut().enumerate() {
        fill(values, story, measures, frame);
    }
    if measures.view.scale.is_ok() {
        for moment in crate::findings::moments(measures.motion) {
            if let Some(values) = out.get_mut(moment.frame) {
                values.travelled_m = Some(moment.travelled_m);
            }
        }
    }
    out
}

fn fill(values: &mut FrameValues, story: &Story<'_>, measures: &Measures<'_>, frame: usize) {
    let metres = measures.view.scale.is_ok();
    let lateral = measures.view.lateral.is_ok();
    let timed = story.clock_doubt.is_none();
    let body = measures.motion.body.states.get(frame).copied().flatten();
    let wheel = measures.motion.wheel.as_ref().ok();
    let turning = wheel.and_then(|w| w.states.get(frame).copied().flatten());
    let found = measures
        .findings
        .frames
        .get(frame)
        .copied()
        .unwrap_or_default();
    let spread = measures
        .result
        .frame_spread
        .get(frame)
        .copied()
        .unwrap_or_default();
    let scale = measures.result.scale_rel_sd;
    if let Some(body) = body.filter(|_| metres) {
        values.x_m = Some(body.x_m());
        values.y_m = lateral.then_some(body.y_m());
        values.heading_rad = lateral.then_some(body.heading_rad());
        values.speed = timed.then(|| speed(&body, spread.speed_m_per_s, scale));
        values.acceleration = timed.then_some(body.acceleration_m_per_s2());
    }
    values.wheel_angle = turning.map(|w| {
        Band::about(
            w.angle_rad(),
            COVERAGE_FACTOR * w.angle_var_rad2().max(0.0).sqrt(),
        )
    });
    values.wheel_rate = turning.filter(|_| timed).map(|w| w.rate_rad_per_s());
    values.rim_speed = found
        .rim_speed_m_per_s
        .filter(|_| metres && timed)
        .map(|rim| {
            let half = turning.map_or(0.0, |w| {
                rim_half(&w, measures, spread.rim_speed_m_per_s, scale)
            });
            Band::about(rim, half)
        });
    values.slip = found
        .slip
        .map(|s| Band::about(s.ratio, COVERAGE_FACTOR * s.sd.hypot(spread.slip)));
    values.deviation = found
        .deviation
        .map(|d| Band::about(d.0, COVERAGE_FACTOR * d.1.hypot(spread.deviation_m)));
    values.phase = found.phase;
    values.wheel_hidden =
        wheel.is_some() && story.track.wheel.get(frame).is_none_or(Option::is_none);
    values.turn_ambiguous = turning.is_some_and(|w| w.ambiguous);
}

/// The speed with what differs from frame to frame, what is alike (`spread`) and the scale.
fn speed(body: &BodyState, spread: f64, scale: f64) -> Band {
    let own = body.speed_sd_m_per_s();
    let half = COVERAGE_FACTOR * own.hypot(spread).hypot(body.speed_m_per_s() * scale);
    Band::about(body.speed_m_per_s(), half)
}

/// Half width of a rim speed's interval: rate times radius, both uncertain (JCGM 100, 5.1.3). A radius
/// from the coast shares the floor's scale.
fn rim_half(wheel: &WheelState, measures: &Measures<'_>, spread: f64, scale: f64) -> f64 {
    let Ok(rolling) = &measures.findings.rolling else {
        return 0.0;
    };
    let radius = rolling.radius_m;
    let rate_sd = wheel.rate_sd_rad_per_s();
    let rim = wheel.rate_rad_per_s() * radius.value;
    COVERAGE_FACTOR
        * (rate_sd * radius.value)
            .hypot(wheel.rate_rad_per_s() * radius.sd)
            .hypot(spread)
            .hypot(rim * scale)
}

/// Turns of the wheel since the first frame in which it was seen, with the interval.
pub(super) fn turns(values: &[FrameValues]) -> Vec<Option<Band>> {
    let first = values.iter().find_map(|v| v.wheel_angle).map(|b| b.value);
    values
        .iter()
        .map(|v| {
            let (angle, first) = (v.wheel_angle?, first?);
            Some(Band {
                value: (angle.value - first) / TAU,
                low: (angle.low - first) / TAU,
                high: (angle.high - first) / TAU,
            })
        })
        .collect()
}

/// What a phase is called in the files.
pub(super) const fn phase_word(phase: Phase) -> &'static str {
    match phase {
        Phase::Rest => "rest",
        Phase::Powered => "powered",
        Phase::Coast => "coast",
        Phase::Stopped => "stopped",
    }
}

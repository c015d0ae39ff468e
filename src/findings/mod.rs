//! What the motion says: slip, path, the string's work, the coast. Plain numbers with uncertainties;
//! no causes yet.
//!
//! # The end of the pull, the coast, the energy
//!
//! The end of the pull (`ending.rs`) is a change point in the wheel's turn: a cubic before, a parabola after, joined
//! in value and rate. Turns up to there against the string's budget show a string that slips; an axle mark that turned
//! more than the wheel mark shows a loose wheel. The coast (`coast.rs`) is fitted as `a + b v²` with b as such cars
//! have it. How large errors are that last as long as the coast is taken from the powers of the time just beyond its
//! own, which no coast has, together with what is expected of a camera. Over simulated observations with errors of
//! 0.07 px and slow ones of 0, 0.1 and 0.2 px that last for 0.15 s, 95 % intervals of 60 observations held the truth
//! in 100, 92 and 87 % of 1500 coasts; without that 100, 89 and 78 %. Energies (`energy.rs`) follow from accelerations
//! and all that is accelerated: the mass, and what the wheels' turning adds to it. Turns that no driving wheel can
//! make (far fewer than the way, or a rolling radius far off the sheet's) are taken for a mistaken mark, and
//! everything that rests on them is not observable.
//!
//! # What slip costs
//!
//! The distance wasted in wheelspin is `∫ (ω R - v) dt`. What the car would gain without it follows from the energy
//! that slip took, over what rolling and air take for each metre, from the coast in the same clip; the mass
//! cancels. The head of `gain.rs` has the derivation and its conditions. Without a coast no gain is stated.

mod coast;
mod drive;
mod ending;
mod energy;
mod gain;
mod keys;
mod least;
mod off_line;
mod path;
mod pull;
mod reason;
mod slip;
mod units;

pub use coast::{Coast, ORDINARY_LOSS, fit_coast};
pub use ending::ChangePoint;
pub use keys::{Effect, Key};
pub use off_line::implied_skew_rad;
pub use path::{PathFit, fit_path};
pub use pull::{Pull, find_pull};
pub use reason::{FindingReason, Missing};
pub use slip::{RollingRadius, RollingSource, SlipAt, rolling_radius, slip_at, slip_ratio};

use crate::camera::View;
use crate::motion::{BodyState, Lever, Motion, MotionReason, WheelState};
use serde::Serialize;
use std::collections::BTreeMap;

/// A value with its standard uncertainty.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    /// Best value, in the unit of its key.
    pub value: f64,
    /// Standard uncertainty.
    pub sd: f64,
}

/// An estimate, or why there is none.
pub type Finding = Result<Estimate, FindingReason>;

/// Which part of the run a frame belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Phase {
    /// Before the release.
    Rest,
    /// From the release to the end of the pull.
    Powered,
    /// Afterwards.
    Coast,
    /// Standing again.
    Stopped,
}

/// What was found for one frame.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct FrameFinding {
    /// Part of the run, where the car was in view.
    pub phase: Option<Phase>,
    /// Speed of the car, m/s.
    pub speed_m_per_s: Option<f64>,
    /// Rim speed, m/s.
    pub rim_speed_m_per_s: Option<f64>,
    /// Slip ratio where it is defined.
    pub slip: Option<SlipAt>,
    /// Signed distance from the aim line, left positive, m, and its standard uncertainty.
    pub deviation: Option<(f64, f64)>,
}

/// Way from the start at which distances off line are stated as well as at the end of the view, m.
pub const STATED_DISTANCE_M: f64 = 5.0;

/// Everything found in a run.
#[derive(Debug, Clone, PartialEq)]
pub struct Findings {
    /// The quantities.
    pub values: BTreeMap<Key, Finding>,
    /// An entry a frame.
    pub frames: Vec<FrameFinding>,
    /// The pull: its end and whether that was seen.
    pub pull: Pull,
    /// The path's shape, where sideways motion can be seen.
    pub path: Result<PathFit, FindingReason>,
    /// The rolling radius and where it comes from, where there is one.
    pub rolling: Result<RollingRadius, FindingReason>,
    /// What each fault cost, m.
    pub effects: BTreeMap<Effect, Finding>,
}

impl Findings {
    /// What a fault cost.
    ///
    /// # Errors
    /// Why it is not observable.
    pub fn effect(&self, effect: Effect) -> Finding {
        self.effects
            .get(&effect)
            .copied()
            .unwrap_or(Err(FindingReason::NotComputed))
    }

    /// A quantity.
    ///
    /// # Errors
    /// Why it is not observable.
    pub fn get(&self, key: Key) -> Finding {
        self.values
            .get(&key)
            .copied()
            .unwrap_or(Err(FindingReason::NotComputed))
    }
}

/// What the findings need to know of the car, SI.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CarFacts {
    /// Half of the driven wheel's diameter and its standard uncertainty, m, if given.
    pub wheel_radius_m: Option<(f64, f64)>,
    /// Wheelbase, m.
    pub wheelbase_m: Option<f64>,
    /// Turns that the string can give, and the standard uncertainty.
    pub string_turns: Option<(f64, f64)>,
    /// Share of the weight on the driven axle.
    pub driven_share: Option<f64>,
    /// Mass of the car, kg.
    pub mass_kg: Option<f64>,
    /// Start of the aim line, m.
    pub aim_from_m: [f64; 2],
    /// Direction of the aim line, rad.
    pub aim_heading_rad: f64,
    /// Where the sticker sits.
    pub lever: Lever,
    /// What the wheel rolls on where nothing better is known: half the sheet's diameter or a typical one, m.
    pub rolls_on_m: f64,
}

/// Below this rim speed slip is undefined: both speeds are then of the size of their errors, m/s.
pub const MIN_RIM_SPEED_M_PER_S: f64 = 0.25;
/// Standard gravity, m/s² (3rd CGPM, 1901).
pub const STANDARD_GRAVITY_M_PER_S2: f64 = 9.806_65;

/// A frame with car and, perhaps, wheel.
#[derive(Debug, Clone, Copy)]
pub struct Moment<'a> {
    /// Frame index.
    pub frame: usize,
    /// The car.
    pub body: &'a BodyState,
    /// The wheel.
    pub wheel: Option<&'a WheelState>,
    /// Way of the reference point since the first frame in view, m.
    pub travelled_m: f64,
}

/// Frames in which the car was in view, with the way travelled.
pub fn moments(motion: &Motion) -> Vec<Moment<'_>> {
    let mut travelled_m = 0.0;
    let mut before: Option<&BodyState> = None;
    let mut out = Vec::new();
    for (frame, state) in motion.body.states.iter().enumerate() {
        let Some(body) = state.as_ref() else { continue };
        if let Some(last) = before {
            travelled_m += (body.x_m() - last.x_m())
                .hypot(body.y_m() - last.y_m())
                .copysign(body.speed_m_per_s());
        }
        before = Some(body);
        let wheel = motion
            .wheel
            .as_ref()
            .ok()
            .and_then(|wheel| wheel.states[frame].as_ref());
        out.push(Moment {
            frame,
            body,
            wheel,
            travelled_m,
        });
    }
    out
}

/// A driving wheel cannot turn less than the car goes; seen to do so by more than this share of the way,
/// and surely, it is not the wheel that was seen.
const LESS_THAN_ROLLING: f64 = 0.04;
/// A rolling radius that is off half the sheet's diameter by more than this share, and surely, is not the
/// wheel's: the mark or its turns were mistaken.
const OFF_SHEET: f64 = 0.12;
/// Surely: this many standard uncertainties.
const SURELY: f64 = 4.0;

/// Everything that the motion says. A wheel whose turns cannot be a wheel's is left out.
pub fn find(motion: &Motion, view: &View, car: &CarFacts) -> Findings {
    let out = find_all(motion, view, car);
    match wheel_in_doubt(&out, car) {
        None => out,
        Some(why) => {
            let without = Motion {
                wheel: Err(why),
                ..motion.clone()
            };
            find_all(&without, view, car)
        }
    }
}

/// Why the wheel's turns are not to be believed.
fn wheel_in_doubt(out: &Findings, car: &CarFacts) -> Option<MotionReason> {
    let way = out.get(Key::DistanceM).ok()?.value;
    if let (Ok(rolling), Some((sheet, sheet_sd))) = (&out.rolling, car.wheel_radius_m) {
        let off = (rolling.radius_m.value - sheet).abs();
        if off > OFF_SHEET * sheet && off > SURELY * rolling.radius_m.sd.hypot(sheet_sd) {
            return Some(MotionReason::OtherWheel {
                rolls_on_m: rolling.radius_m.value,
                sheet_m: sheet,
            });
        }
    }
    let spun = out.get(Key::SpunAwayM).ok()?;
    let short_m = -spun.value;
    (short_m > LESS_THAN_ROLLING * way && short_m > SURELY * spun.sd)
        .then_some(MotionReason::TurnedLess { short_m })
}

fn find_all(motion: &Motion, view: &View, car: &CarFacts) -> Findings {
    let moments = moments(motion);
    let pull = find_pull(motion, &moments, car);
    let rolling = view
        .travel
        .map_err(FindingReason::from)
        .and_then(|()| rolling_radius(motion, &moments, &pull, car, &view.scale));
    let radius_m = rolling
        .as_ref()
        .map_or(car.rolls_on_m, |rolling| rolling.radius_m.value);
    let path = match &view.lateral {
        Ok(()) => {
            let peak = moments.iter().find(|moment| pull.past_peak(moment));
            fit_path(motion, car, radius_m, peak.map(|moment| moment.travelled_m))
        }
        Err(why) => Err((*why).into()),
    };
    let mut frames = vec![FrameFinding::default(); motion.body.states.len()];
    for moment in &moments {
        frames[moment.frame] = FrameFinding {
            phase: Some(pull.phase(moment)),
            speed_m_per_s: Some(moment.body.speed_m_per_s()),
            rim_speed_m_per_s: rim_speed(moment, rolling.as_ref().ok()),
            slip: rolling.as_ref().ok().and_then(|r| slip_at(moment, r)),
            deviation: view
                .lateral
                .is_ok()
                .then(|| off_line::deviation(moment, car)),
        };
    }
    let mut out = Findings {
        values: BTreeMap::new(),
        frames,
        pull,
        path,
        rolling,
        effects: BTreeMap::new(),
    };
    pull::add_quantities(motion, &moments, &mut out);
    let coast = coast::add_quantities(&moments, car, &mut out);
    slip::add_quantities(motion, view, &moments, car, &mut out);
    gain::add_quantities(&moments, &coast, &mut out);
    drive::add_quantities(motion, &moments, car, &mut out);
    energy::add_quantities(&moments, car, &coast, &mut out);
    off_line::add_quantities(&moments, car, &mut out);
    units::without_metres(view, &mut out);
    if motion.wheel.is_err() && motion.axle.is_err() {
        without_string_end(&mut out.frames);
    }
    out
}

/// Where no wheel is seen, its string may have run out long before the car stopped gaining speed: which of
/// those frames were pulled is not told.
fn without_string_end(frames: &mut [FrameFinding]) {
    for frame in frames {
        frame.phase = frame.phase.filter(|phase| *phase != Phase::Powered);
    }
}

fn rim_speed(moment: &Moment<'_>, rolling: Option<&RollingRadius>) -> Option<f64> {
    let wheel = moment.wheel.filter(|wheel| !wheel.forecast)?;
    Some(wheel.rate_rad_per_s() * rolling?.radius_m.value)
}

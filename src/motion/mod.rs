//! From marks in pixels to a car on the floor: smooth place, heading, speed, and wheel angle.
//!
//! # Smoothing
//!
//! The release is found first, as the change point between rest and the beginning of a parabola in the sticker's and
//! the wheel mark's pixels. The car's state is x, y, heading, speed, acceleration and curvature; a car goes where it
//! points. Before the release the state does not change at all, which ties down place and heading; at the release the
//! acceleration may jump; afterwards its change is white noise. The model is curved, so it is linearised about the
//! path of the pass before, run through a Kalman filter and a Rauch-Tung-Striebel smoother, and this is done three
//! times. After the first pass two numbers are set by maximum likelihood of the prediction errors, in turn: the
//! density of the jerk, and the factor by which the pixel variances are larger than the disc fits claim. Observations
//! with a residual out of all proportion lose weight. The wheel has the same smoother on its angle, after the mark's
//! circle was fitted on the plane of the wheel's face. Two frames past the last observation no slip is stated any
//! more. A wheel that is first seen more than three frames after the release gives no totals: its turns, largest slip
//! and spun-away distance are not observable, and the slip that was in view is the least that grip cost
//! (`Effect::SpunInView`).
//!
//! # Row time (`rows.rs`)
//!
//! A sheet without `readout_ms` leaves 12 ± 5 ms, less at high frame rates. The likelihood of the wheel's and the
//! body's observations (a quarter of it, since errors are alike) narrows that: on drawn clips with 12 ms it gave 9.9
//! to 17 ms, each with its uncertainty, and 11 to 14 ms hand-held, where the picture shears.
//!
//! # Turns (`turns.rs`)
//!
//! Up to 32 hypotheses, each with its own count of turns, angle, rate and change of rate, are carried through all
//! observations; an observation may be of something else, and a rate must fit the car (as fast as it rolls while it
//! coasts, not slower while it is driven). Observations from where another count is nearly as good on are left out;
//! where that is early, or more than a fifth of the observations are over half a turn apart, slip is not observable,
//! with the frame rate that would settle it. Several marks, each in a colour of its own, are looks at one angle at
//! their own rows' times: with the milliseconds between rows they tell a fast wheel from a slow one, which at one
//! instant they could not.
//!
//! # Change points (`change_points.rs`)
//!
//! A smoother that does not know a change point rounds the speed off for a tenth of a second to both sides. So it is
//! asked where a jump would be worth most (de Jong and Penzer's diagnosis of shocks: one backward pass gives the gain
//! in likelihood for every moment, `smoothing/shocks.rs`), a jump is allowed there, jerk and variances are tuned anew,
//! and this is repeated while the gain pays for the search. A change point of the car's is one of its wheel's too. In
//! each Monte Carlo draw the change points' moments move within what their likelihoods leave open. One change point
//! more may hide where the observations say little, above all in the last frames: the smoothed motion is the mixture
//! over those moments, each with its likelihood, a third of it in all at most. Within five steps of the end no change
//! point is taken for sure, since one odd observation passes for it. They took the speed's error on the drawn clips
//! from 0.20 to 0.13 % of the peak in the mean, and the clean clip's from 0.13 to 0.08 %.
//!
//! # Rival shapes of the path (`shape.rs`, `findings/path.rs`)
//!
//! Heading is a start, plus a constant curve, plus a turn for every metre spun away, plus a sway in step with the
//! driven wheel or with a wheel of another size. Every combination is fitted to the sticker's *unsmoothed* sideways
//! observations, and weighs by its likelihood (BIC, with the observations' likeness and the search over rates paid
//! for). Each number is the mean over the models. Where a sway or a turn through spinning is sure, its course is given
//! to the smoother and both are settled in rounds; heading's sway and the car's rise and fall are then found together
//! by the filter's likelihood (`refine.rs`), since both move the sticker sideways in the picture. They are sought from
//! several beginnings (`seen.rs`): each round must make the sticker's places likelier, and the wheel's mark nearer to a
//! circle, which it leaves where the car points another way than was found.

mod body;
mod car_model;
mod change_points;
mod reason;
mod refine;
mod release;
mod rows;
mod seen;
mod shape;
mod spin;
mod steadied;
mod sway;
mod turns;
mod uneven;
mod wheel;

pub use body::{Body, BodyState, FloorObservation, smooth_body};
pub use change_points::Settled;
pub use reason::MotionReason;
pub use refine::SwayCourse;
pub use release::{Release, ReleaseByReadout, find_release};
pub use rows::settle_readout;
pub use shape::{
    CURVE, Compared, Lever, Phase, SWAY_COS, SWAY_SIN, Shape, ShapeFit, ShapeObservation, YAW,
    compare, fit_shape, runs_far_enough,
};
pub use sway::{FreeRate, Line, find_sway, may_yaw, other_rate, shape_observations, shapes};
pub use uneven::Uneven;
pub use wheel::{Circling, Wheel, WheelState, WheelTuning, smooth_wheel};

use crate::camera::View;
use crate::track::Track;
use nalgebra::{Point3, Vector2};
use rand::Rng;
use seen::{Seen, Smoothed};

/// What the motion stage needs of the run sheet: the car's own geometry, SI units.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CarGeometry {
    /// Height of the sticker's centre above the floor, m.
    pub sticker_height_m: f64,
    /// Distance of the sticker ahead of the driven axle, m.
    pub sticker_ahead_m: f64,
    /// Distance of the sticker to the left of the car's centre line, m.
    pub sticker_left_m: f64,
    /// Half of the driven wheel's diameter, m: the hub's height.
    pub hub_height_m: f64,
    /// Distance of the wheel's marked face to the left of the centre line, m.
    pub face_left_m: f64,
    /// Distance of the wheel mark from the hub, if the sheet gives it, m.
    pub mark_radius_m: Option<f64>,
    /// Start of the aim line, m.
    pub aim_from_m: Vector2<f64>,
    /// Direction of the aim line, radians to the left of x.
    pub aim_heading_rad: f64,
    /// Time that the sensor takes from its first row to its last, s.
    pub readout_s: f64,
}

impl CarGeometry {
    /// The sticker's place when the reference point is at (x, y) and the car heads `heading_rad`.
    pub fn sticker(&self, x: f64, y: f64, heading_rad: f64) -> Point3<f64> {
        let (sin, cos) = heading_rad.sin_cos();
        let (ahead, left) = (self.sticker_ahead_m, self.sticker_left_m);
        Point3::new(
            x + ahead * cos - left * sin,
            y + ahead * sin + left * cos,
            self.sticker_height_m,
        )
    }

    /// The hub's place on the marked face of the driven wheel.
    pub fn hub(&self, x: f64, y: f64, heading_rad: f64) -> Point3<f64> {
        let (sin, cos) = heading_rad.sin_cos();
        Point3::new(
            x - self.face_left_m * sin,
            y + self.face_left_m * cos,
            self.hub_height_m,
        )
    }
}

/// Parameters of the smoothers that are estimated once and then kept.
#[derive(Debug, Clone, PartialEq)]
pub struct Tuning {
    /// The release, where it need not be sought again.
    pub release: Option<ReleaseByReadout>,
    /// The car's path.
    pub body: Settled,
    /// The wheel's turn, where it was seen.
    pub wheel: Option<WheelTuning>,
    /// The axle's turn, where it was seen.
    pub axle: Option<WheelTuning>,
    /// The sway of a wobbling wheel, where one was found.
    pub sway: Option<SwayCourse>,
    /// A rate, other than the driven wheel's, at which the sideways observations may sway.
    pub free_rate: Option<FreeRate>,
    /// Shapes of the path that are worth fitting; empty: all.
    pub shapes: Vec<Shape>,
}

impl Tuning {
    /// The same where frames are counted from a later one.
    #[must_use]
    pub fn starting_at(&self, from: usize) -> Self {
        let wheel = |tuning: &Option<WheelTuning>| tuning.as_ref().map(|w| w.starting_at(from));
        Self {
            wheel: wheel(&self.wheel),
            axle: wheel(&self.axle),
            sway: self.sway.as_ref().map(|sway| sway.starting_at(from)),
            ..self.clone()
        }
    }

    /// The same with the moments of the motion's change points, and the parts of its sway, moved at random within
    /// their uncertainties.
    #[must_use]
    pub fn drawn(&self, random: &mut impl Rng) -> Self {
        Self {
            body: self.body.drawn(random),
            wheel: self.wheel.as_ref().map(|tuning| tuning.drawn(random)),
            axle: self.axle.as_ref().map(|tuning| tuning.drawn(random)),
            sway: self.sway.as_ref().map(|sway| sway.drawn(random)),
            ..self.clone()
        }
    }
}

/// How the car moved.
#[derive(Debug, Clone, PartialEq)]
pub struct Motion {
    /// When the car first moved, if a rest before it was seen.
    pub release: Result<Release, MotionReason>,
    /// The car on the floor, an entry a frame; `None` outside the span in which the sticker was seen.
    pub body: Body,
    /// The driven wheel; the reason where its turning cannot be seen.
    pub wheel: Result<Wheel, MotionReason>,
    /// The axle, where its end carries a mark of its own; the reason where its turning cannot be seen.
    pub axle: Result<Wheel, MotionReason>,
    /// What the smoothers settled on.
    pub tuning: Tuning,
}

/// Estimates the motion. With `tuning` given, nothing is re-estimated (for repeats on slightly other
/// inputs).
///
/// # Errors
/// The reason where the sticker's path cannot be put on the floor.
pub fn estimate(
    track: &Track,
    view: &View,
    car: &CarGeometry,
    tuning: Option<Tuning>,
) -> Result<Motion, MotionReason> {
    let known = tuning.as_ref().and_then(|known| known.release);
    let release = match &known {
        Some(known) => Ok(known.at(car.readout_s)),
        None => release(track, view, car),
    };
    let seen = Seen {
        track,
        view,
        car,
        released_s: release.as_ref().ok().map(|r| r.time_s),
    };
    let Smoothed { body, wheel, sway } = match &tuning {
        None => seen.smoothed_with_its_sway()?,
        Some(known) => seen.smoothed_again(known)?,
    };
    let axle = seen.axle(&body, tuning.as_ref().and_then(|known| known.axle.as_ref()));
    let settled =
        |wheel: &Result<Wheel, MotionReason>| wheel.as_ref().ok().map(|w| w.tuning.clone());
    let tuning = Tuning {
        release: known,
        body: body.settled.clone(),
        wheel: settled(&wheel),
        axle: settled(&axle),
        sway,
        free_rate: match &tuning {
            Some(known) => known.free_rate,
            None => other_rate(&body, wheel.as_ref().ok(), car),
        },
        shapes: tuning.map_or_else(Vec::new, |known| known.shapes),
    };
    Ok(Motion {
        release,
        body: body.widened(),
        wheel,
        axle,
        tuning,
    })
}

/// When the car first moved.
fn release(track: &Track, view: &View, car: &CarGeometry) -> Result<Release, MotionReason> {
    match (&view.travel, &view.moving) {
        // What moves in the picture of a camera that is not followed may be the camera.
        (Err(why), _) => Err((*why).into()),
        (Ok(()), None) => find_release(track, car.readout_s),
        (Ok(()), Some(_)) => find_release(&steadied::steadied(track, view, car), car.readout_s),
    }
}

/// Step of numerical derivatives by parameters of the order of 1: about the cube root of what doubles round to.
const STEP: f64 = 1e-6;
/// Looks at a mark before it moves say the same over and over, and before a codec that repeats what stands
/// still they are one: the last few of them count.
const REST_OBSERVATIONS: usize = 8;

/// Which of the observations count, one at each of these times.
fn counting(times_s: &[f64], seen: impl Fn(usize) -> bool, released_s: Option<f64>) -> Vec<bool> {
    let rest = released_s.map_or(0, |t0| times_s.partition_point(|time| *time <= t0));
    let mut counts = vec![true; times_s.len()];
    let resting = (0..rest).rev().filter(|index| seen(*index));
    for index in resting.skip(REST_OBSERVATIONS) {
        counts[index] = false;
    }
    counts
}

/// Transition over `dt` of (value, rate, change of rate), and its noise for a white change of the
/// third derivative with spectral density 1.
pub(crate) fn jerk_model(dt: f64) -> ([[f64; 3]; 3], [[f64; 3]; 3]) {
    let (d2, d3) = (dt * dt, dt * dt * dt);
    let (d4, d5) = (d2 * d2, d2 * d3);
    (
        [[1.0, dt, d2 / 2.0], [0.0, 1.0, dt], [0.0, 0.0, 1.0]],
        [
            [d5 / 20.0, d4 / 8.0, d3 / 6.0],
            [d4 / 8.0, d3 / 3.0, d2 / 2.0],
            [d3 / 6.0, d2 / 2.0, dt],
        ],
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_last_looks_at_rest_count_and_all_that_follow() {
        let times_s: Vec<f64> = (0..20).map(f64::from).collect();
        let seen = |index: usize| index != 11;
        let counts = counting(&times_s, seen, Some(12.5));
        assert_eq!(
            counts.iter().position(|counts| *counts),
            Some(4),
            "{counts:?}"
        );
        assert!(counts[4..].iter().all(|counts| *counts));
        assert!(counting(&times_s, seen, None).iter().all(|counts| *counts));
    }
}

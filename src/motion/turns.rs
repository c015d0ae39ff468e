//! How often the wheel has turned: one decision over the whole clip.
//!
//! A look at the mark gives the wheel's angle but for whole turns, and may be of something else. Many
//! hypotheses are carried along side by side, each with its own count of turns, angle, rate and change
//! of rate (a Kalman filter); each observation is weighed by how well a hypothesis foresaw it, and by whether
//! the wheel's rim could move so beside this car: a rolling wheel goes with the car, a driven one may go
//! faster. The count is what the best of them says at the end, and where another count is nearly as
//! good the count is not known.
//!
//! # Source
//! Multiple-hypothesis tracking: D. B. Reid, An algorithm for tracking multiple targets, IEEE Trans.
//! Automatic Control 24(6), 1979.

mod counted;

pub(super) use counted::Counted;

use super::jerk_model;
use crate::smoothing::{Gain, Observation, StateEstimate};
use nalgebra::{Matrix3, SMatrix, SVector, Vector3};
use std::f64::consts::{PI, TAU};

/// A look at the mark.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct AngleObservation {
    /// Frame index.
    pub(super) frame: usize,
    /// The row's time, s.
    pub(super) time_s: f64,
    /// Angle but for whole turns, rad.
    pub(super) angle_rad: f64,
    /// Its variance as the disc fit claims it, rad².
    pub(super) variance: f64,
}

/// What the car does at a time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Pace {
    /// Rate of a wheel that rolls at the car's speed, rad/s.
    pub(super) rolling_rate: f64,
    /// How far it may be wrong through the sizes, a share of it.
    pub(super) rel_sd: f64,
    /// Whether the car is past its highest speed, so that nothing drives the wheel.
    pub(super) coasting: bool,
}

/// The counted turns.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Turns {
    /// Angle with whole turns, an entry an observation; `None` for observations of something else, and from where the
    /// count is not sure.
    pub(super) angles: Vec<Option<f64>>,
    /// Frames in which the wheel had turned by more than half a turn since the observation before.
    pub(super) ambiguous: Vec<bool>,
    /// Observations before any other count is nearly as good.
    pub(super) sure_observations: usize,
    /// Highest rate, rad/s.
    pub(super) top_rate: f64,
}

/// Hypotheses carried along.
const WIDTH: usize = 32;
/// A change of a wheel's acceleration by some 200 rad/s² from one frame to the next at 60 frames a
/// second is ordinary where it starts or ceases to slip, rad²/s⁵. Common practice, no source.
const JERK_DENSITY: f64 = 2.5e6;
/// A car that coasts changes its loss of speed by a metre a second squared in half a second at most, and
/// its wheel with it. Common practice, no source.
const COAST_JERK_DENSITY: f64 = 2e3;
/// A spring that lets go gives a wheel up to about this, rad/s². Common practice, no source.
const START_ACCELERATION: f64 = 400.0;
/// Observations are worse than disc fits claim by about this factor, and never better than this, rad².
const VARIANCE_FACTOR: f64 = 6.0;
const FLOOR_VARIANCE: f64 = 0.03 * 0.03;
/// Share of observations that are of something else.
const STRAY_SHARE: f64 = 0.03;
/// Neighbouring frames say nearly the same of how car and wheel agree: each counts for this much.
const PACE_SHARE: f64 = 0.2;
/// Rates within this of what rolling gives are nothing remarkable, rad/s.
const PACE_SD: f64 = 3.0;
/// A count must be this much likelier than another, as a logarithm: errors of neighbouring frames are
/// alike, so this stands for odds of about twenty to one.
const SURE_LEAD: f64 = 6.0;
/// Hypotheses nearer to each other than these are one.
const SAME_ANGLE: f64 = 0.4;
const SAME_RATE: f64 = 8.0;

#[derive(Debug, Clone, Copy)]
struct Hypothesis {
    estimate: StateEstimate<3>,
    log_likelihood: f64,
    /// Its newest entry in the history.
    entry: Option<usize>,
}

/// An observation taken by a hypothesis, and the entry before.
#[derive(Debug, Clone, Copy)]
struct Entry {
    observation: usize,
    angle: f64,
    before: Option<usize>,
}

/// Counts the turns. `observations` are in order of time; `pace` has an entry a frame.
pub(super) fn count_turns(
    observations: &[AngleObservation],
    pace: &[Option<Pace>],
    released_s: Option<f64>,
) -> Turns {
    let mut history: Vec<Entry> = Vec::new();
    let mut hypotheses: Vec<Hypothesis> = Vec::with_capacity(WIDTH);
    let mut next: Vec<Hypothesis> = Vec::with_capacity(4 * WIDTH);
    let mut last_s = 0.0;
    for (index, observation) in observations.iter().enumerate() {
        if hypotheses.is_empty() {
            hypotheses.push(first(observation, released_s, &mut history));
            last_s = observation.time_s;
            continue;
        }
        let coasts = pace[observation.frame].is_some_and(|p| p.coasting);
        let density = if coasts {
            COAST_JERK_DENSITY
        } else {
            JERK_DENSITY
        };
        let ahead = Ahead::between(last_s, observation.time_s, released_s, density);
        next.clear();
        for hypothesis in &hypotheses {
            let ahead = ahead.as_ref().map_or(*hypothesis, |by| by.of(hypothesis));
            let ahead = Hypothesis {
                log_likelihood: ahead.log_likelihood
                    + pace_gain(&ahead.estimate, pace[observation.frame]),
                ..ahead
            };
            branch(&ahead, observation, index, &mut history, &mut next);
        }
        prune(&next, &mut hypotheses);
        last_s = observation.time_s;
    }
    decided(observations, pace.len(), &hypotheses, &history)
}

fn first(
    observation: &AngleObservation,
    released_s: Option<f64>,
    history: &mut Vec<Entry>,
) -> Hypothesis {
    let resting = released_s.is_some_and(|t| observation.time_s < t);
    let (rate, change) = if resting {
        (0.0, 0.0)
    } else {
        (60.0 * 60.0, START_ACCELERATION * START_ACCELERATION)
    };
    history.push(Entry {
        observation: 0,
        angle: observation.angle_rad,
        before: None,
    });
    let variance = variance_of(observation);
    Hypothesis {
        estimate: StateEstimate {
            mean: Vector3::new(observation.angle_rad, 0.0, 0.0),
            covariance: Matrix3::from_diagonal(&Vector3::new(variance, rate, change)),
        },
        log_likelihood: 0.0,
        entry: Some(history.len() - 1),
    }
}

fn variance_of(observation: &AngleObservation) -> f64 {
    observation.variance * VARIANCE_FACTOR + FLOOR_VARIANCE
}

/// How every hypothesis goes on to a later time: at rest until the release, then driven.
struct Ahead {
    transition: Matrix3<f64>,
    noise: Matrix3<f64>,
}

impl Ahead {
    /// `None` where nothing changes.
    fn between(from_s: f64, to_s: f64, released_s: Option<f64>, jerk_density: f64) -> Option<Self> {
        let (from_s, jump) = match released_s {
            Some(t0) if to_s <= t0 => return None,
            Some(t0) if from_s < t0 => (t0, START_ACCELERATION),
            _ => (from_s, 0.0),
        };
        let (transition, unit) = jerk_model(to_s - from_s);
        let transition = Matrix3::from_fn(|i, j| transition[i][j]);
        let column = transition.column(2) * jump;
        Some(Self {
            transition,
            noise: Matrix3::from_fn(|i, j| unit[i][j]) * jerk_density + column * column.transpose(),
        })
    }

    fn of(&self, hypothesis: &Hypothesis) -> Hypothesis {
        let before = &hypothesis.estimate;
        let turned = self.transition * before.covariance * self.transition.transpose();
        Hypothesis {
            estimate: StateEstimate {
                mean: self.transition * before.mean,
                covariance: turned + self.noise,
            },
            ..*hypothesis
        }
    }
}

/// What the car's own pace says of a wheel's rate, as a logarithm of likelihood.
fn pace_gain(estimate: &StateEstimate<3>, pace: Option<Pace>) -> f64 {
    let Some(pace) = pace else { return 0.0 };
    let sd = PACE_SD
        .hypot(pace.rel_sd * pace.rolling_rate)
        .hypot(estimate.covariance[(1, 1)].max(0.0).sqrt());
    let off = (estimate.mean[1] - pace.rolling_rate) / sd;
    // A driven wheel may spin as it likes; one that turns slower than the car rolls is dragged.
    let counts = if pace.coasting { off } else { off.min(0.0) };
    -0.5 * PACE_SHARE * counts * counts
}

/// The ways to take an observation: the nearest whole turns about the forecast, or as of something else.
fn branch(
    ahead: &Hypothesis,
    observation: &AngleObservation,
    index: usize,
    history: &mut Vec<Entry>,
    next: &mut Vec<Hypothesis>,
) {
    next.push(Hypothesis {
        log_likelihood: ahead.log_likelihood + (STRAY_SHARE / TAU).ln(),
        ..*ahead
    });
    let nearest = ((ahead.estimate.mean[0] - observation.angle_rad) / TAU).round();
    let at = |turns: f64| Observation {
        design: SMatrix::<f64, 1, 3>::new(1.0, 0.0, 0.0),
        value: SVector::<f64, 1>::new(observation.angle_rad + turns * TAU),
        noise: SMatrix::<f64, 1, 1>::new(variance_of(observation)),
    };
    // The three differ in their angle alone.
    let Some(gain) = Gain::of(&ahead.estimate, &at(nearest)) else {
        return;
    };
    for turns in [nearest - 1.0, nearest, nearest + 1.0] {
        let measured = at(turns);
        let (estimate, likelihood) = gain.taken(&ahead.estimate, &measured);
        history.push(Entry {
            observation: index,
            angle: measured.value[0],
            before: ahead.entry,
        });
        next.push(Hypothesis {
            estimate,
            log_likelihood: ahead.log_likelihood + likelihood + (1.0 - STRAY_SHARE).ln(),
            entry: Some(history.len() - 1),
        });
    }
}

/// Keeps the likeliest of `all`, each standing for those that are nearly the same.
fn prune(all: &[Hypothesis], kept: &mut Vec<Hypothesis>) {
    let mut order: Vec<(f64, usize)> = (all.iter().enumerate())
        .map(|(index, one)| (one.log_likelihood, index))
        .collect();
    order.sort_unstable_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
    kept.clear();
    for (_, index) in order {
        let candidate = &all[index];
        let apart = |kept: &Hypothesis| {
            let off = candidate.estimate.mean - kept.estimate.mean;
            off[0].abs() > SAME_ANGLE || off[1].abs() > SAME_RATE
        };
        if kept.iter().all(apart) {
            kept.push(*candidate);
        }
        if kept.len() == WIDTH {
            break;
        }
    }
}

/// The angles that a hypothesis took, an entry an observation.
fn taken(observations: usize, hypothesis: &Hypothesis, history: &[Entry]) -> Vec<Option<f64>> {
    let mut angles = vec![None; observations];
    let mut entry = hypothesis.entry;
    while let Some(at) = entry.map(|index| history[index]) {
        angles[at.observation] = Some(at.angle);
        entry = at.before;
    }
    angles
}

fn decided(
    observations: &[AngleObservation],
    frames: usize,
    hypotheses: &[Hypothesis],
    history: &[Entry],
) -> Turns {
    let mut out = Turns {
        angles: vec![None; observations.len()],
        ambiguous: vec![false; frames],
        sure_observations: 0,
        top_rate: 0.0,
    };
    let Some(best) = hypotheses.first() else {
        return out;
    };
    out.angles = taken(observations.len(), best, history);
    let mut before: Option<(f64, f64)> = None;
    for (observation, angle) in observations.iter().zip(&out.angles) {
        let Some(angle) = angle else { continue };
        if let Some((time_s, last)) = before {
            let turned = (angle - last).abs();
            out.ambiguous[observation.frame] |= turned > PI;
            out.top_rate = out
                .top_rate
                .max(turned / (observation.time_s - time_s).max(1e-3));
        }
        before = Some((observation.time_s, *angle));
    }
    out.sure_observations = sure_until(observations.len(), hypotheses, history);
    out.angles[out.sure_observations..].fill(None);
    out
}

/// First look from which a hypothesis nearly as likely as the best has another count; the number of
/// observations where there is none.
fn sure_until(observations: usize, hypotheses: &[Hypothesis], history: &[Entry]) -> usize {
    let Some((best, others)) = hypotheses.split_first() else {
        return 0;
    };
    let ours = taken(observations, best, history);
    others
        .iter()
        .filter(|other| best.log_likelihood - other.log_likelihood < SURE_LEAD)
        .filter_map(|other| {
            let theirs = taken(observations, other, history);
            let differs = |(a, b): (&Option<f64>, &Option<f64>)| {
                matches!((a, b), (Some(a), Some(b)) if (a - b).abs() > PI)
            };
            ours.iter().zip(&theirs).position(differs)
        })
        .min()
        .unwrap_or(observations)
}

#[cfg(test)]
mod tests {
    use super::*;

    const R: f64 = 0.05;

    /// Looks at a wheel that rests until 0.2 s and then turns by `angle(t)`, every `1 / fps` s.
    fn observations(fps: f64, until_s: f64, angle: impl Fn(f64) -> f64) -> Vec<AngleObservation> {
        (0..(until_s * fps) as usize)
            .map(|frame| {
                let time_s = frame as f64 / fps;
                let turned = if time_s > 0.2 {
                    angle(time_s - 0.2)
                } else {
                    0.0
                };
                AngleObservation {
                    frame,
                    time_s,
                    angle_rad: (1.0 + turned).sin().atan2((1.0 + turned).cos()),
                    variance: 1e-4,
                }
            })
            .collect()
    }

    fn rolling(observations: &[AngleObservation], rate: impl Fn(f64) -> f64) -> Vec<Option<Pace>> {
        let pace = |observation: &AngleObservation| Pace {
            rolling_rate: if observation.time_s > 0.2 {
                rate(observation.time_s - 0.2)
            } else {
                0.0
            },
            rel_sd: 0.05,
            coasting: observation.time_s > 1.2,
        };
        observations
            .iter()
            .map(|observation| Some(pace(observation)))
            .collect()
    }

    fn turned(turns: &Turns) -> f64 {
        let mut seen = turns.angles.iter().flatten();
        let first = seen.next().unwrap();
        seen.last().unwrap() - first
    }

    #[test]
    fn a_wheel_that_gathers_speed_is_counted_through_a_gap() {
        // 2 m/s² for a second, then steady: closed form.
        let angle = |t: f64| {
            if t < 1.0 {
                t * t / R
            } else {
                (2.0 * t - 1.0) / R
            }
        };
        let mut observations = observations(60.0, 2.0, angle);
        let pace = rolling(&observations, |t| 2.0 * t.min(1.0) / R);
        observations.drain(60..75);
        let turns = count_turns(&observations, &pace, Some(0.2));
        let last = observations.last().unwrap().time_s - 0.2;
        assert!((turned(&turns) - angle(last)).abs() < 1e-6);
        assert!(turns.angles.iter().all(Option::is_some));
        assert!(turns.ambiguous.iter().filter(|a| **a).count() <= 1);
    }

    #[test]
    fn stray_looks_do_not_change_the_count() {
        let angle = |t: f64| 1.5 * t * t / R;
        let mut observations = observations(60.0, 1.5, angle);
        for frame in (20..85).step_by(5) {
            observations[frame].angle_rad = 0.4;
        }
        let pace = rolling(&observations, |t| 3.0 * t / R);
        let turns = count_turns(&observations, &pace, Some(0.2));
        let last = observations.last().unwrap().time_s - 0.2;
        assert!((turned(&turns) - angle(last)).abs() < 1e-6);
    }

    #[test]
    fn looks_less_than_half_a_turn_apart_unwrap_as_a_general_library_unwraps_them() {
        // `numpy.unwrap`, numpy 2.4.6: a wheel at rest for a fifth of a second, then at 100 rad/s², 30 observations a
        // second; right because every step is below half a turn (K. Itoh, Applied Optics 21 (1982) 2470, from memory).
        let seen = [
            -0.174_5, -0.174_5, -0.174_5, -0.174_5, -0.174_5, -0.174_5, -0.174_5, -0.119_0,
            0.047_7, 0.325_5, 0.714_4, 1.214_4, 1.825_5, 2.547_7, -2.902_2, -1.957_7, -0.902_2,
            0.264_5, 1.542_3, 2.931_2, -1.852_0, -0.240_9, 1.481_3, -2.968_5,
        ];
        let unwrapped = [
            -0.174_5, -0.174_5, -0.174_5, -0.174_5, -0.174_5, -0.174_5, -0.174_5, -0.119_0,
            0.047_7, 0.325_5, 0.714_4, 1.214_4, 1.825_5, 2.547_7, 3.381_0, 4.325_5, 5.381_0,
            6.547_7, 7.825_5, 9.214_4, 10.714_4, 12.325_5, 14.047_7, 15.881_1,
        ];
        let observations: Vec<AngleObservation> = (seen.into_iter().enumerate())
            .map(|(frame, angle_rad)| look_at(frame as f64 / 30.0, frame, angle_rad))
            .collect();
        let turns = count_turns(&observations, &vec![None; observations.len()], Some(0.2));
        let first = turns.angles[0].unwrap();
        for (found, expected) in turns.angles.iter().zip(unwrapped) {
            let found = found.unwrap() - first;
            // The observations above are rounded.
            assert!((found - (expected - unwrapped[0])).abs() < 2e-4, "{found}");
        }
        assert!(turns.ambiguous.iter().all(|frame| !frame));
    }

    #[test]
    fn a_step_of_more_than_half_a_turn_is_not_guessed() {
        // A step of 3.2 rad looks like one of -3.083185 rad, and `numpy.unwrap` says so; 3 rad and back to -3 rad may
        // be
        // 0.283 rad on. Where nothing but the mark is known, neither is stated.
        for seen in [vec![0.0, -3.083_185], vec![0.0, 3.0, -3.0]] {
            let observations: Vec<AngleObservation> = (seen.iter().enumerate())
                .map(|(frame, &angle)| look_at(0.1 * frame as f64, frame, angle))
                .collect();
            let turns = count_turns(&observations, &vec![None; observations.len()], None);
            assert_eq!(turns.sure_observations, 1);
            assert!(turns.angles[1..].iter().all(Option::is_none), "{turns:?}");
        }
    }

    fn look_at(time_s: f64, frame: usize, angle_rad: f64) -> AngleObservation {
        AngleObservation {
            frame,
            time_s,
            angle_rad,
            variance: 1e-4,
        }
    }

    #[test]
    fn a_wheel_that_jumps_to_a_turn_a_frame_is_not_counted_surely() {
        // At 30 frames a second, from rest to 1.1 turns a frame within a frame: 0.1 turns a frame
        // explain the looks as well (sampling theorem; C. E. Shannon, Proc. IRE 37 (1949) 10).
        let rate = 1.1 * TAU * 30.0;
        let observations = observations(30.0, 1.0, |t| rate * (t - 0.02).max(0.0));
        let pace = vec![None; observations.len()];
        let turns = count_turns(&observations, &pace, Some(0.2));
        let sure = turns.angles.iter().flatten().count();
        let short = turned(&turns) < 0.5 * rate * 0.78;
        assert!(short || sure < 10, "sure of {sure}");
    }

    #[test]
    fn a_second_mark_in_other_rows_tells_a_fast_wheel_from_a_slow_one() {
        // 1500 rad/s² to 1.1 turns a frame at 30 frames a second; an opposite mark is seen by rows 3 ms
        // later: the two angles of a frame alone give the rate to within 2 pi / 3 ms.
        let (pull, rate) = (1500.0, 1.1 * TAU * 30.0);
        let angle = |t: f64| {
            let until = t.min(rate / pull);
            0.5 * pull * until * until + rate * (t - until)
        };
        let one = observations(30.0, 1.0, angle);
        let mut both = one.clone();
        for observation in &one {
            let time_s = observation.time_s + 0.003;
            let turned = 1.0
                + if time_s > 0.2 {
                    angle(time_s - 0.2)
                } else {
                    0.0
                };
            both.push(AngleObservation {
                time_s,
                angle_rad: turned.sin().atan2(turned.cos()),
                ..*observation
            });
        }
        both.sort_by(|a, b| a.time_s.total_cmp(&b.time_s));
        let turns = count_turns(&both, &vec![None; one.len()], Some(0.2));
        let last = both.last().unwrap().time_s - 0.2;
        assert!(
            (turned(&turns) - angle(last)).abs() < 0.01,
            "{} of {}",
            turned(&turns),
            angle(last)
        );
    }
}

//! The filter, the smoother and the search for a maximum alone: against closed forms, against one dense least-squares
//! problem over the whole series, against another crate's filter, and under changes of unit, side and clock.

mod dense;

use super::*;
use adskalman::{
    KalmanFilterNoControl, ObservationModel, StateAndCovariance, TransitionModelLinearNoControl,
};
use nalgebra::{Matrix1, Matrix1x2, Matrix2, Matrix2x1, Vector1, Vector2, Vector3};
use proptest::prelude::*;
use proptest::test_runner::{Config, RngSeed};
use std::cell::Cell;

fn cases(cases: u32) -> Config {
    Config {
        cases,
        rng_seed: RngSeed::Fixed(41),
        failure_persistence: None,
        ..Config::default()
    }
}

#[track_caller]
fn near(what: &str, found: f64, expected: f64, tolerance: f64) {
    assert!(
        (found - expected).abs() <= tolerance * (1.0 + expected.abs()),
        "{what}: {found} for {expected}"
    );
}

fn number(value: f64) -> Vector1<f64> {
    Vector1::new(value)
}

/// A series of one model throughout, with nothing to see before long.
fn settled<const N: usize>(
    step: Step<N>,
    observation: Observation<N, 1>,
    start: SMatrix<f64, N, N>,
) -> Filtered<N> {
    let start = StateEstimate {
        mean: SVector::zeros(),
        covariance: start,
    };
    filter(start, &[step; 400], &[Some(observation); 401])
}

#[test]
fn a_scalar_filter_settles_at_the_root_of_its_riccati_equation() {
    // x' = a x + noise of variance q, seen with variance r: the predicted variance solves
    // P = a² P r / (P + r) + q, a quadratic; the gain is P / (P + r) (R. E. Kalman 1960, worked by hand).
    for (a, q, r) in [(1.0, 0.3, 2.0), (0.9, 0.3, 2.0), (-1.1, 0.05, 0.4)] {
        let step = Step {
            transition: Matrix1::new(a),
            offset: number(0.0),
            noise: Matrix1::new(q),
        };
        let observation = Observation {
            design: Matrix1::new(1.0),
            value: number(0.0),
            noise: Matrix1::new(r),
        };
        let filtered = settled(step, observation, Matrix1::new(50.0));
        let half = (r - a * a * r - q) / 2.0;
        let predicted = -half + (half * half + q * r).sqrt();
        let last = filtered.predicted.last().unwrap();
        near("predicted", last.covariance[0], predicted, 1e-12);
        let after = filtered.updated.last().unwrap();
        near(
            "updated",
            after.covariance[0],
            predicted * r / (predicted + r),
            1e-12,
        );
        let away = Observation {
            value: number(1.0),
            ..observation
        };
        let origin = StateEstimate {
            mean: number(0.0),
            ..*last
        };
        let (moved, _) = update(&origin, &away).unwrap();
        near("gain", moved.mean[0], predicted / (predicted + r), 1e-12);
    }
}

#[test]
fn a_filter_of_place_and_speed_settles_at_the_gains_of_the_tracking_index() {
    // Acceleration constant within each step T, random from step to step: P. R. Kalata, The tracking index, IEEE Trans.
    // Aerospace Electron. Syst. AES-20 (1984) 174: with L = T² sd_acceleration / sd_look,
    // beta² / (1 - alpha) = L² and beta = 2 (2 - alpha) - 4 sqrt(1 - alpha) (from memory).
    let (t, sd_acceleration, sd_observation) = (0.04, 7.0, 0.002);
    let push = Vector2::new(t * t / 2.0, t) * sd_acceleration;
    let step = Step {
        transition: Matrix2::new(1.0, t, 0.0, 1.0),
        offset: Vector2::zeros(),
        noise: push * push.transpose(),
    };
    let observation = Observation {
        design: Matrix1x2::new(1.0, 0.0),
        value: number(0.0),
        noise: Matrix1::new(sd_observation * sd_observation),
    };
    let filtered = settled(step, observation, Matrix2::identity());
    let at_rest = StateEstimate {
        mean: Vector2::zeros(),
        ..*filtered.predicted.last().unwrap()
    };
    let away = Observation {
        value: number(1.0),
        ..observation
    };
    let gains = update(&at_rest, &away).unwrap().0.mean;
    let (alpha, beta) = (gains[0], gains[1] * t);
    let index = t * t * sd_acceleration / sd_observation;
    near("index", beta * beta / (1.0 - alpha), index * index, 1e-9);
    near(
        "beta",
        beta,
        2.0 * (2.0 - alpha) - 4.0 * (1.0 - alpha).sqrt(),
        1e-9,
    );
}

proptest! {
    #![proptest_config(cases(60))]

    #[test]
    fn the_search_finds_the_top_of_any_hill(top in -3.0..5.0_f64, width in 0.5..3.0_f64, flat in 0.5..2.0_f64) {
        // Round or pointed; a likelihood is round.
        let hill = |x: f64| -((x - top) / width).abs().powf(2.0 * flat);
        for tolerance in [0.05, 0.001] {
            let tries = Cell::new(0);
            let found = maximise(-4.0, 6.0, tolerance, |x| {
                tries.set(tries.get() + 1);
                hill(x)
            });
            prop_assert!((found - top).abs() <= 3.0 * tolerance, "{found} for {top}");
            let mirrored = maximise(-6.0, 4.0, tolerance, |x| hill(-x));
            prop_assert!((mirrored + found).abs() <= 6.0 * tolerance);
            // Golden sections alone take 10 and 18 (J. Kiefer, Proc. Amer. Math. Soc. 4 (1953) 502, from memory); a pointed
            // hill, to whose top no parabola leads, may take some more.
            prop_assert!(tries.get() <= 30, "{}", tries.get());
        }
    }

    /// With the top beyond an end that end is found.
    #[test]
    fn a_search_stays_between_its_ends(top in 7.0..20.0_f64) {
        let found = maximise(-4.0, 6.0, 0.01, |x| -(x - top).powi(2));
        prop_assert!((5.9..=6.0).contains(&found), "{found}");
    }
}

#[test]
fn a_place_without_a_likelihood_is_not_taken() {
    // The search begins at -0.18, where there is none.
    let found = maximise(-4.0, 6.0, 0.01, |x| {
        if x < 0.5 {
            f64::NAN
        } else {
            -(x - 2.0).powi(2)
        }
    });
    assert!((found - 2.0).abs() < 0.03, "{found}");
}

#[test]
fn a_parabola_is_climbed_in_a_few_tries() {
    let tries = Cell::new(0);
    let found = maximise(-4.0, 6.0, 0.01, |x| {
        tries.set(tries.get() + 1);
        -(x - 1.234).powi(2)
    });
    assert!((found - 1.234).abs() < 1e-9, "{found}");
    assert!(tries.get() <= 8, "{}", tries.get());
}

/// Place and speed at an even beat for the other crate.
struct Beat {
    f: Matrix2<f64>,
    ft: Matrix2<f64>,
    q: Matrix2<f64>,
}

impl TransitionModelLinearNoControl<f64, nalgebra::U2> for Beat {
    fn F(&self) -> &Matrix2<f64> {
        &self.f
    }
    fn FT(&self) -> &Matrix2<f64> {
        &self.ft
    }
    fn Q(&self) -> &Matrix2<f64> {
        &self.q
    }
}

/// What is seen of them.
struct Seen {
    h: Matrix1x2<f64>,
    ht: Matrix2x1<f64>,
    r: Matrix1<f64>,
}

impl ObservationModel<f64, nalgebra::U2, nalgebra::U1> for Seen {
    fn H(&self) -> &Matrix1x2<f64> {
        &self.h
    }
    fn HT(&self) -> &Matrix2x1<f64> {
        &self.ht
    }
    fn R(&self) -> &Matrix1<f64> {
        &self.r
    }
}

#[test]
fn another_crates_filter_and_smoother_say_the_same() {
    // adskalman 0.17, on a place that jumps and stops, with three observations missing.
    let model = Model {
        f: Matrix2::new(1.0, 0.1, 0.0, 0.95),
        q: Matrix2::new(0.004, 0.01, 0.01, 0.09),
        h: Matrix1x2::new(1.0, -0.2),
        r: Matrix1::new(0.03),
    };
    let first = (Vector2::new(0.4, -1.0), Matrix2::new(0.5, 0.1, 0.1, 2.0));
    let missing = [5, 12, 13];
    let place = |i: i32| {
        if i < 10 {
            0.05 * f64::from(i * i % 7)
        } else {
            2.0 - 0.1 * f64::from(i % 4)
        }
    };
    let seen: Vec<Option<f64>> = (0..24)
        .map(|i| (!missing.contains(&i)).then(|| place(i)))
        .collect();
    let (filtered, smoothed) = model.by_ours(first, &seen);
    let (their_filtered, their_smoothed) = model.by_theirs(first, &seen);
    assert_eq!((their_filtered.len(), their_smoothed.len()), (24, 24));
    for i in 0..seen.len() {
        let pairs = [
            (&filtered[i], &their_filtered[i]),
            (&smoothed[i], &their_smoothed[i]),
        ];
        for (ours, theirs) in pairs {
            assert!((ours.mean - theirs.state()).norm() < 1e-9, "{i}");
            assert!((ours.covariance - theirs.covariance()).norm() < 1e-9, "{i}");
        }
    }
}

/// Transition, its noise, design and noise of an observation.
struct Model {
    f: Matrix2<f64>,
    q: Matrix2<f64>,
    h: Matrix1x2<f64>,
    r: Matrix1<f64>,
}

type Theirs = Vec<StateAndCovariance<f64, nalgebra::U2>>;

impl Model {
    /// Filtered and smoothed by the other crate, to which a missing observation is no number.
    fn by_theirs(
        &self,
        first: (Vector2<f64>, Matrix2<f64>),
        seen: &[Option<f64>],
    ) -> (Theirs, Theirs) {
        let beat = Beat {
            f: self.f,
            ft: self.f.transpose(),
            q: self.q,
        };
        let look = Seen {
            h: self.h,
            ht: self.h.transpose(),
            r: self.r,
        };
        let values: Vec<Vector1<f64>> = seen
            .iter()
            .map(|value| number(value.unwrap_or(f64::NAN)))
            .collect();
        let other = KalmanFilterNoControl::new(&beat, &look);
        let start = StateAndCovariance::new(first.0, first.1);
        (
            other.filter(&start, &values).unwrap(),
            other.smooth(&start, &values).unwrap(),
        )
    }

    /// Filtered and smoothed by ours. Theirs takes a step before the first observation; ours does not.
    fn by_ours(
        &self,
        first: (Vector2<f64>, Matrix2<f64>),
        seen: &[Option<f64>],
    ) -> (Vec<StateEstimate<2>>, Vec<StateEstimate<2>>) {
        let step = Step {
            transition: self.f,
            offset: Vector2::zeros(),
            noise: self.q,
        };
        let start = StateEstimate {
            mean: self.f * first.0,
            covariance: self.f * first.1 * self.f.transpose() + self.q,
        };
        let observation = |value: &Option<f64>| {
            value.map(|value| Observation {
                design: self.h,
                value: number(value),
                noise: self.r,
            })
        };
        let observations: Vec<Option<Observation<2, 1>>> = seen.iter().map(observation).collect();
        let steps = vec![step; seen.len() - 1];
        let filtered = filter(start, &steps, &observations);
        let smoothed = smooth(&filtered, &steps);
        (filtered.updated, smoothed)
    }
}

#[test]
fn what_is_known_exactly_stays_so_and_disturbs_nothing() {
    // Two walks and a constant without any spread: the walks' state estimates are those of each alone.
    let walk = |q: f64| Step {
        transition: Matrix1::new(1.0),
        offset: number(0.1),
        noise: Matrix1::new(q),
    };
    let values = [0.3, -0.2, 0.9, 1.4, 0.7];
    let joint = Step {
        transition: SMatrix::<f64, 3, 3>::identity(),
        offset: Vector3::new(0.1, 0.0, 0.1),
        noise: SMatrix::from_diagonal(&Vector3::new(0.2, 0.0, 1e-8)),
    };
    let start = StateEstimate {
        mean: Vector3::new(0.0, 5.0, 0.0),
        covariance: SMatrix::from_diagonal(&Vector3::new(1.0, 0.0, 1e-6)),
    };
    let observations: Vec<Option<Observation<3, 2>>> = values
        .iter()
        .map(|v| {
            Some(Observation {
                design: SMatrix::<f64, 2, 3>::new(1.0, 0.0, 0.0, 0.0, 0.0, 1.0),
                value: Vector2::new(*v, 1e-3 * v),
                noise: Matrix2::new(0.5, 0.0, 0.0, 1e-7),
            })
        })
        .collect();
    let steps = vec![joint; values.len() - 1];
    let estimates = smooth(&filter(start, &steps, &observations), &steps);
    for (state, unit, q, variance, noise) in [(0, 1.0, 0.2, 1.0, 0.5), (2, 1e-3, 1e-8, 1e-6, 1e-7)]
    {
        let alone: Vec<_> = values
            .iter()
            .map(|v| {
                Some(Observation {
                    design: Matrix1::new(1.0),
                    value: number(unit * v),
                    noise: Matrix1::new(noise),
                })
            })
            .collect();
        let start = StateEstimate {
            mean: number(0.0),
            covariance: Matrix1::new(variance),
        };
        let steps = vec![walk(q); values.len() - 1];
        let own = smooth(&filter(start, &steps, &alone), &steps);
        for (a, b) in estimates.iter().zip(&own) {
            near("mean", a.mean[state], b.mean[0], 1e-9);
            let ratio = a.covariance[(state, state)] / b.covariance[0];
            near("variance", ratio, 1.0, 1e-9);
            assert_eq!(a.mean[1], 5.0);
            assert_eq!(a.covariance[(1, 1)], 0.0);
        }
    }
}

#[test]
fn rounding_does_not_grow_over_a_long_series() {
    // Place, speed and acceleration, barely known at first, two mixtures of which are seen to a tenth of a millimetre
    // two thousand times.
    let dt: f64 = 1.0 / 240.0;
    let step = Step {
        transition: SMatrix::<f64, 3, 3>::new(1.0, dt, dt * dt / 2.0, 0.0, 1.0, dt, 0.0, 0.0, 1.0),
        offset: Vector3::zeros(),
        noise: SMatrix::from_diagonal(&Vector3::new(0.0, 0.0, 5.0 * dt)),
    };
    let start = StateEstimate {
        mean: Vector3::zeros(),
        covariance: SMatrix::from_diagonal(&Vector3::new(0.25, 9.0, 100.0)),
    };
    let observations: Vec<Option<Observation<3, 2>>> = (0..2000)
        .map(|i| {
            let t = f64::from(i) * dt;
            let (place, speed) = (t.sin() + 0.3 * t, t.cos() + 0.3);
            Some(Observation {
                design: SMatrix::<f64, 2, 3>::new(300.0, 20.0, 0.0, 5.0, -40.0, 0.0),
                value: Vector2::new(300.0 * place + 20.0 * speed, 5.0 * place - 40.0 * speed),
                noise: Matrix2::new(9e-4, 0.0, 0.0, 9e-4),
            })
        })
        .collect();
    let steps = vec![step; observations.len() - 1];
    let filtered = filter(start, &steps, &observations);
    for after in &filtered.updated {
        let askew = (after.covariance - after.covariance.transpose()).norm();
        assert!(askew <= 1e-9 * after.covariance.norm(), "{askew}");
    }
    let smoothed = smooth(&filtered, &steps);
    let (means, alone) = smooth_means(start, &steps, &observations);
    assert_eq!(alone, filtered.log_likelihood);
    for (i, (estimate, mean)) in smoothed.iter().zip(&means).enumerate() {
        let sds = estimate
            .covariance
            .diagonal()
            .map(|var| var.max(0.0).sqrt());
        let off = (estimate.mean - mean).component_div(&sds).amax();
        assert!(off < 1e-4, "{i}: {off} standard uncertainties apart");
    }
}

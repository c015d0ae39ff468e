//! Which run or measurement to make next, so that the answer's interval narrows most.
//!
//! The draws already hold how the answer and what a next run would show go together. For each setting that could be run,
//! what a run would show is predicted with every draw, and the part of the answer's variance that a straight line
//! through it explains is what the run would take away (the linear Bayes estimate; Goldstein and Wooff, Bayes Linear
//! Statistics, from memory). What differs from run to run stays, whatever is measured.

use super::Task;
use super::evidence::Setting;
use super::levers::Lever;
use super::predict::{Asked, Outcome, Runs};
use crate::uncertainty::COVERAGE_FACTOR;
use nalgebra::{Cholesky, DMatrix, DVector};
use serde::Serialize;
use statrs::statistics::Statistics;

/// Relative standard uncertainties with which a clip shows speed, length of the pull and loss in the coast; that of a tape
/// at the finish. Common practice, no source: a clip's own intervals are not known before it is filmed.
const SPEED: f64 = 0.008;
const POWERED: f64 = 0.03;
const COAST: f64 = 0.08;
const TAPE: f64 = 0.003;
/// Way lost in wheelspin, m.
const SPUN_M: f64 = 0.012;
/// A reading of the spring tells its moment this well, as a share.
const READING: f64 = 0.06;
/// What must be gained for an experiment to be told, as a share of the interval.
const WORTH: f64 = 0.03;

/// Something to do next.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Experiment {
    /// What to do, in words.
    pub what: String,
    /// Half of the answer's 95 % interval now and after it, in the answer's unit.
    pub half_now: f64,
    /// See `half_now`.
    pub half_then: f64,
    /// The unit.
    pub unit: &'static str,
}

/// What an answer's interval is of.
fn quantity(task: Task) -> (fn(&Outcome) -> f64, &'static str) {
    match task {
        Task::Distance { .. } | Task::Far => (|o| o.stop_m, "m"),
        Task::Fast { .. } => (|o| o.time_s, "s"),
        Task::NoSlip => (|o| o.demand, "of the grip"),
    }
}

/// Experiments that narrow the answer, best first: `planned` is the setting that the answer recommends.
pub(super) fn next_experiments(
    asked: &Asked<'_>,
    task: Task,
    now: &Setting,
    planned: &Setting,
) -> Vec<Experiment> {
    let (of, unit) = quantity(task);
    let mean: Vec<f64> = asked.outcomes(planned, Runs::Mean).iter().map(of).collect();
    let next: Vec<f64> = asked.outcomes(planned, Runs::Next).iter().map(of).collect();
    if mean.iter().chain(&next).any(|value| !value.is_finite()) {
        return Vec::new();
    }
    let whole = variance(&next);
    // What single runs scatter by, which no measurement takes away.
    let scatter = (whole - variance(&mean)).max(0.0);
    let half = |variance: f64| COVERAGE_FACTOR * variance.max(0.0).sqrt();
    let mut out: Vec<Experiment> = candidates(&asked.on_the_level(), now, planned)
        .into_iter()
        .filter_map(|(what, shown, noise)| {
            let then = scatter + left(&mean, &shown, &noise)?;
            Some(Experiment {
                what,
                half_now: half(whole),
                half_then: half(then.min(whole)),
                unit,
            })
        })
        .filter(|one| one.half_then < (1.0 - WORTH) * one.half_now)
        .collect();
    out.sort_by(|a, b| a.half_then.total_cmp(&b.half_then));
    out
}

type Shown = (String, Vec<Vec<f64>>, Vec<f64>);

/// What could be run and measured, on the level, and how well it would show.
fn candidates(asked: &Asked<'_>, now: &Setting, planned: &Setting) -> Vec<Shown> {
    let string = |share: f64| Lever::String.set(now, Lever::String.rounded(share * now.string_m));
    let settings = [
        ("the setting of this plan".to_owned(), planned.clone()),
        ("the present setting once more".to_owned(), now.clone()),
        (in_words(0.7, now), string(0.7)),
        (in_words(0.5, now), string(0.5)),
    ];
    let mut out = Vec::new();
    for (words, setting) in settings {
        let outcomes = asked.outcomes(&setting, Runs::Next);
        let clip = [
            column(&outcomes, |o| o.peak_speed_m_per_s.ln()),
            column(&outcomes, |o| o.powered_s.ln()),
            column(&outcomes, |o| o.coast_loss_m_per_s2.ln()),
            column(&outcomes, |o| o.spun_away_m),
        ];
        let noise = [SPEED, POWERED, COAST, SPUN_M];
        out.push((
            format!("film a run with {words}"),
            clip.to_vec(),
            noise.to_vec(),
        ));
        let mut taped = clip.to_vec();
        taped.push(column(&outcomes, |o| o.stop_m.ln()));
        out.push((
            format!("film a run with {words} and measure with a tape where it stands still"),
            taped,
            [noise.as_slice(), &[TAPE]].concat(),
        ));
    }
    let moment = |share: f64| {
        let of = |draw: &super::fit::Draw| {
            let car = asked
                .posterior
                .garage
                .car(&draw.point, asked.floor, now, [0.0; 3]);
            car.moment_n_m(share * car.swung_back_rad).ln()
        };
        asked.posterior.draws.iter().map(of).collect()
    };
    out.push((
        "hold the arm's end on a kitchen balance at two angles (eye protection on, base clamped)"
            .to_owned(),
        vec![moment(0.3), moment(0.9)],
        vec![READING, READING],
    ));
    out
}

fn in_words(share: f64, now: &Setting) -> String {
    format!(
        "{:.0} mm of string",
        1000.0 * Lever::String.rounded(share * now.string_m)
    )
}

fn column(outcomes: &[Outcome], of: fn(&Outcome) -> f64) -> Vec<f64> {
    outcomes.iter().map(of).collect()
}

fn variance(numbers: &[f64]) -> f64 {
    numbers.variance()
}

fn covariance(a: &[f64], b: &[f64]) -> f64 {
    a.covariance(b)
}

/// Variance of the answer that is left after something was shown; `None` where some car does not show it.
fn left(answer: &[f64], shown: &[Vec<f64>], noise: &[f64]) -> Option<f64> {
    if shown.iter().flatten().any(|value| !value.is_finite()) {
        return None;
    }
    let n = shown.len();
    let mut all = DMatrix::from_fn(n, n, |i, j| covariance(&shown[i], &shown[j]));
    for (place, sd) in noise.iter().enumerate() {
        all[(place, place)] += sd * sd;
    }
    let with = DVector::from_iterator(n, shown.iter().map(|column| covariance(column, answer)));
    let explained = with.dot(&Cholesky::new(all)?.solve(&with));
    Some((variance(answer) - explained).max(0.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_shown_with_noise_takes_its_share_away() {
        // By hand: x of variance 1 seen with noise of variance 1 leaves one half of the variance.
        let answer: Vec<f64> = (0..2000).map(|i| f64::from(i % 2) * 2.0 - 1.0).collect();
        let whole = variance(&answer);
        let half = left(&answer, std::slice::from_ref(&answer), &[whole.sqrt()]).unwrap();
        assert!((half - whole / 2.0).abs() < 1e-9, "{half}");
        let sure = left(&answer, std::slice::from_ref(&answer), &[1e-6]).unwrap();
        assert!(sure < 1e-6);
        // What has nothing to do with it takes nothing away.
        let other: Vec<f64> = (0..2000).map(|i| f64::from((i / 2) % 2)).collect();
        let all = left(&answer, &[other], &[0.1]).unwrap();
        assert!((all - whole).abs() < 1e-9);
    }
}

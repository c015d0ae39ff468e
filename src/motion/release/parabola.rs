//! How well a mark's way agrees with a rest until a release and a parabola from then on.

use super::{SEARCH_BACK_S, Signal, UNMOVED_S};
use crate::noise::{cauchy_cost, cauchy_weight};
use nalgebra::{Matrix3, Vector3};

/// A pull that changes, and a mark on a wheel that leaves its tangent, add a cubic to the parabola: about
/// this share of it at the end of the part that is looked at. A string that takes up its slack pulls with half
/// of its strength at first and with all of it after that long: `j t / 3 a` is then a third.
const CUBIC_SHARE: f64 = 0.35;
/// Residuals of more than about this many scatters weigh less: a picture that is steadied badly for some
/// frames must not move the release.
const OUTLIER: f64 = 2.5;
/// Rounds of weighing.
const ROUNDS: usize = 6;

/// What is left of a mark's way for a release at each of the times, twice the negative logarithm of likelihood but for a
/// constant.
pub(super) fn misfits(signal: &Signal, times: &[f64], latest: f64) -> Vec<f64> {
    let mut as_seen = Observations::of(signal, latest, 1.0);
    let costs: Vec<f64> = times.iter().map(|t0| as_seen.misfit(*t0)).collect();
    let least = (0..times.len()).min_by(|a, b| costs[*a].total_cmp(&costs[*b]));
    // A mark that does not go as a parabola says less than its scatter at rest would have it.
    let worse = least.map_or(1.0, |least| as_seen.spread(times[least]));
    if worse <= 1.0 {
        return costs;
    }
    let mut doubted = Observations::of(signal, latest, worse);
    times.iter().map(|t0| doubted.misfit(*t0)).collect()
}

/// A mark's way as rows of a linear model, each less what its error shares with the one before and in units of what is
/// left of the error. Only the powers of the time since the release differ from one release to another, and of those
/// before it they are 0: what does not differ is worked out once.
struct Observations {
    times_s: Vec<f64>,
    values: Vec<f64>,
    /// The constant's column, its square, and its product with the values.
    ones: Vec<f64>,
    ones_squared: Vec<f64>,
    ones_by_values: Vec<f64>,
    /// What the powers of the time are divided by, and the share of the one before that is taken from them.
    scatter: Vec<f64>,
    share: Vec<f64>,
    fresh: f64,
    /// Last place, no less than its scatter, px, and when it was seen.
    end_px: f64,
    end_s: f64,
    /// The powers' columns for the release that is tried, from its first moving observation on, and the weights.
    powers: Vec<[f64; 2]>,
    weights: Vec<f64>,
}

/// A parabola with a little of a cubic, fitted.
struct Parabola {
    /// Place at rest, and factors of the square and of the cube of the time since the release.
    solved: Vector3<f64>,
    /// First observation after the release.
    moving: usize,
    /// What the cubic is expected to be.
    cubic: f64,
}

impl Observations {
    /// Errors of a mark that moves are taken to be `worse` times as large as they look.
    fn of(signal: &Signal, latest: f64, worse: f64) -> Self {
        let from = latest - SEARCH_BACK_S - 0.2;
        let unmoved = signal.first_motion_s - UNMOVED_S..signal.first_motion_s;
        let scatter_at = |t: f64| {
            if unmoved.contains(&t) {
                signal.scatter_px.hypot(signal.unmoved_px)
            } else if t >= signal.first_motion_s {
                worse * signal.moving_px
            } else {
                signal.scatter_px
            }
        };
        let seen: Vec<(f64, f64, f64)> = (signal.times_s.iter().zip(&signal.away_px))
            .filter(|(t, _)| **t >= from)
            .map(|(t, away)| (*t, *away, scatter_at(*t)))
            .collect();
        let fresh = (1.0 - signal.likeness * signal.likeness).sqrt();
        let mut out = Self {
            times_s: seen.iter().map(|one| one.0).collect(),
            scatter: seen.iter().map(|one| one.2).collect(),
            values: Vec::with_capacity(seen.len()),
            ones: Vec::with_capacity(seen.len()),
            ones_squared: Vec::with_capacity(seen.len()),
            ones_by_values: Vec::with_capacity(seen.len()),
            share: Vec::with_capacity(seen.len()),
            fresh,
            end_px: signal
                .away_px
                .last()
                .copied()
                .unwrap_or(0.0)
                .abs()
                .max(signal.scatter_px),
            end_s: signal.times_s.last().copied().unwrap_or(0.0),
            powers: Vec::with_capacity(seen.len()),
            weights: vec![1.0; seen.len()],
        };
        for (index, (_, away, scatter)) in seen.iter().enumerate() {
            let (mut value, mut one, mut share) = (away / scatter, 1.0 / scatter, 0.0);
            if let Some((_, before, its_scatter)) = index.checked_sub(1).map(|last| seen[last]) {
                share = signal.likeness / its_scatter;
                value = (value - before * share) / fresh;
                one = (one - share) / fresh;
            }
            out.values.push(value);
            out.ones.push(one);
            out.ones_squared.push(one * one);
            out.ones_by_values.push(one * value);
            out.share.push(share);
        }
        out
    }

    /// Sets the powers' columns for a release, and gives the first observation after it.
    fn release_at(&mut self, t0: f64) -> usize {
        let moving = self.times_s.partition_point(|t| *t <= t0);
        self.powers.clear();
        let mut last = [0.0; 2];
        for index in moving..self.times_s.len() {
            let since = (self.times_s[index] - t0).max(0.0);
            let here = [since * since, since.powi(3)];
            let fresh = if index == 0 { 1.0 } else { self.fresh };
            self.powers.push(std::array::from_fn(|power| {
                (here[power] / self.scatter[index] - last[power] * self.share[index]) / fresh
            }));
            last = here;
        }
        moving
    }

    /// Fits the parabola from `t0`. Large errors are foreseen, by Cauchy's weights.
    fn fitted(&mut self, t0: f64) -> Option<Parabola> {
        let moving = self.release_at(t0);
        let span = (self.end_s - t0).max(1e-3);
        let cubic = CUBIC_SHARE * self.end_px / span.powi(3);
        self.weights.fill(1.0);
        let mut solved = Vector3::zeros();
        for round in 0..ROUNDS {
            if round > 0 {
                self.weigh(&solved, moving);
            }
            let mut normal = Matrix3::zeros();
            let mut right = Vector3::zeros();
            normal[(2, 2)] = cubic.powi(-2);
            normal[(0, 0)] = dot(&self.ones_squared, &self.weights);
            right[0] = dot(&self.ones_by_values, &self.weights);
            let rows = self.ones[moving..].iter().zip(&self.values[moving..]);
            for ((row, [y, z]), weight) in rows.zip(&self.powers).zip(&self.weights[moving..]) {
                let (one, value) = row;
                normal[(1, 0)] += one * y * weight;
                normal[(2, 0)] += one * z * weight;
                normal[(1, 1)] += y * y * weight;
                normal[(2, 1)] += y * z * weight;
                normal[(2, 2)] += z * z * weight;
                right[1] += y * value * weight;
                right[2] += z * value * weight;
            }
            // The upper half is not read.
            solved = normal.cholesky()?.solve(&right);
        }
        Some(Parabola {
            solved,
            moving,
            cubic,
        })
    }

    /// Weighs each observation by how far it is off the parabola.
    fn weigh(&mut self, solved: &Vector3<f64>, moving: usize) {
        let weight = |left: f64| cauchy_weight(left, OUTLIER);
        let rows = self.ones.iter().zip(&self.values);
        for ((one, value), out) in rows.zip(&mut self.weights).take(moving) {
            *out = weight(value - one * solved.x);
        }
        let rows = self.ones[moving..].iter().zip(&self.values[moving..]);
        for (((one, value), [y, z]), out) in rows.zip(&self.powers).zip(&mut self.weights[moving..])
        {
            *out = weight(value - (one * solved.x + y * solved.y + z * solved.z));
        }
    }

    /// What each observation is off the parabola.
    fn left<'a>(&'a self, parabola: &'a Parabola) -> impl Iterator<Item = f64> + 'a {
        let solved = &parabola.solved;
        let still = self.ones.iter().zip(&self.values).take(parabola.moving);
        let still = still.map(|(one, value)| value - one * solved.x);
        still.chain(self.left_moving(parabola))
    }

    /// The same of those after the release.
    fn left_moving<'a>(&'a self, parabola: &'a Parabola) -> impl Iterator<Item = f64> + 'a {
        let solved = &parabola.solved;
        let (ones, values) = (
            &self.ones[parabola.moving..],
            &self.values[parabola.moving..],
        );
        let rows = ones.iter().zip(values).zip(&self.powers);
        rows.map(|((one, value), [y, z])| value - (one * solved.x + y * solved.y + z * solved.z))
    }

    /// What is left when the mark rests until `t0` and then follows a parabola with a little of a cubic in it.
    fn misfit(&mut self, t0: f64) -> f64 {
        let Some(parabola) = self.fitted(t0) else {
            return f64::INFINITY;
        };
        let robust = |left: f64| cauchy_cost(left, OUTLIER);
        let cubic = (parabola.solved.z / parabola.cubic).powi(2);
        self.left(&parabola).map(robust).sum::<f64>() + cubic
    }

    /// Scatter of the moving observations about the parabola from `t0`, in units of what was expected.
    fn spread(&mut self, t0: f64) -> f64 {
        let Some(parabola) = self.fitted(t0) else {
            return 1.0;
        };
        let mut moving: Vec<f64> = self.left_moving(&parabola).map(f64::abs).collect();
        moving.sort_by(f64::total_cmp);
        // The median size of a normal value is 0.6745 of its standard deviation.
        moving.get(moving.len() / 2).copied().unwrap_or(0.0) / 0.6745
    }
}

/// Sum of products. Four sums side by side do not wait for each other.
fn dot(a: &[f64], b: &[f64]) -> f64 {
    let mut sums = [0.0; 4];
    let (a_chunks, b_chunks) = (a.chunks_exact(4), b.chunks_exact(4));
    let rest = a_chunks.remainder().iter().zip(b_chunks.remainder());
    let rest: f64 = rest.map(|(a, b)| a * b).sum();
    for (a, b) in a_chunks.zip(b_chunks) {
        for ((sum, a), b) in sums.iter_mut().zip(a).zip(b) {
            *sum += a * b;
        }
    }
    sums.iter().sum::<f64>() + rest
}

//! Bayesian calibration: which cars are consistent with the runs.
//!
//! The most probable point is found by least squares (Levenberg and Marquardt) for each of a few sizes of the run-to-run
//! deviation, from the best of a coarse set of starts. About it the posterior is taken as normal (Laplace's
//! approximation), which also weighs the sizes against each other. Points drawn from that are weighed by the true
//! posterior and drawn again, and each then walks a few steps of a Markov chain whose long run is the true posterior, so
//! that a bent posterior, such as near the edge of wheelspin, is bent in the draws too.
//!
//! # Source
//! Laplace's approximation and importance resampling: Gelman et al., Bayesian Data Analysis. Truncated weights: Ionides,
//! Truncated importance sampling, 2008. The walk: Cotter, Roberts, Stuart and White, MCMC methods for functions, 2013
//! (preconditioned Crank-Nicolson). All from memory.

use super::evidence::Evidence;
use super::residuals::{Matching, Row};
use super::unknowns::{GRIP, Garage, Point, SHARED, Unknown, per_run};
use levenberg_marquardt::{LeastSquaresProblem, LevenbergMarquardt};
use nalgebra::{Cholesky, DMatrix, DVector, Dyn, Owned};
use rand::{Rng, RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use rayon::prelude::*;

/// Sizes of the run-to-run deviation that are weighed against each other, as shares.
const RUN_TO_RUN: [f64; 5] = [0.01, 0.015, 0.025, 0.04, 0.07];
/// What is expected of it: 2 %, good to a factor of two. Common practice, no source.
const EXPECTED_RUN_TO_RUN: f64 = 0.02;
const EXPECTED_LOG_SD: f64 = 0.6;
/// Draws that an answer is made of.
pub const DRAWS: usize = 400;
/// Proposals for each of them.
const PROPOSALS: usize = 3;
/// Steps of the walk from each point that was drawn, and their length: 0 stays, 1 forgets. At this length a tenth to a
/// half of the steps are taken.
const STEPS: usize = 16;
const STRIDE: f64 = 0.2;
/// The same runs give the same draws.
const SEED: u64 = 0x706c_616e;
/// Step of the derivatives, in standard deviations of the unknowns.
const STEP: f64 = 0.02;
/// A size with less than this weight gets no draws.
const LEAST_WEIGHT: f64 = 1e-3;
/// A row farther off than this at the best point speaks against the model or the run, in standard deviations.
const STRANGE: f64 = 3.5;

/// One car that is consistent with the runs.
#[derive(Debug, Clone, PartialEq)]
pub struct Draw {
    /// Its unknowns.
    pub point: Point,
    /// Run-to-run deviation of the pull, as a share.
    pub run_to_run: f64,
    /// Deviations of a run to come as standard normal numbers: pull, rolling loss and grip.
    pub next_run: [f64; 3],
    /// What the model is off by in the strongest pull, as a standard normal number.
    pub strongest_pull: f64,
}

/// The strongest pull comes at the start, where the string's lever about the coil is small and goes by a few degrees and
/// millimetres that no sheet has, and where a tyre's hold is a matter of one moment: the model's demand on the tyres is
/// good to this share of it. Chosen by `scripts/plan_study`, whose cars have a coil above the axle and tyres that creep.
const DEMAND_SHARE: f64 = 0.10;

impl Draw {
    /// By what the demand on the tyres is to be multiplied.
    pub fn demand_by(&self) -> f64 {
        (DEMAND_SHARE * self.strongest_pull).exp()
    }

    /// The deviations of the run to come with a length of string, as logarithms.
    pub fn next_run(&self, string_m: f64) -> [f64; 3] {
        let sds = per_run(self.run_to_run, string_m);
        [0, 1, 2].map(|part| sds[part] * self.next_run[part])
    }
}

/// The cars that are consistent with the runs.
#[derive(Debug, Clone)]
pub struct Posterior {
    /// From points to cars.
    pub garage: Garage,
    /// The draws, all of one weight.
    pub draws: Vec<Draw>,
    /// Run-to-run deviation of the pull: middle and 95 % interval, as shares.
    pub run_to_run: [f64; 3],
    /// Share of the walks' steps that were taken: small where the posterior is far from normal.
    pub steps_taken: f64,
    /// Numbers of the runs that the best car does not come near.
    pub strange: Vec<Row>,
}

struct Problem<'a> {
    matching: &'a Matching<'a>,
    z: DVector<f64>,
}

impl LeastSquaresProblem<f64, Dyn, Dyn> for Problem<'_> {
    type ParameterStorage = Owned<f64, Dyn>;
    type ResidualStorage = Owned<f64, Dyn>;
    type JacobianStorage = Owned<f64, Dyn, Dyn>;

    fn set_params(&mut self, z: &DVector<f64>) {
        self.z = z.clone();
    }

    fn params(&self) -> DVector<f64> {
        self.z.clone()
    }

    fn residuals(&self) -> Option<DVector<f64>> {
        Some(self.matching.residuals(&self.z))
    }

    fn jacobian(&self) -> Option<DMatrix<f64>> {
        Some(jacobian(self.matching, &self.z))
    }
}

/// Derivatives of the residuals by central differences. A run's own deviations move its own rows only.
fn jacobian(matching: &Matching<'_>, z: &DVector<f64>) -> DMatrix<f64> {
    let size = matching.size();
    let whole = matching.rows(z);
    let mut out = DMatrix::zeros(size + whole.len(), size);
    out.fill_diagonal(1.0);
    let columns: Vec<Vec<(usize, f64)>> = (0..size)
        .into_par_iter()
        .map(|column| {
            let moved = |by: f64| {
                let mut z = z.clone();
                z[column] += by;
                z
            };
            let (up, down) = (moved(STEP), moved(-STEP));
            let shared = column < matching.own(0);
            let run = (!shared).then(|| (column - matching.own(0)) / 3);
            let of = |z: &DVector<f64>| match run {
                None => matching.rows(z),
                Some(run) => matching.run_rows(z, &matching.point(z), run),
            };
            let from = whole.iter().position(|row| run.is_some() && row.run == run);
            let (up, down) = (of(&up), of(&down));
            let slope = |(up, down): (&Row, &Row)| (up.off - down.off) / (2.0 * STEP);
            let slopes = up.iter().zip(&down).map(slope);
            slopes
                .enumerate()
                .map(|(n, slope)| (size + from.unwrap_or(0) + n, slope))
                .collect()
        })
        .collect();
    for (column, slopes) in columns.into_iter().enumerate() {
        for (row, slope) in slopes {
            out[(row, column)] = slope;
        }
    }
    out
}

fn cost(matching: &Matching<'_>, z: &DVector<f64>) -> f64 {
    matching.residuals(z).norm_squared()
}

/// The best of a coarse set of starts: springs from weak to strong on floors from slippery to sticky.
fn start(matching: &Matching<'_>) -> DVector<f64> {
    let mut best = DVector::zeros(matching.size());
    let mut starts = Vec::new();
    let seen: Vec<Option<f64>> = (0..matching.evidence.floors.len())
        .map(|floor| seen_grip(matching.evidence, floor))
        .collect();
    for stiffness in -6..=6 {
        for grip in [None, Some(-1.5), Some(0.0), Some(1.5)] {
            let mut z = DVector::zeros(matching.size());
            z[Unknown::Stiffness as usize] = 0.5 * f64::from(stiffness);
            for (floor, seen) in seen.iter().enumerate() {
                z[SHARED + floor] = grip.or(*seen).unwrap_or(0.0);
            }
            starts.push(z);
        }
    }
    let costs: Vec<f64> = starts.par_iter().map(|z| cost(matching, z)).collect();
    let least = costs.iter().copied().fold(f64::INFINITY, f64::min);
    if let Some(place) = costs.iter().position(|cost| *cost == least) {
        best = starts.swap_remove(place);
    }
    best
}

/// The friction that the runs on a floor showed, as a standard normal number.
fn seen_grip(evidence: &Evidence, floor: usize) -> Option<f64> {
    let mut runs = evidence.runs.iter().filter(|run| run.floor == floor);
    let grip = runs.find_map(|run| run.grip)?;
    (grip.value > 0.01).then(|| (grip.value / GRIP[0]).ln() / GRIP[1])
}

/// The posterior about its best point for one size of the run-to-run deviation.
struct Normal {
    run_to_run: f64,
    z: DVector<f64>,
    /// Lower triangle whose product with standard normal numbers has the posterior's covariance.
    spread: DMatrix<f64>,
    /// Logarithm of its weight.
    weight: f64,
}

/// The most probable point: the better of two searches, from where the size before it led and from the best of the
/// coarse starts. Near the edge of wheelspin a search may end beside the best.
fn most_probable(matching: &Matching<'_>, starts: [&DVector<f64>; 2]) -> DVector<f64> {
    let [a, b] = starts.map(|from| {
        let problem = Problem {
            matching,
            z: from.clone(),
        };
        let (solved, _) = LevenbergMarquardt::new()
            .with_ftol(1e-6)
            .with_xtol(1e-5)
            .with_gtol(1e-5)
            .with_patience(4)
            .minimize(problem);
        let cost = cost(matching, &solved.z);
        (solved.z, cost)
    });
    if b.1 < a.1 { b.0 } else { a.0 }
}

fn normal(matching: &Matching<'_>, starts: [&DVector<f64>; 2]) -> Option<Normal> {
    let z = most_probable(matching, starts);
    let jacobian = jacobian(matching, &z);
    let information = jacobian.transpose() * &jacobian;
    let root = Cholesky::new(information)?;
    let log_det: f64 = (0..matching.size())
        .map(|i| root.l_dirty()[(i, i)].ln())
        .sum();
    let covariance = root.inverse();
    let expected = (matching.run_to_run / EXPECTED_RUN_TO_RUN).ln() / EXPECTED_LOG_SD;
    let weight = -0.5 * cost(matching, &z) - log_det - 0.5 * expected * expected;
    Some(Normal {
        run_to_run: matching.run_to_run,
        spread: Cholesky::new(covariance)?.l(),
        z,
        weight,
    })
}

/// Calibrates the car; `None` where the arithmetic fails, which finite runs do not bring about.
pub fn calibrate(evidence: &Evidence, garage: Garage) -> Option<Posterior> {
    let matching = |run_to_run| Matching {
        evidence,
        garage: &garage,
        run_to_run,
    };
    let coarse = start(&matching(EXPECTED_RUN_TO_RUN));
    let mut from = coarse.clone();
    let mut normals = Vec::new();
    for size in RUN_TO_RUN.into_iter().rev() {
        let found = normal(&matching(size), [&from, &coarse])?;
        from.clone_from(&found.z);
        normals.push(found);
    }
    let most = normals
        .iter()
        .map(|n| n.weight)
        .fold(f64::NEG_INFINITY, f64::max);
    let weights: Vec<f64> = normals.iter().map(|n| (n.weight - most).exp()).collect();
    let sum: f64 = weights.iter().sum();
    let mut random = ChaCha8Rng::seed_from_u64(SEED);
    let (mut draws, mut sizes, mut counted) = (Vec::new(), Vec::new(), 0.0);
    for (normal, weight) in normals.iter().zip(&weights) {
        let share = weight / sum;
        if share < LEAST_WEIGHT {
            continue;
        }
        let count = (share * DRAWS as f64).round() as usize;
        let (points, taken) = resampled(&matching(normal.run_to_run), normal, count, &mut random);
        counted += share * taken;
        for point in points {
            let next_run = [(); 3].map(|()| gauss(&mut random));
            draws.push(Draw {
                point,
                run_to_run: normal.run_to_run,
                next_run,
                strongest_pull: gauss(&mut random),
            });
            sizes.push(normal.run_to_run);
        }
    }
    let best = normals
        .iter()
        .max_by(|a, b| a.weight.total_cmp(&b.weight))?;
    let strange = matching(best.run_to_run).rows(&best.z);
    let strange = strange
        .into_iter()
        .filter(|row| row.off.abs() > STRANGE)
        .collect();
    Some(Posterior {
        run_to_run: run_to_run(&mut sizes),
        garage,
        draws,
        steps_taken: counted,
        strange,
    })
}

fn run_to_run(sizes: &mut [f64]) -> [f64; 3] {
    sizes.sort_by(f64::total_cmp);
    let at = |share: f64| {
        let place = (share * sizes.len() as f64) as usize;
        sizes
            .get(place.min(sizes.len().saturating_sub(1)))
            .copied()
            .unwrap_or(EXPECTED_RUN_TO_RUN)
    };
    [at(0.5), at(0.025), at(0.975)]
}

fn gauss(random: &mut impl Rng) -> f64 {
    StandardNormal.sample(random)
}

/// A point as standard normal numbers of the normal posterior, and how much more the true one weighs it (logarithm).
#[derive(Clone)]
struct Walker {
    own: DVector<f64>,
    z: DVector<f64>,
    log: f64,
}

impl Walker {
    fn at(matching: &Matching<'_>, normal: &Normal, own: DVector<f64>) -> Self {
        let z = &normal.z + &normal.spread * &own;
        let log = 0.5 * (own.norm_squared() - cost(matching, &z));
        Self { own, z, log }
    }
}

/// Points of the true posterior, and the share of the walks' steps that were taken.
fn resampled(
    matching: &Matching<'_>,
    normal: &Normal,
    count: usize,
    random: &mut ChaCha8Rng,
) -> (Vec<Point>, f64) {
    let size = matching.size();
    let owns: Vec<DVector<f64>> = (0..count * PROPOSALS)
        .map(|_| DVector::from_iterator(size, (0..size).map(|_| gauss(random))))
        .collect();
    let proposals: Vec<Walker> = (owns.into_par_iter())
        .map(|own| Walker::at(matching, normal, own))
        .collect();
    let chosen = chosen(&proposals, count);
    let seeds: Vec<u64> = chosen.iter().map(|_| random.next_u64()).collect();
    let walked: Vec<(Point, usize)> = (chosen.into_par_iter().zip(seeds))
        .map(|(from, seed)| {
            let mut random = ChaCha8Rng::seed_from_u64(seed);
            let (to, taken) = walk(matching, normal, from, &mut random);
            (matching.point(&to.z), taken)
        })
        .collect();
    let taken: usize = walked.iter().map(|(_, taken)| taken).sum();
    let share = taken as f64 / (STEPS * count.max(1)) as f64;
    (walked.into_iter().map(|(point, _)| point).collect(), share)
}

/// Systematic resampling by truncated weights: every weight's share of evenly spaced places.
fn chosen(proposals: &[Walker], count: usize) -> Vec<Walker> {
    let most = proposals
        .iter()
        .map(|p| p.log)
        .fold(f64::NEG_INFINITY, f64::max);
    let weights: Vec<f64> = proposals.iter().map(|p| (p.log - most).exp()).collect();
    let mean = weights.iter().sum::<f64>() / weights.len().max(1) as f64;
    let cut = mean * (weights.len() as f64).sqrt();
    let sum: f64 = weights.iter().map(|weight| weight.min(cut)).sum();
    let (mut out, mut passed, mut place) = (Vec::with_capacity(count), 0.0, 0.5);
    for (proposal, weight) in proposals.iter().zip(&weights) {
        passed += weight.min(cut) / sum * count as f64;
        while place < passed && out.len() < count {
            out.push(proposal.clone());
            place += 1.0;
        }
    }
    out
}

/// A few steps that leave the true posterior as it is, and part what was drawn from one proposal: each goes to a
/// neighbour within the normal posterior, and is taken by how much more the true one weighs it.
fn walk(
    matching: &Matching<'_>,
    normal: &Normal,
    from: Walker,
    random: &mut ChaCha8Rng,
) -> (Walker, usize) {
    let (mut here, mut taken) = (from, 0);
    for _ in 0..STEPS {
        let kept = (1.0 - STRIDE * STRIDE).sqrt();
        let own = here.own.map(|part| kept * part + STRIDE * gauss(random));
        let there = Walker::at(matching, normal, own);
        let chance: f64 = random.random();
        if chance.ln() < there.log - here.log {
            here = there;
            taken += 1;
        }
    }
    (here, taken)
}

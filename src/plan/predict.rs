//! What a setting gives, by every car that is consistent with the runs.

use super::Track;
use super::car::Car;
use super::drive::{Ran, drive};
use super::evidence::Setting;
use super::fit::{Draw, Posterior};
use rayon::prelude::*;
use serde::Serialize;

/// A value with its 95 % interval.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Value {
    /// Median.
    pub value: f64,
    /// Low end.
    pub low: f64,
    /// High end.
    pub high: f64,
}

impl Value {
    /// Median and 95 % interval of numbers that all count alike; `None` of no numbers.
    pub fn of(mut numbers: Vec<f64>) -> Option<Self> {
        numbers.retain(|number| !number.is_nan());
        numbers.sort_by(f64::total_cmp);
        Some(Self {
            value: quantile(&numbers, 0.5)?,
            low: quantile(&numbers, 0.025)?,
            high: quantile(&numbers, 0.975)?,
        })
    }

    /// Half of the interval over the value.
    pub fn relative_half(&self) -> f64 {
        (self.high - self.low) / 2.0 / self.value.abs().max(1e-12)
    }
}

/// A quantile of sorted numbers, between neighbours in proportion.
pub(super) fn quantile(sorted: &[f64], share: f64) -> Option<f64> {
    let last = sorted.len().checked_sub(1)?;
    let place = share * last as f64;
    let below = place.floor() as usize;
    let (a, b) = (sorted[below], sorted[(below + 1).min(last)]);
    let between = place - below as f64;
    Some(if between > 0.0 {
        a + between * (b - a)
    } else {
        a
    })
}

/// What a setting gives with one of the cars.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Outcome {
    /// Way until it stands, m.
    pub stop_m: f64,
    /// Time over the way that was asked about, s; infinite where it does not get there.
    pub time_s: f64,
    /// Largest demand on the tyres over what they hold.
    pub demand: f64,
    /// Highest speed, m/s.
    pub peak_speed_m_per_s: f64,
    /// Way lost in wheelspin, m.
    pub spun_away_m: f64,
    /// Length of the pull, s.
    pub powered_s: f64,
    /// Loss of speed in the coast, m/s².
    pub coast_loss_m_per_s2: f64,
}

impl Outcome {
    fn of(ran: Option<&Ran>, sprint_m: f64, demand: f64) -> Self {
        ran.map_or(
            Self {
                stop_m: 0.0,
                time_s: f64::INFINITY,
                demand,
                peak_speed_m_per_s: 0.0,
                spun_away_m: 0.0,
                powered_s: f64::NAN,
                coast_loss_m_per_s2: f64::NAN,
            },
            |ran| Self {
                stop_m: ran.stop_m,
                time_s: ran.time_to_s(sprint_m).unwrap_or(f64::INFINITY),
                demand,
                peak_speed_m_per_s: ran.peak_speed_m_per_s,
                spun_away_m: ran.spun_away_m,
                powered_s: ran.powered_s,
                coast_loss_m_per_s2: ran.coast_loss_m_per_s2,
            },
        )
    }
}

/// Whether the deviations of a single run to come are in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Runs {
    /// One run.
    Next,
    /// The middle of very many.
    Mean,
}

/// A setting on a floor, and the way over which time is taken.
#[derive(Debug, Clone)]
pub(super) struct Asked<'a> {
    /// The cars.
    pub posterior: &'a Posterior,
    /// Place of the floor and treatment.
    pub floor: usize,
    /// Way of the sprint, m.
    pub sprint_m: f64,
    /// The track that is planned for.
    pub track: Track,
}

impl Asked<'_> {
    /// The same on the level, where runs are measured.
    pub(super) fn on_the_level(&self) -> Self {
        Self {
            track: Track::LEVEL,
            ..self.clone()
        }
    }

    /// A draw's car on this floor and track.
    fn car(&self, draw: &Draw, setting: &Setting, own: [f64; 3]) -> Car {
        let garage = &self.posterior.garage;
        Car {
            slope_rad: self.track.slope_rad,
            ..garage.car(&draw.point, self.floor, setting, own)
        }
    }

    /// What every car gives, in the order of the draws.
    pub(super) fn outcomes(&self, setting: &Setting, runs: Runs) -> Vec<Outcome> {
        let of = |draw: &Draw| {
            let own = match runs {
                Runs::Next => draw.next_run(setting.string_m),
                Runs::Mean => [0.0; 3],
            };
            let car = self.car(draw, setting, own);
            let demand = car.peak_demand() * draw.demand_by();
            Outcome::of(drive(&car).as_ref(), self.sprint_m, demand)
        };
        self.posterior.draws.par_iter().map(of).collect()
    }

    /// The strongest push at the rim against what the tyres hold; newtons only where the car was weighed.
    pub(super) fn pull(&self, setting: &Setting) -> Option<Pull> {
        let of = |draw: &Draw| {
            let car = self.car(draw, setting, draw.next_run(setting.string_m));
            let pulled = car.pulled_m();
            let pushes = (0..=24).map(|look| car.rim_push_n(pulled * f64::from(look) / 24.0));
            let demand = car.peak_demand() * draw.demand_by();
            (pushes.fold(0.0, f64::max), demand)
        };
        let all: Vec<(f64, f64)> = self.posterior.draws.iter().map(of).collect();
        let value = |of: fn(&(f64, f64)) -> f64| Value::of(all.iter().map(of).collect());
        let weighed = setting.mass_kg.is_some();
        Some(Pull {
            over_grip: value(|(_, demand)| *demand)?,
            given_n: value(|(push, _)| *push).filter(|_| weighed),
            held_n: value(|(push, demand)| push / demand).filter(|_| weighed),
        })
    }

    /// The setting's prediction for a single run.
    pub(super) fn prediction(&self, setting: &Setting) -> Option<Prediction> {
        Prediction::of(&self.outcomes(setting, Runs::Next), self.sprint_m)
    }
}

/// The strongest push at the rim of the driven wheels and what the tyres hold.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Pull {
    /// The one over the other: above 1 the wheels spin.
    pub over_grip: Value,
    /// The push, N; `None` where no sheet says what the car weighs.
    pub given_n: Option<Value>,
    /// What the tyres hold, N.
    pub held_n: Option<Value>,
}

/// What a setting gives, for a single run.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Prediction {
    /// Way until it stands, m.
    pub stop_m: Value,
    /// The sprint that is timed, m.
    pub sprint_m: f64,
    /// Time over it, s; `None` where the car may not get there.
    pub sprint_s: Option<Value>,
    /// Highest speed, m/s.
    pub peak_speed_m_per_s: Value,
    /// Way lost in wheelspin, m.
    pub spun_away_m: Value,
    /// Largest demand on the tyres over what they hold.
    pub grip_demand: Value,
    /// In how many of a hundred runs the wheels spin.
    pub spins_percent: f64,
}

impl Prediction {
    fn of(outcomes: &[Outcome], sprint_m: f64) -> Option<Self> {
        let value = |of: fn(&Outcome) -> f64| Value::of(outcomes.iter().map(of).collect());
        let spins = outcomes.iter().filter(|o| o.demand > 1.0).count();
        let sprint = value(|o| o.time_s)?;
        Some(Self {
            stop_m: value(|o| o.stop_m)?,
            sprint_m,
            sprint_s: sprint.high.is_finite().then_some(sprint),
            peak_speed_m_per_s: value(|o| o.peak_speed_m_per_s)?,
            spun_away_m: value(|o| o.spun_away_m.max(0.0))?,
            grip_demand: value(|o| o.demand)?,
            spins_percent: 100.0 * spins as f64 / outcomes.len().max(1) as f64,
        })
    }
}

//! From measured runs of one car to the setting that does a task.
//!
//! Summaries on disk go to what they tell of the car ([`evidence()`]), to all cars that are consistent with it
//! ([`calibrate`]), and to answers ([`plan`]). Nothing here prints or writes; `plan_page/` puts it in words.
//!
//! # The model
//!
//! A torsion spring turns an arm, whose tip pulls a string off the driven axle; the string's lever about the coil follows
//! from the arm's angle (`car.rs`). Car and wheels move as one while the tyres hold, and slide with Coulomb friction when
//! they do not; acceleration moves load to the driven axle; rolling and air slow the car (`drive.rs`). What is not known
//! beforehand, and what it may be, is a table with the source of each line (`unknowns.rs`).
//!
//! # The calibration
//!
//! All runs share the car. Each run has its own small deviations of pull, rolling loss and grip, whose size is estimated
//! too: that is what a single run to come will scatter by. `fit.rs` gives 400 cars that are consistent with the runs, each
//! with deviations for a next run; every interval is made of what those 400 give (`predict.rs`), so that it holds what is
//! not known of the car and what differs from run to run.
//!
//! # The answers
//!
//! Each lever (`levers.rs`) is looked at over what can be built, with every car. The setting is the one at which the middle
//! of the cars does the task; its interval is that of the settings of the single cars; what it gives is predicted at the
//! setting as it can be set, rounded to the millimetre (`answer.rs`). What the runs cannot tell is named with the
//! measurement that would tell it (`open.rs`).

mod answer;
mod body;
mod car;
mod changes;
mod drive;
mod error;
mod evidence;
mod fit;
mod frames;
mod learnt;
mod levers;
mod next_experiment;
mod open;
mod predict;
mod residuals;
#[cfg(test)]
mod tests;
mod unknowns;
mod update;

pub use answer::{Answer, Companions, LeverAnswer};
pub use body::{COMMON_PRACTICE, Chassis};
pub use car::Car;
pub use changes::Change;
pub use drive::{Moment, Ran, coast_way_m, drive};
pub use error::PlanError;
pub use evidence::{Evidence, Measured, Reading, RunEvidence, Setting, Sheets, StopBy, evidence};
pub use fit::{DRAWS, Draw, Posterior, calibrate};
pub use frames::{Frames, frames};
pub use learnt::{Learnt, learnt};
pub use levers::Lever;
pub use next_experiment::Experiment;
pub use open::Open;
pub use predict::{Outcome, Prediction, Pull, Value};
pub use residuals::{Matching, Row};
pub use unknowns::{Garage, Point, Prior, SHARED, Source, Unknown, per_run, priors};
pub use update::{Earlier, Update};

use answer::{Scan, answer};
use predict::Asked;
use serde::Serialize;

/// What the car is to do.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "snake_case", tag = "kind")]
pub enum Task {
    /// Stop at a distance.
    Distance {
        /// The distance, m.
        metres: f64,
    },
    /// Go as far as it can.
    Far,
    /// Get over a distance in the least time.
    Fast {
        /// The distance, m.
        metres: f64,
    },
    /// Not spin its wheels.
    NoSlip,
}

/// The track that is planned for. The runs that a plan is made of were on the level: a clip does not show which way is
/// down.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Track {
    /// How steeply it rises, rad.
    pub slope_rad: f64,
}

impl Track {
    /// A floor.
    pub const LEVEL: Self = Self { slope_rad: 0.0 };

    /// Whether the car has to climb.
    pub fn rises(self) -> bool {
        self.slope_rad > 0.0
    }
}

/// Way that is timed where the task names none, m.
const SPRINT_M: f64 = 2.0;
/// A stopping place whose interval reaches farther than this share of it, and than this many metres, to either side is not
/// told.
const TOO_WIDE: f64 = 0.6;
/// See `TOO_WIDE`: a car that hardly gets up a slope stops near its start.
const TOO_WIDE_M: f64 = 0.5;

impl Task {
    /// The way that is timed, m.
    pub fn sprint_m(self) -> f64 {
        match self {
            Self::Fast { metres } => metres,
            Self::Distance { metres } => metres / 2.0,
            Self::Far | Self::NoSlip => SPRINT_M,
        }
    }
}

/// The plan.
#[derive(Debug, Clone)]
pub struct Plan {
    /// What was asked.
    pub task: Task,
    /// On which track.
    pub track: Track,
    /// What the runs tell.
    pub evidence: Evidence,
    /// The cars that are consistent with them.
    pub posterior: Posterior,
    /// The present setting: that of the last run on the floor that is planned for.
    pub now: Setting,
    /// What the present setting gives.
    pub present: Prediction,
    /// The strongest pull against what the tyres hold.
    pub pull: Pull,
    /// What each lever can do.
    pub levers: Vec<LeverAnswer>,
    /// Changes by a tenth.
    pub changes: Vec<Change>,
    /// Sprint against distance along three levers.
    pub trade_off: Vec<TradeOff>,
    /// A longer chassis.
    pub chassis: Option<Chassis>,
    /// What cannot be told.
    pub open: Vec<Open>,
    /// What to run or measure next.
    pub next: Vec<Experiment>,
    /// What became of an earlier plan.
    pub update: Option<Update>,
}

/// Sprint against distance as one lever goes through its range.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TradeOff {
    /// The lever.
    pub lever: Lever,
    /// Its sizes, SI.
    pub sizes: Vec<f64>,
    /// Way until it stands at each, m.
    pub stop_m: Vec<Value>,
    /// Time over the sprint at each, s; infinite medians are left out by whoever shows it.
    #[serde(skip)]
    pub sprint_s: Vec<Value>,
}

/// Plans.
///
/// # Errors
/// [`PlanError`] where the runs do not tell what was asked.
pub fn plan(
    evidence: Evidence,
    task: Task,
    track: Track,
    earlier: Option<&Earlier>,
) -> Result<Plan, PlanError> {
    can_be_told(&evidence, task)?;
    let now = present_setting(&evidence)?;
    let garage = Garage::new(&evidence.runs[0].setting);
    let posterior = calibrate(&evidence, garage).filter(|found| !found.draws.is_empty());
    let posterior = posterior.ok_or_else(|| PlanError::NoCar {
        why: "the search found none".to_owned(),
    })?;
    comes_near(&evidence, &posterior)?;
    let asked = Asked {
        posterior: &posterior,
        floor: evidence.floor,
        sprint_m: task.sprint_m(),
        track,
    };
    let present = asked.prediction(&now).ok_or(PlanError::NoRuns)?;
    let pull = asked.pull(&now).ok_or(PlanError::NoRuns)?;
    not_too_wide(task, &present)?;
    let scans: Vec<Scan> = (Lever::ALL.into_iter())
        .filter(|lever| lever.missing(&now).is_none())
        .map(|lever| Scan::along(lever, &asked, &now))
        .collect();
    let levers = levers(&scans, task, &asked, &now);
    let planned = planned_setting(&levers, task, &now);
    let string_now = levers
        .iter()
        .find_map(|one| match (&one.answer, one.lever) {
            (Answer::Set { size, .. }, Lever::String) => Some(*size),
            _ => None,
        });
    let metres = match task {
        Task::Distance { metres } | Task::Fast { metres } => Some(metres),
        Task::Far | Task::NoSlip => None,
    };
    Ok(Plan {
        changes: changes::changes(&asked, task, &now),
        trade_off: trade_off(&scans),
        chassis: body::longer_chassis(&evidence, &asked, &now, metres),
        open: open::open_questions(&evidence),
        next: next_experiment::next_experiments(&asked, task, &now, &planned),
        // The runs are on the level, so they say nothing of a plan for a slope.
        update: (earlier.filter(|_| !track.rises()))
            .and_then(|earlier| update::update(earlier, &evidence, string_now)),
        task,
        track,
        present,
        pull,
        levers,
        now,
        evidence,
        posterior,
    })
}

/// The setting of the last run on the floor that is planned for.
fn present_setting(evidence: &Evidence) -> Result<Setting, PlanError> {
    let here = |run: &&RunEvidence| run.floor == evidence.floor;
    let last = evidence.runs.iter().rev().find(here);
    last.map(|run| run.setting.clone()).ok_or(PlanError::NoRuns)
}

/// The setting that the plan recommends; the present one where none does the task.
fn planned_setting(levers: &[LeverAnswer], task: Task, now: &Setting) -> Setting {
    match named_first(levers, task).map(|one| (&one.answer, one.lever)) {
        Some((Answer::Set { size, .. }, lever)) => lever.set(now, size.value),
        _ => now.clone(),
    }
}

fn can_be_told(evidence: &Evidence, task: Task) -> Result<(), PlanError> {
    let missing = if !open::pull_known(evidence) {
        Some(open::no_pull())
    } else if matches!(task, Task::Distance { .. } | Task::Far) && !open::rolls_known(evidence) {
        Some(open::no_coast())
    } else if matches!(task, Task::NoSlip) && !open::grip_known(evidence) {
        Some(open::no_grip())
    } else {
        None
    };
    missing.map_or(Ok(()), |open| {
        Err(PlanError::CannotTell {
            what: open.what,
            because: open.because,
            measure: open.measure,
        })
    })
}

/// Runs that no car comes near are told, and not planned from.
fn comes_near(evidence: &Evidence, posterior: &Posterior) -> Result<(), PlanError> {
    const FAR_OFF: f64 = 12.0;
    let worst = posterior
        .strange
        .iter()
        .max_by(|a, b| a.off.abs().total_cmp(&b.off.abs()));
    match worst.filter(|row| row.off.abs() > FAR_OFF) {
        Some(row) => {
            let run = row.run.and_then(|run| evidence.runs.get(run));
            let of = run.map_or_else(|| "the sheet".to_owned(), |run| run.name.clone());
            Err(PlanError::NoCar {
                why: format!("the {} of {of} is far off", row.what),
            })
        }
        None => Ok(()),
    }
}

fn not_too_wide(task: Task, present: &Prediction) -> Result<(), PlanError> {
    let half_m = (present.stop_m.high - present.stop_m.low) / 2.0;
    let wide = present.stop_m.relative_half() > TOO_WIDE && half_m > TOO_WIDE_M;
    if wide && matches!(task, Task::Distance { .. } | Task::Far) {
        return Err(PlanError::CannotTell {
            what: "where the car stops".to_owned(),
            because: format!(
                "the runs leave everything from {:.1} to {:.1} m open for the present setting",
                present.stop_m.low, present.stop_m.high
            ),
            measure: open::no_coast().measure,
        });
    }
    Ok(())
}

fn levers(scans: &[Scan], task: Task, asked: &Asked<'_>, now: &Setting) -> Vec<LeverAnswer> {
    let one = |lever: Lever| {
        let answer = if let Some(key) = lever.missing(now) {
            Answer::CannotTell {
                because: format!("no sheet has {key}"),
                measure: format!("measure it and write it on the sheet as {key}"),
            }
        } else {
            let scan = scans.iter().find(|scan| scan.lever == lever)?;
            answer(scan, task, asked, now)?
        };
        Some(LeverAnswer {
            lever,
            now: lever.now(now),
            answer,
        })
    };
    Lever::ALL.into_iter().filter_map(one).collect()
}

/// The lever that is named first: of least work for a place or for grip, else the one that gives most.
fn named_first(levers: &[LeverAnswer], task: Task) -> Option<&LeverAnswer> {
    let cost = |one: &LeverAnswer| match (&one.answer, task) {
        (Answer::Set { prediction, .. }, Task::Far) => -prediction.stop_m.value,
        (Answer::Set { prediction, .. }, Task::Fast { .. }) => {
            prediction.sprint_s.map_or(f64::INFINITY, |time| time.value)
        }
        _ => one.lever.effort_min(),
    };
    let sets = levers
        .iter()
        .filter(|one| matches!(one.answer, Answer::Set { .. }));
    sets.min_by(|a, b| cost(a).total_cmp(&cost(b)))
}

impl Plan {
    /// The lever that the plan names first; `None` where none does the task alone.
    pub fn first(&self) -> Option<&LeverAnswer> {
        named_first(&self.levers, self.task)
    }
}

fn trade_off(scans: &[Scan]) -> Vec<TradeOff> {
    let shown = [Lever::String, Lever::Axle, Lever::Arm];
    let scans = scans.iter().filter(|scan| shown.contains(&scan.lever));
    scans
        .map(|scan| TradeOff {
            lever: scan.lever,
            sizes: scan.places.clone(),
            stop_m: scan.band(|o| o.stop_m),
            sprint_s: scan.band(|o| o.time_s),
        })
        .collect()
}

/// What a setting gives with the cars of a plan, for a single run: for whoever tries a plan out.
pub fn predict(of: &Plan, setting: &Setting) -> Option<Prediction> {
    let asked = Asked {
        posterior: &of.posterior,
        floor: of.evidence.floor,
        sprint_m: of.task.sprint_m(),
        track: of.track,
    };
    asked.prediction(setting)
}

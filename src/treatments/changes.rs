//! The sequence of changes of one car, and what each did.

use super::describe::{describe, t_factor, t_p};
use super::facts::SheetKey;
use super::groups::Role;
use super::holm::holm;
use super::reading::Run;
use super::{Interval, SIGNIFICANT};
use crate::findings::Key;
use std::collections::BTreeMap;

/// What a car went through.
#[derive(Debug, Clone, PartialEq)]
pub struct CarLog {
    /// The car; `None` for runs whose sheet names none.
    pub car: Option<String>,
    /// Its steps, in order.
    pub steps: Vec<Step>,
}

/// Runs between two changes.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    /// What was changed before it, in the team's words.
    pub note: Option<String>,
    /// What differs on the run sheets: key, then, now.
    pub changed: Vec<(String, Option<String>, Option<String>)>,
    /// Its runs.
    pub runs: Vec<usize>,
    /// The quantities, as they were asked for.
    pub values: Vec<StepValue>,
}

/// A quantity in a step.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StepValue {
    /// Runs that show it.
    pub n: usize,
    /// Their mean.
    pub mean: Option<f64>,
    /// What the change did.
    pub change: Option<StepChange>,
}

/// A step against the one before.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StepChange {
    /// This step's mean less that of the step before.
    pub difference: f64,
    /// Its 95 % interval, with the spread that runs of one state of this car have; `None` where no state was
    /// run twice.
    pub interval: Option<Interval>,
    /// Two-sided chance of as large a change where there is none.
    pub p: Option<f64>,
    /// The same, adjusted for the number of changes that are looked at (Holm): all steps of all cars, in all
    /// quantities.
    pub p_holm: Option<f64>,
}

impl StepChange {
    /// Whether the change is more than chance, with all the others looked at.
    pub fn is_clear(&self) -> bool {
        self.p_holm.is_some_and(|p| p < SIGNIFICANT)
    }
}

/// The logs of all cars that made more than one step, in order of their first runs.
pub(super) fn logs(runs: &[Run], roles: &[Role], keys: &[Key]) -> Vec<CarLog> {
    let mut cars: Vec<(Option<String>, Vec<usize>)> = Vec::new();
    for (place, run) in runs.iter().enumerate() {
        // A clip that is there twice is one run; runs without a group are runs of the car all the same.
        if matches!(roles[place], Role::SameClipAs(_)) {
            continue;
        }
        let car = run.facts.text(SheetKey::CAR).map(str::to_owned);
        match cars.iter_mut().find(|(name, _)| *name == car) {
            Some((_, places)) => places.push(place),
            None => cars.push((car, vec![place])),
        }
    }
    let mut logs: Vec<CarLog> = (cars.into_iter())
        .map(|(car, places)| CarLog {
            car,
            steps: steps(runs, &places, keys),
        })
        .filter(|log| log.steps.len() > 1)
        .collect();
    adjust_for_many(&mut logs);
    logs
}

/// Holm's adjustment of all changes among each other.
fn adjust_for_many(logs: &mut [CarLog]) {
    let changes = (logs.iter_mut())
        .flat_map(|log| &mut log.steps)
        .flat_map(|step| &mut step.values)
        .filter_map(|value| value.change.as_mut());
    let mut tested: Vec<(f64, &mut StepChange)> = changes
        .filter_map(|change| Some((change.p?, change)))
        .collect();
    let p: Vec<f64> = tested.iter().map(|(p, _)| *p).collect();
    for ((_, change), adjusted) in tested.iter_mut().zip(holm(&p)) {
        change.p_holm = Some(adjusted);
    }
}

fn steps(runs: &[Run], places: &[usize], keys: &[Key]) -> Vec<Step> {
    let mut steps: Vec<Step> = Vec::new();
    let mut before: Option<&Run> = None;
    for &place in places {
        let run = &runs[place];
        let note = run.facts.text(SheetKey::CHANGE).map(str::to_owned);
        let changed: Vec<_> = before.map_or_else(Vec::new, |before| {
            let own = |text: Option<&str>| text.map(str::to_owned);
            (run.facts.changes_since(&before.facts))
                .map(|(key, then, now)| (key.to_owned(), own(then), own(now)))
                .collect()
        });
        // One sheet for several runs repeats its note; only a new note is a new change.
        let noted = before.is_some_and(|before| {
            note.is_some() && before.facts.text(SheetKey::CHANGE) != note.as_deref()
        });
        match steps.last_mut() {
            Some(step) if changed.is_empty() && !noted => step.runs.push(place),
            _ => steps.push(Step {
                note,
                changed,
                runs: vec![place],
                values: Vec::new(),
            }),
        }
        before = Some(run);
    }
    for key in keys {
        fill(runs, &mut steps, *key);
    }
    steps
}

/// Works out one quantity of all steps.
fn fill(runs: &[Run], steps: &mut [Step], key: Key) {
    let spread = spread_of_states(runs, steps, key);
    let mut before: Option<(f64, usize)> = None;
    for step in steps {
        let values = values(runs, &step.runs, key);
        let sample = describe(&values);
        let change = match (before, sample) {
            (Some((mean, n)), Some(now)) => Some(change(mean, n, now.mean, now.n, spread)),
            _ => None,
        };
        step.values.push(StepValue {
            n: values.len(),
            mean: sample.map(|sample| sample.mean),
            change,
        });
        // A step that does not show the quantity does not break the sequence.
        before = sample.map(|sample| (sample.mean, sample.n)).or(before);
    }
}

fn change(before: f64, n: usize, now: f64, m: usize, spread: Option<(f64, f64)>) -> StepChange {
    let difference = now - before;
    let error = spread.map(|(sd, df)| (sd * (1.0 / n as f64 + 1.0 / m as f64).sqrt(), df));
    let error = error.filter(|(error, _)| *error > 0.0);
    StepChange {
        difference,
        interval: error
            .and_then(|(error, df)| Some(Interval::about(difference, t_factor(df)? * error))),
        p: error.and_then(|(error, df)| t_p(difference / error, df)),
        p_holm: None,
    }
}

fn values(runs: &[Run], places: &[usize], key: Key) -> Vec<f64> {
    (places.iter())
        .filter_map(|place| runs[*place].values.get(&key)?.as_ref().ok())
        .map(|value| value.value)
        .collect()
}

/// Standard deviation of runs of this car in one and the same state, with its degrees of freedom. A state
/// that a car comes back to (bare, strip, bare, strip) is one state.
fn spread_of_states(runs: &[Run], steps: &[Step], key: Key) -> Option<(f64, f64)> {
    let mut states: BTreeMap<String, Vec<f64>> = BTreeMap::new();
    for step in steps {
        let Some(first) = step.runs.first() else {
            continue;
        };
        let facts = &runs[*first].facts;
        let state = format!("{:?}", facts.state());
        (states.entry(state).or_default()).extend(values(runs, &step.runs, key));
    }
    let groups: Vec<Vec<f64>> = states.into_values().collect();
    let found = super::variance::repeatability(&groups)?;
    Some((found.sd, found.df))
}

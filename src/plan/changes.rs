//! Change this one thing by a tenth: what it does, ordered by what it gains for the work.

use super::Task;
use super::evidence::Setting;
use super::levers::Lever;
use super::predict::{Asked, Outcome, Runs, Value};
use serde::Serialize;

/// By how much each thing is changed, as a share of it; ballast by this share of the mass.
const BY: f64 = 0.10;
/// Share of the cars that may stand before the end of the sprint where a time is told.
const LATE: f64 = 0.025;

/// One change and what it does.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Change {
    /// The lever.
    pub lever: Lever,
    /// Its size now and then, SI.
    pub from: f64,
    /// See `from`.
    pub to: f64,
    /// Further (+) or less far (-), m.
    pub stop_m: Value,
    /// Slower (+) or faster (-) over the sprint, s; `None` where a car may not get there.
    pub sprint_s: Option<Value>,
    /// More (+) or less (-) demand on the tyres, as a share of what they hold.
    pub grip_demand: Value,
    /// Minutes of work: common practice, no source.
    pub effort_min: f64,
    /// What the task gains for each minute of work: metres nearer to the target or further, seconds, or share of grip.
    pub gain_per_min: f64,
}

/// All changes that help the task, best first, and then those that do not.
pub(super) fn changes(asked: &Asked<'_>, task: Task, now: &Setting) -> Vec<Change> {
    let before = asked.outcomes(now, Runs::Next);
    let mut out: Vec<Change> = (Lever::ALL.into_iter())
        .filter(|lever| lever.missing(now).is_none())
        .flat_map(|lever| [1.0 + BY, 1.0 - BY].map(|by| (lever, by)))
        .filter_map(|(lever, by)| change(asked, task, now, (lever, by), &before))
        .collect();
    out.sort_by(|a, b| b.gain_per_min.total_cmp(&a.gain_per_min));
    // One direction of each lever: the better one.
    let mut told = Vec::new();
    out.retain(|change| {
        let new = !told.contains(&change.lever);
        told.push(change.lever);
        new
    });
    out
}

fn change(
    asked: &Asked<'_>,
    task: Task,
    now: &Setting,
    (lever, by): (Lever, f64),
    before: &[Outcome],
) -> Option<Change> {
    let from = lever.now(now);
    let to = match lever {
        Lever::Ballast if by < 1.0 => return None,
        Lever::Ballast => lever.rounded(from + BY * now.mass_kg?),
        _ => lever.rounded(from * by),
    };
    let after = asked.outcomes(&lever.set(now, to), Runs::Next);
    let difference = |of: fn(&Outcome) -> f64| {
        let pairs = before.iter().zip(&after);
        Value::of(
            pairs
                .map(|(before, after)| of(after) - of(before))
                .collect(),
        )
    };
    let stop_m = difference(|o| o.stop_m)?;
    let late = before
        .iter()
        .zip(&after)
        .filter(|(before, after)| !before.time_s.is_finite() || !after.time_s.is_finite());
    // A car that stands before the end of the sprint has no time; the interval leaves as many out at either end.
    let nearly_all = (late.count() as f64) < LATE * before.len() as f64;
    let sprint_s = difference(|o| {
        if o.time_s.is_finite() {
            o.time_s
        } else {
            f64::NAN
        }
    });
    let sprint_s = sprint_s.filter(|_| nearly_all);
    let grip_demand = difference(|o| o.demand)?;
    let gain = match task {
        Task::Distance { metres } => {
            let there = |outcomes: &[Outcome]| {
                Value::of(outcomes.iter().map(|o| o.stop_m).collect()).map(|stop| stop.value)
            };
            (there(before)? - metres).abs() - (there(&after)? - metres).abs()
        }
        Task::Far => stop_m.value,
        Task::Fast { .. } => -sprint_s.map_or(0.0, |time| time.value),
        Task::NoSlip => -grip_demand.value,
    };
    Some(Change {
        lever,
        from,
        to,
        stop_m,
        sprint_s,
        grip_demand,
        effort_min: lever.effort_min(),
        gain_per_min: gain / lever.effort_min(),
    })
}

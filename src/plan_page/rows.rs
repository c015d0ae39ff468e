//! The tables of a plan, in words.

use super::say::{change, metres, outcome, setting, size, spins, with_interval};
use crate::outputs::shown::number;
use crate::plan::{Answer, Change, Companions, Lever, LeverAnswer, Plan, Prediction, Task};

/// Lists that are longer say the first few: the rest is in the file.
const MOST_NEXT: usize = 3;

/// All of them.
pub(super) struct Rows {
    pub(super) levers: Vec<LeverRow>,
    pub(super) changes: Vec<ChangeRow>,
    pub(super) open: Vec<String>,
    pub(super) next: Vec<String>,
    pub(super) chassis: Option<String>,
}

/// One lever.
pub(super) struct LeverRow {
    pub(super) lever: &'static str,
    pub(super) now: String,
    pub(super) set: String,
    pub(super) with: String,
    pub(super) gives: String,
    pub(super) does_it: &'static str,
    pub(super) how: &'static str,
}

impl LeverRow {
    pub(super) fn words(&self) -> String {
        let with = if self.with.is_empty() {
            String::new()
        } else {
            format!(" ({})", self.with)
        };
        format!("{}{with}; {}", self.set, self.gives)
    }
}

/// One change by a tenth.
pub(super) struct ChangeRow {
    pub(super) what: String,
    pub(super) stop: String,
    pub(super) sprint: String,
    pub(super) grip: String,
    pub(super) effort: String,
}

impl ChangeRow {
    pub(super) fn words(&self) -> String {
        format!(
            "{}: stops {}; over the sprint {}; asks {} of the grip; about {}",
            self.what, self.stop, self.sprint, self.grip, self.effort
        )
    }
}

pub(super) fn rows(of: &Plan) -> Rows {
    Rows {
        levers: of
            .levers
            .iter()
            .map(|one| lever_row(of.task, one))
            .collect(),
        changes: of.changes.iter().map(change_row).collect(),
        open: (of.open.iter())
            .map(|open| format!("{}, because {}: {}", open.what, open.because, open.measure))
            .collect(),
        next: (of.next.iter().take(MOST_NEXT))
            .map(|one| {
                let digits = if one.half_then < 0.1 { 3 } else { 2 };
                format!(
                    "{}: the interval narrows from ± {} to about ± {} {}",
                    one.what,
                    number(one.half_now, digits),
                    number(one.half_then, digits),
                    one.unit
                )
            })
            .collect(),
        chassis: chassis(of),
    }
}

fn gives(task: Task, of: &Prediction) -> String {
    let speed = with_interval(&of.peak_speed_m_per_s, 1.0, "m/s");
    let what = outcome(task, of);
    let spins = spins(of);
    match task {
        Task::NoSlip => format!(
            "{what}; it stops at {}, top speed {speed}",
            metres(&of.stop_m)
        ),
        Task::Fast { .. } => format!(
            "{what}; it stops at {}; the wheels spin in {spins}",
            metres(&of.stop_m)
        ),
        Task::Distance { .. } | Task::Far => {
            format!("{what}, top speed {speed}; the wheels spin in {spins}")
        }
    }
}

/// What else is to be set with a lever.
fn also(lever: Lever, with: &Companions, ends_at_range: bool) -> String {
    let mut out = Vec::new();
    if lever == Lever::String {
        let turns = with_interval(&with.turns, 1.0, "");
        out.push(format!("{turns} turns of the axle"));
    }
    if lever == Lever::Arm {
        out.push(format!("{} of string", size(Lever::String, with.string_m)));
        let coil = |pivot| format!("coil {} ahead of the axle", size(Lever::Arm, pivot));
        out.extend(with.pivot_m.map(coil));
    }
    if ends_at_range {
        out.push("the interval ends where no more can be built".to_owned());
    }
    out.join(", ")
}

fn lever_row(task: Task, one: &LeverAnswer) -> LeverRow {
    let lever = one.lever;
    let (set, with, gives, does_it) = match &one.answer {
        Answer::Set {
            size,
            ends_at_range,
            setting: with,
            prediction,
        } => (
            setting(lever, size),
            also(lever, with, *ends_at_range),
            gives(task, prediction),
            "yes",
        ),
        Answer::NotAlone {
            nearest,
            prediction,
        } => (
            format!("not by this alone; nearest {}", size(lever, *nearest)),
            String::new(),
            gives(task, prediction),
            "no",
        ),
        Answer::CannotTell { because, measure } => (
            format!("cannot be told, because {because}"),
            String::new(),
            measure.clone(),
            "?",
        ),
    };
    let now = if matches!(one.answer, Answer::CannotTell { .. }) {
        "-".to_owned()
    } else {
        size(lever, one.now)
    };
    LeverRow {
        lever: lever.words(),
        now,
        set,
        with,
        gives,
        does_it,
        how: lever.how(),
    }
}

fn change_row(of: &Change) -> ChangeRow {
    ChangeRow {
        what: format!(
            "{} {} to {}",
            of.lever.words(),
            size(of.lever, of.from),
            size(of.lever, of.to)
        ),
        stop: change(&of.stop_m, 1.0, "m"),
        sprint: of.sprint_s.as_ref().map_or_else(
            || "it may not get there".to_owned(),
            |time| change(time, 1.0, "s"),
        ),
        grip: change(&of.grip_demand, 100.0, "%"),
        effort: format!("{:.0} min", of.effort_min),
    }
}

fn chassis(of: &Plan) -> Option<String> {
    let found = of.chassis.as_ref()?;
    let [now, then] = found
        .wheelbase_m
        .map(|wheelbase| number(1000.0 * wheelbase, 0));
    let grip = change(&found.grip_demand, 100.0, "%");
    let off = found.off_line_m.as_ref().map_or_else(
        || "how straight it runs cannot be told, because no run shows its curve".to_owned(),
        |[before, after]| {
            format!(
                "with the axles as they are the curve takes it off line by {} at {} m, and by {} then",
                with_interval(before, 1.0, "m"),
                number(found.at_m, 2),
                with_interval(after, 1.0, "m")
            )
        },
    );
    Some(format!(
        "a wheelbase of {then} mm instead of {now}: {off}; it asks {grip} of the grip"
    ))
}

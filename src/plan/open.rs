//! What the runs cannot tell, and the one measurement that would tell it.

use super::evidence::Evidence;
use super::levers::Lever;
use serde::Serialize;

/// Something that cannot be told.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Open {
    /// What.
    pub what: String,
    /// Why not.
    pub because: String,
    /// The one measurement that would tell it.
    pub measure: String,
}

fn open(what: &str, because: &str, measure: &str) -> Open {
    Open {
        what: what.to_owned(),
        because: because.to_owned(),
        measure: measure.to_owned(),
    }
}

/// Whether some run shows what rolling takes: its coast, or the place where it stood.
pub(super) fn rolls_known(evidence: &Evidence) -> bool {
    let shows = |run: &super::evidence::RunEvidence| run.coast_loss.is_some() || run.stop.is_some();
    evidence.runs.iter().any(shows)
}

/// Whether some run shows how fast the pull makes the car.
pub(super) fn pull_known(evidence: &Evidence) -> bool {
    let shows =
        |run: &super::evidence::RunEvidence| run.peak_speed.is_some() || !run.speeds.is_empty();
    evidence.runs.iter().any(shows)
}

/// Whether some run shows whether the wheels slid.
pub(super) fn grip_known(evidence: &Evidence) -> bool {
    let here = evidence
        .runs
        .iter()
        .filter(|run| run.floor == evidence.floor);
    let mut here = here.peekable();
    here.peek().is_some() && here.any(|run| run.slid.is_some() || run.grip.is_some())
}

/// Why no stopping place is told.
pub(super) fn no_coast() -> Open {
    open(
        "where the car stops",
        "no run shows its coast or the place where it stood still",
        "measure with a tape where it stands still and write it on the sheet as rolled_mm under [finish], or film the coast",
    )
}

/// Why no speed is told.
pub(super) fn no_pull() -> Open {
    open(
        "what the pull gives",
        "no run shows the speed of the car",
        "film the pull from before the release until the string is off, beside the track",
    )
}

/// Why nothing about wheelspin is told.
pub(super) fn no_grip() -> Open {
    open(
        "whether the wheels spin",
        "no run on this floor shows the slip of its wheels",
        "put a mark on the driven wheel and film it from before the release",
    )
}

/// What stays open, though the task itself may be answered.
pub(super) fn open_questions(evidence: &Evidence) -> Vec<Open> {
    let Some(last) = evidence.runs.last() else {
        return Vec::new();
    };
    let mut out = Vec::new();
    if !rolls_known(evidence) {
        out.push(no_coast());
    }
    if !pull_known(evidence) {
        out.push(no_pull());
    }
    if !grip_known(evidence) {
        out.push(no_grip());
    }
    if Lever::Ballast.missing(&last.setting).is_some() {
        out.push(open(
            "what ballast does, and any force in newtons",
            "no sheet says what the car weighs",
            "put the whole car on a kitchen balance: mass_g in [car]",
        ));
    }
    if Lever::Arm.missing(&last.setting).is_some() {
        out.push(open(
            "which arm would do",
            "no sheet says how long the arm is",
            "measure from the middle of the coil to where the string is tied: arm_length_mm in [spring]",
        ));
    }
    if evidence.readings.len() < 2 {
        out.push(open(
            "how strong the spring is by itself",
            "the runs show only the spring and what pushes against it together",
            "hold the arm's end on a kitchen balance at two angles, square to the arm: [[spring_reading]] in the sheet",
        ));
    }
    let slid_here =
        |run: &super::evidence::RunEvidence| run.floor == evidence.floor && run.slid == Some(true);
    if grip_known(evidence) && !evidence.runs.iter().any(slid_here) {
        out.push(open(
            "how much more the tyres would hold",
            "no run on this floor spun its wheels, so the grip is known from below only",
            "film one run with a thicker axle, such that the wheels just spin",
        ));
    }
    out
}

//! `gripline plan`: results of one car's runs in, the setting that does a task out.

use super::{complain, recovered, say, wrong_usage};
use crate::outputs::{WriteError, printable_path};
use crate::plan::{Earlier, Sheets, Task, Track, evidence, plan};
use crate::plan_page::{PLAN_NAME, PLAN_PAGE_NAME, plan_words, write_plan};
use crate::sheet::RunSheet;
use crate::treatments::read_runs;
use clap::{ArgGroup, Args};
use std::fs;
use std::path::{Path, PathBuf};

/// The longest track that is planned for, m.
const LONGEST_M: f64 = 200.0;
/// The shortest, m.
const SHORTEST_M: f64 = 0.2;
/// The steepest ramp that is planned for, degrees.
const STEEPEST_DEG: f64 = 30.0;
/// Largest earlier plan that is read, bytes; a real one has 60 kB.
const MOST_BYTES: u64 = 4 << 20;

#[derive(Debug, Args)]
#[command(after_long_help = include_str!("help/plan.txt"))]
#[command(
    override_usage = "gripline plan [OPTIONS] <RESULTS>... --distance-m <METRES> (or another task)"
)]
#[command(group(ArgGroup::new("task").required(true).args(["distance_m", "far", "fast_over_m", "no_slip"])))]
pub(super) struct PlanArguments {
    /// Results of one car: result folders, folders of them, or summary.json files
    #[arg(required = true, value_name = "RESULTS")]
    results: Vec<PathBuf>,
    /// The car is to stop this far from the start, metres
    #[arg(long, value_name = "METRES", alias = "target-m")]
    distance_m: Option<f64>,
    /// The car is to go as far as it can
    #[arg(long)]
    far: bool,
    /// The car is to be fast over this way, metres
    #[arg(long, value_name = "METRES")]
    fast_over_m: Option<f64>,
    /// The driven wheels are not to spin
    #[arg(long)]
    no_slip: bool,
    /// The track rises by this angle: the car is to climb, degrees
    #[arg(long, value_name = "DEGREES", default_value_t = 0.0)]
    slope_deg: f64,
    /// Plan for these wheels [default: those of the last run]
    #[arg(long, value_name = "TREATMENT")]
    treatment: Option<String>,
    /// A run sheet with what the runs' own sheets do not say: [spring], spring readings, mass
    #[arg(long, value_name = "SHEET")]
    sheet: Option<PathBuf>,
    /// Folder for the plan
    #[arg(long, value_name = "FOLDER", default_value = "plan")]
    out: PathBuf,
    /// Write it anew where a plan is there already, and say what became of that one
    #[arg(long)]
    replace: bool,
}

/// Plans; false where it cannot be told or written.
pub(super) fn run(arguments: &PlanArguments) -> bool {
    let task = task(arguments);
    let track = track(arguments.slope_deg);
    let out = &arguments.out;
    recovered(out.parent());
    if out.symlink_metadata().is_ok() && !arguments.replace {
        let error = WriteError::Exists { path: out.clone() };
        complain(&error, error.hint());
        return false;
    }
    let sheet = arguments.sheet.as_deref().map(RunSheet::read).transpose();
    let sheet = sheet.map_err(|error| complain(&error, &error.hint()));
    let Ok(sheet) = sheet else { return false };
    let runs = read_runs(&arguments.results).map_err(|error| complain(&error, error.hint()));
    let Ok(runs) = runs else { return false };
    let read: Vec<PathBuf> = runs.iter().map(|run| run.path.clone()).collect();
    let ways = Sheets {
        sheet: sheet.as_ref(),
        treatment: arguments.treatment.as_deref(),
    };
    let earlier = earlier(out);
    let planned =
        evidence(runs, &ways).and_then(|found| plan(found, task, track, earlier.as_ref()));
    let planned = planned.map_err(|error| complain(&error, error.hint()));
    let Ok(planned) = planned else { return false };
    match write_plan(&planned, out, arguments.replace, &read) {
        Ok(()) => {
            say(&plan_words(&planned));
            say(&format!("Plan: {}\n", printable_path(out)));
            let page = out.join(PLAN_PAGE_NAME);
            say(&format!("Page: {}\n", printable_path(&page)));
            true
        }
        Err(error) => {
            complain(&error, error.hint());
            false
        }
    }
}

/// The plan that is replaced; one that cannot be read is none.
fn earlier(out: &Path) -> Option<Earlier> {
    let path = out.join(PLAN_NAME);
    let small = fs::metadata(&path).is_ok_and(|about| about.len() <= MOST_BYTES);
    Earlier::read(&fs::read(&path).ok().filter(|_| small)?)
}

fn track(slope_deg: f64) -> Track {
    if !(0.0..=STEEPEST_DEG).contains(&slope_deg) {
        wrong_usage(&format!(
            "`--slope-deg {slope_deg}` is not between 0 and {STEEPEST_DEG} degrees"
        ));
    }
    Track {
        slope_rad: slope_deg.to_radians(),
    }
}

fn task(arguments: &PlanArguments) -> Task {
    let metres = |metres: f64, option: &str| {
        if !(SHORTEST_M..=LONGEST_M).contains(&metres) {
            wrong_usage(&format!(
                "`{option} {metres}` is not between {SHORTEST_M} and {LONGEST_M} metres"
            ));
        }
        metres
    };
    match (arguments.distance_m, arguments.fast_over_m) {
        (Some(asked), _) => Task::Distance {
            metres: metres(asked, "--distance-m"),
        },
        (None, Some(asked)) => Task::Fast {
            metres: metres(asked, "--fast-over-m"),
        },
        (None, None) if arguments.far => Task::Far,
        (None, None) => Task::NoSlip,
    }
}

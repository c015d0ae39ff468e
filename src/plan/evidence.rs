//! What measured runs tell of a car: the quantities of their summaries with standard uncertainties, the speed along the
//! pull from their frames, and the sizes on their sheets.

use super::PlanError;
use super::frames::{Frames, read_frames};
use crate::findings::{Key, STANDARD_GRAVITY_M_PER_S2};
use crate::sheet::RunSheet;
use crate::treatments::{Facts, Run, SheetKey, Value95, put_in_order};
use crate::uncertainty::COVERAGE_FACTOR;
use std::collections::BTreeMap;
use std::path::PathBuf;

/// A tape along a curved way, and where a car that creeps has stopped, m. Common practice, no source.
const TAPE_SD_M: f64 = 0.01;
/// Slip above this, with its whole interval, is slip.
const SLID: f64 = 0.05;
/// Slip whose interval ends below this is none.
const HELD: f64 = 0.10;

/// A value with its standard uncertainty.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Measured {
    /// Best value.
    pub value: f64,
    /// Standard uncertainty.
    pub sd: f64,
}

impl Measured {
    /// From a 95 % interval.
    pub fn of(seen: Value95) -> Self {
        Self {
            value: seen.value,
            sd: (seen.high - seen.low) / (2.0 * COVERAGE_FACTOR),
        }
    }
}

/// What can be set on the car, with the sizes that go with it, SI.
#[derive(Debug, Clone, PartialEq)]
pub struct Setting {
    /// String wound on the axle.
    pub string_m: f64,
    /// Diameter of the bare axle.
    pub axle_m: f64,
    /// Diameter of the driven wheel.
    pub wheel_m: f64,
    /// Coil's middle to the place where the string is tied.
    pub arm_m: Option<f64>,
    /// Driven axle to coil's middle.
    pub pivot_m: Option<f64>,
    /// How far the arm is swung back at the start.
    pub swung_back_rad: Option<f64>,
    /// Thickness of the string.
    pub string_diameter_m: Option<f64>,
    /// The car as it was weighed.
    pub mass_kg: Option<f64>,
    /// Ballast over the driven axle that was not weighed with it.
    pub added_kg: f64,
    /// Share of the weight on the driven axle.
    pub driven_share: Option<f64>,
    /// Front to rear axle.
    pub wheelbase_m: Option<f64>,
}

/// How it is known where the car stood still.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StopBy {
    /// The sheet says so: a tape.
    Tape,
    /// The clip shows it.
    Clip,
}

/// What one run tells. What it does not show is `None`.
#[derive(Debug, Clone, PartialEq)]
pub struct RunEvidence {
    /// Name of the result folder.
    pub name: String,
    /// The sizes on its sheet.
    pub setting: Setting,
    /// Which floor and treatment, a place in [`Evidence::floors`].
    pub floor: usize,
    /// Highest speed, m/s.
    pub peak_speed: Option<Measured>,
    /// Release to the end of the pull, s.
    pub powered: Option<Measured>,
    /// Loss of speed in the coast at the speed of the string's end, m/s².
    pub coast_loss: Option<Measured>,
    /// Way lost in sliding, m.
    pub spun_away: Option<Measured>,
    /// Friction while sliding.
    pub grip: Option<Measured>,
    /// Rolling radius by the coast, m.
    pub rolling_radius: Option<Measured>,
    /// Whether the wheels slid; `None` where that is open.
    pub slid: Option<bool>,
    /// Way until it stood, m.
    pub stop: Option<(Measured, StopBy)>,
    /// Speeds along the pull: way (m) and speed (m/s).
    pub speeds: Vec<(f64, Measured)>,
    /// Steady curvature of the path, 1/m.
    pub curvature: Option<Measured>,
    /// Turns that the string should have given and did not.
    pub string_slip: Option<Value95>,
}

/// A reading of the spring: angle from where the arm rests, and the moment that holds it there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    /// Angle, rad.
    pub swung_rad: f64,
    /// Moment, N m.
    pub moment_n_m: f64,
}

/// What all runs of one car tell.
#[derive(Debug, Clone, PartialEq)]
pub struct Evidence {
    /// The car's name.
    pub car: Option<String>,
    /// The runs in order.
    pub runs: Vec<RunEvidence>,
    /// Floors and treatments that differ, in words.
    pub floors: Vec<String>,
    /// The one that is planned for.
    pub floor: usize,
    /// Readings of the spring, each once.
    pub readings: Vec<Reading>,
    /// What a reader should know of how the runs were read.
    pub notes: Vec<String>,
}

/// What a set of runs is read for.
#[derive(Debug, Clone, Default)]
pub struct Sheets<'a> {
    /// Sizes for all runs whose own sheets are silent.
    pub sheet: Option<&'a RunSheet>,
    /// The treatment that is planned for; else that of the last run.
    pub treatment: Option<&'a str>,
}

/// The evidence of runs.
///
/// # Errors
/// [`PlanError`] for runs of several cars, and for sizes without which no run can be followed.
pub fn evidence(mut runs: Vec<Run>, ways: &Sheets<'_>) -> Result<Evidence, PlanError> {
    put_in_order(&mut runs, None);
    let car = one_car(&runs)?;
    let mut seen = std::collections::BTreeSet::new();
    let mut notes = Vec::new();
    runs.retain(|run| {
        let new = seen.insert(run.clip_sha256.clone());
        if !new {
            notes.push(format!(
                "{} is the same clip as another result and counts once",
                run.name
            ));
        }
        new
    });
    let mut floors: Vec<String> = Vec::new();
    let mut out = Vec::new();
    let mut readings: Vec<Reading> = Vec::new();
    for run in &runs {
        let floor = floor_words(&run.facts);
        let place = floors.iter().position(|known| *known == floor);
        let place = place.unwrap_or_else(|| {
            floors.push(floor);
            floors.len() - 1
        });
        readings_of(&run.facts, &mut readings);
        out.push(run_evidence(run, place, ways.sheet, &mut notes)?);
    }
    if let Some(sheet) = ways.sheet {
        for reading in &sheet.spring_readings {
            add_reading(&mut readings, reading.swung_rad, reading.moment_n_m);
        }
    }
    let floor = planned_floor(&floors, &runs, &out, ways.treatment)?;
    Ok(Evidence {
        car,
        runs: out,
        floors,
        floor,
        readings,
        notes,
    })
}

fn one_car(runs: &[Run]) -> Result<Option<String>, PlanError> {
    let mut cars: BTreeMap<Option<&str>, usize> = BTreeMap::new();
    for run in runs {
        *cars.entry(run.facts.text(SheetKey::CAR)).or_default() += 1;
    }
    if cars.len() > 1 {
        let words = |(car, count): (Option<&str>, usize)| {
            let name = car.map_or_else(|| "a car without a name".to_owned(), str::to_owned);
            format!("{name} ({count})")
        };
        return Err(PlanError::SeveralCars {
            cars: cars
                .iter()
                .map(|(car, count)| words((*car, *count)))
                .collect::<Vec<_>>()
                .join(", "),
        });
    }
    let only = cars.keys().next().ok_or(PlanError::NoRuns)?;
    Ok(only.map(str::to_owned))
}

/// What grip depends on: how the wheels were treated, and the floor.
fn floor_words(facts: &Facts) -> String {
    let parts = [SheetKey::TREATMENT, SheetKey::FLOOR].map(|key| facts.text(key));
    match parts {
        [Some(wheels), Some(floor)] => format!("{wheels} on {floor}"),
        [Some(only), None] | [None, Some(only)] => only.to_owned(),
        [None, None] => "wheels and floor as they were".to_owned(),
    }
}

fn planned_floor(
    floors: &[String],
    runs: &[Run],
    read: &[RunEvidence],
    treatment: Option<&str>,
) -> Result<usize, PlanError> {
    let of = |place: usize| read.get(place).map(|run| run.floor);
    let Some(asked) = treatment else {
        return of(read.len().saturating_sub(1)).ok_or(PlanError::NoRuns);
    };
    let place = runs
        .iter()
        .rposition(|run| run.facts.text(SheetKey::TREATMENT) == Some(asked));
    place
        .and_then(of)
        .ok_or_else(|| PlanError::NoSuchTreatment {
            asked: asked.to_owned(),
            known: floors.join(", "),
        })
}

fn number(facts: &Facts, name: &str) -> Option<f64> {
    facts.by_name(name)?.number
}

/// Grams, millimetres and milliseconds of the file in SI.
fn in_thousandths(facts: &Facts, name: &str) -> Option<f64> {
    number(facts, name).map(|value| value / 1000.0)
}

fn readings_of(facts: &Facts, out: &mut Vec<Reading>) {
    // One table, or a list of them.
    let prefixes = (1..=50).map(|n| format!("spring_reading {n}"));
    for prefix in std::iter::once("spring_reading".to_owned()).chain(prefixes) {
        let of = |key: &str| number(facts, &format!("{prefix}.{key}"));
        let Some(swung_deg) = of("swung_deg") else {
            continue;
        };
        let lever_mm = of("held_at_mm").or(number(facts, "spring.arm_length_mm"));
        let force_n = of("force_n")
            .or(of("balance_g").map(|grams| grams / 1000.0 * STANDARD_GRAVITY_M_PER_S2));
        if let Some((force_n, lever_mm)) = force_n.zip(lever_mm) {
            add_reading(out, swung_deg.to_radians(), force_n * lever_mm / 1000.0);
        }
    }
}

/// The same reading stands on the sheets of many runs and is one.
fn add_reading(out: &mut Vec<Reading>, swung_rad: f64, moment_n_m: f64) {
    let same = |one: &Reading| {
        (one.swung_rad - swung_rad).abs() < 1e-6 && (one.moment_n_m - moment_n_m).abs() < 1e-6
    };
    if !out.iter().any(same) {
        out.push(Reading {
            swung_rad,
            moment_n_m,
        });
    }
}

fn setting(run: &Run, sheet: Option<&RunSheet>) -> Result<Setting, PlanError> {
    let facts = &run.facts;
    let car = sheet.map(|sheet| &sheet.car);
    let spring = sheet.map(|sheet| sheet.spring);
    let needed = |name: &'static str, of: Option<f64>| {
        in_thousandths(facts, name)
            .or(of)
            .ok_or(PlanError::MissingSize {
                run: run.name.clone(),
                key: name.rsplit('.').next().unwrap_or(name),
            })
    };
    let size = |name: &str, of: Option<f64>| in_thousandths(facts, name).or(of);
    Ok(Setting {
        string_m: needed("car.string_mm", car.and_then(|car| car.string_m))?,
        axle_m: needed(
            "car.axle_diameter_mm",
            car.and_then(|car| car.axle_diameter_m),
        )?,
        wheel_m: needed(
            "car.wheel_diameter_mm",
            car.and_then(|car| car.wheel_diameter_m),
        )?,
        arm_m: size("spring.arm_length_mm", spring.and_then(|s| s.arm_length_m)),
        pivot_m: size(
            "spring.pivot_ahead_mm",
            spring.and_then(|s| s.pivot_ahead_m),
        ),
        swung_back_rad: number(facts, "spring.swung_back_deg")
            .map(f64::to_radians)
            .or(spring.and_then(|s| s.swung_back_rad)),
        string_diameter_m: size(
            "car.string_diameter_mm",
            car.and_then(|car| car.string_diameter_m),
        ),
        mass_kg: size("car.mass_g", car.and_then(|car| car.mass_kg)),
        added_kg: 0.0,
        driven_share: number(facts, "car.driven_share").or(car.and_then(|car| car.driven_share)),
        wheelbase_m: size("car.wheelbase_mm", car.and_then(|car| car.wheelbase_m)),
    })
}

fn run_evidence(
    run: &Run,
    floor: usize,
    sheet: Option<&RunSheet>,
    notes: &mut Vec<String>,
) -> Result<RunEvidence, PlanError> {
    let seen = |key: Key| {
        run.values
            .get(&key)
            .and_then(|seen| seen.as_ref().ok())
            .copied()
    };
    let measured = |key: Key| seen(key).map(Measured::of);
    let folder: PathBuf = run.path.parent().map_or_else(PathBuf::new, PathBuf::from);
    let frames = read_frames(&folder.join("frames.csv")).unwrap_or_else(|why| {
        notes.push(format!("frames.csv of {} was left out: {why}", run.name));
        Frames::default()
    });
    let taped = in_thousandths(&run.facts, "finish.rolled_mm");
    let stop = match (taped, measured(Key::DistanceM)) {
        (Some(value), _) => Some((
            Measured {
                value,
                sd: TAPE_SD_M,
            },
            StopBy::Tape,
        )),
        (None, Some(seen)) if frames.stood_still => Some((seen, StopBy::Clip)),
        _ => None,
    };
    let slid = seen(Key::MaxSlip).and_then(|slip| {
        let held = slip.high < HELD;
        (held || slip.low > SLID).then_some(!held)
    });
    Ok(RunEvidence {
        name: run.name.clone(),
        setting: setting(run, sheet)?,
        floor,
        peak_speed: measured(Key::PeakSpeedMPerS),
        powered: measured(Key::PoweredS),
        coast_loss: measured(Key::CoastDecelerationMPerS2),
        spun_away: measured(Key::SpunAwayM),
        grip: measured(Key::GripCoefficient),
        rolling_radius: measured(Key::RollingRadiusM),
        slid,
        stop,
        speeds: frames.speeds,
        curvature: measured(Key::CurvaturePerM),
        string_slip: seen(Key::StringSlipTurns),
    })
}

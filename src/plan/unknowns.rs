//! What is not known of a car before its runs are looked at: each unknown with its range and where that comes from, and
//! the way from a point among them to a [`Car`].
//!
//! A point is a list of numbers that are all standard normal beforehand. Sizes that cannot be negative go by their
//! logarithm.

use super::car::Car;
use super::evidence::Setting;
use serde::Serialize;
use std::f64::consts::PI;

/// Where a range comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Source {
    /// The run sheet, with the uncertainty of such a measurement.
    Sheet,
    /// A handbook that the words name; cited from memory.
    Handbook,
    /// Common practice, no source.
    CommonPractice,
}

/// An unknown of the car that all runs share.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
#[expect(missing_docs, reason = "each is explained by `Prior::words`")]
pub enum Unknown {
    Stiffness,
    Preload,
    SwungBack,
    Arm,
    Gap,
    PullKept,
    StringThickness,
    WheelRadius,
    Mass,
    DrivenWheels,
    FreeWheels,
    DrivenShare,
    Transfer,
    GripRatio,
    Rolling,
    Air,
    RollingBySize,
}

/// How many there are.
pub const SHARED: usize = 17;

/// How a standard normal number becomes the unknown.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Shape {
    /// `middle + spread z`, kept between two ends.
    Plain { low: f64, high: f64 },
    /// `middle exp(spread z)`.
    Log,
}

/// An unknown with its range before the runs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Prior {
    /// Which one.
    pub unknown: Unknown,
    /// What it is, in words with its unit.
    pub words: &'static str,
    /// Middle of the range, SI.
    pub middle: f64,
    /// One standard deviation: of the unknown, or of its logarithm.
    spread: f64,
    shape: Shape,
    /// Where the range comes from.
    pub source: Source,
    /// The source in words.
    pub from: &'static str,
}

impl Prior {
    /// The unknown for a standard normal number.
    pub fn at(&self, z: f64) -> f64 {
        match self.shape {
            Shape::Plain { low, high } => (self.middle + self.spread * z).clamp(low, high),
            // Beyond eight standard deviations no search needs to go.
            Shape::Log => self.middle * (self.spread * z.clamp(-8.0, 8.0)).exp(),
        }
    }

    /// Both ends of the range that holds it in 95 of 100 cases beforehand.
    pub fn range(&self) -> [f64; 2] {
        [self.at(-1.96), self.at(1.96)]
    }
}

const fn log(unknown: Unknown, words: &'static str, middle: f64, spread: f64) -> Prior {
    Prior {
        unknown,
        words,
        middle,
        spread,
        shape: Shape::Log,
        source: Source::CommonPractice,
        from: "common practice, no source",
    }
}

const fn plain(
    unknown: Unknown,
    words: &'static str,
    middle: f64,
    spread: f64,
    ends: [f64; 2],
) -> Prior {
    let [low, high] = ends;
    Prior {
        shape: Shape::Plain { low, high },
        ..log(unknown, words, middle, spread)
    }
}

impl Prior {
    const fn handbook(self, from: &'static str) -> Self {
        Self {
            source: Source::Handbook,
            from,
            ..self
        }
    }

    /// The same, measured: `spread` as in the range.
    fn measured(self, middle: f64, spread: f64) -> Self {
        Self {
            middle,
            spread,
            source: Source::Sheet,
            from: "the run sheet, as good as such sizes are measured",
            ..self
        }
    }
}

/// A ruler, and a caliper, held by hand, m; a balance, as a share; an angle judged by eye, rad. Common practice, no
/// source; `priors/typical.rs` has the same for the measuring of a run.
const RULER_SD_M: f64 = 0.0015;
const CALIPER_SD_M: f64 = 0.0001;
const BALANCE_SHARE: f64 = 0.01;
const ANGLE_SD_RAD: f64 = 0.07;
const SHARE_SD: f64 = 0.015;
/// A rolling radius differs from half the outer diameter by about this share (bicycle tyre tables, ISO 5775).
const RADIUS_SHARE: f64 = 0.003;
/// Height of such a car's centre of mass, m: common practice, no source.
const CENTRE_HEIGHT_M: f64 = 0.045;
/// An arm pulls about twice its length of string, less what the start angle and the string's end cost.
const PULL_PER_ARM: f64 = 1.9;

/// The ranges before the runs, for a car of which a sheet says this.
pub fn priors(of: &Setting) -> [Prior; SHARED] {
    use Unknown::{
        Air, Arm, DrivenShare, DrivenWheels, FreeWheels, Gap, GripRatio, Mass, Preload, PullKept,
        Rolling, RollingBySize, Stiffness, StringThickness, SwungBack, Transfer, WheelRadius,
    };
    let mut out = [
        log(Stiffness, "stiffness of the spring, N m per radian", 0.12, 0.7),
        log(Preload, "how far the spring is wound where the arm rests, radians", 1.0, 0.6),
        plain(SwungBack, "how far the arm is swung back at the start, radians", 2.95, 0.12, [0.7, 3.08]),
        log(Arm, "arm, m", of.string_m / PULL_PER_ARM, 0.2),
        log(Gap, "from the arm's tip to the axle with the arm all the way back, m", 0.015, 0.4),
        plain(PullKept, "share of the string's pull that turns the axle", 0.93, 0.04, [0.5, 1.0]),
        plain(StringThickness, "thickness of the string, m", 0.0008, 0.0005, [0.000_05, 0.01]),
        log(WheelRadius, "rolling radius, m", of.wheel_m / 2.0, RADIUS_SHARE)
            .measured(of.wheel_m / 2.0, RADIUS_SHARE),
        log(Mass, "mass of the car, kg", 0.2, 0.5),
        log(DrivenWheels, "what the driven wheels' turning adds to the mass, as a share of it", 0.12, 0.5),
        log(FreeWheels, "what the free wheels' turning adds, as a share of the mass", 0.055, 0.3),
        plain(DrivenShare, "share of the weight on the driven axle", 0.55, 0.07, [0.15, 0.95]),
        log(Transfer, "height of the centre of mass over the wheelbase", 0.2, 0.4),
        log(GripRatio, "by how much a tyre holds more than it slides with, as a share", 0.2, 0.5)
            .handbook("static and sliding friction of dry pairs, Marks' Standard Handbook (from memory)"),
        log(Rolling, "rolling loss as a share of the weight", 0.018, 0.5)
            .handbook("0.002 to 0.015 for tyres (Marks' handbook, after Moyer, from memory); 0.01 to 0.04 for small hard wheels, common practice"),
        log(Air, "drag: half the air's density times drag area, kg/m", 0.007, 0.5)
            .handbook("drag coefficient 0.7 to 1.2 of a bluff body (Hoerner, from memory) on 0.012 m²"),
        plain(RollingBySize, "power of the wheel's size by which it rolls more easily", 0.75, 0.25, [0.0, 1.5])
            .handbook("Coulomb: 1, Dupuit: 1/2 (from memory)"),
    ];
    let mut measured = |unknown: Unknown, value: Option<f64>, spread: f64| {
        if let Some(value) = value {
            let prior = &mut out[unknown as usize];
            *prior = prior.measured(value, spread);
        }
    };
    measured(SwungBack, of.swung_back_rad, ANGLE_SD_RAD);
    measured(Arm, of.arm_m, of.arm_m.map_or(1.0, |arm| RULER_SD_M / arm));
    let gap = of.pivot_m.zip(of.arm_m).map(|(pivot, arm)| pivot - arm);
    let gap = gap.filter(|gap| *gap > 0.002);
    measured(Gap, gap, gap.map_or(1.0, |gap| 1.5 * RULER_SD_M / gap));
    measured(StringThickness, of.string_diameter_m, CALIPER_SD_M);
    measured(Mass, of.mass_kg, BALANCE_SHARE);
    measured(DrivenShare, of.driven_share, SHARE_SD);
    if let Some(wheelbase) = of.wheelbase_m {
        out[Transfer as usize].middle = CENTRE_HEIGHT_M / wheelbase;
    }
    out
}

/// Friction of sliding wheels before the runs, for each floor and treatment: its median and the standard deviation of
/// its logarithm. Dry pairs of plastics, wood and rubber: 0.2 to 0.8 (Marks' Standard Handbook, from memory).
pub(super) const GRIP: [f64; 2] = [0.45, 0.5];

/// What differs from run to run though nothing was changed, as logarithms in units of the run-to-run deviation: the
/// pull, the rolling loss and the grip. Loss and grip scatter more than the pull: common practice, no source.
const PER_RUN: [f64; 3] = [1.0, 1.5, 1.5];
/// A string is tied and wound to a length this well, m: common practice, no source. The energy that it takes from the
/// spring goes about in proportion to its length.
const TIED_SD_M: f64 = 0.0015;

/// Standard deviations of the logarithms of pull, rolling loss and grip from run to run, for a run-to-run deviation and a
/// length of string.
pub fn per_run(run_to_run: f64, string_m: f64) -> [f64; 3] {
    let [pull, roll, grip] = PER_RUN.map(|part| part * run_to_run);
    [pull.hypot(TIED_SD_M / string_m), roll, grip]
}

/// A point: every unknown as a standard normal number.
#[derive(Debug, Clone, PartialEq)]
pub struct Point {
    /// The shared unknowns, in the order of [`Unknown`].
    pub shared: [f64; SHARED],
    /// Grip of each floor and treatment.
    pub grips: Vec<f64>,
}

/// Turns points into cars.
#[derive(Debug, Clone)]
pub struct Garage {
    /// Ranges before the runs.
    pub priors: [Prior; SHARED],
    /// The setting that the ranges are for: that of the first run.
    pub base: Setting,
}

impl Garage {
    /// For a base setting.
    pub fn new(base: &Setting) -> Self {
        Self {
            priors: priors(base),
            base: base.clone(),
        }
    }

    /// The unknown at a point, SI.
    pub fn value(&self, point: &Point, unknown: Unknown) -> f64 {
        self.priors[unknown as usize].at(point.shared[unknown as usize])
    }

    /// The car of a point in a setting, on the floor of a grip; `per_run` are the run's own logarithmic deviations of
    /// pull, rolling loss and grip.
    pub fn car(&self, point: &Point, grip: usize, to: &Setting, per_run: [f64; 3]) -> Car {
        let of = |unknown| self.value(point, unknown);
        let by = |now: Option<f64>, then: Option<f64>| now.zip(then).map_or(1.0, |(a, b)| a / b);
        let arm_m = of(Unknown::Arm) * by(to.arm_m, self.base.arm_m);
        let size = to.wheel_m / self.base.wheel_m;
        let base_kg = of(Unknown::Mass);
        let mass_kg = base_kg * by(to.mass_kg, self.base.mass_kg) + to.added_kg;
        let standing_kg = mass_kg - to.added_kg;
        let share = to.driven_share.zip(self.base.driven_share);
        let share = of(Unknown::DrivenShare) + share.map_or(0.0, |(now, then)| now - then);
        let sliding = GRIP[0] * (GRIP[1] * point.grips.get(grip).copied().unwrap_or(0.0)).exp();
        let sliding = sliding * per_run[2].exp();
        let given_gap = to.pivot_m.zip(to.arm_m).map(|(p, a)| p - a);
        let gap_by = by(
            given_gap,
            self.base.pivot_m.zip(self.base.arm_m).map(|(p, a)| p - a),
        );
        let swing_by = to.swung_back_rad.zip(self.base.swung_back_rad);
        Car {
            stiffness_n_m_per_rad: of(Unknown::Stiffness) * per_run[0].exp(),
            preload_rad: of(Unknown::Preload),
            swung_back_rad: (of(Unknown::SwungBack) + swing_by.map_or(0.0, |(a, b)| a - b))
                .clamp(0.5, 3.08),
            arm_m,
            pivot_m: arm_m + of(Unknown::Gap) * if gap_by > 0.0 { gap_by } else { 1.0 },
            pull_kept: of(Unknown::PullKept),
            string_m: to.string_m,
            winding_radius_m: f64::midpoint(to.axle_m, of(Unknown::StringThickness)),
            wheel_radius_m: of(Unknown::WheelRadius) * size,
            mass_kg,
            // Wheels of one make: mass goes by the square of the size, and inertia over radius squared with it.
            driven_wheels_kg: of(Unknown::DrivenWheels) * base_kg * size * size,
            free_wheels_kg: of(Unknown::FreeWheels) * base_kg,
            driven_share: (share.clamp(0.1, 0.98) * standing_kg + to.added_kg) / mass_kg,
            transfer: of(Unknown::Transfer) * by(self.base.wheelbase_m, to.wheelbase_m),
            grip_static: sliding * (1.0 + of(Unknown::GripRatio)),
            grip_sliding: sliding,
            rolling: of(Unknown::Rolling)
                * per_run[1].exp()
                * size.powf(-of(Unknown::RollingBySize)),
            air_kg_per_m: of(Unknown::Air),
            slope_rad: 0.0,
        }
    }

    /// Turns of the axle for a length of string, with the winding as it is known at a point.
    pub fn turns(&self, point: &Point, setting: &Setting) -> f64 {
        setting.string_m / (PI * (setting.axle_m + self.value(point, Unknown::StringThickness)))
    }
}

//! How far a car is from what the runs showed, in standard deviations.

use super::drive::{Ran, drive};
use super::evidence::{Evidence, Measured, RunEvidence};
use super::unknowns::{Garage, Point, SHARED, per_run};
use nalgebra::DVector;

/// What the model itself is good to, as a share of a quantity, beyond what was measured: an arm has mass, a string
/// stretches, tyres do not change from holding to sliding at once. Common practice, no source; `scripts/plan_study`
/// says how often plans made with them hold.
const SPEED_SHARE: f64 = 0.012;
const POWERED_SHARE: f64 = 0.025;
const COAST_SHARE: f64 = 0.02;
const STOP_SHARE: f64 = 0.008;
const SPUN_SHARE: f64 = 0.12;
const SPUN_M: f64 = 0.005;
const ALONG_SHARE: f64 = 0.02;
const GRIP_SHARE: f64 = 0.04;
/// Whether wheels slid is decided within this share of the largest demand.
const DEMAND_SHARE: f64 = 0.10;
/// A balance at the arm's end and an angle judged by eye: share of the moment. Common practice, no source.
const READING_SHARE: f64 = 0.06;
/// What a run costs that the spring does not even move, in standard deviations for each of its numbers.
const NEVER: f64 = 30.0;
/// A row that is farther off than this counts as no farther: one bad number may not turn the plan over.
const FARTHEST: f64 = 60.0;

/// One row: which run, what was seen, and how far the model is from it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Row {
    /// Place of the run; `None` for a reading of the spring.
    pub run: Option<usize>,
    /// What was measured, in words.
    pub what: &'static str,
    /// Model less measurement, in standard deviations.
    pub off: f64,
}

/// The runs and the car that are fitted to each other.
#[derive(Debug, Clone)]
pub struct Matching<'a> {
    /// What was seen.
    pub evidence: &'a Evidence,
    /// From points to cars.
    pub garage: &'a Garage,
    /// Run-to-run deviation of the pull, as a share.
    pub run_to_run: f64,
}

impl Matching<'_> {
    /// Numbers in a point: the shared unknowns, the grips, three for each run.
    pub fn size(&self) -> usize {
        SHARED + self.evidence.floors.len() + 3 * self.evidence.runs.len()
    }

    /// The place in the point's numbers at which the deviations of a run begin.
    pub fn own(&self, run: usize) -> usize {
        SHARED + self.evidence.floors.len() + 3 * run
    }

    /// A list of numbers as a point.
    pub fn point(&self, z: &DVector<f64>) -> Point {
        let mut shared = [0.0; SHARED];
        shared.copy_from_slice(&z.as_slice()[..SHARED]);
        let grips = z.as_slice()[SHARED..self.own(0)].to_vec();
        Point { shared, grips }
    }

    /// Rows that one run gives, or a reading.
    pub fn run_rows(&self, z: &DVector<f64>, point: &Point, run: usize) -> Vec<Row> {
        let seen = &self.evidence.runs[run];
        let first = self.own(run);
        let sds = per_run(self.run_to_run, seen.setting.string_m);
        let own = [0, 1, 2].map(|part| z[first + part] * sds[part]);
        let car = self.garage.car(point, seen.floor, &seen.setting, own);
        let ran = drive(&car);
        let mut rows = rows(seen, ran.as_ref());
        if let Some(radius) = seen.rolling_radius {
            rows.push((
                "rolling radius",
                (car.wheel_radius_m - radius.value) / radius.sd.max(1e-5),
            ));
        }
        if let Some(grip) = seen.grip {
            let sd = grip.sd.hypot(GRIP_SHARE * grip.value);
            rows.push((
                "friction while sliding",
                (car.grip_sliding - grip.value) / sd,
            ));
        }
        let row = |(what, off): (&'static str, f64)| Row {
            run: Some(run),
            what,
            off: off.clamp(-FARTHEST, FARTHEST),
        };
        rows.into_iter().map(row).collect()
    }

    /// Rows of the balance readings.
    pub fn reading_rows(&self, point: &Point) -> Vec<Row> {
        let car = self.garage.car(point, 0, &self.garage.base, [0.0; 3]);
        let off = |reading: &super::evidence::Reading| Row {
            run: None,
            what: "reading of the spring",
            off: (car.moment_n_m(reading.swung_rad) / reading.moment_n_m.max(1e-9)).ln()
                / READING_SHARE,
        };
        self.evidence.readings.iter().map(off).collect()
    }

    /// All rows that were measured.
    pub fn rows(&self, z: &DVector<f64>) -> Vec<Row> {
        let point = self.point(z);
        let mut rows = self.reading_rows(&point);
        for run in 0..self.evidence.runs.len() {
            rows.extend(self.run_rows(z, &point, run));
        }
        rows
    }

    /// All residuals: the point's own numbers, which are standard normal beforehand, and the rows.
    pub fn residuals(&self, z: &DVector<f64>) -> DVector<f64> {
        let rows = self.rows(z);
        let own = z.iter().copied();
        let all: Vec<f64> = own.chain(rows.iter().map(|row| row.off)).collect();
        DVector::from_vec(all)
    }
}

/// What a run's numbers are off by.
fn rows(seen: &RunEvidence, ran: Option<&Ran>) -> Vec<(&'static str, f64)> {
    let mut out = Vec::new();
    let mut add = |what, seen: Option<Measured>, share: f64, of: &dyn Fn(&Ran) -> f64| {
        if let Some(seen) = seen {
            let sd = seen.sd.hypot(share * seen.value).max(1e-9);
            out.push((what, ran.map_or(NEVER, |ran| (of(ran) - seen.value) / sd)));
        }
    };
    add("highest speed", seen.peak_speed, SPEED_SHARE, &|ran| {
        ran.peak_speed_m_per_s
    });
    add("length of the pull", seen.powered, POWERED_SHARE, &|ran| {
        ran.powered_s
    });
    add(
        "loss of speed in the coast",
        seen.coast_loss,
        COAST_SHARE,
        &|ran| ran.coast_loss_m_per_s2,
    );
    add(
        "stopping place",
        seen.stop.map(|(stop, _)| stop),
        STOP_SHARE,
        &|ran| ran.stop_m,
    );
    let spun = seen.spun_away.map(|spun| Measured {
        sd: spun.sd.hypot(SPUN_M),
        ..spun
    });
    add("way lost in wheelspin", spun, SPUN_SHARE, &|ran| {
        ran.spun_away_m
    });
    for (way_m, speed) in &seen.speeds {
        add("speed along the pull", Some(*speed), ALONG_SHARE, &|ran| {
            ran.speed_at_m_per_s(*way_m)
        });
    }
    if let Some(slid) = seen.slid {
        // One-sided: how far beyond the limit the demand was does not show.
        let beyond = ran.map_or(0.0, |ran| ran.peak_demand.max(1e-3).ln() / DEMAND_SHARE);
        let off = if slid {
            beyond.min(0.0)
        } else {
            beyond.max(0.0)
        };
        out.push(("whether the wheels slid", off));
    }
    out
}

//! How often plans hold: cars drawn at random, run by equations of motion that share nothing with the planning model,
//! measured with the errors that real results have, planned for, set up as planned and run again.
//!
//! ```text
//! cargo run --release --example plan_study            # 60 cars
//! cargo run --release --example plan_study -- 200     # more
//! cargo run --release --example plan_study -- 60 clip # stopping places never taped, from the clips' coasts alone
//! cargo run --release --example plan_study -- 60 tape stops # or spins: one half of it; both: all of it
//! cargo run --release --example plan_study -- 60 tape both 1000 # other cars, by the number of the first
//! ```
//!
//! Cars that spin their wheels are drawn by themselves for `--no-slip`, as many again.
//!
//! Three runs are made with the whole string, with 70 % and with 85 % of it; then two more as the first plan says. What
//! differs from run to run is in `draw.rs`: the stopping place scatters by about 2 %, so no plan misses by less than 1.3 %
//! in the median.
#![allow(
    clippy::print_stdout,
    clippy::unwrap_used,
    reason = "a study prints its tables"
)]

mod car;
mod draw;

use car::Car;
use draw::{evidence, measured, of_one_run, sheet, tied};
use gripline::plan::{
    Answer, Lever, LeverAnswer, Plan, Prediction, RunEvidence, Setting, Task, Track, plan,
};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;

const TARGET_M: f64 = 5.0;
/// Shares of the whole string in the first three runs.
const FIRST: [f64; 3] = [1.0, 0.7, 0.85];
/// Runs of the car as it was set up to hold, by which its wheels' spinning is judged.
const TRIALS: usize = 20;

/// One stop of a car that was set up as planned.
struct Stop {
    metres: f64,
    within: bool,
    half_width: f64,
}

/// What a plan without wheelspin came to.
#[derive(Debug, Clone, Copy)]
enum Held {
    /// It said that no axle and no arm does it.
    Infeasible,
    /// Share of the runs of the car that was set up so in which the wheels held.
    Share(f64),
}

/// The plan without wheelspin after three and five runs; `None` where nothing was told.
type NoSlip = [Option<Held>; 2];

fn main() {
    let mut words = std::env::args().skip(1);
    let cars: u64 = words
        .next()
        .and_then(|word| word.parse().ok())
        .unwrap_or(60);
    let taped = words.next().as_deref() != Some("clip");
    let only = words.next().filter(|word| word != "both");
    let asked = |part: &str| only.as_deref().is_none_or(|only| only == part);
    let first: u64 = words.next().and_then(|word| word.parse().ok()).unwrap_or(0);
    let stopped = if asked("stops") { cars } else { 0 };
    let spinning = if asked("spins") { cars } else { 0 };
    let stops: Vec<[Option<Stop>; 2]> = (first..first + stopped)
        .map(|seed| stops(seed, taped))
        .collect();
    let held: Vec<NoSlip> = (first..first + spinning)
        .map(|seed| no_slip(seed, taped))
        .collect();
    let by = if taped {
        "taped"
    } else {
        "from the coast alone"
    };
    println!("{cars} cars, stopping places {by}");
    for (place, runs) in [3, 5].into_iter().enumerate() {
        let stops: Vec<&Stop> = stops.iter().filter_map(|one| one[place].as_ref()).collect();
        let within = stops.iter().filter(|stop| stop.within).count();
        let median = |of: &dyn Fn(&Stop) -> f64| {
            let mut all: Vec<f64> = stops.iter().map(|stop| of(stop)).collect();
            all.sort_by(f64::total_cmp);
            all.get(all.len() / 2).copied().unwrap_or(f64::NAN)
        };
        println!(
            "after {runs} runs: {} planned for {TARGET_M} m; {within} stopped within the 95 % interval ({:.1} %); median miss {:.1} %, median bias {:+.1} %, median half width {:.1} %",
            stops.len(),
            100.0 * within as f64 / stops.len().max(1) as f64,
            100.0 * median(&|stop| (stop.metres - TARGET_M).abs() / TARGET_M),
            100.0 * median(&|stop| (stop.metres - TARGET_M) / TARGET_M),
            100.0 * median(&|stop| stop.half_width / TARGET_M),
        );
        let told: Vec<Held> = held.iter().filter_map(|one| one[place]).collect();
        let share = |held: &Held| match held {
            Held::Infeasible => None,
            Held::Share(share) => Some(*share),
        };
        let feasible: Vec<f64> = told.iter().filter_map(share).collect();
        println!(
            "  without wheelspin: {} told, {} of them feasible by axle or arm; {:.1} % of their runs held",
            told.len(),
            feasible.len(),
            100.0 * feasible.iter().sum::<f64>() / feasible.len().max(1) as f64,
        );
    }
}

/// A drawn car that can stop before and beyond the target by its string alone.
fn drawn(random: &mut ChaCha8Rng) -> Car {
    loop {
        let car = draw::car(random);
        let shortest = Car {
            string_m: 0.3 * car.string_m,
            ..car
        };
        let far = car.run().stop_m;
        if far > 1.08 * TARGET_M && far < 25.0 && shortest.run().stop_m < 0.9 * TARGET_M {
            return car;
        }
    }
}

/// A drawn car that spins its wheels with the whole string, and a slower axle would not.
fn drawn_spinning(random: &mut ChaCha8Rng) -> Car {
    loop {
        let mut car = draw::car(random);
        car.friction_sliding *= 0.6;
        car.friction_highest *= 0.6;
        car.axle_m *= 1.4;
        let run = car.run();
        if Car::spun(&run) && run.stop_m > 1.0 {
            return car;
        }
    }
}

/// A car in a class: runs are made with it, one by one.
struct Class {
    car: Car,
    base: Setting,
    runs: Vec<RunEvidence>,
    taped: bool,
    random: ChaCha8Rng,
}

impl Class {
    fn new(seed: u64, taped: bool, drawn: fn(&mut ChaCha8Rng) -> Car) -> Self {
        let mut random = ChaCha8Rng::seed_from_u64(seed ^ 0x706c_616e);
        let car = drawn(&mut random);
        let base = sheet(&car, &mut random);
        let mut class = Self {
            car,
            base,
            runs: Vec::new(),
            taped,
            random,
        };
        for share in FIRST {
            class.make(share * car.string_m);
        }
        class
    }

    fn make(&mut self, string_m: f64) {
        let random = &mut self.random;
        let this = of_one_run(&tied(&self.car, string_m, random), random);
        let setting = Setting {
            string_m,
            ..self.base.clone()
        };
        let name = format!("run{}", self.runs.len() + 1);
        let seen = measured(&name, &this.run(), &this, setting, self.taped, random);
        self.runs.push(seen);
    }
}

fn stops(seed: u64, taped: bool) -> [Option<Stop>; 2] {
    let mut class = Class::new(seed, taped, drawn);
    [0, 1].map(|place| {
        let planned = plan(evidence(class.runs.clone()), Task::Distance { metres: TARGET_M }, Track::LEVEL, None);
        let each = std::env::var_os("EACH").is_some();
        if let (true, Err(why)) = (each, &planned) {
            println!("car {seed}: {why}");
        }
        let planned = planned.ok()?;
        let set = string_of(&planned);
        if set.is_none() && each {
            println!("car {seed}: no string does it; {:?}", planned.present.stop_m);
        }
        let (string_m, said) = set?;
        let this = of_one_run(&tied(&class.car, string_m, &mut class.random), &mut class.random);
        let metres = this.run().stop_m;
        let (low, high) = (said.stop_m.low, said.stop_m.high);
        if each {
            println!(
                "car {seed} after {} runs: string {:.0} of {:.0} mm; said {low:.2} to {high:.2} m, stopped at {metres:.2}; steps {:.2}; run to run {:.3}; {:?}",
                class.runs.len(), 1000.0 * string_m, 1000.0 * class.car.string_m,
                planned.posterior.steps_taken, planned.posterior.run_to_run[0],
                planned.posterior.strange.iter().map(|row| (row.what, row.off)).collect::<Vec<_>>()
            );
        }
        if place == 0 {
            class.make(string_m);
            class.make(string_m);
        }
        Some(Stop {
            metres,
            within: (low..=high).contains(&metres),
            half_width: (high - low) / 2.0,
        })
    })
}

fn no_slip(seed: u64, taped: bool) -> NoSlip {
    let mut class = Class::new(seed, taped, drawn_spinning);
    [0, 1].map(|place| {
        if place == 1 {
            class.make(class.car.string_m);
            class.make(0.6 * class.car.string_m);
        }
        let found = without_slip(&class.car, &class.base, &class.runs, &mut class.random);
        if std::env::var_os("EACH").is_some() {
            println!(
                "spinning car {seed} after {} runs: {found:?}",
                class.runs.len()
            );
        }
        found
    })
}

fn string_of(plan: &Plan) -> Option<(f64, Prediction)> {
    plan.levers.iter().find_map(|one| match &one.answer {
        Answer::Set {
            size, prediction, ..
        } if one.lever == Lever::String => Some((size.value, (**prediction).clone())),
        _ => None,
    })
}

/// Sets the car up by the first lever that is said to keep the wheels from spinning, and runs it often. `None` where the
/// car does not spin anyway or nothing was told.
fn without_slip(
    car: &Car,
    base: &Setting,
    runs: &[RunEvidence],
    random: &mut ChaCha8Rng,
) -> Option<Held> {
    if !runs.iter().any(|run| run.slid == Some(true)) {
        return None;
    }
    let planned = plan(evidence(runs.to_vec()), Task::NoSlip, Track::LEVEL, None).ok()?;
    let now = &planned.now;
    let sized = |one: &LeverAnswer| match (&one.answer, one.lever) {
        // A shorter string with the arm all the way back does not soften the start.
        (
            Answer::Set {
                size, prediction, ..
            },
            Lever::Axle | Lever::Arm,
        ) => Some((one.lever, size.value, prediction.grip_demand)),
        _ => None,
    };
    let Some((lever, size, said)) = planned.levers.iter().find_map(sized) else {
        return Some(Held::Infeasible);
    };
    let mut set = *car;
    set.string_m = now.string_m;
    if lever == Lever::Axle {
        set.axle_m += size - base.axle_m;
    } else {
        let by = size / base.arm_m.unwrap();
        let gap = car.coil_m[0] - car.arm_m;
        set.string_m *= by;
        set.arm_m *= by;
        set.coil_m[0] = set.arm_m + gap;
    }
    if std::env::var_os("EACH").is_some() {
        println!(
            "  {lever:?} {size:.4} for {:.4} m; demand said {:.2} ({:.2} to {:.2}), is {:.2}; before said {:.2} ({:.2} to {:.2}), was {:.2}",
            lever.now(now),
            said.value,
            said.low,
            said.high,
            set.demand(),
            planned.pull.over_grip.value,
            planned.pull.over_grip.low,
            planned.pull.over_grip.high,
            car.demand()
        );
    }
    let held = (0..TRIALS)
        .filter(|_| !Car::spun(&of_one_run(&set, random).run()))
        .count();
    Some(Held::Share(held as f64 / TRIALS as f64))
}

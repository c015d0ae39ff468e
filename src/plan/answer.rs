//! What setting of each lever does the task, with its interval and what it gives.

use super::Task;
use super::evidence::Setting;
use super::levers::Lever;
use super::predict::{Asked, Outcome, Prediction, Runs, Value, quantile};
use serde::Serialize;

/// Wheels are said not to spin where at most this share of the cars spin them: the upper half of a 95 % interval.
const MAY_SPIN: f64 = 0.025;
/// Steps by which a setting is made exact after the table of places.
const EXACT_STEPS: usize = 3;

/// What one lever can do for the task.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "snake_case", tag = "outcome")]
pub enum Answer {
    /// The setting that does it.
    Set {
        /// The size, SI: the median over the cars, as it can be set.
        size: Value,
        /// Whether the interval's ends are those of what can be built.
        ends_at_range: bool,
        /// What else changes with it.
        setting: Companions,
        /// What it gives.
        prediction: Box<Prediction>,
    },
    /// This lever alone does not do it.
    NotAlone {
        /// The size that comes nearest, SI.
        nearest: f64,
        /// What it gives.
        prediction: Box<Prediction>,
    },
    /// It cannot be told.
    CannotTell {
        /// Why, in words.
        because: String,
        /// The one measurement that would tell.
        measure: String,
    },
}

/// Sizes that change with a lever, SI.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Companions {
    /// String wound.
    pub string_m: f64,
    /// Turns of the axle that it gives.
    pub turns: Value,
    /// Driven axle to the coil, for a new arm.
    pub pivot_m: Option<f64>,
}

/// A lever with what it can do.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LeverAnswer {
    /// The lever.
    pub lever: Lever,
    /// Its size now, SI.
    pub now: f64,
    /// What it can do.
    #[serde(flatten)]
    pub answer: Answer,
}

/// Outcomes of every car at every place of a lever's range.
pub(super) struct Scan {
    /// The lever.
    pub lever: Lever,
    /// The places, SI.
    pub places: Vec<f64>,
    /// Outcomes at each place, in the order of the draws.
    pub outcomes: Vec<Vec<Outcome>>,
}

impl Scan {
    /// Looks along a lever.
    pub(super) fn along(lever: Lever, asked: &Asked<'_>, now: &Setting) -> Self {
        let range = lever.range(now, asked.posterior, asked.floor);
        let places = lever.places(range);
        let outcomes = places
            .iter()
            .map(|place| asked.outcomes(&lever.set(now, *place), Runs::Next))
            .collect();
        Self {
            lever,
            places,
            outcomes,
        }
    }

    fn curve(&self, draw: usize, of: fn(&Outcome) -> f64) -> Vec<f64> {
        self.outcomes.iter().map(|at| of(&at[draw])).collect()
    }

    /// Middle and 95 % interval at every place.
    pub(super) fn band(&self, of: fn(&Outcome) -> f64) -> Vec<Value> {
        let at = |outcomes: &Vec<Outcome>| Value::of(outcomes.iter().map(of).collect());
        self.outcomes.iter().filter_map(at).collect()
    }

    fn draws(&self) -> usize {
        self.outcomes.first().map_or(0, Vec::len)
    }
}

/// Where a curve reaches a height, nearest to a place (by ratio, or by difference for ballast); `None` where it does
/// not.
fn crossing(places: &[f64], curve: &[f64], height: f64, near: f64) -> Option<f64> {
    let mut best: Option<f64> = None;
    for pair in 0..places.len().saturating_sub(1) {
        let (y0, y1) = (curve[pair] - height, curve[pair + 1] - height);
        if !(y0.is_finite() && y1.is_finite()) || y0 * y1 > 0.0 || y0 == y1 {
            continue;
        }
        let at = places[pair] + (places[pair + 1] - places[pair]) * y0 / (y0 - y1);
        if best.is_none_or(|best: f64| (at - near).abs() < (best - near).abs()) {
            best = Some(at);
        }
    }
    best
}

/// The size of each car at which its curve reaches a height; ends of the range where it does not.
fn sizes(scan: &Scan, of: fn(&Outcome) -> f64, height: f64, near: f64) -> Vec<f64> {
    let (first, last) = (scan.places[0], scan.places[scan.places.len() - 1]);
    let size = |draw: usize| {
        let curve = scan.curve(draw, of);
        crossing(&scan.places, &curve, height, near).unwrap_or_else(|| {
            let gap = |place: usize| (curve[place] - height).abs();
            if gap(0) < gap(curve.len() - 1) {
                first
            } else {
                last
            }
        })
    };
    (0..scan.draws()).map(size).collect()
}

/// What a lever can do for a task.
pub(super) fn answer(scan: &Scan, task: Task, asked: &Asked<'_>, now: &Setting) -> Option<Answer> {
    match task {
        Task::Distance { metres } => to_distance(scan, metres, asked, now),
        Task::Far => best(scan, |o| -o.stop_m, asked, now),
        Task::Fast { .. } => best(scan, |o| o.time_s, asked, now),
        Task::NoSlip => without_slip(scan, asked, now),
    }
}

/// A setting does the task if the middle of the cars stops within this share of the distance.
const DONE_SHARE: f64 = 0.05;

fn to_distance(scan: &Scan, metres: f64, asked: &Asked<'_>, now: &Setting) -> Option<Answer> {
    let stop = |o: &Outcome| o.stop_m;
    let near = scan.lever.now(now);
    let middles: Vec<f64> = scan.band(stop).iter().map(|value| value.value).collect();
    let Some(mut size) = crossing(&scan.places, &middles, metres, near) else {
        let nearest = nearest_place(&middles, |middle| (middle - metres).abs())?;
        return not_alone(scan, nearest, asked, now);
    };
    // The table is straight between its places; the true curve is bent a little.
    let step = 0.02 * (scan.places[scan.places.len() - 1] - scan.places[0]);
    for _ in 0..EXACT_STEPS {
        let middle = |size: f64| {
            let outcomes = asked.outcomes(&scan.lever.set(now, size), Runs::Next);
            Value::of(outcomes.iter().map(stop).collect()).map(|value| value.value)
        };
        let (here, there) = (middle(size)?, middle(size + step)?);
        let slope = (there - here) / step;
        let by = (metres - here) / slope;
        if !by.is_finite() || by.abs() > 10.0 * step {
            break;
        }
        size = (size + by).clamp(scan.places[0], scan.places[scan.places.len() - 1]);
    }
    let spread = sizes(scan, stop, metres, size);
    // Where half of the cars spin their wheels and half do not, their middle leaps over the distance.
    match set(scan, size, spread, asked, now)? {
        Answer::Set { prediction, .. }
            if (prediction.stop_m.value - metres).abs() > DONE_SHARE * metres =>
        {
            Some(Answer::NotAlone {
                nearest: scan.lever.rounded(size),
                prediction,
            })
        }
        done => Some(done),
    }
}

fn nearest_place(middles: &[f64], off: impl Fn(f64) -> f64) -> Option<usize> {
    let offs = middles.iter().map(|middle| off(*middle));
    let best = offs.enumerate().filter(|(_, off)| !off.is_nan());
    best.min_by(|a, b| a.1.total_cmp(&b.1))
        .map(|(place, _)| place)
}

fn not_alone(scan: &Scan, place: usize, asked: &Asked<'_>, now: &Setting) -> Option<Answer> {
    let nearest = scan.lever.rounded(scan.places[place]);
    Some(Answer::NotAlone {
        nearest,
        prediction: Box::new(asked.prediction(&scan.lever.set(now, nearest))?),
    })
}

/// The place at which the middle of a cost is least, and those of the single cars.
fn best(
    scan: &Scan,
    cost: fn(&Outcome) -> f64,
    asked: &Asked<'_>,
    now: &Setting,
) -> Option<Answer> {
    let middles: Vec<f64> = scan.band(cost).iter().map(|value| value.value).collect();
    let place = nearest_place(&middles, |middle| middle)?;
    if !middles[place].is_finite() {
        return not_alone(scan, place, asked, now);
    }
    let size = least(&scan.places, &middles)?;
    let own = |draw: usize| least(&scan.places, &scan.curve(draw, cost)).unwrap_or(size);
    let spread = (0..scan.draws()).map(own).collect();
    set(scan, size, spread, asked, now)
}

/// Where a curve is least, by a parabola through the lowest place and its neighbours.
fn least(places: &[f64], curve: &[f64]) -> Option<f64> {
    let place = nearest_place(curve, |cost| cost)?;
    if place == 0
        || place + 1 >= places.len()
        || !curve[place + 1].is_finite()
        || !curve[place - 1].is_finite()
    {
        return Some(places[place]);
    }
    let [x0, x1, x2] = [places[place - 1], places[place], places[place + 1]];
    let [y0, y1, y2] = [curve[place - 1], curve[place], curve[place + 1]];
    let (a, b) = ((x1 - x0) * (y1 - y2), (x1 - x2) * (y1 - y0));
    if (a - b).abs() < 1e-12 {
        return Some(x1);
    }
    let at = x1 - 0.5 * ((x1 - x0) * a - (x1 - x2) * b) / (a - b);
    Some(at.clamp(x0, x2))
}

/// The size nearest to the present one at which hardly any car spins its wheels.
fn without_slip(scan: &Scan, asked: &Asked<'_>, now: &Setting) -> Option<Answer> {
    let near = scan.lever.now(now);
    let safe: Vec<f64> = (scan.outcomes.iter())
        .filter_map(|at| {
            let mut demands: Vec<f64> = at.iter().map(|o| o.demand).collect();
            demands.sort_by(f64::total_cmp);
            quantile(&demands, 1.0 - MAY_SPIN)
        })
        .collect();
    let now_demand = asked.prediction(now)?.grip_demand;
    let size = if now_demand.high <= 1.0 {
        near
    } else if let Some(size) = crossing(&scan.places, &safe, 1.0, near) {
        size
    } else {
        let place = nearest_place(&safe, |demand| demand)?;
        return not_alone(scan, place, asked, now);
    };
    let spread = sizes(scan, |o| o.demand, 1.0, size);
    set(scan, size, spread, asked, now)
}

fn set(
    scan: &Scan,
    size: f64,
    spread: Vec<f64>,
    asked: &Asked<'_>,
    now: &Setting,
) -> Option<Answer> {
    let lever = scan.lever;
    let size = lever.rounded(size);
    let setting = lever.set(now, size);
    let (first, last) = (scan.places[0], scan.places[scan.places.len() - 1]);
    let interval = Value::of(spread)?;
    let turns = |draw: &super::fit::Draw| asked.posterior.garage.turns(&draw.point, &setting);
    let gap = super::levers::middle_gap_m(asked.posterior);
    let pivot_m = setting.pivot_m.or(setting.arm_m.map(|arm| arm + gap));
    Some(Answer::Set {
        size: Value {
            value: size,
            low: interval.low.min(size),
            high: interval.high.max(size),
        },
        ends_at_range: interval.low <= first || interval.high >= last,
        setting: Companions {
            string_m: setting.string_m,
            turns: Value::of(asked.posterior.draws.iter().map(turns).collect())?,
            pivot_m: pivot_m.filter(|_| lever == Lever::Arm),
        },
        prediction: Box::new(asked.prediction(&setting)?),
    })
}

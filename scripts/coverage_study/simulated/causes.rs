//! Simulated runs with known faults of every kind and severity, and how the verdict fares on them.

use super::{Case, Faults, Filming, Outcome, View, case};
use gripline::verdict::{Cause, NEGLIGIBLE_M, NEGLIGIBLE_SHARE, NEGLIGIBLE_SWAY_M};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// What was put into a run.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    Nothing,
    Grip,
    GripAndYaw,
    Alignment,
    Aim,
    Wobble,
    OtherWobble,
    StringSlip,
    LooseWheel,
    Drag,
    GripAndCurve,
    CurveAndString,
    DragAndAim,
    WobbleAndCurve,
    Unseen,
}

pub const KINDS: [Kind; 15] = [
    Kind::Nothing,
    Kind::Grip,
    Kind::GripAndYaw,
    Kind::Alignment,
    Kind::Aim,
    Kind::Wobble,
    Kind::OtherWobble,
    Kind::StringSlip,
    Kind::LooseWheel,
    Kind::Drag,
    Kind::GripAndCurve,
    Kind::CurveAndString,
    Kind::DragAndAim,
    Kind::WobbleAndCurve,
    Kind::Unseen,
];

/// A run of a kind; the seed draws its severity, the car and the camera.
pub fn faulty(kind: Kind, seed: u64) -> Case {
    let mut random = ChaCha8Rng::seed_from_u64(seed ^ 0xfa17);
    let side = if random.random::<bool>() { 1.0 } else { -1.0 };
    let mut draw = |low: f64, high: f64| random.random_range(low..high);
    let mut faults = Faults::default();
    let mut filming = Filming {
        view: if draw(0.0, 1.0) < 0.5 {
            View::Oblique
        } else {
            View::Side
        },
        noise_px: draw(0.04, 0.12),
        duration_s: draw(2.4, 3.2),
        // Every other coach leaves the string's thickness out.
        thickness_on_sheet: (seed / 2).is_multiple_of(2),
        ..Filming::default()
    };
    let mut put = |kind: Kind| match kind {
        Kind::Grip => faults.mu = Some(draw(0.12, 0.27)),
        Kind::GripAndYaw => {
            faults.mu = Some(draw(0.13, 0.22));
            faults.yaw_per_spun_m = side * draw(0.05, 0.2);
        }
        Kind::Alignment => faults.skew_rad = side * draw(0.003, 0.035),
        Kind::Aim => faults.aim_rad = side * draw(0.01, 0.08),
        Kind::Wobble => {
            faults.sway_m = draw(0.0008, 0.006);
            faults.sway_rate = 1.0;
        }
        Kind::OtherWobble => {
            faults.sway_m = draw(0.0008, 0.004);
            faults.sway_rate = draw(1.3, 1.6);
        }
        Kind::StringSlip => faults.string_slip = draw(0.03, 0.45),
        Kind::LooseWheel => {
            faults.wheel_loose = draw(0.03, 0.4);
            filming.axle_mark = true;
            filming.string_on_sheet = seed.is_multiple_of(2);
        }
        Kind::Drag => faults.rolling = Some(draw(0.035, 0.09)),
        _ => {}
    };
    match kind {
        Kind::GripAndCurve => [Kind::Grip, Kind::Alignment].map(&mut put),
        Kind::CurveAndString => [Kind::Alignment, Kind::StringSlip].map(&mut put),
        Kind::DragAndAim => [Kind::Drag, Kind::Aim].map(&mut put),
        Kind::WobbleAndCurve => [Kind::Wobble, Kind::Alignment].map(&mut put),
        // Slip, and turns that the string did not give.
        Kind::Unseen if seed.is_multiple_of(2) => [Kind::Grip, Kind::Grip].map(&mut put),
        Kind::Unseen => [Kind::StringSlip, Kind::StringSlip].map(&mut put),
        one => {
            put(one);
            [(), ()]
        }
    };
    // ... where neither the wheel's mark nor the string's length is known.
    if kind == Kind::Unseen {
        filming.wheel_mark = false;
        filming.string_on_sheet = false;
    }
    case(seed, &faults, &filming)
}

/// How a verdict compares with the truth.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Mark {
    /// The dearest cause was named, or rightly none.
    Right,
    /// Nothing was blamed where the effect is no larger than its interval, or the view cannot show it.
    Withheld,
    /// Something was blamed that is not the dearest cause, or "none" was said of a clear fault.
    Wrong,
    /// A fault larger than its interval was not named.
    Missed,
}

/// Below this a cause's true cost is nothing, m.
fn bound(cause: Cause, distance_m: f64) -> f64 {
    match cause {
        Cause::Wobble => NEGLIGIBLE_SWAY_M,
        _ => NEGLIGIBLE_M.max(NEGLIGIBLE_SHARE * distance_m),
    }
}

/// The causes that truly count, dearest first, with their costs.
pub fn true_causes(case: &Case) -> Vec<(Cause, f64)> {
    let mut out: Vec<(Cause, f64)> = case
        .truth
        .costs
        .iter()
        .filter(|(cause, cost)| {
            // A coast that dies too soon has mostly lost its way only after the view's end.
            **cost > bound(**cause, case.truth.distance_m)
                || (**cause == Cause::Drag && **cost > 0.0)
        })
        .filter(|(cause, _)| **cause != Cause::Drag || case.car.rolling > 0.033)
        .map(|(cause, cost)| (*cause, *cost))
        .collect();
    out.sort_by(|a, b| b.1.total_cmp(&a.1));
    out
}

/// The dearest true cost over what does not count; a drag counts by the coast that it shortens.
pub fn severity(case: &Case) -> f64 {
    let of = |(cause, cost): (&Cause, &f64)| match cause {
        Cause::Drag if case.car.rolling <= 0.033 => 0.0,
        _ => cost / bound(*cause, case.truth.distance_m),
    };
    case.truth.costs.iter().map(of).fold(0.0, f64::max)
}

/// Half the interval of a cause's cost, m; infinite where it is not observable.
fn half_width(outcome: &Outcome, cause: Cause) -> f64 {
    let costs = outcome.verdict.costs();
    let Some(cost) = costs.get(&cause) else {
        return f64::INFINITY;
    };
    [&cost.travel_lost_m, &cost.off_line_m]
        .into_iter()
        .map(|q| {
            q.low()
                .zip(q.high())
                .map_or(f64::INFINITY, |(l, h)| (h - l) / 2.0)
        })
        .fold(0.0, f64::max)
}

/// Marks a verdict.
pub fn mark(case: &Case, outcome: &Outcome) -> Mark {
    let causes = true_causes(case);
    let said = outcome.verdict.cause;
    let clear = |(cause, cost): &(Cause, f64)| {
        cost - bound(*cause, case.truth.distance_m) > 2.0 * half_width(outcome, *cause)
    };
    let clearly: Vec<Cause> = causes.iter().filter(|c| clear(c)).map(|c| c.0).collect();
    // Costs that lie nearer together than their intervals have no order.
    let first = causes.first().map_or(0.0, |c| c.1);
    let near = |cause: Cause| {
        causes.iter().any(|(c, cost)| {
            let second = half_width(outcome, *c).min(f64::MAX);
            *c == cause && first - cost < 2.0 * second + 0.1 * first
        })
    };
    match said {
        Cause::Undetermined if clearly.is_empty() => Mark::Withheld,
        Cause::Undetermined => Mark::Missed,
        Cause::None if causes.is_empty() => Mark::Right,
        Cause::None if clearly.is_empty() => Mark::Withheld,
        Cause::None => Mark::Wrong,
        said if near(said) => Mark::Right,
        // What a view cannot show cannot be blamed: then the dearest that it shows is right.
        said if causes.iter().any(|c| c.0 == said)
            && causes.iter().take_while(|c| c.0 != said).all(|c| !clear(c)) =>
        {
            Mark::Right
        }
        _ => Mark::Wrong,
    }
}

/// Whether every other cause that is clearly there is named as well.
pub fn names_both(case: &Case, outcome: &Outcome) -> Option<bool> {
    let causes = true_causes(case);
    let clear: Vec<Cause> = causes
        .iter()
        .filter(|(cause, cost)| {
            cost - bound(*cause, case.truth.distance_m) > 2.0 * half_width(outcome, *cause)
        })
        .map(|c| c.0)
        .collect();
    (clear.len() >= 2).then(|| {
        clear
            .iter()
            .all(|c| outcome.verdict.cause == *c || outcome.verdict.also.contains(c))
    })
}

//! How often the intervals of single frames hold the truth, by kind of car and clip: cars that sway, shift or
//! hop once a turn of the wheel, wheels off their axle, soft starts, errors that are alike for many frames.

use crate::simulated::causes::mark;
use crate::simulated::{Case, Faults, Filming, Outcome, View, case, holds, measure};
use gripline::findings::Key;
use gripline::uncertainty::COVERAGE_FACTOR;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;

pub(crate) const KINDS: [&str; 10] = [
    "plain",
    "slips",
    "sways",
    "shifts",
    "hops",
    "shifts-hops",
    "slips-shifts",
    "off-axle",
    "soft",
    "alike",
];
const KEYS: [Key; 10] = [
    Key::ReleaseS,
    Key::PoweredS,
    Key::PeakSpeedMPerS,
    Key::MaxSlip,
    Key::SpunAwayM,
    Key::WheelTurns,
    Key::FinalDeviationM,
    Key::CurvaturePerM,
    Key::WobbleM,
    Key::CoastDecelerationMPerS2,
];
/// Frames from this long after the release count, s, and slip from this rim speed, m/s.
const SETTLED_S: f64 = 0.1;
const RIM_M_PER_S: f64 = 0.3;

/// A run of a kind; the seed draws its severity, view and frame rate.
pub(crate) fn drawn(kind: &str, seed: u64, wheel_mark: bool) -> Case {
    let mut random = ChaCha8Rng::seed_from_u64(seed ^ 0x0f0f);
    let pick = |random: &mut ChaCha8Rng, n: usize| random.random_range(0..n);
    let views = [View::Side, View::Oblique, View::Above, View::Behind];
    let (view, fps) = (
        views[pick(&mut random, 4)],
        [30.0, 60.0, 60.0, 120.0][pick(&mut random, 4)],
    );
    let mut draw = |low: f64, high: f64| random.random_range(low..high);
    let mut faults = Faults::default();
    let mut filming = Filming {
        view,
        fps,
        noise_px: draw(0.04, 0.12),
        duration_s: draw(2.2, 3.0),
        wheel_mark,
        ..Filming::default()
    };
    let (side, hop) = (draw(0.002, 0.008), draw(0.0005, 0.003));
    if kind.contains("slips") {
        faults.mu = Some(draw(0.14, 0.26));
    }
    if kind.contains("sways") {
        (faults.sway_m, faults.sway_rate) = (side, 1.0);
    }
    if kind.contains("shifts") {
        faults.shift_m = side;
    }
    if kind.contains("hops") || kind.contains("sways") {
        faults.rise_m = hop;
    }
    if kind == "off-axle" {
        faults.off_axle_m = draw(0.0005, 0.002);
    }
    if kind == "soft" {
        (faults.soft_s, faults.soft_from) = (draw(0.02, 0.25), draw(0.2, 0.8));
    }
    if kind == "alike" {
        filming.likeness = draw(0.4, 0.9);
    }
    filming.slow_px = std::env::var("SLOW_PX").ok().and_then(|v| v.parse().ok()).unwrap_or(0.0);
    case(seed, &faults, &filming)
}

#[derive(Default)]
struct Held {
    frames: usize,
    speed: usize,
    slip_frames: usize,
    slip: usize,
    deviation: usize,
    slip_off: Vec<f64>,
    speed_off: f64,
    peak: f64,
}

fn in_frames(case: &Case, outcome: &Outcome) -> Held {
    let mut out = Held::default();
    let (best, spread) = (&outcome.analysis, &outcome.result.frame_spread);
    for (frame, state) in case.filmed.states.iter().enumerate() {
        let (Some(truth), Some(body)) = (state, best.motion.body.states[frame].as_ref()) else {
            continue;
        };
        if truth.time_s < SETTLED_S {
            continue;
        }
        let found = &best.findings.frames[frame];
        let within = |off: f64, sd: f64| usize::from(off.abs() <= COVERAGE_FACTOR * sd);
        out.frames += 1;
        let off = body.mean[3] - truth.v;
        out.speed_off += off * off;
        out.peak = out.peak.max(truth.v);
        let own = body.covariance[(3, 3)].max(0.0).sqrt();
        out.speed += within(off, own.hypot(spread[frame].speed_m_per_s));
        if let Some((value, sd)) = found.deviation {
            out.deviation += within(
                value - truth.axle_left_m(),
                sd.hypot(spread[frame].deviation_m),
            );
        }
        let rim = truth.omega * case.car.radius_m;
        if let Some(slip) = found.slip.filter(|_| rim > RIM_M_PER_S) {
            let off = slip.ratio - (1.0 - truth.v / rim);
            out.slip_frames += 1;
            out.slip += within(off, slip.sd.hypot(spread[frame].slip));
            out.slip_off.push(off.abs());
        }
    }
    out.slip_off.sort_by(f64::total_cmp);
    out
}

/// Prints a row a kind; with `only`, a line a run of that kind as well.
pub(crate) fn study(runs: usize, draws: usize, only: Option<&str>) {
    println!(
        "| kind | runs | speed held | worst | slip held | worst | deviation held | slip off, 95 % | worst | speed off |"
    );
    println!("| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |");
    let wheel = std::env::var_os("NO_WHEEL_MARK").is_none();
    for kind in KINDS.iter().filter(|kind| only.is_none_or(|o| o == **kind)) {
        let measured: Vec<(u64, Case, Outcome, Held)> = (0..runs as u64)
            .into_par_iter()
            .filter_map(|seed| {
                let case = drawn(kind, 7000 + seed, wheel);
                let outcome = measure(&case, draws)?;
                let held = in_frames(&case, &outcome);
                Some((seed, case, outcome, held))
            })
            .collect();
        table_row(kind, &measured);
        for key in KEYS {
            let held: Vec<bool> = measured
                .iter()
                .filter_map(|(_, c, o, _)| holds(c, o, key))
                .collect();
            print!(
                "{} {}/{}  ",
                key.as_str(),
                held.iter().filter(|h| **h).count(),
                held.len()
            );
        }
        println!();
        if only.is_some() {
            measured.iter().for_each(run_line);
        }
    }
}

fn share(part: usize, all: usize) -> f64 {
    part as f64 / all.max(1) as f64
}

fn p95(off: &[f64]) -> f64 {
    off.get((0.95 * off.len().saturating_sub(1) as f64) as usize)
        .copied()
        .unwrap_or(0.0)
}

fn table_row(kind: &str, measured: &[(u64, Case, Outcome, Held)]) {
    let sum = |of: fn(&Held) -> usize| measured.iter().map(|m| of(&m.3)).sum::<usize>();
    let least = |of: fn(&Held) -> f64| measured.iter().map(|m| of(&m.3)).fold(1.0, f64::min);
    let most = |of: fn(&Held) -> f64| measured.iter().map(|m| of(&m.3)).fold(0.0, f64::max);
    let mut off: Vec<f64> = measured
        .iter()
        .flat_map(|m| m.3.slip_off.iter().copied())
        .collect();
    off.sort_by(f64::total_cmp);
    let frames = sum(|h| h.frames);
    let speed_off = measured
        .iter()
        .map(|m| (m.3.speed_off / m.3.frames.max(1) as f64).sqrt() / m.3.peak.max(0.1))
        .sum::<f64>()
        / measured.len().max(1) as f64;
    println!(
        "| {kind} | {} | {:.3} | {:.2} | {:.3} | {:.2} | {:.3} | {:.3} | {:.3} | {:.2} % |",
        measured.len(),
        share(sum(|h| h.speed), frames),
        least(|h| share(h.speed, h.frames)),
        share(sum(|h| h.slip), sum(|h| h.slip_frames)),
        least(|h| if h.slip_frames == 0 {
            1.0
        } else {
            share(h.slip, h.slip_frames)
        }),
        share(sum(|h| h.deviation), frames),
        p95(&off),
        most(|h| p95(&h.slip_off)),
        100.0 * speed_off,
    );
}

fn run_line((seed, case, outcome, held): &(u64, Case, Outcome, Held)) {
    let sway = outcome
        .analysis
        .motion
        .tuning
        .sway
        .as_ref()
        .map(|s| s.parts);
    println!(
        "{seed}: fps {:.0} speed {:.2} slip {:.2} of {} deviation {:.2} slip off {:.3} {:?} {:?} shift {:.4} rise {:.4} \
         sway {:.4} turns {:.1} found {sway:?}",
        1.0 / (case.filmed.track.times_s[1] - case.filmed.track.times_s[0]),
        share(held.speed, held.frames),
        share(held.slip, held.slip_frames),
        held.slip_frames,
        share(held.deviation, held.frames),
        p95(&held.slip_off),
        outcome.verdict.cause,
        mark(case, outcome),
        case.car.shift_m,
        case.car.rise_m,
        case.car.sway_rad,
        case.truth.values[&Key::WheelTurns],
    );
    for key in KEYS {
        if holds(case, outcome, key) == Some(false) {
            println!(
                "    {} true {:.4} got {:?}",
                key.as_str(),
                case.truth.values[&key],
                outcome.result.get(key)
            );
        }
    }
}

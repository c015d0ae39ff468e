//! How much further the car would have rolled had its driven wheels not spun.
//!
//! The distance wasted in wheelspin is no distance gained without it: what slip takes is energy. While the
//! wheels spin, the floor pushes the car by `F` and the rims slide over it by `ω R - v`, so slip takes
//! `E = ∫ F (ω R - v) dt`. Without slip the same string would have put that energy into the car, which
//! would have spent it on rolling, so many newtons for every metre.
//!
//! Neither force nor mass need be known. The push moves the car and makes good what rolling and air take,
//! `F = m a + M (r + b v²)`, where `a` is the car's measured acceleration, `m` its mass, `M = m (1 + w)` what a
//! coast has to slow (the driven wheels turn with the car then), `r` the part of the coast's deceleration
//! that does not depend on speed, and `b v²` the air's. Hence, for each unit of `M`,
//!
//! ```text
//! e = E / M = ∫ (a / (1 + w) + r + b v²) (ω R - v) dt
//! ```
//!
//! The energy is in the car at the end of the pull, where it goes `v0`. With `d(v²/2)/dx = -(r + b v²)` the
//! coast from `v0² + 2 e` is longer than that from `v0²` by
//!
//! ```text
//! gain = ln(1 + 2 b e / (r + b v0²)) / (2 b)      and, without air, e / r
//! ```
//!
//! Conditions: the string's force depends on how far the spring has moved and not on how fast; the whole slip
//! and enough of the coast are in view; the floor stays as it is; nothing stops the car before it stands. The
//! air's share is what such cars have (`coast.rs`). A tread that slips less, but still slips, gains less.
//!
//! # Source
//! Work and energy (any mechanics textbook, from memory); the coast with a quadratic drag by separation of the
//! variables, worked here.

use super::coast::{AIR_PER_M, AIR_PER_M_SD, COVERAGE, Coast};
use super::{Estimate, Finding, FindingReason, Findings, Key, Moment, Phase};

/// What the driven wheels' turning adds to the mass that a coast slows, `w`, and the standard uncertainty of
/// that over such cars: two discs of 15 to 25 g, half of whose mass counts, on cars of 150 to 250 g. Common
/// practice, no source.
pub(super) const DRIVEN_WHEELS: Estimate = Estimate {
    value: 0.10,
    sd: 0.04,
};

pub(super) fn add_quantities(
    moments: &[Moment<'_>],
    coast: &Result<Coast, FindingReason>,
    out: &mut Findings,
) {
    let gain = gain(moments, coast, out);
    out.values.insert(Key::GainWithoutSlipM, gain);
}

fn gain(moments: &[Moment<'_>], coast: &Result<Coast, FindingReason>, out: &Findings) -> Finding {
    let spun = out.get(Key::SpunAwayM)?;
    let coast = coast.as_ref().map_err(|_| FindingReason::NoCoastForGain)?;
    let rolling = coast.rolling;
    if rolling.value <= COVERAGE * rolling.sd {
        return Err(FindingReason::ShortCoastForGain);
    }
    let slides = slides(moments, out);
    let further = |rolling: f64, air: f64, wheels: f64, more: f64| {
        let energy = energy(&slides, rolling, air, wheels) + more;
        coast_longer_by(energy, coast.speed_m_per_s, rolling, air)
    };
    let wheels = DRIVEN_WHEELS.value;
    let value = further(rolling.value, AIR_PER_M, wheels, 0.0);
    // Half the difference between both ends of each input's standard uncertainty (JCGM 100, 5.1.3, note 2).
    let half = |of: &dyn Fn(f64) -> f64| (of(1.0) - of(-1.0)) / 2.0;
    let by_rolling = half(&|by| {
        let other = (rolling.value + by * rolling.sd).max(0.1 * rolling.value);
        further(other, AIR_PER_M, wheels, 0.0)
    });
    let by_air = half(&|by| {
        let air = by * AIR_PER_M_SD;
        further(
            rolling.value + coast.rolling_by_air * air,
            AIR_PER_M + air,
            wheels,
            0.0,
        )
    });
    let by_wheels = half(&|by| {
        further(
            rolling.value,
            AIR_PER_M,
            wheels + by * DRIVEN_WHEELS.sd,
            0.0,
        )
    });
    let push = mean_push(&slides, rolling.value);
    let by_slide = half(&|by| further(rolling.value, AIR_PER_M, wheels, by * push * spun.sd));
    Ok(Estimate {
        value,
        sd: by_rolling.hypot(by_air).hypot(by_wheels).hypot(by_slide),
    })
}

/// From one observation at the wheel to the next.
pub(super) struct Slide {
    /// By how much the rim went further than the car, m.
    slid_m: f64,
    /// Mean acceleration of the car, m/s².
    acceleration: f64,
    /// Mean square of its speed, m²/s².
    square: f64,
    /// How long, s.
    lasts_s: f64,
}

/// The same part of the run as the spun-away distance is taken over.
pub(super) fn slides(moments: &[Moment<'_>], out: &Findings) -> Vec<Slide> {
    let Ok(rolling) = &out.rolling else {
        return Vec::new();
    };
    let radius = rolling.radius_m.value;
    let phase = |m: &Moment<'_>| out.frames[m.frame].phase;
    let with_wheel: Vec<&Moment<'_>> = moments.iter().filter(|m| m.wheel.is_some()).collect();
    let rests = with_wheel
        .iter()
        .rposition(|m| phase(m) == Some(Phase::Rest));
    let settled_s = out.pull.settled_s();
    with_wheel[rests.unwrap_or(0)..]
        .windows(2)
        .take_while(|pair| {
            phase(pair[1]) == Some(Phase::Powered)
                || settled_s.is_some_and(|settled| pair[1].body.time_s <= settled)
        })
        .filter_map(|pair| {
            let (a, b) = (pair[0].wheel?, pair[1].wheel?);
            let lasts_s = pair[1].body.time_s - pair[0].body.time_s;
            let (from, to) = (pair[0].body.speed_m_per_s(), pair[1].body.speed_m_per_s());
            (lasts_s > 0.0).then(|| Slide {
                slid_m: (b.angle_rad() - a.angle_rad()) * radius
                    - (pair[1].travelled_m - pair[0].travelled_m),
                acceleration: (to - from) / lasts_s,
                square: f64::midpoint(from * from, to * to),
                lasts_s,
            })
        })
        .collect()
}

/// What slip took for each unit of the mass that a coast slows, m²/s².
pub(super) fn energy(slides: &[Slide], rolling: f64, air: f64, wheels: f64) -> f64 {
    let push = |s: &Slide| s.acceleration / (1.0 + wheels) + rolling + air * s.square;
    slides.iter().map(|s| push(s) * s.slid_m).sum()
}

/// Mean push over the same time, for each unit of mass, m/s².
pub(super) fn mean_push(slides: &[Slide], rolling: f64) -> f64 {
    let all: f64 = slides.iter().map(|s| s.lasts_s).sum();
    let gained: f64 = slides.iter().map(|s| s.acceleration * s.lasts_s).sum();
    if all > 0.0 {
        gained / all + rolling
    } else {
        rolling
    }
}

/// How much longer a coast from `speed` is for `energy` more for each unit of mass, m.
fn coast_longer_by(energy: f64, speed: f64, rolling: f64, air: f64) -> f64 {
    let loss = rolling + air * speed * speed;
    // Energy that noise makes negative cannot be more than all there is.
    let share = (2.0 * air * energy / loss).max(-0.5);
    share.ln_1p() / (2.0 * air)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn energy_carries_a_car_as_far_as_rolling_lets_it() {
        // By hand: 0.6 m²/s² against 0.2 m/s² is 3 m where the air takes next to nothing.
        assert!((coast_longer_by(0.6, 1.0, 0.2, 1e-9) - 3.0).abs() < 1e-6);
        // With air the two coasts are ln(1 + b v²/r) / 2b each, from v² = 1 and from v² = 2.2.
        let (rolling, air) = (0.2, 0.035);
        let way = |square: f64| (1.0 + air * square / rolling).ln() / (2.0 * air);
        let longer = coast_longer_by(0.6, 1.0, rolling, air);
        assert!((longer - (way(2.2) - way(1.0))).abs() < 1e-12);
        assert!(longer < 3.0);
    }

    #[test]
    fn slip_takes_push_times_sliding() {
        // 0.8 m slid at 1.1 m/s² of a car whose wheels weigh nothing: (1.1 + 0.2) 0.8 = 1.04.
        let slide = || Slide {
            slid_m: 0.4,
            acceleration: 1.1,
            square: 0.0,
            lasts_s: 0.3,
        };
        let slides = [slide(), slide()];
        assert!((energy(&slides, 0.2, 0.0, 0.0) - 1.04).abs() < 1e-12);
        assert!((mean_push(&slides, 0.2) - 1.3).abs() < 1e-12);
    }
}

//! Where the energy of the pull went: into the car's motion, into rubbing under spinning wheels, into
//! rolling and air. What spins the wheels themselves is not among them: no run sheet gives their inertia.
//!
//! Forces come from accelerations, and an acceleration tells a force only with what it has to move: the car's
//! mass `m`, what the free wheels' turning adds to it (`f`), and, where the driven wheels turn with the car, theirs
//! (`w`, see `gain.rs`). A coast that loses `r + b v²` is slowed by `m (1 + f) (1 + w) (r + b v²)`, and with that
//!
//! ```text
//! moving   m v² / 2                              at the end of the pull
//! rolling  m (1 + f) (1 + w) ∫ (r + b v²) v dt   from the release to the end of the pull
//! slip     m (1 + f) (1 + w) e                   with e of `gain.rs`
//! ```
//!
//! # Source
//! Work and energy (any mechanics textbook, from memory).

use super::coast::{AIR_PER_M, AIR_PER_M_SD, Coast};
use super::gain::{DRIVEN_WHEELS, Slide, energy, mean_push, slides};
use super::{
    CarFacts, Estimate, Finding, FindingReason, Findings, Key, Missing, Moment, ORDINARY_LOSS,
    Phase, STANDARD_GRAVITY_M_PER_S2,
};

/// A kitchen balance weighs a car to about a hundredth. Common practice, no source.
const MASS_REL_SD: f64 = 0.01;
/// The free wheels' turning adds 3 to 8 hundredths to the mass of such cars (common practice, no source): the
/// middle, and the standard deviation of an even distribution over that (JCGM 100, 4.3.7).
const FREE_WHEELS: Estimate = Estimate {
    value: 0.055,
    sd: 0.0145,
};

pub(super) fn add_quantities(
    moments: &[Moment<'_>],
    car: &CarFacts,
    coast: &Result<Coast, FindingReason>,
    out: &mut Findings,
) {
    let pulled = pulled(moments, car, coast, out);
    let of =
        |get: fn(&Pulled) -> Estimate| -> Finding { pulled.as_ref().map(get).map_err(|why| *why) };
    let slip = match (&pulled, out.get(Key::SpunAwayM)) {
        (Ok(pulled), Ok(spun)) => Ok(pulled.rubbing(&slides(moments, out), spun)),
        (Err(why), _) => Err(*why),
        (_, Err(why)) => Err(why),
    };
    let (moving, rolling) = (of(Pulled::moving), of(Pulled::rolling));
    out.values.insert(Key::EnergyMovingCarJ, moving);
    out.values.insert(Key::EnergyLostRollingJ, rolling);
    out.values.insert(Key::EnergyLostInSlipJ, slip);
}

/// What a coast loses: `rolling + air v²`, m/s².
#[derive(Debug, Clone, Copy)]
struct Loss {
    rolling: Estimate,
    air: f64,
    air_sd: f64,
    /// How `rolling` changes with `air`, m/s² for each 1/m.
    rolling_by_air: f64,
}

impl Loss {
    /// Of this car where its coast was seen, else of such cars.
    fn of(coast: &Result<Coast, FindingReason>) -> Self {
        coast.as_ref().map_or(
            Self {
                rolling: Estimate {
                    value: ORDINARY_LOSS.value * STANDARD_GRAVITY_M_PER_S2,
                    sd: ORDINARY_LOSS.sd * STANDARD_GRAVITY_M_PER_S2,
                },
                air: 0.0,
                air_sd: 0.0,
                rolling_by_air: 0.0,
            },
            |coast| Self {
                rolling: coast.rolling,
                air: AIR_PER_M,
                air_sd: AIR_PER_M_SD,
                rolling_by_air: coast.rolling_by_air,
            },
        )
    }
}

/// The pull from release to end, SI.
#[derive(Debug, Clone, Copy)]
struct Pulled {
    mass_kg: f64,
    loss: Loss,
    distance_m: f64,
    /// `∫ v² ds`.
    square_way: f64,
    /// Speed at the end; its uncertainty holds that of the end's moment.
    speed: Estimate,
    end_sd_s: f64,
}

/// Speed at a time, between the two frames beside it.
fn speed_at(moments: &[Moment<'_>], time_s: f64) -> f64 {
    let speed = |m: &Moment<'_>| m.body.speed_m_per_s();
    let next = moments.partition_point(|m| m.body.time_s < time_s);
    match (
        next.checked_sub(1).and_then(|i| moments.get(i)),
        moments.get(next),
    ) {
        (Some(a), Some(b)) => {
            let share = (time_s - a.body.time_s) / (b.body.time_s - a.body.time_s);
            speed(a) + share * (speed(b) - speed(a))
        }
        (Some(only), None) | (None, Some(only)) => speed(only),
        (None, None) => 0.0,
    }
}

fn pulled(
    moments: &[Moment<'_>],
    car: &CarFacts,
    coast: &Result<Coast, FindingReason>,
    out: &Findings,
) -> Result<Pulled, FindingReason> {
    let mass_kg = car
        .mass_kg
        .ok_or(FindingReason::NotOnSheet(Missing::Mass))?;
    let pulled: Vec<&Moment<'_>> = moments
        .iter()
        .filter(|m| out.frames[m.frame].phase == Some(Phase::Powered))
        .collect();
    let (Some(first), Some(last)) = (pulled.first(), pulled.last()) else {
        return Err(FindingReason::PullUnseen);
    };
    let (Some(end_s), Some(_)) = (out.pull.end_s, out.pull.release_s) else {
        return Err(FindingReason::PullNotWhole);
    };
    let end_sd_s = out.get(Key::PoweredS).map_or(0.0, |e| e.sd);
    let speed = speed_at(moments, end_s);
    // The car gains before the end what it may lose after it, or go on gaining while its wheels spin.
    let beside = |by: f64| (speed_at(moments, end_s + by) - speed).abs();
    let by_end = f64::midpoint(beside(-end_sd_s), beside(end_sd_s));
    let square_way = pulled
        .windows(2)
        .map(|pair| {
            let square = |m: &Moment<'_>| m.body.speed_m_per_s().powi(2);
            f64::midpoint(square(pair[0]), square(pair[1]))
                * (pair[1].travelled_m - pair[0].travelled_m)
        })
        .sum();
    Ok(Pulled {
        mass_kg,
        loss: Loss::of(coast),
        distance_m: last.travelled_m - first.travelled_m
            + speed * (end_s - last.body.time_s).max(0.0),
        square_way,
        speed: Estimate {
            value: speed,
            sd: last.body.speed_sd_m_per_s().hypot(by_end),
        },
        end_sd_s,
    })
}

impl Pulled {
    /// Mass that a coast slows, kg, and its standard uncertainty as a share.
    fn coasting_kg(&self) -> (f64, f64) {
        let (free, driven) = (1.0 + FREE_WHEELS.value, 1.0 + DRIVEN_WHEELS.value);
        let share = MASS_REL_SD
            .hypot(FREE_WHEELS.sd / free)
            .hypot(DRIVEN_WHEELS.sd / driven);
        (self.mass_kg * free * driven, share)
    }

    fn moving(&self) -> Estimate {
        let value = 0.5 * self.mass_kg * self.speed.value.powi(2);
        Estimate {
            value,
            sd: (value * MASS_REL_SD).hypot(self.mass_kg * self.speed.value * self.speed.sd),
        }
    }

    fn rolling(&self) -> Estimate {
        let (mass, mass_share) = self.coasting_kg();
        let loss = self.loss;
        let value = mass * (loss.rolling.value * self.distance_m + loss.air * self.square_way);
        let by_rolling = mass * self.distance_m * loss.rolling.sd;
        let by_air = mass * (self.square_way + loss.rolling_by_air * self.distance_m) * loss.air_sd;
        let v = self.speed.value;
        let by_end = mass * (loss.rolling.value + loss.air * v * v) * v * self.end_sd_s;
        Estimate {
            value,
            sd: (value * mass_share)
                .hypot(by_rolling)
                .hypot(by_air)
                .hypot(by_end),
        }
    }

    /// Energy of the push over the way that was spun away.
    fn rubbing(&self, slides: &[Slide], spun: Estimate) -> Estimate {
        let (mass, mass_share) = self.coasting_kg();
        let loss = self.loss;
        let with = |rolling: f64, air: f64, wheels: f64| energy(slides, rolling, air, wheels);
        let (rolling, wheels) = (loss.rolling.value, DRIVEN_WHEELS.value);
        let each = with(rolling, loss.air, wheels);
        let by_rolling = with(rolling + loss.rolling.sd, loss.air, wheels) - each;
        let by_air = with(
            rolling + loss.rolling_by_air * loss.air_sd,
            loss.air + loss.air_sd,
            wheels,
        ) - each;
        let by_slide = mean_push(slides, rolling) * spun.sd;
        Estimate {
            value: mass * each,
            sd: mass
                * (each * mass_share)
                    .hypot(by_rolling)
                    .hypot(by_air)
                    .hypot(by_slide),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sure(value: f64) -> Estimate {
        Estimate { value, sd: 0.0 }
    }

    fn pulled() -> Pulled {
        Pulled {
            mass_kg: 0.2,
            loss: Loss {
                rolling: sure(0.2),
                air: 0.0,
                air_sd: 0.0,
                rolling_by_air: 0.0,
            },
            distance_m: 1.0,
            square_way: 0.0,
            speed: sure(1.5),
            end_sd_s: 0.0,
        }
    }

    #[test]
    fn rolling_takes_what_a_coast_shows_of_all_that_turns() {
        // By hand: 0.2 kg whose free wheels add 0.055 and whose driven wheels add 0.10 of that is slowed like
        // 0.2321 kg; at 0.2 m/s² over 1 m that is 0.046 42 J. The car's motion is 0.2 · 1.5² / 2 = 0.225 J.
        assert!((pulled().rolling().value - 0.046_42).abs() < 1e-9);
        assert!((pulled().moving().value - 0.225).abs() < 1e-12);
    }

    #[test]
    fn an_end_that_is_known_badly_widens_what_went_into_rolling() {
        // By hand: 0.1 s at 1.5 m/s and 0.2 m/s² of 0.2321 kg is 0.006 963 J.
        let late = Pulled {
            end_sd_s: 0.1,
            ..pulled()
        };
        let more = late.rolling().sd.powi(2) - pulled().rolling().sd.powi(2);
        assert!((more.sqrt() - 0.006_963).abs() < 1e-9);
    }
}

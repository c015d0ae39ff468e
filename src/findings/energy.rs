//! Where the energy of the pull went: into the car's motion, into rubbing under spinning wheels, into
//! rolling and air. What spins the wheels themselves is not among them: no run sheet gives their inertia.

use super::{
    CarFacts, Estimate, Finding, Findings, Key, Moment, ORDINARY_LOSS, Phase,
    STANDARD_GRAVITY_M_PER_S2,
};

/// A kitchen balance weighs a car to about a hundredth. Common practice, no source.
const MASS_REL_SD: f64 = 0.01;
/// The front wheels' inertia adds to the moving mass: 3 to 8 hundredths for such cars. Common practice,
/// no source.
const FRONT_WHEELS_REL_SD: f64 = 0.05;

pub(super) fn add_quantities(moments: &[Moment<'_>], car: &CarFacts, out: &mut Findings) {
    let split = split(moments, car, out);
    let of =
        |get: fn(&Split) -> Estimate| -> Finding { split.as_ref().map(get).map_err(Clone::clone) };
    let slip = match (&split, out.get(Key::SpunAwayM)) {
        (Ok(split), Ok(spun)) => Ok(split.rubbing(spun)),
        (Err(why), _) => Err(why.clone()),
        (_, Err(why)) => Err(why),
    };
    out.values.insert(Key::EnergyMovingCarJ, of(|s| s.moving));
    out.values
        .insert(Key::EnergyLostRollingJ, of(|s| s.rolling));
    out.values.insert(Key::EnergyLostInSlipJ, slip);
}

struct Split {
    moving: Estimate,
    rolling: Estimate,
    /// Push of the driven wheels on the floor while they slip, or else on average, N.
    push_n: Estimate,
}

impl Split {
    /// Energy of a push over the way that was spun away.
    fn rubbing(&self, spun: Estimate) -> Estimate {
        Estimate {
            value: self.push_n.value * spun.value,
            sd: (self.push_n.value * spun.sd).hypot(self.push_n.sd * spun.value),
        }
    }
}

fn split(moments: &[Moment<'_>], car: &CarFacts, out: &Findings) -> Result<Split, String> {
    let mass = car
        .mass_kg
        .ok_or("the run sheet does not give the car's `mass_g`")?;
    let pulled: Vec<&Moment<'_>> = moments
        .iter()
        .filter(|m| out.frames[m.frame].phase == Some(Phase::Powered))
        .collect();
    let (Some(first), Some(last)) = (pulled.first(), pulled.last()) else {
        return Err("the pull was not in view".to_owned());
    };
    if out.pull.end_s.is_none() || out.pull.release_s.is_none() {
        return Err("the pull was not in view from release to end".to_owned());
    }
    let loss = out.get(Key::CoastDecelerationMPerS2).unwrap_or(Estimate {
        value: ORDINARY_LOSS.value * STANDARD_GRAVITY_M_PER_S2,
        sd: ORDINARY_LOSS.sd * STANDARD_GRAVITY_M_PER_S2,
    });
    let rel = MASS_REL_SD.hypot(FRONT_WHEELS_REL_SD);
    let speed = last.body.mean[3];
    let moving = 0.5 * mass * speed * speed;
    let speed_sd = last.body.covariance[(3, 3)].max(0.0).sqrt();
    let way = last.travelled_m - first.travelled_m;
    let rolling = mass * loss.value * way;
    let slipping: Vec<f64> = pulled
        .iter()
        .filter(|m| {
            out.frames[m.frame]
                .slip
                .is_some_and(|s| s.ratio > 2.0 * s.sd)
        })
        .map(|m| m.body.mean[4])
        .collect();
    let mean_gain = if slipping.is_empty() {
        speed / (last.body.time_s - first.body.time_s).max(1e-3)
    } else {
        slipping.iter().sum::<f64>() / slipping.len() as f64
    };
    let push = mass * (mean_gain + loss.value);
    Ok(Split {
        moving: Estimate {
            value: moving,
            sd: (moving * rel).hypot(mass * speed * speed_sd),
        },
        rolling: Estimate {
            value: rolling,
            sd: (rolling * rel).hypot(mass * way * loss.sd),
        },
        push_n: Estimate {
            value: push,
            sd: (push * rel).hypot(mass * loss.sd),
        },
    })
}

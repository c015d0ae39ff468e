//! One run of the car by the equations of motion: the pull, sliding wheels, the coast.
//!
//! While the tyres hold, car and wheels are one mass. When the force that they carry passes what they hold, they slide
//! with the sliding friction until rim and floor have one speed again (Coulomb). When the string is off, the car
//! coasts, and the rest is a closed form.
//!
//! The pull is integrated in time by a Dormand-Prince pair of `differential-equations`. Where the tyres let go or hold
//! again, the string is off or the car stands, an event function goes through zero, at which the crate stops. It does not
//! find the place in the step (measured: off by most of a step where the function is bent), so `locate` does, by halving
//! the part of the step up to it.

use super::car::Car;
use differential_equations::prelude::{
    CrossingDirection, Event, EventConfig, ExplicitRungeKutta, IVP, ODE,
};

/// Relative and absolute tolerance of the integration. Measured: stopping places agree with a tolerance of 1e-11 to
/// 2e-5 of themselves.
const TOLERANCE: f64 = 1e-7;
/// Changes between holding and sliding that are followed: real pulls have one or two.
const MOST_PHASES: usize = 6;
/// A pull that lasts longer than this has jammed, s.
const LONGEST_S: f64 = 120.0;
/// Wheels that slide by less than this hold again, m/s.
const SYNCHRONOUS_M_PER_S: f64 = 1e-4;
/// A car that rolls back by this much has come to a stop, m/s.
const ROLLS_BACK_M_PER_S: f64 = 1e-3;
/// First step of a phase, s: the event search begins after it, so it may not step over an event.
const FIRST_STEP_S: f64 = 1e-5;
/// Halvings of a step in which an event lies: to 1e-12 of it.
const HALVINGS: usize = 40;
/// Points of each integration step that are kept.
const POINTS: usize = 3;

/// `[string off and what the axle turns after it (m), rim speed (m/s), speed (m/s), way (m)]`.
type State = [f64; 4];

/// A moment of a run.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Moment {
    /// Since the release, s.
    pub time_s: f64,
    /// From the start, m.
    pub way_m: f64,
    /// Speed of the car, m/s.
    pub speed_m_per_s: f64,
}

/// What a run gives.
#[derive(Debug, Clone, PartialEq)]
pub struct Ran {
    /// From the release to the end of the pull, s.
    pub powered_s: f64,
    /// Highest speed, m/s.
    pub peak_speed_m_per_s: f64,
    /// Speed at which the string left the car, m/s.
    pub speed_at_string_end_m_per_s: f64,
    /// Way that was lost in sliding, m: under power and while the wheels still spin after it, as results have it.
    pub spun_away_m: f64,
    /// Largest demand on the tyres over what they hold; above 1 they slid.
    pub peak_demand: f64,
    /// Way until the car stands, m.
    pub stop_m: f64,
    /// Loss of speed in the coast at the speed at which the string left, m/s².
    pub coast_loss_m_per_s2: f64,
    /// The way to the end of the powered part, and what sliding followed it.
    pub moments: Vec<Moment>,
    rolling_loss_m_per_s2: f64,
    air_per_m: f64,
}

/// What the tyres do, and whether the string still pulls.
struct Phase<'a> {
    car: &'a Car,
    slides: bool,
    pulls: bool,
    pulled_m: f64,
}

impl ODE<f64, State> for Phase<'_> {
    fn diff(&self, _time_s: f64, y: &State, dydt: &mut State) {
        let car = self.car;
        let [off_m, rim, speed, _] = *y;
        let push = if self.pulls {
            car.rim_push_n(off_m.min(self.pulled_m))
        } else {
            0.0
        };
        let loss = car.loss_n(speed);
        let (rim_rate, speed_rate) = if self.slides {
            let force = car.sliding_force_n(speed);
            (
                (push - force) / car.driven_wheels_kg,
                (force - loss) / car.pushed_kg(),
            )
        } else {
            let rate = (push - loss) / car.rolling_kg();
            (rate, rate)
        };
        let winding = car.winding_radius_m / car.wheel_radius_m;
        *dydt = [rim * winding, rim_rate, speed_rate, speed];
    }
}

impl Event<f64, State> for Phase<'_> {
    fn config(&self) -> EventConfig {
        EventConfig::new(CrossingDirection::Negative, Some(1))
    }

    /// Positive as long as the phase lasts.
    fn event(&self, _time_s: f64, y: &State) -> f64 {
        let rolls_on = y[2] + ROLLS_BACK_M_PER_S;
        self.string_left(y).min(self.tyres_left(y)).min(rolls_on)
    }
}

/// The run of a car from its release; `None` for one that the spring does not move.
pub fn drive(car: &Car) -> Option<Ran> {
    let pulled_m = car.pulled_m();
    if pulled_m.is_nan() || pulled_m <= 0.0 || car.rim_push_n(0.0) <= car.loss_n(0.0) {
        return None;
    }
    let mut state: State = [0.0; 4];
    let mut time_s = 0.0;
    let mut moments = vec![Moment::at(0.0, &state)];
    let mut powered = None;
    let mut slides = car.demand(0.0, 0.0) > 1.0;
    for _ in 0..MOST_PHASES {
        let phase = Phase {
            car,
            slides,
            pulls: powered.is_none(),
            pulled_m,
        };
        (time_s, state) = phase.integrate(time_s, state, &mut moments)?;
        if phase.stands(&state) {
            // The pull is weaker than what holds the car back: it stands there, wound up as far as it still is.
            state = [state[0].max(0.0), 0.0, 0.0, state[3].max(0.0)];
            powered.get_or_insert((time_s, state));
            break;
        }
        if phase.string_left(&state) < phase.tyres_left(&state) {
            powered = Some((time_s, state));
            slides = slides && state[1] - state[2] > SYNCHRONOUS_M_PER_S;
        } else {
            slides = !slides;
        }
        if powered.is_some() && !slides {
            break;
        }
    }
    let (powered_s, at_end) = powered?;
    Some(ran(car, powered_s, &at_end, &state, moments))
}

fn ran(
    car: &Car,
    powered_s: f64,
    at_string_end: &State,
    last: &State,
    moments: Vec<Moment>,
) -> Ran {
    let rolling = car.loss_n(0.0) / car.rolling_kg();
    let air = car.air_kg_per_m / car.rolling_kg();
    let peak = moments.iter().map(|m| m.speed_m_per_s).fold(0.0, f64::max);
    let turned_m = last[0] * car.wheel_radius_m / car.winding_radius_m;
    Ran {
        powered_s,
        peak_speed_m_per_s: peak.max(last[2]),
        speed_at_string_end_m_per_s: at_string_end[2],
        spun_away_m: turned_m - last[3],
        peak_demand: car.peak_demand(),
        stop_m: last[3] + coast_way_m(last[2], rolling, air),
        coast_loss_m_per_s2: car.coast_loss_m_per_s2(at_string_end[2]),
        moments,
        rolling_loss_m_per_s2: rolling,
        air_per_m: air,
    }
}

impl Phase<'_> {
    /// Share of the string that is still on the axle; 1 after the pull.
    fn string_left(&self, y: &State) -> f64 {
        if self.pulls {
            (self.pulled_m - y[0]) / self.pulled_m
        } else {
            1.0
        }
    }

    /// Whether the car has come to a stop.
    fn stands(&self, y: &State) -> bool {
        let rolls_on = y[2] + ROLLS_BACK_M_PER_S;
        rolls_on < self.string_left(y).min(self.tyres_left(y)) && y[2] < 0.0
    }

    /// How far the tyres are from letting go, or from holding again.
    fn tyres_left(&self, y: &State) -> f64 {
        let [off_m, rim, speed, _] = *y;
        if self.slides {
            rim - speed + SYNCHRONOUS_M_PER_S
        } else if self.pulls {
            1.0 - self.car.demand(off_m.min(self.pulled_m), speed)
        } else {
            1.0
        }
    }

    /// From a moment to the end of the phase; `None` where it does not end.
    fn integrate(
        &self,
        from_s: f64,
        from: State,
        moments: &mut Vec<Moment>,
    ) -> Option<(f64, State)> {
        let method = ExplicitRungeKutta::dopri5()
            .rtol(TOLERANCE)
            .atol(TOLERANCE)
            .h0(FIRST_STEP_S)
            .max_steps(2000);
        let solved = IVP::ode(self, from_s, from_s + LONGEST_S, from)
            .method(method)
            .dense(POINTS)
            .event(self)
            .solve()
            .ok()?;
        let points: Vec<(f64, State)> = solved.iter().map(|(time_s, y)| (*time_s, *y)).collect();
        let left = |&(time_s, y): &(f64, State)| self.event(time_s, &y);
        let passed = points
            .windows(2)
            .position(|pair| left(&pair[0]) > 0.0 && left(&pair[1]) <= 0.0)?;
        let (end_s, end) = self.locate(points[passed], points[passed + 1].0);
        let before = points[..=passed].iter();
        moments.extend(before.map(|(time_s, y)| Moment::at(*time_s, y)));
        moments.push(Moment::at(end_s, &end));
        end.iter()
            .all(|part| part.is_finite())
            .then_some((end_s, end))
    }

    /// The event between a point before it and a time after it: the length of a single step, by halving.
    fn locate(&self, (from_s, from): (f64, State), until_s: f64) -> (f64, State) {
        let (mut before_s, mut after_s) = (0.0, until_s - from_s);
        for _ in 0..HALVINGS {
            let middle_s = f64::midpoint(before_s, after_s);
            if self.event(from_s + middle_s, &self.step(from_s, &from, middle_s)) > 0.0 {
                before_s = middle_s;
            } else {
                after_s = middle_s;
            }
        }
        (from_s + after_s, self.step(from_s, &from, after_s))
    }

    /// One step of the classical Runge-Kutta method of fourth order.
    fn step(&self, time_s: f64, y: &State, step_s: f64) -> State {
        let rates = |by_s: f64, along: &State| {
            let at: State = std::array::from_fn(|part| y[part] + by_s * along[part]);
            let mut rates = [0.0; 4];
            self.diff(time_s + by_s, &at, &mut rates);
            rates
        };
        let half_s = step_s / 2.0;
        let a = rates(0.0, &[0.0; 4]);
        let b = rates(half_s, &a);
        let c = rates(half_s, &b);
        let d = rates(step_s, &c);
        std::array::from_fn(|part| {
            y[part] + step_s / 6.0 * (a[part] + 2.0 * (b[part] + c[part]) + d[part])
        })
    }
}

impl Moment {
    fn at(time_s: f64, y: &State) -> Self {
        Self {
            time_s,
            way_m: y[3],
            speed_m_per_s: y[2],
        }
    }
}

/// Way that a coast goes which loses `a + b v²`: `ln(1 + b v² / a) / 2b`, and `v² / 2a` without air.
///
/// # Source
/// Coast-down with constant and square resistance, by separating variables (any text on vehicle dynamics).
pub fn coast_way_m(speed_m_per_s: f64, loss_m_per_s2: f64, air_per_m: f64) -> f64 {
    let square = speed_m_per_s * speed_m_per_s;
    let ratio = air_per_m * square / loss_m_per_s2;
    if ratio < 1e-6 {
        square / (2.0 * loss_m_per_s2)
    } else {
        ratio.ln_1p() / (2.0 * air_per_m)
    }
}

impl Ran {
    fn last(&self) -> Moment {
        let start = Moment::at(0.0, &[0.0; 4]);
        self.moments.last().copied().unwrap_or(start)
    }

    /// Speed at a way from the start, m/s; 0 beyond where the car stands.
    pub fn speed_at_m_per_s(&self, way_m: f64) -> f64 {
        let last = self.last();
        if way_m >= last.way_m {
            return self.coasting_square(way_m - last.way_m).max(0.0).sqrt();
        }
        let next = self.moments.partition_point(|m| m.way_m < way_m).max(1);
        let (a, b) = (self.moments[next - 1], self.moments[next]);
        let share = (way_m - a.way_m) / (b.way_m - a.way_m).max(1e-12);
        // The square of the speed goes nearly straight over the way.
        let square = |m: Moment| m.speed_m_per_s * m.speed_m_per_s;
        (square(a) + share * (square(b) - square(a)))
            .max(0.0)
            .sqrt()
    }

    /// Square of the speed after a way of the coast.
    fn coasting_square(&self, way_m: f64) -> f64 {
        let square = self.last().speed_m_per_s.powi(2);
        let (a, b) = (self.rolling_loss_m_per_s2, self.air_per_m);
        if b * square < 1e-6 * a {
            square - 2.0 * a * way_m
        } else {
            (square + a / b) * (-2.0 * b * way_m).exp() - a / b
        }
    }

    /// Time from the release until a way from the start is reached, s; `None` where the car stands before it.
    pub fn time_to_s(&self, way_m: f64) -> Option<f64> {
        let last = self.last();
        if way_m <= last.way_m {
            let next = self.moments.partition_point(|m| m.way_m < way_m).max(1);
            let (a, b) = (self.moments[next - 1], *self.moments.get(next)?);
            let share = (way_m - a.way_m) / (b.way_m - a.way_m).max(1e-12);
            return Some(a.time_s + share * (b.time_s - a.time_s));
        }
        let square = self.coasting_square(way_m - last.way_m);
        if square <= 0.0 {
            return None;
        }
        let (a, b) = (self.rolling_loss_m_per_s2, self.air_per_m);
        let speeds = [last.speed_m_per_s, square.sqrt()];
        let coasting_s = if b * speeds[0] * speeds[0] < 1e-6 * a {
            (speeds[0] - speeds[1]) / a
        } else {
            let [from, to] = speeds.map(|v| (v * (b / a).sqrt()).atan());
            (from - to) / (a * b).sqrt()
        };
        Some(last.time_s + coasting_s)
    }
}

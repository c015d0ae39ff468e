//! A whole run: the motion integrated from release until the car stops, and looked up at any time.

use crate::drive::{Car, State, Tyres};
use crate::scene::Scene;

const STEP_S: f64 = 50e-6;
const LONGEST_RUN_S: f64 = 120.0;
const BISECTIONS: usize = 60;

/// What happened, and when (seconds of the clip).
#[derive(Debug, Clone, Default)]
pub(crate) struct Events {
    pub(crate) slip_from: Option<f64>,
    pub(crate) slip_to: Option<f64>,
    pub(crate) string_out: Option<f64>,
    pub(crate) stop: Option<f64>,
}

/// The motion of one run.
#[derive(Debug, Clone)]
pub(crate) struct Run {
    pub(crate) car: Car,
    pub(crate) release_s: f64,
    pub(crate) events: Events,
    /// When the string ran out, and when the car stopped (or the longest run ended).
    pub(crate) at_string_out: Option<State>,
    pub(crate) at_end: State,
    samples: Vec<State>,
}

/// The car at one moment, ready to be drawn.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Moment {
    pub(crate) x_m: f64,
    pub(crate) y_m: f64,
    pub(crate) rise_m: f64,
    pub(crate) heading_rad: f64,
    pub(crate) wheel_rad: f64,
    pub(crate) axle_rad: f64,
    pub(crate) travel_m: f64,
    pub(crate) string_out_m: f64,
}

struct Stepper<'a> {
    car: &'a Car,
    state: State,
    time_s: f64,
    tyres: Tyres,
    powered: bool,
    stopped: bool,
    events: Events,
    at_string_out: Option<State>,
}

impl Stepper<'_> {
    fn runge_kutta(&self, dt: f64) -> State {
        let rates = |s: &State| self.car.rates(s, self.tyres, self.powered);
        let s = &self.state;
        let k1 = rates(s);
        let k2 = rates(&s.plus(&k1, dt / 2.0));
        let k3 = rates(&s.plus(&k2, dt / 2.0));
        let k4 = rates(&s.plus(&k3, dt));
        s.plus(&k1, dt / 6.0)
            .plus(&k2, dt / 3.0)
            .plus(&k3, dt / 3.0)
            .plus(&k4, dt / 6.0)
    }

    /// Positive once something has changed that the present equations do not cover.
    fn overrun(&self, s: &State) -> f64 {
        let string = if self.powered {
            s.string_out - self.car.string_m
        } else {
            -1.0
        };
        let grip = match self.tyres {
            Tyres::Hold => -1.0,
            Tyres::Slide => s.v - s.omega * self.car.radius_m,
        };
        let stop = if self.tyres == Tyres::Hold {
            -s.v
        } else {
            -1.0
        };
        string.max(grip).max(stop)
    }

    /// One step on the fixed grid, split where something happens in it.
    fn step(&mut self) {
        let mut left = STEP_S;
        while left > 0.0 && !self.stopped {
            let next = self.runge_kutta(left);
            if self.overrun(&next) <= 0.0 {
                self.state = next;
                self.time_s += left;
                left = 0.0;
            } else {
                let (mut low, mut high) = (0.0, left);
                for _ in 0..BISECTIONS {
                    let middle = f64::midpoint(low, high);
                    if self.overrun(&self.runge_kutta(middle)) > 0.0 {
                        high = middle;
                    } else {
                        low = middle;
                    }
                }
                self.state = self.runge_kutta(high);
                self.time_s += high;
                left -= high;
                self.change();
            }
            self.let_go();
        }
        self.time_s += left;
    }

    fn change(&mut self) {
        let s = &mut self.state;
        if self.powered && s.string_out >= self.car.string_m {
            self.powered = false;
            self.events.string_out = Some(self.time_s);
            self.at_string_out = Some(*s);
        } else if self.tyres == Tyres::Slide && s.v >= s.omega * self.car.radius_m {
            self.tyres = Tyres::Hold;
            s.omega = s.v / self.car.radius_m;
            self.events.slip_to = Some(self.time_s);
        } else {
            s.v = 0.0;
            s.omega = 0.0;
            self.stopped = true;
            self.events.stop = Some(self.time_s);
        }
    }

    fn let_go(&mut self) {
        if self.tyres == Tyres::Hold && self.car.tyres_let_go(&self.state, self.powered) {
            self.tyres = Tyres::Slide;
            self.events.slip_from.get_or_insert(self.time_s);
        }
    }
}

impl Run {
    /// Integrates a scene's run and keeps it for as long as the clip lasts.
    pub(crate) fn new(scene: &Scene) -> anyhow::Result<Self> {
        let car = Car::new(scene)?;
        let mut stepper = Stepper {
            car: &car,
            state: State {
                heading: car.aim_error_rad,
                ..State::default()
            },
            time_s: 0.0,
            tyres: Tyres::Hold,
            powered: true,
            stopped: false,
            events: Events::default(),
            at_string_out: None,
        };
        stepper.let_go();
        let keep_s = scene.duration_s - scene.release_s + 0.2;
        let mut samples = vec![stepper.state];
        while !stepper.stopped && stepper.time_s < LONGEST_RUN_S {
            stepper.step();
            if stepper.time_s < keep_s {
                samples.push(stepper.state);
            }
        }
        let (at_end, at_string_out) = (stepper.state, stepper.at_string_out);
        let later = |t: Option<f64>| t.map(|t| t + scene.release_s);
        let events = Events {
            slip_from: later(stepper.events.slip_from),
            slip_to: later(stepper.events.slip_to),
            string_out: later(stepper.events.string_out),
            stop: later(stepper.events.stop),
        };
        Ok(Self {
            car,
            release_s: scene.release_s,
            events,
            at_string_out,
            at_end,
            samples,
        })
    }

    /// How far the same car would go on a floor that never lets go, m.
    pub(crate) fn distance_without_slip_m(scene: &Scene) -> anyhow::Result<f64> {
        let mut sticky = scene.clone();
        sticky.drive.mu_static = f64::MAX;
        Ok(Self::new(&sticky)?.at_end.travel)
    }

    /// The state at a time of the clip; samples are so close that a straight line joins them.
    pub(crate) fn state(&self, time_s: f64) -> State {
        let at = ((time_s - self.release_s) / STEP_S).max(0.0);
        let index = at as usize;
        let Some(next) = self.samples.get(index + 1) else {
            return self.samples.last().copied().unwrap_or_default();
        };
        let fraction = at - index as f64;
        let here = self.samples[index];
        here.plus(&next.plus(&here, -1.0), fraction)
    }

    pub(crate) fn moment(&self, time_s: f64) -> Moment {
        let s = self.state(time_s);
        let wheel_rad = self.wheel_rad(&s);
        let heading_rad = s.heading + self.car.sway_rad * s.wheel.sin();
        let shift = self.car.shift_m * s.wheel.sin();
        Moment {
            x_m: s.x - shift * heading_rad.sin(),
            y_m: s.y + shift * heading_rad.cos(),
            // A wheel whose middle is down lifts its axle.
            rise_m: self.car.bounce_m * (1.0 - s.wheel.cos())
                + self.car.off_axle_m * wheel_rad.sin(),
            heading_rad,
            wheel_rad,
            axle_rad: s.axle,
            travel_m: s.travel,
            string_out_m: s.string_out,
        }
    }

    /// How far the wheel has turned. The middle of a round wheel goes by its radius for each radian, and
    /// the axle, with the car's whole mass, goes steadily: a wheel off its axle turns unevenly.
    pub(crate) fn wheel_rad(&self, state: &State) -> f64 {
        let share = self.car.off_axle_m / self.car.radius_m;
        let mut turned = state.wheel;
        for _ in 0..8 {
            turned = state.wheel + share * (turned.cos() - 1.0);
        }
        turned
    }

    /// `1 - v / (omega R)` while driving, else 0.
    pub(crate) fn slip_ratio(&self, time_s: f64) -> f64 {
        let s = self.state(time_s);
        let rim = s.omega * self.car.radius_m;
        if rim > s.v + 1e-9 {
            1.0 - s.v / rim
        } else {
            0.0
        }
    }

    pub(crate) fn string_is_on(&self, time_s: f64) -> bool {
        self.events.string_out.is_none_or(|end| time_s < end)
    }

    /// Energy that left the spring, and the part of it that no account explains.
    pub(crate) fn energy_balance_j(&self) -> (f64, f64) {
        let given = self.car.spring.energy_j(0.0)
            - self
                .car
                .spring
                .energy_j(self.at_end.string_out.min(self.car.string_m));
        (
            given,
            given - self.at_end.losses_j() - self.car.kinetic_j(&self.at_end),
        )
    }
}

//! A car on a floor: its own small equations of motion, which share nothing with the measuring library.

/// What the run depends on, SI.
#[derive(Debug, Clone, Copy)]
pub struct Car {
    pub radius_m: f64,
    /// The bare axle.
    pub axle_radius_m: f64,
    pub string_m: f64,
    /// Thickness of the string.
    pub string_diameter_m: f64,
    pub mass_kg: f64,
    pub inertia_kg_m2: f64,
    /// What the free wheels' turning adds to the mass.
    pub free_wheels_kg: f64,
    pub driven_share: f64,
    /// Pull of the string at half way, N, and how much it falls from beginning to end as a share.
    pub pull_n: f64,
    pub pull_falls: f64,
    pub mu_static: f64,
    pub mu_kinetic: f64,
    /// Loss while rolling as a share of the weight, air left out.
    pub rolling: f64,
    pub air_n_per_m2_s2: f64,
    pub curvature_per_m: f64,
    pub aim_rad: f64,
    pub yaw_per_spun_m: f64,
    pub sway_rad: f64,
    /// Turns of the sway for one turn of the driven wheel.
    pub sway_rate: f64,
    pub string_slip: f64,
    pub wheel_loose: f64,
    /// Shift to the side and rise of the whole car in step with the driven wheel, m.
    pub shift_m: f64,
    pub rise_m: f64,
    /// How far the driven wheels' middles are off their axle, m.
    pub off_axle_m: f64,
    /// The pull reaches its strength only after this long, s, and begins with this share of it.
    pub soft_s: f64,
    pub soft_from: f64,
}

/// The car at one moment.
#[derive(Debug, Clone, Copy, Default)]
pub struct State {
    pub time_s: f64,
    pub v: f64,
    pub omega: f64,
    pub wheel_rad: f64,
    pub axle_rad: f64,
    pub string_out_m: f64,
    pub distance_m: f64,
    pub x_m: f64,
    pub y_m: f64,
    pub heading_rad: f64,
    pub spun_m: f64,
    /// What the floor's push did over the way that was spun away, and what rolling and air took, J.
    pub rubbed_j: f64,
    pub rolled_j: f64,
    pub powered: bool,
    pub slipping: bool,
    /// Where the car is seen beside and above its way, and how far its wheel is seen to have turned.
    pub aside_m: f64,
    pub risen_m: f64,
    pub shown_rad: f64,
}

impl State {
    /// How far the middle of the driven axle is to the left of the line, m: what shifts the car is part of it.
    pub fn axle_left_m(&self) -> f64 {
        self.y_m + self.aside_m * self.heading_rad.cos()
    }
}

const GRAVITY: f64 = 9.806_65;
const STEP_S: f64 = 2e-4;

impl Car {
    /// From the axle's middle to the middle of the string on it.
    pub fn winding_radius_m(&self) -> f64 {
        self.axle_radius_m + self.string_diameter_m / 2.0
    }

    /// What has to be pushed for the car to go faster: its mass and the free wheels' turning.
    fn pushed_kg(&self) -> f64 {
        self.mass_kg + self.free_wheels_kg
    }

    fn loss_n(&self, v: f64) -> f64 {
        self.rolling * self.mass_kg * GRAVITY + self.air_n_per_m2_s2 * v * v
    }

    /// Loss of speed of the freely rolling car.
    pub fn coast_loss(&self, v: f64) -> f64 {
        self.loss_n(v) / (self.pushed_kg() + self.inertia_kg_m2 / self.radius_m.powi(2))
    }

    /// The moment at which the string is out.
    pub fn string_out(&self) -> State {
        let run = self.run(20.0);
        run.iter().rfind(|s| s.powered).copied().unwrap_or_default()
    }

    /// The run from its release (time 0), a state every fifth of a millisecond.
    pub fn run(&self, until_s: f64) -> Vec<State> {
        let mut s = State {
            heading_rad: self.aim_rad,
            powered: true,
            ..State::default()
        };
        let mut smooth = self.aim_rad;
        let mut out = vec![s];
        while s.time_s < until_s {
            self.step(&mut s, &mut smooth);
            out.push(s);
        }
        out
    }

    /// Way until it stands.
    pub fn way_to_standstill(&self) -> f64 {
        let mut s = State {
            powered: true,
            ..State::default()
        };
        let mut smooth = 0.0;
        loop {
            self.step(&mut s, &mut smooth);
            if (s.v <= 0.0 && !s.powered) || s.time_s > 120.0 {
                return s.distance_m;
            }
        }
    }

    /// How much further it would go on a floor that never lets go, m.
    pub fn gain_without_slip_m(&self) -> f64 {
        let sticky = Self {
            mu_static: f64::MAX,
            ..*self
        };
        sticky.way_to_standstill() - self.way_to_standstill()
    }

    fn step(&self, s: &mut State, smooth: &mut f64) {
        let dt = STEP_S;
        s.powered = s.powered && s.string_out_m < self.string_m;
        let share = s.string_out_m / self.string_m;
        let pull = if s.powered {
            let grown = if self.soft_s > 0.0 {
                (self.soft_from + (1.0 - self.soft_from) * s.time_s / self.soft_s).min(1.0)
            } else {
                1.0
            };
            grown * self.pull_n * (1.0 + self.pull_falls * (0.5 - share)) * (1.0 + env("PULL_WAVE") * (std::f64::consts::TAU * 4.0 * s.time_s).sin())
        } else {
            0.0
        };
        let torque = pull * self.winding_radius_m();
        let loss = if s.v > 0.0 || s.powered {
            self.loss_n(s.v)
        } else {
            0.0
        };
        let both = self.pushed_kg() + self.inertia_kg_m2 / self.radius_m.powi(2);
        let rolling_a = (torque / self.radius_m - loss) / both;
        let tyre = self.pushed_kg() * rolling_a + loss;
        let load = self.driven_share * self.mass_kg * GRAVITY;
        if !s.slipping && tyre.abs() > self.mu_static * load {
            s.slipping = true;
        }
        if s.slipping {
            let push = self.mu_kinetic * load;
            s.v = (s.v + (push - loss) / self.pushed_kg() * dt).max(0.0);
            s.omega += (torque - push * self.radius_m) / self.inertia_kg_m2 * dt;
            if s.omega * self.radius_m <= s.v {
                s.slipping = false;
                s.omega = s.v / self.radius_m;
            }
        } else {
            s.v = (s.v + rolling_a * dt).max(0.0);
            let creep = if s.powered { env("CREEP") } else { 0.0 };
            s.omega = s.v / self.radius_m / (1.0 - creep);
        }
        let lost = if s.slipping {
            (s.omega * self.radius_m - s.v).max(0.0) * dt
        } else {
            0.0
        };
        s.spun_m += lost;
        s.rubbed_j += self.mu_kinetic * load * lost;
        s.rolled_j += loss * s.v * dt;
        s.wheel_rad += s.omega * dt;
        let axle = if s.powered {
            s.omega / (1.0 - self.wheel_loose)
        } else {
            s.omega
        };
        s.axle_rad += axle * dt;
        if s.powered {
            s.string_out_m += axle * self.winding_radius_m() * dt / (1.0 - self.string_slip);
        }
        *smooth += self.curvature_per_m * s.v * dt + self.yaw_per_spun_m * lost;
        s.heading_rad = *smooth + self.sway_rad * (self.sway_rate * s.wheel_rad).sin();
        s.distance_m += s.v * dt;
        s.x_m += s.v * s.heading_rad.cos() * dt;
        s.y_m += s.v * s.heading_rad.sin() * dt;
        s.time_s += dt;
        // The middle of a round wheel goes by its radius for each radian, the heavy car goes steadily: a
        // wheel off its axle turns unevenly, and lifts its axle while its middle is down.
        let share = self.off_axle_m / self.radius_m;
        s.shown_rad = s.wheel_rad;
        for _ in 0..6 {
            s.shown_rad = s.wheel_rad + share * (s.shown_rad.cos() - 1.0);
        }
        s.aside_m = self.shift_m * s.wheel_rad.sin();
        s.risen_m = self.rise_m * (1.0 - s.wheel_rad.cos()) + self.off_axle_m * s.shown_rad.sin();
    }
}

/// The state at a time after the release; at rest before it.
pub fn at(run: &[State], since_release_s: f64) -> State {
    if since_release_s <= 0.0 {
        return run[0];
    }
    let place = since_release_s / STEP_S;
    let index = (place as usize).min(run.len() - 2);
    let (a, b) = (&run[index], &run[index + 1]);
    let k = (place - index as f64).clamp(0.0, 1.0);
    let mix = |a: f64, b: f64| a + k * (b - a);
    State {
        time_s: since_release_s,
        v: mix(a.v, b.v),
        omega: mix(a.omega, b.omega),
        wheel_rad: mix(a.wheel_rad, b.wheel_rad),
        axle_rad: mix(a.axle_rad, b.axle_rad),
        string_out_m: mix(a.string_out_m, b.string_out_m),
        distance_m: mix(a.distance_m, b.distance_m),
        x_m: mix(a.x_m, b.x_m),
        y_m: mix(a.y_m, b.y_m),
        heading_rad: mix(a.heading_rad, b.heading_rad),
        spun_m: mix(a.spun_m, b.spun_m),
        rubbed_j: mix(a.rubbed_j, b.rubbed_j),
        rolled_j: mix(a.rolled_j, b.rolled_j),
        aside_m: mix(a.aside_m, b.aside_m),
        risen_m: mix(a.risen_m, b.risen_m),
        shown_rad: mix(a.shown_rad, b.shown_rad),
        powered: a.powered,
        slipping: a.slipping,
    }
}

/// A number for a stress test.
fn env(name: &'static str) -> f64 {
    thread_local! { static SEEN: std::cell::RefCell<std::collections::HashMap<&'static str, f64>> = std::cell::RefCell::default(); }
    SEEN.with(|seen| {
        *seen.borrow_mut().entry(name).or_insert_with(|| std::env::var(name).ok().and_then(|v| v.parse().ok()).unwrap_or(0.0))
    })
}

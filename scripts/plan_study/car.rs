//! A spring-powered car of its own: written for this study, in another way than the planning model, and sharing nothing
//! with it.
//!
//! The coil sits above the axle's height; the arm has mass; the string leaves the axle along a tangent; the tyres' friction
//! is a smooth curve over the sliding speed, with creep, that falls from its height to its sliding value; bearings take a
//! moment of their own; rolling takes a little more at speed. Small fixed steps in time.

/// What the car is, SI.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Car {
    pub(crate) stiffness: f64,
    pub(crate) wound_at_rest_rad: f64,
    pub(crate) arm_m: f64,
    pub(crate) arm_kg: f64,
    /// Axle to coil, along and up.
    pub(crate) coil_m: [f64; 2],
    /// Arm's angle from straight ahead at the start.
    pub(crate) start_rad: f64,
    pub(crate) string_m: f64,
    pub(crate) string_thickness_m: f64,
    pub(crate) axle_m: f64,
    pub(crate) wheel_m: f64,
    pub(crate) mass_kg: f64,
    /// Inertia of both driven wheels and their axle.
    pub(crate) wheels_kg_m2: f64,
    pub(crate) free_wheels_kg: f64,
    pub(crate) driven_share: f64,
    pub(crate) height_m: f64,
    pub(crate) wheelbase_m: f64,
    pub(crate) friction_highest: f64,
    pub(crate) friction_sliding: f64,
    pub(crate) rolling: f64,
    pub(crate) bearing_n_m: f64,
    pub(crate) string_loss: f64,
    pub(crate) drag_area_m2: f64,
}

/// What became of a run.
#[derive(Debug, Clone, Default)]
pub(crate) struct Run {
    pub(crate) powered_s: f64,
    pub(crate) peak_speed: f64,
    pub(crate) coast_loss: f64,
    pub(crate) spun_m: f64,
    pub(crate) max_slip: f64,
    pub(crate) stop_m: f64,
    /// `(way, speed)` along the pull.
    pub(crate) pull: Vec<(f64, f64)>,
}

const GRAVITY: f64 = 9.81;
const AIR: f64 = 1.2;
const STEP_S: f64 = 5e-5;
/// Sliding speed at which friction has grown to about three quarters of its height, and that at which it has fallen.
const CREEP: f64 = 0.008;
const FALL: f64 = 0.12;
/// Below this rim speed slip is not told.
const SLIP_FROM: f64 = 0.15;

impl Car {
    /// Tangent length of the string and the arm's angle from straight ahead for a place of the tip.
    fn string_out_of(&self, angle: f64) -> f64 {
        let x = self.coil_m[0] + self.arm_m * angle.cos();
        let z = self.coil_m[1] + self.arm_m * angle.sin();
        let winding = self.winding();
        (x * x + z * z - winding * winding).max(1e-12).sqrt()
    }

    pub(crate) fn winding(&self) -> f64 {
        f64::midpoint(self.axle_m, self.string_thickness_m)
    }

    /// The longest string that the arm pulls until it lies ahead.
    pub(crate) fn longest(&self) -> f64 {
        self.string_out_of(0.02) - self.string_out_of(self.start_rad)
    }

    /// String let off for each radian that the arm swings forward.
    fn lever(&self, angle: f64) -> f64 {
        const H: f64 = 1e-5;
        (self.string_out_of(angle - H) - self.string_out_of(angle + H)) / (2.0 * H)
    }

    fn friction(&self, sliding: f64) -> f64 {
        let fallen = 1.0 - (-(sliding / FALL).powi(2)).exp();
        let height =
            self.friction_highest + (self.friction_sliding - self.friction_highest) * fallen;
        height * (sliding / CREEP).tanh()
    }

    fn resistance(&self, v: f64) -> f64 {
        self.rolling * self.mass_kg * GRAVITY * (1.0 + 0.02 * v)
            + 0.5 * AIR * self.drag_area_m2 * v * v
    }

    /// The run from the release to the standstill.
    pub(crate) fn run(&self) -> Run {
        let radius = self.wheel_m / 2.0;
        let winding = self.winding();
        let string_m = self.string_m.min(self.longest());
        let pushed = self.mass_kg + self.free_wheels_kg;
        let arm_inertia = self.arm_kg * self.arm_m * self.arm_m / 3.0;
        let (mut v, mut omega, mut x, mut off, mut time) = (0.0_f64, 0.0_f64, 0.0, 0.0, 0.0_f64);
        let (mut angle, mut acceleration) = (self.start_rad, 0.0);
        let mut out = Run::default();
        let mut pulling = true;
        let mut lever_before = self.lever(angle);
        loop {
            let mut torque = -self.bearing_n_m * (omega / 0.05).tanh();
            let mut inertia = self.wheels_kg_m2;
            if pulling {
                let lever = self.lever(angle).max(0.002);
                let moment = self.stiffness * (angle + self.wound_at_rest_rad);
                torque += (1.0 - self.string_loss) * moment / lever * winding;
                // The arm swings along: its inertia as the axle feels it, and what its change costs.
                let ratio = winding / lever;
                inertia += arm_inertia * ratio * ratio;
                let ratio_before = winding / lever_before.max(0.002);
                let change = arm_inertia * (ratio * ratio - ratio_before * ratio_before) / STEP_S;
                torque -= 0.5 * change * omega;
                lever_before = lever;
            }
            let load = self.mass_kg
                * (GRAVITY * self.driven_share + acceleration * self.height_m / self.wheelbase_m);
            let force = self.friction(omega * radius - v) * load.max(0.0);
            let resist = if v > 0.0 { self.resistance(v) } else { 0.0 };
            let before = v;
            // Friction is stiff in the sliding speed: a step that is implicit in it.
            let stiff = load.max(0.0) * self.friction_highest / CREEP
                * (1.0 - ((omega * radius - v) / CREEP).tanh().powi(2));
            let damp = 1.0 + STEP_S * stiff * (radius * radius / inertia + 1.0 / pushed);
            let slide_rate =
                (torque - force * radius) / inertia * radius - (force - resist) / pushed;
            let slide_next = omega * radius - v + STEP_S * slide_rate / damp;
            let force = force + stiff * (slide_next - (omega * radius - v));
            v = (v + STEP_S * (force - resist) / pushed).max(0.0);
            omega = (omega + STEP_S * (torque - force * radius) / inertia).max(0.0);
            acceleration = (v - before) / STEP_S;
            x += v * STEP_S;
            time += STEP_S;
            let rim = omega * radius;
            if pulling {
                off += omega * winding * STEP_S;
                angle -= omega * winding * STEP_S / lever_before;
                if rim > SLIP_FROM {
                    out.max_slip = out.max_slip.max(1.0 - v / rim);
                }
                if out.pull.last().is_none_or(|last| x > last.0 + 0.004) {
                    out.pull.push((x, v));
                }
                if off >= string_m {
                    pulling = false;
                    out.powered_s = time;
                    out.coast_loss = self.coast_loss(v);
                }
            }
            out.spun_m += (rim - v) * STEP_S;
            out.peak_speed = out.peak_speed.max(v);
            if (!pulling && v <= 1e-3) || time > 60.0 {
                break;
            }
            if time > 3.0 && x < 0.01 {
                break;
            }
            if !pulling && rim - v < 0.02 {
                // Nothing but the coast is left.
                x += self.coast(v);
                break;
            }
        }
        out.stop_m = x;
        out
    }

    fn rolls_kg(&self) -> f64 {
        let radius = self.wheel_m / 2.0;
        self.mass_kg + self.free_wheels_kg + self.wheels_kg_m2 / (radius * radius)
    }

    fn coast_loss(&self, v: f64) -> f64 {
        (self.resistance(v) + self.bearing_n_m / (self.wheel_m / 2.0)) / self.rolls_kg()
    }

    /// Way until it stands, in steps of speed.
    fn coast(&self, from: f64) -> f64 {
        const STEPS: usize = 2000;
        let dv = from / STEPS as f64;
        let at = |n: usize| (n as f64 + 0.5) * dv;
        (0..STEPS)
            .map(|n| at(n) / self.coast_loss(at(n)) * dv)
            .sum()
    }

    /// By how much its friction would have to be larger for the wheels just to hold.
    pub(crate) fn demand(&self) -> f64 {
        let spins = |by: f64| {
            let car = Self {
                friction_highest: by * self.friction_highest,
                friction_sliding: by * self.friction_sliding,
                ..*self
            };
            Self::spun(&car.run())
        };
        let (mut low, mut high) = (0.1, 10.0);
        for _ in 0..12 {
            let middle = f64::sqrt(low * high);
            if spins(middle) {
                low = middle;
            } else {
                high = middle;
            }
        }
        f64::sqrt(low * high)
    }

    /// Whether the wheels spun: slip well beyond creep.
    pub(crate) fn spun(run: &Run) -> bool {
        run.max_slip > 0.12 && run.spun_m > 0.01
    }
}

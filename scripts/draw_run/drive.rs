//! Spring, string, axle and tyres: the forces and one step of the motion.
//!
//! The string runs from the tip of the spring's arm to the axle. While the tyres hold, car and wheel
//! move as one; once the force they must carry passes static friction they slide with kinetic
//! friction until both speeds meet again (Coulomb's law). Every loss is integrated with the motion,
//! so that the energy balance proves the integration.

use crate::scene::Scene;

pub(crate) const GRAVITY_M_PER_S2: f64 = 9.806_65;
const AIR_DENSITY_KG_PER_M3: f64 = 1.2;

/// A torsion spring whose arm pulls a string off the axle.
#[derive(Debug, Clone)]
pub(crate) struct Spring {
    stiffness: f64,
    preload_rad: f64,
    pub(crate) arm_m: f64,
    pub(crate) pivot_m: f64,
    start_rad: f64,
    start_length_m: f64,
}

impl Spring {
    fn new(scene: &Scene) -> Self {
        let d = &scene.drive;
        let (arm_m, pivot_m) = (d.arm_mm / 1e3, d.pivot_ahead_mm / 1e3);
        let start_rad = d.start_angle_deg.to_radians();
        Self {
            stiffness: d.spring_stiffness_n_m_per_rad,
            preload_rad: d.spring_preload_rad,
            arm_m,
            pivot_m,
            start_rad,
            start_length_m: (arm_m.powi(2)
                + pivot_m.powi(2)
                + 2.0 * arm_m * pivot_m * start_rad.cos())
            .sqrt(),
        }
    }

    /// Arm angle from straight ahead, when this much string has left the axle.
    pub(crate) fn angle_rad(&self, string_out_m: f64) -> f64 {
        if string_out_m <= 0.0 {
            return self.start_rad;
        }
        let d = self.start_length_m + string_out_m;
        let cosine =
            (d * d - self.arm_m.powi(2) - self.pivot_m.powi(2)) / (2.0 * self.arm_m * self.pivot_m);
        cosine.clamp(-1.0, 1.0).acos()
    }

    /// Pull of the string: the spring's torque over its lever about the pivot.
    fn tension_n(&self, string_out_m: f64) -> f64 {
        let angle = self.angle_rad(string_out_m);
        let d = self.start_length_m + string_out_m.max(0.0);
        let lever = self.arm_m * self.pivot_m * angle.sin() / d;
        self.stiffness * (angle + self.preload_rad) / lever
    }

    pub(crate) fn energy_j(&self, string_out_m: f64) -> f64 {
        0.5 * self.stiffness * (self.angle_rad(string_out_m) + self.preload_rad).powi(2)
    }

    fn longest_string_m(&self) -> f64 {
        self.arm_m + self.pivot_m - self.start_length_m
    }
}

/// What the motion depends on, in SI units.
#[derive(Debug, Clone)]
pub(crate) struct Car {
    pub(crate) spring: Spring,
    pub(crate) radius_m: f64,
    /// From the axle's middle to the middle of the string on it.
    winding_radius_m: f64,
    pub(crate) string_m: f64,
    mass_kg: f64,
    /// Mass plus what the front wheels' inertia adds.
    pub(crate) moving_mass_kg: f64,
    /// Both driven wheels.
    pub(crate) inertia_kg_m2: f64,
    driven_load_n: f64,
    mu_static: f64,
    mu_kinetic: f64,
    rolling_n: f64,
    bearing_n_m: f64,
    drag_n_per_m2_s2: f64,
    string_slip: f64,
    wheel_loose: f64,
    curvature_per_m: f64,
    yaw_per_spun_m: f64,
    pub(crate) sway_rad: f64,
    pub(crate) bounce_m: f64,
    pub(crate) shift_m: f64,
    /// From the axle to the driven wheels' middles.
    pub(crate) off_axle_m: f64,
    pub(crate) aim_error_rad: f64,
}

impl Car {
    pub(crate) fn new(scene: &Scene) -> anyhow::Result<Self> {
        let (c, d, p) = (&scene.car, &scene.drive, &scene.path);
        let mass_kg = c.mass_g / 1e3;
        let radius_m = c.wheel_diameter_mm / 2e3;
        let front_to_driven = c.front_wheel_diameter_mm / c.wheel_diameter_mm;
        let front_wheel_kg = c.wheel_mass_g / 1e3 * front_to_driven.powi(2);
        let car = Self {
            spring: Spring::new(scene),
            radius_m,
            winding_radius_m: c.winding_diameter_mm() / 2e3,
            string_m: c.string_mm / 1e3,
            mass_kg,
            // A plain disc has I = m r^2 / 2; two of them, divided by r^2.
            moving_mass_kg: mass_kg + front_wheel_kg,
            inertia_kg_m2: c.wheel_mass_g / 1e3 * radius_m.powi(2),
            driven_load_n: mass_kg * GRAVITY_M_PER_S2 * c.driven_share,
            mu_static: d.mu_static,
            mu_kinetic: d.mu_kinetic,
            rolling_n: d.rolling_resistance * mass_kg * GRAVITY_M_PER_S2,
            bearing_n_m: d.bearing_torque_n_m,
            drag_n_per_m2_s2: 0.5 * AIR_DENSITY_KG_PER_M3 * d.drag_area_m2,
            string_slip: d.string_slip,
            wheel_loose: d.wheel_loose,
            curvature_per_m: p.skew_deg.to_radians().tan() / (c.wheelbase_mm / 1e3),
            yaw_per_spun_m: p.yaw_per_spun_m_deg.to_radians(),
            sway_rad: p.wobble_lateral_mm / 1e3 / radius_m,
            bounce_m: p.wobble_vertical_mm / 1e3,
            shift_m: p.shift_lateral_mm / 1e3,
            off_axle_m: p.off_axle_mm / 1e3,
            aim_error_rad: p.aim_error_deg.to_radians(),
        };
        let longest = 0.999 * car.spring.longest_string_m();
        anyhow::ensure!(
            car.string_m < longest,
            "string_mm is {:.0}, but this arm can pull {:.0} at most",
            car.string_m * 1e3,
            longest * 1e3
        );
        anyhow::ensure!(
            car.drive_n(0.0) > car.rolling_n,
            "the spring does not move this car: {:.3} N against {:.3} N",
            car.drive_n(0.0),
            car.rolling_n
        );
        Ok(car)
    }

    /// String pulled from the axle per radian of the wheel.
    fn string_per_wheel_rad(&self) -> f64 {
        self.winding_radius_m / ((1.0 - self.wheel_loose) * (1.0 - self.string_slip))
    }

    /// Force at the rim, less the bearing.
    fn drive_n(&self, string_out_m: f64) -> f64 {
        (self.spring.tension_n(string_out_m) * self.winding_radius_m - self.bearing_n_m)
            / self.radius_m
    }

    pub(crate) fn drive_to_grip_at_start(&self) -> f64 {
        self.drive_n(0.0) / (self.mu_static * self.driven_load_n)
    }

    /// Deceleration while the wheels roll freely.
    pub(crate) fn coast_deceleration(&self, v: f64) -> f64 {
        (self.rolling_n + self.bearing_n_m / self.radius_m + self.drag_n_per_m2_s2 * v * v)
            / (self.moving_mass_kg + self.inertia_kg_m2 / self.radius_m.powi(2))
    }

    pub(crate) fn kinetic_j(&self, s: &State) -> f64 {
        0.5 * self.moving_mass_kg * s.v.powi(2) + 0.5 * self.inertia_kg_m2 * s.omega.powi(2)
    }

    /// Force that the driven tyres must carry for the wheels to roll.
    fn rolling_tyre_force(&self, s: &State, powered: bool) -> f64 {
        let a = self.rates(s, Tyres::Hold, powered).v;
        self.moving_mass_kg * a + self.rolling_n + self.drag_n_per_m2_s2 * s.v * s.v
    }

    pub(crate) fn tyres_let_go(&self, s: &State, powered: bool) -> bool {
        self.rolling_tyre_force(s, powered).abs() > self.mu_static * self.driven_load_n
    }

    /// Time derivative of the state.
    pub(crate) fn rates(&self, s: &State, tyres: Tyres, powered: bool) -> State {
        let tension = if powered {
            self.spring.tension_n(s.string_out)
        } else {
            0.0
        };
        let axle_omega = if powered {
            s.omega / (1.0 - self.wheel_loose)
        } else {
            s.omega
        };
        let string_speed = if powered {
            self.string_per_wheel_rad() * s.omega
        } else {
            0.0
        };
        let torque = tension * self.winding_radius_m - self.bearing_n_m;
        let resist = self.rolling_n + self.drag_n_per_m2_s2 * s.v * s.v;
        let (accel, alpha, tyre_n) = match tyres {
            Tyres::Hold => {
                let mass = self.moving_mass_kg + self.inertia_kg_m2 / self.radius_m.powi(2);
                let a = (torque / self.radius_m - resist) / mass;
                (a, a / self.radius_m, 0.0)
            }
            Tyres::Slide => {
                let sense = if s.omega * self.radius_m >= s.v {
                    1.0
                } else {
                    -1.0
                };
                let force = sense * self.mu_kinetic * self.driven_load_n;
                let a = (force - resist) / self.moving_mass_kg;
                // A car at rest is not pulled backwards by its rolling resistance.
                let a = if s.v <= 0.0 { a.max(0.0) } else { a };
                (
                    a,
                    (torque - force * self.radius_m) / self.inertia_kg_m2,
                    force,
                )
            }
        };
        let lost = if tyres == Tyres::Slide {
            s.omega * self.radius_m - s.v
        } else {
            0.0
        };
        let heading = s.heading + self.sway_rad * s.wheel.sin();
        State {
            v: accel,
            omega: alpha,
            wheel: s.omega,
            axle: axle_omega,
            string_out: string_speed,
            heading: self.curvature_per_m * s.v + self.yaw_per_spun_m * lost,
            travel: s.v,
            x: s.v * heading.cos(),
            y: s.v * heading.sin(),
            spun_away: lost,
            slip_j: tyre_n * lost,
            rolling_j: self.rolling_n * s.v,
            drag_j: self.drag_n_per_m2_s2 * s.v.powi(3),
            bearing_j: self.bearing_n_m * s.omega,
            joint_j: tension * (string_speed - self.winding_radius_m * s.omega),
        }
    }

    pub(crate) fn mass_kg(&self) -> f64 {
        self.mass_kg
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Tyres {
    Hold,
    Slide,
}

/// The car at one moment (SI units), with what was lost so far.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct State {
    pub(crate) v: f64,
    pub(crate) omega: f64,
    pub(crate) wheel: f64,
    pub(crate) axle: f64,
    pub(crate) string_out: f64,
    /// Without the sway of a wobble.
    pub(crate) heading: f64,
    pub(crate) travel: f64,
    pub(crate) x: f64,
    pub(crate) y: f64,
    pub(crate) spun_away: f64,
    pub(crate) slip_j: f64,
    pub(crate) rolling_j: f64,
    pub(crate) drag_j: f64,
    pub(crate) bearing_j: f64,
    /// String sliding on the axle, and wheel turning on it.
    pub(crate) joint_j: f64,
}

impl State {
    /// `self + other * k`, every part.
    pub(crate) fn plus(&self, other: &Self, k: f64) -> Self {
        Self {
            v: self.v + k * other.v,
            omega: self.omega + k * other.omega,
            wheel: self.wheel + k * other.wheel,
            axle: self.axle + k * other.axle,
            string_out: self.string_out + k * other.string_out,
            heading: self.heading + k * other.heading,
            travel: self.travel + k * other.travel,
            x: self.x + k * other.x,
            y: self.y + k * other.y,
            spun_away: self.spun_away + k * other.spun_away,
            slip_j: self.slip_j + k * other.slip_j,
            rolling_j: self.rolling_j + k * other.rolling_j,
            drag_j: self.drag_j + k * other.drag_j,
            bearing_j: self.bearing_j + k * other.bearing_j,
            joint_j: self.joint_j + k * other.joint_j,
        }
    }

    pub(crate) fn losses_j(&self) -> f64 {
        self.slip_j + self.rolling_j + self.drag_j + self.bearing_j + self.joint_j
    }
}

//! The car and its spring as numbers, and the forces that follow from them. SI units throughout.

use crate::findings::STANDARD_GRAVITY_M_PER_S2;

/// The arm lies in one line with axle and coil where it rests and where it is swung back by half a turn; there the
/// string has no lever and pulls without bound. This much of the longest pull is used, as a share: the string of a
/// real car is cut a little shorter than the arm could pull. Common practice, no source.
const PULL_USED: f64 = 0.98;
/// Places along the pull at which the tyres' load is looked at.
const LOOKS: usize = 24;

/// A car with its spring. Every size is the true one as far as it is known; see `unknowns.rs`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Car {
    /// Stiffness of the torsion spring, N m for each radian.
    pub stiffness_n_m_per_rad: f64,
    /// How far the spring is wound where the arm rests, rad.
    pub preload_rad: f64,
    /// How far the arm is swung back at the start, from where it rests, rad.
    pub swung_back_rad: f64,
    /// Coil's middle to the place where the string is tied, m.
    pub arm_m: f64,
    /// Driven axle to coil's middle, m.
    pub pivot_m: f64,
    /// Share of the string's pull that gets past bearings and string to turn the axle.
    pub pull_kept: f64,
    /// String wound on the axle at the start, m.
    pub string_m: f64,
    /// Axle's middle to the middle of the string on it, m.
    pub winding_radius_m: f64,
    /// Rolling radius of the driven wheels, m.
    pub wheel_radius_m: f64,
    /// Whole car, kg.
    pub mass_kg: f64,
    /// What the driven wheels' turning adds to the mass that has to be pushed: inertia over radius squared, kg.
    pub driven_wheels_kg: f64,
    /// The same of the free wheels, kg.
    pub free_wheels_kg: f64,
    /// Share of the weight on the driven axle while the car stands.
    pub driven_share: f64,
    /// Height of the centre of mass over the wheelbase: how much load an acceleration moves to the driven axle.
    pub transfer: f64,
    /// Largest friction under wheels that hold.
    pub grip_static: f64,
    /// Friction under wheels that slide.
    pub grip_sliding: f64,
    /// Rolling loss as a share of the weight.
    pub rolling: f64,
    /// Air: loss over speed squared, kg/m.
    pub air_kg_per_m: f64,
    /// How steeply the track rises, rad; 0 on the level.
    pub slope_rad: f64,
}

impl Car {
    /// Moment of the spring with the arm swung by `swung_rad` from where it rests, N m.
    ///
    /// # Source
    /// Linear torsion spring, `M = k θ` (Hooke's law; any handbook of springs, from memory).
    pub fn moment_n_m(&self, swung_rad: f64) -> f64 {
        self.stiffness_n_m_per_rad * (swung_rad + self.preload_rad)
    }

    /// Energy that the spring gives between two angles of the arm, J: `k (θ₁² - θ₂²) / 2`.
    pub fn spring_energy_j(&self, from_rad: f64, to_rad: f64) -> f64 {
        let square = |swung: f64| (swung + self.preload_rad).powi(2);
        0.5 * self.stiffness_n_m_per_rad * (square(from_rad) - square(to_rad))
    }

    /// Arm's tip to driven axle with the arm swung by an angle, m (law of cosines).
    fn tip_to_axle_m(&self, swung_rad: f64) -> f64 {
        let (a, p) = (self.arm_m, self.pivot_m);
        (a * a + p * p + 2.0 * a * p * swung_rad.cos())
            .max(0.0)
            .sqrt()
    }

    /// The longest string that the arm pulls off before it lies in line with it, m.
    pub fn longest_pull_m(&self) -> f64 {
        PULL_USED * (self.arm_m + self.pivot_m - self.tip_to_axle_m(self.swung_back_rad))
    }

    /// String that is pulled off until the pull ends, m.
    pub fn pulled_m(&self) -> f64 {
        self.string_m.min(self.longest_pull_m())
    }

    /// How far the arm is still swung when this much string is off, rad.
    pub fn swung_rad(&self, string_off_m: f64) -> f64 {
        let (a, p) = (self.arm_m, self.pivot_m);
        let tip_m = self.tip_to_axle_m(self.swung_back_rad) + string_off_m.max(0.0);
        let cosine = (tip_m * tip_m - a * a - p * p) / (2.0 * a * p);
        cosine.clamp(-1.0, 1.0).acos()
    }

    /// Pull of the string when this much of it is off, N: the spring's moment over the string's lever about the coil.
    pub fn pull_n(&self, string_off_m: f64) -> f64 {
        let swung = self.swung_rad(string_off_m);
        let tip_m = self.tip_to_axle_m(self.swung_back_rad) + string_off_m.max(0.0);
        let lever_m = self.arm_m * self.pivot_m * swung.sin() / tip_m;
        self.moment_n_m(swung) / lever_m.max(1e-4)
    }

    /// Push at the rim of the driven wheels when this much string is off, N.
    pub fn rim_push_n(&self, string_off_m: f64) -> f64 {
        self.pull_kept * self.pull_n(string_off_m) * self.winding_radius_m / self.wheel_radius_m
    }

    /// What rolling, a rising track and air take at a speed, N: `m g (c cos α + sin α) + b v²`.
    ///
    /// # Source
    /// Rolling and grade resistance: J. Y. Wong, Theory of Ground Vehicles (from memory).
    pub fn loss_n(&self, speed_m_per_s: f64) -> f64 {
        let (sine, cosine) = self.slope_rad.sin_cos();
        (self.rolling * cosine + sine) * self.mass_kg * STANDARD_GRAVITY_M_PER_S2
            + self.air_kg_per_m * speed_m_per_s * speed_m_per_s
    }

    /// What has to be pushed while the driven wheels slide: the mass, and the free wheels' turning, kg.
    pub fn pushed_kg(&self) -> f64 {
        self.mass_kg + self.free_wheels_kg
    }

    /// What has to be pushed while they roll, kg.
    pub fn rolling_kg(&self) -> f64 {
        self.pushed_kg() + self.driven_wheels_kg
    }

    /// Loss of speed in the coast at a speed, m/s².
    pub fn coast_loss_m_per_s2(&self, speed_m_per_s: f64) -> f64 {
        self.loss_n(speed_m_per_s) / self.rolling_kg()
    }

    /// Load on the driven axle at an acceleration of the car, N. The driven axle is the rear one, as on nearly all such
    /// cars; an acceleration moves load to it by `m a h / L`, and a rising track by `m g sin α h / L`.
    ///
    /// # Source
    /// J. Y. Wong, Theory of Ground Vehicles, longitudinal load transfer (from memory).
    pub fn driven_load_n(&self, acceleration_m_per_s2: f64) -> f64 {
        self.mass_kg * (self.standing_load() + self.transfer * acceleration_m_per_s2).max(0.0)
    }

    /// Load on the driven axle of the car at rest over its mass, m/s².
    fn standing_load(&self) -> f64 {
        let (sine, cosine) = self.slope_rad.sin_cos();
        STANDARD_GRAVITY_M_PER_S2 * (self.driven_share * cosine + self.transfer * sine)
    }

    /// Friction force of sliding wheels at a speed, N. Force, acceleration and load depend on each other and are
    /// solved together: `F = μ m (λ g + τ (F - R) / M)`.
    pub fn sliding_force_n(&self, speed_m_per_s: f64) -> f64 {
        let share = self.mass_kg / self.pushed_kg();
        let (grip, transfer) = (self.grip_sliding, self.transfer * share);
        let loss = self.loss_n(speed_m_per_s);
        let standing = self.mass_kg * self.standing_load();
        let force = grip * (standing - transfer * loss) / (1.0 - grip * transfer).max(0.1);
        force.max(0.0)
    }

    /// Force that the tyres would carry if they held, over the largest that they hold: above 1 they slide.
    pub fn demand(&self, string_off_m: f64, speed_m_per_s: f64) -> f64 {
        let push = self.rim_push_n(string_off_m);
        let loss = self.loss_n(speed_m_per_s);
        let acceleration = (push - loss) / self.rolling_kg();
        let carried = self.pushed_kg() * acceleration + loss;
        carried / (self.grip_static * self.driven_load_n(acceleration)).max(1e-6)
    }

    /// The largest demand along the pull.
    pub fn peak_demand(&self) -> f64 {
        let pulled = self.pulled_m();
        (0..=LOOKS)
            .map(|look| self.demand(pulled * look as f64 / LOOKS as f64, 0.0))
            .fold(0.0, f64::max)
    }

    /// Turns of the driven axle that the string gives.
    pub fn turns(&self) -> f64 {
        self.string_m / (std::f64::consts::TAU * self.winding_radius_m)
    }
}

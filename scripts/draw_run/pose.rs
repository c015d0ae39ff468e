//! Where the car is at one moment, and the way from the floor frame to its own and back.

use crate::body::Body;
use crate::run::{Moment, Run};
use crate::solids::Ray;
use crate::view::Vec3;

/// The car at one moment: its place, and what turns.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Pose {
    pub(crate) origin: Vec3,
    /// Sine and cosine.
    heading: (f64, f64),
    pub(crate) wheel_rad: f64,
    pub(crate) front_rad: f64,
    pub(crate) axle_rad: f64,
    pub(crate) arm_rad: f64,
    pub(crate) string_on: bool,
}

impl Pose {
    pub(crate) fn of(run: &Run, body: &Body, time_s: f64) -> Self {
        let m: Moment = run.moment(time_s);
        Self {
            origin: Vec3::new(m.x_m, m.y_m, m.rise_m),
            heading: m.heading_rad.sin_cos(),
            wheel_rad: m.wheel_rad,
            front_rad: m.travel_m / body.front_radius_m,
            axle_rad: m.axle_rad,
            arm_rad: run.car.spring.angle_rad(m.string_out_m),
            string_on: run.string_is_on(time_s),
        }
    }

    /// A car left standing, spring let down.
    pub(crate) fn parked(at_m: [f64; 2], heading_rad: f64) -> Self {
        Self {
            origin: Vec3::new(at_m[0], at_m[1], 0.0),
            heading: heading_rad.sin_cos(),
            wheel_rad: 0.7,
            front_rad: 0.2,
            axle_rad: 0.7,
            arm_rad: 0.5,
            string_on: false,
        }
    }

    /// The same car after rolling ahead.
    pub(crate) fn rolled(self, travel_m: f64, body: &Body) -> Self {
        let (s, c) = self.heading;
        let turn = travel_m / body.radius_m;
        Self {
            origin: self.origin + Vec3::new(c * travel_m, s * travel_m, 0.0),
            wheel_rad: self.wheel_rad + turn,
            front_rad: self.front_rad + travel_m / body.front_radius_m,
            axle_rad: self.axle_rad + turn,
            ..self
        }
    }

    pub(crate) fn to_world(self, p: &Vec3) -> Vec3 {
        let (s, c) = self.heading;
        self.origin + Vec3::new(c * p.x - s * p.y, s * p.x + c * p.y, p.z)
    }

    /// A direction turned into the floor frame.
    pub(crate) fn turned(self, n: [f64; 3]) -> [f64; 3] {
        let (s, c) = self.heading;
        [c * n[0] - s * n[1], s * n[0] + c * n[1], n[2]]
    }

    pub(crate) fn to_car(self, p: &Vec3) -> Vec3 {
        let (s, c) = self.heading;
        let d = p - self.origin;
        Vec3::new(c * d.x + s * d.y, c * d.y - s * d.x, d.z)
    }

    pub(crate) fn ray(self, ray: &Ray) -> Ray {
        let (s, c) = self.heading;
        let a = ray.along;
        Ray {
            start: self.to_car(&ray.start),
            along: Vec3::new(c * a.x + s * a.y, c * a.y - s * a.x, a.z),
            from: ray.from,
        }
    }
}

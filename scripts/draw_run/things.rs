//! Boxes, drums and people: what stands or walks about in the room.

use crate::paint::{Hit, Rgb, nearer};
use crate::solids::{Ray, block, passes, plane, tube};
use crate::view::Vec3;

/// A thing that stands still.
#[derive(Debug, Clone)]
pub(crate) struct Thing {
    pub(crate) shape: Shape,
    pub(crate) colour: Rgb,
}

#[derive(Debug, Clone)]
pub(crate) enum Shape {
    Block {
        low: Vec3,
        high: Vec3,
    },
    Drum {
        centre: [f64; 2],
        radius: f64,
        height: f64,
    },
}

/// Somebody walking: two legs, a trunk and a head, as upright cylinders.
#[derive(Debug, Clone)]
pub(crate) struct Person {
    pub(crate) from: [f64; 2],
    pub(crate) velocity: [f64; 2],
    pub(crate) trousers: Rgb,
    pub(crate) colour: Rgb,
}

pub(crate) const PERSON_HALF_WIDTH_M: f64 = 0.35;
pub(crate) const PERSON_HEIGHT_M: f64 = 1.75;

impl Thing {
    pub(crate) fn hit(&self, ray: &Ray) -> Option<Hit> {
        match &self.shape {
            Shape::Block { low, high } => {
                let (d, n) = block(ray, low, high)?;
                Some(Hit::matt(d, n, self.colour))
            }
            Shape::Drum {
                centre,
                radius,
                height,
            } => drum(ray, *centre, *radius, [0.0, *height], self.colour),
        }
    }

    /// Soft shade that it throws on the floor close by.
    pub(crate) fn shade(&self, p: &Vec3) -> f64 {
        let outside = match &self.shape {
            Shape::Block { low, .. } if low.z > 0.02 => return 1.0,
            Shape::Block { low, high } => {
                let d = |axis: usize| (low[axis] - p[axis]).max(p[axis] - high[axis]).max(0.0);
                d(0).hypot(d(1))
            }
            Shape::Drum { centre, radius, .. } => {
                ((p.x - centre[0]).hypot(p.y - centre[1]) - radius).max(0.0)
            }
        };
        1.0 - 0.4 * (1.0 - outside / 0.08).max(0.0).powi(2)
    }
}

fn drum(ray: &Ray, centre: [f64; 2], radius: f64, z: [f64; 2], colour: Rgb) -> Option<Hit> {
    let side = tube(ray, 2, centre, radius, z).map(|(d, n)| Hit::matt(d, n, colour));
    let top = plane(ray, 2, z[1]).and_then(|d| {
        let p = ray.at(d);
        ((p.x - centre[0]).hypot(p.y - centre[1]) <= radius)
            .then(|| Hit::matt(d, [0.0, 0.0, 1.0], colour.map(|c| c * 0.8)))
    });
    nearer(side, top)
}

impl Person {
    pub(crate) fn place(&self, time_s: f64) -> (f64, f64) {
        (
            self.from[0] + self.velocity[0] * time_s,
            self.from[1] + self.velocity[1] * time_s,
        )
    }

    pub(crate) fn is_near(&self, ray: &Ray, time_s: f64) -> bool {
        let (x, y) = self.place(time_s);
        let half = PERSON_HALF_WIDTH_M;
        let low = Vec3::new(x - half, y - half, 0.0);
        passes(ray, &low, &Vec3::new(x + half, y + half, PERSON_HEIGHT_M))
    }

    pub(crate) fn hit(&self, ray: &Ray, time_s: f64) -> Option<Hit> {
        if !self.is_near(ray, time_s) {
            return None;
        }
        let (x, y) = self.place(time_s);
        let speed = self.velocity[0].hypot(self.velocity[1]).max(1e-6);
        let stride = 0.26 * (time_s * std::f64::consts::TAU * 0.9).sin();
        let (sx, sy) = (
            self.velocity[0] / speed * stride,
            self.velocity[1] / speed * stride,
        );
        let parts = [
            drum(
                ray,
                [x + sx, y + sy - 0.08],
                0.075,
                [0.0, 0.85],
                self.trousers,
            ),
            drum(
                ray,
                [x - sx, y - sy + 0.08],
                0.075,
                [0.0, 0.85],
                self.trousers,
            ),
            drum(ray, [x, y], 0.19, [0.80, 1.45], self.colour),
            drum(ray, [x, y], 0.095, [1.48, 1.72], [0.42, 0.30, 0.22]),
        ];
        parts.into_iter().fold(None, nearer)
    }
}

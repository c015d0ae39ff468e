//! Where rays meet boxes, cylinders and discs.

use crate::view::Vec3;

/// A ray from a point in a direction; hits count from `from` on.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Ray {
    pub(crate) start: Vec3,
    pub(crate) along: Vec3,
    pub(crate) from: f64,
}

impl Ray {
    pub(crate) fn at(&self, distance: f64) -> Vec3 {
        self.start + self.along * distance
    }
}

/// Distance to an axis-aligned box from outside, and the normal there.
pub(crate) fn block(ray: &Ray, low: &Vec3, high: &Vec3) -> Option<(f64, [f64; 3])> {
    let (mut enter, mut leave) = (f64::NEG_INFINITY, f64::INFINITY);
    let mut normal = [0.0; 3];
    for axis in 0..3 {
        let inverse = 1.0 / ray.along[axis];
        let a = (low[axis] - ray.start[axis]) * inverse;
        let b = (high[axis] - ray.start[axis]) * inverse;
        if a.is_nan() || b.is_nan() {
            continue;
        }
        if a.min(b) > enter {
            enter = a.min(b);
            normal = [0.0; 3];
            normal[axis] = -ray.along[axis].signum();
        }
        leave = leave.min(a.max(b));
    }
    (enter <= leave && enter > ray.from).then_some((enter, normal))
}

/// Whether a ray passes through a box at all.
pub(crate) fn passes(ray: &Ray, low: &Vec3, high: &Vec3) -> bool {
    let (mut enter, mut leave) = (ray.from, f64::INFINITY);
    for axis in 0..3 {
        let inverse = 1.0 / ray.along[axis];
        let a = (low[axis] - ray.start[axis]) * inverse;
        let b = (high[axis] - ray.start[axis]) * inverse;
        if !(a.is_nan() || b.is_nan()) {
            enter = enter.max(a.min(b));
            leave = leave.min(a.max(b));
        }
    }
    enter <= leave
}

/// Distance to the curved side of a cylinder about a line along one axis (0 x, 1 y, 2 z), between two
/// places on that axis.
pub(crate) fn tube(
    ray: &Ray,
    axis: usize,
    centre: [f64; 2],
    radius: f64,
    span: [f64; 2],
) -> Option<(f64, [f64; 3])> {
    let (i, j) = ((axis + 1) % 3, (axis + 2) % 3);
    let (px, py) = (ray.start[i] - centre[0], ray.start[j] - centre[1]);
    let (dx, dy) = (ray.along[i], ray.along[j]);
    let a = dx * dx + dy * dy;
    let b = px * dx + py * dy;
    let c = px * px + py * py - radius * radius;
    let root = b * b - a * c;
    if root < 0.0 || a < 1e-18 {
        return None;
    }
    let root = root.sqrt();
    for distance in [(-b - root) / a, (-b + root) / a] {
        let place = ray.start[axis] + ray.along[axis] * distance;
        if distance > ray.from && place >= span[0] && place <= span[1] {
            let mut normal = [0.0; 3];
            normal[i] = (px + dx * distance) / radius;
            normal[j] = (py + dy * distance) / radius;
            return Some((distance, normal));
        }
    }
    None
}

/// Distance to a plane across one axis.
pub(crate) fn plane(ray: &Ray, axis: usize, place: f64) -> Option<f64> {
    let distance = (place - ray.start[axis]) / ray.along[axis];
    (distance.is_finite() && distance > ray.from).then_some(distance)
}

/// Distance to a thin rod between two points: nearest approach of two lines.
pub(crate) fn rod(ray: &Ray, a: &Vec3, b: &Vec3, radius: f64) -> Option<(f64, [f64; 3])> {
    let axis = b - a;
    let length = axis.norm();
    let axis = axis / length;
    let start = ray.start - a;
    let d = ray.along - axis * ray.along.dot(&axis);
    let p = start - axis * start.dot(&axis);
    let (qa, qb, qc) = (d.dot(&d), p.dot(&d), p.dot(&p) - radius * radius);
    let root = qb * qb - qa * qc;
    if root < 0.0 || qa < 1e-18 {
        return None;
    }
    let distance = (-qb - root.sqrt()) / qa;
    let place = (start + ray.along * distance).dot(&axis);
    if distance <= ray.from || place < 0.0 || place > length {
        return None;
    }
    let normal = (p + d * distance) / radius;
    Some((distance, [normal.x, normal.y, normal.z]))
}

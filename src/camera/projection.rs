//! Points of the floor frame to pixels and back.
//!
//! Floor frame: x along the aim line, y to the left, z up, metres. Pixels: upright picture, origin at
//! the centre of the top-left pixel, u right, v down.

use nalgebra::{Matrix2x3, Point3, Rotation3, Vector2, Vector3};

/// A camera with square pixels, its centre in the middle of the picture, and one radial term.
///
/// # Source
/// Pinhole with radial distortion `x_d = x (1 + k1 r²)`: Z. Zhang, A flexible new technique for
/// camera calibration, IEEE Trans. PAMI 22(11), 2000, section 3.3.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pinhole {
    /// Focal length, px.
    pub focal_px: f64,
    /// Principal point, px.
    pub centre_px: Vector2<f64>,
    /// Radial distortion.
    pub k1: f64,
    /// Turns a direction of the floor frame into the camera's (x right, y down, z ahead).
    pub camera_from_floor: Rotation3<f64>,
    /// Where the camera is, floor frame, m.
    pub position_m: Point3<f64>,
}

/// A picture whose scale changes along it because the car comes nearer or goes away: a keystone, as of a
/// slide thrown on the wall at a slant.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Keystone {
    /// Where the scale is the plain one, px.
    pub middle_px: Vector2<f64>,
    /// How much larger things are for each pixel away from there, as a share.
    pub growth_per_px: Vector2<f64>,
}

impl Keystone {
    /// Where a pixel would be if everything were seen in the middle's scale.
    pub fn straight(&self, pixel: Vector2<f64>) -> Vector2<f64> {
        let off = pixel - self.middle_px;
        self.middle_px + off / (1.0 + self.growth_per_px.dot(&off))
    }

    /// The pixel that [`Self::straight`] takes there.
    fn seen(&self, straight: Vector2<f64>) -> Vector2<f64> {
        let off = straight - self.middle_px;
        self.middle_px + off / (1.0 - self.growth_per_px.dot(&off))
    }
}

/// A plain scale: the picture seen square-on, every point at one distance, but for a keystone.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Flat {
    /// Change of the scale along the picture, taken out of pixels first.
    pub keystone: Keystone,
    /// Where the floor frame's origin is, straightened px.
    pub origin_px: Vector2<f64>,
    /// How far a metre along x goes, px.
    pub along_px_per_m: Vector2<f64>,
    /// How far a metre upwards goes, px.
    pub up_px_per_m: Vector2<f64>,
    /// Whether the camera is on the car's right (y points away from it) or left.
    pub from_right: bool,
}

/// How the floor frame is seen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Projection {
    /// A camera with a pose.
    Pinhole(Pinhole),
    /// A plain scale.
    Flat(Flat),
}

impl Projection {
    /// Where a point is seen, px; `None` behind the camera.
    pub fn pixel(&self, point: &Point3<f64>) -> Option<Vector2<f64>> {
        match self {
            Self::Pinhole(camera) => camera.pixel(point),
            Self::Flat(flat) => {
                Some(flat.keystone.seen(
                    flat.origin_px + flat.along_px_per_m * point.x + flat.up_px_per_m * point.z,
                ))
            }
        }
    }

    /// The ray of places that are seen at a pixel: a point on it and its direction.
    pub fn ray(&self, pixel: Vector2<f64>) -> (Point3<f64>, Vector3<f64>) {
        match self {
            Self::Pinhole(camera) => camera.ray(pixel),
            Self::Flat(flat) => flat.ray(pixel),
        }
    }

    /// The point seen at `pixel` that lies on the plane through `on` with this `normal`; `None` where
    /// the ray runs along the plane or meets it behind the camera.
    pub fn on_plane(
        &self,
        pixel: Vector2<f64>,
        on: &Point3<f64>,
        normal: &Vector3<f64>,
    ) -> Option<Point3<f64>> {
        let (from, direction) = self.ray(pixel);
        let across = direction.dot(normal);
        if across.abs() < 1e-9 * direction.norm() {
            return None;
        }
        let ahead = (on - from).dot(normal) / across;
        let behind = matches!(self, Self::Pinhole(_)) && ahead <= 0.0;
        (ahead.is_finite() && !behind).then(|| from + direction * ahead)
    }

    /// The point seen at `pixel` at the height `z_m` above the floor. A plain scale cannot tell
    /// height from distance and takes y = 0.
    pub fn at_height(&self, pixel: Vector2<f64>, z_m: f64) -> Option<Point3<f64>> {
        match self {
            Self::Pinhole(_) => self.on_plane(pixel, &Point3::new(0.0, 0.0, z_m), &Vector3::z()),
            Self::Flat(flat) => {
                let along = flat.along_px_per_m;
                let straight = flat.keystone.straight(pixel);
                let off = straight - flat.origin_px - flat.up_px_per_m * z_m;
                Some(Point3::new(
                    off.dot(&along) / along.norm_squared(),
                    0.0,
                    z_m,
                ))
            }
        }
    }
}

/// Where a camera sees a point, and how that changes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Seen {
    /// Where, px.
    pub(super) pixel: Vector2<f64>,
    /// For each part of a small turn of the camera (as a rotation vector in its own frame), px/rad.
    pub(super) by_turn: Matrix2x3<f64>,
    /// For each axis along which the point is moved, px/m; the camera's own shift does the opposite.
    pub(super) by_place: Matrix2x3<f64>,
    /// For a focal length that grows by a share of itself, px.
    pub(super) by_log_focal: Vector2<f64>,
    /// For the radial distortion, px.
    pub(super) by_k1: Vector2<f64>,
}

impl Pinhole {
    /// Where a point is seen, with all slopes; `None` behind the camera.
    pub(super) fn seen(&self, point: &Point3<f64>) -> Option<Seen> {
        let at = self.camera_from_floor * (point - self.position_m);
        if at.z <= 1e-6 {
            return None;
        }
        let straight = Vector2::new(at.x / at.z, at.y / at.z);
        let (x, y) = (straight.x, straight.y);
        let r2 = x * x + y * y;
        let bent = 1.0 + self.k1 * r2;
        let (across, twice) = (2.0 * self.k1 * x * y, 2.0 * self.k1);
        let (uu, vv) = (bent + twice * x * x, bent + twice * y * y);
        let by_camera = Matrix2x3::new(
            uu,
            across,
            -(uu * x + across * y),
            across,
            vv,
            -(across * x + vv * y),
        ) * (self.focal_px / at.z);
        let from_centre = straight * (self.focal_px * bent);
        Some(Seen {
            pixel: self.centre_px + from_centre,
            by_turn: -by_camera * at.cross_matrix(),
            by_place: by_camera * self.camera_from_floor.matrix(),
            by_log_focal: from_centre,
            by_k1: straight * (self.focal_px * r2),
        })
    }

    pub(super) fn pixel(&self, point: &Point3<f64>) -> Option<Vector2<f64>> {
        let seen = self.camera_from_floor * (point - self.position_m);
        if seen.z <= 1e-6 {
            return None;
        }
        let (x, y) = (seen.x / seen.z, seen.y / seen.z);
        let bent = 1.0 + self.k1 * (x * x + y * y);
        Some(self.centre_px + Vector2::new(x, y) * (self.focal_px * bent))
    }

    fn ray(&self, pixel: Vector2<f64>) -> (Point3<f64>, Vector3<f64>) {
        let distorted = (pixel - self.centre_px) / self.focal_px;
        let straight = undistort(distorted, self.k1);
        let direction = Vector3::new(straight.x, straight.y, 1.0);
        (
            self.position_m,
            self.camera_from_floor.inverse() * direction,
        )
    }
}

impl Flat {
    fn ray(&self, pixel: Vector2<f64>) -> (Point3<f64>, Vector3<f64>) {
        let away = if self.from_right {
            Vector3::y()
        } else {
            -Vector3::y()
        };
        let basis = nalgebra::Matrix2::from_columns(&[self.along_px_per_m, self.up_px_per_m]);
        let solved = basis.try_inverse().map_or(Vector2::zeros(), |inverse| {
            inverse * (self.keystone.straight(pixel) - self.origin_px)
        });
        (Point3::new(solved.x, 0.0, solved.y), away)
    }
}

/// Inverts `x_d = x (1 + k1 r²)` by Newton steps on the radius.
fn undistort(distorted: Vector2<f64>, k1: f64) -> Vector2<f64> {
    let target = distorted.norm();
    if k1 == 0.0 || target == 0.0 {
        return distorted;
    }
    let mut radius = target;
    for _ in 0..20 {
        let error = radius * (1.0 + k1 * radius * radius) - target;
        let slope = 1.0 + 3.0 * k1 * radius * radius;
        if slope.abs() < 1e-3 {
            break;
        }
        radius -= error / slope;
        if error.abs() < 1e-14 {
            break;
        }
    }
    distorted * (radius / target)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn camera() -> Projection {
        let position = Point3::new(0.7, -1.9, 1.1);
        let ahead = (Point3::new(1.2, 0.1, 0.0) - position).normalize();
        let right = ahead.cross(&Vector3::z()).normalize();
        let down = ahead.cross(&right);
        let rows =
            nalgebra::Matrix3::from_rows(&[right.transpose(), down.transpose(), ahead.transpose()]);
        Projection::Pinhole(Pinhole {
            focal_px: 950.0,
            centre_px: Vector2::new(639.5, 359.5),
            k1: 0.0,
            camera_from_floor: Rotation3::from_matrix_unchecked(rows),
            position_m: position,
        })
    }

    /// A camera 1 m above the floor and 2 m to the right of its origin, level, looking to the left.
    fn level(k1: f64) -> Projection {
        Projection::Pinhole(Pinhole {
            focal_px: 1000.0,
            centre_px: Vector2::new(639.5, 359.5),
            k1,
            camera_from_floor: Rotation3::from_matrix_unchecked(nalgebra::Matrix3::new(
                1.0, 0.0, 0.0, 0.0, 0.0, -1.0, 0.0, 1.0, 0.0,
            )),
            position_m: Point3::new(0.0, -2.0, 1.0),
        })
    }

    #[test]
    fn a_point_is_seen_where_similar_triangles_put_it() {
        // By hand: 4 m ahead, 1 m to the right and 0.5 m down are 250 and 125 px from the middle. With k1 = -0.2 and
        // r² = 0.25² + 0.125² = 0.078 125 both shrink by 1 - 0.015 625. Other poses stand in
        // tests/agrees_with_published_lenses.rs.
        let point = Point3::new(1.0, 2.0, 0.5);
        for (k1, u, v) in [(0.0, 889.5, 484.5), (-0.2, 885.593_75, 482.546_875)] {
            let (camera, pixel) = (level(k1), Vector2::new(u, v));
            let seen = camera.pixel(&point).unwrap();
            assert!((seen - pixel).norm() < 1e-9, "k1 {k1}: {seen}");
            let back = camera.at_height(pixel, 0.5).unwrap();
            assert!((back - point).norm() < 1e-9, "k1 {k1}: {back}");
            let wall = camera.on_plane(pixel, &Point3::new(9.0, 2.0, 7.0), &Vector3::y());
            assert!((wall.unwrap() - point).norm() < 1e-9, "k1 {k1}");
        }
    }

    #[test]
    fn slopes_are_those_of_the_pixels_themselves() {
        const STEP: f64 = 1e-6;
        let camera = Pinhole {
            focal_px: 800.0,
            centre_px: Vector2::new(319.5, 179.5),
            k1: -0.07,
            camera_from_floor: Rotation3::from_euler_angles(1.9, -0.2, 0.1),
            position_m: Point3::new(0.5, -1.5, 0.8),
        };
        let point = Point3::new(0.9, 0.4, 0.0);
        let seen = camera.seen(&point).unwrap();
        assert!((seen.pixel - camera.pixel(&point).unwrap()).norm() < 1e-10);
        let slope = |at: &dyn Fn(f64) -> (Pinhole, Point3<f64>)| {
            let [less, more] = [-STEP, STEP].map(|by| {
                let (camera, point) = at(by);
                camera.pixel(&point).unwrap()
            });
            (more - less) / (2.0 * STEP)
        };
        let near = |found: Vector2<f64>, expected: Vector2<f64>| {
            assert!((found - expected).norm() < 1e-4, "{found} for {expected}");
        };
        for axis in 0..3 {
            let along = |by: f64| Vector3::ith(axis, by);
            let turned = slope(&|by| {
                let turn = Rotation3::new(along(by)) * camera.camera_from_floor;
                let camera = Pinhole {
                    camera_from_floor: turn,
                    ..camera
                };
                (camera, point)
            });
            near(seen.by_turn.column(axis).into_owned(), turned);
            let moved = slope(&|by| (camera, point + along(by)));
            near(seen.by_place.column(axis).into_owned(), moved);
        }
        let nearer = slope(&|by| {
            let focal_px = camera.focal_px * by.exp();
            (Pinhole { focal_px, ..camera }, point)
        });
        near(seen.by_log_focal, nearer);
        let bent = slope(&|by| {
            let k1 = camera.k1 + by;
            (Pinhole { k1, ..camera }, point)
        });
        near(seen.by_k1, bent);
    }

    #[test]
    fn left_on_the_floor_is_up_in_the_picture_and_forward_is_right() {
        let camera = camera();
        let here = camera.pixel(&Point3::new(1.0, 0.0, 0.0)).unwrap();
        let left = camera.pixel(&Point3::new(1.0, 0.2, 0.0)).unwrap();
        let forward = camera.pixel(&Point3::new(1.2, 0.0, 0.0)).unwrap();
        assert!(left.y < here.y && forward.x > here.x);
    }

    #[test]
    fn nothing_is_seen_behind_the_camera() {
        assert!(camera().pixel(&Point3::new(0.5, -4.0, 1.0)).is_none());
    }

    #[test]
    fn radial_distortion_is_inverted() {
        // r (1 + k1 r²), by hand.
        for (k1, radius, bent) in [
            (-0.2, 0.2, 0.198_4),
            (-0.2, 0.5, 0.475),
            (0.1, 0.5, 0.512_5),
            (-0.1, 1.0, 0.9),
        ] {
            let back = undistort(Vector2::new(0.6 * bent, -0.8 * bent), k1);
            let straight = Vector2::new(0.6 * radius, -0.8 * radius);
            assert!((back - straight).norm() < 1e-12, "k1 {k1}: {back}");
        }
    }

    #[test]
    fn a_plain_scale_reads_metres_along() {
        let flat = Projection::Flat(Flat {
            keystone: Keystone::default(),
            origin_px: Vector2::new(100.0, 400.0),
            along_px_per_m: Vector2::new(420.0, 0.0),
            up_px_per_m: Vector2::new(0.0, -420.0),
            from_right: true,
        });
        let point = flat.at_height(Vector2::new(520.0, 358.0), 0.1).unwrap();
        assert!((point.x - 1.0).abs() < 1e-12);
    }
}

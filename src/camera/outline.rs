//! Where the middle of a floor mark's outline lies against its centre: the near half of a disc looks
//! larger than the far half.

use super::projection::Projection;
use nalgebra::{Point3, Vector2};
use std::sync::LazyLock;

/// Corners of the polygon that stands for the outline; their number hardly matters.
const CORNERS: usize = 32;
/// Cosine and sine of the angles at which they stand.
static CORNER: LazyLock<[(f64, f64); CORNERS]> = LazyLock::new(|| {
    std::array::from_fn(|i| {
        let angle = std::f64::consts::TAU * i as f64 / CORNERS as f64;
        (angle.cos(), angle.sin())
    })
});

/// Middle of the outline of a disc on the floor, minus where the disc's centre is seen, px.
///
/// `centre_m` is the disc's centre on the floor, `area_px2` the area that it takes in the picture, which
/// tells its size. For a square of that area the shift is the same within a twentieth. `None` where the
/// disc is not wholly ahead of the camera.
///
/// # Source
/// Centroid of a polygon; that a circle's centre is not seen at the middle of its ellipse: J. Heikkilä,
/// O. Silvén, A four-step camera calibration procedure with implicit image correction, CVPR 1997,
/// section 3.
pub fn disc_shift_px(
    view: &Projection,
    centre_m: Vector2<f64>,
    area_px2: f64,
) -> Option<Vector2<f64>> {
    let pixel = |x: f64, y: f64| view.pixel(&Point3::new(centre_m.x + x, centre_m.y + y, 0.0));
    let centre = pixel(0.0, 0.0)?;
    let (along, across) = (
        pixel(super::STEP_M, 0.0)? - centre,
        pixel(0.0, super::STEP_M)? - centre,
    );
    let magnification = along.perp(&across).abs() / (super::STEP_M * super::STEP_M);
    let radius_m = (area_px2 / (std::f64::consts::PI * magnification)).sqrt();
    let mut corners = [Vector2::zeros(); CORNERS];
    for (corner, (cos, sin)) in corners.iter_mut().zip(CORNER.iter()) {
        *corner = pixel(radius_m * cos, radius_m * sin)? - centre;
    }
    let (mut area, mut moment) = (0.0, Vector2::zeros());
    for (i, a) in corners.iter().enumerate() {
        let b = corners[(i + 1) % CORNERS];
        let slice = a.perp(&b);
        area += slice;
        moment += (a + b) * slice;
    }
    let shift = moment / (3.0 * area);
    (shift.x.is_finite() && shift.y.is_finite()).then_some(shift)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::camera::Pinhole;
    use nalgebra::{Matrix3, Rotation3, Vector3};

    #[test]
    fn the_middle_of_a_tilted_disc_is_where_the_conic_says() {
        // Camera 1 m above the floor, looking 45 degrees down along x. A disc of radius r about the
        // point straight ahead (distance d) is seen between y = f tan(a) of its near and far rim; the
        // ellipse's middle is half-way between: closed form, elementary geometry.
        let ahead = Vector3::new(1.0, 0.0, -1.0).normalize();
        let right = Vector3::new(0.0, -1.0, 0.0);
        let down = ahead.cross(&right);
        let rows = Matrix3::from_rows(&[right.transpose(), down.transpose(), ahead.transpose()]);
        let view = Projection::Pinhole(Pinhole {
            focal_px: 1000.0,
            centre_px: Vector2::new(0.0, 0.0),
            k1: 0.0,
            camera_from_floor: Rotation3::from_matrix_unchecked(rows),
            position_m: Point3::new(0.0, 0.0, 1.0),
        });
        let radius = 0.05;
        let seen = |x: f64| {
            let off = Vector3::new(x, 0.0, -1.0);
            1000.0 * off.dot(&down) / off.dot(&ahead)
        };
        let middle = f64::midpoint(seen(1.0 - radius), seen(1.0 + radius));
        let d2 = 2.0;
        let area = std::f64::consts::PI * radius * radius * 1e6 / (d2 * 2.0_f64.sqrt());
        let shift = disc_shift_px(&view, Vector2::new(1.0, 0.0), area).unwrap();
        assert!(shift.x.abs() < 1e-9);
        assert!(
            (shift.y - middle).abs() < 0.02 * middle.abs(),
            "{shift} against {middle}"
        );
        assert!(middle > 0.3);
    }
}

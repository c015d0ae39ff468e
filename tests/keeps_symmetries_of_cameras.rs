//! What must hold of camera geometry for any input: measure in other units, turn or mirror the scene, and the answer
//! is the same one, scaled, turned or mirrored. Each property is of the method itself: least squares over distances
//! knows no unit and no side, and the normalised linear system for a plane-to-picture map does not change with similar
//! pictures (R. Hartley and A. Zisserman, *Multiple View Geometry*, 2nd ed., section 4.4, from memory). Inputs carry
//! errors, so that no answer is exact by accident.
#![allow(clippy::unwrap_used, reason = "tests fail by panicking")]

use gripline::camera::{
    FittedCamera, LensPrior, MarkPair, Pinhole, Projection, apply, fit_camera, fit_circle,
    homography,
};
use nalgebra::{Matrix3, Point3, Rotation3, Vector2, Vector3};
use proptest::collection::vec;
use proptest::prelude::*;
use proptest::test_runner::{Config, RngSeed};

fn config() -> Config {
    Config {
        cases: 64,
        rng_seed: RngSeed::Fixed(20),
        failure_persistence: None,
        ..Config::default()
    }
}

/// Errors of both coordinates of as many points, within ± 1.
fn errors(points: usize) -> impl Strategy<Value = Vec<Vector2<f64>>> {
    vec(
        (-1.0..1.0, -1.0..1.0).prop_map(|(x, y)| Vector2::new(x, y)),
        points,
    )
}

/// Scale, turn, shift, and perhaps a mirror.
#[derive(Debug, Clone, Copy)]
struct Similar {
    scale: f64,
    turn_rad: f64,
    shift: Vector2<f64>,
    mirror: f64,
}

impl Similar {
    fn of(self, p: Vector2<f64>) -> Vector2<f64> {
        let (sin, cos) = self.turn_rad.sin_cos();
        let turned = Vector2::new(cos * p.x - sin * p.y, sin * p.x + cos * p.y);
        Vector2::new(turned.x, self.mirror * turned.y) * self.scale + self.shift
    }
}

fn similar() -> impl Strategy<Value = Similar> {
    let shift = (-500.0..500.0, -500.0..500.0);
    (0.01..100.0, -3.2..3.2, shift, any::<bool>()).prop_map(
        |(scale, turn_rad, (x, y), mirrored)| Similar {
            scale,
            turn_rad,
            shift: Vector2::new(x, y),
            mirror: if mirrored { -1.0 } else { 1.0 },
        },
    )
}

/// Six marks on the floor, m.
const MARKS: [(f64, f64); 6] = [
    (0.0, -0.3),
    (1.2, -0.3),
    (2.4, -0.3),
    (0.0, 0.4),
    (1.2, 0.4),
    (2.4, 0.4),
];
const CENTRE: Vector2<f64> = Vector2::new(639.5, 359.5);

/// A camera to the right of the floor, which looks at it from behind, beside or ahead.
fn camera() -> impl Strategy<Value = Pinhole> {
    let place = (-0.6..3.0, -2.6..-1.4, 0.6..1.8);
    (place, 0.6..1.8, 700.0..1400.0, -0.08..0.04).prop_map(|((x, y, z), at, focal_px, k1)| {
        let position_m = Point3::new(x, y, z);
        let ahead = (Point3::new(at, 0.1, 0.0) - position_m).normalize();
        let right = ahead.cross(&Vector3::z()).normalize();
        let rows = [
            right.transpose(),
            ahead.cross(&right).transpose(),
            ahead.transpose(),
        ];
        Pinhole {
            focal_px,
            centre_px: CENTRE,
            k1,
            camera_from_floor: Rotation3::from_matrix_unchecked(Matrix3::from_rows(&rows)),
            position_m,
        }
    })
}

/// Marks as a camera sees them, each a little off.
fn seen(camera: &Pinhole, errors: &[Vector2<f64>]) -> Vec<MarkPair> {
    let view = Projection::Pinhole(*camera);
    (MARKS.iter().zip(errors))
        .map(|(&(x, y), error)| MarkPair {
            floor_m: Vector2::new(x, y),
            pixel: view.pixel(&Point3::new(x, y, 0.0)).unwrap() + 0.3 * error,
            sd_px: 0.3,
        })
        .collect()
}

/// The fit in a picture whose middle is there; the prior is that of a phone.
fn fitted(pairs: &[MarkPair], centre: Vector2<f64>) -> Option<FittedCamera> {
    let size = (2.0 * centre.x + 1.0, 2.0 * centre.y + 1.0);
    let phone = LensPrior {
        // Of the focal length itself, whatever the picture's size counts.
        focal_share: 0.85 * 2.0 * centre.x / size.0,
        focal_log_sd: 0.25,
        k1: 0.0,
        k1_sd: 0.04,
    };
    fit_camera(pairs, size, &phone)
}

/// How an arc of a wheel's mark is laid out: first angle, and the angle that it covers.
fn arc(from: f64, covered: f64, errors: &[Vector2<f64>]) -> Vec<Vector2<f64>> {
    let last = (errors.len() - 1) as f64;
    (errors.iter().enumerate())
        .map(|(i, error)| {
            let (sin, cos) = (from + covered * i as f64 / last).sin_cos();
            Vector2::new(40.0 + 12.0 * cos, 25.0 + 12.0 * sin) + 0.2 * error
        })
        .collect()
}

proptest! {
    #![proptest_config(config())]

    #[test]
    fn a_map_between_planes_knows_no_unit_and_no_side(
        camera in camera(), errors in errors(6), on_floor in similar(), in_picture in similar(),
        x in 0.0..2.4, y in -0.3..0.4,
    ) {
        let (floor, pixels): (Vec<_>, Vec<_>) =
            seen(&camera, &errors).iter().map(|m| (m.floor_m, m.pixel)).unzip();
        let plain = homography(&floor, &pixels).unwrap();
        let moved = homography(
            &floor.iter().map(|p| on_floor.of(*p)).collect::<Vec<_>>(),
            &pixels.iter().map(|p| in_picture.of(*p)).collect::<Vec<_>>(),
        ).unwrap();
        let at = Vector2::new(x, y);
        let expected = in_picture.of(apply(&plain, at).unwrap());
        let found = apply(&moved, on_floor.of(at)).unwrap();
        prop_assert!((found - expected).norm() < 1e-5 * in_picture.scale, "{found} {expected}");
    }

    #[test]
    fn a_floor_measured_in_other_units_puts_the_camera_as_many_units_away(
        camera in camera(), errors in errors(6), unit in 0.1..10.0_f64,
    ) {
        let pairs = seen(&camera, &errors);
        let (Some(plain), Some(scaled)) = (
            fitted(&pairs, CENTRE),
            fitted(&pairs.iter().map(|m| MarkPair { floor_m: m.floor_m * unit, ..*m }).collect::<Vec<_>>(), CENTRE),
        ) else {
            return Err(TestCaseError::fail("no camera"));
        };
        let (a, b) = (plain.camera, scaled.camera);
        prop_assert!((b.focal_px / a.focal_px - 1.0).abs() < 1e-4, "{a:?} {b:?}");
        let off = (b.position_m.coords / unit - a.position_m.coords).norm();
        prop_assert!(off < 1e-3, "{a:?} {b:?}");
        prop_assert!((scaled.residual_px - plain.residual_px).abs() < 1e-4);
        prop_assert!((scaled.focal_rel_sd / plain.focal_rel_sd - 1.0).abs() < 1e-2);
    }

    #[test]
    fn a_finer_picture_has_a_longer_focal_length_in_pixels_and_the_same_pose(
        camera in camera(), errors in errors(6), finer in 0.4..3.0_f64,
    ) {
        let pairs = seen(&camera, &errors);
        let fine: Vec<MarkPair> = (pairs.iter())
            .map(|m| MarkPair { pixel: m.pixel * finer, sd_px: m.sd_px * finer, ..*m })
            .collect();
        let (a, b) = (fitted(&pairs, CENTRE).unwrap(), fitted(&fine, CENTRE * finer).unwrap());
        prop_assert!((b.camera.focal_px / a.camera.focal_px / finer - 1.0).abs() < 1e-4);
        prop_assert!((b.camera.position_m - a.camera.position_m).norm() < 1e-3);
        prop_assert!((b.camera.k1 - a.camera.k1).abs() < 1e-3);
        prop_assert!((b.residual_px / finer - a.residual_px).abs() < 1e-4);
    }

    #[test]
    fn a_mirrored_floor_in_a_mirrored_picture_has_its_camera_on_the_other_side(
        camera in camera(), errors in errors(6),
    ) {
        let pairs = seen(&camera, &errors);
        let mirrored: Vec<MarkPair> = (pairs.iter())
            .map(|m| MarkPair {
                floor_m: Vector2::new(m.floor_m.x, -m.floor_m.y),
                pixel: Vector2::new(2.0 * CENTRE.x - m.pixel.x, m.pixel.y),
                ..*m
            })
            .collect();
        let (a, b) = (fitted(&pairs, CENTRE).unwrap(), fitted(&mirrored, CENTRE).unwrap());
        prop_assert!((b.camera.focal_px / a.camera.focal_px - 1.0).abs() < 1e-4);
        let (at, there) = (a.camera.position_m, b.camera.position_m);
        prop_assert!((there - Point3::new(at.x, -at.y, at.z)).norm() < 1e-3, "{at} {there}");
    }

    #[test]
    fn a_circle_is_the_same_one_wherever_its_points_are_moved(
        from in -3.2..3.2, covered in 1.5..6.0, errors in errors(14), moved in similar(),
    ) {
        let points = arc(from, covered, &errors);
        let plain = fit_circle(&points).unwrap();
        let found = fit_circle(&points.iter().map(|p| moved.of(*p)).collect::<Vec<_>>()).unwrap();
        // The circle of least squares: none a little beside it leaves less.
        let left = |centre: Vector2<f64>, radius: f64| {
            let squares = points.iter().map(|p| ((p - centre).norm() - radius).powi(2));
            (squares.sum::<f64>() / points.len() as f64).sqrt()
        };
        for (x, y, r) in [(0.01, 0.0, 0.0), (0.0, 0.01, 0.0), (0.0, 0.0, 0.01)] {
            for sign in [-1.0, 1.0] {
                let beside = plain.centre + Vector2::new(x, y) * sign;
                prop_assert!(left(beside, plain.radius + r * sign) > plain.residual);
            }
        }
        let off = (found.centre - moved.of(plain.centre)).norm() / moved.scale;
        prop_assert!(off < 1e-6, "{plain:?} {found:?}");
        prop_assert!((found.radius / moved.scale - plain.radius).abs() < 1e-6);
        prop_assert!((found.residual / moved.scale - plain.residual).abs() < 1e-6);
        prop_assert!((found.covered_rad - plain.covered_rad).abs() < 1e-6);
    }
}

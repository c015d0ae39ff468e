//! The camera that is fitted to floor marks, held against a published calibration: Z. Zhang, *A flexible new technique
//! for camera calibration*, IEEE Trans. PAMI 22(11), 2000, whose author posted the measurements and the result for
//! five photographs of a plane: focal lengths 832.5 and 832.53 px, skew 0.2045, centre (303.959, 206.585).
#![allow(clippy::unwrap_used, reason = "tests fail by panicking")]

use gripline::camera::{LensPrior, MarkPair, Projection, apply, fit_camera, homography};
use nalgebra::{Matrix3, Point3, Vector2};

/// Side of the printed field, inches: 7 × 8/9 + 1/2.
const FIELD: f64 = 6.722_22;
/// Published focal lengths and centre, px.
const FOCAL: [f64; 2] = [832.5, 832.53];
const CENTRE: [f64; 2] = [303.959, 206.585];

/// Plane to picture of view 1 without the lens's bend, from the published parameters; its last entry is 1.
fn view_1() -> Matrix3<f64> {
    Matrix3::new(
        61.778_545,
        -4.143_452,
        54.079_285,
        -1.020_634,
        63.056_035,
        444.259_916,
        -0.009_327_652,
        -0.008_048_393,
        1.0,
    )
}

/// The 64 corners nearest to a grid's points, with where view 1 shows them.
fn corners() -> Vec<(Vector2<f64>, Vector2<f64>)> {
    let place = |step: u32| FIELD * f64::from(step) / 7.0;
    let grid = (0..8).flat_map(|row| (0..8).map(move |column| (place(column), -place(row))));
    grid.map(|(x, y)| {
        (
            Vector2::new(x, y),
            apply(&view_1(), Vector2::new(x, y)).unwrap(),
        )
    })
    .collect()
}

#[test]
fn the_plane_to_picture_map_gives_the_published_places() {
    for ((x, y), (u, v)) in [
        ((0.0, 0.0), (54.0793, 444.2599)),
        ((0.0, -0.5), (55.9260, 411.0776)),
        ((6.222_22, -6.222_22), (467.9855, 45.9264)),
    ] {
        let seen = apply(&view_1(), Vector2::new(x, y)).unwrap();
        assert!((seen - Vector2::new(u, v)).norm() < 1e-3, "{seen}");
    }
    let (plane, picture): (Vec<_>, Vec<_>) = corners().into_iter().unzip();
    let found = homography(&plane, &picture).unwrap();
    let error = (found - view_1()).component_div(&view_1()).abs().max();
    assert!(error < 1e-4, "{error}");
}

/// One view of the plane and nothing known of the lens: the focal length comes out as published from five views,
/// and the camera puts each corner where it is.
#[test]
fn one_view_gives_the_published_focal_length() {
    let pairs: Vec<MarkPair> = (corners().into_iter())
        // His plane's y runs down the picture, so that z points away from the camera; a floor's points up.
        .map(|(plane, pixel)| MarkPair {
            floor_m: Vector2::new(plane.x, -plane.y),
            pixel,
            sd_px: 0.34,
        })
        .collect();
    // The fit takes the middle of the picture for the centre: this is the size of which it is the published one.
    let size = (2.0 * CENTRE[0] + 1.0, 2.0 * CENTRE[1] + 1.0);
    let open = LensPrior {
        focal_share: 1.0,
        focal_log_sd: 1.0,
        k1: 0.0,
        k1_sd: 0.001,
    };
    let fitted = fit_camera(&pairs, size, &open).unwrap();
    // Five views settle what one leaves open: a skew of 0.0002 rad, which no such camera is asked for here, moves the
    // focal length of this view by 8 px. Its stated uncertainty must allow for that.
    let focal = fitted.camera.focal_px;
    let published = f64::midpoint(FOCAL[0], FOCAL[1]);
    let sd = fitted.focal_rel_sd * focal;
    assert!((focal - published).abs() < 2.0 * sd, "{focal} {sd}");
    assert!(sd < 0.02 * published, "{sd}");
    assert!(fitted.residual_px < 0.05, "{}", fitted.residual_px);
    let view = Projection::Pinhole(fitted.camera);
    for pair in &pairs {
        let at = Point3::new(pair.floor_m.x, pair.floor_m.y, 0.0);
        let seen = view.pixel(&at).unwrap();
        assert!((seen - pair.pixel).norm() < 0.1, "{seen} {}", pair.pixel);
        let back = view.at_height(pair.pixel, 0.0).unwrap();
        assert!((back - at).norm() < 0.002, "{back} {at}");
    }
}

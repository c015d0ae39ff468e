//! Lens, pose and place on the plane, held against a published calibration: Z. Zhang, *A flexible new technique for
//! camera calibration*, IEEE Trans. PAMI 22(11), 2000. His result for five photographs of one plane stands below:
//! focal lengths, skew, centre, two terms of the lens and five poses. His measured corners are not kept here: the
//! corners are those that his result gives, by his equations 11 and 12, written out in [`seen`].
//!
//! What a lens of one term makes of them was worked out once with `OpenCV` 5.0.0 and scipy 1.17.1; each test names the
//! call. Both agree on the fits to 0.0003 px of the focal length.
#![allow(clippy::unwrap_used, reason = "tests fail by panicking")]

use gripline::camera::{
    FittedCamera, LensPrior, MarkObservation, MarkPair, Pinhole, Projection, apply, fit_bundle,
    fit_camera, homography,
};
use nalgebra::{Matrix3, Point3, Rotation3, Vector2, Vector3};

/// Published focal lengths along u and v and skew, px.
const FOCAL: [f64; 2] = [832.5, 832.53];
const SKEW: f64 = 0.204_494;
/// Published centre, px.
const CENTRE: Vector2<f64> = Vector2::new(303.959, 206.585);
/// Published terms of the lens.
const LENS: [f64; 2] = [-0.228_601, 0.190_353];
/// Published poses, row by row: turn (nine), then shift (three), in inches.
const POSES: [[f64; 12]; 5] = [
    [
        0.992_759,
        -0.026_319,
        0.117_201,
        0.013_924_7,
        0.994_339,
        0.105_341,
        -0.119_31,
        -0.102_947,
        0.987_505,
        -3.840_19,
        3.651_64,
        12.791,
    ],
    [
        0.997_397,
        -0.004_825_64,
        0.071_941_9,
        0.017_560_8,
        0.983_971,
        -0.177_46,
        -0.069_932_4,
        0.178_262,
        0.981_495,
        -3.716_93,
        3.769_28,
        13.197_4,
    ],
    [
        0.915_213,
        -0.035_664_8,
        0.401_389,
        -0.008_075_47,
        0.994_252,
        0.106_756,
        -0.402_889,
        -0.100_946,
        0.909_665,
        -2.944_09,
        3.776_53,
        14.245_6,
    ],
    [
        0.986_617,
        -0.017_546_1,
        -0.162_11,
        0.033_757_3,
        0.994_634,
        0.097_795_3,
        0.159_524,
        -0.101_959,
        0.981_915,
        -3.406_97,
        3.636_2,
        12.455_1,
    ],
    [
        0.967_585,
        -0.196_899,
        -0.158_144,
        0.191_542,
        0.980_281,
        -0.048_582_7,
        0.164_592,
        0.016_716_7,
        0.986_22,
        -4.072_38,
        3.210_33,
        14.344_1,
    ],
];
/// Squares of half an inch, 8/9 inch apart, eight a side.
const SIDE: f64 = 0.5;
const PITCH: f64 = 8.0 / 9.0;
const MM: f64 = 25.4;

fn pose(view: usize) -> (Matrix3<f64>, Vector3<f64>) {
    let (turn, shift) = POSES[view].split_at(9);
    (
        Matrix3::from_row_slice(turn),
        Vector3::from_row_slice(shift),
    )
}

/// The corners of the printed squares on a floor. His y runs down the picture and his z away from the camera; a floor's
/// run up the picture, to the left, and to the camera: hence the sign in [`seen`] and the half-turn in [`camera`].
fn corners() -> Vec<Vector2<f64>> {
    let step = |n: u32| f64::from(n) * PITCH;
    let squares = (0..8).flat_map(|row| (0..8).map(move |column| (step(column), step(row))));
    let offsets = [(0.0, 0.0), (SIDE, 0.0), (SIDE, SIDE), (0.0, SIDE)];
    squares
        .flat_map(|(x, y)| offsets.map(|(dx, dy)| Vector2::new(x + dx, y + dy)))
        .collect()
}

/// Where a corner is seen by the published camera: skew and both terms of its lens, his equations 11 and 12.
fn seen(view: usize, corner: Vector2<f64>) -> Vector2<f64> {
    let (turn, shift) = pose(view);
    let ahead = turn * Vector3::new(corner.x, -corner.y, 0.0) + shift;
    let (x, y) = (ahead.x / ahead.z, ahead.y / ahead.z);
    let square = x * x + y * y;
    let bent = 1.0 + LENS[0] * square + LENS[1] * square * square;
    let off = Vector2::new(FOCAL[0] * x + SKEW * y, FOCAL[1] * y);
    CENTRE + off * bent
}

/// The published pose as a camera of the tool's kind, lengths in inches.
fn camera(view: usize, k1: f64) -> Projection {
    let (turn, shift) = pose(view);
    let flip = Matrix3::from_diagonal(&Vector3::new(1.0, -1.0, -1.0));
    Projection::Pinhole(Pinhole {
        focal_px: FOCAL[0],
        centre_px: CENTRE,
        k1,
        camera_from_floor: Rotation3::from_matrix_unchecked(turn * flip),
        position_m: Point3::from(-(flip * turn.transpose() * shift)),
    })
}

/// Fit to a view's corners as if nothing were known of the lens.
fn fitted(view: usize, sd_px: f64, k1_sd: f64) -> FittedCamera {
    let pairs: Vec<MarkPair> = (corners().into_iter())
        .map(|floor_m| MarkPair {
            floor_m,
            pixel: seen(view, floor_m),
            sd_px,
        })
        .collect();
    assert_eq!(pairs.len(), 256);
    let open = LensPrior {
        focal_share: 1.0,
        focal_log_sd: 1e3,
        k1: 0.0,
        k1_sd,
    };
    // The fit takes the middle of the picture for the centre: this is the size of which it is the published one.
    let size = (2.0 * CENTRE.x + 1.0, 2.0 * CENTRE.y + 1.0);
    fit_camera(&pairs, size, &open).unwrap()
}

#[track_caller]
fn near(what: &str, found: f64, expected: f64, within: f64) {
    assert!(
        (found - expected).abs() <= within,
        "{what}: {found} for {expected}"
    );
}

/// Root mean square and largest distance on the plane, mm, of places that should be the corners.
fn misses_mm(places: impl Iterator<Item = Vector2<f64>>) -> (f64, f64) {
    let misses: Vec<f64> = (places.zip(corners()))
        .map(|(place, corner)| (place - corner).norm() * MM)
        .collect();
    assert_eq!(misses.len(), 256);
    let square = misses.iter().map(|m| m * m).sum::<f64>() / 256.0;
    (square.sqrt(), misses.into_iter().fold(0.0, f64::max))
}

/// Three points, the last 1.5 inches above the plane: `cv2.projectPoints` with the published poses, focal length 832.5
/// px, the published centre and first term of the lens alone.
#[test]
fn the_published_poses_put_points_where_a_general_library_puts_them() {
    let points = [(0.0, 0.0, 0.0), (6.0, 1.0, 0.0), (3.0, 5.0, 1.5)];
    let expected = [
        [
            (63.827_594, 434.926_262),
            (447.701_344, 390.455_266),
            (238.502_386, 102.829_529),
        ],
        [
            (78.116_564, 435.608_247),
            (451.174_239, 393.864_513),
            (240.775_817, 141.590_364),
        ],
        [
            (136.353_021, 421.581_487),
            (480.112_078, 393.034_428),
            (261.571_335, 112.635_107),
        ],
        [
            (84.568_933, 440.736_234),
            (457.001_463, 378.609_532),
            (295.900_927, 110.741_251),
        ],
        [
            (74.668_406, 387.338_877),
            (407.324_346, 387.567_983),
            (307.220_861, 141.232_913),
        ],
    ];
    for (view, pixels) in expected.into_iter().enumerate() {
        let camera = camera(view, LENS[0]);
        for ((x, y, z), (u, v)) in points.into_iter().zip(pixels) {
            let pixel = Vector2::new(u, v);
            let found = camera.pixel(&Point3::new(x, y, z)).unwrap();
            // The printed turns are orthonormal to a few millionths only.
            assert!(
                (found - pixel).norm() < 5e-3,
                "view {view}: {found} {pixel}"
            );
            let back = camera.at_height(pixel, z).unwrap();
            let miss = (back - Point3::new(x, y, z)).norm();
            assert!(miss < 1e-4, "view {view}: {back}");
        }
    }
}

/// One view, square pixels, one term of the lens: `cv2.calibrateCamera` with the aspect, the centre, k2, k3 and the
/// tangential terms fixed, and `scipy.optimize.least_squares`; the standard errors are those of its Jacobian, at 0.34
/// px, what the published fit to all five left (root mean square over points).
#[test]
fn each_view_gives_the_lens_that_general_libraries_fit_to_it() {
    let expected = [
        (824.0562, -0.193_987, 0.056_701, 0.010_574_7),
        (835.2779, -0.199_469, 0.054_706, 0.007_736_0),
        (830.7290, -0.196_203, 0.062_707, 0.002_562_9),
        (835.0840, -0.202_094, 0.045_654, 0.007_774_5),
        (828.2233, -0.204_548, 0.029_337, 0.011_659_8),
    ];
    for (view, (focal, k1, residual, share)) in expected.into_iter().enumerate() {
        let found = fitted(view, 0.34, 1e3);
        near("focal length", found.camera.focal_px, focal, 2e-3);
        near("k1", found.camera.k1, k1, 1e-5);
        near("residual", found.residual_px, residual, 1e-5);
        near("standard error", found.focal_rel_sd, share, 0.01 * share);
        // What the skew and the second term leave out stays within what the fit says of itself.
        let off = (found.camera.focal_px - FOCAL[0]).abs();
        assert!(off < 2.0 * found.focal_rel_sd * FOCAL[0], "{off}");
    }
}

/// One lens for all five views, as for a camera that moves, from a corner of each square: `cv2.calibrateCamera` and
/// `scipy.optimize.least_squares` as above. The published one has a second term and a skew besides.
#[test]
fn five_views_together_give_the_published_lens() {
    let marks: Vec<_> = corners().into_iter().step_by(4).collect();
    let frames: Vec<(Pinhole, Vec<MarkObservation>)> = (0..5)
        .map(|view| {
            let observations = (marks.iter().enumerate()).map(|(mark, corner)| MarkObservation {
                mark,
                pixel: seen(view, *corner),
                sd_px: 0.34,
            });
            (fitted(view, 0.34, 1e3).camera, observations.collect())
        })
        .collect();
    let open = LensPrior {
        focal_share: 1.0,
        focal_log_sd: 1e3,
        k1: 0.0,
        k1_sd: 1e3,
    };
    let found = fit_bundle(&frames, &marks, 1e-6, &open, (640.0, 480.0)).unwrap();
    near("focal length", found.focal_px, 831.1541, 2e-3);
    near("k1", found.k1, -0.197_200, 1e-5);
    near("published", found.focal_px, FOCAL[0], 1.5);
    assert_eq!(found.marks_m.len(), 64);
    for (found, laid) in found.marks_m.iter().zip(&marks) {
        assert!((found - laid).norm() < 1e-6, "{found} {laid}");
    }
}

/// Corners bent by the lens, mapped to the plane as if they were not: `cv2.findHomography` over all corners, which
/// minimises the distance where ours solves the linear system, and `cv2.getPerspectiveTransform` over the field's own
/// four. With the measured corners the published pictures give 0.36 to 0.49 and 0.90 to 1.16 mm.
#[test]
fn a_lens_left_out_costs_the_published_millimetres() {
    let all = [0.4602, 0.4847, 0.4065, 0.4217, 0.3510];
    let four = [
        (1.0811, 1.5000),
        (1.1420, 1.5620),
        (0.9570, 1.3682),
        (0.9895, 1.3439),
        (0.8335, 1.1641),
    ];
    let field = 7.0 * PITCH + SIDE;
    let outer = [(0.0, 0.0), (field, 0.0), (field, field), (0.0, field)];
    let outer = outer.map(|(x, y)| Vector2::new(x, y));
    for view in 0..5 {
        let pixels: Vec<_> = corners().into_iter().map(|c| seen(view, c)).collect();
        let map = homography(&pixels, &corners()).unwrap();
        let (over_all, _) = misses_mm(pixels.iter().map(|p| apply(&map, *p).unwrap()));
        near("over all corners", over_all, all[view], 0.02 * all[view]);
        let map = homography(&outer.map(|c| seen(view, c)), &outer).unwrap();
        let (by_four, worst) = misses_mm(pixels.iter().map(|p| apply(&map, *p).unwrap()));
        near("by four", by_four, four[view].0, 1e-3);
        near("worst by four", worst, four[view].1, 1e-3);
        // A camera with the lens that was fitted must at least halve what the plain map misses by.
        let lens = Projection::Pinhole(fitted(view, 0.34, 1e3).camera);
        let places = (pixels.iter()).map(|p| lens.at_height(*p, 0.0).unwrap().coords.xy());
        let (with_lens, _) = misses_mm(places);
        assert!(with_lens < 0.5 * over_all, "{with_lens} of {over_all}");
        // Pinned to no bend, the same fit gains nothing.
        let straight = Projection::Pinhole(fitted(view, 0.34, 1e-9).camera);
        let places = (pixels.iter()).map(|p| straight.at_height(*p, 0.0).unwrap().coords.xy());
        let (without_lens, _) = misses_mm(places);
        assert!(
            without_lens > 0.9 * over_all,
            "{without_lens} of {over_all}"
        );
    }
}

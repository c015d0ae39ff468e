//! From floor marks at known places to a camera: focal length, distortion and pose.

use super::homography::homography;
use super::path::moved;
use super::projection::{Pinhole, Projection};
use levenberg_marquardt::{LeastSquaresProblem, LevenbergMarquardt};
use nalgebra::{
    DMatrix, DVector, Dyn, Matrix2x6, Matrix3, Matrix6, OMatrix, OVector, Owned, Point3, Rotation3,
    U8, Vector2, Vector3, Vector6,
};

/// A floor mark and where it is seen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MarkPair {
    /// Place on the floor, m.
    pub floor_m: Vector2<f64>,
    /// Place in the upright picture, px.
    pub pixel: Vector2<f64>,
    /// Standard uncertainty of the pixel place and of the floor place seen in pixels, together.
    pub sd_px: f64,
}

/// A camera fitted to floor marks.
#[derive(Debug, Clone, PartialEq)]
pub struct FittedCamera {
    /// The camera.
    pub camera: Pinhole,
    /// Root mean square distance between marks and where the camera sees them, px.
    pub residual_px: f64,
    /// Standard uncertainty of the focal length as a share of it; 0 where it was given.
    pub focal_rel_sd: f64,
}

/// What is known of a lens before the marks are looked at. It only matters where they leave focal
/// length or distortion open.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LensPrior {
    /// Focal length over the long side of the picture.
    pub focal_share: f64,
    /// Standard deviation of its logarithm.
    pub focal_log_sd: f64,
    /// Radial distortion.
    pub k1: f64,
    /// Its standard uncertainty.
    pub k1_sd: f64,
}

/// Fits focal length, distortion and pose to at least four marks that are not in a line.
///
/// `size_px` is width and height of the upright picture.
///
/// # Source
/// Start: the two constraints that orthonormal columns put on a plane's homography, Z. Zhang, IEEE
/// Trans. PAMI 22(11), 2000, eqs. 3 and 4. Refinement: least squares on the reprojection, the prior's
/// two numbers being two observations more.
pub fn fit_camera(
    pairs: &[MarkPair],
    size_px: (f64, f64),
    lens: &LensPrior,
) -> Option<FittedCamera> {
    let centre = Vector2::new((size_px.0 - 1.0) / 2.0, (size_px.1 - 1.0) / 2.0);
    let typical = lens.focal_share * size_px.0.max(size_px.1);
    let floor: Vec<_> = pairs.iter().map(|pair| pair.floor_m).collect();
    let pixels: Vec<_> = pairs.iter().map(|pair| pair.pixel - centre).collect();
    let map = homography(&floor, &pixels)?;
    let focal = focal_from(&map).map_or(typical, |f| f.clamp(0.4 * typical, 3.5 * typical));
    let start = pose_from(&map, focal, centre)?;
    refine(start, pairs, lens, typical)
}

/// Steps after which a pose is given up.
const POSE_STEPS: usize = 60;
/// What damped steps seek is found where one takes no more than this share off the squares that are left, or would take
/// nothing however short it is.
pub(super) const FOUND_SHARE: f64 = 1e-15;
pub(super) const LEAST_DAMPING: f64 = 1e-12;
pub(super) const MOST_DAMPING: f64 = 1e12;

/// Fits the pose alone, focal length and distortion being those of `start`.
///
/// # Source
/// Least squares on the reprojection by damped Gauss-Newton steps: D. W. Marquardt, J. SIAM 11 (1963) 431.
pub fn fit_pose(start: &Pinhole, pairs: &[MarkPair]) -> Option<FittedCamera> {
    let mut camera = *start;
    let mut here = PoseEquations::at(&camera, pairs)?;
    let mut damping = 1e-3;
    for _ in 0..POSE_STEPS {
        let mut normal = here.normal;
        for i in 0..6 {
            normal[(i, i)] *= 1.0 + damping;
        }
        let step = normal.cholesky().map(|factors| factors.solve(&here.right));
        let tried = step.map(|step| moved(&camera, &step));
        let next = tried.and_then(|tried| Some((tried, PoseEquations::at(&tried, pairs)?)));
        let mut found = false;
        if let Some(next) = next.filter(|(_, next)| next.squares <= here.squares) {
            found = here.squares - next.1.squares <= FOUND_SHARE * (1e-3 + here.squares);
            (camera, here) = next;
            damping = (damping * 0.1).max(LEAST_DAMPING);
        } else {
            damping *= 10.0;
            found |= damping > MOST_DAMPING;
        }
        if found {
            // A camera below the floor mirrors the marks: that is never a picture of this floor.
            return (camera.position_m.z > 0.0).then(|| FittedCamera {
                camera,
                residual_px: (here.squares_px2 / pairs.len() as f64).sqrt(),
                focal_rel_sd: 0.0,
            });
        }
    }
    None
}

/// Normal equations of a pose: small turn, then shift.
struct PoseEquations {
    normal: Matrix6<f64>,
    right: Vector6<f64>,
    /// Residuals squared, in units of their uncertainties, and in px².
    squares: f64,
    squares_px2: f64,
}

impl PoseEquations {
    fn at(camera: &Pinhole, pairs: &[MarkPair]) -> Option<Self> {
        let mut out = Self {
            normal: Matrix6::zeros(),
            right: Vector6::zeros(),
            squares: 0.0,
            squares_px2: 0.0,
        };
        for pair in pairs {
            let seen = camera.seen(&Point3::new(pair.floor_m.x, pair.floor_m.y, 0.0))?;
            let mut slopes = Matrix2x6::zeros();
            slopes.fixed_columns_mut::<3>(0).copy_from(&seen.by_turn);
            slopes.fixed_columns_mut::<3>(3).copy_from(&-seen.by_place);
            let off = pair.pixel - seen.pixel;
            let weight = 1.0 / (pair.sd_px * pair.sd_px);
            out.normal += slopes.transpose() * slopes * weight;
            out.right += slopes.transpose() * off * weight;
            out.squares += off.norm_squared() * weight;
            out.squares_px2 += off.norm_squared();
        }
        Some(out)
    }
}

/// Focal length that makes the homography's first two columns orthonormal best.
fn focal_from(map: &Matrix3<f64>) -> Option<f64> {
    let (a, b) = (map.column(0), map.column(1));
    // With w = 1/f²:  p w + q = 0 for both constraints; scaled least squares over the two.
    let constraints = [
        (a[0] * b[0] + a[1] * b[1], a[2] * b[2]),
        (
            (a[0] * a[0] + a[1] * a[1] - b[0] * b[0] - b[1] * b[1]) / 2.0,
            (a[2] * a[2] - b[2] * b[2]) / 2.0,
        ),
    ];
    let above: f64 = constraints.iter().map(|(p, q)| -p * q).sum();
    let below: f64 = constraints.iter().map(|(p, _)| p * p).sum();
    let w = above / below;
    (w > 0.0 && w.is_finite()).then(|| 1.0 / w.sqrt())
}

/// Pose of a camera with this focal length, from the homography about the principal point.
fn pose_from(map: &Matrix3<f64>, focal: f64, centre: Vector2<f64>) -> Option<Pinhole> {
    let columns = Matrix3::from_diagonal(&Vector3::new(1.0 / focal, 1.0 / focal, 1.0)) * map;
    let scale = 2.0 / (columns.column(0).norm() + columns.column(1).norm());
    // The floor must lie ahead of the camera.
    let sign = if columns[(2, 2)] < 0.0 { -scale } else { scale };
    let (r1, r2) = (columns.column(0) * sign, columns.column(1) * sign);
    let shift: Vector3<f64> = columns.column(2) * sign;
    let rough = Matrix3::from_columns(&[r1, r2, r1.cross(&r2)]);
    let svd = rough.svd(true, true);
    let turn = svd.u? * svd.v_t?;
    if turn.determinant() < 0.0 || !shift.iter().all(|v| v.is_finite()) {
        return None;
    }
    let rotation = Rotation3::from_matrix_unchecked(turn);
    Some(Pinhole {
        focal_px: focal,
        centre_px: centre,
        k1: 0.0,
        camera_from_floor: rotation,
        position_m: Point3::from(-(rotation.inverse() * shift)),
    })
}

/// Residuals of the marks as a function of (ln focal length, small turn, camera position, k1).
struct Reprojection<'a> {
    pairs: &'a [MarkPair],
    base: Pinhole,
    typical: f64,
    lens: LensPrior,
    parameters: OVector<f64, U8>,
}

impl Reprojection<'_> {
    fn camera(&self, p: &OVector<f64, U8>) -> Pinhole {
        Pinhole {
            focal_px: p[0].exp(),
            camera_from_floor: Rotation3::new(Vector3::new(p[1], p[2], p[3]))
                * self.base.camera_from_floor,
            position_m: Point3::new(p[4], p[5], p[6]),
            k1: p[7],
            ..self.base
        }
    }

    fn at(&self, p: &OVector<f64, U8>) -> Option<DVector<f64>> {
        let camera = Projection::Pinhole(self.camera(p));
        let mut out = DVector::zeros(2 * self.pairs.len() + 2);
        for (index, pair) in self.pairs.iter().enumerate() {
            let seen = camera.pixel(&Point3::new(pair.floor_m.x, pair.floor_m.y, 0.0))?;
            out[2 * index] = (seen.x - pair.pixel.x) / pair.sd_px;
            out[2 * index + 1] = (seen.y - pair.pixel.y) / pair.sd_px;
        }
        let after = 2 * self.pairs.len();
        out[after] = (p[0] - self.typical.ln()) / self.lens.focal_log_sd;
        out[after + 1] = (p[7] - self.lens.k1) / self.lens.k1_sd;
        Some(out)
    }
}

impl LeastSquaresProblem<f64, Dyn, U8> for Reprojection<'_> {
    type ParameterStorage = Owned<f64, U8>;
    type ResidualStorage = Owned<f64, Dyn>;
    type JacobianStorage = Owned<f64, Dyn, U8>;

    fn set_params(&mut self, x: &OVector<f64, U8>) {
        self.parameters = *x;
    }

    fn params(&self) -> OVector<f64, U8> {
        self.parameters
    }

    fn residuals(&self) -> Option<DVector<f64>> {
        self.at(&self.parameters)
    }

    fn jacobian(&self) -> Option<OMatrix<f64, Dyn, U8>> {
        let mut out = OMatrix::<f64, Dyn, U8>::zeros(2 * self.pairs.len() + 2);
        for column in 0..8 {
            let (mut up, mut down) = (self.parameters, self.parameters);
            up[column] += super::STEP;
            down[column] -= super::STEP;
            out.set_column(
                column,
                &((self.at(&up)? - self.at(&down)?) / (2.0 * super::STEP)),
            );
        }
        Some(out)
    }
}

fn refine(
    start: Pinhole,
    pairs: &[MarkPair],
    lens: &LensPrior,
    typical: f64,
) -> Option<FittedCamera> {
    let at = start.position_m;
    let problem = Reprojection {
        pairs,
        base: start,
        typical,
        lens: *lens,
        parameters: OVector::<f64, U8>::from([
            start.focal_px.ln(),
            0.0,
            0.0,
            0.0,
            at.x,
            at.y,
            at.z,
            lens.k1,
        ]),
    };
    let (solved, report) = LevenbergMarquardt::new()
        .with_patience(60)
        .minimize(problem);
    if !report.termination.was_successful() {
        return None;
    }
    let camera = solved.camera(&solved.parameters);
    let jacobian = solved.jacobian()?;
    let normal: DMatrix<f64> =
        DMatrix::from_column_slice(8, 8, (jacobian.transpose() * &jacobian).as_slice());
    let focal_rel_sd = normal
        .try_inverse()
        .map_or(f64::INFINITY, |c| c[(0, 0)].max(0.0).sqrt());
    let view = Projection::Pinhole(camera);
    let squares: f64 = pairs
        .iter()
        .filter_map(|pair| {
            let seen = view.pixel(&Point3::new(pair.floor_m.x, pair.floor_m.y, 0.0))?;
            Some((seen - pair.pixel).norm_squared())
        })
        .sum();
    // A camera below the floor mirrors the marks: that is never a picture of this floor.
    let above = camera.position_m.z > 0.0;
    above.then(|| FittedCamera {
        camera,
        residual_px: (squares / pairs.len() as f64).sqrt(),
        focal_rel_sd,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pairs_seen_by(camera: &Pinhole, marks: &[(f64, f64)]) -> Vec<MarkPair> {
        let view = Projection::Pinhole(*camera);
        marks
            .iter()
            .map(|&(x, y)| MarkPair {
                floor_m: Vector2::new(x, y),
                pixel: view.pixel(&Point3::new(x, y, 0.0)).unwrap(),
                sd_px: 0.1,
            })
            .collect()
    }

    fn looking(position: Point3<f64>, at: Point3<f64>, focal_px: f64) -> Pinhole {
        let ahead = (at - position).normalize();
        let right = ahead.cross(&Vector3::z()).normalize();
        let down = ahead.cross(&right);
        let rows = Matrix3::from_rows(&[right.transpose(), down.transpose(), ahead.transpose()]);
        Pinhole {
            focal_px,
            centre_px: Vector2::new(639.5, 359.5),
            k1: 0.0,
            camera_from_floor: Rotation3::from_matrix_unchecked(rows),
            position_m: position,
        }
    }

    const PHONE: LensPrior = LensPrior {
        focal_share: 0.85,
        focal_log_sd: 0.25,
        k1: 0.0,
        k1_sd: 0.04,
    };

    const MARKS: [(f64, f64); 6] = [
        (0.0, -0.3),
        (1.2, -0.3),
        (2.4, -0.3),
        (0.0, 0.4),
        (1.2, 0.4),
        (2.4, 0.4),
    ];

    #[test]
    fn an_oblique_camera_is_recovered() {
        let truth = looking(
            Point3::new(-0.4, -1.6, 1.2),
            Point3::new(1.2, 0.0, 0.0),
            985.0,
        );
        let fitted = fit_camera(&pairs_seen_by(&truth, &MARKS), (1280.0, 720.0), &PHONE).unwrap();
        assert!((fitted.camera.position_m - truth.position_m).norm() < 2e-3);
        assert!((fitted.camera.focal_px / 985.0 - 1.0).abs() < 2e-3);
        assert!(fitted.residual_px < 0.02);
    }

    #[test]
    fn a_camera_square_to_the_track_is_recovered_too() {
        let truth = looking(
            Point3::new(1.2, -2.4, 0.7),
            Point3::new(1.2, 0.0, 0.1),
            1065.0,
        );
        let fitted = fit_camera(&pairs_seen_by(&truth, &MARKS), (1280.0, 720.0), &PHONE).unwrap();
        assert!((fitted.camera.position_m - truth.position_m).norm() < 0.06);
        assert!(fitted.focal_rel_sd > 1e-4);
    }

    #[test]
    fn a_bent_lens_is_recovered_from_six_marks() {
        let truth = Pinhole {
            k1: -0.06,
            ..looking(
                Point3::new(0.6, -1.3, 0.9),
                Point3::new(1.2, 0.0, 0.0),
                700.0,
            )
        };
        let fitted = fit_camera(&pairs_seen_by(&truth, &MARKS), (1280.0, 720.0), &PHONE).unwrap();
        assert!(
            (fitted.camera.k1 + 0.06).abs() < 2e-3,
            "{}",
            fitted.camera.k1
        );
        assert!((fitted.camera.position_m - truth.position_m).norm() < 5e-3);
    }

    #[test]
    fn a_pose_alone_is_recovered_with_the_lens_known() {
        let truth = looking(
            Point3::new(0.6, -1.3, 0.9),
            Point3::new(1.2, 0.0, 0.0),
            900.0,
        );
        let near = looking(
            Point3::new(0.62, -1.32, 0.88),
            Point3::new(1.17, 0.01, 0.02),
            900.0,
        );
        let fitted = fit_pose(&near, &pairs_seen_by(&truth, &MARKS[1..5])).unwrap();
        assert!((fitted.camera.position_m - truth.position_m).norm() < 1e-6);
        assert!((fitted.camera.focal_px - 900.0).abs() < 1e-2);
    }

    #[test]
    fn marks_in_a_line_give_no_camera() {
        let truth = looking(
            Point3::new(1.2, -2.4, 0.7),
            Point3::new(1.2, 0.0, 0.1),
            1065.0,
        );
        let line = [(0.0, 0.0), (1.0, 0.0), (2.0, 0.0), (3.0, 0.0)];
        assert!(fit_camera(&pairs_seen_by(&truth, &line), (1280.0, 720.0), &PHONE).is_none());
    }
}

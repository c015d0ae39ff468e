//! Circle through points: the wheel mark's own circle gives hub and radius.

use nalgebra::{Matrix3, SMatrix, SVector, Vector2, Vector3};

/// A fitted circle, in the unit of the points.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Circle {
    /// Centre.
    pub centre: Vector2<f64>,
    /// Radius.
    pub radius: f64,
    /// Root mean square distance of the points from the circle.
    pub residual: f64,
    /// How much of the circle the points cover: the whole turn less the widest gap, radians.
    pub covered_rad: f64,
}

/// Plain linear least-squares circle; biased on short arcs, a start for the geometric fit.
///
/// # Source
/// I. Kåsa, A circle fitting procedure and its error analysis, IEEE Trans. Instrum. Meas. 25 (1976) 8.
pub fn algebraic_circle(points: &[Vector2<f64>]) -> Option<(Vector2<f64>, f64)> {
    if points.len() < 3 {
        return None;
    }
    let middle = points.iter().sum::<Vector2<f64>>() / points.len() as f64;
    let mut normal = Matrix3::zeros();
    let mut right = Vector3::zeros();
    for point in points {
        let p = point - middle;
        let row = Vector3::new(p.x, p.y, 1.0);
        normal += row * row.transpose();
        right += row * p.norm_squared();
    }
    let solved = normal.lu().solve(&right)?;
    let centre = Vector2::new(solved.x, solved.y) / 2.0;
    let squared = solved.z + centre.norm_squared();
    (squared > 0.0 && squared.is_finite()).then(|| (centre + middle, squared.sqrt()))
}

/// Geometric (orthogonal distance) circle by Gauss-Newton with outliers down-weighted.
///
/// # Source
/// W. Gander, G. H. Golub, R. Strebel, Least-squares fitting of circles and ellipses, BIT 34 (1994)
/// 558-578.
pub fn fit_circle(points: &[Vector2<f64>]) -> Option<Circle> {
    let (mut centre, mut radius) = algebraic_circle(points)?;
    for _ in 0..100 {
        let mut normal = Matrix3::zeros();
        let mut right = Vector3::zeros();
        for point in points {
            let away = point - centre;
            let distance = away.norm().max(1e-12);
            let slope = Vector3::new(away.x / distance, away.y / distance, 1.0);
            normal += slope * slope.transpose();
            right += slope * (distance - radius);
        }
        let step = normal.lu().solve(&right)?;
        centre += Vector2::new(step.x, step.y);
        radius += step.z;
        if step.norm() < 1e-12 * radius.abs() {
            break;
        }
    }
    if !(radius.is_finite() && radius > 0.0) {
        return None;
    }
    let squares: f64 = points
        .iter()
        .map(|p| ((p - centre).norm() - radius).powi(2))
        .sum();
    Some(Circle {
        centre,
        radius,
        residual: (squares / points.len() as f64).sqrt(),
        covered_rad: covered(points, centre),
    })
}

/// A circle seen from a little beside its axis, whose centre drifts as the car goes by.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DriftingCircle {
    /// Centre where the way is 0.
    pub centre: Vector2<f64>,
    /// How far the centre moves for one unit of the way.
    pub drift: Vector2<f64>,
    /// ... and for its square: a car that curves turns its sticker against its wheel.
    pub bend: Vector2<f64>,
    /// Half-axes along and up, before the lean.
    pub radii: Vector2<f64>,
    /// How far along the upright axis leans for each unit up: where the way is 0, and for one unit of it.
    pub lean: Vector2<f64>,
    /// How much larger the circle gets for one unit of the way, as a share: the car comes nearer.
    pub growth: f64,
    /// Root mean square distance of the points from the ellipse.
    pub residual: f64,
    /// How much of the circle the points cover, radians.
    pub covered_rad: f64,
}

impl DriftingCircle {
    /// Where a point would be on a circle about the origin whose radius is the half-axis along.
    pub fn round(&self, point: Vector2<f64>, way: f64) -> Vector2<f64> {
        let off = point - self.centre - self.drift * way - self.bend * (way * way);
        let lean = (self.lean.x + self.lean.y * way) * off.y;
        let size = (1.0 + self.growth * way).max(0.1);
        Vector2::new(off.x - lean, off.y * self.radii.x / self.radii.y) / size
    }
}

/// Fits a drifting circle to points (first their place, then the way gone) by Gauss-Newton, starting from
/// the plain circle.
///
/// A camera that is nearer to the wheel's face than to the sticker sees the hub drift against the sticker as
/// the car goes by (parallax); one that looks down a little sees circles flattened, and uprights that lean
/// outwards the further they are from the middle of the picture. A car that comes nearer looks larger.
pub fn fit_drifting_circle(points: &[(Vector2<f64>, f64)]) -> Option<DriftingCircle> {
    let plain: Vec<Vector2<f64>> = points.iter().map(|(p, _)| *p).collect();
    let start = fit_circle(&plain)?;
    let mut p = SVector::<f64, 11>::zeros();
    (p[0], p[1]) = (start.centre.x, start.centre.y);
    (p[4], p[5]) = (start.radius, start.radius);
    let of = |p: &SVector<f64, 11>| DriftingCircle {
        centre: Vector2::new(p[0], p[1]),
        drift: Vector2::new(p[2], p[3]),
        radii: Vector2::new(p[4], p[5]),
        lean: Vector2::new(p[6], p[7]),
        growth: p[8],
        bend: Vector2::new(p[9], p[10]),
        residual: 0.0,
        covered_rad: start.covered_rad,
    };
    let miss = |p: &SVector<f64, 11>, (at, way): &(Vector2<f64>, f64)| {
        of(p).round(*at, *way).norm() - p[4]
    };
    for _ in 0..40 {
        let mut normal = SMatrix::<f64, 11, 11>::zeros();
        let mut right = SVector::<f64, 11>::zeros();
        for point in points {
            let here = miss(&p, point);
            let slopes = SVector::<f64, 11>::from_fn(|i, _| {
                let mut off = p;
                let step = if (6..=8).contains(&i) {
                    1e-6
                } else {
                    1e-6 * start.radius
                };
                off[i] += step;
                (miss(&off, point) - here) / step
            });
            normal += slopes * slopes.transpose();
            right -= slopes * here;
        }
        // A way of few units and a radius of few pixels are alike in size; a touch of damping keeps
        // clips that leave the drift open from running away.
        normal += SMatrix::<f64, 11, 11>::identity() * (1e-10 * normal.trace());
        let step = normal.cholesky()?.solve(&right);
        p += step;
        if step.norm() < 1e-9 * start.radius {
            break;
        }
    }
    let squares: f64 = points.iter().map(|point| miss(&p, point).powi(2)).sum();
    let found = DriftingCircle {
        residual: (squares / points.len() as f64).sqrt(),
        ..of(&p)
    };
    let sound = found.radii.x > 0.0 && found.radii.y > 0.0 && found.residual.is_finite();
    sound.then_some(found)
}

fn covered(points: &[Vector2<f64>], centre: Vector2<f64>) -> f64 {
    let turn = std::f64::consts::TAU;
    let mut angles: Vec<f64> = points
        .iter()
        .map(|p| (p.y - centre.y).atan2(p.x - centre.x))
        .collect();
    angles.sort_by(f64::total_cmp);
    let (Some(&first), Some(&last)) = (angles.first(), angles.last()) else {
        return 0.0;
    };
    let around = first + turn - last;
    let widest = angles
        .windows(2)
        .map(|pair| pair[1] - pair[0])
        .fold(around, f64::max);
    turn - widest
}

#[cfg(test)]
mod tests {
    use super::*;

    /// W. Gander, G. H. Golub, R. Strebel, BIT 34 (1994), six-point example (points read in public
    /// ports that cite the paper; result recomputed with scipy).
    const SIX: [(f64, f64); 6] = [
        (1.0, 7.0),
        (2.0, 6.0),
        (5.0, 8.0),
        (7.0, 7.0),
        (9.0, 5.0),
        (3.0, 7.0),
    ];

    fn six() -> Vec<Vector2<f64>> {
        SIX.iter().map(|&(x, y)| Vector2::new(x, y)).collect()
    }

    #[test]
    fn the_published_six_points_give_the_published_circle() {
        let circle = fit_circle(&six()).unwrap();
        assert!((circle.centre - Vector2::new(4.739_782_4, 2.983_532_7)).norm() < 1e-6);
        assert!((circle.radius - 4.714_226_0).abs() < 1e-6);
        assert!((circle.residual * 6.0_f64.sqrt() - 1.107_970_7).abs() < 1e-6);
    }

    #[test]
    fn the_algebraic_start_is_kasas() {
        // Recomputed with numpy from the definition.
        let (centre, radius) = algebraic_circle(&six()).unwrap();
        assert!((centre - Vector2::new(4.742_331_3, 3.835_122_7)).norm() < 1e-6);
        assert!((radius - 4.108_761_5).abs() < 1e-6);
    }

    #[test]
    fn a_line_gives_no_circle_and_an_arc_says_how_much_it_covers() {
        let line: Vec<_> = (0..5).map(|i| Vector2::new(f64::from(i), 0.0)).collect();
        assert!(fit_circle(&line).is_none_or(|c| c.radius > 1e6));
        let arc: Vec<_> = (0..=90)
            .map(|deg| f64::from(deg).to_radians())
            .map(|a| Vector2::new(3.0 + 2.0 * a.cos(), 1.0 + 2.0 * a.sin()))
            .collect();
        let circle = fit_circle(&arc).unwrap();
        assert!((circle.covered_rad - std::f64::consts::FRAC_PI_2).abs() < 1e-6);
        assert!((circle.radius - 2.0).abs() < 1e-9);
    }

    #[test]
    fn a_drifting_flattened_leaning_circle_is_found() {
        let points: Vec<(Vector2<f64>, f64)> = (0..90)
            .map(|i| {
                let (angle, way) = (0.41 * f64::from(i), f64::from(i) / 45.0 - 1.0);
                let (sin, cos) = angle.sin_cos();
                let up = 17.0 * sin;
                let lean = (0.02 + 0.1 * way) * up;
                let size = 1.0 + 0.04 * way;
                let round = Vector2::new(18.0 * cos + lean, up) * size;
                let at = Vector2::new(40.0 + 5.0 * way + 2.0 * way * way, -9.0 + way) + round;
                (at, way)
            })
            .collect();
        let found = fit_drifting_circle(&points).unwrap();
        assert!((found.radii - Vector2::new(18.0, 17.0)).norm() < 1e-4);
        assert!((found.drift - Vector2::new(5.0, 1.0)).norm() < 1e-4);
        assert!((found.bend - Vector2::new(2.0, 0.0)).norm() < 1e-4);
        assert!((found.lean - Vector2::new(0.02, 0.1)).norm() < 1e-5);
        assert!(found.residual < 1e-4);
    }
}

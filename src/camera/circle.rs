//! Circle through points: the wheel mark's own circle gives hub and radius.

use nalgebra::{Matrix3, Vector2, Vector3};

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
}

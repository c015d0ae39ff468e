//! Plane-to-plane maps from four or more point pairs.

use nalgebra::{DMatrix, Matrix3, Vector2, Vector3};

/// Homography that takes `from` to `to`, scaled so that its last entry is 1.
///
/// # Source
/// Normalised direct linear transform: R. Hartley and A. Zisserman, Multiple View Geometry in Computer
/// Vision, 2nd ed., algorithm 4.2 (citation from memory).
///
/// Returns `None` for fewer than four pairs or points in a line.
pub fn homography(from: &[Vector2<f64>], to: &[Vector2<f64>]) -> Option<Matrix3<f64>> {
    if from.len() < 4 || from.len() != to.len() {
        return None;
    }
    let (shift_from, shift_to) = (normaliser(from)?, normaliser(to)?);
    let mut rows = DMatrix::zeros((2 * from.len()).max(9), 9);
    for (index, (a, b)) in from.iter().zip(to).enumerate() {
        let (a, b) = (apply(&shift_from, *a)?, apply(&shift_to, *b)?);
        let first = [-a.x, -a.y, -1.0, 0.0, 0.0, 0.0, b.x * a.x, b.x * a.y, b.x];
        let second = [0.0, 0.0, 0.0, -a.x, -a.y, -1.0, b.y * a.x, b.y * a.y, b.y];
        for (column, (&p, &q)) in first.iter().zip(&second).enumerate() {
            rows[(2 * index, column)] = p;
            rows[(2 * index + 1, column)] = q;
        }
    }
    let svd = rows.svd(false, true);
    let order = sorted_columns(&svd.singular_values);
    // Two vanishing singular values mean that the points leave the map undetermined.
    if svd.singular_values[order[1]] < 1e-9 * svd.singular_values[order[8]] {
        return None;
    }
    let solution = svd.v_t?.row(order[0]).transpose();
    let normalised = Matrix3::from_row_slice(solution.as_slice());
    let full = shift_to.try_inverse()? * normalised * shift_from;
    let scale = full[(2, 2)];
    (scale.abs() > 1e-12 * full.norm()).then(|| full / scale)
}

fn sorted_columns(values: &nalgebra::DVector<f64>) -> Vec<usize> {
    let mut order: Vec<usize> = (0..values.len()).collect();
    order.sort_by(|&a, &b| values[a].total_cmp(&values[b]));
    order
}

/// Similarity that brings points to their middle and a mean distance of √2.
fn normaliser(points: &[Vector2<f64>]) -> Option<Matrix3<f64>> {
    let middle = points.iter().sum::<Vector2<f64>>() / points.len() as f64;
    let mean = points.iter().map(|p| (p - middle).norm()).sum::<f64>() / points.len() as f64;
    if mean <= 0.0 || !mean.is_finite() {
        return None;
    }
    let s = std::f64::consts::SQRT_2 / mean;
    Some(Matrix3::new(
        s,
        0.0,
        -s * middle.x,
        0.0,
        s,
        -s * middle.y,
        0.0,
        0.0,
        1.0,
    ))
}

/// Image of a point under a homography; `None` at infinity.
pub fn apply(map: &Matrix3<f64>, point: Vector2<f64>) -> Option<Vector2<f64>> {
    let image = map * Vector3::new(point.x, point.y, 1.0);
    (image.z.abs() > 1e-12).then(|| Vector2::new(image.x / image.z, image.y / image.z))
}

#[cfg(test)]
mod tests {
    use super::*;

    const SQUARE: [(f64, f64); 4] = [(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)];
    const QUAD: [(f64, f64); 4] = [(10.0, 20.0), (110.0, 30.0), (90.0, 120.0), (20.0, 100.0)];

    fn points(list: &[(f64, f64)], shift: f64) -> Vec<Vector2<f64>> {
        list.iter()
            .map(|&(x, y)| Vector2::new(x + shift, y + shift))
            .collect()
    }

    #[test]
    fn four_points_give_the_closed_form_map() {
        // Heckbert, Fundamentals of Texture Mapping, 1989 (citation from memory); the exact fractions
        // below were recomputed with OpenCV getPerspectiveTransform.
        let map = homography(&points(&SQUARE, 0.0), &points(&QUAD, 0.0)).unwrap();
        let exact = Matrix3::new(
            5270.0, 1170.0, 670.0, 280.0, 7860.0, 1340.0, -13.0, 25.0, 67.0,
        ) / 67.0;
        assert!((map - exact).norm() < 1e-9, "{map}");
        let middle = apply(&map, Vector2::new(0.5, 0.5)).unwrap();
        assert!((middle - Vector2::new(3890.0 / 73.0, 5410.0 / 73.0)).norm() < 1e-10);
        let other = apply(&map, Vector2::new(0.25, 0.75)).unwrap();
        assert!((other - Vector2::new(382.0 / 11.0, 974.0 / 11.0)).norm() < 1e-10);
    }

    #[test]
    fn far_off_coordinates_do_not_spoil_it() {
        // Hartley & Zisserman, algorithm 4.2 (citation from memory): without normalising this fails.
        let map = homography(&points(&SQUARE, 0.0), &points(&QUAD, 1e6)).unwrap();
        let middle = apply(&map, Vector2::new(0.5, 0.5)).unwrap();
        assert!((middle - Vector2::new(1_000_053.287_67, 1_000_074.109_59)).norm() < 1e-4);
    }

    #[test]
    fn the_published_wall_map_is_recovered_from_its_own_points() {
        // "Graffiti" pair, Mikolajczyk & Schmid affine-region data, file H1to3p: four mapped corners
        // and the middle, to the digits printed with the check.
        let from = points(
            &[
                (100.0, 100.0),
                (700.0, 100.0),
                (700.0, 540.0),
                (100.0, 540.0),
            ],
            0.0,
        );
        let to = points(
            &[
                (263.286, 56.021),
                (587.936, 208.300),
                (484.328, 570.802),
                (136.695, 491.003),
            ],
            0.0,
        );
        let map = homography(&from, &to).unwrap();
        let middle = apply(&map, Vector2::new(400.0, 320.0)).unwrap();
        assert!(
            (middle - Vector2::new(383.633, 336.296)).norm() < 0.01,
            "{middle}"
        );
    }

    #[test]
    fn points_in_a_line_give_no_map() {
        let line = points(&[(0.0, 0.0), (1.0, 0.0), (2.0, 0.0), (3.0, 0.0)], 0.0);
        assert!(homography(&line, &points(&QUAD, 0.0)).is_none());
    }
}

//! Lines laid over the picture, each point put there by the camera that measuring uses.

use crate::analysis::Analysis;
use crate::camera::Projection;
use crate::priors::Priors;
use nalgebra::{Point3, Vector2};
use serde::Serialize;

/// A line over the picture, in pieces without gaps.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(super) struct Line {
    /// `floor`, `aim`, `rim` or `mark_circle`.
    pub kind: &'static str,
    /// Points, px.
    pub points: Vec<[f64; 2]>,
}

/// Lines of the grid are this far apart, m: the first with which no more than `MOST_LINES` are drawn.
const STEPS_M: [f64; 5] = [0.25, 0.5, 1.0, 2.0, 5.0];
const MOST_LINES: f64 = 14.0;
/// Pieces of a line, so that a bent lens bends it.
const PIECES: usize = 24;
/// The grid reaches this far beyond the marks, m.
const BEYOND_M: f64 = 0.05;

/// The floor's grid over the marks and the aim line, and the distance of its lines, m.
pub(super) fn floor_lines(seen: &Projection, priors: &Priors) -> (Vec<Line>, f64) {
    let [from, to] = priors.aim_m;
    let points: Vec<Vector2<f64>> = priors
        .marks
        .iter()
        .map(|mark| mark.floor_m)
        .chain([from, to])
        .collect();
    let range = |get: fn(&Vector2<f64>) -> f64| {
        let low = points.iter().map(get).fold(f64::INFINITY, f64::min) - BEYOND_M;
        let high = points.iter().map(get).fold(f64::NEG_INFINITY, f64::max) + BEYOND_M;
        (low, high)
    };
    let (x, y) = (range(|p| p.x), range(|p| p.y));
    let longest = (x.1 - x.0).max(y.1 - y.0);
    let step = STEPS_M
        .into_iter()
        .find(|step| longest / step < MOST_LINES)
        .unwrap_or(10.0);
    let ends = |(low, high): (f64, f64)| ((low / step).floor() as i32, (high / step).ceil() as i32);
    let ((x0, x1), (y0, y1)) = (ends(x), ends(y));
    let at = |n: i32| f64::from(n) * step;
    let mut lines = Vec::new();
    for n in x0..=x1 {
        straight(&mut lines, seen, "floor", [at(n), at(y0)], [at(n), at(y1)]);
    }
    for n in y0..=y1 {
        straight(&mut lines, seen, "floor", [at(x0), at(n)], [at(x1), at(n)]);
    }
    straight(&mut lines, seen, "aim", from.into(), to.into());
    (lines, step)
}

fn straight(
    lines: &mut Vec<Line>,
    seen: &Projection,
    kind: &'static str,
    from: [f64; 2],
    to: [f64; 2],
) {
    let along = (0..=PIECES).map(|piece| {
        let share = piece as f64 / PIECES as f64;
        Point3::new(
            from[0] + share * (to[0] - from[0]),
            from[1] + share * (to[1] - from[1]),
            0.0,
        )
    });
    drawn(lines, seen, kind, along);
}

/// Adds a line, cut where the camera does not see it.
fn drawn(
    lines: &mut Vec<Line>,
    seen: &Projection,
    kind: &'static str,
    points: impl Iterator<Item = Point3<f64>>,
) {
    let mut piece: Vec<[f64; 2]> = Vec::new();
    let mut end = |piece: &mut Vec<[f64; 2]>| {
        let points = std::mem::take(piece);
        if points.len() > 1 {
            lines.push(Line { kind, points });
        }
    };
    for point in points {
        match seen.pixel(&point) {
            // A point just beside the camera's own plane is seen at no place worth drawing.
            Some(px) if px.norm() < 1e5 => {
                piece.push([px.x, px.y].map(|v| (10.0 * v).round() / 10.0));
            }
            _ => end(&mut piece),
        }
    }
    end(&mut piece);
}

/// Corners of a drawn circle.
const CORNERS: usize = 48;

/// The driven wheel's rim and the circle of its mark, where the sizes put them in a frame.
pub(super) fn wheel_lines(
    seen: &Projection,
    priors: &Priors,
    analysis: &Analysis,
    frame: usize,
) -> Vec<Line> {
    let mut lines = Vec::new();
    let Some(state) = analysis
        .motion
        .body
        .states
        .get(frame)
        .and_then(Option::as_ref)
    else {
        return lines;
    };
    let car = priors.car_geometry();
    let (x, y, heading) = (state.x_m(), state.y_m(), state.heading_rad());
    let hub = car.hub(x, y, heading);
    let fitted = analysis
        .motion
        .wheel
        .as_ref()
        .ok()
        .map(|wheel| wheel.mark_radius_m);
    let mark = car.mark_radius_m.or(fitted);
    let rim = priors.wheel_radius_given.then_some(car.hub_height_m);
    for (kind, radius) in [("rim", rim), ("mark_circle", mark)] {
        if let Some(radius) = radius {
            let around = (0..=CORNERS).map(|corner| {
                let (sin, cos) = (std::f64::consts::TAU * corner as f64 / CORNERS as f64).sin_cos();
                let (ahead, up) = (radius * cos, radius * sin);
                Point3::new(
                    hub.x + ahead * heading.cos(),
                    hub.y + ahead * heading.sin(),
                    hub.z + up,
                )
            });
            drawn(&mut lines, seen, kind, around);
        }
    }
    lines
}

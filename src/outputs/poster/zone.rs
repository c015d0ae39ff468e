//! Where a frame shows the car: its outline from the sheet's sizes and the measured place, through the projection.

use crate::camera::Projection;
use crate::outputs::sketch::seen_in;
use crate::outputs::{Measures, Story};
use imageproc::geometry::convex_hull;
use imageproc::point::Point;
use nalgebra::{Point3, Vector2};
use std::collections::BTreeSet;

/// A car whose wheelbase nobody measured is as long as most are, m: common practice, no source.
const TYPICAL_WHEELBASE_M: f64 = 0.24;
/// The spring's arm stands above the car by this share of its wheelbase, and above its wheels by as much.
const ARM_SHARE: f64 = 0.4;
/// How far tyres and body reach beyond the axles, in radii of the driven wheel.
const OVERHANG: f64 = 1.25;
/// The body reaches above the sticker's centre by this, m.
const ABOVE_STICKER_M: f64 = 0.03;
/// What may belong to the car (its shadow too) lies within its outline times this.
const AROUND: f64 = 1.3;
/// Without metres the car lies within this many radii of its sticker.
const STICKER_RADII: f64 = 9.0;

/// No corner is taken to be farther out than this, so that products of whole pixels stay in 32 bits.
const FARTHEST_PX: f64 = 15_000.0;

/// A convex outline in the upright picture, px.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Outline {
    corners: Vec<Vector2<f64>>,
}

impl Outline {
    /// The smallest convex outline about places, to whole pixels; `None` for places in a line.
    fn about(places: &[Vector2<f64>]) -> Option<Self> {
        let whole = |px: f64| px.round().clamp(-FARTHEST_PX, FARTHEST_PX) as i32;
        // The library's order of points does not allow for two alike.
        let points: BTreeSet<(i32, i32)> = (places.iter())
            .map(|at| (whole(at.x), whole(at.y)))
            .collect();
        let points: Vec<Point<i32>> = (points.into_iter())
            .map(|(x, y)| Point::new(x, y))
            .collect();
        let hull = convex_hull(points);
        (hull.len() > 2).then(|| Self {
            corners: (hull.iter())
                .map(|p| Vector2::new(f64::from(p.x), f64::from(p.y)))
                .collect(),
        })
    }

    /// The mean of its corners, px.
    pub(super) fn middle(&self) -> Vector2<f64> {
        self.corners.iter().sum::<Vector2<f64>>() / self.corners.len().max(1) as f64
    }

    /// Itself made larger about its middle.
    fn scaled(&self, factor: f64) -> Self {
        let middle = self.middle();
        let corners = self.corners.iter();
        Self {
            corners: corners.map(|c| middle + (c - middle) * factor).collect(),
        }
    }

    /// Least and largest corner, px.
    pub(super) fn bounds(&self) -> (Vector2<f64>, Vector2<f64>) {
        let start = (
            Vector2::repeat(f64::INFINITY),
            Vector2::repeat(f64::NEG_INFINITY),
        );
        (self.corners.iter()).fold(start, |(least, most), c| (least.inf(c), most.sup(c)))
    }

    /// Whether a place lies inside.
    pub(super) fn holds(&self, at: Vector2<f64>) -> bool {
        let next = self.corners.iter().cycle().skip(1);
        let sides = self.corners.iter().zip(next).map(|(a, b)| {
            let (along, off) = (b - a, at - a);
            along.x * off.y - along.y * off.x
        });
        let (mut left, mut right) = (false, false);
        for side in sides {
            left |= side > 0.0;
            right |= side < 0.0;
        }
        !(left && right)
    }

    /// How far it reaches along a direction, px.
    pub(super) fn reach(&self, along: Vector2<f64>) -> f64 {
        let places = self.corners.iter().map(|c| c.dot(&along));
        let (least, most) = places.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, m), at| {
            (l.min(at), m.max(at))
        });
        most - least
    }
}

/// Where a frame shows the car.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Zone {
    /// Wheels and body.
    pub(super) car: Outline,
    /// Everything that may belong to it: the spring's arm, its shadow, and what the sizes leave open.
    pub(super) around: Outline,
}

impl Zone {
    /// The car in a frame; `None` where its place is not known.
    pub(super) fn of(story: &Story<'_>, frame: usize) -> Option<Self> {
        match &story.measured {
            Ok(measures) if measures.view.scale.is_ok() => Self::from_sizes(story, measures, frame),
            _ => Self::from_sticker(story, frame),
        }
    }

    fn from_sizes(story: &Story<'_>, measures: &Measures<'_>, frame: usize) -> Option<Self> {
        let seen = |place: &Point3<f64>| seen_in(story, measures.view, frame, place);
        let (mut car, mut around) = boxes(story, measures, frame, &seen)?;
        // What was seen belongs to the car, whatever the sizes say.
        let reach = Vector2::repeat(1.0);
        for mark in [&story.track.sticker, &story.track.wheel] {
            if let Some(Some(mark)) = mark.get(frame) {
                let at = Vector2::new(mark.u_px, mark.v_px);
                car.extend([at - reach, at + reach]);
                around.extend([at - reach, at + reach]);
            }
        }
        Self::about(&car, &around)
    }

    /// The car of a frame as another projection than the frame's own would see it.
    pub(super) fn through(
        story: &Story<'_>,
        frame: usize,
        projection: &Projection,
    ) -> Option<Self> {
        let measures = story.measured.as_ref().ok()?;
        let seen = |place: &Point3<f64>| projection.pixel(place);
        let (car, around) = boxes(story, measures, frame, &seen)?;
        Self::about(&car, &around)
    }

    fn about(car: &[Vector2<f64>], around: &[Vector2<f64>]) -> Option<Self> {
        Some(Self {
            car: Outline::about(car)?,
            around: Outline::about(around)?.scaled(AROUND),
        })
    }

    fn from_sticker(story: &Story<'_>, frame: usize) -> Option<Self> {
        let mark = story.track.sticker.get(frame)?.as_ref()?;
        let radius = (mark.area_px2.max(1.0) / std::f64::consts::PI).sqrt();
        let at = Vector2::new(mark.u_px, mark.v_px);
        let square = |half: f64| {
            let turns = [(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)];
            Outline::about(&turns.map(|(u, v)| at + half * Vector2::new(u, v)))
        };
        Some(Self {
            car: square(0.5 * STICKER_RADII * radius)?,
            around: square(STICKER_RADII * radius)?,
        })
    }

    /// Whether wheels and body lie in the picture.
    pub(super) fn whole_in(&self, width: f64, height: f64) -> bool {
        let (least, most) = self.car.bounds();
        least.x >= 0.0 && least.y >= 0.0 && most.x <= width - 1.0 && most.y <= height - 1.0
    }
}

type Corners = Vec<Vector2<f64>>;

/// Where the corners of the car's box and of the higher one with its arm are seen.
fn boxes(
    story: &Story<'_>,
    measures: &Measures<'_>,
    frame: usize,
    seen: &dyn Fn(&Point3<f64>) -> Option<Vector2<f64>>,
) -> Option<(Corners, Corners)> {
    let state = measures.motion.body.states.get(frame)?.as_ref()?;
    let (sin, cos) = state.heading_rad().sin_cos();
    let (x, y) = (state.x_m(), state.y_m());
    let size = Size::of(story);
    let at = |ahead: f64, left: f64, up: f64| {
        let (along, across) = (ahead * cos - left * sin, ahead * sin + left * cos);
        seen(&Point3::new(x + along, y + across, up))
    };
    let corners = |top: f64| -> Option<Corners> {
        let mut places = Vec::with_capacity(8);
        for ahead in [size.back, size.front] {
            for left in [-size.half, size.half] {
                places.push(at(ahead, left, 0.0)?);
                places.push(at(ahead, left, top)?);
            }
        }
        Some(places)
    };
    Some((corners(size.top)?, corners(size.arm)?))
}

/// The car as a box about the driven axle, m.
struct Size {
    back: f64,
    front: f64,
    half: f64,
    top: f64,
    arm: f64,
}

impl Size {
    fn of(story: &Story<'_>) -> Self {
        let priors = story.priors;
        let radius = priors.wheel_radius_m.value;
        let wheelbase = (priors.wheelbase_m).map_or(TYPICAL_WHEELBASE_M, |size| size.value);
        let top = (2.0 * radius).max(priors.sticker_height_m.value + ABOVE_STICKER_M);
        // A sticker may sit behind or before the axles.
        let sticker = priors.sticker_ahead_m.value;
        Self {
            back: (-OVERHANG * radius).min(sticker - ABOVE_STICKER_M),
            front: (wheelbase + OVERHANG * radius).max(sticker + ABOVE_STICKER_M),
            half: (priors.track_width_m.value / 2.0)
                .max(priors.sticker_off_centre_m.value.abs() + ABOVE_STICKER_M),
            top,
            arm: top + ARM_SHARE * wheelbase,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn square() -> Outline {
        let corners = [
            (0.0, 0.0),
            (10.0, 0.0),
            (10.0, 10.0),
            (0.0, 10.0),
            (5.0, 5.0),
        ];
        Outline::about(&corners.map(|(u, v)| Vector2::new(u, v))).unwrap()
    }

    #[test]
    fn an_outline_holds_what_lies_inside() {
        let square = square();
        assert!(square.holds(Vector2::new(1.0, 9.0)));
        assert!(!square.holds(Vector2::new(-0.1, 5.0)));
        assert!(!square.holds(Vector2::new(5.0, 10.1)));
        assert!((square.middle() - Vector2::repeat(5.0)).norm() < 1e-9);
        let larger = square.scaled(1.2);
        assert!(larger.holds(Vector2::new(-0.9, 5.0)) && !larger.holds(Vector2::new(-1.1, 5.0)));
        assert!((square.reach(Vector2::new(0.6, 0.8)) - 14.0).abs() < 1e-9);
    }

    #[test]
    fn places_in_a_line_have_no_outline() {
        let line = [1.0, 2.0, 3.0].map(|at| Vector2::new(at, at));
        assert!(Outline::about(&line).is_none());
    }
}

//! A ruler laid on the floor beside the aim line, in perspective: where each of its ticks is seen.

use super::plan::Moment;
use crate::camera::Projection;
use crate::motion::BodyState;
use crate::outputs::Story;
use crate::texts::Texts;
use nalgebra::{Point3, Vector2};

/// The ruler lies this far beside the wheels, m.
const BESIDE_M: f64 = 0.035;
/// Length of its short and of its long ticks, m.
const SHORT_M: f64 = 0.02;
const LONG_M: f64 = 0.045;
/// Words stand this far beyond the long ticks, m.
const WORDS_M: f64 = 0.035;
/// Short ticks are this far apart, m; on runs longer than the next number five times that.
const TICK_M: f64 = 0.1;
const LONG_RUN_M: f64 = 6.0;
/// Lines are cut into pieces of this length, so that a bent lens bends them, m.
const PIECE_M: f64 = 0.05;
/// The ruler goes on beyond the last driven axle by this, m.
const BEYOND_M: f64 = 0.3;
/// No hall is longer; a bad fit must not draw for ever, m.
const LONGEST_M: f64 = 60.0;

/// A tick.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Tick {
    /// Distance along the aim line from where the driven axle stood at first, m.
    pub(crate) at_m: f64,
    /// Where it begins, px of the picture: at the ruler's edge.
    pub(crate) from: Vector2<f64>,
    /// Where it ends, px.
    pub(crate) to: Vector2<f64>,
    /// What stands at it.
    pub(crate) words: Option<Words>,
}

/// Words at a tick.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Words {
    pub(crate) text: String,
    /// Their middle, px of the picture.
    pub(crate) at: Vector2<f64>,
    /// How far a metre goes there, px.
    pub(crate) px_per_m: f64,
}

/// The ruler and the aim line in the picture.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct FloorRuler {
    /// The ruler's edge, px of the picture.
    pub(crate) edge: Vec<Vector2<f64>>,
    /// Its ticks.
    pub(crate) ticks: Vec<Tick>,
    /// The aim line, px; empty where the view does not show it.
    pub(crate) aim: Vec<Vector2<f64>>,
}

/// Where the ruler lies on the floor, in metres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Laid {
    /// Its zero on the aim line.
    pub(crate) zero: Vector2<f64>,
    /// Along the aim line.
    pub(crate) along: Vector2<f64>,
    /// How far it reaches, m.
    pub(crate) reach: f64,
    /// Half of the car's width, m.
    pub(crate) half: f64,
}

impl Laid {
    /// Lays the ruler for a run: from under the driven axle in the first picture to beyond that in the last. `None`
    /// without metres.
    pub(crate) fn of(story: &Story<'_>, moments: &[Moment]) -> Option<Self> {
        let measures = story.measured.as_ref().ok()?;
        measures.view.scale.as_ref().ok()?;
        let [from, to] = story.priors.aim_m;
        let along = (to - from).try_normalize(1e-6)?;
        let states = &measures.motion.body.states;
        let way = |moment: &Moment| {
            let state: &BodyState = states.get(moment.frame)?.as_ref()?;
            Some((Vector2::new(state.x_m(), state.y_m()) - from).dot(&along))
        };
        let (first, last) = (way(moments.first()?)?, way(moments.last()?)?);
        let reach = (last - first + BEYOND_M).clamp(0.0, LONGEST_M);
        let lateral = measures.view.lateral.is_ok();
        // A plain scale has no sideways: the ruler lies under the car's path.
        let zero = if lateral {
            from + along * first
        } else {
            Vector2::new(first + from.x, 0.0)
        };
        Some(Self {
            zero,
            along: if lateral { along } else { Vector2::x() },
            reach,
            half: story.priors.track_width_m.value / 2.0,
        })
    }

    /// The floor's point at a distance along the aim line and to its left, m.
    pub(super) fn floor(&self, ahead: f64, left: f64) -> Point3<f64> {
        let across = Vector2::new(-self.along.y, self.along.x);
        let place = self.zero + self.along * ahead + across * left;
        Point3::new(place.x, place.y, 0.0)
    }

    /// How far along the aim line and to its left a place of the floor is, m; undoes [`Self::floor`].
    pub(super) fn beside(&self, place: Vector2<f64>) -> Vector2<f64> {
        let off = place - self.zero;
        Vector2::new(off.dot(&self.along), self.along.perp(&off))
    }

    /// The ruler as a projection shows it.
    pub(crate) fn seen(&self, texts: &Texts, projection: &Projection) -> FloorRuler {
        let place = |ahead: f64, beside: f64| match projection {
            Projection::Pinhole(_) => {
                projection.pixel(&self.floor(ahead, self.near(projection) * beside))
            }
            // Sideways is not in such a view: the ruler's width goes down in the picture.
            Projection::Flat(_) => {
                let mut point = self.floor(ahead, 0.0);
                point.z = -(beside - self.half);
                projection.pixel(&point)
            }
        };
        let edge = self.half + BESIDE_M;
        let pieces = (self.reach / PIECE_M).ceil() as usize;
        let line = |beside: f64| -> Vec<Vector2<f64>> {
            let ways = (0..=pieces).map(|piece| (piece as f64 * PIECE_M).min(self.reach));
            ways.filter_map(|way| place(way, beside)).collect()
        };
        FloorRuler {
            edge: line(edge),
            ticks: self.ticks(texts, &place),
            aim: match projection {
                Projection::Pinhole(_) => line(0.0),
                Projection::Flat(_) => Vec::new(),
            },
        }
    }

    /// The side of the aim line that is nearer to the camera: 1 to the left.
    fn near(&self, projection: &Projection) -> f64 {
        let middle = self.reach / 2.0;
        let down = |left: f64| projection.pixel(&self.floor(middle, left)).map(|at| at.y);
        match (down(self.half), down(-self.half)) {
            (Some(left), Some(right)) if left > right => 1.0,
            _ => -1.0,
        }
    }

    fn ticks(&self, texts: &Texts, place: &dyn Fn(f64, f64) -> Option<Vector2<f64>>) -> Vec<Tick> {
        let edge = self.half + BESIDE_M;
        let coarse = if self.reach > LONG_RUN_M { 5 } else { 1 };
        // Whole numbers of ticks, so that sums do not drift.
        let last = (self.reach / TICK_M + 1e-6) as usize;
        let ticks = (0..=last).step_by(coarse).filter_map(|number| {
            let at_m = number as f64 * TICK_M;
            let long = number % (5 * coarse) == 0;
            let length = if long { LONG_M } else { SHORT_M };
            let (from, to) = (place(at_m, edge)?, place(at_m, edge + length)?);
            let beyond = place(at_m, edge + length + WORDS_M)?;
            let px_per_m = (place(at_m + 0.01, edge)? - from).norm() / 0.01;
            let words = long.then(|| Words {
                text: if number == 0 {
                    "0".to_owned()
                } else {
                    in_metres(texts, at_m)
                },
                at: beyond,
                px_per_m,
            });
            Some(Tick {
                at_m,
                from,
                to,
                words,
            })
        });
        ticks.collect()
    }
}

fn in_metres(texts: &Texts, at_m: f64) -> String {
    if (at_m - at_m.round()).abs() < 1e-6 {
        format!("{} m", texts.fixed(at_m, 0))
    } else {
        format!("{} m", texts.fixed(at_m, 1))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::camera::{Flat, Keystone};

    #[test]
    fn a_plain_scale_has_its_ticks_at_equal_distances() {
        let flat = Projection::Flat(Flat {
            keystone: Keystone::default(),
            origin_px: Vector2::new(100.0, 400.0),
            along_px_per_m: Vector2::new(420.0, 0.0),
            up_px_per_m: Vector2::new(0.0, -420.0),
            from_right: true,
        });
        let laid = Laid {
            zero: Vector2::new(0.25, 0.0),
            along: Vector2::x(),
            reach: 1.25,
            half: 0.06,
        };
        let ruler = laid.seen(Texts::english(), &flat);
        assert_eq!(ruler.ticks.len(), 13);
        assert!(
            ruler.aim.is_empty(),
            "no aim line in a view without sideways"
        );
        for tick in &ruler.ticks {
            assert!((tick.from.x - (100.0 + 420.0 * (0.25 + tick.at_m))).abs() < 1e-6);
            assert!(
                tick.from.y > 400.0 && tick.to.y > tick.from.y,
                "below the wheels"
            );
        }
        let words = ruler.ticks.iter().filter_map(|tick| tick.words.as_ref());
        let words: Vec<&str> = words.map(|words| words.text.as_str()).collect();
        assert_eq!(words, ["0", "0.5 m", "1 m"]);
    }
}

//! The run drawn into its own frames: trails, marks, aim line and heading, each where it was seen.

use super::{Mark, Sketch, inks};
use crate::camera::View;
use crate::outputs::values::FrameValues;
use crate::outputs::{Measures, Story};
use crate::track::{Place, Places};
use nalgebra::{Point3, Vector2};

/// Trails show this much of the past, s, ...
const TRAIL_S: f64 = 2.5;
/// ... in no more points than this: those of a clip of 60 frames a second.
const TRAIL_POINTS: usize = 150;
/// A place this near to the one before it, px, shows nothing new: a mark at rest would be drawn a hundred times.
const SAME_PLACE_PX: f64 = 0.5;
/// The aim line is cut into pieces of this length, so that a bent lens bends it, m.
const AIM_STEP_M: f64 = 0.05;
/// Length of the heading arrow, m.
const ARROW_M: f64 = 0.28;

/// What to draw.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shown {
    /// Marks, trails, aim line, heading.
    All,
    /// The marks alone, for small pictures.
    Marks,
}

/// What stays the same from frame to frame of a drawn run.
pub struct Scene<'a> {
    story: &'a Story<'a>,
    values: &'a [FrameValues],
    /// The aim line on the floor, where the view shows the floor.
    aim: Vec<Point3<f64>>,
}

/// Where the picture of a frame shows a point of the floor's frame. A camera that moves is asked at the
/// time at which the sensor took the row that the point is on.
pub(in crate::outputs) fn seen_in(
    story: &Story<'_>,
    view: &View,
    frame: usize,
    point: &Point3<f64>,
) -> Option<Vector2<f64>> {
    if view.moving.is_none() {
        return view.projection.pixel(point);
    }
    let begun_s = *story.track.times_s.get(frame)?;
    let readout_s = story.priors.readout_s.value;
    let middle = view.at(begun_s + 0.5 * readout_s)?.pixel(point)?;
    let clip = story.clip;
    let size = (clip.width_px, clip.height_px);
    let row = clip.turn.row_share(size, middle.x, middle.y);
    let row = row.clamp(0.0, 1.0);
    let there = view.at(begun_s + row * readout_s)?;
    there.pixel(point)
}

fn at(place: &Place) -> Vector2<f64> {
    Vector2::new(place.u_px, place.v_px)
}

impl<'a> Scene<'a> {
    /// Prepares the drawing of a run.
    pub fn new(story: &'a Story<'a>, values: &'a [FrameValues]) -> Self {
        let aim = story.measured.as_ref().map_or_else(
            |_| Vec::new(),
            |m| aim_line(story.priors.aim_m, values, m.view),
        );
        Self { story, values, aim }
    }

    /// Draws a frame. `line` is the width of a thin line, px of the sheet.
    pub fn draw(&self, sketch: &mut Sketch, frame: usize, shown: Shown, line: f64) {
        let track = self.story.track;
        if shown == Shown::All {
            self.draw_aim(sketch, frame, line);
            let wheel = self.trail(&track.wheel, frame, true);
            for piece in wheel {
                sketch.dots(&piece, Mark::WheelMark.ink(), 1.1 * line);
            }
            for piece in self.trail(&track.sticker, frame, false) {
                sketch.line(&piece, Mark::Sticker.ink(), 1.2 * line, None);
            }
            self.draw_heading(sketch, frame, line);
        }
        let marks = [
            (Mark::AxleMark, &track.axle),
            (Mark::WheelMark, &track.wheel),
            (Mark::Sticker, &track.sticker),
        ];
        for (mark, places) in marks {
            if let Some(place) = places.get(frame).and_then(Option::as_ref) {
                let radius = clear_of(place, sketch, line);
                sketch.about(at(place), mark.outline(), radius, mark.ink(), line);
            }
        }
    }

    /// Where the picture of a frame shows the start of the aim line.
    pub fn aim_start(&self, frame: usize) -> Option<Vector2<f64>> {
        let measures = self.story.measured.as_ref().ok()?;
        seen_in(self.story, measures.view, frame, self.aim.first()?)
    }

    /// Where the mark's earlier places are seen in `frame`, in pieces without gaps. With a camera that
    /// moved, each is shifted as the floor point under it was.
    fn trail(&self, places: &Places, frame: usize, on_wheel: bool) -> Vec<Vec<Vector2<f64>>> {
        let times = &self.story.track.times_s;
        let now_s = times.get(frame).copied().unwrap_or_default();
        let frames: Vec<usize> = (0..=frame.min(places.len().saturating_sub(1)))
            .rev()
            .take_while(|&f| now_s - times.get(f).copied().unwrap_or(now_s) <= TRAIL_S)
            .collect();
        let step = frames.len().div_ceil(TRAIL_POINTS).max(1);
        let mut pieces: Vec<Vec<Vector2<f64>>> = vec![Vec::new()];
        for &past in frames.iter().rev().step_by(step) {
            let seen = places[past]
                .as_ref()
                .and_then(|p| Some(at(p) + self.shift(past, frame, on_wheel)?));
            match (seen, pieces.last_mut()) {
                (Some(seen), Some(piece)) => {
                    let same = |last: &Vector2<f64>| (seen - last).norm() < SAME_PLACE_PX;
                    if !piece.last().is_some_and(same) {
                        piece.push(seen);
                    }
                }
                (None, Some(piece)) if !piece.is_empty() => pieces.push(Vec::new()),
                _ => {}
            }
        }
        pieces
    }

    /// How far the picture of what was at a mark's place in `past` has moved since; `None` where the
    /// camera moved and how far is not known.
    fn shift(&self, past: usize, now: usize, on_wheel: bool) -> Option<Vector2<f64>> {
        if past == now || self.story.track.floor_paths.is_empty() {
            return Some(Vector2::zeros());
        }
        let measures = self.story.measured.as_ref().ok()?;
        measures.view.moving.as_ref()?;
        let point = self.carried(measures, past, on_wheel)?;
        let seen = |frame: usize| seen_in(self.story, measures.view, frame, &point);
        Some(seen(now)? - seen(past)?)
    }

    /// Where the sticker, or the hub of the marked wheel, was on the floor's frame.
    fn carried(&self, measures: &Measures<'_>, frame: usize, hub: bool) -> Option<Point3<f64>> {
        let body = measures.motion.body.states.get(frame)?.as_ref()?;
        let car = self.story.priors.car_geometry();
        let (x, y, heading) = (body.x_m(), body.y_m(), body.heading_rad());
        Some(if hub {
            car.hub(x, y, heading)
        } else {
            car.sticker(x, y, heading)
        })
    }

    fn draw_aim(&self, sketch: &mut Sketch, frame: usize, line: f64) {
        let Ok(measures) = &self.story.measured else {
            return;
        };
        let on_picture = |point| seen_in(self.story, measures.view, frame, point);
        let seen: Vec<Vector2<f64>> = self.aim.iter().filter_map(on_picture).collect();
        let dash = [(7.0 * line) as f32, (5.0 * line) as f32];
        sketch.line(&seen, inks::AIM, line, Some(dash));
    }

    /// An arrow on the floor from the driven axle along the heading.
    fn draw_heading(&self, sketch: &mut Sketch, frame: usize, line: f64) {
        let Ok(measures) = &self.story.measured else {
            return;
        };
        let values = self.values.get(frame).copied().unwrap_or_default();
        let (Some(x), Some(y), Some(heading)) = (values.x_m, values.y_m, values.heading_rad) else {
            return;
        };
        let (sin, cos) = heading.sin_cos();
        let on_floor = |ahead: f64, left: f64| {
            let (ahead, left) = (ahead * cos - left * sin, ahead * sin + left * cos);
            let point = Point3::new(x + ahead, y + left, 0.0);
            seen_in(self.story, measures.view, frame, &point)
        };
        let neck = 0.72 * ARROW_M;
        let half = 0.09 * ARROW_M;
        let tail = on_floor(0.0, 0.0).zip(on_floor(neck, 0.0));
        let head = [(ARROW_M, 0.0), (neck, half * 1.6), (neck, -half * 1.6)];
        let head: Option<Vec<_>> = head.iter().map(|&(a, l)| on_floor(a, l)).collect();
        if let (Some((from, to)), Some(head)) = (tail, head) {
            sketch.line(&[from, to], inks::PAPER, 1.4 * line, None);
            sketch.shape(&head, inks::PAPER);
        }
    }
}

/// Radius of an outline that leaves the mark itself free, px of the sheet.
fn clear_of(place: &Place, sketch: &Sketch, line: f64) -> f64 {
    let mark = (place.area_px2.max(1.0) / std::f64::consts::PI).sqrt();
    (mark * sketch.placement.scale + 2.5 * line).max(4.0 * line)
}

/// The aim line from its start to where the car got to, or to its end if that is farther.
fn aim_line(aim_m: [Vector2<f64>; 2], values: &[FrameValues], view: &View) -> Vec<Point3<f64>> {
    if view.lateral.is_err() {
        return Vec::new();
    }
    let whole = aim_m[1] - aim_m[0];
    let length = whole.norm();
    if length < 1e-6 {
        return Vec::new();
    }
    let along = whole / length;
    let reach = values
        .iter()
        .filter_map(|v| Some((Vector2::new(v.x_m?, v.y_m?) - aim_m[0]).dot(&along)))
        .fold(length, f64::max);
    // No hall is longer than this; a bad fit must not draw for ever.
    let steps = (reach.min(100.0) / AIM_STEP_M).ceil() as usize;
    (0..=steps)
        .map(|step| {
            let point = aim_m[0] + along * (step as f64 * AIM_STEP_M).min(reach);
            Point3::new(point.x, point.y, 0.0)
        })
        .collect()
}

//! The same picture as from straight above: each pixel of the floor taken from where the camera saw it.

use super::Exposure;
use super::stack::BLANK;
use super::ticks::Laid;
use crate::camera::{Pinhole, Projection};
use crate::outputs::Story;
use crate::outputs::film::lay_over;
use crate::outputs::sketch::{Placement, Sketch, inks};
use image::{Rgb, RgbImage};
use imageproc::geometric_transformations::{Border, Interpolation, warp_into_with};
use nalgebra::{Point3, Vector2};

/// Width of the picture, px: 11 cm at 300 dots an inch.
const WIDTH_PX: u32 = 1320;
/// Floor shown behind the start and beyond the end, and to each side of the path, m.
const ROOM_M: f64 = 0.28;
const SIDE_M: f64 = 0.16;
/// A car is shown to its top where it leans by no more than this, m.
const MOST_LEAN_M: f64 = 0.3;
/// Height of the picture at most, as a share of its width; what is farther off line is cut.
const MOST_SHARE: f64 = 0.62;
/// A line of the grid every so many metres.
const GRID_M: f64 = 0.5;
/// Width of a thin line, px.
const LINE_PX: f64 = 2.2;

/// Outside every picture.
const NOWHERE: f32 = -1e6;

/// The floor from above.
#[derive(Debug, Clone)]
pub(super) struct FromAbove {
    pub(super) picture: RgbImage,
}

/// A part of the floor as a picture: x along the aim line to the right, left of it upwards.
#[derive(Debug, Clone, Copy)]
struct Plan {
    laid: Laid,
    /// Where the picture's upper left corner lies: along the line, and to its left, m.
    corner: Vector2<f64>,
    px_per_m: f64,
    height: u32,
}

impl Plan {
    fn of(laid: Laid, path: &[Vector2<f64>], tops: &[Vector2<f64>]) -> Self {
        let ways = path.iter().chain(tops).map(|at| at.y);
        let (least, most) = ways.fold((0.0_f64, 0.0_f64), |(least, most), left| {
            (least.min(left), most.max(left))
        });
        let wide = laid.reach + 2.0 * ROOM_M;
        let px_per_m = f64::from(WIDTH_PX) / wide;
        let tall = (most - least + 2.0 * (SIDE_M + laid.half)).min(MOST_SHARE * wide);
        let middle = f64::midpoint(least, most);
        Self {
            laid,
            corner: Vector2::new(-ROOM_M, middle + tall / 2.0),
            px_per_m,
            height: (tall * px_per_m).round().max(1.0) as u32,
        }
    }

    /// The floor's point under the middle of a pixel, counted from the ruler's zero.
    fn floor(&self, x: f64, y: f64) -> Point3<f64> {
        let ahead = self.corner.x + (x + 0.5) / self.px_per_m;
        let left = self.corner.y - (y + 0.5) / self.px_per_m;
        self.laid.floor(ahead, left)
    }

    /// Where a place, along the line and to its left, lies in the picture (by pixels' centres).
    fn pixel(&self, at: Vector2<f64>) -> Vector2<f64> {
        Vector2::new(
            (at.x - self.corner.x) * self.px_per_m - 0.5,
            (self.corner.y - at.y) * self.px_per_m - 0.5,
        )
    }
}

/// The run from above; `None` where the view does not show where on the floor things are.
pub(super) fn from_above(story: &Story<'_>, exposure: &Exposure, laid: Laid) -> Option<FromAbove> {
    let measures = story.measured.as_ref().ok()?;
    measures.view.lateral.as_ref().ok()?;
    let projection = exposure.raster.projection.as_ref()?;
    let Projection::Pinhole(camera) = projection else {
        return None;
    };
    let path = path(story, &laid, exposure);
    let tops = tops(&path, &laid, camera, story.priors.sticker_height_m.value);
    let plan = Plan::of(laid, &path, &tops);
    let composed = exposure.composed();
    let mut picture = RgbImage::new(WIDTH_PX, plan.height);
    let seen_at = |x: f32, y: f32| {
        let seen = exposure.raster.shows(&plan.floor(x.into(), y.into()));
        seen.map_or((NOWHERE, NOWHERE), |at| (at.x as f32, at.y as f32))
    };
    let blank = Border::Constant(Rgb(BLANK));
    warp_into_with(
        &composed,
        seen_at,
        Interpolation::Bilinear,
        blank,
        &mut picture,
    );
    let mut sketch = Sketch::new(WIDTH_PX, plan.height, Placement::WHOLE)?;
    draw(&mut sketch, &plan, &path, exposure, story);
    lay_over(&mut picture, &sketch);
    Some(FromAbove { picture })
}

/// Where the car's top is seen on the floor: it leans away from the camera.
fn tops(path: &[Vector2<f64>], laid: &Laid, camera: &Pinhole, top_m: f64) -> Vec<Vector2<f64>> {
    let foot = laid.beside(camera.position_m.coords.xy());
    let lean = (top_m / (camera.position_m.z - top_m).max(top_m)).min(1.0);
    (path.iter())
        .map(|at| at + ((at - foot) * lean).cap_magnitude(MOST_LEAN_M))
        .collect()
}

/// Where the driven axle's middle went, along the line and to its left, m.
fn path(story: &Story<'_>, laid: &Laid, exposure: &Exposure) -> Vec<Vector2<f64>> {
    let frames = exposure.shown.first().zip(exposure.shown.last());
    let (Ok(measures), Some((first, last))) = (&story.measured, frames) else {
        return Vec::new();
    };
    let states = &measures.motion.body.states;
    (first.moment.frame..=last.moment.frame)
        .filter_map(|frame| {
            let state = states.get(frame)?.as_ref()?;
            Some(laid.beside(Vector2::new(state.x_m(), state.y_m())))
        })
        .collect()
}

fn draw(
    sketch: &mut Sketch,
    plan: &Plan,
    path: &[Vector2<f64>],
    exposure: &Exposure,
    story: &Story<'_>,
) {
    let wide = plan.laid.reach + ROOM_M;
    let low = plan.corner.y - f64::from(plan.height) / plan.px_per_m;
    let line = |from: (f64, f64), to: (f64, f64)| {
        [from, to].map(|(ahead, left)| plan.pixel(Vector2::new(ahead, left)))
    };
    let grid = inks::PAPER.faded(150);
    let letter = 26.0;
    let lines = (plan.laid.reach / GRID_M + 1e-6) as usize;
    for number in 0..=lines {
        let ahead = number as f64 * GRID_M;
        sketch.line(
            &line((ahead, low), (ahead, plan.corner.y)),
            grid,
            0.7 * LINE_PX,
            None,
        );
        let at = plan.pixel(Vector2::new(ahead, low));
        let words = if number == 0 {
            "0".to_owned()
        } else {
            format!("{} m", story.texts().marked(&ahead.to_string()))
        };
        super::picture::edged(
            sketch,
            Vector2::new(at.x + 8.0, at.y - 10.0),
            letter,
            &words,
        );
    }
    let dash = Some([18.0, 14.0]);
    sketch.line(&line((0.0, 0.0), (wide, 0.0)), inks::AIM, LINE_PX, dash);
    let path: Vec<Vector2<f64>> = path.iter().map(|at| plan.pixel(*at)).collect();
    sketch.line(&path, inks::STICKER, 1.3 * LINE_PX, None);
    let Ok(measures) = &story.measured else {
        return;
    };
    let axles: Vec<Vector2<f64>> = (exposure.shown.iter())
        .filter_map(|shown| {
            let state = measures
                .motion
                .body
                .states
                .get(shown.moment.frame)?
                .as_ref()?;
            let at = plan.laid.beside(Vector2::new(state.x_m(), state.y_m()));
            Some(plan.pixel(at))
        })
        .collect();
    sketch.dots(&axles, inks::STICKER, 3.2 * LINE_PX);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_of_the_floor_and_of_the_picture_lead_back() {
        let laid = Laid {
            zero: Vector2::new(0.3, 0.1),
            along: Vector2::new(0.8, 0.6),
            reach: 2.0,
            half: 0.06,
        };
        let plan = Plan::of(laid, &[Vector2::zeros(), Vector2::new(2.0, 0.4)], &[]);
        for at in [Vector2::new(0.0, 0.0), Vector2::new(1.5, -0.2)] {
            let pixel = plan.pixel(at);
            let floor = plan.floor(pixel.x, pixel.y);
            // Along (0.8, 0.6), left of it (-0.6, 0.8).
            let x = 0.3 + 0.8 * at.x - 0.6 * at.y;
            let y = 0.1 + 0.6 * at.x + 0.8 * at.y;
            assert!((floor - Point3::new(x, y, 0.0)).norm() < 1e-9, "{floor}");
            assert!((laid.beside(Vector2::new(x, y)) - at).norm() < 1e-9);
        }
    }
}

//! The four floor marks for the corners of the plan.

use super::{heading, ticks};
use crate::kit::canvas::{Anchor, At, CUT, Canvas, SOFT, TEAL, Type, WHITE};
use crate::kit::patch_rgb;
use crate::sheet::kit::{FLOOR_MARK, FLOOR_MARK_DIAMETER_MM, FLOOR_PLAN_MM, floor_mark_name};

/// Side of the square to cut out, mm.
pub(super) const SIDE_MM: f32 = 92.0;

/// What each mark of the plan is called, in the order of [`FLOOR_PLAN_MM`].
pub(super) const NAMES: [&str; 6] = [
    "start, right of the line",
    "far end, right of the line",
    "far end, left of the line",
    "start, left of the line",
    "half-way, right of the line",
    "half-way, left of the line",
];

pub(super) fn draw(canvas: &mut Canvas<'_, '_>) {
    heading(canvas, 3, "Floor marks for the four corners");
    canvas.paragraph(
        (0.0, 20.0),
        crate::kit::WIDTH_MM,
        "Cut along the dashes and tape flat to the floor by the corners of the paper, tape off the blue. The plan \
         is on page 4. Left and right are as seen by the car.",
        Type::plain(3.2),
    );
    let right = crate::kit::WIDTH_MM - SIDE_MM;
    for (index, corner) in [(0.0, 32.0), (right, 32.0), (0.0, 148.0), (right, 148.0)]
        .into_iter()
        .enumerate()
    {
        mark(canvas, corner, index);
    }
}

/// One floor mark with its words below the cut.
pub(super) fn mark(canvas: &mut Canvas<'_, '_>, corner: At, index: usize) {
    let centre = (corner.0 + SIDE_MM / 2.0, corner.1 + SIDE_MM / 2.0);
    let radius = FLOOR_MARK_DIAMETER_MM as f32 / 2.0;
    canvas.frame(corner, SIDE_MM, SIDE_MM, CUT);
    canvas.disc(centre, 2.0 * radius, patch_rgb(FLOOR_MARK));
    ticks(canvas, centre, radius + 0.8, SIDE_MM / 2.0);
    canvas.disc(centre, 1.6, WHITE);
    let [x_mm, y_mm] = FLOOR_PLAN_MM[index];
    let name = floor_mark_name(index + 1);
    let below = corner.1 + SIDE_MM;
    canvas.words(
        (corner.0, below + 8.5),
        &name,
        Type::bold(8.0).in_ink(TEAL),
        Anchor::Left,
    );
    let first = format!("{FLOOR_MARK}: {}", NAMES[index]);
    canvas.words(
        (corner.0 + 14.0, below + 5.0),
        &first,
        Type::bold(3.4),
        Anchor::Left,
    );
    let second = format!("x = {x_mm:.0} mm, y = {y_mm:.0} mm, disc {FLOOR_MARK_DIAMETER_MM:.0} mm");
    canvas.words(
        (corner.0 + 14.0, below + 9.4),
        &second.replace('-', "\u{2212}"),
        Type::plain(3.0).in_ink(SOFT),
        Anchor::Left,
    );
}

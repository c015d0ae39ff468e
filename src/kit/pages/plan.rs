//! The floor plan with its measures, how to lay it, and the two marks that may be left out.

use super::{floor, heading};
use crate::kit::canvas::{Anchor, At, Canvas, HAIR, INK, Pen, SOFT, TEAL, Type, WASH, WHITE};
use crate::kit::{WIDTH_MM, patch_rgb};
use crate::sheet::kit::{
    FLOOR_MARK, FLOOR_PLAN_LENGTH_MM, FLOOR_PLAN_MM, FLOOR_PLAN_WIDTH_MM, floor_mark_name,
    floor_plan_diagonal_mm,
};

/// Millimetres of the page for one of the floor.
const SCALE: f32 = 0.058;
/// Where the start, x = y = 0, lies on the page.
const START: At = (36.0, 52.0);

pub(super) fn draw(canvas: &mut Canvas<'_, '_>) {
    heading(canvas, 4, "Floor plan");
    plan(canvas);
    steps(canvas, 98.0);
    for (index, x) in [(4, 0.0), (5, WIDTH_MM - floor::SIDE_MM)] {
        floor::mark(canvas, (x, 155.0), index);
    }
    canvas.paragraph(
        (0.0, 151.0),
        WIDTH_MM,
        "Marks F5 and F6, half-way, may be left out: six marks hold more than four when the car hides one.",
        Type::plain(3.0).in_ink(SOFT),
    );
}

/// A place of the floor, mm, on the page: x to the right, y up.
fn on_page([x_mm, y_mm]: [f64; 2]) -> At {
    (START.0 + SCALE * x_mm as f32, START.1 - SCALE * y_mm as f32)
}

fn plan(canvas: &mut Canvas<'_, '_>) {
    let places = FLOOR_PLAN_MM.map(on_page);
    let [a, b, c, d, _, half_left] = places;
    canvas.rectangle((0.0, 20.0), WIDTH_MM, 70.0, WASH);
    canvas.area(&[a, b, c, d], WHITE);
    canvas.outline(&[a, b, c, d], Pen::new(HAIR, 0.35));
    canvas.line(&[a, c], Pen::dashed(HAIR, 0.3, [2.0, 1.4]));
    canvas.line(&[b, d], Pen::dashed(HAIR, 0.3, [2.0, 1.4]));
    aim_line(canvas);
    numbered_marks(canvas, places);
    lengths(canvas, [a, b], [d, half_left]);
    width(canvas, b, c);
    diagonals(canvas);
    canvas.words(
        (3.0, 87.0),
        "The camera stands on the side of marks F1, F5 and F2 when it looks at the car\u{2019}s right side. Drawn 1 : 17.",
        Type::plain(2.9).in_ink(SOFT),
        Anchor::Left,
    );
}

fn aim_line(canvas: &mut Canvas<'_, '_>) {
    let end = on_page([FLOOR_PLAN_LENGTH_MM + 330.0, 0.0]);
    canvas.arrow((START.0 - 8.0, START.1), end, Pen::new(TEAL, 0.6));
    let aim = Type::bold(3.2).in_ink(TEAL);
    canvas.words((end.0 + 1.5, end.1 - 1.2), "aim line", aim, Anchor::Left);
    canvas.words((end.0 + 1.5, end.1 + 3.2), "(x)", aim, Anchor::Left);
    canvas.paragraph(
        (3.0, START.1 - 3.0),
        23.5,
        "start: driven axle over the line from F1 to F4",
        Type::bold(3.0).in_ink(TEAL),
    );
}

fn numbered_marks(canvas: &mut Canvas<'_, '_>, places: [At; 6]) {
    let inside = Type::bold(3.2).in_ink(WHITE);
    for (index, at) in places.into_iter().enumerate() {
        canvas.disc(at, 7.0, patch_rgb(FLOOR_MARK));
        canvas.words(
            (at.0, at.1 + 1.2),
            &floor_mark_name(index + 1),
            inside,
            Anchor::Middle,
        );
    }
}

/// The whole length below the plan, half of it above.
fn lengths(canvas: &mut Canvas<'_, '_>, whole: [At; 2], half: [At; 2]) {
    let pen = Pen::new(INK, 0.3);
    for ([from, to], y, mm) in [
        (whole, whole[0].1 + 9.0, FLOOR_PLAN_LENGTH_MM),
        (half, half[0].1 - 7.5, FLOOR_PLAN_LENGTH_MM / 2.0),
    ] {
        canvas.size((from.0, y), (to.0, y), &format!("{mm:.0} mm"), pen);
    }
}

/// The width beyond the far marks.
fn width(canvas: &mut Canvas<'_, '_>, near: At, far: At) {
    let pen = Pen::new(INK, 0.3);
    let right = near.0 + 9.0;
    canvas.arrow((right, START.1 + 6.0), (right, near.1), pen);
    canvas.arrow((right, START.1 - 6.0), (right, far.1), pen);
    canvas.words(
        (right + 2.0, far.1 + 5.0),
        &format!("{FLOOR_PLAN_WIDTH_MM:.0} mm"),
        Type::bold(3.2),
        Anchor::Left,
    );
}

fn diagonals(canvas: &mut Canvas<'_, '_>) {
    let words = format!("diagonals {:.0} mm", floor_plan_diagonal_mm());
    let quarter = on_page([1440.0, 165.0]);
    canvas.rectangle((quarter.0 - 18.0, quarter.1 - 3.6), 36.0, 5.0, WHITE);
    let soft = Type::bold(3.2).in_ink(SOFT);
    canvas.words(quarter, &words, soft, Anchor::Middle);
}

fn steps(canvas: &mut Canvas<'_, '_>, top: f32) {
    let left = [
        "Stretch a string or a strip of tape along the floor: the aim line. Mark the start on it, and a place \
         2000 mm ahead.",
        "At both places lay a mark 300 mm to each side, the tape measure square across the line.",
    ];
    let diagonal = format!(
        "Measure both diagonals: {:.0} mm each, within 5 mm of each other. If they differ, shift the far pair \
         sideways, both marks alike.",
        floor_plan_diagonal_mm()
    );
    let right = [
        diagonal.as_str(),
        "Measure from the white dot of one mark to that of the next, to the millimetre. Other measures serve as \
         well: write them on the run sheet under [[floor_mark]]. The kit\u{2019}s are taken only where nothing \
         is written.",
    ];
    let wide = WIDTH_MM / 2.0 - 5.0;
    for (texts, x, numbers) in [
        (left, 0.0, ["1", "2"]),
        (right, WIDTH_MM / 2.0 + 5.0, ["3", "4"]),
    ] {
        let mut y = top;
        for (text, number) in texts.iter().zip(numbers) {
            y = canvas.step((x, y), wide, number, text);
        }
    }
}

//! What to print, what goes where on the car, and the five sizes to measure.

use super::{cautions, heading};
use crate::kit::canvas::{Anchor, At, Canvas, INK, Pen, SOFT, TEAL, Type};
use crate::kit::{BAR_MM, WIDTH_MM, car};
use crate::sheet::kit::{
    AXLE_MARK_LETTER, END_STICKER_LETTER, FIVE_SIZES, STICKER_LETTER, WHEEL_MARK_LETTER,
};

pub(super) fn draw(canvas: &mut Canvas<'_, '_>) {
    heading(canvas, 1, "From this page to a verdict");
    bar(canvas, (0.0, 23.0));
    marks(canvas);
    steps(canvas, 153.0);
    cautions(
        canvas,
        229.0,
        30.0,
        &[
            "The rules of your school or club and the grown-up in charge come first.",
            "Spring: a trap spring can break a finger and throw parts at eyes. Hold it by its base, work with it \
             unwound, wear glasses, keep faces and hands out of the arm's way, and wind it only at the start line.",
            "Cutting: scissors, or a blade on a mat and away from the hand. Glue, hot glue and solvents: as the \
             label says, in fresh air, hot nozzles away from skin. A glue stick or tape is enough for every mark.",
        ],
    );
}

/// The bar that shows whether the printer kept the scale.
fn bar(canvas: &mut Canvas<'_, '_>, (x, y): At) {
    let pen = Pen::new(INK, 0.4);
    canvas.rectangle((x, y), BAR_MM, 3.0, INK);
    for tick in 0..=10_u8 {
        // The outer ticks' lines lie within the bar, so that its ends are its length apart.
        let at = (x + BAR_MM * f32::from(tick) / 10.0).clamp(x + 0.2, x + BAR_MM - 0.2);
        canvas.line(&[(at, y + 3.0), (at, y + 5.0)], pen);
    }
    let small = Type::plain(2.7).in_ink(SOFT);
    canvas.words((x, y + 8.2), "0", small, Anchor::Left);
    canvas.words((x + BAR_MM / 2.0, y + 8.2), "50", small, Anchor::Middle);
    canvas.words((x + BAR_MM, y + 8.2), "100 mm", small, Anchor::Middle);
    let right = x + BAR_MM + 10.0;
    let wide = WIDTH_MM - right;
    let next = canvas.paragraph(
        (right, y + 1.5),
        wide,
        "Check the printer first",
        Type::bold(3.6),
    );
    canvas.paragraph(
        (right, next + 0.3),
        wide,
        "Print in colour at 100 % (\u{201c}actual size\u{201d}), no \u{201c}fit to page\u{201d}. This bar must \
         be 100 mm long on the ruler. If not, print again.",
        Type::plain(3.2),
    );
}

/// Where the cars of the drawing stand.
const FLOOR: f32 = 128.0;
/// Where the sizes along the floor are drawn.
const BELOW: f32 = FLOOR + 9.0;
/// A size and what it is called.
const SIZE_PEN: Pen = Pen::new(TEAL, 0.3);
const SIZE_TYPE: Type = Type::bold(3.2).in_ink(TEAL);
/// From what is measured to its size.
const GUIDE: Pen = Pen::dashed(TEAL, 0.2, [1.0, 1.0]);

/// The car with its marks and sizes.
fn marks(canvas: &mut Canvas<'_, '_>) {
    canvas.line(&[(0.0, FLOOR), (WIDTH_MM, FLOOR)], Pen::new(SOFT, 0.3));
    let side = car::from_the_side(canvas, (44.0, FLOOR), 0.34);
    names(canvas, &side);
    let [diameter, wheelbase, track_width, height, side_offset] = FIVE_SIZES.map(|size| size.name);
    wheel_diameter(canvas, &side, diameter);
    size_below(canvas, [side.hub.0, side.front_hub.0], wheelbase);
    sticker_height(canvas, &side, height);
    from_behind(canvas, track_width, side_offset);
}

/// What each mark is called and where it goes.
fn names(canvas: &mut Canvas<'_, '_>, side: &car::Parts) {
    let mut callout = |to, at, letter, first, second| {
        callout(canvas, to, at, &format!("{letter}  {first}"), second);
    };
    callout(
        side.sticker,
        (98.0, 50.0),
        STICKER_LETTER,
        "body sticker: magenta",
        "upright, facing the camera",
    );
    callout(
        side.wheel_mark,
        (50.0, 50.0),
        WHEEL_MARK_LETTER,
        "wheel mark: green",
        "near the rim, camera\u{2019}s side",
    );
    callout(
        side.axle_mark,
        (50.0, 62.0),
        AXLE_MARK_LETTER,
        "axle mark: orange",
        "optional, on the axle\u{2019}s end",
    );
    callout(
        side.end_sticker,
        (0.0, 50.0),
        END_STICKER_LETTER,
        "end sticker: cyan",
        "only for a second phone behind",
    );
}

/// A size along the floor, with guides down to it.
fn size_below(canvas: &mut Canvas<'_, '_>, ends: [f32; 2], name: &str) {
    for x in ends {
        canvas.line(&[(x, FLOOR), (x, BELOW + 1.5)], GUIDE);
    }
    canvas.size((ends[0], BELOW), (ends[1], BELOW), name, SIZE_PEN);
}

fn wheel_diameter(canvas: &mut Canvas<'_, '_>, side: &car::Parts, name: &str) {
    let left = side.hub.0 - side.wheel_radius - 8.0;
    let top = FLOOR - 2.0 * side.wheel_radius;
    canvas.line(&[(left - 1.5, top), (side.hub.0, top)], GUIDE);
    canvas.arrow((left, FLOOR - 10.0), (left, top), SIZE_PEN);
    canvas.arrow((left, top + 10.0), (left, FLOOR), SIZE_PEN);
    canvas.paragraph((0.0, FLOOR - 18.5), 18.0, name, SIZE_TYPE);
}

fn sticker_height(canvas: &mut Canvas<'_, '_>, side: &car::Parts, name: &str) {
    let (x, y) = side.sticker;
    let right = side.front_hub.0 + 16.5;
    canvas.line(
        &[(x + side.sticker_radius + 2.0, y), (right + 1.5, y)],
        GUIDE,
    );
    canvas.arrow((right, FLOOR - 15.0), (right, y), SIZE_PEN);
    canvas.arrow((right, y + 15.0), (right, FLOOR), SIZE_PEN);
    let at = (right + 1.5, FLOOR - 20.0);
    canvas.paragraph(at, 14.0, name, SIZE_TYPE);
}

/// The same car from behind, with its track width and how far the sticker is from its middle.
fn from_behind(canvas: &mut Canvas<'_, '_>, track_width: &str, side_offset: &str) {
    let middle = 171.0;
    let behind = car::from_behind(canvas, (middle, FLOOR), 0.28);
    size_below(canvas, behind.faces, track_width);
    let high = behind.top - 5.5;
    for (x, foot) in [(middle, behind.top - 0.8), behind.side_sticker] {
        canvas.line(&[(x, foot), (x, high - 1.5)], GUIDE);
    }
    canvas.arrow((middle + 5.0, high), (middle, high), SIZE_PEN);
    let edge = behind.side_sticker.0;
    canvas.arrow((middle + 5.0, high), (edge, high), SIZE_PEN);
    let name = side_offset.replace('\'', "\u{2019}");
    canvas.words((WIDTH_MM, high - 2.6), &name, SIZE_TYPE, Anchor::Right);
    let small = Type::plain(2.7).in_ink(SOFT);
    canvas.words(
        (middle, high - 8.5),
        "the same car from behind",
        small,
        Anchor::Middle,
    );
}

/// Words with a line to what they are about.
fn callout(canvas: &mut Canvas<'_, '_>, to: At, at: At, first: &str, second: &str) {
    let from = (at.0 + if to.0 > at.0 { 14.0 } else { 0.5 }, at.1 + 5.3);
    canvas.line(&[from, to], Pen::new(INK, 0.25));
    canvas.disc(to, 1.2, INK);
    canvas.words(at, first, Type::bold(3.3), Anchor::Left);
    canvas.words(
        (at.0, at.1 + 4.0),
        second,
        Type::plain(2.9).in_ink(SOFT),
        Anchor::Left,
    );
}

fn steps(canvas: &mut Canvas<'_, '_>, top: f32) {
    let left = [
        "Cut out the patches of page 2 with their white margin. Stick A and B on the car, as large as they fit: \
         flat, matt, no clear tape over them.",
        "Measure the five sizes in the drawing, in millimetres.",
        "Lay the blue floor marks, F1 to F6 on pages 3 and 4, with a tape measure.",
    ];
    let right = [
        "Film as page 5 says, first a test shot of the car at rest:",
        "See whether the clip is good enough:",
        "Point at the marks and type the five sizes, then measure:",
    ];
    let commands = [
        None,
        Some("gripline check CLIP"),
        Some("gripline setup CLIP --sheet run.toml"),
    ];
    let wide = WIDTH_MM / 2.0 - 5.0;
    let mut y = top;
    for (step, number) in left.iter().zip(["1", "2", "3"]) {
        y = canvas.step((0.0, y), wide, number, step);
    }
    y = top;
    for ((step, number), command) in right.iter().zip(["4", "5", "6"]).zip(commands) {
        y = canvas.step((WIDTH_MM / 2.0 + 5.0, y), wide, number, step);
        if let Some(command) = command {
            canvas.words(
                (WIDTH_MM / 2.0 + 12.0, y - 0.6),
                command,
                Type::bold(3.2).in_ink(TEAL),
                Anchor::Left,
            );
            y += 5.4;
        }
    }
    let note = "A run sheet of the five sizes does as well as step 6: the kit's colours and its floor plan are what the \
                tool takes where the sheet names none and the clip shows them. To have the string checked as well, measure its \
                length, its thickness (ten turns side by side, divided by ten) and the bare axle\u{2019}s diameter.";
    canvas.paragraph(
        (0.0, top + 52.0),
        WIDTH_MM,
        note,
        Type::plain(3.0).in_ink(SOFT),
    );
}

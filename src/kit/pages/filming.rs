//! The filming card: where to stand, how to set the phone, and how fast a wheel it can follow.

use super::{cautions, heading};
use crate::kit::canvas::{Anchor, Canvas, HAIR, INK, Pen, SOFT, TEAL, Type, WASH};
use crate::kit::{WIDTH_MM, car, patch_rgb};
use crate::sheet::kit::{FLOOR_MARK, FLOOR_PLAN_MM};

pub(super) fn draw(canvas: &mut Canvas<'_, '_>) {
    heading(canvas, 5, "Filming card");
    from_above(canvas);
    from_the_side(canvas);
    lists(canvas, 96.0);
    table(canvas, 186.0);
    cautions(
        canvas,
        242.0,
        17.0,
        &[
            "Nobody stands ahead of the car or over it. Wind the spring last, with eyes covered and fingers away from \
             the arm; let go from behind. A car that will not start is unwound before anyone looks at it.",
        ],
    );
}

const CARD_WIDE: f32 = 92.0;

/// Where the phone stands, from above.
fn from_above(canvas: &mut Canvas<'_, '_>) {
    canvas.rectangle((0.0, 18.0), CARD_WIDE, 70.0, WASH);
    canvas.words((3.0, 24.0), "From above", Type::bold(3.6), Anchor::Left);
    let scale = 0.0165;
    let (x0, y0) = (29.5, 35.0);
    let at = |x_mm: f32, y_mm: f32| (x0 + scale * x_mm, y0 - scale * y_mm);
    let phone = at(1000.0, -2950.0);
    let wedge = [phone, at(-540.0, 340.0), at(2540.0, 340.0)];
    canvas.area(&wedge, [219, 232, 236]);
    canvas.outline(&wedge, Pen::dashed(HAIR, 0.25, [1.6, 1.2]));
    canvas.arrow(at(-250.0, 0.0), at(2350.0, 0.0), Pen::new(TEAL, 0.5));
    for [x_mm, y_mm] in FLOOR_PLAN_MM {
        canvas.disc(at(x_mm as f32, y_mm as f32), 2.2, patch_rgb(FLOOR_MARK));
    }
    canvas.rectangle(at(-40.0, 70.0), 4.4, 2.3, INK);
    canvas.rectangle((phone.0 - 2.6, phone.1), 5.2, 1.4, INK);
    let middle = at(1000.0, 0.0).1;
    canvas.size(
        (phone.0, middle + 1.0),
        (phone.0, phone.1 - 0.5),
        "3 m",
        Pen::new(INK, 0.3),
    );
    let small = Type::plain(2.7);
    canvas.words(
        (phone.0 + 5.0, phone.1 + 1.2),
        "phone, level with the middle",
        small,
        Anchor::Left,
    );
    canvas.paragraph(
        (3.0, 42.0),
        20.0,
        "whole plan in the picture, and a little more",
        small.in_ink(SOFT),
    );
    canvas.words(
        (at(2390.0, 0.0).0, y0 + 1.0),
        "aim line",
        small.in_ink(TEAL),
        Anchor::Left,
    );
}

/// How high it stands, from the side.
fn from_the_side(canvas: &mut Canvas<'_, '_>) {
    let left = WIDTH_MM - CARD_WIDE;
    canvas.rectangle((left, 18.0), CARD_WIDE, 70.0, WASH);
    canvas.words(
        (left + 3.0, 24.0),
        "From behind the start",
        Type::bold(3.6),
        Anchor::Left,
    );
    let floor = 76.0;
    canvas.line(
        &[(left + 3.0, floor), (left + CARD_WIDE - 3.0, floor)],
        Pen::new(INK, 0.4),
    );
    let foot = (left + CARD_WIDE - 11.0, floor);
    let high = 24.0;
    car::phone_on_books(canvas, foot, high);
    let lens = (foot.0 - 1.5, floor - high - 4.4);
    let (near, far) = (left + 42.0, left + 10.0);
    for x in [near, far] {
        canvas.line(&[lens, (x, floor)], Pen::dashed(HAIR, 0.3, [1.8, 1.2]));
        canvas.rectangle((x - 2.6, floor - 0.7), 5.2, 0.7, patch_rgb(FLOOR_MARK));
    }
    car::from_behind(canvas, (left + 31.0, floor), 0.06);
    let pen = Pen::new(INK, 0.3);
    canvas.size((left + 63.0, floor), (left + 63.0, lens.1), "0.8 m", pen);
    let small = Type::plain(2.7);
    canvas.paragraph(
        (left + 36.0, 31.0),
        54.0,
        "Lens at table height or above: it must see the far row of marks \
        over the car, and every mark as a disc, not as a line.",
        small.in_ink(SOFT),
    );
    canvas.words(
        (left + CARD_WIDE - 2.0, floor + 9.0),
        "tripod, or books and a clamp",
        small,
        Anchor::Right,
    );
    canvas.words((far, floor + 5.0), "far row", small, Anchor::Middle);
    canvas.words((near, floor + 5.0), "near row", small, Anchor::Middle);
}

fn lists(canvas: &mut Canvas<'_, '_>, top: f32) {
    let wide = WIDTH_MM / 2.0 - 5.0;
    let right = WIDTH_MM / 2.0 + 5.0;
    let columns: [(f32, &str, &[&str]); 2] = [
        (
            0.0,
            "Set the phone",
            &[
                "On its side, main lens (1\u{00d7}), no zoom; wipe the lens.",
                "1080p at 60 frames a second; 120 or more for fast wheels (table). High rates need more light.",
                "Light: a bright room or a shaded yard, even over the whole track. A dim room makes the picture blurred and grainy.",
                "Hold a finger on the picture of the car until exposure and focus are locked.",
                "Tripod, or books and a clamp. Start it by timer or voice; nobody touches it during the run.",
                "Keep the original file: messengers squeeze clips and drop frames.",
                "Slow motion: name the rate on the run sheet (capture_fps) where the clip does not tell it.",
            ],
        ),
        (
            right,
            "Film the run",
            &[
                "Let the car rest half a second in the picture before it is let go: every number is counted from there.",
                "Let it coast in the picture: the free-rolling wheel is the best ruler there is.",
                "All floor marks in view, the car never out of the picture on its way.",
                "Wheel mark towards the camera; start it at the rear or the top of the wheel.",
                "Out of view: clothes, bags, posters and toys in magenta, green or blue; people crossing in front; \
                 mirrors and shiny floors; sun spots that begin half-way.",
                "First a test shot: five seconds of the car at rest. gripline check judges it.",
            ],
        ),
    ];
    for (x, title, points) in columns {
        canvas.words((x, top), title, Type::bold(4.2).in_ink(TEAL), Anchor::Left);
        let mut y = top + 6.5;
        for point in points {
            y = canvas.point((x, y), wide, point);
        }
    }
}

/// Wheels of the table, mm.
const WHEELS_MM: [f64; 4] = [50.0, 75.0, 100.0, 125.0];
/// Frame rates of the table, frames a second.
const RATES_FPS: [f64; 4] = [30.0, 60.0, 120.0, 240.0];

/// Height of a row of the table, mm.
const ROW: f32 = 6.0;

/// Right edge of a wheel's column, mm.
fn column(index: usize) -> f32 {
    78.0 + 32.0 * index as f32 + 14.0
}

/// Frame rate against the fastest wheel that it can follow.
fn table(canvas: &mut Canvas<'_, '_>, top: f32) {
    canvas.words(
        (0.0, top),
        "The fastest wheel that a frame rate can follow",
        Type::bold(4.2).in_ink(TEAL),
        Anchor::Left,
    );
    canvas.paragraph(
        (0.0, top + 5.5),
        WIDTH_MM,
        "One mark on a wheel can be counted up to half a turn from frame to frame. Rim speed in metres a second, \
         which is the car's speed where the wheel does not slip:",
        Type::plain(3.0),
    );
    let first = top + 17.0;
    table_head(canvas, first);
    for (line, fps) in RATES_FPS.into_iter().enumerate() {
        table_row(canvas, first + ROW * (line as f32 + 1.0), fps);
    }
    canvas.words(
        (0.0, first + ROW * 5.0 + 0.6),
        "A wheel that spins at the start turns faster than the car goes: leave a margin of two.",
        Type::plain(2.8).in_ink(SOFT),
        Anchor::Left,
    );
}

fn table_head(canvas: &mut Canvas<'_, '_>, y: f32) {
    canvas.rectangle((0.0, y - 4.4), WIDTH_MM, ROW, WASH);
    let head = Type::bold(3.2);
    let rates = "frames a second (turns a second)";
    canvas.words((2.0, y), rates, head, Anchor::Left);
    for (index, wheel_mm) in WHEELS_MM.iter().enumerate() {
        let words = format!("wheel {wheel_mm:.0} mm");
        canvas.words((column(index), y), &words, head, Anchor::Right);
    }
}

/// How fast wheels of each size may go at a frame rate.
fn table_row(canvas: &mut Canvas<'_, '_>, y: f32, fps: f64) {
    let turns = fps / 2.0;
    let rate = format!("{fps:.0}  ({turns:.0})");
    canvas.words((2.0, y), &rate, Type::bold(3.2), Anchor::Left);
    for (index, wheel_mm) in WHEELS_MM.iter().enumerate() {
        let speed = std::f64::consts::PI * wheel_mm / 1000.0 * turns;
        let words = if speed < 10.0 {
            format!("{speed:.1} m/s")
        } else {
            format!("{speed:.0} m/s")
        };
        canvas.words((column(index), y), &words, Type::plain(3.2), Anchor::Right);
    }
    canvas.line(&[(0.0, y + 1.7), (WIDTH_MM, y + 1.7)], Pen::new(HAIR, 0.2));
}

//! Stickers for the body, marks for the wheel and discs for the axle's end.

use super::{Patch, heading, patch, ticks};
use crate::colour::Colour;
use crate::kit::canvas::{CUT, Canvas, SOFT, Type};
use crate::kit::patch_rgb;
use crate::sheet::kit::{
    AXLE_MARK, AXLE_MARK_DIAMETER_MM, AXLE_MARK_LETTER, AXLE_MARK_OFF_MIDDLE_MM, END_STICKER,
    END_STICKER_LETTER, STICKER, STICKER_DIAMETERS_MM, STICKER_LETTER, WHEEL_MARK,
    WHEEL_MARK_DIAMETERS_MM, WHEEL_MARK_LETTER,
};

/// White about a body sticker and about a wheel mark, mm. Three pixels or more at 3 m: the patch's edge is
/// then seen against white, whatever colour the car has.
const STICKER_WHITE_MM: f32 = 6.0;
const WHEEL_WHITE_MM: f32 = 3.0;
/// Diameter of the disc that carries the axle mark, mm.
const AXLE_DISC_MM: f32 = 42.0;

pub(super) fn draw(canvas: &mut Canvas<'_, '_>) {
    heading(canvas, 2, "Patches for the car");
    stickers(
        canvas,
        18.0,
        (STICKER_LETTER, STICKER),
        "body sticker, facing the camera",
    );
    stickers(
        canvas,
        93.0,
        (END_STICKER_LETTER, END_STICKER),
        "end sticker, second phone",
    );
    wheel_marks(canvas, 168.0);
    axle_marks(canvas, 216.5);
}

fn stickers(canvas: &mut Canvas<'_, '_>, top: f32, (letter, colour): (&str, Colour), place: &str) {
    let mut x = 0.0;
    for diameter_mm in STICKER_DIAMETERS_MM {
        let diameter = diameter_mm as f32;
        let side = diameter + 2.0 * STICKER_WHITE_MM;
        let first = format!("{letter}  {colour}, {diameter_mm:.0} mm");
        let what = Patch {
            colour,
            first: &first,
            second: place,
        };
        patch(canvas, (x, top), side, diameter, &what);
        x += side + 11.0;
    }
}

fn wheel_marks(canvas: &mut Canvas<'_, '_>, top: f32) {
    let mut x = 0.0;
    for _ in 0..2 {
        for diameter_mm in WHEEL_MARK_DIAMETERS_MM {
            let diameter = diameter_mm as f32;
            let side = diameter + 2.0 * WHEEL_WHITE_MM;
            let first = format!("{WHEEL_MARK_LETTER}  {WHEEL_MARK}");
            let second = format!("wheel, {diameter_mm:.0} mm");
            let what = Patch {
                colour: WHEEL_MARK,
                first: &first,
                second: &second,
            };
            patch(canvas, (x, top), side, diameter, &what);
            x += side + 2.0;
        }
    }
}

fn axle_marks(canvas: &mut Canvas<'_, '_>, top: f32) {
    let radius = AXLE_DISC_MM / 2.0;
    for (left, angle) in [(0.0, 0.0_f32), (AXLE_DISC_MM + 6.0, 2.2)] {
        let middle = (left + radius, top + radius);
        let off = AXLE_MARK_OFF_MIDDLE_MM as f32;
        let dot = (middle.0 + off * angle.cos(), middle.1 - off * angle.sin());
        canvas.ring(middle, AXLE_DISC_MM, CUT);
        ticks(canvas, middle, 0.0, 1.6);
        canvas.disc(dot, AXLE_MARK_DIAMETER_MM as f32, patch_rgb(AXLE_MARK));
    }
    let left = 2.0 * AXLE_DISC_MM + 13.0;
    let wide = crate::kit::WIDTH_MM - left;
    let first = format!(
        "{AXLE_MARK_LETTER}  {AXLE_MARK} axle mark, {AXLE_MARK_DIAMETER_MM:.0} mm on a white disc"
    );
    let next = canvas.paragraph((left, top + 4.0), wide, &first, Type::bold(3.0));
    let next = canvas.paragraph(
        (left, next + 0.4),
        wide,
        "For the end of the driven axle, camera\u{2019}s side. Optional: it shows a wheel that turns on its axle. Glue \
         it on card, the little cross on the axle\u{2019}s middle, clear of the wheel mark.",
        Type::plain(2.9),
    );
    canvas.paragraph(
        (left, next + 0.8),
        wide,
        "Which size? The largest that fits. In a 1080p clip from 3 m, a phone\u{2019}s main lens (60 degrees across) \
         shows 50, 40 and 30 mm as about 27, 22 and 16 pixels, 24 and 18 mm as 13 and 10.",
        Type::plain(2.9).in_ink(SOFT),
    );
}

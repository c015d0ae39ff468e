//! Drawings of a car and of a phone, of our own.

use super::canvas::{At, Canvas, HAIR, INK, Ink, Pen, SOFT, WHITE};
use super::patch_rgb;
use crate::sheet::kit;

const ACRYLIC: Ink = [205, 214, 221];
const WOOD: Ink = [203, 176, 140];
const THIN: Pen = Pen::new(INK, 0.3);

/// Where the parts of a drawn car are, mm of the page.
pub(super) struct Parts {
    pub(super) hub: At,
    pub(super) front_hub: At,
    pub(super) sticker: At,
    pub(super) wheel_mark: At,
    pub(super) axle_mark: At,
    pub(super) end_sticker: At,
    pub(super) wheel_radius: f32,
    pub(super) sticker_radius: f32,
}

/// A car from its right side, heading right. `rear` is where the driven wheel stands on the floor; one
/// millimetre of the car takes `scale` of the page.
pub(super) fn from_the_side(canvas: &mut Canvas<'_, '_>, rear: At, scale: f32) -> Parts {
    let s = |mm: f32| mm * scale;
    let (x, floor) = rear;
    let hub = (x, floor - s(48.0));
    let front_hub = (x + s(215.0), floor - s(35.0));
    let deck = floor - s(56.0);
    let parts = Parts {
        hub,
        front_hub,
        sticker: (x + s(106.0), floor - s(96.0)),
        wheel_mark: (x - s(25.0), floor - s(35.0)),
        axle_mark: (x + s(8.0), floor - s(55.0)),
        end_sticker: (x - s(32.0), floor - s(135.0)),
        wheel_radius: s(48.0),
        sticker_radius: s(25.0),
    };
    canvas.rectangle((x - s(22.0), deck), s(256.0), s(12.0), WOOD);
    canvas.frame((x - s(22.0), deck), s(256.0), s(12.0), THIN);
    // The spring's arm and its string to the axle.
    let pivot = (x + s(168.0), deck);
    let tip = (x + s(60.0), deck - s(22.0));
    canvas.line(&[pivot, tip], Pen::new(INK, 0.9));
    canvas.line(&[tip, (x + s(4.0), hub.1 - s(6.0))], Pen::new(SOFT, 0.25));
    canvas.ring((pivot.0, pivot.1 - s(3.0)), s(14.0), Pen::new(INK, 0.6));
    wheel(canvas, front_hub, s(35.0));
    wheel(canvas, hub, s(48.0));
    card(canvas, parts.sticker, s(31.0), deck);
    canvas.disc(parts.sticker, s(50.0), patch_rgb(kit::STICKER));
    // Edge on: the card that faces a second phone behind the car.
    let end = parts.end_sticker;
    canvas.line(
        &[(end.0, end.1 - s(31.0)), (end.0, deck)],
        Pen::new(INK, 0.8),
    );
    canvas.line(
        &[(end.0, deck + s(6.0)), (x - s(22.0), deck + s(6.0))],
        Pen::new(INK, 0.5),
    );
    canvas.line(&[(end.0, deck), (end.0, deck + s(6.0))], Pen::new(INK, 0.8));
    canvas.line(
        &[
            (end.0 - 0.7, end.1 - s(25.0)),
            (end.0 - 0.7, end.1 + s(25.0)),
        ],
        Pen::new(patch_rgb(kit::END_STICKER), 0.9),
    );
    canvas.disc(parts.wheel_mark, s(30.0), WHITE);
    canvas.disc(parts.wheel_mark, s(24.0), patch_rgb(kit::WHEEL_MARK));
    canvas.disc(hub, s(38.0), WHITE);
    canvas.ring(hub, s(38.0), Pen::new(HAIR, 0.25));
    canvas.disc(parts.axle_mark, s(15.0), patch_rgb(kit::AXLE_MARK));
    parts
}

fn wheel(canvas: &mut Canvas<'_, '_>, hub: At, radius: f32) {
    canvas.disc(hub, 2.0 * radius, ACRYLIC);
    canvas.ring(hub, 2.0 * radius, Pen::new(INK, 0.5));
    canvas.ring(hub, 1.72 * radius, Pen::new(HAIR, 0.25));
    for turn in 0..5_u8 {
        let angle = std::f32::consts::TAU * f32::from(turn) / 5.0 + 0.5;
        let hole = (
            hub.0 + 0.56 * radius * angle.cos(),
            hub.1 + 0.56 * radius * angle.sin(),
        );
        canvas.disc(hole, 0.36 * radius, WHITE);
        canvas.ring(hole, 0.36 * radius, Pen::new(HAIR, 0.2));
    }
    canvas.disc(hub, 0.16 * radius, INK);
}

/// A square card standing on the deck.
fn card(canvas: &mut Canvas<'_, '_>, centre: At, half: f32, deck: f32) {
    let corner = (centre.0 - half, centre.1 - half);
    canvas.rectangle(corner, 2.0 * half, (deck - corner.1).max(2.0 * half), WHITE);
    canvas.frame(corner, 2.0 * half, (deck - corner.1).max(2.0 * half), THIN);
}

/// Where the parts of a car that is drawn from behind are, mm of the page.
pub(super) struct Behind {
    /// Outer faces of the driven wheels.
    pub(super) faces: [f32; 2],
    /// Top of the highest part.
    pub(super) top: f32,
    /// Upper end of the sticker that faces the camera, edge on.
    pub(super) side_sticker: At,
}

/// The same car from behind.
pub(super) fn from_behind(canvas: &mut Canvas<'_, '_>, floor_middle: At, scale: f32) -> Behind {
    let s = |mm: f32| mm * scale;
    let (x, floor) = floor_middle;
    let (wide, high) = (s(14.0), s(96.0));
    let faces = [x - s(63.0), x + s(63.0)];
    let axle = floor - s(48.0);
    canvas.line(&[(faces[0], axle), (faces[1], axle)], Pen::new(INK, 0.8));
    canvas.rectangle((x - s(34.0), floor - s(56.0)), s(68.0), s(12.0), WOOD);
    canvas.frame((x - s(34.0), floor - s(56.0)), s(68.0), s(12.0), THIN);
    for left in [faces[0], faces[1] - wide] {
        canvas.rectangle((left, floor - high), wide, high, ACRYLIC);
        canvas.frame((left, floor - high), wide, high, THIN);
    }
    let centre = (x, floor - s(135.0));
    canvas.rectangle((x - s(31.0), centre.1 - s(31.0)), s(62.0), s(110.0), WHITE);
    canvas.frame((x - s(31.0), centre.1 - s(31.0)), s(62.0), s(110.0), THIN);
    canvas.disc(centre, s(50.0), patch_rgb(kit::END_STICKER));
    // The side sticker's card, edge on, towards the camera on the right.
    let edge = x + s(46.0);
    let upper = floor - s(121.0);
    canvas.line(
        &[(edge, floor - s(127.0)), (edge, floor - s(50.0))],
        Pen::new(INK, 0.8),
    );
    canvas.line(
        &[(edge + 0.7, upper), (edge + 0.7, floor - s(71.0))],
        Pen::new(patch_rgb(kit::STICKER), 0.9),
    );
    Behind {
        faces,
        top: floor - s(166.0),
        side_sticker: (edge, upper - s(8.0)),
    }
}

/// A phone on its side, seen from behind its screen, and what it stands on.
pub(super) fn phone_on_books(canvas: &mut Canvas<'_, '_>, foot: At, high: f32) {
    let books = [0.0, 1.0, 2.0, 3.0];
    let thick = high / 4.0;
    for book in books {
        let shift = if book % 2.0 == 0.0 { 0.0 } else { 1.0 };
        let corner = (foot.0 - 7.0 + shift, foot.1 - thick * (book + 1.0));
        canvas.rectangle(
            corner,
            13.0,
            thick,
            if shift > 0.0 { ACRYLIC } else { WOOD },
        );
        canvas.frame(corner, 13.0, thick, THIN);
    }
    let top = foot.1 - high;
    canvas.rectangle((foot.0 - 0.8, top - 5.6), 1.6, 5.6, INK);
    canvas.disc((foot.0 - 0.9, top - 4.4), 1.0, SOFT);
}

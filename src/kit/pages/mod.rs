//! The pages, one a file, in the order in which they are used.

mod filming;
mod floor;
mod patches;
mod plan;
mod start;

use super::canvas::{AMBER, AMBER_WASH, Anchor, At, CUT, Canvas, HAIR, Pen, SOFT, TEAL, Type};
use super::{WIDTH_MM, patch_rgb};
use crate::colour::Colour;

/// Draws a page.
pub(super) type Draw = fn(&mut Canvas<'_, '_>);

/// All pages.
pub(super) const ALL: [Draw; 5] = [
    start::draw,
    patches::draw,
    floor::draw,
    plan::draw,
    filming::draw,
];

/// The title, which page it is, and a line of waves below: the club is on a harbour.
fn heading(canvas: &mut Canvas<'_, '_>, page: usize, title: &str) {
    canvas.words(
        (0.0, 7.0),
        title,
        Type::bold(7.0).in_ink(TEAL),
        Anchor::Left,
    );
    let count = format!("Gripline kit, page {page} of {}", ALL.len());
    let small = Type::plain(3.0).in_ink(SOFT);
    canvas.words((WIDTH_MM, 7.0), &count, small, Anchor::Right);
    let wave: Vec<At> = (0..=190_u8)
        .map(|mm| {
            let x = f32::from(mm);
            (x, 11.0 + 0.7 * (x * std::f32::consts::TAU / 9.5).sin())
        })
        .collect();
    canvas.line(&wave, Pen::new(TEAL, 0.5));
}

/// A box with cautions under a warning sign.
fn cautions(canvas: &mut Canvas<'_, '_>, top: f32, height: f32, points: &[&str]) {
    canvas.rectangle((0.0, top), WIDTH_MM, height, AMBER_WASH);
    canvas.frame((0.0, top), WIDTH_MM, height, Pen::new(AMBER, 0.4));
    let tip = (9.5, top + 4.0);
    let sign = [tip, (tip.0 + 5.5, tip.1 + 9.5), (tip.0 - 5.5, tip.1 + 9.5)];
    canvas.outline(&sign, Pen::new(AMBER, 0.8));
    canvas.words(
        (tip.0, tip.1 + 8.0),
        "!",
        Type::bold(6.0).in_ink(AMBER),
        Anchor::Middle,
    );
    let mut y = top + 6.0;
    for point in points {
        y = canvas.paragraph((20.0, y), WIDTH_MM - 25.0, point, Type::plain(3.2)) + 0.6;
    }
}

/// A patch on white, with the square to cut it out by and its words outside the cut.
fn patch(canvas: &mut Canvas<'_, '_>, corner: At, side: f32, diameter: f32, what: &Patch<'_>) {
    let centre = (corner.0 + side / 2.0, corner.1 + side / 2.0);
    canvas.frame(corner, side, side, CUT);
    canvas.disc(centre, diameter, patch_rgb(what.colour));
    let below = corner.1 + side + 3.9;
    canvas.words(
        (centre.0, below),
        what.first,
        Type::bold(3.0),
        Anchor::Middle,
    );
    let second = Type::plain(2.7).in_ink(SOFT);
    canvas.words((centre.0, below + 3.8), what.second, second, Anchor::Middle);
}

/// What a patch is called.
struct Patch<'a> {
    colour: Colour,
    first: &'a str,
    second: &'a str,
}

/// Short lines about a disc that point at its middle, for laying it on crossed strings.
fn ticks(canvas: &mut Canvas<'_, '_>, centre: At, from: f32, to: f32) {
    for (u, v) in [(1.0, 0.0), (-1.0, 0.0), (0.0, 1.0), (0.0, -1.0)] {
        let at = |r: f32| (centre.0 + u * r, centre.1 + v * r);
        canvas.line(&[at(from), at(to)], Pen::new(HAIR, 0.35));
    }
}

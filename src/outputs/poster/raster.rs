//! Frames brought onto one raster: cut to where the run is and, where the camera moved, laid over each other by the
//! floor's places.

use super::plan::Plan;
use super::reader::Reader;
use super::zone::{Outline, Zone};
use crate::camera::{Projection, View};
use crate::clip::{Developer, Frame, Part, RowBuffer};
use crate::outputs::Story;
use crate::outputs::sketch::seen_in;
use nalgebra::{Point3, Vector2};
use rayon::prelude::*;

/// Pixels of the raster at most: eleven layers of them are held at once, 4 bytes a pixel.
const MOST_PX: f64 = 1.3e6;
/// Room about the cars, as a share of the raster's own width.
const MARGIN: f64 = 0.05;
/// Widest and narrowest shape of the picture, width over height: what fits a page beside its numbers.
const WIDEST: f64 = 2.3;
const NARROWEST: f64 = 1.6;
/// A camera that pans shows more than one picture's width: this many at most.
const MOST_WIDTHS: f64 = 5.0;
/// What is farther away than this, or above the horizon, only turns with the camera, m.
const FAR_M: f64 = 12.0;
/// A frame's places are worked out on every so many pixels of the raster, and between them by straight lines: lens and
/// rows bend them by far less than a pixel over such a way.
const NODE_PX: usize = 16;

/// Where the raster lies: pixels of the picture that it shows, and how the floor is seen there.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Raster {
    /// Left edge (not centre) of its first column, px of the picture.
    pub(super) left_px: f64,
    /// Top edge of its first row.
    pub(super) top_px: f64,
    /// Pixels of the raster for a pixel of the picture.
    pub(super) scale: f64,
    pub(super) width: usize,
    pub(super) height: usize,
    /// How the floor is seen in it; for a camera that moved, at one moment of the run.
    pub(super) projection: Option<Projection>,
    moving: bool,
}

impl Raster {
    /// The part of the picture in which the cars of a plan stand.
    pub(super) fn about(story: &Story<'_>, plan: &Plan) -> Self {
        let track = story.track;
        let view = story.measured.as_ref().ok().map(|m| m.view);
        let middle = plan.moments.get(plan.moments.len() / 2);
        let middle_s = middle.and_then(|m| track.times_s.get(m.frame)).copied();
        let projection = view.and_then(|view| view.at(middle_s.unwrap_or_default()));
        let moving = view.is_some_and(|view| view.moving.is_some());
        let picture = Vector2::new(track.width_px.max(16.0), track.height_px.max(16.0));
        let start = (
            Vector2::repeat(f64::INFINITY),
            Vector2::repeat(f64::NEG_INFINITY),
        );
        let (least, most) = (plan.moments.iter())
            .filter_map(|moment| match (moving, &projection) {
                (true, Some(to)) => Some(Zone::through(story, moment.frame, to)?.around.bounds()),
                _ => Some(plan.zones.get(&moment.frame)?.as_ref()?.around.bounds()),
            })
            .fold(start, |(l, m), (least, most)| (l.inf(&least), m.sup(&most)));
        let limits = if moving {
            let beyond = picture * ((MOST_WIDTHS - 1.0) / 2.0);
            (-beyond, picture + beyond)
        } else {
            (Vector2::zeros(), picture)
        };
        let (corner, size) = shaped(least, most, limits);
        let scale = (MOST_PX / (size.x * size.y)).sqrt().min(1.0);
        Self {
            left_px: corner.x,
            top_px: corner.y,
            scale,
            width: ((size.x * scale).round() as usize).max(1),
            height: ((size.y * scale).round() as usize).max(1),
            projection,
            moving,
        }
    }

    /// A raster of this size that shows the picture as it is.
    #[cfg(test)]
    pub(super) fn plain(width: usize, height: usize) -> Self {
        Self {
            left_px: 0.0,
            top_px: 0.0,
            scale: 1.0,
            width,
            height,
            projection: None,
            moving: false,
        }
    }

    /// The picture's place under a place of the raster (both by pixels' centres).
    pub(super) fn in_picture(&self, at: Vector2<f64>) -> Vector2<f64> {
        let corner = Vector2::new(self.left_px - 0.5, self.top_px - 0.5);
        corner + (at + Vector2::repeat(0.5)) / self.scale
    }

    /// Undoes [`Self::in_picture`].
    pub(super) fn on_raster(&self, at: Vector2<f64>) -> Vector2<f64> {
        let corner = Vector2::new(self.left_px - 0.5, self.top_px - 0.5);
        (at - corner) * self.scale - Vector2::repeat(0.5)
    }

    /// What it shows of a picture that it need not bend.
    const fn part(&self) -> Part {
        Part {
            left_px: self.left_px,
            top_px: self.top_px,
            step_px: 1.0 / self.scale,
            width: self.width,
            height: self.height,
        }
    }

    /// Where the raster shows a point of the floor's frame; `None` without a projection or behind the camera.
    pub(super) fn shows(&self, point: &Point3<f64>) -> Option<Vector2<f64>> {
        let pixel = self.projection.as_ref()?.pixel(point)?;
        Some(self.on_raster(pixel))
    }

    /// A frame on the raster.
    pub(super) fn take(&self, story: &Story<'_>, frame: &Frame, zone: Option<&Zone>) -> Layer {
        let number = frame.index as usize;
        let view = story.measured.as_ref().ok().map(|m| m.view);
        let nodes = match (self.moving, view) {
            (true, Some(view)) => Some(Nodes::of(self, story, view, number)),
            _ => None,
        };
        let seen = Seen {
            around: zone.map(|zone| (zone.around.bounds(), &zone.around)),
            car: zone.map(|zone| (zone.car.bounds(), &zone.car)),
            picture: (story.track.width_px, story.track.height_px),
        };
        let mut pixels = vec![[0, 0, 0, OUTSIDE]; self.width * self.height];
        let rows = pixels.par_chunks_mut(self.width).enumerate();
        if let Some(nodes) = nodes {
            let reader = Reader::new(&frame.picture, self.scale);
            rows.for_each(|(y, row)| {
                for (x, pixel) in row.iter_mut().enumerate() {
                    let at = nodes.place(x, y);
                    if let Some((at, kind)) = at.and_then(|at| Some((at, seen.kind(at)?))) {
                        let [red, green, blue] = reader.colour(at);
                        *pixel = [red, green, blue, kind];
                    }
                }
            });
        } else {
            let developer = Developer::new(&frame.picture, &self.part());
            rows.for_each_init(RowBuffer::default, |buffer, (y, row)| {
                let colours = developer.row(y, buffer);
                for (x, (pixel, colour)) in row.iter_mut().zip(colours).enumerate() {
                    let at = self.in_picture(Vector2::new(x as f64, y as f64));
                    if let Some(kind) = seen.kind(at) {
                        let [red, green, blue] = *colour;
                        *pixel = [red, green, blue, kind];
                    }
                }
            });
        }
        Layer {
            frame: number,
            pixels,
        }
    }
}

/// What a pixel of a layer shows: nothing, ...
pub(super) const OUTSIDE: u8 = 0;
/// ... the car by its sizes, ...
pub(super) const CAR: u8 = 1;
/// ... what may belong to it, ...
pub(super) const AROUND: u8 = 2;
/// ... or surely none of it.
pub(super) const FREE: u8 = 3;

/// A frame on the raster: red, green, blue, and what is shown.
#[derive(Debug, Clone)]
pub(super) struct Layer {
    pub(super) frame: usize,
    pub(super) pixels: Vec<[u8; 4]>,
}

/// What a frame shows where.
struct Seen<'a> {
    around: Bounded<'a>,
    car: Bounded<'a>,
    /// Size of the picture, px.
    picture: (f64, f64),
}

impl Seen<'_> {
    /// What is seen at a place of the picture; `None` beyond its edge.
    fn kind(&self, at: Vector2<f64>) -> Option<u8> {
        inside(at, self.picture).then(|| match () {
            () if within(self.car, at) => CAR,
            () if within(self.around, at) => AROUND,
            () => FREE,
        })
    }
}

type Bounded<'a> = Option<((Vector2<f64>, Vector2<f64>), &'a Outline)>;

fn within(outline: Bounded<'_>, at: Vector2<f64>) -> bool {
    outline.is_some_and(|((least, most), outline)| {
        at.x >= least.x && at.y >= least.y && at.x <= most.x && at.y <= most.y && outline.holds(at)
    })
}

fn inside(at: Vector2<f64>, (width, height): (f64, f64)) -> bool {
    at.x > -0.5 && at.y > -0.5 && at.x < width - 0.5 && at.y < height - 0.5
}

/// Corner and size of a part of the picture that holds what is between `least` and `most`, with room about it and a
/// shape that fits a page, as far as the limits let it.
fn shaped(
    least: Vector2<f64>,
    most: Vector2<f64>,
    (low, high): (Vector2<f64>, Vector2<f64>),
) -> (Vector2<f64>, Vector2<f64>) {
    let room = high - low;
    if !(least.x < most.x && least.y < most.y) {
        return (low, room);
    }
    let margin = Vector2::repeat(MARGIN * (most.x - least.x));
    let (least, most) = ((least - margin).sup(&low), (most + margin).inf(&high));
    let mut size = (most - least).sup(&Vector2::repeat(16.0)).inf(&room);
    if size.x / size.y > WIDEST {
        size.y = (size.x / WIDEST).min(room.y);
    } else if size.x / size.y < NARROWEST {
        size.x = (size.y * NARROWEST).min(room.x);
    }
    let middle = (least + most) / 2.0;
    let corner = (middle - size / 2.0).sup(&low).inf(&(high - size));
    // Whole pixels are copied as they are.
    let corner = corner.map(f64::round);
    (corner, size.map(f64::round))
}

/// Where a frame shows what the raster shows, at every so many pixels.
struct Nodes {
    columns: usize,
    places: Vec<Option<Vector2<f64>>>,
}

impl Nodes {
    fn of(raster: &Raster, story: &Story<'_>, view: &View, frame: usize) -> Self {
        let columns = raster.width.div_ceil(NODE_PX) + 1;
        let rows = raster.height.div_ceil(NODE_PX) + 1;
        let places = (0..columns * rows)
            .into_par_iter()
            .map(|node| {
                let (x, y) = (node % columns * NODE_PX, node / columns * NODE_PX);
                let pixel = raster.in_picture(Vector2::new(x as f64, y as f64));
                let point = floor_under(raster.projection.as_ref()?, pixel);
                seen_in(story, view, frame, &point)
            })
            .collect();
        Self { columns, places }
    }

    fn place(&self, x: usize, y: usize) -> Option<Vector2<f64>> {
        let (column, row) = (x / NODE_PX, y / NODE_PX);
        let across = (x % NODE_PX) as f64 / NODE_PX as f64;
        let down = (y % NODE_PX) as f64 / NODE_PX as f64;
        let node =
            |column: usize, row: usize| self.places.get(row * self.columns + column).copied()?;
        let upper = node(column, row)?.lerp(&node(column + 1, row)?, across);
        let lower = node(column, row + 1)?.lerp(&node(column + 1, row + 1)?, across);
        Some(upper.lerp(&lower, down))
    }
}

/// The floor's point that is seen at a pixel; a far one in that direction where there is none near.
fn floor_under(projection: &Projection, pixel: Vector2<f64>) -> Point3<f64> {
    let (from, direction) = projection.ray(pixel);
    let far = from + direction.normalize() * FAR_M;
    match projection.at_height(pixel, 0.0) {
        Some(point) if (point - from).norm() < FAR_M => point,
        _ => far,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_part_of_the_picture_holds_the_run_and_fits_a_page() {
        let limits = (Vector2::zeros(), Vector2::new(1920.0, 1080.0));
        for (least, most) in [
            ((100.0, 500.0), (1800.0, 640.0)),
            ((5.0, 3.0), (200.0, 1060.0)),
            ((900.0, 500.0), (960.0, 560.0)),
        ] {
            let (least, most) = (Vector2::new(least.0, least.1), Vector2::new(most.0, most.1));
            let (corner, size) = shaped(least, most, limits);
            assert!(corner.x <= least.x && corner.y <= least.y, "{corner}");
            let end = corner + size;
            assert!(end.x >= most.x && end.y >= most.y, "{corner} {size}");
            assert!(end.x <= 1920.0 && end.y <= 1080.0 && corner.min() >= 0.0);
            let shape = size.x / size.y;
            assert!(shape < 1.01 * WIDEST && shape > 0.99 * NARROWEST, "{shape}");
        }
    }

    #[test]
    fn places_of_raster_and_picture_lead_back() {
        let raster = Raster {
            left_px: 100.0,
            top_px: 40.0,
            scale: 0.5,
            ..Raster::plain(10, 10)
        };
        // Pixel 0 of the raster covers columns 100 and 101 of the picture, whose middle is at 100.5.
        let middle = raster.in_picture(Vector2::zeros());
        assert!((middle - Vector2::new(100.5, 40.5)).norm() < 1e-12);
        assert!(raster.on_raster(middle).norm() < 1e-12);
    }
}

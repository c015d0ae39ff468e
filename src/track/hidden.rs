//! A sticker that something lies across: an arm, a string, a post.
//!
//! What is left in sight is one piece or several, and no piece's middle is the mark's. But a mark keeps
//! its shape: how large it is and how it leans is known from the frames that show it whole, and an
//! outline of that shape is laid over what is left of the rim. Where too little of the rim is left, the
//! piece keeps its place, doubted by what is missing.

use super::link::median;
use super::rim_fit::{Outline, lay};
use super::{Place, Places};
use crate::sighting::{Blob, Rim, Sightings};

/// A look with less than this share of the whole mark's area shows a piece of it.
const WHOLE_SHARE: f64 = 0.90;
/// ... and so does one beside it in time with less than this: what lies across leaves bit by bit.
const NEARLY_WHOLE_SHARE: f64 = 0.97;
/// Sizes (root of the area) within this share of a line are of a whole mark.
const SIZE_SHARE: f64 = 0.04;
/// Looks that are nearer along the way than this, in sizes, say the same about the mark's size.
const STRETCH_SIZES: f64 = 0.3;
/// Whole looks that tell the shape at a place, the nearest.
const SHAPE_LOOKS: usize = 9;
/// Fewer whole looks than this tell no shape.
const MIN_WHOLE: usize = 6;
/// Pieces of a mark lie within this many half-axes of where it is expected.
const PIECE_REACH: f64 = 1.5;
/// A mark is followed on from its last look while no more frames than this show nothing of it.
const MAX_SKIP: usize = 3;
/// Looks from which the pace at an end is taken.
const PACE_LOOKS: usize = 4;
/// A place that rests on a part of the rim is surely no better than this share of the half-axis.
const RIM_SHARE: f64 = 0.02;

/// What is known of the whole mark, place by place.
struct Whole {
    /// Looks that show all of it: along the way, shape of area 1, contrast.
    looks: Vec<(f64, [f64; 3], f64)>,
    /// Root of the area as a line along the way: at the start, and by px.
    size_px: (f64, f64),
    /// Outlines of rims over those of fits.
    rim_scale: f64,
    from: (f64, f64),
    along: (f64, f64),
}

/// One frame's patches of the sticker's colour, with their rims.
fn patches(seen: &Sightings, frame: usize, slot: usize) -> impl Iterator<Item = (&Blob, &Rim)> {
    let of = &seen.frames[frame];
    let rims = of.rims.get(slot).into_iter().flatten();
    of.blobs.get(slot).into_iter().flatten().zip(rims)
}

/// The same places with those of pieces put where the whole mark must be, and followed on through
/// frames that show pieces only. `shift` is how far the camera's own movement has shifted the picture.
pub(super) fn mended(
    seen: &Sightings,
    slot: usize,
    places: &Places,
    shift: &[(f64, f64)],
) -> Places {
    let Some(whole) = Whole::of(seen, slot, places, shift) else {
        return places.clone();
    };
    let mender = Mender {
        seen,
        slot,
        shift,
        whole,
        row_slope: row_slope(seen, places),
    };
    let mut out = places.clone();
    for frame in mender.pieces(places) {
        out[frame] = places[frame].map(|place| mender.put_right(frame, &place));
    }
    mender.fill_gaps(&mut out);
    mender.follow_on(&mut out, true);
    mender.follow_on(&mut out, false);
    out
}

impl Whole {
    fn of(seen: &Sightings, slot: usize, places: &Places, shift: &[(f64, f64)]) -> Option<Self> {
        let at = |frame: usize, place: &Place| {
            let (u, v) = shift.get(frame).copied().unwrap_or_default();
            (place.u_px - u, place.v_px - v)
        };
        let looks: Vec<(usize, Place)> = places
            .iter()
            .enumerate()
            .filter_map(|(frame, place)| place.filter(|p| p.fitted).map(|p| (frame, p)))
            .collect();
        let (first, last) = (looks.first()?, looks.last()?);
        let (from, to) = (at(first.0, &first.1), at(last.0, &last.1));
        let far = (to.0 - from.0).hypot(to.1 - from.1).max(1e-6);
        let mut whole = Self {
            looks: Vec::new(),
            size_px: (0.0, 0.0),
            rim_scale: 1.0,
            from,
            along: ((to.0 - from.0) / far, (to.1 - from.1) / far),
        };
        let way: Vec<(f64, f64)> = looks
            .iter()
            .map(|(frame, place)| (whole.way(at(*frame, place)), place.area_px2.sqrt()))
            .collect();
        whole.size_px = size_line(&way)?;
        let mut scales = Vec::new();
        for ((frame, place), (way, size)) in looks.iter().zip(&way) {
            if (size / whole.size_at(*way) - 1.0).abs() > SIZE_SHARE {
                continue;
            }
            let found = patches(seen, *frame, slot)
                .find(|(blob, _)| blob.u_px == place.u_px && blob.v_px == place.v_px);
            let Some((blob, rim)) = found else { continue };
            let shape = blob.outline_px2.map(|e| e / place.area_px2);
            whole.looks.push((*way, shape, place.contrast));
            if let Some(outline) = Outline::new(blob.outline_px2) {
                let centre = (blob.u_px, blob.v_px);
                scales.push(median(
                    rim.iter().map(|p| 1.0 + outline.off(p, centre)).collect(),
                ));
            }
        }
        if whole.looks.len() < MIN_WHOLE {
            return None;
        }
        whole.rim_scale = median(scales);
        Some(whole)
    }

    /// How far along the sticker's way a place is, px.
    fn way(&self, at: (f64, f64)) -> f64 {
        (at.0 - self.from.0) * self.along.0 + (at.1 - self.from.1) * self.along.1
    }

    fn size_at(&self, way: f64) -> f64 {
        (self.size_px.0 + self.size_px.1 * way).max(1.0)
    }

    /// Outline and contrast of the whole mark at a place.
    fn outline_at(&self, way: f64) -> Option<(Outline, f64)> {
        let mut near: Vec<&(f64, [f64; 3], f64)> = self.looks.iter().collect();
        near.sort_by(|a, b| (a.0 - way).abs().total_cmp(&(b.0 - way).abs()));
        near.truncate(SHAPE_LOOKS);
        let middle = |i: usize| median(near.iter().map(|look| look.1[i]).collect());
        let scale = self.size_at(way).powi(2) * self.rim_scale.powi(2);
        let outline = Outline::new([middle(0), middle(1), middle(2)].map(|e| e * scale))?;
        Some((outline, median(near.iter().map(|look| look.2).collect())))
    }
}

/// The line along the way on which the sizes of whole looks lie: the inverse of the distance from the
/// camera is linear along a straight line in the picture. Pieces lie below it, nothing lies above; a
/// long rest counts once.
fn size_line(way: &[(f64, f64)]) -> Option<(f64, f64)> {
    let usual = median(way.iter().map(|(_, size)| *size).collect()).max(1.0);
    let stretch = |at: f64| (at / (STRETCH_SIZES * usual)).floor() as i64;
    let mut stretches: std::collections::BTreeMap<i64, Vec<(f64, f64)>> =
        std::collections::BTreeMap::new();
    for look in way {
        stretches.entry(stretch(look.0)).or_default().push(*look);
    }
    let each: Vec<(f64, f64)> = stretches
        .values()
        .map(|looks| {
            let of = |get: fn(&(f64, f64)) -> f64| median(looks.iter().map(get).collect());
            (of(|l| l.0), of(|l| l.1))
        })
        .collect();
    let mut best: Option<(f64, (f64, f64))> = None;
    for (i, a) in each.iter().enumerate() {
        for b in &each[i..] {
            let apart = b.0 - a.0;
            let slope = if apart > 3.0 * usual {
                (b.1 - a.1) / apart
            } else {
                0.0
            };
            let line = (a.1 - slope * a.0, slope);
            let score: f64 = each
                .iter()
                .map(|(at, size)| {
                    let off = (size / (line.0 + line.1 * at).max(1.0) - 1.0) / SIZE_SHARE;
                    if off > 1.5 {
                        -1.0
                    } else {
                        (1.0 - off * off).max(0.0)
                    }
                })
                .sum();
            if best.is_none_or(|(most, _)| score > most) {
                best = Some((score, line));
            }
        }
    }
    best.map(|(_, line)| line)
}

struct Mender<'a> {
    seen: &'a Sightings,
    slot: usize,
    shift: &'a [(f64, f64)],
    whole: Whole,
    /// Change of the sensor's row, as a share of its rows, by px to the right and down.
    row_slope: (f64, f64),
}

impl Mender<'_> {
    fn way(&self, frame: usize, at: (f64, f64)) -> f64 {
        let (u, v) = self.shift.get(frame).copied().unwrap_or_default();
        self.whole.way((at.0 - u, at.1 - v))
    }

    /// Frames whose looks show pieces: too small by far, or a little too small beside such looks.
    fn pieces(&self, places: &Places) -> Vec<usize> {
        let looks: Vec<(usize, f64)> = places
            .iter()
            .enumerate()
            .filter_map(|(frame, place)| {
                let place = place.as_ref()?;
                let size = self
                    .whole
                    .size_at(self.way(frame, (place.u_px, place.v_px)));
                let share = place.area_px2 / (size * size);
                Some((frame, if place.fitted { share } else { 0.0 }))
            })
            .collect();
        let mut piece: Vec<bool> = looks.iter().map(|look| look.1 < WHOLE_SHARE).collect();
        let ranks = (1..looks.len()).chain((1..looks.len()).rev());
        for rank in ranks {
            for (here, beside) in [(rank, rank - 1), (rank - 1, rank)] {
                piece[here] |= piece[beside] && looks[here].1 < NEARLY_WHOLE_SHARE;
            }
        }
        let pieces = looks.iter().zip(&piece).filter(|(_, piece)| **piece);
        pieces.map(|((frame, _), _)| *frame).collect()
    }

    /// A piece's place mended: by the rim that is left, else doubted by what is missing.
    fn put_right(&self, frame: usize, place: &Place) -> Place {
        if let Some(found) = self.by_rim(frame, (place.u_px, place.v_px)) {
            return found;
        }
        // The largest piece is nearest to the mark's own middle.
        let reach = self
            .whole
            .size_at(self.way(frame, (place.u_px, place.v_px)));
        let largest = patches(self.seen, frame, self.slot)
            .map(|(blob, _)| blob)
            .filter(|blob| (blob.u_px - place.u_px).hypot(blob.v_px - place.v_px) < reach)
            .filter(|blob| !blob.at_border && blob.area_px2 < reach * reach)
            .max_by(|a, b| a.area_px2.total_cmp(&b.area_px2));
        let piece = largest.map_or(*place, Place::from);
        self.doubted(frame, &piece)
    }

    /// A piece's place, doubted by what is missing of the mark.
    fn doubted(&self, frame: usize, place: &Place) -> Place {
        let size = self
            .whole
            .size_at(self.way(frame, (place.u_px, place.v_px)));
        let missing = (1.0 - place.area_px2 / (size * size)).clamp(0.0, 1.0);
        if missing <= 1.0 - WHOLE_SHARE {
            return *place;
        }
        let bias_px2 = (missing * size).powi(2) / std::f64::consts::PI;
        Place {
            var_u_px2: place.var_u_px2 + bias_px2,
            var_v_px2: place.var_v_px2 + bias_px2,
            area_px2: size * size,
            contrast: self.usual_contrast(frame, place).max(place.contrast),
            ..*place
        }
    }

    fn usual_contrast(&self, frame: usize, place: &Place) -> f64 {
        let way = self.way(frame, (place.u_px, place.v_px));
        self.whole
            .outline_at(way)
            .map_or(0.0, |(_, contrast)| contrast)
    }

    /// Where the whole mark is, by the rims of all its pieces near a place.
    fn by_rim(&self, frame: usize, near: (f64, f64)) -> Option<Place> {
        let (outline, contrast) = self.whole.outline_at(self.way(frame, near))?;
        let reach = PIECE_REACH * outline.half_axis_px();
        let mut pieces: Vec<(&Blob, &Rim)> = patches(self.seen, frame, self.slot)
            .filter(|(blob, _)| (blob.u_px - near.0).hypot(blob.v_px - near.1) < reach)
            .filter(|(blob, _)| !blob.at_border)
            .collect();
        pieces.sort_by(|a, b| b.0.area_px2.total_cmp(&a.0.area_px2));
        let (main, _) = pieces.first()?;
        let rims: Vec<&Rim> = pieces.iter().map(|(_, rim)| *rim).collect();
        let laid = lay(&outline, (main.u_px, main.v_px), &rims)?;
        let size = self.whole.size_at(self.way(frame, laid.at));
        let (du, dv) = (laid.at.0 - main.u_px, laid.at.1 - main.v_px);
        let least = (RIM_SHARE * outline.half_axis_px()).powi(2);
        Some(Place {
            u_px: laid.at.0,
            v_px: laid.at.1,
            var_u_px2: laid.var_px2.0 + least,
            var_v_px2: laid.var_px2.1 + least,
            area_px2: size * size,
            contrast,
            row_frac: main.row_frac + du * self.row_slope.0 + dv * self.row_slope.1,
            fitted: true,
        })
    }

    /// Frames between looks in which only pieces are in sight.
    fn fill_gaps(&self, places: &mut Places) {
        let known: Vec<usize> = (0..places.len()).filter(|f| places[*f].is_some()).collect();
        for pair in known.windows(2) {
            let (Some(a), Some(b)) = (places[pair[0]], places[pair[1]]) else {
                continue;
            };
            for frame in pair[0] + 1..pair[1] {
                let share = (frame - pair[0]) as f64 / (pair[1] - pair[0]) as f64;
                let near = (
                    a.u_px + share * (b.u_px - a.u_px),
                    a.v_px + share * (b.v_px - a.v_px),
                );
                places[frame] = self.found_near(frame, near);
            }
        }
    }

    /// What is left of the mark about where it is expected: the mark, or else a piece of it.
    fn found_near(&self, frame: usize, expected: (f64, f64)) -> Option<Place> {
        let size = self.whole.size_at(self.way(frame, expected));
        let off = |u: f64, v: f64| (u - expected.0).hypot(v - expected.1);
        let near = |place: &Place| off(place.u_px, place.v_px) < 0.5 * size;
        if let Some(found) = self.by_rim(frame, expected).filter(near) {
            return Some(found);
        }
        let (piece, _) = patches(self.seen, frame, self.slot)
            .filter(|(blob, _)| !blob.at_border && blob.area_px2 < size * size)
            .min_by(|a, b| off(a.0.u_px, a.0.v_px).total_cmp(&off(b.0.u_px, b.0.v_px)))?;
        let place = Place::from(piece);
        near(&place).then(|| self.doubted(frame, &place))
    }

    /// Frames before the first look, or after the last, in which pieces are in sight.
    fn follow_on(&self, places: &mut Places, back: bool) {
        let known: Vec<usize> = (0..places.len()).filter(|f| places[*f].is_some()).collect();
        let inwards: Vec<usize> = if back {
            known
        } else {
            known.into_iter().rev().collect()
        };
        let mut near: Vec<(usize, Place)> = inwards
            .iter()
            .take(PACE_LOOKS)
            .filter_map(|frame| places[*frame].map(|place| (*frame, place)))
            .collect();
        let Some(mut frame) = near.first().map(|(frame, _)| *frame) else {
            return;
        };
        let mut missed = 0;
        while missed <= MAX_SKIP {
            let next = if back {
                frame.checked_sub(1)
            } else {
                Some(frame + 1).filter(|next| *next < places.len())
            };
            let Some(next) = next else { return };
            frame = next;
            let Some(expected) = ahead(&near, frame) else {
                return;
            };
            if let Some(found) = self.found_near(frame, expected) {
                places[frame] = Some(found);
                near.insert(0, (frame, found));
                near.truncate(PACE_LOOKS);
                missed = 0;
            } else {
                missed += 1;
            }
        }
    }
}

/// Where a mark is expected at a frame, at the pace of the looks nearest to it, the nearest first.
fn ahead(near: &[(usize, Place)], frame: usize) -> Option<(f64, f64)> {
    let ((f0, a), (f1, b)) = (near.first()?, near.last()?);
    let steps = *f1 as f64 - *f0 as f64;
    let on = frame as f64 - *f0 as f64;
    let pace = |a: f64, b: f64| if steps == 0.0 { 0.0 } else { (b - a) / steps };
    Some((
        a.u_px + on * pace(a.u_px, b.u_px),
        a.v_px + on * pace(a.v_px, b.v_px),
    ))
}

/// How the sensor's row changes along the picture's sides: a picture is turned by quarters only.
fn row_slope(seen: &Sightings, places: &Places) -> (f64, f64) {
    let (across, down) = (1.0 / seen.width_px, 1.0 / seen.height_px);
    let looks: Vec<&Place> = places.iter().flatten().collect();
    let off = |slope: &(f64, f64)| -> f64 {
        let steps = looks.windows(2).map(|pair| {
            let (du, dv) = (pair[1].u_px - pair[0].u_px, pair[1].v_px - pair[0].v_px);
            (pair[1].row_frac - pair[0].row_frac - du * slope.0 - dv * slope.1).abs()
        });
        steps.sum()
    };
    [(0.0, down), (0.0, -down), (across, 0.0), (-across, 0.0)]
        .into_iter()
        .min_by(|a, b| off(a).total_cmp(&off(b)))
        .unwrap_or_default()
}

//! What the frames that show all of a mark tell of it: how large it is along its way, its shape and its rim.

use super::link::median;
use super::rim_fit::Outline;
use super::{Place, Places};
use crate::sighting::{Blob, Rim, Sightings};
use std::collections::BTreeMap;

/// Sizes (root of the area) within this share of a line are of a whole mark.
const SIZE_SHARE: f64 = 0.04;
/// Observations that are nearer along the way than this, in sizes, say the same about the mark's size.
const STRETCH_SIZES: f64 = 0.3;
/// Whole observations that tell the shape at a place, the nearest.
const SHAPE_OBSERVATIONS: usize = 24;
/// Fewer whole observations than this tell no shape.
const MIN_WHOLE: usize = 6;

/// A rim is rough when it is farther than this, px, from the outline fitted to it: samples of colour are
/// two pixels wide. Measured on drawn clips: 8 of 12 746 looks at whole marks are rougher, and 95 of 100 observations
/// that show less than 85 % of a mark.
pub(super) const ROUGH_RIM_PX: f64 = 0.6;

/// One frame's patches of the sticker's colour, with their rims.
pub(super) fn patches(
    seen: &Sightings,
    frame: usize,
    slot: usize,
) -> impl Iterator<Item = (&Blob, &Rim)> {
    let of = &seen.frames[frame];
    let rims = of.rims.get(slot).into_iter().flatten();
    of.blobs.get(slot).into_iter().flatten().zip(rims)
}

/// What is known of the whole mark, place by place.
pub(super) struct Whole {
    /// Observations that show all of it: along the way, shape of area 1, contrast.
    observations: Vec<(f64, [f64; 3], f64)>,
    /// Root of the area as a line along the way: at the start, and by px.
    size_px: (f64, f64),
    /// Outlines of rims over those of fits.
    rim_scale: f64,
    /// How far rims of whole observations are from the outlines fitted to them, as a share of the half-axis.
    pub(super) rim_misfit: f64,
    /// First of the places, px.
    from: (f64, f64),
    /// Direction from there to the last one.
    along: (f64, f64),
}

impl Whole {
    /// What the observations of a sticker tell of it; `None` where too few show all of it.
    pub(super) fn of(seen: &Sightings, slot: usize, places: &Places) -> Option<Self> {
        let observations: Vec<(usize, Place)> = places
            .iter()
            .enumerate()
            .filter_map(|(frame, place)| place.filter(|p| p.fitted).map(|p| (frame, p)))
            .collect();
        let (first, last) = (observations.first()?, observations.last()?);
        let (from, to) = (at(&first.1), at(&last.1));
        let far = (to.0 - from.0).hypot(to.1 - from.1).max(1e-6);
        let mut whole = Self {
            observations: Vec::new(),
            size_px: (0.0, 0.0),
            rim_scale: 1.0,
            rim_misfit: 0.0,
            from,
            along: ((to.0 - from.0) / far, (to.1 - from.1) / far),
        };
        let told = telling(&outlined(seen, slot, &observations));
        let sizes = told.iter();
        let sizes = sizes.map(|one| (whole.way(at(one.place)), one.place.area_px2.sqrt()));
        whole.size_px = size_line(&sizes.collect::<Vec<_>>())?;
        whole.learn_shape(&told).then_some(whole)
    }

    /// Takes shape, contrast and rims from those observations whose size is the whole mark's; says whether they are
    /// enough.
    fn learn_shape(&mut self, told: &[Outlined<'_>]) -> bool {
        let mut scales = Vec::new();
        let mut misfits = Vec::new();
        for Outlined { place, blob, rim } in told {
            let (way, size) = (self.way(at(place)), place.area_px2.sqrt());
            if (size / self.size_at(way) - 1.0).abs() > SIZE_SHARE {
                continue;
            }
            let shape = blob.outline_px2.map(|e| e / place.area_px2);
            self.observations.push((way, shape, place.contrast));
            if let Some(outline) = Outline::new(blob.outline_px2) {
                let centre = (blob.u_px, blob.v_px);
                misfits.push(outline.misfit(rim, centre));
                scales.push(median(
                    rim.iter().map(|p| 1.0 + outline.off(*p, centre)).collect(),
                ));
            }
        }
        if self.observations.len() < MIN_WHOLE {
            return false;
        }
        self.rim_scale = median(scales);
        self.rim_misfit = median(misfits);
        true
    }

    /// How far along the sticker's way a place is, px.
    pub(super) fn way(&self, at: (f64, f64)) -> f64 {
        (at.0 - self.from.0) * self.along.0 + (at.1 - self.from.1) * self.along.1
    }

    /// Root of the whole mark's area at a place, px.
    pub(super) fn size_at(&self, way: f64) -> f64 {
        (self.size_px.0 + self.size_px.1 * way).max(1.0)
    }

    /// The observations that are nearest to a place on the way, the earlier of two that are as near.
    fn nearest(&self, way: f64) -> Vec<&(f64, [f64; 3], f64)> {
        let observations = self.observations.iter();
        let mut by_distance: Vec<(f64, usize)> = observations
            .enumerate()
            .map(|(number, observation)| ((observation.0 - way).abs(), number))
            .collect();
        let nearer = |a: &(f64, usize), b: &(f64, usize)| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1));
        // A minute's rest has thousands of them: they are parted, and only the nearest sorted.
        if by_distance.len() > SHAPE_OBSERVATIONS {
            by_distance.select_nth_unstable_by(SHAPE_OBSERVATIONS, nearer);
            by_distance.truncate(SHAPE_OBSERVATIONS);
        }
        by_distance.sort_unstable_by(nearer);
        (by_distance
            .iter()
            .map(|(_, number)| &self.observations[*number]))
        .collect()
    }

    /// Outline and contrast of the whole mark at a place.
    pub(super) fn outline_at(&self, way: f64) -> Option<(Outline, f64)> {
        let near = self.nearest(way);
        let scale = self.size_at(way).powi(2) * self.rim_scale.powi(2);
        let [uu, vv, uv] = [0, 1, 2].map(|i| {
            let of: Vec<(f64, f64)> = near
                .iter()
                .map(|observation| (observation.0, observation.1[i]))
                .collect();
            line_at(&of, way)
        });
        // The area is told by the size alone.
        let half2 = |[uu, vv, uv]: [f64; 3]| (uu * vv - uv * uv).max(0.0).sqrt();
        let grown = half2([uu, vv, uv])
            / median(
                near.iter()
                    .map(|observation| half2(observation.1))
                    .collect(),
            );
        let outline = Outline::new([uu, vv, uv].map(|e| e * scale / grown))?;
        Some((
            outline,
            median(near.iter().map(|observation| observation.2).collect()),
        ))
    }
}

/// An observation with the patch that it was made of.
#[derive(Clone, Copy)]
struct Outlined<'a> {
    place: &'a Place,
    blob: &'a Blob,
    rim: &'a Rim,
}

/// The middle of an observation, px.
fn at(place: &Place) -> (f64, f64) {
    (place.u_px, place.v_px)
}

/// The observations, by frame, whose patches are kept.
fn outlined<'a>(
    seen: &'a Sightings,
    slot: usize,
    observations: &'a [(usize, Place)],
) -> Vec<Outlined<'a>> {
    let with_patch = |(frame, place): &'a (usize, Place)| {
        let mut here = patches(seen, *frame, slot);
        let (blob, rim) = here.find(|(blob, _)| at(place) == (blob.u_px, blob.v_px))?;
        Some(Outlined { place, blob, rim })
    };
    observations.iter().filter_map(with_patch).collect()
}

/// Those that tell the whole mark's size. Many observations may be of pieces, with a size of their own; but a
/// piece's rim is rough.
fn telling<'a>(outlined: &[Outlined<'a>]) -> Vec<Outlined<'a>> {
    let is_smooth = |one: &&Outlined<'_>| is_smooth(one.blob, one.rim);
    let smooth: Vec<Outlined<'a>> = outlined.iter().filter(is_smooth).copied().collect();
    if smooth.len() < MIN_WHOLE {
        outlined.to_vec()
    } else {
        smooth
    }
}

/// Whether a patch's rim is an outline's as well as sampling shows.
fn is_smooth(blob: &Blob, rim: &Rim) -> bool {
    Outline::new(blob.outline_px2).is_some_and(|own| {
        own.misfit(rim, (blob.u_px, blob.v_px)) * own.half_axis_px() < ROUGH_RIM_PX
    })
}

/// What lies on a line through observations (way, value) at a place on the way: the line through the medians of the
/// nearer and of the farther observations. A mark that comes by is seen from another side bit by bit.
fn line_at(observations: &[(f64, f64)], way: f64) -> f64 {
    let mut sorted = observations.to_vec();
    sorted.sort_by(|a, b| a.0.total_cmp(&b.0));
    let (low, high) = sorted.split_at(sorted.len() / 2);
    let middle =
        |of: &[(f64, f64)], get: fn(&(f64, f64)) -> f64| median(of.iter().map(get).collect());
    let [a, b] = [low, high].map(|of| (middle(of, |l| l.0), middle(of, |l| l.1)));
    if b.0 - a.0 < 1.0 {
        return middle(&sorted, |l| l.1);
    }
    a.1 + (b.1 - a.1) / (b.0 - a.0) * (way - a.0)
}

/// The line along the way on which the sizes of whole observations lie: the inverse of the distance from the
/// camera is linear along a straight line in the picture. Pieces lie below it, nothing lies above; a
/// long rest counts once.
fn size_line(way: &[(f64, f64)]) -> Option<(f64, f64)> {
    let usual = median(way.iter().map(|(_, size)| *size).collect()).max(1.0);
    let stretch = |at: f64| (at / (STRETCH_SIZES * usual)).floor() as i64;
    let mut stretches: BTreeMap<i64, Vec<(f64, f64)>> = BTreeMap::new();
    for observation in way {
        stretches
            .entry(stretch(observation.0))
            .or_default()
            .push(*observation);
    }
    let each: Vec<(f64, f64)> = stretches
        .values()
        .map(|observations| {
            let of = |get: fn(&(f64, f64)) -> f64| median(observations.iter().map(get).collect());
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

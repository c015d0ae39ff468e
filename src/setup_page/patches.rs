//! Everything in the clip that may be a mark: each patch of any of the eight colours that was seen for
//! long, whether it lies still or moves.

use crate::clip::{Clip, ClipError, Frame};
use crate::colour::{Colour, off_hue_deg};
use crate::noise::median;
use crate::pipeline::{Observed, observe_frames};
use crate::sighting::{Finder, Sightings, Wanted};
use crate::track::{
    MIN_STILL_SHARE, MOVED_PX, MOVED_SIZES, Place, SAME_STILL_PX, Tracklet, join_tracklets,
    link_tracklets,
};
use serde::Serialize;
use std::path::Path;

/// How a patch behaves.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub(super) enum Manner {
    /// It keeps its place.
    Still,
    /// It goes somewhere.
    Moving,
    /// It goes round beside the sticker.
    Circling,
}

/// A patch of one colour, followed through the clip.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(super) struct Patch {
    /// What the page calls it, from 1.
    pub number: usize,
    /// Its colour.
    #[serde(serialize_with = "name_of")]
    pub colour: Colour,
    /// How it behaves.
    pub manner: Manner,
    /// Whether it looks like a mark: a disc, as strong of colour as the strongest of its name.
    pub likely: bool,
    /// Frames in which it was seen.
    pub frames_seen: usize,
    /// Diameter of a disc of its area, px.
    pub width_px: f64,
    /// How far it went, px.
    pub travel_px: f64,
    /// Where it is in each frame, `[u, v]`; for one that lies still a single place.
    pub places: Vec<Option<[f64; 2]>>,
}

#[expect(
    clippy::trivially_copy_pass_by_ref,
    reason = "the serializer hands over a reference"
)]
fn name_of<S: serde::Serializer>(colour: &Colour, out: S) -> Result<S::Ok, S::Error> {
    out.serialize_str(colour.as_str())
}

/// The kit's four colours are told apart in one pass, the others in a second.
const PASSES: [[Colour; 4]; 2] = [
    [Colour::Magenta, Colour::Orange, Colour::Green, Colour::Blue],
    [Colour::Red, Colour::Yellow, Colour::Cyan, Colour::Purple],
];
/// Discs are fitted now and then only: this observation finds patches, and measuring observations again.
const FIT_EVERY: u32 = 6;

/// Decodes the clip once and looks for all eight colours.
///
/// # Errors
/// What is wrong with the clip.
pub(super) fn look_for_all(
    path: &Path,
    progress: &dyn Fn(u64, Option<u64>),
) -> Result<Observed, ClipError> {
    let finder = |colours: [Colour; 4]| {
        let fit_every = FIT_EVERY;
        Finder::new(colours.map(|colour| Wanted { colour, fit_every }).to_vec())
    };
    let [mut kit, mut others] = PASSES.map(finder);
    let observation = |frame: &Frame| {
        let (mut seen, further) = rayon::join(|| kit.find(frame), || others.find(frame));
        seen.blobs.extend(further.blobs);
        seen
    };
    observe_frames(Clip::open(path)?, PASSES.concat(), observation, progress)
}

/// Where a patch may be one of the kit's colours or a neighbour of it, the kit's has these odds.
const KIT_ODDS_DEG: f64 = 8.0;

/// A chain with what is known of it.
struct Chain {
    colour: Colour,
    tracklet: Tracklet,
    still: bool,
    off_hue_deg: f64,
}

/// A patch that is not seen as long as a still mark moves for this many frames. Chosen by hand; not measured.
const MIN_MOVING_FRAMES: usize = 8;
/// More patches than this nobody wants to look through.
const MOST_STILL: usize = 20;
const MOST_MOVING: usize = 10;

/// The patches of a clip, the longest seen and largest of each manner; numbers are given later.
pub(super) fn patches(seen: &Sightings) -> Vec<Patch> {
    let total = seen.frames.len();
    let mut chains: Vec<Chain> = Vec::new();
    for (slot, &colour) in seen.colours.iter().enumerate() {
        for tracklet in join_tracklets(link_tracklets(seen, slot)) {
            let size = tracklet.area_px2().max(0.0).sqrt();
            let moves = tracklet.travel_px() > (MOVED_SIZES * size).max(MOVED_PX);
            let long = tracklet.steps.len() as f64 > MIN_STILL_SHARE * total as f64;
            if long || (moves && tracklet.steps.len() >= MIN_MOVING_FRAMES) {
                let odds = if slot < PASSES[0].len() {
                    0.0
                } else {
                    KIT_ODDS_DEG
                };
                let off_hue_deg = off_hue(seen, slot, &tracklet) + odds;
                chains.push(Chain {
                    colour,
                    tracklet,
                    still: !moves,
                    off_hue_deg,
                });
            }
        }
    }
    let chains = each_once(chains);
    let mut out: Vec<(f64, Patch)> = chains
        .iter()
        .map(|chain| {
            let likely = is_likely(chain, &chains);
            (weight(&chain.tracklet), patch(chain, total, likely))
        })
        .collect();
    out.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut left = [MOST_STILL, MOST_MOVING];
    out.retain(|(_, patch)| {
        let room = &mut left[usize::from(patch.manner == Manner::Moving)];
        let keep = *room > 0;
        *room = room.saturating_sub(1);
        keep
    });
    out.into_iter().map(|(_, patch)| patch).collect()
}

/// Mean contrast of a chain, and the share of its observations that are discs.
fn observations(tracklet: &Tracklet) -> (f64, f64) {
    let n = tracklet.steps.len().max(1) as f64;
    let contrast: f64 = tracklet.steps.iter().map(|(_, place)| place.contrast).sum();
    let fitted = tracklet
        .steps
        .iter()
        .filter(|(_, place)| place.fitted)
        .count();
    (contrast / n, fitted as f64 / n)
}

/// What makes a patch worth being shown: seen long, large, strong of colour, and round.
fn weight(tracklet: &Tracklet) -> f64 {
    let (contrast, fitted) = observations(tracklet);
    let size = tracklet.area_px2().max(0.0).sqrt().min(60.0);
    tracklet.steps.len() as f64 * contrast * size * (0.2 + fitted)
}

/// A mark has this share of its observations fitted as a disc ...
const MIN_FITTED: f64 = 0.3;
/// ... this share of the contrast of its own colour's strongest disc, since paper of one kind is alike, ...
const OWN_SHARE: f64 = 0.45;
/// ... and this share of the strongest of all: tinted patches of walls, boxes and bodies are pale.
const ALL_SHARE: f64 = 0.35;

/// Contrast of the strongest disc among some chains.
fn strongest<'a>(chains: impl Iterator<Item = &'a Chain>) -> f64 {
    chains
        .map(|chain| observations(&chain.tracklet))
        .filter(|(_, fitted)| *fitted > MIN_FITTED)
        .map(|(contrast, _)| contrast)
        .fold(0.0, f64::max)
}

fn is_likely(chain: &Chain, chains: &[Chain]) -> bool {
    let (contrast, fitted) = observations(&chain.tracklet);
    let own = strongest(chains.iter().filter(|other| other.colour == chain.colour));
    let least = (OWN_SHARE * own).max(ALL_SHARE * strongest(chains.iter()));
    fitted > MIN_FITTED && contrast > least
}

fn patch(chain: &Chain, total: usize, likely: bool) -> Patch {
    let round = |place: &Place| [place.u_px, place.v_px].map(|px| (px * 10.0).round() / 10.0);
    let middle = |get: fn(&Place) -> f64| {
        let steps = chain.tracklet.steps.iter();
        median(steps.map(|(_, place)| get(place))).unwrap_or_default()
    };
    let places = if chain.still {
        vec![Some([middle(|p| p.u_px), middle(|p| p.v_px)])]
    } else {
        chain
            .tracklet
            .places(total)
            .iter()
            .map(|place| place.as_ref().map(round))
            .collect()
    };
    Patch {
        number: 0,
        colour: chain.colour,
        manner: if chain.still {
            Manner::Still
        } else {
            Manner::Moving
        },
        likely,
        frames_seen: chain.tracklet.steps.len(),
        width_px: 2.0 * (chain.tracklet.area_px2().max(0.0) / std::f64::consts::PI).sqrt(),
        travel_px: chain.tracklet.travel_px(),
        places,
    }
}

/// How far the chain's hue is from its colour's name, in the middle of the chain.
fn off_hue(seen: &Sightings, slot: usize, tracklet: &Tracklet) -> f64 {
    let Some((frame, place)) = tracklet.steps.get(tracklet.steps.len() / 2) else {
        return f64::INFINITY;
    };
    let blobs = seen
        .frames
        .get(*frame)
        .and_then(|frame| frame.blobs.get(slot));
    blobs
        .into_iter()
        .flatten()
        .find(|blob| blob.u_px == place.u_px && blob.v_px == place.v_px)
        .map_or(f64::INFINITY, |blob| {
            off_hue_deg(seen.colours[slot], blob.chroma)
        })
}

/// The chains without those that are the same thing under a neighbouring colour's name, or a second part
/// of a still patch that something passed in front of.
fn each_once(mut chains: Vec<Chain>) -> Vec<Chain> {
    chains.sort_by(|a, b| a.off_hue_deg.total_cmp(&b.off_hue_deg));
    let mut kept: Vec<Chain> = Vec::new();
    for chain in chains {
        let known = kept.iter_mut().find(|other| is_same(other, &chain));
        match known {
            Some(other) if other.still && other.colour == chain.colour => {
                let all = chain.tracklet.steps.into_iter();
                other.tracklet.steps.extend(all);
                other.tracklet.steps.sort_by_key(|step| step.0);
                other.tracklet.steps.dedup_by_key(|step| step.0);
            }
            Some(_) => {}
            None => kept.push(chain),
        }
    }
    kept
}

fn is_same(a: &Chain, b: &Chain) -> bool {
    let apart = |p: &Place, q: &Place| (p.u_px - q.u_px).hypot(p.v_px - q.v_px);
    if a.colour == b.colour {
        let first = |chain: &Chain| chain.tracklet.steps.first().map(|step| step.1);
        return a.still
            && b.still
            && first(a)
                .zip(first(b))
                .is_some_and(|(p, q)| apart(&p, &q) < SAME_STILL_PX);
    }
    let mut rest = a.tracklet.steps.iter().peekable();
    let (mut common, mut near) = (0_usize, 0_usize);
    for (frame, place) in &b.tracklet.steps {
        while rest.next_if(|step| step.0 < *frame).is_some() {}
        if let Some((_, other)) = rest.next_if(|step| step.0 == *frame) {
            common += 1;
            near += usize::from(
                apart(place, other) < 0.6 * place.area_px2.max(other.area_px2).sqrt().max(3.0),
            );
        }
    }
    2 * near > b.tracklet.steps.len() || (common > 5 && 4 * near > 3 * common)
}

impl Patch {
    /// Where it is in a frame.
    pub(super) fn at(&self, frame: usize) -> Option<[f64; 2]> {
        match self.places.as_slice() {
            [only] if self.manner == Manner::Still => *only,
            places => places.get(frame).copied().flatten(),
        }
    }

    /// Whether it is where a followed mark is, in most of the frames that show both.
    pub(super) fn is_at(&self, places: &[Option<Place>]) -> bool {
        let reach = (0.5 * self.width_px).max(3.0);
        let (mut common, mut near) = (0_usize, 0_usize);
        for (frame, place) in places.iter().enumerate() {
            if let (Some(place), Some([u, v])) = (place, self.at(frame)) {
                common += 1;
                near += usize::from((place.u_px - u).hypot(place.v_px - v) < reach);
            }
        }
        common >= 3 && 10 * near > 6 * common
    }
}

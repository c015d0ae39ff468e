//! Floor marks in a clip whose camera moves: each is followed through the picture.

use super::link::{Tracklet, join_tracklets, link_tracklets, median};
use super::{Place, Places, floor};
use crate::colour::Colour;
use crate::sighting::Sightings;

/// A patch of a floor mark's colour, followed through the clip.
#[derive(Debug, Clone, PartialEq)]
pub struct FloorPath {
    /// Its colour.
    pub colour: Colour,
    /// Where it was, by frame index; increasing, gaps allowed.
    pub steps: Vec<(usize, Place)>,
}

/// A patch seen in fewer frames than this says nothing about the camera.
const MIN_STEPS: usize = 6;
/// With this many patches that are discs, the others are left out.
const MIN_DISCS: usize = 4;
/// A patch has left its place when it is this far from its middle, px ...
const AWAY_PX: f64 = 0.8;
/// ... in this share of its frames: a car that passes in front disturbs a mark for fewer.
const AWAY_SHARE: f64 = 0.25;

/// Patches of the floor marks' colours, followed; none where the camera stands still.
///
/// `sticker` is the sticker with its colour, once it is known: it is no mark.
pub(super) fn floor_paths(
    seen: &Sightings,
    colours: &[Colour],
    sticker: Option<(Colour, &Places)>,
) -> Vec<FloorPath> {
    let mut paths = Vec::new();
    for &colour in colours {
        let Some(slot) = seen.slot(colour) else {
            continue;
        };
        let taken = sticker
            .filter(|(own, _)| *own == colour)
            .map(|(_, places)| places);
        for tracklet in join_tracklets(link_tracklets(seen, slot)) {
            if tracklet.steps.len() >= MIN_STEPS && !floor::is_taken(&tracklet, taken) {
                paths.push((wanders(&tracklet), colour, tracklet));
            }
        }
    }
    // Marks are discs and are fitted as such; tinted patches of a wall are not, and drift with its noise.
    let discs = |tracklet: &Tracklet| {
        let fitted = tracklet
            .steps
            .iter()
            .filter(|(_, place)| place.fitted)
            .count();
        2 * fitted > tracklet.steps.len()
    };
    if paths
        .iter()
        .filter(|(.., tracklet)| discs(tracklet))
        .count()
        >= MIN_DISCS
    {
        paths.retain(|(.., tracklet)| discs(tracklet));
    }
    // Weighed by frames: a passer-by in the floor marks' colour is one path among many.
    let frames = |moved: bool| -> usize {
        let of = paths.iter().filter(|(wanders, ..)| *wanders == moved);
        of.map(|(.., tracklet)| tracklet.steps.len()).sum()
    };
    if frames(true) <= frames(false) {
        return Vec::new();
    }
    paths
        .into_iter()
        .map(|(_, colour, tracklet)| FloorPath {
            colour,
            steps: tracklet.steps,
        })
        .collect()
}

/// How far the picture has shifted since the first frame, px, an entry a frame: the middle of the floor
/// paths' own shifts. Nothing where the camera stands still.
pub(super) fn camera_shift(paths: &[FloorPath], frames: usize) -> Vec<(f64, f64)> {
    let mut steps: Vec<Vec<(f64, f64)>> = vec![Vec::new(); frames];
    for path in paths {
        for pair in path.steps.windows(2) {
            let ((before, a), (frame, b)) = (&pair[0], &pair[1]);
            if before + 1 == *frame {
                steps[*frame].push((b.u_px - a.u_px, b.v_px - a.v_px));
            }
        }
    }
    let mut shift = (0.0, 0.0);
    steps
        .into_iter()
        .map(|of_frame| {
            shift.0 += median(of_frame.iter().map(|s| s.0).collect());
            shift.1 += median(of_frame.iter().map(|s| s.1).collect());
            shift
        })
        .collect()
}

fn wanders(tracklet: &Tracklet) -> bool {
    let u = median(tracklet.steps.iter().map(|(_, p)| p.u_px).collect());
    let v = median(tracklet.steps.iter().map(|(_, p)| p.v_px).collect());
    let away = tracklet
        .steps
        .iter()
        .filter(|(_, p)| (p.u_px - u).hypot(p.v_px - v) > AWAY_PX)
        .count();
    away as f64 > AWAY_SHARE * tracklet.steps.len() as f64
}

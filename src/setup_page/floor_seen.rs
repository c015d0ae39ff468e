//! How each floor mark of the sheet is seen in one frame, and how well its numbers fit.

use super::patches::Patch;
use crate::camera::{Projection, View, disc_shift_px};
use crate::pipeline::Outline;
use crate::sheet::{FloorMark, RunSheet};
use crate::track::{Places, StillMark};
use nalgebra::{Point3, Vector2};
use serde::Serialize;

/// How a floor mark fits.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(super) struct FloorSeen {
    /// Which floor mark of the page.
    pub row: usize,
    /// Which patch it is.
    pub patch: Option<usize>,
    /// Where it is seen, px.
    pub seen_px: Option<[f64; 2]>,
    /// Where its numbers put it, px.
    pub expected_px: Option<[f64; 2]>,
    /// Distance of the two, px.
    pub residual_px: Option<f64>,
    /// The same on the floor, mm.
    pub residual_mm: Option<f64>,
    /// What a millimetre of tape and the patch's own uncertainty make of it, px.
    pub usual_px: Option<f64>,
    /// Whether that is more than chance.
    pub odd: bool,
    /// In words.
    pub says: String,
}

/// A mark that is off by more than this many times what is usual was measured or named wrongly.
const ODD_FACTOR: f64 = 3.5;

/// The floor as one frame shows it.
pub(super) struct FloorInFrame<'a> {
    /// What was seen all along.
    pub outline: &'a Outline,
    /// How the frame sees the floor, where that is known.
    pub projection: Option<&'a Projection>,
    /// The patches that the page shows.
    pub patches: &'a [Patch],
    /// The frame.
    pub frame: usize,
}

/// What lies still where a floor mark should be.
struct Found<'a> {
    still: &'a StillMark,
    /// Whether the camera rests on it; else someone pointed at it.
    used: bool,
}

impl FloorInFrame<'_> {
    /// The floor marks of a sheet; `rows` says which of the page's each one is.
    pub(super) fn marks(&self, sheet: &RunSheet, rows: &[usize]) -> Vec<FloorSeen> {
        let sheet_marks = sheet.floor_marks.iter().enumerate();
        sheet_marks
            .map(|(index, mark)| {
                let row = rows.get(index).copied().unwrap_or(index);
                match &self.outline.view.moving {
                    Some(moving) => self.followed(mark, row, index, &moving.names),
                    None => self.still(mark, row, index),
                }
            })
            .collect()
    }

    /// The camera, where it shows sideways motion.
    fn camera(&self) -> Option<&Projection> {
        self.projection
            .filter(|_| self.outline.view.lateral.is_ok())
    }

    /// A mark of which nothing was found.
    fn unseen(&self, mark: &FloorMark, row: usize) -> FloorSeen {
        let floor = Point3::new(mark.x_m, mark.y_m, 0.0);
        let expected = self.camera().and_then(|camera| camera.pixel(&floor));
        FloorSeen {
            row,
            patch: None,
            seen_px: None,
            expected_px: expected.map(Into::into),
            residual_px: None,
            residual_mm: None,
            usual_px: None,
            odd: false,
            says: unseen_words(&self.outline.view, mark),
        }
    }

    /// A mark before a camera that moves; `names` says which followed path is which mark.
    fn followed(
        &self,
        mark: &FloorMark,
        row: usize,
        index: usize,
        names: &[Option<usize>],
    ) -> FloorSeen {
        let places = followed_mark(self.outline, names, index);
        let own = self
            .patches
            .iter()
            .find(|p| p.colour == mark.colour && p.is_at(&places));
        let here = places.get(self.frame).copied().flatten();
        let unseen = self.unseen(mark, row);
        let off = here.zip(unseen.expected_px);
        FloorSeen {
            patch: own.map(|patch| patch.number),
            seen_px: here.map(|place| [place.u_px, place.v_px]),
            residual_px: off.map(|(p, [u_px, v_px])| (p.u_px - u_px).hypot(p.v_px - v_px)),
            ..unseen
        }
    }

    /// A mark before a camera that stands.
    fn still(&self, mark: &FloorMark, row: usize, index: usize) -> FloorSeen {
        let unseen = self.unseen(mark, row);
        let Some(found) = self.found(mark, index) else {
            return unseen;
        };
        let seen = FloorSeen {
            seen_px: Some([found.still.u_px, found.still.v_px]),
            ..unseen
        };
        match (self.camera(), seen.expected_px) {
            (Some(camera), Some(expected)) => {
                self.fit(seen, mark, &found, camera, Vector2::from(expected))
            }
            _ => seen,
        }
    }

    /// What lies still at a mark's place: what the camera rests on, else what was pointed at.
    fn found(&self, mark: &FloorMark, index: usize) -> Option<Found<'_>> {
        let outline = self.outline;
        let patch = outline.view.correspondence.get(index).copied().flatten();
        let named = patch.and_then(|patch| outline.track.floor.get(patch));
        let still = named.or_else(|| pointed_patch(outline, mark))?;
        Some(Found {
            still,
            used: named.is_some(),
        })
    }

    /// How far what was found is from where the mark's numbers put it.
    fn fit(
        &self,
        seen: FloorSeen,
        mark: &FloorMark,
        found: &Found<'_>,
        camera: &Projection,
        expected: Vector2<f64>,
    ) -> FloorSeen {
        let still = found.still;
        let place = Vector2::new(mark.x_m, mark.y_m);
        let at = Vector2::new(still.u_px, still.v_px);
        let shift = disc_shift_px(camera, place, still.area_px2).unwrap_or_default();
        let residual_px = (at - shift - expected).norm();
        let on_floor = |pixel| camera.at_height(pixel, 0.0).map(|p| Vector2::new(p.x, p.y));
        let residual_mm = on_floor(at - shift).map(|found| 1000.0 * (found - place).norm());
        let taped = Point3::new(place.x + self.outline.priors.mark_sd_m, place.y, 0.0);
        let tape = camera
            .pixel(&taped)
            .map_or(0.0, |moved| (moved - expected).norm());
        let usual_px = tape.hypot(still.sd_px).max(0.1);
        let own = self
            .patches
            .iter()
            .find(|p| p.colour == mark.colour && is_near(p, at));
        let mut out = FloorSeen {
            patch: own.map(|patch| patch.number),
            residual_px: Some(residual_px),
            residual_mm,
            usual_px: Some(usual_px),
            odd: !found.used || residual_px > ODD_FACTOR * usual_px,
            ..seen
        };
        out.says = if found.used {
            let marks = self.outline.view.correspondence.iter().flatten().count();
            residual_words(&out, marks <= 4)
        } else {
            unused_words(&out)
        };
        out
    }
}

fn is_near(patch: &Patch, at: Vector2<f64>) -> bool {
    let reach = (0.5 * patch.width_px).max(3.0);
    patch
        .at(0)
        .is_some_and(|[u, v]| (at - Vector2::new(u, v)).norm() < reach)
}

/// Where a floor mark was seen, frame by frame, by a camera that moves; `names` says which path is which mark.
fn followed_mark(outline: &Outline, names: &[Option<usize>], mark: usize) -> Places {
    let mut places = vec![None; outline.track.times_s.len()];
    let paths = names.iter().zip(&outline.track.floor_paths);
    for (_, path) in paths.filter(|(name, _)| **name == Some(mark)) {
        for (frame, place) in &path.steps {
            if let Some(entry) = places.get_mut(*frame) {
                *entry = Some(*place);
            }
        }
    }
    places
}

/// The still patch that someone pointed at, whether or not its numbers fit.
fn pointed_patch<'a>(outline: &'a Outline, mark: &FloorMark) -> Option<&'a StillMark> {
    let pointed = mark.pointed?;
    let away = |still: &StillMark| (still.u_px - pointed.u_px).hypot(still.v_px - pointed.v_px);
    let own = outline
        .track
        .floor
        .iter()
        .filter(|still| still.colour == mark.colour);
    let near = own.filter(|still| away(still) < still.area_px2.sqrt().max(6.0));
    near.min_by(|a, b| away(a).total_cmp(&away(b)))
}

fn off_words(seen: &FloorSeen) -> String {
    let off = seen.residual_px.unwrap_or_default();
    let mm = seen
        .residual_mm
        .map_or(String::new(), |mm| format!(", {mm:.1} mm on the floor"));
    format!("{off:.1} px off{mm}")
}

fn unused_words(seen: &FloorSeen) -> String {
    format!(
        "not used: its numbers do not agree with the other marks ({}). Measure it again, or check that it is \
         the right mark.",
        off_words(seen)
    )
}

fn residual_words(seen: &FloorSeen, four: bool) -> String {
    let off = off_words(seen);
    if seen.odd {
        return format!(
            "{off}: more than a tape measure explains. Measure it again, or check that it is \
             the right mark."
        );
    }
    if four {
        return format!("{off}. With four marks nothing checks the numbers; a fifth would.");
    }
    format!("fits: {off}")
}

fn unseen_words(view: &View, mark: &FloorMark) -> String {
    let colour = mark.colour;
    match (&view.lateral, &view.moving) {
        (_, Some(_)) => "the camera moves, and is followed by all marks together".into(),
        (Err(_), _) => "waits until four marks fit".into(),
        (Ok(()), _) if mark.pointed.is_some() => {
            format!("nothing {colour} lies still where it was pointed at, so it is not used")
        }
        (Ok(()), _) => {
            format!("nothing {colour} was seen where its numbers put it, so it is not used")
        }
    }
}

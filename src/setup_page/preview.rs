//! What follows from what was typed: which patch is which mark (how well the floor marks fit: `floor_seen.rs`), and
//! what the camera would see of the floor and the wheel. Pure functions of (sheet, what was seen).

use super::drawing::{Line, floor_lines, wheel_lines};
use super::floor_seen::{FloorInFrame, FloorSeen};
use super::patches::Patch;
use crate::camera::{Projection, View, ViewSource};
use crate::pipeline::Outline;
use crate::priors::colour_notes;
use crate::sheet::RunSheet;
use crate::track::{Places, TrackNote};
use serde::Serialize;

/// Where the marks of the car are in one frame, and how often they were seen.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub(super) struct CarSeen {
    /// Frames of the clip.
    pub frames: usize,
    /// Frames with the sticker.
    pub sticker_frames: usize,
    /// Frames with the wheel mark.
    pub wheel_frames: usize,
    /// Frames with each further mark of the same wheel.
    pub more_wheel_frames: Vec<usize>,
    /// Frames with the axle mark.
    pub axle_frames: usize,
    /// The sticker in this frame, px.
    pub sticker: Option<[f64; 2]>,
    /// The wheel mark in this frame, px.
    pub wheel_mark: Option<[f64; 2]>,
    /// The axle mark in this frame, px.
    pub axle_mark: Option<[f64; 2]>,
}

/// Which table of the sheet a patch belongs to.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(super) struct Role {
    /// Number of the patch.
    pub patch: usize,
    /// `sticker`, `wheel_mark`, `axle_mark` or `floor_mark`.
    pub table: &'static str,
    /// Which floor mark of the page, or which further wheel mark.
    pub row: Option<usize>,
}

/// Everything that follows from a sheet, for one frame.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub(super) struct Preview {
    /// The car's marks.
    pub car: CarSeen,
    /// Floor marks.
    pub floor: Vec<FloorSeen>,
    /// Patches that were recognised.
    pub roles: Vec<Role>,
    /// How the run is seen, in a sentence.
    pub view: String,
    /// Whether sideways motion can be seen.
    pub sideways: bool,
    /// What the picture shows beside the marks.
    pub lines: Vec<Line>,
    /// Millimetres between the floor grid's lines.
    pub grid_step_mm: Option<f64>,
    /// What the sizes say about the wheel mark, in a sentence.
    pub wheel: Option<String>,
    /// What else to know.
    pub notes: Vec<String>,
}

/// What follows from a sheet, for one frame. `rows` says which of the page's floor marks each one of the
/// sheet is.
pub(super) fn preview(
    outline: &Outline,
    sheet: &RunSheet,
    rows: &[usize],
    patches: &[Patch],
    frame: usize,
) -> Preview {
    let track = &outline.track;
    let view = &outline.view;
    let projection = projection_at(outline, view, frame);
    let floor = FloorInFrame {
        outline,
        projection: projection.as_ref(),
        patches,
        frame,
    }
    .marks(sheet, rows);
    let (floor_lines, grid_step_mm) =
        projection
            .as_ref()
            .filter(|_| view.lateral.is_ok())
            .map_or((Vec::new(), None), |seen| {
                let (lines, step_m) = floor_lines(seen, &outline.priors);
                (lines, Some(1000.0 * step_m))
            });
    let mut lines = floor_lines;
    let mut wheel = None;
    if let (Ok(analysis), Some(seen), true) = (&outline.analysis, &projection, view.lateral.is_ok())
    {
        let typed = places_hub(sheet);
        if typed {
            lines.extend(wheel_lines(seen, &outline.priors, analysis, frame));
        }
        wheel = wheel_words(outline, typed);
    }
    Preview {
        car: car_seen(outline, frame),
        roles: roles(track, &floor, patches),
        view: view_words(view, sheet.floor_marks.len()),
        sideways: view.lateral.is_ok(),
        lines,
        grid_step_mm,
        wheel,
        notes: notes(outline, view, sheet),
        floor,
    }
}

/// How a frame sees the floor; a moving camera is asked for the middle of the frame.
pub(super) fn projection_at(outline: &Outline, view: &View, frame: usize) -> Option<Projection> {
    let begun_s = outline
        .track
        .times_s
        .get(frame)
        .copied()
        .unwrap_or_default();
    view.at(begun_s + 0.5 * outline.priors.readout_s.value)
}

fn car_seen(outline: &Outline, frame: usize) -> CarSeen {
    let track = &outline.track;
    let count = |places: &Places| places.iter().flatten().count();
    let at = |places: &Places| {
        places
            .get(frame)
            .copied()
            .flatten()
            .map(|p| [p.u_px, p.v_px])
    };
    CarSeen {
        frames: track.times_s.len(),
        sticker_frames: count(&track.sticker),
        wheel_frames: count(&track.wheel),
        more_wheel_frames: track.more_wheel.iter().map(count).collect(),
        axle_frames: count(&track.axle),
        sticker: at(&track.sticker),
        wheel_mark: at(&track.wheel),
        axle_mark: at(&track.axle),
    }
}

/// Which patch is which mark of the sheet.
fn roles(track: &crate::track::Track, floor: &[FloorSeen], patches: &[Patch]) -> Vec<Role> {
    let mut out: Vec<Role> = Vec::new();
    let single = [
        ("sticker", &track.sticker),
        ("wheel_mark", &track.wheel),
        ("axle_mark", &track.axle),
    ];
    let single = single.map(|(table, places)| (table, None, places));
    let further = track.more_wheel.iter().enumerate();
    let further = further.map(|(row, places)| ("wheel_mark", Some(row), places));
    for (table, row, places) in single.into_iter().chain(further) {
        let found = patches
            .iter()
            .filter(|p| p.is_at(places))
            .max_by_key(|p| p.frames_seen);
        out.extend(found.map(|patch| Role {
            patch: patch.number,
            table,
            row,
        }));
    }
    out.extend(floor.iter().filter_map(|seen| {
        Some(Role {
            patch: seen.patch?,
            table: "floor_mark",
            row: Some(seen.row),
        })
    }));
    out
}

/// Floor marks that show where the camera stood.
const ENOUGH_MARKS: usize = 4;

/// How the run is seen, in a sentence.
pub(super) fn view_words(view: &View, typed_marks: usize) -> String {
    let why = |otherwise: &str| match view.note {
        Some(why) if typed_marks >= ENOUGH_MARKS => why.to_string(),
        _ => otherwise.to_owned(),
    };
    match &view.source {
        ViewSource::FloorMarks {
            marks,
            residual_px,
            moving,
            ..
        } => {
            let how = if *moving {
                "; the camera is followed as it moves"
            } else {
                ""
            };
            format!(
                "{marks} floor marks show where the camera stood, and fit within {residual_px:.2} px{how}."
            )
        }
        ViewSource::PlainScale { .. } => format!(
            "For now lengths are good to {:.0} % only: {}",
            200.0 * view.scale.as_ref().map_or(0.0, |scale| scale.rel_sd),
            why("four floor marks that are not in one line would show where the camera stood")
        ),
        ViewSource::PixelsOnly => format!(
            "No scale yet: {}",
            why("type x and y of four floor marks that are not in one line")
        ),
    }
}

/// A hub that the mark's own circle puts farther than this from where the sizes put it, mm.
const HUB_OFF_MM: f64 = 6.0;

/// Whether the sizes that put the hub under the sticker were typed: a stand-in for one of them would be off, and that is
/// nothing to warn of.
const fn places_hub(sheet: &RunSheet) -> bool {
    sheet.car.wheel_diameter_m.is_some()
        && sheet.sticker.height_m.is_some()
        && sheet.sticker.ahead_m.is_some()
}

fn wheel_words(outline: &Outline, typed: bool) -> Option<String> {
    let wheel = match &outline.analysis.as_ref().ok()?.motion.wheel {
        Ok(wheel) => wheel,
        Err(why) => {
            let observations = outline.track.wheel.iter().flatten().count();
            return (observations > 0)
                .then(|| format!("The turns of the wheel cannot be seen: {why}"));
        }
    };
    let [ahead, up] = wheel.hub_offset_m.map(|m| 1000.0 * m);
    let radius = 1000.0 * wheel.mark_radius_m;
    let off = ahead.hypot(up);
    let from_sizes = if !typed {
        String::new()
    } else if off > HUB_OFF_MM {
        format!(
            "; its centre is {off:.0} mm from where your sizes put the hub ({ahead:+.0} mm ahead, {up:+.0} mm \
             up): look again at the wheel diameter, the sticker height and how far the sticker is ahead of the axle"
        )
    } else {
        format!(
            "; its centre is within {:.0} mm of where your sizes put the hub",
            off.max(1.0).ceil()
        )
    };
    Some(format!(
        "The wheel mark goes round at {radius:.1} mm from the hub (\u{b1} {:.1} mm from frame to frame){from_sizes}.",
        1000.0 * wheel.residual_m
    ))
}

fn notes(outline: &Outline, view: &View, sheet: &RunSheet) -> Vec<String> {
    let mut out: Vec<String> = outline
        .track
        .notes
        .iter()
        .map(|note| match note {
            TrackNote::NoWheelMark => "nothing in the wheel mark's colour goes round next to the sticker".into(),
            TrackNote::StickerStill => "what was taken for the sticker never moved; is that the sticker?".into(),
            TrackNote::StickerLost { at_ms } => {
                format!("the sticker is lost at {:.2} s, in the middle of the run", *at_ms as f64 / 1000.0)
            }
            TrackNote::SeveralMoving { others } => {
                format!("{others} other things in the sticker's colour move as well, none of them like the car")
            }
        })
        .collect();
    out.extend(outline.doubt.as_ref().map(ToString::to_string));
    out.extend(outline.analysis.as_ref().err().map(ToString::to_string));
    if matches!(view.source, ViewSource::FloorMarks { .. }) {
        out.extend(view.note.map(|why| why.to_string()));
    }
    out.extend(
        outline
            .sheet
            .from_kit
            .iter()
            .map(|part| part.note().to_string()),
    );
    out.extend(sheet.doubts.iter().map(ToString::to_string));
    out.extend(colour_notes(sheet).iter().map(ToString::to_string));
    out
}

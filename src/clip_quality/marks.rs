//! Sticker, wheel mark and floor marks: sizes, colours and light.

use super::{Evidence, Grade, Item, RunEvidence, at_least, at_most};
use crate::camera::{View, ViewSource};
use crate::colour::{Closeness, Colour, closeness};
use crate::motion::MotionReason;
use crate::noise::median;
use crate::track::{MIN_CIRCLING_FRAMES, Place, Places, Tracklet, join_tracklets, link_tracklets};

/// Diameters of the sticker, px: from 14 on a disc is placed to some hundredths of a pixel (DEVELOPERS.md,
/// accuracy floors); below 8 it is not told from clutter.
const GOOD_STICKER_PX: f64 = 14.0;
const USABLE_STICKER_PX: f64 = 8.0;
/// The same for the wheel mark, whose angle asks for less.
const GOOD_WHEEL_PX: f64 = 8.0;
const USABLE_WHEEL_PX: f64 = 5.0;
/// Share of the frames between first and last observation in which a mark is seen.
const GOOD_SEEN: f64 = 0.9;
const USABLE_SEEN: f64 = 0.6;
/// How surely an observation places the sticker, px: a tenth is a fifth of a millimetre at 3 m.
const GOOD_PLACED_PX: f64 = 0.12;
const USABLE_PLACED_PX: f64 = 0.35;
/// Chroma distance between sticker and surroundings, codes. An observation's variance holds (2 / contrast)² px² for
/// coding, so that 12 codes give 0.17 px. A kit's print in a bright room gives 50 to 70; below 40 the room is dim or
/// the print pale, and the smaller wheel mark suffers first.
const GOOD_CONTRAST: f64 = 40.0;
const USABLE_CONTRAST: f64 = 10.0;
/// A phone corrects its main lens to less bend (k1) than this; a wide one leaves more. From memory, no source.
const GOOD_BEND: f64 = 0.06;
/// Residual of the floor marks on the floor, m: a tape and a hand leave a millimetre or two; more than 4 mm is
/// a mark that was misread, moved or half hidden.
const GOOD_RESIDUAL_M: f64 = 0.0015;
const USABLE_RESIDUAL_M: f64 = 0.004;
/// With four marks the camera fits whatever they say; a fifth shows a wrong one.
const GOOD_FLOOR_MARKS: usize = 5;

pub(super) fn items(evidence: &Evidence<'_>, run: &RunEvidence<'_>, moved: bool) -> Vec<Item> {
    let mut out = vec![
        camera(run),
        colours(evidence, run),
        sticker(run),
        light(run),
    ];
    out.extend(wheel_mark(evidence, run, moved));
    out.push(floor_marks(run));
    out
}

/// Median diameter of a mark's observations, px.
fn diameter_px(places: &Places) -> Option<f64> {
    let of = |place: &Place| (4.0 * place.area_px2 / std::f64::consts::PI).sqrt();
    median(places.iter().flatten().map(of))
}

/// Share of the frames between first and last observation in which the mark was seen.
fn seen_share(places: &Places) -> f64 {
    let first = places.iter().position(Option::is_some);
    let last = places.iter().rposition(Option::is_some);
    match (first, last) {
        (Some(first), Some(last)) => {
            places.iter().flatten().count() as f64 / (last - first + 1) as f64
        }
        _ => 0.0,
    }
}

fn camera(run: &RunEvidence<'_>) -> Item {
    let moves =
        run.view.is_ok_and(|view| view.moving.is_some()) || !run.track.floor_paths.is_empty();
    let bend = run.view.ok().and_then(|view| match view.source {
        ViewSource::FloorMarks { k1, .. } => Some(k1),
        _ => None,
    });
    let bent = bend.is_some_and(|k1| k1.abs() > GOOD_BEND);
    let (grade, says, change) = if moves {
        let says = "the camera moves; what moves with it is taken out";
        (
            Grade::Usable,
            says.to_owned(),
            "put the phone on a tripod, or on books with a clamp",
        )
    } else if bent {
        let says = format!(
            "the lens bends straight lines (k1 = {:.2})",
            bend.unwrap_or(0.0)
        );
        (
            Grade::Usable,
            says,
            "use the main lens (1\u{d7}), from further away rather than with the wide one",
        )
    } else {
        (
            Grade::Good,
            "it stands still, and the lens hardly bends straight lines".to_owned(),
            "",
        )
    };
    let item = Item::new("camera", "camera", grade, says).change(change);
    bend.into_iter()
        .fold(item, |item, k1| item.number("lens_k1", k1))
}

fn sticker(run: &RunEvidence<'_>) -> Item {
    let (seen, by_size) = seen_well(
        &run.track.sticker,
        [GOOD_STICKER_PX, USABLE_STICKER_PX],
        ["sticker_diameter_px", "sticker_seen_share"],
        Item::new("sticker", "body sticker", Grade::Good, String::new()),
    );
    seen.essential().change(if by_size {
        "use a larger sticker, come nearer, or film at a higher resolution"
    } else {
        "keep everything out of the line from the phone to the sticker"
    })
}

/// The item of a mark that is followed, graded by its diameter and by how often it was seen, and whether its size is
/// what speaks against it.
fn seen_well(
    places: &Places,
    [good_px, usable_px]: [f64; 2],
    [size_name, share_name]: [&'static str; 2],
    item: Item,
) -> (Item, bool) {
    let size_px = diameter_px(places).unwrap_or(0.0);
    let share = seen_share(places);
    let by_size = at_least(size_px, good_px, usable_px);
    let by_share = at_least(share, GOOD_SEEN, USABLE_SEEN).min(Grade::Usable);
    let says = format!(
        "{size_px:.0} pixels across, seen in {:.0} % of the frames from first to last",
        100.0 * share
    );
    let grade = by_size.max(by_share);
    let graded = Item {
        grade,
        says,
        ..item
    };
    let graded = graded.number(size_name, size_px).number(share_name, share);
    (graded, by_size >= by_share)
}

fn light(run: &RunEvidence<'_>) -> Item {
    let observations: Vec<&Place> = run.track.sticker.iter().flatten().collect();
    let of = |get: &dyn Fn(&Place) -> f64| median(observations.iter().map(|place| get(place)));
    let placed_px = of(&|p| p.var_u_px2.max(p.var_v_px2).sqrt()).unwrap_or(f64::INFINITY);
    let contrast = of(&|p| p.contrast).unwrap_or(0.0);
    let grade = at_most(placed_px, GOOD_PLACED_PX, USABLE_PLACED_PX)
        .max(at_least(contrast, GOOD_CONTRAST, USABLE_CONTRAST).min(Grade::Usable));
    let says = format!(
        "the sticker stands out by {contrast:.0} of 224 colour steps; a look places it within {placed_px:.2} px"
    );
    Item::new("light", "light and noise", grade, says)
        .change("more light on the whole track, exposure locked; and a matt, strong sticker on a white margin")
        .number("sticker_contrast_codes", contrast)
        .number("sticker_placed_within_px", placed_px)
}

fn wheel_mark(evidence: &Evidence<'_>, run: &RunEvidence<'_>, moved: bool) -> Option<Item> {
    let colour = evidence.wanted.wheel?;
    let observations = run.track.wheel.iter().flatten().count();
    let item = |grade, says| Item::new("wheel_mark", "wheel mark", grade, says);
    if observations < MIN_CIRCLING_FRAMES {
        let (grade, says) = if moved {
            let says = format!("nothing {colour} circles beside the sticker: slip cannot be told");
            (Grade::NotUsable, says)
        } else {
            let says = format!("whether something {colour} turns with the wheel, only a run shows");
            (Grade::NotSeen, says)
        };
        let what = "put the mark near the rim on the side that faces the camera; from behind or above a wheel \
                    cannot be seen to turn";
        return Some(item(grade, says).change(what));
    }
    let by_rate = |lost: &MotionReason| matches!(lost, MotionReason::HalfTurns { .. });
    if let Some(lost) = lost_turns(run).filter(|lost| !by_rate(lost)) {
        return Some(
            item(Grade::NotUsable, lost.fact()).change(&lost.remedy().unwrap_or_default()),
        );
    }
    let (seen, by_size) = seen_well(
        &run.track.wheel,
        [GOOD_WHEEL_PX, USABLE_WHEEL_PX],
        ["wheel_mark_diameter_px", "wheel_mark_seen_share"],
        item(Grade::Good, String::new()),
    );
    Some(seen.change(if by_size {
        "use a larger mark, or come nearer"
    } else {
        "keep what hides the wheel out of the line of sight, and the mark brightly lit"
    }))
}

/// Why a wheel mark that was seen shows no turns.
pub(super) fn lost_turns(run: &RunEvidence<'_>) -> Option<MotionReason> {
    run.analysis.ok()?.motion.wheel.as_ref().err().copied()
}

const LAY_FOUR: &str = "lay four or more floor marks that are not in a line, all visible throughout, and give their places in the run sheet";

fn floor_marks(run: &RunEvidence<'_>) -> Item {
    let view = match run.view {
        Ok(view) => view,
        Err(why) => {
            let what =
                "lay four or more floor marks that the whole clip shows, and check their places";
            return floor_item(Grade::NotUsable, why.to_string()).change(what);
        }
    };
    match &view.source {
        ViewSource::FloorMarks {
            marks,
            residual_px,
            moving,
            ..
        } => marks_that_fit(run, view, (*marks, *residual_px), *moving),
        ViewSource::PlainScale { .. } => {
            let why = view
                .note
                .map_or_else(String::new, |why| format!(" ({why})"));
            let says = format!("a plain scale only: sideways motion is not shown{why}");
            floor_item(Grade::Usable, says).change(LAY_FOUR)
        }
        ViewSource::PixelsOnly => {
            let why = view.note.or(view.scale.err());
            let says = why.map_or_else(String::new, |why| why.to_string());
            floor_item(Grade::NotUsable, says).change(LAY_FOUR)
        }
    }
}

/// Floor marks that place the camera: how many, and their residual, px.
fn marks_that_fit(
    run: &RunEvidence<'_>,
    view: &View,
    (marks, residual_px): (usize, f64),
    moving: bool,
) -> Item {
    let residual_m = view.mark_residual_m(&run.priors.marks).unwrap_or(f64::NAN);
    let by_fit = at_most(residual_m, GOOD_RESIDUAL_M, USABLE_RESIDUAL_M);
    let spare = if marks >= GOOD_FLOOR_MARKS {
        Grade::Good
    } else {
        Grade::Usable
    };
    let held = if moving {
        ", with the camera followed as it moves"
    } else {
        ""
    };
    let says = format!(
        "{marks} of {} found, which fit within {:.1} mm ({residual_px:.2} px){held}",
        run.priors.marks.len(),
        1000.0 * residual_m
    );
    let change = if by_fit > Grade::Good {
        "measure the marks\u{2019} places again, and see that nothing hides a part of one; from a higher \
         phone they look less flat"
    } else {
        "lay one or two marks more: a wrong one shows only where there are more than four"
    };
    floor_item(by_fit.max(spare), says)
        .change(change)
        .number("floor_marks_found", marks as f64)
        .number("floor_mark_residual_px", residual_px)
        .number("floor_mark_residual_m", residual_m)
}

fn floor_item(grade: Grade, says: String) -> Item {
    Item::new("floor_marks", "floor marks", grade, says).essential()
}

fn colours(evidence: &Evidence<'_>, run: &RunEvidence<'_>) -> Item {
    let wanted = evidence.wanted;
    let named = [
        ("sticker", Some(wanted.sticker)),
        ("wheel mark", wanted.wheel),
        ("axle mark", wanted.axle),
    ];
    let mut marks: Vec<_> = named
        .into_iter()
        .filter_map(|(name, colour)| Some((name, colour?)))
        .collect();
    marks.extend(wanted.floor.iter().map(|colour| ("floor marks", *colour)));
    let mut near = Vec::new();
    for (i, (name, colour)) in marks.iter().enumerate() {
        for (other_name, other) in &marks[i + 1..] {
            if let Closeness::TooNear { apart_deg } = closeness(*colour, *other) {
                near.push(format!(
                    "{name} {colour} and {other_name} {other} are {apart_deg:.0} degrees of hue apart, 40 are safe"
                ));
            }
        }
    }
    let alike: Vec<String> = [Some(wanted.sticker), wanted.wheel]
        .into_iter()
        .flatten()
        // Floor marks of the sticker's colour lie still, and it does not.
        .filter(|colour| !wanted.floor.contains(colour))
        .filter_map(|colour| match lookalikes(evidence, run, colour) {
            0 => None,
            1 => Some(format!("one other {colour} thing is in the picture")),
            count => Some(format!("{count} other {colour} things are in the picture")),
        })
        .collect();
    let grade = if near.is_empty() && alike.is_empty() {
        Grade::Good
    } else {
        Grade::Usable
    };
    let mut says = if near.is_empty() {
        vec!["the marks\u{2019} colours are told apart".to_owned()]
    } else {
        near.clone()
    };
    says.extend(alike);
    let change = if near.is_empty() {
        "clear things of the marks\u{2019} colours out of the picture"
    } else {
        "use colours that are further apart, as the kit\u{2019}s are"
    };
    Item::new("colours", "colours", grade, says.join("; ")).change(change)
}

/// A thing is like the mark where it stands out by this share of the mark's contrast ...
const LIKE_CONTRAST: f64 = 0.4;
/// ... is at least this share of its size ...
const LIKE_AREA: f64 = 0.3;
/// ... and is seen in this share of the frames.
const LIKE_SEEN: f64 = 0.3;

/// How many things in the picture might be taken for the sticker or the wheel mark.
fn lookalikes(evidence: &Evidence<'_>, run: &RunEvidence<'_>, colour: Colour) -> usize {
    let own = if colour == evidence.wanted.sticker {
        &run.track.sticker
    } else {
        &run.track.wheel
    };
    let of = |get: &dyn Fn(&Place) -> f64| median(own.iter().flatten().map(get));
    let (Some(contrast), Some(area_px2), Some(slot)) = (
        of(&|p| p.contrast),
        of(&|p| p.area_px2),
        evidence.seen.slot(colour),
    ) else {
        return 0;
    };
    let like = |tracklet: &Tracklet| {
        let of = |get: &dyn Fn(&Place) -> f64| {
            median(tracklet.steps.iter().map(|(_, place)| get(place))).unwrap_or(0.0)
        };
        let own_observations = tracklet.steps.iter().filter(|(frame, place)| {
            let near = |own: &Place| (own.u_px - place.u_px).hypot(own.v_px - place.v_px) < 3.0;
            own.get(*frame).and_then(Option::as_ref).is_some_and(near)
        });
        let share = tracklet.steps.len() as f64 / own.len() as f64;
        // A tracklet of the mark's own way, before it was surely followed, begins or ends beside it.
        own_observations.count() == 0
            && share > LIKE_SEEN
            && of(&|p| p.contrast) > LIKE_CONTRAST * contrast
            && of(&|p| p.area_px2) > LIKE_AREA * area_px2
    };
    join_tracklets(link_tracklets(evidence.seen, slot))
        .iter()
        .filter(|tracklet| like(tracklet))
        .count()
}

//! What the patches of a clip probably are. It is a proposal: the user says what is right.

use super::draft::{AIM, At, Draft, Part};
use super::numbering::number_floor_marks;
use super::patches::{Manner, Patch};
use crate::camera::ViewSource;
use crate::colour::Colour;
use crate::noise::median;
use crate::pipeline::{Observed, on_plan};
use crate::sheet::kit;
use crate::track::{MarksWanted, Place, Places, Track, follow};
use serde::Serialize;

/// A proposal with its doubts.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub(super) struct Proposal {
    /// The sheet that it makes, places and colours only.
    pub draft: Draft,
    /// What is uncertain about it, for the user.
    pub doubts: Vec<String>,
}

/// Numbers the patches and says what they probably are. Patches that make up the wheel mark or the axle
/// mark become one.
pub(super) fn propose(observed: &Observed, patches: Vec<Patch>) -> (Vec<Patch>, Proposal) {
    let mut proposal = Proposal::default();
    let floor = floor_colour(&patches);
    let times_s: Vec<f64> = observed
        .seen
        .frames
        .iter()
        .map(|frame| frame.time_s)
        .collect();
    let Some((wanted, track)) = likeliest_car(observed, &patches, floor) else {
        proposal.doubts.push(
            "Nothing that moves like a car was found by itself. Step to a frame that shows the sticker, \
             and point at it."
                .into(),
        );
        let patches = numbered(patches, None);
        add_floor(&mut proposal, &patches, &times_s, floor, None);
        return (patches, proposal);
    };
    let patches = numbered(with_circling(patches, &wanted, &track), Some(&track));
    proposal.draft.sticker = Part::default().with("colour", wanted.sticker.as_str());
    match wanted.wheel {
        Some(colour) if circles(&track.wheel, &track) => {
            proposal.draft.wheel_mark = Some(Part::default().with("colour", colour.as_str()));
        }
        _ => proposal.doubts.push(
            "No mark that goes round next to the sticker was found. Without one gripline cannot measure how far the \
             wheel slips."
                .into(),
        ),
    }
    if let Some(colour) = wanted.axle.filter(|_| circles(&track.axle, &track)) {
        proposal.draft.axle_mark = Some(Part::default().with("colour", colour.as_str()));
    }
    // What is painted on the wheel by chance goes round as well: it is for the user to say.
    proposal.doubts.extend(wanted.more_wheel.iter().map(|colour| {
        format!(
            "Something {colour} goes round with the wheel too. If it is a mark of yours, press \u{201c}wheel too\u{201d} beside it."
        )
    }));
    add_floor(&mut proposal, &patches, &times_s, floor, Some(&track));
    (patches, proposal)
}

/// Observations that make a circle worth proposing.
const MIN_CIRCLING: usize = 12;
/// How much the kit's own colour counts for.
const KIT_BONUS: f64 = 1.3;

/// The pair of colours for sticker and wheel mark that moves most like a car, and the kit's axle mark with it.
fn likeliest_car(
    observed: &Observed,
    patches: &[Patch],
    floor: Option<Colour>,
) -> Option<(MarksWanted, Track)> {
    let colours = moving_colours(observed, patches, floor);
    let frames = observed.seen.frames.iter();
    let times: Vec<f64> = frames.map(|frame| frame.time_s).collect();
    let mut best: Option<(f64, MarksWanted, Track)> = None;
    for &sticker in &colours {
        let others = colours.iter().copied().filter(|c| *c != sticker);
        for wheel in others.map(Some).chain([None]) {
            let wanted = MarksWanted {
                sticker,
                sticker_hint: None,
                wheel,
                more_wheel: Vec::new(),
                axle: None,
                floor: floor.into_iter().collect(),
            };
            let Ok(track) = follow(&observed.seen, times.clone(), &wanted) else {
                continue;
            };
            let score = well_named(&track, sticker, patches) * likeness(&track, &wanted);
            if score > best.as_ref().map_or(0.0, |b| b.0) {
                best = Some((score, wanted, track));
            }
        }
    }
    let (_, wanted, track) = best?;
    let known = with_axle(observed, &colours, times.clone(), (wanted, track));
    Some(with_more_wheel(observed, &colours, &times, known))
}

/// Whether a mark was seen often enough to be proposed as one that goes round with the wheel.
fn circles(places: &Places, track: &Track) -> bool {
    let count = |places: &Places| places.iter().flatten().count();
    count(places) >= MIN_CIRCLING && 4 * count(places) >= count(&track.sticker)
}

/// The same car with every other colour that goes round as the wheel mark does.
fn with_more_wheel(
    observed: &Observed,
    colours: &[Colour],
    times_s: &[f64],
    (mut wanted, mut track): (MarksWanted, Track),
) -> (MarksWanted, Track) {
    if wanted.wheel.is_none() || !circles(&track.wheel, &track) {
        return (wanted, track);
    }
    let taken = [Some(wanted.sticker), wanted.wheel, wanted.axle];
    for &colour in colours
        .iter()
        .filter(|colour| !taken.contains(&Some(**colour)))
    {
        let mut more = wanted.clone();
        more.more_wheel.push(colour);
        let Ok(with) = follow(&observed.seen, times_s.to_vec(), &more) else {
            continue;
        };
        let goes_round = with
            .more_wheel
            .last()
            .is_some_and(|own| circles(own, &with));
        if goes_round {
            (wanted, track) = (more, with);
        }
    }
    (wanted, track)
}

/// Colours of patches that move and are no floor marks.
fn moving_colours(observed: &Observed, patches: &[Patch], floor: Option<Colour>) -> Vec<Colour> {
    let moving = |colour: &Colour| {
        let mut own = patches.iter().filter(|p| p.colour == *colour && p.likely);
        Some(*colour) != floor && own.any(|p| p.manner == Manner::Moving)
    };
    let all = observed.seen.colours.iter().copied();
    all.filter(moving).collect()
}

/// A thing may be seen under two neighbouring names; it was kept under the better one.
fn well_named(track: &Track, sticker: Colour, patches: &[Patch]) -> f64 {
    let is_patch = |p: &Patch| p.colour == sticker && p.likely && p.is_at(&track.sticker);
    if patches.iter().any(is_patch) {
        1.0
    } else {
        0.05
    }
}

/// The same car with an axle mark in the kit's colour, where that moves and the colour is not taken.
fn with_axle(
    observed: &Observed,
    colours: &[Colour],
    times: Vec<f64>,
    (wanted, track): (MarksWanted, Track),
) -> (MarksWanted, Track) {
    let axle = kit::AXLE_MARK;
    let spare = axle != wanted.sticker && Some(axle) != wanted.wheel;
    if !spare || wanted.wheel.is_none() || !colours.contains(&axle) {
        return (wanted, track);
    }
    let with_axle = MarksWanted {
        axle: Some(axle),
        ..wanted.clone()
    };
    match follow(&observed.seen, times, &with_axle) {
        Ok(track) => (with_axle, track),
        Err(_) => (wanted, track),
    }
}

/// A sticker goes straight; what goes round with it is the wheel mark. The other way about, the path would
/// be full of loops.
fn likeness(track: &Track, wanted: &MarksWanted) -> f64 {
    let seen: Vec<&Place> = track.sticker.iter().flatten().collect();
    let (Some(first), Some(last)) = (seen.first(), seen.last()) else {
        return 0.0;
    };
    let apart = |a: &Place, b: &Place| (a.u_px - b.u_px).hypot(a.v_px - b.v_px);
    let path: f64 = seen.windows(2).map(|pair| apart(pair[0], pair[1])).sum();
    let straight = apart(first, last) / path.max(1.0);
    let circling = track.wheel.iter().flatten().count() as f64;
    let kit = |is: bool| if is { KIT_BONUS } else { 1.0 };
    (circling + 0.2 * seen.len() as f64)
        * straight.powi(4)
        * kit(wanted.sticker == kit::STICKER)
        * kit(wanted.wheel == Some(kit::WHEEL_MARK))
}

/// The colour with the most patches that lie still; where the camera moves nothing does, and it is the
/// colour with the most patches.
fn floor_colour(patches: &[Patch]) -> Option<Colour> {
    let likely = |colour: Colour| {
        patches
            .iter()
            .filter(move |p| p.colour == colour && p.likely)
    };
    let still = |colour: Colour| likely(colour).filter(|p| p.manner == Manner::Still).count();
    let any = |colour: Colour| likely(colour).count();
    let most = |count: &dyn Fn(Colour) -> usize, least: usize| {
        let bonus = |colour| {
            if colour == kit::FLOOR_MARK {
                KIT_BONUS
            } else {
                1.0
            }
        };
        let weighed = |colour: Colour| count(colour) as f64 * bonus(colour);
        let all = Colour::ALL.into_iter();
        all.max_by(|a, b| weighed(*a).total_cmp(&weighed(*b)))
            .filter(|c| count(*c) >= least)
    };
    most(&still, 2).or_else(|| most(&any, 4))
}

/// The patches with the wheel mark's and the axle mark's pieces joined.
fn with_circling(mut patches: Vec<Patch>, wanted: &MarksWanted, track: &Track) -> Vec<Patch> {
    let single = [(wanted.wheel, &track.wheel), (wanted.axle, &track.axle)];
    let further = wanted.more_wheel.iter().zip(&track.more_wheel);
    let further = further.map(|(colour, places)| (Some(*colour), places));
    for (colour, places) in single.into_iter().chain(further) {
        let seen: Vec<&Place> = places.iter().flatten().collect();
        let (Some(colour), true) = (colour, seen.len() >= MIN_CIRCLING) else {
            continue;
        };
        patches.retain(|patch| patch.colour != colour || !patch.is_at(places));
        let area_px2 = median(seen.iter().map(|place| place.area_px2)).unwrap_or(0.0);
        patches.push(Patch {
            number: 0,
            colour,
            manner: Manner::Circling,
            likely: true,
            frames_seen: seen.len(),
            width_px: 2.0 * (area_px2 / std::f64::consts::PI).sqrt(),
            travel_px: seen
                .iter()
                .map(|p| (p.u_px - seen[0].u_px).hypot(p.v_px - seen[0].v_px))
                .fold(0.0, f64::max),
            places: places
                .iter()
                .map(|place| place.map(|p| [p.u_px, p.v_px].map(|px| (px * 10.0).round() / 10.0)))
                .collect(),
        });
    }
    patches
}

/// Numbers: the car's marks first, then what lies still from left to right, then the rest.
fn numbered(mut patches: Vec<Patch>, track: Option<&Track>) -> Vec<Patch> {
    let rank = |patch: &Patch| match patch.manner {
        Manner::Moving if track.is_some_and(|t| patch.is_at(&t.sticker)) => 0,
        Manner::Circling => 1,
        Manner::Still if patch.likely => 2,
        Manner::Moving => 3,
        Manner::Still => 4,
    };
    let left = |patch: &Patch| patch.at(0).map_or(0.0, |[u, _]| u);
    patches.sort_by(|a, b| rank(a).cmp(&rank(b)).then(left(a).total_cmp(&left(b))));
    for (index, patch) in patches.iter_mut().enumerate() {
        patch.number = index + 1;
    }
    patches
}

/// Where and when a patch is first seen.
fn first_place(patch: &Patch, times_s: &[f64]) -> Option<At> {
    let first = patch.places.iter().position(Option::is_some)?;
    let [u_px, v_px] = patch.at(first)?;
    let at_s = times_s.get(first).copied().unwrap_or_default();
    Some(At { u_px, v_px, at_s })
}

/// Marks that the kit's plan must explain before its places are proposed: with four, nearly any numbers fit.
const MIN_PLAN_MARKS: usize = 5;

fn add_floor(
    proposal: &mut Proposal,
    patches: &[Patch],
    times_s: &[f64],
    floor: Option<Colour>,
    track: Option<&Track>,
) {
    let Some(colour) = floor else {
        proposal.doubts.push(
            "No floor marks were found. Point at them: without four of them gripline cannot say how far the car moves \
             sideways."
                .into(),
        );
        return;
    };
    let of_colour = || patches.iter().filter(|p| p.colour == colour && p.likely);
    let rest = of_colour().filter(|p| p.manner == Manner::Still);
    let mut still: Vec<&Patch> = rest.collect();
    if still.len() < 2 {
        still = of_colour().collect();
        proposal.doubts.push(
            "The camera moves: the floor marks are followed through the clip, and four of them must be \
             visible throughout."
                .into(),
        );
    }
    let plan = track
        .filter(|_| colour == kit::FLOOR_MARK)
        .zip(proposal.draft.sticker.text("colour").parse().ok())
        .and_then(|(track, sticker)| kit_plan(track, &still, sticker));
    for (index, patch) in still.iter().enumerate() {
        let mut part = Part::default().with("colour", colour.as_str());
        if let Some(plan) = &plan {
            let Some([x, y]) = plan[index] else {
                continue;
            };
            part = part.with("x_mm", x.to_string()).with("y_mm", y.to_string());
        }
        part.at = first_place(patch, times_s);
        proposal.draft.floor_marks.push(part);
    }
    let marks = &mut proposal.draft.floor_marks;
    number_floor_marks(marks);
    marks.sort_by_key(|mark| mark.number);
    if plan.is_some() {
        proposal.draft.aim = kit_aim();
        proposal.doubts.push(
            "The floor marks fit the plan of the printed kit, so its places were filled in. Change them if \
             you laid yours another way."
                .into(),
        );
    }
}

/// The aim line of the kit's plan.
fn kit_aim() -> Part {
    let places = AIM.iter().zip(kit::AIM_MM);
    places.fold(Part::default(), |part, ((_, [x, y]), [x_mm, y_mm])| {
        part.with(x, x_mm.to_string()).with(y, y_mm.to_string())
    })
}

/// For each patch its place by the kit's plan, where the plan fits enough of them.
fn kit_plan(track: &Track, still: &[&Patch], sticker: Colour) -> Option<Vec<Option<[f64; 2]>>> {
    let mut bare = kit::no_sheet();
    bare.sticker.colour = sticker;
    // Measuring takes the plan for granted by the same rule.
    let (_, view) = on_plan(&bare, track)?;
    let ViewSource::FloorMarks {
        marks,
        moving: false,
        ..
    } = view.source
    else {
        return None;
    };
    // A plan that leaves some of the marks over is not theirs.
    if marks < MIN_PLAN_MARKS || marks != still.len() {
        return None;
    }
    let place = |patch: &&Patch| {
        let [u, v] = patch.at(0)?;
        let (mark, _) = view.correspondence.iter().enumerate().find(|(_, named)| {
            let seen = named.and_then(|index| track.floor.get(index));
            seen.is_some_and(|s| (s.u_px - u).hypot(s.v_px - v) < (0.5 * patch.width_px).max(3.0))
        })?;
        kit::FLOOR_PLAN_MM.get(mark).copied()
    };
    Some(still.iter().map(place).collect())
}

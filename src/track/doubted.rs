//! Which observations of a mark are left out because they show something else or only a part of it, and which are
//! doubted because a codec repeated them.

use super::{Place, Places, link};

/// Observations on each side that say what a mark usually looks like.
const NEIGHBOURS: usize = 8;
/// An observation whose area differs from its neighbours' by more than this factor shows a mark half hidden or
/// run into something of its own colour: its centre is not the mark's.
const ODD_AREA: f64 = 1.5;
/// Likewise an observation whose contrast falls below this share of its neighbours'.
const ODD_CONTRAST: f64 = 0.65;

/// The same places without those that do not look like their neighbours in time.
pub(super) fn without_odd(places: &Places) -> Places {
    let seen: Vec<(usize, Place)> = places
        .iter()
        .enumerate()
        .filter_map(|(i, place)| place.map(|p| (i, p)))
        .collect();
    let mut out = places.clone();
    for (rank, (frame, place)) in seen.iter().enumerate() {
        let low = rank.saturating_sub(NEIGHBOURS);
        let high = (rank + NEIGHBOURS + 1).min(seen.len());
        // A fitted and a rough place measure area and contrast differently: like is held against like.
        let around = || {
            let same =
                move |(other, p): &&(usize, Place)| other != frame && p.fitted == place.fitted;
            seen[low..high].iter().filter(same)
        };
        let area = link::median(around().map(|(_, p)| p.area_px2).collect());
        let contrast = link::median(around().map(|(_, p)| p.contrast).collect());
        // One rough look among fitted ones is of a mark that could not be fitted: half hidden.
        let alone = !place.fitted && around().count() < 3 && high - low > 6;
        let odd = alone
            || (place.area_px2 / area).ln().abs() > ODD_AREA.ln()
            || place.contrast < ODD_CONTRAST * contrast;
        if odd && (alone || area > 0.0) {
            out[*frame] = None;
        }
    }
    out
}

/// A wheel mark's observation has at least this many others ...
const COMPANIONS: usize = 3;
/// ... within this many frames before and after it.
const COMPANY_FRAMES: usize = 5;

/// The same places without those that stand alone: nothing says how often the wheel turned since the
/// look before, or whether it is the mark at all.
pub(super) fn without_lone(places: &Places) -> Places {
    let has_company = |frame: usize| {
        let low = frame.saturating_sub(COMPANY_FRAMES);
        let high = (frame + COMPANY_FRAMES + 1).min(places.len());
        places[low..high].iter().flatten().count() > COMPANIONS
    };
    places
        .iter()
        .enumerate()
        .map(|(frame, place)| place.filter(|_| has_company(frame)))
        .collect()
}

/// A held look is off by what its mark went since; its pace then was no less than this share of the
/// pace afterwards, since cars and wheels gather speed.
const PACE_BEFORE: f64 = 0.65;

/// The same places, doubted where a codec repeated old blocks while the mark moved on.
///
/// In dim or strongly compressed clips a mark may stand still to the last digit for some frames and
/// then jump. The held observations keep their place, and what they lag behind becomes part of their variance.
pub(super) fn doubted_where_frozen(places: &Places) -> Places {
    let observations: Vec<(usize, Place)> = places
        .iter()
        .enumerate()
        .filter_map(|(frame, place)| place.map(|p| (frame, p)))
        .collect();
    let mut out = places.clone();
    for rank in 2..observations.len().saturating_sub(1) {
        let [(_, held), (at, next), (after, later)] = [
            observations[rank - 1],
            observations[rank],
            observations[rank + 1],
        ];
        let is_held = |other: &Place| other.u_px == held.u_px && other.v_px == held.v_px;
        if is_held(&next) || !is_held(&observations[rank - 2].1) {
            continue;
        }
        let pace = PACE_BEFORE * link::distance(&next, &later) / (after - at) as f64;
        let jump = link::distance(&held, &next);
        let along = (
            (next.u_px - held.u_px) / jump,
            (next.v_px - held.v_px) / jump,
        );
        for &(frame, _) in observations[..rank]
            .iter()
            .rev()
            .take_while(|(_, p)| is_held(p))
        {
            let lag = jump - pace * (at - frame) as f64;
            // The first of the held observations was new.
            let earlier = frame.checked_sub(1).and_then(|f| places[f].as_ref());
            let first = !earlier.is_some_and(is_held);
            if lag <= 0.0 || first {
                break;
            }
            if let Some(place) = &mut out[frame] {
                place.var_u_px2 += (lag * along.0).powi(2);
                place.var_v_px2 += (lag * along.1).powi(2);
            }
        }
    }
    out
}

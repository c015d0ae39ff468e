//! Which chain of blobs is the car.

use super::link::Piece;
use super::{Hint, TrackNote};
use crate::sighting::Sightings;

/// The chain taken for the sticker, and what to say about the choice.
pub(super) struct Chosen<'a> {
    pub(super) piece: &'a Piece,
    pub(super) notes: Vec<TrackNote>,
}

/// A chain has moved when it travelled farther than this many times its own size (and 12 px).
const MOVED_SIZES: f64 = 1.5;
const MOVED_PX: f64 = 12.0;
/// The wheel mark is within this many sticker sizes of the sticker.
const COMPANION_SIZES: f64 = 9.0;
/// A pointed place belongs to a chain that passes within this many sizes.
const POINTED_SIZES: f64 = 1.5;
/// Shorter chains are not followed.
const MIN_STEPS: usize = 6;

/// Picks the chain that behaves like a car: seen long, at rest then away, a wheel mark in company.
pub(super) fn choose<'a>(
    seen: &Sightings,
    chains: &'a [Piece],
    wheel_slot: Option<usize>,
    hint: Option<Hint>,
) -> Option<Chosen<'a>> {
    let mut scored: Vec<(f64, &Piece)> = chains
        .iter()
        .filter(|chain| chain.steps.len() >= MIN_STEPS)
        .map(|chain| (score(seen, chain, wheel_slot, hint), chain))
        .collect();
    scored.sort_by(|a, b| b.0.total_cmp(&a.0));
    let (best, piece) = *scored.first()?;
    let mut notes = Vec::new();
    if !moved(piece) {
        notes.push(TrackNote::StickerStill);
    }
    let others = scored
        .iter()
        .skip(1)
        .filter(|(s, chain)| *s > 0.5 * best && moved(chain))
        .count();
    if others > 0 {
        notes.push(TrackNote::SeveralMoving { others });
    }
    Some(Chosen { piece, notes })
}

fn moved(chain: &Piece) -> bool {
    chain.travel_px() > (MOVED_SIZES * chain.area_px2().sqrt()).max(MOVED_PX)
}

fn score(seen: &Sightings, chain: &Piece, wheel_slot: Option<usize>, hint: Option<Hint>) -> f64 {
    let frames = chain.steps.len() as f64;
    let moving = if moved(chain) { 1.0 } else { 0.05 };
    let company = wheel_slot.map_or(1.0, |slot| 0.1 + companion_share(seen, chain, slot));
    let pointed = hint.map_or(
        1.0,
        |hint| if passes(seen, chain, hint) { 20.0 } else { 1.0 },
    );
    // A sticker fills its outline evenly; a large thing of the same hue is rarely the sticker.
    frames * moving * company * pointed
}

/// Share of the chain's frames in which something of the wheel mark's colour is beside it.
fn companion_share(seen: &Sightings, chain: &Piece, slot: usize) -> f64 {
    let reach = COMPANION_SIZES * chain.area_px2().sqrt();
    let near = chain.steps.iter().filter(|(frame, place)| {
        seen.frames[*frame]
            .blobs
            .get(slot)
            .into_iter()
            .flatten()
            .any(|blob| {
                let apart = (blob.u_px - place.u_px).hypot(blob.v_px - place.v_px);
                apart < reach && apart > 0.3 * place.area_px2.sqrt()
            })
    });
    near.count() as f64 / chain.steps.len().max(1) as f64
}

fn passes(seen: &Sightings, chain: &Piece, hint: Hint) -> bool {
    let reach = POINTED_SIZES * chain.area_px2().sqrt().max(8.0);
    chain.steps.iter().any(|(frame, place)| {
        let near = (place.u_px - hint.u_px).hypot(place.v_px - hint.v_px) < reach;
        let then = hint
            .at_s
            .is_none_or(|at| (seen.frames[*frame].time_s - at).abs() < 0.1);
        near && then
    })
}

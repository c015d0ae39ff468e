//! Tracklets joined across gaps, the best agreement of all first.
//!
//! A tracklet is a piece, and joined pieces are a chain that goes by its first piece. Pieces are sorted by when they
//! begin, and once more by when they end, so that what may follow a chain, or come before it, is a stretch of a sorted
//! list. Every join that is possible waits in a heap with what it would cost; a join changes two chains, and whatever
//! was offered for them before is thrown away when it comes up. Each chain's ends are worked out once and after each
//! of its joins: n pieces, of which only so many are in sight at a time, take n log n steps.

use super::{MAX_GAP, PACE_STEPS, Tracklet, median};
use crate::track::Place;
use std::cmp::Ordering;
use std::collections::BinaryHeap;

/// Joins tracklets whose paces meet across a gap, longest agreement first.
pub fn join_tracklets(tracklets: Vec<Tracklet>) -> Vec<Tracklet> {
    let mut chains = Chains::of(tracklets);
    let mut offers = BinaryHeap::new();
    for head in 0..chains.pieces.len() {
        chains.offer_after(head, &mut offers);
    }
    while let Some(best) = offers.pop() {
        if chains.stands(&best) {
            chains.join(best.first, best.second);
            chains.offer_after(best.first, &mut offers);
            chains.offer_before(best.first, &mut offers);
        }
    }
    chains.joined()
}

/// A join that is possible: the chains by their first pieces, and how often each had been joined when it was offered.
struct Offer {
    cost: f64,
    first: usize,
    second: usize,
    joins: [u32; 2],
}

impl Ord for Offer {
    /// The cheapest is the greatest, as a heap has it; of several the one whose pieces begin first.
    fn cmp(&self, other: &Self) -> Ordering {
        let by_cost = other.cost.total_cmp(&self.cost);
        by_cost.then((other.first, other.second).cmp(&(self.first, self.second)))
    }
}

impl PartialOrd for Offer {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl PartialEq for Offer {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other).is_eq()
    }
}

impl Eq for Offer {}

/// What is known of a chain, kept at its first piece.
#[derive(Clone)]
struct Chain {
    /// Its last piece.
    last: usize,
    /// How often it was joined to another.
    joins: u32,
    /// Its beginning and its end.
    ends: [Option<End>; 2],
}

struct Chains {
    /// By their first frames.
    pieces: Vec<Tracklet>,
    /// First frames of the pieces.
    starts: Vec<usize>,
    /// Pieces by their last frames, with those.
    by_end: Vec<(usize, usize)>,
    /// For each piece the one that follows it in its chain, and the one before.
    next: Vec<Option<usize>>,
    before: Vec<Option<usize>>,
    /// For a chain's last piece, its first.
    head: Vec<usize>,
    /// For a chain's first piece, the chain.
    by_head: Vec<Chain>,
}

impl Chains {
    fn of(mut pieces: Vec<Tracklet>) -> Self {
        pieces.sort_by_key(|tracklet| tracklet.span().0);
        let starts = pieces.iter().map(|piece| piece.span().0).collect();
        let mut by_end: Vec<(usize, usize)> = (pieces.iter().enumerate())
            .map(|(index, piece)| (piece.span().1, index))
            .collect();
        by_end.sort_unstable();
        let alone = |(index, piece): (usize, &Tracklet)| Chain {
            last: index,
            joins: 0,
            ends: [
                end(piece, piece.steps.iter()),
                end(piece, piece.steps.iter().rev()),
            ],
        };
        let by_head = pieces.iter().enumerate().map(alone).collect();
        Self {
            starts,
            by_end,
            next: vec![None; pieces.len()],
            before: vec![None; pieces.len()],
            head: (0..pieces.len()).collect(),
            by_head,
            pieces,
        }
    }

    /// Offers the joins of a chain to those that begin within a gap after its end.
    fn offer_after(&self, first: usize, offers: &mut BinaryHeap<Offer>) {
        let end = self.pieces[self.by_head[first].last].span().1;
        let from = self.starts.partition_point(|&start| start <= end);
        let until = self.starts.partition_point(|&start| start <= end + MAX_GAP);
        let heads = (from..until).filter(|&piece| self.before[piece].is_none());
        offers.extend(heads.filter_map(|second| self.offer(first, second)));
    }

    /// Offers the joins to a chain of those that end within a gap before it begins.
    fn offer_before(&self, second: usize, offers: &mut BinaryHeap<Offer>) {
        let start = self.starts[second];
        let from = self
            .by_end
            .partition_point(|(end, _)| end + MAX_GAP < start);
        let until = self.by_end.partition_point(|(end, _)| *end < start);
        let lasts = self.by_end[from..until].iter().map(|(_, piece)| *piece);
        let lasts = lasts.filter(|&piece| self.next[piece].is_none());
        offers.extend(lasts.filter_map(|last| self.offer(self.head[last], second)));
    }

    fn offer(&self, first: usize, second: usize) -> Option<Offer> {
        if first == second {
            return None;
        }
        let (one, other) = (&self.by_head[first], &self.by_head[second]);
        let (last, next) = (one.ends[1].as_ref()?, other.ends[0].as_ref()?);
        let gap = self.pieces[first].beats_between(last.frame, next.frame);
        Some(Offer {
            cost: mismatch(last, next, gap)?,
            first,
            second,
            joins: [one.joins, other.joins],
        })
    }

    /// Whether both chains are still what they were when the join was offered.
    fn stands(&self, offer: &Offer) -> bool {
        let now = [offer.first, offer.second].map(|head| self.by_head[head].joins);
        self.before[offer.second].is_none()
            && self.before[offer.first].is_none()
            && now == offer.joins
    }

    fn join(&mut self, first: usize, second: usize) {
        let last = self.by_head[first].last;
        self.next[last] = Some(second);
        self.before[second] = Some(last);
        let last = self.by_head[second].last;
        self.head[last] = first;
        let piece = &self.pieces[first];
        let forth = std::iter::successors(Some(first), |&at| self.next[at]);
        let back = std::iter::successors(Some(last), |&at| self.before[at]);
        let ends = [
            end(piece, forth.flat_map(|at| self.pieces[at].steps.iter())),
            end(
                piece,
                back.flat_map(|at| self.pieces[at].steps.iter().rev()),
            ),
        ];
        self.by_head[first] = Chain {
            last,
            joins: self.by_head[first].joins + 1,
            ends,
        };
    }

    /// The chains, each as one tracklet, by their first frames.
    fn joined(mut self) -> Vec<Tracklet> {
        let heads: Vec<usize> = (0..self.pieces.len())
            .filter(|&piece| self.before[piece].is_none())
            .collect();
        let mut out = Vec::with_capacity(heads.len());
        for head in heads {
            let mut steps = std::mem::take(&mut self.pieces[head].steps);
            let mut at = self.next[head];
            while let Some(piece) = at {
                steps.append(&mut self.pieces[piece].steps);
                at = self.next[piece];
            }
            out.push(Tracklet {
                steps,
                beats: self.pieces[head].beats.clone(),
            });
        }
        out
    }
}

/// A tracklet's last or first whole observation and the pace there.
#[derive(Clone)]
struct End {
    frame: usize,
    place: Place,
    /// px a usual frame step.
    pace: (f64, f64),
}

/// Observations from which the usual area at a tracklet's end is taken.
const END_STEPS: usize = 12;
/// At most this many looks at an end are taken to be of a mark that is half hidden already ...
const MAX_CLIPPED: usize = 5;
/// ... when their area or contrast is below this share of the usual: their centre is that of the part
/// in sight, and the pace between them is wrong.
const WHOLE_SHARE: f64 = 0.88;

/// The end of a tracklet, or of the chain that it begins, given from that end inwards.
fn end<'a>(tracklet: &Tracklet, inwards: impl Iterator<Item = &'a (usize, Place)>) -> Option<End> {
    let near: Vec<&(usize, Place)> = inwards.take(END_STEPS).collect();
    let area = median(near.iter().map(|(_, p)| p.area_px2).collect());
    let contrast = median(near.iter().map(|(_, p)| p.contrast).collect());
    let whole = |p: &Place| p.area_px2 > WHOLE_SHARE * area && p.contrast > WHOLE_SHARE * contrast;
    let clipped = near.iter().take_while(|(_, p)| !whole(p)).count();
    // A tracklet that has no more than its clipped end is taken as it is.
    let from = if clipped <= MAX_CLIPPED && clipped + PACE_STEPS <= near.len() {
        clipped
    } else {
        0
    };
    let (frame, place) = **near.get(from)?;
    Some(End {
        frame,
        place,
        pace: tracklet.pace(near[from..].iter().copied().take(PACE_STEPS)),
    })
}

/// How badly two ends fit together that lie `gap` usual frame steps apart, from both their paces; `None` where they
/// cannot be of one thing.
fn mismatch(last: &End, next: &End, gap: f64) -> Option<f64> {
    let (went, goes) = (last.pace, next.pace);
    let across = (
        next.place.u_px - last.place.u_px,
        next.place.v_px - last.place.v_px,
    );
    let ahead = (across.0 - went.0 * gap, across.1 - went.1 * gap);
    let back = (across.0 - goes.0 * gap, across.1 - goes.1 * gap);
    // A thing that gathers or loses speed misses both forecasts by the same way, in opposite senses.
    let off_px = (ahead.0 + back.0).hypot(ahead.1 + back.1) / 2.0;
    let pull_px = (ahead.0 - back.0).hypot(ahead.1 - back.1) / 2.0;
    let size = last.place.area_px2.max(next.place.area_px2).sqrt();
    let speed = went.0.hypot(went.1).max(goes.0.hypot(goes.1));
    let gate = 4.0 + 0.5 * size + 0.5 * speed * gap.sqrt();
    let resized = (next.place.area_px2 / last.place.area_px2).ln().abs();
    let off = off_px / gate;
    (off < 1.0 && pull_px < 2.0 * gate && resized < 1.2).then_some(off + 0.3 * resized + 0.02 * gap)
}

#[cfg(test)]
mod tests {
    use super::super::super::drawn::{blob, clip, even};
    use super::super::link_tracklets;
    use super::*;
    use crate::colour::Colour;
    use crate::sighting::Blob;
    use proptest::prelude::*;
    use proptest::test_runner::{Config, RngSeed};

    fn linked(frames: usize, blobs: impl Fn(usize) -> Vec<Blob>) -> Vec<Tracklet> {
        let seen = clip(&even(frames, 60.0), &[Colour::Blue], |frame| {
            vec![blobs(frame)]
        });
        link_tracklets(&seen, 0)
    }

    fn mismatch_of(first: &Tracklet, second: &Tracklet) -> Option<f64> {
        let last = end(first, first.steps.iter().rev())?;
        let next = end(second, second.steps.iter())?;
        mismatch(&last, &next, first.beats_between(last.frame, next.frame))
    }

    #[test]
    fn the_mismatch_of_two_ends_is_the_worked_example() {
        // Both at 2 px a frame along u, from 2 px of which the second is 3 px lower and 1.2 times as large in area,
        // after 9 frames: both forecasts are off by 3 px, the gate is 4 + 0.5 sqrt(120) + 0.5 * 2 * 3.
        let tracklets = linked(40, |frame| {
            if (20..28).contains(&frame) {
                return Vec::new();
            }
            let later = frame >= 20;
            let mut blob = blob(50.0 + 2.0 * frame as f64, if later { 83.0 } else { 80.0 });
            blob.area_px2 = if later { 120.0 } else { 100.0 };
            vec![blob]
        });
        assert_eq!(tracklets.len(), 2);
        let expected = 3.0 / (4.0 + 0.5 * 120.0_f64.sqrt() + 3.0) + 0.3 * 1.2_f64.ln() + 0.02 * 9.0;
        let found = mismatch_of(&tracklets[0], &tracklets[1]).unwrap();
        assert!((found - expected).abs() < 1e-9, "{found} for {expected}");
    }

    /// The rule in its plainest words: of all pairs the best is joined, and then all are tried again.
    fn joined_one_by_one(mut tracklets: Vec<Tracklet>) -> Vec<Tracklet> {
        tracklets.sort_by_key(|tracklet| tracklet.span().0);
        loop {
            let mut best: Option<(f64, usize, usize)> = None;
            for (i, first) in tracklets.iter().enumerate() {
                for (j, second) in tracklets.iter().enumerate() {
                    let (end, start) = (first.span().1, second.span().0);
                    if i == j || start <= end || start - end > MAX_GAP {
                        continue;
                    }
                    if let Some(cost) = mismatch_of(first, second)
                        && best.is_none_or(|(least, _, _)| cost < least)
                    {
                        best = Some((cost, i, j));
                    }
                }
            }
            let Some((_, first, second)) = best else {
                return tracklets;
            };
            let tail = tracklets.remove(second);
            tracklets[first].steps.extend(tail.steps);
        }
    }

    proptest! {
        #![proptest_config(Config {
            cases: 60,
            rng_seed: RngSeed::Fixed(47),
            failure_persistence: None,
            ..Config::default()
        })]

        #[test]
        fn joins_are_those_of_trying_all_pairs_again_and_again(
            ways in proptest::collection::vec((50.0..250.0_f64, 50.0..150.0_f64, -3.0..3.0_f64, -2.0..2.0_f64), 2..7),
            hidden in proptest::collection::vec(0_u32..100, 7 * 12),
            jumps in proptest::collection::vec(-3.0..3.0_f64, 7 * 12),
        ) {
            // Each way is seen and hidden by turns, for a time and from a place that differ a little each time.
            let tracklets = linked(150, |frame| {
                let mut out = Vec::new();
                for (way, (u, v, du, dv)) in ways.iter().enumerate() {
                    let (turn, at) = (12 * way + frame / 13, frame % 13);
                    let out_of_sight = hidden[turn] as usize % 11;
                    if at >= out_of_sight {
                        let t = frame as f64;
                        let mut blob = blob(u + du * t + jumps[turn], v + dv * t);
                        blob.area_px2 += f64::from(hidden[turn]) / 4.0;
                        out.push(blob);
                    }
                }
                out
            });
            prop_assert_eq!(join_tracklets(tracklets.clone()), joined_one_by_one(tracklets));
        }
    }
}

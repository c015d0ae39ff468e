//! The choice of the car's chain alone: each score as a closed form, and what mirrors, clocks and orders do to it.

use super::super::drawn::{blob, clip, even};
use super::super::{Place, join_tracklets, link_tracklets};
use super::*;
use crate::colour::Colour;
use crate::sighting::{Blob, Sightings};
use proptest::prelude::*;
use proptest::test_runner::{Config, RngSeed};
use std::f64::consts::PI;

const FRAMES: usize = 60;

/// A chain of patches of 10 by 10 px, an entry a frame.
fn chain(way: impl Fn(usize) -> (f64, f64)) -> Tracklet {
    let place = |frame: usize| {
        let (u, v) = way(frame);
        (frame, Place::example(u, v))
    };
    Tracklet {
        steps: (0..FRAMES).map(place).collect(),
        beats: (0..FRAMES).map(|frame| frame as f64).collect(),
    }
}

/// How far a thing has gone that rests until a frame and then gains `gain` px a frame².
fn gone(frame: usize, rest: usize, gain: f64) -> f64 {
    0.5 * gain * (frame.saturating_sub(rest) as f64).powi(2)
}

#[test]
fn the_fastest_pace_is_that_of_its_last_eight_frames_in_its_own_sizes() {
    // u = 0.1 t²/2 from frame 0 to 59: over the last eight frames 0.05 (59² - 51²) / 8 px a frame, of 10 px.
    let gathering = chain(|frame| (100.0 + gone(frame, 0, 0.1), 50.0));
    let expected = 0.05 * f64::from(59 * 59 - 51 * 51) / 8.0 / 10.0;
    assert!((best_pace(&gathering) - expected).abs() < 1e-12);
    // Slowing down it was fastest at the start.
    let braking = chain(|frame| (400.0 - gone(59 - frame, 0, 0.1), 50.0));
    assert!((best_pace(&braking) - expected).abs() < 1e-12);
    // Twice as slow a film shows twice the steps.
    let mut fewer = gathering.clone();
    fewer.beats = (0..FRAMES).map(|frame| 2.0 * frame as f64).collect();
    assert!((best_pace(&fewer) - expected / 2.0).abs() < 1e-12);
}

#[test]
fn the_manner_of_a_car_is_to_rest_and_to_look_like_a_disc() {
    let root = 60.0_f64.sqrt();
    let starts = chain(|frame| (100.0 + gone(frame, 10, 0.2), 50.0));
    assert!((manner(&starts) - root).abs() < 1e-12);
    let rolls_in = chain(|frame| (100.0 + 3.0 * frame as f64, 50.0));
    assert!((manner(&rolls_in) - 0.7 * root).abs() < 1e-12);
    let mut half = starts.clone();
    for (frame, place) in &mut half.steps {
        place.fitted = *frame % 2 == 0;
    }
    assert!((manner(&half) - root * (0.3 + 0.7 / 2.0)).abs() < 1e-12);
    let lies = chain(|_| (100.0, 50.0));
    assert!((manner(&lies) - 0.01 * root).abs() < 1e-12);
    // A chain has moved by one and a half of its own sizes.
    assert!(!moved(&chain(|frame| (
        100.0 + 14.9 * frame as f64 / 59.0,
        50.0
    ))));
    assert!(moved(&chain(|frame| (
        100.0 - 15.1 * frame as f64 / 59.0,
        50.0
    ))));
}

#[test]
fn leaps_between_standing_grains_are_no_motion() {
    let driven = |frame: usize| (100.0 + 3.0 * frame as f64, 50.0);
    assert!((strides_px(&chain(driven)) - 3.0 * 59.0).abs() < 1e-9);
    // Now this grain of a floor, now that one, ten frames each.
    let leaping = chain(|frame| (100.0 + 40.0 * ((frame / 10) % 3) as f64, 50.0));
    assert!(leaping.travel_px() > 79.0 && strides_px(&leaping) < 1e-9);
    assert!(!moved(&leaping) && moved(&chain(driven)));
    // A car that is hidden for a while goes on all the same.
    let mut hidden = chain(driven);
    hidden.steps.retain(|(frame, _)| !(20..40).contains(frame));
    assert!((strides_px(&hidden) - 3.0 * 59.0).abs() < 1e-9);
}

fn scored(tracklet: &Tracklet, manner: f64, travel: f64, pace: f64) -> Scored<'_> {
    Scored {
        steady: tracklet.clone(),
        tracklet,
        manner,
        travel,
        pace,
    }
}

#[test]
fn scores_and_nearness_are_the_worked_example() {
    let tracklet = chain(|frame| (100.0 + 5.0 * frame as f64, 50.0));
    let (best, other) = (
        scored(&tracklet, 8.0, 32.0, 0.5),
        scored(&tracklet, 4.0, 8.0, 0.45),
    );
    assert!((best.score() - 8.0 * 4.0).abs() < 1e-12);
    // Half the manner, a quarter of the way, nine tenths of the pace.
    assert!((other.nearness(&best) - 0.45).abs() < 1e-12);
    assert!((best.nearness(&other) - 2.0 * 4.0).abs() < 1e-12);
}

#[test]
fn a_faint_patch_rides_along_and_a_strong_one_is_another_car() {
    let car = chain(|frame| (100.0 + gone(frame, 10, 0.2), 50.0));
    let beside = |away: f64, contrast: f64| {
        let mut rider = chain(|frame| (100.0 + gone(frame, 10, 0.2), 50.0 + away));
        for (_, place) in &mut rider.steps {
            place.contrast = contrast * 60.0;
        }
        rider
    };
    // Sizes are of both patches together: nine times sqrt(200) is 127 px.
    for (away, contrast, rides) in [(120.0, 0.5, true), (135.0, 0.5, false), (120.0, 0.7, false)] {
        assert_eq!(
            rides_on(&car, &beside(away, contrast)),
            rides,
            "{away} {contrast}"
        );
        assert_eq!(is_same_thing(&car, &beside(away, contrast)), rides);
    }
    // A chain that takes over where the other ends may be the same car; one that overlaps it in time may not.
    let part = |from: usize, to: usize, v: f64| {
        let mut part = chain(|frame| (100.0 + gone(frame, 10, 0.2), v));
        part.steps.retain(|(frame, _)| (from..=to).contains(frame));
        part
    };
    assert!(is_same_thing(&part(0, 30, 50.0), &part(31, 59, 50.0)));
    assert!(is_same_thing(&part(31, 59, 50.0), &part(0, 31, 250.0)));
    assert!(!is_same_thing(&part(0, 40, 50.0), &part(31, 59, 250.0)));
    // Too few frames show both to say how they go beside each other, but both are there.
    assert!(!is_same_thing(&part(31, 59, 50.0), &part(0, 33, 250.0)));
    assert!(!is_same_thing(&part(0, 33, 50.0), &part(31, 59, 250.0)));
}

/// Wood that rides along is seen all the time, the sticker under an arm for the second half only.
#[test]
fn a_much_stronger_patch_is_the_sticker_though_it_is_seen_for_less_of_the_run() {
    let mut wood = chain(|frame| (100.0 + gone(frame, 10, 0.2), 50.0));
    for (_, place) in &mut wood.steps {
        place.contrast *= 0.2;
    }
    let mut sticker = chain(|frame| (80.0 + gone(frame, 10, 0.2), 40.0));
    sticker.steps.retain(|(frame, _)| *frame > 30);
    let chosen = |nearness: f64| {
        let chains = [
            scored(&wood, 8.0, 29.0, 1.3),
            scored(&sticker, 8.0 * nearness, 29.0, 1.3),
        ];
        let strongest = strongest_of_its_car(&chains).unwrap().tracklet;
        std::ptr::eq(strongest, &raw const sticker)
    };
    assert!(chosen(0.9) && chosen(0.44) && chosen(0.2));
    assert!(!chosen(0.1), "a spot that flashes by is no sticker");
}

#[test]
fn halves_of_a_mark_are_one_and_two_marks_are_two() {
    let at = |u: f64, v: f64| chain(move |frame| (u + 5.0 * frame as f64, v));
    // A disc of 200 px2 has a diameter of 16 px; the middles of its halves are 0.42 radii from its own
    // (4 / 3 pi), more where a strip is cut out between them.
    let mark = at(100.0, 50.0);
    assert!(is_same_thing(&mark, &at(102.0, 63.0)));
    assert!(!is_same_thing(&mark, &at(102.0, 72.0)));
}

/// How two cars are filmed: mirrored, from another moment on, listed the other way round.
#[derive(Debug, Clone, Copy)]
struct Filmed {
    side: f64,
    start_s: f64,
    backwards: bool,
}

const PLAIN: Filmed = Filmed {
    side: 1.0,
    start_s: 0.0,
    backwards: false,
};

/// Two stickers with the gains `gains`; a wheel mark goes round under the first.
fn two_cars(gains: [f64; 2], filmed: Filmed) -> Sightings {
    let Filmed { side, start_s, .. } = filmed;
    let times: Vec<f64> = even(FRAMES, 60.0)
        .iter()
        .map(|time| time + start_s)
        .collect();
    let at = |u: f64, v: f64| blob(320.0 + side * (u - 320.0), v);
    clip(&times, &[Colour::Blue, Colour::Orange], |frame| {
        let ways = gains.map(|gain| 60.0 + gone(frame, 10, gain));
        let mut cars: Vec<Blob> = vec![at(ways[0], 100.0), at(ways[1], 300.0)];
        if filmed.backwards {
            cars.reverse();
        }
        // A wheel of 25 px rolls, its mark 14 px from its hub.
        let turn = (ways[0] - 60.0) / 25.0 + 0.3;
        let (sin, cos) = turn.sin_cos();
        vec![
            cars,
            vec![at(ways[0] - 20.0 + 14.0 * cos, 135.0 + 14.0 * sin)],
        ]
    })
}

/// The row in which the chosen chain goes, and how many others moved; or how many leads there are.
fn chosen(seen: &Sightings, wheel: bool, hint: Option<Hint>) -> Result<(f64, usize), Vec<f64>> {
    let chains = join_tracklets(link_tracklets(seen, 0));
    assert_eq!(chains.len(), 2);
    let patches = WheelPatches::new(seen, Colour::Orange, &[]);
    let patches = patches.as_ref().filter(|_| wheel);
    match choose(seen, &chains, &[], patches, hint) {
        Ok(chosen) => {
            let others = chosen.notes.iter().map(|note| match note {
                TrackNote::SeveralMoving { others } => *others,
                note => panic!("{note:?}"),
            });
            Ok((chosen.tracklet.steps[0].1.v_px, others.sum()))
        }
        Err(FollowError::Several { leads }) => Err(leads.iter().map(|lead| lead.v_px).collect()),
        Err(FollowError::Nothing) => panic!("nothing"),
    }
}

#[test]
fn what_goes_round_beside_it_tells_the_car_from_its_rival() {
    let seen = two_cars([0.2, 0.25], PLAIN);
    // Without the wheel mark the faster one is likelier, and neither is sure.
    assert_eq!(chosen(&seen, false, None), Err(vec![300.0, 100.0]));
    assert_eq!(chosen(&seen, true, None), Ok((100.0, 1)));
    // Far apart in way and pace, nothing else is needed.
    assert_eq!(
        chosen(&two_cars([0.06, 0.25], PLAIN), false, None),
        Ok((300.0, 1))
    );
}

#[test]
fn a_pointing_finger_outweighs_way_and_pace() {
    let seen = two_cars([0.2, 0.25], PLAIN);
    let hint = |u_px, v_px, at_s| Hint { u_px, v_px, at_s };
    assert_eq!(
        chosen(&seen, false, Some(hint(62.0, 103.0, None))),
        Ok((100.0, 1))
    );
    assert_eq!(
        chosen(&seen, true, Some(hint(62.0, 303.0, Some(0.1)))),
        Ok((300.0, 1))
    );
    // Nobody was there yet, or there at all.
    let late = hint(60.0 + gone(50, 10, 0.2), 100.0, Some(0.1));
    assert_eq!(chosen(&seen, false, Some(late)), Err(vec![300.0, 100.0]));
    assert_eq!(
        chosen(&seen, false, Some(hint(62.0, 200.0, None))),
        Err(vec![300.0, 100.0])
    );
}

proptest! {
    #![proptest_config(Config {
        cases: 12,
        rng_seed: RngSeed::Fixed(47),
        failure_persistence: None,
        ..Config::default()
    })]

    #[test]
    fn mirrors_clocks_and_orders_choose_the_same_car(
        first in 0.05..0.3_f64,
        second in 0.05..0.3_f64,
        start_s in 0.0..50.0_f64,
        wheel in any::<bool>(),
    ) {
        let of = |filmed: Filmed| chosen(&two_cars([first, second], filmed), wheel, None);
        let plain = of(PLAIN);
        prop_assert_eq!(&of(Filmed { side: -1.0, ..PLAIN }), &plain);
        prop_assert_eq!(&of(Filmed { start_s, ..PLAIN }), &plain);
        prop_assert_eq!(&of(Filmed { backwards: true, ..PLAIN }), &plain);
    }

    #[test]
    fn a_nearer_car_is_the_same_car(scale in 1.0..3.0_f64, gain in 0.1..0.3_f64, heading in -PI..PI) {
        // Twice as near, everything in the picture is twice as large, and no pace in sizes changes.
        let way = |scale: f64| {
            let mut tracklet = chain(|frame| {
                let way = scale * gone(frame, 10, gain);
                (way * heading.cos(), way * heading.sin())
            });
            for (_, place) in &mut tracklet.steps {
                place.area_px2 *= scale * scale;
            }
            tracklet
        };
        let (near, far) = (way(scale), way(1.0));
        prop_assert!((best_pace(&near) / best_pace(&far) - 1.0).abs() < 1e-9);
        prop_assert!((manner(&near) - manner(&far)).abs() < 1e-12);
    }
}

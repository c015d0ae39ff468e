//! Tracklets and their joins alone, on blobs whose ways are closed forms.

use super::super::drawn::{blob, clip, even};
use super::*;
use crate::colour::Colour;
use proptest::prelude::*;
use proptest::test_runner::{Config, RngSeed};

/// One colour's tracklets in a clip at 60 frames a second.
fn linked(frames: usize, blobs: impl Fn(usize) -> Vec<Blob>) -> Vec<Tracklet> {
    link_tracklets(&seen(&even(frames, 60.0), blobs), 0)
}

fn seen(times_s: &[f64], blobs: impl Fn(usize) -> Vec<Blob>) -> Sightings {
    clip(times_s, &[Colour::Blue], |frame| vec![blobs(frame)])
}

/// The way of the first thing and of the second: they cross in frame 20 at 8 px a frame.
fn crossing(frame: usize) -> [(f64, f64); 2] {
    let off = 4.0 * (frame as f64 - 20.3);
    [
        (200.0 + off, 150.0 + 0.5 * off),
        (200.0 - off, 150.0 + 0.5 * off),
    ]
}

#[track_caller]
fn follows(tracklet: &Tracklet, way: impl Fn(usize) -> (f64, f64)) {
    for (frame, place) in &tracklet.steps {
        let (u, v) = way(*frame);
        assert!(
            (place.u_px - u).hypot(place.v_px - v) < 1e-9,
            "frame {frame}"
        );
    }
}

#[test]
fn two_things_that_cross_keep_their_ways_in_whatever_order_they_are_listed() {
    for flip in 0..3_usize {
        let tracklets = linked(40, |frame| {
            let mut blobs = crossing(frame).map(|(u, v)| blob(u, v)).to_vec();
            if (frame * flip) % 3 > 0 {
                blobs.reverse();
            }
            blobs
        });
        assert_eq!(tracklets.len(), 2, "{flip}");
        assert!(tracklets.iter().all(|tracklet| tracklet.steps.len() == 40));
        let first = usize::from(tracklets[0].steps[0].1.u_px > 200.0);
        follows(&tracklets[0], |frame| crossing(frame)[first]);
        follows(&tracklets[1], |frame| crossing(frame)[1 - first]);
    }
}

#[test]
fn a_piece_bridges_three_frames_without_it_and_no_more() {
    for (missing, parts) in [(3, 1), (4, 2)] {
        let tracklets = linked(40, |frame| {
            let hidden = (20..20 + missing).contains(&frame);
            if hidden {
                Vec::new()
            } else {
                vec![blob(50.0 + 3.0 * frame as f64, 90.0)]
            }
        });
        assert_eq!(tracklets.len(), parts, "{missing} missing");
    }
}

#[test]
fn a_hand_that_jolts_the_camera_does_not_part_a_chain() {
    // Two jolts of 12 px, one a frame after the other, on a thing of 6 px that goes 1 px a frame.
    let jolt = |frame: usize| 12.0 * frame.saturating_sub(19).min(2) as f64;
    let shift: Vec<(f64, f64)> = (0..40).map(|frame| (jolt(frame), -jolt(frame))).collect();
    let way = |frame: usize| (60.0 + frame as f64 + jolt(frame), 200.0 - jolt(frame));
    let seen = seen(&even(40, 30.0), |frame| {
        let (u_px, v_px) = way(frame);
        let mut blob = blob(u_px, v_px);
        blob.area_px2 = 30.0;
        vec![blob]
    });
    let parted = join_tracklets(link_tracklets(&seen, 0));
    assert!(parted.len() > 1, "without the camera's way it is a leap");
    let chains = chains(&seen, 0, &shift);
    assert_eq!(chains.len(), 1);
    assert_eq!(chains[0].steps.len(), 40);
    follows(&chains[0], way);
}

#[test]
fn what_a_border_cuts_and_what_passes_in_a_blink_is_no_piece() {
    let tracklets = linked(30, |frame| {
        let mut cut = blob(10.0, 50.0);
        cut.at_border = true;
        let mut out = vec![cut];
        if frame == 3 || frame == 4 {
            out.push(blob(300.0, 300.0));
        }
        if (10..13).contains(&frame) {
            out.push(blob(400.0, 100.0));
        }
        out
    });
    assert_eq!(tracklets.len(), 1);
    assert_eq!(tracklets[0].span(), (10, 12));
}

#[test]
fn the_way_ahead_is_a_straight_line_in_time_and_not_in_frames() {
    // A steady 120 px/s, seen at 60 frames a second with two frames lost in the recording before frame 12.
    let times: Vec<f64> = (0..20)
        .map(|frame| f64::from(if frame < 12 { frame } else { frame + 2 }) / 60.0)
        .collect();
    let at = times.clone();
    let tracklets = link_tracklets(
        &seen(&times, |frame| {
            vec![blob(30.0 + 120.0 * at[frame], 40.0 - 60.0 * at[frame])]
        }),
        0,
    );
    assert_eq!(tracklets.len(), 1);
    let mut tracklet = tracklets[0].clone();
    tracklet.steps.truncate(12);
    for (frame, time) in times.iter().enumerate().skip(12) {
        let (u, v, speed) = tracklet.expected(frame).unwrap();
        assert!((u - (30.0 + 120.0 * time)).abs() < 1e-9, "{u}");
        assert!((v - (40.0 - 60.0 * time)).abs() < 1e-9, "{v}");
        // Per usual frame step: (2, -1) px.
        assert!((speed - 5.0_f64.sqrt()).abs() < 1e-9, "{speed}");
    }
    assert!((tracklet.beats_between(11, 12) - 3.0).abs() < 1e-9);
}

#[test]
fn sizes_and_ways_of_a_piece_are_those_of_its_looks() {
    // Four steps away and back.
    let there = |frame: usize| frame.min(8 - frame) as f64;
    let tracklet = linked(9, |frame| {
        let mut blob = blob(100.0 + 3.0 * there(frame), 60.0 + 4.0 * there(frame));
        blob.area_px2 = 100.0 + frame as f64;
        vec![blob]
    })
    .remove(0);
    assert!((tracklet.travel_px() - 20.0).abs() < 1e-12);
    assert_eq!(tracklet.area_px2(), 104.0);
    assert!((tracklet.last_size_px() - 108.0_f64.sqrt()).abs() < 1e-12);
    let shift: Vec<(f64, f64)> = (0..9)
        .map(|frame| (3.0 * there(frame), 4.0 * there(frame)))
        .collect();
    assert!(tracklet.steadied(&shift).travel_px() < 1e-12);
    let places = tracklet.places(12);
    assert_eq!(places.iter().flatten().count(), 9);
    assert!(places[9..].iter().all(Option::is_none));
}

/// A car that gathers speed: u = 40 + g t² / 2 with g in px a frame², hidden for a while.
fn gathering(frame: usize, gain: f64) -> f64 {
    40.0 + 0.5 * gain * (frame * frame) as f64
}

/// Two tracklets, parted by `hidden` frames from frame 20 on, the second `off` px lower.
fn parted(hidden: usize, gain: f64, off: f64, resized: f64) -> Vec<Tracklet> {
    linked(45, |frame| {
        if (20..20 + hidden).contains(&frame) {
            return Vec::new();
        }
        let later = frame >= 20;
        let mut blob = blob(
            gathering(frame, gain),
            120.0 + if later { off } else { 0.0 },
        );
        blob.area_px2 *= if later { resized } else { 1.0 };
        vec![blob]
    })
}

#[test]
fn pieces_meet_across_a_gap_whatever_speed_is_gathered_in_it() {
    let tracklets = parted(10, 0.3, 0.0, 1.0);
    assert_eq!(tracklets.len(), 2);
    let joined = join_tracklets(tracklets);
    assert_eq!(joined.len(), 1);
    assert_eq!(joined[0].span(), (0, 44));
    assert_eq!(joined[0].steps.len(), 35);
    follows(&joined[0], |frame| (gathering(frame, 0.3), 120.0));
}

#[test]
fn pieces_off_each_others_way_stay_two() {
    let joins = |hidden, gain, off, resized| {
        let tracklets = parted(hidden, gain, off, resized);
        assert_eq!(tracklets.len(), 2, "{hidden} {gain} {off} {resized}");
        join_tracklets(tracklets).len() == 1
    };
    // A gap counts from the last observation to the next: at most twenty frames.
    assert!(joins(19, 0.1, 0.0, 1.0));
    assert!(!joins(20, 0.1, 0.0, 1.0));
    // Standing, of 10 px: 4 px, half a size and nothing for speed are 9 px aside.
    assert!(joins(8, 0.0, 8.9, 1.0));
    assert!(!joins(8, 0.0, 9.1, 1.0));
    assert!(joins(8, 0.0, 0.0, 3.0));
    assert!(!joins(8, 0.0, 0.0, 3.5));
}

/// Where each tracklet was, told in another picture: mirrored about u = 320, shifted, at another time.
fn told(tracklets: &[Tracklet], side: f64, down: f64) -> Vec<Vec<(usize, i64, i64)>> {
    let rounded = |value: f64| (value * 1e6).round() as i64;
    let mut out: Vec<Vec<(usize, i64, i64)>> = tracklets
        .iter()
        .map(|tracklet| {
            let step = |(frame, place): &(usize, Place)| {
                let u = 320.0 + side * (place.u_px - 320.0);
                (*frame, rounded(u), rounded(place.v_px + down))
            };
            tracklet.steps.iter().map(step).collect()
        })
        .collect();
    out.sort();
    out
}

proptest! {
    #![proptest_config(Config {
        cases: 40,
        rng_seed: RngSeed::Fixed(46),
        failure_persistence: None,
        ..Config::default()
    })]

    #[test]
    fn mirrors_shifts_clocks_and_orders_change_no_piece(
        ways in proptest::collection::vec((50.0..550.0_f64, 50.0..300.0_f64, -4.0..4.0_f64, -2.0..2.0_f64, -0.1..0.1_f64), 1..5),
        gaps in proptest::collection::vec(0_usize..30, 6),
        down in -30.0..30.0_f64,
        start_s in 0.0..100.0_f64,
    ) {
        let blobs = |frame: usize, side: f64, down: f64| -> Vec<Blob> {
            let t = frame as f64;
            ways.iter()
                .enumerate()
                .filter(|(way, _)| !(gaps[*way]..gaps[*way] + gaps[5] / 2).contains(&frame))
                .map(|(_, (u, v, du, dv, ddu))| {
                    let u = u + du * t + ddu * t * t / 2.0;
                    blob(320.0 + side * (u - 320.0), v + dv * t + down)
                })
                .collect()
        };
        let times = even(40, 60.0);
        let tracklets = |times: &[f64], side: f64, down: f64, backwards: bool| {
            let seen = seen(times, |frame| {
                let mut blobs = blobs(frame, side, down);
                if backwards {
                    blobs.reverse();
                }
                blobs
            });
            join_tracklets(link_tracklets(&seen, 0))
        };
        let plain = told(&tracklets(&times, 1.0, 0.0, false), 1.0, 0.0);
        prop_assert!(!plain.is_empty());
        prop_assert_eq!(&told(&tracklets(&times, -1.0, 0.0, false), -1.0, 0.0), &plain);
        prop_assert_eq!(&told(&tracklets(&times, 1.0, down, false), 1.0, -down), &plain);
        prop_assert_eq!(&told(&tracklets(&times, 1.0, 0.0, true), 1.0, 0.0), &plain);
        let later: Vec<f64> = times.iter().map(|time| 3.0 * time + start_s).collect();
        prop_assert_eq!(&told(&tracklets(&later, 1.0, 0.0, false), 1.0, 0.0), &plain);
    }
}

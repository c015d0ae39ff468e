//! A short while of `scripts/soak`: inputs that nobody would make come to one clear error or to results that are all
//! numbers, each in its interval.
#![cfg(unix)]
#![allow(clippy::unwrap_used, clippy::panic, reason = "tests fail by panicking")]

#[path = "../scripts/soak_study/asked.rs"]
mod asked;
mod bounded;
#[path = "../scripts/soak_study/change.rs"]
mod change;
mod common;
#[path = "../scripts/soak_study/files.rs"]
mod files;
#[path = "../scripts/soak_study/ground.rs"]
mod ground;
mod phone;
mod results;
#[path = "../scripts/soak_study/sheets.rs"]
mod sheets;
#[path = "../scripts/soak_study/staged.rs"]
mod staged;
#[path = "../scripts/soak_study/summaries.rs"]
mod summaries;
#[path = "../scripts/soak_study/tracks.rs"]
mod tracks;

use ground::{Ground, Target};
use std::path::Path;

/// Tries this many inputs; most of them are taken or refused, and neither alone.
fn soak(target: Target, inputs: u64) {
    let ground = Ground::new(Path::new(env!("CARGO_BIN_EXE_gripline")));
    let mut taken = 0;
    for number in 0..inputs {
        let tried = ground.attempt(target, number);
        assert!(
            tried.never.is_none(),
            "{target:?} {number}: {:?}",
            tried.never
        );
        taken += u64::from(tried.taken);
    }
    assert!(
        taken > 0 && taken < inputs,
        "{taken} of {inputs} were taken: the changes are too wild or too tame"
    );
}

#[test]
fn sheets_with_changes_are_read_or_refused() {
    soak(Target::Sheets, 400);
}

#[test]
fn requests_of_the_set_up_page_with_changes_are_written_or_refused() {
    soak(Target::Requests, 150);
}

#[test]
fn summaries_with_changes_are_compared_or_refused() {
    soak(Target::Summaries, 12);
}

#[test]
fn sightings_of_no_camera_are_measured_or_refused() {
    soak(Target::Tracks, 160);
}

/// Frames minutes apart, from which smoothing gives no numbers: the shares of an interval that is none were asked for.
#[test]
fn frames_minutes_apart_give_a_reason_and_no_panic() {
    let ground = Ground::new(Path::new(env!("CARGO_BIN_EXE_gripline")));
    let tried = ground.attempt(Target::Tracks, 21_474_838_207);
    assert!(tried.never.is_none(), "{:?}", tried.never);
}

#[test]
fn clips_with_changes_are_decoded_or_refused() {
    soak(Target::Files, 150);
}

#[test]
fn what_phones_send_with_changes_is_answered_or_refused() {
    soak(Target::Asked, 400);
}

#[test]
fn clips_with_changes_are_measured_or_refused() {
    soak(Target::Clips, 30);
}

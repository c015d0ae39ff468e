//! Clips with changes, opened and decoded within this process: many more of them than processes could take.

#![allow(
    dead_code,
    unreachable_pub,
    reason = "a module of several programs, each of which uses its own part"
)]

use crate::change;
use crate::results::check_words;
use gripline::clip::{Clip, ClipError};
use rand::{Rng, RngExt};
use std::fs;

/// Frames that are decoded at most: the good ones have 24.
const MOST_FRAMES: usize = 200;

/// Changes some bytes of a clip; half of the changes go where the file says how to read it.
pub fn changed(random: &mut dyn Rng, clips: &[Vec<u8>]) -> Vec<u8> {
    let mut bytes = change::one_of(random, clips).clone();
    let len = bytes.len();
    let header = bytes
        .windows(4)
        .position(|four| four == b"moov")
        .unwrap_or(0);
    let within = if random.random() {
        header..(header + 1200).min(len)
    } else {
        0..len
    };
    change::bytes(random, &mut bytes, within);
    bytes
}

/// Decodes these bytes as a clip: one clear error, or frames whose times are numbers that grow.
pub fn decoded(bytes: &[u8]) -> Result<bool, String> {
    let folder = tempfile::tempdir().map_err(|error| error.to_string())?;
    let path = folder.path().join("clip.mp4");
    fs::write(&path, bytes).map_err(|error| error.to_string())?;
    match frames(&path) {
        Ok(()) => Ok(true),
        Err(Stopped::Refused(error)) => {
            let (says, hint) = (error.to_string(), error.hint().to_string());
            check_words(&says)?;
            if says.contains(|c: char| c.is_control()) || hint.is_empty() {
                return Err(says);
            }
            Ok(false)
        }
        Err(Stopped::Odd(why)) => Err(why),
    }
}

enum Stopped {
    Refused(ClipError),
    Odd(String),
}

fn frames(path: &std::path::Path) -> Result<(), Stopped> {
    let mut clip = Clip::open(path).map_err(Stopped::Refused)?;
    let mut last_s = f64::NEG_INFINITY;
    for _ in 0..MOST_FRAMES {
        let Some(frame) = clip.next_frame().map_err(Stopped::Refused)? else {
            break;
        };
        if !frame.time_s.is_finite() || frame.time_s <= last_s {
            return Err(Stopped::Odd(format!(
                "a frame at {} s after one at {last_s} s",
                frame.time_s
            )));
        }
        last_s = frame.time_s;
    }
    Ok(())
}

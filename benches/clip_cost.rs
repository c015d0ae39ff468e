//! What looking at a clip costs next to decoding it, on one clip: `scripts/bench` calls it.
//!
//! ```text
//! cargo bench --bench clip_cost -- CLIP RUN.TOML   # the demo's where nothing is named
//! ```
//!
//! The two are timed in turns, so that a machine that is busy for a while slows both, and the best
//! round of each counts. A ratio of 1 would mean that looking costs no time at all.
#![expect(clippy::print_stdout, reason = "its output is what it is for")]

use std::hint::black_box;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use gripline::clip::{Clip, ClipError};
use gripline::pipeline::{RunError, marks_wanted, observe_clip};
use gripline::sheet::RunSheet;
use gripline::track::MarksWanted;

const ROUNDS: usize = 5;

fn decode(path: &Path) -> Result<(u64, Duration), ClipError> {
    let start = Instant::now();
    let mut clip = Clip::open(path)?;
    let mut frames = 0;
    while let Some(frame) = clip.next_frame()? {
        black_box(&frame);
        frames += 1;
    }
    Ok((frames, start.elapsed()))
}

fn observation(path: &Path, marks: &MarksWanted) -> Result<Duration, RunError> {
    let start = Instant::now();
    black_box(observe_clip(path, marks, &|_, _| {})?);
    Ok(start.elapsed())
}

fn main() -> anyhow::Result<()> {
    let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/demo");
    // Cargo adds an option of its own.
    let mut named = std::env::args()
        .skip(1)
        .filter(|argument| !argument.starts_with("--"))
        .map(PathBuf::from);
    let clip = named.next().unwrap_or_else(|| demo.join("clip.mp4"));
    let sheet = RunSheet::read(&named.next().unwrap_or_else(|| demo.join("run.toml")))?;
    let marks = marks_wanted(&sheet);

    let (frames, mut decode_time) = decode(&clip)?;
    let mut observation_time = observation(&clip, &marks)?;
    for _ in 1..ROUNDS {
        decode_time = decode_time.min(decode(&clip)?.1);
        observation_time = observation_time.min(observation(&clip, &marks)?);
    }
    let cores = std::thread::available_parallelism()?;
    let ms_a_frame = |time: Duration| 1000.0 * time.as_secs_f64() / frames as f64;
    println!("{frames} frames, {cores} cores, best of {ROUNDS} rounds");
    println!(
        "decode_time {:.3} s ({:.2} ms a frame)",
        decode_time.as_secs_f64(),
        ms_a_frame(decode_time)
    );
    println!(
        "look_time   {:.3} s ({:.2} ms a frame), decoding included",
        observation_time.as_secs_f64(),
        ms_a_frame(observation_time)
    );
    println!(
        "decode_time / look_time {:.2}",
        decode_time.as_secs_f64() / observation_time.as_secs_f64()
    );
    Ok(())
}

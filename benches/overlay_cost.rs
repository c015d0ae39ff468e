//! What drawing an overlay costs next to encoding it, on one clip: `scripts/bench` calls it.
//!
//! ```text
//! cargo bench --bench overlay_cost -- CLIP RUN.TOML   # the demo's where nothing is named
//! ```
//!
//! Frames are decoded beforehand. Encoding alone and drawing with encoding are timed in turns, and the best
//! round of each counts; a ratio of 1 would mean that drawing costs no time at all.
#![expect(clippy::print_stdout, reason = "its output is what it is for")]

use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use anyhow::{Context, anyhow};
use gripline::clip::{Change, Clip, ClipWriter, Frame, Upright420};
use gripline::outputs::overlay::Annotator;
use gripline::outputs::{Measures, Story, frame_values};
use gripline::pipeline::measure;
use gripline::sheet::RunSheet;
use gripline::texts::{Language, Note};

const ROUNDS: usize = 4;
/// Frames kept in memory: 3 MB each at 1080p.
const FRAMES: usize = 60;

/// Encodes the pictures that `next` gives for the frames.
fn encode(
    source: &Path,
    frames: &[Frame],
    next: &mut dyn FnMut(&Frame) -> Upright420,
) -> anyhow::Result<Duration> {
    let home = tempfile::tempdir()?;
    let mut writer = ClipWriter::create(
        &home.path().join("out.mp4"),
        &Clip::open(source)?,
        Change::NONE,
    )?;
    let start = Instant::now();
    for frame in frames {
        writer.write(&next(frame), frame.pts_ticks)?;
    }
    writer.finish()?;
    Ok(start.elapsed())
}

fn main() -> anyhow::Result<()> {
    let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/demo");
    // Cargo adds an option of its own.
    let mut named = std::env::args()
        .skip(1)
        .filter(|argument| !argument.starts_with("--"))
        .map(PathBuf::from);
    let path = named.next().unwrap_or_else(|| demo.join("clip.mp4"));
    let sheet = RunSheet::read(&named.next().unwrap_or_else(|| demo.join("run.toml")))?;
    let measured = measure(&path, &sheet, 10, &|_, _| {})?;
    let analysis = measured
        .outline
        .analysis
        .as_ref()
        .map_err(|why| anyhow!(*why))?;
    let story = Story {
        language: Language::English,
        clip: &measured.clip,
        clip_sha256: "",
        draws: 100,
        damage: &measured.damage,
        clock: &Note::new("clock-file"),
        clock_doubt: None,
        sheet: &sheet,
        priors: &measured.outline.priors,
        frame_ticks: &measured.frame_ticks,
        track: &measured.outline.track,
        measured: Ok(Measures {
            view: &analysis.view,
            motion: &analysis.motion,
            findings: &analysis.findings,
            result: measured.result.as_ref().context("no intervals")?,
            verdict: measured.verdict.as_ref().context("no verdict")?,
        }),
        end_view: None,
    };
    let values = frame_values(&story);
    let mut annotator = Annotator::new(&story, &values).context("no size")?;

    // The middle of the clip, where the trails are long.
    let mut clip = Clip::open(&path)?;
    let skipped = (measured.outline.track.times_s.len().saturating_sub(FRAMES)) / 2;
    let mut frames = Vec::new();
    while let Some(frame) = clip.next_frame()? {
        if frame.index as usize >= skipped && frames.len() < FRAMES {
            frames.push(frame);
        }
    }
    let plain: Vec<Upright420> = frames
        .iter()
        .map(|frame| Upright420::from_picture(&frame.picture))
        .collect();
    let (mut alone, mut drawn) = (Duration::MAX, Duration::MAX);
    for _ in 0..ROUNDS {
        let mut ready = plain.iter().cloned();
        let mut take = |frame: &Frame| {
            let next = ready.next();
            next.unwrap_or_else(|| Upright420::from_picture(&frame.picture))
        };
        alone = alone.min(encode(&path, &frames, &mut take)?);
        drawn = drawn.min(encode(&path, &frames, &mut |frame| {
            annotator.annotated(frame)
        })?);
    }
    let ms_a_frame = |time: Duration| 1000.0 * time.as_secs_f64() / frames.len() as f64;
    println!("{} frames, best of {ROUNDS} rounds", frames.len());
    println!("encode_time {:.2} ms a frame", ms_a_frame(alone));
    println!("overlay_time {:.2} ms a frame", ms_a_frame(drawn));
    println!(
        "encode_time / overlay_time {:.2}",
        alone.as_secs_f64() / drawn.as_secs_f64()
    );
    Ok(())
}

//! How long each stage takes on the clip that ships with the tool.
//!
//! ```text
//! cargo bench --bench stages            # all stages
//! cargo bench --bench stages -- follow  # one of them
//! ```
#![expect(
    clippy::expect_used,
    reason = "a bench that cannot read its own fixture has nothing to measure"
)]

use std::hint::black_box;
use std::path::{Path, PathBuf};

use criterion::{Criterion, Throughput};
use gripline::analysis::analyse;
use gripline::camera::locate;
use gripline::clip::{Clip, Frame};
use gripline::pipeline::{marks_wanted, measure, observe_clip};
use gripline::priors::Priors;
use gripline::sheet::RunSheet;
use gripline::sighting::{Finder, Wanted};
use gripline::track::{MarksWanted, follow};
use gripline::uncertainty::{DEFAULT_DRAWS, with_intervals};

/// Frames that are kept in memory to look at: a second of the clip, with rest and motion in it.
const FRAMES_KEPT: usize = 60;
/// Floor marks lie still and are fitted now and then, as the tool itself does.
const FLOOR_FIT_EVERY: u32 = 6;

fn fixture(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("fixtures/demo")
        .join(name)
}

fn next(clip: &mut Clip) -> Option<Frame> {
    clip.next_frame().expect("the demo clip decodes")
}

fn open() -> Clip {
    Clip::open(&fixture("clip.mp4")).expect("the demo clip opens")
}

/// The colours of the sheet's marks, each once.
fn colours(marks: &MarksWanted) -> Vec<Wanted> {
    let moving = std::iter::once(marks.sticker)
        .chain(marks.wheel)
        .chain(marks.axle)
        .map(|colour| (colour, 1));
    let still = marks.floor.iter().map(|&colour| (colour, FLOOR_FIT_EVERY));
    let mut wanted: Vec<Wanted> = Vec::new();
    for (colour, fit_every) in moving.chain(still) {
        if wanted.iter().all(|seen| seen.colour != colour) {
            wanted.push(Wanted { colour, fit_every });
        }
    }
    wanted
}

/// From the file to blobs in pixels: what grows with the size and length of the clip.
fn pixel_stages(criterion: &mut Criterion, marks: &MarksWanted) {
    let mut clip = open();
    let mut frames: Vec<Frame> = Vec::new();
    let mut count = 0_u64;
    while let Some(frame) = next(&mut clip) {
        count += 1;
        if frames.len() < FRAMES_KEPT {
            frames.push(frame);
        }
    }
    assert_eq!(frames.len(), FRAMES_KEPT, "the demo clip is shorter");

    let mut group = criterion.benchmark_group("frames");
    group
        .sample_size(10)
        .throughput(Throughput::Elements(count));
    group.bench_function("decode", |bencher| {
        bencher.iter(|| {
            let mut clip = open();
            while let Some(frame) = next(&mut clip) {
                black_box(&frame);
            }
        });
    });
    group.throughput(Throughput::Elements(FRAMES_KEPT as u64));
    group.bench_function("look", |bencher| {
        bencher.iter(|| {
            let mut finder = Finder::new(colours(marks));
            for frame in &frames {
                black_box(finder.find(frame));
            }
        });
    });
    group.finish();
}

/// From blobs to results: what is run again and again for the intervals.
fn later_stages(criterion: &mut Criterion, sheet: &RunSheet, marks: &MarksWanted) {
    let observed =
        observe_clip(&fixture("clip.mp4"), marks, &|_, _| {}).expect("the demo clip is seen");
    let seen = observed.seen;
    let times_s: Vec<f64> = seen.frames.iter().map(|frame| frame.time_s).collect();
    let track = follow(&seen, times_s.clone(), marks).expect("the demo's sticker is followed");
    let priors = Priors::from_sheet(sheet);
    let view = locate(&track, &priors.camera_sheet());
    let best = analyse(&track, view.clone(), &priors, None).expect("the demo is measured");

    let mut group = criterion.benchmark_group("after");
    group.sample_size(20);
    group.bench_function("follow", |bencher| {
        bencher.iter(|| follow(black_box(&seen), times_s.clone(), marks));
    });
    group.bench_function("locate", |bencher| {
        bencher.iter(|| locate(black_box(&track), &priors.camera_sheet()));
    });
    group.bench_function("analyse", |bencher| {
        bencher.iter(|| analyse(black_box(&track), view.clone(), &priors, None));
    });
    group.sample_size(10);
    group.bench_function("intervals", |bencher| {
        bencher.iter(|| with_intervals(black_box(&track), &best, &priors, DEFAULT_DRAWS));
    });
    group.finish();
}

fn whole(criterion: &mut Criterion, sheet: &RunSheet) {
    let mut group = criterion.benchmark_group("whole");
    group.sample_size(10);
    group.bench_function("measure", |bencher| {
        bencher.iter(|| {
            measure(&fixture("clip.mp4"), sheet, DEFAULT_DRAWS, &|_, _| {})
                .expect("the demo is measured")
        });
    });
    group.finish();
}

fn main() {
    let sheet = RunSheet::read(&fixture("run.toml")).expect("the demo's sheet reads");
    let marks = marks_wanted(&sheet);
    let mut criterion = Criterion::default().configure_from_args();
    pixel_stages(&mut criterion, &marks);
    later_stages(&mut criterion, &sheet, &marks);
    whole(&mut criterion, &sheet);
    criterion.final_summary();
}

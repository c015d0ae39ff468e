//! Sightings that no camera would give, through every stage to verdict and files.

#![allow(
    dead_code,
    unreachable_pub,
    reason = "a module of several programs, each of which uses its own part"
)]

use crate::change::{self, one_of};
use crate::results::{check_intervals, check_table, check_words};
use crate::staged::Stage;
use gripline::clip::{ChromaLayout, ClipInfo, ColourCoding, Matrix, QuarterTurn};
use gripline::colour::Colour;
use gripline::findings::Key;
use gripline::outputs::film::Film;
use gripline::outputs::{Measures, Story, frames_csv, report_html, summary_json, summary_words};
use gripline::pipeline::{Measured, Observed, Spent, marks_wanted, measure_observed};
use gripline::sheet::RunSheet;
use gripline::sighting::{Blob, FrameSightings, Sightings};
use gripline::texts::{Language, Note};
use rand::{Rng, RngExt};
use std::path::Path;

/// Monte Carlo draws: the least that the command takes.
const DRAWS: usize = 10;
pub const WIDTH_PX: f64 = 640.0;
pub const HEIGHT_PX: f64 = 360.0;

/// Measures sightings drawn at random by a sheet with changes: one clear error, or files that are all numbers.
pub fn measured(random: &mut dyn Rng, sheets: &[String]) -> Result<bool, String> {
    let sheet = sheet(random, sheets);
    let observed = observed(random, &sheet);
    let path = Path::new("clip.mp4");
    match measure_observed(path, &observed, &sheet, DRAWS) {
        Err(error) => {
            let says = error.to_string();
            check_words(&says)?;
            let plain = !says.contains(|c: char| c.is_control()) && !error.hint().is_empty();
            plain.then_some(false).ok_or(says)
        }
        // Taken in the full sense is what came out in metres.
        Ok(measured) => written(&measured, &sheet).map(|()| {
            let result = measured.result.as_ref();
            result.is_some_and(|result| result.value(Key::DistanceM).is_some())
        }),
    }
}

fn written(measured: &Measured, sheet: &RunSheet) -> Result<(), String> {
    let outline = &measured.outline;
    let analysis = outline.analysis.as_ref().map_err(|why| *why);
    let judged = measured.result.as_ref().zip(measured.verdict.as_ref());
    let measures = analysis.map(|analysis| {
        judged.map(|(result, verdict)| Measures {
            view: &analysis.view,
            motion: &analysis.motion,
            findings: &analysis.findings,
            result,
            verdict,
        })
    });
    let measures = match measures {
        Ok(None) => return Err("an analysis without a verdict".into()),
        Ok(Some(measures)) => Ok(measures),
        Err(why) => Err(why),
    };
    let story = Story {
        language: Language::English,
        clip: &measured.clip,
        clip_sha256: "0",
        draws: DRAWS,
        damage: &measured.damage,
        clock: &Note::new("clock-file"),
        clock_doubt: outline.doubt.as_ref(),
        sheet,
        priors: &outline.priors,
        track: &outline.track,
        frame_ticks: &measured.frame_ticks,
        measured: measures,
        end_view: None,
    };
    let json = summary_json(&story).map_err(|error| error.to_string())?;
    check_intervals(&serde_json::from_slice(&json).map_err(|error| error.to_string())?)?;
    let table = frames_csv(&story).map_err(|error| error.to_string())?;
    check_table(&String::from_utf8_lossy(&table))?;
    check_words(&summary_words(&story))?;
    let film = Film {
        stills: Vec::new(),
        contact: None,
    };
    let page = report_html(&story, &film, None, None).map_err(|error| error.to_string())?;
    check_words(&String::from_utf8_lossy(&page))
}

/// A sheet that can be read, most often with changes.
fn sheet(random: &mut dyn Rng, sheets: &[String]) -> RunSheet {
    loop {
        let text = one_of(random, sheets);
        let text = if random.random_range(0..3) == 0 {
            text.clone()
        } else {
            change::text(random, text)
        };
        if let Ok(sheet) = RunSheet::parse(&text, Path::new("run.toml")) {
            return sheet;
        }
    }
}

/// A way through the picture: steady parts, with a rest at first in most.
struct Way {
    from: [f64; 2],
    start_s: f64,
    pace: [f64; 2],
    push: [f64; 2],
    circle_px: f64,
    turns_per_s: f64,
    size_px2: f64,
    seen: f64,
}

impl Way {
    fn drawn(random: &mut dyn Rng) -> Self {
        let still = random.random_range(0..4) == 0;
        let mut pace = |most: f64| {
            if still {
                0.0
            } else {
                random.random_range(-most..most)
            }
        };
        let (pace, push) = ([pace(400.0), pace(60.0)], [pace(200.0), pace(30.0)]);
        Self {
            from: [
                random.random_range(0.0..WIDTH_PX),
                random.random_range(0.0..HEIGHT_PX),
            ],
            start_s: random.random_range(-0.2..1.0),
            pace,
            push,
            circle_px: *one_of(random, &[0.0, 0.0, 5.0, 20.0, 40.0]),
            turns_per_s: random.random_range(-5.0..30.0),
            size_px2: 10_f64.powf(random.random_range(0.5..3.5)),
            seen: *one_of(random, &[1.0, 0.95, 0.6, 0.2]),
        }
    }

    fn at(&self, time_s: f64) -> [f64; 2] {
        let t = (time_s - self.start_s).max(0.0);
        let angle = std::f64::consts::TAU * self.turns_per_s * t;
        let ring = [angle.cos() * self.circle_px, angle.sin() * self.circle_px];
        std::array::from_fn(|i| {
            self.from[i] + self.pace[i] * t + 0.5 * self.push[i] * t * t + ring[i]
        })
    }
}

/// A patch about a place, as sure as chance has it.
pub fn blob(random: &mut dyn Rng, at: [f64; 2], size_px2: f64) -> Blob {
    let noise = 10_f64.powf(random.random_range(-3.0..0.5));
    let radius2 = size_px2 / std::f64::consts::PI;
    let mut shaken = |x: f64| x + random.random_range(-noise..noise);
    let [u_px, v_px] = at.map(&mut shaken);
    let odd = random.random_range(0..50) == 0;
    let variance = if odd {
        *one_of(random, &[1e-12, 1e6])
    } else {
        noise * noise / 3.0
    };
    Blob {
        u_px: u_px.clamp(0.0, WIDTH_PX - 1.0),
        v_px: v_px.clamp(0.0, HEIGHT_PX - 1.0),
        var_u_px2: variance,
        var_v_px2: variance,
        area_px2: size_px2 * random.random_range(0.8..1.2),
        elongation: random.random_range(1.0..1.6),
        contrast: random.random_range(5.0..120.0),
        outline_px2: [radius2, radius2, 0.0],
        chroma: [
            random.random_range(-90.0..90.0),
            random.random_range(-90.0..90.0),
        ],
        row_frac: (v_px / HEIGHT_PX).clamp(0.0, 1.0),
        fitted: random.random(),
        at_border: !(2.0..WIDTH_PX - 3.0).contains(&u_px),
    }
}

/// Times of frames: even, uneven, or with leaps.
fn times(random: &mut dyn Rng) -> Vec<f64> {
    let frames = *one_of(random, &[0, 1, 2, 3, 5, 20, 60, 120]);
    let step = *one_of(
        random,
        &[1e-3, 1.0 / 240.0, 1.0 / 60.0, 1.0 / 30.0, 1.0, 3600.0],
    );
    let manner = random.random_range(0..4);
    let mut now = 0.0;
    (0..frames)
        .map(|_| {
            let time = now;
            now += match manner {
                0 => step * random.random_range(0.05..2.0),
                1 if random.random_range(0..10) == 0 => step * random.random_range(1.0..500.0),
                _ => step,
            };
            time
        })
        .collect()
}

/// What is seen in one frame of things that go their ways, and perhaps of something else.
fn in_frame(random: &mut dyn Rng, time_s: f64, ways: &[Way]) -> Vec<Blob> {
    let mut blobs = Vec::new();
    for way in ways {
        if random.random::<f64>() < way.seen {
            blobs.push(blob(random, way.at(time_s), way.size_px2));
        }
    }
    if random.random_range(0..10) == 0 {
        let at = [
            random.random_range(0.0..WIDTH_PX),
            random.random_range(0.0..HEIGHT_PX),
        ];
        blobs.push(blob(random, at, 50.0));
    }
    blobs
}

/// Blobs of each frame and colour: half of them as a camera might see them, more or less.
fn lists(
    random: &mut dyn Rng,
    times_s: &[f64],
    colours: &[Colour],
    sheet: &RunSheet,
) -> Vec<Vec<Vec<Blob>>> {
    let stage = random.random::<bool>().then(|| Stage::drawn(random));
    let mut ways = Vec::new();
    for _ in colours {
        let count = random.random_range(0..7);
        ways.push((0..count).map(|_| Way::drawn(random)).collect::<Vec<_>>());
    }
    let mut of_frame = |time_s: f64| -> Vec<Vec<Blob>> {
        let Some(stage) = &stage else {
            return ways
                .iter()
                .map(|ways| in_frame(random, time_s, ways))
                .collect();
        };
        let mut seen = stage.seen(random, time_s, colours, sheet);
        if random.random_range(0..6) == 0 {
            seen[0].extend(in_frame(random, time_s, &ways[0]));
        }
        seen
    };
    times_s.iter().map(|time_s| of_frame(*time_s)).collect()
}

/// What was seen, in the colours that the sheet asks for.
fn observed(random: &mut dyn Rng, sheet: &RunSheet) -> Observed {
    let wanted = marks_wanted(sheet);
    let mut colours: Vec<Colour> = vec![wanted.sticker];
    for colour in wanted
        .wheel
        .iter()
        .chain(&wanted.more_wheel)
        .chain(&wanted.axle)
        .chain(&wanted.floor)
    {
        if !colours.contains(colour) {
            colours.push(*colour);
        }
    }
    let times_s = times(random);
    let lists = lists(random, &times_s, &colours, sheet);
    let frames = times_s.iter().zip(lists).enumerate();
    let frames = frames.map(|(index, (time_s, blobs))| FrameSightings {
        frame: index as u32,
        time_s: *time_s,
        blobs,
        rims: Vec::new(),
    });
    let frames: Vec<FrameSightings> = frames.collect();
    Observed {
        frame_ticks: times_s
            .iter()
            .map(|time_s| (time_s * 90_000.0) as i64)
            .collect(),
        clip: clip_info(),
        seen: Sightings {
            width_px: WIDTH_PX,
            height_px: HEIGHT_PX,
            colours,
            frames,
        },
        zero_s: 0.0,
        damage: Vec::new(),
        spent: Spent::default(),
    }
}

fn clip_info() -> ClipInfo {
    ClipInfo {
        path: "clip.mp4".into(),
        width_px: WIDTH_PX as u32,
        height_px: HEIGHT_PX as u32,
        turn: QuarterTurn::None,
        codec: "h264".into(),
        pixel_format: "yuv420p".into(),
        bit_depth: 8,
        nominal_fps: Some(60.0),
        frame_count_hint: None,
        coding: ColourCoding {
            matrix: Matrix::Bt709,
            matrix_assumed: false,
            full_range: false,
            range_assumed: false,
        },
        chroma: ChromaLayout {
            step_u: 2,
            step_v: 2,
            offset_u_px: 0.0,
            offset_v_px: 0.5,
            assumed: false,
        },
        capture_fps: None,
        filmed: None,
        has_audio: false,
    }
}

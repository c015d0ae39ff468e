//! What inputs are made from, and what is tried with them.

#![allow(
    dead_code,
    unreachable_pub,
    reason = "a module of several programs, each of which uses its own part"
)]

use crate::asked::Asked;
use crate::bounded::{Bench, Came, Never};
use crate::common::{RUN, Studio};
use crate::{change, files, sheets, summaries, tracks};
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;
use serde_json::Value;
use std::cell::OnceCell;
use std::fs;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};

/// What is tried.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Target {
    Sheets,
    Requests,
    Summaries,
    Tracks,
    /// Clips, opened and decoded in this process.
    Files,
    /// What phones send to a station.
    Asked,
    /// Clips, measured by the command in a process of its own.
    Clips,
}

pub const TARGETS: [Target; 7] = [
    Target::Sheets,
    Target::Requests,
    Target::Summaries,
    Target::Tracks,
    Target::Files,
    Target::Asked,
    Target::Clips,
];

/// Good inputs of every kind.
pub struct Ground {
    sheets: Vec<String>,
    evening: Vec<Value>,
    clips: Vec<Vec<u8>>,
    bench: Bench,
    gripline: PathBuf,
    /// Started when it is first asked.
    station: OnceCell<Asked>,
}

/// What came of one input.
#[derive(Debug, Default)]
pub struct Tried {
    /// It was taken, not refused.
    pub taken: bool,
    pub peak_kib: u64,
    /// What must never come of it.
    pub never: Option<Never>,
}

/// Ways to make a small clip of each codec and manner of filing that phones and programs use.
const CODECS: [(&str, &str); 8] = [
    ("-c:v libx264 -g 8", "late.mp4"),
    ("-c:v libx264 -g 8 -movflags +faststart", "early.mp4"),
    (
        "-c:v libx264 -bf 0 -g 8 -movflags +frag_keyframe+empty_moov",
        "pieces.mp4",
    ),
    (
        "-c:v libx265 -x265-params log-level=none -tag:v hvc1",
        "hevc.mp4",
    ),
    (
        "-c:v libx265 -pix_fmt yuv420p10le -x265-params log-level=none",
        "hevc10.mp4",
    ),
    ("-c:v mjpeg", "mjpeg.mov"),
    ("-c:v mpeg4", "mpeg4.mp4"),
    ("-c:v libvpx-vp9 -deadline realtime", "vp9.mp4"),
];
/// Clips that were drawn and kept: of each the first frames, small.
const KEPT: [&str; 3] = ["spin-out", "hevc-10", "fast-wheel-30"];
/// Runs of the evening that are compared.
const EVENING: usize = 8;

impl Ground {
    pub fn new(gripline: &Path) -> Self {
        let fixtures = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures");
        let text = |name: &str| fs::read_to_string(fixtures.join(name)).unwrap();
        let names = [
            "example-run.toml",
            "spin-out/run.toml",
            "two-marks/run.toml",
            "pair-side/run.toml",
        ];
        let mut sheets: Vec<String> = names.map(text).into();
        sheets.push("[sticker]\ncolour = \"magenta\"\n".into());
        let run = |run: usize| {
            let summary = text(&format!("club-evening/results/run{run:02}/summary.json"));
            serde_json::from_str(&summary).unwrap()
        };
        Self {
            sheets,
            evening: (1..=EVENING).map(run).collect(),
            clips: clips(&fixtures),
            bench: Bench::new(gripline),
            gripline: gripline.to_owned(),
            station: OnceCell::new(),
        }
    }

    /// Tries one input; the same number gives the same input.
    pub fn attempt(&self, target: Target, number: u64) -> Tried {
        let mut random = ChaCha8Rng::seed_from_u64(number);
        let random: &mut dyn Rng = &mut random;
        if target == Target::Clips {
            return match self.clip(random) {
                Ok(came) => Tried {
                    taken: came.outcome == "measured",
                    peak_kib: came.peak_kib,
                    never: None,
                },
                Err(never) => Tried {
                    never: Some(never),
                    ..Tried::default()
                },
            };
        }
        let deed = AssertUnwindSafe(|| match target {
            Target::Requests => sheets::request(random, &self.sheets),
            Target::Summaries => summaries::compared(random, &self.evening),
            Target::Tracks => tracks::measured(random, &self.sheets),
            Target::Files => files::decoded(&files::changed(random, &self.clips)),
            Target::Asked => self.asked().answered(random),
            _ => sheets::read(random, &self.sheets),
        });
        let never = |never| Tried {
            never: Some(never),
            ..Tried::default()
        };
        match catch_unwind(deed) {
            Ok(Ok(taken)) => Tried {
                taken,
                ..Tried::default()
            },
            Ok(Err(why)) => never(Never::Torn(why)),
            Err(panic) => never(Never::Panic(words_of(panic.as_ref()))),
        }
    }

    fn asked(&self) -> &Asked {
        self.station.get_or_init(|| Asked::new(&self.gripline))
    }

    fn clip(&self, random: &mut dyn Rng) -> Result<Came, Never> {
        let clip = files::changed(random, &self.clips);
        let clip = self.bench.write("clip.mp4", clip);
        let sheet = self
            .bench
            .write("run.toml", change::one_of(random, &self.sheets));
        self.bench.measured(&clip, &sheet)
    }
}

fn words_of(panic: &(dyn std::any::Any + Send)) -> String {
    let text = panic.downcast_ref::<String>().cloned();
    text.or_else(|| panic.downcast_ref::<&str>().map(|text| (*text).to_owned()))
        .unwrap_or_default()
}

fn clips(fixtures: &Path) -> Vec<Vec<u8>> {
    let studio = Studio::new();
    let drawn = CODECS.map(|(words, name)| studio.make(&format!("{RUN} {words}"), name));
    let kept = KEPT.map(|run| {
        let clip = fixtures.join(run).join("clip.mp4");
        let words = format!(
            "-i {} -an -frames:v 20 -vf scale=160:-2 -c:v libx264 -preset ultrafast",
            clip.display().to_string().replace(' ', "%")
        );
        studio.make(&words, &format!("{run}.mp4"))
    });
    let read = |path: &PathBuf| fs::read(path).unwrap();
    drawn.iter().chain(&kept).map(read).collect()
}

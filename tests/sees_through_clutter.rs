//! Things in the marks' own colours, things in the way, and poor light: drawn clips whose truth is known.
//!
//! Source of the truth: `truth.json` and `truth_frames.csv` beside each clip, written by the model of car,
//! room and camera under `scripts/draw_run`, which shares no code with the tool.
#![allow(clippy::unwrap_used, clippy::panic, reason = "tests fail by panicking")]

mod command;

use command::{Facts, Table, fixture, gripline, measure, rms, text};
use gripline::colour::Colour;
use gripline::pipeline::{marks_wanted, observe_clip};
use gripline::sheet::RunSheet;
use gripline::sighting::{Blob, FrameSightings, Sightings};
use gripline::track::{MarksWanted, Place, Track, follow};

/// Clutter may change the sticker's RMS error by this much, px (the project's own goal).
const CLUTTER_COSTS_PX: f64 = 0.1;
/// Measured: 0.07 to 0.13 px.
const STICKER_RMS_PX: f64 = 0.15;
/// A place farther than this from the truth is of something else, px.
const ELSEWHERE_PX: f64 = 3.0;

/// One clip, followed, beside its truth.
struct Clip {
    name: &'static str,
    track: Track,
    truth: Table,
}

#[derive(Clone, Copy)]
enum Mark {
    Sticker,
    Wheel,
}

impl Clip {
    fn new(name: &'static str) -> Self {
        let sheet = RunSheet::read(&fixture(name, "run.toml")).unwrap();
        let wanted = marks_wanted(&sheet);
        let observed = observe_clip(&fixture(name, "clip.mp4"), &wanted, &|_, _| {}).unwrap();
        let times = observed.seen.frames.iter().map(|f| f.time_s).collect();
        Self {
            name,
            track: follow(&observed.seen, times, &wanted).unwrap(),
            truth: Table::read(&fixture(name, "truth_frames.csv")),
        }
    }

    /// Every place of a mark with what it is off by, (u, v) px. The truth counts from the pixel's corner,
    /// the tool from its centre.
    fn errors(&self, mark: Mark) -> Vec<(Place, (f64, f64))> {
        let (places, u, v) = match mark {
            Mark::Sticker => (&self.track.sticker, "body_u", "body_v"),
            Mark::Wheel => (&self.track.wheel, "wheel_u", "wheel_v"),
        };
        assert_eq!(
            places.len(),
            self.truth.len(),
            "{}: one place a frame",
            self.name
        );
        let off = |(row, place): (usize, &Option<Place>)| {
            let place = (*place)?;
            let (u, v) = (self.truth.at(row, u) - 0.5, self.truth.at(row, v) - 0.5);
            Some((place, (place.u_px - u, place.v_px - v)))
        };
        places.iter().enumerate().filter_map(off).collect()
    }

    fn distances(&self, mark: Mark) -> Vec<f64> {
        let errors = self.errors(mark);
        errors.iter().map(|(_, (u, v))| u.hypot(*v)).collect()
    }

    fn visible(&self, mark: Mark) -> usize {
        let column = match mark {
            Mark::Sticker => "body_visible",
            Mark::Wheel => "wheel_visible",
        };
        (0..self.truth.len())
            .filter(|&row| self.truth.at(row, column) > 0.5)
            .count()
    }

    /// No place of either mark is of something else, and few looks are lost.
    fn check_marks(&self, wheel_share: f64) {
        for (mark, share) in [(Mark::Sticker, 0.95), (Mark::Wheel, wheel_share)] {
            let errors = self.distances(mark);
            let worst = errors.iter().copied().fold(0.0, f64::max);
            assert!(
                worst < ELSEWHERE_PX,
                "{}: a place is {worst} px off",
                self.name
            );
            let (seen, visible) = (errors.len() as f64, self.visible(mark) as f64);
            assert!(visible >= 60.0, "{}: the fixture is another one", self.name);
            assert!(
                seen >= share * visible,
                "{}: {seen} of {visible}",
                self.name
            );
        }
        let sticker = rms(&self.distances(Mark::Sticker));
        assert!(sticker < STICKER_RMS_PX, "{}: {sticker} px", self.name);
    }
}

/// Measures a clip and holds its verdict against the truth.
fn check_verdict(name: &str) {
    let truth = Facts::read(&fixture(name, "truth.json"));
    assert_eq!(cause_of(name), truth.0["cause"], "{name}");
}

/// The cause that the built command says.
fn cause_of(name: &str) -> String {
    let home = tempfile::tempdir().unwrap();
    let sheet = fixture(name, "run.toml");
    let output = measure(&fixture(name, "clip.mp4"), &sheet, home.path(), &[]);
    assert_eq!(
        output.status.code(),
        Some(0),
        "{name}: {}",
        text(&output.stderr)
    );
    let summary = Facts::read(&home.path().join("clip").join("summary.json"));
    summary.cause().to_owned()
}

#[test]
fn a_poster_a_walker_and_a_post_together_cost_less_than_a_tenth_of_a_pixel() {
    let [with, without] = ["crowd", "crowd-without"].map(|name| {
        check_verdict(name);
        let clip = Clip::new(name);
        clip.check_marks(0.85);
        rms(&clip.distances(Mark::Sticker))
    });
    let change = (with - without).abs();
    assert!(
        change < CLUTTER_COSTS_PX,
        "{with} px with, {without} px without"
    );
}

#[test]
fn other_things_in_the_marks_colours_are_not_taken_for_them() {
    for name in [
        "second-car",
        "cups",
        "wall-behind",
        "board-behind-wheel",
        "walker-in-front",
        "green-walker",
        "crowd-with-cars",
        "pushed-slowly",
    ] {
        Clip::new(name).check_marks(0.85);
        check_verdict(name);
    }
}

#[test]
fn a_second_car_that_moves_a_little_is_mentioned() {
    let home = tempfile::tempdir().unwrap();
    let sheet = fixture("pushed-slowly", "run.toml");
    let output = measure(
        &fixture("pushed-slowly", "clip.mp4"),
        &sheet,
        home.path(),
        &[],
    );
    let words = text(&output.stdout);
    assert!(
        words.contains("1 more thing in the sticker's colour moved"),
        "{words}"
    );
}

#[test]
fn a_post_as_wide_as_the_car_is_bridged() {
    let clip = Clip::new("wide-post");
    let hidden = clip.truth.len() - clip.visible(Mark::Sticker);
    assert!(hidden >= 8, "only {hidden} frames without the sticker");
    clip.check_marks(0.85);
    // The wheel may have spun behind the post: "nothing found" is allowed, and so is leaving it open.
    let cause = cause_of("wide-post");
    assert!(
        ["none", "undetermined"].contains(&cause.as_str()),
        "{cause}"
    );
}

#[test]
fn two_cars_that_both_drive_off_are_not_told_apart_by_luck() {
    let home = tempfile::tempdir().unwrap();
    let out = home.path().join("out");
    let (clip, sheet) = (
        fixture("pushed-car", "clip.mp4"),
        fixture("pushed-car", "run.toml"),
    );
    let refused = measure(&clip, &sheet, &out, &[]);
    let words = text(&refused.stderr);
    assert_eq!(refused.status.code(), Some(1), "{words}");
    assert!(
        words.contains("more than one magenta thing moves like the car"),
        "{words}"
    );
    assert!(
        words.contains("at_px = [100, 190]") && words.contains("at_s"),
        "{words}"
    );
    assert!(!out.join("clip").exists(), "something was written");

    // A finger on the sticker settles it.
    let whole = std::fs::read_to_string(&sheet).unwrap();
    let pointed = whole.replace("[sticker]\n", "[sticker]\nat_px = [100, 190]\nat_s = 0.0\n");
    assert_ne!(pointed, whole);
    let sheet = home.path().join("run.toml");
    std::fs::write(&sheet, pointed).unwrap();
    let told = gripline([
        "measure".as_ref(),
        clip.as_os_str(),
        "--sheet".as_ref(),
        sheet.as_os_str(),
        "--out".as_ref(),
        out.as_os_str(),
    ]);
    assert_eq!(told.status.code(), Some(0), "{}", text(&told.stderr));
    let rows = Table::read(&out.join("clip").join("frames.csv"));
    let truth = Table::read(&fixture("pushed-car", "truth_frames.csv"));
    let errors: Vec<f64> = (0..truth.len())
        .filter_map(|row| Some(rows.get(row, "sticker_u_px")? - (truth.at(row, "body_u") - 0.5)))
        .collect();
    assert!(errors.len() >= 110, "{} places", errors.len());
    assert!(rms(&errors) < STICKER_RMS_PX, "{} px", rms(&errors));
}

/// A disc of an orange sticker, or a faint patch beside it, that rests and then gathers speed.
fn patch(frame: u32, beside_px: f64, area_px2: f64, contrast: f64) -> Blob {
    let moving = f64::from(frame.saturating_sub(20));
    Blob {
        u_px: 100.0 + beside_px + 0.05 * moving * moving,
        v_px: 180.0 + 0.3 * beside_px,
        var_u_px2: 0.01,
        var_v_px2: 0.01,
        area_px2,
        elongation: 1.1,
        contrast,
        outline_px2: [
            area_px2 / std::f64::consts::PI,
            area_px2 / std::f64::consts::PI,
            0.0,
        ],
        chroma: [-0.5 * contrast, 0.8 * contrast],
        row_frac: 0.5,
        fitted: true,
        at_border: false,
    }
}

#[test]
fn wood_that_rides_along_in_warm_light_is_not_taken_for_an_orange_sticker() {
    // The smaller patch goes further in its own sizes, which speaks for a car when all else is alike.
    let frames = (0..90)
        .map(|frame| FrameSightings {
            frame,
            time_s: f64::from(frame) / 60.0,
            blobs: vec![vec![
                patch(frame, 0.0, 110.0, 52.0),
                patch(frame, 24.0, 40.0, 10.0),
            ]],
            rims: Vec::new(),
        })
        .collect();
    let seen = Sightings {
        width_px: 640.0,
        height_px: 360.0,
        colours: vec![Colour::Orange],
        frames,
    };
    let wanted = MarksWanted {
        sticker: Colour::Orange,
        sticker_hint: None,
        wheel: None,
        more_wheel: Vec::new(),
        axle: None,
        floor: Vec::new(),
    };
    let times = seen.frames.iter().map(|frame| frame.time_s).collect();
    let track = follow(&seen, times, &wanted).expect("one car");
    assert_eq!(track.sticker_frames(), 90);
    assert!(
        track
            .sticker
            .iter()
            .flatten()
            .all(|place| place.contrast > 50.0)
    );
}

#[test]
fn light_that_changes_over_the_clip_changes_no_place() {
    for name in ["warming", "fading"] {
        Clip::new(name).check_marks(0.8);
        check_verdict(name);
    }
}

/// Share of errors, in claimed standard deviations, that a normal distribution keeps within one.
const WITHIN_ONE_SD: f64 = 0.683;

#[test]
fn places_are_as_uncertain_as_they_claim_in_good_and_in_poor_clips() {
    // Measured: 0.9 to 1.3.
    for name in [
        "clean",
        "crowd-without",
        "fading",
        "dim",
        "compressed",
        "far-and-dim",
    ] {
        let clip = Clip::new(name);
        let mut ratios: Vec<f64> = clip
            .errors(Mark::Sticker)
            .iter()
            .flat_map(|(place, (u, v))| {
                [
                    u.abs() / place.var_u_px2.sqrt(),
                    v.abs() / place.var_v_px2.sqrt(),
                ]
            })
            .collect();
        assert!(ratios.len() >= 160, "{name}: {} places", ratios.len());
        ratios.sort_by(f64::total_cmp);
        let at = ratios[(WITHIN_ONE_SD * ratios.len() as f64) as usize];
        assert!(
            (0.7..1.5).contains(&at),
            "{name}: {at} times what is claimed"
        );
    }
}

#[test]
fn a_wheel_mark_that_coding_wiped_away_is_missed_and_not_placed_elsewhere() {
    for name in ["compressed", "dim", "far-and-dim"] {
        let clip = Clip::new(name);
        let errors = clip.distances(Mark::Wheel);
        let worst = errors.iter().copied().fold(0.0, f64::max);
        assert!(worst < ELSEWHERE_PX, "{name}: a place is {worst} px off");
        let (seen, visible) = (errors.len(), clip.visible(Mark::Wheel));
        assert!(
            2 * seen < visible,
            "{name}: {seen} of {visible}, a better clip than meant"
        );
    }
}

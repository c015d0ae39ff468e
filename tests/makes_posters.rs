//! The picture of a whole run against what drawn clips are known to show: where the car was, what lies behind it, and
//! where points of the floor are seen (`scripts/draw_run/`, which shares nothing with the tool).
#![allow(clippy::unwrap_used, clippy::panic, reason = "tests fail by panicking")]

mod command;

use command::{Table, fixture, gripline, measure, text};
use gripline::clip::Clip;
use gripline::outputs::poster::{Exposure, PosterMaker, PosterReason};
use gripline::outputs::{Measures, Story};
use gripline::sheet::RunSheet;
use gripline::texts::{Language, Note};
use nalgebra::Vector3;
use serde_json::Value;

/// The picture of a kept clip.
fn exposure(run: &str) -> Result<Exposure, PosterReason> {
    let clip = fixture(run, "clip.mp4");
    let sheet = RunSheet::read(&fixture(run, "run.toml")).unwrap();
    let measured = gripline::pipeline::measure(&clip, &sheet, 10, &|_, _| {}).unwrap();
    let analysis = measured.outline.analysis.as_ref().unwrap();
    let story = Story {
        language: Language::English,
        clip: &measured.clip,
        clip_sha256: "",
        draws: 10,
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
            result: measured.result.as_ref().unwrap(),
            verdict: measured.verdict.as_ref().unwrap(),
        }),
        end_view: None,
    };
    let whole = 0..measured.frame_ticks.len();
    let mut maker = PosterMaker::new(&story, &whole);
    let mut clip = Clip::open(&clip).unwrap();
    while let Some(frame) = clip.next_frame().unwrap() {
        maker.take(&frame);
    }
    maker.finish()
}

/// The camera of a drawn scene that stands still and does not bend: where it sees a point of the floor, px. The
/// pinhole model, as in every textbook.
fn seen(truth: &Value, x: f64, y: f64) -> [f64; 2] {
    let camera = &truth["camera"];
    let three = |key: &str| {
        let parts = camera[key].as_array().unwrap();
        Vector3::from_iterator(parts.iter().map(|part| part.as_f64().unwrap()))
    };
    assert_eq!(camera["k1"], 0.0);
    assert_eq!(camera["roll_deg"], 0.0);
    let (at, to) = (three("position_m"), three("look_at_m"));
    let ahead = (to - at).normalize();
    let right = ahead.cross(&Vector3::z()).normalize();
    let down = ahead.cross(&right);
    let way = Vector3::new(x, y, 0.0) - at;
    let focal = camera["focal_px"].as_f64().unwrap();
    let middle = |size: &Value| (size.as_f64().unwrap() - 1.0) / 2.0;
    let size = &truth["upright_size"];
    [
        middle(&size[0]) + focal * way.dot(&right) / way.dot(&ahead),
        middle(&size[1]) + focal * way.dot(&down) / way.dot(&ahead),
    ]
}

fn truth(run: &str) -> Value {
    let text = std::fs::read_to_string(fixture(run, "truth.json")).unwrap();
    serde_json::from_str(&text).unwrap()
}

/// Where the sticker is in each frame, as it was drawn.
fn stickers(run: &str) -> Vec<[f64; 2]> {
    let table = Table::read(&fixture(run, "truth_frames.csv"));
    (0..table.len())
        .map(|row| [table.at(row, "body_u"), table.at(row, "body_v")])
        .collect()
}

#[test]
fn cars_stand_where_they_were_and_nowhere_else() {
    for run in ["demo", "above", "dim", "veer"] {
        let made = exposure(run).unwrap();
        let places = stickers(run);
        let frames = made.frames();
        assert!(frames.len() >= 3, "{run}: {frames:?}");
        let cars = made.cars();
        let alpha = |at: [f64; 2]| {
            let (x, y) = made.place(at[0], at[1]);
            let pixel = cars.get_pixel_checked(x.round() as u32, y.round() as u32);
            pixel.map(|pixel| pixel.0[3])
        };
        for &frame in &frames {
            let [u, v] = places[frame];
            for (right, down) in [(0.0, 0.0), (4.0, 0.0), (-4.0, 0.0), (0.0, 3.0)] {
                let there = alpha([u + right, v + down]);
                assert_eq!(
                    there,
                    Some(255),
                    "{run}: frame {frame} lacks its car at {u} {v}"
                );
            }
        }
        // Equal steps, to a frame.
        let steps: Vec<usize> = frames.windows(2).map(|pair| pair[1] - pair[0]).collect();
        let (least, most) = (steps.iter().min().unwrap(), steps.iter().max().unwrap());
        assert!(most - least <= 1, "{run}: {steps:?}");
        // A car's length and more before the first and beyond the last there is none.
        let share = cars.pixels().filter(|pixel| pixel.0[3] > 0).count() as f64;
        let share = share / f64::from(cars.width() * cars.height());
        assert!(share < 0.3, "{run}: {share} of the picture is car");
    }
}

/// The mean difference between the floor of a poster and a frame in a square about a place, codes.
fn unlike(made: &Exposure, frame: &image::RgbImage, at: [f64; 2], half: i32) -> f64 {
    let (mut sum, mut count) = (0.0, 0.0);
    for down in -half..=half {
        for right in -half..=half {
            let (u, v) = (
                at[0].round() + f64::from(right),
                at[1].round() + f64::from(down),
            );
            let (x, y) = made.place(u, v);
            let floor = made
                .floor()
                .get_pixel_checked(x.round() as u32, y.round() as u32);
            let own = frame.get_pixel_checked(u as u32, v as u32);
            if let (Some(floor), Some(own)) = (floor, own) {
                let parts = floor.0.iter().zip(own.0);
                sum += parts.map(|(a, b)| f64::from(a.abs_diff(b))).sum::<f64>() / 3.0;
                count += 1.0;
            }
        }
    }
    sum / count
}

#[test]
fn what_is_behind_the_car_is_the_floor_without_it() {
    // The first frame shows the floor where the car ends, the last where it stood: for half of the clip in `demo`.
    for (run, noise) in [("demo", 4.0), ("above", 4.0), ("dim", 9.0), ("veer", 4.0)] {
        let made = exposure(run).unwrap();
        let places = stickers(run);
        let mut clip = Clip::open(&fixture(run, "clip.mp4")).unwrap();
        let mut frames = Vec::new();
        while let Some(frame) = clip.next_frame().unwrap() {
            let number = frame.index as usize;
            if number == 0 || number + 1 == places.len() {
                let (_, jpeg) =
                    gripline::outputs::film::whole_frame_jpeg(&frame.picture, 4096).unwrap();
                frames.push(image::load_from_memory(&jpeg).unwrap().to_rgb8());
            }
        }
        let (start, end) = (
            places[made.frames()[0]],
            places[*made.frames().last().unwrap()],
        );
        let half = 14;
        let at_start = unlike(&made, &frames[1], start, half);
        let at_end = unlike(&made, &frames[0], end, half);
        assert!(
            at_start < noise && at_end < noise,
            "{run}: {at_start:.1} {at_end:.1} codes"
        );
        // The same measure sees the car where it is.
        let with_car = unlike(&made, &frames[0], places[0], half);
        let without = at_start.max(at_end);
        assert!(
            with_car > 1.5 * without,
            "{run}: {with_car:.1} codes for {without:.1}"
        );
    }
}

#[test]
fn ticks_of_the_ruler_fall_on_the_floor_where_the_camera_sees_it() {
    for run in ["demo", "above", "dim", "veer"] {
        let (made, truth) = (exposure(run).unwrap(), truth(run));
        let table = Table::read(&fixture(run, "truth_frames.csv"));
        let sheet = RunSheet::read(&fixture(run, "run.toml")).unwrap();
        let beside = sheet.car.track_width_m.unwrap() / 2.0 + 0.035;
        let zero = table.at(made.frames()[0], "x_m");
        let ticks = made.ticks();
        assert!(ticks.len() > 8, "{run}: {}", ticks.len());
        let mut worst = 0.0_f64;
        for (at_m, place) in ticks {
            // The ruler lies on the near side, which is the right one in these scenes.
            let expected = seen(&truth, zero + at_m, -beside);
            worst = worst.max((place[0] - expected[0]).hypot(place[1] - expected[1]));
        }
        assert!(worst < 1.5, "{run}: a tick lies {worst:.2} px off");
    }
}

#[test]
fn a_hand_held_clip_is_laid_on_its_floor() {
    // The floor's marks are blue discs. Sharp frames laid over each other keep their edges; a millimetre of floor is
    // half a pixel here, and what is laid a few pixels off would smear a disc of ten.
    let made = exposure("hand-held").unwrap();
    let blue = made.floor().pixels().filter(|pixel| {
        let [red, green, blue] = pixel.0.map(i32::from);
        blue > red + 60 && blue > green + 40
    });
    let blue = blue.count();
    let first = {
        let frame = Clip::open(&fixture("hand-held", "clip.mp4"))
            .unwrap()
            .next_frame()
            .unwrap()
            .unwrap();
        let (_, jpeg) = gripline::outputs::film::whole_frame_jpeg(&frame.picture, 4096).unwrap();
        let picture = image::load_from_memory(&jpeg).unwrap().to_rgb8();
        let marks = picture.pixels().filter(|pixel| {
            let [red, green, blue] = pixel.0.map(i32::from);
            blue > red + 60 && blue > green + 40
        });
        marks.count()
    };
    let share = blue as f64 / first as f64;
    assert!(
        (0.75..1.3).contains(&share),
        "{blue} blue pixels for {first}"
    );
    assert!(made.frames().len() >= 3);
}

#[test]
fn the_poster_is_written_beside_the_report_and_only_there() {
    let home = tempfile::tempdir().unwrap();
    let (clip, sheet) = (fixture("clean", "clip.mp4"), fixture("clean", "run.toml"));
    let run = |name: &str, more: &[&str]| {
        let out = home.path().join(name);
        let words: Vec<&str> = more
            .iter()
            .copied()
            .chain(["--draws", "10", "--no-overlay"])
            .collect();
        let output = measure(&clip, &sheet, &out, &words);
        assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
        out.join("clip")
    };
    let size = |folder: &std::path::Path| {
        let file = std::fs::File::open(folder.join("poster.png")).unwrap();
        let reader = png::Decoder::new(std::io::BufReader::new(file))
            .read_info()
            .unwrap();
        (reader.info().width, reader.info().height)
    };
    let folder = run("plain", &[]);
    assert_eq!(
        size(&folder),
        (3508, 2480),
        "A4 at 300 dots an inch (ISO 216)"
    );
    let page = std::fs::read_to_string(folder.join("poster.html")).unwrap();
    assert!(page.contains("size: A4 landscape") && page.contains("<title id=\"sheet-title\">"));
    assert!(folder.join("worksheet.html").exists());
    assert_eq!(size(&run("large", &["--poster=a3"])), (4961, 3508));
    for (name, more) in [("none", ["--no-poster"]), ("bare", ["--no-report"])] {
        let folder = run(name, &more);
        assert!(!folder.join("poster.png").exists() && !folder.join("poster.html").exists());
    }
    let asked = run("asked", &["--no-report", "--poster"]);
    assert!(asked.join("poster.html").exists() && !asked.join("report.html").exists());
    let both = gripline(["measure", "a.mp4", "--poster", "--no-poster"]);
    assert_eq!(both.status.code(), Some(2));
}

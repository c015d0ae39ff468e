//! The printed kit, measured on its pages as a renderer that knows nothing of the tool draws them
//! (`pdftoppm` and `pdftotext` of poppler-utils, which `scripts/setup` installs for the tests).
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    reason = "a test's helpers: what is missing is the failure"
)]

use gripline::colour::{Colour, Membership};
use gripline::kit::{BAR_MM, MARGIN_MM, Paper, kit_pdf, patch_rgb};
use gripline::sheet::kit;
use std::path::Path;
use std::process::Command;

/// Pixels an inch; a pixel is 0.085 mm.
const DPI: f64 = 300.0;
const PX_PER_MM: f64 = DPI / 25.4;
/// What the issue of the kit asks for: sizes within 0.2 mm.
const WITHIN_MM: f64 = 0.2;
const PAGES: usize = 5;

/// One rendered page.
struct Page {
    width: usize,
    height: usize,
    rgb: Vec<u8>,
}

impl Page {
    fn at(&self, x: usize, y: usize) -> [u8; 3] {
        let i = 3 * (y * self.width + x);
        [self.rgb[i], self.rgb[i + 1], self.rgb[i + 2]]
    }

    /// Area and centre of each solid patch of an ink that is larger than a square of 4 mm, mm.
    fn patches(&self, ink: [u8; 3]) -> Vec<Patch> {
        let near = |x: usize, y: usize| {
            let seen = self.at(x, y);
            (0..3).all(|i| seen[i].abs_diff(ink[i]) < 24)
        };
        let mut taken = vec![false; self.width * self.height];
        let mut out = Vec::new();
        for y in 0..self.height {
            for x in 0..self.width {
                if taken[y * self.width + x] || !near(x, y) {
                    continue;
                }
                let mut open = vec![(x, y)];
                taken[y * self.width + x] = true;
                let (mut n, mut box_px) = (0_usize, [x, x, y, y]);
                while let Some((u, v)) = open.pop() {
                    n += 1;
                    box_px = [
                        box_px[0].min(u),
                        box_px[1].max(u),
                        box_px[2].min(v),
                        box_px[3].max(v),
                    ];
                    for (a, b) in [
                        (u + 1, v),
                        (u.wrapping_sub(1), v),
                        (u, v + 1),
                        (u, v.wrapping_sub(1)),
                    ] {
                        if a < self.width
                            && b < self.height
                            && !taken[b * self.width + a]
                            && near(a, b)
                        {
                            taken[b * self.width + a] = true;
                            open.push((a, b));
                        }
                    }
                }
                let side = |low: usize, high: usize| (high - low + 1) as f64 / PX_PER_MM;
                let patch = Patch {
                    wide_mm: side(box_px[0], box_px[1]),
                    high_mm: side(box_px[2], box_px[3]),
                    area_mm2: n as f64 / (PX_PER_MM * PX_PER_MM),
                };
                if patch.wide_mm > 4.0 && patch.high_mm > 2.0 {
                    out.push(patch);
                }
            }
        }
        out.sort_by(|a, b| b.wide_mm.total_cmp(&a.wide_mm));
        out
    }
}

#[derive(Debug)]
struct Patch {
    wide_mm: f64,
    high_mm: f64,
    area_mm2: f64,
}

/// The pages of the kit on a paper.
fn pages(paper: Paper) -> Vec<Page> {
    let home = tempfile::tempdir().unwrap();
    let file = home.path().join("kit.pdf");
    std::fs::write(&file, kit_pdf(paper).unwrap()).unwrap();
    let done = Command::new("pdftoppm")
        .args(["-r", &DPI.to_string()])
        .arg(&file)
        .arg(home.path().join("page"))
        .status()
        .expect("pdftoppm is there: run scripts/setup");
    assert!(done.success());
    (1..=PAGES)
        .map(|page| read_ppm(&home.path().join(format!("page-{page}.ppm"))))
        .collect()
}

/// A binary PPM, as its manual page describes it: `P6 width height 255` and the samples.
fn read_ppm(path: &Path) -> Page {
    let bytes = std::fs::read(path).unwrap();
    let mut fields = Vec::new();
    let mut at = 0;
    while fields.len() < 4 {
        let end = at
            + bytes[at..]
                .iter()
                .position(u8::is_ascii_whitespace)
                .unwrap();
        fields.push(String::from_utf8(bytes[at..end].to_vec()).unwrap());
        at = end + 1;
    }
    assert_eq!((fields[0].as_str(), fields[3].as_str()), ("P6", "255"));
    let (width, height) = (fields[1].parse().unwrap(), fields[2].parse().unwrap());
    let rgb = bytes[at..].to_vec();
    assert_eq!(rgb.len(), 3 * width * height);
    Page { width, height, rgb }
}

#[track_caller]
fn check(what: &str, got_mm: f64, wanted_mm: f64) {
    assert!(
        (got_mm - wanted_mm).abs() <= WITHIN_MM,
        "{what}: {got_mm:.2} mm, wanted {wanted_mm} mm"
    );
}

/// A disc of that diameter: as wide as high, and its area that of a circle.
#[track_caller]
fn check_disc(what: &str, patch: &Patch, diameter_mm: f64) {
    check(what, patch.wide_mm, diameter_mm);
    check(what, patch.high_mm, diameter_mm);
    let by_area = (4.0 * patch.area_mm2 / std::f64::consts::PI).sqrt();
    check(what, by_area, diameter_mm);
}

#[test]
fn bar_and_patches_are_true_to_scale_on_both_papers() {
    for paper in [Paper::A4, Paper::Letter] {
        let pages = pages(paper);
        let (wide, high) = paper.size_mm();
        check("paper", pages[0].width as f64 / PX_PER_MM, f64::from(wide));
        check("paper", pages[0].height as f64 / PX_PER_MM, f64::from(high));
        // Bar and ticks are 5 mm high together; the car drawn in the same ink is higher.
        let inked = pages[0].patches([31, 42, 54]);
        let bars: Vec<_> = inked
            .iter()
            .filter(|p| p.high_mm < 6.0 && p.wide_mm > 50.0)
            .collect();
        assert_eq!(bars.len(), 1);
        check("bar", bars[0].wide_mm, f64::from(BAR_MM));
        for (colour, diameters, each) in [
            (kit::STICKER, kit::STICKER_DIAMETERS_MM, 1),
            (kit::END_STICKER, kit::STICKER_DIAMETERS_MM, 1),
            (kit::WHEEL_MARK, kit::WHEEL_MARK_DIAMETERS_MM, 2),
        ] {
            let seen = pages[1].patches(patch_rgb(colour));
            assert_eq!(seen.len(), 3 * each, "{colour}");
            for (index, patch) in seen.iter().enumerate() {
                check_disc(colour.as_str(), patch, diameters[index / each]);
            }
        }
        let axle = pages[1].patches(patch_rgb(kit::AXLE_MARK));
        assert_eq!(axle.len(), 2);
        for patch in &axle {
            check_disc("axle mark", patch, kit::AXLE_MARK_DIAMETER_MM);
        }
        for (page, count) in [(2, 4), (3, 2)] {
            let mut floor = pages[page].patches(patch_rgb(kit::FLOOR_MARK));
            // The drawing of the plan has small ones.
            floor.retain(|patch| patch.wide_mm > 20.0);
            assert_eq!(floor.len(), count);
            for patch in &floor {
                check("floor mark", patch.wide_mm, kit::FLOOR_MARK_DIAMETER_MM);
                check("floor mark", patch.high_mm, kit::FLOOR_MARK_DIAMETER_MM);
            }
        }
    }
}

#[test]
fn nothing_is_drawn_in_the_margins() {
    for paper in [Paper::A4, Paper::Letter] {
        for (number, page) in pages(paper).iter().enumerate() {
            // The frame of a box is drawn half to each side of its line.
            let margin = ((f64::from(MARGIN_MM) - 0.3) * PX_PER_MM) as usize;
            let mut inked = 0_usize;
            for y in 0..page.height {
                for x in 0..page.width {
                    let inside = x >= margin
                        && y >= margin
                        && x < page.width - margin
                        && y < page.height - margin;
                    let blank = page.at(x, y) == [255, 255, 255];
                    assert!(
                        inside || blank,
                        "page {} of {paper:?}: ink at {:.1} mm, {:.1} mm",
                        number + 1,
                        x as f64 / PX_PER_MM,
                        y as f64 / PX_PER_MM
                    );
                    inked += usize::from(!blank);
                }
            }
            assert!(inked > 10_000, "page {} is empty", number + 1);
        }
    }
}

/// Every word of every page with its box, by `pdftotext -bbox`.
fn words(paper: Paper) -> Vec<(String, [f64; 4])> {
    let home = tempfile::tempdir().unwrap();
    let file = home.path().join("kit.pdf");
    std::fs::write(&file, kit_pdf(paper).unwrap()).unwrap();
    let run = Command::new("pdftotext")
        .arg("-bbox")
        .arg(&file)
        .arg("-")
        .output()
        .expect("pdftotext is there: run scripts/setup");
    let text = String::from_utf8(run.stdout).unwrap();
    let number = |line: &str, key: &str| -> f64 {
        let from = line.find(&format!("{key}=\"")).unwrap() + key.len() + 2;
        let rest = &line[from..];
        rest[..rest.find('"').unwrap()].parse().unwrap()
    };
    text.lines()
        .filter(|line| line.contains("<word "))
        .map(|line| {
            let from = line.find('>').unwrap() + 1;
            let word = line[from..line.find("</word>").unwrap()].to_owned();
            let sides = ["xMin", "yMin", "xMax", "yMax"].map(|key| number(line, key));
            (word, sides)
        })
        .collect()
}

#[test]
fn the_words_can_be_read_by_a_machine_and_stay_on_the_page() {
    for paper in [Paper::A4, Paper::Letter] {
        let words = words(paper);
        let (wide, high) = paper.size_mm();
        let pt = |mm: f32| f64::from(mm) * 72.0 / 25.4;
        assert!(words.len() > 500, "{} words", words.len());
        for (word, [left, top, right, bottom]) in &words {
            let inside = *left >= pt(MARGIN_MM) - 1.0
                && *right <= pt(wide - MARGIN_MM) + 1.0
                && *top >= pt(MARGIN_MM) - 2.0
                && *bottom <= pt(high - MARGIN_MM) + 2.0;
            assert!(inside, "{word:?} at {left}, {top} to {right}, {bottom}");
        }
        let text: Vec<&str> = words.iter().map(|(word, _)| word.as_str()).collect();
        let text = text.join(" ");
        // Every patch says its colour in words; the bar, the plan and the cautions are there.
        for part in [
            kit::STICKER,
            kit::WHEEL_MARK,
            kit::AXLE_MARK,
            kit::FLOOR_MARK,
            kit::END_STICKER,
        ] {
            assert!(text.contains(part.as_str()), "{part} is not named");
        }
        for expected in [
            "100 mm",
            "2088 mm each",
            "2000 mm",
            "600 mm",
            "break a finger",
            "come first",
            // The names by which the set-up page calls the marks.
            "A body sticker: magenta",
            "B wheel mark: green",
            "C axle mark: orange",
            "D end sticker: cyan",
            "Stick A and B on the car",
            "over the line from F1 to F4",
        ] {
            assert!(text.contains(expected), "no {expected:?}");
        }
        for number in 1..=6 {
            // On its own sheet, and in the plan.
            let name = format!("F{number}");
            let named = words.iter().filter(|(word, _)| *word == name).count();
            assert!(named >= 2, "{name} stands {named} times");
        }
        // Half a turn a frame, by hand: pi x 0.100 m x 60 / 2 = 9.42 m/s.
        assert!(
            text.contains("60 (30) 4.7 m/s 7.1 m/s 9.4 m/s 12 m/s"),
            "{text}"
        );
    }
}

#[test]
fn the_same_paper_gives_the_same_bytes() {
    assert_eq!(kit_pdf(Paper::A4).unwrap(), kit_pdf(Paper::A4).unwrap());
    assert_ne!(kit_pdf(Paper::A4).unwrap(), kit_pdf(Paper::Letter).unwrap());
}

/// Limited-range (Cb, Cr) of R'G'B', ITU-R BT.709-6.
fn chroma(rgb: [f64; 3]) -> (f64, f64) {
    let luma = 0.2126 * rgb[0] + 0.7152 * rgb[1] + 0.0722 * rgb[2];
    let scale = 224.0 / 255.0;
    (
        scale * (rgb[2] - luma) / 1.8556,
        scale * (rgb[0] - luma) / 1.5748,
    )
}

#[test]
fn a_phone_sees_each_printed_colour_as_its_name() {
    let sets = [
        [
            kit::STICKER,
            kit::WHEEL_MARK,
            kit::AXLE_MARK,
            kit::FLOOR_MARK,
        ],
        [
            kit::END_STICKER,
            kit::WHEEL_MARK,
            kit::AXLE_MARK,
            kit::FLOOR_MARK,
        ],
    ];
    // Paper is duller than a screen, and printers and lamps turn colours: each is mixed with grey and its
    // red or blue raised by an eighth (common practice, no source).
    let prints: [fn([f64; 3]) -> [f64; 3]; 4] = [
        |rgb| rgb,
        |rgb| rgb.map(|c| 0.65 * c + 0.35 * 110.0),
        |rgb| [(1.125 * rgb[0]).min(255.0), rgb[1], 0.875 * rgb[2]],
        |rgb| [0.875 * rgb[0], rgb[1], (1.125 * rgb[2]).min(255.0)],
    ];
    let mut observations = 0;
    for set in sets {
        let table = Membership::new(&set, 112.0, (128.0, 128.0), chroma);
        for (slot, colour) in set.into_iter().enumerate() {
            for print in prints {
                let (cb, cr) = chroma(print(patch_rgb(colour).map(f64::from)));
                let code = |x: f64| (x + 128.0).round().clamp(0.0, 255.0) as u8;
                let cell = table.packed(code(cb), code(cr));
                let own = Membership::level(cell, slot);
                assert!(own >= 3, "{colour} reaches level {own}");
                let others = (0..set.len()).filter(|other| *other != slot);
                assert!(
                    others
                        .into_iter()
                        .all(|other| Membership::level(cell, other) == 0)
                );
                observations += 1;
            }
        }
    }
    assert_eq!(observations, 2 * 4 * 4);
    assert!(Colour::ALL.contains(&kit::STICKER));
}

#[test]
fn a_file_that_is_there_is_kept_unless_it_may_go() {
    let home = tempfile::tempdir().unwrap();
    let run = |more: &[&str]| {
        let mut command = Command::new(env!("CARGO_BIN_EXE_gripline"));
        command
            .current_dir(home.path())
            .args(["kit", "--paper", "letter", "--out", "mine.pdf"]);
        command.args(more).output().unwrap()
    };
    assert!(run(&[]).status.success());
    let file = home.path().join("mine.pdf");
    let first = std::fs::read(&file).unwrap();
    assert!(first.starts_with(b"%PDF-"));
    std::fs::write(&file, b"mine").unwrap();
    let kept = run(&[]);
    assert_eq!(kept.status.code(), Some(1));
    assert!(String::from_utf8_lossy(&kept.stderr).contains("--replace"));
    // What is no kit is somebody's, whatever was asked.
    assert_eq!(run(&["--replace"]).status.code(), Some(1));
    assert_eq!(std::fs::read(&file).unwrap(), b"mine");
    // A kit of a4 has other bytes, and may go.
    std::fs::write(&file, [&first[..], b"\n"].concat()).unwrap();
    assert!(run(&["--replace"]).status.success());
    assert_eq!(std::fs::read(&file).unwrap(), first);
    assert_eq!(std::fs::read_dir(home.path()).unwrap().count(), 1);
}

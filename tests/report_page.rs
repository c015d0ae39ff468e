//! `report.html`: self-contained, complete, escaped, and in agreement with `frames.csv`.
//!
//! What a browser makes of it (console, keyboard, print, accessibility) is in `scripts/browser_test/`.
#![allow(clippy::unwrap_used, clippy::panic, reason = "tests fail by panicking")]

mod command;

use command::{Facts, KEYS, Table, fixture, measure, text};
use serde_json::Value;
use std::path::Path;
use tempfile::TempDir;

const CHARTS: [&str; 4] = ["speed", "slip", "path", "turns"];

/// A measured run and its page.
struct Paper {
    folder: TempDir,
    page: String,
}

impl Paper {
    fn of(run: &str) -> Self {
        Self::with_sheet(run, |sheet| sheet)
    }

    fn with_sheet(run: &str, change: impl Fn(String) -> String) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let sheet = std::fs::read_to_string(fixture(run, "run.toml")).unwrap();
        let changed = folder.path().join("run.toml");
        std::fs::write(&changed, change(sheet)).unwrap();
        let clip = folder.path().join("<b>run & 'one'.mp4");
        std::fs::copy(fixture(run, "clip.mp4"), &clip).unwrap();
        let output = measure(
            &clip,
            &changed,
            folder.path(),
            &["--no-overlay", "--draws", "12"],
        );
        assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
        let result = folder.path().join("<b>run & 'one'");
        let page = std::fs::read_to_string(result.join("report.html")).unwrap();
        Self { folder, page }
    }

    fn file(&self, name: &str) -> std::path::PathBuf {
        self.folder.path().join("<b>run & 'one'").join(name)
    }

    /// With the annotated clip beside the page.
    fn with_clip(run: &str) -> String {
        let home = tempfile::tempdir().unwrap();
        let (clip, sheet) = (fixture(run, "clip.mp4"), fixture(run, "run.toml"));
        let output = measure(&clip, &sheet, home.path(), &["--draws", "12"]);
        assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
        std::fs::read_to_string(home.path().join("clip/report.html")).unwrap()
    }

    /// What the page's script reads.
    fn readings(&self) -> Value {
        let start = self.page.find(r#"id="readings">"#).unwrap() + r#"id="readings">"#.len();
        let end = start + self.page[start..].find("</script>").unwrap();
        serde_json::from_str(&self.page[start..end]).unwrap()
    }

    fn count(&self, what: &str) -> usize {
        self.page.matches(what).count()
    }
}

#[test]
fn the_page_of_a_spin_out_holds_every_part() {
    let paper = Paper::of("spin-out");
    let parts = [
        "<h1>The driven wheels spun",
        "id=\"whole\"",
        "id=\"charts\"",
        "id=\"results\"",
        "id=\"unseen\"",
        "id=\"method\"",
        "id=\"cautions\"",
    ];
    let places: Vec<usize> = parts.iter().map(|p| paper.page.find(p).expect(p)).collect();
    assert!(
        places.is_sorted(),
        "in the order in which one reads: {places:?}"
    );
    assert_eq!(paper.count("src=\"data:image/jpeg;base64,"), 1);
    for moment in [
        "pictures of the car from the clip, one every ",
        "The ruler lies on the floor beside the aim line",
        "was wasted in wheelspin",
    ] {
        assert!(paper.page.contains(moment), "not said: {moment}");
    }
    for chart in CHARTS {
        assert!(
            paper.page.contains(&format!("data-chart=\"{chart}\"")),
            "no chart {chart}"
        );
    }
    assert_eq!(paper.count("<svg width="), CHARTS.len());
    assert_eq!(
        paper.count("<details>"),
        CHARTS.len(),
        "a table behind every chart"
    );
    for key in KEYS {
        assert!(
            paper.page.contains(&format!("<code>{key}</code>")),
            "no row {key}"
        );
    }
    assert_eq!(paper.count("<img"), 1, "one picture of the whole run");
    assert_eq!(
        paper.count(" alt=\"The car several times"),
        1,
        "in words too"
    );
}

#[test]
fn the_annotated_clip_plays_from_beside_the_page() {
    let page = Paper::with_clip("clean");
    assert_eq!(page.matches(" src=\"overlay.mp4\"").count(), 1);
    assert_eq!(page.matches(" href=\"overlay.mp4\"").count(), 1);
    // Nothing is fetched before someone asks for it, so a page that was passed on alone shows no fault.
    assert!(page.contains("<video controls playsinline preload=\"none\""));
    assert!(page.contains("media-src 'self' file:"));
    assert!(page.contains("<span class=\"no-film\" hidden>"));
    let without = Paper::of("clean");
    assert_eq!(without.count("<video"), 0);
    assert!(without.page.contains("No annotated clip was written"));
}

/// The numbers that follow a mark in the page.
fn numbers_after(page: &str, mark: &str) -> Vec<f64> {
    let digits = |rest: &str| -> f64 {
        let number = rest.chars().take_while(|c| c.is_ascii_digit() || *c == '.');
        number.collect::<String>().parse().unwrap()
    };
    page.match_indices(mark)
        .map(|(at, _)| digits(&page[at + mark.len()..]))
        .collect()
}

#[test]
fn energy_slip_and_curve_are_said_in_everyday_words() {
    let paper = Paper::of("demo");
    let shares = numbers_after(&paper.page, "aria-hidden=\"true\"></span><b>");
    assert_eq!(shares.len(), 3, "the parts of the energy");
    assert!(
        (shares.iter().sum::<f64>() - 100.0).abs() <= 1.5,
        "{shares:?}"
    );
    let summary = Facts::read(&paper.file("summary.json"));
    let joules = [
        "energy_lost_in_slip_j",
        "energy_moving_car_j",
        "energy_lost_rolling_j",
    ];
    let joules = joules.map(|key| summary.value(key).unwrap());
    let rubbed = 100.0 * joules[0] / joules.iter().sum::<f64>();
    assert!((shares[0] - rubbed).abs() <= 0.51, "{shares:?} {rubbed}");
    let heading = format!("<h2 id=\"energy\">{:.0} % (", shares[0]);
    assert!(paper.page.contains(&heading), "{heading}");
    let wasted = numbers_after(&paper.page, "Where the wheels slipped most, ");
    assert!(
        (wasted[0] - 100.0 * summary.value("max_slip").unwrap()).abs() <= 0.51,
        "{wasted:?}"
    );
    let veer = Paper::of("veer");
    let radius = numbers_after(&veer.page, "The path is a circle of radius ");
    let curvature = Facts::read(&veer.file("summary.json"))
        .value("curvature_per_m")
        .unwrap();
    assert!(
        (radius[0] - 1.0 / curvature.abs()).abs() < 0.06,
        "{radius:?} {curvature}"
    );
    for paper in [paper, veer] {
        assert_eq!(
            paper.count("<details class=\"fold\">"),
            2,
            "results and method"
        );
        assert!(paper.count(" rad (") >= 1, "radians beside degrees");
    }
}

/// A browser may fetch nothing: every address on the page is a data URI, a place on the page or the
/// name of an XML namespace.
#[test]
fn the_page_needs_no_network() {
    let paper = Paper::of("clean");
    for start in ["src=\"", "href=\"", "url(", "@import"] {
        for (at, _) in paper.page.match_indices(start) {
            let rest = &paper.page[at + start.len()..];
            let ours = ["data:", "#", "${data.film.image}", "worksheet.html\""];
            let end: String = rest.chars().take(40).collect();
            assert!(ours.iter().any(|o| rest.starts_with(o)), "{start}{end}");
        }
    }
    let namespaces = paper.count("http://www.w3.org/2000/svg");
    assert_eq!(paper.count("http"), namespaces + paper.count("http-equiv"));
}

#[test]
fn names_from_users_are_escaped_everywhere() {
    let hostile = r#"<script>alert("1")</script>=HYPERLINK(1)"#;
    let paper = Paper::with_sheet("clean", |sheet| {
        let named: Vec<String> = sheet
            .lines()
            .map(|line| match line.split_once('=') {
                Some((key, _)) if ["name", "treatment"].contains(&key.trim()) => {
                    format!("{} = '{hostile}'", key.trim())
                }
                _ => line.to_owned(),
            })
            .collect();
        named.join("\n")
    });
    assert!(paper.count("alert(") >= 3, "title and heading name the car");
    assert!(!paper.page.contains("<script>alert"));
    assert!(
        !paper.page.contains("<b>run"),
        "nor does the file's name pass"
    );
    assert!(paper.page.contains("&#60;b&#62;run"));
    // Two elements are the page's own: readings and script.
    assert_eq!(paper.count("<script"), 2);
    assert_eq!(paper.count("</script"), 2);
    // Names stay out of the table, so no cell of it can be a formula (OWASP, CSV injection: cells
    // that begin with = + - @ or a tab; a number may begin with a minus).
    let rows = std::fs::read(paper.file("frames.csv")).unwrap();
    for record in csv::Reader::from_reader(rows.as_slice()).records() {
        for cell in &record.unwrap() {
            let word = cell
                .chars()
                .all(|c| c.is_ascii_lowercase() || c == '_' || c == ' ');
            assert!(word || cell.parse::<f64>().is_ok(), "cell {cell}");
        }
    }
}

#[test]
fn the_values_to_read_off_are_those_of_the_table() {
    let paper = Paper::of("spin-out");
    let rows = Table::read(&paper.file("frames.csv"));
    let readings = paper.readings();
    let times = readings["times"].as_array().unwrap();
    assert_eq!(times.len(), rows.len());
    let chart = |id: &str| {
        let all = readings["charts"].as_array().unwrap();
        all.iter().find(|c| c["id"] == id).unwrap().clone()
    };
    let columns = [
        ("speed", 0, "speed_m_per_s", 1.0),
        ("speed", 1, "rim_speed_m_per_s", 1.0),
        ("slip", 0, "slip_ratio", 1.0),
        ("path", 0, "deviation_m", 1000.0),
    ];
    for (id, series, column, factor) in columns {
        let mut compared = 0;
        for row in 0..rows.len() {
            let ours = chart(id)["series"][series]["values"][row].as_f64();
            let theirs = rows.get(row, column);
            assert_eq!(ours.is_some(), theirs.is_some(), "{column} {row}");
            if let (Some(ours), Some(theirs)) = (ours, theirs) {
                assert!(
                    (ours - theirs * factor).abs() < 2e-5 * factor,
                    "{column} {row}"
                );
                compared += 1;
            }
        }
        assert!(compared > 50, "{column}: {compared} values");
    }
}

#[test]
fn what_a_view_cannot_show_is_said_with_its_reason() {
    let paper = Paper::of("no-wheel-mark");
    let summary = Facts::read(&paper.file("summary.json"));
    let mut reasons = 0;
    for key in KEYS {
        if let Some(reason) = summary.reason(key) {
            let start: String = reason
                .chars()
                .take_while(|c| c.is_ascii_alphanumeric() || *c == ' ')
                .collect();
            assert!(paper.page.contains(&start), "{key}: {reason}");
            reasons += 1;
        }
    }
    assert!(reasons >= 3, "this clip hides the wheel");
    // Slip and turns need the wheel's mark.
    assert_eq!(paper.count("class=\"chart empty\""), 2);
    assert_eq!(paper.count("<p>Not observable: "), 2);
    assert_eq!(paper.count("src=\"data:image/jpeg;base64,"), 1);
}

#[test]
fn a_page_is_not_written_where_none_is_wanted() {
    let home = tempfile::tempdir().unwrap();
    let (clip, sheet) = (fixture("clean", "clip.mp4"), fixture("clean", "run.toml"));
    let more = ["--no-report", "--no-overlay", "--draws", "12"];
    let output = measure(&clip, &sheet, home.path(), &more);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    assert!(!text(&output.stdout).contains("Report:"));
    assert!(!home.path().join("clip/report.html").exists());
    assert!(home.path().join("clip/frames.csv").exists());
    let with = home.path().join("with");
    let output = measure(&clip, &sheet, &with, &["--no-overlay", "--draws", "12"]);
    let said = text(&output.stdout);
    let line = said
        .lines()
        .find_map(|l| l.strip_prefix("Report: "))
        .unwrap();
    assert!(Path::new(line).is_file(), "{line}");
}

/// Slow motion of unknown rate: what needs a second is nowhere on the page, and the page says why.
#[test]
fn a_page_without_a_clock_holds_no_speeds_and_no_times() {
    let paper = Paper::of("slow-motion-120");
    assert!(paper.page.contains("No speeds and no times are stated"));
    let readings = paper.readings();
    assert!(
        readings["times"]
            .as_array()
            .unwrap()
            .iter()
            .all(Value::is_null)
    );
    let charts = readings["charts"].as_array().unwrap();
    let drawn: Vec<&str> = charts.iter().map(|c| c["id"].as_str().unwrap()).collect();
    assert_eq!(drawn, ["slip", "path", "turns"]);
    assert!(charts[0]["x"][60].as_f64().is_none_or(|x| x == 60.0));
    assert!(paper.page.contains("frame of the clip"));
    let numbered = "from the clip, at equal numbers of frames";
    assert!(paper.page.contains(numbered), "pictures go by numbers");
    assert_eq!(paper.count("time in the clip, s"), 0);
    assert_eq!(paper.count(" ms apart"), 0);
}

//! `gripline compare` on an evening of the makers' club (see `club/`): differences, tables, questions, errors.
#![allow(clippy::unwrap_used, clippy::panic, reason = "tests fail by panicking")]

mod club;
mod command;

use club::{Club, evening, has, lacks};
use command::{gripline, text};
use serde_json::{Value, json};
use std::fs;
use std::path::Path;
use std::process::Output;

/// Mean of the true values of a treatment.
fn truth(treatment: &str, column: usize) -> f64 {
    let mut reader = csv::Reader::from_path(evening().join("truth.csv")).unwrap();
    let values: Vec<f64> = (reader.records().map(Result::unwrap))
        .filter(|row| &row[1] == treatment)
        .map(|row| row[column].parse().unwrap())
        .collect();
    assert_eq!(values.len(), 4, "{treatment}");
    values.iter().sum::<f64>() / 4.0
}

#[test]
fn the_differences_are_those_that_were_drawn() {
    let club = Club::new();
    let (words, numbers) = club.compared(&[]);
    has(
        &words,
        "Inner-tube strip cut the spun-away distance by 0.61 m",
    );
    has(
        &words,
        "12 runs by treatment: bare (4), inner-tube strip (4), silicone bead (4)",
    );
    for (quantity, column) in [
        ("spun_away_m", 2),
        ("max_slip", 3),
        ("peak_speed_m_per_s", 4),
    ] {
        let differences = numbers["quantities"][quantity]["differences"]
            .as_array()
            .unwrap();
        assert_eq!(differences.len(), 3);
        for found in differences {
            let [from, to] = ["from", "to"].map(|end| truth(found[end].as_str().unwrap(), column));
            let [low, high] = ["low", "high"].map(|end| found["interval"][end].as_f64().unwrap());
            assert!(
                (low..=high).contains(&(to - from)),
                "{quantity}: {} in {found}",
                to - from
            );
            assert_eq!(found["clear"], true, "{found}");
            // 4 + 4 runs can be dealt in 70 ways, and these lie apart as far as they can.
            assert_eq!(found["shuffles"]["as_far"], 2);
            assert_eq!(found["shuffles"]["of"], 70);
        }
    }
    for found in numbers["quantities"]["final_deviation_m"]["differences"]
        .as_array()
        .unwrap()
    {
        assert_eq!(found["clear"], false, "they were set down alike: {found}");
    }
    assert_eq!(
        numbers["careful"]
            .as_array()
            .unwrap()
            .iter()
            .filter(|w| w.to_string().contains("block"))
            .count(),
        0
    );
}

#[test]
fn two_groups_are_told_in_one_sentence() {
    let club = Club::new();
    club.remove([3, 4, 9, 10]);
    let (words, numbers) = club.compared(&["--of", "spun_away_m", "--detect", "spun_away_m=0.1"]);
    has(
        &words,
        "  - inner-tube strip cut the spun-away distance by 0.61 m (0.49 to 0.74); 4 runs each; shuffling the \
         runs gives a gap this big only once in 35\n",
    );
    let plan = &numbers["quantities"]["spun_away_m"]["plan"];
    assert_eq!(plan["needs"][0]["why"], "asked");
    let runs = plan["needs"][0]["runs"].as_u64().unwrap();
    // The rule of thumb of 16 (s / d)² runs (Lehr, 1992; from memory) is near for such numbers.
    let thumb = 16.0 * (plan["sd"].as_f64().unwrap() / 0.1).powi(2);
    assert!((runs as f64 - thumb).abs() < 2.5, "{runs} and {thumb}");
    let (words, _) = club.compared(&["--of", "spun_away_m", "--against", "inner-tube strip"]);
    has(
        &words,
        "bare raised the spun-away distance by 0.61 m (0.49 to 0.74)",
    );
}

#[test]
fn the_table_has_a_row_a_run() {
    let club = Club::new();
    club.change(2, |s| s["run"]["clip"] = json!("=1+1.mp4"));
    club.change(5, |s| {
        s["run"]["sheet"]["change"] = json!({"note": "-x, \"y\""});
    });
    club.compared(&[]);
    let path = club.out().join("comparison.csv");
    let mut reader = csv::Reader::from_path(path).unwrap();
    let head = reader.headers().unwrap().clone();
    let column = |name: &str| head.iter().position(|one| one == name).unwrap();
    let rows: Vec<_> = reader.records().map(Result::unwrap).collect();
    assert_eq!(rows.len(), 12);
    let clips: Vec<&str> = rows.iter().map(|row| &row[column("clip")]).collect();
    assert!(
        clips.contains(&"'=1+1.mp4"),
        "no spreadsheet runs it: {clips:?}"
    );
    assert!(
        rows.iter()
            .any(|row| &row[column("change")] == "'-x, \"y\"")
    );
    for row in &rows {
        let [value, low, high] = ["spun_away_m", "spun_away_low_m", "spun_away_high_m"]
            .map(|name| row[column(name)].parse::<f64>().unwrap());
        assert!(low <= value && value <= high);
        // Numbers keep their minus.
        let place = &row[column("final_deviation_m")];
        assert!(place.parse::<f64>().is_ok(), "{place}");
    }
}

#[test]
fn runs_are_grouped_by_any_key_of_the_sheet() {
    let club = Club::new();
    for run in 1..=12 {
        let mass = if run % 2 == 0 { 185.0 } else { 1000.0 };
        club.change(run, |s| s["run"]["sheet"]["car"]["mass_g"] = json!(mass));
    }
    club.change(3, |s| {
        s["run"]["sheet"]["car"]
            .as_object_mut()
            .unwrap()
            .remove("mass_g");
    });
    let (words, numbers) = club.compared(&["--by", "mass_g", "--of", "spun_away_m"]);
    assert_eq!(numbers["by"], "car.mass_g");
    assert_eq!(
        numbers["groups"][0]["label"], "185",
        "numbers sort as numbers"
    );
    has(
        &words,
        "left out, because no `car.mass_g` stands on the run sheet: `run03`",
    );
    let (words, _) = club.compared(&["--by", "car"]);
    has(&words, "Two runs of Tern differ by less than");
}

#[test]
fn cars_can_be_compared_with_themselves() {
    let club = Club::new();
    club.remove([3, 4, 9, 10]);
    let cars = [(1, 2), (6, 5), (7, 8), (12, 11)];
    for (car, (bare, strip)) in cars.into_iter().enumerate() {
        for run in [bare, strip] {
            club.change(run, |s| {
                s["run"]["sheet"]["car"]["name"] = json!(format!("No. {car}"));
            });
        }
    }
    let (words, numbers) = club.compared(&["--pair-by", "car", "--of", "spun_away_m"]);
    has(
        &words,
        "; 4 pairs; shuffling the runs gives a gap this big once in 8",
    );
    has(
        &words,
        "the rarest result would come up in 13 of 100 shuffles",
    );
    let found = &numbers["quantities"]["spun_away_m"]["differences"][0];
    assert_eq!(
        (found["paired"].clone(), found["df"].clone()),
        (json!(true), json!(3.0))
    );
    // One car alone of its treatment has no partner.
    club.change(1, |s| s["run"]["sheet"]["car"]["name"] = json!("No. 9"));
    let (words, _) = club.compared(&["--pair-by", "car", "--of", "spun_away_m"]);
    has(&words, "; 3 pairs;");
    has(
        &words,
        "without a partner of the same car, and so in no pair: `run01` and `run02`",
    );
}

#[test]
fn a_cars_changes_are_followed_step_by_step() {
    let club = Club::new();
    for run in 1..=12 {
        club.change(run, |s| {
            let sheet = &mut s["run"]["sheet"];
            sheet["car"]["treatment"] = json!("bare");
            if run > 4 {
                sheet["change"] = json!({"note": "shorter arm"});
            }
            if run > 8 {
                sheet["car"]["mass_g"] = json!(200.0);
            }
        });
    }
    let (_, numbers) = club.compared(&["--of", "spun_away_m"]);
    let steps = numbers["car_logs"][0]["steps"].as_array().unwrap();
    assert_eq!(steps.len(), 3, "{steps:?}");
    assert_eq!(steps[0]["runs"], json!([1, 2, 3, 4]));
    assert_eq!(steps[1]["note"], "shorter arm");
    let weight = json!([{"key": "car.mass_g", "then": "185", "now": "200"}]);
    assert_eq!(steps[2]["changed"], weight);
    let mean = |step: usize| {
        steps[step]["values"]["spun_away_m"]["mean"]
            .as_f64()
            .unwrap()
    };
    let change = &steps[1]["values"]["spun_away_m"]["change"];
    assert!((change["difference"].as_f64().unwrap() - (mean(1) - mean(0))).abs() < 1e-12);
    assert!(change["interval"]["low"].as_f64().unwrap() < change["difference"].as_f64().unwrap());
    // Two changes are looked at: Holm doubles the smaller p, and the larger one stands unless it is below that.
    let p = |step: usize, name: &str| {
        steps[step]["values"]["spun_away_m"]["change"][name]
            .as_f64()
            .unwrap()
    };
    let plain = [p(1, "p"), p(2, "p")];
    let small = 2.0 * plain[0].min(plain[1]);
    for (step, plain) in [1, 2].into_iter().zip(plain) {
        let expected = plain.max(small).min(1.0);
        assert!((p(step, "p_holm") - expected).abs() < 1e-12, "{steps:?}");
    }
    let page = fs::read_to_string(club.out().join("comparison.html")).unwrap();
    has(&page, "stands among all 2 changes looked at (Holm)");
}

#[track_caller]
fn refused(output: &Output, code: i32, parts: &[&str]) {
    let said = text(&output.stderr);
    assert_eq!(output.status.code(), Some(code), "{said}");
    assert!(output.stdout.is_empty());
    for part in parts {
        has(&said, part);
    }
}

#[test]
fn unusable_results_get_one_clear_error() {
    let club = Club::new();
    let compare = |place: &Path| {
        let out = club.out();
        gripline([Path::new("compare"), place, Path::new("--out"), &out])
    };
    refused(
        &compare(&club.0.path().join("none")),
        1,
        &["none", "hint: check the path"],
    );
    let empty = club.0.path().join("empty");
    fs::create_dir(&empty).unwrap();
    refused(
        &compare(&empty),
        1,
        &["no summary.json in", "gripline measure"],
    );
    for (bytes, part) in [
        (&b"{"[..], "EOF"),
        (b"[]", "does not say which layout"),
        (b"{\"version\": 1}", "missing field `run`"),
        (b"{\"version\": 99}", "has layout 99"),
    ] {
        fs::write(empty.join("summary.json"), bytes).unwrap();
        refused(&compare(&empty), 1, &["summary.json", part, "hint: "]);
    }
    club.change(4, |s| {
        s["max_slip"] = json!({"value": 2.0, "low": 0.0, "high": 1.0});
    });
    refused(
        &compare(&club.results()),
        1,
        &["run04", "`max_slip` lies outside its own interval"],
    );
    assert!(!club.out().exists(), "nothing was written");
}

#[test]
fn a_wrong_question_is_wrong_usage() {
    let club = Club::new();
    refused(
        &club.compare(&["--by", "tretment"]),
        2,
        &["the nearest is `treatment`"],
    );
    refused(&club.compare(&["--by", "colour"]), 2, &["`sticker.colour`"]);
    refused(
        &club.compare(&["--of", "spun_away"]),
        2,
        &["the nearest is `spun_away_m`"],
    );
    refused(
        &club.compare(&["--detect", "spun_away_m"]),
        2,
        &["spun_away_m=0.1"],
    );
    refused(
        &club.compare(&["--against", "glue"]),
        1,
        &["no run has", "\"silicone bead\""],
    );
    refused(
        &club.compare(&["--by", "change"]),
        1,
        &["no run sheet has `change.note` (12 read)"],
    );
    assert!(!club.out().exists());
}

#[test]
fn an_earlier_comparison_is_kept_and_the_same_runs_give_the_same_bytes() {
    let club = Club::new();
    club.compared(&[]);
    let files = ["comparison.csv", "comparison.json", "comparison.html"];
    let read = || files.map(|file| fs::read(club.out().join(file)).unwrap());
    let first = read();
    let again = [
        Path::new("compare"),
        &club.results(),
        Path::new("--out"),
        &club.out(),
    ];
    refused(&gripline(again), 1, &["already", "--replace"]);
    club.compared(&[]);
    assert!(read() == first, "same runs, same bytes");
    let page = text(&first[2]);
    for fetches in ["<script", "<link", "<img", "src=", "url(", "@import"] {
        assert!(!page.contains(fetches), "{fetches} is in the page");
    }
}

#[test]
fn a_quantity_that_no_run_shows_is_said_to_be_so() {
    let club = Club::new();
    let (words, numbers) = club.compared(&["--of", "all"]);
    let said = "Turns that the wheel missed: no run shows it (no mark on the axle's end was named in the run \
                sheet, or none was seen).";
    has(&words, said);
    lacks(&words, "turns that the wheel missed was not observable");
    let unseen = &numbers["quantities"]["loose_wheel_turns"];
    assert_eq!(
        (&unseen["values"], &unseen["differences"]),
        (&json!([]), &json!([]))
    );
    let page = fs::read_to_string(club.out().join("comparison.html")).unwrap();
    let section = page
        .split("id=\"quantity-loose_wheel_turns\"")
        .nth(1)
        .unwrap();
    let section = section.split("</section>").next().unwrap();
    has(section, "no run shows it");
    for empty in ["data-chart", "<table", ". .", "<svg"] {
        lacks(section, empty);
    }
    for text in [&page, &words, &numbers.to_string()] {
        for number in ["\"inf", "\"-inf", " inf", "NaN", "−inf", " -inf"] {
            lacks(text, number);
        }
    }
}

#[test]
fn one_run_is_one_run() {
    let club = Club::new();
    club.remove(2..=12);
    let (words, _) = club.compared(&[]);
    has(&words, "One run of bare: nothing to compare it with.");
    has(&words, "1 run by treatment: bare (1)");
    let page = fs::read_to_string(club.out().join("comparison.html")).unwrap();
    has(&page, "1 run in 1 group");
    for text in [&words, &page] {
        lacks(text, "1 runs");
    }
}

#[test]
fn a_plan_starts_where_a_difference_can_be_clear() {
    let club = Club::new();
    let (words, numbers) = club.compared(&["--of", "spun_away_m", "--detect", "spun_away_m=3"]);
    has(
        &words,
        "to see 3.00 m (asked for) in 80 of 100 cases: 3 runs each",
    );
    let plan = &numbers["quantities"]["spun_away_m"]["plan"];
    for need in plan["needs"].as_array().unwrap() {
        for runs in ["runs", "runs_low", "runs_high"] {
            assert!(need[runs].as_u64().unwrap() >= 3, "{need}");
        }
    }
    club.remove([3, 4, 7, 8, 9, 10, 11, 12]);
    let (_, numbers) = club.compared(&["--of", "spun_away_m"]);
    let plan = &numbers["quantities"]["spun_away_m"]["plan"];
    assert_eq!(
        (&plan["runs_now"], &plan["shown_now"]),
        (&json!(2), &Value::Null)
    );
}

#[test]
fn the_repeatability_limit_allows_for_few_runs() {
    let club = Club::new();
    let (_, numbers) = club.compared(&["--of", "spun_away_m"]);
    let found = &numbers["quantities"]["spun_away_m"];
    let ratio = |of: &Value, limit: &str| of[limit].as_f64().unwrap() / of["sd"].as_f64().unwrap();
    // Student's t, 0.975, of the standard table for 3 and 9 degrees of freedom: 3.1824 and 2.2622.
    let four = ratio(&found["groups"][0], "repeatability_limit");
    assert!((four - 3.1824 * 2f64.sqrt()).abs() < 1e-4, "{four}");
    let pooled = ratio(&found["repeatability"], "limit");
    assert!((pooled - 2.2622 * 2f64.sqrt()).abs() < 1e-4, "{pooled}");
}

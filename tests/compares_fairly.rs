//! What `gripline compare` says of comparisons that are not fair: few runs, groups that differ in more than the
//! treatment, errors of measuring that do not cancel, cars that leave the line to both sides.
#![allow(clippy::unwrap_used, clippy::panic, reason = "tests fail by panicking")]

mod club;
mod command;

use club::{Club, has, lacks};
use serde_json::{Value, json};

#[test]
fn the_same_clip_counts_once() {
    let club = Club::new();
    club.copy(1, "run13");
    let (words, numbers) = club.compared(&["--of", "spun_away_m"]);
    has(&words, "`run13` is the clip `run01` again, byte for byte");
    assert_eq!(numbers["quantities"]["spun_away_m"]["groups"][0]["n"], 4);
    let runs = numbers["runs"].as_array().unwrap();
    assert_eq!(runs.len(), 13);
    assert_eq!(
        runs.iter().filter(|run| run["same_clip_as"] == 1).count(),
        1
    );
}

#[test]
fn unequal_conditions_and_few_runs_are_named() {
    let club = Club::new();
    club.remove([1, 6, 7]);
    for run in [2, 5, 8, 11] {
        club.change(run, |s| s["run"]["frames_per_s"] = json!(120.0));
    }
    club.change(12, |s| {
        s["verdict"]["cause"] = json!("undetermined");
        s["max_slip"] = json!({"not_observable": "the wheel mark was hidden"});
        s["run"]["sheet"]["floor"]["surface"] = json!("gym floor");
        s["measured_by"]["view"] = json!({"plain_scale": {"from": "wheel"}});
    });
    let (words, numbers) = club.compared(&[]);
    for part in [
        "fewer than 3 runs of bare (1)",
        "one run alone decides nothing and is in no test",
        "the frame rate, the kind of view and the floor changed along with the treatment",
        "bare: frame rate 60 a second, kind of view plain scale and floor gym floor",
        "inner-tube strip: frame rate 120 a second, kind of view floor marks and floor clubhouse lino",
        "the largest slip was not observable in 1 of 1 run of bare (the wheel mark was hidden)",
        "no cause could be determined for `run12`",
    ] {
        has(&words, part);
    }
    let bare = &numbers["quantities"]["spun_away_m"]["groups"];
    assert!(
        bare.as_array()
            .unwrap()
            .iter()
            .any(|group| group["n"] == 1 && group["sd"].is_null())
    );
    lacks(&words, "NaN");
}

#[test]
fn two_runs_of_a_kind_tell_nothing() {
    let club = Club::new();
    club.remove([3, 4, 7, 8, 9, 10, 11, 12]);
    let (words, numbers) = club.compared(&["--of", "spun_away_m"]);
    has(
        &words,
        "fewer than 3 runs of bare (2) and inner-tube strip (2)",
    );
    has(&words, "No clear difference by treatment.");
    has(&words, "shuffling cannot show anything below 5");
    let found = &numbers["quantities"]["spun_away_m"]["differences"][0];
    assert_eq!(found["clear"], false);
    has(
        found["words"].as_str().unwrap(),
        "too few to call anything clear",
    );
}

#[test]
fn conditions_that_go_with_the_groups_are_said_to() {
    let club = Club::new();
    club.remove([3, 4, 9, 10]);
    for run in [2, 5, 8, 11] {
        club.change(run, |s| s["run"]["frames_per_s"] = json!(240.0));
    }
    let (words, _) = club.compared(&[]);
    has(
        &words,
        "the frame rate changed along with the treatment (bare: frame rate 60 a second; inner-tube strip: frame \
         rate 240 a second)",
    );
    has(
        &words,
        "by 0.61 m. But the frame rate changed along with the treatment.\n",
    );
}

#[test]
fn runs_in_blocks_and_a_drift_are_warned_of() {
    let club = Club::new();
    let order = [1, 6, 7, 12, 2, 5, 8, 11, 3, 4, 9, 10];
    for (place, run) in order.into_iter().enumerate() {
        club.change(run, |s| {
            s["run"]["filmed"] = json!(format!("2026-05-09T17:{place:02}:00.000000Z"));
            let v = s["spun_away_m"]["value"].as_f64().unwrap() + 0.08 * place as f64;
            s["spun_away_m"] = json!({"value": v, "low": v - 0.02, "high": v + 0.02});
        });
    }
    let (words, numbers) = club.compared(&[]);
    has(&words, "in order of the clips' own times of filming");
    has(&words, "each group was run in one block");
    has(&words, "the spun-away distance rose by");
    let drift = &numbers["quantities"]["spun_away_m"]["drift"];
    assert!(drift["p"].as_f64().unwrap() < 0.05, "{drift}");
    let (words, _) = club.compared(&["--order-by", "name"]);
    has(&words, "in order of the clips' file names");
    lacks(&words, "in one block");
}

/// Standard uncertainty from errors that do not cancel, and half of the interval, in the place at the end.
fn half(numbers: &Value) -> (f64, f64) {
    let found = &numbers["quantities"]["final_deviation_m"]["differences"][0];
    let [low, high] = ["low", "high"].map(|end| found["interval"][end].as_f64().unwrap());
    let apart = found["apart_uncertainty"].as_f64().unwrap();
    (apart, (high - low) / 2.0)
}

#[test]
fn errors_of_measuring_cancel_only_where_they_are_the_same() {
    let before = {
        let (_, numbers) = Club::new().compared(&[]);
        half(&numbers)
    };
    // One car, one place of the phone: what is left is what changes unequal values unequally.
    assert!(before.0 < 3e-4, "{before:?}");
    let wider = |why: &str, least: f64, change: &dyn Fn(usize, &mut Value)| {
        let club = Club::new();
        for run in 1..=12 {
            club.change(run, |s| change(run, s));
        }
        let (_, numbers) = club.compared(&[]);
        let after = half(&numbers);
        assert!(
            after.0 > least && after.1 >= before.1,
            "{why}: {after:?}, {before:?}"
        );
    };
    let strip = [2, 5, 8, 11];
    wider("another height", 0.001, &|run, s| {
        if strip.contains(&run) {
            s["run"]["sheet"]["sticker"]["height_mm"] = json!(97.0);
        }
    });
    wider("another car of the same sizes", 0.001, &|run, s| {
        if strip.contains(&run) {
            s["run"]["sheet"]["car"]["name"] = json!("Gull");
        }
    });
    wider("a phone that was moved", 0.0005, &|run, s| {
        if strip.contains(&run) {
            for mark in s["measured_by"]["floor_marks_at_px"]
                .as_array_mut()
                .unwrap()
            {
                mark[0] = json!(mark[0].as_f64().unwrap() + 12.0);
            }
        }
    });
    wider("nobody knows where the phone stood", 0.0005, &|_, s| {
        s["measured_by"]
            .as_object_mut()
            .unwrap()
            .remove("floor_marks_at_px");
    });
}

/// An evening of bare wheels and strips alone: runs 1, 6, 7, 12 and 2, 5, 8, 11.
fn two_groups() -> Club {
    let club = Club::new();
    club.remove([3, 4, 9, 10]);
    club
}

const BARE: [usize; 4] = [1, 6, 7, 12];
const STRIP: [usize; 4] = [2, 5, 8, 11];

#[test]
fn what_changed_along_with_the_treatment_is_named() {
    let club = two_groups();
    for (runs, car, mass, string, day) in [
        (BARE, "Tern", 185.0, 235.0, 9),
        (STRIP, "Gull", 190.0, 240.0, 16),
    ] {
        for run in runs {
            club.change(run, |s| {
                s["run"]["filmed"] = json!(format!("2026-05-{day:02}T17:{run:02}:00.000000Z"));
                let sheet = &mut s["run"]["sheet"]["car"];
                sheet["name"] = json!(car);
                sheet["mass_g"] = json!(mass);
                sheet["string_mm"] = json!(string);
            });
        }
    }
    let (words, numbers) = club.compared(&["--of", "spun_away_m"]);
    has(
        &words,
        "the day, the mass, the car and the string changed along with the treatment (bare: day 2026-05-09, \
         mass 185 g, car Tern and string 235 mm; inner-tube strip: day 2026-05-16, mass 190 g, car Gull \
         and string 240 mm); the difference may be due to that, and more runs of this kind cannot tell",
    );
    has(
        numbers["headline"].as_str().unwrap(),
        "But the day, the mass, the car and 1 more changed along with the treatment.",
    );
    let careful = numbers["careful"].as_array().unwrap();
    let tied = careful
        .iter()
        .filter(|one| one.to_string().contains("changed along with"));
    assert_eq!(tied.count(), 1, "one warning for all: {careful:?}");
}

#[test]
fn what_is_not_shared_out_evenly_is_named() {
    let club = two_groups();
    let car = |run: usize, name: &str| {
        club.change(run, |s| s["run"]["sheet"]["car"]["name"] = json!(name));
    };
    car(1, "Gull");
    for run in [2, 5, 8] {
        car(run, "Gull");
    }
    let (words, numbers) = club.compared(&["--of", "spun_away_m"]);
    has(
        &words,
        "not shared out evenly among the groups: the car (bare: Gull in 1, Tern in 3; inner-tube strip: Gull \
         in 3, Tern in 1); part of a difference may be due to that",
    );
    lacks(numbers["headline"].as_str().unwrap(), "But");
    // Two runs of each car in each group: that is fair.
    car(6, "Gull");
    car(8, "Tern");
    let (words, _) = club.compared(&["--of", "spun_away_m"]);
    lacks(&words, "evenly");
    lacks(&words, "changed along with");
}

/// Gives runs these values of a quantity, each with a small interval.
fn set(club: &Club, key: &str, runs: &[usize], values: &[f64]) {
    for (run, v) in runs.iter().zip(values) {
        club.change(*run, |s| {
            s[key] = json!({"value": v, "low": v - 0.001, "high": v + 0.001});
        });
    }
}

#[test]
fn a_single_run_of_a_third_kind_decides_nothing() {
    let club = two_groups();
    // Alone a difference of p 0.0305 (scipy 1.17.1, ttest_ind with equal_var=False), among three quantities none.
    set(&club, "spun_away_m", &BARE, &[2.0, 2.1, 1.9, 2.05]);
    set(&club, "spun_away_m", &STRIP, &[1.78, 1.93, 1.7, 1.88]);
    for key in ["max_slip", "peak_speed_m_per_s"] {
        set(&club, key, &BARE, &[0.70, 0.74, 0.71, 0.75]);
        set(&club, key, &STRIP, &[0.74, 0.70, 0.75, 0.72]);
    }
    let asked = ["--of", "spun_away_m,max_slip,peak_speed_m_per_s"];
    let (words, two) = club.compared(&asked);
    has(&words, "No clear difference by treatment.");
    club.copy(3, "run03");
    let (words, three) = club.compared(&asked);
    has(&words, "No clear difference by treatment.");
    has(&words, "one run alone decides nothing and is in no test");
    lacks(&words, "of 100 shuffles");
    let p = |of: &Value, name: &str| of["quantities"]["spun_away_m"]["overall"][name].clone();
    for name in ["f", "df", "p", "p_among_questions"] {
        assert_eq!(p(&two, name), p(&three, name), "{name}");
    }
    let single = p(&three, "p").as_f64().unwrap();
    assert!((single - 0.030_492_5).abs() < 1e-6, "{single}");
    assert!((p(&three, "p_among_questions").as_f64().unwrap() - 3.0 * single).abs() < 1e-12);
    let differences = three["quantities"]["spun_away_m"]["differences"]
        .as_array()
        .unwrap();
    let alone = differences
        .iter()
        .filter(|one| one["to"] == "silicone bead");
    for one in alone {
        assert_eq!((&one["p"], &one["clear"]), (&Value::Null, &json!(false)));
        has(
            one["words"].as_str().unwrap(),
            "1 run against 4: one run alone decides nothing",
        );
    }
}

#[test]
fn cars_that_leave_the_line_to_both_sides_are_told_from_straight_ones() {
    let club = two_groups();
    set(
        &club,
        "final_deviation_m",
        &BARE,
        &[0.31, -0.28, 0.30, -0.33],
    );
    set(
        &club,
        "final_deviation_m",
        &STRIP,
        &[0.03, -0.02, 0.028, -0.035],
    );
    let (words, numbers) = club.compared(&["--of", "final_deviation_m"]);
    has(
        &words,
        "Inner-tube strip cut the distance from the line at the end of the view by 0.277 m.",
    );
    has(
        &words,
        "inner-tube strip narrowed the scatter of the place at the end of the view from 0.35 m to 0.033 m",
    );
    has(
        &words,
        "no clear difference in the place at the end of the view",
    );
    let found = &numbers["quantities"]["final_deviation_m"];
    assert_eq!(
        found["differences"][0]["clear"], false,
        "neither side has more of them"
    );
    let straightness = &found["straightness"];
    assert_eq!(straightness["off_line"]["differences"][0]["clear"], true);
    let spread = &straightness["spread"];
    assert_eq!(spread["pairs"][0]["clear"], true);
    let number = |name: &str| spread[name].as_f64().unwrap();
    // scipy 1.17.1, scipy.stats.f_oneway on the distances from the medians but one of the two equal middle ones.
    assert!((number("f") - 307.647_237_93).abs() < 1e-6, "{spread}");
    assert!((number("p") - 6.204_292_37e-5).abs() < 1e-12, "{spread}");
    assert_eq!(spread["df"], json!([1.0, 4.0]));
    // Side, distance and scatter are three questions (Holm): twice this p, or thrice, by its rank.
    let times = number("p_among_questions") / number("p");
    assert!((2.0 - 1e-9..=3.0 + 1e-9).contains(&times), "{times}");
}

#[test]
fn a_common_error_does_not_cancel_between_distances_on_either_side() {
    let club = two_groups();
    set(
        &club,
        "final_deviation_m",
        &BARE,
        &[0.05, 0.06, 0.055, 0.065],
    );
    set(
        &club,
        "final_deviation_m",
        &STRIP,
        &[-0.05, -0.06, -0.055, -0.065],
    );
    let (_, numbers) = club.compared(&["--of", "final_deviation_m"]);
    let found = &numbers["quantities"]["final_deviation_m"];
    let apart = |of: &Value| of["differences"][0]["apart_uncertainty"].as_f64().unwrap();
    // A sticker that sits a little to the left of where the sheet has it moves all runs to one side alike: what
    // brings the runs of one group nearer to the line takes those of the other farther off.
    let (side, off_line) = (apart(found), apart(&found["straightness"]["off_line"]));
    let of_a_run = 0.001 / 1.96;
    assert!(side < 0.1 * of_a_run, "{side}");
    assert!(
        (1.7 * of_a_run..=2.1 * of_a_run).contains(&off_line),
        "{off_line}"
    );
}

#[test]
fn unlike_conditions_that_are_shared_out_evenly_are_only_mentioned() {
    let club = two_groups();
    for run in [1, 6, 2, 5] {
        club.change(run, |s| s["run"]["frames_per_s"] = json!(240.0));
    }
    let (words, numbers) = club.compared(&["--of", "spun_away_m"]);
    has(
        &words,
        "the runs differ in the frame rate (240 a second in 4, 60 a second in 4), though evenly among the groups",
    );
    lacks(&words, "changed along with");
    // Pairs by car: then the car is no matter, and both further questions but the scatter are asked of pairs.
    for (car, (bare, strip)) in BARE.into_iter().zip(STRIP).enumerate() {
        for run in [bare, strip] {
            club.change(run, |s| {
                s["run"]["sheet"]["car"]["name"] = json!(format!("No. {car}"));
            });
        }
    }
    let (words, paired) = club.compared(&["--pair-by", "car", "--of", "final_deviation_m"]);
    lacks(&words, "the car");
    let straightness = &paired["quantities"]["final_deviation_m"]["straightness"];
    assert_eq!(straightness["off_line"]["differences"][0]["paired"], true);
    assert!(straightness["spread"].is_null());
    assert_eq!(numbers["version"], 2);
}

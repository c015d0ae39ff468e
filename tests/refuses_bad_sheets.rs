//! Every wrong run sheet gets one clear error: which line, what, and what to do about it.

use std::path::Path;

use gripline::sheet::{RunSheet, SheetError};

const STICKER: &str = "[sticker]\ncolour = 'magenta'\n";

#[expect(
    clippy::expect_used,
    reason = "a test's helper: an accepted sheet is the failure"
)]
fn refused(text: &str) -> SheetError {
    RunSheet::parse(text, Path::new("run.toml")).expect_err("accepted a wrong sheet")
}

fn is_accepted(text: &str) -> bool {
    RunSheet::parse(text, Path::new("run.toml")).is_ok()
}

/// `text` is refused at `line` with a message that holds `expected`.
#[track_caller]
fn check(text: &str, line: usize, expected: &str) {
    let error = refused(text);
    let (message, hint) = (error.to_string(), error.hint());
    assert!(message.contains(expected), "{message:?} lacks {expected:?}");
    assert_eq!(error.line(), Some(line), "{message}");
    assert_eq!(error.path(), Path::new("run.toml"));
    let place = format!("run sheet `run.toml`, line {line}: ");
    assert!(message.starts_with(&place), "{message}");
    assert!(
        !message.contains('\n') && !message.ends_with('.'),
        "{message:?}"
    );
    assert!(!hint.is_empty() && !hint.contains('\n'), "{hint:?}");
}

/// Each case `line => expected`: the line, put into `table` beside a good sticker, is refused with a
/// message that holds the expected text.
#[track_caller]
fn check_lines(table: &str, cases: &str) {
    let mut count = 0;
    for case in cases.lines().filter(|case| !case.trim().is_empty()) {
        let (line, expected) = case
            .split_once(" => ")
            .unwrap_or((case, "a case without =>"));
        if table == "[sticker]" {
            check(&format!("{STICKER}{line}\n"), 3, expected);
        } else {
            check(&format!("{STICKER}{table}\n{line}\n"), 4, expected);
        }
        count += 1;
    }
    assert!(count > 0, "no cases");
}

const METRES: &str = "looks like metres; lengths here are millimetres";

#[test]
fn wrong_units_are_recognised_by_size() {
    check_lines(
        "[car]",
        "
wheel_diameter_mm = 0.11 => `wheel_diameter_mm = 0.11` looks like metres; lengths here are mill
wheel_diameter_mm = 4.9 => looks like centimetres; lengths here are millimetres
wheel_diameter_mm = 601 => is not between 20 and 600 millimetres
wheelbase_mm = 0.24 => looks like metres; lengths here are millimetres
track_width_mm = 0.12 => looks like metres
axle_diameter_mm = 0.005 => looks like metres
string_mm = 0.42 => looks like metres
mass_g = 0.19 => looks like kilograms; masses here are grams
driven_share = 60 => looks like per cent; shares here are fractions
",
    );
    check_lines(
        "[sticker]",
        "
height_mm = 0.07 => looks like metres
ahead_mm = 0.09 => looks like metres
off_centre_mm = -0.04 => looks like metres
",
    );
    let seconds = "readout_ms = 0.016 => looks like seconds; times here are milliseconds";
    check_lines("[camera]", seconds);
    let mark = "[wheel_mark]\nradius_mm = 0.042\ncolour = 'red'\n";
    check(mark, 2, METRES);
}

#[test]
fn a_wrong_unit_is_converted_in_the_hint() {
    let hint = refused(&format!("{STICKER}[car]\nwheel_diameter_mm = 0.11\n")).hint();
    assert_eq!(hint, "did you mean `wheel_diameter_mm = 110`?");
}

#[test]
fn a_slip_of_the_decimal_point_names_the_likely_number() {
    let refused_for = |line: &str| {
        let error = refused(&format!("{STICKER}[car]\n{line}\n"));
        (error.to_string(), error.hint())
    };
    let (message, hint) = refused_for("wheel_diameter_mm = 9.6");
    assert!(
        message.contains("usual are 40 to 320 millimetres"),
        "{message}"
    );
    assert_eq!(hint, "did you mean `wheel_diameter_mm = 96`?");
    let (message, hint) = refused_for("wheel_diameter_mm = 960");
    assert!(
        message.contains("is not between 20 and 600 millimetres"),
        "{message}"
    );
    assert_eq!(hint, "did you mean `wheel_diameter_mm = 96`?");
    let (_, hint) = refused_for("wheelbase_mm = 21.5");
    assert_eq!(hint, "did you mean `wheelbase_mm = 215`?");
    let (_, hint) = refused_for("track_width_mm = 1260");
    assert_eq!(hint, "did you mean `track_width_mm = 126`?");
}

#[test]
fn an_unusual_size_is_measured_with_and_doubted() {
    let doubts = |table: &str, line: &str| {
        let text = if table == "[sticker]" {
            format!("{STICKER}{line}\n")
        } else {
            format!("{STICKER}{table}\n{line}\n")
        };
        let sheet = RunSheet::parse(&text, Path::new("run.toml"));
        sheet
            .map(|sheet| {
                sheet
                    .doubts
                    .iter()
                    .map(ToString::to_string)
                    .collect::<Vec<_>>()
                    .join("\n")
            })
            .unwrap_or_default()
    };
    for (table, line, meant) in [
        ("[car]", "wheel_diameter_mm = 25", "250"),
        ("[car]", "axle_diameter_mm = 50", "5"),
        ("[car]", "string_mm = 42", "420"),
        ("[car]", "string_diameter_mm = 8", "0.8"),
        ("[car]", "mass_g = 19", "190"),
        ("[car]", "driven_share = 0.06", "0.6"),
        ("[sticker]", "height_mm = 9.6", "96"),
        ("[sticker]", "ahead_mm = 1060", "106"),
        ("[sticker]", "off_centre_mm = 460", "46"),
        ("[wheel_mark]", "radius_mm = 4.2", "42"),
        ("[camera]", "readout_ms = 1.2", "12"),
    ] {
        let said = doubts(table, line);
        let meant = format!("; did you mean {meant}?");
        assert!(
            said.contains(&format!("`{line}` is unusual; usual")) && said.contains(&meant),
            "{line}: {said:?}"
        );
    }
    let plain = "wheel_diameter_mm = 96\nwheelbase_mm = 215\ntrack_width_mm = 126\naxle_diameter_mm = 5\n\
                 string_mm = 420\nstring_diameter_mm = 0.8\nmass_g = 190\ndriven_share = 0.6";
    assert_eq!(doubts("[car]", plain), "");
    let wound = doubts("[car]", "axle_diameter_mm = 2\nstring_mm = 2000");
    assert!(wound.contains("would be 318 turns"), "{wound}");
}

#[test]
fn a_sticker_beside_the_car() {
    let text = "[sticker]\noff_centre_mm = 130\n[car]\ntrack_width_mm = 126\n";
    check(text, 2, "is far outside the car, whose wheels reach 63 mm");
    assert!(is_accepted(&text.replace("130", "100")));
}

#[test]
fn sizes_that_are_no_sizes() {
    let keys = "wheel_diameter_mm wheelbase_mm track_width_mm axle_diameter_mm string_mm mass_g";
    for key in keys.split(' ').chain(["driven_share"]) {
        let cases = format!(
            "
{key} = 0 => must be greater than zero
{key} = -1.5 => must be greater than zero
{key} = inf => is not a finite number
{key} = nan => is not a finite number
{key} = 1e9 => is not between
"
        );
        check_lines("[car]", &cases);
    }
}

#[test]
fn numbers_out_of_range() {
    check_lines("[car]", "driven_share = 1.2 => `driven_share = 1.2`");
    check_lines(
        "[sticker]",
        "
height_mm = 0 => must be greater than zero
height_mm = -70 => must be greater than zero
ahead_mm = 5000 => is not within 2000 millimetres of zero
off_centre_mm = -nan => is not a finite number
",
    );
    check_lines(
        "[camera]",
        "
capture_fps = 0.5 => is not between 1 and 2000 frames per second
capture_fps = 2001 => is not between 1 and 2000 frames per second
readout_ms = -16 => must not be negative
k1 = 1.5 => is not within 1 of zero
",
    );
}

#[test]
fn values_of_the_wrong_type() {
    check_lines(
        "[car]",
        "
mass_g = '190 g' => `mass_g` is a text in quotes, where a number is wanted
mass_g = true => is true or false, where a number
mass_g = [190] => is a list, where a number
mass_g = 2026-01-01 => is a date or time, where a number
name = 7 => `name` is a number, where a text
",
    );
    let hint = refused(&format!("{STICKER}[car]\nmass_g = '190 g'\n")).hint();
    assert!(hint.contains("no quotes, no unit"), "{hint}");

    check("car = 7\n", 1, "`car` is a number, where one table");
    check("sticker = 'red'\n", 1, "`sticker` is a text in quotes");
    check("floor_mark = [1, 2]\n", 1, "where a table");
    check("[[car]]\n", 1, "`car` is a list, where one table");
}

#[test]
fn unknown_keys_name_the_nearest_known_one() {
    let nearest = "the nearest known one is";
    let unknown = "unknown key `wheelbas_mm` in [car]; the nearest known one is `wheelbase_mm`";
    check_lines("[car]", &format!("wheelbas_mm = 240 => {unknown}"));
    check_lines("[aim]", &format!("form_mm = [0, 0] => {nearest} `from_mm`"));
    check_lines("[camera]", "fps = 240 => `capture_fps`");
    check_lines("[change]", &format!("notes = 'x' => {nearest} `note`"));
    check_lines(
        "[end_view]",
        &format!("hight_mm = 9 => {nearest} `height_mm`"),
    );
    check_lines("[end_view]", "x_mm = 9 => it belongs in [floor_mark]");
    let view = format!("unknown table `endview` at the top of the sheet; {nearest} `end_view`");
    check(&format!("{STICKER}[endview]\n"), 3, &view);
    let colour = format!("{nearest} `colour`");
    check("[sticker]\ncolor = 'red'\n", 2, &colour);
    let table = format!("unknown table `stickers` at the top of the sheet; {nearest} `sticker`");
    check("[stickers]\n", 1, &table);
    check("treatment = 'bare'\n", 1, "it belongs in [car]");
}

#[test]
fn unknown_keys_that_name_another_unit() {
    check_lines(
        "[car]",
        "
wheel_diameter_cm = 11 => lengths here are millimetres: `wheel_diameter_mm`
wheelbase = 240 => lengths here are millimetres: `wheelbase_mm`
mass_kg = 0.19 => masses here are grams: `mass_g`
",
    );
    check_lines("[sticker]", "height_m = 0.07 => millimetres: `height_mm`");
    check_lines(
        "[end_view]",
        "
height_m = 0.07 => millimetres: `height_mm`
readout_s = 1 => milliseconds: `readout_ms`
colour = 'pink' => not one of magenta, red
height_mm = 0.07 => looks like metres
capture_fps = 0 => `capture_fps = 0`
k1 = 3 => `k1 = 3`
",
    );
    check_lines("[camera]", "readout_s = 1 => milliseconds: `readout_ms`");
    let hint = refused(&format!("{STICKER}height_m = 0.07\n")).hint();
    assert!(hint.contains("rename it `height_mm`"), "{hint}");
}

#[test]
fn words_that_are_not_on_the_list() {
    let pink = "[sticker]\ncolour = 'pink'\n";
    check(pink, 2, "not one of magenta, red, orange, yellow");
    let hint = refused("[sticker]\ncolour = 'mangenta'\n").hint();
    assert_eq!(hint, "did you mean `magenta`?");
    let side = "facing_side = 'front' => `facing_side = \"front\"` is not one of left, right";
    check_lines("[car]", side);
    check_lines("[axle_mark]", "colour = 'blu' => is not one of");
}

#[test]
fn texts_that_are_too_long_or_cannot_be_printed() {
    let long = "x".repeat(201);
    let too_long = "has 201 characters; at most 200";
    check_lines("[car]", &format!("name = '{long}' => {too_long}"));
    check_lines("[car]", &format!("treatment = '{long}' => {too_long}"));
    check_lines("[change]", &format!("note = '{long}' => {too_long}"));
    let control = "note = \"a\\nb\" => holds the control character U+000A";
    check_lines("[change]", control);
    let control = "name = \"\\u001b[31mred\" => holds the control character U+001B";
    check_lines("[car]", control);
    assert!(is_accepted(&format!(
        "{STICKER}[car]\nname = '{}'\n",
        "é".repeat(200)
    )));
}

#[test]
fn two_wheel_marks_of_one_colour() {
    check(
        "[[wheel_mark]]\ncolour = 'green'\n[[wheel_mark]]\ncolour = 'green'\nangle_deg = 90\n",
        4,
        "two wheel marks are green",
    );
}

#[test]
fn a_wheel_mark_outside_its_wheel() {
    let sheet = |radius_mm: f64| {
        format!(
            "[wheel_mark]\ncolour = 'green'\nradius_mm = {radius_mm}\n\
             [car]\nwheel_diameter_mm = 110\n{STICKER}"
        )
    };
    let outside = "is not inside the wheel, whose radius is 55 mm";
    check(&sheet(55.0), 3, &format!("`radius_mm = 55` {outside}"));
    check(&sheet(60.0), 3, outside);
    assert!(is_accepted(&sheet(54.9)));
}

#[test]
fn an_axle_thicker_than_its_wheel() {
    let text = "[car]\nwheel_diameter_mm = 40\naxle_diameter_mm = 50\n";
    let expected = "the axle (50 mm) is not thinner than the wheel (40 mm)";
    check(text, 3, expected);
}

#[test]
fn parts_of_a_mark_that_are_missing() {
    let mark = |lines: &str| format!("[[floor_mark]]\n{lines}\n");
    for (lines, missing) in [
        ("colour = 'blue'\ny_mm = 0", "[floor_mark] has no `x_mm`"),
        ("colour = 'blue'\nx_mm = 0", "[floor_mark] has no `y_mm`"),
    ] {
        check(&mark(lines), 1, missing);
    }
    check(&mark("colour = 'blue'\nx_m = 0\ny_mm = 0"), 3, "`x_mm`");
    check("[aim]\nfrom_mm = [0, 0]\n", 1, "[aim] has no `to_mm`");
}

#[test]
fn floor_marks_that_cannot_be_where_they_are_said_to_be() {
    let marks = |places: &[(f64, f64)]| {
        let mark = |(x_mm, y_mm): &(f64, f64)| {
            format!("[[floor_mark]]\ncolour = 'blue'\nx_mm = {x_mm}\ny_mm = {y_mm}\n")
        };
        let all: Vec<String> = places.iter().map(mark).collect();
        format!("{STICKER}{}", all.concat())
    };
    let same = marks(&[(0.0, -300.0), (0.0, 300.0), (0.0, -300.0)]);
    check(&same, 11, "a second floor mark at x_mm = 0, y_mm = -300");
    let near = marks(&[(0.0, -300.0), (0.0, 300.0), (0.5, -300.0)]);
    check(&near, 11, "a second floor mark");
    let metres = marks(&[(0.0, -0.3), (0.0, 0.3), (2.0, -0.3), (2.0, 0.3)]);
    check(&metres, 3, METRES);
    let far = marks(&[(200_000.0, 0.0)]);
    check(&far, 5, "is not within 100000 millimetres of zero");
    let many: Vec<_> = (0..201).map(|i| (f64::from(i) * 100.0, 0.0)).collect();
    check(&marks(&many), 3 + 200 * 4, "more than 200 floor marks");
    assert!(is_accepted(&marks(&many[..200])));
}

#[test]
fn more_wheel_marks_than_a_wheel_can_carry() {
    let marks = |count| "[[wheel_mark]]\ncolour = 'red'\n".repeat(count);
    check(&marks(17), 1 + 16 * 2, "more than 16 wheel marks");
    let two = "[[wheel_mark]]\ncolour = 'green'\n[[wheel_mark]]\ncolour = 'blue'\n";
    assert!(is_accepted(&format!("{STICKER}{two}")));
}

#[test]
fn an_aim_line_without_a_direction() {
    let aim = |from: &str, to: &str| format!("[aim]\nfrom_mm = {from}\nto_mm = {to}\n");
    let nowhere = aim("[10, 20]", "[10, 20]");
    check(&nowhere, 3, "begins and ends at the same place");
    check(&aim("[0, 0]", "[4.0, 0]"), 3, METRES);
    check(&aim("[0, 0]", "[4000]"), 3, "where two numbers");
    check(&aim("[0, 0]", "[4000, 0, 0]"), 3, "where two numbers");
    check(&aim("[0, 'x']", "[4000, 0]"), 2, "where two numbers");
    check(&aim("7", "[4000, 0]"), 2, "is a number, where two numbers");
    check(&aim("[0, nan]", "[4000, 0]"), 2, "is not a finite number");
}

#[test]
fn a_pointed_place_that_is_none() {
    check_lines(
        "[sticker]",
        "
at_px = [1.0] => where two numbers
at_px = [-3, 10] => is not between -0.5 and 16384 pixels
at_px = [3, 1e6] => is not between -0.5 and 16384 pixels
",
    );
    let alone = "[sticker]\ncolour = 'red'\nat_s = 0.5\n";
    check(alone, 1, "[sticker] has no `at_px`");
    let early = "[sticker]\ncolour = 'red'\nat_px = [3, 4]\nat_s = -1\n";
    check(early, 4, "must not be negative");
}

#[test]
fn text_that_is_not_toml() {
    let not_toml = "not valid TOML: ";
    check("[sticker\ncolour = 'red'\n", 1, not_toml);
    check("[sticker]\ncolour = red\n", 2, not_toml);
    check("[sticker]\ncolour = 'red'\nheight_mm = 70,5\n", 3, not_toml);
    check("[sticker]\ncolour = 'red'\ncolour = 'blue'\n", 3, not_toml);
    let twice = "[floor_mark]\nx_mm = 0\n[floor_mark]\nx_mm = 1\n";
    check(twice, 3, not_toml);
    assert!(
        refused(twice).hint().contains("[[floor_mark]]"),
        "{}",
        refused(twice).hint()
    );
}

#[test]
fn the_first_fault_in_the_file_is_the_one_that_is_told() {
    let text =
        "[camera]\ncapture_fps = 9999\n[car]\nmass_g = 0\nwheel = 1\n[sticker]\ncolor = 'x'\n";
    check(text, 2, "capture_fps");
    check(&text.replace("9999", "240"), 4, "mass_g");
    let text = text.replace("9999", "240").replace("= 0", "= 9");
    check(&text, 5, "`wheel`");
    // The misspelt key explains the missing one, which counts as standing at the table's end.
    let (misspelt, missing) = ("to = [9, 9]", "[aim] has no `to_mm`");
    let sheet = |line: &str| format!("[aim]\nfrom_mm = [0, 0]\n{line}\n[car]\nmass_g = 0\n");
    check(&sheet(misspelt), 3, "`to`");
    check(&sheet(""), 1, missing);
}

#[test]
fn hostile_text_stays_one_short_line() {
    let long_key = "k".repeat(500_000);
    for text in [
        format!("{STICKER}{long_key} = 1\n"),
        format!("[sticker]\ncolour = '{long_key}'\n"),
        format!("{STICKER}\"a\\u001b[2Jb\" = 1\n"),
        "[sticker]\ncolour = \"\\u001b[2J\\n\"\n".to_string(),
        format!("{STICKER}height_mm = {}\n", "9".repeat(100_000)),
        format!("x = {}\n", "[".repeat(500_000)),
        format!("x = {}\n", "{a=".repeat(200_000)),
        format!("{}\n", "a.".repeat(200_000)),
    ] {
        let error = refused(&text);
        let (message, hint) = (error.to_string(), error.hint());
        assert!(
            message.len() < 400 && hint.len() < 400,
            "{} bytes",
            message.len()
        );
        assert!(!message.chars().any(char::is_control), "{message:?}");
        assert!(!hint.chars().any(char::is_control), "{hint:?}");
    }
}

#[test]
fn what_a_plan_needs_is_checked_as_well() {
    check_lines(
        "[spring]",
        "
arm_length_mm = 0.12 => looks like metres
pivot_ahead_mm = 0.134 => looks like metres
swung_back_deg = 3 => is not between 20 and 200 degrees
",
    );
    check_lines("[finish]", "rolled_mm = 6.1 => looks like metres");
    let both = "needs `force_n` or `balance_g`, and not both";
    for forces in ["", "force_n = 2\nbalance_g = 200\n"] {
        let text =
            format!("{STICKER}[[spring_reading]]\nswung_deg = 45\nheld_at_mm = 120\n{forces}");
        assert!(refused(&text).to_string().contains(both), "{forces}");
    }
    let nowhere = format!("{STICKER}[[spring_reading]]\nswung_deg = 45\nforce_n = 2\n");
    assert!(refused(&nowhere).to_string().contains("where on the arm"));
    assert!(is_accepted(&format!("{nowhere}held_at_mm = 120\n")));
    assert!(is_accepted(&format!(
        "{nowhere}[spring]\narm_length_mm = 120\n"
    )));
}

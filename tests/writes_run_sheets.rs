//! The text of a run sheet that the set-up page writes: read back it says what was typed, and what the page
//! does not know of is still there.

#![allow(clippy::unwrap_used, clippy::panic, reason = "tests fail by panicking")]

use gripline::colour::Colour;
use gripline::setup_page::{At, Draft, Part, check, sheet_text};
use gripline::sheet::{RunSheet, Side};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::path::Path;

const PATH: &str = "run.toml";

fn text(base: Option<&str>, draft: &Draft) -> String {
    let made = sheet_text(base, draft).unwrap();
    assert_eq!(made.no_numbers, []);
    made.text
}

fn read(text: &str) -> RunSheet {
    RunSheet::parse(text, Path::new(PATH)).unwrap_or_else(|error| panic!("{error}\n{text}"))
}

/// A number as someone types it, and its value: up to two decimals, a point or a comma, spaces about.
fn typed(random: &mut ChaCha8Rng, from: f64, to: f64) -> (String, f64) {
    let steps = 10_f64.powi(random.random_range(0..3));
    let value = (random.random_range(from..to) * steps).round() / steps;
    let mut text = value.to_string();
    if random.random_bool(0.3) {
        text = text.replace('.', ",");
    }
    if random.random_bool(0.2) {
        text = format!("  {text} ");
    }
    (text, value)
}

fn colour(random: &mut ChaCha8Rng) -> Colour {
    Colour::ALL[random.random_range(0..Colour::ALL.len())]
}

/// Key, range in the file's unit, and its value in a sheet that was read.
type Size = (&'static str, f64, f64, fn(&RunSheet) -> Option<f64>);

const CAR: [Size; 7] = [
    ("wheel_diameter_mm", 60.0, 300.0, |s| s.car.wheel_diameter_m),
    ("wheelbase_mm", 50.0, 900.0, |s| s.car.wheelbase_m),
    ("track_width_mm", 300.0, 900.0, |s| s.car.track_width_m),
    ("axle_diameter_mm", 2.0, 20.0, |s| s.car.axle_diameter_m),
    ("string_mm", 50.0, 2000.0, |s| s.car.string_m),
    ("mass_g", 20.0, 2000.0, |s| s.car.mass_kg),
    ("driven_share", 100.0, 900.0, |s| s.car.driven_share),
];
const STICKER: [Size; 3] = [
    ("height_mm", 5.0, 500.0, |s| s.sticker.height_m),
    ("ahead_mm", -500.0, -1.0, |s| s.sticker.ahead_m),
    ("off_centre_mm", 1.0, 300.0, |s| s.sticker.off_centre_m),
];

/// A draft in which about half of all sizes are typed, and what each must come out as, SI.
fn some_draft(random: &mut ChaCha8Rng) -> (Draft, Vec<(Size, Option<f64>)>) {
    let mut draft = Draft::default();
    let mut expected = Vec::new();
    for size in CAR.into_iter().chain(STICKER) {
        let (key, from, to, _) = size;
        let share = key == "driven_share";
        let part = if CAR.iter().any(|own| own.0 == key) {
            &mut draft.car
        } else {
            &mut draft.sticker
        };
        let mut value = None;
        if random.random_bool(0.5) {
            let (text, number) = typed(random, from, to);
            let text = if share {
                (number / 1000.0).to_string()
            } else {
                text
            };
            value = Some(number / 1000.0);
            *part = part.clone().with(key, text);
        }
        expected.push((size, value));
    }
    draft.sticker = draft.sticker.with("colour", colour(random).as_str());
    draft.car = draft
        .car
        .with("name", "No. 7 \u{201c}q\u{201d} # \" \\ ")
        .with("facing_side", "left");
    for row in 0..random.random_range(0..9) {
        let (x, x_mm) = typed(random, -900.0, 900.0);
        let at = random.random_bool(0.5).then(|| At {
            u_px: 10.25 * f64::from(row),
            v_px: 400.5,
            at_s: 0.25,
        });
        // Half a metre apart along y, so that no two share a place.
        let y_mm = 500.0 * f64::from(row);
        let mut part = Part::default()
            .with("colour", colour(random).as_str())
            .with("x_mm", x);
        part = part.with("y_mm", y_mm.to_string());
        part.at = at;
        draft.floor_marks.push(part);
        assert!(x_mm.abs() <= 900.0);
    }
    (draft, expected)
}

fn number(part: &Part, key: &str) -> f64 {
    part.text(key).replace(',', ".").parse().unwrap()
}

#[track_caller]
fn says_what_was_typed(sheet: &RunSheet, draft: &Draft, expected: &[(Size, Option<f64>)]) {
    for ((key, _, _, get), value) in expected {
        let got = get(sheet);
        let same = match (got, *value) {
            (Some(got), Some(value)) => (got - value).abs() < 1e-12,
            (got, value) => got == value,
        };
        assert!(same, "{key}: {got:?} for {value:?}");
    }
    assert_eq!(sheet.sticker.colour.as_str(), draft.sticker.text("colour"));
    assert_eq!(sheet.car.name.as_deref(), Some(draft.car.text("name")));
    assert_eq!(sheet.car.facing_side, Some(Side::Left));
    assert_eq!(sheet.floor_marks.len(), draft.floor_marks.len());
    for (mark, part) in sheet.floor_marks.iter().zip(&draft.floor_marks) {
        assert_eq!(mark.colour.as_str(), part.text("colour"));
        assert_eq!(mark.x_m, number(part, "x_mm") / 1000.0);
        assert_eq!(mark.y_m, number(part, "y_mm") / 1000.0);
        let at = part.at.map(|at| (at.u_px, at.v_px, Some(at.at_s)));
        assert_eq!(mark.pointed.map(|p| (p.u_px, p.v_px, p.at_s)), at);
    }
}

/// A sheet with all that a careful person puts into one, and with keys that the page does not know.
const BASE: &str = r#"# Club evening, third try
car.name = "Old" # the car's name
car.mass_g = 190    # kitchen scale

[sticker] # on the left wing
colour = 'orange'
# measured with the long ruler
height_mm = 70.00
at_px = [ 12, 34 ]
at_s = 0.5

[[wheel_mark]]
colour = "green" # the near one
[[wheel_mark]]
colour = "yellow"
angle_deg = 180

# the corner by the door
[[floor_mark]]
colour = "blue"
x_mm = 0 # here
y_mm = -300.0
[[floor_mark]]
colour = "blue" # a "quoted # hash"
x_mm = 2_000
y_mm = -300

[end_view]
height_mm = 66 # a sticker at the back

[change]
note = "new string # 2"
# the end
"#;

const COMMENTS: [&str; 10] = [
    "# Club evening, third try",
    "# the car's name",
    "# kitchen scale",
    "# on the left wing",
    "# measured with the long ruler",
    "# the near one",
    "# the corner by the door",
    "# here",
    "# a sticker at the back",
    "# the end",
];

#[test]
fn what_was_typed_is_read_back_as_typed() {
    let mut random = ChaCha8Rng::seed_from_u64(7);
    for _ in 0..200 {
        let (mut draft, expected) = some_draft(&mut random);
        draft.end_view = Part::default().with("height_mm", "66,5");
        says_what_was_typed(&read(&text(None, &draft)), &draft, &expected);
        // Over a sheet that was there, and once more over what came out of that.
        let over = text(Some(BASE), &draft);
        says_what_was_typed(&read(&over), &draft, &expected);
        assert_eq!(text(Some(&over), &Draft::read(&over).unwrap()), over);
        for comment in COMMENTS {
            assert!(over.contains(comment), "{comment} is not in\n{over}");
        }
        let sheet = read(&over);
        assert_eq!(sheet.end_view.and_then(|end| end.height_m), Some(0.0665));
        assert_eq!(sheet.change_note.as_deref(), Some("new string # 2"));
    }
}

#[test]
fn a_sheet_that_nobody_changed_stays_as_it_is() {
    let draft = Draft::read(BASE).unwrap();
    assert_eq!(text(Some(BASE), &draft), BASE);
    assert_eq!(draft.floor_marks[1].text("x_mm"), "2000");
    assert_eq!(
        draft.sticker.at,
        Some(At {
            u_px: 12.0,
            v_px: 34.0,
            at_s: 0.5
        })
    );
}

#[test]
fn one_change_changes_one_line() {
    let mut draft = Draft::read(BASE).unwrap();
    draft.sticker = draft.sticker.with("height_mm", "71,5");
    let changed = text(Some(BASE), &draft);
    assert_eq!(changed, BASE.replace("70.00", "71.5"));
    draft.floor_marks.remove(0);
    draft.wheel_mark = None;
    let less = text(Some(BASE), &draft);
    let sheet = read(&less);
    assert_eq!(sheet.floor_marks.len(), 1);
    assert_eq!(sheet.floor_marks[0].x_m, 2.0);
    assert_eq!(
        sheet.wheel_marks.len(),
        1,
        "the mark that the page does not show stays"
    );
    for comment in COMMENTS {
        assert!(less.contains(comment), "{comment} is not in\n{less}");
    }
}

#[test]
fn a_second_wheel_mark_makes_a_list_and_the_first_keeps_its_place() {
    let base = "[sticker]\ncolour = 'red'\n\n[wheel_mark] # by the gluer\ncolour = 'green'\nradius_mm = 30 # ruler\n";
    let mut draft = Draft::read(base).unwrap();
    let second = Part::default().with("colour", "yellow");
    draft.more_wheel_marks.push(second);
    let two = text(Some(base), &draft);
    assert!(two.contains("radius_mm = 30 # ruler"), "{two}");
    let colours = |text: &str| -> Vec<String> {
        let marks = read(text).wheel_marks;
        marks.iter().map(|mark| mark.colour.to_string()).collect()
    };
    assert_eq!(colours(&two), ["green", "yellow"]);
    // Read again, the first goes: the second is the wheel's mark then, and the first's words stay.
    let mut again = Draft::read(&two).unwrap();
    assert_eq!(again.more_wheel_marks.len(), 1);
    again.wheel_mark = Some(again.more_wheel_marks.remove(0));
    let one = text(Some(&two), &again);
    assert_eq!(colours(&one), ["yellow"]);
    assert!(one.contains("# ruler"), "{one}");
    let inline = "sticker = { colour = 'red' }\nwheel_mark = [{ colour = 'green', radius_mm = 30 }, { colour = 'blue' }]\n";
    let mut draft = Draft::read(inline).unwrap();
    draft.more_wheel_marks[0] = draft.more_wheel_marks[0].clone().with("colour", "cyan");
    assert_eq!(
        text(Some(inline), &draft),
        inline.replace("'blue'", "\"cyan\"")
    );
}

#[test]
fn inline_tables_are_changed_where_they_stand() {
    let base = "sticker = { colour = 'red', height_mm = 60 } # inline\nfloor_mark = [\n  { colour = 'blue', x_mm = 0, y_mm = 0 }, # first\n  { colour = 'blue', x_mm = 500, y_mm = 0 },\n]\n";
    let mut draft = Draft::read(base).unwrap();
    draft.sticker = draft.sticker.with("height_mm", "61");
    draft.floor_marks[1] = draft.floor_marks[1].clone().with("x_mm", "510");
    let changed = text(Some(base), &draft);
    let sheet = read(&changed);
    assert_eq!(sheet.sticker.height_m, Some(0.061));
    assert_eq!(sheet.floor_marks[1].x_m, 0.51);
    assert!(
        changed.contains("# inline") && changed.contains("# first"),
        "{changed}"
    );
}

#[test]
fn faults_of_a_sheet_on_disk_are_told_by_field() {
    let base =
        "[sticker]\ncolour = 'magenta'\n[car]\nwheel_diameter_mm = 0.11\nwheelbase_mm = 240\n";
    let draft = Draft::read(base).unwrap();
    let checked = check(Some(base), &draft, Path::new(PATH)).unwrap();
    let fields: Vec<&str> = checked
        .faults
        .iter()
        .map(|fault| fault.field.as_str())
        .collect();
    assert_eq!(fields, ["car.wheel_diameter_mm"]);
    assert_eq!(checked.sheet.unwrap().car.wheelbase_m, Some(0.24));
    let stranger = "[sticker]\ncolour = 'magenta'\n[car]\nwheel_size = 110\n";
    let checked = check(
        Some(stranger),
        &Draft::read(stranger).unwrap(),
        Path::new(PATH),
    )
    .unwrap();
    assert!(
        checked.faults[0].says.contains("wheel_size"),
        "{:?}",
        checked.faults
    );
    assert_eq!(checked.sheet, None);
}

//! Reading and accepting; what is refused stands in `tests/refuses_bad_sheets.rs`.

use super::*;

fn parse(text: &str) -> RunSheet {
    RunSheet::parse(text, Path::new("run.toml")).unwrap_or_else(|error| panic!("{error}"))
}

#[test]
fn a_colour_alone_is_a_sheet() {
    let sheet = parse("[sticker]\ncolour = \"magenta\"\n");
    let sticker = Sticker {
        colour: Colour::Magenta,
        height_m: None,
        ahead_m: None,
        off_centre_m: None,
        pointed: None,
    };
    let expected = RunSheet {
        car: Car::default(),
        sticker,
        wheel_marks: Vec::new(),
        axle_mark: None,
        floor_marks: Vec::new(),
        floor_surface: None,
        aim: None,
        camera: CameraNotes::default(),
        end_view: None,
        spring: Spring::default(),
        spring_readings: Vec::new(),
        rolled_m: None,
        change_note: None,
        written: "[sticker]\ncolour = \"magenta\"".parse().unwrap(),
        from_kit: Vec::new(),
        doubts: Vec::new(),
    };
    assert_eq!(sheet, expected);
}

#[test]
fn a_kit_user_needs_four_lines() {
    let text = "[car]\nwheel_diameter_mm = 96\nwheelbase_mm = 215\ntrack_width_mm = 126\n\
                [sticker]\nheight_mm = 96\n";
    let sheet = parse(text);
    assert_eq!(sheet.sticker.colour, kit::STICKER);
    assert_eq!(sheet.sticker.height_m, Some(0.096));
    assert_eq!(sheet.from_kit, [KitPart::StickerColour]);
    // Marks that the sheet does not name are not on it: whether the kit's are there, the clip must show.
    assert!(sheet.wheel_marks.is_empty() && sheet.floor_marks.is_empty() && sheet.aim.is_none());
}

#[test]
fn a_mark_without_a_colour_has_the_kits() {
    let text = "[[wheel_mark]]\nradius_mm = 30\n[axle_mark]\n[end_view]\nheight_mm = 130\n\
                [[floor_mark]]\nx_mm = 0\ny_mm = 0\n[[floor_mark]]\nx_mm = 900\ny_mm = 0\n";
    let sheet = parse(text);
    let expected = [
        KitPart::WheelMarkColour,
        KitPart::AxleMarkColour,
        KitPart::FloorMarkColour,
        KitPart::StickerColour,
        KitPart::EndStickerColour,
    ];
    assert_eq!(sheet.from_kit, expected);
    assert_eq!(sheet.wheel_marks[0].colour, Colour::Green);
    assert_eq!(
        sheet.axle_mark.as_ref().map(|m| m.colour),
        Some(Colour::Orange)
    );
    assert_eq!(sheet.floor_marks[1].colour, Colour::Blue);
    assert_eq!(sheet.for_end_view().sticker.colour, Colour::Cyan);
    for part in &sheet.from_kit {
        assert!(
            part.note().to_string().contains(part.colour().as_str()),
            "{}",
            part.note().to_string()
        );
    }
}

#[test]
fn a_named_sticker_lends_its_colour_to_the_second_phone() {
    let sheet = parse("[sticker]\ncolour = 'red'\n[end_view]\nheight_mm = 130\n");
    assert_eq!(sheet.for_end_view().sticker.colour, Colour::Red);
    assert!(sheet.from_kit.is_empty());
}

const EVERY_KEY: &str = "
[car]
name = ' No. 7 '
treatment = 'bare'
wheel_diameter_mm = 110
wheelbase_mm = 240.0
track_width_mm = 120
facing_side = 'Right'
axle_diameter_mm = 5
string_mm = 420
string_diameter_mm = 0.8
mass_g = 190
driven_share = 0.6
[sticker]
colour = 'magenta'
height_mm = 70
ahead_mm = -90
off_centre_mm = 0
at_px = [320.5, 240]
at_s = 0.25
[wheel_mark]
colour = 'green'
radius_mm = 42
angle_deg = -90
[axle_mark]
colour = 'orange'
at_px = [1, 2]
[floor]
surface = 'clubhouse lino'
[aim]
from_mm = [0, 0]
to_mm = [4000.0, -250]
[camera]
capture_fps = 240
readout_ms = 16
k1 = -0.05
[end_view]
colour = 'cyan'
height_mm = 130
ahead_mm = -12
off_centre_mm = 0
capture_fps = 120
readout_ms = 8
k1 = 0.01
[change]
note = 'new strip'
[[floor_mark]]
colour = 'blue'
x_mm = 0
y_mm = -300
[[floor_mark]]
colour = 'red'
x_mm = 2000
y_mm = 300
at_px = [9.5, -0.5]
";

#[test]
fn a_sticker_may_sit_a_fraction_of_a_millimetre_off_the_middle() {
    let sheet = parse("[sticker]\ncolour = 'magenta'\noff_centre_mm = -0.2\n");
    let off_m = sheet.sticker.off_centre_m.unwrap();
    assert!((off_m + 0.000_2).abs() < 1e-12 && sheet.doubts.is_empty());
}

#[test]
fn the_car_arrives_in_si_units() {
    let sheet = parse(EVERY_KEY);
    let car = Car {
        name: Some("No. 7".to_string()),
        treatment: Some("bare".to_string()),
        wheel_diameter_m: Some(0.11),
        wheelbase_m: Some(0.24),
        track_width_m: Some(0.12),
        facing_side: Some(Side::Right),
        axle_diameter_m: Some(0.005),
        string_m: Some(0.42),
        string_diameter_m: Some(0.000_8),
        mass_kg: Some(0.19),
        driven_share: Some(0.6),
    };
    assert_eq!(sheet.car, car);
}

#[test]
fn the_marks_arrive_in_si_units() {
    let sheet = parse(EVERY_KEY);
    let sticker = Sticker {
        colour: Colour::Magenta,
        height_m: Some(0.07),
        ahead_m: Some(-0.09),
        off_centre_m: Some(0.0),
        pointed: Some(Pointed {
            u_px: 320.5,
            v_px: 240.0,
            at_s: Some(0.25),
        }),
    };
    assert_eq!(sheet.sticker, sticker);
    let wheel_mark = WheelMark {
        colour: Colour::Green,
        radius_m: Some(0.042),
        angle_rad: Some(-std::f64::consts::FRAC_PI_2),
        pointed: None,
    };
    assert_eq!(sheet.wheel_marks, [wheel_mark]);
    let axle_pointed = Some(Pointed {
        u_px: 1.0,
        v_px: 2.0,
        at_s: None,
    });
    let axle_mark = AxleMark {
        colour: Colour::Orange,
        pointed: axle_pointed,
    };
    assert_eq!(sheet.axle_mark, Some(axle_mark));
    assert_eq!(sheet.floor_marks.len(), 2);
    assert_eq!(
        (sheet.floor_marks[0].x_m, sheet.floor_marks[0].y_m),
        (0.0, -0.3)
    );
    assert_eq!(sheet.floor_marks[1].colour, Colour::Red);
    let pointed = Some(Pointed {
        u_px: 9.5,
        v_px: -0.5,
        at_s: None,
    });
    assert_eq!(sheet.floor_marks[1].pointed, pointed);
}

#[test]
fn the_rest_arrives_in_si_units() {
    let sheet = parse(EVERY_KEY);
    let aim = Aim {
        from_m: [0.0, 0.0],
        to_m: [4.0, -0.25],
    };
    assert_eq!(sheet.aim, Some(aim));
    let camera = CameraNotes {
        capture_fps: Some(240.0),
        readout_s: Some(0.016),
        k1: Some(-0.05),
    };
    assert_eq!(sheet.camera, camera);
    assert_eq!(sheet.change_note.as_deref(), Some("new strip"));
}

#[test]
fn a_wheel_may_carry_a_list_of_marks() {
    let sheet = parse(
        "[sticker]\ncolour = 'red'\n[[wheel_mark]]\ncolour = 'green'\n\
         [[wheel_mark]]\ncolour = 'blue'\nangle_deg = 180\n",
    );
    let colours: Vec<_> = sheet.wheel_marks.iter().map(|mark| mark.colour).collect();
    assert_eq!(colours, [Colour::Green, Colour::Blue]);
    assert_eq!(sheet.wheel_marks[1].angle_rad, Some(std::f64::consts::PI));
}

#[test]
fn files_from_other_editors_are_read() {
    let sheet = parse("\u{feff}[sticker]\r\ncolour = \"cyan\" # as printed\r\n");
    assert_eq!(sheet.sticker.colour, Colour::Cyan);
}

#[test]
fn inline_and_dotted_forms_are_read() {
    let sheet = parse("sticker.colour = 'red'\ncar = { mass_g = 1_90 }\n");
    assert_eq!(sheet.car.mass_kg, Some(0.19));
}

#[test]
fn a_text_of_spaces_is_no_text() {
    let sheet = parse("[sticker]\ncolour = 'red'\n[car]\nname = '  '\n");
    assert_eq!(sheet.car.name, None);
}

#[test]
fn the_example_sheet_says_what_its_comments_say() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/example-run.toml");
    let sheet = RunSheet::read(&path).unwrap_or_else(|error| panic!("{error}"));
    assert_eq!(sheet.car.treatment.as_deref(), Some("inner-tube strip"));
    assert_eq!(sheet.car.wheel_diameter_m, Some(0.11));
    assert_eq!(sheet.sticker.colour, Colour::Magenta);
    assert_eq!(sheet.wheel_marks.len(), 1);
    assert_eq!(sheet.floor_marks.len(), 4);
    assert_eq!(
        sheet.aim,
        Some(Aim {
            from_m: [0.0, 0.0],
            to_m: [4.0, 0.0]
        })
    );
    assert!(sheet.change_note.is_some());
}

#[test]
fn files_that_are_no_sheet_are_refused() {
    let folder = tempfile::tempdir().unwrap();
    let refused = |name: &str, bytes: Option<&[u8]>| {
        let path = folder.path().join(name);
        if let Some(bytes) = bytes {
            std::fs::write(&path, bytes).unwrap();
        }
        RunSheet::read(&path).unwrap_err()
    };
    let missing = refused("missing.toml", None);
    assert!(matches!(missing.problem(), Problem::Unreadable { .. }));
    assert!(
        missing
            .to_string()
            .contains("missing.toml`: cannot read it"),
        "{missing}"
    );
    assert!(
        missing.hint().contains("check the name"),
        "{}",
        missing.hint()
    );

    let latin1 = refused("latin1.toml", Some(b"[sticker]\ncolour = 'red' # f\xfcr\n"));
    assert!(matches!(latin1.problem(), Problem::NotUtf8));
    assert_eq!(latin1.line(), Some(2));

    let large = refused("large.toml", Some(&vec![b'#'; MAX_SHEET_BYTES + 1]));
    assert!(matches!(large.problem(), Problem::TooLarge));
    assert_eq!(large.line(), None);

    let directory = RunSheet::read(folder.path()).unwrap_err();
    assert!(
        matches!(directory.problem(), Problem::Unreadable { .. }),
        "{directory}"
    );
}

#[test]
fn the_largest_sheet_allowed_is_read() {
    let mut text = "[sticker]\ncolour = 'red'\n#".to_string();
    text.push_str(&"x".repeat(MAX_SHEET_BYTES - text.len()));
    assert_eq!(parse(&text).sticker.colour, Colour::Red);
    text.push('x');
    let error = RunSheet::parse(&text, Path::new("run.toml")).unwrap_err();
    assert!(matches!(error.problem(), Problem::TooLarge));
}

#[test]
fn the_second_phone_sees_its_own_sticker_and_the_same_floor() {
    let sheet = parse(EVERY_KEY);
    let camera = CameraNotes {
        capture_fps: Some(120.0),
        readout_s: Some(0.008),
        k1: Some(0.01),
    };
    let end = EndView {
        colour: Some(Colour::Cyan),
        height_m: Some(0.13),
        ahead_m: Some(-0.012),
        off_centre_m: Some(0.0),
        camera,
    };
    assert_eq!(sheet.end_view, Some(end));
    let seen = sheet.for_end_view();
    let sticker = Sticker {
        colour: Colour::Cyan,
        height_m: Some(0.13),
        ahead_m: Some(-0.012),
        off_centre_m: Some(0.0),
        pointed: None,
    };
    assert_eq!(seen.sticker, sticker);
    assert_eq!(seen.camera, camera);
    assert_eq!((&seen.car, &seen.aim), (&sheet.car, &sheet.aim));
    assert_eq!(seen.floor_marks[1].x_m, 2.0);
    assert!(seen.floor_marks.iter().all(|mark| mark.pointed.is_none()));
}

#[test]
fn what_the_second_phone_leaves_out_is_the_side_s_sticker_but_not_its_camera() {
    let sheet = parse(
        "[sticker]\ncolour = 'red'\nheight_mm = 70\nahead_mm = 20\n[camera]\ncapture_fps = 240\n\
         [end_view]\nheight_mm = 90\n",
    );
    let seen = sheet.for_end_view();
    assert_eq!(seen.sticker.colour, Colour::Red);
    assert_eq!(seen.sticker.height_m, Some(0.09));
    assert_eq!(seen.sticker.ahead_m, Some(0.02));
    assert_eq!(seen.camera, CameraNotes::default());
    let plain = parse("[sticker]\ncolour = 'red'\n").for_end_view();
    assert_eq!(plain.sticker.colour, Colour::Red);
}

#[test]
fn a_sheet_can_be_laid_over_another() {
    let folder = tempfile::tempdir().unwrap();
    let own = folder.path().join("run7.toml");
    let common = parse(EVERY_KEY);
    let lay = |text: &str| {
        std::fs::write(&own, text).unwrap();
        common.with(&own)
    };
    let sheet =
        lay("[car]\ntreatment = 'silicone bead'\nmass_g = 205\n[wheel_mark]\nat_px = [3, 4]\n")
            .unwrap();
    assert_eq!(sheet.car.treatment.as_deref(), Some("silicone bead"));
    assert_eq!(sheet.car.mass_kg, Some(0.205));
    assert_eq!(sheet.car.name.as_deref(), Some("No. 7"), "the rest stays");
    assert_eq!(sheet.wheel_marks[0].radius_m, Some(0.042));
    assert_eq!(sheet.wheel_marks[0].pointed.unwrap().v_px, 4.0);
    assert_eq!(sheet.floor_marks, common.floor_marks);
    assert_eq!(lay("").unwrap(), common, "nothing changes nothing");
    let marks = "[[floor_mark]]\ncolour = 'blue'\nx_mm = 0\ny_mm = 0\n";
    assert_eq!(
        lay(marks).unwrap().floor_marks.len(),
        1,
        "lists are replaced"
    );

    // Faults of the file itself are told with its own lines.
    let error = lay("[car]\n\ntretment = 'x'\n").unwrap_err();
    assert_eq!((error.line(), error.path()), (Some(3), own.as_path()));
    assert!(error.to_string().contains("`treatment`"), "{error}");
    // A radius that only the other sheet's diameter makes too large has no line.
    let error = lay("[wheel_mark]\nradius_mm = 70\n").unwrap_err();
    assert_eq!(error.line(), None, "{error}");
    assert!(
        matches!(error.problem(), Problem::Conflict { .. }),
        "{error}"
    );
    assert!(common.with(&folder.path().join("none.toml")).is_err());
}

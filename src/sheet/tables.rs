//! From the tables of a run sheet to its plain types, and the checks between them.

use toml::de::DeTable;

use super::error::Problem;
use super::kit::{self, KitPart};
use super::section::{Faults, Section};
use super::spring::{Spring, spring, spring_readings};
use super::unknown::TOP;
use crate::colour::Colour;
use crate::texts::Note;

use super::{
    Aim, AxleMark, CameraNotes, Car, EndView, FloorMark, Pointed, RunSheet, Side, Sticker,
    WheelMark,
};

/// Floor marks, or the ends of the aim line, that all lie within this are metres by mistake.
const MIN_FLOOR_SPAN_M: f64 = 0.050;
/// Two floor marks nearer than this are one.
const SAME_PLACE_M: f64 = 0.001;
/// More marks than anyone lays out; keeps the pairwise check small.
const MAX_FLOOR_MARKS: usize = 200;
/// More marks than fit a wheel so that they can be told apart.
const MAX_WHEEL_MARKS: usize = 16;

const SIDES: [(&str, Side); 2] = [("left", Side::Left), ("right", Side::Right)];

/// The sheet. What is wrong is noted in `faults`; then the sheet is good for nothing.
pub(super) fn sheet(document: &DeTable<'_>, faults: &mut Faults) -> RunSheet {
    let top = Section::new(TOP, document, 0, faults);
    let mut from_kit = Vec::new();
    let car = top
        .section("car", faults)
        .map_or_else(Car::default, |s| car(&s, faults));
    let wheel_marks = wheel_marks(&top, &car, &mut from_kit, faults);
    let axle_mark = top
        .section("axle_mark", faults)
        .map(|s| axle_mark(&s, &mut from_kit, faults));
    let floor_marks = floor_marks(&top, &mut from_kit, faults);
    let floor_surface = top
        .section("floor", faults)
        .and_then(|s| s.text("surface", faults));
    let aim = top.section("aim", faults).and_then(|s| aim(&s, faults));
    let camera = top
        .section("camera", faults)
        .map(|s| camera(&s, faults))
        .unwrap_or_default();
    let end_view = top
        .section("end_view", faults)
        .map(|s| end_view(&s, faults));
    let spring = top
        .section("spring", faults)
        .map_or_else(Spring::default, |s| spring(&s, faults));
    let spring_readings = spring_readings(&top, &spring, faults);
    let rolled_m = top
        .section("finish", faults)
        .and_then(|s| s.number("rolled_mm", faults));
    let change_note = change_note(&top, faults);
    let sticker = if let Some(section) = top.section("sticker", faults) {
        sticker(&section, &mut from_kit, faults)
    } else {
        from_kit.push(KitPart::StickerColour);
        kit::sticker()
    };
    let mut sheet = RunSheet {
        car,
        sticker,
        wheel_marks,
        axle_mark,
        floor_marks,
        floor_surface,
        aim,
        camera,
        end_view,
        spring,
        spring_readings,
        rolled_m,
        change_note,
        written: toml::Table::new(),
        from_kit,
        doubts: Vec::new(),
    };
    end_sticker_colour(&mut sheet);
    check_sticker(&sheet, &top, faults);
    sheet.doubts = faults.take_doubts();
    sheet.doubts.extend(many_turns(&sheet.car));
    sheet
}

fn change_note(top: &Section<'_>, faults: &mut Faults) -> Option<String> {
    let section = top.section("change", faults)?;
    section.text("note", faults)
}

/// Notes a sticker that would float beside the car: farther from its middle than the wheels are from each
/// other.
fn check_sticker(sheet: &RunSheet, top: &Section<'_>, faults: &mut Faults) {
    let (Some(off_m), Some(width_m)) = (sheet.sticker.off_centre_m, sheet.car.track_width_m) else {
        return;
    };
    if off_m.abs() <= width_m {
        return;
    }
    let what = format!(
        "the sticker's `off_centre_mm = {}` is far outside the car, whose wheels reach {} mm from its middle",
        in_mm(off_m),
        in_mm(width_m / 2.0)
    );
    let hint = "off_centre_mm is from the car's middle line towards the camera; track_width_mm is from outer face to \
                outer face: measure both again";
    let at = top.place_below("sticker", "off_centre_mm");
    faults.add(at, Problem::Conflict { what, hint });
}

/// More turns than this are wound on no axle in one layer: 60 turns of a 1 mm string lie 60 mm wide.
const MOST_TURNS: f64 = 60.0;

/// String and axle that are possible alone, and together give more turns than anyone winds.
fn many_turns(car: &Car) -> Option<Note> {
    let (string_m, axle_m) = car.string_m.zip(car.axle_diameter_m)?;
    let turns = string_m / (std::f64::consts::PI * axle_m);
    (turns > MOST_TURNS).then(|| {
        Note::new("doubt-turns")
            .words("string", in_mm(string_m).to_string())
            .words("axle", in_mm(axle_m).to_string())
            .number("turns", turns, 0)
    })
}

/// The end-view sticker is the kit's where the sticker on the side is and a table for the second phone
/// names no colour; else it is as on the side.
fn end_sticker_colour(sheet: &mut RunSheet) {
    if let Some(end) = &mut sheet.end_view
        && end.colour.is_none()
        && sheet.from_kit.contains(&KitPart::StickerColour)
    {
        end.colour = Some(kit::END_STICKER);
        sheet.from_kit.push(KitPart::EndStickerColour);
    }
}

fn car(section: &Section<'_>, faults: &mut Faults) -> Car {
    let car = Car {
        name: section.text("name", faults),
        treatment: section.text("treatment", faults),
        wheel_diameter_m: section.number("wheel_diameter_mm", faults),
        wheelbase_m: section.number("wheelbase_mm", faults),
        track_width_m: section.number("track_width_mm", faults),
        facing_side: section.choice("facing_side", &SIDES, faults),
        axle_diameter_m: section.number("axle_diameter_mm", faults),
        string_m: section.number("string_mm", faults),
        string_diameter_m: section.number("string_diameter_mm", faults),
        mass_kg: section.number("mass_g", faults),
        driven_share: section.number("driven_share", faults),
    };
    if let (Some(axle_m), Some(wheel_m)) = (car.axle_diameter_m, car.wheel_diameter_m)
        && axle_m >= wheel_m
    {
        let what = format!(
            "the axle ({} mm) is not thinner than the wheel ({} mm)",
            in_mm(axle_m),
            in_mm(wheel_m)
        );
        let hint = "give both diameters, not radii, in millimetres";
        faults.add(
            section.place_of("axle_diameter_mm"),
            Problem::Conflict { what, hint },
        );
    }
    car
}

fn sticker(section: &Section<'_>, from_kit: &mut Vec<KitPart>, faults: &mut Faults) -> Sticker {
    Sticker {
        colour: colour(section, KitPart::StickerColour, from_kit, faults),
        height_m: section.number("height_mm", faults),
        ahead_m: section.number("ahead_mm", faults),
        off_centre_m: section.number("off_centre_mm", faults),
        pointed: pointed(section, faults),
    }
}

fn wheel_marks(
    top: &Section<'_>,
    car: &Car,
    from_kit: &mut Vec<KitPart>,
    faults: &mut Faults,
) -> Vec<WheelMark> {
    let sections = top.sections("wheel_mark", faults);
    if let Some(extra) = sections.get(MAX_WHEEL_MARKS) {
        faults.add(extra.at, too_many("wheel", MAX_WHEEL_MARKS));
    }
    let mark = |section: &Section<'_>| {
        let colour = colour(section, KitPart::WheelMarkColour, from_kit, faults);
        let radius_m = section.number("radius_mm", faults);
        if let (Some(radius_m), Some(wheel_m)) = (radius_m, car.wheel_diameter_m)
            && radius_m >= wheel_m / 2.0
        {
            let what = format!(
                "the wheel mark's `radius_mm = {}` is not inside the wheel, whose radius is {} mm",
                in_mm(radius_m),
                in_mm(wheel_m / 2.0)
            );
            let hint = "radius_mm is from the wheel's centre to the mark's; or leave it out";
            faults.add(
                section.place_of("radius_mm"),
                Problem::Conflict { what, hint },
            );
        }
        let angle_rad = section.number("angle_deg", faults);
        let pointed = pointed(section, faults);
        WheelMark {
            colour,
            radius_m,
            angle_rad,
            pointed,
        }
    };
    let marks: Vec<WheelMark> = sections.iter().take(MAX_WHEEL_MARKS).map(mark).collect();
    let twice = (1..marks.len()).find(|&index| {
        marks[..index]
            .iter()
            .any(|m| m.colour == marks[index].colour)
    });
    if let Some(index) = twice.filter(|_| sections.len() <= MAX_WHEEL_MARKS) {
        let what = format!(
            "two wheel marks are {}: they cannot be told from each other",
            marks[index].colour
        );
        let hint = "give each mark on the wheel a colour of its own";
        faults.add(
            sections[index].place_of("colour"),
            Problem::Conflict { what, hint },
        );
    }
    marks
}

fn axle_mark(section: &Section<'_>, from_kit: &mut Vec<KitPart>, faults: &mut Faults) -> AxleMark {
    AxleMark {
        colour: colour(section, KitPart::AxleMarkColour, from_kit, faults),
        pointed: pointed(section, faults),
    }
}

fn floor_marks(
    top: &Section<'_>,
    from_kit: &mut Vec<KitPart>,
    faults: &mut Faults,
) -> Vec<FloorMark> {
    let sections = top.sections("floor_mark", faults);
    if let Some(extra) = sections.get(MAX_FLOOR_MARKS) {
        faults.add(extra.at, too_many("floor", MAX_FLOOR_MARKS));
    }
    let mark = |section: &Section<'_>| {
        section.require("x_mm", faults);
        section.require("y_mm", faults);
        let colour = colour(section, KitPart::FloorMarkColour, from_kit, faults);
        let x_m = section.number("x_mm", faults);
        let y_m = section.number("y_mm", faults);
        let pointed = pointed(section, faults);
        Some((
            section.at,
            FloorMark {
                colour,
                x_m: x_m?,
                y_m: y_m?,
                pointed,
            },
        ))
    };
    let placed: Vec<(usize, FloorMark)> = sections
        .iter()
        .take(MAX_FLOOR_MARKS)
        .filter_map(mark)
        .collect();
    check_places(&placed, faults);
    placed.into_iter().map(|(_, mark)| mark).collect()
}

/// Notes floor marks that share a place, and sets of marks that must have been given in metres.
fn check_places(placed: &[(usize, FloorMark)], faults: &mut Faults) {
    let mut widest_m = 0.0_f64;
    let mut shared: Option<(usize, &FloorMark, f64)> = None;
    for (index, (at, mark)) in placed.iter().enumerate() {
        for (_, earlier) in placed.iter().take(index) {
            let apart_m = (mark.x_m - earlier.x_m).hypot(mark.y_m - earlier.y_m);
            if apart_m > widest_m {
                widest_m = apart_m;
            }
            if apart_m < SAME_PLACE_M && shared.is_none() {
                shared = Some((*at, mark, apart_m));
            }
        }
    }
    let metres_by_mistake = widest_m > 0.0 && widest_m < MIN_FLOOR_SPAN_M;
    match shared {
        Some((at, mark, apart_m)) if apart_m == 0.0 || !metres_by_mistake => {
            let (x_mm, y_mm) = (in_mm(mark.x_m), in_mm(mark.y_m));
            let what = format!("a second floor mark at x_mm = {x_mm}, y_mm = {y_mm}");
            let hint = "every floor mark has a place of its own: measure this one again";
            faults.add(at, Problem::Conflict { what, hint });
        }
        _ if metres_by_mistake => {
            let what = format!(
                "all floor marks lie within {:.1} mm of each other, which looks like metres; \
                 lengths here are millimetres",
                widest_m * 1000.0
            );
            let hint = "give x_mm and y_mm in millimetres: half a metre is 500";
            faults.add(
                placed.first().map_or(0, |(at, _)| *at),
                Problem::Conflict { what, hint },
            );
        }
        _ => {}
    }
}

fn aim(section: &Section<'_>, faults: &mut Faults) -> Option<Aim> {
    section.require("from_mm", faults);
    section.require("to_mm", faults);
    let from = section.pair("from_mm", faults);
    let to = section.pair("to_mm", faults);
    let aim = Aim {
        from_m: from?,
        to_m: to?,
    };
    let length_m = (aim.to_m[0] - aim.from_m[0]).hypot(aim.to_m[1] - aim.from_m[1]);
    if length_m < MIN_FLOOR_SPAN_M {
        let what = if length_m == 0.0 {
            "the aim line begins and ends at the same place".to_string()
        } else {
            format!(
                "an aim line of {:.1} mm looks like metres; lengths here are millimetres",
                length_m * 1000.0
            )
        };
        let hint = "give two points far apart on the line, in millimetres";
        faults.add(section.place_of("to_mm"), Problem::Conflict { what, hint });
    }
    Some(aim)
}

fn camera(section: &Section<'_>, faults: &mut Faults) -> CameraNotes {
    CameraNotes {
        capture_fps: section.number("capture_fps", faults),
        readout_s: section.number("readout_ms", faults),
        k1: section.number("k1", faults),
    }
}

fn end_view(section: &Section<'_>, faults: &mut Faults) -> EndView {
    EndView {
        colour: colour_if_any(section, faults),
        height_m: section.number("height_mm", faults),
        ahead_m: section.number("ahead_mm", faults),
        off_centre_m: section.number("off_centre_mm", faults),
        camera: camera(section, faults),
    }
}

/// The colour under `colour`, or that of the kit's part, which is then noted.
fn colour(
    section: &Section<'_>,
    part: KitPart,
    from_kit: &mut Vec<KitPart>,
    faults: &mut Faults,
) -> Colour {
    colour_if_any(section, faults).unwrap_or_else(|| {
        if !from_kit.contains(&part) {
            from_kit.push(part);
        }
        part.colour()
    })
}

fn colour_if_any(section: &Section<'_>, faults: &mut Faults) -> Option<Colour> {
    section.choice(
        "colour",
        &Colour::ALL.map(|colour| (colour.as_str(), colour)),
        faults,
    )
}

fn pointed(section: &Section<'_>, faults: &mut Faults) -> Option<Pointed> {
    let place = section.pair("at_px", faults);
    let at_s = section.number("at_s", faults);
    if section.has("at_s") {
        section.require("at_px", faults);
    }
    let [u_px, v_px] = place?;
    Some(Pointed { u_px, v_px, at_s })
}

/// Millimetres for a message: to the thousandth, so that no rounding noise shows.
fn in_mm(length_m: f64) -> f64 {
    (length_m * 1e6).round() / 1e3
}

fn too_many(kind: &str, most: usize) -> Problem {
    let what = format!("more than {most} {kind} marks");
    Problem::Conflict {
        what,
        hint: "keep the ones that the camera sees best",
    }
}

//! What the printed kit holds: the colours, sizes and places that stand in where a run sheet names none.
//!
//! One list for everybody: the page that prints the kit, the sheet that leaves its marks out, and the page
//! that writes a sheet all take their marks from here.

use super::{Aim, AxleMark, CameraNotes, Car, EndView, FloorMark, RunSheet, Sticker, WheelMark};
use crate::colour::Colour;
use crate::texts::Note;

/// The sticker on the body that faces the camera.
pub const STICKER: Colour = Colour::Magenta;
/// The mark on the driven wheel's outer face.
pub const WHEEL_MARK: Colour = Colour::Green;
/// The mark off the middle of a disc on the driven axle's end.
pub const AXLE_MARK: Colour = Colour::Orange;
/// The marks on the floor.
pub const FLOOR_MARK: Colour = Colour::Blue;
/// The sticker that faces a second phone.
pub const END_STICKER: Colour = Colour::Cyan;

/// What the printed kit and the set-up page call the sticker on the body, ...
pub const STICKER_LETTER: &str = "A";
/// ... the mark on the driven wheel, ...
pub const WHEEL_MARK_LETTER: &str = "B";
/// ... the mark on the axle's end, ...
pub const AXLE_MARK_LETTER: &str = "C";
/// ... and the sticker that faces a second phone.
pub const END_STICKER_LETTER: &str = "D";

/// What the printed kit and the set-up page call the floor mark of that number, which counts from 1.
pub fn floor_mark_name(number: usize) -> String {
    format!("F{number}")
}

/// A size of the car that everybody is asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct AskedSize {
    /// Its table of the run sheet.
    pub table: &'static str,
    /// Its key there.
    pub key: &'static str,
    /// What it is called on the kit, on the set-up page and in words of the tool.
    pub name: &'static str,
}

const fn asked(table: &'static str, key: &'static str, name: &'static str) -> AskedSize {
    AskedSize { table, key, name }
}

/// The five sizes that a run of the kit needs, in the order in which they are named everywhere.
pub const FIVE_SIZES: [AskedSize; 5] = [
    asked("car", "wheel_diameter_mm", "wheel diameter"),
    asked("car", "wheelbase_mm", "wheelbase"),
    asked("car", "track_width_mm", "track width"),
    asked("sticker", "height_mm", "sticker height"),
    asked("sticker", "off_centre_mm", "sticker's side offset"),
];

/// Diameters of the body stickers, mm. A phone's main camera that films 1920 columns sees about 1630 of them
/// for each unit of width over distance (a field of 61 degrees; `TYPICAL_FOCAL` in `known`), so that 1 mm at
/// 3 m is 0.54 px: 27 px, 22 px and 16 px. A disc of 20 px is placed to a few hundredths of a pixel.
pub const STICKER_DIAMETERS_MM: [f64; 3] = [50.0, 40.0, 30.0];
/// Diameters of the wheel marks, mm: 16 px, 13 px and 10 px at 3 m. The smallest is for wheels of 60 mm.
pub const WHEEL_MARK_DIAMETERS_MM: [f64; 3] = [30.0, 24.0, 18.0];
/// Diameter of the axle mark, mm.
pub const AXLE_MARK_DIAMETER_MM: f64 = 16.0;
/// Distance of the axle mark from the middle of its disc, mm.
pub const AXLE_MARK_OFF_MIDDLE_MM: f64 = 11.0;
/// Diameter of a floor mark, mm: from 3 m away and 0.75 m up it is seen 44 px wide and 11 px high.
pub const FLOOR_MARK_DIAMETER_MM: f64 = 80.0;

/// Places of the floor marks, mm: x ahead of the start along the aim line, y to the left. The first four are
/// the corners of a rectangle, which a tape measure lays out by its sides and its diagonal; the last two lie
/// half-way along its long sides and may be left out.
pub const FLOOR_PLAN_MM: [[f64; 2]; 6] = [
    [0.0, -300.0],
    [2000.0, -300.0],
    [2000.0, 300.0],
    [0.0, 300.0],
    [1000.0, -300.0],
    [1000.0, 300.0],
];
/// Length of the rectangle along the aim line, mm.
pub const FLOOR_PLAN_LENGTH_MM: f64 = 2000.0;
/// Width of the rectangle, mm.
pub const FLOOR_PLAN_WIDTH_MM: f64 = 600.0;
/// The aim line runs down the rectangle's middle, mm.
pub const AIM_MM: [[f64; 2]; 2] = [[0.0, 0.0], [FLOOR_PLAN_LENGTH_MM, 0.0]];

/// Diagonal of the floor plan, mm: equal diagonals make square corners.
pub fn floor_plan_diagonal_mm() -> f64 {
    FLOOR_PLAN_LENGTH_MM.hypot(FLOOR_PLAN_WIDTH_MM)
}

/// Something that a sheet may leave to the kit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum KitPart {
    /// The colour of the sticker on the body.
    StickerColour,
    /// The colour of a wheel mark that the sheet names without one.
    WheelMarkColour,
    /// The colour of an axle mark that the sheet names without one.
    AxleMarkColour,
    /// The colour of floor marks that the sheet names without one.
    FloorMarkColour,
    /// The colour of the sticker that faces a second phone.
    EndStickerColour,
    /// The whole wheel mark.
    WheelMark,
    /// The floor marks with their places, and the aim line.
    FloorPlan,
    /// Everything: there is no run sheet.
    WholeSheet,
}

impl KitPart {
    /// All of them.
    pub const ALL: [Self; 8] = [
        Self::StickerColour,
        Self::WheelMarkColour,
        Self::AxleMarkColour,
        Self::FloorMarkColour,
        Self::EndStickerColour,
        Self::WheelMark,
        Self::FloorPlan,
        Self::WholeSheet,
    ];

    /// The colour that goes with it.
    pub const fn colour(self) -> Colour {
        match self {
            Self::StickerColour | Self::WholeSheet => STICKER,
            Self::WheelMarkColour | Self::WheelMark => WHEEL_MARK,
            Self::AxleMarkColour => AXLE_MARK,
            Self::FloorMarkColour | Self::FloorPlan => FLOOR_MARK,
            Self::EndStickerColour => END_STICKER,
        }
    }

    /// What was taken.
    pub fn note(self) -> Note {
        let id = match self {
            Self::WholeSheet => "kit-whole-sheet",
            Self::StickerColour => "kit-sticker-colour",
            Self::WheelMarkColour => "kit-wheel-mark-colour",
            Self::AxleMarkColour => "kit-axle-mark-colour",
            Self::FloorMarkColour => "kit-floor-mark-colour",
            Self::EndStickerColour => "kit-end-sticker-colour",
            Self::WheelMark => "kit-wheel-mark",
            Self::FloorPlan => {
                return Note::new("kit-floor-plan")
                    .text("colour", self.colour().text_id())
                    .number("length", FLOOR_PLAN_LENGTH_MM, 0)
                    .number("width", FLOOR_PLAN_WIDTH_MM, 0)
                    .number("diagonal", floor_plan_diagonal_mm(), 0);
            }
        };
        Note::new(id).text("colour", self.colour().text_id())
    }
}

/// The floor marks of the kit's plan.
pub fn floor_marks() -> Vec<FloorMark> {
    FLOOR_PLAN_MM
        .iter()
        .map(|[x_mm, y_mm]| FloorMark {
            colour: FLOOR_MARK,
            x_m: x_mm / 1000.0,
            y_m: y_mm / 1000.0,
            pointed: None,
        })
        .collect()
}

/// The aim line of the kit's plan.
pub fn aim() -> Aim {
    Aim {
        from_m: AIM_MM[0].map(|mm| mm / 1000.0),
        to_m: AIM_MM[1].map(|mm| mm / 1000.0),
    }
}

/// The kit's body sticker, of which no place is known yet.
pub fn sticker() -> Sticker {
    Sticker {
        colour: STICKER,
        height_m: None,
        ahead_m: None,
        off_centre_m: None,
        pointed: None,
    }
}

/// The kit's wheel mark.
pub fn wheel_mark() -> WheelMark {
    WheelMark {
        colour: WHEEL_MARK,
        radius_m: None,
        angle_rad: None,
        pointed: None,
    }
}

/// The kit's axle mark.
pub fn axle_mark() -> AxleMark {
    AxleMark {
        colour: AXLE_MARK,
        pointed: None,
    }
}

/// A sheet on which every mark of the kit is named, for a car of which nothing is known yet.
pub fn run_sheet() -> RunSheet {
    RunSheet {
        car: Car::default(),
        sticker: sticker(),
        wheel_marks: vec![wheel_mark()],
        axle_mark: Some(axle_mark()),
        floor_marks: floor_marks(),
        floor_surface: None,
        aim: Some(aim()),
        camera: CameraNotes::default(),
        end_view: Some(EndView {
            colour: Some(END_STICKER),
            ..EndView::default()
        }),
        spring: super::Spring::default(),
        spring_readings: Vec::new(),
        rolled_m: None,
        change_note: None,
        written: toml::Table::new(),
        from_kit: KitPart::ALL[..KitPart::ALL.len() - 1].to_vec(),
        doubts: Vec::new(),
    }
}

/// What stands for a run sheet where there is none: the kit's marks, where the clip shows them.
pub fn no_sheet() -> RunSheet {
    RunSheet {
        wheel_marks: Vec::new(),
        axle_mark: None,
        floor_marks: Vec::new(),
        aim: None,
        from_kit: vec![
            KitPart::StickerColour,
            KitPart::EndStickerColour,
            KitPart::WholeSheet,
        ],
        ..run_sheet()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::colour::{Closeness, closeness};

    #[test]
    fn no_two_colours_of_the_kit_are_too_near() {
        let all = [STICKER, WHEEL_MARK, AXLE_MARK, FLOOR_MARK, END_STICKER];
        for (i, &a) in all.iter().enumerate() {
            for &b in &all[i + 1..] {
                let apart = closeness(a, b);
                assert!(
                    matches!(apart, Closeness::Apart { .. }),
                    "{a} {b}: {apart:?}"
                );
            }
        }
    }

    #[test]
    fn the_plan_is_a_rectangle_about_the_aim_line() {
        let [a, b, c, d, near, far] = FLOOR_PLAN_MM;
        let apart = |p: [f64; 2], q: [f64; 2]| (p[0] - q[0]).hypot(p[1] - q[1]);
        assert_eq!([apart(a, b), apart(c, d)], [FLOOR_PLAN_LENGTH_MM; 2]);
        assert_eq!([apart(b, c), apart(d, a)], [FLOOR_PLAN_WIDTH_MM; 2]);
        assert_eq!(apart(a, c), apart(b, d));
        // By hand: sqrt(2000² + 600²) = 2088.06.
        assert!((floor_plan_diagonal_mm() - 2088.06).abs() < 0.005);
        assert!((apart(a, c) - floor_plan_diagonal_mm()).abs() < 1e-9);
        assert_eq!([apart(a, near), apart(near, b)], [1000.0; 2]);
        assert_eq!([apart(d, far), apart(far, c)], [1000.0; 2]);
        let middle = [a, b, c, d].iter().map(|p| p[1]).sum::<f64>();
        assert_eq!(middle, 0.0);
    }
}

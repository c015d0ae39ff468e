//! What a size of the run sheet is worth, and what stands in, in words, where the sheet is silent.

use super::Prior;
use crate::sheet::{CameraNotes, Car, KitPart, RunSheet, Side};
use crate::texts::Note;
use nalgebra::Vector2;

/// A ruler held by hand, a mark stuck down by hand: common practice, no source.
const RULER_SD_M: f64 = 0.001;
/// Floor marks measured with a tape (the design's default).
const TAPE_SD_M: f64 = 0.001;
/// The kit's plan, laid with a tape by someone who wrote nothing down; its page asks for diagonals that agree
/// within 5 mm. Common practice, no source.
const PLAN_SD_M: f64 = 0.002;
/// A wheel's rolling radius against half its nominal diameter: bicycle tyre tables (ISO 5775 sizes)
/// differ from the nominal circumference by about 0.3 %.
const WHEEL_REL_SD: f64 = 0.003;
/// A typical phone takes 8 to 25 ms from its first row to its last: from memory, no source.
const TYPICAL_READOUT_S: f64 = 0.012;
const READOUT_SD_S: f64 = 0.005;
/// ... and at high frame rates most of the time between frames: from memory, no source.
pub(super) const READOUT_SHARE: f64 = 0.75;
/// Focal length of a phone's main camera over the long side of the picture, and how widely phones differ
/// (one standard deviation of the logarithm): they see 60 to 75 degrees across when filming. Common
/// practice, no source.
pub(super) const TYPICAL_FOCAL: Prior = Prior::new(0.85, 0.25);
/// Distortion of a lens that nobody measured: a phone's main camera corrects its own to almost nothing, a
/// wide one leaves some per cent. From memory, no source.
const K1_SD: f64 = 0.04;
/// The same where the run sheet gives k1: as good as such fits are.
const K1_GIVEN_SD: f64 = 0.002;
/// Sizes of an unmeasured car, and how widely such cars differ: common practice, no source.
const TYPICAL_HEIGHT: Prior = Prior::new(0.07, 0.025);
const TYPICAL_OFF_CENTRE: Prior = Prior::new(0.03, 0.025);
/// A sticker on the side of a car sits between the body's side and the wheel's outer face; as a share of the
/// track width: common practice, no source.
const OFF_CENTRE_SHARE: f64 = 0.4;
const OFF_CENTRE_SHARE_SD: f64 = 0.1;
const TYPICAL_AHEAD: Prior = Prior::new(0.0, 0.0);
const TYPICAL_TRACK: Prior = Prior::new(0.12, 0.03);
const TYPICAL_RADIUS: Prior = Prior::new(0.055, 0.012);

/// Thickness of a string that nobody measured, from sewing thread (0.3 mm) to mason's line (1.5 mm); the
/// interval holds anything from a string of no thickness to one of nearly 2 mm. Common practice, no source.
const TYPICAL_STRING: Prior = Prior::new(0.0008, 0.0005);
/// A string's thickness and an axle's diameter read off a caliper, or ten turns laid side by side under a
/// ruler and divided by ten. Common practice, no source.
const CALIPER_SD_M: f64 = 0.0001;
/// Standard uncertainty of the share of the weight on the driven axle: one end is weighed on a kitchen balance that
/// reads grams, the other rests on a pile of about its height. Common practice, no source.
pub const DRIVEN_SHARE_SD: f64 = 0.01;
/// A string's length, knots and loop left out: a few millimetres. Common practice, no source.
const STRING_SD_M: f64 = 0.003;

/// Turns that a string of this length gives when it comes off an axle on which it lies in one layer.
///
/// The string's middle winds at half the axle's diameter plus half its own thickness, and it is the middle
/// that keeps its length when a string is bent: one turn takes `π (axle + string)`. Where it lies in several
/// layers it gives fewer turns.
fn string_turns(string_m: f64, axle_m: f64, thickness_m: Prior) -> Prior {
    let winding_m = axle_m + thickness_m.value;
    let turns = string_m / (std::f64::consts::PI * winding_m);
    let winding_sd_m = CALIPER_SD_M.hypot(thickness_m.sd);
    Prior::new(
        turns,
        turns * (STRING_SD_M / string_m).hypot(winding_sd_m / winding_m),
    )
}

/// A length read off a ruler.
pub(super) fn ruled(value: f64) -> Prior {
    Prior::new(value, RULER_SD_M)
}

/// Stand-ins for what a run sheet does not say; each is told to the user.
#[derive(Debug, Default)]
pub(super) struct StandIns {
    /// What the sheet did not say and what was taken instead, in the order in which it was taken.
    pub(super) assumed: Vec<Note>,
}

impl StandIns {
    /// A length as a ruler gives it, or a typical one; `what` is the text that names it.
    fn length(&mut self, given_m: Option<f64>, typical: Prior, what: &str) -> Prior {
        given_m.map_or_else(
            || {
                let note = Note::new("assumed-length")
                    .text("what", what)
                    .number("mm", 1000.0 * typical.value, 0)
                    .number("give", 2000.0 * typical.sd, 0);
                self.assumed.push(note);
                typical
            },
            ruled,
        )
    }

    /// Height of the sticker, m.
    pub(super) fn sticker_height(&mut self, sheet: &RunSheet) -> Prior {
        let given_m = sheet.sticker.height_m;
        self.length(given_m, TYPICAL_HEIGHT, "input-sticker_height")
    }

    /// Distance of the sticker from the centre line, m.
    pub(super) fn sticker_off_centre(&mut self, sheet: &RunSheet) -> Prior {
        let share_of =
            |width_m: f64| Prior::new(OFF_CENTRE_SHARE * width_m, OFF_CENTRE_SHARE_SD * width_m);
        let typical = sheet.car.track_width_m.map_or(TYPICAL_OFF_CENTRE, share_of);
        let what = "input-sticker_off_centre";
        self.length(sheet.sticker.off_centre_m, typical, what)
    }

    /// Distance of the sticker ahead of the driven axle, m. Where it is not given the sticker itself is measured, so
    /// nothing is guessed.
    pub(super) fn sticker_ahead(&mut self, sheet: &RunSheet) -> Prior {
        if sheet.sticker.ahead_m.is_none() {
            self.assumed.push(Note::new("assumed-ahead"));
        }
        sheet.sticker.ahead_m.map_or(TYPICAL_AHEAD, ruled)
    }

    /// Distance between the wheels' outer faces, m.
    pub(super) fn track_width(&mut self, car: &Car) -> Prior {
        self.length(car.track_width_m, TYPICAL_TRACK, "input-track_width")
    }

    /// Half of the driven wheel's diameter, m.
    pub(super) fn wheel_radius(&mut self, car: &Car) -> Prior {
        let half_m = car.wheel_diameter_m.map(|d| d / 2.0);
        let radius_m = self.length(half_m, TYPICAL_RADIUS, "assumed-half-wheel");
        if half_m.is_none() {
            return radius_m;
        }
        Prior {
            sd: (WHEEL_REL_SD * radius_m.value).hypot(RULER_SD_M / 4.0),
            ..radius_m
        }
    }

    /// Turns that the string can give, if its length and the axle's diameter are given.
    pub(super) fn string_turns(&mut self, car: &Car) -> Option<Prior> {
        let (string_m, axle_m) = car.string_m.zip(car.axle_diameter_m)?;
        let given_m = car.string_diameter_m;
        let thickness_m = given_m.map_or(TYPICAL_STRING, |value| Prior::new(value, CALIPER_SD_M));
        if given_m.is_none() {
            let note = Note::new("assumed-string")
                .number("mm", 1000.0 * thickness_m.value, 1)
                .number("give", 2000.0 * thickness_m.sd, 1);
            self.assumed.push(note);
        }
        Some(string_turns(string_m, axle_m, thickness_m))
    }

    /// Whether the camera sees the car's right side.
    pub(super) fn sees_right_side(&mut self, car: &Car) -> bool {
        match car.facing_side {
            Some(Side::Left) => false,
            Some(Side::Right) => true,
            None => {
                self.assumed.push(Note::new("assumed-side"));
                true
            }
        }
    }
}

/// Start and end of the aim line, m: as given, else the x axis.
pub(super) fn aim_m(sheet: &RunSheet) -> [Vector2<f64>; 2] {
    sheet.aim.map_or([Vector2::zeros(), Vector2::x()], |aim| {
        [Vector2::from(aim.from_m), Vector2::from(aim.to_m)]
    })
}

/// Standard uncertainty of each coordinate of a floor mark, m.
pub(super) fn mark_sd_m(sheet: &RunSheet) -> f64 {
    if sheet.from_kit.contains(&KitPart::FloorPlan) {
        PLAN_SD_M
    } else {
        TAPE_SD_M
    }
}

/// Radial distortion.
pub(super) fn k1(camera: &CameraNotes) -> Prior {
    camera.k1.map_or(Prior::new(0.0, K1_SD), |value| {
        Prior::new(value, K1_GIVEN_SD)
    })
}

/// Time that the sensor takes from first to last row, s.
pub(super) fn readout(camera: &CameraNotes) -> Prior {
    camera
        .readout_s
        .map_or(Prior::new(TYPICAL_READOUT_S, READOUT_SD_S), |value| {
            Prior::new(value, 0.05 * value)
        })
}

//! What is known of a run before the clip is looked at: each size of the run sheet with its standard
//! uncertainty, and what stands in where the sheet is silent.
//!
//! Lengths are metres. A size read off a ruler is good to about a millimetre; a size that was not
//! given is a guess with an uncertainty to match, and is named in [`Priors::assumed`].
//!
//! # The string
//!
//! The turns that a string can give are its length over π (axle + string), since the middle of the string keeps its
//! length. A thickness that nobody measured is 0.8 ± 1.0 mm at 95 %, which holds a string of no thickness too.

mod colours;

pub use colours::colour_notes;

use crate::camera::{CameraSheet, LensPrior, MarkPrior};
use crate::motion::CarGeometry;
use crate::sheet::{KitPart, RunSheet, Side};
use crate::track::{Hint, MarksWanted};
use nalgebra::Vector2;
use rand::Rng;
use rand_distr::{Distribution, StandardNormal};
use serde::Serialize;

/// A size with its standard uncertainty, SI.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Prior {
    /// Best value.
    pub value: f64,
    /// Standard uncertainty.
    pub sd: f64,
}

/// What a result's uncertainty can come from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Input {
    /// Height of the sticker above the floor.
    StickerHeight,
    /// Distance of the sticker ahead of the driven axle.
    StickerAhead,
    /// Distance of the sticker from the centre line.
    StickerOffCentre,
    /// Distance between the wheels' outer faces.
    TrackWidth,
    /// Diameter of the driven wheel.
    WheelDiameter,
    /// Bend of the lens.
    Lens,
    /// Time that the sensor takes from first to last row.
    RowTime,
    /// Distance of the wheel mark from the hub.
    MarkRadius,
    /// Places of the floor marks, on the floor and in the picture.
    FloorMarks,
    /// The marks' places in the picture, from frame to frame.
    PixelNoise,
    /// Length and thickness of the string, and the axle that it winds on.
    StringSizes,
    /// Share of the weight on the driven axle.
    DrivenShare,
    /// A plain scale that stands in for a camera.
    PlainScale,
    /// What none of the others explains: what the methods leave open, and what such cars have in common only
    /// roughly.
    Method,
}

impl Input {
    /// Those that are single sizes, in the order in which [`Priors::drawn`] moves them.
    pub const SIZES: [Self; 8] = [
        Self::StickerHeight,
        Self::StickerAhead,
        Self::StickerOffCentre,
        Self::TrackWidth,
        Self::WheelDiameter,
        Self::Lens,
        Self::RowTime,
        Self::MarkRadius,
    ];

    /// What to do for a smaller share of it, in a user's words; nothing where nobody knows what would help.
    pub const fn advice(self) -> Option<&'static str> {
        match self {
            Self::Method => None,
            _ => Some(self.words().1),
        }
    }

    /// What it is, in a user's words.
    pub const fn name(self) -> &'static str {
        self.words().0
    }

    const fn words(self) -> (&'static str, &'static str) {
        match self {
            Self::StickerHeight => ("the sticker's height", "measure the sticker's height"),
            Self::StickerAhead => (
                "the sticker's distance from the axle",
                "measure how far the sticker sits ahead of the driven axle",
            ),
            Self::StickerOffCentre => (
                "the sticker's distance from the centre line",
                "measure how far the sticker sits from the centre line",
            ),
            Self::TrackWidth => ("the track width", "measure the track width"),
            Self::WheelDiameter => (
                "the wheel's diameter",
                "measure the driven wheel's diameter",
            ),
            Self::Lens => (
                "the bend of the lens",
                "film with the main lens from further away, the run in the middle of the picture",
            ),
            Self::RowTime => (
                "the sensor's row time",
                "give the camera's `readout_ms`, or film at a higher frame rate",
            ),
            Self::MarkRadius => (
                "the wheel mark's distance from the hub",
                "measure the wheel mark's distance from the hub",
            ),
            Self::FloorMarks => (
                "the floor marks' places",
                "measure the floor marks' places again, or lay more of them further apart",
            ),
            Self::PixelNoise => (
                "the marks' places in the picture",
                "film nearer, in better light, with larger marks",
            ),
            Self::StringSizes => (
                "the sizes of string and axle",
                "measure `string_mm`, `axle_diameter_mm` and `string_diameter_mm`",
            ),
            Self::DrivenShare => (
                "the share of the weight on the driven axle",
                "weigh the driven axle and the whole car again, the car level",
            ),
            Self::Method => ("not explained by what is measured", ""),
            Self::PlainScale => (
                "the plain scale",
                "lay four or more floor marks at known places, not in a line",
            ),
        }
    }
}

/// Everything known of the run, with uncertainties.
#[derive(Debug, Clone, PartialEq)]
pub struct Priors {
    /// Height of the sticker's centre above the floor, m.
    pub sticker_height_m: Prior,
    /// Distance of the sticker ahead of the driven axle, m.
    pub sticker_ahead_m: Prior,
    /// Distance of the sticker from the centre line towards the camera, m.
    pub sticker_off_centre_m: Prior,
    /// Distance between the outer faces of the driven wheels, m.
    pub track_width_m: Prior,
    /// Half of the driven wheel's diameter, m.
    pub wheel_radius_m: Prior,
    /// Whether the wheel's diameter was given (else no rim speed can be told without a coast).
    pub wheel_radius_given: bool,
    /// Distance of the wheel mark from its hub, if given, m.
    pub mark_radius_m: Option<Prior>,
    /// Wheelbase, if given, m.
    pub wheelbase_m: Option<Prior>,
    /// Turns that the string can give, if its length and the axle's diameter are given.
    pub string_turns: Option<Prior>,
    /// Share of the weight on the driven axle, if given.
    pub driven_share: Option<f64>,
    /// Mass of the car, if given, kg.
    pub mass_kg: Option<f64>,
    /// Floor marks, places in m.
    pub marks: Vec<MarkPrior>,
    /// Standard uncertainty of each coordinate of a floor mark, m.
    pub mark_sd_m: f64,
    /// Start and end of the aim line, m.
    pub aim_m: [Vector2<f64>; 2],
    /// Focal length over the long side of the picture; `sd` is that of its logarithm.
    pub focal_share: Prior,
    /// Radial distortion.
    pub k1: Prior,
    /// Time that the sensor takes from first to last row, s.
    pub readout_s: Prior,
    /// Whether the run sheet gives it.
    pub readout_given: bool,
    /// Whether the camera sees the car's right side.
    pub from_right: bool,
    /// Whether the frames' times are the run's; the reason where they may not be. Nothing with a second in its unit
    /// is found then.
    pub clock: Result<(), String>,
    /// What was taken from the printed kit.
    pub from_kit: Vec<KitPart>,
    /// What the sheet did not say and what was taken instead, for the user.
    pub assumed: Vec<String>,
    /// What the sheet says and is worth a second look, for the user: unusual sizes, colours that are too near.
    pub doubts: Vec<String>,
}

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
const READOUT_SHARE: f64 = 0.75;
/// Focal length of a phone's main camera over the long side of the picture, and how widely phones differ
/// (one standard deviation of the logarithm): they see 60 to 75 degrees across when filming. Common
/// practice, no source.
const TYPICAL_FOCAL: Prior = Prior {
    value: 0.85,
    sd: 0.25,
};
/// Distortion of a lens that nobody measured: a phone's main camera corrects its own to almost nothing, a
/// wide one leaves some per cent. From memory, no source.
const K1_SD: f64 = 0.04;
/// The same where the run sheet gives k1: as good as such fits are.
const K1_GIVEN_SD: f64 = 0.002;
/// Sizes of an unmeasured car, and how widely such cars differ: common practice, no source.
const TYPICAL_HEIGHT: Prior = Prior {
    value: 0.07,
    sd: 0.025,
};
const TYPICAL_OFF_CENTRE: Prior = Prior {
    value: 0.03,
    sd: 0.025,
};
/// A sticker on the side of a car sits between the body's side and the wheel's outer face; as a share of the
/// track width: common practice, no source.
const OFF_CENTRE_SHARE: f64 = 0.4;
const OFF_CENTRE_SHARE_SD: f64 = 0.1;
const TYPICAL_AHEAD: Prior = Prior {
    value: 0.0,
    sd: 0.0,
};
const TYPICAL_TRACK: Prior = Prior {
    value: 0.12,
    sd: 0.03,
};
const TYPICAL_RADIUS: Prior = Prior {
    value: 0.055,
    sd: 0.012,
};

/// Thickness of a string that nobody measured, from sewing thread (0.3 mm) to mason's line (1.5 mm); the
/// interval holds anything from a string of no thickness to one of nearly 2 mm. Common practice, no source.
const TYPICAL_STRING: Prior = Prior {
    value: 0.0008,
    sd: 0.0005,
};
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
    Prior {
        value: turns,
        sd: turns * (STRING_SD_M / string_m).hypot(winding_sd_m / winding_m),
    }
}

fn ruled(value: f64) -> Prior {
    Prior {
        value,
        sd: RULER_SD_M,
    }
}

impl Priors {
    /// What a run sheet says, with stand-ins for what it does not say.
    #[expect(
        clippy::too_many_lines,
        reason = "one list of sizes, each with its stand-in"
    )]
    pub fn from_sheet(sheet: &RunSheet) -> Self {
        let mut assumed = Vec::new();
        let mut or_typical = |given: Option<f64>, typical: Prior, what: &str| {
            given.map_or_else(
                || {
                    if typical.sd > 0.0 {
                        assumed.push(format!(
                            "{what} is not in the run sheet; {:.0} mm give or take {:.0} mm was taken",
                            1000.0 * typical.value,
                            2000.0 * typical.sd
                        ));
                    }
                    typical
                },
                ruled,
            )
        };
        let car = &sheet.car;
        let sticker_height_m = or_typical(
            sheet.sticker.height_m,
            TYPICAL_HEIGHT,
            "the sticker's height",
        );
        let sticker_off_centre_m = or_typical(
            sheet.sticker.off_centre_m,
            car.track_width_m
                .map_or(TYPICAL_OFF_CENTRE, |width_m| Prior {
                    value: OFF_CENTRE_SHARE * width_m,
                    sd: OFF_CENTRE_SHARE_SD * width_m,
                }),
            "the sticker's distance from the centre line",
        );
        let sticker_ahead_m = or_typical(sheet.sticker.ahead_m, TYPICAL_AHEAD, "");
        let track_width_m = or_typical(car.track_width_m, TYPICAL_TRACK, "the track width");
        let wheel_radius_m = or_typical(
            car.wheel_diameter_m.map(|d| d / 2.0),
            TYPICAL_RADIUS,
            "half the wheel's diameter",
        );
        let wheel_radius_m = Prior {
            sd: if car.wheel_diameter_m.is_some() {
                (WHEEL_REL_SD * wheel_radius_m.value).hypot(RULER_SD_M / 4.0)
            } else {
                wheel_radius_m.sd
            },
            ..wheel_radius_m
        };
        let string_turns = car.string_m.zip(car.axle_diameter_m).map(|(string, axle)| {
            let thickness = car.string_diameter_m.map_or(TYPICAL_STRING, |value| Prior {
                value,
                sd: CALIPER_SD_M,
            });
            if car.string_diameter_m.is_none() {
                assumed.push(format!(
                    "the string's thickness (`string_diameter_mm`) is not in the run sheet; {:.1} mm give or take \
                     {:.1} mm was taken",
                    1000.0 * thickness.value,
                    2000.0 * thickness.sd
                ));
            }
            string_turns(string, axle, thickness)
        });
        if sheet.sticker.ahead_m.is_none() {
            assumed.push(
                "how far the sticker sits ahead of the driven axle is not in the run sheet; places are \
                 the sticker's own"
                    .into(),
            );
        }
        let aim_m = sheet.aim.map_or([Vector2::zeros(), Vector2::x()], |aim| {
            [Vector2::from(aim.from_m), Vector2::from(aim.to_m)]
        });
        let from_right = match car.facing_side {
            Some(Side::Left) => false,
            Some(Side::Right) => true,
            None => {
                assumed.push(
                    "the side that faces the camera is not in the run sheet; right was taken"
                        .into(),
                );
                true
            }
        };
        assumed.extend(sheet.from_kit.iter().map(|part| part.words()));
        let mut doubts = sheet.doubts.clone();
        doubts.extend(colour_notes(sheet));
        Self {
            sticker_height_m,
            sticker_ahead_m,
            sticker_off_centre_m,
            track_width_m,
            wheel_radius_m,
            wheel_radius_given: car.wheel_diameter_m.is_some(),
            mark_radius_m: sheet
                .wheel_marks
                .first()
                .and_then(|mark| mark.radius_m)
                .map(ruled),
            wheelbase_m: car.wheelbase_m.map(ruled),
            string_turns,
            driven_share: car.driven_share,
            mass_kg: car.mass_kg,
            marks: floor_marks(sheet),
            mark_sd_m: if sheet.from_kit.contains(&KitPart::FloorPlan) {
                PLAN_SD_M
            } else {
                TAPE_SD_M
            },
            aim_m,
            focal_share: TYPICAL_FOCAL,
            k1: sheet.camera.k1.map_or(
                Prior {
                    value: 0.0,
                    sd: K1_SD,
                },
                |value| Prior {
                    value,
                    sd: K1_GIVEN_SD,
                },
            ),
            readout_given: sheet.camera.readout_s.is_some(),
            readout_s: sheet.camera.readout_s.map_or(
                Prior {
                    value: TYPICAL_READOUT_S,
                    sd: READOUT_SD_S,
                },
                |value| Prior {
                    value,
                    sd: 0.05 * value,
                },
            ),
            from_right,
            clock: Ok(()),
            from_kit: sheet.from_kit.clone(),
            assumed,
            doubts,
        }
    }

    /// The same where frames are taken `interval_s` apart: a sensor cannot take longer than that from its
    /// first row to its last.
    #[must_use]
    pub fn at_interval(mut self, interval_s: f64) -> Self {
        if !self.readout_given && self.readout_s.value > READOUT_SHARE * interval_s {
            self.readout_s.value = READOUT_SHARE * interval_s;
            self.readout_s.sd = self.readout_s.sd.min(0.25 * interval_s);
        }
        self
    }

    /// What the camera stage needs.
    pub fn camera_sheet(&self) -> CameraSheet {
        CameraSheet {
            marks: self.marks.clone(),
            aim_m: self.aim_m,
            lens: LensPrior {
                focal_share: self.focal_share.value,
                focal_log_sd: self.focal_share.sd,
                k1: self.k1.value,
                k1_sd: self.k1.sd,
            },
            mark_sd_m: self.mark_sd_m,
            wheel_radius_m: self.wheel_radius_given.then_some(self.wheel_radius_m.value),
            mark_radius_m: self.mark_radius_m.map(|r| r.value),
            from_right: self.from_right,
            sticker_height_m: self.sticker_height_m.value,
            sticker_ahead_m: self.sticker_ahead_m.value,
            readout_s: self.readout_s.value,
        }
    }

    /// What the motion stage needs.
    pub fn car_geometry(&self) -> CarGeometry {
        // Left of the centre line is away from a camera on the right.
        let left = if self.from_right { -1.0 } else { 1.0 };
        let aim = self.aim_m[1] - self.aim_m[0];
        CarGeometry {
            sticker_height_m: self.sticker_height_m.value,
            sticker_ahead_m: self.sticker_ahead_m.value,
            sticker_left_m: left * self.sticker_off_centre_m.value,
            hub_height_m: self.wheel_radius_m.value,
            face_left_m: left * self.track_width_m.value / 2.0,
            mark_radius_m: self.mark_radius_m.map(|r| r.value),
            aim_from_m: self.aim_m[0],
            aim_heading_rad: aim.y.atan2(aim.x),
            readout_s: self.readout_s.value,
        }
    }

    /// The same with every size drawn at random within its uncertainty, and how many standard
    /// uncertainties each size of [`Input::SIZES`] was moved by.
    #[must_use]
    pub fn drawn<R: Rng>(&self, random: &mut R) -> (Self, Vec<f64>) {
        let mut out = self.clone();
        let mut moved = Vec::with_capacity(Input::SIZES.len());
        let mut shift = |size: &mut Prior| {
            let normal: f64 = StandardNormal.sample(random);
            size.value += size.sd * normal;
            moved.push(normal);
        };
        for size in [
            &mut out.sticker_height_m,
            &mut out.sticker_ahead_m,
            &mut out.sticker_off_centre_m,
            &mut out.track_width_m,
            &mut out.wheel_radius_m,
            &mut out.k1,
            &mut out.readout_s,
        ] {
            shift(size);
        }
        let mut none = Prior {
            value: 0.0,
            sd: 0.0,
        };
        shift(out.mark_radius_m.as_mut().unwrap_or(&mut none));
        let log: f64 = StandardNormal.sample(random);
        out.focal_share.value *= (out.focal_share.sd * log).exp();
        out.readout_s.value = out.readout_s.value.max(0.0);
        out.sticker_height_m.value = out.sticker_height_m.value.max(0.005);
        out.wheel_radius_m.value = out.wheel_radius_m.value.max(0.005);
        for mark in &mut out.marks {
            let (x, y): (f64, f64) = (StandardNormal.sample(random), StandardNormal.sample(random));
            mark.floor_m += Vector2::new(x, y) * self.mark_sd_m;
        }
        (out, moved)
    }
}

fn floor_marks(sheet: &RunSheet) -> Vec<MarkPrior> {
    sheet
        .floor_marks
        .iter()
        .map(|mark| MarkPrior {
            floor_m: Vector2::new(mark.x_m, mark.y_m),
            colour: mark.colour,
            pointed_px: mark.pointed.map(|p| Vector2::new(p.u_px, p.v_px)),
        })
        .collect()
}

/// Colours of further wheel marks that can be told from the first: two of one colour cannot.
fn more_wheel_colours(sheet: &RunSheet) -> Vec<crate::colour::Colour> {
    let mut out = Vec::new();
    let mut seen: Vec<_> = sheet
        .wheel_marks
        .first()
        .map(|m| m.colour)
        .into_iter()
        .collect();
    for mark in sheet.wheel_marks.iter().skip(1) {
        if !seen.contains(&mark.colour) {
            seen.push(mark.colour);
            out.push(mark.colour);
        }
    }
    out
}

/// The marks that a run sheet names, and no others.
pub fn marks_named(sheet: &RunSheet) -> MarksWanted {
    let mut floor: Vec<_> = sheet.floor_marks.iter().map(|mark| mark.colour).collect();
    floor.sort_unstable();
    floor.dedup();
    MarksWanted {
        sticker: sheet.sticker.colour,
        sticker_hint: sheet.sticker.pointed.map(|p| Hint {
            u_px: p.u_px,
            v_px: p.v_px,
            at_s: p.at_s,
        }),
        wheel: sheet.wheel_marks.first().map(|mark| mark.colour),
        more_wheel: more_wheel_colours(sheet),
        axle: sheet.axle_mark.as_ref().map(|mark| mark.colour),
        floor,
    }
}

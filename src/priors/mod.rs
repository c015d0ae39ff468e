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
mod input;
mod typical;

pub use colours::colour_notes;
pub use input::Input;
pub use typical::DRIVEN_SHARE_SD;

use crate::camera::{CameraSheet, LensPrior, MarkPrior};
use crate::motion::CarGeometry;
use crate::sheet::{KitPart, RunSheet};
use crate::texts::Note;
use crate::track::{Hint, MarksWanted};
use nalgebra::Vector2;
use rand::Rng;
use rand_distr::{Distribution, StandardNormal};
use typical::{READOUT_SHARE, StandIns, TYPICAL_FOCAL, ruled};

/// A size with its standard uncertainty, SI.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Prior {
    /// Best value.
    pub value: f64,
    /// Standard uncertainty.
    pub sd: f64,
}

impl Prior {
    /// A size with its standard uncertainty, SI.
    pub(crate) const fn new(value: f64, sd: f64) -> Self {
        Self { value, sd }
    }
}

/// Whether something is held to be so.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Believed {
    /// It is.
    Yes,
    /// What the car does speaks against it.
    No,
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
    /// Whether the frames' times are the run's. Nothing with a second in its unit is found where they may not be.
    pub clock: Believed,
    /// What was taken from the printed kit.
    pub from_kit: Vec<KitPart>,
    /// What the sheet did not say and what was taken instead, for the user.
    pub assumed: Vec<Note>,
    /// What the sheet says and is worth a second look, for the user: unusual sizes, colours that are too near.
    pub doubts: Vec<Note>,
}

/// A size off a ruler is good to a millimetre or two; one with a larger standard uncertainty stands in for a size that
/// nobody measured, m.
const GUESS_SD_M: f64 = 0.003;

impl Priors {
    /// Sizes of the car that nobody measured and that something stands in for.
    pub fn guessed(&self) -> Vec<Input> {
        let sizes = [
            (Input::WheelDiameter, self.wheel_radius_m),
            (Input::TrackWidth, self.track_width_m),
            (Input::StickerHeight, self.sticker_height_m),
            (Input::StickerOffCentre, self.sticker_off_centre_m),
            (Input::StickerAhead, self.sticker_ahead_m),
        ];
        let guessed = sizes.into_iter().filter(|(_, size)| size.sd > GUESS_SD_M);
        guessed.map(|(input, _)| input).collect()
    }

    /// What a run sheet says, with stand-ins for what it does not say.
    pub fn from_sheet(sheet: &RunSheet) -> Self {
        let car = &sheet.car;
        let mut stand_ins = StandIns::default();
        // In the order in which the user is told of them.
        let sticker_height_m = stand_ins.sticker_height(sheet);
        let sticker_off_centre_m = stand_ins.sticker_off_centre(sheet);
        let track_width_m = stand_ins.track_width(car);
        let wheel_radius_m = stand_ins.wheel_radius(car);
        let string_turns = stand_ins.string_turns(car);
        let sticker_ahead_m = stand_ins.sticker_ahead(sheet);
        let from_right = stand_ins.sees_right_side(car);
        let mut assumed = stand_ins.assumed;
        assumed.extend(sheet.from_kit.iter().map(|part| part.note()));
        let mut doubts = sheet.doubts.clone();
        doubts.extend(colour_notes(sheet));
        let wheel_mark = sheet.wheel_marks.first();
        Self {
            sticker_height_m,
            sticker_ahead_m,
            sticker_off_centre_m,
            track_width_m,
            wheel_radius_m,
            wheel_radius_given: car.wheel_diameter_m.is_some(),
            mark_radius_m: wheel_mark.and_then(|mark| mark.radius_m).map(ruled),
            wheelbase_m: car.wheelbase_m.map(ruled),
            string_turns,
            driven_share: car.driven_share,
            mass_kg: car.mass_kg,
            marks: floor_marks(sheet),
            mark_sd_m: typical::mark_sd_m(sheet),
            aim_m: typical::aim_m(sheet),
            focal_share: TYPICAL_FOCAL,
            k1: typical::k1(&sheet.camera),
            readout_s: typical::readout(&sheet.camera),
            readout_given: sheet.camera.readout_s.is_some(),
            from_right,
            clock: Believed::Yes,
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
        let mut none = Prior::new(0.0, 0.0);
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

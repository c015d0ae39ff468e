//! The run sheet: what a ruler, a scale and a pair of eyes know about a run.
//!
//! A run sheet is a TOML file. In the file lengths are millimetres, masses grams, angles degrees;
//! in memory everything is SI, as the field names say. No size is required: what the sheet leaves out is
//! `None`, never a made-up default. A colour that is left out is the printed kit's ([`kit`]), and is noted
//! in [`RunSheet::from_kit`].
//!
//! This module knows nothing of pictures or motion, and prints nothing.

mod error;
mod keys;
pub mod kit;
mod range;
mod section;
mod spring;
mod tables;
mod unknown;

use std::fs::File;
use std::io::Read;
use std::path::Path;

use toml::de::DeTable;

use crate::colour::Colour;
use crate::texts::Note;

pub use error::{Problem, SheetError};
pub use keys::{Compared, Key, TABLES, Table, by_full_name, table_named};
pub use kit::KitPart;
pub use spring::{Spring, SpringReading};
pub use unknown::nearest;

use error::shown;
use section::Faults;

/// Largest run sheet that is read, in bytes. A sheet with 200 floor marks needs about 20 kB.
pub const MAX_SHEET_BYTES: usize = 1024 * 1024;

/// Everything that a run sheet says about one run.
#[derive(Debug, Clone, PartialEq)]
pub struct RunSheet {
    /// The car's sizes and names.
    pub car: Car,
    /// The sticker on the body.
    pub sticker: Sticker,
    /// Marks on the outer face of the driven wheel that the camera sees, in file order.
    pub wheel_marks: Vec<WheelMark>,
    /// A mark on the end of the driven axle.
    pub axle_mark: Option<AxleMark>,
    /// Marks on the floor at known places, in file order.
    pub floor_marks: Vec<FloorMark>,
    /// What the floor is made of, in the user's words (`surface` in `[floor]`); runs on unlike floors are
    /// not compared without a warning.
    pub floor_surface: Option<String>,
    /// The line that the car was meant to follow.
    pub aim: Option<Aim>,
    /// What the clip's file does not say about the camera.
    pub camera: CameraNotes,
    /// What differs for a second phone that filmed the same run.
    pub end_view: Option<EndView>,
    /// What pulls the string.
    pub spring: Spring,
    /// What a balance showed at the arm's end, in file order.
    pub spring_readings: Vec<SpringReading>,
    /// Way from the start to where the car stood still by itself, by tape, m (`rolled_mm` in `[finish]`).
    pub rolled_m: Option<f64>,
    /// What was changed since the run before, in the user's words.
    pub change_note: Option<String>,
    /// The sheet as it was written: its tables and keys, in the file's units.
    pub written: toml::Table,
    /// What the sheet does not say and was taken from the printed kit.
    pub from_kit: Vec<KitPart>,
    /// Numbers that are possible but unusual, in a user's words: most likely slips of the pen.
    pub doubts: Vec<Note>,
}

/// The car, from `[car]`.
///
/// # Units
///
/// Metres and kilograms; the file has millimetres and grams.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Car {
    /// What the car is called.
    pub name: Option<String>,
    /// How its wheels were treated; runs are grouped by it.
    pub treatment: Option<String>,
    /// Outer diameter of the driven wheel (`wheel_diameter_mm`).
    pub wheel_diameter_m: Option<f64>,
    /// Distance between front and rear axle (`wheelbase_mm`).
    pub wheelbase_m: Option<f64>,
    /// Distance between the outer faces of the driven wheels (`track_width_mm`).
    pub track_width_m: Option<f64>,
    /// The side of the car that the camera sees.
    pub facing_side: Option<Side>,
    /// Diameter of the bare driven axle where the string is wound (`axle_diameter_mm`).
    pub axle_diameter_m: Option<f64>,
    /// Length of string wound on the axle (`string_mm`).
    pub string_m: Option<f64>,
    /// Thickness of that string (`string_diameter_mm`).
    pub string_diameter_m: Option<f64>,
    /// Mass of the whole car (`mass_g`).
    pub mass_kg: Option<f64>,
    /// Share of the weight on the driven axle, in (0, 1].
    pub driven_share: Option<f64>,
}

/// A side of the car, as seen by someone who sits in it and looks ahead.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Side {
    /// The left side.
    Left,
    /// The right side.
    Right,
}

/// The sticker on the body, from `[sticker]`.
///
/// # Units
///
/// Metres; the file has millimetres.
#[derive(Debug, Clone, PartialEq)]
pub struct Sticker {
    /// Its colour.
    pub colour: Colour,
    /// Height of its centre above the floor (`height_mm`).
    pub height_m: Option<f64>,
    /// How far it sits ahead of the driven axle, negative when behind (`ahead_mm`).
    pub ahead_m: Option<f64>,
    /// How far it sits from the car's centre line towards the camera, negative when beyond it
    /// (`off_centre_mm`).
    pub off_centre_m: Option<f64>,
    /// Where someone pointed at it.
    pub pointed: Option<Pointed>,
}

/// One mark on the driven wheel's outer face, from `[wheel_mark]` or `[[wheel_mark]]`.
#[derive(Debug, Clone, PartialEq)]
pub struct WheelMark {
    /// Its colour.
    pub colour: Colour,
    /// Distance of its centre from the wheel's centre, in metres (`radius_mm`).
    pub radius_m: Option<f64>,
    /// Its place around the wheel, in radians (`angle_deg`), counted the way the wheel turns when
    /// the car goes forward. Only differences between the marks of one wheel have a meaning.
    pub angle_rad: Option<f64>,
    /// Where someone pointed at it.
    pub pointed: Option<Pointed>,
}

/// A mark on the end of the driven axle, from `[axle_mark]`.
#[derive(Debug, Clone, PartialEq)]
pub struct AxleMark {
    /// Its colour.
    pub colour: Colour,
    /// Where someone pointed at it.
    pub pointed: Option<Pointed>,
}

/// A mark flat on the floor, from `[[floor_mark]]`.
///
/// # Frame
///
/// The floor frame in which the marks were measured: metres, any origin, y to the left of x when
/// seen from above.
#[derive(Debug, Clone, PartialEq)]
pub struct FloorMark {
    /// Its colour.
    pub colour: Colour,
    /// Place of its centre along x, in metres (`x_mm`).
    pub x_m: f64,
    /// Place of its centre along y, in metres (`y_mm`).
    pub y_m: f64,
    /// Where someone pointed at it.
    pub pointed: Option<Pointed>,
}

/// A place in the picture where someone pointed at a mark (`at_px`, `at_s`).
///
/// # Frame
///
/// The upright picture: origin at the centre of the top-left pixel, u right, v down.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pointed {
    /// Column, in pixels.
    pub u_px: f64,
    /// Row, in pixels.
    pub v_px: f64,
    /// Time in the clip, in seconds; `None` where it was not noted.
    pub at_s: Option<f64>,
}

/// The line that the car was meant to follow, from `[aim]`; in the floor marks' frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Aim {
    /// A point on the line where the car starts, `[x, y]` in metres (`from_mm`).
    pub from_m: [f64; 2],
    /// A point on the line ahead of it, `[x, y]` in metres (`to_mm`).
    pub to_m: [f64; 2],
}

/// What the file of a clip may not say about the camera, from `[camera]`.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct CameraNotes {
    /// Frames taken per second of real time.
    pub capture_fps: Option<f64>,
    /// Time between the first row's and the last row's exposure, in seconds (`readout_ms`);
    /// 0 says that all rows are taken at once.
    pub readout_s: Option<f64>,
    /// First radial distortion coefficient of the lens, without unit.
    pub k1: Option<f64>,
}

/// What a second phone sees otherwise, from `[end_view]`: the sticker that faces it, and itself.
///
/// # Units
///
/// Metres and seconds; the file has millimetres and milliseconds.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct EndView {
    /// Colour of the sticker that faces it.
    pub colour: Option<Colour>,
    /// Height of that sticker's centre above the floor (`height_mm`).
    pub height_m: Option<f64>,
    /// How far it sits ahead of the driven axle, negative when behind (`ahead_mm`).
    pub ahead_m: Option<f64>,
    /// How far it sits from the car's centre line towards the side that `facing_side` names
    /// (`off_centre_mm`).
    pub off_centre_m: Option<f64>,
    /// What its clip does not say.
    pub camera: CameraNotes,
}

impl RunSheet {
    /// The sheet of the same run as the second phone sees it. What `[end_view]` leaves out about the
    /// sticker is as on the side; its camera is another one, so nothing is taken over from `[camera]`.
    /// Nobody pointed at marks in its picture.
    #[must_use]
    pub fn for_end_view(&self) -> Self {
        let end = self.end_view.clone().unwrap_or_default();
        let mut out = self.clone();
        let side = &self.sticker;
        out.sticker = Sticker {
            colour: end.colour.unwrap_or(side.colour),
            height_m: end.height_m.or(side.height_m),
            ahead_m: end.ahead_m.or(side.ahead_m),
            off_centre_m: end.off_centre_m.or(side.off_centre_m),
            pointed: None,
        };
        out.camera = end.camera;
        for mark in &mut out.wheel_marks {
            mark.pointed = None;
        }
        for mark in &mut out.floor_marks {
            mark.pointed = None;
        }
        if let Some(mark) = &mut out.axle_mark {
            mark.pointed = None;
        }
        out
    }

    /// The run sheet in the file at `path`.
    ///
    /// # Errors
    ///
    /// [`SheetError`] when the file cannot be read, has more than [`MAX_SHEET_BYTES`], is not UTF-8
    /// text, or for the first thing in it that [`RunSheet::parse`] refuses.
    pub fn read(path: &Path) -> Result<Self, SheetError> {
        Self::parse(&text_of(path)?, path)
    }

    /// This sheet with another laid over it: keys that stand in the file at `path` win, and lists of marks
    /// there replace the ones here as a whole. So many runs can share one sheet, and each says only what is
    /// special about it.
    ///
    /// # Errors
    ///
    /// As [`RunSheet::read`]; what the file leaves out is no error. A fault that only both sheets together
    /// have is told without a line.
    pub fn with(&self, path: &Path) -> Result<Self, SheetError> {
        let text = text_of(path)?;
        let document = document(&text, path)?;
        let mut faults = Faults::in_part();
        tables::sheet(document.get_ref(), &mut faults);
        if let Some((at, problem)) = faults.into_first() {
            return Err(SheetError::new(path, Some(line_of(&text, at)), problem));
        }
        let mut both = self.written.clone();
        lay_over(&mut both, text.parse().unwrap_or_default());
        Self::parse(&both.to_string(), path).map_err(SheetError::without_line)
    }

    /// The run sheet in `text`; `path` is only named in errors.
    ///
    /// # Errors
    ///
    /// [`SheetError`] for the first thing, in file order, that is not TOML, not known, missing, of
    /// the wrong type or not plausible. A missing key counts as standing at its table's end. A sheet without
    /// any word is the printed kit's, for a car of which nothing is known.
    ///
    /// # Examples
    ///
    /// ```
    /// use gripline::colour::Colour;
    /// use gripline::sheet::RunSheet;
    /// use std::path::Path;
    ///
    /// let text = "[car]\nwheel_diameter_mm = 110\n[sticker]\ncolour = \"magenta\"\n";
    /// let sheet = RunSheet::parse(text, Path::new("run.toml"))?;
    /// assert_eq!(sheet.sticker.colour, Colour::Magenta);
    /// assert_eq!(sheet.car.wheel_diameter_m, Some(0.110));
    /// assert_eq!(sheet.car.wheelbase_m, None);
    /// # Ok::<(), gripline::sheet::SheetError>(())
    /// ```
    pub fn parse(text: &str, path: &Path) -> Result<Self, SheetError> {
        if text.len() > MAX_SHEET_BYTES {
            return Err(SheetError::new(path, None, Problem::TooLarge));
        }
        let document = document(text, path)?;
        let mut faults = Faults::default();
        let mut sheet = tables::sheet(document.get_ref(), &mut faults);
        if let Some((at, problem)) = faults.into_first() {
            return Err(SheetError::new(path, Some(line_of(text, at)), problem));
        }
        // It was read once already, so it is TOML; what it says is kept beside what it means.
        sheet.written = text.parse().unwrap_or_default();
        Ok(sheet)
    }
}

/// The text of a file, if it may be a run sheet.
fn text_of(path: &Path) -> Result<String, SheetError> {
    let unreadable = |source| SheetError::new(path, None, Problem::Unreadable { source });
    let file = File::open(path).map_err(unreadable)?;
    let mut bytes = Vec::new();
    // One byte more than allowed is enough to know, whatever the file claims to be.
    file.take(MAX_SHEET_BYTES as u64 + 1)
        .read_to_end(&mut bytes)
        .map_err(unreadable)?;
    if bytes.len() > MAX_SHEET_BYTES {
        return Err(SheetError::new(path, None, Problem::TooLarge));
    }
    String::from_utf8(bytes).map_err(|error| {
        // Whatever is broken, the text before it is UTF-8.
        let before = error.as_bytes().get(..error.utf8_error().valid_up_to());
        let before = before.unwrap_or_default();
        let line = line_of(&String::from_utf8_lossy(before), before.len());
        SheetError::new(path, Some(line), Problem::NotUtf8)
    })
}

/// A text's tables, with the places where they stand.
fn document<'t>(text: &'t str, path: &Path) -> Result<toml::Spanned<DeTable<'t>>, SheetError> {
    DeTable::parse(text).map_err(|error| {
        let line = error.span().map(|span| line_of(text, span.start));
        let what = shown(error.message());
        SheetError::new(path, line, Problem::Syntax { what })
    })
}

/// Lays tables over tables, key by key; everything else is replaced.
fn lay_over(below: &mut toml::Table, above: toml::Table) {
    for (key, value) in above {
        match (below.get_mut(&key), value) {
            (Some(toml::Value::Table(below)), toml::Value::Table(above)) => lay_over(below, above),
            (_, value) => {
                below.insert(key, value);
            }
        }
    }
}

/// Line number, from 1, of the byte at `offset`.
fn line_of(text: &str, offset: usize) -> usize {
    1 + text
        .bytes()
        .take(offset)
        .filter(|byte| *byte == b'\n')
        .count()
}

#[cfg(test)]
mod tests;

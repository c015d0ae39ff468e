//! The one table of run-sheet keys: what each is called and holds, which numbers it may have, what it means, whether
//! the set-up page asks for it, and how runs that differ in it are compared.
//!
//! The reader, the set-up page, the help of `measure` and the comparison of runs all go by it.

use super::range::{Quantity, Range};

/// One table of a run sheet, such as `[car]`.
#[derive(Debug, Clone, Copy)]
pub struct Table {
    /// Its name.
    pub name: &'static str,
    /// What it is about; empty where its name says all.
    pub meaning: &'static str,
    /// Its keys.
    pub keys: &'static [Key],
}

/// One key of a run sheet.
#[derive(Debug, Clone, Copy)]
pub struct Key {
    /// Its name; the unit is at its end.
    pub name: &'static str,
    /// What it holds.
    pub(super) kind: Kind,
    /// What it means, in a few words: in the help, and as a comment in sheets that the set-up page writes.
    pub meaning: &'static str,
    /// What else the help says of it, right behind the meaning.
    pub more: &'static str,
    /// Whether the set-up page has a field for it.
    pub on_page: bool,
    /// How runs that differ in it are compared.
    pub compared: Compared,
    /// What it is called in a comparison, where that is not its name.
    pub called: Option<&'static str>,
}

/// What a key holds.
#[derive(Debug, Clone, Copy)]
pub(super) enum Kind {
    /// A text or one word of a few.
    Text,
    /// A number, and which ones are possible.
    Number(Range),
    /// Two numbers, and which ones are possible.
    Pair(Range),
}

/// How runs that differ in a key are compared.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Compared {
    /// The key by itself.
    ByItself,
    /// As part of the set-up of floor marks and camera, which is compared as one.
    AsSetUp,
    /// By what the clip itself shows of it.
    ByClip,
    /// Not: it says in words what else was changed.
    Note,
    /// Not: it points into the clip's picture, and says nothing of the run.
    Pointing,
}

const fn text(name: &'static str, meaning: &'static str) -> Key {
    Key {
        name,
        kind: Kind::Text,
        meaning,
        more: "",
        on_page: true,
        compared: Compared::ByItself,
        called: None,
    }
}

const fn number(name: &'static str, range: Range, meaning: &'static str) -> Key {
    Key {
        kind: Kind::Number(range),
        ..text(name, meaning)
    }
}

const fn pair(name: &'static str, range: Range, meaning: &'static str) -> Key {
    Key {
        kind: Kind::Pair(range),
        ..text(name, meaning)
    }
}

const fn table(name: &'static str, meaning: &'static str, keys: &'static [Key]) -> Table {
    Table {
        name,
        meaning,
        keys,
    }
}

impl Key {
    const fn more(self, more: &'static str) -> Self {
        Self { more, ..self }
    }

    /// The same, which means something else in another table.
    const fn means(self, meaning: &'static str) -> Self {
        let more = "";
        Self {
            meaning,
            more,
            ..self
        }
    }

    const fn called(self, name: &'static str) -> Self {
        let called = Some(name);
        Self { called, ..self }
    }

    const fn compared(self, compared: Compared) -> Self {
        Self { compared, ..self }
    }

    /// The set-up page has no field for it.
    const fn by_hand(self) -> Self {
        let on_page = false;
        Self { on_page, ..self }
    }

    /// Whether its value is a text and no number.
    pub const fn is_text(&self) -> bool {
        matches!(self.kind, Kind::Text)
    }

    /// Its unit as people write it behind a number; empty for none, and where the name is not said without it.
    pub const fn unit(&self) -> &'static str {
        match self.kind {
            Kind::Number(range) | Kind::Pair(range) => range.quantity.symbol(),
            Kind::Text => "",
        }
    }
}

use Compared::{AsSetUp, ByClip, Note, Pointing};
use Quantity::{Angle, Force, FrameRate, Length, Mass, Pixels, Plain, Share, ShortTime, Time};

/// One coordinate on the floor can be truly small, so wrong units are judged from all of them; none is more than 100 m
/// from the origin.
const ON_FLOOR: Range = Range::place(Length, 0.0, 100_000.0);

// The tables are read by their rows, so each key stands on a line of its own.
//
// The limits and what is usual are common practice, no source. The limits are wide enough for any car that a club
// builds, and narrow enough that metres, most centimetres and most slips of the decimal point fall outside. What is
// allowed and not usual is measured with, and told.

#[rustfmt::skip]
const COLOUR: Key = text("colour", "a colour, as for the sticker");
#[rustfmt::skip]
const HEIGHT: Key = number("height_mm", Range::size(Length, 2.0, 1000.0).usually(15.0, 400.0), "sticker height: from the floor up to its centre");
#[rustfmt::skip]
const AHEAD: Key = number("ahead_mm", Range::place(Length, 0.5, 2000.0).usually(0.0, 600.0), "its centre ahead of the driven axle; negative behind it")
    .more("; taken as 0 if left out");
// A sticker meant to sit in the middle may be off by a fraction of a millimetre, and callipers say so.
#[rustfmt::skip]
const OFF_CENTRE: Key = number("off_centre_mm", Range::place(Length, 0.1, 1000.0).usually(0.0, 250.0),
    "sticker's side offset: from the middle of the car towards the camera");
#[rustfmt::skip]
const CAPTURE_FPS: Key = number("capture_fps", Range::size(FrameRate, 1.0, 2000.0),
    "frames a second: slow motion only, where the file hides the true rate");
// A frame at 10 fps is read within 100 ms; phones need 5 to 33 ms.
#[rustfmt::skip]
const READOUT: Key = number("readout_ms", Range::from_zero(ShortTime, 0.5, 100.0).usually(2.0, 40.0), "milliseconds from the sensor's first row to its last, if you know it")
    .more("; else it is taken from the clip as far as that shows it").by_hand();
// Beyond 1 the picture's corner would fold over; phones stay within 0.3.
#[rustfmt::skip]
const K1: Key = number("k1", Range::place(Plain, 0.0, 1.0), "radial lens distortion, no unit, if you know it")
    .more("; else five or more floor marks show it").by_hand();
// From the outer edge of the first pixel, whose centre is 0. No phone films wider than 16384.
#[rustfmt::skip]
const AT_PX: Key = pair("at_px", Range::between(Pixels, -0.5, 16_384.0),
    "[u, v]: pixels right of and below the centre of the top-left pixel").compared(Pointing);
#[rustfmt::skip]
const AT_S: Key = number("at_s", Range::from_zero(Time, 0.0, 86_400.0), "seconds into the clip").compared(Pointing);

/// Every table of a run sheet with its keys, in the order in which they are written.
#[rustfmt::skip]
pub const TABLES: &[Table] = &[
    table("car", "", &[
        text("name", "the car's name").called("car"),
        text("treatment", "how the wheels were treated")
            .more(", such as \"bare\", \"inner-tube strip\", \"silicone bead\"").called("treatment"),
        // From a large bottle's cap to a bicycle's wheel; usual from a jar's lid to a long-playing record.
        number("wheel_diameter_mm", Range::size(Length, 20.0, 600.0).usually(40.0, 320.0),
            "wheel diameter: the driven wheel's, outside, with its strip on"),
        // A trap is about 100 mm long.
        number("wheelbase_mm", Range::size(Length, 30.0, 1500.0).usually(80.0, 600.0), "wheelbase: front axle to rear axle"),
        number("track_width_mm", Range::size(Length, 20.0, 1000.0).usually(50.0, 400.0),
            "track width: between the outer faces of the two driven wheels"),
        text("facing_side", "\"left\" or \"right\": the side that the camera sees").compared(AsSetUp),
        // From a knitting needle to a spool.
        number("axle_diameter_mm", Range::size(Length, 0.8, 100.0).usually(2.0, 30.0),
            "bare driven axle, where the string is wound"),
        // An arm of 50 to 400 mm pulls about twice its length.
        number("string_mm", Range::size(Length, 20.0, 10_000.0).usually(80.0, 2000.0),
            "string wound on it at the start, in one layer"),
        // From thread to cord.
        number("string_diameter_mm", Range::size(Length, 0.05, 10.0).usually(0.1, 3.0), "how thick the string is: wind ten turns side by side and divide by ten")
            .more(". Left out, it is taken as 0.8 ± 1.0. One turn takes π × (axle + string)."),
        number("mass_g", Range::size(Mass, 5.0, 20_000.0).usually(50.0, 1500.0), "whole car, ready to run")
            .more("; gives where the energy of the pull went"),
        number("driven_share", Range::size(Share, 0.0, 1.0).usually(0.2, 1.0),
            "0 to 1: share of the weight on the driven axle"),
    ]),
    table("sticker", "on the body", &[
        text("colour", "magenta, red, orange, yellow, green, cyan, blue or purple"),
        HEIGHT, AHEAD, OFF_CENTRE, AT_PX, AT_S,
    ]),
    table("wheel_mark", "on the outer face of the driven wheel", &[
        COLOUR,
        number("radius_mm", Range::size(Length, 1.0, 500.0).usually(8.0, 150.0), "wheel's centre to mark's centre")
            .more("; if left out, it is fitted from the clip"),
        number("angle_deg", Range::place(Angle, 0.0, 360.0), "degrees, only with several marks ([[wheel_mark]], each in a colour of its own)")
            .more(". The clip itself shows the angle between them; this is for your notes.").by_hand(),
        AT_PX, AT_S,
    ]),
    table("axle_mark",
        "on the axle's end, off its middle so that it circles: tells a wheel that turns on its axle from a \
         string that slips", &[
        COLOUR, AT_PX, AT_S,
    ]),
    table("floor_mark", "flat on the floor, each in a table [[floor_mark]], all of one colour", &[
        COLOUR.compared(AsSetUp),
        number("x_mm", ON_FLOOR, "its centre along the line to follow").compared(AsSetUp),
        number("y_mm", ON_FLOOR, "its centre to the left of that line").compared(AsSetUp),
        AT_PX, AT_S,
    ]),
    table("floor", "", &[
        text("surface", "what the floor is made of")
            .more(", such as \"clubhouse lino\". Comparing runs on unlike floors gives a warning.").called("floor").by_hand(),
    ]),
    table("aim", "two points on the line that the car was meant to follow", &[
        pair("from_mm", ON_FLOOR, "where it starts, such as [0, 0]").compared(AsSetUp),
        pair("to_mm", ON_FLOOR, "where it leads, such as [4000, 0]").compared(AsSetUp),
    ]),
    table("camera", "", &[CAPTURE_FPS.compared(ByClip), READOUT, K1]),
    table("end_view",
        "for the clip of a second phone (--end-view): the sticker that faces it, which is as in [sticker] \
         where this is silent, and its camera, of which nothing is taken over from [camera]", &[
        COLOUR,
        HEIGHT,
        AHEAD.means(AHEAD.meaning),
        OFF_CENTRE.means("sticker's side offset: from the middle of the car towards its facing_side"),
        CAPTURE_FPS, READOUT, K1,
    ]),
    // For `gripline plan`. From a small trap's wire to a fishing rod's tip; a trap's own bar is about 45 mm long.
    table("spring", "what pulls the string: for `gripline plan`", &[
        number("arm_length_mm", Range::size(Length, 20.0, 1500.0).usually(40.0, 600.0),
            "from the middle of the spring's coil to where the string is tied").by_hand(),
        number("pivot_ahead_mm", Range::size(Length, 10.0, 2000.0).usually(40.0, 700.0),
            "from the driven axle ahead to the middle of the spring's coil").by_hand(),
        // A trap's bar swings through half a turn.
        number("swung_back_deg", Range::size(Angle, 20.0, 200.0).usually(90.0, 185.0),
            "how far the arm is swung back at the start, from where it rests with the string off")
            .more("; about 170 on a car that is wound up all the way").by_hand(),
    ]),
    table("spring_reading",
        "a kitchen balance or a spring balance at the arm's end, square to the arm; each in a table [[spring_reading]], \
         at two angles or more. Eye protection on, base clamped, hand out of the arm's way.", &[
        number("swung_deg", Range::from_zero(Angle, 1.0, 200.0), "how far the arm is swung from where it rests").by_hand(),
        number("force_n", Range::size(Force, 0.02, 500.0).usually(0.1, 60.0), "what it takes to hold it there, newtons").by_hand(),
        number("balance_g", Range::size(Mass, 2.0, 50_000.0).usually(10.0, 6000.0),
            "the same as a kitchen balance shows it; one of the two").by_hand(),
        number("held_at_mm", Range::size(Length, 10.0, 1500.0).usually(20.0, 600.0), "from the coil's middle to where it was held")
            .more("; else arm_length_mm").by_hand(),
    ]),
    table("finish", "", &[
        number("rolled_mm", Range::size(Length, 50.0, 200_000.0).usually(300.0, 60_000.0),
            "from the start to where the car stood still by itself, by tape, along its way")
            .more("; the best help that `gripline plan` can have").by_hand().compared(ByClip),
    ]),
    table("change", "", &[
        text("note", "what was changed since the run before").called("change").compared(Note).by_hand(),
    ]),
];

/// The table of that name; none for a table that no run sheet has.
pub fn table_named(name: &str) -> Option<&'static Table> {
    TABLES.iter().find(|table| table.name == name)
}

impl Table {
    /// Its key of that name.
    pub fn key(&self, name: &str) -> Option<&'static Key> {
        self.keys.iter().find(|key| key.name == name)
    }

    /// Keys that the set-up page has a field for; a place that was pointed at is none.
    pub fn typed(&self) -> impl Iterator<Item = &'static Key> {
        (self.keys.iter()).filter(|key| key.on_page && key.compared != Pointing)
    }
}

/// The key that a name such as `car.mass_g` or `wheel_mark 2.colour` stands for.
pub fn by_full_name(name: &str) -> Option<&'static Key> {
    let (place, key) = name.split_once('.')?;
    let name = place.split_once(' ').map_or(place, |(name, _)| name);
    table_named(name)?.key(key)
}

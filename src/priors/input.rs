//! What a result's uncertainty can come from, and what a user can do about each.

use serde::Serialize;

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
    /// Those that are single sizes, in the order in which [`Priors::drawn`](super::Priors::drawn) moves them.
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

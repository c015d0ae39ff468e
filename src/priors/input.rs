//! What a result's uncertainty can come from.

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
    pub const SIZES: &'static [Self] = Self::ALL.split_at(8).0;

    /// All of them, the single sizes first.
    pub const ALL: [Self; 14] = [
        Self::StickerHeight,
        Self::StickerAhead,
        Self::StickerOffCentre,
        Self::TrackWidth,
        Self::WheelDiameter,
        Self::Lens,
        Self::RowTime,
        Self::MarkRadius,
        Self::FloorMarks,
        Self::PixelNoise,
        Self::StringSizes,
        Self::DrivenShare,
        Self::PlainScale,
        Self::Method,
    ];

    /// The name used in the files.
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::StickerHeight => "sticker_height",
            Self::StickerAhead => "sticker_ahead",
            Self::StickerOffCentre => "sticker_off_centre",
            Self::TrackWidth => "track_width",
            Self::WheelDiameter => "wheel_diameter",
            Self::Lens => "lens",
            Self::RowTime => "row_time",
            Self::MarkRadius => "mark_radius",
            Self::FloorMarks => "floor_marks",
            Self::PixelNoise => "pixel_noise",
            Self::StringSizes => "string_sizes",
            Self::DrivenShare => "driven_share",
            Self::PlainScale => "plain_scale",
            Self::Method => "method",
        }
    }
}

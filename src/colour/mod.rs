//! Named sticker colours, and how strongly a (Cb, Cr) pair belongs to each.
//!
//! A sticker is recognised by the direction of its colour in the (Cb, Cr) plane, which brightness
//! and shadow hardly turn, and by its distance from grey. Names are a wide prior: which of the blobs
//! is the mark is decided later, from the whole clip.

mod membership;
mod pairs;

pub use pairs::{Closeness, closeness, farthest_from, off_hue_deg};

pub use membership::{LEVEL_SATURATIONS, MAX_WANTED, Membership};

use std::fmt;
use std::str::FromStr;

/// A colour that a sticker may be called by in a run sheet.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Colour {
    /// Pinkish purple, the print primary.
    Magenta,
    /// Signal red.
    Red,
    /// Between red and yellow.
    Orange,
    /// Lemon to golden yellow.
    Yellow,
    /// Leaf to emerald green.
    Green,
    /// Greenish blue, the print primary, turquoise and teal included.
    Cyan,
    /// Royal to ultramarine blue.
    Blue,
    /// Violet.
    Purple,
}

impl Colour {
    /// Every colour, in the order of the hue circle.
    pub const ALL: [Self; 8] = [
        Self::Magenta,
        Self::Red,
        Self::Orange,
        Self::Yellow,
        Self::Green,
        Self::Cyan,
        Self::Blue,
        Self::Purple,
    ];

    /// The text that names it.
    pub fn text_id(self) -> String {
        format!("colour-{}", self.as_str())
    }

    /// The name as written in a run sheet.
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Magenta => "magenta",
            Self::Red => "red",
            Self::Orange => "orange",
            Self::Yellow => "yellow",
            Self::Green => "green",
            Self::Cyan => "cyan",
            Self::Blue => "blue",
            Self::Purple => "purple",
        }
    }

    /// A typical paint of that name as R'G'B' on 0..255: only its hue is used.
    ///
    /// Common practice, no source: photographs of paper stickers scatter widely about these.
    pub const fn typical_rgb(self) -> [f64; 3] {
        match self {
            Self::Magenta => [225.0, 45.0, 160.0],
            Self::Red => [205.0, 30.0, 40.0],
            Self::Orange => [235.0, 115.0, 15.0],
            Self::Yellow => [240.0, 210.0, 30.0],
            Self::Green => [35.0, 155.0, 65.0],
            Self::Cyan => [0.0, 165.0, 185.0],
            Self::Blue => [35.0, 85.0, 215.0],
            Self::Purple => [115.0, 50.0, 165.0],
        }
    }
}

impl fmt::Display for Colour {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.as_str())
    }
}

/// A word that is no [`Colour`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("not one of magenta, red, orange, yellow, green, cyan, blue, purple")]
pub struct UnknownColour;

impl FromStr for Colour {
    type Err = UnknownColour;

    /// The colour of that name; upper and lower case are the same.
    fn from_str(name: &str) -> Result<Self, UnknownColour> {
        Self::ALL
            .into_iter()
            .find(|colour| colour.as_str().eq_ignore_ascii_case(name))
            .ok_or(UnknownColour)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_colour_is_found_by_its_own_name() {
        for colour in Colour::ALL {
            assert_eq!(colour.as_str().parse(), Ok(colour));
            assert_eq!(colour.to_string().to_uppercase().parse(), Ok(colour));
        }
        assert_eq!("pink".parse::<Colour>(), Err(UnknownColour));
    }
}

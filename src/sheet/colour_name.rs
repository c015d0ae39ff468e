//! Names of the sticker colours.

use std::fmt;
use std::str::FromStr;

/// A sticker colour that can be told from the others and from common floors.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum ColourName {
    /// Magenta.
    Magenta,
    /// Red.
    Red,
    /// Orange.
    Orange,
    /// Yellow.
    Yellow,
    /// Green.
    Green,
    /// Cyan.
    Cyan,
    /// Blue.
    Blue,
    /// Purple.
    Purple,
}

impl ColourName {
    /// Every colour, in the order of the list that errors print.
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
}

impl fmt::Display for ColourName {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.as_str())
    }
}

/// A word that is no [`ColourName`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("not one of magenta, red, orange, yellow, green, cyan, blue, purple")]
pub struct UnknownColour;

impl FromStr for ColourName {
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
        for colour in ColourName::ALL {
            assert_eq!(colour.as_str().parse(), Ok(colour));
            assert_eq!(colour.to_string().to_uppercase().parse(), Ok(colour));
        }
        assert_eq!("pink".parse::<ColourName>(), Err(UnknownColour));
    }

    #[test]
    fn the_error_lists_every_colour() {
        for colour in ColourName::ALL {
            assert!(
                UnknownColour.to_string().contains(colour.as_str()),
                "{colour}"
            );
        }
    }
}

//! Why a clip could not be measured, and what to do next.

use crate::clip::ClipError;
use crate::clip::Damage;
use std::path::PathBuf;

/// Why a clip could not be measured.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum RunError {
    /// The clip could not be read.
    #[error(transparent)]
    Clip(#[from] ClipError),
    /// Nothing in the sticker's colour could be followed.
    #[error("no {colour} sticker could be followed in `{path}`: {seen}")]
    NoSticker {
        /// The clip.
        path: PathBuf,
        /// The colour looked for.
        colour: String,
        /// What was seen instead.
        seen: String,
    },
    /// Nothing of the sticker's colour moved: no run.
    #[error(
        "something {colour} was found that never moved in `{path}`{damage}; is that the sticker?"
    )]
    NothingMoved {
        /// The clip.
        path: PathBuf,
        /// The sticker's colour.
        colour: String,
        /// What was wrong with its file, each part after a semicolon.
        damage: String,
    },
    /// Several things in the sticker's colour move like a car.
    #[error("more than one {colour} thing moves like the car in `{path}`: {places}")]
    SeveralCars {
        /// The clip.
        path: PathBuf,
        /// The sticker's colour.
        colour: String,
        /// Where each of them is first seen, as the run sheet would say it.
        places: String,
    },
    /// Sticker and wheel mark have one colour: both move with the car, and look alike.
    #[error("the sticker and the wheel mark are both {colour}: nothing tells one from the other")]
    SameColour {
        /// The colour of both.
        colour: String,
    },
    /// There is no run sheet, and the clip does not show the printed kit.
    #[error("without a run sheet the printed kit's marks are needed, and in `{path}` {missing}")]
    NoKit {
        /// The clip.
        path: PathBuf,
        /// What was not seen.
        missing: String,
    },
    /// The sheet asks for more different colours than one pass looks for.
    #[error(
        "the run sheet names {count} different mark colours; at most {most} can be told apart in one clip"
    )]
    TooManyColours {
        /// Colours asked for.
        count: usize,
        /// Colours possible.
        most: usize,
    },
}

impl RunError {
    /// The same; what was wrong with the clip's file may be why no sticker was seen, or seen to move.
    pub(super) fn with_damage(mut self, damage: &[Damage]) -> Self {
        if let Self::NoSticker { seen: words, .. } | Self::NothingMoved { damage: words, .. } =
            &mut self
        {
            for part in damage {
                *words += "; ";
                *words += &part.to_string();
            }
        }
        self
    }

    /// What to do next.
    pub fn hint(&self) -> &'static str {
        match self {
            Self::Clip(error) => error.hint(),
            Self::SameColour { .. } => {
                "give the wheel mark a colour of its own, far from the sticker's and the floor marks'"
            }
            Self::NoSticker { .. } => {
                "check `[sticker] colour` in the run sheet; the sticker should be at least 8 pixels \
                 across, evenly lit and wholly in view for a few frames"
            }
            Self::NothingMoved { .. } => {
                "start filming before the release and keep the car in view until it coasts; check \
                 `[sticker] colour` in the run sheet; `gripline check` judges a test shot of a car that stands"
            }
            Self::SeveralCars { .. } => {
                "write the `at_px` and `at_s` of the sticker under [sticker] in the run sheet, one of \
                 those named here or any other moment; or film again without the others"
            }
            Self::NoKit { .. } => {
                "run `gripline setup CLIP --sheet run.toml` to point at the marks and type the sizes, then pass \
                 `--sheet run.toml`; `gripline kit` prints marks that need no sheet"
            }
            Self::TooManyColours { .. } => "use the same colour for all floor marks",
        }
    }
}

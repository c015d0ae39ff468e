//! What a view does not show, in words.

use crate::camera::CameraReason;
use std::fmt;

impl fmt::Display for CameraReason {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::FewMarks { named } => write!(
                f,
                "the run sheet names {named} floor marks; four or more that are not in a line give a camera"
            ),
            Self::MarksInLine => f.write_str(
                "the floor marks in the run sheet lie in a line; a camera needs four that do not",
            ),
            Self::NoFit { patches } => write!(
                f,
                "{patches} patches of the floor marks' colour lie still in the picture, but no four of them fit \
                 the places in the run sheet"
            ),
            Self::MovesUnplaced { named } => write!(
                f,
                "the camera moves, and in no frame do four of the {named} floor marks, no three of them in a line, \
                 fit the places in the run sheet; keep at least four such in view all along, or put the phone on \
                 something steady"
            ),
            Self::MovesOtherwise => {
                f.write_str("the camera moves in a way that the floor marks do not follow")
            }
            Self::Moves => f.write_str("the camera moves"),
            Self::NoKnownSize => f.write_str(
                "nothing in the view has a known size: lay floor marks at known places, or give the wheel mark's \
                 radius in the run sheet",
            ),
            Self::PlainScale => f.write_str(
                "this view has a plain scale only: four floor marks that are not in a line would show sideways \
                 motion",
            ),
        }
    }
}

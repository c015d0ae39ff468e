//! What a view does not show, in words.

use super::{Said, shown_in_english};
use crate::camera::CameraReason;
use crate::texts::{Texts, say};

shown_in_english!(CameraReason);

impl Said for CameraReason {
    fn said(&self, texts: &Texts) -> String {
        match *self {
            Self::FewMarks { named } => say!(texts, "why-few-marks", named = named),
            Self::MarksInLine => texts.text("why-marks-in-line"),
            Self::NoFit { patches } => say!(texts, "why-no-fit", patches = patches),
            Self::MovesUnplaced { named } => say!(texts, "why-moves-unplaced", named = named),
            Self::MovesOtherwise => texts.text("why-moves-otherwise"),
            Self::Moves => texts.text("why-moves"),
            Self::NoKnownSize => texts.text("why-no-known-size"),
            Self::PlainScale => texts.text("why-plain-scale"),
        }
    }
}

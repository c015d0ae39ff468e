//! What the marks do not show of the motion, in words: what is wrong, and what to do about it.

use super::{Said, shown_in_english};
use crate::motion::MotionReason;
use crate::texts::{Texts, say};

shown_in_english!(MotionReason);

impl Said for MotionReason {
    fn said(&self, texts: &Texts) -> String {
        let fact = self.fact_in(texts);
        match self.remedy_in(texts) {
            Some(remedy) => say!(texts, "why-and-remedy", fact = fact, remedy = remedy),
            None => fact,
        }
    }
}

impl MotionReason {
    /// What is wrong, in English.
    pub fn fact(&self) -> String {
        self.fact_in(Texts::english())
    }

    /// What to do about it, where there is something, in English.
    pub fn remedy(&self) -> Option<String> {
        self.remedy_in(Texts::english())
    }

    fn fact_in(&self, texts: &Texts) -> String {
        match *self {
            Self::View(reason) => reason.said(texts),
            Self::FewWheelFrames { seen, needed } => {
                say!(texts, "why-few-wheel-frames", seen = seen, needed = needed)
            }
            Self::OffHub { by_m } => {
                say!(texts, "why-off-hub", mm = texts.fixed(1000.0 * by_m, 0))
            }
            Self::FewKept { kept, of } => say!(texts, "why-few-kept", kept = kept, of = of),
            Self::HalfTurns { beyond, of, .. } => {
                say!(texts, "why-half-turns", beyond = beyond, of = of)
            }
            Self::CountUnsure { sure, of } => {
                say!(texts, "why-count-unsure", sure = sure, of = of)
            }
            Self::OtherWheel {
                rolls_on_m,
                sheet_m,
            } => say!(
                texts,
                "why-other-wheel",
                rolls = texts.fixed(2000.0 * rolls_on_m, 0),
                sheet = texts.fixed(2000.0 * sheet_m, 0),
            ),
            Self::TurnedLess { short_m } => {
                say!(texts, "why-turned-less", short = texts.fixed(short_m, 2))
            }
            _ => texts.text(self.sentence()),
        }
    }

    /// The text of a reason without numbers.
    const fn sentence(&self) -> &'static str {
        match self {
            Self::StickerUnseen => "why-sticker-unseen",
            Self::StickerSeldom => "why-sticker-seldom",
            Self::OffTheFloor => "why-off-the-floor",
            Self::NoSmoothPath => "why-no-smooth-path",
            Self::NeverMoves => "why-never-moves",
            Self::AlreadyMoving => "why-already-moving",
            Self::RestUnsure => "why-rest-unsure",
            Self::ShortClip => "why-short-clip",
            Self::NoWheelMark => "why-no-wheel-mark",
            Self::NoAxleMark => "why-no-axle-mark",
            Self::NoCircle => "why-no-circle",
            Self::TurnedTooLittle => "why-turned-too-little",
            // These have numbers or reasons of their own, told above.
            Self::View(_)
            | Self::FewWheelFrames { .. }
            | Self::OffHub { .. }
            | Self::FewKept { .. }
            | Self::HalfTurns { .. }
            | Self::CountUnsure { .. }
            | Self::OtherWheel { .. }
            | Self::TurnedLess { .. } => "",
        }
    }

    fn remedy_in(&self, texts: &Texts) -> Option<String> {
        let remedy = match *self {
            Self::OffTheFloor => "remedy-off-the-floor",
            Self::RestUnsure => "remedy-rest-unsure",
            Self::OffHub { .. } => "remedy-off-hub",
            Self::FewKept { .. } => "remedy-few-kept",
            Self::HalfTurns {
                enough_per_s: Some(fps),
                ..
            } => {
                let rate = texts.fixed(fps, 0);
                return Some(say!(texts, "remedy-half-turns-rate", rate = rate));
            }
            Self::HalfTurns { .. } => "remedy-half-turns",
            Self::CountUnsure { .. } => "remedy-count-unsure",
            Self::OtherWheel { .. } => "remedy-other-wheel",
            _ => return None,
        };
        Some(texts.text(remedy))
    }
}

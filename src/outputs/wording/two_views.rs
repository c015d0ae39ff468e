//! Why two clips are not lined up, or not joined, in words.

use super::{Said, shown_in_english};
use crate::texts::{Texts, say};
use crate::two_views::{AlignmentNote, AlignmentReason, JoinReason, Missed, SnapReason, ViewName};
use crate::uncertainty::QuantityReason;

shown_in_english!(
    Missed<SnapReason>,
    Missed<QuantityReason>,
    AlignmentNote,
    AlignmentReason,
    JoinReason,
);

impl Said for Missed<SnapReason> {
    fn said(&self, texts: &Texts) -> String {
        let view = view(self.view);
        match self.why {
            SnapReason::SlowMotion => say!(texts, "missed-slow-motion", view = view),
            SnapReason::NoSound => say!(texts, "missed-no-sound", view = view),
            SnapReason::NothingStandsOut => say!(texts, "missed-no-snap", view = view),
        }
    }
}

impl Said for Missed<QuantityReason> {
    fn said(&self, texts: &Texts) -> String {
        let (view, why) = (view(self.view), self.why.said(texts));
        say!(texts, "missed-motion", view = view, why = why)
    }
}

impl Said for AlignmentNote {
    fn said(&self, texts: &Texts) -> String {
        match self {
            Self::OtherBang { apart_s } => say!(
                texts,
                "align-other-bang",
                ms = texts.fixed(1000.0 * apart_s, 0)
            ),
            Self::Unchecked(missed) => say!(texts, "align-unchecked", why = missed.said(texts)),
            Self::NoSnap(missed) => say!(texts, "align-no-snap", why = missed.said(texts)),
        }
    }
}

impl Said for AlignmentReason {
    fn said(&self, texts: &Texts) -> String {
        let (sound, motion) = (self.sound.said(texts), self.motion.said(texts));
        say!(texts, "align-not", sound = sound, motion = motion)
    }
}

impl Said for JoinReason {
    fn said(&self, texts: &Texts) -> String {
        match self {
            Self::NotMeasured(missed) => {
                let (view, why) = (view(missed.view), missed.why.said(texts));
                say!(texts, "join-not-measured", view = view, why = why)
            }
            Self::NotAligned(reason) => reason.said(texts),
            Self::OtherRun { apart } => say!(
                texts,
                "join-other-run",
                share = texts.fixed(100.0 * apart, 0)
            ),
        }
    }
}

/// A view, as texts choose by it.
const fn view(view: ViewName) -> &'static str {
    match view {
        ViewName::Side => "side",
        ViewName::End => "end",
    }
}

//! What a run does not show, in words.

use super::{Said, shown_in_english};
use crate::analysis::{AnalysisReason, ClockDoubt, SlowSign, TooQuick};
use crate::findings::{FindingReason, Missing};
use crate::texts::{Texts, say};
use crate::uncertainty::QuantityReason;

shown_in_english!(
    FindingReason,
    QuantityReason,
    AnalysisReason,
    TooQuick,
    ClockDoubt,
    SlowSign,
);

impl Said for FindingReason {
    fn said(&self, texts: &Texts) -> String {
        match *self {
            Self::Motion(reason) => reason.said(texts),
            Self::NotOnSheet(missing) => {
                say!(texts, "why-not-on-sheet", what = sheet_size(missing))
            }
            Self::WheelLate { late_s } => {
                say!(texts, "why-wheel-late", late = texts.fixed(late_s, 2))
            }
            Self::UnevenScale { by } => say!(
                texts,
                "why-uneven-scale",
                share = texts.fixed(100.0 * by, 0)
            ),
            Self::ShortPath { over_m, least_m } => say!(
                texts,
                "why-short-path",
                over = texts.fixed(over_m, 2),
                least = texts.marked(&least_m.to_string()),
            ),
            ref other => texts.text(sentence(other)),
        }
    }
}

/// The size that is missing, as the text chooses by it.
const fn sheet_size(missing: Missing) -> &'static str {
    match missing {
        Missing::DrivenShare => "driven-share",
        Missing::Mass => "mass",
        Missing::Wheelbase => "wheelbase",
        Missing::String => "string",
    }
}

/// The text of a reason without numbers.
const fn sentence(reason: &FindingReason) -> &'static str {
    match reason {
        FindingReason::ClockUnknown => "why-clock-unknown",
        FindingReason::WheelUnseen => "why-wheel-unseen",
        FindingReason::WheelLost => "why-wheel-lost",
        FindingReason::WheelLostBeforeEnd => "why-wheel-lost-before-end",
        FindingReason::AxleApart => "why-axle-apart",
        FindingReason::SlowRim => "why-slow-rim",
        FindingReason::BriefSlip => "why-brief-slip",
        FindingReason::NoRadius => "why-no-radius",
        FindingReason::PullUnseen => "why-pull-unseen",
        FindingReason::PullNotWhole => "why-pull-not-whole",
        FindingReason::StillGaining => "why-still-gaining",
        FindingReason::EndUnclear => "why-end-unclear",
        FindingReason::EndUntold => "why-end-untold",
        FindingReason::ShortCoast => "why-short-coast",
        FindingReason::NoCoastForGain => "why-no-coast-for-gain",
        FindingReason::ShortCoastForGain => "why-short-coast-for-gain",
        FindingReason::NoShape => "why-no-shape",
        FindingReason::SwayUntold => "why-sway-untold",
        // The others have numbers or reasons of their own, told above.
        FindingReason::NotComputed
        | FindingReason::Motion(_)
        | FindingReason::NotOnSheet(_)
        | FindingReason::WheelLate { .. }
        | FindingReason::UnevenScale { .. }
        | FindingReason::ShortPath { .. } => "why-not-computed",
    }
}

impl Said for QuantityReason {
    fn said(&self, texts: &Texts) -> String {
        match self {
            Self::Finding(reason) => reason.said(texts),
            Self::NoAnalysis(reason) => reason.said(texts),
            Self::Indeterminate => texts.text("why-indeterminate"),
            Self::SpunOutOfSight => texts.text("why-spun-out-of-sight"),
        }
    }
}

impl Said for AnalysisReason {
    fn said(&self, texts: &Texts) -> String {
        match self {
            Self::Motion(reason) => reason.said(texts),
            Self::NoRun => texts.text("why-no-run"),
            Self::StickerStill => texts.text("why-sticker-still"),
            Self::TooQuick(quick) => say!(texts, "why-too-quick", sign = quick.said(texts)),
        }
    }
}

impl Said for TooQuick {
    fn said(&self, texts: &Texts) -> String {
        let pull = texts.fixed(self.pull_m_per_s2, 0);
        say!(texts, "sign-too-quick", pull = pull)
    }
}

impl Said for ClockDoubt {
    fn said(&self, texts: &Texts) -> String {
        match self {
            Self::TooQuick(quick) => say!(texts, "doubt-too-quick", sign = quick.said(texts)),
            Self::TooSlow {
                sign,
                file_per_s,
                likely_per_s,
            } => {
                let (sign, rate) = (sign.said(texts), texts.fixed(*file_per_s, 0));
                let rates = likely_per_s.iter().map(|rate| texts.fixed(*rate, 0));
                let likely =
                    rates.reduce(|one, other| say!(texts, "doubt-or", one = one, other = other));
                match likely {
                    None => say!(texts, "doubt-too-slow", sign = sign, rate = rate),
                    Some(likely) => say!(
                        texts,
                        "doubt-too-slow-likely",
                        sign = sign,
                        likely = likely,
                        rate = rate
                    ),
                }
            }
        }
    }
}

impl Said for SlowSign {
    fn said(&self, texts: &Texts) -> String {
        match *self {
            Self::WeakPull {
                pull_m_per_s2: pull,
            } => {
                say!(texts, "sign-weak-pull", pull = texts.fixed(pull, 3))
            }
            Self::WeakSpin {
                pull_m_per_s2: pull,
            } => {
                say!(texts, "sign-weak-spin", pull = texts.fixed(pull, 2))
            }
            Self::FreeCoast {
                loss_m_per_s2: loss,
            } => {
                say!(texts, "sign-free-coast", loss = texts.fixed(loss, 4))
            }
            Self::LowPeak { peak_m_per_s: peak } => {
                say!(texts, "sign-low-peak", peak = texts.fixed(peak, 2))
            }
        }
    }
}

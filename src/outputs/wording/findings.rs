//! What a run does not show, in words.

use crate::analysis::{AnalysisReason, ClockDoubt, SlowSign, TooQuick};
use crate::findings::{FindingReason, Missing};
use crate::uncertainty::QuantityReason;
use std::fmt;

impl fmt::Display for FindingReason {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Motion(reason) => reason.fmt(f),
            Self::NotOnSheet(missing) => {
                write!(f, "the run sheet does not give {}", sheet_keys(*missing))
            }
            Self::WheelLate { late_s } => write!(
                f,
                "the wheel mark was first seen {late_s:.2} s after the start; have the driven wheel in view, and \
                 lit, before the release"
            ),
            Self::UnevenScale { by } => write!(
                f,
                "the car came nearer or went away by {:.0} % while it ran, and a plain scale cannot follow that; \
                 lay four floor marks that are not in a line",
                100.0 * by
            ),
            Self::ShortPath { over_m, least_m } => write!(
                f,
                "the car went {over_m:.2} m in view; its path has a shape from {least_m} m"
            ),
            other => f.write_str(sentence(other)),
        }
    }
}

/// The key, or keys, that a size is written under.
const fn sheet_keys(missing: Missing) -> &'static str {
    match missing {
        Missing::DrivenShare => "`driven_share`",
        Missing::Mass => "the car's `mass_g`",
        Missing::Wheelbase => "`wheelbase_mm`",
        Missing::String => "both `axle_diameter_mm` and `string_mm`",
    }
}

/// The words of a reason without numbers.
const fn sentence(reason: &FindingReason) -> &'static str {
    match reason {
        FindingReason::ClockUnknown => {
            "the clip looks like slow motion whose rate nobody names: give `[camera] capture_fps` in the run sheet"
        }
        FindingReason::WheelUnseen => "the wheel mark was not seen beside the sticker",
        FindingReason::WheelLost => {
            "the wheel mark was lost too early for its turns to be counted; film nearer, in better light, or from \
             where nothing hides the wheel"
        }
        FindingReason::WheelLostBeforeEnd => "the wheel mark was lost before the end of the pull",
        FindingReason::AxleApart => "wheel mark and axle mark were not seen together",
        FindingReason::SlowRim => {
            "the rim never turned fast enough under power for slip to be defined"
        }
        FindingReason::BriefSlip => "the wheel did not slip long enough to show the friction",
        FindingReason::NoRadius => {
            "the clip shows no coast from which to take the rolling radius, and the run sheet does not give the \
             wheel's diameter"
        }
        FindingReason::PullUnseen => "the pull was not in view",
        FindingReason::PullNotWhole => "the pull was not in view from release to end",
        FindingReason::StillGaining => "the car was still gaining speed when it left the view",
        FindingReason::EndUnclear => {
            "the end of the pull is not in view, or the pull fades out without a clear end"
        }
        FindingReason::EndUntold => {
            "the car's speed alone does not tell when the string ran out: a wheel that spins goes on pushing until \
             it grips; put a mark on the driven wheel and keep it in view"
        }
        FindingReason::ShortCoast => {
            "the clip shows no coast long enough to measure its slowing down"
        }
        FindingReason::NoCoastForGain => {
            "the clip shows no coast from which to tell what a metre of rolling costs"
        }
        FindingReason::ShortCoastForGain => {
            "the coast in view is too short to tell what a metre of rolling costs"
        }
        FindingReason::NoShape => "the path is too short to have a shape",
        FindingReason::SwayUntold => {
            "the car did not go far enough in view to tell a sway from a curve"
        }
        FindingReason::NotComputed => "it was not computed",
        // These have numbers or reasons of their own, told above.
        FindingReason::Motion(_)
        | FindingReason::NotOnSheet(_)
        | FindingReason::WheelLate { .. }
        | FindingReason::UnevenScale { .. }
        | FindingReason::ShortPath { .. } => "",
    }
}

impl fmt::Display for QuantityReason {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Finding(reason) => reason.fmt(f),
            Self::NoAnalysis(reason) => reason.fmt(f),
            Self::Indeterminate => f.write_str("the numbers do not determine it"),
            Self::SpunOutOfSight => f.write_str(
                "the wheel spun, and the view that shows the path does not show the wheel: a car turned by the \
                 spin cannot be told from one that steers itself or was set down askew",
            ),
        }
    }
}

impl fmt::Display for AnalysisReason {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Motion(reason) => reason.fmt(f),
            Self::NoRun => f.write_str("nothing was released in this clip"),
            Self::StickerStill => f.write_str(
                "the sticker never moved in this clip, so there is no run to measure; start filming before the \
                 release, and keep the car in view until it coasts",
            ),
            Self::TooQuick(quick) => write!(
                f,
                "the clock or the sizes are in doubt ({quick}): check `[camera] capture_fps` and the floor marks' \
                 places in the run sheet"
            ),
        }
    }
}

impl fmt::Display for TooQuick {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "the car would gain {:.0} m/s in a second, more than tyres can push",
            self.pull_m_per_s2
        )
    }
}

impl fmt::Display for ClockDoubt {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::TooQuick(quick) => write!(
                f,
                "the clip's clock or the run sheet's sizes cannot be right: {quick}; check `[camera] capture_fps` \
                 and the floor marks' places in the run sheet"
            ),
            Self::TooSlow {
                sign,
                file_per_s,
                likely_per_s,
            } => {
                write!(
                    f,
                    "this looks like slow motion whose rate nobody names: {sign}"
                )?;
                if !likely_per_s.is_empty() {
                    let rates: Vec<String> = likely_per_s
                        .iter()
                        .map(|rate| format!("{rate:.0}"))
                        .collect();
                    write!(
                        f,
                        "; {} frames a second would make it an ordinary car",
                        rates.join(" or ")
                    )?;
                }
                write!(
                    f,
                    ". Write the rate at which the clip was taken into the run sheet as `[camera] capture_fps`, or \
                     {file_per_s:.0} if the clip plays as fast as the run was"
                )
            }
        }
    }
}

impl fmt::Display for SlowSign {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::WeakPull { pull_m_per_s2 } => write!(
                f,
                "the car would gain only {pull_m_per_s2:.3} m/s in a second under power"
            ),
            Self::WeakSpin { pull_m_per_s2 } => write!(
                f,
                "the wheel slips although the car would gain only {pull_m_per_s2:.2} m/s in a second"
            ),
            Self::FreeCoast { loss_m_per_s2 } => write!(
                f,
                "the car would lose only {loss_m_per_s2:.4} m/s in a second while it coasts, less than a train"
            ),
            Self::LowPeak { peak_m_per_s } => write!(
                f,
                "the car would never be faster than {peak_m_per_s:.2} m/s"
            ),
        }
    }
}

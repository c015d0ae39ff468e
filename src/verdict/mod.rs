//! From findings with intervals to a cause, its cost, and what to try.
//!
//! Every cause is weighed in one currency: metres of travel lost and metres off line at the end of the
//! view. A cause counts when the low end of its cost is above what is negligible; the dearest of those
//! is the primary one. What the view cannot show is never taken for nothing.
//!
//! # The rule
//!
//! Costs are taken at the end of the view, and after five metres. A cost counts when the low end of its interval is
//! above what is negligible and, for terms of the path, when the models with it outweigh the others nineteen to
//! one; the dearest is the cause, the others stand under `also`. "None" needs every cost, and the distance off line
//! at the end of the view, to be surely below 8 % of the way (twice what is negligible, if that is more); else the
//! verdict is "undetermined", and `not_seen` and `try` say what bars it and what would decide. Where the sheet has
//! the string and its end was not seen, the string's cost is bounded by the turns until the wheel was fastest
//! (`findings/drive.rs`). Only what nobody asks is left out: a string that the sheet does not have, and a coast
//! where none is in view. The verdict "none" names both as not judged. A verdict has no confidence of its own: the
//! rule rests on 95 % intervals, so over simulated runs such a number was 0.98 for nearly all of them and told
//! nothing.

mod advice;
mod reasons;
mod weigh;

use advice::advice;

pub use advice::CAUTION;
pub use weigh::{CLEAR_SHARE, NEGLIGIBLE_M, NEGLIGIBLE_SHARE, NEGLIGIBLE_SWAY_M, SURE_MODEL};

use crate::findings::Key;
use crate::uncertainty::{Quantity, Result95};
use serde::Serialize;
use std::collections::BTreeMap;
use weigh::{Bounds, Weighed, weigh};

/// What the run is blamed on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Cause {
    /// The driven wheel slips on the floor under power.
    Grip,
    /// An axle is askew: the path curves steadily.
    Alignment,
    /// The car was set down pointing off line.
    Aim,
    /// A wheel wobbles: the car sways in step with it.
    Wobble,
    /// The string slips on the axle, or the wheel on it.
    Drive,
    /// Something rubs: the coast dies far too soon.
    Drag,
    /// No fault was found.
    None,
    /// This view cannot tell.
    Undetermined,
}

impl Cause {
    /// The name used in the files.
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Grip => "grip",
            Self::Alignment => "alignment",
            Self::Aim => "aim",
            Self::Wobble => "wobble",
            Self::Drive => "drive",
            Self::Drag => "drag",
            Self::None => "none",
            Self::Undetermined => "undetermined",
        }
    }
}

/// What a cause cost.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Cost {
    /// For slip the distance wasted in wheelspin, for drive the turns that never reached the wheel as
    /// travel, for drag what an ordinary coast would have added; within the view, m. What the car would
    /// gain without wheelspin is [`Key::GainWithoutSlipM`].
    pub travel_lost_m: Quantity,
    /// Distance off line at the end of the view, m (its size, not its side); for a wobble the sway from
    /// one side to the other.
    pub off_line_m: Quantity,
    /// The same once the car has gone five metres.
    pub after_5_m: Away,
}

/// A cost at a stated distance.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Away {
    /// Travel lost by then, m; for drag until the car stands.
    pub travel_lost_m: Quantity,
    /// Distance off line there, m.
    pub off_line_m: Quantity,
}

/// The judgement on a run.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Verdict {
    /// The primary cause.
    pub cause: Cause,
    /// The numbers that show it, most telling first.
    pub because: Vec<String>,
    /// What each cause cost, as far as this view shows it.
    pub costs: BTreeMap<Cause, Cost>,
    /// Causes that count as well, dearest first.
    pub also: Vec<Cause>,
    /// What this view could not show, and why.
    pub not_seen: Vec<String>,
    /// What to try, best first.
    #[serde(rename = "try")]
    pub try_next: Vec<String>,
}

/// Judges a run.
///
/// A verdict carries no number of its own that says how sure it is. A cause is named where the 95 %
/// interval of its cost lies above what is negligible, and "none" where every interval lies below what
/// would matter, so that number would be the same for nearly all; the intervals say the rest, and
/// DEVELOPERS.md says how often such verdicts were right.
pub fn judge(result: &Result95) -> Verdict {
    let bounds = Bounds::of(result);
    let weighed = weigh(result, &bounds);
    let mut counting: Vec<&Weighed> = weighed.iter().filter(|w| w.counts()).collect();
    counting.sort_by(|a, b| b.size_m().total_cmp(&a.size_m()));
    // Causes that are each surely small may still add up; and a path that is nowhere surely near the line
    // shows nothing.
    let off_line = result.get(Key::FinalDeviationM).magnitude();
    let on_line = off_line.high().is_some_and(|high| high < bounds.clear_m);
    let all_clear = on_line && weighed.iter().all(Weighed::clear);
    let cause = match counting.first() {
        Some(dearest) => dearest.cause,
        None if all_clear => Cause::None,
        None => Cause::Undetermined,
    };
    let also: Vec<Cause> = counting.iter().skip(1).map(|w| w.cause).collect();
    Verdict {
        cause,
        because: reasons::because(cause, result, &bounds, &weighed),
        try_next: advice(cause, &also, result, &weighed),
        not_seen: not_seen(result, &weighed),
        also,
        costs: weighed.into_iter().map(|w| (w.cause, w.cost)).collect(),
    }
}

fn not_seen(result: &Result95, weighed: &[Weighed]) -> Vec<String> {
    let vague = weighed.iter().filter_map(Weighed::open_words);
    let not_asked = weighed
        .iter()
        .filter_map(Weighed::not_asked)
        .map(|what| format!("not judged: {what}"));
    let unseen = Key::ALL
        .into_iter()
        .filter_map(|key| match result.get(key) {
            Quantity::NotObservable { reason } => Some(format!("{}: {reason}", key.as_str())),
            Quantity::Stated { .. } => None,
        });
    let skewed = weighed
        .iter()
        .find(|w| w.cause == Cause::Alignment && w.another_may())
        .map(|_| {
            "alignment: the path curves, but this view cannot tell axles that are askew from a wheel that lets \
             go before the other; a mark on the driven wheel in view, or more of the coast, would decide"
                .to_owned()
        });
    skewed
        .into_iter()
        .chain(vague)
        .chain(not_asked)
        .chain(unseen)
        .collect()
}

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
//! verdict is "undetermined", and the outputs say what bars it and what would decide. Where the sheet has
//! the string and its end was not seen, the string's cost is bounded by the turns until the wheel was fastest
//! (`findings/drive.rs`). Only what nobody asks is left out: a string that the sheet does not have, and a coast
//! where none is in view. The verdict "none" names both as not judged. A verdict has no confidence of its own: the
//! rule rests on 95 % intervals, so over simulated runs such a number was 0.98 for nearly all of them and told
//! nothing.

mod weigh;

pub use weigh::{
    Bounds, CLEAR_SHARE, NEGLIGIBLE_M, NEGLIGIBLE_SHARE, NEGLIGIBLE_SWAY_M, Open, SURE_MODEL,
    Weighed,
};

use crate::findings::Key;
use crate::uncertainty::{Quantity, Result95};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use weigh::weigh;

/// What the run is blamed on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
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
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
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
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Away {
    /// Travel lost by then, m; for drag until the car stands.
    pub travel_lost_m: Quantity,
    /// Distance off line there, m.
    pub off_line_m: Quantity,
}

/// The judgement on a run.
#[derive(Debug, Clone, PartialEq)]
pub struct Verdict {
    /// The primary cause.
    pub cause: Cause,
    /// Causes that count as well, dearest first.
    pub also: Vec<Cause>,
    /// What each cause cost, and how much of that was seen.
    pub weighed: Vec<Weighed>,
    /// What was too small to count.
    pub bounds: Bounds,
}

impl Verdict {
    /// What each cause cost, as far as this view shows it.
    pub fn costs(&self) -> BTreeMap<Cause, Cost> {
        self.weighed.iter().map(|w| (w.cause, w.cost)).collect()
    }
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
    // What cost surely more and may be either of two causes is not outweighed by a small one that is sure. A curve that
    // is not surely the axles' may be the slip's.
    let open = |dearest: &Weighed| {
        let dearer = |w: &Weighed| w.another_may() && w.surely_above(dearest);
        dearest.cause != Cause::Grip && weighed.iter().any(dearer)
    };
    let undecided = counting.first().is_some_and(|dearest| open(dearest));
    let cause = match counting.first() {
        Some(_) if undecided => Cause::Undetermined,
        Some(dearest) => dearest.cause,
        None if all_clear => Cause::None,
        None => Cause::Undetermined,
    };
    let others = counting.iter().skip(usize::from(!undecided));
    let also = others.map(|w| w.cause).collect();
    Verdict {
        cause,
        also,
        weighed,
        bounds,
    }
}

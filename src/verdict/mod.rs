//! From findings with intervals to a cause, its cost, and what to try.
//!
//! Every cause is weighed in one currency: metres of travel lost and metres off line at the end of the
//! view. A cause counts when the low end of its cost is above what is negligible; the dearest of those
//! is the primary one. What the view cannot show is never taken for nothing.

mod advice;

pub use advice::{CAUTION, advice};

use crate::findings::Key;
use crate::uncertainty::{Quantity, Result95};
use serde::Serialize;
use std::collections::BTreeMap;

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
    /// Nothing worth mending was found.
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
            Self::None => "none",
            Self::Undetermined => "undetermined",
        }
    }
}

/// What a cause cost.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Cost {
    /// Travel that the floor never got, m.
    pub travel_lost_m: Quantity,
    /// Distance off line at the end of the view, m (its size, not its side).
    pub off_line_m: Quantity,
}

/// The judgement on a run.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Verdict {
    /// The primary cause.
    pub cause: Cause,
    /// How sure, from 0 to 1: the share of the cost's own distribution that is above negligible.
    pub confidence: f64,
    /// The numbers that show it, most telling first.
    pub because: Vec<String>,
    /// What each cause cost.
    pub costs: BTreeMap<Cause, Cost>,
    /// Causes that count as well.
    pub also: Vec<Cause>,
    /// What this view could not show, and why.
    pub not_seen: Vec<String>,
    /// What to try, best first.
    #[serde(rename = "try")]
    pub try_next: Vec<String>,
}

/// A cost below this share of the way travelled is not worth mending: two hundredths is what cars of
/// one class differ by from run to run. Common practice, no source.
pub const NEGLIGIBLE_SHARE: f64 = 0.02;
/// ... and never less than this, m: a tape on a classroom floor reads no finer.
pub const NEGLIGIBLE_M: f64 = 0.02;
/// "Nothing found" is only said where the high end of every cost is below this share of the way.
pub const CLEAR_SHARE: f64 = 0.08;

struct Weighed {
    cause: Cause,
    size: Quantity,
    cost: Cost,
}

/// Judges a run.
pub fn judge(result: &Result95) -> Verdict {
    let way = result.value(Key::DistanceM).unwrap_or(0.0);
    let negligible = NEGLIGIBLE_M.max(NEGLIGIBLE_SHARE * way);
    let clear = (2.0 * negligible).max(CLEAR_SHARE * way);
    let weighed = weigh(result);
    let mut counting: Vec<&Weighed> = weighed
        .iter()
        .filter(|w| w.size.low().is_some_and(|low| low > negligible))
        .collect();
    counting.sort_by(|a, b| b.size.value_or_zero().total_cmp(&a.size.value_or_zero()));
    let all_clear = weighed
        .iter()
        .all(|w| w.size.high().is_some_and(|high| high < clear));
    let cause = match counting.first() {
        Some(dearest) => dearest.cause,
        None if all_clear => Cause::None,
        None => Cause::Undetermined,
    };
    let confidence = match counting.first() {
        Some(dearest) => dearest.size.share_above(negligible),
        None if all_clear => weighed
            .iter()
            .map(|w| 1.0 - w.size.share_above(clear))
            .product::<f64>(),
        None => 0.0,
    };
    Verdict {
        cause,
        confidence: (confidence * 1000.0).round() / 1000.0,
        because: because(cause, result, negligible, clear),
        also: counting.iter().skip(1).map(|w| w.cause).collect(),
        try_next: advice(cause, result),
        not_seen: not_seen(result),
        costs: weighed.into_iter().map(|w| (w.cause, w.cost)).collect(),
    }
}

fn weigh(result: &Result95) -> Vec<Weighed> {
    let nothing = || Quantity::known(0.0, 0.0, 0.0);
    let spun = result.get(Key::SpunAwayM);
    let curve = result.off_line_by_curve_m.magnitude();
    let aim = result.off_line_by_aim_m.magnitude();
    vec![
        Weighed {
            cause: Cause::Grip,
            size: spun.clone(),
            cost: Cost {
                travel_lost_m: spun,
                off_line_m: nothing(),
            },
        },
        Weighed {
            cause: Cause::Alignment,
            size: curve.clone(),
            cost: Cost {
                travel_lost_m: nothing(),
                off_line_m: curve,
            },
        },
        Weighed {
            cause: Cause::Aim,
            size: aim.clone(),
            cost: Cost {
                travel_lost_m: nothing(),
                off_line_m: aim,
            },
        },
    ]
}

fn not_seen(result: &Result95) -> Vec<String> {
    Key::ALL
        .into_iter()
        .filter_map(|key| match result.get(key) {
            Quantity::NotObservable { reason } => Some(format!("{}: {reason}", key.as_str())),
            Quantity::Known { .. } => None,
        })
        .collect()
}

fn side(value: f64) -> &'static str {
    if value > 0.0 { "left" } else { "right" }
}

/// Three numbers that prove the verdict.
fn because(cause: Cause, result: &Result95, negligible: f64, clear: f64) -> Vec<String> {
    let say = |key: Key, what: &str, unit: &str, digits: usize| match result.get(key) {
        Quantity::Known { value, low, high } => {
            format!("{what} {value:.digits$}{unit} ({low:.digits$} to {high:.digits$})")
        }
        Quantity::NotObservable { reason } => format!("{what}: not observable, {reason}"),
    };
    let spun = say(Key::SpunAwayM, "spun away", " m", 2);
    let slip = say(Key::MaxSlip, "largest slip under power", "", 2);
    let speed = say(Key::PeakSpeedMPerS, "highest speed", " m/s", 2);
    let curvature = say(Key::CurvaturePerM, "steady curve", " per metre", 3);
    let skew = say(Key::ImpliedSkewRad, "axles askew by", " rad", 4);
    let off = result
        .value(Key::FinalDeviationM)
        .map_or_else(String::new, side_words);
    let end = say(Key::FinalDeviationM, "end of the view off line by", " m", 2) + &off;
    let heading = say(
        Key::AimErrorRad,
        "first heading off the aim line by",
        " rad",
        3,
    );
    match cause {
        Cause::Grip => vec![slip, spun, speed],
        Cause::Alignment => vec![curvature, skew, end],
        Cause::Aim => vec![heading, end, curvature],
        Cause::None => {
            vec![
                spun,
                end,
                format!("nothing above {:.0} mm counts here", 1000.0 * negligible),
            ]
        }
        Cause::Undetermined => vec![
            spun,
            end,
            format!(
                "to say \"nothing\" every cost must be surely below {:.0} mm",
                1000.0 * clear
            ),
        ],
    }
}

fn side_words(value: f64) -> String {
    format!(", to the {}", side(value))
}

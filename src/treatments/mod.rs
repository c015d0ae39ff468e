//! Which treatment grips better: many runs, read from their summaries, in groups, with what chance alone
//! would do.
//!
//! The run is the unit of replication, never the frame: a clip of two hundred frames is one value. From
//! summaries on disk the way goes to runs in order ([`read_runs`], [`put_in_order`]), to groups, to
//! statistics of each quantity ([`of_quantity()`]), to the steps of each car ([`CarLog`]) and to what should
//! make a reader careful ([`Warning`]). Nothing here prints or writes; `comparison/` puts it in words.
//!
//! # The order of the work
//!
//! [`compare`] calls its files in this order: `order` (the clips' own times if every clip has one of its own, else
//! names with numbers read as numbers), `groups` (a clip that is there twice is one run), `of_quantity` for each
//! quantity (`contrasts` sets the groups against each other, `straightness` asks twice more of a quantity with a
//! side), Holm's adjustment among all questions, `changes`, `warnings`. A warning is a fact with its numbers; the
//! words are made in `comparison/` (`say.rs`, `scatter.rs`, `care.rs`, `unlike.rs`, from parts in `phrases.rs`),
//! which the page, the terminal and `comparison.json` share.
//!
//! # What a run's interval does
//!
//! `shared.rs` takes it apart by the summary's budget: `pixel_noise` and `method` are the clip's own, all else
//! comes with the set-up. The clip's own part goes into `measuring.rs` (Paule and Mandel: what of the spread is
//! measuring, what the car). What comes with the set-up cancels between groups where it is surely one error, not
//! where numbers happen to be equal: a size is one measurement if both runs name the same car and size; floor
//! marks, lens and row times are one if the sheets name the same marks and line and the marks lay within 1/640 of
//! the picture's width of each other (`floor_marks_at_px` of the summary; in twelve drawn clips of one tripod they
//! differed by up to 0.23 px of 640). Where a summary does not say, for a moving camera or from an older version,
//! each group is taken to have an error of its own. For every error the parts by which it moves both means are
//! added with their signs, so a common one that moves them unequally stays in; the sum goes into the difference's
//! variance with endless degrees of freedom (JCGM 100, G.4.1). An interval is never made narrower by that:
//! Satterthwaite's degrees of freedom rise with it, and Student's t may fall by more than the variance grows. All
//! of it is in the thin ends of a mean's interval on the page (`full_interval`).
//!
//! # Which test for what
//!
//! Two groups: Welch's t. More: Welch's one-way test of all with two runs or more, and Holm among the pairs of
//! groups that can be tested; one run alone is shown and is in no test. Beside each, shuffles: all ways of dealing
//! the runs out up to 200 000 (4 + 4: 70; three times 4: 34 650), else 99 999 random ones with a fixed seed. A
//! difference is "clear" below 0.05 after Holm among pairs and Holm among questions, with three runs or more on
//! both sides; plans start at three for that reason. Of a quantity with a side (`has_side`) three questions are
//! asked: the mean, the size whichever side, and the spread, by the test of Brown and Forsythe without the one
//! distance in each group that is no news (`spread.rs` says why). For the size an error of the set-up does not
//! cancel between runs on either side of the line; `Seen::sense` carries that. Steps of a car's log are adjusted
//! among all steps, cars and quantities. Effect sizes and power rest on the noncentral t, which no crate of the
//! project has; it is integrated in `noncentral.rs` and agrees with scipy to 1e-8.
//!
//! # What else differs (`alike.rs`)
//!
//! Every key of the sheets but notes, places pointed at, what runs are grouped, paired or ordered by, and the floor
//! marks (told as the set-up); the day, the frame rate, the view, the set-up. Tied: two groups have no value in
//! common. Uneven: some group has half a run or more of a value above or below its share. Values of which every run
//! has its own are tied if they are numbers and two groups do not overlap, else they are spread. One warning names
//! all that is tied, one all that is uneven.

mod alike;
mod changes;
mod contrasts;
mod describe;
mod drift;
mod effect_size;
mod facts;
mod groups;
mod holm;
mod measuring;
mod noncentral;
mod of_quantity;
mod order;
mod pairs;
mod place;
mod plan;
mod power;
mod reading;
mod shared;
mod shuffles;
mod spread;
mod straightness;
mod variance;
mod warnings;
mod welch;

pub use alike::{Condition, Differing};
pub use changes::{CarLog, Step, StepChange, StepValue};
pub use contrasts::{Contrast, Overall};
pub use describe::{CONFIDENCE, Sample, describe, repeatability_factor, sd_interval, t_factor};
pub use drift::{Drift, Line, common_slope, drift};
pub use effect_size::{EffectSize, hedges_g, hedges_g_of_pairs, small_sample_factor};
pub use facts::{Fact, Facts, KeyError, SheetKey};
pub use groups::{Group, MOST_GROUPS, Role};
pub use holm::holm;
pub use measuring::{Measured, Spread, take_apart};
pub use noncentral::{noncentral_t_cdf, noncentrality_at};
pub use of_quantity::{GroupStatistics, OfQuantity, Point, of_quantity};
pub use order::{OrderBy, natural, put_in_order};
pub use plan::{Need, Plan, Why};
pub use power::{
    Design, MOST_RUNS, WANTED_POWER, power, runs_for, smallest_effect, whole_runs_for,
};
pub use reading::{LAYOUT, ReadError, Run, Seen, Value95, read_runs};
pub use shuffles::{MOST_COUNTED, Shuffles, shuffle_groups, shuffle_signs};
pub use spread::{SpreadPair, SpreadTest, Spreads, brown_forsythe, spread_test};
pub use straightness::{Straightness, has_side};
pub use variance::{Anova, Repeatability, WelchAnova, anova, repeatability, welch_anova};
pub use warnings::{FEWEST_RUNS, Warning};
pub use welch::{TTest, paired_t, welch_t};

use crate::findings::Key;
use std::collections::BTreeMap;

/// Tests are read at this chance of a false alarm: common practice.
pub const SIGNIFICANT: f64 = 0.05;

/// Both ends of a 95 % interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Interval {
    /// Low end.
    pub low: f64,
    /// High end.
    pub high: f64,
}

impl Interval {
    /// The same half width on both sides.
    pub fn about(value: f64, half: f64) -> Self {
        Self {
            low: value - half,
            high: value + half,
        }
    }

    /// Whether a value lies within.
    pub fn holds(&self, value: f64) -> bool {
        (self.low..=self.high).contains(&value)
    }
}

/// What is asked of the runs.
#[derive(Debug, Clone, PartialEq)]
pub struct Question {
    /// What runs are grouped by.
    pub by: SheetKey,
    /// The quantities; empty for [`USUAL`], as far as they were observed.
    pub of: Vec<Key>,
    /// What makes pairs of runs, such as the car.
    pub pair_by: Option<SheetKey>,
    /// What the order of the runs goes by; else what the clips tell.
    pub order_by: Option<OrderBy>,
    /// The group that others are set against; else that of the first run.
    pub against: Option<String>,
    /// Differences that one would like to see, in each quantity's unit.
    pub detect: BTreeMap<Key, f64>,
}

/// Where the pull went, in four numbers: what is compared where nothing else is asked for. Few, since
/// every further quantity is a further chance of a false alarm.
pub const USUAL: [Key; 4] = [
    Key::SpunAwayM,
    Key::MaxSlip,
    Key::PeakSpeedMPerS,
    Key::FinalDeviationM,
];

/// The answer.
#[derive(Debug, Clone, PartialEq)]
pub struct Comparison {
    /// What was asked.
    pub question: Question,
    /// What the order goes by.
    pub ordered_by: OrderBy,
    /// All runs, in order.
    pub runs: Vec<Run>,
    /// What part each run plays, as in `runs`.
    pub roles: Vec<Role>,
    /// The groups; the first is the one that others are set against.
    pub groups: Vec<Group>,
    /// One entry for each quantity.
    pub quantities: Vec<OfQuantity>,
    /// The steps of each car.
    pub logs: Vec<CarLog>,
    /// What should make a reader careful.
    pub warnings: Vec<Warning>,
}

/// Why runs cannot be compared.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum CompareError {
    /// No run says what it is to be grouped by.
    #[error("no run sheet has `{by}` ({runs} read)")]
    NoGroups {
        /// Runs read.
        runs: usize,
        /// The key.
        by: SheetKey,
    },
    /// So many groups that none can be told from the others.
    #[error(
        "the runs have {groups} different values of `{by}`; at most {MOST_GROUPS} are compared"
    )]
    TooManyGroups {
        /// Groups found.
        groups: usize,
        /// The key.
        by: SheetKey,
    },
    /// The group to set others against is not there.
    #[error("no run has `{by}` = \"{asked}\"; there are: {known}")]
    NoSuchGroup {
        /// The key.
        by: SheetKey,
        /// What was asked for.
        asked: String,
        /// What there is.
        known: String,
    },
    /// Nothing was observed that could be compared.
    #[error("none of the quantities was observed in any run ({runs} read): {why}")]
    NothingObserved {
        /// Runs read.
        runs: usize,
        /// The first reason given.
        why: String,
    },
}

impl CompareError {
    /// What to do next.
    pub const fn hint(&self) -> &'static str {
        match self {
            Self::NoGroups { .. } => {
                "write it on the run sheets and measure again, or group by another key with `--by`"
            }
            Self::TooManyGroups { .. } => {
                "group by a key with few values, such as `treatment` or `car`"
            }
            Self::NoSuchGroup { .. } => "give `--against` one of these",
            Self::NothingObserved { .. } => {
                "name others with `--of`, or film again so that they can be seen"
            }
        }
    }
}

/// Compares runs.
///
/// # Errors
/// [`CompareError`] where there is nothing to compare. Few or doubtful runs are no error but warnings.
pub fn compare(mut runs: Vec<Run>, question: Question) -> Result<Comparison, CompareError> {
    let ordered_by = put_in_order(&mut runs, question.order_by);
    let (roles, groups) = groups::sort_into_groups(&runs, &question)?;
    let keys = groups::quantities(&runs, &roles, &question)?;
    let mut quantities: Vec<OfQuantity> = (keys.iter())
        .map(|key| of_quantity(*key, &runs, &roles, &groups, &question))
        .collect();
    adjust_for_many(&mut quantities);
    let logs = changes::logs(&runs, &roles, &keys);
    let mut out = Comparison {
        question,
        ordered_by,
        runs,
        roles,
        groups,
        quantities,
        logs,
        warnings: Vec::new(),
    };
    out.warnings = warnings::warnings(&out);
    Ok(out)
}

/// Holm's adjustment of all questions among each other: whether the groups differ, in each quantity, and of one
/// with a side also whether they differ in how far off the line and how far apart the runs end.
fn adjust_for_many(quantities: &mut [OfQuantity]) {
    let mut asked: Vec<(f64, &mut f64)> = Vec::new();
    for quantity in quantities {
        let straightness = quantity.straightness.as_mut();
        let (off_line, spreads) = straightness.map_or((None, None), |found| {
            (found.overall.as_mut(), found.spreads.as_mut())
        });
        for overall in [quantity.overall.as_mut(), off_line].into_iter().flatten() {
            asked.push((overall.p, &mut overall.p_among_questions));
        }
        asked.extend(spreads.map(|found| (found.overall.p, &mut found.p_among_questions)));
    }
    let p: Vec<f64> = asked.iter().map(|(p, _)| *p).collect();
    for ((_, among), adjusted) in asked.into_iter().zip(holm(&p)) {
        *among = adjusted;
    }
}

impl Comparison {
    /// Questions that were tested at once: one for each quantity, three for one with a side.
    pub fn questions(&self) -> usize {
        let asked = |quantity: &OfQuantity| {
            let straightness = quantity.straightness.as_ref();
            usize::from(quantity.overall.is_some())
                + usize::from(straightness.is_some_and(|found| found.overall.is_some()))
                + usize::from(straightness.is_some_and(|found| found.spreads.is_some()))
        };
        self.quantities.iter().map(asked).sum()
    }
}

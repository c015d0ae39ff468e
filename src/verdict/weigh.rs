//! What each cause cost, and whether that is surely something or surely nothing.

use super::{Away, Cause, Cost};
use crate::findings::{Effect, FindingReason, Key, Missing};
use crate::uncertainty::{Quantity, QuantityReason, Result95};

/// A cost below this share of the way travelled is not worth mending: two hundredths is what cars of
/// one class differ by from run to run. Common practice, no source.
pub const NEGLIGIBLE_SHARE: f64 = 0.02;
/// ... and never less than this, m: a tape on a classroom floor reads no finer.
pub const NEGLIGIBLE_M: f64 = 0.02;
/// "No fault found" is only said where the high end of every cost, and of the distance off line at the end of
/// the view, is below this share of the way.
pub const CLEAR_SHARE: f64 = 0.08;
/// A sway from side to side of less than this is the play of any wheel on its axle, m. Common practice,
/// no source.
pub const NEGLIGIBLE_SWAY_M: f64 = 0.002;
/// A term of the path (a sway, a curve that exists only while slipping) is believed when the models with
/// it outweigh those without it nineteen to one: the 95 % of the intervals.
pub const SURE_MODEL: f64 = 0.95;

/// Costs that are too small to count, and large enough to bar "nothing found", m.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bounds {
    /// Below this a cost does not count.
    pub negligible_m: f64,
    /// Below this every cost must surely be for the verdict "none".
    pub clear_m: f64,
}

impl Bounds {
    pub(super) fn of(result: &Result95) -> Self {
        let way = result.value(Key::DistanceM).unwrap_or(0.0);
        let negligible_m = NEGLIGIBLE_M.max(NEGLIGIBLE_SHARE * way);
        Self {
            negligible_m,
            clear_m: (2.0 * negligible_m).max(CLEAR_SHARE * way),
        }
    }
}

/// A cause on the scales.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Weighed {
    /// The cause.
    pub cause: Cause,
    /// What it cost.
    pub cost: Cost,
    /// Travel lost and metres off line together.
    size: Quantity,
    /// Below this the cause's cost does not count, m.
    bound_m: f64,
    /// ... and below this it is surely nothing, m.
    clear_m: f64,
    /// How much of the cost the size is.
    seen: Seen,
    /// Weight of the models that have this cause.
    model: f64,
}

/// How much of a cost was seen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Seen {
    /// All of it, or nothing where the size is not observable.
    Whole,
    /// The size is the least that it can be.
    Least,
    /// The size is the most that it can be.
    Most,
    /// Nothing, because the run sheet or the clip does not put the question: no string is on the sheet, or
    /// the car was pulled until it left the view. What nobody asks must not leave every run open, but
    /// is named.
    NotAsked,
}

impl Weighed {
    /// What it cost in all, m; 0 where that is not observable.
    pub fn size_m(&self) -> f64 {
        self.size.value_or_zero()
    }

    /// Whether the cost is surely above what is negligible.
    pub fn counts(&self) -> bool {
        matches!(self.seen, Seen::Whole | Seen::Least)
            && self.model > SURE_MODEL
            && self.size.low().is_some_and(|low| low > self.bound_m)
    }

    /// Whether the cost is surely below what would matter, or not asked for.
    pub fn clear(&self) -> bool {
        match self.seen {
            Seen::NotAsked => true,
            Seen::Least => false,
            Seen::Whole | Seen::Most => self.size.high().is_some_and(|high| high < self.clear_m),
        }
    }

    /// Whether the cost is surely there but not surely this cause's.
    pub fn another_may(&self) -> bool {
        self.model <= SURE_MODEL && self.size.low().is_some_and(|low| low > self.bound_m)
    }

    /// Whether it cost surely more than another.
    pub(super) fn surely_above(&self, other: &Self) -> bool {
        (self.size.low().zip(other.size.high())).is_some_and(|(low, high)| low > high)
    }

    /// Why this cause is not judged, where nobody asked.
    pub fn not_asked(&self) -> Option<QuantityReason> {
        match (self.size, self.seen) {
            (Quantity::NotObservable { reason }, Seen::NotAsked) => Some(reason),
            _ => None,
        }
    }

    /// What bars "no fault found", where this cause does although it is not surely there.
    pub fn open(&self) -> Option<Open> {
        if self.clear() || self.counts() {
            return None;
        }
        let at_most_m = self.size.high()?;
        match self.seen {
            Seen::Most => Some(Open::EndUnseen { at_most_m }),
            Seen::Whole if self.size.low().is_some_and(|low| low <= self.bound_m) => {
                Some(Open::Hidden { at_most_m })
            }
            _ => None,
        }
    }
}

/// What bars "no fault found" although nothing shows a fault.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Open {
    /// The end of the pull was not seen; the turns until then bound what was lost.
    EndUnseen {
        /// That bound, m.
        at_most_m: f64,
    },
    /// The interval is too wide.
    Hidden {
        /// Its high end, m.
        at_most_m: f64,
    },
}

/// All causes on the scales.
pub(super) fn weigh(result: &Result95, bounds: &Bounds) -> Vec<Weighed> {
    let models = &result.models;
    let size = |effect: Effect| result.effect(effect).magnitude();
    let nothing = || Quantity::stated(0.0, 0.0, 0.0);
    let on_line = |cause, at_end: Effect, stated: Effect| Weighed {
        cause,
        size: size(at_end),
        cost: cost(nothing(), size(at_end), nothing(), size(stated)),
        bound_m: bounds.negligible_m,
        clear_m: bounds.clear_m,
        seen: Seen::Whole,
        model: 1.0,
    };
    let alignment = Weighed {
        // A wheel that lets go before the other steers as well; where no slip can be seen, only a curve that
        // lasts on the coast is the axles'.
        model: models.curve_coasts_on,
        ..on_line(Cause::Alignment, Effect::CurveOff, Effect::CurveOffAtStated)
    };
    let aim = Weighed {
        // The first heading rests on the shape of the path after it.
        model: if alignment.another_may() {
            models.curve_coasts_on
        } else {
            1.0
        },
        ..on_line(Cause::Aim, Effect::AimOff, Effect::AimOffAtStated)
    };
    vec![
        grip(result, bounds),
        alignment,
        aim,
        Weighed {
            cause: Cause::Wobble,
            size: size(Effect::SwayOff),
            cost: cost(
                result.effect(Effect::SwayLost),
                size(Effect::SwayOff),
                result.effect(Effect::SwayLost),
                size(Effect::SwayOff),
            ),
            bound_m: NEGLIGIBLE_SWAY_M,
            clear_m: bounds.clear_m,
            seen: Seen::Whole,
            model: (models.sway_of_driven_wheel + models.sway_at_another_rate).min(1.0),
        },
        drive(result, bounds),
        drag(result, bounds),
    ]
}

fn cost(lost: Quantity, off: Quantity, lost_then: Quantity, off_then: Quantity) -> Cost {
    Cost {
        travel_lost_m: lost,
        off_line_m: off,
        after_5_m: Away {
            travel_lost_m: lost_then,
            off_line_m: off_then,
        },
    }
}

/// Slip costs travel, and where one wheel lets go first it turns the car as well.
fn grip(result: &Result95, bounds: &Bounds) -> Weighed {
    let spun = result.get(Key::SpunAwayM);
    let in_view = result.effect(Effect::SpunInView);
    let at_least = matches!(spun, Quantity::NotObservable { .. })
        && matches!(in_view, Quantity::Stated { .. });
    let size = if at_least { in_view } else { spun };
    let turned = |effect| {
        if result.models.yaw > SURE_MODEL {
            result.effect(effect).magnitude()
        } else {
            Quantity::stated(0.0, 0.0, 0.0)
        }
    };
    Weighed {
        cause: Cause::Grip,
        size: size.plus(&turned(Effect::YawOff)),
        cost: cost(
            spun,
            turned(Effect::YawOff),
            spun,
            turned(Effect::YawOffAtStated),
        ),
        bound_m: bounds.negligible_m,
        clear_m: bounds.clear_m,
        seen: if at_least { Seen::Least } else { Seen::Whole },
        model: 1.0,
    }
}

/// Turns between string and wheel. Where the sheet has the string and its end was not seen, the turns until
/// then are a bound; a loose wheel alone says nothing of the string.
fn drive(result: &Result95, bounds: &Bounds) -> Weighed {
    let lost = result.effect(Effect::DriveLost);
    let at_most = result.effect(Effect::DriveLostAtMost);
    let string_seen = result.value(Key::StringSlipTurns).is_some();
    let surely_lost = lost.low().is_some_and(|low| low > bounds.negligible_m);
    let no_string = QuantityReason::Finding(FindingReason::NotOnSheet(Missing::String));
    let not_on_sheet = at_most == Quantity::not_observable(no_string);
    // A bound that is nearer than the measured cost's own says more.
    let bound_says_more = at_most
        .high()
        .is_some_and(|most| lost.high().is_none_or(|high| most < high));
    let (size, seen) = if surely_lost || (string_seen && !bound_says_more) {
        (lost, Seen::Whole)
    } else if not_on_sheet {
        let whole = matches!(lost, Quantity::Stated { .. });
        (lost, if whole { Seen::Whole } else { Seen::NotAsked })
    } else {
        (at_most, Seen::Most)
    };
    Weighed {
        cause: Cause::Drive,
        size,
        cost: cost(
            lost,
            Quantity::stated(0.0, 0.0, 0.0),
            lost,
            Quantity::stated(0.0, 0.0, 0.0),
        ),
        bound_m: bounds.negligible_m,
        clear_m: bounds.clear_m,
        seen,
        model: 1.0,
    }
}

/// A coast that dies too soon. Within the view it may have lost little yet, so what counts is the way lost
/// until the car stands; what it is compared by is the way lost in view.
fn drag(result: &Result95, bounds: &Bounds) -> Weighed {
    let in_view = result.effect(Effect::DragLost);
    let in_all = result.effect(Effect::DragLostInAll);
    // What a coast loses within the view is nothing where none is in view.
    let seen = match in_view {
        Quantity::Stated { .. } => Seen::Whole,
        Quantity::NotObservable { .. } => Seen::NotAsked,
    };
    let dies = in_all.low().is_some_and(|low| low > bounds.negligible_m);
    Weighed {
        cause: Cause::Drag,
        size: in_view,
        cost: cost(
            in_view,
            Quantity::stated(0.0, 0.0, 0.0),
            in_all,
            Quantity::stated(0.0, 0.0, 0.0),
        ),
        bound_m: if dies { 0.0 } else { f64::INFINITY },
        clear_m: bounds.clear_m,
        seen,
        model: 1.0,
    }
}

#[cfg(test)]
mod tests;

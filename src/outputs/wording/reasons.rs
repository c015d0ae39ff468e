//! Three numbers that prove a verdict, in a user's words.

use super::verdict::not_asked;
use super::{Said, side};
use crate::findings::{Effect, Key, ORDINARY_LOSS};
use crate::outputs::shown::{ShownQuantity, show, show_length};
use crate::texts::{Texts, say};
use crate::uncertainty::{COVERAGE_FACTOR, Quantity, QuantityReason, Result95};
use crate::verdict::{Cause, SURE_MODEL, Verdict};

type Shown = Result<ShownQuantity, QuantityReason>;

/// What the words are made from.
struct Teller<'a> {
    texts: &'a Texts,
    result: &'a Result95,
}

/// The numbers that show it, most telling first.
pub(super) fn because(texts: &Texts, verdict: &Verdict, result: &Result95) -> Vec<String> {
    let teller = Teller { texts, result };
    match verdict.cause {
        Cause::Grip => teller.for_grip(),
        Cause::Alignment => vec![
            teller.steady_curve(),
            teller.aside(Key::ImpliedSkewRad, "because-skew"),
            teller.off_at_the_end(),
        ],
        Cause::Aim => vec![
            teller.aside(Key::AimErrorRad, "because-heading"),
            teller.off_at_the_end(),
            teller.steady_curve(),
        ],
        Cause::Wobble => vec![
            teller.quantity(Key::WobbleM, "because-sway"),
            teller.sway_model(),
            teller.steady_curve(),
        ],
        Cause::Drive => vec![
            teller.quantity(Key::StringSlipTurns, "because-string"),
            teller.quantity(Key::LooseWheelTurns, "because-axle"),
            teller.cost(Effect::DriveLost, "because-drive-cost"),
        ],
        Cause::Drag => vec![
            teller.quantity(Key::CoastDecelerationMPerS2, "because-coast"),
            teller.ordinary_coast(),
            teller.cost(Effect::DragLost, "because-drag-cost"),
        ],
        Cause::None => {
            let clear = say!(texts, "because-clear", mm = teller.bound(verdict));
            [teller.spun(), teller.off_at_the_end(), clear]
                .into_iter()
                .chain(teller.not_judged(verdict))
                .collect()
        }
        Cause::Undetermined => {
            let open = say!(texts, "because-open", mm = teller.bound(verdict));
            vec![teller.spun(), teller.off_at_the_end(), open]
        }
    }
}

impl Teller<'_> {
    /// A number under its name (`what` is the name of a text), or why it is not observable.
    fn told(&self, what: &str, shown: Shown) -> String {
        let texts = self.texts;
        let what = texts.text(what);
        match shown {
            Ok(ShownQuantity {
                value, interval, ..
            }) => say!(
                texts,
                "told",
                what = what,
                value = value,
                interval = interval
            ),
            Err(reason) => say!(texts, "told-unseen", what = what, why = reason.said(texts)),
        }
    }

    fn for_grip(&self) -> Vec<String> {
        let slip = self.quantity(Key::MaxSlip, "because-max-slip");
        [slip, self.spun_or_least(), self.grips_turn()]
            .into_iter()
            .chain(self.friction())
            .collect()
    }

    /// A quantity of the run.
    fn quantity(&self, key: Key, what: &str) -> String {
        self.told(what, show(self.texts, key, &self.result.get(key)))
    }

    /// The same to a side: by its size and its side where the side is sure, with its sign where it is not.
    fn aside(&self, key: Key, what: &str) -> String {
        let texts = self.texts;
        let quantity = self.result.get(key);
        let told = |quantity: &Quantity| self.told(what, show(texts, key, quantity));
        match quantity {
            Quantity::Stated { value, low, high } if low > 0.0 || high < 0.0 => {
                let (low, high) = (low.abs().min(high.abs()), low.abs().max(high.abs()));
                let size = Quantity::stated(value.abs(), low, high);
                let side = side(value > 0.0);
                say!(texts, "told-side", told = told(&size), side = side)
            }
            Quantity::Stated { .. } => say!(texts, "told-signed", told = told(&quantity)),
            Quantity::NotObservable { .. } => told(&quantity),
        }
    }

    /// What a fault cost.
    fn cost(&self, effect: Effect, what: &str) -> String {
        self.told(what, show_length(self.texts, &self.result.effect(effect)))
    }

    fn spun(&self) -> String {
        self.quantity(Key::SpunAwayM, "because-spun")
    }

    /// What was spun away; where that is not known, the least that it was.
    fn spun_or_least(&self) -> String {
        if self.result.value(Key::SpunAwayM).is_some() {
            return self.spun();
        }
        self.cost(Effect::SpunInView, "because-spun-least")
    }

    fn off_at_the_end(&self) -> String {
        self.aside(Key::FinalDeviationM, "because-off-line")
    }

    fn steady_curve(&self) -> String {
        self.aside(Key::CurvaturePerM, "because-curve")
    }

    fn bound(&self, verdict: &Verdict) -> String {
        self.texts.fixed(1000.0 * verdict.bounds.clear_m, 0)
    }

    fn not_judged(&self, verdict: &Verdict) -> Option<String> {
        let what: Vec<String> = not_asked(self.texts, verdict).collect();
        let told = || say!(self.texts, "because-not-judged", what = what.join("; "));
        (!what.is_empty()).then(told)
    }

    /// Friction, where the sheet lets it be told. Handbooks give it for pairs of materials that are not this
    /// wheel on this floor, so it stands alone.
    fn friction(&self) -> Option<String> {
        self.result.value(Key::GripCoefficient)?;
        Some(self.quantity(Key::GripCoefficient, "because-friction"))
    }

    fn grips_turn(&self) -> String {
        if self.result.models.yaw > SURE_MODEL {
            self.cost(Effect::YawOff, "because-yaw")
        } else {
            self.quantity(Key::PeakSpeedMPerS, "because-peak")
        }
    }

    fn sway_model(&self) -> String {
        let (texts, models) = (self.texts, &self.result.models);
        let weight = |weight: f64| texts.fixed(weight, 2);
        if models.sway_of_driven_wheel >= models.sway_at_another_rate {
            let weight = weight(models.sway_of_driven_wheel);
            say!(texts, "because-sway-driven", weight = weight)
        } else {
            let weight = weight(models.sway_at_another_rate);
            say!(texts, "because-sway-other", weight = weight)
        }
    }

    fn ordinary_coast(&self) -> String {
        let texts = self.texts;
        let half = COVERAGE_FACTOR * ORDINARY_LOSS.sd;
        let [low, high] = [ORDINARY_LOSS.value - half, ORDINARY_LOSS.value + half]
            .map(|loss| texts.fixed(loss, 3));
        let told = self.quantity(Key::RollingResistance, "because-share");
        say!(
            texts,
            "because-ordinary",
            told = told,
            low = low,
            high = high
        )
    }
}

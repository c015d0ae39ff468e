//! What to try next: common practice, no source, ordered by what this run's numbers say it would gain.

use super::inputs::{input_advice, input_name};
use super::{Said, meaning, side};
use crate::findings::{Effect, Key};
use crate::outputs::shown::show_length;
use crate::texts::{Texts, say};
use crate::uncertainty::{Quantity, Result95};
use crate::verdict::{Cause, SURE_MODEL, Verdict};

/// The caution that goes with every piece of advice.
pub fn caution(texts: &Texts) -> String {
    texts.text("caution")
}

/// Share of an interval above which its main source is worth naming.
const MAIN_SOURCE: f64 = 0.5;

/// What advice is made from.
struct Adviser<'a> {
    texts: &'a Texts,
    result: &'a Result95,
}

/// Advice for a verdict, best first: what mends the dearest fault, then one step for each other fault,
/// then what would narrow the deciding interval most.
pub(super) fn advice(texts: &Texts, verdict: &Verdict, result: &Result95) -> Vec<String> {
    let adviser = Adviser { texts, result };
    let mut out = match verdict.cause {
        Cause::Undetermined => adviser.better_view(verdict),
        cause => adviser.steps(cause),
    };
    for other in &verdict.also {
        out.extend(adviser.steps(*other).into_iter().take(1));
    }
    out.extend(adviser.narrower(verdict.cause));
    out
}

impl Adviser<'_> {
    fn texts<const N: usize>(&self, ids: [&str; N]) -> [String; N] {
        ids.map(|id| self.texts.text(id))
    }

    /// How long something is, from the low end of its interval to the high one.
    fn metres(&self, quantity: &Quantity) -> Option<String> {
        Some(show_length(self.texts, &quantity.magnitude()).ok()?.range())
    }

    /// What a step would change (`gain` is the name of a text), where that is observable.
    fn effect(&self, effect: Effect, gain: &str) -> Option<String> {
        let range = self.metres(&self.result.effect(effect))?;
        Some(self.texts.with(gain, "range", &range))
    }

    /// A step with what it would change in brackets.
    fn with_gain(&self, step: String, gain: Option<String>) -> String {
        match gain {
            Some(gain) => say!(self.texts, "try-with-gain", step = step, gain = gain),
            None => step,
        }
    }

    /// Steps of which the first has a gain.
    fn first_gains<const N: usize>(&self, ids: [&str; N], gain: Option<String>) -> Vec<String> {
        let mut steps = Vec::from(self.texts(ids));
        if let Some(first) = steps.first_mut() {
            *first = self.with_gain(std::mem::take(first), gain);
        }
        steps
    }

    fn steps(&self, cause: Cause) -> Vec<String> {
        match cause {
            Cause::Grip => self.grip(),
            Cause::Alignment => self.alignment(),
            Cause::Aim => self.first_gains(
                ["try-straightedge", "try-let-go"],
                self.effect(Effect::AimOff, "gain-closer"),
            ),
            Cause::Wobble => self.wobble(),
            Cause::Drive => self.drive(),
            Cause::Drag => self.first_gains(
                ["try-rub", "try-play", "try-string-off", "try-lubricant"],
                self.effect(Effect::DragLostInAll, "gain-coast"),
            ),
            Cause::None => self.texts(["try-compare", "try-longer-arm"]).into(),
            Cause::Undetermined => Vec::new(),
        }
    }

    fn grip(&self) -> Vec<String> {
        // A wheel that spins hard needs grip; one that only just lets go holds with a gentler pull.
        let slip = self.result.value(Key::MaxSlip);
        let order = if slip.is_some_and(|slip| slip < 0.4) {
            ["try-tread", "try-soften", "try-weight"]
        } else {
            ["try-tread", "try-weight", "try-soften"]
        };
        let mut out = self.first_gains(order, self.without_slip());
        if self.result.models.yaw > SURE_MODEL {
            out.insert(1, self.texts.text("try-even"));
        }
        out
    }

    /// What slip wasted, and what the car would gain without any: at the best, since a better tread slips less but
    /// may still slip.
    fn without_slip(&self) -> Option<String> {
        let texts = self.texts;
        let wasted = self.metres(&self.result.get(Key::SpunAwayM))?;
        Some(match self.result.get(Key::GainWithoutSlipM) {
            Quantity::NotObservable { reason } => {
                let why = reason.said(texts);
                say!(texts, "gain-slip-unseen", wasted = wasted, why = why)
            }
            gain @ Quantity::Stated { .. } => {
                let range = self.metres(&gain).unwrap_or_default();
                say!(texts, "gain-slip", wasted = wasted, range = range)
            }
        })
    }

    fn alignment(&self) -> Vec<String> {
        let texts = self.texts;
        let curve = side((self.result.value(Key::CurvaturePerM)).is_some_and(|k| k > 0.0));
        let turn = match self.result.value(Key::ImpliedSkewRad) {
            None => say!(texts, "try-turn-axle", curve = curve),
            Some(skew) => {
                let degrees = texts.fixed(skew.abs().to_degrees(), 1);
                say!(texts, "try-turn-axle-by", curve = curve, degrees = degrees)
            }
        };
        let turn = self.with_gain(turn, self.effect(Effect::CurveOff, "gain-closer"));
        let [square, wheelbase] = self.texts(["try-square", "try-wheelbase"]);
        vec![turn, square, wheelbase]
    }

    fn wobble(&self) -> Vec<String> {
        let models = &self.result.models;
        let which = if models.sway_of_driven_wheel >= models.sway_at_another_rate {
            "try-true-driven"
        } else {
            "try-true-other"
        };
        let gain = self.effect(Effect::SwayOff, "gain-sway");
        self.first_gains([which, "try-hub", "try-bent"], gain)
    }

    fn drive(&self) -> Vec<String> {
        let gain = self.effect(Effect::DriveLost, "gain-drive");
        let [string, wheel] = self
            .texts(["try-string", "try-fix-wheel"])
            .map(|step| self.with_gain(step, gain.clone()));
        let loose = self.result.value(Key::LooseWheelTurns);
        match loose.zip(self.result.value(Key::StringSlipTurns)) {
            Some((loose, string_slip)) if loose > string_slip => vec![wheel, string],
            Some(_) => vec![string, wheel],
            None if loose.is_some() => vec![wheel],
            None => {
                let [fixed, measure] = self.texts(["try-fixed", "try-measure-string"]);
                vec![string, fixed, measure]
            }
        }
    }

    fn better_view(&self, verdict: &Verdict) -> Vec<String> {
        let hidden = |key: Key| self.result.value(key).is_none();
        let string_open = verdict
            .weighed
            .iter()
            .any(|w| w.cause == Cause::Drive && w.open().is_some());
        let steps = [
            (hidden(Key::SpunAwayM), "try-see-slip"),
            (hidden(Key::CurvaturePerM), "try-see-sideways"),
            (string_open, "try-see-string"),
        ];
        let wanted = steps.into_iter().filter(|(wanted, _)| *wanted);
        let mut out: Vec<String> = wanted.map(|(_, id)| self.texts.text(id)).collect();
        if out.is_empty() {
            out.push(self.texts.text("try-film"));
        }
        out
    }

    fn narrower(&self, cause: Cause) -> Option<String> {
        let (texts, result) = (self.texts, self.result);
        let key = deciding(cause)?;
        let main = result.budgets.get(&key)?.first()?;
        let action = input_advice(texts, main.input)?;
        (main.share >= MAIN_SOURCE && result.value(key).is_some()).then(|| {
            say!(
                texts,
                "try-narrower",
                what = meaning(texts, key),
                action = action,
                input = input_name(texts, main.input),
                share = texts.fixed(100.0 * main.share, 0),
            )
        })
    }
}

/// The number that decides a verdict.
const fn deciding(cause: Cause) -> Option<Key> {
    match cause {
        Cause::Grip => Some(Key::SpunAwayM),
        Cause::Alignment => Some(Key::CurvaturePerM),
        Cause::Aim => Some(Key::AimErrorRad),
        Cause::Wobble => Some(Key::WobbleM),
        Cause::Drive => Some(Key::StringSlipTurns),
        Cause::Drag => Some(Key::CoastDecelerationMPerS2),
        Cause::None | Cause::Undetermined => None,
    }
}

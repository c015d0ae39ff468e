//! The page's tables: every quantity, what each cause cost, and what was not observable.

use super::coded::{Part, coded};
use super::plain;
use crate::findings::{Key, STATED_DISTANCE_M};
use crate::outputs::shown::{ShownQuantity, show, show_cost};
use crate::outputs::wording::{Said as _, cause_name, meaning};
use crate::outputs::{Measures, Story};
use crate::texts::{Texts, say};
use crate::uncertainty::{Quantity, QuantityReason};
use crate::verdict::{Cause, Cost};

pub(super) struct ResultRow {
    /// Left out in print, where the reasons stand beside the table.
    pub(super) unknown: bool,
    pub(super) meaning: String,
    pub(super) key: &'static str,
    pub(super) value: String,
    /// The same in other words; empty where they would add nothing.
    pub(super) words: String,
    pub(super) interval: String,
}

pub(super) struct CostRow {
    pub(super) cause: String,
    pub(super) travel: String,
    pub(super) off_line: String,
    /// What it would be farther on, where that says more.
    pub(super) farther: Option<Farther>,
}

pub(super) struct Farther {
    pub(super) travel: String,
    pub(super) off_line: String,
    pub(super) at: String,
}

/// Quantities that share a reason for not being observable.
pub(super) struct Unseen {
    pub(super) what: String,
    pub(super) why: Vec<Part>,
}

/// Every quantity, or nothing where nothing was measured.
fn quantities<'a>(story: &'a Story<'_>) -> impl Iterator<Item = (Key, Quantity)> + 'a {
    Key::ALL.into_iter().map(|key| match &story.measured {
        Ok(measures) => (key, measures.result.get(key)),
        Err(why) => (key, Quantity::not_observable(*why)),
    })
}

pub(super) fn results(story: &Story<'_>) -> Vec<ResultRow> {
    let texts = story.texts();
    quantities(story)
        .map(|(key, quantity)| {
            let shown = show(texts, key, &quantity);
            let unknown = shown.is_err();
            let shown = shown.unwrap_or_else(|_| ShownQuantity {
                value: texts.text("not-observable"),
                between: String::new(),
                interval: "–".to_owned(),
                unit: String::new(),
            });
            ResultRow {
                unknown,
                meaning: meaning(texts, key),
                key: key.as_str(),
                value: shown.value,
                words: plain::in_words(texts, key, &quantity),
                interval: shown.interval,
            }
        })
        .collect()
}

pub(super) fn costs(story: &Story<'_>) -> Vec<CostRow> {
    let Ok(Measures { verdict, .. }) = &story.measured else {
        return Vec::new();
    };
    let texts = story.texts();
    let say = |quantity: &Quantity| match quantity {
        Quantity::Stated { value, low, high } if (*value, *low, *high) == (0.0, 0.0, 0.0) => {
            "–".to_owned()
        }
        quantity => show_cost(texts, quantity).unwrap_or_else(|_| texts.text("not-observable")),
    };
    verdict
        .costs()
        .iter()
        .map(|(cause, cost)| CostRow {
            cause: cause_name(texts, *cause),
            travel: say(&cost.travel_lost_m),
            off_line: say(&cost.off_line_m),
            farther: farther(texts, *cause, cost, &say),
        })
        .collect()
}

fn farther(
    texts: &Texts,
    cause: Cause,
    cost: &Cost,
    told: &dyn Fn(&Quantity) -> String,
) -> Option<Farther> {
    let away = &cost.after_5_m;
    let same = away.travel_lost_m == cost.travel_lost_m && away.off_line_m == cost.off_line_m;
    let unknown = away.travel_lost_m.value().is_none() && away.off_line_m.value().is_none();
    (!same && !unknown).then(|| Farther {
        travel: told(&away.travel_lost_m),
        off_line: told(&away.off_line_m),
        at: if cause == Cause::Drag {
            texts.text("report-until-stop")
        } else {
            say!(
                texts,
                "report-after",
                metres = texts.fixed(STATED_DISTANCE_M, 0)
            )
        },
    })
}

pub(super) fn unseen(story: &Story<'_>) -> Vec<Unseen> {
    let texts = story.texts();
    let mut groups: Vec<(String, QuantityReason)> = Vec::new();
    for (key, quantity) in quantities(story) {
        let Quantity::NotObservable { reason } = quantity else {
            continue;
        };
        match groups.iter_mut().find(|(_, why)| *why == reason) {
            Some((what, _)) => {
                what.push_str("; ");
                what.push_str(&meaning(texts, key));
            }
            None => groups.push((meaning(texts, key), reason)),
        }
    }
    let said = groups.into_iter();
    said.map(|(what, why)| Unseen {
        what,
        why: coded(texts, &why.said(texts)),
    })
    .collect()
}

//! A verdict in words: what shows it, what the view could not show, and what to try.

use super::advice::advice;
use super::reasons::because;
use super::{Said, cause_name};
use crate::findings::Key;
use crate::texts::{Texts, say};
use crate::uncertainty::{Quantity, Result95};
use crate::verdict::{Cause, Open, Verdict, Weighed};

/// What is said of a verdict.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct VerdictWords {
    /// The numbers that show it, most telling first.
    pub because: Vec<String>,
    /// What this view could not show, and why.
    pub not_seen: Vec<String>,
    /// What to try, best first.
    pub try_next: Vec<String>,
}

/// Puts a verdict into words; `result` is what it was judged from.
pub fn verdict_words(texts: &Texts, verdict: &Verdict, result: &Result95) -> VerdictWords {
    VerdictWords {
        because: because(texts, verdict, result),
        not_seen: not_seen(texts, verdict, result),
        try_next: advice(texts, verdict, result),
    }
}

/// Causes that nobody asked about: "no fault found" says nothing of them.
pub(super) fn not_asked(texts: &Texts, verdict: &Verdict) -> impl Iterator<Item = String> {
    let not_asked = |w: &Weighed| {
        let why = w.not_asked()?.said(texts);
        let cause = cause_name(texts, w.cause);
        Some(say!(texts, "because-not-asked", cause = cause, why = why))
    };
    verdict.weighed.iter().filter_map(not_asked)
}

fn open(texts: &Texts, weighed: &Weighed) -> Option<String> {
    let cause = cause_name(texts, weighed.cause);
    let mm = |metres: f64| texts.fixed(1000.0 * metres, 0);
    Some(match weighed.open()? {
        Open::EndUnseen { at_most_m } => {
            say!(texts, "open-end-unseen", cause = cause, mm = mm(at_most_m))
        }
        Open::Hidden { at_most_m } => {
            say!(texts, "open-hidden", cause = cause, mm = mm(at_most_m))
        }
    })
}

fn not_seen(texts: &Texts, verdict: &Verdict, result: &Result95) -> Vec<String> {
    let unseen = Key::ALL
        .into_iter()
        .filter_map(|key| match result.get(key) {
            Quantity::NotObservable { reason } => {
                let why = reason.said(texts);
                Some(say!(
                    texts,
                    "unseen-quantity",
                    key = key.as_str(),
                    why = why
                ))
            }
            Quantity::Stated { .. } => None,
        });
    let skewed = verdict
        .weighed
        .iter()
        .find(|w| w.cause == Cause::Alignment && w.another_may())
        .map(|_| texts.text("open-skewed"));
    skewed
        .into_iter()
        .chain(verdict.weighed.iter().filter_map(|w| open(texts, w)))
        .chain(not_asked(texts, verdict).map(|what| say!(texts, "because-not-judged", what = what)))
        .chain(unseen)
        .collect()
}

//! The comparison as a terminal shows it.

use super::care::care;
use super::names::{Scale, capital, noun};
use super::phrases::{need_words, runs_words, why_words};
use super::say::{because, headline};
use crate::outputs::printable;
use crate::outputs::shown::number;
use crate::treatments::{Comparison, Design, OfQuantity, OrderBy};
use std::fmt::Write as _;

/// The words for the terminal, several lines.
pub fn comparison_words(of: &Comparison) -> String {
    let mut out = String::new();
    let counted: usize = of.groups.iter().map(|group| group.runs.len()).sum();
    let groups: Vec<String> = (of.groups.iter())
        .map(|group| format!("{} ({})", group.label, group.runs.len()))
        .collect();
    line(&mut out, &headline(of));
    line(
        &mut out,
        &format!(
            "{} by {}: {}; in order of {}",
            runs_words(counted),
            of.question.by.words(),
            groups.join(", "),
            order_words(of)
        ),
    );
    for reason in because(of) {
        line(&mut out, &format!("  - {reason}"));
    }
    for quantity in &of.quantities {
        quantity_words(&mut out, of, quantity);
    }
    for warning in care(of) {
        line(&mut out, &format!("  careful: {warning}"));
    }
    out
}

fn quantity_words(out: &mut String, of: &Comparison, quantity: &OfQuantity) {
    let scale = Scale::of(quantity);
    if let Some(none) = shown_by_none(quantity) {
        line(out, &format!("{none}."));
        return;
    }
    line(
        out,
        &format!("{}{}:", capital(noun(quantity.key)), scale.comma_unit()),
    );
    for (group, found) in of.groups.iter().zip(&quantity.groups) {
        let Some(found) = found else {
            line(
                out,
                &format!("  {}: not observable in any run", group.label),
            );
            continue;
        };
        let interval = found.interval.map_or_else(String::new, |interval| {
            let scatter = scale.range(interval.low, interval.high);
            let full = (found
                .full_interval
                .map(|full| scale.range(full.low, full.high)))
            .filter(|full| *full != scatter);
            let full = full.map_or_else(String::new, |full| {
                format!("; with errors that all runs share {full}")
            });
            format!(" ({scatter}{full})")
        });
        let spread = found.sample.sd.map_or_else(String::new, |sd| {
            let limit = found.limit.map_or_else(String::new, |limit| {
                format!(", repeatability limit {}", scale.bare(limit))
            });
            format!(", SD {}{limit}", scale.bare(sd))
        });
        let n = found.sample.n;
        let mean = scale.bare(found.sample.mean);
        line(
            out,
            &format!("  {}: n {n}, mean {mean}{interval}{spread}", group.label),
        );
    }
    if let Some(plan) = &quantity.plan {
        for need in &plan.needs {
            let what = match plan.design {
                Design::Groups => "runs each",
                Design::Pairs => "pairs",
            };
            line(
                out,
                &format!(
                    "  to see {} ({}) in 80 of 100 cases: {} {what}",
                    scale.round(need.difference),
                    why_words(need.why),
                    need_words(need)
                ),
            );
        }
    }
}

/// Why no run shows a quantity; `None` where some do.
pub(super) fn shown_by_none(quantity: &OfQuantity) -> Option<String> {
    if !quantity.points.is_empty() {
        return None;
    }
    let mut reasons: Vec<&str> = quantity
        .left_out
        .iter()
        .map(|(_, why)| why.as_str())
        .collect();
    reasons.sort_unstable();
    reasons.dedup();
    let noun = capital(noun(quantity.key));
    Some(format!("{noun}: no run shows it ({})", reasons.join("; ")))
}

/// What the order goes by.
pub(super) fn order_words(of: &Comparison) -> String {
    match of.ordered_by {
        OrderBy::Filmed => "the clips' own times of filming".to_owned(),
        OrderBy::ClipName => "the clips' file names".to_owned(),
        OrderBy::Sheet(key) => format!("`{key}` on the run sheets"),
    }
}

/// A share as text.
pub(super) fn percent(share: f64) -> String {
    format!("{} %", number(100.0 * share, 0))
}

/// One line. A name in it may have line ends of its own, which would tear it.
fn line(out: &mut String, text: &str) {
    // Writing to a String cannot fail.
    let _ignored = writeln!(out, "{}", printable(text));
}

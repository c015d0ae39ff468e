//! The comparison as a terminal shows it.

use super::care::care;
use super::names::{Scale, capital, noun};
use super::say::{because, headline, need_words, why_words};
use crate::outputs::shown::number;
use crate::treatments::{Comparison, Design, OrderBy, REPEATABILITY_FACTOR};
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
            "{counted} runs by {}: {}; in order of {}",
            of.question.by.words(),
            groups.join(", "),
            order_words(of)
        ),
    );
    for reason in because(of) {
        line(&mut out, &format!("  - {reason}"));
    }
    for quantity in &of.quantities {
        let scale = Scale::of(quantity);
        line(
            &mut out,
            &format!("{}{}:", capital(noun(quantity.key)), scale.comma_unit()),
        );
        for (group, found) in of.groups.iter().zip(&quantity.groups) {
            let Some(found) = found else {
                line(
                    &mut out,
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
                let limit = scale.bare(REPEATABILITY_FACTOR * sd);
                format!(", SD {}, repeatability limit {limit}", scale.bare(sd))
            });
            let n = found.sample.n;
            let mean = scale.bare(found.sample.mean);
            line(
                &mut out,
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
                    &mut out,
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
    for warning in care(of) {
        line(&mut out, &format!("  careful: {warning}"));
    }
    out
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

fn line(out: &mut String, text: &str) {
    // Writing to a String cannot fail.
    let _ignored = writeln!(out, "{text}");
}

//! What the runs say, in sentences: the same for the terminal, the page and `comparison.json`.

use super::names::{Scale, capital, has_side, noun, verb};
use crate::outputs::shown::number;
use crate::treatments::{
    Comparison, Contrast, Design, Interval, MOST_RUNS, Need, OfQuantity, Plan,
    REPEATABILITY_FACTOR, SIGNIFICANT, Shuffles, Why,
};

/// A chance as text.
pub(super) fn chance(p: f64) -> String {
    if p < 0.001 {
        "< 0.001".to_owned()
    } else if p < 0.1 {
        number(p, 3)
    } else {
        number(p, 2)
    }
}

/// "in 1 of 35 shuffles".
pub(super) fn shuffle_words(shuffles: &Shuffles) -> String {
    let Shuffles {
        as_far, of, exact, ..
    } = *shuffles;
    if !exact && as_far == 1 {
        return format!("in fewer than 1 of {} shuffles", of / 2);
    }
    let about = if exact { "" } else { "about " };
    let divisor = common_divisor(as_far, of);
    let (top, bottom) = (as_far / divisor, of / divisor);
    if top == bottom {
        return "in every shuffle".to_owned();
    }
    if bottom <= 100 && exact {
        return format!("in {top} of {bottom} shuffles");
    }
    let p = shuffles.p();
    if p > 0.1 {
        // Tens are what anyone pictures.
        return format!("in about {:.0} of 100 shuffles", 100.0 * p);
    }
    if top == 1 {
        return format!("in {about}1 of {bottom} shuffles");
    }
    format!("in about 1 of {:.0} shuffles", 1.0 / p)
}

fn common_divisor(a: u64, b: u64) -> u64 {
    if b == 0 {
        a.max(1)
    } else {
        common_divisor(b, a % b)
    }
}

/// "4 runs each", "4 and 5 runs", "4 pairs".
pub(super) fn count_words(contrast: &Contrast) -> String {
    let [first, second] = contrast.n;
    let runs = |n: usize| if n == 1 { "run" } else { "runs" };
    match (contrast.paired, first == second) {
        (true, _) => format!("{first} pair{}", if first == 1 { "" } else { "s" }),
        (false, true) => format!("{first} {} each", runs(first)),
        (false, false) => format!("{second} runs against {first}"),
    }
}

/// Whether a difference is more than chance, with all pairs of groups and all quantities looked at.
pub(super) fn is_told(quantity: &OfQuantity, contrast: &Contrast) -> bool {
    let among = (quantity.overall).is_none_or(|overall| overall.p_among_quantities < SIGNIFICANT);
    among && contrast.p_holm.is_some_and(|p| p < SIGNIFICANT)
}

/// "cut the spun-away distance by 0.31 m": what one group did against another.
pub(super) fn deed(quantity: &OfQuantity, contrast: &Contrast, scale: &Scale) -> String {
    let key = quantity.key;
    let size = scale.with_unit(contrast.difference.abs());
    if has_side(key) {
        return format!(
            "moved the {} to the {} by {size}",
            noun(key),
            side(contrast.difference)
        );
    }
    format!(
        "{} the {} by {size}",
        verb(key, contrast.difference),
        noun(key)
    )
}

fn side(difference: f64) -> &'static str {
    if difference < 0.0 { "right" } else { "left" }
}

/// The decimals that a difference is told in are those of its own interval.
pub(super) fn fine(scale: Scale, contrast: &Contrast) -> Scale {
    contrast.test.map_or(scale, |test| {
        scale.to_half((test.interval.high - test.interval.low) / 2.0)
    })
}

/// A whole sentence on a difference, without its full stop.
pub(super) fn sentence(
    of: &Comparison,
    quantity: &OfQuantity,
    contrast: &Contrast,
    scale: &Scale,
) -> String {
    let scale = &fine(*scale, contrast);
    let [from, to] = contrast.groups.map(|group| of.groups[group].label.as_str());
    // Against whom goes without saying where there are only two.
    let against = if of.groups.len() > 2 {
        format!(" against {from}")
    } else {
        String::new()
    };
    let chance_alone = contrast.shuffles.map_or_else(String::new, |shuffles| {
        format!("; chance alone would do this {}", shuffle_words(&shuffles))
    });
    let counted = count_words(contrast);
    let Some(test) = contrast.test else {
        let size = scale.with_unit(contrast.difference);
        return format!(
            "{to} less {from} is {size} in the {}; {counted}, too few or too alike for an interval",
            noun(quantity.key)
        );
    };
    if is_told(quantity, contrast) {
        return format!(
            "{to} {}{against} ({}); {counted}{chance_alone}",
            deed(quantity, contrast, scale),
            scale.range_of_size(test.interval.low, test.interval.high),
        );
    }
    let doubt = if test.p < SIGNIFICANT {
        "; alone it would count, among so many comparisons it does not"
    } else {
        ""
    };
    format!(
        "no difference can be told in the {}: {to} less {from} is {} ({}); {counted}{chance_alone}{doubt}",
        noun(quantity.key),
        scale.with_unit(contrast.difference),
        scale.range(test.interval.low, test.interval.high),
    )
}

/// The differences against the first group.
pub(super) fn against_first(quantity: &OfQuantity) -> impl Iterator<Item = &Contrast> {
    (quantity.contrasts.iter()).filter(|contrast| contrast.groups[0] == 0)
}

/// What all of it comes to, as a sentence.
pub(super) fn headline(of: &Comparison) -> String {
    for quantity in &of.quantities {
        let scale = Scale::of(quantity);
        let told: Vec<&Contrast> = against_first(quantity)
            .filter(|contrast| is_told(quantity, contrast))
            .collect();
        let Some((first, others)) = told.split_first() else {
            continue;
        };
        let name = |contrast: &Contrast| of.groups[contrast.groups[1]].label.clone();
        let mut out = format!(
            "{} {}",
            capital(&name(first)),
            deed(quantity, first, &fine(scale, first))
        );
        for other in others {
            let scale = fine(scale, other);
            let by = scale.with_unit(other.difference.abs());
            // Another direction needs its own verb.
            if (other.difference < 0.0) == (first.difference < 0.0) {
                out = format!("{out}, {} by {by}", name(other));
            } else {
                out = format!("{out}; {} {}", name(other), deed(quantity, other, &scale));
            }
        }
        return out + ".";
    }
    if of.groups.len() > 1 {
        let told = (of.quantities.iter())
            .flat_map(|quantity| quantity.contrasts.iter().map(move |c| (quantity, c)))
            .find(|(quantity, contrast)| is_told(quantity, contrast));
        return told.map_or_else(
            || format!("No difference by {} can be told.", of.question.by.words()),
            |(quantity, contrast)| {
                let said = sentence(of, quantity, contrast, &Scale::of(quantity));
                let short = said.split(" (").next().unwrap_or_default();
                format!("{}.", capital(short))
            },
        );
    }
    one_group(of)
}

fn one_group(of: &Comparison) -> String {
    let label = &of.groups[0].label;
    let repeats = of.quantities.iter().find_map(|quantity| {
        let limit = quantity.repeatability?.limit;
        let scale = Scale::of(quantity);
        Some(format!(
            "Two runs of {label} differ by less than {} in the {} in 95 of 100 cases.",
            scale.with_unit(limit),
            noun(quantity.key)
        ))
    });
    repeats.unwrap_or_else(|| format!("One run of {label}: nothing to compare it with."))
}

/// What shows it: every told difference against the first group, and what could not be told.
pub(super) fn because(of: &Comparison) -> Vec<String> {
    if of.groups.len() == 1 {
        return of.quantities.iter().filter_map(repeats).collect();
    }
    let mut out = Vec::new();
    let mut untold = Vec::new();
    for quantity in &of.quantities {
        let scale = Scale::of(quantity);
        let told: Vec<&Contrast> = against_first(quantity)
            .filter(|contrast| is_told(quantity, contrast))
            .collect();
        match told.as_slice() {
            [] if quantity.contrasts.is_empty() => {}
            [] => untold.push(noun(quantity.key)),
            [one] => out.push(sentence(of, quantity, one, &scale)),
            several => out.push(all_against_first(of, quantity, several, &scale)),
        }
    }
    if !untold.is_empty() {
        let first = &of.groups[0].label;
        let against = if of.groups.len() > 2 {
            format!(" against {first}")
        } else {
            String::new()
        };
        out.push(format!(
            "no difference{against} can be told in the {}",
            list(&untold)
        ));
    }
    out
}

/// Several groups against the first, in one sentence.
fn all_against_first(
    of: &Comparison,
    quantity: &OfQuantity,
    told: &[&Contrast],
    scale: &Scale,
) -> String {
    let first = &of.groups[0].label;
    let falls = |contrast: &Contrast| contrast.difference < 0.0;
    let one = |contrast: &&Contrast| {
        let label = &of.groups[contrast.groups[1]].label;
        let scale = &fine(*scale, contrast);
        let interval = contrast.test.map_or_else(String::new, |test| {
            let Interval { low, high } = test.interval;
            format!(" ({})", scale.range_of_size(low, high))
        });
        // The verb and the noun are said once where all go the same way.
        let repeated = !std::ptr::eq(*contrast, told[0]) && falls(contrast) == falls(told[0]);
        if repeated {
            let by = scale.with_unit(contrast.difference.abs());
            return format!("{label} by {by}{interval}");
        }
        format!("{label} {}{interval}", deed(quantity, contrast, scale))
    };
    let chance = (told.iter())
        .filter_map(|contrast| contrast.shuffles)
        .max_by(|a, b| a.p().total_cmp(&b.p()));
    let chance = chance.map_or_else(String::new, |shuffles| {
        format!(
            "; chance alone would do the least of it {}",
            shuffle_words(&shuffles)
        )
    });
    let deeds: Vec<String> = told.iter().map(one).collect();
    format!("against {first}, {}{chance}", list(&deeds))
}

/// How well runs of one kind repeat.
fn repeats(quantity: &OfQuantity) -> Option<String> {
    let found = quantity.repeatability?;
    let scale = Scale::of(quantity);
    Some(format!(
        "{}: runs differ with a standard deviation of {}, two of them by less than {} in 95 of 100 cases \
         ({REPEATABILITY_FACTOR} times that)",
        noun(quantity.key),
        scale.with_unit(found.sd),
        scale.with_unit(found.limit)
    ))
}

/// "a, b and c".
pub(super) fn list(items: &[impl AsRef<str>]) -> String {
    match items {
        [] => String::new(),
        [one] => one.as_ref().to_owned(),
        [first @ .., last] => {
            let first: Vec<&str> = first.iter().map(AsRef::as_ref).collect();
            format!("{} and {}", first.join(", "), last.as_ref())
        }
    }
}

/// What a plan is told in: runs of each group, or pairs.
pub(super) fn plan_words(plan: &Plan, scale: &Scale) -> String {
    let unit = match plan.design {
        Design::Groups => "runs each",
        Design::Pairs => "pairs",
    };
    let shown = plan.shown_now.map_or_else(String::new, |difference| {
        format!(
            "; {} {unit} show a difference of {} in 80 of 100 cases",
            plan.runs_now,
            scale.with_unit(difference)
        )
    });
    format!(
        "spread {} ({}){shown}",
        scale.with_unit(plan.spread),
        scale.range(plan.spread_interval.low, plan.spread_interval.high)
    )
}

/// Runs as text.
pub(super) fn runs_text(runs: Option<usize>) -> String {
    runs.map_or_else(|| format!("more than {MOST_RUNS:.0}"), |n| n.to_string())
}

/// "12 runs each (5 to 120)".
pub(super) fn need_words(need: &Need) -> String {
    let [few, many] = need.runs_if.map(runs_text);
    format!("{} ({few} to {many})", runs_text(need.runs))
}

/// Why a difference stands in a plan.
pub(super) const fn why_words(why: Why) -> &'static str {
    match why {
        Why::Asked => "asked for",
        Why::Seen => "the largest seen",
        Why::HalfSeen => "half of the largest seen",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn words(as_far: u64, of: u64, exact: bool) -> String {
        shuffle_words(&Shuffles {
            as_far,
            of,
            exact,
            fewest: 1,
        })
    }

    #[test]
    fn shuffles_are_told_as_people_count() {
        assert_eq!(words(2, 70, true), "in 1 of 35 shuffles");
        assert_eq!(words(6, 70, true), "in 3 of 35 shuffles");
        assert_eq!(words(70, 70, true), "in every shuffle");
        assert_eq!(words(6, 34_650, true), "in 1 of 5775 shuffles");
        assert_eq!(words(42, 34_650, true), "in 1 of 825 shuffles");
        assert_eq!(words(15_048, 184_756, true), "in about 1 of 12 shuffles");
        assert_eq!(
            words(1, 100_000, false),
            "in fewer than 1 of 50000 shuffles"
        );
        assert_eq!(words(30_000, 100_000, false), "in about 30 of 100 shuffles");
    }

    #[test]
    fn lists_read_as_people_write() {
        assert_eq!(list(&["a"]), "a");
        assert_eq!(list(&["a", "b", "c"]), "a, b and c");
    }
}

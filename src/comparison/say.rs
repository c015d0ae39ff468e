//! What the runs say, in sentences: the same for the terminal, the page and `comparison.json`.

use super::care::along_with;
use super::names::{Scale, capital, noun, noun_off_line};
use super::phrases::{by_shuffling, count_words, list};
use super::scatter::{clear_spreads, spread_deed, spread_sentence};
use crate::outputs::shown::number;
use crate::treatments::{
    Comparison, Contrast, FEWEST_RUNS, Interval, OfQuantity, Overall, SIGNIFICANT, has_side,
};

/// Groups named in the headline after the first; more are counted.
const NAMED: usize = 2;

/// What is asked of a quantity's groups.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Asked {
    /// How their means differ.
    Mean,
    /// Of a quantity with a side, how far off the line they are, whichever side.
    OffLine,
}

impl Asked {
    /// What is asked of a quantity, first what matters most.
    pub(super) const fn of(quantity: &OfQuantity) -> &'static [Self] {
        if quantity.straightness.is_some() {
            &[Self::OffLine, Self::Mean]
        } else {
            &[Self::Mean]
        }
    }

    pub(super) fn contrasts(self, quantity: &OfQuantity) -> &[Contrast] {
        match (self, &quantity.straightness) {
            (Self::Mean, _) => &quantity.contrasts,
            (Self::OffLine, Some(found)) => &found.contrasts,
            (Self::OffLine, None) => &[],
        }
    }

    pub(super) fn overall(self, quantity: &OfQuantity) -> Option<&Overall> {
        match self {
            Self::Mean => quantity.overall.as_ref(),
            Self::OffLine => quantity.straightness.as_ref()?.overall.as_ref(),
        }
    }

    fn noun(self, quantity: &OfQuantity) -> &'static str {
        match self {
            Self::Mean => noun(quantity.key),
            Self::OffLine => noun_off_line(quantity.key),
        }
    }

    /// Whether a difference is more than chance.
    pub(super) fn is_clear(self, quantity: &OfQuantity, contrast: &Contrast) -> bool {
        contrast.is_clear(self.overall(quantity))
    }

    /// The clear differences against the first group.
    fn clear(self, quantity: &OfQuantity) -> Vec<&Contrast> {
        (self.contrasts(quantity).iter())
            .filter(|contrast| contrast.groups[0] == 0 && self.is_clear(quantity, contrast))
            .collect()
    }

    /// "cut the spun-away distance by 0.31 m": what one group did against another.
    fn deed(self, quantity: &OfQuantity, contrast: &Contrast, scale: &Scale) -> String {
        let less = contrast.difference < 0.0;
        let size = scale.with_unit(contrast.difference.abs());
        let noun = self.noun(quantity);
        if self == Self::Mean && has_side(quantity.key) {
            let side = if less { "right" } else { "left" };
            return format!("moved the {noun} to the {side} by {size}");
        }
        let verb = if less { "cut" } else { "raised" };
        format!("{verb} the {noun} by {size}")
    }
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
    asked: Asked,
    contrast: &Contrast,
) -> String {
    let scale = &fine(Scale::of(quantity), contrast);
    let [from, to] = contrast.groups.map(|group| of.groups[group].label.as_str());
    let noun = asked.noun(quantity);
    let counted = count_words(contrast);
    let Some(test) = contrast.test else {
        let size = scale.with_unit(contrast.difference);
        let why = match (contrast.n.contains(&1), contrast.paired) {
            (true, true) => "one pair alone decides nothing",
            (true, false) => "one run alone decides nothing",
            (false, _) => "too much alike for an interval",
        };
        return format!("{to} less {from} is {size} in the {noun}; {counted}: {why}");
    };
    let shuffled = contrast.shuffles.map_or_else(String::new, |shuffles| {
        format!("; {}", by_shuffling("a gap", &shuffles))
    });
    if asked.is_clear(quantity, contrast) {
        // Against whom goes without saying where there are only two.
        let against = if of.groups.len() > 2 {
            format!(" against {from}")
        } else {
            String::new()
        };
        return format!(
            "{to} {}{against} ({}); {counted}{shuffled}",
            asked.deed(quantity, contrast, scale),
            scale.range_of_size(test.interval.low, test.interval.high),
        );
    }
    let few = contrast.n.iter().any(|n| *n < FEWEST_RUNS);
    let doubt = if few {
        "; too few to call anything clear"
    } else if test.p < SIGNIFICANT {
        "; alone it would count, among so many comparisons it does not"
    } else {
        ""
    };
    format!(
        "no clear difference in the {noun}: {to} less {from} is {} ({}); {counted}{shuffled}{doubt}",
        scale.with_unit(contrast.difference),
        scale.range(test.interval.low, test.interval.high),
    )
}

/// What all of it comes to, as a sentence or two.
pub(super) fn headline(of: &Comparison) -> String {
    if of.groups.len() == 1 {
        return one_group(of);
    }
    let first = (of.quantities.iter()).find_map(|quantity| against_first_in_short(of, quantity));
    let Some(clear) = first.or_else(|| between_others(of)) else {
        return format!("No clear difference by {}.", of.question.by.words());
    };
    along_with(of).map_or_else(|| clear.clone(), |caution| format!("{clear} {caution}"))
}

/// The quantity that the headline is about: the first with a clear answer, else the first that runs show.
pub(super) fn leading(of: &Comparison) -> Option<&OfQuantity> {
    let shown = || of.quantities.iter().filter(|one| !one.points.is_empty());
    let clear = |quantity: &&OfQuantity| {
        against_first_in_short(of, quantity).is_some()
            || Asked::of(quantity).iter().any(|&asked| {
                let mut contrasts = asked.contrasts(quantity).iter();
                contrasts.any(|contrast| asked.is_clear(quantity, contrast))
            })
    };
    let against_first = shown().find(|one| against_first_in_short(of, one).is_some());
    against_first
        .or_else(|| shown().find(clear))
        .or_else(|| shown().next())
}

/// The first clear answer on a quantity, for all groups against the first.
fn against_first_in_short(of: &Comparison, quantity: &OfQuantity) -> Option<String> {
    let scale = Scale::of(quantity);
    for &asked in Asked::of(quantity) {
        let clear = asked.clear(quantity);
        let Some((first, others)) = clear.split_first() else {
            continue;
        };
        let name = |contrast: &Contrast| of.groups[contrast.groups[1]].label.clone();
        let deed = |contrast: &Contrast| asked.deed(quantity, contrast, &fine(scale, contrast));
        let mut out = format!("{} {}", capital(&name(first)), deed(first));
        for other in others.iter().take(NAMED) {
            // Another direction needs its own verb.
            if (other.difference < 0.0) == (first.difference < 0.0) {
                let by = fine(scale, other).with_unit(other.difference.abs());
                out = format!("{out}, {} by {by}", name(other));
            } else {
                out = format!("{out}; {} {}", name(other), deed(other));
            }
        }
        if others.len() > NAMED {
            out = format!("{out}; and {} more", others.len() - NAMED);
        }
        return Some(out + ".");
    }
    let pair = clear_spreads(quantity).into_iter().next()?;
    let label = capital(&of.groups[pair.groups[1]].label);
    Some(format!("{label} {}.", spread_deed(quantity, pair)?))
}

/// A clear difference between groups of which neither is the first.
fn between_others(of: &Comparison) -> Option<String> {
    let mut asked = (of.quantities.iter()).flat_map(|quantity| {
        Asked::of(quantity)
            .iter()
            .map(move |asked| (quantity, *asked))
    });
    asked.find_map(|(quantity, asked)| {
        let mut contrasts = asked.contrasts(quantity).iter();
        let clear = contrasts.find(|contrast| asked.is_clear(quantity, contrast))?;
        let said = sentence(of, quantity, asked, clear);
        let short = said.split(" (").next().unwrap_or_default();
        Some(format!("{}.", capital(short)))
    })
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

/// What shows it: every clear difference against the first group, and where there is none.
pub(super) fn because(of: &Comparison) -> Vec<String> {
    if of.groups.len() == 1 {
        return of.quantities.iter().filter_map(repeats).collect();
    }
    let (mut out, mut unclear) = (Vec::new(), Vec::new());
    for quantity in &of.quantities {
        let before = out.len();
        let mut without = Vec::new();
        for &asked in Asked::of(quantity) {
            match asked.clear(quantity).as_slice() {
                [] if asked.contrasts(quantity).is_empty() => {}
                [] => without.push(asked.noun(quantity).to_owned()),
                [one] => out.push(sentence(of, quantity, asked, one)),
                several => out.push(all_against_first(of, quantity, asked, several)),
            }
        }
        if quantity
            .straightness
            .as_ref()
            .is_some_and(|found| found.spreads.is_some())
        {
            let spreads = clear_spreads(quantity);
            if spreads.is_empty() {
                without.push(format!("scatter of the {}", noun(quantity.key)));
            }
            out.extend(
                spreads
                    .iter()
                    .filter_map(|pair| spread_sentence(of, quantity, pair)),
            );
        }
        if out.len() == before && without.len() > 1 {
            without = vec![format!(
                "{} (side, distance and scatter)",
                noun(quantity.key)
            )];
        }
        unclear.extend(without);
    }
    if !unclear.is_empty() {
        let first = &of.groups[0].label;
        let against = if of.groups.len() > 2 {
            format!(" against {first}")
        } else {
            String::new()
        };
        out.push(format!(
            "no clear difference{against} in the {}",
            list(&unclear)
        ));
    }
    out
}

/// Several groups against the first, in one sentence.
fn all_against_first(
    of: &Comparison,
    quantity: &OfQuantity,
    asked: Asked,
    clear: &[&Contrast],
) -> String {
    let first = &of.groups[0].label;
    let falls = |contrast: &Contrast| contrast.difference < 0.0;
    let one = |contrast: &&Contrast| {
        let label = &of.groups[contrast.groups[1]].label;
        let scale = &fine(Scale::of(quantity), contrast);
        let interval = contrast.test.map_or_else(String::new, |test| {
            let Interval { low, high } = test.interval;
            format!(" ({})", scale.range_of_size(low, high))
        });
        // The verb and the noun are said once where all go the same way.
        let repeated = !std::ptr::eq(*contrast, clear[0]) && falls(contrast) == falls(clear[0]);
        if repeated {
            let by = scale.with_unit(contrast.difference.abs());
            return format!("{label} by {by}{interval}");
        }
        format!(
            "{label} {}{interval}",
            asked.deed(quantity, contrast, scale)
        )
    };
    let least_rare = (clear.iter())
        .filter_map(|contrast| contrast.shuffles)
        .max_by(|a, b| a.p().total_cmp(&b.p()));
    let shuffled = least_rare.map_or_else(String::new, |shuffles| {
        format!("; {}", by_shuffling("gaps", &shuffles))
    });
    let deeds: Vec<String> = clear.iter().map(one).collect();
    format!("against {first}, {}{shuffled}", list(&deeds))
}

/// How well runs of one kind repeat.
fn repeats(quantity: &OfQuantity) -> Option<String> {
    let found = quantity.repeatability?;
    let scale = Scale::of(quantity);
    let factor = (found.sd > 0.0).then(|| number(found.limit / found.sd, 1));
    let factor = factor.map_or_else(String::new, |factor| format!(" ({factor} times that)"));
    Some(format!(
        "{}: runs differ with a standard deviation of {}, two of them by less than {} in 95 of 100 cases{factor}",
        noun(quantity.key),
        scale.with_unit(found.sd),
        scale.with_unit(found.limit)
    ))
}

//! Warnings in words: what is the matter, and what would help.

use super::names::{Scale, noun};
use super::phrases::{chance, list, runs_words};
use super::unlike::{goes_with_groups, names, uneven, unlike};
use crate::findings::Key;
use crate::treatments::{Comparison, FEWEST_RUNS, SheetKey, Warning};

/// Clips named in one warning; more are counted.
const NAMED: usize = 3;

/// Every warning as a sentence, without its full stop.
pub(super) fn care(of: &Comparison) -> Vec<String> {
    of.warnings
        .iter()
        .map(|warning| words(of, warning))
        .collect()
}

fn words(of: &Comparison, warning: &Warning) -> String {
    match warning {
        Warning::SameClip { run, counted } => format!(
            "`{}` is the clip `{}` again, byte for byte: it is one run and was counted once",
            of.runs[*run].name, of.runs[*counted].name
        ),
        Warning::NoGroup { runs } => format!(
            "left out, because no `{}` stands on the run sheet: {}",
            of.question.by,
            clips(of, runs)
        ),
        Warning::FewRuns { groups } => few(of, groups),
        Warning::GoesWithGroups { what } => goes_with_groups(of, what),
        Warning::Uneven { what } => uneven(of, what),
        Warning::Unlike { what } => unlike(of, what),
        Warning::LeftOut { key, by_group, why } => left_out(of, *key, by_group, why),
        Warning::Undetermined { runs } => format!(
            "no cause could be determined for {}; what those runs do show is counted all the same",
            clips(of, runs)
        ),
        Warning::Drifts { key, drift } => drifts(of, *key, drift),
        Warning::Blocks => "each group was run in one block, so that a tread that wears or a spring that tires \
                            would look like a difference between the groups; take turns instead (A, B, B, A, A, B …)"
            .to_owned(),
        Warning::ManyQuestions { tested, fallen } => many(*tested, fallen),
        Warning::FewShuffles { smallest_p, paired } => {
            let unit = if *paired { "pairs" } else { "runs" };
            format!(
                "so few {unit} that the rarest result would come up in {} of 100 shuffles: shuffling cannot show \
                 anything below 5; what the intervals say then rests on the runs being spread as a bell curve",
                (100.0 * smallest_p).round()
            )
        }
        Warning::MostlyMeasuring { keys } => format!(
            "most of the spread between runs is measuring, in the {}: a better view (nearer, more floor marks) \
             helps more than more runs",
            list(&keys.iter().map(|key| noun(*key)).collect::<Vec<_>>())
        ),
        Warning::Unpaired { runs } => {
            let by = of.question.pair_by.map(SheetKey::words).unwrap_or_default();
            format!("without a partner of the same {by}, and so in no pair: {}", clips(of, runs))
        }
        Warning::SeveralTools { tools } => format!(
            "measured by different versions ({}): measure all clips again with one of them",
            list(tools)
        ),
    }
}

fn clips(of: &Comparison, runs: &[usize]) -> String {
    let named: Vec<String> = (runs.iter().take(NAMED))
        .map(|run| format!("`{}`", of.runs[*run].name))
        .collect();
    if runs.len() > NAMED {
        let more = runs.len() - NAMED;
        return format!("{} and {more} more", named.join(", "));
    }
    list(&named)
}

fn few(of: &Comparison, groups: &[usize]) -> String {
    let count = |group: &usize| of.groups[*group].runs.len();
    let named: Vec<String> = (groups.iter())
        .map(|group| format!("{} ({})", of.groups[*group].label, count(group)))
        .collect();
    let alone = if groups.iter().any(|group| count(group) == 1) {
        "; one run alone decides nothing and is in no test"
    } else {
        ""
    };
    format!(
        "fewer than {FEWEST_RUNS} runs of {}: that says next to nothing about how much runs differ{alone}",
        list(&named)
    )
}

/// For the headline: what else changed along with the groups; `None` where nothing did.
pub(super) fn along_with(of: &Comparison) -> Option<String> {
    let tied = of.warnings.iter().find_map(|warning| match warning {
        Warning::GoesWithGroups { what } => Some(what),
        _ => None,
    })?;
    Some(format!(
        "But {} changed along with the {}.",
        names(tied, NAMED),
        of.question.by.words()
    ))
}

fn left_out(of: &Comparison, key: Key, by_group: &[usize], why: &str) -> String {
    let told: Vec<String> = (by_group.iter().zip(&of.groups))
        .filter(|(count, _)| **count > 0)
        .map(|(count, group)| {
            format!(
                "{count} of {} of {}",
                runs_words(group.runs.len()),
                group.label
            )
        })
        .collect();
    format!(
        "the {} was not observable in {} ({why}); if those are the worst runs, or the best, the means are off",
        noun(key),
        list(&told)
    )
}

fn drifts(of: &Comparison, key: Key, drift: &crate::treatments::Drift) -> String {
    let quantity = of.quantities.iter().find(|quantity| quantity.key == key);
    let Some(scale) = quantity.map(Scale::of) else {
        return String::new();
    };
    let way = if drift.per_run < 0.0 { "fell" } else { "rose" };
    format!(
        "the {} {way} by {} from run to run whatever the group ({}; p {}): does a tread wear, \
         or a spring tire? Take turns between the groups, and change what tires",
        noun(key),
        scale.with_unit(drift.per_run.abs()),
        scale.range_of_size(drift.interval.low, drift.interval.high),
        chance(drift.p)
    )
}

fn many(tested: usize, fallen: &[Key]) -> String {
    let head = format!(
        "{tested} questions were asked at once, and one in twenty shows a difference by chance; their p values \
         are adjusted for that (Holm)"
    );
    if fallen.is_empty() {
        return head;
    }
    let fallen: Vec<&str> = fallen.iter().map(|key| noun(*key)).collect();
    format!(
        "{head}; what looked different alone and does not stand: {}",
        list(&fallen)
    )
}

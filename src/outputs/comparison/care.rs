//! Warnings in words: what is the matter, and what would help.

use super::names::{Scale, noun};
use super::say::{chance, list};
use crate::findings::Key;
use crate::treatments::{Comparison, Condition, FEWEST_RUNS, SheetKey, Warning};

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
        Warning::Unlike {
            what,
            values,
            as_groups,
        } => unlike(of, *what, values, *as_groups),
        Warning::LeftOut { key, by_group, why } => left_out(of, *key, by_group, why),
        Warning::Undetermined { runs } => format!(
            "no cause could be determined for {}; what those runs do show is counted all the same",
            clips(of, runs)
        ),
        Warning::Drifts { key, drift } => drifts(of, *key, drift),
        Warning::Blocks => "each group was run in one block, so that a tread that wears or a spring that tires \
                            would look like a difference between the groups; take turns instead (A, B, B, A, A, B …)"
            .to_owned(),
        Warning::ManyQuantities { tested, fallen } => many(*tested, fallen),
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
    let named: Vec<String> = (groups.iter())
        .map(|group| {
            let group = &of.groups[*group];
            format!("{} ({})", group.label, group.runs.len())
        })
        .collect();
    format!(
        "fewer than {FEWEST_RUNS} runs of {}: that says next to nothing about how much runs differ",
        list(&named)
    )
}

fn unlike(
    of: &Comparison,
    what: Condition,
    values: &[(String, Vec<usize>)],
    as_groups: bool,
) -> String {
    let told: Vec<String> = (values.iter())
        .map(|(value, runs)| {
            let value = match (what, value.as_str()) {
                (_, "") => "not known".to_owned(),
                (Condition::FrameRate, rate) => format!("{rate} frames a second"),
                (Condition::View, view) => view.replace('_', " "),
                (Condition::SetUp, _) => format!("like `{}`", of.runs[runs[0]].name),
                (Condition::Floor, floor) => format!("\"{floor}\""),
            };
            format!("{value} in {} of the runs", runs.len())
        })
        .collect();
    let head = match what {
        Condition::FrameRate => "the clips' frame rates differ",
        Condition::View => "the runs were not seen in the same way",
        Condition::SetUp => "floor marks, line or side of the camera differ",
        Condition::Floor => "the floors differ",
    };
    let tail = if as_groups {
        "; it goes with the groups, so that the one cannot be told from the other"
    } else {
        ""
    };
    format!("{head}: {}{tail}", list(&told))
}

fn left_out(of: &Comparison, key: Key, by_group: &[usize], why: &str) -> String {
    let told: Vec<String> = (by_group.iter().zip(&of.groups))
        .filter(|(count, _)| **count > 0)
        .map(|(count, group)| format!("{count} of {} of {}", group.runs.len(), group.label))
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
        "the {} {way} by {} from run to run whatever the group ({}; chance alone: p {}): does a tread wear, \
         or a spring tire? Take turns between the groups, and change what tires",
        noun(key),
        scale.with_unit(drift.per_run.abs()),
        scale.range_of_size(drift.interval.low, drift.interval.high),
        chance(drift.p)
    )
}

fn many(tested: usize, fallen: &[Key]) -> String {
    let head = format!(
        "{tested} quantities were tested at once, and one in twenty looks different by chance; their p values \
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

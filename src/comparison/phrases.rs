//! Parts of sentences: chances, counts, lists, plans.

use super::names::Scale;
use crate::outputs::shown::number;
use crate::treatments::{Contrast, Design, MOST_RUNS, Need, Plan, Shuffles, Why};

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

/// "1 run", "4 runs".
pub(super) fn runs_words(count: usize) -> String {
    if count == 1 {
        "1 run".to_owned()
    } else {
        format!("{count} runs")
    }
}

/// How often shuffling comes up with as much: "once in 35", "3 times in 35", "about 30 times in 100".
pub(super) fn how_often(shuffles: &Shuffles) -> String {
    let Shuffles {
        as_far, of, exact, ..
    } = *shuffles;
    if !exact && as_far == 1 {
        return format!("less than once in {}", of / 2);
    }
    let about = if exact { "" } else { "about " };
    let divisor = common_divisor(as_far, of);
    let (top, bottom) = (as_far / divisor, of / divisor);
    if top == bottom {
        return "every time".to_owned();
    }
    if top == 1 && (exact || shuffles.p() <= OFTEN) {
        return format!("{about}once in {bottom}");
    }
    if bottom <= 100 && exact {
        return format!("{top} times in {bottom}");
    }
    let p = shuffles.p();
    if p > OFTEN {
        // Tens are what anyone pictures.
        return format!("about {:.0} times in 100", 100.0 * p);
    }
    format!("about once in {:.0}", 1.0 / p)
}

/// From this share on, shuffling does as much often.
const OFTEN: f64 = 0.1;

/// "shuffling the runs gives a gap this big only once in 35"; `gap` is "a gap" or "gaps".
pub(super) fn by_shuffling(gap: &str, shuffles: &Shuffles) -> String {
    let often = how_often(shuffles);
    let only = if shuffles.p() <= OFTEN && often.starts_with("once") {
        "only "
    } else {
        ""
    };
    format!("shuffling the runs gives {gap} this big {only}{often}")
}

fn common_divisor(a: u64, b: u64) -> u64 {
    if b == 0 {
        a.max(1)
    } else {
        common_divisor(b, a % b)
    }
}

/// "4 runs each", "5 runs against 4", "4 pairs".
pub(super) fn count_words(contrast: &Contrast) -> String {
    let [first, second] = contrast.n;
    match (contrast.paired, first == second) {
        (true, _) => format!("{first} pair{}", if first == 1 { "" } else { "s" }),
        (false, true) => format!("{} each", runs_words(first)),
        (false, false) => format!("{} against {first}", runs_words(second)),
    }
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
    let runs = runs_text(need.runs);
    let [few, many] = need.runs_if.map(runs_text);
    if few == runs && many == runs {
        return runs;
    }
    format!("{runs} ({few} to {many})")
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

    fn shuffles(as_far: u64, of: u64, exact: bool) -> Shuffles {
        Shuffles {
            as_far,
            of,
            exact,
            fewest: 1,
        }
    }

    #[test]
    fn shuffles_are_told_as_people_count() {
        let words = |as_far, of, exact| how_often(&shuffles(as_far, of, exact));
        assert_eq!(words(2, 70, true), "once in 35");
        assert_eq!(words(6, 70, true), "3 times in 35");
        assert_eq!(words(70, 70, true), "every time");
        assert_eq!(words(6, 34_650, true), "once in 5775");
        assert_eq!(words(42, 34_650, true), "once in 825");
        assert_eq!(words(15_048, 184_756, true), "about once in 12");
        assert_eq!(words(1, 100_000, false), "less than once in 50000");
        assert_eq!(words(30_000, 100_000, false), "about 30 times in 100");
        assert_eq!(
            by_shuffling("a gap", &shuffles(2, 70, true)),
            "shuffling the runs gives a gap this big only once in 35"
        );
        assert_eq!(
            by_shuffling("a gap", &shuffles(35, 70, true)),
            "shuffling the runs gives a gap this big once in 2"
        );
    }

    #[test]
    fn lists_and_counts_read_as_people_write() {
        assert_eq!(list(&["a"]), "a");
        assert_eq!(list(&["a", "b", "c"]), "a, b and c");
        assert_eq!(
            (runs_words(1).as_str(), runs_words(4).as_str()),
            ("1 run", "4 runs")
        );
    }
}

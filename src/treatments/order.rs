//! In which order the runs were made.

use super::facts::SheetKey;
use super::reading::Run;
use std::cmp::Ordering;

/// What the order goes by.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum OrderBy {
    /// The times at which the clips were made, as their files say.
    Filmed,
    /// The clips' file names, with numbers in them read as numbers.
    ClipName,
    /// A key of the run sheet.
    Sheet(SheetKey),
}

/// Sorts the runs and says by what: by the asked key, else by the time of filming where every clip tells
/// one of its own, else by name. Times that are alike (clips that went through a program that stamped
/// them) order nothing.
pub fn put_in_order(runs: &mut [Run], asked: Option<OrderBy>) -> OrderBy {
    let by = asked.unwrap_or_else(|| {
        if times_tell(runs) {
            OrderBy::Filmed
        } else {
            OrderBy::ClipName
        }
    });
    runs.sort_by(|a, b| compare(a, b, by).then_with(|| by_name(a, b)));
    by
}

fn times_tell(runs: &[Run]) -> bool {
    let mut times: Vec<&str> = runs
        .iter()
        .filter_map(|run| run.filmed.as_deref())
        .collect();
    if times.len() < runs.len() {
        return false;
    }
    times.sort_unstable();
    // The same clip twice has one time; it is counted once later.
    let mut clips: Vec<&str> = runs.iter().map(|run| run.clip_sha256.as_str()).collect();
    clips.sort_unstable();
    clips.dedup();
    times.dedup();
    times.len() == clips.len()
}

fn compare(a: &Run, b: &Run, by: OrderBy) -> Ordering {
    match by {
        // ISO 8601 in UTC sorts as text; what has no time comes last.
        OrderBy::Filmed => (a.filmed.is_none(), &a.filmed).cmp(&(b.filmed.is_none(), &b.filmed)),
        OrderBy::ClipName => Ordering::Equal,
        OrderBy::Sheet(key) => match (a.facts.get(key), b.facts.get(key)) {
            (Some(a), Some(b)) => match (a.number, b.number) {
                (Some(a), Some(b)) => a.total_cmp(&b),
                _ => natural(&a.text, &b.text),
            },
            (a, b) => a.is_none().cmp(&b.is_none()),
        },
    }
}

fn by_name(a: &Run, b: &Run) -> Ordering {
    natural(&a.clip, &b.clip)
        .then_with(|| natural(&a.name, &b.name))
        .then_with(|| a.path.cmp(&b.path))
}

/// Compares texts with the numbers in them taken as numbers: run 2 comes before run 10.
pub fn natural(a: &str, b: &str) -> Ordering {
    let (mut a, mut b) = (a, b);
    loop {
        let (first, second) = (a.chars().next(), b.chars().next());
        match (first, second) {
            (Some(x), Some(y)) if x.is_ascii_digit() && y.is_ascii_digit() => {
                let (x, rest_a) = leading_number(a);
                let (y, rest_b) = leading_number(b);
                let order = x.len().cmp(&y.len()).then_with(|| x.cmp(y));
                if order != Ordering::Equal {
                    return order;
                }
                (a, b) = (rest_a, rest_b);
            }
            (Some(x), Some(y)) => {
                let order = x.to_lowercase().cmp(y.to_lowercase());
                if order != Ordering::Equal {
                    return order;
                }
                (a, b) = (&a[x.len_utf8()..], &b[y.len_utf8()..]);
            }
            (x, y) => return x.is_some().cmp(&y.is_some()),
        }
    }
}

/// The number that a text begins with, without leading zeros, and what follows.
fn leading_number(text: &str) -> (&str, &str) {
    let end = text
        .find(|c: char| !c.is_ascii_digit())
        .unwrap_or(text.len());
    let (digits, rest) = text.split_at(end);
    (digits.trim_start_matches('0'), rest)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_in_names_count_as_numbers() {
        let mut names = ["run10.mp4", "Run2.mp4", "run1.mp4", "run02b.mp4", "a"];
        names.sort_by(|a, b| natural(a, b));
        assert_eq!(
            names,
            ["a", "run1.mp4", "Run2.mp4", "run02b.mp4", "run10.mp4"]
        );
    }
}

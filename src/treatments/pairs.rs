//! Pairs: what had both treatments, such as one car, is compared with itself.

use super::facts::SheetKey;
use super::reading::Run;
use std::collections::BTreeMap;

/// Runs that have both treatments: for each value of the pairing key the two groups' means.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Pairs {
    /// Second less first, a value for each pair.
    pub(super) differences: Vec<f64>,
}

/// The pairs of two groups, each given as (run, value). Several runs of one kind in a pair are one mean:
/// the pair is then the unit.
pub(super) fn pairs(
    runs: &[Run],
    by: SheetKey,
    first: &[(usize, f64)],
    second: &[(usize, f64)],
) -> Pairs {
    let means = |group: &[(usize, f64)]| {
        let mut sums: BTreeMap<String, (f64, f64)> = BTreeMap::new();
        for (run, value) in group {
            if let Some(label) = runs[*run].facts.text(by) {
                let entry = sums.entry(label.to_owned()).or_default();
                entry.0 += value;
                entry.1 += 1.0;
            }
        }
        sums
    };
    let (first, second) = (means(first), means(second));
    let differences = (first.iter())
        .filter_map(|(label, (sum, n))| {
            let (other, m) = second.get(label)?;
            Some(other / m - sum / n)
        })
        .collect();
    Pairs { differences }
}

//! What chance alone would do: the runs' labels are dealt out again and again.
//!
//! Every way of dealing is counted where there are few enough; else that many are drawn at random. The
//! test supposes no shape of distribution, only that without a difference the labels mean nothing.

use rand::SeedableRng;
use rand::seq::SliceRandom;
use rand_chacha::ChaCha12Rng;

/// Up to this many ways of dealing are all counted; beyond, that many less one are drawn at random.
pub const MOST_COUNTED: u64 = 200_000;
/// Random shuffles where not all can be counted: p is then known to better than 0.0014 near 0.05.
const DRAWN: u64 = 99_999;
/// Seed of the random shuffles.
const SEED: u64 = 7;
/// Statistics this near to each other are equal: sums taken in another order differ in their last digits.
const SLACK: f64 = 1e-9;

/// In how many shuffles the groups lie as far apart as they were seen to, or farther.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shuffles {
    /// Such shuffles; the one that was seen counts.
    pub as_far: u64,
    /// All shuffles.
    pub of: u64,
    /// Whether these are all that there are.
    pub exact: bool,
    /// Fewest that any result could have reached: the observed dealing and its mirror images.
    pub fewest: u64,
}

impl Shuffles {
    /// The chance: a share of all shuffles (with the observed one counted in where they were drawn at
    /// random; Phipson and Smyth, 2010).
    pub fn p(&self) -> f64 {
        self.as_far as f64 / self.of as f64
    }

    /// The smallest chance that this many runs can reach.
    pub fn smallest_p(&self) -> f64 {
        self.fewest as f64 / self.of as f64
    }
}

/// Shuffles of runs among groups. The statistic is the sum of squares between the groups; for two groups
/// it orders the dealings as the size of the difference of means does. `None` without two groups.
pub fn shuffle_groups(groups: &[Vec<f64>]) -> Option<Shuffles> {
    let sizes: Vec<usize> = (groups.iter().map(Vec::len)).filter(|n| *n > 0).collect();
    if sizes.len() < 2 {
        return None;
    }
    let mut values: Vec<f64> = groups.iter().flatten().copied().collect();
    let mean = values.iter().sum::<f64>() / values.len() as f64;
    for value in &mut values {
        *value -= mean;
    }
    let total: f64 = values.iter().map(|v| v * v).sum();
    let seen = between(&values, &sizes);
    let bar = seen - SLACK * total;
    // Dealings that only swap the names of groups of one size are as far apart.
    let mut fewest = 1;
    for (index, size) in sizes.iter().enumerate() {
        fewest *= 1 + sizes[..index].iter().filter(|other| *other == size).count() as u64;
    }
    if let Some(of) = ways(&sizes).filter(|ways| *ways <= MOST_COUNTED) {
        let mut dealer = Dealer {
            values: &values,
            left: sizes.clone(),
            sums: vec![0.0; sizes.len()],
            sizes: &sizes,
            bar,
            as_far: 0,
        };
        dealer.deal(0);
        return Some(Shuffles {
            as_far: dealer.as_far,
            of,
            exact: true,
            fewest,
        });
    }
    let mut random = ChaCha12Rng::seed_from_u64(SEED);
    let mut as_far = 1;
    for _ in 0..DRAWN {
        values.shuffle(&mut random);
        as_far += u64::from(between(&values, &sizes) >= bar);
    }
    Some(Shuffles {
        as_far,
        of: DRAWN + 1,
        exact: false,
        fewest: 1,
    })
}

/// Shuffles of signs: each pair may have been the other way round. `None` without pairs.
pub fn shuffle_signs(differences: &[f64]) -> Option<Shuffles> {
    if differences.is_empty() {
        return None;
    }
    let size: f64 = differences.iter().map(|d| d.abs()).sum();
    let bar = differences.iter().sum::<f64>().abs() - SLACK * size;
    let ways = 1u64.checked_shl(differences.len() as u32);
    if let Some(of) = ways.filter(|ways| *ways <= MOST_COUNTED) {
        let signed = |pattern: u64| -> f64 {
            let numbered = differences.iter().enumerate();
            numbered
                .map(|(bit, d)| if pattern >> bit & 1 == 0 { *d } else { -d })
                .sum()
        };
        let as_far = (0..of).filter(|pattern| signed(*pattern).abs() >= bar);
        return Some(Shuffles {
            as_far: as_far.count() as u64,
            of,
            exact: true,
            fewest: 2,
        });
    }
    let mut random = ChaCha12Rng::seed_from_u64(SEED);
    let mut as_far = 1;
    for _ in 0..DRAWN {
        let sum: f64 = (differences.iter())
            .map(|d| {
                if rand::RngExt::random(&mut random) {
                    *d
                } else {
                    -d
                }
            })
            .sum();
        as_far += u64::from(sum.abs() >= bar);
    }
    Some(Shuffles {
        as_far,
        of: DRAWN + 1,
        exact: false,
        fewest: 1,
    })
}

/// Sum of squares between groups that follow one another in `values`, which have a mean of 0.
fn between(values: &[f64], sizes: &[usize]) -> f64 {
    let (mut from, mut out) = (0, 0.0);
    for &size in sizes {
        let sum: f64 = values[from..from + size].iter().sum();
        out += sum * sum / size as f64;
        from += size;
    }
    out
}

/// Ways of dealing to groups of these sizes; `None` where that does not fit a number.
fn ways(sizes: &[usize]) -> Option<u64> {
    let mut dealt = 0u64;
    let mut out = 1u64;
    for &size in sizes {
        for place in 1..=size as u64 {
            dealt += 1;
            // A product of binomials, whole at every step.
            out = out.checked_mul(dealt)? / place;
        }
    }
    Some(out)
}

/// Deals the values out in every possible way, one value after the other.
struct Dealer<'a> {
    values: &'a [f64],
    left: Vec<usize>,
    sums: Vec<f64>,
    sizes: &'a [usize],
    bar: f64,
    as_far: u64,
}

impl Dealer<'_> {
    fn deal(&mut self, next: usize) {
        let Some(&value) = self.values.get(next) else {
            let parts = self.sums.iter().zip(self.sizes);
            let apart: f64 = parts.map(|(sum, n)| sum * sum / *n as f64).sum();
            self.as_far += u64::from(apart >= self.bar);
            return;
        };
        for group in 0..self.sizes.len() {
            if self.left[group] > 0 {
                self.left[group] -= 1;
                let before = self.sums[group];
                self.sums[group] += value;
                self.deal(next + 1);
                self.sums[group] = before;
                self.left[group] += 1;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ways_of_dealing_are_counted() {
        // Binomial and multinomial coefficients.
        assert_eq!(ways(&[4, 4]), Some(70));
        assert_eq!(ways(&[10, 10]), Some(184_756));
        assert_eq!(ways(&[4, 4, 4]), Some(34_650));
        assert_eq!(ways(&[60, 60]), None);
    }

    #[test]
    fn the_smallest_p_of_few_runs_is_known_by_counting() {
        let apart = |n: usize| {
            let low: Vec<f64> = (0..n).map(|i| i as f64).collect();
            let high: Vec<f64> = (0..n).map(|i| 100.0 + i as f64).collect();
            shuffle_groups(&[low, high]).unwrap()
        };
        for (n, p) in [(3, 0.1), (4, 2.0 / 70.0), (5, 2.0 / 252.0)] {
            let found = apart(n);
            assert!(found.exact);
            assert!((found.p() - p).abs() < 1e-12, "{n}: {found:?}");
            assert!((found.smallest_p() - p).abs() < 1e-12);
        }
        for (n, p) in [(3, 0.25), (4, 0.125), (6, 0.03125), (8, 0.007_812_5)] {
            let found = shuffle_signs(&vec![1.5; n]).unwrap();
            assert!((found.p() - p).abs() < 1e-12, "{n}: {found:?}");
        }
    }

    #[test]
    fn random_shuffles_agree_with_counted_ones() {
        // 184 756 ways are all counted; one run more in each group, and they are drawn.
        let group = |n: usize, shift: f64| -> Vec<f64> {
            (0..n).map(|i| shift + (i as f64 * 2.399).sin()).collect()
        };
        let counted = shuffle_groups(&[group(10, 0.0), group(10, 0.5)]).unwrap();
        assert!(counted.exact);
        let drawn = shuffle_groups(&[group(11, 0.0), group(11, 0.5)]).unwrap();
        assert!(!drawn.exact && drawn.of == 100_000);
        assert!(
            (counted.p() - drawn.p()).abs() < 0.05,
            "{counted:?} {drawn:?}"
        );
        let again = shuffle_groups(&[group(11, 0.0), group(11, 0.5)]).unwrap();
        assert_eq!(drawn, again, "the seed is fixed");
    }
}

//! Comparing runs against general-purpose reference libraries, where no printed example has what the tool
//! meets: groups of unequal size, intervals of standardised differences of pairs, spreads. Each test names the
//! call that gave its numbers; the data are published.
#![allow(clippy::unwrap_used, reason = "tests fail by panicking")]

use gripline::treatments::{
    anova, brown_forsythe, describe, hedges_g, hedges_g_of_pairs, shuffle_groups, spread_test,
    welch_anova, welch_t,
};

#[track_caller]
fn near(found: f64, expected: f64, within: f64) {
    assert!((found - expected).abs() <= within, "{found} for {expected}");
}

/// The sleep of ten patients with either of two drugs ("Student", *Biometrika* 6, 1908), as R ships it.
const SLEEP: [[f64; 10]; 2] = [
    [0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0],
    [1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4],
];

/// Dried weights of plants, R's `PlantGrowth`.
const PLANTS: [[f64; 10]; 3] = [
    [4.17, 5.58, 5.18, 6.11, 4.50, 4.61, 5.17, 4.53, 5.33, 5.14],
    [4.81, 4.17, 4.41, 3.59, 5.87, 3.83, 6.03, 4.89, 4.32, 4.69],
    [6.31, 5.12, 5.54, 5.50, 5.37, 5.29, 4.92, 6.15, 5.80, 5.26],
];

/// scipy 1.17.1, `ttest_ind(second, first)` with pooled variance: t is the root of the F of two groups.
#[test]
fn the_pooled_test_is_the_analysis_of_variance_of_two_groups() {
    let found = anova(&SLEEP.map(Vec::from)).unwrap();
    near(found.f.sqrt(), 1.860_813_47, 1e-8);
    near(found.p, 0.079_186_71, 1e-8);
    let found = anova(&[SLEEP[0][..6].to_vec(), SLEEP[1].to_vec()]).unwrap();
    near(found.f.sqrt(), 2.173_409_57, 1e-8);
    near(found.p, 0.047_401_22, 1e-8);
}

/// scipy 1.17.1, `ttest_ind(second, first[:6], equal_var=False)` and its `confidence_interval()`.
#[test]
fn welchs_test_of_groups_of_unequal_size() {
    let (first, second) = (
        describe(&SLEEP[0][..6]).unwrap(),
        describe(&SLEEP[1]).unwrap(),
    );
    let test = welch_t(&first, &second).unwrap();
    near(test.t, 2.240_850_57, 1e-8);
    near(test.df, 11.695_190_35, 1e-8);
    near(test.p, 0.045_272_68, 1e-8);
    near(test.interval.low, 0.053_795_34, 1e-8);
    near(test.interval.high, 4.272_871_32, 1e-8);
    // Taken the other way round it is the same test.
    let back = welch_t(&second, &first).unwrap();
    near(back.p, test.p, 1e-15);
    near(back.interval.high, -test.interval.low, 1e-12);
}

/// statsmodels 0.15, `anova_oneway(groups, use_var="unequal")`, of 6, 8 and 10 plants.
#[test]
fn welchs_one_way_test_of_groups_of_unequal_size() {
    let samples = [&PLANTS[0][..6], &PLANTS[1][..8], &PLANTS[2][..]].map(|g| describe(g).unwrap());
    let test = welch_anova(&samples).unwrap();
    near(test.f, 3.292_666_52, 1e-8);
    near(test.df[1], 10.321_451_38, 1e-8);
    near(test.p, 0.078_334_31, 1e-8);
}

/// scipy 1.17.1: g with `gammaln`, the ends by `brentq` on `nct` (Hedges and Olkin, *Statistical Methods for
/// Meta-Analysis*, 1985, ch. 5, have the method).
#[test]
fn standardised_differences_of_pairs_and_of_unequal_groups() {
    let differences: Vec<f64> = (0..10).map(|i| SLEEP[1][i] - SLEEP[0][i]).collect();
    let pairs = hedges_g_of_pairs(&describe(&differences).unwrap()).unwrap();
    near(pairs.g, 1.173_924_90, 1e-7);
    near(pairs.interval.low, 0.378_917_90, 1e-6);
    near(pairs.interval.high, 1.935_602_11, 1e-6);
    let (first, second) = (
        describe(&SLEEP[0][..6]).unwrap(),
        describe(&SLEEP[1]).unwrap(),
    );
    let groups = hedges_g(&first, &second).unwrap();
    near(groups.g, 1.060_937_90, 1e-7);
    near(groups.interval.low, 0.011_897_48, 1e-6);
    near(groups.interval.high, 2.077_738_56, 1e-6);
}

/// Counted with Python's `itertools.combinations`: 12 of the 210 ways of dealing four and six values.
#[test]
fn shuffles_of_groups_of_unequal_size_are_all_counted() {
    let found = shuffle_groups(&[SLEEP[0][..4].to_vec(), SLEEP[1][..6].to_vec()]).unwrap();
    assert_eq!((found.as_far, found.of, found.exact), (12, 210, true));
}

/// The worked example in scipy's documentation of `scipy.stats.levene` (`center="median"`): p 0.0024315.
/// Its statistic, and that of `PlantGrowth`, with scipy 1.17.1.
#[test]
fn brown_and_forsythes_test() {
    let a = [8.88, 9.12, 9.04, 8.98, 9.00, 9.08, 9.01, 8.85, 9.06, 8.99];
    let b = [8.88, 8.95, 9.29, 9.44, 9.15, 9.58, 8.36, 9.18, 8.67, 9.05];
    let c = [8.95, 9.12, 8.95, 8.85, 9.03, 8.84, 9.07, 8.98, 8.86, 8.98];
    let found = brown_forsythe(&[a, b, c].map(Vec::from)).unwrap();
    near(found.f, 7.584_952_754_5, 1e-9);
    near(found.p, 0.002_431_505_967, 1e-12);
    assert_eq!(found.df, [2.0, 27.0]);
    let found = brown_forsythe(&PLANTS.map(Vec::from)).unwrap();
    near(found.f, 1.119_185_694_9, 1e-9);
    near(found.p, 0.341_226_624_1, 1e-9);
}

/// scipy 1.17.1, `f_oneway` on the distances from the medians but the middle one of each group: 1, 1 of the three
/// values and 5, 3, 1, 2 of the five.
#[test]
fn the_spread_of_few_runs_leaves_out_the_distance_that_is_no_news() {
    let groups = [vec![3.0, 1.0, 2.0], vec![9.0, 2.0, 7.0, 8.0, 4.0]];
    let found = spread_test(&groups).unwrap();
    near(found.f, 1.866_666_666_7, 1e-9);
    near(found.p, 0.243_625_263_3, 1e-9);
    assert_eq!(found.df, [1.0, 4.0]);
    assert!(spread_test(&[vec![1.0], vec![2.0]]).is_none());
    assert!(spread_test(&[]).is_none());
}

//! Comparing runs rests on statistics that others have published numbers for: NIST's certified data
//! sets, printed examples and tables. Each test names its source; at least the digits stated are reached.
#![allow(clippy::unwrap_used, reason = "tests fail by panicking")]

use gripline::treatments::{
    Design, Measured, anova, common_slope, describe, drift, hedges_g, hedges_g_of_pairs, paired_t,
    power, repeatability, runs_for, shuffle_groups, shuffle_signs, small_sample_factor,
    smallest_effect, take_apart, welch_anova, welch_t, whole_runs_for,
};
use std::collections::BTreeMap;
use std::path::Path;

fn rows(file: &str) -> Vec<csv::StringRecord> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("fixtures/outside-checks")
        .join(file);
    let mut reader = csv::Reader::from_path(path).unwrap();
    let rows: Vec<_> = reader.records().map(Result::unwrap).collect();
    assert!(rows.len() > 10, "{file} has {} rows", rows.len());
    rows
}

fn number(row: &csv::StringRecord, column: usize) -> f64 {
    row[column].trim().parse().unwrap()
}

/// Digits in which a number agrees with a certified one, at most 15 (NIST's log relative error).
fn digits(found: f64, certified: f64) -> f64 {
    if found == certified {
        return 15.0;
    }
    let error = ((found - certified) / certified).abs();
    (-error.log10()).min(15.0)
}

#[track_caller]
fn certified(what: &str, found: f64, certified: f64, at_least: f64) {
    let reached = digits(found, certified);
    assert!(
        reached >= at_least,
        "{what}: {found} for {certified}, {reached:.1} digits"
    );
}

fn univariate(name: &str) -> Vec<f64> {
    let values: Vec<f64> = (rows("nist-univariate.csv").iter())
        .filter(|row| &row[0] == name)
        .map(|row| number(row, 2))
        .collect();
    assert!(values.len() >= 50, "{name}");
    values
}

fn groups(name: &str) -> Vec<Vec<f64>> {
    let mut out: BTreeMap<u32, Vec<f64>> = BTreeMap::new();
    for row in rows("nist-anova.csv").iter().filter(|row| &row[0] == name) {
        let group = row[1].parse().unwrap();
        out.entry(group).or_default().push(number(row, 2));
    }
    assert!(out.len() >= 2, "{name}");
    out.into_values().collect()
}

/// NIST `StRD`, univariate summary statistics: lower difficulty Lew, average Michelso and Mavro.
#[test]
fn nist_univariate_sets() {
    let sets = [
        ("Lew", -177.435, 277.332_168_044_316, 14.0, 13.0),
        ("Michelso", 299.852_4, 0.079_010_547_819_051_8, 14.0, 12.0),
        ("Mavro", 2.001_856, 0.000_429_123_454_003_053, 14.0, 12.0),
    ];
    for (name, mean, sd, mean_digits, sd_digits) in sets {
        let sample = describe(&univariate(name)).unwrap();
        certified(&format!("{name} mean"), sample.mean, mean, mean_digits);
        certified(&format!("{name} sd"), sample.sd.unwrap(), sd, sd_digits);
    }
}

/// NIST `StRD`, `NumAcc1` (lower) to `NumAcc4` (higher difficulty), built as their files describe. Doubles cannot
/// hold the data of the last two any better than to these digits.
#[test]
fn nist_numacc_sets() {
    let alternating = |first: f64, low: f64, high: f64| -> Vec<f64> {
        let pairs = std::iter::repeat_n([low, high], 500).flatten();
        std::iter::once(first).chain(pairs).collect()
    };
    let sets = [
        (
            "NumAcc1",
            vec![10_000_001.0, 10_000_003.0, 10_000_002.0],
            10_000_002.0,
            1.0,
            15.0,
        ),
        ("NumAcc2", alternating(1.2, 1.1, 1.3), 1.2, 0.1, 14.0),
        (
            "NumAcc3",
            alternating(1_000_000.2, 1_000_000.1, 1_000_000.3),
            1_000_000.2,
            0.1,
            9.0,
        ),
        (
            "NumAcc4",
            alternating(10_000_000.2, 10_000_000.1, 10_000_000.3),
            10_000_000.2,
            0.1,
            8.0,
        ),
    ];
    for (name, values, mean, sd, sd_digits) in sets {
        let sample = describe(&values).unwrap();
        certified(&format!("{name} mean"), sample.mean, mean, 14.0);
        certified(&format!("{name} sd"), sample.sd.unwrap(), sd, sd_digits);
    }
}

/// NIST `StRD`, linear regression, Norris (lower difficulty). The tool fits straight lines only, so the sets
/// for polynomials and several predictors do not apply.
#[test]
fn nist_norris_line() {
    let points: Vec<(f64, f64)> = (rows("nist-norris.csv").iter())
        .map(|row| (number(row, 1), number(row, 0)))
        .collect();
    assert_eq!(points.len(), 36);
    let line = common_slope(&[points]).unwrap();
    certified("Norris b0", line.intercept, -0.262_323_073_774_029, 11.0);
    certified("Norris b1", line.slope, 1.002_116_818_020_45, 13.0);
    certified(
        "Norris se b0",
        line.intercept_error,
        0.232_818_234_301_152,
        12.0,
    );
    certified(
        "Norris se b1",
        line.slope_error,
        0.000_429_796_848_199_937,
        12.0,
    );
    certified("Norris s", line.residual_sd, 0.884_796_396_144_373, 12.0);
    certified("Norris R2", line.r_squared, 0.999_993_745_883_712, 14.0);
}

/// NIST `StRD`, one-way analysis of variance: lower difficulty `SiRstv` and `SmLs01`, average `AtmWtAg` and `SmLs04`,
/// higher `SmLs07`. The last two are `SmLs01` with 1 000 000 and 1 000 000 000 000 for the leading 1; the
/// digits of `SmLs07` that are left are those that doubles keep of its data (a tenth in a million million).
#[test]
fn nist_anova_sets() {
    let check = |name: &str, values: &[Vec<f64>], f: f64, r_squared: f64, s: f64, least: f64| {
        let found = anova(values).unwrap();
        certified(&format!("{name} F"), found.f, f, least);
        certified(&format!("{name} R2"), found.r_squared, r_squared, least);
        certified(&format!("{name} s"), found.mean_squares[1].sqrt(), s, least);
    };
    let small = groups("SmLs01");
    assert_eq!(small.iter().map(Vec::len).sum::<usize>(), 189);
    let raised = |by: f64| -> Vec<Vec<f64>> {
        let shift = |v: &f64| v - 1.0 + by;
        small
            .iter()
            .map(|g| g.iter().map(shift).collect())
            .collect()
    };
    let silicon = groups("SiRstv");
    check(
        "SiRstv",
        &silicon,
        1.180_462_374_402_55,
        0.190_999_039_051_129,
        0.104_076_068_334_656,
        12.0,
    );
    check("SmLs01", &small, 21.0, 0.482_758_620_689_655, 0.1, 12.0);
    check(
        "AtmWtAg",
        &groups("AtmWtAg"),
        15.946_733_567_793_0,
        0.257_426_544_538_321,
        1.510_483_144_464_10e-5,
        8.0,
    );
    check(
        "SmLs04",
        &raised(1e6),
        21.0,
        0.482_758_620_689_655,
        0.1,
        9.0,
    );
    check(
        "SmLs07",
        &raised(1e12),
        21.0,
        0.482_758_620_689_655,
        0.1,
        2.0,
    );
}

/// The sleep of ten patients with either of two drugs ("Student", *Biometrika* 6, 1908), as R ships it.
const SLEEP: [[f64; 10]; 2] = [
    [0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0],
    [1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4],
];

#[track_caller]
fn near(found: f64, expected: f64, within: f64) {
    assert!((found - expected).abs() <= within, "{found} for {expected}");
}

/// R, `t.test(extra ~ group, data = sleep)`, as its documentation prints it; R takes first less second.
#[test]
fn the_printed_welch_test() {
    let [first, second] = SLEEP.map(|group| describe(&group).unwrap());
    let test = welch_t(&first, &second).unwrap();
    near(test.t, 1.8608, 5e-5);
    near(test.df, 17.776, 5e-4);
    near(test.p, 0.07939, 5e-6);
    near(test.interval.low, -0.205_483_2, 5e-8);
    near(test.interval.high, 3.365_483_2, 5e-8);
}

/// R, `t.test(..., paired = TRUE)` on the same data, as its documentation prints it.
#[test]
fn the_printed_paired_test() {
    let differences: Vec<f64> = (0..10).map(|i| SLEEP[1][i] - SLEEP[0][i]).collect();
    let test = paired_t(&differences).unwrap();
    near(test.t, 4.0621, 5e-5);
    near(test.df, 9.0, 0.0);
    near(test.p, 0.002_833, 5e-7);
    near(test.interval.low, 0.7001, 5e-5);
    near(test.interval.high, 2.4599, 5e-5);
    // Counted: 4 of 1024 sign patterns reach this sum.
    let shuffles = shuffle_signs(&differences).unwrap();
    assert_eq!(
        (shuffles.as_far, shuffles.of, shuffles.exact),
        (4, 1024, true)
    );
    // g of pairs is t over root n, times the small-sample factor.
    let size = hedges_g_of_pairs(&describe(&differences).unwrap()).unwrap();
    near(
        size.g,
        4.0621 / 10f64.sqrt() * small_sample_factor(9.0),
        5e-5,
    );
}

/// R, `oneway.test`: on the sleep data it prints F 3.4626, df 1 and 17.776, p 0.07939; on `PlantGrowth` F 5.181,
/// df 2 and 17.128, p 0.01739 (recomputed with statsmodels 0.15; the plain F with scipy 1.17).
#[test]
fn the_printed_one_way_tests() {
    let two = SLEEP.map(|group| describe(&group).unwrap());
    let test = welch_anova(&two).unwrap();
    near(test.f, 3.4626, 5e-5);
    near(test.df[1], 17.776, 5e-4);
    near(test.p, 0.07939, 5e-6);
    let plants = [
        [4.17, 5.58, 5.18, 6.11, 4.50, 4.61, 5.17, 4.53, 5.33, 5.14],
        [4.81, 4.17, 4.41, 3.59, 5.87, 3.83, 6.03, 4.89, 4.32, 4.69],
        [6.31, 5.12, 5.54, 5.50, 5.37, 5.29, 4.92, 6.15, 5.80, 5.26],
    ];
    let test = welch_anova(&plants.map(|group| describe(&group).unwrap())).unwrap();
    near(test.f, 5.181, 5e-4);
    near(test.df[1], 17.128, 5e-4);
    near(test.p, 0.01739, 5e-6);
    let plain = anova(&plants.map(Vec::from)).unwrap();
    near(plain.f, 4.8461, 5e-5);
    near(plain.p, 0.01591, 5e-6);
}

/// Fisher, *The Design of Experiments* (1935), section 21, on Darwin's maize: of 32 768 sign patterns 863 reach
/// the sum of 314, counting ties; the t of the same section is 2.148.
#[test]
fn darwins_maize() {
    let pairs: Vec<f64> = (rows("darwin-zea-mays.csv").iter())
        .map(|row| number(row, 1))
        .collect();
    assert_eq!((pairs.len(), pairs.iter().sum::<f64>()), (15, 314.0));
    let shuffles = shuffle_signs(&pairs).unwrap();
    assert_eq!((shuffles.as_far, shuffles.of), (2 * 863, 32_768));
    assert!(shuffles.exact);
    let test = paired_t(&pairs).unwrap();
    near(test.t, 2.148, 5e-4);
    near(test.p, 0.0497, 5e-5);
}

/// Counted: 15 048 of the 184 756 ways of dealing the sleep data lie as far apart as they were seen.
#[test]
fn shuffles_of_two_groups_are_all_counted() {
    let shuffles = shuffle_groups(&SLEEP.map(Vec::from)).unwrap();
    assert_eq!((shuffles.as_far, shuffles.of), (15_048, 184_756));
    near(shuffles.p(), 0.081_448_0, 5e-8);
}

/// Borenstein et al., *Introduction to Meta-Analysis* (2009), ch. 4: means 103 and 100, standard deviations 5.5
/// and 4.5, 50 each: d 0.5970, J 0.9923, g 0.5924.
#[test]
fn the_textbook_effect_size() {
    let sample = |mean: f64, sd: f64| gripline::treatments::Sample {
        n: 50,
        mean,
        sd: Some(sd),
    };
    let size = hedges_g(&sample(100.0, 4.5), &sample(103.0, 5.5)).unwrap();
    near(size.g, 0.5924, 1e-4);
    near(size.g / small_sample_factor(98.0), 0.5970, 5e-5);
    // Hedges 1981: J(18); then the sleep data with scipy 1.17.1 (nct, brentq for the ends).
    near(small_sample_factor(18.0), 0.957_646_43, 1e-8);
    let [first, second] = SLEEP.map(|group| describe(&group).unwrap());
    let size = hedges_g(&first, &second).unwrap();
    near(size.g, 0.796_935_24, 1e-7);
    near(size.interval.low, -0.091_407_73, 1e-6);
    near(size.interval.high, 1.665_171_79, 1e-6);
}

/// Cohen's tables (1988, table 2.4.1; 1992): two groups, two-sided 5 %, power 0.80: 393, 64 and 26 runs a
/// group for effects of 0.2, 0.5 and 0.8. The table's digits are from memory; the decimals are statsmodels 0.15's.
#[test]
fn runs_needed_are_those_of_the_tables() {
    for (effect, n) in [
        (0.2, 393.405_7),
        (0.5, 63.765_6),
        (0.8, 25.524_6),
        (1.0, 16.714_7),
    ] {
        near(runs_for(Design::Groups, effect, 0.80).unwrap(), n, 1e-3);
    }
    assert_eq!(whole_runs_for(Design::Groups, 0.5), Some(64));
    assert_eq!(whole_runs_for(Design::Groups, 0.8), Some(26));
    // statsmodels 0.15, TTestIndPower and TTestPower.
    near(power(Design::Groups, 1.0, 20.0), 0.868_953, 1e-6);
    near(power(Design::Groups, 0.5, 30.0), 0.477_897, 1e-6);
    near(runs_for(Design::Groups, 1.0, 0.90).unwrap(), 22.0211, 1e-3);
    near(runs_for(Design::Groups, 2.0, 0.80).unwrap(), 5.090_0, 1e-3);
    near(power(Design::Pairs, 1.0, 4.0), 0.288_752_4, 1e-6);
    near(runs_for(Design::Pairs, 1.0, 0.80).unwrap(), 9.937_85, 1e-3);
    // There and back.
    let effect = smallest_effect(Design::Groups, 4).unwrap();
    near(power(Design::Groups, effect, 4.0), 0.80, 1e-9);
    assert_eq!(whole_runs_for(Design::Groups, 0.0), None);
}

/// ISO 5725-2:1994, 7.4: `s_r` is the pooled spread, `s_L` what groups differ by beyond it. The standard's own
/// tables could not be had; NIST's `SiRstv` is worked by its formulas (numpy 2.4), and `s_r` is NIST's certified
/// residual standard deviation. ISO 5725-6:1994, 4.1.4, has r = 2.8 `s_r` for a spread that is well known; with 20
/// degrees of freedom the table of Student's t has 2.0860 in the place of 1.96.
#[test]
fn repeatability_of_resistivity() {
    let found = repeatability(&groups("SiRstv")).unwrap();
    certified("SiRstv s_r", found.sd, 0.104_076_068_334_656, 12.0);
    near(found.between_sd.unwrap().powi(2), 0.000_390_947, 5e-10);
    near(found.reproducibility_sd.unwrap(), 0.105_937_60, 5e-9);
    near(found.limit, 2.0860 * 2f64.sqrt() * 0.104_076_07, 1e-5);
    near(found.df, 20.0, 0.0);
}

/// Paule and Mandel's variance between runs: statsmodels 0.15, `combine_effects(method_re="iterated",
/// use_t=True)`; its weighted interval is Hartung and Knapp's.
#[test]
fn measuring_is_told_from_run_to_run() {
    let runs = [
        (0.31, 0.03),
        (0.42, 0.05),
        (0.27, 0.02),
        (0.55, 0.04),
        (0.36, 0.10),
    ];
    let spread = take_apart(&runs.map(|(value, standard_uncertainty)| Measured {
        value,
        standard_uncertainty,
    }))
    .unwrap();
    near(spread.run_to_run_sd.powi(2), 0.010_707_82, 1e-6);
    near(spread.weighed_mean, 0.379_847_1, 1e-6);
    near(spread.weighed_interval.low, 0.237_685, 1e-5);
    near(spread.weighed_interval.high, 0.522_009, 1e-5);
}

/// Analysis of covariance, one slope for three groups that took turns: statsmodels 0.15, OLS with a level for
/// each group.
#[test]
fn drift_is_told_from_treatments() {
    let values = [
        1.9, 1.2, 0.8, 1.85, 1.25, 0.7, 1.7, 1.1, 0.72, 1.66, 1.0, 0.61,
    ];
    let mut groups = vec![Vec::new(); 3];
    for (place, value) in values.into_iter().enumerate() {
        groups[place % 3].push((place as f64 + 1.0, value));
    }
    let found = drift(&groups).unwrap();
    near(found.per_run, -0.024_111_111, 1e-9);
    near(found.p, 0.000_282_044, 1e-9);
    near(found.interval.low, -0.033_190_76, 1e-8);
    near(found.interval.high, -0.015_031_46, 1e-8);
    near(found.df, 8.0, 0.0);
    near(found.over_all, 11.0 * -0.024_111_111, 1e-7);
}

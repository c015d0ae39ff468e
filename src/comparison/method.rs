//! How a comparison was worked out, and where each formula comes from: the foot of the page.

use super::terminal::order_words;
use crate::treatments::{Comparison, Design, MOST_COUNTED};

/// What holds for every comparison, before and after the words on shuffles.
const FIRST: [(&str, &str); 2] = [
    (
        "What counts as one",
        "the run. A clip of two hundred frames is one value; two hundred frames are not two hundred \
             runs, and the same clip twice (by its SHA-256) is one run",
    ),
    (
        "Intervals of means and differences",
        "Student's t and Welch's t, 95 %. They hold if runs of one group are spread roughly as a bell curve. \
             In 40 000 simulated evenings of four runs a group they raised a false alarm in 4.0 to 5.5 of 100 cases",
    ),
];
const THEN: [(&str, &str); 10] = [
    (
        "Several groups, several questions",
        "Welch's one-way test for all groups of two runs or more together; the p of each pair of groups that \
             can be tested is adjusted by Holm's method for the number of pairs, and that of all groups for the \
             number of questions. A difference is called clear where p stays below 0.05 after both, and both \
             groups have three runs or more",
    ),
    (
        "How straight the cars ran",
        "a mean tells which side, and nothing of a car that leaves the line to the left and to the right in \
             turns. So three questions are asked of a place or a turn with a side: to which side, how far off \
             the line whichever side (Welch's t of the sizes), and how much the runs scatter (the test of Brown \
             and Forsythe, 1974: Levene's about the medians, without the one distance of each group that is no news; \
             it supposes no bell curve, though the intervals of the standard deviations do)",
    ),
    (
        "Repeatability",
        "two further runs of one group differ by less than the limit r in 95 of 100 cases. ISO 5725-6 has r = 2.8 \
             standard deviations where these are well known; after few runs Student's t takes the place of 1.96 \
             in it, which makes it 4.5 after four runs",
    ),
    (
        "Run to run, and measuring",
        "of each run's own interval, its budget says how much is the clip's own (where the marks were seen); by \
             that a group's spread is taken apart into measuring and the car (Paule and Mandel, 1982)",
    ),
    (
        "What all runs share",
        "a floor mark in a wrong place or a wheel measured wrong is in every run's interval alike. Between groups \
             it cancels where it is surely the same error: a size of the same car, and floor marks and lens where the \
             marks were seen at the same places of the picture. What may be another error, and what of a common \
             one moves the groups unequally, is added to the difference's interval. All of it is in the thin ends \
             of a mean's interval",
    ),
    (
        "What else differs",
        "everything on the run sheets, the day, the frame rate, the view and the set-up are held against the \
             groups. Where two groups have no value in common, nobody can tell its effect from theirs",
    ),
    (
        "What each change did",
        "a step's mean less that of the step before, with the spread of this car's runs in one state. The p values \
             of all steps, cars and quantities are adjusted together (Holm)",
    ),
    (
        "Size beside the spread",
        "Hedges' g: the difference in standard deviations of single runs, corrected for few runs, with an \
             interval from the noncentral t",
    ),
    (
        "Drift",
        "one slope over the order of the runs with a level for each group (analysis of covariance)",
    ),
    (
        "How many runs",
        "power of the t test, two-sided 5 %, 80 of 100 cases (Cohen, 1988), from the pooled spread that was \
             seen; never fewer than three, which are the fewest that make a difference clear. In brackets: if the true spread lies at the ends of its own 95 % interval. Among several \
             groups or questions it takes some more",
    ),
];

/// The entries: a head and its text.
pub(super) fn method(of: &Comparison) -> Vec<(&'static str, String)> {
    let own = |(head, text): (&'static str, &str)| (head, text.to_owned());
    let mut out: Vec<(&'static str, String)> = FIRST.into_iter().map(own).collect();
    out.push((
        "Shuffles",
        format!(
            "the runs are dealt out to the groups again in every way there is, up to {MOST_COUNTED} ways (beyond, 99 999 \
             random ones with a fixed seed); counted are those that lie as far apart. This supposes no bell curve. Four \
             runs against four can be dealt in 70 ways, so the rarest result is once in 35"
        ),
    ));
    out.extend(THEN.into_iter().map(own));
    out.push(("Order of the runs", order_words(of)));
    if let Some(by) = of.question.pair_by {
        out.push((
            "Pairs",
            format!(
                "runs of the same {} are compared with each other: the paired t, and shuffles of the signs of the \
                 differences. Several runs of one kind in a pair are averaged",
                by.words()
            ),
        ));
    }
    if of
        .quantities
        .iter()
        .any(|q| q.plan.as_ref().is_some_and(|p| p.design == Design::Pairs))
    {
        out.push((
            "Spread of pairs",
            "that of the differences within pairs, which is what a plan in pairs rests on"
                .to_owned(),
        ));
    }
    out
}

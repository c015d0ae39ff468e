//! How much the runs of a group scatter against those of another, in words.

use super::names::{Scale, noun};
use super::phrases::chance;
use crate::treatments::{Comparison, Interval, OfQuantity, SpreadPair};

/// The standard deviations of two groups, from and to.
fn deviations(quantity: &OfQuantity, pair: &SpreadPair) -> Option<[(f64, Interval); 2]> {
    let of_group = |group: usize| {
        let found = quantity.groups[group]?;
        Some((found.sample.sd?, found.sd_interval?))
    };
    Some([of_group(pair.groups[0])?, of_group(pair.groups[1])?])
}

/// The same as text, with their intervals: "0.30 m (0.17 to 1.12)".
pub(super) fn spread_words(quantity: &OfQuantity, pair: &SpreadPair) -> Option<[String; 2]> {
    let scale = Scale::of(quantity);
    Some(deviations(quantity, pair)?.map(|(sd, interval)| {
        // Groups of very unequal spread are told in decimals of their own.
        let scale = scale.to_half(sd);
        let range = scale.range(interval.low, interval.high);
        format!("{} ({range})", scale.with_unit(sd))
    }))
}

/// A whole sentence on two groups' spreads, without its full stop.
pub(super) fn spread_sentence(
    of: &Comparison,
    quantity: &OfQuantity,
    pair: &SpreadPair,
) -> Option<String> {
    let (spreads, test) = (
        quantity.straightness.as_ref()?.spreads.as_ref()?,
        pair.test?,
    );
    let [from, to] = pair.groups.map(|group| of.groups[group].label.as_str());
    let [before, after] = spread_words(quantity, pair)?;
    let noun = noun(quantity.key);
    let p = chance(test.p);
    if spreads.is_clear(pair) {
        let deed = spread_deed(quantity, pair)?;
        return Some(format!(
            "{to} {deed}; standard deviation {after} against {before} of {from}; p {p}"
        ));
    }
    Some(format!(
        "no clear difference in how much the {noun} scatters: standard deviation {after} of {to}, {before} of \
         {from}; p {p}"
    ))
}

/// "narrowed the scatter of the place at the end of the view from 0.30 m to 0.03 m".
pub(super) fn spread_deed(quantity: &OfQuantity, pair: &SpreadPair) -> Option<String> {
    let [(before, _), (after, _)] = deviations(quantity, pair)?;
    let told = |sd: f64| Scale::of(quantity).to_half(sd).with_unit(sd);
    let verb = if after < before {
        "narrowed"
    } else {
        "widened"
    };
    Some(format!(
        "{verb} the scatter of the {} from {} to {}",
        noun(quantity.key),
        told(before),
        told(after)
    ))
}

/// The clear differences in spread against the first group.
pub(super) fn clear_spreads(quantity: &OfQuantity) -> Vec<&SpreadPair> {
    let spreads = (quantity.straightness.as_ref()).and_then(|found| found.spreads.as_ref());
    (spreads.iter())
        .flat_map(|spreads| spreads.pairs.iter().filter(|pair| spreads.is_clear(pair)))
        .filter(|pair| pair.groups[0] == 0)
        .collect()
}

//! Numbers of the report said once more in everyday words, and where the energy of the pull went.

use crate::findings::Key;
use crate::outputs::Measures;
use crate::outputs::shown::{decimals, show};
use crate::outputs::wording::side;
use crate::texts::{Texts, say};
use crate::uncertainty::{Quantity, Result95};

/// A quantity in other words, where these help; empty else.
pub(super) fn in_words(texts: &Texts, key: Key, quantity: &Quantity) -> String {
    let Quantity::Stated { value, low, high } = *quantity else {
        return String::new();
    };
    match key {
        Key::MaxSlip => wasted(texts, value, low, high),
        Key::CurvaturePerM => circle(texts, value, low, high),
        _ if key.as_str().ends_with("_rad") => {
            let digits = decimals((high - low) / 2.0);
            let [value, low, high] = [value, low, high].map(|angle| texts.number(angle, digits));
            let interval = say!(texts, "interval", low = low, high = high);
            format!("{value} rad ({interval})")
        }
        _ => String::new(),
    }
}

/// What stands under the page's heading: the slip, and the curve where there surely is one.
pub(super) fn told(texts: &Texts, measures: &Measures<'_>) -> Vec<String> {
    let result = measures.result;
    let slip = match result.get(Key::MaxSlip) {
        Quantity::Stated { value, low, high } if low > 0.0 => Some(say!(
            texts,
            "plain-slip",
            wasted = wasted(texts, value, low, high)
        )),
        _ => None,
    };
    let curve = match result.get(Key::CurvaturePerM) {
        Quantity::Stated { value, low, high } if low > 0.0 || high < 0.0 => {
            let circle = circle(texts, value, low, high);
            Some(say!(texts, "plain-curve", circle = circle))
        }
        _ => None,
    };
    slip.into_iter().chain(curve).collect()
}

/// A slip ratio as lengths that the rim turned for nothing: s = 1 - v / (omega R).
fn wasted(texts: &Texts, value: f64, low: f64, high: f64) -> String {
    let mm = |ratio: f64| texts.number(100.0 * ratio.clamp(0.0, 1.0), 0);
    if low <= 0.0 {
        return say!(texts, "plain-wasted-most", high = mm(high));
    }
    say!(
        texts,
        "plain-wasted",
        value = mm(value),
        low = mm(low),
        high = mm(high),
    )
}

/// A curvature as a circle.
fn circle(texts: &Texts, value: f64, low: f64, high: f64) -> String {
    let (least, most) = (low.abs().min(high.abs()), low.abs().max(high.abs()));
    if low <= 0.0 && high >= 0.0 {
        return if most > 0.0 {
            // A bound is rounded down, to two digits.
            let ten = 10f64.powf(most.recip().log10().floor() - 1.0);
            let bound = ten * (most.recip() / ten + 1e-9).floor();
            say!(texts, "plain-straight", metres = radius(texts, bound))
        } else {
            String::new()
        };
    }
    say!(
        texts,
        "plain-circle",
        radius = radius(texts, 1.0 / value.abs()),
        low = radius(texts, 1.0 / most),
        high = radius(texts, 1.0 / least),
        side = side(value > 0.0),
    )
}

/// A radius, to be pictured.
fn radius(texts: &Texts, metres: f64) -> String {
    texts.number(metres, usize::from(metres < 20.0))
}

/// A part of the energy bar.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct EnergyPart {
    /// Class of its filling.
    pub(super) class: &'static str,
    /// What it is.
    pub(super) name: String,
    /// Where it begins and how wide it is, in hundredths of the bar.
    pub(super) from: f64,
    pub(super) wide: f64,
    /// Its share with the interval.
    pub(super) share: String,
    /// The energy with its interval.
    pub(super) energy: String,
}

/// Where the energy of the pull went.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct EnergyBar {
    pub(super) headline: String,
    pub(super) parts: Vec<EnergyPart>,
}

const PARTS: [(Key, &str, &str); 3] = [
    (Key::EnergyLostInSlipJ, "rubbed", "energy-rubbed"),
    (Key::EnergyMovingCarJ, "moving", "energy-moving"),
    (Key::EnergyLostRollingJ, "rolling", "energy-rolling"),
];

/// The bar; `None` where one of its parts is not observable, or nothing was given.
pub(super) fn energy(texts: &Texts, result: &Result95) -> Option<EnergyBar> {
    let parts = PARTS.map(|(key, ..)| result.get(key));
    let mut ends = [[0.0; 3]; 3];
    for (end, part) in ends.iter_mut().zip(&parts) {
        let Quantity::Stated { value, low, high } = *part else {
            return None;
        };
        // Noise can make a part that is nothing a little less.
        *end = [value, low, high].map(|joules| joules.max(0.0));
    }
    let sum: f64 = ends.iter().map(|end| end[0]).sum();
    if sum <= 0.0 {
        return None;
    }
    let mut from = 0.0;
    let drawn = PARTS.iter().zip(&parts).enumerate();
    let drawn = drawn.map(|(place, (&(key, class, name), part))| {
        let wide = 100.0 * ends[place][0] / sum;
        let begin = from;
        from += wide;
        let energy = show(texts, key, part).map_or_else(|_| String::new(), |shown| shown.both());
        EnergyPart {
            class,
            name: texts.text(name),
            from: begin,
            wide,
            share: share(texts, &ends, place),
            energy,
        }
    });
    let parts: Vec<EnergyPart> = drawn.collect();
    // What rubbing took is the point where there surely was some; else what reached the car.
    let first = usize::from(ends[0][1] <= 0.0);
    let what = ["energy-headline-rubbed", "energy-headline-moving"];
    Some(EnergyBar {
        headline: texts.with(what[first], "share", &parts.get(first)?.share),
        parts,
    })
}

/// One part of all, in hundredths, with its interval: its ends are reached with this part at one end of its own
/// interval and the others at the opposite ends, so it is no narrower than 95 %.
fn share(texts: &Texts, ends: &[[f64; 3]; 3], place: usize) -> String {
    let of = |own: usize, others: usize| {
        let mine = ends[place][own];
        let rest: f64 = (0..3)
            .filter(|n| *n != place)
            .map(|n| ends[n][others])
            .sum();
        if mine + rest > 0.0 {
            100.0 * mine / (mine + rest)
        } else {
            0.0
        }
    };
    let percent = |share: f64| texts.fixed(share, 0);
    say!(
        texts,
        "energy-share",
        value = percent(of(0, 0)),
        low = percent(of(1, 2)),
        high = percent(of(2, 1)),
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeMap;

    fn said(key: Key, value: f64, half: f64) -> String {
        in_words(
            Texts::english(),
            key,
            &Quantity::stated(value, value - half, value + half),
        )
    }

    #[test]
    fn slip_curve_and_angles_are_said_in_words() {
        assert_eq!(
            said(Key::MaxSlip, 0.86, 0.02),
            "86 of every 100 mm (84 to 88) that the rim turned were wasted"
        );
        assert_eq!(
            said(Key::MaxSlip, 0.01, 0.03),
            "at most 4 of every 100 mm that the rim turned were wasted"
        );
        // A circle's radius is one over its curvature.
        assert_eq!(
            said(Key::CurvaturePerM, -0.125, 0.025),
            "a circle of radius 8.0 m (6.7 to 10.0) to the right"
        );
        assert_eq!(
            said(Key::CurvaturePerM, 0.001, 0.009),
            "straight, or a circle of radius 100 m or more"
        );
        assert_eq!(
            said(Key::AimErrorRad, 0.017_453, 0.001),
            "0.0175 rad (0.0165 to 0.0185)"
        );
        assert_eq!(said(Key::DistanceM, 2.0, 0.1), "");
    }

    fn result(of: [(f64, f64); 3]) -> Result95 {
        let values: BTreeMap<Key, Quantity> = PARTS
            .into_iter()
            .zip(of)
            .map(|((key, ..), (value, half))| {
                (key, Quantity::stated(value, value - half, value + half))
            })
            .collect();
        Result95 {
            values,
            effects: BTreeMap::new(),
            budgets: BTreeMap::new(),
            models: crate::uncertainty::ModelWeights::default(),
            frame_spread: Vec::new(),
            draws: 0,
            scale_rel_sd: 0.0,
        }
    }

    #[test]
    fn the_parts_of_the_energy_fill_the_bar() {
        let bar = energy(
            Texts::english(),
            &result([(0.8, 0.04), (0.1, 0.01), (0.1, 0.01)]),
        )
        .unwrap();
        // 0.76 of 0.76 + 0.22, and 0.84 of 0.84 + 0.18.
        assert_eq!(
            bar.headline,
            "80 % (78 to 82 %) of the pull’s energy rubbed away under the wheels"
        );
        let wide: f64 = bar.parts.iter().map(|part| part.wide).sum();
        assert!((wide - 100.0).abs() < 1e-9);
        assert_eq!(bar.parts[1].from, bar.parts[0].wide);
        let rolls = energy(
            Texts::english(),
            &result([(-0.001, 0.01), (0.3, 0.01), (0.1, 0.01)]),
        )
        .unwrap();
        assert!(rolls.headline.starts_with("75 % ("), "{}", rolls.headline);
        assert!(rolls.headline.ends_with("car’s motion"));
        assert!(rolls.parts[0].wide == 0.0);
    }

    #[test]
    fn energy_that_is_not_observable_has_no_bar() {
        let mut result = result([(0.8, 0.04), (0.1, 0.01), (0.1, 0.01)]);
        result.values.remove(&Key::EnergyMovingCarJ);
        assert_eq!(energy(Texts::english(), &result), None);
    }
}

//! Whether a clip is good enough to be measured, and the one thing that would make it better.
//!
//! A pure stage: from what was seen and analysed to a list of judged items. It measures nothing anew; each
//! item takes its number from the stages that a measurement runs.

mod expected;
mod file;
mod marks;
mod run;
mod sizes;

use crate::analysis::{Analysis, AnalysisReason, ClockDoubt};
use crate::camera::View;
use crate::clip::Damage;
use crate::noise::median;
use crate::priors::Priors;
use crate::sighting::Sightings;
use crate::track::{MarksWanted, Place, Track};
use crate::uncertainty::Result95;
use serde::Serialize;

/// How good something is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Grade {
    /// Nothing to change.
    Good,
    /// It will do; a change would narrow the intervals.
    Usable,
    /// It has to change.
    NotUsable,
    /// This clip does not show it.
    NotSeen,
}

impl Grade {
    /// In a user's words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Good => "good",
            Self::Usable => "usable",
            Self::NotUsable => "not usable",
            Self::NotSeen => "not seen",
        }
    }
}

/// A number with the unit at the end of its name.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Number {
    /// What it is, with its unit.
    pub name: &'static str,
    /// The number.
    pub value: f64,
}

/// One thing that was judged.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Item {
    /// What it is, for machines.
    pub name: &'static str,
    /// What it is, for people.
    #[serde(skip)]
    pub title: &'static str,
    /// How good it is.
    pub grade: Grade,
    /// Whether nothing can be measured where it is not usable.
    pub essential: bool,
    /// What was found.
    pub says: String,
    /// The one thing to change, where it is not good.
    pub change: Option<String>,
    /// The numbers behind it.
    pub numbers: Vec<Number>,
    /// Whether nothing else of its grade would help as much.
    #[serde(skip)]
    pub helps_most: bool,
}

impl Item {
    fn new(name: &'static str, title: &'static str, grade: Grade, says: String) -> Self {
        Self {
            name,
            title,
            grade,
            essential: false,
            says,
            change: None,
            numbers: Vec::new(),
            helps_most: false,
        }
    }

    fn helps_most(self) -> Self {
        Self {
            helps_most: true,
            ..self
        }
    }

    fn essential(self) -> Self {
        Self {
            essential: true,
            ..self
        }
    }

    /// With what to change; nothing is said where it is good already.
    fn change(self, what: &str) -> Self {
        let change =
            matches!(self.grade, Grade::Usable | Grade::NotUsable).then(|| what.to_owned());
        Self { change, ..self }
    }

    fn number(mut self, name: &'static str, value: f64) -> Self {
        self.numbers.push(Number { name, value });
        self
    }
}

/// What the clip is good for as a whole.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Outcome {
    /// A run that can be measured.
    Measurable,
    /// The car only stands there; what can be judged without a run is good enough.
    TestShot,
    /// Something has to change first.
    NotMeasurable,
}

/// The judgement of a clip.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Checked {
    /// As a whole.
    pub outcome: Outcome,
    /// One by one.
    pub items: Vec<Item>,
}

impl Checked {
    /// The item to mend first: the worst, essential ones before the others, and
    /// what helps most before its like.
    pub fn first_to_change(&self) -> Option<&Item> {
        let weight = |item: &Item| match item.grade {
            Grade::NotUsable => 2 + 2 * u8::from(item.essential),
            Grade::Usable => 1,
            Grade::Good | Grade::NotSeen => 0,
        };
        let weight = |item: &Item| (weight(item), item.helps_most);
        let mut best: Option<&Item> = None;
        for item in self.items.iter().filter(|item| item.change.is_some()) {
            if best.is_none_or(|found| weight(item) > weight(found)) {
                best = Some(item);
            }
        }
        best
    }
}

/// What a clip gave, from the stages that a measurement runs.
#[derive(Debug, Clone, Copy)]
pub struct Evidence<'a> {
    /// Every patch that was seen, with the file's own times.
    pub seen: &'a Sightings,
    /// The marks that were looked for.
    pub wanted: &'a MarksWanted,
    /// What was wrong with the file.
    pub damage: &'a [Damage],
    /// Why the clock cannot be believed.
    pub clock_doubt: Option<&'a ClockDoubt>,
    /// How often the file's time goes by for one second of the run; 1 but for slow motion.
    pub slowed: f64,
    /// The rest; why the sticker could not be followed, with what to do, where it could not.
    pub run: Result<RunEvidence<'a>, (&'a str, &'a str)>,
}

/// What following the marks gave.
#[derive(Debug, Clone, Copy)]
pub struct RunEvidence<'a> {
    /// The marks in pixels.
    pub track: &'a Track,
    /// What is known of the run.
    pub priors: &'a Priors,
    /// How the floor is seen, or why that cannot be told.
    pub view: Result<&'a View, AnalysisReason>,
    /// The analysis, or why there is none.
    pub analysis: Result<&'a Analysis, AnalysisReason>,
    /// Intervals of the run, or of an ordinary one that stands in where nothing moves.
    pub result: Option<&'a Result95>,
}

/// Judges a clip.
pub fn check(evidence: &Evidence<'_>) -> Checked {
    let mut items = file::items(evidence);
    let moved = match &evidence.run {
        Err((why, hint)) => {
            let item = Item::new(
                "sticker",
                "body sticker",
                Grade::NotUsable,
                (*why).to_owned(),
            );
            items.push(item.essential().change(hint));
            false
        }
        Ok(run) => {
            let moved = car_moved(run.track);
            items.push(run::wheel_rate(evidence, run, moved));
            items.extend(marks::items(evidence, run, moved));
            items.extend(run::items(evidence, run, moved));
            let expected = expected::items(run, moved);
            items.push(sizes::item(run, &expected));
            items.extend(expected);
            moved
        }
    };
    let stopped = items
        .iter()
        .any(|item| item.essential && item.grade == Grade::NotUsable);
    let outcome = match (stopped, moved) {
        (true, _) => Outcome::NotMeasurable,
        (false, true) => Outcome::Measurable,
        (false, false) => Outcome::TestShot,
    };
    Checked { outcome, items }
}

/// A sticker that went further than this many of its own diameters was on a car that was let go.
const MOVED_DIAMETERS: f64 = 2.0;

/// Whether the sticker went anywhere. A camera that is shaken moves everything; then this says yes too, and
/// the run is judged as one.
pub fn car_moved(track: &Track) -> bool {
    let observations: Vec<&Place> = track.sticker.iter().flatten().collect();
    let quarter = (observations.len() / 4).max(1);
    let middle = |part: &[&Place]| {
        let of = |get: &dyn Fn(&Place) -> f64| median(part.iter().map(|p| get(p)));
        Some((of(&|p| p.u_px)?, of(&|p| p.v_px)?, of(&|p| p.area_px2)?))
    };
    let (early, late) = (
        observations.get(..quarter).and_then(middle),
        observations
            .get(observations.len().saturating_sub(quarter)..)
            .and_then(middle),
    );
    let (Some(early), Some(late)) = (early, late) else {
        return false;
    };
    let diameter_px = (4.0 * early.2.max(late.2) / std::f64::consts::PI).sqrt();
    (late.0 - early.0).hypot(late.1 - early.1) > MOVED_DIAMETERS * diameter_px
}

/// `good` from the first bound on, `usable` from the second.
fn at_least(value: f64, good: f64, usable: f64) -> Grade {
    if value >= good {
        Grade::Good
    } else if value >= usable {
        Grade::Usable
    } else {
        Grade::NotUsable
    }
}

/// `good` up to the first bound, `usable` up to the second.
fn at_most(value: f64, good: f64, usable: f64) -> Grade {
    at_least(-value, -good, -usable)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn item(name: &'static str, grade: Grade, essential: bool) -> Item {
        let item = Item::new(name, name, grade, String::new()).change("do it");
        if essential { item.essential() } else { item }
    }

    #[test]
    fn what_stops_the_measuring_is_mended_first() {
        let checked = Checked {
            outcome: Outcome::NotMeasurable,
            items: vec![
                item("fine", Grade::Good, true),
                item("so-so", Grade::Usable, false),
                item("bad", Grade::NotUsable, false),
                item("worst", Grade::NotUsable, true),
            ],
        };
        assert_eq!(checked.first_to_change().map(|i| i.name), Some("worst"));
        assert_eq!(checked.items[0].change, None);
    }

    #[test]
    fn what_helps_most_goes_before_its_like_only() {
        let first = |items: Vec<Item>| {
            let outcome = Outcome::Measurable;
            let checked = Checked { outcome, items };
            checked.first_to_change().map(|i| i.name)
        };
        let so_so = || item("so-so", Grade::Usable, false);
        let sizes = item("sizes", Grade::Usable, false).helps_most();
        assert_eq!(first(vec![so_so(), sizes.clone()]), Some("sizes"));
        let bad = item("bad", Grade::NotUsable, false);
        assert_eq!(first(vec![so_so(), sizes, bad]), Some("bad"));
    }

    #[test]
    fn bounds_belong_to_the_better_side() {
        assert_eq!(at_least(8.0, 16.0, 8.0), Grade::Usable);
        assert_eq!(at_least(7.9, 16.0, 8.0), Grade::NotUsable);
        assert_eq!(at_most(0.1, 0.1, 0.3), Grade::Good);
        assert_eq!(at_most(0.31, 0.1, 0.3), Grade::NotUsable);
        assert_eq!(at_least(f64::NAN, 1.0, 0.5), Grade::NotUsable);
    }
}

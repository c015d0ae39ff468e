//! What the rim turned and how far the car went, as two rulers side by side: the gap is what wheelspin wasted.

use super::Shown;
use crate::findings::Key;
use crate::outputs::Story;
use crate::outputs::shown::{show, show_length};
use crate::outputs::values::FrameValues;
use crate::outputs::wording::Said as _;
use crate::texts::{Language, Texts, say};
use crate::uncertainty::Quantity;
use std::fmt::Write as _;

/// The two rulers, in metres.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Rulers {
    /// Their words' language.
    language: Language,
    /// How far the car went: value, low and high.
    pub(crate) car: [f64; 3],
    /// What was wasted in wheelspin, or why that cannot be told.
    pub(crate) gap: Result<[f64; 3], String>,
    /// The two lengths in words.
    pub(crate) words: [String; 3],
    /// For each picture of the car how far it and the rim had come, m; the rim only where it was seen.
    pub(crate) moments: Vec<(f64, Option<f64>)>,
}

impl Rulers {
    /// The rulers of a run; `None` where no length is known.
    pub(super) fn of(story: &Story<'_>, values: &[FrameValues], shown: &[Shown]) -> Option<Self> {
        let texts = story.texts();
        let measures = story.measured.as_ref().ok()?;
        let stated = |key: Key| match measures.result.get(key) {
            Quantity::Stated { value, low, high } => Ok([value, low, high]),
            Quantity::NotObservable { reason } => Err(reason.said(texts)),
        };
        let car = stated(Key::DistanceM).ok()?;
        let gap = stated(Key::SpunAwayM);
        let told = |key: Key| {
            show(texts, key, &measures.result.get(key))
                .map_or_else(|_| String::new(), |said| said.both())
        };
        let first = shown.first()?.moment.frame;
        let at = |frame: usize| values.get(frame).copied().unwrap_or_default();
        let radius = measures
            .findings
            .rolling
            .as_ref()
            .ok()
            .map(|r| r.radius_m.value);
        let start = (
            at(first).travelled_m,
            at(first).wheel_angle.map(|band| band.value),
        );
        let moments = shown.iter().filter_map(|shown| {
            let values = at(shown.moment.frame);
            let went = values.travelled_m? - start.0?;
            let turned = || Some((values.wheel_angle?.value - start.1?) * radius?);
            Some((went, turned().filter(|_| gap.is_ok())))
        });
        // The two errors may go together or not: at the worst they add up.
        let rim = gap.as_ref().map_or_else(
            |_| String::new(),
            |gap| {
                let [value, low, high] = [0, 1, 2].map(|end| car[end] + gap[end].max(0.0));
                show_length(texts, &Quantity::stated(value, low, high))
                    .map_or_else(|_| String::new(), |said| said.both())
            },
        );
        Some(Self {
            language: story.language,
            words: [told(Key::DistanceM), rim, told(Key::SpunAwayM)],
            moments: moments.collect(),
            car,
            gap,
        })
    }

    /// The rim's way, m: the car's and what was wasted.
    pub(crate) fn rim(&self) -> Option<f64> {
        self.gap
            .as_ref()
            .ok()
            .map(|gap| self.car[0] + gap[0].max(0.0))
    }

    /// Whether there surely is a gap.
    pub(crate) fn spun(&self) -> bool {
        self.gap.as_ref().is_ok_and(|gap| gap[1] > 0.0)
    }

    /// The rulers in one sentence.
    pub(crate) fn said(&self) -> String {
        let texts = Texts::of(self.language);
        let [car, rim, gap] = self.words.each_ref().map(String::as_str);
        match &self.gap {
            Err(why) => say!(texts, "rulers-said-unseen", car = car, why = why.as_str()),
            Ok(_) if self.spun() => {
                say!(texts, "rulers-said-spun", car = car, rim = rim, gap = gap)
            }
            Ok([_, _, most]) => {
                let mm = texts.fixed(1000.0 * most.max(0.0), 0);
                say!(texts, "rulers-said", car = car, mm = mm)
            }
        }
    }

    /// The rulers as SVG, `width` units wide, and how high they are. Letters have the size of `letter` units.
    pub(crate) fn svg(&self, width: f64, letter: f64) -> (String, f64) {
        let texts = Texts::of(self.language);
        let mut svg = String::new();
        let pen = &mut Pen {
            svg: &mut svg,
            letter,
        };
        let rim = self.rim();
        let full = rim.unwrap_or(self.car[0]).max(1e-3);
        let scale = (width - 0.5 * letter) / (full * 1.02);
        let x = |metres: f64| metres.max(0.0) * scale;
        let deep = 1.5 * letter;
        let upper = 1.35 * letter;
        let lower = if rim.is_some() {
            upper + deep + 1.5 * letter
        } else {
            0.3 * letter
        };
        if let Some(rim) = rim {
            pen.words(
                0.0,
                letter,
                &texts.with("rulers-rim", "way", &self.words[1]),
                true,
            );
            pen.ruler(x(rim), upper, deep, RIM, full, scale);
        }
        let below = lower + deep;
        pen.ruler(x(self.car[0]), lower, deep, CAR, full, scale);
        pen.words(
            0.0,
            below + 1.15 * letter,
            &texts.with("rulers-car", "way", &self.words[0]),
            true,
        );
        if let (Some(rim), true) = (rim, self.spun()) {
            pen.gap(x(self.car[0]), x(rim), lower, deep);
            let words = texts.with("rulers-gap", "way", &self.words[2]);
            pen.words_to(x(rim), below + 2.5 * letter, &words);
        }
        let mut taken = f64::NEG_INFINITY;
        for (number, (went, turned)) in self.moments.iter().enumerate() {
            let (down, up) = (x(*went), turned.map(|turned| x(turned.min(full))));
            if let Some(up) = up {
                pen.join(up, upper + deep, down, lower);
            }
            if down - taken > 0.9 * letter {
                let ends = down > x(self.car[0]) - 0.8 * letter && number > 0;
                pen.number(down, lower, deep, number + 1, ends);
                taken = down;
            }
        }
        let lines = if self.spun() { 2.85 } else { 1.5 };
        (svg, below + lines * letter)
    }
}

/// Colours of the rulers, which are those of the marks on the page.
const RIM: &str = "#28792C";
const CAR: &str = "#A8357F";
const GAP: &str = "#E69F00";
const INK: &str = "#010101";

struct Pen<'a> {
    svg: &'a mut String,
    letter: f64,
}

impl Pen<'_> {
    fn add(&mut self, element: std::fmt::Arguments<'_>) {
        // Writing to a string does not fail.
        self.svg.write_fmt(element).unwrap_or_default();
        self.svg.push('\n');
    }

    /// A ruler as long as a way, with a tick every tenth of a metre and a long one every half.
    fn ruler(&mut self, long: f64, top: f64, deep: f64, colour: &str, full: f64, scale: f64) {
        let line = self.letter / 14.0;
        self.add(format_args!(
            r#"<rect x="0" y="{top:.1}" width="{long:.1}" height="{deep:.1}" fill="{colour}" fill-opacity="0.16" stroke="{colour}" stroke-width="{line:.1}"/>"#
        ));
        let tick_m = if full > 6.0 { 0.5 } else { 0.1 };
        let ticks = (long / scale / tick_m + 1e-6) as usize;
        for number in 1..=ticks {
            let x = number as f64 * tick_m * scale;
            let (share, line) = if number % 5 == 0 {
                (0.5, 1.5 * line)
            } else {
                (0.22, line)
            };
            self.add(format_args!(
                r#"<path d="M{x:.1} {top:.1}v{:.1}" stroke="{colour}" stroke-width="{line:.1}" fill="none"/>"#,
                share * deep
            ));
        }
    }

    fn words(&mut self, x: f64, y: f64, words: &str, bold: bool) {
        let weight = if bold { 700 } else { 400 };
        let size = self.letter;
        self.add(format_args!(
            r#"<text x="{x:.1}" y="{y:.1}" font-size="{size:.1}" font-weight="{weight}" fill="{INK}">{words}</text>"#
        ));
    }

    fn words_to(&mut self, x: f64, y: f64, words: &str) {
        let size = self.letter;
        self.add(format_args!(
            r#"<text x="{x:.1}" y="{y:.1}" font-size="{size:.1}" font-weight="700" text-anchor="end" fill="{INK}">{words}</text>"#
        ));
    }

    /// The gap, hatched so that it is known without its colour.
    fn gap(&mut self, from: f64, to: f64, top: f64, deep: f64) {
        let line = self.letter / 14.0;
        let long = to - from;
        self.add(format_args!(
            r#"<rect x="{from:.1}" y="{top:.1}" width="{long:.1}" height="{deep:.1}" fill="{GAP}" fill-opacity="0.3" stroke="{INK}" stroke-width="{line:.1}" stroke-dasharray="{:.1} {:.1}"/>"#,
            6.0 * line,
            4.0 * line
        ));
        let mut x = from + deep;
        while x < to {
            let left = (x - deep).max(from);
            self.add(format_args!(
                r#"<path d="M{left:.1} {:.1}L{x:.1} {top:.1}" stroke="{INK}" stroke-width="{:.1}" fill="none"/>"#,
                top + (x - left),
                0.7 * line
            ));
            x += 0.6 * deep;
        }
    }

    /// From the rim's place to the car's at one moment.
    fn join(&mut self, up: f64, top: f64, down: f64, bottom: f64) {
        let line = self.letter / 14.0;
        self.add(format_args!(
            r##"<path d="M{up:.1} {top:.1}L{down:.1} {bottom:.1}" stroke="#5C6670" stroke-width="{line:.1}" fill="none"/>"##
        ));
    }

    /// The number of a picture right of its place, or left of it where the ruler ends.
    fn number(&mut self, x: f64, top: f64, deep: f64, number: usize, ends: bool) {
        let size = 0.72 * self.letter;
        let y = top + deep - 0.3 * self.letter;
        let off = if ends { -0.12 } else { 0.12 } * self.letter;
        let anchor = if ends { "end" } else { "start" };
        self.add(format_args!(
            r#"<text x="{:.1}" y="{y:.1}" font-size="{size:.1}" font-weight="700" text-anchor="{anchor}" fill="{INK}">{number}</text>"#,
            x + off
        ));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rulers(gap: Result<[f64; 3], String>) -> Rulers {
        Rulers {
            language: Language::English,
            car: [1.2, 1.19, 1.21],
            gap,
            words: [
                "1.20 m (1.19 to 1.21)".into(),
                "3.20 m".into(),
                "2.00 m (1.98 to 2.02)".into(),
            ],
            moments: vec![(0.0, Some(0.0)), (0.5, Some(2.0)), (1.2, Some(3.2))],
        }
    }

    /// Width of the rectangle drawn in a colour.
    fn wide(svg: &str, colour: &str) -> f64 {
        let rectangle = svg
            .lines()
            .find(|line| line.starts_with("<rect") && line.contains(&format!("fill=\"{colour}\"")));
        let text = rectangle.unwrap().split("width=\"").nth(1).unwrap();
        text.split('"').next().unwrap().parse().unwrap()
    }

    #[test]
    fn the_gap_is_as_long_as_what_was_wasted() {
        let (svg, _) = rulers(Ok([2.0, 1.98, 2.02])).svg(1000.0, 40.0);
        let (rim, car, gap) = (wide(&svg, RIM), wide(&svg, CAR), wide(&svg, GAP));
        assert!((rim - car - gap).abs() < 0.3, "{rim} {car} {gap}");
        assert!((gap / car - 2.0 / 1.2).abs() < 2e-3, "{gap} {car}");
    }

    #[test]
    fn without_wheelspin_there_is_no_gap() {
        let rulers = rulers(Ok([0.001, -0.004, 0.006]));
        let (svg, _) = rulers.svg(1000.0, 40.0);
        assert!(!svg.contains(GAP));
        assert!(rulers.said().contains("at most 6 mm"), "{}", rulers.said());
    }

    #[test]
    fn a_wheel_that_was_not_seen_has_no_ruler() {
        let rulers = rulers(Err("the wheel mark was not seen".into()));
        let (svg, _) = rulers.svg(1000.0, 40.0);
        assert!(!svg.contains(RIM) && svg.contains(CAR));
        assert!(
            rulers
                .said()
                .contains("not observable: the wheel mark was not seen")
        );
    }
}

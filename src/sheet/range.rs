//! What numbers a key may have, and which wrong unit an impossible one looks like.

use crate::texts::Note;

/// What a number of the sheet measures; decides its unit in the file and in memory.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Quantity {
    /// Millimetres in the file, metres in memory.
    Length,
    /// Grams in the file, kilograms in memory.
    Mass,
    /// Newtons.
    Force,
    /// Milliseconds in the file, seconds in memory.
    ShortTime,
    /// Degrees in the file, radians in memory.
    Angle,
    /// A fraction from 0 to 1.
    Share,
    /// Frames per second.
    FrameRate,
    /// Pixels.
    Pixels,
    /// Seconds in the file and in memory.
    Time,
    /// A number without unit.
    Plain,
}

impl Quantity {
    /// Unit in the file, after a number.
    const fn unit(self) -> &'static str {
        match self {
            Self::Length => " millimetres",
            Self::Mass => " grams",
            Self::Force => " newtons",
            Self::ShortTime => " milliseconds",
            Self::Angle => " degrees",
            Self::FrameRate => " frames per second",
            Self::Pixels => " pixels",
            Self::Time => " seconds",
            Self::Share | Self::Plain => "",
        }
    }

    /// The text of the unit.
    const fn unit_text(self) -> &'static str {
        match self {
            Self::Length => "size-unit-length",
            Self::Mass => "size-unit-mass",
            Self::Force => "size-unit-force",
            Self::ShortTime => "size-unit-short-time",
            Self::Angle => "size-unit-angle",
            Self::FrameRate => "size-unit-frame-rate",
            Self::Pixels => "size-unit-pixels",
            Self::Time => "size-unit-time",
            Self::Share | Self::Plain => "size-unit-none",
        }
    }

    /// Unit in the file as people write it behind a number, where names of keys are told without it.
    pub(super) const fn symbol(self) -> &'static str {
        match self {
            Self::Length => " mm",
            Self::Mass => " g",
            Self::Force => " N",
            Self::ShortTime => " ms",
            Self::Angle => "°",
            _ => "",
        }
    }

    /// The file's rule for this quantity.
    pub(super) const fn rule(self) -> &'static str {
        match self {
            Self::Length => "lengths here are millimetres",
            Self::Mass => "masses here are grams",
            Self::Force => "forces here are newtons",
            Self::ShortTime => "times here are milliseconds",
            Self::Share => "shares here are fractions from 0 to 1",
            Self::Angle => "angles here are degrees",
            Self::FrameRate => "rates here are frames per second",
            Self::Pixels => "places in the picture are pixels",
            Self::Time => "times in the clip are seconds",
            Self::Plain => "the key is written",
        }
    }

    /// Units that are written by mistake, with how many of the file's unit each one is.
    const fn mistaken_units(self) -> &'static [(&'static str, f64)] {
        match self {
            Self::Length => &[("metres", 1000.0), ("centimetres", 10.0)],
            Self::Mass => &[("kilograms", 1000.0)],
            Self::ShortTime => &[("seconds", 1000.0), ("microseconds", 0.001)],
            Self::Share => &[("per cent", 0.01)],
            _ => &[],
        }
    }

    /// `value` in the file's unit, converted to memory's.
    pub(super) fn to_si(self, value: f64) -> f64 {
        match self {
            // Division, not a product with 0.001: 110 / 1000 is the double nearest to 0.11.
            Self::Length | Self::Mass | Self::ShortTime => value / 1000.0,
            Self::Angle => value.to_radians(),
            Self::Share
            | Self::Force
            | Self::FrameRate
            | Self::Pixels
            | Self::Time
            | Self::Plain => value,
        }
    }
}

/// The numbers that one key may have, in the file's unit.
#[derive(Debug, Clone, Copy)]
pub(super) struct Range {
    /// What it measures.
    pub(super) quantity: Quantity,
    least: f64,
    most: f64,
    /// Smallest magnitude other than zero.
    tiny: f64,
    zero: bool,
    /// Magnitudes that such cars usually have; zero is always usual where it is allowed.
    usual: Option<(f64, f64)>,
}

/// Slips of the decimal point, and of a unit, that are looked for in an unusual number.
const SLIPS: [f64; 4] = [10.0, 0.1, 100.0, 0.01];

impl Range {
    /// A size: greater than zero, from `least` to `most`.
    pub(super) const fn size(quantity: Quantity, least: f64, most: f64) -> Self {
        Self {
            quantity,
            least: 0.0,
            most,
            tiny: least,
            zero: false,
            usual: None,
        }
    }

    /// A place: either sign or zero, at most `most` from zero, and `tiny` or more if not zero.
    pub(super) const fn place(quantity: Quantity, tiny: f64, most: f64) -> Self {
        Self {
            quantity,
            least: -most,
            most,
            tiny,
            zero: true,
            usual: None,
        }
    }

    /// Zero, or from `tiny` to `most`.
    pub(super) const fn from_zero(quantity: Quantity, tiny: f64, most: f64) -> Self {
        Self {
            quantity,
            least: 0.0,
            most,
            tiny,
            zero: true,
            usual: None,
        }
    }

    /// From `least`, which is not positive, to `most`.
    pub(super) const fn between(quantity: Quantity, least: f64, most: f64) -> Self {
        Self {
            quantity,
            least,
            most,
            tiny: 0.0,
            zero: true,
            usual: None,
        }
    }

    /// The same range, in which magnitudes from `low` to `high` are usual.
    pub(super) const fn usually(self, low: f64, high: f64) -> Self {
        Self {
            usual: Some((low, high)),
            ..self
        }
    }

    /// What to think of `value`, in the file's unit, that is allowed but unusual; `None` where it is usual.
    pub(super) fn doubt(&self, value: f64) -> Option<Note> {
        if self.is_usual(value) || !self.holds(value) {
            return None;
        }
        let (low, high) = self.usual?;
        let instead = self.slipped(value);
        let instead = instead.map_or_else(|| "none".to_owned(), |number| number.to_string());
        let usual = if low > 0.0 { "between" } else { "at-most" };
        Some(
            Note::new("doubt-size")
                .words("usual", usual)
                .exact("low", low)
                .exact("high", high)
                .text("unit", self.quantity.unit_text())
                .words("instead", instead),
        )
    }

    fn is_usual(&self, value: f64) -> bool {
        let Some((low, high)) = self.usual else {
            return true;
        };
        (self.zero && value == 0.0) || (low..=high).contains(&value.abs())
    }

    fn usual_words(&self) -> Option<String> {
        let (low, high) = self.usual?;
        let unit = self.quantity.unit();
        Some(if low > 0.0 {
            format!("usual are {low} to {high}{unit}")
        } else {
            format!("usual is at most {high}{unit}")
        })
    }

    /// The usual number that `value` is by a slip of the decimal point.
    fn slipped(&self, value: f64) -> Option<f64> {
        self.usual?;
        let meant = SLIPS.iter().map(|factor| tidy(value * factor));
        meant.into_iter().find(|meant| self.is_usual(*meant))
    }

    /// Why `value`, in the file's unit, is refused; `None` where it is fine.
    pub(super) fn objection(&self, value: f64) -> Option<Objection> {
        let plain = |why: &str| {
            Some(Objection {
                why: why.to_string(),
                instead: None,
            })
        };
        let usual = self.usual_words();
        let usual = usual.map_or_else(String::new, |words| format!("; {words}"));
        if !value.is_finite() {
            return plain("is not a finite number");
        }
        if value < 0.0 && self.least >= 0.0 && self.zero {
            return plain("must not be negative");
        }
        if value <= 0.0 && !self.zero {
            return plain("must be greater than zero");
        }
        if self.holds(value) {
            return None;
        }
        let mistaken = self.quantity.mistaken_units();
        let holds = |factor: f64| self.holds(value * factor);
        let meant = |factor: f64| holds(factor) && self.is_usual(tidy(value * factor));
        let unit = mistaken.iter().find(|(_, factor)| meant(*factor));
        let Some((unit, factor)) = unit.or_else(|| mistaken.iter().find(|(_, f)| holds(*f))) else {
            return Some(Objection {
                why: self.limits() + &usual,
                instead: self.slipped(value),
            });
        };
        let why = format!("looks like {unit}; {}{usual}", self.quantity.rule());
        let instead = Some(tidy(value * factor));
        Some(Objection { why, instead })
    }

    fn holds(&self, value: f64) -> bool {
        (self.least..=self.most).contains(&value) && (value == 0.0 || value.abs() >= self.tiny)
    }

    fn limits(&self) -> String {
        let unit = self.quantity.unit();
        let most = self.most;
        if self.least == -most {
            format!("is not within {most}{unit} of zero")
        } else {
            // Where zero is refused, `tiny` is the least size.
            let least = if self.zero { self.least } else { self.tiny };
            format!("is not between {least} and {most}{unit}")
        }
    }
}

/// To nine digits after the point, so that 0.07 metres is 70 and not 70.00000000000001.
fn tidy(value: f64) -> f64 {
    (value * 1e9).round() / 1e9
}

/// Why a number is refused, or doubted.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Objection {
    /// The end of a sentence that begins with the number.
    pub(super) why: String,
    /// The number in the file's unit, where it looks like one in another unit.
    pub(super) instead: Option<f64>,
}

#[cfg(test)]
mod tests {
    use super::*;

    const WHEEL: Range = Range::size(Quantity::Length, 5.0, 1000.0);
    const AHEAD: Range = Range::place(Quantity::Length, 0.5, 2000.0);
    const SHARE: Range = Range::size(Quantity::Share, 0.0, 1.0);
    const READOUT: Range = Range::from_zero(Quantity::ShortTime, 0.5, 100.0);

    #[track_caller]
    fn check(range: Range, value: f64, expected: Option<&str>) {
        let why = range.objection(value).map(|objection| objection.why);
        assert_eq!(why.as_deref(), expected, "{value}");
    }

    #[test]
    fn limits_belong_to_the_range() {
        for value in [5.0, 110.0, 1000.0] {
            check(WHEEL, value, None);
        }
        for value in [-2000.0, -0.5, 0.0, 0.5, 2000.0] {
            check(AHEAD, value, None);
        }
        for value in [1e-6, 0.6, 1.0] {
            check(SHARE, value, None);
        }
        for value in [0.0, 0.5, 100.0] {
            check(READOUT, value, None);
        }
    }

    #[test]
    fn a_wrong_unit_is_recognised() {
        check(
            WHEEL,
            0.11,
            Some("looks like metres; lengths here are millimetres"),
        );
        check(
            WHEEL,
            4.9,
            Some("looks like centimetres; lengths here are millimetres"),
        );
        check(
            AHEAD,
            -0.09,
            Some("looks like metres; lengths here are millimetres"),
        );
        check(
            SHARE,
            60.0,
            Some("looks like per cent; shares here are fractions from 0 to 1"),
        );
        check(
            READOUT,
            0.016,
            Some("looks like seconds; times here are milliseconds"),
        );
        check(
            READOUT,
            16_000.0,
            Some("looks like microseconds; times here are milliseconds"),
        );
    }

    #[test]
    fn a_wrong_unit_is_converted() {
        let instead = |range: Range, value| range.objection(value).and_then(|o| o.instead);
        assert_eq!(instead(WHEEL, 0.07), Some(70.0));
        assert_eq!(instead(WHEEL, 4.9), Some(49.0));
        assert_eq!(instead(SHARE, 60.0), Some(0.6));
        assert_eq!(instead(WHEEL, 2000.0), None);
    }

    #[test]
    fn a_slip_of_the_decimal_point_is_recognised() {
        let wheel = Range::size(Quantity::Length, 20.0, 600.0).usually(40.0, 320.0);
        let refused = |value| wheel.objection(value).and_then(|o| o.instead);
        // What a doubt says was meant.
        let meant = |note: Note, number: f64| {
            note.words("written", "key = 1")
                .to_string()
                .ends_with(&format!("mean {number}?"))
        };
        let doubted = |value| wheel.doubt(value);
        assert_eq!(refused(9.6), Some(96.0));
        assert_eq!(refused(960.0), Some(96.0));
        assert_eq!((wheel.objection(96.0), doubted(96.0)), (None, None));
        // A small wheel may be one.
        assert_eq!(wheel.objection(30.0), None);
        assert!(meant(doubted(30.0).unwrap(), 300.0));
        let readout = Range::from_zero(Quantity::ShortTime, 0.5, 100.0).usually(4.0, 40.0);
        assert_eq!(readout.doubt(0.0), None);
        assert!(meant(readout.doubt(1.6).unwrap(), 16.0));
        let ahead = Range::place(Quantity::Length, 0.5, 2000.0).usually(0.0, 500.0);
        assert_eq!(ahead.doubt(-90.0), None);
        assert!(meant(ahead.doubt(-900.0).unwrap(), -90.0));
    }

    #[test]
    fn impossible_numbers_are_refused() {
        check(WHEEL, 1000.1, Some("is not between 5 and 1000 millimetres"));
        check(WHEEL, 1e-9, Some("is not between 5 and 1000 millimetres"));
        check(WHEEL, 0.0, Some("must be greater than zero"));
        check(WHEEL, -110.0, Some("must be greater than zero"));
        check(WHEEL, f64::NAN, Some("is not a finite number"));
        check(AHEAD, f64::INFINITY, Some("is not a finite number"));
        check(
            AHEAD,
            2001.0,
            Some("is not within 2000 millimetres of zero"),
        );
        check(SHARE, 0.0, Some("must be greater than zero"));
        check(READOUT, -1.0, Some("must not be negative"));
        let column = Range::between(Quantity::Pixels, -0.5, 16_384.0);
        check(column, -0.4, None);
        check(column, -3.0, Some("is not between -0.5 and 16384 pixels"));
    }

    #[test]
    fn millimetres_become_the_nearest_metres() {
        assert_eq!(Quantity::Length.to_si(110.0), 0.11);
        assert_eq!(Quantity::Mass.to_si(190.0), 0.19);
        assert_eq!(Quantity::Angle.to_si(180.0), std::f64::consts::PI);
        assert_eq!(Quantity::Share.to_si(0.6), 0.6);
    }
}

//! The summary that a student understands in one reading.

use super::wording::{CAUTION, verdict_words};
use super::{EndStory, Measures, Story, printable};
use crate::camera::{FlatSource, ViewSource};
use crate::track::TrackNote;
use crate::two_views::{AlignedBy, Joined, ViewName};
use crate::uncertainty::COVERAGE_FACTOR;
use crate::verdict::Cause;

/// The words for the terminal, several lines.
pub fn summary_words(story: &Story<'_>) -> String {
    let mut out = String::new();
    let name = story.sheet.car.name.as_deref().unwrap_or("the car");
    match &story.measured {
        Err(why) => {
            line(&mut out, "Verdict: undetermined");
            line(&mut out, &format!("  {why}"));
        }
        Ok(measures) => {
            judged(&mut out, measures, name);
            let seen_by = view_words(&measures.view.source);
            line(&mut out, &format!("Seen by: {seen_by}"));
            if let Some(note) = &measures.view.note {
                line(&mut out, &format!("  note: {note}"));
            }
        }
    }
    if let Some(end) = &story.end_view {
        for text in end_words(end) {
            line(&mut out, &text);
        }
    }
    if let Some(doubt) = story.clock_doubt {
        line(
            &mut out,
            &format!("No speeds and no times are stated: {doubt}"),
        );
    }
    for note in &story.track.notes {
        line(&mut out, &format!("  note: {}", track_words(*note)));
    }
    for note in story
        .damage
        .iter()
        .chain(&story.priors.doubts)
        .chain(&story.priors.assumed)
    {
        line(&mut out, &format!("  note: {note}"));
    }
    line(&mut out, CAUTION);
    out
}

/// What became of a clip of which nothing is measured.
pub(super) fn unmeasured(story: &Story<'_>) -> &'static str {
    match story.clock_doubt {
        Some(_) => "The clip's clock or the sizes cannot be right.",
        None => "The path of the car could not be put on the floor.",
    }
}

/// What to try where nothing is measured.
pub(super) fn to_check(story: &Story<'_>) -> &'static str {
    match story.clock_doubt {
        Some(_) => {
            "check `[camera] capture_fps`, the floor marks' places and the sticker's height in the run sheet"
        }
        None => "check the floor marks' places and the sticker's height in the run sheet",
    }
}

/// What is to blame, why, and what to try.
fn judged(out: &mut String, measures: &Measures<'_>, name: &str) {
    let verdict = measures.verdict;
    let words = verdict_words(verdict, measures.result);
    let blamed = sentence(verdict.cause);
    line(out, &format!("Verdict for {name}: {blamed}"));
    for reason in words.because.iter().take(4) {
        line(out, &format!("  - {reason}"));
    }
    if !verdict.also.is_empty() {
        let also: Vec<&str> = verdict.also.iter().map(|cause| cause.as_str()).collect();
        line(out, &format!("  also: {}", also.join(", ")));
    }
    line(
        out,
        "  (in brackets: the interval that holds the true value in 95 of 100 cases)",
    );
    line(out, "Try:");
    for (rank, step) in words.try_next.iter().enumerate() {
        line(out, &format!("  {}. {step}", rank + 1));
    }
}

/// What the second view gave, in lines.
pub(super) fn end_words(end: &EndStory<'_>) -> Vec<String> {
    let mut lines = Vec::new();
    let out = &mut lines;
    match (end.joined, end.alignment) {
        (Err(why), _) => out.push(format!("Second view not used: {why}")),
        (Ok(joined), alignment) => {
            let from_end: Vec<&str> = joined
                .from
                .iter()
                .filter(|(_, view)| **view == ViewName::End)
                .map(|(key, _)| key.meaning())
                .collect();
            let taken = if from_end.is_empty() {
                "nothing, the first view sees everything better".to_owned()
            } else {
                from_end.join("; ")
            };
            out.push(format!("From the second view: {taken}"));
            match alignment {
                Ok(found) => {
                    let by = match found.by {
                        AlignedBy::Sound => "the snap of the spring in both sound tracks",
                        AlignedBy::FirstMotion => "the first motion in both pictures",
                    };
                    let residual = found.residual_s.map_or_else(String::new, |residual| {
                        format!(
                            "; sound and first motion differ by {:.0} ms",
                            1000.0 * residual.value
                        )
                    });
                    out.push(format!(
                        "  lined up by {by} to within {:.0} ms{residual}",
                        1000.0 * COVERAGE_FACTOR * found.offset_s.sd
                    ));
                    note(out, found.note.iter());
                }
                Err(why) => note(out, std::iter::once(why)),
            }
            note(out, not_compared(joined).iter());
        }
    }
    note(out, end.notes.iter());
    lines
}

/// What to know of the joining.
pub(super) fn not_compared(joined: &Joined) -> Option<String> {
    let words =
        "the speeds of the two clips could not be compared to see that they show the same run";
    (!joined.compared).then(|| words.to_owned())
}

fn note<T: std::fmt::Display>(out: &mut Vec<String>, notes: impl Iterator<Item = T>) {
    for text in notes {
        out.push(format!("  note: {text}"));
    }
}

fn line(out: &mut String, text: &str) {
    out.push_str(&printable(text));
    out.push('\n');
}

pub(super) fn track_words(note: TrackNote) -> String {
    match note {
        TrackNote::NoWheelMark => {
            "nothing in the wheel mark's colour goes round with the sticker; the \
                                   wheel's turn is not observable"
                .into()
        }
        TrackNote::StickerStill => {
            "something in the sticker's colour was found that never moved; is that the sticker?"
                .into()
        }
        TrackNote::StickerLost { at_ms } => format!(
            "the sticker was lost at {:.2} s, in the middle of the picture and on its way: what is said of the \
             end of the view is said of that moment; use a larger sticker or better light, or film nearer",
            at_ms as f64 / 1000.0
        ),
        TrackNote::SeveralMoving { others } => {
            let things = if others == 1 { "thing" } else { "things" };
            format!(
                "{others} more {things} in the sticker's colour moved; the one taken drives away \
                 farther and faster or has a wheel mark that goes round (`at_px` and `at_s` under \
                 [sticker] in the run sheet point at another)"
            )
        }
    }
}

pub(super) const fn sentence(cause: Cause) -> &'static str {
    match cause {
        Cause::Grip => {
            "grip - the driven wheels spun on the spot: the pull never reached the floor"
        }
        Cause::Alignment => "alignment - the car steers itself along a steady curve",
        Cause::Aim => "aim - the car ran straight but was set down pointing off line",
        Cause::Wobble => "wobble - a wheel that is not square makes the car sway once a turn",
        Cause::Drive => "drive - turns of the string or axle never reached the floor",
        Cause::Drag => "drag - something rubs, and the coast dies far too soon",
        Cause::None => "none - no fault found",
        Cause::Undetermined => "undetermined - this view cannot tell",
    }
}

/// A cause in a sentence of its own.
pub fn cause_in_words(cause: Cause) -> String {
    headline(sentence(cause))
}

/// The sentence without its cause's name, as one of its own.
pub(super) fn headline(sentence: &str) -> String {
    let said = sentence
        .split_once(" - ")
        .map_or(sentence, |(_, said)| said);
    let mut letters = said.chars();
    letters.next().map_or_else(String::new, |first| {
        let rest = letters.as_str().trim_end_matches('.');
        first.to_uppercase().chain(rest.chars()).collect::<String>() + "."
    })
}

pub(super) fn view_words(source: &ViewSource) -> String {
    match source {
        ViewSource::FloorMarks {
            marks,
            residual_px,
            moving: true,
            ..
        } => format!(
            "a camera that moved and was followed by {marks} floor marks, which fit within {residual_px:.2} px"
        ),
        ViewSource::FloorMarks {
            marks, residual_px, ..
        } => {
            format!("a camera placed by {marks} floor marks, which fit within {residual_px:.2} px")
        }
        ViewSource::PlainScale { from } => {
            let from = match from {
                FlatSource::FloorMarks => "the distance between floor marks",
                FlatSource::WheelMarkCircle => "the circle of the wheel mark",
                FlatSource::RollingWheel => "the turns of the rolling wheel",
            };
            format!("a plain scale from {from}; sideways motion is not observable")
        }
        ViewSource::PixelsOnly => {
            "pixels only: nothing in view has a known size, so nothing is stated in metres"
                .to_owned()
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_verdict_becomes_a_sentence() {
        let said = headline("grip - the driven wheels spun");
        assert_eq!(said, "The driven wheels spun.");
        assert_eq!(headline("plain"), "Plain.");
        assert_eq!(headline(""), "");
    }
}

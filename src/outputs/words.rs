//! The summary that a student understands in one reading.

use super::wording::{Said, cause_name, caution, meaning, verdict_words};
use super::{EndStory, Measures, Story, printable};
use crate::camera::{FlatSource, ViewSource};
use crate::texts::{Texts, say};
use crate::track::TrackNote;
use crate::two_views::{AlignedBy, Alignment, Joined, ViewName};
use crate::uncertainty::COVERAGE_FACTOR;
use crate::verdict::Cause;

/// The words for the terminal, several lines.
pub fn summary_words(story: &Story<'_>) -> String {
    let texts = story.texts();
    let mut out = String::new();
    match &story.measured {
        Err(why) => {
            line(&mut out, &texts.text("said-undetermined"));
            line(&mut out, &format!("  {}", why.said(texts)));
        }
        Ok(measures) => {
            judged(&mut out, texts, measures, &story.car_name());
            let view = view_words(texts, &measures.view.source);
            line(&mut out, &say!(texts, "said-seen-by", view = view));
            if let Some(note) = &measures.view.note {
                noted(&mut out, texts, &note.said(texts));
            }
        }
    }
    if let Some(end) = &story.end_view {
        for text in end_words(texts, end) {
            line(&mut out, &text);
        }
    }
    if let Some(doubt) = story.clock_doubt {
        let doubt = doubt.said(texts);
        line(&mut out, &say!(texts, "said-no-speeds", doubt = doubt));
    }
    for note in &story.track.notes {
        noted(&mut out, texts, &track_words(texts, *note));
    }
    for damage in story.damage {
        noted(&mut out, texts, &damage.said(texts));
    }
    for said in story.priors.doubts.iter().chain(&story.priors.assumed) {
        noted(&mut out, texts, &said.said(texts));
    }
    line(&mut out, &caution(texts));
    out
}

/// What became of a clip of which nothing is measured.
pub(super) fn unmeasured(texts: &Texts, story: &Story<'_>) -> String {
    texts.text(match story.clock_doubt {
        Some(_) => "unmeasured-clock",
        None => "unmeasured-path",
    })
}

/// What to try where nothing is measured.
pub(super) fn to_check(texts: &Texts, story: &Story<'_>) -> String {
    texts.text(match story.clock_doubt {
        Some(_) => "check-clock",
        None => "check-path",
    })
}

/// What is to blame, why, and what to try.
fn judged(out: &mut String, texts: &Texts, measures: &Measures<'_>, car: &str) {
    let verdict = measures.verdict;
    let words = verdict_words(texts, verdict, measures.result);
    let blamed = sentence(texts, verdict.cause);
    line(
        out,
        &say!(texts, "said-verdict", car = car, verdict = blamed),
    );
    for reason in words.because.iter().take(4) {
        line(out, &format!("  - {reason}"));
    }
    if !verdict.also.is_empty() {
        let causes = also(texts, &verdict.also);
        line(
            out,
            &format!("  {}", say!(texts, "said-also", causes = causes)),
        );
    }
    line(out, &format!("  {}", texts.text("said-brackets")));
    line(out, &texts.text("said-try"));
    for (rank, step) in words.try_next.iter().enumerate() {
        line(out, &format!("  {}. {step}", rank + 1));
    }
}

/// Causes by their names.
pub(super) fn also(texts: &Texts, causes: &[Cause]) -> String {
    let names: Vec<String> = causes
        .iter()
        .map(|cause| cause_name(texts, *cause))
        .collect();
    names.join(", ")
}

/// What the second view gave, in lines.
pub(super) fn end_words(texts: &Texts, end: &EndStory<'_>) -> Vec<String> {
    let note = |note: String| format!("  {}", say!(texts, "said-note", note = note));
    let mut out = Vec::new();
    match (end.joined, end.alignment) {
        (Err(why), _) => out.push(say!(texts, "second-not-used", why = why.said(texts))),
        (Ok(joined), alignment) => {
            out.push(from_end(texts, joined));
            match alignment {
                Ok(found) => {
                    out.push(format!("  {}", aligned(texts, found)));
                    out.extend(found.note.map(|said| note(said.said(texts))));
                }
                Err(why) => out.push(note(why.said(texts))),
            }
            out.extend(not_compared(texts, joined).map(note));
        }
    }
    let damage = end.damage.iter().map(|damage| damage.said(texts));
    let doubt = end.clock_doubt.map(|doubt| doubt.said(texts));
    out.extend(damage.chain(doubt).map(note));
    out
}

/// What was taken from the second view.
fn from_end(texts: &Texts, joined: &Joined) -> String {
    let theirs = (joined.from.iter()).filter(|(_, view)| **view == ViewName::End);
    let theirs: Vec<String> = theirs.map(|(key, _)| meaning(texts, *key)).collect();
    if theirs.is_empty() {
        texts.text("second-gave-nothing")
    } else {
        say!(texts, "second-gave", what = theirs.join("; "))
    }
}

/// By what two clips were lined up, and how well.
fn aligned(texts: &Texts, found: &Alignment) -> String {
    let by = match found.by {
        AlignedBy::Sound => "sound",
        AlignedBy::FirstMotion => "motion",
    };
    let ms = texts.fixed(1000.0 * COVERAGE_FACTOR * found.offset_s.sd, 0);
    match found.residual_s {
        None => say!(texts, "second-aligned", by = by, ms = ms),
        Some(residual) => {
            let residual = texts.number(1000.0 * residual.value, 0);
            say!(
                texts,
                "second-aligned-checked",
                by = by,
                ms = ms,
                residual = residual
            )
        }
    }
}

/// What to know of the joining.
pub(super) fn not_compared(texts: &Texts, joined: &Joined) -> Option<String> {
    (!joined.compared).then(|| texts.text("second-not-compared"))
}

fn noted(out: &mut String, texts: &Texts, note: &str) {
    line(out, &format!("  {}", say!(texts, "said-note", note = note)));
}

fn line(out: &mut String, text: &str) {
    out.push_str(&printable(text));
    out.push('\n');
}

pub(super) fn track_words(texts: &Texts, note: TrackNote) -> String {
    match note {
        TrackNote::NoWheelMark => texts.text("track-no-wheel-mark"),
        TrackNote::StickerStill => texts.text("track-sticker-still"),
        TrackNote::StickerLost { at_ms } => {
            let at = texts.fixed(at_ms as f64 / 1000.0, 2);
            say!(texts, "track-sticker-lost", at = at)
        }
        TrackNote::SeveralMoving { others } => {
            say!(texts, "track-several-moving", others = others)
        }
    }
}

/// Where the frames' times come from.
pub(super) fn clock_words(texts: &Texts, story: &Story<'_>) -> String {
    match story.clock_doubt {
        Some(doubt) => say!(texts, "clock-unknown", doubt = doubt.said(texts)),
        None => story.clock.said(texts),
    }
}

/// What is to blame: its name, a dash and what it did.
pub(super) fn sentence(texts: &Texts, cause: Cause) -> String {
    texts.text(&format!("verdict-{}", cause.as_str()))
}

/// A cause in a sentence of its own.
pub fn cause_in_words(cause: Cause) -> String {
    headline(&sentence(Texts::english(), cause))
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

pub(super) fn view_words(texts: &Texts, source: &ViewSource) -> String {
    match source {
        ViewSource::FloorMarks {
            marks,
            residual_px,
            moving,
            ..
        } => {
            let (marks, px) = (*marks, texts.fixed(*residual_px, 2));
            if *moving {
                say!(texts, "view-moving", marks = marks, px = px)
            } else {
                say!(texts, "view-still", marks = marks, px = px)
            }
        }
        ViewSource::PlainScale { from } => {
            let from = match from {
                FlatSource::FloorMarks => "floor",
                FlatSource::WheelMarkCircle => "circle",
                FlatSource::RollingWheel => "rolling",
            };
            say!(texts, "view-plain", from = from)
        }
        ViewSource::PixelsOnly => texts.text("view-pixels"),
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

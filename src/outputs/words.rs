//! The summary that a student understands in one reading.

use super::Story;
use crate::camera::{FlatSource, ViewSource};
use crate::verdict::{CAUTION, Cause};

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
            let verdict = measures.verdict;
            line(
                &mut out,
                &format!("Verdict for {name}: {}", sentence(verdict.cause)),
            );
            for reason in verdict.because.iter().take(3) {
                line(&mut out, &format!("  - {reason}"));
            }
            if !verdict.also.is_empty() {
                let also: Vec<&str> = verdict.also.iter().map(|cause| cause.as_str()).collect();
                line(&mut out, &format!("  also: {}", also.join(", ")));
            }
            line(
                &mut out,
                "  (in brackets: the interval that holds the true value in 95 of 100 cases)",
            );
            line(&mut out, "Try:");
            for (rank, step) in verdict.try_next.iter().enumerate() {
                line(&mut out, &format!("  {}. {step}", rank + 1));
            }
            line(
                &mut out,
                &format!("Seen by: {}", view_words(&measures.view.source)),
            );
            if let Some(note) = &measures.view.note {
                line(&mut out, &format!("  note: {note}"));
            }
        }
    }
    for note in story.damage.iter().chain(&story.known.assumed) {
        line(&mut out, &format!("  note: {note}"));
    }
    line(&mut out, CAUTION);
    out
}

fn line(out: &mut String, text: &str) {
    out.push_str(text);
    out.push('\n');
}

pub(super) const fn sentence(cause: Cause) -> &'static str {
    match cause {
        Cause::Grip => "grip - the driven wheels spun and the floor did not get the pull",
        Cause::Alignment => "alignment - the car steers itself along a steady curve",
        Cause::Aim => "aim - the car ran straight but was set down pointing off line",
        Cause::None => "none - no fault costs this run anything worth mending",
        Cause::Undetermined => "undetermined - this view cannot tell",
    }
}

pub(super) fn view_words(source: &ViewSource) -> String {
    match source {
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

//! Which marks are there, and where they are in every frame: those that the run sheet names, and those of the printed
//! kit that the clip shows. A sheet that leaves marks open is followed with the kit's first; what that does not find
//! is left out of the following that counts.

use super::RunError;
use super::kit::{completed, marks_wanted};
use crate::priors::marks_named;
use crate::sheet::{KitPart, RunSheet};
use crate::sighting::Sightings;
use crate::track::{FollowError, Lead, MarksWanted, Track, follow};
use std::path::Path;

/// The marks followed, and the sheet with the printed kit's marks that the clip shows where it names none. `path` is
/// only named in errors.
///
/// # Errors
/// That no sticker could be followed, or more than one; without a run sheet, that the kit is not there.
pub(super) fn followed(
    path: &Path,
    seen: &Sightings,
    times_s: Vec<f64>,
    sheet: &RunSheet,
) -> Result<(RunSheet, Track), RunError> {
    let wanted = marks_wanted(sheet);
    let with_kit = if wanted == marks_named(sheet) {
        None
    } else {
        follow(seen, times_s.clone(), &wanted).ok()
    };
    let full = match &with_kit {
        Some(track) => completed(sheet, track),
        None => sheet.clone(),
    };
    let there = marks_named(&full);
    let track = match with_kit.filter(|_| there == wanted) {
        Some(track) => track,
        // What is not there must not weigh in with what moves and what lies still.
        None => follow(seen, times_s, &there)
            .map_err(|why| not_followed(path, seen, &there, full.from_kit.as_slice(), why))?,
    };
    kit_is_there(path, &full)?;
    Ok((full, track))
}

/// Where there is no run sheet, only the kit's floor plan gives metres.
fn kit_is_there(path: &Path, sheet: &RunSheet) -> Result<(), RunError> {
    let bare = sheet.from_kit.contains(&KitPart::WholeSheet);
    if bare && !sheet.from_kit.contains(&KitPart::FloorPlan) {
        let floor = KitPart::FloorPlan.colour();
        return Err(RunError::NoKit {
            path: path.to_path_buf(),
            missing: format!("no {floor} floor marks lie on the kit's plan"),
        });
    }
    Ok(())
}

fn not_followed(
    path: &Path,
    seen: &Sightings,
    wanted: &MarksWanted,
    from_kit: &[KitPart],
    why: FollowError,
) -> RunError {
    let path = path.to_path_buf();
    let colour = wanted.sticker.to_string();
    match why {
        FollowError::Nothing if from_kit.contains(&KitPart::WholeSheet) => RunError::NoKit {
            path,
            missing: format!(
                "no {colour} sticker could be followed: {}",
                what_was_seen(seen, wanted)
            ),
        },
        FollowError::Nothing => RunError::NoSticker {
            path,
            colour,
            seen: what_was_seen(seen, wanted),
        },
        FollowError::Several { leads } => RunError::SeveralCars {
            path,
            colour,
            places: places_words(&leads),
        },
    }
}

/// More places than this tell nobody which of them to point at.
const MOST_PLACES: usize = 6;

fn places_words(leads: &[Lead]) -> String {
    let mut words: Vec<String> = leads.iter().take(MOST_PLACES).map(place_words).collect();
    if leads.len() > MOST_PLACES {
        words.push(format!("and {} more", leads.len() - MOST_PLACES));
    }
    words.join("; ")
}

fn place_words(lead: &Lead) -> String {
    format!(
        "`at_px = [{:.0}, {:.0}]` with `at_s = {:.2}`",
        lead.u_px, lead.v_px, lead.time_s
    )
}

fn what_was_seen(seen: &Sightings, wanted: &MarksWanted) -> String {
    let slot = seen.slot(wanted.sticker);
    let with = seen
        .frames
        .iter()
        .filter(|frame| slot.is_some_and(|s| frame.blobs.get(s).is_some_and(|b| !b.is_empty())))
        .count();
    format!(
        "patches of that colour were seen in {with} of {} frames, none steadily enough",
        seen.frames.len()
    )
}

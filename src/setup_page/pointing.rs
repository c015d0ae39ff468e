//! Which places in the picture the sheet must keep. A sheet without them fits the next clip as well, so
//! only those are kept without which the clip would be read otherwise.

use super::WriteSheetError;
use super::checking::check;
use super::draft::{Draft, Part};
use crate::pipeline::Outline;
use crate::sheet::RunSheet;
use std::path::Path;

/// The draft without the new places that make no difference. What the sheet on disk already has stays.
/// `work_out` follows a sheet through the clip; where it cannot, everything is kept.
///
/// # Errors
/// Where `base` is not TOML.
pub(super) fn without_needless(
    base: Option<&str>,
    draft: &Draft,
    path: &Path,
    work_out: &dyn Fn(&RunSheet) -> Option<Outline>,
) -> Result<Draft, WriteSheetError> {
    let before = base.map_or(Ok(Draft::default()), Draft::read)?;
    let mut out = draft.clone();
    // No stage asks where the marks that go round were pointed at: they are found by their circle.
    let further = |part: &Part| {
        let row = part.from?.checked_sub(1)?;
        before.more_wheel_marks.get(row)
    };
    for part in &mut out.more_wheel_marks {
        let old = further(part);
        strip(part, old);
    }
    for (part, old) in [
        (&mut out.wheel_mark, &before.wheel_mark),
        (&mut out.axle_mark, &before.axle_mark),
    ] {
        if let Some(part) = part {
            strip(part, old.as_ref());
        }
    }
    let mut bare = out.clone();
    strip(&mut bare.sticker, Some(&before.sticker));
    for part in &mut bare.floor_marks {
        let old = part.from.and_then(|from| before.floor_marks.get(from));
        strip(part, old);
    }
    if bare == out {
        return Ok(out);
    }
    let followed = |draft: &Draft| -> Result<Option<Outline>, WriteSheetError> {
        Ok(check(base, draft, path)?.sheet.as_ref().and_then(work_out))
    };
    let (Some(pointed), Some(unaided)) = (followed(&out)?, followed(&bare)?) else {
        return Ok(out);
    };
    if pointed.track.sticker == unaided.track.sticker {
        out.sticker = bare.sticker;
        let (with, without) = (&pointed.view, &unaided.view);
        // A camera that moves carries its marks all over the picture.
        if with.moving.is_some()
            || without.moving.is_some()
            || with.correspondence == without.correspondence
        {
            out.floor_marks = bare.floor_marks;
        }
    }
    Ok(out)
}

/// Takes a place out, unless the sheet on disk has it.
fn strip(part: &mut Part, old: Option<&Part>) {
    if part.at != old.and_then(|old| old.at) {
        part.at = None;
    }
}

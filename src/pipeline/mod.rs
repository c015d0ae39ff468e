//! The stages in order: the only place that knows them all. It reads from top to bottom, and never goes back:
//!
//! 1. look: every patch of every frame (`look.rs`);
//! 2. decide what is seen, each a hypothesis that is scored once: which marks are there (`marks.rs`, `kit.rs`), which
//!    floor plan, which clock (`clock.rs`, `doubt.rs`), all in `hypothesis.rs`;
//! 3. measure what was decided, once;
//! 4. intervals, and from them the verdict.
//!
//! Whatever needs a clock that nobody can believe is never found, so nothing has to be taken back.
//!
//! # Marks that the sheet does not name (`kit.rs`)
//!
//! A colour that is left out is the printed kit's (`sheet/kit.rs`). Whole marks are looked for and taken only where
//! the clip shows them: the wheel mark where something green circles with the car, the floor plan where at least
//! four blue patches fit it within 6 mm, have the kit's diameter within 15 %, and ask for a phone's main lens. No
//! picture tells a layout from one of the same shape and another size, so the driven wheel has a veto: where its
//! mark does not circle about the sheet's hub, or its coast rolls on another diameter by more than 3 %, the plan is
//! dropped, the marks are followed again without it, and the reason is told. Where the wheel is not in view nothing
//! can object; the plan stands among the assumptions. The kit's axle mark must be named on the sheet: reflections
//! of a wheel passed for one in a drawn clip that had none.
//!
//! # The clock (`clock.rs`, `doubt.rs`)
//!
//! Slow motion that plays slowly makes speeds too small by its factor and accelerations by its square. The rate of
//! capture comes from the sheet, else from the tag that a phone wrote; where neither names it and the car is one
//! that there cannot be (a pull below 0.2 m/s², a wheel that spins under a pull below 0.3, a coast freer than a
//! train's), the clip is worked out with a likely rate, and `Priors::clock` says that seconds are not known: then
//! `analyse` finds only what needs no clock (lengths, angles, turns, slip), so that nothing has to be taken back
//! later (`findings/units.rs`). A pull above 1.5 g is doubted whoever named the rate; then the
//! sizes may as well be wrong, and nothing is found. A twofold slowing of an
//! ordinary car is an ordinary slow car: no sign in the picture tells it.
//!
//! # Many clips in one call (`batch.rs`)
//!
//! A result is up to date when the clip's SHA-256, the run sheet (`run.sheet`), `draws_asked`, the tool's version
//! and the second phone's clip agree and no wanted file is missing.

mod batch;
mod clock;
mod doubt;
mod error;
mod hypothesis;
mod imagined;
mod inspect;
mod kit;
mod making;
mod marks;
mod observation;
mod pair;
mod spent;

pub use batch::{
    BatchError, MOST_AT_ONCE, Outcome, Tell, measure_all, measure_unless_done, sheet_beside,
    sheet_of,
};
pub use clock::Clock;
pub use error::RunError;
pub use inspect::inspect;
pub use kit::{marks_wanted, on_plan};
pub use making::{MakeError, OVERLAY_NAME, REPORT_NAME, Stage, Ways, Written, make_result};
pub use observation::{Observed, observe_clip, observe_frames};
pub use pair::{EndView, measure_pair};
pub use spent::Spent;

use crate::analysis::{Analysis, AnalysisReason, ClockDoubt};
use crate::camera::View;
use crate::clip::{ClipInfo, Damage};
use crate::priors::Priors;
use crate::sheet::RunSheet;
use crate::track::{Track, TrackNote};
use crate::uncertainty::{Result95, with_intervals};
use crate::verdict::{Verdict, judge};
use hypothesis::Hypothesis;
use marks::followed;
use spent::timed;
use std::path::Path;

/// Everything that a measured clip gave.
#[derive(Debug)]
pub struct Measured {
    /// The clip.
    pub clip: ClipInfo,
    /// What was wrong with its file.
    pub damage: Vec<Damage>,
    /// When the first frame is shown by the file's own clock, s: zero of the frames' times.
    pub zero_s: f64,
    /// When each frame is shown, in the file's own time base.
    pub frame_ticks: Vec<i64>,
    /// What it shows.
    pub outline: Outline,
    /// What was found with 95 % intervals.
    pub result: Option<Result95>,
    /// The judgement.
    pub verdict: Option<Verdict>,
    /// What all that cost.
    pub spent: Spent,
}

/// What a clip shows before intervals and verdict.
#[derive(Debug)]
pub struct Outline {
    /// The run sheet, with the marks of the printed kit that the clip shows and it does not name.
    pub sheet: RunSheet,
    /// Where the frames' real times come from.
    pub clock: Clock,
    /// Why those times cannot be believed; what needs them is then not found.
    pub doubt: Option<ClockDoubt>,
    /// The marks in pixels.
    pub track: Track,
    /// What is known of the run.
    pub priors: Priors,
    /// How the floor is seen.
    pub view: View,
    /// What was found; the reason where the path cannot be put on the floor.
    pub analysis: Result<Analysis, AnalysisReason>,
    /// What all that cost, looking at the clip included.
    pub spent: Spent,
}

/// Measures a clip. `progress` is told frames done and frames expected.
///
/// # Errors
/// What is wrong with the clip, or that no sticker could be followed.
pub fn measure(
    path: &Path,
    sheet: &RunSheet,
    draws: usize,
    progress: &dyn Fn(u64, Option<u64>),
) -> Result<Measured, RunError> {
    let observed = observe_clip(path, &marks_wanted(sheet), progress)?;
    measure_observed(path, &observed, sheet, draws)
}

/// Measures a clip that was looked at for [`marks_wanted`].
///
/// # Errors
/// That no sticker could be followed, or that nothing of its colour moved.
pub fn measure_observed(
    path: &Path,
    observed: &Observed,
    sheet: &RunSheet,
    draws: usize,
) -> Result<Measured, RunError> {
    let outline = outline(path, observed, sheet)?;
    let Outline { track, priors, .. } = &outline;
    if track.notes.contains(&TrackNote::StickerStill) {
        let still = RunError::NothingMoved {
            path: path.to_path_buf(),
            colour: marks_wanted(sheet).sticker.to_string(),
            damage: String::new(),
        };
        return Err(still.with_damage(&observed.damage));
    }
    let best = outline.analysis.as_ref().ok();
    let mut spent = outline.spent;
    let (result, verdict) = timed(&mut spent.draws, || {
        let result = best.map(|best| with_intervals(track, best, priors, draws));
        let verdict = result.as_ref().map(judge);
        (result, verdict)
    });
    Ok(Measured {
        clip: observed.clip.clone(),
        damage: observed.damage.clone(),
        zero_s: observed.zero_s,
        frame_ticks: observed.frame_ticks.clone(),
        outline,
        result,
        verdict,
        spent,
    })
}

/// Decides what a clip shows, and measures that. `path` is only named in errors; the clip was looked at for
/// [`marks_wanted`].
///
/// # Errors
/// That no sticker could be followed, or more than one.
pub fn outline(path: &Path, observed: &Observed, sheet: &RunSheet) -> Result<Outline, RunError> {
    let clock = Clock::stated(observed, sheet);
    let mut spent = observed.spent;
    let seen = &observed.seen;
    let follow = || followed(path, seen, clock.times_s(seen), sheet);
    let followed = timed(&mut spent.track, follow);
    let (sheet, track) = followed.map_err(|error| error.with_damage(&observed.damage))?;
    let as_stated = Hypothesis {
        sheet,
        track,
        clock,
        doubt: None,
        no_plan: None,
    };
    let tried = timed(&mut spent.trial, || {
        as_stated
            .tried()
            .or_without_plan(seen)
            .or_clock_doubted(observed)
    });
    let mut outline = timed(&mut spent.analysis, || tried.measured());
    outline.spent = spent;
    Ok(outline)
}

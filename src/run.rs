//! The stages in order: the only place that knows them all.

use crate::camera::{View, ViewSource, locate, off_by_left, relocate};
use crate::clip::{Clip, ClipError, ClipInfo, Damage};
use crate::clock::{Doubt, Timing, doubt, without_seconds};
use crate::findings::RollingSource;
use crate::known::{
    Known, Sized, WheelSays, completed, marks_named, marks_wanted, plan_contradicted, without_plan,
};
use crate::motion::settle_readout;
use crate::sheet::{KitPart, RunSheet};
use crate::sighting::{Finder, FrameSightings, Sightings, Wanted};
use crate::track::{
    FollowError, Lead, MIN_CIRCLING_FRAMES, MarksWanted, Track, TrackNote, follow, follow_at_rest,
};
use crate::uncertainty::{Analysis, Result95, analyse, with_intervals};
use crate::verdict::{Verdict, judge};
use std::path::Path;
use std::sync::mpsc::sync_channel;

pub use crate::run_error::RunError;

/// Everything that a measured clip gave.
#[derive(Debug)]
pub struct Measured {
    /// The clip.
    pub clip: ClipInfo,
    /// What was wrong with its file.
    pub damage: Vec<String>,
    /// When the first frame is shown by the file's own clock, s: zero of the frames' times.
    pub zero_s: f64,
    /// Where the frames' real times come from.
    pub clock: Clock,
    /// Why those times cannot be believed; what needs them is then not stated.
    pub clock_doubt: Option<String>,
    /// The marks in pixels.
    pub track: Track,
    /// What is known of the run.
    pub known: Known,
    /// What was found; the reason where the path cannot be put on the floor.
    pub analysis: Result<Analysis, String>,
    /// The same with 95 % intervals.
    pub result: Option<Result95>,
    /// The judgement.
    pub verdict: Option<Verdict>,
}

/// Where real time comes from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Clock {
    /// The frames' own times.
    File,
    /// Slow motion: the file's times divided by this factor, from the rate named by the clip itself.
    ClipRate {
        /// Frames taken a second.
        capture_fps: f64,
        /// File time over real time.
        slowed: f64,
    },
    /// The same with the rate from the run sheet.
    SheetRate {
        /// Frames taken a second.
        capture_fps: f64,
        /// File time over real time.
        slowed: f64,
    },
}

impl Clock {
    /// File time over real time.
    pub const fn slowed(self) -> f64 {
        match self {
            Self::File => 1.0,
            Self::ClipRate { slowed, .. } | Self::SheetRate { slowed, .. } => slowed,
        }
    }
}

/// What was seen in a clip, and what is known of the file.
#[derive(Debug)]
pub struct Looked {
    /// The blobs.
    pub seen: Sightings,
    /// The clip.
    pub clip: ClipInfo,
    /// When the first frame is shown by the file's own clock, s.
    pub zero_s: f64,
    /// What was wrong with its file.
    pub damage: Vec<String>,
}

/// Frames that may wait between decoding and looking: enough to keep both busy.
const QUEUE: usize = 3;

/// Decodes a clip and looks at every frame. `progress` is told frames done and frames expected.
///
/// # Errors
/// What is wrong with the clip.
pub fn look_at_clip(
    path: &Path,
    wanted: &MarksWanted,
    progress: &dyn Fn(u64, Option<u64>),
) -> Result<Looked, RunError> {
    let mut clip = Clip::open(path)?;
    let colours = wanted_colours(wanted)?;
    let expected = clip.info().frame_count_hint;
    let mut finder = Finder::new(colours);
    let names = finder.colours();
    let (send, receive) = sync_channel(QUEUE);
    let frames = std::thread::scope(|scope| -> Result<Vec<FrameSightings>, ClipError> {
        let looker = scope.spawn(move || {
            let mut frames = Vec::new();
            while let Ok(frame) = receive.recv() {
                frames.push(finder.look(&frame));
            }
            frames
        });
        let mut decoded = 0;
        while let Some(frame) = clip.next_frame()? {
            decoded += 1;
            progress(decoded, expected);
            if send.send(frame).is_err() {
                break;
            }
        }
        drop(send);
        Ok(looker.join().unwrap_or_default())
    })?;
    let info = clip.info().clone();
    Ok(Looked {
        seen: Sightings {
            width_px: f64::from(info.width_px),
            height_px: f64::from(info.height_px),
            colours: names,
            frames,
        },
        zero_s: clip.first_frame_s().unwrap_or(0.0),
        damage: clip.damage().iter().map(Damage::to_string).collect(),
        clip: info,
    })
}

/// Floor marks lie still: a disc fit now and then is enough for them.
const FLOOR_FIT_EVERY: u32 = 6;

fn wanted_colours(wanted: &MarksWanted) -> Result<Vec<Wanted>, RunError> {
    let mut out = vec![Wanted {
        colour: wanted.sticker,
        fit_every: 1,
    }];
    let mut add = |colour, fit_every| {
        if out.iter().all(|w| w.colour != colour) {
            out.push(Wanted { colour, fit_every });
        }
    };
    for colour in wanted
        .wheel
        .into_iter()
        .chain(wanted.more_wheel.iter().copied())
    {
        if colour == wanted.sticker {
            return Err(RunError::SameColour {
                colour: colour.to_string(),
            });
        }
        add(colour, 1);
    }
    if let Some(colour) = wanted.axle {
        add(colour, 1);
    }
    for &colour in &wanted.floor {
        add(colour, FLOOR_FIT_EVERY);
    }
    let most = crate::colour::MAX_WANTED;
    if out.len() > most {
        return Err(RunError::TooManyColours {
            count: out.len(),
            most,
        });
    }
    Ok(out)
}

/// Measures a clip.
///
/// # Errors
/// What is wrong with the clip, or that no sticker could be followed.
pub fn measure(
    path: &Path,
    sheet: &RunSheet,
    draws: usize,
    progress: &dyn Fn(u64, Option<u64>),
) -> Result<Measured, RunError> {
    let looked = look_at_clip(path, &marks_wanted(sheet), progress)?;
    measure_looked(path, &looked, sheet, draws)
}

/// Measures a clip that was looked at for [`marks_wanted`].
///
/// # Errors
/// That no sticker could be followed, or that nothing of its colour moved.
pub fn measure_looked(
    path: &Path,
    looked: &Looked,
    sheet: &RunSheet,
    draws: usize,
) -> Result<Measured, RunError> {
    let Outline {
        sheet: _,
        clock,
        doubt,
        track,
        known,
        mut analysis,
    } = outline(path, looked, sheet)?;
    if track.notes.contains(&TrackNote::StickerStill) {
        return Err(RunError::NothingMoved {
            path: path.to_path_buf(),
            colour: marks_wanted(sheet).sticker.to_string(),
        });
    }
    let mut result = analysis
        .as_ref()
        .ok()
        .map(|best| with_intervals(&track, best, &known, draws));
    if let (Ok(best), Some(result), Some(doubt)) = (&mut analysis, &mut result, &doubt) {
        without_seconds(best, result, doubt);
    }
    let verdict = result.as_ref().map(judge);
    Ok(Measured {
        clip: looked.clip.clone(),
        damage: looked.damage.clone(),
        zero_s: looked.zero_s,
        clock,
        clock_doubt: doubt.map(|doubt| doubt.words),
        track,
        known,
        analysis,
        result,
        verdict,
    })
}

/// What a clip shows before intervals and verdict.
#[derive(Debug)]
pub struct Outline {
    /// The run sheet, with the marks of the printed kit that the clip shows and it does not name.
    pub sheet: RunSheet,
    /// Where the frames' real times come from.
    pub clock: Clock,
    /// Why those times cannot be believed.
    pub doubt: Option<Doubt>,
    /// The marks in pixels.
    pub track: Track,
    /// What is known of the run.
    pub known: Known,
    /// What was found; the reason where the path cannot be put on the floor.
    pub analysis: Result<Analysis, String>,
}

/// Follows the marks that were seen, and works out how they moved on the floor. `path` is only named in
/// errors; the clip was looked at for [`marks_wanted`].
///
/// # Errors
/// That no sticker could be followed, or more than one.
pub fn outline(path: &Path, looked: &Looked, sheet: &RunSheet) -> Result<Outline, RunError> {
    let clock = clock(looked, sheet);
    let (sheet, mut track) = followed(path, &looked.seen, clock, sheet)
        .and_then(|(full, track)| kit_is_there(path, full, track))
        .map_err(|why| without_sheet(path, sheet, why))?;
    let (sheet, mut known, mut analysis) = settled_by(sheet, &mut track, &looked.seen);
    let doubt = clock_doubt(&analysis, looked, &sheet, clock);
    if let Some(doubt) = &doubt {
        // Slip and path do not depend on the times, but limits of speed and time within the stages do.
        for time_s in &mut track.times_s {
            *time_s /= doubt.likely_slowing;
        }
        let notes = known.assumed;
        (known, analysis) = settled(&track, known_at(&sheet, &track));
        known.assumed = notes;
    }
    Ok(Outline {
        sheet,
        clock,
        doubt,
        track,
        known,
        analysis,
    })
}

/// The marks followed, and the sheet with the printed kit's marks that the clip shows where it names none.
fn followed(
    path: &Path,
    seen: &Sightings,
    clock: Clock,
    sheet: &RunSheet,
) -> Result<(RunSheet, Track), RunError> {
    let named = marks_named(sheet);
    let wanted = marks_wanted(sheet);
    let times_s = real_times(seen, clock);
    let by = |wanted: &MarksWanted| {
        follow(seen, times_s.clone(), wanted).map_err(|why| not_followed(path, seen, wanted, why))
    };
    if wanted != named
        && let Ok(track) = by(&wanted)
    {
        let full = completed(sheet, &track);
        let there = marks_named(&full);
        // What is not there must not weigh in with what moves and what lies still.
        let track = if there == wanted { track } else { by(&there)? };
        return Ok((full, track));
    }
    Ok((sheet.clone(), by(&named)?))
}

/// Where there is no run sheet, only the kit's floor plan gives metres.
fn kit_is_there(path: &Path, sheet: RunSheet, track: Track) -> Result<(RunSheet, Track), RunError> {
    let bare = sheet.from_kit.contains(&KitPart::WholeSheet);
    if bare && !sheet.from_kit.contains(&KitPart::FloorPlan) {
        let floor = KitPart::FloorPlan.colour();
        return Err(RunError::NoKit {
            path: path.to_path_buf(),
            missing: format!("no {floor} floor marks lie on the kit's plan"),
        });
    }
    Ok((sheet, track))
}

/// The error of a clip without a run sheet: that the kit's sticker was not seen.
fn without_sheet(path: &Path, sheet: &RunSheet, why: RunError) -> RunError {
    match why {
        RunError::NoSticker { colour, seen, .. }
            if sheet.from_kit.contains(&KitPart::WholeSheet) =>
        {
            RunError::NoKit {
                path: path.to_path_buf(),
                missing: format!("no {colour} sticker could be followed: {seen}"),
            }
        }
        other => other,
    }
}

/// A car that only stands there: its marks, what is known, and how the floor is seen. `None` where nothing of
/// the sticker's colour stands still.
pub fn at_rest(looked: &Looked, sheet: &RunSheet) -> Option<(Track, Known, View)> {
    let times_s = real_times(&looked.seen, clock(looked, sheet));
    let track = follow_at_rest(&looked.seen, times_s, &marks_wanted(sheet))?;
    let mut full = completed(sheet, &track);
    // Whether a mark of the wheel's colour is on the wheel, only a run shows.
    if sheet.wheel_marks.is_empty() {
        full.wheel_marks.clear();
        full.from_kit.retain(|part| *part != KitPart::WheelMark);
    }
    let known = known_at(&full, &track);
    let view = locate(&track, &known.camera_sheet());
    Some((track, known, view))
}

/// The analysis, without the kit's floor plan where the coasting wheel says that it was not laid so.
fn settled_by(
    sheet: RunSheet,
    track: &mut Track,
    seen: &Sightings,
) -> (RunSheet, Known, Result<Analysis, String>) {
    let (known, analysis) = settled(track, known_at(&sheet, track));
    let says = match &analysis {
        Ok(best) => wheel_says(track, best),
        Err(_) => WheelSays::Nothing,
    };
    let Some(why) = plan_contradicted(&known, &says) else {
        return (sheet, known, analysis);
    };
    let plain = without_plan(&sheet);
    if let Ok(again) = follow(seen, track.times_s.clone(), &marks_named(&plain)) {
        *track = again;
    }
    let (mut known, analysis) = settled(track, known_at(&plain, track));
    known.assumed.push(why);
    (plain, known, analysis)
}

fn wheel_says(track: &Track, best: &Analysis) -> WheelSays {
    match (&best.motion.wheel, &best.findings.rolling) {
        (Err(why), _) | (Ok(_), Err(why)) if track.wheel_frames() >= MIN_CIRCLING_FRAMES => {
            WheelSays::IsElsewhere(why.clone())
        }
        (Ok(_), Ok(rolling)) if rolling.source == RollingSource::Coast => {
            WheelSays::RollsOn(rolling.radius_m.value, rolling.radius_m.sd)
        }
        _ => WheelSays::Nothing,
    }
}

const NEVER_MOVED: &str = "the sticker never moved in this clip, so there is no run to measure; start filming before the \
                           release, and keep the car in view until it coasts";

/// The analysis, with the sensor's row time taken from the clip where the sheet does not give it.
fn settled(track: &Track, mut known: Known) -> (Known, Result<Analysis, String>) {
    if track.notes.contains(&TrackNote::StickerStill) {
        return (known, Err(NEVER_MOVED.to_owned()));
    }
    let mut first = analyse(track, locate(track, &known.camera_sheet()), &known, None);
    if let Ok(best) = &first
        && let Some(mark_sd_m) = misfit_m(&best.view, &known)
    {
        known.mark_sd_m = mark_sd_m;
        let view = relocate(track, &known.camera_sheet(), &best.view);
        known.assumed.push(format!(
            "the floor marks fit the places in the run sheet no better than {:.0} mm, which widens the intervals: \
             measure them again, and see that nothing hides a part of one",
            1000.0 * mark_sd_m
        ));
        first = analyse(track, view, &known, None);
    }
    let best = match first {
        Ok(best) if !known.readout_given => best,
        other => return (known, other),
    };
    let (value, sd) = settle_readout(
        track,
        &best.view,
        &known.camera_sheet(),
        &known.car_geometry(),
        &best.motion,
        (known.readout_s.value, known.readout_s.sd),
    );
    known.readout_s = Sized { value, sd };
    let view = relocate(track, &known.camera_sheet(), &best.view);
    let again = analyse(track, view, &known, None);
    (known, again)
}

/// Floor marks that fit worse than this many of their standard uncertainties are not where the sheet has them.
const MISFIT: f64 = 3.0;

/// Standard uncertainty that the marks' places must have for the camera to fit as it does, m (Birge ratio,
/// R. T. Birge, Phys. Rev. 40, 207, 1932); `None` where they fit as well as a tape measures.
fn misfit_m(view: &View, known: &Known) -> Option<f64> {
    let ViewSource::FloorMarks { marks, .. } = view.source else {
        return None;
    };
    let residual_m = view.mark_residual_m(&known.marks)?;
    (residual_m > MISFIT * known.mark_sd_m).then_some(residual_m * off_by_left(marks))
}

fn not_followed(path: &Path, seen: &Sightings, wanted: &MarksWanted, why: FollowError) -> RunError {
    let path = path.to_path_buf();
    let colour = wanted.sticker.to_string();
    match why {
        FollowError::Nothing => RunError::NoSticker {
            path,
            colour,
            seen: what_was_seen(seen, wanted),
        },
        FollowError::Several { leads } => RunError::SeveralCars {
            path,
            colour,
            places: leads.iter().map(place_words).collect::<Vec<_>>().join("; "),
        },
    }
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

/// A rate this near to the file's own is the same rate.
const SAME_RATE: f64 = 0.05;

fn file_fps(looked: &Looked) -> Option<f64> {
    let times: Vec<f64> = looked.seen.frames.iter().map(|f| f.time_s).collect();
    median_interval(&times).map(|interval_s| 1.0 / interval_s)
}

fn clock_doubt(
    analysis: &Result<Analysis, String>,
    looked: &Looked,
    sheet: &RunSheet,
    clock: Clock,
) -> Option<Doubt> {
    let named = sheet.camera.capture_fps.or(looked.clip.capture_fps);
    let timing = Timing {
        file_fps: file_fps(looked)?,
        stated: named.is_some() || clock != Clock::File,
    };
    doubt(analysis.as_ref().ok()?, timing)
}

/// What the sheet says, with what the frames' times bound.
fn known_at(sheet: &RunSheet, track: &Track) -> Known {
    let known = Known::from_sheet(sheet);
    match median_interval(&track.times_s) {
        Some(interval_s) => known.at_interval(interval_s),
        None => known,
    }
}

fn clock(looked: &Looked, sheet: &RunSheet) -> Clock {
    let Some(file_fps) = file_fps(looked) else {
        return Clock::File;
    };
    let slowed = |capture_fps: f64| capture_fps / file_fps;
    let differs = |capture_fps: &f64| (slowed(*capture_fps) - 1.0).abs() > SAME_RATE;
    if let Some(capture_fps) = sheet.camera.capture_fps.filter(differs) {
        return Clock::SheetRate {
            capture_fps,
            slowed: slowed(capture_fps),
        };
    }
    match looked.clip.capture_fps.filter(differs) {
        Some(capture_fps) if sheet.camera.capture_fps.is_none() => Clock::ClipRate {
            capture_fps,
            slowed: slowed(capture_fps),
        },
        _ => Clock::File,
    }
}

fn median_interval(times_s: &[f64]) -> Option<f64> {
    let mut steps: Vec<f64> = times_s.windows(2).map(|pair| pair[1] - pair[0]).collect();
    steps.sort_by(f64::total_cmp);
    steps
        .get(steps.len() / 2)
        .copied()
        .filter(|step| *step > 0.0)
}

fn real_times(seen: &Sightings, clock: Clock) -> Vec<f64> {
    let slowed = clock.slowed();
    seen.frames
        .iter()
        .map(|frame| frame.time_s / slowed)
        .collect()
}

//! What may be so of a clip before it is measured, as plain values: which marks are there and where they were laid (the
//! sheet), and at which times its frames were taken (the track's times, and whether they are believed). A hypothesis is
//! scored by one trial: a first analysis with the row time that such sensors usually have. What the trial contradicts
//! gives way to the next hypothesis; the last one is measured, once.

use super::clock::file_fps;
use super::doubt::{Instead, doubt};
use super::kit::{plan_contradicted, without_plan};
use super::{Clock, Observed, Outline, Spent};
use crate::analysis::{Analysis, AnalysisReason, ClockDoubt, analyse};
use crate::camera::{View, ViewSource, locate, off_by_left, relocate};
use crate::motion::settle_readout;
use crate::priors::{Believed, Prior, Priors, marks_named};
use crate::sheet::RunSheet;
use crate::sighting::Sightings;
use crate::texts::Note;
use crate::track::{Track, TrackNote, follow};

/// What is held to be so of a clip.
#[derive(Debug)]
pub(super) struct Hypothesis {
    /// The marks, and where they lie.
    pub(super) sheet: RunSheet,
    /// The marks followed, at the times that are held to be the run's.
    pub(super) track: Track,
    /// Where those times come from.
    pub(super) clock: Clock,
    /// Why they cannot be believed.
    pub(super) doubt: Option<ClockDoubt>,
    /// Why the kit's plan was given up.
    pub(super) no_plan: Option<Note>,
}

/// A hypothesis and what a first analysis makes of it.
#[derive(Debug)]
pub(super) struct Trial {
    of: Hypothesis,
    priors: Priors,
    view: View,
    analysis: Result<Analysis, AnalysisReason>,
}

impl Hypothesis {
    /// Scores it.
    pub(super) fn tried(self) -> Trial {
        let (priors, view) = self.seen_by();
        let analysis = if self.track.notes.contains(&TrackNote::StickerStill) {
            Err(AnalysisReason::StickerStill)
        } else {
            analyse(&self.track, view.clone(), &priors, None)
        };
        Trial {
            of: self,
            priors,
            view,
            analysis,
        }
    }

    /// What is known before the motion is, and how the floor is seen by that. Floor marks that do not lie where the
    /// sheet has them are held to be as uncertain as they show.
    fn seen_by(&self) -> (Priors, View) {
        let mut priors = priors_at(&self.sheet, &self.track);
        if self.doubt.is_some() {
            priors.clock = Believed::No;
        }
        let mut view = locate(&self.track, &priors.camera_sheet());
        if let Some(mark_sd_m) = misfit_m(&view, &priors) {
            priors.mark_sd_m = mark_sd_m;
            view = relocate(&self.track, &priors.camera_sheet(), &view);
            let misfit = Note::new("assumed-misfit").number("mm", 1000.0 * mark_sd_m, 0);
            priors.assumed.push(misfit);
        }
        priors.assumed.extend(self.no_plan.clone());
        (priors, view)
    }
}

impl Trial {
    /// This, or the trial without the kit's floor plan where the coasting wheel says that it was not laid in its size.
    pub(super) fn or_without_plan(self, seen: &Sightings) -> Self {
        let best = self.analysis.as_ref().ok();
        let contradicted =
            best.and_then(|best| plan_contradicted(&self.priors, &self.of.track, best));
        let Some(why) = contradicted else {
            return self;
        };
        let Hypothesis { sheet, track, .. } = self.of;
        let sheet = without_plan(&sheet);
        let again = follow(seen, track.times_s.clone(), &marks_named(&sheet));
        Hypothesis {
            sheet,
            track: again.unwrap_or(track),
            no_plan: Some(why),
            ..self.of
        }
        .tried()
    }

    /// This, or where no car is as slow as this one by the clip's clock, the trial in the times that would make it an
    /// ordinary one. Slip and path do not depend on the times, but limits of speed and time within the stages do. A car
    /// that is too quick may have wrong sizes as well: nothing is left to find.
    pub(super) fn or_clock_doubted(self, observed: &Observed) -> Self {
        let named = (self.of.sheet.camera.capture_fps).or(observed.clip.capture_fps);
        let best = self.analysis.as_ref().ok();
        let fps = file_fps(&observed.seen);
        let Some((doubt, instead)) = best
            .zip(fps)
            .and_then(|(best, fps)| doubt(best, fps, named.is_some()))
        else {
            return self;
        };
        let of = Hypothesis {
            doubt: Some(doubt),
            ..self.of
        };
        match instead {
            Instead::Nothing(quick) => Self {
                of,
                analysis: Err(AnalysisReason::TooQuick(quick)),
                ..self
            },
            Instead::Slowed(slowing) => {
                let times_s = of.track.times_s.iter().map(|time_s| time_s / slowing);
                let track = Track {
                    times_s: times_s.collect(),
                    ..of.track
                };
                Hypothesis { track, ..of }.tried()
            }
        }
    }

    /// The measurement by this hypothesis, with the sensor's row time that the clip shows. Where the sheet gives it,
    /// the trial was the measurement.
    pub(super) fn measured(self) -> Outline {
        let Self {
            of,
            mut priors,
            mut view,
            analysis,
        } = self;
        let analysis = match analysis {
            Ok(first) if !priors.readout_given => {
                let (value, sd) = settle_readout(
                    &of.track,
                    &view,
                    &priors.camera_sheet(),
                    &priors.car_geometry(),
                    &first.motion,
                    (priors.readout_s.value, priors.readout_s.sd),
                );
                priors.readout_s = Prior { value, sd };
                view = relocate(&of.track, &priors.camera_sheet(), &view);
                analyse(&of.track, view.clone(), &priors, None)
            }
            other => other,
        };
        Outline {
            sheet: of.sheet,
            clock: of.clock,
            doubt: of.doubt,
            track: of.track,
            priors,
            view,
            analysis,
            spent: Spent::default(),
        }
    }
}

/// What the sheet says, with what the frames' times bound.
pub(super) fn priors_at(sheet: &RunSheet, track: &Track) -> Priors {
    let priors = Priors::from_sheet(sheet);
    match crate::noise::median_step_s(&track.times_s) {
        Some(interval_s) => priors.at_interval(interval_s),
        None => priors,
    }
}

/// Floor marks that fit worse than this many of their standard uncertainties are not where the sheet has them.
const MISFIT: f64 = 3.0;

/// Standard uncertainty that the marks' places must have for the camera to fit as it does, m (Birge ratio,
/// R. T. Birge, Phys. Rev. 40, 207, 1932); `None` where they fit as well as a tape measures.
fn misfit_m(view: &View, priors: &Priors) -> Option<f64> {
    let ViewSource::FloorMarks { marks, .. } = view.source else {
        return None;
    };
    let residual_m = view.mark_residual_m(&priors.marks)?;
    (residual_m > MISFIT * priors.mark_sd_m).then_some(residual_m * off_by_left(marks))
}

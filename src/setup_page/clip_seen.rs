//! One clip as the page knows it: its frames, what may be marks in it, and what follows from a sheet.

use super::frames::FrameStore;
use super::patches::{Patch, look_for_all, patches};
use super::proposal::{Proposal, propose};
use super::tasks::{Progress, Task, Told};
use crate::colour::Colour;
use crate::pipeline::{Observed, Outline, RunError, marks_wanted, observe_clip, outline};
use crate::sheet::RunSheet;
use crate::track::MarksWanted;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// What a first observation at the clip gave.
#[derive(Debug)]
pub(super) struct FirstLook {
    /// The clip, and what was seen in it.
    pub(super) observed: Observed,
    /// What may be marks.
    pub(super) patches: Vec<Patch>,
    /// What they probably are.
    pub(super) proposal: Proposal,
}

/// One clip of the run.
pub(super) struct ClipSeen {
    pub(super) path: PathBuf,
    frames: Mutex<FrameStore>,
    pub(super) first: Task<FirstLook>,
    /// The observation with the colours of the sheet, as measuring takes it.
    observation: Mutex<Option<Sought>>,
    /// The last sheet worked out.
    worked_out: Mutex<Option<(RunSheet, Arc<Outline>)>>,
}

/// A look for certain colours.
struct Sought {
    colours: Vec<Colour>,
    task: Task<Observed>,
}

/// How a look for the sheet's colours stands.
pub(super) enum Follow {
    /// It is being taken.
    Waiting(Progress),
    /// It gave this.
    Ready(Arc<Outline>),
    /// It failed.
    Failed(Told),
}

pub(super) fn locked<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    // What a thread left behind that panicked is still the best that there is.
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

impl ClipSeen {
    pub(super) fn new(path: &Path) -> Self {
        Self {
            path: path.to_path_buf(),
            frames: Mutex::new(FrameStore::new(path)),
            first: Task::default(),
            observation: Mutex::new(None),
            worked_out: Mutex::new(None),
        }
    }

    /// Begins the first observation in a thread of its own.
    pub(super) fn begin(&self) {
        let path = self.path.clone();
        self.first.start(move |progress| {
            let observed =
                look_for_all(&path, progress).map_err(|error| Told::new(&error, error.hint()))?;
            let found = patches(&observed.seen);
            let (patches, proposal) = propose(&observed, found);
            Ok(FirstLook {
                observed,
                patches,
                proposal,
            })
        });
    }

    /// A frame as JPEG.
    pub(super) fn frame(&self, number: u32) -> Result<Option<Arc<[u8]>>, Told> {
        locked(&self.frames)
            .frame(number)
            .map_err(|error| Told::new(&error, error.hint()))
    }

    /// Works out what follows from a sheet; begins the look for its colours where that was not taken yet.
    pub(super) fn follow(&self, sheet: &RunSheet) -> Follow {
        if let Some((last, outline)) = &*locked(&self.worked_out)
            && last == sheet
        {
            return Follow::Ready(Arc::clone(outline));
        }
        let task = self.look_for(&marks_wanted(sheet));
        if let Some(told) = task.failed() {
            return Follow::Failed(told);
        }
        let Some(observed) = task.done() else {
            return Follow::Waiting(task.progress());
        };
        match outline(&self.path, &observed, sheet) {
            Ok(outline) => {
                let outline = Arc::new(outline);
                *locked(&self.worked_out) = Some((sheet.clone(), Arc::clone(&outline)));
                Follow::Ready(outline)
            }
            Err(error) => Follow::Failed(told_run(&error)),
        }
    }

    /// Begins the look for the colours of a sheet, unless it is under way or was taken.
    pub(super) fn look_for(&self, wanted: &MarksWanted) -> Task<Observed> {
        let mut colours: Vec<Colour> = vec![wanted.sticker];
        colours.extend(
            wanted
                .wheel
                .iter()
                .chain(&wanted.more_wheel)
                .chain(&wanted.axle)
                .chain(&wanted.floor),
        );
        let mut observation = locked(&self.observation);
        if let Some(sought) = &*observation
            && sought.colours == colours
            && !sought.task.failed().is_some_and(|told| told.passing)
        {
            return sought.task.clone();
        }
        let task = Task::default();
        *observation = Some(Sought {
            colours,
            task: task.clone(),
        });
        let (clip, wanted) = (self.path.clone(), wanted.clone());
        task.start(move |progress| {
            observe_clip(&clip, &wanted, progress).map_err(|error| told_run(&error))
        });
        task
    }
}

/// An error of a run, with a hint for someone who has the page before them.
pub(super) fn told_run(error: &RunError) -> Told {
    let hint = match error {
        RunError::NoSticker { .. } | RunError::SeveralCars { .. } => {
            "say which patch is the sticker: choose it in the picture, or point at it in a frame that shows it well"
        }
        RunError::TooManyColours { .. } => {
            "leave the axle mark out, or use one colour for all floor marks"
        }
        other => other.hint(),
    };
    let passing = matches!(error, RunError::Clip(_));
    Told {
        passing,
        ..Told::new(error, hint)
    }
}

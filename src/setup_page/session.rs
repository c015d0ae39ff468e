//! What the page and the tool know together while the page is open.

use super::checking::{Checked, check};
use super::draft::Draft;
use super::frames::FrameStore;
use super::patches::{Patch, look_for_all, patches};
use super::pointing::without_needless;
use super::preview::{Preview, preview};
use super::proposal::{Proposal, propose};
use super::storing::{self, StoreError};
use super::tasks::{Progress, Task, Told};
use super::writing::{WriteSheetError, sheet_text};
use crate::colour::Colour;
use crate::outputs::overlay::Pace;
use crate::outputs::{Paper, result_folder};
use crate::pipeline::{MakeError, Stage, Ways, make_result};
use crate::pipeline::{Observed, Outline, RunError, marks_wanted, observe_clip, outline};
use crate::sheet::RunSheet;
use crate::texts::Language;
use crate::track::MarksWanted;
use crate::uncertainty::DEFAULT_DRAWS;
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

/// One set-up of one clip.
pub(super) struct Session {
    pub(super) clip: PathBuf,
    pub(super) sheet: PathBuf,
    pub(super) out: PathBuf,
    frames: Mutex<FrameStore>,
    /// The sheet as the page knows it from disk.
    base: Mutex<Option<String>>,
    pub(super) first: Task<FirstLook>,
    /// The observation with the colours of the sheet, as measuring takes it.
    observation: Mutex<Option<Sought>>,
    /// The last sheet worked out.
    worked_out: Mutex<Option<(RunSheet, Arc<Outline>)>>,
    pub(super) measuring: Task<String>,
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

/// What came of saving.
pub(super) enum Saved {
    /// The sheet was written.
    Written {
        /// Its text.
        text: String,
    },
    /// It changed on disk; nothing was written.
    Changed {
        /// What is on disk now.
        disk: Option<String>,
        /// What would be written over it.
        would_be: String,
    },
    /// It is not complete; nothing was written.
    Incomplete(Box<Checked>),
}

fn locked<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    // What a thread left behind that panicked is still the best that there is.
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

impl Session {
    pub(super) fn new(clip: &Path, sheet: &Path, out: &Path, base: Option<String>) -> Self {
        Self {
            clip: clip.to_path_buf(),
            sheet: sheet.to_path_buf(),
            out: out.to_path_buf(),
            frames: Mutex::new(FrameStore::new(clip)),
            base: Mutex::new(base),
            first: Task::default(),
            observation: Mutex::new(None),
            worked_out: Mutex::new(None),
            measuring: Task::default(),
        }
    }

    /// Begins the first observation in a thread of its own.
    pub(super) fn begin(self: &Arc<Self>) {
        let session = Arc::clone(self);
        self.first.start(move |progress| {
            let observed = look_for_all(&session.clip, progress)
                .map_err(|error| Told::new(&error, error.hint()))?;
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

    /// The sheet as the page knows it from disk.
    pub(super) fn base(&self) -> Option<String> {
        locked(&self.base).clone()
    }

    /// What the page begins with: the sheet on disk, else the proposal.
    pub(super) fn first_draft(&self) -> Result<Draft, WriteSheetError> {
        match (self.base(), self.first.done()) {
            (Some(text), _) => Draft::read(&text).map(Draft::with_kit_colours),
            (None, Some(first)) => Ok(first.proposal.draft.clone()),
            (None, None) => Ok(Draft::default()),
        }
    }

    /// Reads the sheet again.
    pub(super) fn reload(&self) -> Result<Draft, Told> {
        let text = storing::read(&self.sheet).map_err(|error| Told::new(&error, error.hint()))?;
        let draft = text.as_deref().map_or(Ok(Draft::default()), Draft::read);
        let draft =
            draft.map_err(|error| Told::new(&error, "correct the sheet in a text editor first"))?;
        *locked(&self.base) = text;
        Ok(draft.with_kit_colours())
    }

    /// Holds a draft against the rules of the sheet.
    pub(super) fn check(&self, draft: &Draft) -> Result<Checked, WriteSheetError> {
        check(self.base().as_deref(), draft, &self.sheet)
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
        match outline(&self.clip, &observed, sheet) {
            Ok(outline) => {
                let outline = Arc::new(outline);
                *locked(&self.worked_out) = Some((sheet.clone(), Arc::clone(&outline)));
                Follow::Ready(outline)
            }
            Err(error) => Follow::Failed(told_run(&error)),
        }
    }

    fn look_for(&self, wanted: &MarksWanted) -> Task<Observed> {
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
        let (clip, wanted) = (self.clip.clone(), wanted.clone());
        task.start(move |progress| {
            observe_clip(&clip, &wanted, progress).map_err(|error| told_run(&error))
        });
        task
    }

    /// What the page shows of a worked-out sheet.
    pub(super) fn preview(
        &self,
        outline: &Outline,
        checked: &Checked,
        frame: usize,
    ) -> Option<Preview> {
        let sheet = checked.sheet.as_ref()?;
        let first = self.first.done();
        let patches = first.as_ref().map_or(&[][..], |first| &first.patches);
        Some(preview(outline, sheet, &checked.rows, patches, frame))
    }

    /// Writes the sheet, unless it is not complete, or has changed on disk since the page read it. `over` is
    /// the key of the changed text that the user saw and wants the page's fields written into.
    pub(super) fn save(&self, draft: &Draft, over: Option<&str>) -> Result<Saved, SaveError> {
        let mut base = locked(&self.base);
        let checked = check(base.as_deref(), draft, &self.sheet)?;
        let whole = checked.faults.is_empty() && checked.rows.len() == draft.floor_marks.len();
        let Some(sheet) = checked.sheet.as_ref().filter(|_| whole) else {
            return Ok(Saved::Incomplete(Box::new(checked)));
        };
        let observed = self.look_for(&marks_wanted(sheet)).done();
        let work_out = |sheet: &RunSheet| outline(&self.clip, observed.as_deref()?, sheet).ok();
        let draft = without_needless(base.as_deref(), draft, &self.sheet, &work_out)?;
        let disk = storing::read(&self.sheet)?;
        let seen = over.is_some_and(|key| key == storing::key_of(disk.as_deref()));
        let text = sheet_text(disk.as_deref(), &draft)?.text;
        if disk != *base && !seen {
            return Ok(Saved::Changed {
                disk,
                would_be: text,
            });
        }
        storing::write(&self.sheet, &text, disk.as_deref())?;
        *base = Some(text.clone());
        Ok(Saved::Written { text })
    }

    /// Folder of the clip's results.
    pub(super) fn results(&self) -> Option<PathBuf> {
        result_folder(&self.out, &self.clip).ok()
    }

    /// Begins to measure by the sheet on disk; `replace` lets an earlier result go.
    pub(super) fn measure(self: &Arc<Self>, replace: bool) {
        let session = Arc::clone(self);
        self.measuring.start(move |progress| {
            let sheet =
                RunSheet::read(&session.sheet).map_err(|error| Told::new(&error, &error.hint()))?;
            let ways = Ways {
                language: Language::English,
                end_view: None,
                sheets: std::slice::from_ref(&session.sheet),
                replace,
                draws: DEFAULT_DRAWS,
                report: true,
                overlay: Some(Pace::Full),
                poster: Some(Paper::A4),
            };
            let staged = |stage: Stage, done: u64, expected: Option<u64>| {
                // Two passes over the clip, shown as one.
                let second = expected
                    .filter(|_| stage == Stage::Drawing)
                    .unwrap_or_default();
                progress(done + second, expected.map(|frames| 2 * frames));
            };
            match make_result(&session.clip, &sheet, &session.out, &ways, &staged) {
                Ok(written) => Ok(written.words),
                Err(MakeError::Run(error)) => Err(told_run(&error)),
                Err(error) => Err(Told::new(&error, error.hint())),
            }
        });
    }
}

/// Why a sheet was not saved.
#[derive(Debug, thiserror::Error)]
pub(super) enum SaveError {
    #[error(transparent)]
    Text(#[from] WriteSheetError),
    #[error(transparent)]
    Store(#[from] StoreError),
}

impl SaveError {
    pub(super) const fn hint(&self) -> &'static str {
        match self {
            Self::Text(_) => "correct the sheet in a text editor, then read it again here",
            Self::Store(error) => error.hint(),
        }
    }
}

/// An error of a run, with a hint for someone who has the page before them.
fn told_run(error: &RunError) -> Told {
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

//! What the page and the tool know together while the page is open.

use super::SetUp;
use super::checking::{Checked, check};
use super::clip_seen::{ClipSeen, locked, told_run};
use super::draft::Draft;
use super::pointing::without_needless;
use super::preview::{Preview, preview};
use super::storing::{self, StoreError};
use super::tasks::{Task, Told};
use super::writing::{WriteSheetError, sheet_text};
use crate::outputs::overlay::Pace;
use crate::outputs::{Paper, result_folder};
use crate::pipeline::{MakeError, Stage, Ways, make_result};
use crate::pipeline::{Outline, marks_wanted, outline};
use crate::sheet::RunSheet;
use crate::texts::Language;
use crate::uncertainty::DEFAULT_DRAWS;
use std::path::PathBuf;
use std::sync::{Arc, Mutex};

/// One set-up of one run.
pub(super) struct Session {
    /// The clip that is set up.
    pub(super) side: ClipSeen,
    /// The second phone's clip of the same run.
    pub(super) end: Option<ClipSeen>,
    pub(super) sheet: PathBuf,
    pub(super) out: PathBuf,
    /// The sheet as the page knows it from disk.
    base: Mutex<Option<String>>,
    pub(super) measuring: Task<String>,
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

impl Session {
    pub(super) fn new(what: &SetUp, base: Option<String>) -> Self {
        Self {
            side: ClipSeen::new(&what.clip),
            end: what.end_clip.as_deref().map(ClipSeen::new),
            sheet: what.sheet.clone(),
            out: what.out.clone(),
            base: Mutex::new(base),
            measuring: Task::default(),
        }
    }

    /// Begins to look through the clips, each in a thread of its own.
    pub(super) fn begin(&self) {
        self.side.begin();
        if let Some(end) = &self.end {
            end.begin();
        }
    }

    /// The sheet as the page knows it from disk.
    pub(super) fn base(&self) -> Option<String> {
        locked(&self.base).clone()
    }

    /// What the page begins with: the sheet on disk, else the proposal.
    pub(super) fn first_draft(&self) -> Result<Draft, WriteSheetError> {
        match (self.base(), self.side.first.done()) {
            (Some(text), _) => Draft::read(&text).map(Draft::with_kit_colours),
            (None, Some(first)) => Ok(self.with_end_sticker(first.proposal.draft.clone())),
            (None, None) => Ok(Draft::default()),
        }
    }

    /// A draft with the colour of the sticker that most likely faces the second phone.
    fn with_end_sticker(&self, mut draft: Draft) -> Draft {
        let first = self.end.as_ref().and_then(|end| end.first.done());
        let colour = first.map(|first| first.proposal.draft.sticker.text("colour").to_owned());
        if let Some(colour) = colour.filter(|colour| !colour.is_empty()) {
            draft.end_view = draft.end_view.with("colour", colour);
        }
        draft
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

    /// What the page shows of a worked-out sheet.
    pub(super) fn preview(
        &self,
        outline: &Outline,
        checked: &Checked,
        frame: usize,
    ) -> Option<Preview> {
        let sheet = checked.sheet.as_ref()?;
        let first = self.side.first.done();
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
        let observed = self.side.look_for(&marks_wanted(sheet)).done();
        let work_out =
            |sheet: &RunSheet| outline(&self.side.path, observed.as_deref()?, sheet).ok();
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
        result_folder(&self.out, &self.side.path).ok()
    }

    /// Begins to measure by the sheet on disk; `replace` lets an earlier result go.
    pub(super) fn measure(self: &Arc<Self>, replace: bool) {
        let session = Arc::clone(self);
        self.measuring.start(move |progress| {
            let sheet =
                RunSheet::read(&session.sheet).map_err(|error| Told::new(&error, &error.hint()))?;
            let ways = Ways {
                language: Language::English,
                end_view: session.end.as_ref().map(|end| end.path.as_path()),
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
            match make_result(&session.side.path, &sheet, &session.out, &ways, &staged) {
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

//! Work that takes a while, in a thread of its own, with its progress.

use serde::Serialize;
use std::fmt::Display;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// A failure in words.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(super) struct Told {
    /// What went wrong.
    pub(super) says: String,
    /// What to do next.
    pub(super) hint: String,
    /// Whether trying again may help.
    #[serde(skip)]
    pub(super) passing: bool,
}

impl Told {
    pub(super) fn new(error: &dyn Display, hint: &str) -> Self {
        Self {
            says: error.to_string(),
            hint: hint.to_owned(),
            passing: true,
        }
    }
}

/// How far work is: steps done, and expected where that is known.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize)]
pub(super) struct Progress {
    pub(super) done: u64,
    pub(super) expected: Option<u64>,
}

enum State<T> {
    Idle,
    Running(Progress),
    Done(Arc<T>),
    Failed(Told),
}

/// A piece of work and what came of it; copies speak of the same work.
pub(super) struct Task<T>(Arc<Mutex<State<T>>>);

impl<T> Clone for Task<T> {
    fn clone(&self) -> Self {
        Self(Arc::clone(&self.0))
    }
}

impl<T> Default for Task<T> {
    fn default() -> Self {
        Self(Arc::new(Mutex::new(State::Idle)))
    }
}

/// What the page is told of a task.
#[derive(Debug, Serialize)]
pub(super) struct Standing {
    /// `idle`, `running`, `done` or `failed`.
    pub(super) state: &'static str,
    #[serde(flatten)]
    pub(super) progress: Progress,
    #[serde(flatten)]
    pub(super) told: Option<Told>,
}

impl<T: Send + Sync + 'static> Task<T> {
    fn state(&self) -> MutexGuard<'_, State<T>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Starts the work in a thread of its own, unless it is under way. The work is handed a function to
    /// tell its progress to.
    pub(super) fn start(
        &self,
        work: impl FnOnce(&dyn Fn(u64, Option<u64>)) -> Result<T, Told> + Send + 'static,
    ) {
        {
            let mut state = self.state();
            if matches!(*state, State::Running(_)) {
                return;
            }
            *state = State::Running(Progress::default());
        }
        let task = self.clone();
        std::thread::spawn(move || {
            let guard = FailsWhenDropped(task.clone());
            let progress = |done: u64, expected: Option<u64>| {
                *task.state() = State::Running(Progress { done, expected });
            };
            let result = work(&progress);
            *task.state() = match result {
                Ok(value) => State::Done(Arc::new(value)),
                Err(told) => State::Failed(told),
            };
            drop(guard);
        });
    }

    /// What it gave, once it is done.
    pub(super) fn done(&self) -> Option<Arc<T>> {
        match &*self.state() {
            State::Done(value) => Some(Arc::clone(value)),
            _ => None,
        }
    }

    /// Why it failed, where it did.
    pub(super) fn failed(&self) -> Option<Told> {
        match &*self.state() {
            State::Failed(told) => Some(told.clone()),
            _ => None,
        }
    }

    /// How far it is.
    pub(super) fn progress(&self) -> Progress {
        match &*self.state() {
            State::Running(progress) => *progress,
            _ => Progress::default(),
        }
    }

    /// What the page is told.
    pub(super) fn standing(&self) -> Standing {
        let (state, progress, told) = match &*self.state() {
            State::Idle => ("idle", Progress::default(), None),
            State::Running(progress) => ("running", *progress, None),
            State::Done(_) => ("done", Progress::default(), None),
            State::Failed(told) => ("failed", Progress::default(), Some(told.clone())),
        };
        Standing {
            state,
            progress,
            told,
        }
    }
}

/// Work that ends without a word has failed: the page must not wait for it for ever.
struct FailsWhenDropped<T: Send + Sync + 'static>(Task<T>);

impl<T: Send + Sync + 'static> Drop for FailsWhenDropped<T> {
    fn drop(&mut self) {
        let mut state = self.0.state();
        if matches!(*state, State::Running(_)) {
            *state = State::Failed(Told::new(
                &"the work stopped half-way",
                "this is a fault of the tool: please report it with the clip and the run sheet",
            ));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn wait(task: &Task<u32>) -> Standing {
        loop {
            let standing = task.standing();
            if standing.state != "running" {
                return standing;
            }
            std::thread::yield_now();
        }
    }

    #[test]
    fn work_is_done_or_says_why_not() {
        let task = Task::default();
        assert_eq!(task.standing().state, "idle");
        task.start(|progress| {
            progress(1, Some(2));
            Ok(7)
        });
        assert_eq!(wait(&task).state, "done");
        assert_eq!(task.done().as_deref(), Some(&7));
        task.start(|_| Err(Told::new(&"no", "try")));
        assert_eq!(
            wait(&task).told.map(|told| told.says).as_deref(),
            Some("no")
        );
    }

    #[test]
    fn work_that_panics_is_told_as_failed() {
        let task: Task<u32> = Task::default();
        task.start(|_| panic!("a test's own panic"));
        assert_eq!(wait(&task).state, "failed");
    }
}

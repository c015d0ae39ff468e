//! Encoding in a thread of its own, so that the next picture is drawn meanwhile.

use crate::clip::{ClipWriter, Upright420, WriteClipError};
use std::path::{Path, PathBuf};
use std::sync::mpsc::{SyncSender, sync_channel};
use std::thread::JoinHandle;

/// Pictures that may wait for the encoder.
const QUEUE: usize = 2;

/// What the thread gives back: the writer, and the last picture that it wrote.
type Printed = Result<(ClipWriter, Option<Upright420>), WriteClipError>;

/// Encodes pictures in the order in which they come.
pub(super) struct Press {
    path: PathBuf,
    /// Both are `None` once the thread was asked for its outcome.
    waiting: Option<SyncSender<(Upright420, i64)>>,
    thread: Option<JoinHandle<Printed>>,
}

impl Press {
    /// Starts to wait for pictures of the clip at `path`.
    pub(super) fn start(path: &Path, mut writer: ClipWriter) -> Self {
        let (send, receive) = sync_channel::<(Upright420, i64)>(QUEUE);
        let thread = std::thread::spawn(move || {
            let mut last = None;
            for (picture, pts_ticks) in receive {
                writer.write(&picture, pts_ticks)?;
                last = Some(picture);
            }
            Ok((writer, last))
        });
        Self {
            path: path.to_path_buf(),
            waiting: Some(send),
            thread: Some(thread),
        }
    }

    /// Hands on a picture with the source's timestamp; waits where the encoder is behind.
    ///
    /// # Errors
    /// Why an earlier one could not be encoded.
    pub(super) fn take(
        &mut self,
        picture: Upright420,
        pts_ticks: i64,
    ) -> Result<(), WriteClipError> {
        let waiting = self.waiting.as_ref();
        if waiting.is_some_and(|send| send.send((picture, pts_ticks)).is_ok()) {
            return Ok(());
        }
        // The thread ended before its time, and says why.
        self.outcome().map(|_| ())
    }

    /// Waits until every picture is encoded.
    ///
    /// # Errors
    /// Why one could not be.
    pub(super) fn stop(mut self) -> Printed {
        self.outcome()
    }

    fn outcome(&mut self) -> Printed {
        self.waiting = None;
        let printed = self.thread.take().and_then(|thread| thread.join().ok());
        printed.unwrap_or_else(|| {
            Err(WriteClipError::Failed {
                path: self.path.clone(),
                doing: "encoding",
                detail: "it broke off".to_owned(),
            })
        })
    }
}

/// A folder that is given up must not be written into any more.
impl Drop for Press {
    fn drop(&mut self) {
        self.waiting = None;
        if let Some(thread) = self.thread.take() {
            // However it ended, it is given up.
            drop(thread.join());
        }
    }
}

//! Frames of the clip as JPEG, on request and in bounded memory.

use crate::clip::{Clip, ClipError};
use crate::outputs::film::whole_frame_jpeg;
use std::collections::VecDeque;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Frames are sent no wider or higher than this, px.
const MOST_PX: u32 = 1920;
/// Pictures kept, bytes in all.
const MOST_BYTES: usize = 48 * 1024 * 1024;
/// Frames before the one asked for that are kept too: people step back. A decoder only goes forward.
const KEPT_BEFORE: u32 = 5;

/// The frames of one clip.
pub(super) struct FrameStore {
    path: PathBuf,
    /// An opened clip, and the number of the frame that it gives next.
    open: Option<(Clip, u32)>,
    kept: VecDeque<(u32, Arc<[u8]>)>,
    bytes: usize,
}

impl FrameStore {
    pub(super) fn new(path: &Path) -> Self {
        Self {
            path: path.to_path_buf(),
            open: None,
            kept: VecDeque::new(),
            bytes: 0,
        }
    }

    /// A frame by its number; `None` where the clip has no such frame.
    ///
    /// # Errors
    /// What is wrong with the clip.
    pub(super) fn frame(&mut self, number: u32) -> Result<Option<Arc<[u8]>>, ClipError> {
        if let Some((_, jpeg)) = self.kept.iter().find(|(kept, _)| *kept == number) {
            return Ok(Some(Arc::clone(jpeg)));
        }
        let (mut clip, mut next) = match self.open.take() {
            Some((clip, next)) if next <= number => (clip, next),
            _ => (Clip::open(&self.path)?, 0),
        };
        while let Some(frame) = clip.next_frame()? {
            next = frame.index + 1;
            if frame.index + KEPT_BEFORE < number {
                continue;
            }
            if self.kept.iter().all(|(kept, _)| *kept != frame.index)
                && let Some((_, jpeg)) = whole_frame_jpeg(&frame.picture, MOST_PX)
            {
                self.keep(frame.index, jpeg.into());
            }
            if frame.index >= number {
                break;
            }
        }
        self.open = Some((clip, next));
        let found = self.kept.iter().find(|(kept, _)| *kept == number);
        Ok(found.map(|(_, jpeg)| Arc::clone(jpeg)))
    }

    fn keep(&mut self, number: u32, jpeg: Arc<[u8]>) {
        self.bytes += jpeg.len();
        self.kept.push_back((number, jpeg));
        while self.bytes > MOST_BYTES && self.kept.len() > 1 {
            if let Some((_, gone)) = self.kept.pop_front() {
                self.bytes -= gone.len();
            }
        }
    }
}

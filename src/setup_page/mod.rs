//! The set-up page: from a clip to a run sheet, in a browser on this computer.
//!
//! | part | what it does |
//! |---|---|
//! | `patches`, `proposal` | what the tool finds in the clip by itself, and what it probably is |
//! | `draft`, `checking`, `writing`, `comments` | what was typed; is it a run sheet; its text, with all else kept |
//! | `numbering`, `spot` | what floor marks are called; which spot of the floor a place in the picture is |
//! | `preview`, `drawing`, `missing`, `pointing` | what follows from it, by the stages that measuring uses |
//! | `frames`, `tasks`, `clip_seen` | pictures, work that takes a while, and one clip with what was seen in it |
//! | `storing`, `session`, `end_view` | the file, all of it together, and the second phone's clip |
//! | `gate`, `http`, `answers`, `page` | who may talk to the page, its addresses, its files |
//!
//! Nothing here measures or places anything by itself: the numbers come from `run`, the camera from
//! `camera`, and the rules of the sheet from `sheet`.
//!
//! # How it keeps its promises
//!
//! - It computes nothing of its own. A first pass (`patches.rs`) seeks all eight colours in one decode, with two
//!   finders; `proposal.rs` tries `follow` on the likely pairs of colours. From then on each draft becomes the text
//!   of a sheet, that text goes through `RunSheet::parse`, and the sheet through `observe_clip` (kept while the
//!   colours stay the same) and `outline` of `pipeline/mod.rs`: what the page shows is what measuring will find.
//!   Lines over the picture are points of the floor and the wheel, put there by the view's own projection.
//! - Faults have one source. `checking.rs` parses the written text, turns the error's line into a field of the
//!   page, takes that field out and parses again, until all faults are known. The rest of the sheet goes on to be
//!   previewed.
//! - The sheet on disk is someone's. `writing.rs` sets only keys that differ, in place; comments of what was taken
//!   out are put at the end. `storing.rs` writes beside the file and renames. Before that it compares the file with
//!   what was read: where it differs, nothing is written until the user has seen both texts, and then the page's
//!   fields go into the *new* text.
//! - Nothing is held against a size that nobody typed: where the hub should be is said, and its rings are drawn, only
//!   once all three sizes that put it there are typed.
//! - Places in the picture (`at_px`) make a sheet fit one clip only. `pointing.rs` follows the clip with and
//!   without them, and keeps only those that change what is found.
//! - Who may ask (`gate.rs`). The server is bound to 127.0.0.1, to a port that the system picks. The address's
//!   secret (32 bytes from the system) works once and is exchanged for a cookie (`HttpOnly`, `SameSite=Strict`).
//!   The `Host` header must be the server's own, against names that someone else points at 127.0.0.1; whatever
//!   changes something must have its own `Origin`. Bodies end at 256 kB. No path is ever made from a request. The
//!   report runs in a sandbox without the session.
//! - Frames are decoded on request, forward only, and at most 48 MB of JPEGs are kept, with a few before the one
//!   asked for.
//! - The page is plain HTML, CSS and modules in `page/`; `state.js` holds the draft, tells the others what
//!   changed; `history.js` takes every change back and does it again. Texts from users are never read as HTML. It shares `src/outputs/report/colours.css` with the report.

mod answers;
mod checking;
mod clip_seen;
mod comments;
mod draft;
mod drawing;
mod end_view;
mod floor_seen;
mod frames;
mod gate;
mod http;
mod missing;
mod numbering;
mod page;
mod patches;
mod pointing;
mod preview;
mod proposal;
mod session;
mod spot;
mod storing;
mod tasks;
mod writing;

pub use checking::{Checked, Fault, check};
pub use draft::{At, Draft, Part, Texts};
pub(crate) use gate::{Gate, guard, same, secret, set_headers};
pub use storing::StoreError;
pub use writing::{NoNumber, SheetText, WriteSheetError, sheet_text};

use crate::clip::{Clip, ClipError};
use crate::sheet::{RunSheet, SheetError};
use session::Session;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;
use tokio::net::TcpListener;
use tokio::sync::Notify;

/// What to set up.
#[derive(Debug, Clone)]
pub struct SetUp {
    /// The clip.
    pub clip: PathBuf,
    /// A second phone's clip of the same run.
    pub end_clip: Option<PathBuf>,
    /// The sheet that is written; it may be there already.
    pub sheet: PathBuf,
    /// Folder for results, one folder in it for each clip.
    pub out: PathBuf,
}

/// Why the page cannot be shown.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum SetUpError {
    /// The clip cannot be read.
    #[error(transparent)]
    Clip(#[from] ClipError),
    /// The sheet cannot be read.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// The sheet is there and no run sheet can be made of it.
    #[error(transparent)]
    Sheet(#[from] SheetError),
    /// The sheet is there and cannot be changed piece by piece.
    #[error("the sheet `{path}` cannot be changed: {source}")]
    Text {
        /// The sheet.
        path: PathBuf,
        /// What is wrong with it.
        source: WriteSheetError,
    },
    /// No server can be started.
    #[error("the page cannot be served: {0}")]
    Server(#[from] std::io::Error),
}

impl SetUpError {
    /// What to do next.
    pub fn hint(&self) -> String {
        match self {
            Self::Clip(error) => error.hint().into(),
            Self::Store(error) => error.hint().into(),
            Self::Sheet(error) => error.hint(),
            Self::Text { .. } => "correct it in a text editor, or name another sheet".into(),
            Self::Server(_) => {
                "see that programs on this computer may open a port on 127.0.0.1".into()
            }
        }
    }
}

/// How long answers that are under way may take once the page is done.
const LAST_ANSWERS: Duration = Duration::from_secs(1);

/// Serves the page until it says that it is done, or Ctrl-C. `ready` is told the address to open.
///
/// # Errors
/// Why the page cannot be shown; before anything was served.
pub fn serve(what: &SetUp, ready: &dyn Fn(&str)) -> Result<(), SetUpError> {
    // A clip that is none is better said before a browser opens.
    Clip::open(&what.clip)?;
    if let Some(end) = &what.end_clip {
        Clip::open(end)?;
    }
    let base = storing::read(&what.sheet)?;
    if let Some(text) = &base {
        changeable(text, &what.sheet)?;
    }
    let session = Arc::new(Session::new(what, base));
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()?;
    let served = runtime.block_on(listen(session, ready));
    runtime.shutdown_background();
    Ok(served?)
}

/// Whether a sheet's text is TOML; else the error with its line.
fn changeable(text: &str, path: &Path) -> Result<(), SetUpError> {
    let Err(source) = Draft::read(text) else {
        return Ok(());
    };
    RunSheet::parse(text, path)?;
    Err(SetUpError::Text {
        path: path.to_path_buf(),
        source,
    })
}

async fn listen(session: Arc<Session>, ready: &dyn Fn(&str)) -> std::io::Result<()> {
    let listener = TcpListener::bind(("127.0.0.1", 0)).await?;
    let gate = Arc::new(Gate::new(listener.local_addr()?.port())?);
    let done = Arc::new(Notify::new());
    session.begin();
    ready(&gate.address());
    let stopped = Arc::new(Notify::new());
    let (page_done, told) = (Arc::clone(&done), Arc::clone(&stopped));
    let until = async move {
        tokio::select! {
            () = page_done.notified() => {}
            // Where the system has no such signal, the page's own button is left.
            Ok(()) = tokio::signal::ctrl_c() => {}
        }
        told.notify_one();
    };
    let routes = http::routes(session, gate, done);
    tokio::select! {
        served = axum::serve(listener, routes).with_graceful_shutdown(until) => served,
        // A browser keeps its connections open; they do not hold the program up.
        () = async { stopped.notified().await; tokio::time::sleep(LAST_ANSWERS).await } => Ok(()),
    }
}

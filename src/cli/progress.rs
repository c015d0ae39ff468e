//! Progress lines on a terminal, one for each stage; nothing in a pipe.

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

/// A bar for one stage of one clip. It draws nothing where standard error is not a terminal.
pub(super) fn bar(stage: &str, clip: &str) -> ProgressBar {
    let bar = ProgressBar::with_draw_target(None, ProgressDrawTarget::stderr());
    let style = ProgressStyle::with_template("{msg} {bar:30} {pos} of {len} frames")
        .unwrap_or_else(|_| ProgressStyle::default_bar());
    bar.set_style(style);
    bar.set_message(format!("{clip}: {stage:<8}"));
    bar
}

/// Tells a bar how far its stage is.
pub(super) fn step(bar: &ProgressBar, done: u64, expected: Option<u64>) {
    if let Some(expected) = expected {
        bar.set_length(expected.max(done));
    }
    bar.set_position(done);
}

/// A bar that counts clips.
pub(super) fn clips_bar() -> ProgressBar {
    let bar = ProgressBar::with_draw_target(None, ProgressDrawTarget::stderr());
    let style = ProgressStyle::with_template("{bar:30} {pos} of {len} clips done")
        .unwrap_or_else(|_| ProgressStyle::default_bar());
    bar.set_style(style);
    bar
}

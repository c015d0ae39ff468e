//! A progress line on a terminal; nothing in a pipe.

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

/// A bar for one clip. It draws nothing where standard error is not a terminal.
pub(super) fn bar(name: &str) -> ProgressBar {
    let bar = ProgressBar::with_draw_target(None, ProgressDrawTarget::stderr());
    let style = ProgressStyle::with_template("{msg} {bar:30} {pos} of {len} frames")
        .unwrap_or_else(|_| ProgressStyle::default_bar());
    bar.set_style(style);
    bar.set_message(name.to_owned());
    bar
}

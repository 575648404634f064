//! Progress bars on stderr, where it is a terminal.

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use std::io::{IsTerminal, stderr};

/// A bar over `total` sheets; invisible where nobody watches.
pub fn bar(what: &'static str, total: u64) -> ProgressBar {
    let target = if stderr().is_terminal() {
        ProgressDrawTarget::stderr_with_hz(10)
    } else {
        ProgressDrawTarget::hidden()
    };
    let style =
        ProgressStyle::with_template("{msg} {bar:32} {pos} of {len}, {per_sec}, {eta} left")
            .expect("the template is fixed")
            .progress_chars("=> ");
    ProgressBar::with_draw_target(Some(total), target)
        .with_style(style)
        .with_message(what)
}

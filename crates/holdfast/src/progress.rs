//! Progress bars on long steps, where a person is looking.

use std::io::IsTerminal;

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

/// A bar named after its step; silent when standard error is no terminal.
pub struct Bar(ProgressBar);

impl Bar {
    /// Starts a bar.
    pub fn start(step: &'static str) -> Self {
        let target = if std::io::stderr().is_terminal() {
            ProgressDrawTarget::stderr()
        } else {
            ProgressDrawTarget::hidden()
        };
        let bar = ProgressBar::with_draw_target(Some(0), target);
        if let Ok(style) =
            ProgressStyle::with_template("{msg:24} {bar:40} {percent:>3} %  {eta} left")
        {
            bar.set_style(style.progress_chars("#> "));
        }
        bar.set_message(step);
        Self(bar)
    }

    /// So much of so much is done.
    pub fn at(&self, done: u64, all: u64) {
        self.0.set_length(all);
        self.0.set_position(done);
    }
}

impl Drop for Bar {
    fn drop(&mut self) {
        self.0.finish_and_clear();
    }
}

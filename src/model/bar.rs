//! Progress of a fetch as a bar on stderr.

use crate::model::fetch::{Progress, Step};
use indicatif::{ProgressBar, ProgressStyle};

/// A bar on stderr; draws nothing where stderr is not a terminal.
#[derive(Default)]
pub struct Bar {
    bar: Option<ProgressBar>,
}

impl Progress for Bar {
    fn step(&mut self, step: Step, bytes: u64) {
        if let Some(done) = self.bar.take() {
            done.finish();
        }
        let words = match step {
            Step::AlreadyHere => return,
            Step::Download => "bringing",
            Step::Convert => "converting",
            Step::Keep => "checking",
        };
        let bar = ProgressBar::new(bytes).with_message(words);
        if let Ok(style) =
            ProgressStyle::with_template("{msg:>10} [{bar:30}] {bytes:>10} / {total_bytes}")
        {
            bar.set_style(style.progress_chars("=> "));
        }
        self.bar = Some(bar);
    }

    fn advance(&mut self, bytes: u64) {
        if let Some(bar) = &self.bar {
            bar.set_position(bytes);
        }
    }
}

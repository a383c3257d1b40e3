//! A walk by keyboard and screen: every prompt is shown, every spoken phrase can be typed.

use super::{Happening, Port};
use crate::walk::{Listen, MonotonicMs, Say, Tone};
use std::collections::VecDeque;
use std::io::BufRead;
use std::sync::mpsc::{Receiver, RecvTimeoutError, channel};
use std::time::{Duration, Instant};

/// Reads answers from standard input, a line each.
pub struct Keyboard {
    opened: Instant,
    lines: Receiver<String>,
    said: VecDeque<u64>,
}

impl Keyboard {
    /// Starts to read standard input.
    #[expect(clippy::new_without_default, reason = "it takes standard input over")]
    pub fn new() -> Self {
        let (sender, lines) = channel();
        each_line(move |line| sender.send(line).is_ok());
        Self {
            opened: Instant::now(),
            lines,
            said: VecDeque::new(),
        }
    }
}

/// Hands each line of standard input to `take`, on a thread of its own, until there are no more or
/// `take` wants none.
pub(super) fn each_line(take: impl Fn(String) -> bool + Send + 'static) {
    std::thread::spawn(move || {
        for line in std::io::stdin().lock().lines() {
            let Ok(line) = line else { break };
            if !take(line) {
                break;
            }
        }
    });
}

impl Port for Keyboard {
    fn now(&self) -> MonotonicMs {
        self.opened.elapsed().as_millis() as MonotonicMs
    }

    fn say(&mut self, say: &Say) -> anyhow::Result<()> {
        self.said.push_back(say.id);
        Ok(())
    }

    fn listen(&mut self, _: &Listen) {}

    fn hush(&mut self) {}

    fn quiet(&mut self) {
        self.said.clear();
    }

    fn tone(&mut self, _: Tone) {}

    fn wait(&mut self, deadline: Option<MonotonicMs>) -> anyhow::Result<Happening> {
        if let Some(id) = self.said.pop_front() {
            return Ok(Happening::Said(id));
        }
        let closed = || Happening::Over("the keyboard was closed".into());
        let Some(deadline) = deadline else {
            return Ok(self
                .lines
                .recv()
                .map_or_else(|_| closed(), Happening::Typed));
        };
        let left = Duration::from_millis(deadline.saturating_sub(self.now()));
        Ok(match self.lines.recv_timeout(left) {
            Ok(line) => Happening::Typed(line),
            Err(RecvTimeoutError::Timeout) => Happening::Deadline,
            Err(RecvTimeoutError::Disconnected) => closed(),
        })
    }
}

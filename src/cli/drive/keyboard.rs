//! A walk by keyboard and screen: every prompt is shown, every spoken phrase can be typed.

use super::{Happening, Port};
use crate::walk::{Listen, MonotonicMs, Say, Tone};
use std::collections::VecDeque;
use std::io::{BufRead, IsTerminal};
use std::sync::mpsc::{Receiver, RecvTimeoutError, channel};
use std::time::{Duration, Instant};

/// Reads answers from standard input, a line each.
pub struct Keyboard {
    opened: Instant,
    lines: Receiver<Stroke>,
    said: VecDeque<u64>,
    /// Whether a person types: what was typed before a question was put is no answer to it.
    by_hand: bool,
    /// What came before it was asked for: remarks on it, and a Ctrl-C.
    early: VecDeque<Happening>,
}

impl Keyboard {
    /// Takes what is typed there.
    pub fn new(typing: Typing) -> Self {
        let (sender, lines) = channel();
        let by_hand = match typing {
            Typing::StandardInput => std::io::stdin().is_terminal(),
            Typing::View(_) => true,
        };
        each_stroke(typing, move |stroke| sender.send(stroke).is_ok());
        Self {
            opened: Instant::now(),
            lines,
            said: VecDeque::new(),
            by_hand,
            early: VecDeque::new(),
        }
    }
}

/// What is typed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Stroke {
    /// A whole line.
    Line(String),
    /// Ctrl-C, where the keys do not come as lines.
    Interrupt,
}

/// Where typed lines come from.
#[derive(Debug)]
pub enum Typing {
    /// Standard input, a line each.
    StandardInput,
    /// A view that takes the keys itself.
    View(Receiver<Stroke>),
}

/// Hands each stroke to `take`, on a thread of its own, until there are no more or `take` wants none.
pub fn each_stroke(typing: Typing, take: impl Fn(Stroke) -> bool + Send + 'static) {
    std::thread::spawn(move || match typing {
        Typing::StandardInput => {
            // A byte that is no letter here is no reason to end a walk.
            let lines = std::io::stdin().lock().split(b'\n').map_while(Result::ok);
            let text = |line: Vec<u8>| String::from_utf8_lossy(&line).into_owned();
            let mut strokes = lines.map(|line| Stroke::Line(typed_text(&text(line))));
            strokes.all(take);
        }
        Typing::View(strokes) => {
            strokes.into_iter().all(take);
        }
    });
}

/// A typed line without what would steer a terminal that shows it again.
fn typed_text(line: &str) -> String {
    line.chars().filter(|c| !c.is_control()).collect()
}

fn typed(stroke: Stroke) -> Happening {
    match stroke {
        Stroke::Line(line) => Happening::Typed(line),
        Stroke::Interrupt => Happening::Over("it was interrupted".into()),
    }
}

impl Port for Keyboard {
    fn now(&self) -> MonotonicMs {
        self.opened.elapsed().as_millis() as MonotonicMs
    }

    fn say(&mut self, say: &Say) -> anyhow::Result<()> {
        self.said.push_back(say.id);
        Ok(())
    }

    fn listen(&mut self, _: &Listen) {
        if !self.by_hand {
            return;
        }
        for stroke in self.lines.try_iter() {
            match stroke {
                Stroke::Line(line) if line.trim().is_empty() => {}
                Stroke::Line(line) => self.early.push_back(Happening::Remark(format!(
                    "typed before this was asked, and no answer: {line}"
                ))),
                Stroke::Interrupt => self.early.push_back(typed(Stroke::Interrupt)),
            }
        }
    }

    fn hush(&mut self) {}

    fn quiet(&mut self) {
        self.said.clear();
    }

    fn tone(&mut self, _: Tone) {}

    fn wait(&mut self, deadline: Option<MonotonicMs>) -> anyhow::Result<Happening> {
        if let Some(id) = self.said.pop_front() {
            return Ok(Happening::Said(id));
        }
        if let Some(early) = self.early.pop_front() {
            return Ok(early);
        }
        let closed = || Happening::Over("the keyboard was closed".into());
        let Some(deadline) = deadline else {
            return Ok(self.lines.recv().map_or_else(|_| closed(), typed));
        };
        let left = Duration::from_millis(deadline.saturating_sub(self.now()));
        Ok(match self.lines.recv_timeout(left) {
            Ok(stroke) => typed(stroke),
            Err(RecvTimeoutError::Timeout) => Happening::Deadline,
            Err(RecvTimeoutError::Disconnected) => closed(),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::{Happening, Keyboard, Port, Stroke, Typing};
    use crate::walk::Listen;

    /// A person who types ahead answers questions that were not put yet.
    #[test]
    fn what_was_typed_before_the_question_is_no_answer() {
        let (sender, strokes) = std::sync::mpsc::channel();
        let mut keyboard = Keyboard::new(Typing::View(strokes));
        let types = |line: &str| sender.send(Stroke::Line(line.to_owned())).unwrap();
        keyboard.listen(&Listen::control(1));
        types("present");
        let happened = keyboard.wait(None).unwrap();
        assert!(matches!(happened, Happening::Typed(line) if line == "present"));
        types("8");
        types("8");
        sender.send(Stroke::Interrupt).unwrap();
        // Its own thread hands the strokes on.
        std::thread::sleep(std::time::Duration::from_millis(300));
        keyboard.listen(&Listen::control(2));
        for _ in 0..2 {
            let happened = keyboard.wait(None).unwrap();
            assert!(matches!(happened, Happening::Remark(what) if what.ends_with(": 8")));
        }
        let happened = keyboard.wait(None).unwrap();
        assert!(
            matches!(happened, Happening::Over(_)),
            "Ctrl-C is never lost"
        );
        types("3");
        let happened = keyboard.wait(None).unwrap();
        assert!(matches!(happened, Happening::Typed(line) if line == "3"));
    }
}

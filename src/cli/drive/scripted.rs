//! A mouth that reads from files and a clock that only sound moves: walks without sound hardware.

use super::{Happening, Port};
use crate::ears::Cutter;
use crate::walk::rules::YES_NO;
use crate::walk::{Listen, MonotonicMs, Say, Tone};
use anyhow::{Context, bail};
use std::collections::VecDeque;
use std::path::{Path, PathBuf};

/// Longest list of answers, in lines.
const LINES_MAX: usize = 100_000;

/// Begins a line whose file is said only where a yes or no is asked for.
const IF_ASKED: &str = "? ";

/// A line of a list.
struct Line {
    file: PathBuf,
    /// Passed over where no yes or no is asked for.
    if_asked: bool,
}

impl Line {
    /// Reads a line; `None` where it says nothing.
    fn read(text: &str, folder: &Path) -> Option<Self> {
        let text = text.trim();
        let asked = text.strip_prefix(IF_ASKED);
        let name = asked.unwrap_or(text).trim();
        (!name.is_empty() && !name.starts_with('#')).then(|| Self {
            file: folder.join(name),
            if_asked: asked.is_some(),
        })
    }
}

/// Sound files in the order in which they are spoken.
pub struct AnswerList {
    lines: Box<dyn Iterator<Item = anyhow::Result<Line>>>,
}

impl AnswerList {
    /// Reads lines from standard input, each when it is wanted: an inspector who listens before he
    /// speaks.
    pub fn standard_input() -> Self {
        let lines = std::io::stdin().lines().filter_map(|line| match line {
            Ok(line) => Line::read(&line, Path::new("")).map(Ok),
            Err(error) => Some(Err(error.into())),
        });
        Self {
            lines: Box::new(lines),
        }
    }

    /// Reads a list: one path a line, relative to the list's folder; blank lines and lines that
    /// begin with `#` are passed over. A line that begins with `? ` is said where a yes or no is asked
    /// for, and passed over elsewhere.
    ///
    /// # Errors
    /// When the list cannot be read, is empty, or names a file that is not there (with its line).
    pub fn read(path: &Path) -> anyhow::Result<Self> {
        let text = std::fs::read_to_string(path).with_context(|| {
            format!(
                "cannot read the list of answers {}; give a text file with one sound file a line",
                path.display()
            )
        })?;
        let folder = path.parent().unwrap_or(Path::new(""));
        let mut lines = Vec::new();
        // Some editors begin a file with a mark of its byte order.
        let text = text.trim_start_matches('\u{feff}');
        for (n, line) in text.lines().enumerate().take(LINES_MAX) {
            let Some(line) = Line::read(line, folder) else {
                continue;
            };
            if !line.file.is_file() {
                bail!(
                    "{}:{}: there is no sound file {}; paths are relative to the list's folder",
                    path.display(),
                    n + 1,
                    line.file.display()
                );
            }
            lines.push(Ok(line));
        }
        if lines.is_empty() {
            bail!(
                "{}: the list names no sound file; write one path a line",
                path.display()
            );
        }
        Ok(Self {
            lines: Box::new(lines.into_iter()),
        })
    }

    /// The next file to be said, where a yes or no is asked for or not; `None` at the list's end.
    ///
    /// # Errors
    /// Where standard input cannot be read.
    pub fn next_file(&mut self, yes_or_no: bool) -> Option<anyhow::Result<PathBuf>> {
        let said = |line: &anyhow::Result<Line>| match line {
            Ok(line) => yes_or_no || !line.if_asked,
            Err(_) => true,
        };
        let line = self.lines.find(said)?;
        Some(line.map(|line| line.file))
    }
}

/// Speaks answers from a list. Its clock moves only by sound and by waiting, so that a walk of ten
/// minutes is over in seconds and is the same each time.
pub struct Scripted {
    list: AnswerList,
    cutter: Cutter,
    voice: Box<dyn PromptSound>,
    now: MonotonicMs,
    listening: bool,
    /// Whether a yes or no is asked for.
    yes_or_no: bool,
    waiting: VecDeque<Happening>,
}

/// Where prompts go in a scripted walk.
pub trait PromptSound {
    /// Turns a prompt into sound (and keeps it, where wanted); returns its length in milliseconds.
    fn speak(&mut self, say: &Say) -> anyhow::Result<MonotonicMs>;
}

/// Silence after each file, long enough for the end of speech to be certain.
const TAIL_MS: usize = 800;
const SAMPLES_PER_MS: usize = 16;

impl Scripted {
    /// A port that speaks the list's files, one after the other, each when it is listened to.
    pub fn new(list: AnswerList, cutter: Cutter, voice: Box<dyn PromptSound>) -> Self {
        Self {
            list,
            cutter,
            voice,
            now: 0,
            listening: false,
            yes_or_no: false,
            waiting: VecDeque::new(),
        }
    }

    /// Speaks the next file into the ears. A file in which nobody speaks is no answer, as in life, and is told.
    fn speak_next(&mut self) -> anyhow::Result<bool> {
        let Some(path) = self.list.next_file(self.yes_or_no) else {
            return Ok(false);
        };
        let path = path?;
        let sound = crate::audio::read(&path)?;
        self.now += (sound.len() / SAMPLES_PER_MS + TAIL_MS) as MonotonicMs;
        // Each file is a recording of its own: what surrounded the one before is not heard in it.
        let cut = self.cutter.all(&sound)?;
        let from = path.display().to_string();
        if cut.is_empty() {
            let nobody = format!("{from}: nobody speaks in it");
            self.waiting.push_back(Happening::Remark(nobody));
        }
        self.waiting
            .extend(cut.into_iter().map(|utterance| Happening::Utterance {
                utterance,
                from: from.clone(),
            }));
        Ok(true)
    }
}

impl Port for Scripted {
    fn now(&self) -> MonotonicMs {
        self.now
    }

    fn say(&mut self, say: &Say) -> anyhow::Result<()> {
        // What a file holds behind its answer was said as the tool cut in.
        for waits in &mut self.waiting {
            let happening = std::mem::replace(waits, Happening::Deadline);
            *waits = match happening {
                Happening::Utterance { utterance, .. } => Happening::WentOn {
                    utterance,
                    handed: 0,
                },
                other => other,
            };
        }
        self.now += self.voice.speak(say)?;
        self.waiting.push_back(Happening::Said(say.id));
        Ok(())
    }

    fn listen(&mut self, listen: &Listen) {
        self.yes_or_no = listen.rules.iter().any(|rule| rule == YES_NO);
        self.listening = true;
    }

    fn hush(&mut self) {
        self.listening = false;
    }

    fn quiet(&mut self) {
        self.waiting.retain(|h| !matches!(h, Happening::Said(_)));
    }

    fn tone(&mut self, _: Tone) {}

    fn wait(&mut self, deadline: Option<MonotonicMs>) -> anyhow::Result<Happening> {
        loop {
            let ready = self
                .waiting
                .iter()
                .position(|h| self.listening || !matches!(h, Happening::Utterance { .. }));
            if let Some(happening) = ready.and_then(|at| self.waiting.remove(at)) {
                return Ok(happening);
            }
            if self.listening && self.speak_next()? {
                continue;
            }
            return Ok(match deadline {
                Some(deadline) => {
                    self.now = self.now.max(deadline);
                    Happening::Deadline
                }
                None => Happening::Over("the list of answers is used up".into()),
            });
        }
    }
}

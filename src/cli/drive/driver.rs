//! Obeys a walk's effects and brings it what happens.

use super::{Happening, Observer, Port};
use crate::record::{Record, RecordError};
use crate::walk::{
    Decision, Effect, Ending, Entry, Event, Hearing, Listen, Meaning, MonotonicMs, Note, Walk,
    rules,
};
use std::collections::VecDeque;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

/// Wait between two tries to write an entry that did not reach the disk, in ms.
const RETRY_MS: u64 = 2_000;
/// Tries before the driver gives the walk up as open; the record can be resumed.
const RETRIES_MAX: u32 = 150;

/// The port's clock as the record reads it.
#[derive(Clone, Default)]
pub struct WalkClock(Arc<AtomicU64>);

impl crate::record::Clock for WalkClock {
    fn wall(&self) -> jiff::ZonedDateTime {
        jiff::ZonedDateTime::now()
    }

    fn mono_ms(&self) -> u64 {
        self.0.load(Ordering::Relaxed)
    }
}

/// Everything one walk needs.
pub struct Driver<'a> {
    /// What decides.
    pub walk: Walk,
    /// What remembers.
    pub record: Record,
    /// What understands, sound and typed words alike.
    pub ears: &'a mut dyn Understands,
    /// The world.
    pub port: &'a mut dyn Port,
    /// Who watches.
    pub observer: &'a mut dyn Observer,
    /// The clock that the record reads.
    pub clock: WalkClock,
    /// Bytes of sound that did not fit the disk; the walk is held until as much does.
    pub no_room_for: Option<usize>,
    /// Whether a device is gone; the walk is held until it, or another, is there.
    pub lost: bool,
}

/// What turns an utterance or typed words into a meaning.
pub trait Understands {
    /// Makes ready for what will be listened for.
    ///
    /// # Errors
    /// Where the rules do not fit together.
    fn prepare(&mut self, listen: &Listen) -> anyhow::Result<()>;
    /// Hears an utterance.
    ///
    /// # Errors
    /// Where the recogniser fails for good.
    #[cfg(feature = "whisper")]
    fn hear(
        &mut self,
        utterance: &crate::ears::Utterance,
        listen: &Listen,
    ) -> anyhow::Result<crate::ears::Recognition>;
    /// Hears an utterance that may be over, so that [`Understands::hear`] has the answer ready, and gives what
    /// an utterance came to.
    ///
    /// # Errors
    /// Where the recogniser fails for good.
    #[cfg(feature = "whisper")]
    fn hear_ahead(
        &mut self,
        _: &crate::ears::Utterance,
        _: &Listen,
    ) -> anyhow::Result<Option<crate::ears::Recognition>> {
        Ok(None)
    }
    /// Hears a breath of called findings.
    ///
    /// # Errors
    /// Where the recogniser fails for good.
    #[cfg(feature = "whisper")]
    fn hear_breath(
        &mut self,
        utterance: &crate::ears::Utterance,
        listen: &Listen,
    ) -> anyhow::Result<crate::ears::Breath>;
    /// Guesses at free speech.
    ///
    /// # Errors
    /// Where the recogniser fails for good.
    #[cfg(feature = "whisper")]
    fn transcribe(&mut self, samples: &[f32]) -> anyhow::Result<String>;
    /// Reads typed words.
    ///
    /// # Errors
    /// Where the rules do not fit together.
    fn read(
        &mut self,
        words: &str,
        listen: &Listen,
    ) -> anyhow::Result<Option<crate::grammar::Meaning>>;
    /// Reads typed words as a breath of called findings; `None` where nothing or more than one thing.
    ///
    /// # Errors
    /// Where the grammar of the station cannot be made.
    fn read_breath(
        &mut self,
        words: &str,
        listen: &Listen,
    ) -> anyhow::Result<Option<Vec<crate::grammar::Meaning>>>;
}

impl Driver<'_> {
    /// Walks to the end, or until nothing more can come.
    ///
    /// # Errors
    /// Where the ears or the voice fail for good. What was acknowledged is in the record.
    pub fn run(mut self) -> anyhow::Result<Ending> {
        let mut unwritten: VecDeque<(u64, Entry)> = VecDeque::new();
        let mut listening: Option<Listen> = None;
        let mut retries = 0;
        // When it is next tried whether the disk has room for a sound again.
        let mut room_at = 0;
        self.tick();
        let now = self.port.now();
        self.walk.handle(Event::Begin, now);
        loop {
            while let Some(effect) = self.walk.poll() {
                match effect {
                    Effect::Journal { seq, entry } => {
                        unwritten.push_back((seq, *entry));
                        self.write(&mut unwritten, &mut retries)?;
                    }
                    Effect::Say(say) => {
                        self.observer.say(&say);
                        self.port.say(&say)?;
                    }
                    Effect::Listen(listen) => {
                        self.ears.prepare(&listen)?;
                        self.port.listen(&listen);
                        self.observer.listening();
                        listening = Some(listen);
                        self.port.prepare(&self.walk.would_say_to_answers());
                    }
                    Effect::Hush => {
                        self.port.hush();
                        self.observer.hushed();
                        listening = None;
                    }
                    Effect::Quiet => {
                        self.port.quiet();
                        self.observer.quiet();
                    }
                    Effect::Manner(manner) => self.port.manner(manner),
                    Effect::Tone(tone) => self.port.tone(tone),
                    Effect::Finish(ending) => return Ok(ending),
                }
                self.tick();
            }
            let mut deadline = self.walk.poll_timeout();
            if !unwritten.is_empty() {
                if retries >= RETRIES_MAX {
                    anyhow::bail!(
                        "the record in {} cannot be written; free the disk, then `loadwalk resume` it",
                        self.record.folder().display()
                    );
                }
                let retry = self.port.now() + RETRY_MS;
                deadline = Some(deadline.map_or(retry, |d| d.min(retry)));
            }
            if self.no_room_for.is_some() {
                deadline = Some(deadline.map_or(room_at, |d| d.min(room_at)));
            }
            let happening = self.port.wait(deadline)?;
            self.tick();
            if !unwritten.is_empty() {
                self.write(&mut unwritten, &mut retries)?;
            }
            if self.no_room_for.is_some() && self.port.now() >= room_at {
                room_at = self.port.now() + RETRY_MS;
                if self
                    .no_room_for
                    .is_some_and(|bytes| self.record.has_room(bytes))
                {
                    self.no_room_for = None;
                    let now = self.port.now();
                    self.clear(now);
                }
            }
            match self.event(happening, listening.as_ref())? {
                Next::Event(event) => {
                    let now = self.port.now();
                    self.walk.handle(event, now);
                }
                Next::Nothing => {}
                Next::Over(why) => {
                    self.observer.over(&why);
                    // Broken off in its last words, it is complete all the same.
                    return Ok(match self.walk.ledger().completed() {
                        Some(true) => Ending::Ready,
                        Some(false) => Ending::NotReady,
                        None => Ending::Open,
                    });
                }
            }
            let now = self.port.now();
            self.walk.handle_timeout(now);
        }
    }

    /// Writes what waits, in order. An entry that does not reach the disk holds the walk; nothing
    /// heard before it is written counts as answered.
    fn write(
        &mut self,
        unwritten: &mut VecDeque<(u64, Entry)>,
        retries: &mut u32,
    ) -> anyhow::Result<()> {
        while let Some((seq, entry)) = unwritten.front() {
            let held = *retries > 0;
            let written = match self.record.mend() {
                Ok(()) => self.record.append(entry),
                Err(error) => Err(error),
            };
            let now = self.port.now();
            match written {
                Ok(_) => {
                    self.observer.entry(*seq, entry);
                    let seq = *seq;
                    unwritten.pop_front();
                    *retries = 0;
                    self.walk.handle(Event::Journalled(seq), now);
                    if held {
                        self.clear(now);
                    }
                }
                Err(error @ RecordError::UnknownClip { .. }) => return Err(error.into()),
                Err(error) => {
                    if !held {
                        self.observer.trouble(&error.to_string());
                        let why = "the record cannot be written".to_owned();
                        self.walk.handle(Event::Hold { why }, now);
                    }
                    *retries += 1;
                    return Ok(());
                }
            }
        }
        Ok(())
    }

    /// The disk takes all again: the walk goes on, unless something else holds it.
    fn clear(&mut self, now: u64) {
        if self.no_room_for.is_none() && !self.lost {
            self.walk.handle(Event::Cleared, now);
        }
    }

    /// Sound of so many bytes could not be written. Without it an answer does not count, and the check stays open.
    #[cfg(feature = "whisper")]
    pub(super) fn no_room(&mut self, bytes: usize) -> Next {
        self.no_room_for = Some(bytes);
        let why = "the sound cannot be written, free the disk".to_owned();
        Next::Event(Event::Hold { why })
    }

    fn tick(&self) {
        self.clock.0.store(self.port.now(), Ordering::Relaxed);
    }

    fn event(&mut self, happening: Happening, listen: Option<&Listen>) -> anyhow::Result<Next> {
        Ok(match happening {
            Happening::Said(id) => {
                self.observer.said(id);
                Next::Event(Event::Said(id))
            }
            Happening::Deadline => Next::Nothing,
            Happening::Lost(why) => {
                self.lost = true;
                self.observer.trouble(&why);
                Next::Event(Event::Hold { why })
            }
            Happening::Remark(what) => {
                self.observer.trouble(&what);
                Next::Nothing
            }
            Happening::Back => {
                self.lost = false;
                match self.no_room_for {
                    // What holds it still clears it.
                    Some(_) => Next::Nothing,
                    None => Next::Event(Event::Cleared),
                }
            }
            Happening::Replaced(what) => {
                self.lost = false;
                self.observer.trouble(&what);
                Next::Event(Event::Replaced { what })
            }
            Happening::Over(why) => Next::Over(why),
            Happening::Began => match listen {
                Some(listen) => Next::Event(Event::Started { listen: listen.id }),
                None => Next::Nothing,
            },
            Happening::Typed(line) => match listen {
                Some(listen) => self.typed(&line, listen)?,
                None => Next::Nothing,
            },
            #[cfg(feature = "whisper")]
            Happening::Paused(utterance) => match listen {
                Some(listen) => self.paused(&utterance, listen)?,
                None => Next::Nothing,
            },
            #[cfg(feature = "whisper")]
            Happening::WentOn { utterance, handed } => self.went_on(&utterance, handed)?,
            #[cfg(feature = "whisper")]
            Happening::Utterance { utterance, from } => match listen {
                Some(listen) => self.heard(&utterance, &from, listen)?,
                None => Next::Nothing,
            },
        })
    }

    fn typed(&mut self, line: &str, listen: &Listen) -> anyhow::Result<Next> {
        let words = line.trim();
        if words.is_empty() {
            return Ok(Next::Nothing);
        }
        if !listen.items.is_empty() {
            return self.typed_breath(words, listen);
        }
        let meaning = self
            .ears
            .read(words, listen)?
            .filter(|m| !is_prose(words, m));
        if listen.free && meaning.is_none() {
            return Ok(Next::Event(Event::NoteHeard {
                listen: listen.id,
                note: Note {
                    machine_transcript: words.to_owned(),
                    clip: String::new(),
                    clip_sha256: String::new(),
                    typed: true,
                },
            }));
        }
        let decision = match meaning {
            // A word that was meant for something else could be a tag too.
            Some(meaning) if is_word(words, &meaning) => Decision::Confirm { meaning },
            Some(meaning) => Decision::Take { meaning },
            None => Decision::Refuse {
                reason: "not one of the answers".to_owned(),
            },
        };
        Ok(Next::Event(Event::Heard {
            listen: listen.id,
            hearing: Hearing {
                confidence: 1.0,
                decision,
                words: words.to_owned(),
                clip: String::new(),
                clip_sha256: String::new(),
                snr_db: None,
                others: Vec::new(),
            },
        }))
    }
}

/// Whether a typed tag is words run together ("leave it" as LEAVEIT): a tag of letters alone is typed
/// without blanks, letter by letter, or in the spelling alphabet.
fn is_prose(words: &str, meaning: &Meaning) -> bool {
    let mut parts = words.split_whitespace();
    let is_word = |w: &str| w.chars().count() > 1 && w.chars().all(char::is_alphabetic);
    let run_together = words.split_whitespace().collect::<String>().to_uppercase();
    meaning.rule == rules::TAG
        && meaning.value == run_together
        && words.split_whitespace().count() > 1
        && parts.all(is_word)
}

/// Whether a typed tag is letters alone ("missing" as MISSING, "no" as NO), or has a word run into it ("12 or 13" as
/// 12OR13): tags are written in capitals where letters stand together.
fn is_word(words: &str, meaning: &Meaning) -> bool {
    let letters = words
        .chars()
        .all(|c| c.is_alphabetic() || c.is_ascii_punctuation());
    let is_small = |w: &str| w.chars().count() > 1 && w.chars().all(char::is_lowercase);
    let run_together: String = words.split_whitespace().collect();
    let holds_a_word = meaning.value == run_together.to_uppercase()
        && words.split_whitespace().count() > 1
        && words.split_whitespace().any(is_small);
    meaning.rule == rules::TAG && (letters || holds_a_word)
}

pub(super) enum Next {
    Event(Event),
    Nothing,
    Over(String),
}

/// Milliseconds as minutes and seconds.
pub fn clock_text(ms: MonotonicMs) -> String {
    format!("{}:{:02}", ms / 60_000, ms / 1_000 % 60)
}

//! Obeys a walk's effects and brings it what happens.

#[cfg(test)]
mod tests;

use super::holds::Holds;
use super::{Happening, Observer, Port};
use crate::record::{Clip, Record, RecordError};
use crate::walk::{Effect, Ending, Entry, Event, Listen, MonotonicMs, Walk};
use std::collections::VecDeque;
use std::path::Path;
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
    pub record: Box<dyn Remembers>,
    /// What understands, sound and typed words alike.
    pub ears: &'a mut dyn Understands,
    /// The world.
    pub port: &'a mut dyn Port,
    /// Who watches.
    pub observer: &'a mut dyn Observer,
    /// The clock that the record reads.
    pub clock: WalkClock,
    pub(super) holds: Holds,
    /// Entries that have not reached the disk, with their numbers.
    unwritten: VecDeque<(u64, Entry)>,
    retries: u32,
    /// Why the last try failed.
    stuck: Option<RecordError>,
    /// When the disk is next tried again.
    retry_at: MonotonicMs,
}

/// What keeps a walk's entries and sounds; a [`Record`], but in tests.
pub trait Remembers {
    /// Writes an entry to the disk and returns its number.
    ///
    /// # Errors
    /// As [`Record::append`].
    fn append(&mut self, entry: &Entry) -> Result<u64, RecordError>;
    /// Puts right what an append that failed left behind.
    ///
    /// # Errors
    /// As [`Record::mend`].
    fn mend(&mut self) -> Result<(), RecordError>;
    /// Writes a sound to the disk.
    ///
    /// # Errors
    /// As [`Record::write_clip`].
    fn write_clip(&mut self, hint: &str, wav: &[u8]) -> Result<Clip, RecordError>;
    /// Whether so many bytes of sound could be written.
    fn has_room(&self, bytes: usize) -> bool;
    /// Where it is kept.
    fn folder(&self) -> &Path;
}

impl Remembers for Record {
    fn append(&mut self, entry: &Entry) -> Result<u64, RecordError> {
        Self::append(self, entry)
    }

    fn mend(&mut self) -> Result<(), RecordError> {
        Self::mend(self)
    }

    fn write_clip(&mut self, hint: &str, wav: &[u8]) -> Result<Clip, RecordError> {
        Self::write_clip(self, hint, wav)
    }

    fn has_room(&self, bytes: usize) -> bool {
        Self::has_room(self, bytes)
    }

    fn folder(&self) -> &Path {
        Self::folder(self)
    }
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

impl<'a> Driver<'a> {
    /// Joins a walk to the world.
    pub fn new(
        walk: Walk,
        record: Box<dyn Remembers>,
        ears: &'a mut dyn Understands,
        port: &'a mut dyn Port,
        observer: &'a mut dyn Observer,
        clock: WalkClock,
    ) -> Self {
        Self {
            walk,
            record,
            ears,
            port,
            observer,
            clock,
            holds: Holds::default(),
            unwritten: VecDeque::new(),
            retries: 0,
            stuck: None,
            retry_at: 0,
        }
    }

    /// Walks to the end, or until nothing more can come. A walk whose last entries did not reach the disk is open,
    /// whatever they say.
    ///
    /// # Errors
    /// Where the ears, the voice or the disk fail for good. What was acknowledged is in the record.
    pub fn run(mut self) -> anyhow::Result<Ending> {
        let mut listening: Option<Listen> = None;
        self.tick();
        let now = self.port.now();
        self.walk.handle(Event::Begin, now);
        loop {
            while let Some(effect) = self.walk.poll() {
                match effect {
                    Effect::Journal { seq, entry } => {
                        self.unwritten.push_back((seq, *entry));
                        self.write()?;
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
                    Effect::Finish(ending) => return Ok(self.ended(ending)),
                }
                self.tick();
            }
            if self.retries >= RETRIES_MAX
                && let Some(error) = self.stuck.take()
            {
                return Err(anyhow::Error::from(error).context(format!(
                    "the record in {} cannot be written; free the disk, then `loadwalk resume` it",
                    self.record.folder().display()
                )));
            }
            let mut deadline = self.walk.poll_timeout();
            if self.waits_for_the_disk() {
                deadline = Some(deadline.map_or(self.retry_at, |d| d.min(self.retry_at)));
            }
            let happening = self.port.wait(deadline)?;
            self.tick();
            if self.waits_for_the_disk()
                && (self.port.now() >= self.retry_at || matches!(happening, Happening::Over(_)))
            {
                self.try_again()?;
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
                    return Ok(self.ended(match self.walk.ledger().completed() {
                        Some(true) => Ending::Ready,
                        Some(false) => Ending::NotReady,
                        None => Ending::Open,
                    }));
                }
            }
            let now = self.port.now();
            self.walk.handle_timeout(now);
        }
    }

    /// How it ended, by what the disk holds.
    fn ended(&mut self, ending: Ending) -> Ending {
        match self.unwritten.len() {
            0 => ending,
            lost => {
                let what = format!("the last {lost} entries could not be written and are lost");
                self.observer.trouble(&what);
                Ending::Open
            }
        }
    }

    fn waits_for_the_disk(&self) -> bool {
        !self.unwritten.is_empty() || self.holds.wants_room().is_some()
    }

    fn try_again(&mut self) -> anyhow::Result<()> {
        self.retry_at = 0;
        self.write()?;
        if let Some(bytes) = self.holds.wants_room() {
            if self.record.has_room(bytes) {
                self.holds.has_room();
                self.clear();
            } else {
                self.retry_at = self.port.now() + RETRY_MS;
            }
        }
        Ok(())
    }

    /// Writes what waits, in order. An entry that does not reach the disk holds the walk, and is tried again after a
    /// while; nothing heard before it is written counts as answered.
    fn write(&mut self) -> anyhow::Result<()> {
        if self.retries > 0 && self.port.now() < self.retry_at {
            return Ok(());
        }
        while let Some((seq, entry)) = self.unwritten.front() {
            let written = match self.record.mend() {
                Ok(()) => self.record.append(entry),
                Err(error) => Err(error),
            };
            let now = self.port.now();
            match written {
                Ok(_) => {
                    self.observer.entry(*seq, entry);
                    let seq = *seq;
                    self.unwritten.pop_front();
                    self.walk.handle(Event::Journalled(seq), now);
                }
                Err(error @ RecordError::UnknownClip { .. }) => return Err(error.into()),
                Err(error) => {
                    self.retries += 1;
                    self.retry_at = now + RETRY_MS;
                    if let Some(why) = self.holds.record_stuck() {
                        self.observer.trouble(&error.to_string());
                        self.walk.handle(Event::Hold { why }, now);
                    }
                    self.stuck = Some(error);
                    return Ok(());
                }
            }
        }
        if std::mem::take(&mut self.retries) > 0 {
            self.holds.record_written();
            self.clear();
        }
        Ok(())
    }

    /// The walk goes on, unless something else holds it.
    fn clear(&mut self) {
        if self.holds.is_free() {
            let now = self.port.now();
            self.walk.handle(Event::Cleared, now);
        }
    }

    /// What else holds the walk does so still, and whoever hears the device that is found has not heard of it.
    fn held_still(&self) -> Next {
        match self.holds.disk() {
            Some(why) => Next::Event(Event::Hold { why }),
            None => Next::Nothing,
        }
    }

    /// Sound of so many bytes could not be written. Without it an answer does not count, and the check stays open.
    #[cfg(feature = "whisper")]
    pub(super) fn no_room(&mut self, bytes: usize) -> Next {
        self.retry_at = self.port.now() + RETRY_MS;
        let why = self.holds.no_room(bytes);
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
                self.holds.device_lost();
                self.observer.trouble(&why);
                Next::Event(Event::Hold { why })
            }
            Happening::Remark(what) => {
                self.observer.trouble(&what);
                Next::Nothing
            }
            Happening::Back => {
                self.holds.device_found();
                self.clear();
                self.held_still()
            }
            Happening::Replaced(what) => {
                self.holds.device_found();
                self.observer.trouble(&what);
                let now = self.port.now();
                self.walk.handle(Event::Replaced { what }, now);
                self.held_still()
            }
            Happening::Over(why) => Next::Over(why),
            Happening::Began => match listen {
                Some(listen) => Next::Event(Event::Started { listen: listen.id }),
                None => Next::Nothing,
            },
            Happening::Typed(line) => match listen {
                Some(listen) => self.typed(&line, listen)?,
                None => {
                    // As with a headset: what was typed for nothing is typed again when it is told.
                    if !line.trim().is_empty() {
                        self.observer.trouble(&format!(
                            "`{}` is not taken: nothing is asked now",
                            line.trim()
                        ));
                    }
                    Next::Nothing
                }
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

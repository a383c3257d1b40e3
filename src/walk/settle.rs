//! What follows once an event was dealt with: when to listen, when to end, how long to wait.

use super::machine::{Ear, Queued, Walk};
use super::phase::{Call, Phase, Wait};
use super::wording;
use crate::walk::{Effect, Listen, MonotonicMs, Phrase, Tone};

/// How long the record may take for one entry before the walk says so.
pub const RECORD_LIMIT_MS: u64 = 5_000;
/// A phrase whose end is not told counts as spoken after this and [`SPEECH_MS_PER_CHAR`] a letter.
pub const SPEECH_LIMIT_MS: u64 = 15_000;
/// Slow speech, in milliseconds a letter.
pub const SPEECH_MS_PER_CHAR: u64 = 150;

/// Longest utterance, from its start to the word of the ears; then silence is counted again.
pub const UTTERANCE_LIMIT_MS: u64 = 60_000;

impl Walk {
    /// Tells the walk that the time given by [`Walk::poll_timeout`] has come. Early calls change
    /// nothing.
    pub fn handle_timeout(&mut self, now: MonotonicMs) {
        let Some((wait, due)) = self.timer else {
            return;
        };
        if now < due {
            return;
        }
        self.timer = None;
        self.now = now;
        match wait {
            Wait::Journal(_) => self.say_that_the_record_is_slow(),
            // Nothing is assumed of it but that it is over.
            Wait::Phrase(id) => self.said(id, false),
            Wait::Silence(_) => self.silence(),
        }
        self.settle(now);
    }

    /// When [`Walk::handle_timeout`] is wanted; `None` while only an event can go on.
    pub fn poll_timeout(&self) -> Option<MonotonicMs> {
        self.timer.map(|(_, due)| due)
    }

    fn say_that_the_record_is_slow(&mut self) {
        self.record_slow = true;
        let queued = std::mem::take(&mut self.out);
        let later = std::mem::take(&mut self.saying);
        self.tone(Tone::Held);
        self.say_at_once(wording::RECORD_SLOW.to_owned());
        self.out.extend(queued);
        self.saying.extend(later);
    }

    /// Opens the ears, ends the walk and sets the timer, as the state now asks for.
    pub(super) fn settle(&mut self, now: MonotonicMs) {
        if matches!(self.phase, Phase::Fresh | Phase::Done) {
            self.timer = None;
            return;
        }
        if self.waiting.is_empty() {
            self.open_ears();
        }
        let outside = self.hold.is_some_and(|h| h.outside);
        let wait = if let Some((&seq, _)) = self
            .waiting
            .first_key_value()
            .filter(|_| !self.record_slow && !outside)
        {
            Some(Wait::Journal(seq))
        } else if let Some(first) = self
            .saying
            .front()
            .filter(|s| s.handed || self.waiting.is_empty())
        {
            Some(Wait::Phrase(first.id))
        } else {
            self.ear
                .filter(|_| self.hold.is_none())
                .map(|e| Wait::Silence(e.id))
        };
        if self.timer.map(|(running, _)| running) != wait {
            self.timer = wait.map(|w| (w, now.saturating_add(self.patience_ms(w))));
        }
    }

    fn open_ears(&mut self) {
        if self.hold.is_some_and(|h| h.outside) {
            return;
        }
        let idle = self.saying.is_empty();
        if let (true, None, Phase::Last(ending)) = (idle, self.hold, &self.phase) {
            let ending = *ending;
            self.hush();
            self.push(Effect::Finish(ending), self.ledger.entries());
            self.phase = Phase::Done;
            self.timer = None;
            return;
        }
        if matches!(self.phase, Phase::Last(_)) && self.hold.is_none() {
            return;
        }
        // Talking over: answers from the moment the question itself is spoken, control phrases
        // from the first word.
        let asking = self.saying.len() == 1 && self.saying[0].phrase == Phrase::Ask;
        let over = self.settings.talk_over && self.hold.is_none();
        let answers = idle || asking;
        if !(idle || over) || self.ear.is_some_and(|e| e.answers || !answers) {
            return;
        }
        let id = self.next_listen;
        self.next_listen += 1;
        self.ear = Some(Ear {
            id,
            answers,
            handed: false,
        });
        self.rhythm.begin(self.now);
        if idle {
            self.tone(Tone::Listening);
        }
        let listen = if answers {
            self.listen(id)
        } else {
            Listen::control(id)
        };
        // Behind the phrases before the question, ahead of the question.
        let effect = Effect::Listen(listen);
        let queued = Queued {
            effect,
            after: self.ledger.entries(),
        };
        let first_say = self
            .out
            .iter()
            .position(|q| matches!(q.effect, Effect::Say(_)));
        match first_say {
            Some(at) => self.out.insert(at, queued),
            None => self.out.push_back(queued),
        }
    }

    fn patience_ms(&self, wait: Wait) -> u64 {
        match wait {
            Wait::Journal(_) => RECORD_LIMIT_MS,
            Wait::Phrase(id) => {
                let letters = self
                    .saying
                    .iter()
                    .find(|s| s.id == id)
                    .map_or(0, |s| s.letters);
                SPEECH_LIMIT_MS + SPEECH_MS_PER_CHAR * letters
            }
            Wait::Silence(_) => match self.phase {
                Phase::Noting { .. } => self.settings.note_silence_ms,
                Phase::Heeding => self.settings.reminder_ms,
                Phase::Fixing(_) => self.settings.fixing_silence_ms,
                Phase::Calling(Call { begun: true, .. }) => self.settings.call_silence_ms,
                _ => self.settings.silence_ms,
            },
        }
    }
}

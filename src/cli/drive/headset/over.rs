//! Talking over the tool: whether its own voice comes back, and what is told from it.

use super::{Happening, Headset, earcon};
use crate::audio::RATE;
use crate::audio::echo::{Echo, echo};
use crate::cli::drive::Port;
use crate::ears::Utterance;
use crate::voice::Earcon;
use crate::walk::Tone;
use std::time::{Duration, Instant};

/// How long the microphone must have heard before what is played, and after it began, for its echo to be
/// in what was heard, in ms: a wireless headset is late by some hundreds.
const ECHO_LOOK_MS: (u64, u64) = (150, 1_500);
/// An echo from this gain on, in dB, may be heard as speech.
const ECHO_MAX_DB: f32 = -45.0;
/// Mean level of what the tool says, dB of full scale, from its peak of 0.8 (speech lies about 15 dB under its
/// peak: common practice).
const VOICE_DBFS: f32 = -17.0;
/// What is heard while the tool speaks must be so much louder than its echo could be, in dB.
const OVER_ECHO_DB: f32 = 6.0;

/// Whether the inspector may talk over the tool, and why.
pub struct TalkOver {
    /// Whether it is so.
    pub on: bool,
    /// In words.
    pub message: String,
}

impl Headset {
    /// Begins to find out whether the microphone hears the loudspeaker; [`Headset::echo_heard`] follows.
    pub fn listen_for_echo(&mut self) {
        std::thread::sleep(Duration::from_millis(ECHO_LOOK_MS.0));
        self.sound.clear();
        self.microphone.read(&mut self.sound);
        self.mouth.tone(Earcon::Check);
        self.checked = Some(Instant::now());
    }

    /// What came of it: answers are taken while the tool speaks where its voice surely does not come back.
    pub fn echo_heard(&mut self) -> TalkOver {
        let waited = self
            .checked
            .take()
            .map_or(Duration::ZERO, |at| at.elapsed());
        let look = Duration::from_millis(ECHO_LOOK_MS.1);
        std::thread::sleep(look.saturating_sub(waited));
        let mut sound = std::mem::take(&mut self.sound);
        self.microphone.read(&mut sound);
        sound.truncate((ECHO_LOOK_MS.0 + ECHO_LOOK_MS.1) as usize * RATE as usize / 1_000);
        let found = echo(&earcon(Earcon::Check, RATE).samples, &sound);
        self.sound = sound;
        let (on, message) = talk_over(found);
        if let (true, Some(found)) = (on, found) {
            self.echo_dbfs = VOICE_DBFS + found.gain_db.unwrap_or(found.least_db);
        }
        self.talk_over(on);
        TalkOver { on, message }
    }

    /// Takes answers while the tool speaks, or not.
    pub fn talk_over(&mut self, on: bool) {
        self.walk_over = on;
        self.turns.talk_over(on);
    }

    /// Another device may hear what the one before did not.
    pub(super) fn no_more_talking_over(&mut self) {
        if self.turns.is_over() {
            self.turns.talk_over(false);
            self.waiting.push_back(Happening::Remark(
                "with another device answers count after the tone only".to_owned(),
            ));
        }
    }

    /// The walk opened the ears while it spoke and gives no tone; where it is not heard then, the tone is
    /// wanted all the same.
    pub(super) fn tone_in_place_of_the_walk(&mut self) {
        let waits =
            self.tones && self.walk_over && !self.turns.is_over() && self.turns.is_listening();
        if waits && self.turns.phrases().next().is_none() {
            self.tone(Tone::Listening);
        }
    }

    /// Half an answer is none: what was begun before its turn is not looked at. `more`: it may be said to the
    /// answer before it.
    pub(super) fn began_too_soon(&mut self, more: Option<Utterance>) {
        let what = "something was begun before its turn, so it does not count; say it again";
        self.waiting.push_back(Happening::Remark(what.to_owned()));
        self.waiting.extend(more.map(|utterance| Happening::WentOn {
            utterance,
            handed: 0,
        }));
        if self.tones && self.turns.phrases().next().is_none() {
            self.tone(Tone::Refused);
        }
    }

    /// Whether an utterance while the tool spoke is no louder than its own voice could come back.
    pub(super) fn may_be_our_own(&self, utterance: &Utterance) -> bool {
        self.over_speech && utterance.level.speech_dbfs < self.over_echo_dbfs()
    }

    /// Level from which something is louder than the tool's own voice could come back, dB of full scale.
    pub(super) fn over_echo_dbfs(&self) -> f32 {
        self.echo_dbfs + OVER_ECHO_DB
    }
}

/// Whether one may talk over the tool by what was heard of it, in words too.
fn talk_over(found: Option<Echo>) -> (bool, String) {
    let wait = |why: String| (false, format!("answers count after the tone: {why}"));
    match found {
        None => wait("the microphone was silent while the echo was looked for".to_owned()),
        Some(Echo {
            gain_db: Some(db), ..
        }) if db > ECHO_MAX_DB => {
            wait(format!("the microphone hears the loudspeaker ({db:.0} dB)"))
        }
        Some(Echo { least_db, .. }) if least_db > ECHO_MAX_DB => {
            wait("noise hides whether the microphone hears the loudspeaker".to_owned())
        }
        Some(_) => (
            true,
            "answers count while it speaks: the microphone does not hear the loudspeaker"
                .to_owned(),
        ),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_talks_over_it_only_where_it_surely_is_not_heard() {
        let found = |gain_db, least_db| {
            Some(Echo {
                gain_db,
                least_db,
                delay_ms: 0.0,
            })
        };
        assert!(talk_over(found(None, -60.0)).0);
        // A headset that leaks faintly.
        assert!(talk_over(found(Some(-55.0), -70.0)).0);
        for (heard, why) in [
            (found(Some(-20.0), -60.0), "hears the loudspeaker (-20 dB)"),
            (found(None, -30.0), "noise hides"),
            (None, "silent"),
        ] {
            let (on, message) = talk_over(heard);
            assert!(!on && message.contains(why), "{message}");
        }
    }
}

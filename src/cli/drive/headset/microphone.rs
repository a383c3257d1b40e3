//! What the microphone gives, made into what the walk hears.

use super::fitness::Change;
use super::{Happening, Headset};
use crate::audio::devices::DeviceEvent;
use crate::cli::drive::Port;
use crate::ears::CHUNK;

impl Headset {
    /// Reads the microphone and cuts what may be answers.
    pub(super) fn hear(&mut self) -> anyhow::Result<()> {
        let mut sound = std::mem::take(&mut self.sound);
        sound.clear();
        let captured = self.microphone.read(&mut sound);
        let unread = std::mem::take(&mut self.unread);
        let gaps = self.microphone.gaps();
        let gap = gaps - std::mem::replace(&mut self.gaps, gaps);
        let event = captured.event;
        let whole = gap == 0 && event.is_none();
        // Nothing is missed while nobody is listened to.
        if gap > 0 && (self.open || self.early.is_some()) {
            self.sound_was_lost();
        }
        match event {
            Some(DeviceEvent::Lost { why }) => {
                self.microphone_lost = true;
                self.meter.clear();
                self.forget_sound();
                self.waiting.push_back(Happening::Lost(why));
            }
            Some(DeviceEvent::Back { name }) => {
                self.microphone_lost = false;
                if let Some(fitness) = &mut self.fitness {
                    fitness.restart();
                }
                if name != self.microphone_name {
                    self.replaced.push(format!("the microphone is now {name}"));
                    self.microphone_name = name;
                    self.no_more_talking_over();
                }
                // It may be another microphone in another place.
                self.cutter.restart();
                self.tell_if_back();
            }
            None => {}
        }
        self.judge(&sound);
        self.meter.measure(&sound);
        if self.early.is_some() {
            if whole && !self.microphone_lost {
                self.watch_early(&sound)?;
            } else {
                // Nobody knows; what was taken is read back once more after the hold.
                self.early = None;
            }
            self.sound = sound;
            return Ok(());
        }
        // No utterance spans a loss or a gap, and none begins before its turn.
        let fit = !self.microphone_lost && !self.is_unfit();
        let open = whole && fit && self.turns.hears(self.now());
        let was_open = std::mem::replace(&mut self.open, open);
        if open && was_open {
            for piece in sound.chunks(CHUNK) {
                self.cut(piece)?;
            }
        } else if open {
            self.cutter.reset();
            self.onset.turn(self.turns.phrases().next().is_some());
            // Said while the answer before it was looked at: it may take that back.
            if unread && self.turns.is_over() {
                self.behind_unread = true;
                for piece in sound.chunks(CHUNK) {
                    self.cut(piece)?;
                }
                self.behind_unread = false;
            }
        }
        self.sound = sound;
        Ok(())
    }

    /// An answer with a hole is none, and the record tells of the hole: the walk is held and goes on at once.
    fn sound_was_lost(&mut self) {
        self.forget_sound();
        let times = if self.gaps == 1 { "time" } else { "times" };
        self.waiting.push_back(Happening::Lost(format!(
            "sound from the microphone was lost, {} {times} so far: close what else keeps the machine busy",
            self.gaps
        )));
        self.tell_if_back();
    }

    pub(super) fn is_unfit(&self) -> bool {
        self.fitness.as_ref().is_some_and(|f| f.unfit().is_some())
    }

    /// Holds the walk while the microphone cannot be understood.
    fn judge(&mut self, sound: &[f32]) {
        let Some(fitness) = &mut self.fitness else {
            return;
        };
        match fitness.hear(sound) {
            Some(Change::Lost(unfit)) => {
                self.forget_sound();
                let why = unfit.words().to_owned();
                self.waiting.push_back(Happening::Lost(why));
            }
            Some(Change::Back) => {
                self.cutter.restart();
                self.tell_if_back();
            }
            None => {}
        }
    }

    fn cut(&mut self, piece: &[f32]) -> anyhow::Result<()> {
        let utterances = self.cutter.push(piece)?;
        self.onset.hears(piece.len());
        if !self.cutter.is_pausing() {
            // It was no end, or the end has come: to hear it ahead would take time for nothing.
            self.waiting.retain(|h| !matches!(h, Happening::Paused(_)));
        }
        for utterance in utterances {
            if !self.onset.in_turn() {
                if self.is_far_behind(&utterance) {
                    continue;
                }
                let own = self.may_be_our_own(&utterance);
                let more = self.behind && self.turns.is_over() && !own;
                self.began_too_soon(more.then_some(utterance));
            } else if !self.may_be_our_own(&utterance) {
                // Neither others nor the tool tell how loud the inspector speaks.
                if let Some(fitness) = &mut self.fitness {
                    fitness.spoken(utterance.level.speech_dbfs, utterance.level.snr_db);
                }
                self.handed = Some(self.now());
                self.handed_dbfs = utterance.level.speech_dbfs;
                self.unread = true;
                let from = String::new();
                self.waiting
                    .push_back(Happening::Utterance { utterance, from });
            }
        }
        if let Some(utterance) = self.cutter.take_paused()
            && self.onset.in_turn()
            && !self.may_be_our_own(&utterance)
        {
            self.handed_dbfs = utterance.level.speech_dbfs;
            self.waiting.push_back(Happening::Paused(utterance));
        }
        if self.cutter.take_began() {
            self.onset.begins();
            self.behind = self.is_behind();
            self.over_speech = self.turns.phrases().next().is_some();
            if self.onset.in_turn() {
                self.waiting.push_back(Happening::Began);
            }
        }
        Ok(())
    }

    /// On a slow machine the next utterance can be over before the one before it was looked at. Where that one
    /// changed the turn, the next was said right behind it.
    pub(super) fn waits_behind(&mut self) {
        for happening in &mut self.waiting {
            if let Happening::Utterance { utterance, .. } = happening {
                *happening = Happening::WentOn {
                    utterance: utterance.clone(),
                    handed: 0,
                };
            }
        }
    }

    /// What was heard so far belongs to nothing any more.
    pub(super) fn forget_sound(&mut self) {
        self.open = false;
        self.waiting.retain(|h| !is_sound(h));
    }
}

pub(super) fn is_sound(happening: &Happening) -> bool {
    matches!(
        happening,
        Happening::Utterance { .. } | Happening::Paused(_) | Happening::Began
    )
}

//! What was spoken, on its way from the ears to the walk.

use super::driver::{Driver, Next, Understands};
use crate::ears::{Active, Breath, Ears, Recognition, Utterance};
use crate::grammar::Meaning;
use crate::record::{Clip, clip_wav};
use crate::walk::{Decision, Event, Hearing, Listen, Note, rules};

impl Understands for Ears {
    fn prepare(&mut self, listen: &Listen) -> anyhow::Result<()> {
        Ok(Ears::prepare(self, &active(listen))?)
    }

    fn hear(&mut self, utterance: &Utterance, listen: &Listen) -> anyhow::Result<Recognition> {
        Ok(Ears::hear(self, utterance, &active(listen))?)
    }

    fn hear_ahead(
        &mut self,
        utterance: &Utterance,
        listen: &Listen,
    ) -> anyhow::Result<Option<Recognition>> {
        Ok(Ears::hear_ahead(self, utterance, &active(listen))?.cloned())
    }

    fn hear_breath(&mut self, utterance: &Utterance, listen: &Listen) -> anyhow::Result<Breath> {
        Ok(Ears::hear_breath(self, utterance, &active(listen))?)
    }

    fn transcribe(&mut self, samples: &[f32]) -> anyhow::Result<String> {
        Ok(Ears::transcribe(self, samples)?)
    }

    fn read(&mut self, words: &str, listen: &Listen) -> anyhow::Result<Option<Meaning>> {
        Ok(Ears::read(self, words, &active(listen))?)
    }

    fn read_breath(
        &mut self,
        words: &str,
        listen: &Listen,
    ) -> anyhow::Result<Option<Vec<Meaning>>> {
        Ok(Ears::read_breath(self, words, &listen.items)?)
    }
}

impl Driver<'_> {
    /// An utterance that may be over. An answer that is beyond doubt is taken at once; of any other what will be
    /// spoken to it is made ready while it is waited for its end.
    pub(super) fn paused(
        &mut self,
        utterance: &Utterance,
        listen: &Listen,
    ) -> anyhow::Result<Next> {
        let Some(recognition) = self.ears.hear_ahead(utterance, listen)? else {
            return Ok(Next::Nothing);
        };
        // Spoken, as far as the walk minds; it is written where it is taken.
        let clip = Clip {
            file: "ahead".to_owned(),
            ..Clip::default()
        };
        let foreseen = self.walk.foresee(hearing(&recognition, utterance, clip));
        if foreseen.answers
            && recognition.is_beyond_doubt()
            && self.port.end_early(utterance.samples.len())?
        {
            return self.heard(utterance, "", listen);
        }
        self.port.prepare(&foreseen.says);
        Ok(Next::Nothing)
    }

    /// More was said than what was heard, of which an answer may have been taken. `handed`: samples of the answer at its head.
    pub(super) fn went_on(&mut self, utterance: &Utterance, handed: usize) -> anyhow::Result<Next> {
        if !self.walk.heeds() {
            return Ok(Next::Nothing);
        }
        let behind = utterance.behind(handed);
        // Half sure is enough to stand still; whatever fails here, the answer is taken back.
        let stop = self
            .ears
            .hear(&behind, &Listen::control(0))
            .is_ok_and(|heard| match heard.decision() {
                Decision::Take { meaning } | Decision::Confirm { meaning } => {
                    meaning.value == rules::STAND_BY
                }
                Decision::Refuse { .. } => false,
            });
        self.observer.trouble(if self.walk.may_take_back() {
            "more was said behind the answer, which is taken back"
        } else {
            "something was said before its turn, so it does not count; say it again"
        });
        let wav = clip_wav(&utterance.samples);
        // Without its sound the answer is taken back all the same.
        let clip = self.record.write_clip("went-on", &wav).unwrap_or_default();
        Ok(Next::Event(Event::WentOn {
            stop,
            hearing: Hearing {
                decision: Decision::Refuse {
                    reason: "more was said behind the answer".to_owned(),
                },
                words: String::new(),
                confidence: 0.0,
                clip: clip.file,
                clip_sha256: clip.sha256,
                snr_db: utterance.level.snr_db.map(f64::from),
                others: Vec::new(),
            },
        }))
    }

    pub(super) fn heard(
        &mut self,
        utterance: &Utterance,
        from: &str,
        listen: &Listen,
    ) -> anyhow::Result<Next> {
        if !listen.items.is_empty() {
            return self.called(utterance, from, listen);
        }
        let recognition = self.ears.hear(utterance, listen)?;
        self.observer.heard(&recognition, from);
        let hint = self
            .walk
            .current()
            .map_or_else(|| "walk".to_owned(), ToString::to_string);
        let hint = if listen.free {
            format!("{hint}-note")
        } else {
            hint
        };
        let wav = clip_wav(&utterance.samples);
        let clip = match self.record.write_clip(&hint, &wav) {
            Ok(clip) => clip,
            Err(error) => {
                // Without its sound an answer does not count; the check stays open.
                self.observer.trouble(&error.to_string());
                return Ok(self.no_room(wav.len()));
            }
        };
        let taken = matches!(recognition.decision(), Decision::Take { .. });
        if listen.free && !taken {
            let machine_transcript = self.ears.transcribe(&utterance.samples)?;
            self.observer.note(&machine_transcript);
            return Ok(Next::Event(Event::NoteHeard {
                listen: listen.id,
                note: Note {
                    machine_transcript,
                    clip: clip.file,
                    clip_sha256: clip.sha256,
                    typed: false,
                    by_tool: false,
                },
            }));
        }
        Ok(Next::Event(Event::Heard {
            listen: listen.id,
            hearing: hearing(&recognition, utterance, clip),
        }))
    }
}

/// A recognition in the walk's words.
fn hearing(recognition: &Recognition, utterance: &Utterance, clip: Clip) -> Hearing {
    Hearing {
        others: recognition.others(),
        decision: recognition.decision(),
        words: recognition.words.clone(),
        confidence: f64::from(recognition.judgement.confidence),
        clip: clip.file,
        clip_sha256: clip.sha256,
        snr_db: utterance.level.snr_db.map(f64::from),
    }
}

fn active(listen: &Listen) -> Active {
    Active {
        rules: listen.rules.clone(),
        states: listen.states.clone(),
        noun: listen.noun.clone(),
        items: listen.items.clone(),
    }
}

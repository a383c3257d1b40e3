//! What was spoken, on its way from the ears to the walk.

use super::driver::{Driver, Next, Understands};
use crate::ears::{Active, Breath, Ears, Recognition, Utterance};
use crate::grammar::Meaning;
use crate::record::clip_wav;
use crate::walk::{Decision, Event, Hearing, Listen, Note};

impl Understands for Ears {
    fn prepare(&mut self, listen: &Listen) -> anyhow::Result<()> {
        Ok(Ears::prepare(self, &active(listen))?)
    }

    fn hear(&mut self, utterance: &Utterance, listen: &Listen) -> anyhow::Result<Recognition> {
        Ok(Ears::hear(self, utterance, &active(listen))?)
    }

    fn hear_ahead(&mut self, utterance: &Utterance, listen: &Listen) -> anyhow::Result<()> {
        Ok(Ears::hear_ahead(self, utterance, &active(listen))?)
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
        let decision = recognition.decision();
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
                let why = "the sound cannot be written".to_owned();
                return Ok(Next::Event(Event::Hold { why }));
            }
        };
        let taken = matches!(decision, Decision::Take { .. });
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
                },
            }));
        }
        Ok(Next::Event(Event::Heard {
            listen: listen.id,
            hearing: Hearing {
                others: recognition.others(),
                decision,
                words: recognition.words,
                confidence: f64::from(recognition.judgement.confidence),
                clip: clip.file,
                clip_sha256: clip.sha256,
                snr_db: utterance.level.snr_db.map(f64::from),
            },
        }))
    }
}

fn active(listen: &Listen) -> Active {
    Active {
        rules: listen.rules.clone(),
        states: listen.states.clone(),
        items: listen.items.clone(),
    }
}

//! A breath of called findings, on its way from the ears to the walk.

use crate::walk::{Decision, Hearing};

#[cfg(feature = "whisper")]
mod spoken {
    use super::super::driver::{Driver, Next};
    use super::{Decision, Hearing};
    use crate::ears::decide::Verdict;
    use crate::ears::{Breath, HeardItem, Utterance};
    use crate::record::{RecordError, clip_wav};
    use crate::walk::{Called, Event, Listen};

    /// Samples a second.
    const RATE: f32 = 16_000.0;
    /// Sound kept before and after an item, in seconds.
    const MARGIN: f32 = 0.15;

    impl Driver<'_> {
        pub(in crate::cli::drive) fn called(
            &mut self,
            utterance: &Utterance,
            from: &str,
            listen: &Listen,
        ) -> anyhow::Result<Next> {
            let breath = self.ears.hear_breath(utterance, listen)?;
            self.observer.called(&breath, from);
            match self.kept(utterance, &breath) {
                Ok(called) => Ok(Next::Event(Event::Called {
                    listen: listen.id,
                    called,
                })),
                Err(error) => {
                    // Without its sound a finding does not count; the checks stay open.
                    self.observer.trouble(&error.to_string());
                    Ok(self.no_room(clip_wav(&utterance.samples).len()))
                }
            }
        }

        /// Writes the sound of each item; that of the breath where it holds none.
        fn kept(&mut self, utterance: &Utterance, breath: &Breath) -> Result<Called, RecordError> {
            let snr_db = breath.snr_db.map(f64::from);
            let mut items = Vec::new();
            for item in &breath.items {
                let piece = piece(&utterance.samples, item.from_seconds, item.to_seconds);
                let clip = self.record.write_clip(&hint(item), &clip_wav(piece))?;
                items.push(Hearing {
                    decision: decision(item),
                    words: item.words.clone(),
                    confidence: f64::from(item.judgement.confidence),
                    clip: clip.file,
                    clip_sha256: clip.sha256,
                    snr_db,
                    others: Vec::new(),
                });
            }
            let mut whole = super::nothing(&breath.words);
            whole.snr_db = snr_db;
            whole.confidence = 0.0;
            if items.is_empty() {
                let wav = clip_wav(&utterance.samples);
                let clip = self.record.write_clip("breath", &wav)?;
                whole.clip = clip.file;
                whole.clip_sha256 = clip.sha256;
            }
            let more = breath.more;
            Ok(Called { items, whole, more })
        }
    }

    /// The samples of an item with some sound round it, within the utterance.
    fn piece(samples: &[f32], from: f32, to: f32) -> &[f32] {
        // Negative and not a number become 0.
        let at = |seconds: f32| ((seconds * RATE) as usize).min(samples.len());
        let (from, to) = (at(from - MARGIN), at(to + MARGIN));
        if from < to {
            &samples[from..to]
        } else {
            samples
        }
    }

    /// What the clip's file is called after.
    fn hint(item: &HeardItem) -> String {
        let rule = item.meaning.rule.replace(crate::grammar::called::AND, "-");
        format!("called-{rule}")
    }

    fn decision(item: &HeardItem) -> Decision {
        let meaning = item.meaning.clone();
        match item.judgement.verdict {
            Verdict::Take => Decision::Take { meaning },
            Verdict::Confirm => Decision::Confirm { meaning },
            Verdict::Refuse(why) => Decision::Refuse {
                reason: why.to_owned(),
            },
        }
    }

    #[cfg(test)]
    mod tests {
        use super::{MARGIN, RATE, piece};

        #[test]
        fn a_piece_stays_within_the_utterance() {
            let samples = vec![0.0; 16_000];
            let length = |from, to| piece(&samples, from, to).len();
            let margin = (MARGIN * RATE) as usize;
            assert_eq!(length(0.0, 0.5), 8_000 + margin);
            assert_eq!(length(0.5, 0.6), 1_600 + 2 * margin);
            assert_eq!(length(0.9, 7.0), 1_600 + margin);
            // Nothing that can be cut: all of it is kept.
            assert_eq!(length(f32::NAN, -1.0), 16_000);
            assert_eq!(length(5.0, 6.0), 16_000);
        }
    }
}

/// A breath that holds nothing.
pub(super) fn nothing(words: &str) -> Hearing {
    Hearing {
        decision: Decision::Refuse {
            reason: "nothing that can be called off here".to_owned(),
        },
        words: words.to_owned(),
        confidence: 1.0,
        clip: String::new(),
        clip_sha256: String::new(),
        snr_db: None,
        others: Vec::new(),
    }
}

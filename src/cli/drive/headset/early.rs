//! An answer taken in its first pause: whether it was all that was said.

use super::{Happening, Headset};
use crate::cli::drive::Port;
use crate::ears::{CHUNK, Cutter, EarsError, FAR_DB, Utterance};
use crate::walk::MonotonicMs;
use std::time::Duration;

/// What begins so soon after an utterance was handed out belongs to it, in ms: nobody answers a question of
/// which nothing was heard yet.
const BEHIND_MS: MonotonicMs = 800;

/// Quiet behind an answer after which it is taken early, in ms. In words a closed mouth is shorter.
const QUIET_MS: u64 = 256;

/// How often it is looked whether that is reached, in ms.
const LOOK_MS: u64 = 5;

/// The rest of the quiet behind an answer that was taken early.
#[derive(Debug, Default)]
pub(super) struct Early {
    /// Samples of the answer.
    handed: usize,
    /// Whether more is being said.
    goes_on: bool,
}

/// What came of it.
#[derive(Debug)]
enum Rest {
    /// Still quiet, or still spoken.
    Open,
    /// More begins to be said.
    GoesOn,
    /// It was all.
    Over,
    /// All that was said, the answer and what came behind it.
    More(Utterance),
}

impl Early {
    /// Hears a piece of at most a chunk. `least`: level under which something may be the tool's own voice, or another's
    /// farther away, dB of full scale.
    fn hear(&mut self, cutter: &mut Cutter, piece: &[f32], least: f32) -> Result<Rest, EarsError> {
        let ended = cutter.push(piece)?.into_iter().next();
        // Its pauses are no answers.
        cutter.take_paused();
        let begins = !self.goes_on && cutter.hears_speech(least);
        self.goes_on |= begins;
        Ok(match ended {
            Some(all) if self.goes_on => Rest::More(all),
            Some(_) => Rest::Over,
            None if begins => Rest::GoesOn,
            None => Rest::Open,
        })
    }
}

impl Headset {
    /// Takes the utterance in its pause as over, unless something was said since it was handed out. Only where
    /// one may talk over the tool: else its read-back would hide what is still said.
    pub(super) fn take_early(&mut self, samples: usize) -> anyhow::Result<bool> {
        if !self.turns.is_over() {
            return Ok(false);
        }
        self.hear()?;
        // A microphone that gives nothing any more ends no quiet.
        for _ in 0..QUIET_MS / LOOK_MS {
            if !self.open || !self.cutter.is_pausing() || self.cutter.quiet_ms() >= QUIET_MS {
                break;
            }
            std::thread::sleep(Duration::from_millis(LOOK_MS));
            self.hear()?;
        }
        let nothing_since = self.open && self.cutter.quiet_ms() >= QUIET_MS;
        let sound = self.waiting.iter().any(super::microphone::is_sound);
        if !nothing_since || sound {
            return Ok(false);
        }
        self.early = Some(Early {
            handed: samples,
            goes_on: false,
        });
        self.handed = Some(self.now());
        Ok(true)
    }

    /// Hears whether more is said until the utterance is over. What is said stops the voice and is handed
    /// out whole with what was taken.
    pub(super) fn watch_early(&mut self, sound: &[f32]) -> anyhow::Result<()> {
        let least = self.over_echo_dbfs().max(self.far_dbfs());
        let Some(mut early) = self.early.take() else {
            return Ok(());
        };
        for piece in sound.chunks(CHUNK) {
            match early.hear(&mut self.cutter, piece, least)? {
                Rest::Open => {}
                Rest::GoesOn => self.mouth.stop(),
                Rest::Over => return Ok(()),
                Rest::More(utterance) => {
                    let handed = early.handed;
                    self.waiting
                        .push_back(Happening::WentOn { utterance, handed });
                    return Ok(());
                }
            }
        }
        self.early = Some(early);
        Ok(())
    }

    /// Level under which what is heard behind the utterance that was handed out last is another's, farther away, dB of full
    /// scale.
    pub(super) fn far_dbfs(&self) -> f32 {
        self.handed_dbfs - FAR_DB
    }

    /// Whether this was begun right behind what was handed out last, by another, farther away.
    pub(super) fn is_far_behind(&self, utterance: &Utterance) -> bool {
        self.behind && utterance.level.speech_dbfs < self.far_dbfs()
    }

    /// Whether what begins now is begun right behind what was handed out last.
    pub(super) fn is_behind(&self) -> bool {
        let now = self.now();
        self.behind_unread
            || self
                .handed
                .is_some_and(|at| now.saturating_sub(at) <= BEHIND_MS)
    }
}

#[cfg(test)]
mod tests {
    use super::{Early, Rest};
    use crate::ears::endpoint::Endpointing;
    use crate::ears::{CHUNK, Cutter, SpeechActivity, Utterance};
    use crate::model::{Purpose, find};

    /// Under any speech, dB of full scale.
    const FAINT: f32 = -56.0;

    /// A fixture without the quiet before it.
    fn word(name: &str) -> Vec<f32> {
        let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("audio-fixtures");
        let sound = crate::audio::read(&folder.join(name)).expect("it reads");
        let quiet = |s: &&f32| s.abs() < 0.01;
        sound.iter().skip_while(quiet).copied().collect()
    }

    /// A cutter in the first pause behind a word.
    fn in_pause() -> (Cutter, Utterance) {
        let network = find(None, Purpose::VoiceActivity, None).expect("`make test` fetches it");
        let network = SpeechActivity::load(&network).expect("it loads");
        let mut cutter = Cutter::new(network, Endpointing::default());
        let mut sound = word("joe/presence/present.flac");
        sound.resize(sound.len() + 16_000, 0.0);
        for piece in sound.chunks(CHUNK) {
            assert!(cutter.push(piece).expect("it hears").is_empty());
            if let Some(utterance) = cutter.take_paused() {
                assert!(cutter.is_pausing());
                return (cutter, utterance);
            }
        }
        panic!("no pause");
    }

    /// What comes of this sound, and whether more was told to begin before.
    fn rest(cutter: &mut Cutter, sound: &[f32], echo: f32) -> (Rest, bool) {
        let mut early = Early::default();
        let mut began = false;
        for piece in sound.chunks(CHUNK) {
            match early.hear(cutter, piece, echo).expect("it hears") {
                Rest::Open => {}
                Rest::GoesOn => began = true,
                end => return (end, began),
            }
        }
        panic!("it does not end");
    }

    #[test]
    fn quiet_behind_an_answer_is_its_end() {
        let (mut cutter, _) = in_pause();
        let (end, began) = rest(&mut cutter, &[0.0; 16_000], FAINT);
        assert!(matches!(end, Rest::Over) && !began, "{end:?}");
    }

    #[test]
    fn what_is_said_behind_an_answer_is_told_at_once_and_then_whole() {
        let (mut cutter, answer) = in_pause();
        let mut sound = vec![0.0; 2_000];
        sound.extend(word("no-answer/mind-the-rope-tilda.flac"));
        sound.resize(sound.len() + 16_000, 0.0);
        let (end, began) = rest(&mut cutter, &sound, FAINT);
        let Rest::More(all) = end else {
            panic!("{end:?}");
        };
        assert!(began);
        assert!(all.samples.starts_with(&answer.samples));
        assert!(all.speech_seconds > answer.speech_seconds + 0.5);
    }

    #[test]
    fn the_tool_s_own_faint_voice_is_not_more() {
        let (mut cutter, _) = in_pause();
        let mut sound = vec![0.0; 2_000];
        let voice = word("no-answer/mind-the-rope-tilda.flac");
        sound.extend(voice.iter().map(|s| s * 0.01));
        sound.resize(sound.len() + 16_000, 0.0);
        let (end, began) = rest(&mut cutter, &sound, FAINT);
        assert!(matches!(end, Rest::Over) && !began, "{end:?}");
    }
}

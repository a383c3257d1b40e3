//! A voice that remembers what it has said: prompts repeat, and a repeated prompt must start at once.

use crate::audio::Clip;
use crate::voice::{Voice, VoiceError};
use std::collections::{HashMap, VecDeque};
use std::sync::Arc;

/// Sound kept, samples: about 200 seconds at 22 kHz, 18 MB; what is spoken round a load again and again.
const MAX_SAMPLES: usize = 4_400_000;

/// Text and pace in thousandths.
type Key = (String, u32);

/// A [`Voice`] with a bounded memory; the oldest sounds are dropped first.
pub struct Store {
    voice: Box<dyn Voice>,
    clips: HashMap<Key, Arc<Clip>>,
    order: VecDeque<Key>,
    samples: usize,
    most: usize,
}

impl Store {
    /// Remembers what `voice` says.
    pub fn new(voice: Box<dyn Voice>) -> Self {
        Self::with_most(voice, MAX_SAMPLES)
    }

    /// As [`Store::new`], keeping at most so many samples.
    pub fn with_most(voice: Box<dyn Voice>, most: usize) -> Self {
        Self {
            voice,
            clips: HashMap::new(),
            order: VecDeque::new(),
            samples: 0,
            most,
        }
    }

    /// What makes the sound.
    pub fn name(&self) -> &str {
        self.voice.name()
    }

    /// Whether the sound of a text is here.
    pub fn holds(&self, text: &str, rate: f32) -> bool {
        self.clips.contains_key(&key(text, rate))
    }

    /// The sound of a text.
    ///
    /// # Errors
    /// As [`Voice::synthesise`].
    pub fn sound(&mut self, text: &str, rate: f32) -> Result<Arc<Clip>, VoiceError> {
        let key = key(text, rate);
        if let Some(clip) = self.clips.get(&key) {
            return Ok(Arc::clone(clip));
        }
        let clip = Arc::new(self.voice.synthesise(text, rate)?);
        if clip.samples.len() <= self.most {
            self.samples += clip.samples.len();
            self.clips.insert(key.clone(), Arc::clone(&clip));
            self.order.push_back(key);
            while self.samples > self.most {
                let Some(oldest) = self.order.pop_front() else {
                    break;
                };
                if let Some(gone) = self.clips.remove(&oldest) {
                    self.samples -= gone.samples.len();
                }
            }
        }
        Ok(clip)
    }
}

fn key(text: &str, rate: f32) -> Key {
    (text.to_owned(), (rate * 1_000.0) as u32)
}

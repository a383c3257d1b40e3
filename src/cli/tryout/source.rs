//! Where the words of a tryout come from: a headset, or sound files.

use crate::cli::drive::{AnswerList, Happening, Meter, Port, PromptSound};
use crate::cli::out::tell;
use crate::ears::tryout::{Word, loudest_dbfs};
use crate::ears::{Cutter, Utterance};
use crate::walk::{Listen, MonotonicMs, Phrase, Say, Tone};
use anyhow::{Context, bail};

/// How long a word is waited for, in ms.
const WAIT_MS: MonotonicMs = 7_000;
/// How long a word may take once it has begun, in ms.
const UTTERANCE_MS: MonotonicMs = 10_000;
/// How often the level is looked at, in ms.
const LOOK_MS: MonotonicMs = 50;
/// A phrase is over after so long in any case, in ms.
const SPEECH_MS: MonotonicMs = 20_000;

/// One word as it came in.
pub struct Came {
    /// The utterance; `None` where nobody was heard.
    pub utterance: Option<Utterance>,
    /// Loudest tenth of a second, dB of full scale.
    pub loudest_dbfs: f32,
}

/// Where the words come from.
#[cfg_attr(
    not(feature = "devices"),
    expect(dead_code, reason = "there is no headset to read into")
)]
pub enum Source {
    /// One sound file a word.
    Files {
        /// The files.
        list: AnswerList,
        /// Finds the speech in them.
        cutter: Box<Cutter>,
        /// Says the prompts, or not.
        voice: Box<dyn PromptSound>,
    },
    /// Live.
    Headset {
        /// Mouth and microphone.
        port: Box<dyn Port>,
        /// The microphone's level.
        meter: Meter,
    },
}

/// What to listen for while a word is read.
pub fn listen(word: &Word, id: u64) -> Listen {
    Listen {
        id,
        rules: word.rules.clone(),
        states: word.states.clone(),
        noun: None,
        items: Vec::new(),
        free: false,
    }
}

impl Source {
    /// Asks for a word and waits for it.
    ///
    /// # Errors
    /// Where the list has no file for it, a file cannot be read, a device is lost, or it was interrupted.
    pub fn read(&mut self, word: &Word, id: u64) -> anyhow::Result<Came> {
        self.say(&format!("Say: {}.", word.say), id)?;
        match self {
            Self::Files { list, cutter, .. } => {
                let path = list.next_file(false).with_context(|| {
                    format!(
                        "the list of answers has no file for {:?}, word {}; give one sound file a word",
                        word.say,
                        id + 1
                    )
                })??;
                let sound = crate::audio::read(&path)?;
                Ok(Came {
                    loudest_dbfs: loudest_dbfs(&sound),
                    utterance: cutter.one(&sound)?,
                })
            }
            Self::Headset { port, meter } => live(&mut **port, meter, &listen(word, id)),
        }
    }

    /// Says something and waits until it was said.
    ///
    /// # Errors
    /// Where a device is lost or it was interrupted.
    pub fn say(&mut self, text: &str, id: u64) -> anyhow::Result<()> {
        let say = Say {
            id,
            text: text.to_owned(),
            phrase: Phrase::Ask,
        };
        match self {
            Self::Files { voice, .. } => voice.speak(&say).map(|_| ()),
            Self::Headset { port, .. } => {
                port.say(&say)?;
                let until = port.now() + SPEECH_MS;
                loop {
                    match port.wait(Some(until))? {
                        Happening::Said(said) if said == id => return Ok(()),
                        Happening::Deadline => {
                            port.quiet();
                            return Ok(());
                        }
                        other => passing(other)?,
                    }
                }
            }
        }
    }
}

fn live(port: &mut dyn Port, meter: &Meter, listen: &Listen) -> anyhow::Result<Came> {
    port.tone(Tone::Listening);
    port.listen(listen);
    let mut until = port.now() + WAIT_MS;
    let mut loudest_dbfs = f32::MIN;
    let utterance = loop {
        let now = port.now();
        if now >= until {
            break None;
        }
        match port.wait(Some(until.min(now + LOOK_MS)))? {
            Happening::Utterance { utterance, .. } => break Some(utterance),
            Happening::Began => until = port.now() + UTTERANCE_MS,
            other => passing(other)?,
        }
        loudest_dbfs = loudest_dbfs.max(meter.level_db().unwrap_or(f32::MIN));
    };
    port.hush();
    Ok(Came {
        utterance,
        loudest_dbfs,
    })
}

/// What does not end a tryout is passed over.
fn passing(happening: Happening) -> anyhow::Result<()> {
    match happening {
        Happening::Lost(why) => bail!("{why}; connect it and try out again"),
        Happening::Over(why) => bail!("the tryout is broken off: {why}; nothing is kept of it"),
        Happening::Replaced(what) | Happening::Remark(what) => tell!("loadwalk: {what}"),
        _ => {}
    }
    Ok(())
}

//! What a walk speaks and listens with: keyboard, sound files or a headset.

use super::drive::{Keyboard, Meter, Port, Reader, Typing, Understands};
use super::exit::Failure;
use super::walk::How;
use crate::grammar::GrammarSet;

/// What a walk speaks and listens with.
#[cfg_attr(
    not(feature = "screen"),
    expect(dead_code, reason = "only a view shows all of it")
)]
pub struct World {
    /// What understands.
    pub ears: Box<dyn Understands>,
    /// Mouth, inspector and clock.
    pub port: Box<dyn Port>,
    /// Level of the microphone, where there is one.
    pub meter: Meter,
    /// What it speaks and listens with, in words.
    pub means: String,
}

impl World {
    /// Opens what the arguments ask for.
    ///
    /// # Errors
    /// Where a model or a device is missing, or the list of answers cannot be used.
    pub fn open(how: &How, typing: Typing) -> Result<Self, Failure> {
        let grammars = GrammarSet::builtin();
        if how.keys {
            return Ok(Self {
                ears: Box::new(Reader::new(grammars)),
                port: Box::new(Keyboard::new(typing)),
                meter: Meter::default(),
                means: "by keyboard".to_owned(),
            });
        }
        spoken::open(how, grammars, typing)
    }
}

#[cfg(not(feature = "whisper"))]
mod spoken {
    use super::{Failure, GrammarSet, How, Typing, World};

    pub fn open(_: &How, _: GrammarSet, _: Typing) -> Result<World, Failure> {
        Err(Failure::missing(anyhow::anyhow!(
            "{}; or type the answers with `--keys`",
            crate::cli::NO_EARS
        )))
    }
}

#[cfg(feature = "whisper")]
mod spoken {
    use super::{Failure, GrammarSet, How, Meter, Port, Typing, World};
    use crate::cli::drive::{AnswerList, Mouthed, PromptSound, Scripted, Unspoken};
    use crate::ears::endpoint::Endpointing;
    use crate::ears::{Cutter, SpeechActivity};
    use crate::voice::{Preference, choose};

    pub fn open(how: &How, grammars: GrammarSet, typing: Typing) -> Result<World, Failure> {
        let activity = how.model.activity()?;
        let network = SpeechActivity::load(&activity).map_err(Failure::missing)?;
        let cutter = Cutter::new(network, Endpointing::default());
        let ears = how.model.ears(grammars)?;
        let meter = Meter::default();
        let (port, means): (Box<dyn Port>, String) = match &how.answers {
            Some(list) => {
                let list = if list.as_os_str() == "-" {
                    AnswerList::standard_input()
                } else {
                    AnswerList::read(list).map_err(Failure::wrong)?
                };
                let scripted = Scripted::new(list, cutter, prompt_sound(how)?);
                (Box::new(scripted), "answers from files".to_owned())
            }
            None => headset(how, cutter, typing, meter.clone())?,
        };
        Ok(World {
            ears: Box::new(ears),
            port,
            meter,
            means,
        })
    }

    fn prompt_sound(how: &How) -> Result<Box<dyn PromptSound>, Failure> {
        if let Some(dir) = &how.prompts {
            let voice = crate::voice::find_program().map_err(Failure::missing)?;
            let files = Mouthed::files(voice, dir).map_err(Failure::wrong)?;
            return Ok(Box::new(files));
        }
        if how.fast {
            return Ok(Box::new(Unspoken));
        }
        let aloud = Mouthed::new::<Failure>(|tell| {
            let chosen = choose(Preference::Best, how.speaker.as_deref(), tell);
            eprintln!("loadwalk: {}", chosen.message);
            Ok(chosen.mouth)
        })?;
        Ok(Box::new(aloud))
    }

    #[cfg(feature = "devices")]
    fn headset(
        how: &How,
        cutter: Cutter,
        typing: Typing,
        meter: Meter,
    ) -> Result<(Box<dyn Port>, String), Failure> {
        let speaker = how.speaker.clone();
        let wanted = speaker.clone();
        let (headset, message, speaks) = crate::cli::drive::Headset::open(
            how.mic.as_deref(),
            cutter,
            Box::new(move |tell| choose(Preference::Best, wanted.as_deref(), tell)),
            typing,
            meter,
        )
        .map_err(|error| {
            Failure::missing(anyhow::anyhow!(
                "{error}; `loadwalk devices` lists what there is, and `--keys` takes typed answers"
            ))
        })?;
        if let (Some(speaker), false) = (speaker, speaks) {
            return Err(Failure::missing(anyhow::anyhow!(
                "the loudspeaker {speaker:?} cannot be used: {message}; `loadwalk devices` lists what there is"
            )));
        }
        eprintln!("loadwalk: {message}");
        Ok((Box::new(headset), message))
    }

    #[cfg(not(feature = "devices"))]
    fn headset(
        _: &How,
        _: Cutter,
        _: Typing,
        _: Meter,
    ) -> Result<(Box<dyn Port>, String), Failure> {
        Err(Failure::missing(anyhow::anyhow!(
            "this loadwalk was built without sound devices; give spoken answers with `--answers LIST` or type them with `--keys`"
        )))
    }
}

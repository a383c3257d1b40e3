//! What a walk speaks and listens with: keyboard, sound files or a headset.

use super::args::ModelArgs;
use super::drive::{Keyboard, Meter, Port, Reader, Typing, Understands};
use super::exit::Failure;
use super::walk::How;
use crate::grammar::GrammarSet;
use std::path::PathBuf;

/// Whereby a walk or a tryout speaks and listens.
#[derive(Clone, Debug, clap::Args)]
pub struct Means {
    /// Spoken answers from files: a text file with one sound file a line, used in order; `-` reads
    /// the lines from standard input, each when it is wanted
    #[arg(long, value_name = "LIST")]
    pub answers: Option<PathBuf>,
    /// Microphone, by a name from `devices`
    #[arg(long, value_name = "NAME")]
    pub mic: Option<String>,
    /// Loudspeaker, by a name from `devices`
    #[arg(long, value_name = "NAME")]
    pub speaker: Option<String>,
    /// With `--answers`: neither speaks aloud nor waits; time is that of the sounds
    #[arg(long)]
    pub fast: bool,
    #[command(flatten)]
    pub model: ModelArgs,
}

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
    /// The microphone's name, `files` or `keyboard`.
    pub microphone: String,
}

/// What a tryout speaks and listens with.
#[cfg(feature = "whisper")]
pub struct Trial {
    /// What understands.
    pub ears: Box<dyn Understands>,
    /// Where the words come from.
    pub source: super::tryout::Source,
    /// The microphone's name, or `files`.
    pub microphone: String,
}

/// Stands for the microphone where answers come from files.
#[cfg(feature = "whisper")]
const FILES: &str = "files";

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
                microphone: "keyboard".to_owned(),
            });
        }
        spoken::open(&how.means, how.prompts.as_deref(), grammars, typing)
    }
}

#[cfg(not(feature = "whisper"))]
mod spoken {
    use super::{Failure, GrammarSet, Means, Typing, World};
    use std::path::Path;

    pub fn open(_: &Means, _: Option<&Path>, _: GrammarSet, _: Typing) -> Result<World, Failure> {
        Err(Failure::missing(anyhow::anyhow!(
            "{}; or type the answers with `--keys`",
            crate::cli::NO_EARS
        )))
    }
}

#[cfg(feature = "whisper")]
mod spoken {
    use super::{FILES, Failure, GrammarSet, Means, Meter, Port, Trial, Typing, World};
    use crate::cli::drive::{AnswerList, Mouthed, PromptSound, Scripted, Unspoken};
    use crate::cli::tryout::Source;
    use crate::ears::endpoint::Endpointing;
    use crate::ears::{Cutter, SpeechActivity};
    use crate::voice::{Preference, choose};
    use std::path::Path;

    pub fn open(
        how: &Means,
        prompts: Option<&Path>,
        grammars: GrammarSet,
        typing: Typing,
    ) -> Result<World, Failure> {
        let cutter = cutter(how)?;
        let ears = how.model.ears(grammars)?;
        let meter = Meter::default();
        let (port, means, microphone): Opened = match &how.answers {
            Some(list) => {
                let voice = prompt_sound(how, prompts)?;
                let scripted = Scripted::new(answers(list)?, cutter, voice);
                let means = "answers from files".to_owned();
                (Box::new(scripted), means, FILES.to_owned())
            }
            None => headset(how, cutter, typing, meter.clone())?,
        };
        Ok(World {
            ears: Box::new(ears),
            port,
            meter,
            means,
            microphone,
        })
    }

    /// A port, what it is in words, and the microphone's name.
    type Opened = (Box<dyn Port>, String, String);

    impl Trial {
        /// Opens what the arguments ask for.
        ///
        /// # Errors
        /// Where a model or a device is missing, or the list of answers cannot be used.
        pub fn open(how: &Means) -> Result<Self, Failure> {
            let cutter = cutter(how)?;
            let ears = how.model.ears(GrammarSet::builtin())?;
            let (source, microphone) = match &how.answers {
                Some(list) => {
                    let source = Source::Files {
                        list: answers(list)?,
                        cutter: Box::new(cutter),
                        voice: prompt_sound(how, None)?,
                    };
                    (source, FILES.to_owned())
                }
                None => {
                    let meter = Meter::default();
                    let typing = Typing::StandardInput;
                    let (port, _, microphone) = headset(how, cutter, typing, meter.clone())?;
                    (Source::Headset { port, meter }, microphone)
                }
            };
            Ok(Self {
                ears: Box::new(ears),
                source,
                microphone,
            })
        }
    }

    fn cutter(how: &Means) -> Result<Cutter, Failure> {
        let activity = how.model.activity()?;
        let network = SpeechActivity::load(&activity).map_err(Failure::missing)?;
        Ok(Cutter::new(network, Endpointing::default()))
    }

    fn answers(list: &Path) -> Result<AnswerList, Failure> {
        if list.as_os_str() == "-" {
            return Ok(AnswerList::standard_input());
        }
        AnswerList::read(list).map_err(Failure::wrong)
    }

    fn prompt_sound(how: &Means, prompts: Option<&Path>) -> Result<Box<dyn PromptSound>, Failure> {
        if let Some(dir) = prompts {
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
        how: &Means,
        cutter: Cutter,
        typing: Typing,
        meter: Meter,
    ) -> Result<Opened, Failure> {
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
        let microphone = headset.microphone().to_owned();
        Ok((Box::new(headset), message, microphone))
    }

    #[cfg(not(feature = "devices"))]
    fn headset(_: &Means, _: Cutter, _: Typing, _: Meter) -> Result<Opened, Failure> {
        Err(Failure::missing(anyhow::anyhow!(
            "this loadwalk was built without sound devices; give spoken answers with `--answers LIST` or type them with `--keys`"
        )))
    }
}

//! What a walk speaks and listens with: keyboard, sound files or a headset.

use super::args::ModelArgs;
use super::drive::{Keyboard, Meter, Port, Reader, Typing, Understands};
use super::exit::Failure;
use super::out::outside_records;
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
    /// Microphone, by a name from `devices`; kept for the next walk. `default` is the system's
    #[arg(long, value_name = "NAME")]
    pub mic: Option<String>,
    /// Loudspeaker, by a name from `devices`; kept for the next walk. `default` is the system's
    #[arg(long, value_name = "NAME")]
    pub speaker: Option<String>,
    /// With `--answers`: neither speaks aloud nor waits; time is that of the sounds. Typed answers need it not: nothing is
    /// spoken to them
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
    /// Whether answers count while the tool speaks; `None` where there is no such thing as a turn.
    pub talk_over: Option<bool>,
}

/// When an answer counts.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, clap::ValueEnum)]
pub enum TalkOver {
    /// While the tool speaks too; for a headset whose microphone does not hear its loudspeaker.
    On,
    /// After the tone.
    Off,
    /// As the microphone hears the loudspeaker or not, tried at the start.
    #[default]
    Auto,
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
    /// Where a model or a device is missing, the list of answers cannot be used, or the prompts would lie in a record.
    pub fn open(how: &How, typing: Typing) -> Result<Self, Failure> {
        if let Some(prompts) = &how.prompts {
            outside_records(prompts)?;
        }
        let grammars = GrammarSet::builtin();
        if how.keys {
            return Ok(Self {
                ears: Box::new(Reader::new(grammars)),
                port: Box::new(Keyboard::new(typing)),
                meter: Meter::default(),
                means: "by keyboard".to_owned(),
                microphone: "keyboard".to_owned(),
                talk_over: None,
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
    #[cfg(feature = "devices")]
    use super::TalkOver;
    use super::{FILES, Failure, GrammarSet, How, Means, Meter, Trial, Typing, Understands, World};
    #[cfg(feature = "devices")]
    use crate::cli::drive::Headset;
    use crate::cli::drive::{AnswerList, Mouthed, PromptSound, Scripted, Unspoken};
    use crate::cli::out::tell;
    #[cfg(feature = "devices")]
    use crate::cli::remembered::{self, Devices};
    use crate::cli::tryout::Source;
    use crate::ears::endpoint::Endpointing;
    use crate::ears::{Cutter, SpeechActivity};
    use crate::voice::{Preference, choose};
    use std::path::Path;

    pub fn open(how: &How, grammars: GrammarSet, typing: Typing) -> Result<World, Failure> {
        let means = &how.means;
        let cutter = cutter(means)?;
        if let Some(list) = &means.answers {
            let voice = prompt_sound(means, how.prompts.as_deref())?;
            let list = answers(list)?;
            return Ok(World {
                ears: Box::new(means.model.ears(grammars)?),
                port: Box::new(Scripted::new(list, cutter, voice)),
                meter: Meter::default(),
                means: "answers from files".to_owned(),
                microphone: FILES.to_owned(),
                talk_over: None,
            });
        }
        live(how, cutter, grammars, typing)
    }

    #[cfg(feature = "devices")]
    fn live(
        how: &How,
        cutter: Cutter,
        grammars: GrammarSet,
        typing: Typing,
    ) -> Result<World, Failure> {
        let meter = Meter::default();
        let (mut headset, means) = headset(&how.means, cutter, typing, meter.clone())?;
        headset.watch_fitness();
        if how.talk_over == TalkOver::Auto {
            headset.listen_for_echo();
        }
        // The models load while the echo is awaited.
        let ears = how.means.model.ears(grammars)?;
        let talk_over = match how.talk_over {
            TalkOver::Auto => {
                let found = headset.echo_heard();
                tell!("loadwalk: {}", found.message);
                found.on
            }
            chosen => {
                headset.talk_over(chosen == TalkOver::On);
                chosen == TalkOver::On
            }
        };
        Ok(World {
            ears: Box::new(ears),
            microphone: headset.microphone().to_owned(),
            port: Box::new(headset),
            meter,
            means,
            talk_over: Some(talk_over),
        })
    }

    #[cfg(not(feature = "devices"))]
    fn live(_: &How, _: Cutter, _: GrammarSet, _: Typing) -> Result<World, Failure> {
        Err(no_devices())
    }

    impl Trial {
        /// Opens what the arguments ask for.
        ///
        /// # Errors
        /// Where a model or a device is missing, or the list of answers cannot be used.
        pub fn open(how: &Means) -> Result<Self, Failure> {
            let cutter = cutter(how)?;
            let ears = Box::new(how.model.ears(GrammarSet::builtin())?);
            let Some(list) = &how.answers else {
                return live_trial(how, cutter, ears);
            };
            Ok(Self {
                ears,
                source: Source::Files {
                    list: answers(list)?,
                    cutter: Box::new(cutter),
                    voice: prompt_sound(how, None)?,
                },
                microphone: FILES.to_owned(),
            })
        }
    }

    #[cfg(feature = "devices")]
    fn live_trial(
        how: &Means,
        cutter: Cutter,
        ears: Box<dyn Understands>,
    ) -> Result<Trial, Failure> {
        let meter = Meter::default();
        let (headset, _) = headset(how, cutter, Typing::StandardInput, meter.clone())?;
        Ok(Trial {
            ears,
            microphone: headset.microphone().to_owned(),
            source: Source::Headset {
                port: Box::new(headset),
                meter,
            },
        })
    }

    #[cfg(not(feature = "devices"))]
    fn live_trial(_: &Means, _: Cutter, _: Box<dyn Understands>) -> Result<Trial, Failure> {
        Err(no_devices())
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
        #[cfg(feature = "devices")]
        let speaker = remembered::speaker(how.speaker.as_deref());
        #[cfg(not(feature = "devices"))]
        let speaker = how.speaker.clone();
        let aloud = Mouthed::new::<Failure>(|tell| {
            let chosen = choose(Preference::Best, speaker.as_deref(), tell);
            tell!("loadwalk: {}", chosen.message);
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
    ) -> Result<(Headset, String), Failure> {
        let given = given(how);
        let devices = remembered::settled(&given);
        let speaker = devices.speaker.clone();
        let wanted = speaker.clone();
        let (headset, message, speaks) = Headset::open(
            devices.mic.as_deref(),
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
        tell!("loadwalk: {message}");
        remembered::keep(&given);
        Ok((headset, message))
    }

    #[cfg(feature = "devices")]
    fn given(how: &Means) -> Devices {
        Devices {
            mic: how.mic.clone(),
            speaker: how.speaker.clone(),
        }
    }

    #[cfg(not(feature = "devices"))]
    fn no_devices() -> Failure {
        Failure::missing(anyhow::anyhow!(
            "this loadwalk was built without sound devices; give spoken answers with `--answers LIST` or type them with `--keys`"
        ))
    }
}

//! The best mouth that works on this machine.

use crate::voice::{Kind, Mouth, Program, Store, Tell, TextOnly, VoiceError};

/// What should speak.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Preference {
    /// The system's speech service where it is built in and works, else a synthesiser on this machine,
    /// else text and tones.
    #[default]
    Best,
    /// A synthesiser on this machine, through the chosen loudspeaker.
    Synthesiser,
    /// Text only.
    Text,
}

/// A mouth, and how it came to be chosen.
pub struct Chosen {
    /// What speaks.
    pub mouth: Box<dyn Mouth>,
    /// One line for the screen.
    pub message: String,
    /// Whether words are spoken at all.
    pub speaks: bool,
}

/// The synthesiser on this machine: espeak-ng, else flite.
///
/// # Errors
/// [`VoiceError::NotFound`].
pub fn find_program() -> Result<Store, VoiceError> {
    Kind::ALL
        .into_iter()
        .find_map(Program::find)
        .map(|program| Store::new(Box::new(program)))
        .ok_or_else(|| VoiceError::NotFound {
            looked_for: Kind::ALL.map(Kind::command).join(", "),
        })
}

/// Chooses a mouth. `loudspeaker` names the device for synthesised speech and tones, the default one
/// where it is `None`.
///
/// Never fails: where nothing can speak, the text on the screen is what is left, and the message says
/// why.
pub fn choose(preference: Preference, loudspeaker: Option<&str>, tell: Tell) -> Chosen {
    let mut why = Vec::new();
    if preference != Preference::Text {
        #[cfg(feature = "speech-service")]
        if preference == Preference::Best {
            let tones = tones_through(loudspeaker, &tell);
            match crate::voice::Service::open(tones, std::sync::Arc::clone(&tell)) {
                Ok(service) => {
                    return Chosen {
                        message: format!("speaking through {}", service.name()),
                        mouth: Box::new(service),
                        speaks: true,
                    };
                }
                Err(error) => why.push(error.to_string()),
            }
        }
        match through_loudspeaker(loudspeaker, &tell) {
            Ok((mouth, speaks, more)) => {
                why.extend(more);
                let what = if speaks { "speaking" } else { "tones only" };
                return Chosen {
                    message: with_reasons(format!("{what} through {}", mouth.name()), &why),
                    mouth,
                    speaks,
                };
            }
            Err(reason) => why.push(reason),
        }
    }
    Chosen {
        mouth: Box::new(TextOnly::new(tell)),
        message: with_reasons("text only, nothing is spoken".to_owned(), &why),
        speaks: false,
    }
}

/// A mouth, whether it speaks, and why not where it does not.
type Found = (Box<dyn Mouth>, bool, Option<String>);

#[cfg(feature = "devices")]
fn through_loudspeaker(loudspeaker: Option<&str>, tell: &Tell) -> Result<Found, String> {
    let (voice, why) = match find_program() {
        Ok(voice) => (Some(voice), None),
        Err(error) => (None, Some(error.to_string())),
    };
    let speaks = voice.is_some();
    let speaker = crate::voice::Speaker::open(voice, loudspeaker, std::sync::Arc::clone(tell))
        .map_err(|e| e.to_string())?;
    Ok((Box::new(speaker), speaks, why))
}

/// A mouth for the tones beside the speech service, where there is a loudspeaker.
#[cfg(feature = "speech-service")]
fn tones_through(loudspeaker: Option<&str>, tell: &Tell) -> Option<Box<dyn Mouth>> {
    #[cfg(feature = "devices")]
    {
        let tell = std::sync::Arc::clone(tell);
        let speaker = crate::voice::Speaker::open(None, loudspeaker, tell).ok()?;
        Some(Box::new(speaker))
    }
    #[cfg(not(feature = "devices"))]
    {
        let _ = (loudspeaker, tell);
        None
    }
}

#[cfg(not(feature = "devices"))]
fn through_loudspeaker(_: Option<&str>, _: &Tell) -> Result<Found, String> {
    Err("built without sound devices".to_owned())
}

fn with_reasons(message: String, why: &[String]) -> String {
    if why.is_empty() {
        message
    } else {
        format!("{message} ({})", why.join("; "))
    }
}

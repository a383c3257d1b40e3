//! What a tryout of headset, voice and noise came to, as the next walk keeps it.

use serde::{Deserialize, Serialize};

/// What a tryout advises. None of it replaces the person's own judgement.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Advice {
    /// The words were understood.
    RelyOnVoice,
    /// Most were understood; answers that make a check conform are asked back.
    ConfirmMore,
    /// Answers are better typed.
    NoVoice,
}

impl Advice {
    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Self::RelyOnVoice => "rely on voice",
            Self::ConfirmMore => "confirm more",
            Self::NoVoice => "do not use voice here",
        }
    }
}

/// The result of one tryout.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Tryout {
    /// When it ended, RFC 9557.
    pub wall: String,
    /// Who spoke; empty where nobody was named.
    pub inspector: String,
    /// The microphone's name; `files` where the words came from files.
    pub microphone: String,
    /// What it advises.
    pub advice: Advice,
    /// Why, each a clause that can stand alone.
    pub reasons: Vec<String>,
    /// Words asked for.
    pub words: u32,
    /// Understood rightly and taken at once.
    pub taken: u32,
    /// Understood rightly, but only with a question back.
    pub confirmed: u32,
    /// Heard, but not as an answer.
    pub refused: u32,
    /// Understood as something else, taken or asked back.
    pub misheard: u32,
    /// Not heard at all.
    pub unheard: u32,
    /// Mean level of the speech, dB of full scale; `None` where nothing was heard.
    pub speech_dbfs: Option<f64>,
    /// Mean level round it, dB of full scale; `None` where it could not be measured.
    pub noise_dbfs: Option<f64>,
    /// Median over the words of speech over noise, dB; `None` as before.
    pub snr_db: Option<f64>,
    /// Share of samples at full scale, 0 to 1.
    pub clipped: f64,
}

impl Tryout {
    /// In a line, without its time.
    pub fn line(&self) -> String {
        let who = if self.inspector.is_empty() {
            String::new()
        } else {
            format!("{} on ", self.inspector)
        };
        let snr = self.snr_db.map_or_else(String::new, |db| {
            format!(", speech {db:.0} dB over the noise")
        });
        format!(
            "{}: {who}{}, {} of {} words taken at once, {} asked back, {} misheard, {} refused, {} not heard{snr} ({})",
            self.advice.words(),
            self.microphone,
            self.taken,
            self.words,
            self.confirmed,
            self.misheard,
            self.refused,
            self.unheard,
            self.reasons.join("; ")
        )
    }
}

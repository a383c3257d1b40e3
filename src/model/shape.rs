//! The shape of a Whisper model, and which variables of CTranslate2's file become which tensors.

use crate::model::ct2::{Ct2Reader, Dtype, FormatError, Variable};
use crate::model::mel;
use std::collections::HashMap;
use std::io::Read;

/// Bounds of a believable Whisper model; the largest published has 32 layers and 1280 channels.
pub(super) const MAX_LAYERS: u32 = 64;
pub(super) const MAX_STATE: u32 = 4_096;
pub(super) const MAX_CONTEXT: u32 = 8_192;
pub(super) const MAX_ROWS: u32 = 200_000;
/// Channels a head in every published Whisper model.
pub(super) const HEAD_CHANNELS: u32 = 64;

/// The shape of a Whisper model.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Shape {
    /// Rows of the token embedding.
    pub rows: u32,
    /// Encoder positions, 20 ms each.
    pub audio_context: u32,
    /// The first so many of them are kept.
    pub audio_kept: u32,
    /// Encoder channels.
    pub audio_state: u32,
    /// Encoder layers.
    pub audio_layers: u32,
    /// Decoder positions.
    pub text_context: u32,
    /// Decoder channels.
    pub text_state: u32,
    /// Decoder layers.
    pub text_layers: u32,
}

/// One tensor of the ggml file, cut out of a source variable.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Target {
    pub(super) name: String,
    /// Sizes, slowest first.
    pub(super) dims: Vec<u32>,
    /// Whether it stays 32-bit.
    pub(super) wide: bool,
}

/// A source variable that is wanted, and what becomes of it, in the order of its data.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Wanted {
    pub(super) dims: Vec<u32>,
    pub(super) parts: Vec<Part>,
}

#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Part {
    Keep(Target),
    /// This many numbers are left out.
    Drop(u64),
}

impl Shape {
    /// Reads through a source once: its shape, with every variable present and sized as it should be.
    ///
    /// # Errors
    /// When the source is damaged, or not a Whisper model that the ggml file can hold.
    pub fn scan(source: impl Read) -> Result<Self, FormatError> {
        let mut reader = Ct2Reader::open(source)?;
        if reader.specification() != "WhisperSpec" {
            return Err(FormatError::Unsupported(format!(
                "a model of kind {:?}, not of kind WhisperSpec",
                reader.specification()
            )));
        }
        let mut found: HashMap<String, Variable> = HashMap::new();
        while let Some(variable) = reader.next_variable()? {
            if variable.dims.is_empty() {
                continue; // Settings such as the activation; the shape follows from the weights.
            }
            if !matches!(variable.dtype, Dtype::F16 | Dtype::F32) {
                return Err(FormatError::Unsupported(format!(
                    "{} is stored as {:?}; 16-bit or 32-bit floats are needed",
                    variable.name, variable.dtype
                )));
            }
            if let Some(twice) = found.insert(variable.name.clone(), variable) {
                return Err(FormatError::Damaged(format!("{} comes twice", twice.name)));
            }
        }
        reader.finish()?;
        let shape = Self::of(&found)?;
        let wanted = shape.wanted();
        for (name, want) in &wanted {
            let dims = &found.get(name).ok_or_else(|| missing(name))?.dims;
            if *dims != want.dims {
                return Err(FormatError::Damaged(format!(
                    "{name} has sizes {dims:?}, and {:?} are due",
                    want.dims
                )));
            }
        }
        match found.keys().find(|name| !wanted.contains_key(*name)) {
            Some(name) => Err(FormatError::Unsupported(format!(
                "{name} has no place in a Whisper model"
            ))),
            None => Ok(shape),
        }
    }

    fn of(found: &HashMap<String, Variable>) -> Result<Self, FormatError> {
        let sizes = |name: &str, rank: usize| {
            let dims = &found.get(name).ok_or_else(|| missing(name))?.dims;
            if dims.len() == rank {
                Ok(dims.clone())
            } else {
                Err(FormatError::Damaged(format!(
                    "{name} has rank {}, and {rank} is due",
                    dims.len()
                )))
            }
        };
        let layers = |side: &str| {
            let prefix = format!("{side}/layer_");
            found
                .keys()
                .filter_map(|name| name.strip_prefix(&prefix)?.split('/').next())
                .filter_map(|number| number.parse::<u32>().ok())
                .max()
                .map_or(0, |last| last.saturating_add(1))
        };
        let embedding = sizes("decoder/embeddings/weight", 2)?;
        let audio = sizes("encoder/position_encodings/encodings", 2)?;
        let text = sizes("decoder/position_encodings/encodings", 2)?;
        let shape = Self {
            rows: embedding[0],
            audio_context: audio[0],
            audio_kept: audio[0],
            audio_state: audio[1],
            audio_layers: layers("encoder"),
            text_context: text[0],
            text_state: embedding[1],
            text_layers: layers("decoder"),
        };
        let believable = [
            (shape.rows, MAX_ROWS),
            (shape.audio_context, MAX_CONTEXT),
            (shape.audio_state, MAX_STATE),
            (shape.audio_layers, MAX_LAYERS),
            (shape.text_context, MAX_CONTEXT),
            (shape.text_state, MAX_STATE),
            (shape.text_layers, MAX_LAYERS),
        ]
        .iter()
        .all(|&(value, most)| (1..=most).contains(&value))
            && shape.audio_state.is_multiple_of(HEAD_CHANNELS)
            && shape.text_state.is_multiple_of(HEAD_CHANNELS);
        if believable {
            Ok(shape)
        } else {
            Err(FormatError::Unsupported(format!(
                "a shape that no Whisper model has: {shape:?}"
            )))
        }
    }

    /// The same model for shorter sound: of its encoder positions only the first are kept. What it makes of sound that
    /// fits is the same, and whisper.cpp holds room for no more.
    ///
    /// # Errors
    /// [`FormatError::Unsupported`] for none, and for more than there are.
    pub fn keeping(self, positions: u32) -> Result<Self, FormatError> {
        if (1..=self.audio_context).contains(&positions) {
            Ok(Self {
                audio_kept: positions,
                ..self
            })
        } else {
            Err(FormatError::Unsupported(format!(
                "{positions} encoder positions are to be kept, and the model has {}",
                self.audio_context
            )))
        }
    }

    /// All source variables with weights, and what becomes of each.
    pub(super) fn wanted(&self) -> HashMap<String, Wanted> {
        let mut all = HashMap::new();
        let (audio, text) = (self.audio_state, self.text_state);
        let bands = mel::BANDS as u32;
        for (number, channels) in [(1, bands), (2, audio)] {
            let (from, to) = (
                format!("encoder/conv{number}"),
                format!("encoder.conv{number}"),
            );
            one(&mut all, &from, "weight", &to, &[audio, channels, 3]);
            // A convolution's bias is two-dimensional in the ggml file.
            let bias = Target {
                name: format!("{to}.bias"),
                dims: vec![audio, 1],
                wide: true,
            };
            all.insert(
                format!("{from}/bias"),
                Wanted {
                    dims: vec![audio],
                    parts: vec![Part::Keep(bias)],
                },
            );
        }
        for (side, context, kept, state) in [
            ("encoder", self.audio_context, self.audio_kept, audio),
            ("decoder", self.text_context, self.text_context, text),
        ] {
            let target = Target {
                name: format!("{side}.positional_embedding"),
                dims: vec![kept, state],
                wide: true,
            };
            let left_out = u64::from(context - kept) * u64::from(state);
            all.insert(
                format!("{side}/position_encodings/encodings"),
                Wanted {
                    dims: vec![context, state],
                    parts: vec![Part::Keep(target), Part::Drop(left_out)],
                },
            );
        }
        one(
            &mut all,
            "decoder/embeddings",
            "weight",
            "decoder.token_embedding",
            &[self.rows, text],
        );
        norm(&mut all, "encoder/layer_norm", "encoder.ln_post", audio);
        norm(&mut all, "decoder/layer_norm", "decoder.ln", text);
        for layer in 0..self.audio_layers {
            block(&mut all, "encoder", layer, audio);
        }
        for layer in 0..self.text_layers {
            block(&mut all, "decoder", layer, text);
            let from = format!("decoder/layer_{layer}/attention");
            let to = format!("decoder.blocks.{layer}");
            norm(
                &mut all,
                &format!("{from}/layer_norm"),
                &format!("{to}.cross_attn_ln"),
                text,
            );
            linear(
                &mut all,
                &format!("{from}/linear_0"),
                &format!("{to}.cross_attn.query"),
                text,
                text,
            );
            stacked(
                &mut all,
                &format!("{from}/linear_1"),
                &format!("{to}.cross_attn"),
                &["key", "value"],
                text,
            );
            linear(
                &mut all,
                &format!("{from}/linear_2"),
                &format!("{to}.cross_attn.out"),
                text,
                text,
            );
        }
        all
    }
}

fn missing(name: &str) -> FormatError {
    FormatError::Unsupported(format!("{name} is missing"))
}

type Map = HashMap<String, Wanted>;

/// One tensor out of one variable; 32-bit where it has one dimension.
fn one(all: &mut Map, from: &str, leaf: &str, to: &str, dims: &[u32]) {
    let target = Target {
        name: format!("{to}.{leaf}"),
        dims: dims.to_vec(),
        wide: dims.len() == 1,
    };
    all.insert(
        format!("{from}/{leaf}"),
        Wanted {
            dims: dims.to_vec(),
            parts: vec![Part::Keep(target)],
        },
    );
}

fn linear(all: &mut Map, from: &str, to: &str, outputs: u32, inputs: u32) {
    one(all, from, "weight", to, &[outputs, inputs]);
    one(all, from, "bias", to, &[outputs]);
}

fn norm(all: &mut Map, from: &str, to: &str, state: u32) {
    for (leaf, ggml) in [("gamma", "weight"), ("beta", "bias")] {
        let target = Target {
            name: format!("{to}.{ggml}"),
            dims: vec![state],
            wide: true,
        };
        all.insert(
            format!("{from}/{leaf}"),
            Wanted {
                dims: vec![state],
                parts: vec![Part::Keep(target)],
            },
        );
    }
}

/// Projections stacked by rows. Whisper's key projection has no bias; the stack holds zeros for it.
fn stacked(all: &mut Map, from: &str, to: &str, names: &[&str], state: u32) {
    let rows = state * names.len() as u32;
    let weights = names.iter().map(|name| {
        Part::Keep(Target {
            name: format!("{to}.{name}.weight"),
            dims: vec![state, state],
            wide: false,
        })
    });
    let biases = names.iter().map(|&name| match name {
        "key" => Part::Drop(u64::from(state)),
        _ => Part::Keep(Target {
            name: format!("{to}.{name}.bias"),
            dims: vec![state],
            wide: true,
        }),
    });
    all.insert(
        format!("{from}/weight"),
        Wanted {
            dims: vec![rows, state],
            parts: weights.collect(),
        },
    );
    all.insert(
        format!("{from}/bias"),
        Wanted {
            dims: vec![rows],
            parts: biases.collect(),
        },
    );
}

/// Self-attention and feed-forward of one layer.
fn block(all: &mut Map, side: &str, layer: u32, state: u32) {
    let from = format!("{side}/layer_{layer}");
    let to = format!("{side}.blocks.{layer}");
    let attention = format!("{from}/self_attention");
    norm(
        all,
        &format!("{attention}/layer_norm"),
        &format!("{to}.attn_ln"),
        state,
    );
    stacked(
        all,
        &format!("{attention}/linear_0"),
        &format!("{to}.attn"),
        &["query", "key", "value"],
        state,
    );
    linear(
        all,
        &format!("{attention}/linear_1"),
        &format!("{to}.attn.out"),
        state,
        state,
    );
    let forward = format!("{from}/ffn");
    norm(
        all,
        &format!("{forward}/layer_norm"),
        &format!("{to}.mlp_ln"),
        state,
    );
    let (wide, narrow) = (4 * state, state);
    linear(
        all,
        &format!("{forward}/linear_0"),
        &format!("{to}.mlp.0"),
        wide,
        narrow,
    );
    linear(
        all,
        &format!("{forward}/linear_1"),
        &format!("{to}.mlp.2"),
        narrow,
        wide,
    );
}

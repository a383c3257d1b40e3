//! What is added to fetched weights so that they hear short answers in pad noise.
//!
//! A file of corrections (safetensors, 16-bit floats) holds, for biases and normalisations only, how much is
//! added to each number; `hearing/adapt.py` fits them on the training speakers. Every matrix stays as it was
//! fetched.

use crate::model::ct2::FormatError;
use half::f16;
use safetensors::{Dtype, SafeTensors};
use std::collections::HashMap;

/// Files that a manifest may name, compiled in.
const FILES: [(&str, &[u8]); 2] = [
    (
        "tiny.en-pad.safetensors",
        include_bytes!("../../models/tiny.en-pad.safetensors"),
    ),
    (
        "base-pad.safetensors",
        include_bytes!("../../models/base-pad.safetensors"),
    ),
];

/// Numbers to be added, by the source's name of the variable.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Corrections(HashMap<String, Vec<f32>>);

impl Corrections {
    /// The compiled-in file of this name; `None` where there is none.
    ///
    /// # Errors
    /// As [`Corrections::read`].
    pub fn named(name: &str) -> Option<Result<Self, FormatError>> {
        let (_, bytes) = FILES.iter().find(|(file, _)| *file == name)?;
        Some(Self::read(bytes))
    }

    /// Reads a file of corrections.
    ///
    /// # Errors
    /// When it is no safetensors file, or holds anything but rows of 16-bit floats that are numbers.
    pub fn read(bytes: &[u8]) -> Result<Self, FormatError> {
        let damaged = |what: String| FormatError::Damaged(format!("corrections: {what}"));
        let file = SafeTensors::deserialize(bytes).map_err(|e| damaged(e.to_string()))?;
        let mut all = HashMap::new();
        for (name, row) in file.iter() {
            if row.dtype() != Dtype::F16 || row.shape().len() != 1 {
                return Err(damaged(format!("{name} is not a row of 16-bit floats")));
            }
            let numbers: Vec<f32> = row
                .data()
                .as_chunks::<2>()
                .0
                .iter()
                .map(|&bytes| f16::from_le_bytes(bytes).to_f32())
                .collect();
            if !numbers.iter().all(|v| v.is_finite()) {
                return Err(damaged(format!("{name} holds what is no number")));
            }
            all.insert(name.to_owned(), numbers);
        }
        Ok(Self(all))
    }

    /// What is added to the variable of this name, as many numbers as it holds; `None` where nothing is.
    ///
    /// # Errors
    /// When there are more or fewer numbers.
    pub(super) fn of(&self, name: &str, numbers: usize) -> Result<Option<&[f32]>, FormatError> {
        match self.0.get(name) {
            None => Ok(None),
            Some(row) if row.len() == numbers => Ok(Some(row)),
            Some(row) => Err(FormatError::Damaged(format!(
                "corrections: {} numbers for {name}, which has {numbers}",
                row.len()
            ))),
        }
    }

    /// Names of the variables that are corrected.
    pub(super) fn names(&self) -> impl Iterator<Item = &str> {
        self.0.keys().map(String::as_str)
    }
}

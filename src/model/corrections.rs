//! What is added to fetched weights so that they hear short answers in pad noise.
//!
//! A file of corrections (safetensors, 16-bit floats) holds for a bias or normalisation how much is added to each
//! number, and for a matrix two thin ones, `NAME:left` (rows, rank) and `NAME:right` (rank, columns), whose product is
//! added (LoRA, arXiv 2106.09685; of a convolution's kernel all sizes but the first are its columns).
//! `hearing/adapt.py` fits them on the training speakers.

use crate::model::ct2::FormatError;
use half::f16;
use safetensors::tensor::TensorView;
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

/// Ends of the names of a matrix' factors.
const LEFT: &str = ":left";
const RIGHT: &str = ":right";

/// What is added, by the source's name of the variable.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Corrections(HashMap<String, Added>);

#[derive(Clone, Debug, PartialEq)]
enum Added {
    Row(Vec<f32>),
    /// A product of two matrices, both stored by rows.
    Factors {
        rank: usize,
        left: Vec<f32>,
        right: Vec<f32>,
    },
}

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
    /// When it is no safetensors file, or holds anything but rows and pairs of factors of 16-bit floats that are
    /// numbers.
    pub fn read(bytes: &[u8]) -> Result<Self, FormatError> {
        let file = SafeTensors::deserialize(bytes).map_err(|e| damaged(e.to_string()))?;
        let mut all = HashMap::new();
        for (name, values) in file.iter() {
            if let Some(of) = name.strip_suffix(LEFT) {
                let right = format!("{of}{RIGHT}");
                let right = file
                    .tensor(&right)
                    .map_err(|_| damaged(format!("{name} has no {right}")))?;
                let (&[_, rank], &[same, _]) = (values.shape(), right.shape()) else {
                    return Err(damaged(format!("the factors of {of} are no matrices")));
                };
                if rank != same {
                    return Err(damaged(format!(
                        "the factors of {of} do not go together: rank {rank} and {same}"
                    )));
                }
                let added = Added::Factors {
                    rank,
                    left: numbers(name, &values)?,
                    right: numbers(name, &right)?,
                };
                all.insert(of.to_owned(), added);
            } else if let Some(of) = name.strip_suffix(RIGHT) {
                if file.tensor(&format!("{of}{LEFT}")).is_err() {
                    return Err(damaged(format!("{name} has no {of}{LEFT}")));
                }
            } else if values.shape().len() == 1 {
                all.insert(name.to_owned(), Added::Row(numbers(name, &values)?));
            } else {
                return Err(damaged(format!("{name} is no row of numbers")));
            }
        }
        Ok(Self(all))
    }

    /// What is added to the variable of this name and these sizes, a number for each of its own in their order;
    /// `None` where nothing is.
    ///
    /// # Errors
    /// When it is of other sizes.
    pub(super) fn of(&self, name: &str, dims: &[u32]) -> Result<Option<Vec<f32>>, FormatError> {
        let rows = dims.first().map_or(0, |&rows| rows as usize);
        let count = dims.iter().product::<u32>() as usize;
        let added = match self.0.get(name) {
            None => return Ok(None),
            Some(Added::Row(row)) => row.clone(),
            Some(Added::Factors { rank, left, right }) => {
                if left.len() != rows * rank || right.len() * rows != count * rank {
                    return Err(damaged(format!(
                        "the factors of {name} are not of its size"
                    )));
                }
                product(*rank, left, right)
            }
        };
        if added.len() != count {
            return Err(damaged(format!(
                "{} numbers for {name}, which has {count}",
                added.len()
            )));
        }
        Ok(Some(added))
    }

    /// Names of the variables that are corrected.
    pub(super) fn names(&self) -> impl Iterator<Item = &str> {
        self.0.keys().map(String::as_str)
    }
}

fn damaged(what: String) -> FormatError {
    FormatError::Damaged(format!("corrections: {what}"))
}

fn numbers(name: &str, values: &TensorView) -> Result<Vec<f32>, FormatError> {
    if values.dtype() != Dtype::F16 {
        return Err(damaged(format!("{name} is not of 16-bit floats")));
    }
    let numbers: Vec<f32> = values
        .data()
        .as_chunks::<2>()
        .0
        .iter()
        .map(|&bytes| f16::from_le_bytes(bytes).to_f32())
        .collect();
    if !numbers.iter().all(|v| v.is_finite()) {
        return Err(damaged(format!("{name} holds what is no number")));
    }
    Ok(numbers)
}

/// The product of two matrices by rows. Summed in one order, so that the file that is written has one hash
/// everywhere.
fn product(rank: usize, left: &[f32], right: &[f32]) -> Vec<f32> {
    if rank == 0 {
        return Vec::new();
    }
    let columns = right.len() / rank;
    left.chunks_exact(rank)
        .flat_map(|row| {
            let mut out = vec![0.0; columns];
            for (share, values) in row.iter().zip(right.chunks_exact(columns.max(1))) {
                out.iter_mut()
                    .zip(values)
                    .for_each(|(o, v)| *o += share * v);
            }
            out
        })
        .collect()
}

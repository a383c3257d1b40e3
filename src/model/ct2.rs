//! Reader of CTranslate2 `model.bin`, version 6: a stream of named variables.
//!
//! Layout (CTranslate2, `python/ctranslate2/specs/model_spec.py`), little-endian: u32 version; string
//! specification; u32 revision; u32 count; per variable a string name, u8 rank, u32 sizes, u8 type,
//! u32 byte count, data; then u32 alias count and pairs of strings. A string is a u16 length that
//! counts a final NUL, then the bytes.
//!
//! Every length is checked before it is used; memory is bounded by the longest name, never by data.

use std::io::{self, Read};

/// The only version read.
const VERSION: u32 = 6;
/// More variables than any Whisper model has.
const MAX_VARIABLES: u32 = 20_000;
/// Longer than any variable's name.
const MAX_NAME: usize = 512;
/// Highest rank of a Whisper variable (a convolution's weights).
const MAX_RANK: u8 = 3;

/// What is wrong with a weights file.
#[derive(Debug, thiserror::Error)]
pub enum FormatError {
    /// The file ends inside something.
    #[error("the weights end too early ({within})")]
    Short {
        /// What was being read.
        within: String,
    },
    /// Reading failed for a reason outside the format.
    #[error("the weights cannot be read: {0}")]
    Read(#[source] io::Error),
    /// Writing the converted file failed.
    #[error("the converted weights cannot be written: {0}")]
    Write(#[source] io::Error),
    /// Not version 6.
    #[error("the weights have format version {0}, and only version 6 is known")]
    Version(u32),
    /// A size or name that cannot be right.
    #[error("the weights are damaged: {0}")]
    Damaged(String),
    /// Sound weights of a model that is not a Whisper model or cannot be said in the ggml file.
    #[error("not weights that can be converted: {0}")]
    Unsupported(String),
}

impl FormatError {
    /// Sorts an I/O error met while reading `within`.
    fn reading(error: io::Error, within: &str) -> Self {
        match error.kind() {
            io::ErrorKind::UnexpectedEof => Self::Short {
                within: within.to_owned(),
            },
            _ => Self::Read(error),
        }
    }
}

/// Number type of a variable.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Dtype {
    /// 32-bit float.
    F32,
    /// 8-bit integer.
    I8,
    /// 16-bit integer.
    I16,
    /// 32-bit integer.
    I32,
    /// 16-bit float (IEEE half).
    F16,
    /// 16-bit float (bfloat16).
    Bf16,
}

impl Dtype {
    fn from_code(code: u8) -> Option<Self> {
        Some(match code {
            0 => Self::F32,
            1 => Self::I8,
            2 => Self::I16,
            3 => Self::I32,
            4 => Self::F16,
            5 => Self::Bf16,
            _ => return None,
        })
    }

    /// Bytes of one number.
    pub fn size(self) -> u64 {
        match self {
            Self::I8 => 1,
            Self::I16 | Self::F16 | Self::Bf16 => 2,
            Self::F32 | Self::I32 => 4,
        }
    }
}

/// Head of one variable; its data follows in the stream.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Variable {
    /// Name with slashes (`encoder/conv1/weight`).
    pub name: String,
    /// Sizes, slowest first; empty for a single number.
    pub dims: Vec<u32>,
    /// Number type.
    pub dtype: Dtype,
    /// Bytes of data; equals the product of `dims` times the number's size.
    pub bytes: u64,
}

/// Reads variables one after the other.
pub struct Ct2Reader<R> {
    from: R,
    specification: String,
    variables_left: u32,
    data_left: u64,
}

impl<R: Read> Ct2Reader<R> {
    /// Reads the head of the file.
    ///
    /// # Errors
    /// When the stream is short, of another version, or has an impossible count.
    pub fn open(mut from: R) -> Result<Self, FormatError> {
        let version = u32_from(&mut from, "head")?;
        if version != VERSION {
            return Err(FormatError::Version(version));
        }
        let specification = string_from(&mut from, "head")?;
        let _revision = u32_from(&mut from, "head")?;
        let variables_left = u32_from(&mut from, "head")?;
        if variables_left > MAX_VARIABLES {
            return Err(FormatError::Damaged(format!(
                "{variables_left} variables announced, at most {MAX_VARIABLES} are believable"
            )));
        }
        Ok(Self {
            from,
            specification,
            variables_left,
            data_left: 0,
        })
    }

    /// Name of the model's specification (`WhisperSpec`).
    pub fn specification(&self) -> &str {
        &self.specification
    }

    /// Head of the next variable; skips what is left of the last one's data. `None` after the last.
    ///
    /// # Errors
    /// When the stream is short or a head cannot be right.
    pub fn next_variable(&mut self) -> Result<Option<Variable>, FormatError> {
        self.skip_data()?;
        if self.variables_left == 0 {
            return Ok(None);
        }
        self.variables_left -= 1;
        let name = string_from(&mut self.from, "a variable's name")?;
        let [rank] = array_from(&mut self.from, &name)?;
        if rank > MAX_RANK {
            return Err(FormatError::Damaged(format!(
                "{name} has rank {rank}, at most {MAX_RANK} is known"
            )));
        }
        let dims = (0..rank)
            .map(|_| u32_from(&mut self.from, &name))
            .collect::<Result<Vec<_>, _>>()?;
        let [code] = array_from(&mut self.from, &name)?;
        let dtype = Dtype::from_code(code).ok_or_else(|| {
            FormatError::Damaged(format!("{name} has unknown number type {code}"))
        })?;
        let bytes = u64::from(u32_from(&mut self.from, &name)?);
        let due = dims.iter().try_fold(dtype.size(), |product, &dim| {
            product.checked_mul(u64::from(dim))
        });
        if due != Some(bytes) {
            return Err(FormatError::Damaged(format!(
                "{name} has {bytes} bytes, which do not fit its sizes {dims:?}"
            )));
        }
        self.data_left = bytes;
        Ok(Some(Variable {
            name,
            dims,
            dtype,
            bytes,
        }))
    }

    /// Fills `buffer` with the next bytes of the current variable's data.
    ///
    /// # Errors
    /// When the stream is short, or more is asked than the variable holds.
    pub fn read_data(&mut self, buffer: &mut [u8]) -> Result<(), FormatError> {
        let wanted = buffer.len() as u64;
        if wanted > self.data_left {
            return Err(FormatError::Damaged(
                "more data wanted than a variable holds".to_owned(),
            ));
        }
        self.from
            .read_exact(buffer)
            .map_err(|e| FormatError::reading(e, "a variable's data"))?;
        self.data_left -= wanted;
        Ok(())
    }

    /// Reads the aliases after the last variable, which must be the end of the stream.
    ///
    /// # Errors
    /// When variables are left, the stream is short, or something follows.
    pub fn finish(mut self) -> Result<Vec<(String, String)>, FormatError> {
        self.skip_data()?;
        if self.variables_left > 0 {
            return Err(FormatError::Damaged("variables left unread".to_owned()));
        }
        let count = u32_from(&mut self.from, "aliases")?;
        if count > MAX_VARIABLES {
            return Err(FormatError::Damaged(format!("{count} aliases announced")));
        }
        let mut aliases = Vec::new();
        for _ in 0..count {
            let alias = string_from(&mut self.from, "aliases")?;
            aliases.push((alias, string_from(&mut self.from, "aliases")?));
        }
        // Reading to the end also lets an archive reader check its sum.
        match self.from.read(&mut [0; 1]) {
            Ok(0) => Ok(aliases),
            Ok(_) => Err(FormatError::Damaged("bytes after the end".to_owned())),
            Err(e) => Err(FormatError::Read(e)),
        }
    }

    fn skip_data(&mut self) -> Result<(), FormatError> {
        let skipped = io::copy(
            &mut self.from.by_ref().take(self.data_left),
            &mut io::sink(),
        )
        .map_err(FormatError::Read)?;
        if skipped < self.data_left {
            return Err(FormatError::Short {
                within: "a variable's data".to_owned(),
            });
        }
        self.data_left = 0;
        Ok(())
    }
}

fn array_from<const N: usize>(from: &mut impl Read, within: &str) -> Result<[u8; N], FormatError> {
    let mut bytes = [0; N];
    from.read_exact(&mut bytes)
        .map_err(|e| FormatError::reading(e, within))?;
    Ok(bytes)
}

fn u32_from(from: &mut impl Read, within: &str) -> Result<u32, FormatError> {
    array_from(from, within).map(u32::from_le_bytes)
}

fn string_from(from: &mut impl Read, within: &str) -> Result<String, FormatError> {
    let length = usize::from(u16::from_le_bytes(array_from(from, within)?));
    if length == 0 || length > MAX_NAME {
        return Err(FormatError::Damaged(format!(
            "a name of {length} bytes ({within})"
        )));
    }
    let mut bytes = vec![0; length];
    from.read_exact(&mut bytes)
        .map_err(|e| FormatError::reading(e, within))?;
    if bytes.pop() != Some(0) {
        return Err(FormatError::Damaged(format!(
            "a name without its end mark ({within})"
        )));
    }
    String::from_utf8(bytes)
        .map_err(|_| FormatError::Damaged(format!("a name that is not text ({within})")))
}

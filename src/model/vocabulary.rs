//! The vocabulary of a Whisper model as bytes, from a `tokenizer.json`.
//!
//! The tokenizer is a byte-level BPE: each byte is written as one printable character (the table of
//! GPT-2's encoder, `bytes_to_unicode`), so that any byte string can stand in JSON.

use crate::model::ct2::FormatError;
use serde::Deserialize;
use std::collections::HashMap;

/// Words of the English-only models that whisper.cpp expects in the file; it makes the special ones.
const ENGLISH_WORDS: usize = 50_256;
/// The same for the multilingual models.
const MULTILINGUAL_WORDS: usize = 50_257;
/// whisper.cpp takes a model for multilingual from this vocabulary size on.
const MULTILINGUAL_FROM: u32 = 51_865;

#[derive(Deserialize)]
struct Tokenizer {
    model: Bpe,
}

#[derive(Deserialize)]
struct Bpe {
    vocab: HashMap<String, u32>,
}

/// Base words in the order of their numbers, special tokens left out, for a model whose embedding has
/// `rows` rows.
///
/// # Errors
/// When the JSON is not a byte-level tokenizer or a word is missing.
pub fn base_words(tokenizer_json: &[u8], rows: u32) -> Result<Vec<Vec<u8>>, FormatError> {
    let tokenizer: Tokenizer = serde_json::from_slice(tokenizer_json)
        .map_err(|e| FormatError::Damaged(format!("the tokenizer is not as expected: {e}")))?;
    let multilingual = rows >= MULTILINGUAL_FROM;
    let count = if multilingual {
        MULTILINGUAL_WORDS
    } else {
        ENGLISH_WORDS
    };
    let bytes_of = character_bytes();
    let mut words: Vec<Option<Vec<u8>>> = vec![None; count];
    for (text, id) in tokenizer.model.vocab {
        let Some(slot) = words.get_mut(id as usize) else {
            continue;
        };
        let word = text
            .chars()
            .map(|c| bytes_of.get(&c).copied())
            .collect::<Option<Vec<u8>>>()
            .ok_or_else(|| {
                FormatError::Damaged(format!("word {id} of the tokenizer is not byte-level"))
            })?;
        *slot = Some(word);
    }
    words
        .into_iter()
        .enumerate()
        .map(|(id, word)| match word {
            Some(word) => Ok(word),
            None => Err(FormatError::Damaged(format!(
                "word {id} is missing from the tokenizer"
            ))),
        })
        .collect()
}

/// The byte behind each character of a byte-level vocabulary.
fn character_bytes() -> HashMap<char, u8> {
    let mut table = HashMap::with_capacity(256);
    let mut stand_in = 0x100;
    for byte in u8::MIN..=u8::MAX {
        let printable = matches!(byte, b'!'..=b'~' | 0xA1..=0xAC | 0xAE..=0xFF);
        let character = if printable {
            Some(char::from(byte))
        } else {
            stand_in += 1;
            char::from_u32(stand_in - 1)
        };
        if let Some(character) = character {
            table.insert(character, byte);
        }
    }
    table
}

#[cfg(test)]
mod tests {
    use super::*;

    // Source of the values: GPT-2's published encoder table, in which a space is written U+0120, a
    // line feed U+010A and the soft hyphen U+0143.
    #[test]
    fn characters_map_back_to_bytes_as_in_the_published_table() {
        let table = character_bytes();
        assert_eq!(table.len(), 256);
        assert_eq!(table[&'\u{120}'], b' ');
        assert_eq!(table[&'\u{10A}'], b'\n');
        assert_eq!(table[&'\u{143}'], 0xAD);
        assert_eq!(table[&'a'], b'a');
        assert_eq!(table[&'\u{E9}'], 0xE9);
    }

    #[test]
    fn a_missing_word_is_named() {
        let json = br#"{"model":{"vocab":{"!":0,"\u0120a":1}}}"#;
        let error = base_words(json, 51_864).unwrap_err().to_string();
        assert!(error.contains("word 2 is missing"), "{error}");
    }

    #[test]
    fn what_is_not_a_tokenizer_is_refused() {
        for json in [
            &b""[..],
            b"[]",
            b"{\"model\":{}}",
            b"{\"model\":{\"vocab\":{\"a\":-1}}}",
        ] {
            assert!(base_words(json, 51_864).is_err());
        }
        let json = "{\"model\":{\"vocab\":{\"\u{4e00}\":0}}}";
        let error = base_words(json.as_bytes(), 51_864).unwrap_err().to_string();
        assert!(error.contains("byte-level"), "{error}");
    }
}

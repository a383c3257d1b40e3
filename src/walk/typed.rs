//! What a typed line may be besides the answer that the grammar makes of it. Pure.

use super::rules;
use crate::grammar::Meaning;

/// How far a typed line is the answer that the grammar makes of it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TypedAs {
    /// It is that answer.
    Answer,
    /// It leaves the answer open: a question, or a range of figures.
    LeftOpen,
    /// A tag that may be a word that was meant for something else.
    MayBeWords,
    /// Words that were run together to a tag, and no answer.
    Words,
}

/// How far the line is the meaning that was read from it.
pub fn typed_as(line: &str, meaning: &Meaning) -> TypedAs {
    if is_prose(line, meaning) {
        TypedAs::Words
    } else if meaning.rule != rules::TAG && is_left_open(line, meaning) {
        // A tag may have dashes.
        TypedAs::LeftOpen
    } else if is_word(line, meaning) {
        TypedAs::MayBeWords
    } else {
        TypedAs::Answer
    }
}

/// Whether a typed tag is words run together ("leave it" as LEAVEIT): a tag of letters alone is typed
/// without blanks, letter by letter, or in the spelling alphabet.
fn is_prose(words: &str, meaning: &Meaning) -> bool {
    let mut parts = words.split_whitespace();
    let is_word = |w: &str| w.chars().count() > 1 && w.chars().all(char::is_alphabetic);
    let run_together = words.split_whitespace().collect::<String>().to_uppercase();
    meaning.rule == rules::TAG
        && meaning.value == run_together
        && words.split_whitespace().count() > 1
        && parts.all(is_word)
}

/// Whether a typed tag may be words: letters alone ("missing" as MISSING, "no" as NO), or with words run into it ("12 or 13"
/// as 12OR13, "no, K9" as NOK9): tags are written in capitals where letters stand together, and a comma parts what is said.
fn is_word(words: &str, meaning: &Meaning) -> bool {
    let of_letters = |text: &str| {
        text.chars()
            .all(|c| c.is_alphabetic() || c.is_ascii_punctuation())
    };
    let is_small = |run: &str| run.chars().count() > 1 && run.chars().any(char::is_lowercase);
    let run_together: String = words.chars().filter(|c| c.is_alphanumeric()).collect();
    // In the spelling alphabet a tag is told in words.
    let is_as_typed = meaning.value == run_together.to_uppercase();
    let mut runs = words.split(|c: char| !c.is_alphabetic());
    meaning.rule == rules::TAG
        && (of_letters(words)
            || words.contains('?')
            || is_as_typed && (runs.any(is_small) || words.contains(',')))
}

/// Whether typed words leave the answer open: a question ("present?"), or a range of figures ("3-4"). A command may be put
/// as a question ("where am I?").
pub fn is_left_open(words: &str, meaning: &Meaning) -> bool {
    let letters: Vec<char> = words.chars().filter(|c| !c.is_whitespace()).collect();
    let is_dash = |c: char| matches!(c, '-' | '\u{2010}'..='\u{2015}' | '/');
    let is_range = |w: &[char]| w[0].is_ascii_digit() && is_dash(w[1]) && w[2].is_ascii_digit();
    meaning.rule != rules::CONTROL && (letters.contains(&'?') || letters.windows(3).any(is_range))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_tag_that_may_be_words_is_told_from_one_that_is_spelled() {
        for (line, value, is) in [
            ("KL-7", "KL7", TypedAs::Answer),
            ("k7", "K7", TypedAs::Answer),
            ("november five", "N5", TypedAs::Answer),
            ("kl-7", "KL7", TypedAs::MayBeWords),
            ("no, K9", "NOK9", TypedAs::MayBeWords),
            ("PRESENT", "PRESENT", TypedAs::MayBeWords),
            ("K7?", "K7", TypedAs::MayBeWords),
            ("leave it", "LEAVEIT", TypedAs::Words),
        ] {
            let meaning = Meaning {
                rule: rules::TAG.to_owned(),
                value: value.to_owned(),
            };
            assert_eq!(typed_as(line, &meaning), is, "{line}");
        }
    }
}

//! How many speech sounds an utterance has, from what a recogniser wrote for it.
//!
//! A recogniser's score says little about how long a word takes: "two" and "two two" come out nearly
//! alike. The number of sounds, held against the seconds that were spoken, tells them apart.

use super::sounds::pronunciations;
use super::spoken;
use crate::numerals::{SMALL, two_figures};

/// Longest run of figures read as one number.
const NUMBER_FIGURES: usize = 3;

/// The number of speech sounds (phones) of an utterance as written, in each way that it may have been
/// said: ` 42 links` as "forty two links" and as "four two links". At least one, without repeats.
pub fn sounds_in(written: &str) -> Vec<usize> {
    let readings = [Reading::Numbers, Reading::Figures].map(|reading| count(written, reading));
    let mut out = readings.to_vec();
    out.dedup();
    out
}

/// How figures are read.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Reading {
    Numbers,
    Figures,
}

fn count(written: &str, reading: Reading) -> usize {
    let mut words = String::new();
    let mut rest = written;
    while let Some(first) = rest.chars().next() {
        let figures = rest.len() - rest.trim_start_matches(|c: char| c.is_ascii_digit()).len();
        let taken = if figures > 0 {
            let run = &rest[..figures];
            match run.parse() {
                Ok(n) if reading == Reading::Numbers && figures <= NUMBER_FIGURES => {
                    number(n, &mut words);
                }
                _ => run.bytes().for_each(|b| word(digit(b - b'0'), &mut words)),
            }
            figures
        } else {
            let next = rest[first.len_utf8()..].chars().next();
            if first == '.' && next.is_some_and(|c| c.is_ascii_digit()) {
                word("point", &mut words);
            } else if first.is_ascii_uppercase()
                && !next.is_some_and(|c| c.is_ascii_lowercase())
                && !is_pronoun(rest)
            {
                word(letter(first), &mut words);
            } else if let Some(unit) = unit(first) {
                word(unit, &mut words);
            } else {
                words.push(first);
            }
            first.len_utf8()
        };
        rest = &rest[taken..];
    }
    pronunciations(&words).first().map_or(0, Vec::len)
}

fn word(text: &str, to: &mut String) {
    to.push(' ');
    to.push_str(text);
    to.push(' ');
}

fn digit(n: u8) -> &'static str {
    SMALL[usize::from(n % 10)]
}

/// English words of a number below 1,000.
fn number(n: usize, to: &mut String) {
    if n >= 100 {
        word(SMALL[n / 100 % 10], to);
        word("hundred", to);
        if !n.is_multiple_of(100) {
            word("and", to);
        }
    }
    if n < 100 || !n.is_multiple_of(100) {
        word(&two_figures(n, " "), to);
    }
}

fn letter(sign: char) -> &'static str {
    spoken::letter_word(sign as u8).unwrap_or("")
}

/// Whether an "I" begins here that is no letter of a tag: no sign of one follows.
fn is_pronoun(rest: &str) -> bool {
    let after = rest.strip_prefix('I').map(str::trim_start);
    after.is_some_and(|after| {
        !after.starts_with(|c: char| c.is_ascii_digit() || c.is_ascii_uppercase())
    })
}

fn unit(sign: char) -> Option<&'static str> {
    match sign {
        '%' => Some("percent"),
        '°' => Some("degrees"),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::sounds_in;

    #[test]
    fn figures_are_read_as_numbers_and_one_by_one() {
        // Sounds by the CMU pronouncing dictionary: T UW; T W EH N IY; L IH NG K S.
        assert_eq!(sounds_in(" two"), [2]);
        assert_eq!(sounds_in(" 2"), [2]);
        assert_eq!(sounds_in(" 2 2"), [4]);
        assert_eq!(sounds_in(" 22"), [7, 4]);
        assert_eq!(sounds_in(" 22 links."), [12, 9]);
        assert_eq!(sounds_in(" Twenty-two links."), [12]);
    }

    #[test]
    fn letters_and_points_are_words() {
        let bravo = sounds_in(" Bravo 7");
        assert_eq!(sounds_in(" B7"), bravo);
        assert_eq!(sounds_in(" B 7"), bravo);
        assert_eq!(sounds_in(" 2.5"), sounds_in(" two point five"));
        assert_eq!(sounds_in(" I 7"), sounds_in(" India seven"));
        assert_eq!(sounds_in(" Where am I?"), sounds_in(" where am i"));
        assert_eq!(sounds_in(" I cannot see"), sounds_in(" i cannot see"));
        assert!(sounds_in("").contains(&0));
    }
}

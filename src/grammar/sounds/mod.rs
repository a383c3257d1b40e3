//! How words sound: a table of pronunciations, a fallback from the spelling, and the distance of sounds.

mod letters;
mod phone;

pub(super) use phone::{Phone, distance};

use super::spoken;

/// `word PHONE PHONE ...` lines sorted by the bytes of the word; several lines for a word with several
/// pronunciations. Made by `make_table.py` beside it from the CMU pronouncing dictionary, whose licence
/// lies there too.
const TABLE: &str = include_str!("pronunciations.txt");

/// Most pronunciations taken into account for one phrase.
const MAX_VARIANTS: usize = 8;

/// The pronunciations of a phrase, at least one.
pub(super) fn pronunciations(phrase: &str) -> Vec<Vec<Phone>> {
    let mut out = vec![Vec::new()];
    for word in spoken::words(phrase) {
        for part in word.split('-').filter(|part| !part.is_empty()) {
            let variants = of_word(part);
            out = out
                .iter()
                .flat_map(|begun: &Vec<Phone>| {
                    variants
                        .iter()
                        .map(move |variant| begun.iter().chain(variant).copied().collect())
                })
                .take(MAX_VARIANTS)
                .collect();
        }
    }
    out
}

/// The pronunciations of one lower-case word, at least one; the second of the pair below is only asked
/// where the table has no entry.
fn of_word(word: &str) -> Vec<Vec<Phone>> {
    let known = looked_up(word);
    if !known.is_empty() {
        return known;
    }
    if let Some(parts) = undone(word).or_else(|| compound(word)) {
        return parts;
    }
    vec![letters::sounds(word)]
}

fn looked_up(word: &str) -> Vec<Vec<Phone>> {
    let bytes = TABLE.as_bytes();
    let key = |line: &'static str| line.split(' ').next().unwrap_or("");
    // The first line whose word is not below this one, by halving over byte offsets.
    let (mut low, mut high) = (0, bytes.len());
    while low < high {
        let middle = low + (high - low) / 2;
        let start = bytes[..middle]
            .iter()
            .rposition(|b| *b == b'\n')
            .map_or(0, |at| at + 1);
        let end = bytes[middle..]
            .iter()
            .position(|b| *b == b'\n')
            .map_or(bytes.len(), |at| middle + at);
        if key(&TABLE[start..end]) < word {
            low = (end + 1).min(bytes.len());
        } else {
            high = start;
        }
    }
    TABLE[low..]
        .lines()
        .take_while(|line| key(line) == word)
        .map(|line| line.split(' ').skip(1).filter_map(Phone::named).collect())
        .collect()
}

/// "Un" before a known word, as in "unlatched".
fn undone(word: &str) -> Option<Vec<Vec<Phone>>> {
    let known = looked_up(word.strip_prefix("un")?);
    let un = ["AX", "N"].into_iter().filter_map(Phone::named);
    let un: Vec<Phone> = un.collect();
    let joined = known.iter().map(|word| [un.as_slice(), word].concat());
    (!known.is_empty()).then(|| joined.collect())
}

/// A word made of two known ones, as "hookup" and "breakaway".
fn compound(word: &str) -> Option<Vec<Vec<Phone>>> {
    const SHORTEST: usize = 2;
    let cuts = word.char_indices().map(|(at, _)| at);
    let mut best: Option<(usize, &str, &str)> = None;
    for cut in cuts.filter(|cut| *cut >= SHORTEST && word.len() - cut >= SHORTEST) {
        let (first, second) = word.split_at(cut);
        // The most even cut is the most likely one.
        let evenness = first.len().min(second.len());
        if best.is_none_or(|(known, ..)| evenness > known)
            && !looked_up(first).is_empty()
            && !looked_up(second).is_empty()
        {
            best = Some((evenness, first, second));
        }
    }
    let (_, first, second) = best?;
    let seconds = looked_up(second);
    let joined = looked_up(first).into_iter().flat_map(|first| {
        seconds
            .iter()
            .map(move |second| [first.as_slice(), second].concat())
            .collect::<Vec<_>>()
    });
    Some(joined.take(MAX_VARIANTS).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn spelt(word: &str) -> Vec<String> {
        of_word(word)
            .iter()
            .map(|variant| {
                variant
                    .iter()
                    .map(|p| p.name())
                    .collect::<Vec<_>>()
                    .join(" ")
            })
            .collect()
    }

    #[test]
    fn words_of_the_table_are_found() {
        for line in TABLE.lines() {
            let (word, sounds) = line.split_once(' ').expect("a word and its sounds");
            assert!(spelt(word).contains(&sounds.to_owned()), "{line}");
        }
    }

    #[test]
    fn words_outside_the_table_are_put_together_or_spelt_out() {
        assert_eq!(looked_up("aaaa"), Vec::<Vec<Phone>>::new());
        assert_eq!(looked_up("zzzz"), Vec::<Vec<Phone>>::new());
        assert_eq!(spelt("hookup"), ["HH UH K AH P"]);
        assert_eq!(spelt("keeperhook")[0], "K IY P ER HH UH K");
        // Not in the dictionary; the sounds are what the spelling rules say.
        assert_eq!(spelt("thrompet"), ["TH R AA M P EH T"]);
        assert!(!pronunciations("").is_empty());
        assert!(!spelt("łódź").is_empty());
    }
}

//! What is known of spoken words: the numbers and letters that they stand for, and other spellings.

use crate::numerals::{SMALL, TENS};

/// What a word stands for when written in figures.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Kind {
    /// 0 to 9.
    Digit(u8),
    /// 10 to 19.
    Teen(u8),
    /// 2 to 9 for twenty to ninety.
    Tens(u8),
    /// A hundred.
    Hundred,
    /// Between hundreds and the rest.
    And,
    /// Before hundred.
    A,
    /// A decimal point.
    Point,
    /// A letter of the spelling alphabet.
    Letter(u8),
    /// Anything else.
    Other,
}

/// Numbers, with the pronunciations of ICAO Annex 10 volume II, 5.2.1.4.3 (tree, fower, fife, niner).
pub(crate) fn kind(word: &str) -> Kind {
    let place = |list: &[&str]| list.iter().position(|w| *w == word).map(|at| at as u8);
    match word {
        "oh" | "nought" => Kind::Digit(0),
        "tree" => Kind::Digit(3),
        "fower" => Kind::Digit(4),
        "fife" => Kind::Digit(5),
        "niner" => Kind::Digit(9),
        "hundred" => Kind::Hundred,
        "and" => Kind::And,
        "a" => Kind::A,
        "point" | "decimal" => Kind::Point,
        _ => {
            if let Some(n) = place(&SMALL) {
                if n < 10 {
                    Kind::Digit(n)
                } else {
                    Kind::Teen(n)
                }
            } else if let Some(first) = place(&TENS[2..]) {
                Kind::Tens(2 + first)
            } else if let Some((_, letter)) = ALPHABET.iter().find(|(w, _)| *w == word) {
                Kind::Letter(*letter)
            } else {
                Kind::Other
            }
        }
    }
}

/// The spelling alphabet of ICAO Annex 10 volume II, figure 5-1, with the common other spellings.
const ALPHABET: [(&str, u8); 29] = [
    ("alfa", b'A'),
    ("alpha", b'A'),
    ("bravo", b'B'),
    ("charlie", b'C'),
    ("delta", b'D'),
    ("echo", b'E'),
    ("foxtrot", b'F'),
    ("golf", b'G'),
    ("hotel", b'H'),
    ("india", b'I'),
    ("juliett", b'J'),
    ("juliet", b'J'),
    ("kilo", b'K'),
    ("lima", b'L'),
    ("mike", b'M'),
    ("november", b'N'),
    ("oscar", b'O'),
    ("papa", b'P'),
    ("quebec", b'Q'),
    ("romeo", b'R'),
    ("sierra", b'S'),
    ("tango", b'T'),
    ("uniform", b'U'),
    ("victor", b'V'),
    ("whiskey", b'W'),
    ("whisky", b'W'),
    ("x-ray", b'X'),
    ("yankee", b'Y'),
    ("zulu", b'Z'),
];

/// The word of the spelling alphabet for a capital letter.
pub(super) fn letter_word(letter: u8) -> Option<&'static str> {
    ALPHABET.iter().find(|(_, l)| *l == letter).map(|(w, _)| *w)
}

/// Other ways in which a recogniser writes a word; the word itself is always among the forms.
pub(crate) fn spellings(word: &str) -> &'static [&'static str] {
    match word {
        "alfa" => &["alpha"],
        "alpha" => &["alfa"],
        "juliett" | "juliet" => &["juliett", "juliet", "juliette"],
        "whiskey" | "whisky" => &["whiskey", "whisky"],
        "x-ray" => &["xray", "x ray"],
        "foxtrot" => &["fox trot", "fox-trot"],
        "niner" => &["nine"],
        "fife" => &["five"],
        "tree" => &["three"],
        "fower" => &["four"],
        "zero" => &["nought"],
        "oh" => &["o", "O"],
        "okay" => &["OK", "ok", "O.K.", "o.k."],
        "metres" => &["meters"],
        "metre" => &["meter"],
        "millimetres" => &["millimeters"],
        "centimetres" => &["centimeters"],
        "litres" => &["liters"],
        "kilonewtons" => &["kilo newtons", "kilo-newtons"],
        "decanewtons" => &["deca newtons", "dekanewtons"],
        "percent" => &["per cent"],
        "grey" => &["gray"],
        "colour" => &["color"],
        "cannot" => &["can not"],
        "doesn't" => &["doesnt"],
        "can't" => &["cant"],
        "it's" => &["its"],
        "that's" => &["thats"],
        "i" => &["I"],
        "psi" => &["PSI", "P.S.I.", "p.s.i."],
        _ => &[],
    }
}

/// Unit symbols written after a figure, with or without a blank between.
pub(crate) fn symbols(word: &str) -> &'static [&'static str] {
    match word {
        "percent" => &["%"],
        "degrees" | "degree" => &["°"],
        "metres" | "metre" | "meters" => &["m"],
        "millimetres" | "millimeters" => &["mm"],
        "centimetres" | "centimeters" => &["cm"],
        "kilograms" | "kilos" => &["kg"],
        "kilonewtons" => &["kN"],
        "decanewtons" => &["daN"],
        "newtons" => &["N"],
        "volts" => &["V"],
        "bar" | "bars" => &["bar"],
        "tonnes" | "tons" => &["t"],
        "psi" => &["psi"],
        "seconds" => &["s"],
        _ => &[],
    }
}

/// Two words written as one or with a hyphen: the pair, what is written for the first, what may stand
/// between, and what for the second.
pub(crate) const COMPOUNDS: &[(&str, &str, &str, &[&str], &str)] = &[
    ("stand", "by", "stand", &["", "-"], "by"),
    ("carry", "on", "carry", &["-"], "on"),
    ("go", "back", "go", &["-"], "back"),
    ("all", "right", "al", &[""], "right"),
    ("per", "cent", "per", &[""], "cent"),
    ("half", "way", "half", &["", "-"], "way"),
    ("up", "side", "up", &["", "-"], "side"),
    ("cross", "wise", "cross", &["", "-"], "wise"),
];

/// Cuts a phrase into lower-case words: letters, figures, apostrophes, hyphens inside a word; all else
/// parts words.
pub(crate) fn words(text: &str) -> Vec<String> {
    text.replace('’', "'")
        .split(|c: char| !(c.is_alphanumeric() || c == '\'' || c == '-'))
        .map(|word| word.trim_matches(['\'', '-']).to_lowercase())
        .filter(|word| !word.is_empty())
        .collect()
}

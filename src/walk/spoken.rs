//! Numbers and tags as words that a synthesiser reads without guessing.

use crate::numerals::{SMALL, two_figures};

/// Spelling alphabet of ICAO Annex 10, volume II, 5.2.1.3 (spelled as printed there: Alfa, Juliett).
const ICAO: [&str; 26] = [
    "Alfa", "Bravo", "Charlie", "Delta", "Echo", "Foxtrot", "Golf", "Hotel", "India", "Juliett",
    "Kilo", "Lima", "Mike", "November", "Oscar", "Papa", "Quebec", "Romeo", "Sierra", "Tango",
    "Uniform", "Victor", "Whiskey", "X-ray", "Yankee", "Zulu",
];
/// A whole number in words up to 999; in figures above.
pub(super) fn number(n: usize) -> String {
    match n {
        0..=99 => two_figures(n, "-"),
        100..=999 if n.is_multiple_of(100) => format!("{} hundred", SMALL[n / 100]),
        100..=999 => format!("{} hundred {}", SMALL[n / 100], number(n % 100)),
        _ => n.to_string(),
    }
}

/// Whether a count in words is easily taken for another in noise (fifteen, fifty), so that it is
/// spoken digit by digit too.
pub(super) fn wants_digits(n: usize) -> bool {
    n >= 13
}

/// A number or tag sign by sign: digits as words, letters in the spelling alphabet.
pub(super) fn signs(text: &str) -> String {
    let words: Vec<String> = text
        .chars()
        .filter_map(|c| match c {
            '0'..='9' => c.to_digit(10).map(|d| SMALL[d as usize].to_owned()),
            '.' => Some("point".to_owned()),
            '-' => Some("minus".to_owned()),
            c if c.is_ascii_alphabetic() => {
                let at = c.to_ascii_uppercase() as usize - 'A' as usize;
                Some(ICAO[at].to_owned())
            }
            _ => None,
        })
        .collect();
    words.join(" ")
}

/// A unit beside its number: plans give the plural.
pub(super) fn unit<'u>(unit: &'u str, number: &str) -> &'u str {
    if !matches!(number, "1" | "-1") {
        return unit;
    }
    match unit {
        "feet" => "foot",
        "inches" => "inch",
        other => other.strip_suffix('s').unwrap_or(other),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_of_a_unit_is_singular() {
        for (text, number, said) in [
            ("kilonewtons", "1", "kilonewton"),
            ("kilonewtons", "1.5", "kilonewtons"),
            ("degrees", "-1", "degree"),
            ("feet", "1", "foot"),
            ("bar", "1", "bar"),
        ] {
            assert_eq!(unit(text, number), said);
        }
    }

    #[test]
    fn numbers_are_said_in_words() {
        for (n, words) in [
            (0, "zero"),
            (13, "thirteen"),
            (30, "thirty"),
            (42, "forty-two"),
            (100, "one hundred"),
            (119, "one hundred nineteen"),
        ] {
            assert_eq!(number(n), words);
        }
    }

    #[test]
    fn a_tag_is_spelled_in_the_alphabet_of_icao_annex_10() {
        // Words from ICAO Annex 10, volume II, the spelling alphabet.
        assert_eq!(signs("A7Q"), "Alfa seven Quebec");
        assert_eq!(signs("-12.5"), "minus one two point five");
    }
}

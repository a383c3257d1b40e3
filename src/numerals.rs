//! English words of numbers, for what is asked, what is listened for and what was heard.

/// Zero to nineteen.
pub(crate) const SMALL: [&str; 20] = [
    "zero",
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
    "twelve",
    "thirteen",
    "fourteen",
    "fifteen",
    "sixteen",
    "seventeen",
    "eighteen",
    "nineteen",
];

/// Twenty to ninety by their first figure; nothing for nought and one.
pub(crate) const TENS: [&str; 10] = [
    "", "", "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety",
];

/// A number in words, of which only the last two figures are looked at; `join` stands between the words
/// of a number such as twenty-one.
pub(crate) fn two_figures(n: usize, join: &str) -> String {
    let n = n % 100;
    match n {
        0..20 => SMALL[n].to_owned(),
        _ if n.is_multiple_of(10) => TENS[n / 10].to_owned(),
        _ => format!("{}{join}{}", TENS[n / 10], SMALL[n % 10]),
    }
}

//! What may not be said before an answer: the expected count or tag, a limit, the state that conforms.

use crate::numerals::two_figures;
use crate::plan::read::{Findings, Text};
use crate::plan::{CheckKind, NamedState, limits};

/// The number as it is said in English, hyphens as blanks; 0 to [`limits::COUNT`].
pub fn number_words(n: u32) -> Vec<String> {
    let below_hundred = |n: u32| two_figures(n as usize, " ");
    if n < 100 {
        return vec![below_hundred(n)];
    }
    let rest = n % 100;
    ["one hundred", "a hundred", "hundred"]
        .iter()
        .flat_map(|hundred| match rest {
            0 => vec![(*hundred).to_string()],
            _ => vec![
                format!("{hundred} {}", below_hundred(rest)),
                format!("{hundred} and {}", below_hundred(rest)),
            ],
        })
        .collect()
}

/// The words of a text in small letters, a blank before and behind each.
pub fn words_of(text: &str) -> String {
    let words: Vec<String> = text
        .to_lowercase()
        .split(|c: char| !c.is_alphanumeric())
        .filter(|w| !w.is_empty())
        .map(str::to_string)
        .collect();
    format!(" {} ", words.join(" "))
}

/// All ways to say a number, as whole words: in digits, in words, and digit by digit, as a count may be answered.
fn ways_to_say(n: u32) -> Vec<String> {
    let digits = n.to_string();
    let apart = |d: char| {
        d.to_digit(10)
            .map_or(String::new(), |d| number_words(d).concat())
    };
    let apart: Vec<String> = digits.chars().map(apart).collect();
    let mut said = number_words(n);
    said.push(digits);
    said.push(apart.join(" "));
    if n == 12 {
        said.push("dozen".to_owned());
    }
    if n == 6 {
        said.extend(["half a dozen", "half dozen"].map(str::to_owned));
    }
    if n > 12 && n.is_multiple_of(12) {
        let dozens = number_words(n / 12);
        said.extend(dozens.into_iter().map(|dozens| format!("{dozens} dozen")));
    }
    if n > 2 && n.is_multiple_of(2) {
        let pairs = number_words(n / 2);
        said.extend(pairs.into_iter().map(|pairs| format!("{pairs} pairs")));
    }
    said.into_iter().map(|words| format!(" {words} ")).collect()
}

/// Whether the text names the number, in digits or in words.
pub fn names_number(text: &str, n: u32) -> bool {
    let text = words_of(text);
    ways_to_say(n).iter().any(|way| text.contains(way))
}

/// Two of what is counted; elsewhere the words mean sides or ends.
const TWO: [&str; 3] = [" both ", " pair of ", " couple of "];

/// What is expected, as a text that belongs to something else would tell it: the number with what is counted, or the
/// tag. Put into words once, since it is looked for in every text of a station.
#[derive(PartialEq, Eq, Hash)]
pub enum Secret {
    Count {
        ways: Vec<String>,
        nouns: Vec<String>,
    },
    Tag(String),
}

impl Secret {
    pub fn of(kind: &CheckKind) -> Option<Self> {
        match kind {
            CheckKind::Count {
                expected: Some(n),
                noun,
            } => Some(Self::Count {
                ways: match n {
                    2 => ways_to_say(2)
                        .into_iter()
                        .chain(TWO.map(str::to_owned))
                        .collect(),
                    n => ways_to_say(*n),
                },
                nouns: nouns(noun),
            }),
            CheckKind::Tag {
                expected: Some(tag),
            } => Some(Self::Tag(tag.clone())),
            _ => None,
        }
    }

    /// Whether a text, as [`words_of`] makes it, tells it.
    pub fn is_in(&self, words: &str) -> bool {
        match self {
            Self::Count { ways, nouns } => {
                nouns.iter().any(|noun| words.contains(noun))
                    && ways.iter().any(|way| words.contains(way))
            }
            Self::Tag(tag) => holds_tag(words, tag),
        }
    }

    /// Whether it is a tag of one or two letters, which other texts hold by chance.
    pub fn is_short(&self) -> bool {
        matches!(self, Self::Tag(tag) if tag.chars().filter(|c| c.is_alphanumeric()).count() < 3)
    }
}

/// The noun of a count as [`words_of`] makes it, of one and of several ("bolts" and "bolt"); none where it has no word.
fn nouns(noun: &str) -> Vec<String> {
    let several = words_of(noun).trim().to_owned();
    if several.is_empty() {
        return Vec::new();
    }
    let ending = [("ies", "y"), ("es", ""), ("s", "")];
    let one = ending.iter().filter_map(|(end, other)| {
        let stem = several.strip_suffix(end).filter(|stem| stem.len() > 1)?;
        Some(format!(" {stem}{other} "))
    });
    let mut all: Vec<String> = one.collect();
    if all.is_empty() {
        all.extend([format!(" {several}s "), format!(" {several}es ")]);
    }
    all.push(format!(" {several} "));
    all
}

/// Whether a text, as [`words_of`] makes it, holds the noun of a count, of one or of several.
pub fn holds_noun(words: &str, noun: &str) -> bool {
    nouns(noun).iter().any(|noun| words.contains(noun))
}

/// Whether the text holds the phrase as whole words.
pub fn holds_phrase(text: &str, phrase: &str) -> bool {
    let phrase = words_of(phrase);
    phrase.trim() != "" && words_of(text).contains(&phrase)
}

/// A name is spoken on many ways; one with the expected count in it gives that away.
pub fn check_blind_name(r: &mut Findings, text: &Text, kind: &CheckKind) {
    if let CheckKind::Count {
        expected: Some(n), ..
    } = kind
        && names_number(&text.value, *n)
    {
        r.warning(
            &text.span,
            format!("a name says the expected count, {n}"),
            "gives the answer away where it is spoken",
            "leave the number out, if it is that",
        );
    }
}

/// A question, or what is said on the way to it, must not give the answer away.
pub fn check_blind(r: &mut Findings, what: &str, text: &Text, kind: &CheckKind) {
    const HELP: &str = "ask for what is found and leave the expected value out";
    match kind {
        CheckKind::Count {
            expected: Some(n), ..
        } if names_number(&text.value, *n) => r.error(
            &text.span,
            format!("{what} says the expected count, {n}"),
            "gives the answer away",
            HELP,
        ),
        CheckKind::Tag {
            expected: Some(tag),
        } if holds_tag(&words_of(&text.value), tag) => r.error(
            &text.span,
            format!("{what} says the expected tag, {tag}"),
            "gives the answer away",
            HELP,
        ),
        CheckKind::Reading { min, max, .. } => {
            let said = text
                .value
                .split(|c: char| !(c.is_ascii_digit() || c == '.'))
                .filter_map(|w| w.trim_end_matches('.').parse::<f64>().ok())
                .any(|n| Some(n) == *min || Some(n) == *max);
            let in_words = [min, max]
                .into_iter()
                .flatten()
                .any(|n| says_limit(&text.value, *n));
            if in_words && !said {
                r.warning(
                    &text.span,
                    format!("{what} has a limit of the reading in words"),
                    "gives the answer away, if it is meant",
                    HELP,
                );
            }
            if said {
                r.error(
                    &text.span,
                    format!("{what} says a limit of the reading"),
                    "gives the answer away",
                    HELP,
                );
            }
        }
        CheckKind::State { states } => check_leading(r, what, text, states),
        _ => {}
    }
}

/// Whether words of the text make the tag, whatever parts its letters: a blank or a dash does not count.
fn holds_tag(words: &str, tag: &str) -> bool {
    let words: Vec<&str> = words.split_whitespace().collect();
    let tag: String = words_of(tag).split_whitespace().collect();
    let from = |at: usize| {
        let mut rest = tag.as_str();
        let after = |word: &&str| {
            rest = rest.strip_prefix(word)?;
            Some(rest)
        };
        words[at..].iter().map_while(after).any(str::is_empty)
    };
    // "Mike four seven": a word a letter, as a tag is spelled.
    let spells = |part: &[&str]| {
        part.iter()
            .zip(tag.chars())
            .all(|(word, sign)| match sign.to_digit(10) {
                Some(digit) => {
                    *word == sign.to_string() || number_words(digit).iter().any(|w| w == word)
                }
                None => word.starts_with(sign),
            })
    };
    let signs = tag.chars().count();
    let spelled =
        signs > 2 && tag.contains(|c: char| c.is_ascii_digit()) && words.windows(signs).any(spells);
    !tag.is_empty() && (spelled || (0..words.len()).any(from))
}

/// Whether a limit is said in words ("two", "two point five").
fn says_limit(text: &str, limit: f64) -> bool {
    let digits = limit.abs().to_string();
    let (before, after) = digits.split_once('.').unwrap_or((&digits, ""));
    let Ok(whole) = before.parse::<u32>() else {
        return false;
    };
    let after: Vec<String> = after
        .chars()
        .filter_map(|digit| digit.to_digit(10))
        .flat_map(number_words)
        .collect();
    let said = number_words(whole)
        .into_iter()
        .map(|whole| match after.is_empty() {
            true => whole,
            false => format!("{whole} point {}", after.join(" ")),
        });
    whole <= limits::COUNT && said.into_iter().any(|words| holds_phrase(text, &words))
}

fn check_leading(r: &mut Findings, what: &str, text: &Text, states: &[NamedState]) {
    let names = |conforming: bool| {
        states
            .iter()
            .filter(|s| s.deficiency.is_none() == conforming)
            .any(|s| s.spoken.iter().any(|form| holds_phrase(&text.value, form)))
    };
    let one_of = states.iter().any(|s| s.key == "neither");
    let can_fail = states.iter().any(|s| s.deficiency.is_some());
    if can_fail && !one_of && names(true) && !names(false) {
        r.warning(
            &text.span,
            format!("{what} names the conforming state alone"),
            "leads to the answer",
            "name all states or none of them",
        );
    }
}

#[cfg(test)]
mod tests;

//! What may be spoken: names, states and questions.

use crate::numerals::two_figures;
use crate::plan::limits;
use crate::plan::read::{Findings, Text, did_you_mean};
use crate::plan::{CheckKind, NamedState};

/// Phrases that steer the walk, confirm an answer or tell of a fix, in lower case. No state and no
/// name may be one of them. It holds at least what the grammars of control, yes and no, and fixing
/// hold (a test sees to it), and a few words that might come to them.
pub const CONTROL_PHRASES: [&str; 88] = [
    "add a note",
    "affirm",
    "ask me",
    "call it off",
    "my findings",
    "take my findings",
    "can't see it",
    "cancel",
    "cannot fix it",
    "cannot see",
    "cannot see it",
    "carry on",
    "continue",
    "continue the walk",
    "correction",
    "does not apply",
    "doesn't apply",
    "end of walk",
    "end the walk",
    "faster",
    "finish the walk",
    "fixed",
    "fixed now",
    "go back",
    "help",
    "hold",
    "hold it",
    "hold on",
    "i can't see it",
    "i cannot see it",
    "it is fixed",
    "it is put right",
    "lead me",
    "leave it",
    "leave it open",
    "leave open",
    "list the deficiencies",
    "louder",
    "make a note",
    "negative",
    "next",
    "no",
    "no i did not",
    "no it is not",
    "not applicable",
    "not fixed",
    "it is not fixed",
    "not put right",
    "it is not put right",
    "not seen",
    "note",
    "pause",
    "previous check",
    "put right",
    "quieter",
    "read deficiencies",
    "read the deficiencies",
    "repeat",
    "repeat that",
    "repeat the question",
    "resume",
    "say again",
    "say that again",
    "scratch that",
    "skip",
    "slower",
    "speak faster",
    "speak louder",
    "speak quieter",
    "speak slower",
    "stand by",
    "station done",
    "stop",
    "stop stop",
    "stop the walk",
    "take a note",
    "that is all",
    "that was wrong",
    "that's all",
    "wait",
    "where am i",
    "where are we",
    "which check is this",
    "yes",
    "no it isn't",
    "no i didn't",
    "isn't fixed",
    "unfixed",
];

/// Lower case, single blanks.
pub fn spoken_form(text: &str) -> String {
    text.split_whitespace()
        .collect::<Vec<_>>()
        .join(" ")
        .to_lowercase()
}

/// Tells whether the text can be listened for, and why not. Such texts are words of the letters a
/// to z; digits and signs have no one way to be said.
pub fn check_listenable(r: &mut Findings, what: &str, text: &Text) -> bool {
    let bad = text
        .value
        .chars()
        .find(|c| !(c.is_ascii_alphabetic() || matches!(c, ' ' | '-' | '\'')));
    if let Some(bad) = bad {
        let help = if bad.is_ascii_digit() {
            "write numbers as words: \"leg two\"".to_string()
        } else {
            "write it as it is spoken, in words of the letters a to z".to_string()
        };
        r.error(
            &text.span,
            format!(
                "{what} `{}` holds `{bad}`, which nobody can say in one way",
                text.value
            ),
            "must be words",
            help,
        );
        return false;
    }
    if text.value.chars().count() > limits::SPOKEN_CHARS {
        r.error(
            &text.span,
            format!("{what} is longer than {} characters", limits::SPOKEN_CHARS),
            "too long to be said and heard well",
            "shorten it to two or three words",
        );
        return false;
    }
    if CONTROL_PHRASES.contains(&spoken_form(&text.value).as_str()) {
        r.error(
            &text.span,
            format!("{what} `{}` is a phrase that steers the walk", text.value),
            "means something else already",
            "choose other words",
        );
        return false;
    }
    true
}

/// A name that denies or answers would be heard as one where findings are called off ("not present").
pub fn check_name(r: &mut Findings, text: &Text) {
    const DENIALS: [&str; 5] = ["no", "not", "isn't", "aren't", "never"];
    const ANSWERS: [&str; 10] = [
        "present",
        "missing",
        "fitted",
        "in place",
        "good",
        "deficient",
        "damaged",
        "fixed",
        "in",
        "out",
    ];
    let said = spoken_form(&text.value);
    let first = said.split(' ').next().unwrap_or_default();
    if DENIALS.contains(&first) || ANSWERS.contains(&said.as_str()) {
        r.error(
            &text.span,
            format!("a check cannot be called `{}`", text.value),
            "denies or answers something when it is called off",
            "call it by what is looked at",
        );
    }
}

/// Units that are known; `grammars/units.abnf` holds the same, and others of one of them.
pub const SPOKEN_UNITS: [&str; 28] = [
    "bar",
    "psi",
    "pounds",
    "millibar",
    "pascals",
    "kilopascals",
    "kilograms",
    "kilos",
    "grams",
    "tonnes",
    "metres",
    "centimetres",
    "millimetres",
    "feet",
    "inches",
    "degrees",
    "percent",
    "newtons",
    "decanewtons",
    "kilonewtons",
    "newton metres",
    "volts",
    "amps",
    "litres",
    "gallons",
    "hours",
    "minutes",
    "seconds",
];

/// Tells whether a unit can be spoken, and warns where it may be an abbreviation, which nobody says.
pub fn check_unit(r: &mut Findings, unit: &Text) -> bool {
    let listenable = check_listenable(r, "the unit", unit);
    if listenable && !SPOKEN_UNITS.contains(&spoken_form(&unit.value).as_str()) {
        r.warning(
            &unit.span,
            format!("the unit `{}` is none that is known", unit.value),
            "spoken and heard just as it is written",
            did_you_mean(&unit.value, SPOKEN_UNITS),
        );
    }
    listenable
}

/// The number as it is said in English, hyphens as blanks; 0 to 120.
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

fn words_of(text: &str) -> String {
    let words: Vec<String> = text
        .to_lowercase()
        .split(|c: char| !c.is_alphanumeric())
        .filter(|w| !w.is_empty())
        .map(str::to_string)
        .collect();
    format!(" {} ", words.join(" "))
}

/// Whether the text names the number, in digits or in words.
pub fn names_number(text: &str, n: u32) -> bool {
    let text = words_of(text);
    let digits = n.to_string();
    let apart = |d: char| {
        d.to_digit(10)
            .map_or(String::new(), |d| number_words(d).concat())
    };
    let apart: Vec<String> = digits.chars().map(apart).collect();
    let mut said = number_words(n);
    said.push(digits.clone());
    // Digit by digit, as a count may be answered.
    said.push(apart.join(" "));
    if n == 12 {
        said.push("dozen".to_owned());
    }
    said.iter()
        .any(|words| text.contains(&format!(" {words} ")))
}

/// Whether a text that belongs to something else tells what is expected: the number with what is counted, or the tag.
pub fn gives_away(text: &str, kind: &CheckKind) -> bool {
    match kind {
        CheckKind::Count {
            expected: Some(n),
            noun,
        } => holds_phrase(text, noun) && names_number(text, *n),
        CheckKind::Tag {
            expected: Some(tag),
        } => holds_tag(text, tag),
        _ => false,
    }
}

/// Whether the text holds the phrase as whole words.
pub fn holds_phrase(text: &str, phrase: &str) -> bool {
    let phrase = words_of(phrase);
    phrase.trim() != "" && words_of(text).contains(&phrase)
}

/// A short question from a check's name and kind.
pub fn derived_ask(name: &str, kind: &CheckKind) -> String {
    match kind {
        CheckKind::Presence { .. } => format!("{}?", capital(name)),
        CheckKind::Count { noun, .. } => {
            let ends = spoken_form(name).ends_with(&spoken_form(noun));
            if ends {
                format!("How many {name}?")
            } else {
                format!("{}, how many {noun}?", capital(name))
            }
        }
        CheckKind::State { states } => {
            let named: Vec<&str> = states
                .iter()
                .filter(|s| s.key != "both" && s.key != "neither")
                .filter_map(|s| s.spoken.first())
                .map(String::as_str)
                .collect();
            // Naming all states keeps the question from leading; more than three are not kept in mind.
            match named.split_last() {
                Some((last, others)) if !others.is_empty() && others.len() < 3 => {
                    format!("{}: {} or {last}?", capital(name), others.join(", "))
                }
                _ => format!("{}?", capital(name)),
            }
        }
        CheckKind::Reading { unit, .. } => format!("{}, in {unit}?", capital(name)),
        CheckKind::Tag { .. } => format!("{}?", capital(name)),
        CheckKind::Condition => format!("{}: good or deficient?", capital(name)),
    }
}

fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars
        .next()
        .map(|first| first.to_uppercase().collect::<String>() + chars.as_str())
        .unwrap_or_default()
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
        } if holds_tag(&text.value, tag) => r.error(
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
fn holds_tag(text: &str, tag: &str) -> bool {
    let words = words_of(text);
    let words: Vec<&str> = words.split_whitespace().collect();
    let tag: String = words_of(tag).split_whitespace().collect();
    let from = |at: usize| {
        let mut joined = String::new();
        words[at..].iter().any(|word| {
            joined.push_str(word);
            joined == tag
        })
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
    whole <= 120 && said.into_iter().any(|words| holds_phrase(text, &words))
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

//! What may be spoken: names, states and questions.

use crate::plan::CheckKind;
use crate::plan::limits;
use crate::plan::read::{Findings, Text, did_you_mean};

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

/// The text with its first letter as a capital.
pub(crate) fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars
        .next()
        .map(|first| first.to_uppercase().collect::<String>() + chars.as_str())
        .unwrap_or_default()
}

/// One word answers whether a thing is there; where the question joins two, it vouches for both or tells of one.
pub fn warn_of_two_things(r: &mut Findings, ask: &Text) {
    let lower = ask.value.to_lowercase();
    let mut words = lower.split(|c: char| !c.is_alphabetic());
    if words.any(|word| matches!(word, "and" | "with")) {
        r.warning(
            &ask.span,
            "the question asks for two things, and one \"present\" vouches for both",
            "joined by \"and\" or \"with\"",
            "ask for each by itself, or make it a state with words for what can be wrong",
        );
    }
}

/// Words with which a question asks whether a thing is not there: "lid free of tools?", "no knots?".
const DENYING: &[&str] = &["no", "not", "none", "nothing", "nobody", "never", "without"];

/// A "present" to a question that denies may be said of the thing or of its absence; which of the two is meant
/// decides whether it conforms.
pub fn warn_of_denial(r: &mut Findings, asked: &Text) {
    let said = spoken_form(&asked.value);
    let words: Vec<&str> = said
        .split(' ')
        .map(|w| w.trim_matches(|c: char| !c.is_alphabetic()))
        .collect();
    let denies = words
        .iter()
        .any(|w| DENYING.contains(w) || w.ends_with("n't"))
        || words
            .windows(2)
            .any(|pair| matches!(pair, ["free" | "clear" | "clean" | "empty", "of" | "from"]));
    if denies {
        r.warning(
            &asked.span,
            "it is asked whether a thing is not there, and \"present\" can be said of either",
            "\"missing\" would be the answer to what is as it should be, or to what is not",
            "ask for the thing itself (\"Loose tools?\") with must_be = \"absent\", or make it a state with words for both",
        );
    }
}

//! What a reviewer writes down as heard, read as an answer that is typed in a walk.

use crate::grammar::{GrammarSet, Graph, Meaning, with_denials};
use crate::plan::{Check, CheckKind};
use crate::walk::{TypedAs, answer, answer_rule, noun, rules, state_forms, typed_as};

/// What was written down as heard.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Heard {
    /// An answer to the check, in the form in which the journal has it.
    Value(String),
    /// A tag that may be words that were meant for something else. Nobody is there to be asked back.
    MayBeWords,
    /// No answer to the check.
    Nothing,
}

impl Heard {
    /// Where two readings of the same are not alike, neither counts.
    fn or(self, other: Self) -> Self {
        match (self, other) {
            (Self::Value(one), Self::Value(other)) if one != other => Self::MayBeWords,
            (value @ Self::Value(_), _) | (_, value @ Self::Value(_)) => value,
            (Self::MayBeWords, _) | (_, Self::MayBeWords) => Self::MayBeWords,
            (Self::Nothing, Self::Nothing) => Self::Nothing,
        }
    }
}

/// What is written of a check, as it may be typed in a walk or as the journal has it, in the one form that the journal has; `None`
/// where it is no answer to the check, and where it may be words that were meant for something else.
pub fn typed_value(check: &Check, written: &str) -> Option<String> {
    match heard(check, written) {
        Heard::Value(value) => Some(value),
        Heard::MayBeWords | Heard::Nothing => None,
    }
}

/// Reads what was heard: as it is said ("thirty nine", "not good", "kilo lima seven"), or as the journal has it (`39`, a state's
/// key, `not-seen`).
pub(super) fn heard(check: &Check, said: &str) -> Heard {
    let said = said.trim();
    if matches!(said, rules::NOT_APPLICABLE | rules::NOT_SEEN) {
        return Heard::Value(said.to_owned());
    }
    let graph = graph(check);
    let by_words = |words: &str| match graph.as_ref().and_then(|g| g.only_meaning(words)) {
        Some(meaning) => weighed(check, words, &meaning),
        None => Heard::Nothing,
    };
    // Letters of a tag are written in capitals, so that "November five" may be N5 and twelve letters; in small ones it is
    // plain which.
    let by_grammar = by_words(said).or(by_words(&said.to_lowercase()));
    let by_value = as_journalled(check, said);
    match (&check.kind, by_grammar) {
        // A key that is a form of another state may be either.
        (CheckKind::State { .. }, found) => match found.or(by_value) {
            Heard::MayBeWords => Heard::Nothing,
            one => one,
        },
        (_, Heard::Nothing) => by_value,
        (_, found) => found,
    }
}

/// What the walk listens for at the check.
fn graph(check: &Check) -> Option<Graph> {
    let states = with_denials(&state_forms(&check.kind));
    let rules = [answer_rule(&check.kind), rules::CONTROL];
    // A plan whose words make no graph was not walked.
    GrammarSet::builtin()
        .graph_of(&rules, &states, noun(&check.kind))
        .ok()
}

fn weighed(check: &Check, said: &str, meaning: &Meaning) -> Heard {
    match (typed_as(said, meaning), answer(check, meaning)) {
        _ if meaning.rule == rules::TAG && has_an_answer(said) => Heard::MayBeWords,
        (TypedAs::Answer, Some(value)) => Heard::Value(value),
        (TypedAs::MayBeWords | TypedAs::Words, _) => Heard::MayBeWords,
        _ => Heard::Nothing,
    }
}

/// Whether one of the words is an answer by itself, so that it need not belong to a tag behind it ("NO K9").
fn has_an_answer(said: &str) -> bool {
    let answers = [
        rules::YES_NO,
        rules::CONTROL,
        rules::PRESENCE,
        rules::CONDITION,
    ];
    let graph = GrammarSet::builtin().graph_of(&answers, &[], None).ok();
    let parts = said.split(|c: char| c.is_whitespace() || matches!(c, '.' | ',' | ';' | ':' | '!'));
    let mut words = parts.filter(|part| !part.is_empty() && part.chars().all(char::is_alphabetic));
    graph.is_some_and(|graph| words.any(|word| !graph.match_words(word).is_empty()))
}

/// What is written as the journal has it: a state's key, a number that is longer than one says it, a tag with what parts it.
fn as_journalled(check: &Check, said: &str) -> Heard {
    let is_number = |c: char| c.is_ascii_digit() || matches!(c, '.' | '-');
    let plain = match &check.kind {
        CheckKind::State { states } => states.iter().any(|s| s.key == said),
        CheckKind::Count { .. } | CheckKind::Reading { .. } => said.chars().all(is_number),
        CheckKind::Tag { .. } => true,
        CheckKind::Presence { .. } | CheckKind::Condition => false,
    };
    let meaning = Meaning {
        rule: answer_rule(&check.kind).to_owned(),
        value: said.to_owned(),
    };
    match answer(check, &meaning).filter(|_| plain) {
        Some(value) => weighed(check, said, &Meaning { value, ..meaning }),
        None => Heard::Nothing,
    }
}

#[cfg(test)]
mod tests {
    use super::{Heard, heard};
    use crate::plan::{Check, CheckId, CheckKind, NamedState};

    fn check(kind: CheckKind) -> Check {
        Check {
            id: CheckId("front/it".to_owned()),
            name: "it".to_owned(),
            also: Vec::new(),
            together: None,
            ask: "It?".to_owned(),
            kind,
            deficiency: None,
            when: Vec::new(),
            touches: Vec::new(),
            compare: None,
        }
    }

    fn reads(check: &Check, said: &str, value: &str) {
        assert_eq!(heard(check, said), Heard::Value(value.to_owned()), "{said}");
    }

    #[test]
    fn a_tag_is_read_as_it_is_spelled_and_words_are_none() {
        let tag = check(CheckKind::Tag { expected: None });
        for (said, value) in [
            ("november five", "N5"),
            ("November Five", "N5"),
            ("mike four seven", "M47"),
            ("M47", "M47"),
            ("KL-7", "KL7"),
            ("KL_7", "KL7"),
            ("KL 7", "KL7"),
            ("NO-7", "NO7"),
            ("not seen", "not-seen"),
            ("NOT SEEN", "not-seen"),
        ] {
            reads(&tag, said, value);
        }
        for said in [
            "present",
            "PRESENT",
            "missing",
            "damaged",
            "no, K9",
            "12 or 13",
            "kl-7",
            "NOVEMBER 5",
            "leave it",
            "NO K9",
            "NO. K9",
            "MISSING 2",
        ] {
            assert_eq!(heard(&tag, said), Heard::MayBeWords, "{said}");
        }
        assert_eq!(heard(&tag, "M47 or M48, I am not sure"), Heard::Nothing);
    }

    #[test]
    fn numbers_are_read_in_words_and_figures_and_ranges_are_none() {
        let count = check(CheckKind::Count {
            expected: Some(3),
            noun: "links".to_owned(),
        });
        for (said, value) in [
            ("thirty nine", "39"),
            ("02", "2"),
            ("002", "2"),
            ("two links", "2"),
            ("cannot see", "not-seen"),
        ] {
            reads(&count, said, value);
        }
        for said in [
            "3-4",
            "3?",
            "three or four",
            "missing",
            "-3",
            "many",
            "4000",
        ] {
            assert_eq!(heard(&count, said), Heard::Nothing, "{said}");
        }
        let reading = check(CheckKind::Reading {
            unit: "bar".to_owned(),
            min: None,
            max: None,
        });
        for (said, value) in [
            ("twelve point five bar", "12.5"),
            ("1200", "1200"),
            ("-3.5", "-3.5"),
        ] {
            reads(&reading, said, value);
        }
        assert_eq!(heard(&reading, "twelve psi"), Heard::Nothing);
    }

    /// What a fault is called, and what denies that it is good, is never read as what conforms.
    #[test]
    fn faults_are_read_as_faults() {
        let presence = check(CheckKind::Presence { must_be: true });
        for (said, value) in [
            ("not there", "missing"),
            ("damaged", "deficient"),
            ("all there", "present"),
            ("not-applicable", "not-applicable"),
        ] {
            reads(&presence, said, value);
        }
        assert_eq!(heard(&presence, "not missing"), Heard::Nothing);
        let condition = check(CheckKind::Condition);
        for said in [
            "damaged",
            "not good",
            "torn",
            "bad condition",
            "deficient",
            "cut",
            "loose",
        ] {
            reads(&condition, said, "deficient");
        }
        let named = |key: &str, said: &str, deficiency: Option<&str>| NamedState {
            key: key.to_owned(),
            spoken: vec![said.to_owned()],
            deficiency: deficiency.map(str::to_owned),
        };
        let state = check(CheckKind::State {
            states: vec![
                named("closed", "closed", None),
                named("half", "half open", Some("keeper half open")),
                // Its key is what another one is called.
                named("shut", "open", Some("keeper open")),
                named("open", "shut", None),
            ],
        });
        for (said, value) in [
            ("Closed", "closed"),
            ("it's closed", "closed"),
            ("half", "half"),
            ("half open", "half"),
            ("torn", "deficient"),
            ("not closed", "deficient"),
        ] {
            reads(&state, said, value);
        }
        for said in ["open", "shut", "closed?", "present", "frayed a bit"] {
            assert_eq!(heard(&state, said), Heard::Nothing, "{said}");
        }
    }
}

//! How alike two phrases sound, and which of those active together are too alike.
//!
//! The measure is the least cost of turning the sounds of one into those of the other, by features of the
//! sounds (manner, place and voice of consonants; height and frontness of vowels). It is a rough guide from
//! phonetics. What was measured to be heard as another word counts too, whatever the sounds say.

mod measured;

pub use measured::{Confusion, measured};

use super::called;
use super::sounds::{Phone, distance, pronunciations};
use super::spoken::{Kind, kind};
use super::{Meaning, NEGATED, Phrase};
use std::collections::{HashMap, HashSet};

/// Phrases nearer than this, about in sounds, are too alike.
pub const LEAST_DISTANCE: f32 = 0.75;
/// The same where a confusion could log a fault as conforming.
pub const LEAST_DISTANCE_COSTLY: f32 = 1.4;
/// Share of measured utterances heard as the other, from which two phrases are too alike if the share is
/// surely higher ([`Confusion::rate_at_least`]).
pub const MOST_CONFUSED: f64 = 0.02;
/// The same where a confusion could log a fault as conforming.
pub const MOST_CONFUSED_COSTLY: f64 = 0.002;

/// Two phrases with different meanings that sound alike.
#[derive(Clone, Debug, PartialEq)]
pub struct AlikePair {
    /// One phrase.
    pub a: String,
    /// The other phrase.
    pub b: String,
    /// What the one means.
    pub meaning_a: Meaning,
    /// What the other means.
    pub meaning_b: Meaning,
    /// How alike they sound: 0 not at all, 1 the same.
    pub score: f32,
    /// Why the pair may stay, if it may.
    pub handled: Option<Handled>,
    /// What to do, lower case, no full stop.
    pub advice: String,
}

/// Why two phrases may be active together although they sound alike.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Handled {
    /// Thirteen and thirty and the like: never taken on thin evidence, but confirmed or asked for digit by
    /// digit.
    TeensAndTens,
    /// Two numbers that were measured to be heard as each other: there are no other words for them. Over twelve
    /// two models must hear them, and all are read back.
    Numbers,
    /// One phrase is the other's denial ("present", "not present"). Left out, the denial would be matched
    /// to the plain phrase for want of anything nearer; kept, it is a rival that prevents this.
    Denial,
}

/// How alike two phrases sound: 0 not at all, 1 the same.
pub fn alike(one: &str, other: &str) -> f32 {
    score(least(&pronunciations(one), &pronunciations(other)))
}

fn score(distance: f32) -> f32 {
    (-distance).exp()
}

/// In phrases of one or two sounds each sound says less: "go" and "no" are near-homophones, though their
/// first sounds are unlike.
fn weighed(one: &[Phone], other: &[Phone]) -> f32 {
    let mean = (one.len() + other.len()) as f32 / 2.0;
    distance(one, other) * ((mean + 1.0) / 4.0).min(1.0)
}

/// How far two phrases are from each other, about in sounds: the least over their pronunciations.
pub(super) fn least(one: &[Vec<Phone>], other: &[Vec<Phone>]) -> f32 {
    one.iter()
        .flat_map(|a| other.iter().map(move |b| weighed(a, b)))
        .fold(f32::INFINITY, f32::min)
}

/// Whether taking one meaning for the other could log a fault as conforming, by the shipped rules. States
/// of a check's own are all taken so, since only the plan knows which of them conform.
pub fn costly(one: &Meaning, other: &Meaning) -> bool {
    const ANSWERS: [&str; 6] = [
        "presence",
        "condition",
        "state",
        "yes-no",
        "fixing",
        "control",
    ];
    const NO_FAULT: [&str; 4] = ["present", "good", "yes", "fixed"];
    let good = |m: &Meaning| NO_FAULT.contains(&m.value.as_str());
    if one.rule == "state" || other.rule == "state" {
        return true;
    }
    ANSWERS.contains(&one.rule.as_str())
        && ANSWERS.contains(&other.rule.as_str())
        && good(one) != good(other)
}

/// The pairs among the given phrases with different meanings that are too alike, the most alike first.
/// `is_costly` tells which meanings are held to the stricter limit ([`costly`] by default); `measured`
/// holds confusions counted on recordings ([`measured()`]); of the phrases of a meaning that was heard in place
/// of another, the one that sounds nearest is named.
pub fn too_alike(
    phrases: &[Phrase],
    is_costly: impl Fn(&Meaning, &Meaning) -> bool,
    measured: &[Confusion],
) -> Vec<AlikePair> {
    let mut known = HashSet::new();
    let spoken: Vec<_> = phrases
        .iter()
        // A rival without a value is there because it sounds like an answer ("cut" like "good"): nobody is told to say it.
        .filter(|phrase| phrase.meanings.len() == 1 && phrase.meanings[0].value != NEGATED)
        .filter(|phrase| known.insert(*phrase))
        .map(|phrase| {
            let sounds = pronunciations(&phrase.words);
            let shortest = sounds.iter().map(Vec::len).min().unwrap_or(0);
            let longest = sounds.iter().map(Vec::len).max().unwrap_or(0);
            (phrase, sounds, shortest, longest)
        })
        .collect();
    let mut out = Vec::new();
    // For what was said and heard instead: the nearest phrase of that meaning.
    let mut heard: HashMap<(&str, &Meaning), AlikePair> = HashMap::new();
    for (i, (one, sounds_a, short_a, long_a)) in spoken.iter().enumerate() {
        for (other, sounds_b, short_b, long_b) in &spoken[i + 1..] {
            let (meaning_a, meaning_b) = (&one.meanings[0], &other.meanings[0]);
            if meaning_a == meaning_b || (is_row(one) && is_row(other)) {
                continue;
            }
            let strict = is_costly(meaning_a, meaning_b);
            let (limit, most) = if strict {
                (LEAST_DISTANCE_COSTLY, MOST_CONFUSED_COSTLY)
            } else {
                (LEAST_DISTANCE, MOST_CONFUSED)
            };
            let undone = undoes(&one.words, &other.words);
            let of_plan = |m: &Meaning| matches!(m.rule.as_str(), "state" | called::NAME);
            let of_plan = of_plan(meaning_a) || of_plan(meaning_b);
            let denial = denies(&one.words, &other.words)
                || denies(&other.words, &one.words)
                || undone && !of_plan;
            let pair = |distance: f32| {
                let handled = handled(one, other, denial);
                AlikePair {
                    a: one.words.clone(),
                    b: other.words.clone(),
                    meaning_a: meaning_a.clone(),
                    meaning_b: meaning_b.clone(),
                    score: score(distance),
                    handled,
                    advice: if undone && handled.is_none() {
                        "the \"un\" is lost now and then; say one of them in a word of its own"
                            .into()
                    } else {
                        advice(&one.words, &other.words, handled, of_plan)
                    },
                }
            };
            // No sound costs less than 0.4 to leave out, 0.3 in short phrases, so that lengths alone may tell.
            let longer = short_a
                .saturating_sub(*long_b)
                .max(short_b.saturating_sub(*long_a));
            let sure = denial || undone && strict;
            if longer as f32 * 0.3 < limit || sure {
                let distance = least(sounds_a, sounds_b);
                if distance < limit || sure {
                    out.push(pair(distance));
                    continue;
                }
            }
            for (said, heard_as) in [(one, meaning_b), (other, meaning_a)] {
                if measured::is_heard_as(measured, &said.words, heard_as, most) {
                    let mut new = pair(least(sounds_a, sounds_b));
                    if is_number(one) && is_number(other) {
                        new.handled = Some(Handled::Numbers);
                        new.advice = advice(&one.words, &other.words, new.handled, of_plan);
                    }
                    match heard.get(&(said.words.as_str(), heard_as)) {
                        Some(nearer) if nearer.score >= new.score => {}
                        _ => {
                            heard.insert((&said.words, heard_as), new);
                        }
                    }
                }
            }
        }
    }
    out.extend(heard.into_values());
    out.sort_by(|a, b| b.score.total_cmp(&a.score));
    out
}

/// Whether one of them is the other with an "un" before one of its words: in both models "unpinned" is heard as "pinned" now
/// and then, however far apart they are counted.
fn undoes(one: &str, other: &str) -> bool {
    let without = |text: &str| -> Vec<String> {
        let words = text.split(' ');
        words
            .map(|w| w.strip_prefix("un").unwrap_or(w).to_owned())
            .collect()
    };
    one != other && without(one) == without(other)
}

/// Whether `words` is `plain` with a denial in front of it or in it.
fn denies(words: &str, plain: &str) -> bool {
    const DENIALS: [&str; 6] = ["not", "no", "isn't", "doesn't", "never", "un"];
    let words: Vec<&str> = words.split(' ').collect();
    let plain: Vec<&str> = plain.split(' ').collect();
    let rest: Vec<&str> = words
        .iter()
        .copied()
        .filter(|w| !DENIALS.contains(w))
        .collect();
    rest.len() < words.len() && !rest.is_empty() && plain.ends_with(&rest) || is_bad(&words, &plain)
}

/// Whether one is the other with "bad" for "good" ("looks bad"): listened for so that the other is not taken for it.
fn is_bad(words: &[&str], plain: &[&str]) -> bool {
    let good = words.iter().map(|word| match *word {
        "bad" | "poor" => "good",
        other => other,
    });
    words.len() > 1 && words != plain && good.eq(plain.iter().copied())
}

fn handled(one: &Phrase, other: &Phrase, denial: bool) -> Option<Handled> {
    if denial {
        return Some(Handled::Denial);
    }
    match (kind(&one.words), kind(&other.words)) {
        (Kind::Teen(teen), Kind::Tens(tens)) | (Kind::Tens(tens), Kind::Teen(teen))
            if teen == tens + 10 =>
        {
            Some(Handled::TeensAndTens)
        }
        _ => None,
    }
}

/// Whether the phrase is a number of more than one word. Such phrases are not compared with each other:
/// they differ in one of their words, and the words are compared.
fn is_row(phrase: &Phrase) -> bool {
    is_number(phrase) && phrase.words.contains(' ')
}

fn is_number(phrase: &Phrase) -> bool {
    matches!(
        phrase.meanings[0].rule.as_str(),
        "count" | "reading" | "tag"
    )
}

/// Words known to be heard badly, and what to say instead.
const BETTER: [(&str, &str); 18] = [
    ("absent", "missing"),
    ("affirmative", "affirm"),
    ("back", "go back"),
    ("bad", "deficient"),
    ("broken", "damaged"),
    ("correct", "affirm"),
    ("gone", "missing"),
    ("hold", "stand by"),
    ("nil", "zero"),
    ("none", "zero"),
    ("note", "take a note"),
    ("off", "not fitted"),
    ("pause", "stand by"),
    ("resume", "carry on"),
    ("right", "affirm"),
    ("slack", "not tight"),
    ("loose", "not tight"),
    ("wrong", "negative"),
];

/// Whether this steers a walk, so that no state of a plan may be said so.
fn steers(phrase: &str) -> bool {
    matches!(
        phrase,
        "affirm" | "negative" | "go back" | "stand by" | "carry on" | "take a note"
    )
}

/// `of_plan`: whether the words are a plan's own.
fn advice(one: &str, other: &str, handled: Option<Handled>, of_plan: bool) -> String {
    match handled {
        Some(Handled::TeensAndTens) => {
            return "say it digit by digit; loadwalk confirms these".into();
        }
        Some(Handled::Numbers) => {
            return "say it digit by digit; loadwalk reads it back".into();
        }
        Some(Handled::Denial) => {
            return "keep both; prefer a word of its own to a denial".into();
        }
        None => {}
    }
    for (phrase, rival) in [(one, other), (other, one)] {
        let better = BETTER.iter().find(|(word, _)| *word == phrase);
        if let Some((word, better)) = better
            && *better != rival
            && !(of_plan && steers(better))
        {
            return format!("say \"{better}\" instead of \"{word}\"");
        }
    }
    format!("give \"{one}\" or \"{other}\" a longer or quite different phrase")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn likeness_is_a_measure() {
        assert_eq!(alike("shackle", "shackle"), 1.0);
        for (a, b) in [
            ("hook", "keeper"),
            ("three", "tree"),
            ("", "pin"),
            ("left", "right"),
        ] {
            assert_eq!(alike(a, b), alike(b, a));
            assert!((0.0..1.0).contains(&alike(a, b)), "{a} {b}");
        }
        // Spelt differently, spoken the same.
        assert_eq!(alike("two", "too"), 1.0);
        assert_eq!(alike("four", "for"), 1.0);
    }

    /// The spelling alphabet of ICAO Annex 10 volume II was chosen by intelligibility trials, so that its
    /// words are a yardstick for phrases that are far enough apart. Pairs known to be confused by radio:
    /// the digits 5 and 9 (which Annex 10 therefore respells fife and niner), affirmative and negative
    /// (of which it keeps affirm), teens and tens, and the names of letters (b, d, p, t; m, n).
    #[test]
    fn agrees_with_what_radio_practice_found() {
        let alphabet = [
            "alfa", "bravo", "charlie", "delta", "echo", "foxtrot", "golf", "hotel", "india",
            "juliett", "kilo", "lima", "mike", "november", "oscar", "papa", "quebec", "romeo",
            "sierra", "tango", "uniform", "victor", "whiskey", "x-ray", "yankee", "zulu",
        ];
        let mut nearest = 0.0_f32;
        for (i, a) in alphabet.iter().enumerate() {
            for b in &alphabet[i + 1..] {
                nearest = nearest.max(alike(a, b));
            }
        }
        assert!(nearest < score(LEAST_DISTANCE_COSTLY), "{nearest}");
        for (a, b) in [
            ("thirteen", "thirty"),
            ("fifteen", "fifty"),
            ("b", "d"),
            ("b", "p"),
            ("p", "t"),
            ("m", "n"),
            ("no", "note"),
            ("no", "go"),
            ("none", "nine"),
            ("right", "write"),
        ] {
            assert!(
                alike(a, b) > score(LEAST_DISTANCE),
                "{a} {b} {}",
                alike(a, b)
            );
        }
        assert!(alike("fife", "niner") < alike("five", "nine"));
        assert!(alike("affirm", "negative") < alike("affirmative", "negative"));
    }

    /// The words that the shipped grammars leave out for their sound, as their comments say.
    #[test]
    fn words_left_out_for_their_sound_are_found_too_alike() {
        let costly = score(LEAST_DISTANCE_COSTLY);
        for (a, b, limit) in [
            ("eight", "wait", score(LEAST_DISTANCE)),
            ("no", "note", score(LEAST_DISTANCE)),
            ("none", "nine", score(LEAST_DISTANCE)),
            ("niner", "nine oh", score(LEAST_DISTANCE)),
            ("forty", "four tree", score(LEAST_DISTANCE)),
            ("good", "bad", costly),
            ("serviceable", "unserviceable", costly),
        ] {
            assert!(alike(a, b) > limit, "{a} {b} {}", alike(a, b));
        }
    }

    #[test]
    fn what_was_measured_counts_whatever_the_sounds_say() {
        let phrase = |words: &str, value: &str| Phrase {
            words: words.into(),
            meanings: vec![Meaning {
                rule: "state".into(),
                value: value.into(),
            }],
        };
        let phrases = [
            phrase("plugged", "plugged"),
            phrase("blanked off", "blanked"),
        ];
        assert!(too_alike(&phrases, costly, &[]).is_empty());
        let measured = |times, of| {
            [Confusion {
                rule: "state".into(),
                said: "blanked off".into(),
                heard_as: "plugged".into(),
                times,
                of,
            }]
        };
        let found = too_alike(&phrases, costly, &measured(2, 20));
        assert_eq!((found.len(), found[0].handled), (1, None));
        // Too seldom to be sure that it is more than once in five hundred.
        assert!(too_alike(&phrases, costly, &measured(1, 20_000)).is_empty());
        let alike = [phrase("pinned", "pinned"), phrase("bent", "bent")];
        assert_eq!(too_alike(&alike, costly, &[]).len(), 1);
    }

    #[test]
    fn a_denial_is_a_handled_rival() {
        assert!(denies("not present", "present"));
        assert!(denies("no good", "good"));
        assert!(denies("it is not there", "it is there"));
        assert!(!denies("no", "good"));
        assert!(!denies("present", "not present"));
    }
}

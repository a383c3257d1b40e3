//! Faults of the trade that sound like what a plan says.
//!
//! What is not listened for is matched to what sounds nearest: "stripped" and "trapped" were taken as "strapped",
//! "strained" as "straight", in quiet and in noise, far from anything else. So what an inspector may say of a thing that is not as it
//! should be stands against each form of a state that sounds like it.

use super::likeness;
use super::sounds::{Phone, pronunciations};
use super::spoken;
use std::collections::HashSet;
use std::sync::LazyLock;

/// What an inspector says of a thing that is not as it should be, whatever the plan calls it. Not named, "bent" was "pinned"
/// by five voices of six, in quiet.
pub(super) const USUAL: [&str; 14] = [
    "bent", "blocked", "broken", "cracked", "cut", "damaged", "jammed", "loose", "missing",
    "pinched", "split", "stuck", "torn", "worn",
];

/// More of them, which matter where they sound like a form. Common practice, from no list.
#[rustfmt::skip]
const MORE: [&str; 118] = [
    "abraded", "ajar", "bad", "bowed", "buckled", "bulging", "burnt", "burst", "caught", "chafed", "chewed",
    "chipped", "clogged", "coated", "corroded", "creased", "crooked", "crossed", "crushed", "deformed", "dented",
    "detached", "dirty", "distorted", "dragging", "dripping", "empty", "expired", "faded", "fallen", "flapping",
    "flat", "forced", "fouled", "fractured", "frayed", "freezing", "frozen", "gashed", "gone", "gouged", "hanging",
    "heated", "holed", "iced", "kinked", "knotted", "lapsed", "leaking", "leaning", "lifted", "lost", "melted",
    "nicked", "off", "oily", "old", "open", "out", "overdue", "patched", "peeled", "peeling", "pierced", "pitted",
    "punctured", "reversed", "ripped", "rotten", "rubbing", "rusted", "rusty", "sagging", "scored", "scraped",
    "scratched", "scuffed", "seized", "severed", "sheared", "shifted", "short", "shredded", "skewed", "slack",
    "slashed", "slid", "slipped", "sloping", "smashed", "smeared", "snagged", "snapped", "soaked", "sprung",
    "squashed", "sticking", "strained", "stretched", "stripped", "swollen", "tangled", "tattered", "tilted",
    "touching", "trapped", "twisted", "unclear", "uneven", "unsafe", "untied", "warped", "wavy", "weak", "wet",
    "wobbly", "wrapped", "wrong",
];

/// Faults nearer than this to a word, about in sounds, stand against it.
const NEAR: f32 = 2.6;

/// A fault with its sounds.
type Sounding = (&'static str, Vec<Vec<Phone>>);

static SOUNDS: LazyLock<Vec<Sounding>> = LazyLock::new(|| {
    let all = USUAL.iter().chain(&MORE);
    all.map(|fault| (*fault, pronunciations(fault))).collect()
});

/// The form with one of its words, or all of them, turned into a fault that sounds like it, the nearest first. What the
/// plan says itself (`named`) is the plan's.
pub(super) fn near(form: &str, named: &HashSet<String>) -> Vec<String> {
    let words = spoken::words(form);
    let mut found: Vec<(f32, String)> = Vec::new();
    let mut against = |sounds: &[Vec<Phone>], told: &dyn Fn(&str) -> String| {
        for (fault, fault_sounds) in SOUNDS.iter().filter(|(fault, _)| !named.contains(*fault)) {
            let distance = likeness::least(sounds, fault_sounds);
            if distance > 0.0 && distance < NEAR {
                found.push((distance, told(fault)));
            }
        }
    };
    for (at, word) in words.iter().enumerate() {
        against(&pronunciations(word), &|fault| {
            let mut words = words.clone();
            fault.clone_into(&mut words[at]);
            words.join(" ")
        });
    }
    if words.len() > 1 {
        against(&pronunciations(form), &str::to_owned);
    }
    found.sort_by(|(a, _), (b, _)| a.total_cmp(b));
    found.into_iter().map(|(_, form)| form).collect()
}

/// What is there after all, where a form says that nothing is: "a knot" for "no knots", "something loose" for "nothing
/// loose".
pub(super) fn something(form: &str) -> Vec<String> {
    let words = spoken::words(form);
    let rest = words.get(1..).unwrap_or_default().join(" ");
    if rest.is_empty() {
        return Vec::new();
    }
    // "A knot", not "a knots"; "a cross" as it is.
    let single = rest.strip_suffix('s').filter(|one| !one.ends_with('s'));
    let one = single.unwrap_or(&rest);
    match words[0].as_str() {
        "no" => vec![
            format!("a {one}"),
            format!("one {one}"),
            format!("two {rest}"),
            format!("some {rest}"),
            rest,
        ],
        "nothing" => ["something", "one thing", "a thing"]
            .iter()
            .map(|thing| format!("{thing} {rest}"))
            .chain([rest.clone()])
            .collect(),
        _ => Vec::new(),
    }
}

#[cfg(test)]
mod tests {
    use super::{MORE, USUAL, something};
    use std::collections::HashSet;

    fn near(form: &str) -> Vec<String> {
        super::near(form, &HashSet::new())
    }

    /// Taken as the form by a voice of dev in quiet and in noise, before.
    #[test]
    fn faults_that_sound_like_a_form_stand_against_it() {
        for (form, fault) in [
            ("strapped", "stripped"),
            ("strapped", "trapped"),
            ("straight", "strained"),
            ("free", "freezing"),
            ("cap on", "cap gone"),
            ("cap on", "cap torn"),
            ("clipped", "slipped"),
            ("secured", "sheared"),
            ("flush", "crushed"),
            ("pinned", "bent"),
        ] {
            let near = near(form);
            assert!(near.iter().any(|n| n == fault), "{fault} in {near:?}");
        }
        assert!(!near("dry").iter().any(|n| n == "scratched"));
        assert!(near("").is_empty());
    }

    #[test]
    fn no_fault_is_listed_twice() {
        let all: HashSet<_> = USUAL.iter().chain(&MORE).collect();
        assert_eq!(all.len(), USUAL.len() + MORE.len());
    }

    #[test]
    fn what_denies_that_there_is_any_has_rivals() {
        assert_eq!(
            something("no knots"),
            ["a knot", "one knot", "two knots", "some knots", "knots"]
        );
        assert!(something("nothing loose").contains(&"something loose".to_owned()));
        assert!(something("no").is_empty());
        assert!(something("north side").is_empty());
    }
}

use super::{Secret, holds_phrase, holds_tag, names_number, number_words, words_of};
use crate::plan::CheckKind;

#[test]
fn numbers_are_found_in_digits_and_words() {
    assert_eq!(number_words(0), ["zero"]);
    assert_eq!(number_words(21), ["twenty one"]);
    assert_eq!(number_words(40), ["forty"]);
    assert!(number_words(105).contains(&"one hundred and five".to_string()));
    assert!(names_number("All twenty-one straps?", 21));
    assert!(names_number("All 21 straps?", 21));
    assert!(names_number("A hundred and twenty?", 120));
    assert!(!names_number("Links in the hook, 213?", 21));
    assert!(!names_number("Straps?", 1));
    // "one" inside another word is no number.
    assert!(!names_number("Nobody phoned?", 1));
}

#[test]
fn phrases_are_found_as_whole_words() {
    assert!(holds_phrase("At the front end: lug?", "front end"));
    assert!(!holds_phrase("At the front ends", "front end"));
    assert!(!holds_phrase("anything", "..."));
}

#[test]
fn tags_are_found_however_they_are_parted() {
    let holds = |text: &str, tag| holds_tag(&words_of(text), tag);
    for text in [
        "The SL-204?",
        "Set sl 204",
        "s l 2 04: there?",
        "Sierra Lima two zero four",
    ] {
        assert!(holds(text, "SL204"), "{text}");
    }
    for text in ["The SL-2041?", "The SL-20", "XSL204", "", "SL 2 0 three 4"] {
        assert!(!holds(text, "SL204"), "{text}");
    }
    assert!(!holds("anything", ""));
}

#[test]
fn a_count_is_found_with_its_noun_of_one_or_of_several() {
    let secret = |n, noun: &str| {
        Secret::of(&CheckKind::Count {
            expected: Some(n),
            noun: noun.to_owned(),
        })
        .expect("a count")
    };
    let tells = |text: &str, n, noun| secret(n, noun).is_in(&words_of(text));
    for text in [
        "Six bolt plate",
        "one of the six bolts loose",
        "half a dozen bolts",
        "three pairs of bolts",
        "6-bolt flange",
    ] {
        assert!(tells(text, 6, "bolts"), "{text}");
    }
    assert!(tells("two dozen links", 24, "links"));
    assert!(tells("both straps crossed", 2, "straps"));
    assert!(tells("a pair of straps", 2, "straps"));
    assert!(tells("four hatches", 4, "hatch"));
    assert!(tells("four battery bolts", 4, "battery bolts"));
    assert!(tells("the three-assembly frame", 3, "assemblies"));
    for text in [
        "Six plates",
        "Bolt plate",
        "five bolts",
        "bolthole six",
        "both bolts",
    ] {
        assert!(!tells(text, 6, "bolts"), "{text}");
    }
}

use super::{holds_phrase, holds_tag, names_number, number_words, words_of};

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

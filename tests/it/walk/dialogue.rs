//! Walks that read like a dialogue.

use super::pad::Pad;
use super::sites::{generator, id, opening, pair};
use loadwalk::walk::{Ending, Entry, Manner, OpenError, Outcome, Settings, Tone, Walk};

pub(super) fn pad() -> Pad {
    Pad::start(opening(generator()), Settings::default())
}

/// Everything that conforms, up to and without the close.
pub(super) fn all_good(pad: &mut Pad) {
    pad.take("present").take("13").take("plugged");
    pad.take("present").take("7").take("2.2");
}

#[test]
fn a_walk_where_all_is_well() {
    let mut pad = pad();
    all_good(&mut pad);
    pad.take("yes");
    assert_eq!(pad.ended, Some(Ending::Ready));
    insta::assert_snapshot!(pad.talk);
}

#[test]
fn a_walk_with_faults_a_repair_and_a_pause() {
    let mut pad = pad();
    pad.take("missing")
        .note("pin is lying in the grass")
        .take("fixed");
    pad.take("present");
    pad.cough().cough().doubt("30").take("no").take("13");
    pad.take("stand-by").cough().take("where").take("carry-on");
    pad.take("plugged");
    pad.take("correction").take("blanked").take("good");
    pad.take("present").take("8").take("carry-on").take("leave");
    pad.take("not-seen").take("deficiencies").take("yes");
    assert_eq!(pad.ended, Some(Ending::NotReady));
    insta::assert_snapshot!(pad.talk);
}

/// How it speaks is changed at any question and in a hold, counts for what follows, and is no answer.
#[test]
fn it_speaks_faster_slower_louder_and_quieter_as_it_is_told() {
    let mut pad = pad();
    let question = pad.last().to_owned();
    pad.take("faster");
    assert_eq!(
        (pad.manner.map(|m| m.rate), pad.last()),
        (Some(120), question.as_str())
    );
    assert!(pad.said.iter().any(|s| s == "Faster."));
    pad.take("louder");
    assert!(pad.said.iter().any(|s| s == "As loud as I can."));
    pad.take("quieter").take("stand-by").take("slower");
    assert!(pad.walk.is_held(), "a hold ends with carry on alone");
    assert_eq!(
        pad.manner,
        Some(Manner {
            rate: 100,
            volume: 71
        })
    );
    pad.take("carry-on").take("present");
    let answered = pad
        .entries
        .iter()
        .filter(|e| matches!(e, Entry::Answered { .. }));
    assert_eq!(answered.count(), 1);
    // What the next walk begins with is said to the voice before its first word.
    let settings = Settings {
        manner: Manner {
            rate: 140,
            volume: 50,
        },
        ..Settings::default()
    };
    let next = Pad::start(opening(generator()), settings);
    assert_eq!(
        next.manner,
        Some(Manner {
            rate: 140,
            volume: 50
        })
    );
}

#[test]
fn without_tones_the_words_alone_tell() {
    let settings = Settings {
        tones: false,
        ..Settings::default()
    };
    let mut without = Pad::start(opening(generator()), settings);
    let mut with = pad();
    for pad in [&mut without, &mut with] {
        pad.take("present")
            .cough()
            .take("stand-by")
            .take("carry-on");
    }
    assert_eq!(without.talk, with.talk);
    assert!(without.tones.is_empty() && with.tones.contains(&Tone::Held));
}

/// Near turning rotors the walk leaves time to listen round before the first check.
#[test]
fn near_rotors_the_first_check_waits_for_a_look_round() {
    let settings = Settings {
        reminder_ms: 10_000,
        ..Settings::default()
    };
    let mut pad = Pad::start(opening(generator()), settings);
    assert!(
        pad.last().contains("must not hide alarms"),
        "{}",
        pad.last()
    );
    let asked = |pad: &Pad| pad.entries.iter().any(|e| matches!(e, Entry::Asked { .. }));
    assert_eq!(pad.walk.poll_timeout(), Some(pad.now + 10_000));
    // Somebody speaks: nothing is asked, and it is no answer.
    pad.cough();
    assert!(!asked(&pad));
    // Whoever cannot hear the alarms stops.
    pad.take("stand-by");
    assert!(pad.walk.is_held() && !asked(&pad));
    pad.take("carry-on");
    assert!(
        pad.last().contains("must not hide alarms"),
        "it waits again"
    );
    pad.silence();
    assert!(asked(&pad));

    // Who has listened round need not wait.
    let settings = Settings {
        reminder_ms: 10_000,
        ..Settings::default()
    };
    let mut pad = Pad::start(opening(generator()), settings);
    pad.take("carry-on");
    assert!(asked(&pad));
}

#[test]
fn silence_is_asked_once_more_and_then_held() {
    let mut pad = pad();
    pad.silence().silence();
    assert!(pad.walk.is_held());
    assert_eq!(
        pad.walk.poll_timeout(),
        None,
        "a hold has no end of its own"
    );
    assert_eq!(pad.walk.ledger().outcome(&id("front-left/pin")), None);
    pad.take("carry-on");
    insta::assert_snapshot!(pad.talk);
}

#[test]
fn a_failed_capacity_is_spoken_first_and_the_walk_ends_not_ready() {
    let mut opening = opening(generator());
    opening.capacity[0].passes = false;
    let mut second = opening.capacity[0].clone();
    second.spoken = "cargo hook overloaded".to_owned();
    opening.capacity.push(second);
    let mut pad = Pad::start(opening, Settings::default());
    let first = "Generator skid: capacity fails. Aircraft 900 of 1,200 kilograms.";
    let last = "Cargo hook overloaded. This walk can only end not ready.";
    assert_eq!(pad.said[..2], [first, last]);
    all_good(&mut pad);
    pad.take("yes");
    assert_eq!(pad.ended, Some(Ending::NotReady));
}

#[test]
fn a_plan_without_capacity_questions_is_never_ready() {
    let mut opening = opening(generator());
    opening.capacity.clear();
    let mut pad = Pad::start(opening, Settings::default());
    all_good(&mut pad);
    pad.take("yes");
    assert_eq!(pad.ended, Some(Ending::NotReady));
}

#[test]
fn who_rigged_does_not_inspect() {
    let mut opening = opening(generator());
    opening.inspector = "ole  BRANDT ".to_owned();
    let refused = Walk::new(opening, Settings::default()).map(|_| ());
    let name = "ole  BRANDT".to_owned();
    assert_eq!(refused, Err(OpenError::SamePerson { name }));
}

#[test]
fn a_doubtful_answer_is_confirmed_by_yes_or_by_the_same_answer() {
    for second in ["yes", "present"] {
        let mut pad = pad();
        pad.doubt("present");
        assert_eq!(pad.last(), "Did you say present?");
        assert_eq!(pad.walk.ledger().outcome(&id("front-left/pin")), None);
        pad.take(second);
        let conforming = Some(Outcome::Conforming);
        assert_eq!(pad.walk.ledger().outcome(&id("front-left/pin")), conforming);
    }
}

#[test]
fn a_doubtful_yes_confirms_nothing() {
    let mut pad = pad();
    pad.doubt("present").doubt("yes");
    assert_eq!(pad.last(), "Say yes or no: present.");
    pad.doubt("yes");
    assert_eq!(pad.walk.ledger().outcome(&id("front-left/pin")), None);
    assert!(pad.last().starts_with("Once more."), "{}", pad.last());
}

#[test]
fn the_same_doubt_twice_is_enough_for_a_deficiency_only() {
    let mut pad = pad();
    pad.doubt("present").doubt("present");
    assert_eq!(pad.walk.ledger().outcome(&id("front-left/pin")), None);
    let mut pad = self::pad();
    pad.doubt("missing").doubt("missing");
    let outcome = pad.walk.ledger().outcome(&id("front-left/pin"));
    assert!(matches!(outcome, Some(Outcome::Deficient { .. })));
}

#[test]
fn a_different_answer_to_a_doubt_prevails() {
    let mut pad = pad();
    pad.take("present").doubt("15").doubt("50");
    assert_eq!(pad.last(), "Did you say fifty links, five zero?");
    pad.take("13");
    let answers = pad.walk.ledger().history(&id("front-left/links"));
    assert_eq!(answers.len(), 1);
    assert_eq!(answers[0].value, "13");
}

#[test]
fn a_check_that_comes_to_apply_is_asked_and_one_that_ceases_to_apply_drops_out() {
    let mut pad = pad();
    all_good(&mut pad);
    let cap = id("front-left/cap");
    assert!(!pad.walk.ledger().applies(&cap));
    // Back over tyre, links and pin to the drain.
    for _ in 0..4 {
        pad.take("go-back");
    }
    pad.take("blanked");
    assert_eq!(pad.last(), "Wire on the blanking cap?");
    pad.take("deficient").take("carry-on").take("leave");
    let deficient = |pad: &Pad| {
        let outcome = pad.walk.ledger().outcome(&cap);
        matches!(outcome, Some(Outcome::Deficient { .. }))
    };
    assert!(deficient(&pad));
    // A fault does not drop out by another answer.
    pad.take("go-back").take("go-back").take("plugged");
    assert!(deficient(&pad));
    assert!(pad.said.iter().any(|s| s.starts_with("Still deficient: ")));
    pad.take("no")
        .take("go-back")
        .take("go-back")
        .take("correction");
    assert_eq!(pad.walk.ledger().outcome(&cap), None);
    assert_eq!(pad.walk.ledger().history(&cap).len(), 1);
    // A slip of the tongue does not either: it is asked, and may be called not applicable.
    assert_eq!(pad.last(), "Wire on the blanking cap?");
    pad.take("not-applicable").take("yes");
    assert_eq!(pad.walk.ledger().outcome(&cap), None);
    assert_eq!(
        pad.walk.ledger().not_asked()[0].because_of,
        id("front-left/drain")
    );
    pad.take("yes");
    assert_eq!(pad.ended, Some(Ending::Ready));
}

#[test]
fn answers_that_must_be_alike_or_mirrored_are_compared_again_when_either_changes() {
    let mut pad = Pad::start(opening(pair()), Settings::default());
    pad.take("50").take("left").take("49");
    let links = id("right/links");
    assert!(
        pad.said
            .iter()
            .any(|s| s.contains("not like left drum, links"))
    );
    // Repaired: both counts are asked again.
    pad.take("carry-on").take("fixed").take("50");
    assert_eq!(pad.walk.current(), Some(&id("left/links")));
    pad.take("50");
    assert_eq!(pad.walk.ledger().outcome(&links), Some(Outcome::Conforming));
    assert_eq!(pad.last(), "Hook opens where?");
    pad.take("right");
    assert_eq!(
        pad.walk.ledger().outcome(&id("right/hook")),
        Some(Outcome::Conforming)
    );
    // The other side is answered anew and no longer agrees; it is spoken at once.
    pad.take("go-back").take("go-back").take("51");
    assert!(
        pad.said
            .iter()
            .any(|s| s == "Deficient: right drum, links, not like left drum, links.")
    );
    assert_eq!(pad.last(), "Right drum, links: note, or carry on?");
    insta::assert_snapshot!(pad.talk);
}

#[test]
fn not_applicable_is_confirmed_and_listed_but_does_not_stand_against_the_load() {
    let mut pad = pad();
    pad.take("not-applicable");
    assert_eq!(pad.last(), "Shackle pin not applicable. Is that right?");
    assert_eq!(pad.walk.ledger().outcome(&id("front-left/pin")), None);
    pad.take("yes")
        .take("13")
        .take("plugged")
        .take("present")
        .take("7")
        .take("2.2")
        .take("yes");
    assert_eq!(pad.ended, Some(Ending::Ready));
    assert!(
        pad.said
            .iter()
            .any(|s| s.ends_with("shackle pin, called not applicable."))
    );
}

#[test]
fn a_check_that_was_not_seen_keeps_the_load_from_being_ready() {
    let mut pad = pad();
    pad.take("present")
        .take("13")
        .take("plugged")
        .take("not-seen");
    pad.take("7").take("2.2").take("yes");
    assert_eq!(pad.ended, Some(Ending::NotReady));
}

#[test]
fn deficiencies_left_open_can_be_put_right_before_the_close() {
    let mut pad = pad();
    pad.take("present")
        .take("12")
        .take("carry-on")
        .take("leave");
    pad.take("plugged").take("present").take("7").take("2.2");
    assert_eq!(
        pad.last(),
        "All checks done. One deficiency open. Shall I close the walk?"
    );
    pad.take("fixed");
    assert_eq!(pad.last(), "Hook links, how many?");
    pad.take("13").take("yes");
    assert_eq!(pad.ended, Some(Ending::Ready));
}

#[test]
fn what_was_put_right_and_not_looked_at_again_is_told_with_the_deficiencies() {
    let mut pad = pad();
    pad.take("missing").take("carry-on").take("fixed");
    let question = pad.last().to_owned();
    pad.take("deficiencies");
    let told = &pad.said[pad.said.len() - 3..];
    assert_eq!(told[0], "No deficiencies.");
    assert!(
        told[1].starts_with("Put right, to be looked at again: "),
        "{told:?}"
    );
    assert_eq!(told[2], question);
    pad.take("present").take("deficiencies");
    assert!(pad.said[pad.said.len() - 2].starts_with("No deficiencies"));
}

#[test]
fn carry_on_goes_on_where_it_was_asked_whether_to_end() {
    let mut pad = pad();
    let question = pad.last().to_owned();
    pad.take("end-walk");
    assert!(pad.last().starts_with("End the walk"), "{}", pad.last());
    pad.take("carry-on");
    assert_eq!((pad.ended, pad.last()), (None, question.as_str()));
}

#[test]
fn a_brief_walk_asks_for_no_note_and_no_repair() {
    let settings = Settings {
        brief: true,
        ..Settings::default()
    };
    let mut pad = Pad::start(opening(generator()), settings);
    pad.take("missing");
    assert_eq!(pad.last(), "Hook links, how many?");
    assert_eq!(pad.walk.ledger().deficiencies().len(), 1);
}

#[test]
fn no_note_is_no_note() {
    for words in ["No note.", "no notes"] {
        let mut pad = pad();
        pad.take("missing");
        assert_eq!(pad.last(), "Note, or carry on?");
        pad.note(words);
        assert_eq!(pad.last(), "Fixed, or leave it open?");
        assert!(
            pad.entries
                .iter()
                .all(|e| !matches!(e, Entry::Noted { .. }))
        );
        // What was said is kept with its sound.
        let kept = pad.entries.iter().any(|e| {
            matches!(e, Entry::Control { control, hearing, .. }
                if control == "carry-on" && hearing.words == words && hearing.clip == "note.wav")
        });
        assert!(kept, "{}", pad.talk);
    }
    let mut pad = pad();
    pad.take("missing").note("no note on the tag of the ring");
    assert!(pad.entries.iter().any(|e| matches!(e, Entry::Noted { .. })));
}

#[test]
fn a_walk_ended_before_it_was_closed_says_why_it_is_not_ready() {
    let mut pad = pad();
    all_good(&mut pad);
    pad.take("go-back").take("end-walk").take("yes");
    let said = pad.said.join(" ");
    assert!(!said.contains(". ."), "{said}");
}

//! Each limit by itself: all else is clear, so that only the limit named can stop the answer.

use super::*;

fn second(evidence: Evidence, gap_of_both: f32, words: &str) -> Second {
    Second {
        agrees: true,
        gap_of_both,
        evidence,
        words: words.into(),
    }
}

/// Whether it is taken of two models that hear the same.
fn taken(rule: &str, value: &str, words: &str, first: Evidence, other: Evidence) -> bool {
    let judged = judge_both(
        &first,
        Some(&meaning(rule, value)),
        words,
        &second(other, 6.0, ""),
    );
    judged.verdict == Verdict::Take
}

fn gaps(one: f32, two: f32) -> (Evidence, Evidence) {
    let with = |gap| Evidence { gap, ..clear() };
    (with(one), with(two))
}

fn at_db(snr_db: f32) -> Evidence {
    Evidence { snr_db, ..clear() }
}

#[test]
fn two_models_do_not_make_an_answer_of_what_is_no_speech_or_of_another_length() {
    let still = Evidence {
        activity: 0.4,
        ..clear()
    };
    let long = Evidence {
        pace: -6.0,
        ..clear()
    };
    for (rule, value) in [
        ("presence", "present"),
        ("count", "3"),
        ("control", "stand-by"),
    ] {
        assert!(taken(rule, value, value, clear(), clear()), "{value}");
        let both = second(clear(), 6.0, "");
        let judged = judge_both(&still, Some(&meaning(rule, value)), value, &both);
        assert!(matches!(judged.verdict, Verdict::Refuse(_)), "{value}");
        assert!(!taken(rule, value, value, long, clear()), "{value}");
    }
    let asked = judge(&long, Some(&meaning("presence", "present")));
    assert!(!worth_a_second(&asked, &long));
}

#[test]
fn a_nought_before_a_count_is_asked_about_by_both() {
    assert!(taken("count", "5", "5 links", clear(), clear()));
    assert!(!taken("count", "5", "0 5", clear(), clear()));
}

#[test]
fn one_model_alone_needs_a_wide_gap_of_what_a_lost_not_turns_round() {
    let near = Evidence {
        gap: 3.0,
        ..clear()
    };
    assert_eq!(verdict("presence", "present", &near), Verdict::Confirm);
    assert_eq!(verdict("presence", "missing", &near), Verdict::Take);
}

#[test]
fn what_conforms_in_quiet_must_be_far_from_anything_else_or_stand_out() {
    let less = |gap| Evidence {
        gap,
        fit: -0.5,
        lift: 6.2,
        ..clear()
    };
    assert!(taken("condition", "good", "good", less(6.0), less(6.0)));
    assert!(!taken("condition", "good", "good", less(5.0), less(6.0)));
}

#[test]
fn more_may_have_been_said_where_the_first_doubts_it_and_the_second_is_not_surer() {
    let end = |all_said| Evidence {
        all_said,
        ..clear()
    };
    assert!(taken(
        "presence",
        "present",
        "present",
        end(-4.0),
        end(-1.0)
    ));
    assert!(!taken(
        "presence",
        "present",
        "present",
        end(-4.0),
        end(-3.0)
    ));
}

#[test]
fn words_and_tags_need_their_gaps() {
    let (one, two) = gaps(6.0, 3.5);
    assert!(taken("tag", "A7", "A7", clear(), clear()));
    assert!(!taken("tag", "A7", "A7", one, two));
    let (one, two) = gaps(1.3, 1.3);
    assert!(!taken("yes-no", "yes", "yes", one, two));
    let near = second(clear(), 0.5, "");
    let judged = judge_both(
        &clear(),
        Some(&meaning("presence", "missing")),
        "missing",
        &near,
    );
    assert_eq!(judged.verdict, Verdict::Confirm);
}

#[test]
fn on_and_off_by_either_model_need_quiet() {
    let judged = |words: &str, other: &str, snr_db| {
        let both = second(at_db(snr_db), 6.0, other);
        judge_both(&at_db(snr_db), Some(&meaning("state", "on")), words, &both).verdict
    };
    assert_eq!(judged("cap fitted", "cap fitted", 11.0), Verdict::Take);
    assert_eq!(judged("cap on", "cap fitted", 11.0), Verdict::Confirm);
    assert_eq!(judged("cap fitted", "Cap on.", 11.0), Verdict::Confirm);
    assert_eq!(judged("cap on", "Cap on.", 13.0), Verdict::Take);
}

#[test]
fn numbers_need_their_gaps() {
    let near = |n: &str, one, two| {
        let words = n.chars().map(String::from).collect::<Vec<_>>().join(" ");
        let (one, two) = gaps(one, two);
        taken("count", n, &words, one, two)
    };
    for (n, one, two) in [
        ("14", 2.9, 6.0),
        ("66", 2.4, 2.9),
        ("66", 6.0, 2.4),
        ("42", 1.9, 2.0),
        ("11", 1.9, 6.0),
        ("12", 6.0, 1.9),
    ] {
        assert!(near(n, 6.0, 6.0), "{n}");
        assert!(!near(n, one, two), "{n} {one} {two}");
    }
    let loud = |n: &str, one, two, snr_db| {
        let (one, two) = gaps(one, two);
        let (one, two) = (Evidence { snr_db, ..one }, Evidence { snr_db, ..two });
        taken("count", n, n, one, two)
    };
    assert!(loud("5", 6.0, 6.0, 7.0));
    assert!(!loud("5", 2.9, 3.0, 7.0) && !loud("5", 1.9, 6.0, 7.0));
    assert!(loud("22", 6.0, 6.0, 9.0) && !loud("22", 6.0, 6.0, 7.0));
}

/// Whatever the evidence, nothing is taken under the probability that its kind asks for.
#[test]
fn nothing_is_taken_under_its_probability() {
    let mut under = std::collections::BTreeSet::new();
    for (rule, value, alone, together) in [
        ("presence", "present", 0.95, 0.9),
        ("count", "3", 0.94, 0.9),
        ("count", "42", 0.94, 0.92),
        ("tag", "A7", 0.985, 0.95),
        ("state", "closed", 0.97, 0.9),
        ("control", "not-applicable", 0.95, 0.9),
        ("yes-no", "yes", 0.95, 0.9),
    ] {
        for n in 0..4_096_u32 {
            let of = |at: u32, values: [f32; 4]| values[(n >> (2 * at) & 3) as usize];
            let evidence = Evidence {
                fit: of(0, [-6.0, -2.4, -1.0, 0.0]),
                lift: of(1, [6.0, 8.0, 11.0, 14.0]),
                gap: of(2, [1.1, 3.0, 4.5, 6.0]),
                no_speech: of(3, [0.0, 0.3, 0.6, 1.0]),
                snr_db: of(4, [2.0, 6.0, 9.0, 30.0]),
                pace: of(5, [-4.9, -3.0, -1.0, 0.0]),
                ..clear()
            };
            let meaning = meaning(rule, value);
            let one = judge(&evidence, Some(&meaning));
            if one.verdict == Verdict::Take {
                assert!(one.confidence >= alone, "{rule} {evidence:?}");
            }
            let both = judge_both(&evidence, Some(&meaning), value, &second(evidence, 3.0, ""));
            let in_loud_noise = rule == "tag" && evidence.snr_db < 8.0;
            let together = if in_loud_noise { 0.975 } else { together };
            // A state may be taken on the word of the first, with the second for a veto.
            let by_the_first = rule == "state" && one.confidence >= alone;
            if both.verdict == Verdict::Take && !by_the_first {
                assert!(both.confidence >= together, "{rule} {evidence:?}");
            }
            if both.confidence < 0.25 {
                assert!(
                    matches!(both.verdict, Verdict::Refuse(_)),
                    "{rule} {evidence:?}"
                );
                under.insert(rule);
            }
        }
    }
    assert!(!under.is_empty(), "some of it is hardly heard");
}

#[test]
fn yes_in_loud_noise_must_stand_out_of_a_hiss_as_it_does_and_no_does_not() {
    let heard = |snr_db, lift| Evidence {
        snr_db,
        lift,
        ..clear()
    };
    let yes = |snr_db, lift| {
        let evidence = heard(snr_db, lift);
        taken("yes-no", "yes", "Yes.", evidence, evidence)
    };
    assert!(yes(3.0, 6.4));
    assert!(!yes(3.0, 6.1), "so was a no");
    assert!(yes(12.0, 6.1));
}

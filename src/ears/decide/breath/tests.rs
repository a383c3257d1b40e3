use super::{
    BreathEvidence, DENIAL, ItemEvidence, Measures, denial_needed, gap_wanted, judge_items,
};
use crate::ears::decide::Verdict;
use crate::grammar::Meaning;

const CLEAR: Measures = Measures {
    gap: 4.0,
    fit: -2.0,
    worst: -1.0,
    lift: Some(25.0),
    denial: 20.0,
    closed: -0.5,
};

fn clear() -> ItemEvidence {
    ItemEvidence {
        first: CLEAR,
        second: Some(CLEAR),
        denial_needed: DENIAL,
    }
}

fn meaning(rule: &str, value: &str) -> Meaning {
    Meaning {
        rule: rule.into(),
        value: value.into(),
    }
}

/// Which of these items are taken; of each the rule that it has when asked.
fn taken(items: &[(ItemEvidence, &str, &str, &str)], only_second: &[Meaning]) -> Vec<bool> {
    let evidence = BreathEvidence {
        items: items.iter().map(|i| i.0.clone()).collect(),
        only_second: only_second.to_vec(),
        pace: 0.0,
        activity: 1.0,
    };
    let meanings: Vec<_> = items.iter().map(|i| meaning(i.1, i.2)).collect();
    let with_asked: Vec<_> = meanings
        .iter()
        .zip(items)
        .map(|(m, i)| (m, meaning(i.3, i.2)))
        .collect();
    judge_items(&evidence, &with_asked)
        .iter()
        .map(|j| j.verdict == Verdict::Take)
        .collect()
}

#[test]
fn what_both_models_are_sure_of_is_taken() {
    let seven = (clear(), "hook-links", "7", "count");
    let pin = (clear(), "shackle-pin", "present", "presence");
    assert_eq!(taken(&[seven, pin], &[]), [true, true]);
}

#[test]
fn what_one_model_hears_or_doubts_is_not_taken() {
    let with = |first, second| ItemEvidence {
        first,
        second,
        denial_needed: DENIAL,
    };
    let less = |change: fn(&mut Measures)| {
        let mut m = CLEAR;
        change(&mut m);
        m
    };
    let hardly_heard = with(less(|m| m.lift = Some(11.0)), Some(CLEAR));
    assert_eq!(
        taken(&[(hardly_heard, "chain", "straight", "state")], &[]),
        [false]
    );
    let doubts: [fn(&mut Measures); 2] = [|m| m.gap = 0.4, |m| m.worst = -9.0];
    for change in doubts {
        for item in [
            with(less(change), Some(CLEAR)),
            with(CLEAR, Some(less(change))),
        ] {
            assert_eq!(taken(&[(item, "chain", "straight", "state")], &[]), [false]);
        }
    }
    let alone = with(CLEAR, None);
    assert_eq!(
        taken(&[(alone, "chain", "straight", "state")], &[]),
        [false]
    );
    // One may make up for what the other lacks, not both for each other.
    let near = |gap| Some(Measures { gap, ..CLEAR });
    let unsure = with(Measures { gap: 1.2, ..CLEAR }, near(1.2));
    let helped = with(Measures { gap: 3.0, ..CLEAR }, near(0.6));
    let chain = |item| taken(&[(item, "chain", "straight", "state")], &[])[0];
    assert!(!chain(unsure) && chain(helped.clone()));
    // Of a number each must be sure.
    assert_eq!(taken(&[(helped, "links", "4", "count")], &[]), [false]);
}

#[test]
fn the_second_model_looks_as_far_as_its_gap_can_matter() {
    let (word, number) = (false, true);
    assert_eq!(gap_wanted([(3.0, word)]), 1.0);
    assert_eq!(gap_wanted([(3.0, word), (1.25, word)]), 2.25);
    assert_eq!(gap_wanted([(0.5, word)]), 3.0);
    assert_eq!(gap_wanted([(3.0, word), (3.0, number)]), 2.5);
    // Not taken in any case.
    assert_eq!(gap_wanted([(0.4, word), (1.9, number)]), 1.0);
    assert_eq!(gap_wanted([]), 1.0);
}

#[test]
fn a_number_without_a_name_is_taken_as_the_whole_of_a_breath_only() {
    let number = |value| (clear(), "count", value, "count");
    let pin = || (clear(), "shackle-pin", "present", "presence");
    assert_eq!(taken(&[number("7")], &[]), [true]);
    assert_eq!(taken(&[number("7"), pin()], &[]), [false, true]);
    let theirs = meaning("bridle-ring", "free");
    assert_eq!(taken(&[number("7")], &[theirs]), [false]);
    // "Sits free", by a test voice, as "6 3".
    assert_eq!(taken(&[number("63")], &[]), [false]);
}

#[test]
fn numbers_that_are_easily_another_and_tags_are_not_taken_from_a_breath() {
    for (value, rule) in [
        ("13", "count"),
        ("30", "count"),
        ("55", "count"),
        ("M47", "tag"),
    ] {
        assert_eq!(
            taken(&[(clear(), "links", value, rule)], &[]),
            [false],
            "{value}"
        );
    }
}

#[test]
fn a_good_word_near_to_its_denial_is_asked_about() {
    let near = |denial, words: &str| ItemEvidence {
        second: Some(Measures { denial, ..CLEAR }),
        denial_needed: denial_needed(words),
        ..clear()
    };
    let said = |denial, words, value| {
        taken(&[(near(denial, words), "leg-pins", value, "presence")], &[])[0]
    };
    assert!(!said(6.6, "Battery terminals on.", "present"));
    assert!(said(9.0, "Battery terminals on.", "present"));
    // "Loose battens aren't all out" by a dev voice was "are all out", a denial 6.9 nats behind at the nearest.
    assert!(!said(8.0, "leg pins are there", "present"));
    assert!(said(10.0, "leg pins are there", "present"));
    // "Leg order isn't in order" by a dev voice.
    for words in [
        "Leg order is in order.",
        "Net is on the hook",
        "Bags is all in",
    ] {
        assert!(!said(5.8, words, "present"), "{words}");
        assert!(said(7.0, words, "present"), "{words}");
    }
    assert!(said(5.8, "Net is hooked", "present"));
    // Of anything else one model may make up for the other, which has half of it at least.
    assert!(said(2.1, "leg pins, present.", "present"));
    assert!(!said(1.9, "leg pins, present.", "present"));
    let less = |first: f32, second: f32| {
        let item = ItemEvidence {
            first: Measures {
                denial: first,
                ..CLEAR
            },
            ..near(second, "leg pins, present.")
        };
        taken(&[(item, "leg-pins", "present", "presence")], &[])[0]
    };
    assert!(less(3.0, 5.0) && less(5.0, 3.0));
    assert!(!less(3.0, 4.9) && !less(4.9, 3.0));
    assert!(said(6.0, "leg pins, present.", "present"));
    let is_folded = |first: f32, second: f32| {
        let item = ItemEvidence {
            first: Measures {
                denial: first,
                ..CLEAR
            },
            ..near(second, "Liner is folded under.")
        };
        taken(&[(item, "liner", "tucked-in", "state")], &[])[0]
    };
    // "Liner isn't folded under" and "bags at the corner isn't well inside" by dev voices.
    assert!(!is_folded(6.0, 2.3) && !is_folded(3.4, 5.4));
    assert!(is_folded(6.0, 6.0));
    assert!(said(0.0, "leg pins aren't in", "missing"));
    let straps = near(0.0, "straps are four");
    assert_eq!(taken(&[(straps, "straps", "4", "count")], &[]), [true]);
}

#[test]
fn there_is_less_confidence_in_what_is_asked_about_by_itself() {
    let heard = |item: ItemEvidence, value: &str, rule: &str, only_second: &[Meaning]| {
        let evidence = BreathEvidence {
            items: vec![item],
            only_second: only_second.to_vec(),
            pace: 0.0,
            activity: 1.0,
        };
        let said = meaning("leg-pins", value);
        judge_items(&evidence, &[(&said, meaning(rule, value))])[0].confidence
    };
    let of = |item: ItemEvidence, value: &str, rule: &str| heard(item, value, rule, &[]);
    let near = |denial| ItemEvidence {
        second: Some(Measures { denial, ..CLEAR }),
        ..clear()
    };
    let alone = |change: fn(&mut Measures)| {
        let mut first = CLEAR;
        change(&mut first);
        ItemEvidence {
            first,
            second: None,
            ..clear()
        }
    };
    let unsure = ItemEvidence {
        second: Some(Measures { gap: 0.0, ..CLEAR }),
        ..clear()
    };
    // From 0.8 of the nats on.
    assert!(of(near(1.7), "present", "presence") > 0.5);
    assert!(of(unsure, "present", "presence") > 0.5);
    assert!(of(near(1.5), "present", "presence") < 0.5);
    // One model alone must be sure by itself, and the other have nothing else of the same.
    assert!(of(alone(|_| {}), "present", "presence") > 0.5);
    let doubts: [fn(&mut Measures); 4] = [
        |m| m.gap = 1.9,
        |m| m.lift = Some(11.0),
        |m| m.worst = -9.0,
        |m| m.denial = 3.9,
    ];
    for change in doubts {
        assert!(of(alone(change), "present", "presence") < 0.5);
    }
    for (other, confident) in [
        (meaning("leg-pins", "missing"), false),
        (meaning("filler", "no"), false),
        (meaning("screen-pins", "missing"), false),
        (meaning("screen-pins", "present"), true),
    ] {
        let heard = heard(alone(|_| {}), "present", "presence", &[other]);
        assert_eq!(heard > 0.5, confident);
    }
    assert!(of(near(0.0), "missing", "presence") > 0.5);
    assert!(of(near(0.0), "4", "count") > 0.5);
}

#[test]
fn what_one_model_hears_taken_back_leaves_nothing_sure() {
    let pin = || (clear(), "shackle-pin", "present", "presence");
    let no = meaning("filler", "correction");
    assert_eq!(taken(&[pin()], std::slice::from_ref(&no)), [false]);
    let alone = ItemEvidence {
        first: CLEAR,
        second: None,
        denial_needed: DENIAL,
    };
    assert_eq!(
        taken(&[pin(), (alone, "filler", "correction", "control")], &[]),
        [false, false]
    );
    // Both hear it: the walk sorts it out.
    assert_eq!(
        taken(&[pin(), (clear(), "filler", "correction", "control")], &[]),
        [true, true]
    );
}

#[test]
fn what_the_second_model_hears_otherwise_is_not_taken() {
    let pin = (clear(), "pins-left+pins-right", "present", "presence");
    let out = meaning("pins-right", "missing");
    assert_eq!(taken(&[pin], &[out]), [false]);
}

#[test]
fn a_breath_longer_than_its_words_gives_nothing_for_sure() {
    let item = clear();
    let evidence = BreathEvidence {
        items: vec![item],
        only_second: Vec::new(),
        pace: -9.0,
        activity: 1.0,
    };
    let pin = meaning("shackle-pin", "present");
    let judged = judge_items(&evidence, &[(&pin, meaning("presence", "present"))]);
    assert_eq!(judged[0].verdict, Verdict::Confirm);
    assert!(judged[0].confidence < 0.5, "asked about by itself");
}

/// "Padding in place on one side only" was "padding in place" by both models, far from anything else. Both know that it
/// goes on.
#[test]
fn an_item_of_which_more_was_said_is_asked_about() {
    let by = |first, second| {
        let item = ItemEvidence {
            first: Measures {
                closed: first,
                ..CLEAR
            },
            second: Some(Measures {
                closed: second,
                ..CLEAR
            }),
            denial_needed: DENIAL,
        };
        taken(&[(item, "padding", "present", "presence")], &[])[0]
    };
    assert!(by(-0.5, -0.5) && by(-3.0, -3.0));
    // The second knows an end better.
    assert!(by(-9.0, -1.0));
    assert!(!by(-9.0, -3.0) && !by(-1.0, -4.0) && !by(-5.6, -5.7));
}

#[test]
fn a_number_of_two_figures_is_asked_about_in_a_breath() {
    for (value, rule) in [("28", "reading"), ("12", "count"), ("89", "count")] {
        assert_eq!(
            taken(&[(clear(), "gauge", value, rule)], &[]),
            [false],
            "{value}"
        );
    }
    assert_eq!(taken(&[(clear(), "gauge", "2.5", "reading")], &[]), [true]);
}

#[test]
fn a_breath_in_which_nobody_speaks_is_refused() {
    let evidence = BreathEvidence {
        items: vec![clear()],
        only_second: Vec::new(),
        pace: 0.0,
        activity: 0.4,
    };
    let key = meaning("pin", "present");
    let judged = judge_items(&evidence, &[(&key, meaning("presence", "present"))]);
    assert!(matches!(judged[0].verdict, Verdict::Refuse(_)));
}

#[test]
fn a_number_that_hardly_stands_out_of_a_hiss_is_not_taken() {
    // A number alone, and one with the name of what is counted.
    for (rule, least) in [("count", 5.0), ("hook-links", 7.0)] {
        for (lift, is_enough) in [(least - 0.1, false), (least + 0.1, true)] {
            let heard = ItemEvidence {
                first: Measures {
                    lift: Some(lift),
                    ..CLEAR
                },
                ..clear()
            };
            let told = taken(&[(heard, rule, "7", "count")], &[]);
            assert_eq!(told, [is_enough], "{rule} {lift}");
        }
    }
}

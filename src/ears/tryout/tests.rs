use super::*;

fn dozen() -> Vec<Word> {
    words(&GrammarSet::builtin(), None).unwrap()
}

fn level(snr_db: f32, clipped: f32) -> Level {
    Level {
        speech_dbfs: -20.0,
        noise_dbfs: Some(-20.0 - snr_db),
        snr_db: Some(snr_db),
        around_db: None,
        clipped,
    }
}

/// A dozen words with these fates; the rest are taken.
fn tried(fates: &[(usize, Fate)], snr_db: f32, clipped: f32) -> Vec<Tried> {
    let words = dozen().into_iter().enumerate();
    words
        .map(|(n, word)| {
            let given = fates.iter().find(|(at, _)| *at == n);
            let fate = given.map_or(Fate::Taken, |(_, fate)| *fate);
            Tried {
                word,
                fate,
                level: (fate != Fate::Unheard).then(|| level(snr_db, clipped)),
                loudest_dbfs: -18.0,
            }
        })
        .collect()
}

fn judged(tried: &[Tried]) -> Tryout {
    judge(tried, String::new(), String::new(), "files".to_owned())
}

#[test]
fn a_dozen_words_cover_what_a_walk_hears() {
    let words = dozen();
    assert_eq!(words.len(), 12);
    for kind in [
        Kind::Conforming,
        Kind::Deficient,
        Kind::Count,
        Kind::Letters,
        Kind::Stop,
    ] {
        assert!(words.iter().any(|w| w.kind == kind), "{kind:?}");
    }
    // Meanings come from the grammars; these are what the walk obeys.
    let means = |say: &str| {
        let word = words.iter().find(|w| w.say == say).unwrap();
        (word.means.rule.clone(), word.means.value.clone())
    };
    let pair = |rule: &str, value: &str| (rule.to_owned(), value.to_owned());
    assert_eq!(means("stop"), pair(rules::CONTROL, rules::STAND_BY));
    assert_eq!(means("fifteen"), pair(rules::COUNT, "15"));
    assert_eq!(means("missing"), pair(rules::PRESENCE, rules::MISSING));
    assert_eq!(means("mike four seven"), pair(rules::TAG, "M47"));
}

#[test]
fn words_of_the_plan_are_tried_and_its_counts_are_not_told() {
    for plan in ["generator-skid.toml", "gravel-net.toml", "roof-beams.toml"] {
        let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR"))
            .join("plans")
            .join(plan);
        let text = std::fs::read_to_string(&path).unwrap();
        let plan = crate::plan::read(&path, &text).unwrap();
        let words = words(&GrammarSet::builtin(), Some(plan.route())).unwrap();
        assert_eq!(words.len(), 12);
        let planned = planned_values(plan.route());
        assert!(words.iter().all(|w| {
            w.kind != Kind::Count && w.kind != Kind::Letters || !planned.contains(&w.means.value)
        }));
        assert!(words.iter().any(|w| w.means.rule == rules::STATE));
    }
}

#[test]
fn what_was_understood_is_relied_on() {
    let result = judged(&tried(
        &[(2, Fate::Confirmed), (7, Fate::Refused)],
        24.0,
        0.0,
    ));
    assert_eq!(result.advice, Advice::RelyOnVoice, "{result:?}");
    assert_eq!((result.taken, result.confirmed, result.refused), (10, 1, 1));
    assert_eq!(result.snr_db, Some(24.0));
    assert!((result.speech_dbfs.unwrap() + 20.0).abs() < 0.01);
    assert!((result.noise_dbfs.unwrap() + 44.0).abs() < 0.01);
    let line = result.line();
    assert!(line.contains("10 of 12 words taken at once"), "{line}");
}

#[test]
fn each_fault_has_its_advice_and_its_reason() {
    let refused: Vec<_> = (0..4).map(|n| (n, Fate::Refused)).collect();
    let lost: Vec<_> = (0..7).map(|n| (n, Fate::Unheard)).collect();
    let stop = dozen().iter().position(|w| w.kind == Kind::Stop).unwrap();
    for (tried, advice, reason) in [
        (
            tried(&refused, 20.0, 0.0),
            Advice::ConfirmMore,
            "only 8 of 12",
        ),
        (tried(&lost, 20.0, 0.0), Advice::NoVoice, "only 5 of 12"),
        (tried(&[], 6.0, 0.0), Advice::ConfirmMore, "only 6 dB"),
        (tried(&[], 0.0, 0.0), Advice::NoVoice, "only 0 dB"),
        (tried(&[], 20.0, 0.01), Advice::ConfirmMore, "clipped"),
        (
            tried(&[(1, Fate::Misheard)], 20.0, 0.0),
            Advice::ConfirmMore,
            "\"missing\" was misheard",
        ),
        (
            tried(&[(1, Fate::WronglyTaken)], 20.0, 0.0),
            Advice::NoVoice,
            "\"missing\" would have been taken as something else",
        ),
        (
            tried(&[(stop, Fate::Refused)], 20.0, 0.0),
            Advice::ConfirmMore,
            "\"stop\" was not understood",
        ),
    ] {
        let result = judged(&tried);
        assert_eq!(result.advice, advice, "{reason}: {result:?}");
        assert!(result.reasons[0].contains(reason), "{result:?}");
        let sum = result.taken + result.confirmed + result.refused;
        assert_eq!(sum + result.misheard + result.unheard, result.words);
    }
}

#[test]
fn a_muted_microphone_is_named() {
    let mut silent = tried(&[], 20.0, 0.0);
    for t in &mut silent {
        t.fate = Fate::Unheard;
        t.level = None;
        t.loudest_dbfs = loudest_dbfs(&[0.0; 3_200]);
    }
    let result = judged(&silent);
    assert_eq!(result.advice, Advice::NoVoice);
    assert!(result.reasons.iter().any(|r| r.contains("unmute")));
    assert_eq!(result.snr_db, None);
}

#[test]
fn the_worst_counts_and_comes_first() {
    let result = judged(&tried(
        &[(3, Fate::Misheard), (1, Fate::WronglyTaken)],
        6.0,
        0.0,
    ));
    assert_eq!(result.advice, Advice::NoVoice);
    assert!(result.reasons[0].contains("missing"), "{result:?}");
    assert_eq!(result.reasons.len(), 3);
}

#[test]
fn loudness_is_that_of_the_loudest_tenth_of_a_second() {
    // Root mean square 0.1: 20 log10 0.1 = -20 dB by definition.
    let mut sound = vec![0.0; 16_000];
    for (at, sample) in sound[3_200..4_800].iter_mut().enumerate() {
        *sample = if at.is_multiple_of(2) { 0.1 } else { -0.1 };
    }
    assert!((loudest_dbfs(&sound) + 20.0).abs() < 0.01);
    assert_eq!(loudest_dbfs(&[]), -96.0);
}

#[test]
fn a_wrong_take_is_told_from_a_question_back() {
    let word = &dozen()[0];
    let other = Meaning {
        rule: rules::PRESENCE.to_owned(),
        value: rules::MISSING.to_owned(),
    };
    let right = word.means.clone();
    for (decision, due) in [
        (
            Decision::Take {
                meaning: right.clone(),
            },
            Fate::Taken,
        ),
        (Decision::Confirm { meaning: right }, Fate::Confirmed),
        (
            Decision::Take {
                meaning: other.clone(),
            },
            Fate::WronglyTaken,
        ),
        (Decision::Confirm { meaning: other }, Fate::Misheard),
        (
            Decision::Refuse {
                reason: String::new(),
            },
            Fate::Refused,
        ),
    ] {
        assert_eq!(fate(word, &decision), due);
    }
}

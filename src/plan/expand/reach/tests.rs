use super::{Met, met};
use crate::plan::{CheckKind, NamedState, Test};

const PRESENCE: CheckKind = CheckKind::Presence { must_be: true };
const TAG: CheckKind = CheckKind::Tag { expected: None };

fn count() -> CheckKind {
    CheckKind::Count {
        expected: Some(4),
        noun: "straps".into(),
    }
}

fn reading() -> CheckKind {
    CheckKind::Reading {
        unit: "bar".into(),
        min: None,
        max: None,
    }
}

fn is(words: &[&str]) -> Test {
    Test::Is(words.iter().map(|w| (*w).to_owned()).collect())
}

fn is_not(words: &[&str]) -> Test {
    Test::IsNot(words.iter().map(|w| (*w).to_owned()).collect())
}

fn by(kind: &CheckKind, tests: &[Test]) -> Met {
    met(kind, &tests.iter().collect::<Vec<_>>())
}

#[test]
fn what_some_answer_meets_is_asked() {
    let between = |least, most| [Test::AtLeast(least), Test::AtMost(most)];
    assert_eq!(by(&count(), &between(120.0, 120.0)), Met::Answer);
    assert_eq!(
        by(&count(), &[is(&["4", "6"]), Test::AtLeast(5.0)]),
        Met::Answer
    );
    // Hundredths that no product of a float meets are readings all the same.
    for hundredths in 0..=999 {
        let x = f64::from(hundredths) / 100.0;
        assert_eq!(by(&reading(), &between(x, x)), Met::Answer, "{x}");
    }
    assert_eq!(by(&reading(), &between(999.99, 999.99)), Met::Answer);
    assert_eq!(by(&TAG, &[is_not(&["A7"])]), Met::Answer);
    assert_eq!(by(&TAG, &[is(&["A7", "B7"]), is_not(&["A7"])]), Met::Answer);
    assert_eq!(by(&PRESENCE, &[is_not(&["present"])]), Met::Answer);
    assert_eq!(by(&PRESENCE, &[is(&["deficient"])]), Met::Answer);
}

#[test]
fn what_no_answer_meets_is_never_asked() {
    let between = |least, most| [Test::AtLeast(least), Test::AtMost(most)];
    assert_eq!(by(&count(), &between(5.0, 3.0)), Met::Nothing);
    assert_eq!(by(&count(), &between(4.2, 4.8)), Met::Nothing);
    assert_eq!(by(&count(), &[is(&["4"]), is_not(&["4"])]), Met::Nothing);
    assert_eq!(by(&reading(), &between(2.001, 2.004)), Met::Nothing);
    assert_eq!(by(&reading(), &[Test::AtLeast(999.995)]), Met::Nothing);
    assert_eq!(by(&TAG, &[is(&["A7"]), is(&["B7"])]), Met::Nothing);
    assert_eq!(
        by(&CheckKind::Condition, &[is(&["good"]), is_not(&["good"])]),
        Met::Nothing
    );
}

#[test]
fn what_only_a_missing_answer_meets_is_told_apart() {
    let states = ["open", "closed"].map(|key| NamedState {
        key: key.into(),
        spoken: vec![key.into()],
        deficiency: None,
    });
    let state = CheckKind::State {
        states: states.into(),
    };
    assert_eq!(
        by(&state, &[is_not(&["open"]), is_not(&["closed"])]),
        Met::Other
    );
    assert_eq!(
        by(&PRESENCE, &[is_not(&["present", "missing"])]),
        Met::Other
    );
    let all: Vec<String> = (0..=120).map(|n| n.to_string()).collect();
    assert_eq!(by(&count(), &[Test::IsNot(all)]), Met::Other);
}

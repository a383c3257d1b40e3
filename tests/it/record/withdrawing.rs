//! A reviewer's slip is taken back by a new entry; both stay in sight.

use super::amending::{heard_wrong, note, re_inspect};
use super::samples::Sample;
use loadwalk::record::{
    AmendError, Change, Place, ProblemKind, SealError, State, Status, SystemClock, amend, seal,
    text, view,
};
use loadwalk::review;
use std::fs;

fn withdraw(amendment: u64) -> Change {
    Change::Withdraw { amendment }
}

fn refused(sample: &Sample, change: Change) -> String {
    match sample.review(change) {
        Err(AmendError::NotWithdrawn(why)) => why,
        other => panic!("{other:?}"),
    }
}

#[test]
fn a_slip_is_withdrawn_and_both_entries_stay_in_sight() {
    let sample = Sample::complete();
    let walked = view(&sample.folder).unwrap();
    sample.review(heard_wrong(Some("missing"))).unwrap();
    assert_eq!(view(&sample.folder).unwrap().state, State::NotReady);
    let first = fs::read(sample.folder.join("amendments/0000.json")).unwrap();
    sample.review(withdraw(0)).unwrap();
    assert_eq!(
        fs::read(sample.folder.join("amendments/0000.json")).unwrap(),
        first
    );

    let view = view(&sample.folder).unwrap();
    assert_eq!(view.state, walked.state);
    assert_eq!(view.checks[0].status, walked.checks[0].status);
    assert!(view.against.is_empty() && view.deficiencies.is_empty());
    let [slip, taken_back] = &view.checks[0].amendments[..] else {
        panic!("{:?}", view.checks[0].amendments);
    };
    assert_eq!((slip.withdrawn_by, slip.does.as_str()), (Some(1), ""));
    assert_eq!(
        (taken_back.withdraws, taken_back.kind),
        (Some(0), "withdrawal")
    );
    sample.expect_intact();
    for export in [
        text(&view),
        review::html(&view, None, None),
        review::csv(&view),
    ] {
        for words in ["WITHDRAWN by review 1", "withdrawal of review 0"] {
            assert!(export.contains(words), "{words} in {export}");
        }
    }
    // What it had opened no longer keeps the record from being sealed.
    let (key, _) = sample.key("ida");
    let sealed = seal(&sample.folder, "Ida Fern", &key, &SystemClock::default()).unwrap();
    assert!(sealed.ready);
    sample.expect_intact();
}

#[test]
fn only_the_withdrawn_one_stops_counting() {
    let sample = Sample::complete();
    sample.review(re_inspect()).unwrap();
    sample.review(heard_wrong(Some("missing"))).unwrap();
    sample.review(withdraw(1)).unwrap();
    let shown = view(&sample.folder).unwrap();
    assert_eq!(shown.checks[0].status, Status::Open);
    let (key, _) = sample.key("ida");
    let error = seal(&sample.folder, "Ida Fern", &key, &SystemClock::default()).unwrap_err();
    assert!(matches!(error, SealError::Reviewed(_)), "{error}");
}

#[test]
fn what_may_not_be_withdrawn_is_not() {
    let sample = Sample::complete();
    sample.review(re_inspect()).unwrap();
    assert!(refused(&sample, withdraw(7)).contains("no amendment 7"));
    let (tom, _) = sample.key("other");
    let now = SystemClock::default();
    let error = amend(&sample.folder, "Per Holm", &tom, withdraw(0), "x", &now).unwrap_err();
    assert!(error.to_string().contains("another key"), "{error}");
    sample.review(withdraw(0)).unwrap();
    assert!(refused(&sample, withdraw(0)).contains("already"));
    assert!(refused(&sample, withdraw(1)).contains("withdrawal itself"));
    assert_eq!(view(&sample.folder).unwrap().amendments.len(), 2);
}

#[test]
fn what_a_seal_covers_is_not_withdrawn() {
    let sample = Sample::complete();
    sample.review(heard_wrong(Some("missing"))).unwrap();
    let (key, _) = sample.key("ida");
    seal(&sample.folder, "Ida Fern", &key, &SystemClock::default()).unwrap();
    assert!(refused(&sample, withdraw(0)).contains("under a seal"));
    assert_eq!(view(&sample.folder).unwrap().state, State::NotReady);
    sample.review(note()).unwrap();
    sample.review(withdraw(1)).unwrap();
    sample.expect_intact();
}

#[test]
fn a_withdrawal_that_is_not_sound_does_not_count() {
    let sample = Sample::complete();
    sample.review(re_inspect()).unwrap();
    sample.review(withdraw(0)).unwrap();
    let path = sample.folder.join("amendments/0001.json");
    let mut envelope: serde_json::Value =
        serde_json::from_slice(&fs::read(&path).unwrap()).unwrap();
    envelope["signatures"][0]["sig"] = "AAAA".into();
    fs::write(&path, envelope.to_string()).unwrap();
    let place = Place::Amendment("0001.json".to_owned());
    sample.expect(place, ProblemKind::Changed);
    let view = view(&sample.folder).unwrap();
    assert_eq!(view.checks[0].status, Status::Open);
    assert_eq!(view.amendments[0].withdrawn_by, None);
    assert!(text(&view).contains("NOT SOUND, not heeded"));
}

/// A second reviewer who calls the answer wrong takes nothing from what the first one signed: that stands until its own
/// reviewer withdraws it.
#[test]
fn what_one_reviewer_found_deficient_another_does_not_clear() {
    for second in [
        heard_wrong(None),
        heard_wrong(Some("not-applicable")),
        re_inspect(),
    ] {
        let sample = Sample::complete();
        sample.review(heard_wrong(Some("missing"))).unwrap();
        let (olga, _) = sample.key("olga");
        let now = SystemClock::default();
        amend(&sample.folder, "Olga Fenn", &olga, second, "unclear", &now).unwrap();
        let seen = view(&sample.folder).unwrap();
        assert_eq!(seen.checks[0].status, Status::Deficient);
        assert!(seen.deficiencies.iter().any(|d| d.stands));
        assert!(seen.against[0].contains("as heard in review"));
        // What the second said counts once the first is taken back.
        sample.review(withdraw(0)).unwrap();
        let seen = view(&sample.folder).unwrap();
        assert_eq!(seen.checks[0].status, Status::Open);
    }
}

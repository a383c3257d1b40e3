//! Amendments: what a review may say, what it makes of the outcome, and what shows of it.

use super::samples::{Sample, completed, id, opened, opened_with_count, taken};
use base64::Engine as _;
use loadwalk::record::{
    AmendError, Change, Place, ProblemKind, Record, SealError, State, Status, SystemClock, amend,
    seal, text, view,
};
use loadwalk::review;
use loadwalk::walk::{Entry, Heard, Outcome, Stage};
use std::fs;

const PIN: &str = "front-left/hook-pin";

pub(super) fn heard_wrong(hears: Option<&str>) -> Change {
    Change::HeardWrong {
        check: id(PIN),
        entry: 2,
        hears: hears.map(str::to_owned),
    }
}

pub(super) fn re_inspect() -> Change {
    Change::ReInspect { check: id(PIN) }
}

pub(super) fn note() -> Change {
    Change::Note { check: None }
}

impl Sample {
    pub(super) fn review(&self, change: Change) -> Result<loadwalk::record::Amendment, AmendError> {
        let (key, _) = match self.folder.with_file_name("eva.key.pem").exists() {
            true => self.known_key("eva"),
            false => self.key("eva"),
        };
        let why = "the pin is not what was said";
        amend(
            &self.folder,
            "Eva Rowan",
            &key,
            change,
            why,
            &SystemClock::default(),
        )
    }
}

/// A complete walk that found the pin missing.
pub(super) fn deficient() -> Sample {
    let sample = Sample::empty();
    let mut record = Record::create(
        &sample.folder,
        super::samples::PLAN,
        super::samples::clock(),
    );
    let record = record.as_mut().unwrap();
    record.append(&opened("Ida Fern", "Tom Alder")).unwrap();
    record.append(&super::samples::asked(PIN)).unwrap();
    let missing = Entry::Answered {
        check: id(PIN),
        value: "missing".to_owned(),
        outcome: Outcome::Deficient {
            deficiency: "front left hook pin missing".to_owned(),
        },
        stage: Stage::Walk,
        heard: Heard {
            hearing: taken("presence", "missing"),
            confirmed_by: None,
        },
    };
    record.append(&missing).unwrap();
    record.append(&completed(false)).unwrap();
    sample
}

#[test]
fn a_name_that_can_pass_for_the_riggers_neither_reviews_nor_seals() {
    let sample = Sample::complete();
    let (key, _) = sample.key("mal");
    let clock = SystemClock::default();
    // "Tom Alder" rigged; with a Greek T, and with letters behind it turned round.
    for (name, by_letters) in [("\u{3a4}om Alder", true), ("Tom \u{202e}Alder", false)] {
        let amended = amend(&sample.folder, name, &key, note(), "seen", &clock).unwrap_err();
        let wanted = match by_letters {
            true => matches!(amended, AmendError::Mixed),
            false => matches!(amended, AmendError::Control),
        };
        assert!(wanted, "{amended}");
        let sealed = seal(&sample.folder, name, &key, &clock).unwrap_err();
        assert!(matches!(sealed, SealError::Name(_)), "{sealed}");
    }
    assert!(sample.expect_intact().seals.is_empty());
}

#[test]
fn an_answer_called_wrong_opens_its_check_and_stays_in_sight() {
    let sample = Sample::sealed();
    let journal = fs::read(sample.journal()).unwrap();
    assert_eq!(view(&sample.folder).unwrap().state, State::Ready);
    let amendment = sample.review(heard_wrong(None)).unwrap();
    assert_eq!(amendment.number, 0);
    assert_eq!(fs::read(sample.journal()).unwrap(), journal);

    let view = view(&sample.folder).unwrap();
    assert_eq!(
        (view.state, view.walked_state),
        (State::NotReady, State::Ready)
    );
    let check = &view.checks[0];
    assert_eq!(
        (check.status, check.walked),
        (Status::Open, Status::Conforming)
    );
    assert!(check.answers[0].stands);
    assert_eq!(view.against.len(), 1);
    assert!(
        view.against[0].contains("called wrong in review"),
        "{:?}",
        view.against
    );
    assert_eq!(view.open.len(), 1);
    let found = sample.expect_intact();
    assert!(
        found.proves.iter().any(|p| p.contains("as Eva Rowan")),
        "{:?}",
        found.proves
    );

    for export in [
        text(&view),
        review::html(&view, None, None),
        review::csv(&view),
        review::json(&view),
    ] {
        for words in [
            "heard wrong",
            "Eva Rowan",
            "the pin is not what was said",
            "conforming",
        ] {
            assert!(export.contains(words), "{words} in {export}");
        }
    }
    assert!(text(&view).contains("by the walk: conforming"));
}

#[test]
fn the_sound_that_says_deficient_makes_it_so() {
    let sample = Sample::complete();
    sample.review(heard_wrong(Some("missing"))).unwrap();
    let view = view(&sample.folder).unwrap();
    assert_eq!(view.checks[0].status, Status::Deficient);
    assert_eq!(view.state, State::NotReady);
    let [deficiency] = &view.deficiencies[..] else {
        panic!("{:?}", view.deficiencies);
    };
    assert!(deficiency.stands && deficiency.found == 2);
    // It can be sealed, as a walk that found the same could.
    let (key, _) = sample.key("ida");
    let sealed = seal(&sample.folder, "Ida Fern", &key, &SystemClock::default()).unwrap();
    assert!(!sealed.ready);
    let view = loadwalk::record::view(&sample.folder).unwrap();
    for export in [text(&view), review::html(&view, None, None)] {
        assert!(
            export.contains("sealed as NOT READY by Ida Fern"),
            "{export}"
        );
    }
}

/// The safety rule: whatever a reviewer says, and in whatever order, nothing becomes conforming that
/// was not, and nothing that stood against the load is gone.
#[test]
fn no_amendment_clears_anything() {
    let kinds = || {
        [
            heard_wrong(None),
            heard_wrong(Some("present")),
            heard_wrong(Some("not-applicable")),
            re_inspect(),
            note(),
        ]
    };
    for first in kinds() {
        for second in kinds() {
            let sample = deficient();
            let before = view(&sample.folder).unwrap();
            sample.review(first.clone()).unwrap();
            sample.review(second.clone()).unwrap();
            let after = view(&sample.folder).unwrap();
            assert_eq!(after.state, State::NotReady, "{first:?} {second:?}");
            let check = &after.checks[0];
            assert!(
                matches!(check.status, Status::Open | Status::Deficient),
                "{first:?} {second:?}: {:?}",
                check.status
            );
            assert!(
                after.against[0].contains(&before.against[0]),
                "{:?}",
                after.against
            );
            assert!(after.deficiencies[0].stands);
        }
    }
}

#[test]
fn a_deficiency_called_wrong_is_open_not_conforming() {
    let sample = deficient();
    sample.review(heard_wrong(Some("present"))).unwrap();
    let view = view(&sample.folder).unwrap();
    assert_eq!(view.checks[0].status, Status::Open);
    assert_eq!(view.checks[0].walked, Status::Deficient);
    assert_eq!(view.amendments[0].hears.as_deref(), Some("present"));
}

#[test]
fn a_check_sent_back_is_settled_by_an_answer_given_since() {
    let sample = Sample::of("Ida Fern", "Tom Alder", false);
    sample.review(re_inspect()).unwrap();
    assert_eq!(view(&sample.folder).unwrap().checks[0].status, Status::Open);
    let (mut record, _) = Record::open(&sample.folder, super::samples::clock()).unwrap();
    let answer = super::samples::answer(&mut record, "present");
    record.append(&answer).unwrap();
    drop(record);
    let view = view(&sample.folder).unwrap();
    assert_eq!(view.checks[0].status, Status::Conforming);
    assert_eq!(view.amendments[0].does, "inspected again since");
    sample.expect_intact();
}

#[test]
fn a_note_changes_no_outcome() {
    let sample = Sample::sealed();
    sample.review(note()).unwrap();
    let view = view(&sample.folder).unwrap();
    assert_eq!(view.state, State::Ready);
    assert_eq!(view.amendments.len(), 1);
}

#[test]
fn what_a_review_opened_is_not_sealed() {
    let sample = Sample::complete();
    sample.review(re_inspect()).unwrap();
    let (key, _) = sample.key("ida");
    let error = seal(&sample.folder, "Ida Fern", &key, &SystemClock::default()).unwrap_err();
    assert!(matches!(error, SealError::Reviewed(_)), "{error}");
    assert!(!sample.folder.join("seals").exists());
}

#[test]
fn amendments_that_were_changed_or_taken_away_are_named() {
    let place = |n: u64| Place::Amendment(format!("{n:04}.json"));
    let sample = Sample::complete();
    for _ in 0..3 {
        sample.review(note()).unwrap();
    }
    sample.expect_intact();
    let path = |n: u64| sample.folder.join(format!("amendments/{n:04}.json"));
    let second = fs::read(path(1)).unwrap();

    fs::remove_file(path(1)).unwrap();
    sample.expect(place(2), ProblemKind::Removed);
    fs::write(path(1), "{").unwrap();
    sample.expect(place(1), ProblemKind::Malformed);
    // Another's signature under the same words.
    let mut forged: serde_json::Value = serde_json::from_slice(&second).unwrap();
    let first: serde_json::Value = serde_json::from_slice(&fs::read(path(0)).unwrap()).unwrap();
    forged["signatures"] = first["signatures"].clone();
    fs::write(path(1), forged.to_string()).unwrap();
    sample.expect(place(1), ProblemKind::Changed);
    fs::write(path(1), &second).unwrap();
    sample.expect_intact();

    // What was sealed is missed from the end too.
    let (key, _) = sample.key("ida");
    seal(&sample.folder, "Ida Fern", &key, &SystemClock::default()).unwrap();
    fs::remove_file(path(2)).unwrap();
    sample.expect(place(2), ProblemKind::Removed);
}

#[test]
fn an_amendment_whose_signature_does_not_fit_is_heeded_and_named() {
    let sample = Sample::complete();
    sample.review(re_inspect()).unwrap();
    let path = sample.folder.join("amendments/0000.json");
    let mut envelope: serde_json::Value =
        serde_json::from_slice(&fs::read(&path).unwrap()).unwrap();
    envelope["signatures"][0]["sig"] = "AAAA".into();
    fs::write(&path, envelope.to_string()).unwrap();
    sample.expect(
        Place::Amendment("0000.json".to_owned()),
        ProblemKind::Changed,
    );
    let view = view(&sample.folder).unwrap();
    assert_eq!(view.checks[0].status, Status::Open);
    assert!(!view.amendments[0].sound);
}

#[test]
fn an_amendment_of_another_record_does_not_fit() {
    let (one, other) = (Sample::complete(), Sample::sealed());
    one.review(note()).unwrap();
    fs::create_dir(other.folder.join("amendments")).unwrap();
    let file = "amendments/0000.json";
    fs::copy(one.folder.join(file), other.folder.join(file)).unwrap();
    other.expect(Place::Amendment("0000.json".to_owned()), ProblemKind::Unfit);
}

#[test]
fn what_may_not_be_amended_is_not() {
    let sample = Sample::complete();
    let (key, _) = sample.key("tom");
    let now = SystemClock::default();
    let refused = |by: &str, change: Change, why: &str| {
        amend(&sample.folder, by, &key, change, why, &now).unwrap_err()
    };
    let error = refused("tom  alder", note(), "all is well");
    assert!(matches!(error, AmendError::Rigger(_)), "{error}");
    let error = refused("Eva Rowan", note(), "  ");
    assert!(matches!(error, AmendError::NoText), "{error}");
    let error = refused(" ", note(), "x");
    assert!(matches!(error, AmendError::NoName), "{error}");
    let error = refused("Eva Rowan", note(), &"x".repeat(4_001));
    assert!(matches!(error, AmendError::TooLong), "{error}");
    let nowhere = Change::ReInspect {
        check: id("roof/bolt"),
    };
    let error = refused("Eva Rowan", nowhere, "x");
    assert!(matches!(error, AmendError::NoSuchCheck(..)), "{error}");
    let error = refused("Eva Rowan", heard_wrong(Some("purple")), "x");
    assert!(matches!(error, AmendError::NoValue { .. }), "{error}");
    // What stands there already is no other word.
    let error = refused("Eva Rowan", heard_wrong(Some("present")), "x");
    assert!(matches!(error, AmendError::Stands { .. }), "{error}");
    let entry = Change::HeardWrong {
        check: id(PIN),
        entry: 3,
        hears: None,
    };
    let error = refused("Eva Rowan", entry, "x");
    assert!(matches!(error, AmendError::NotStanding { .. }), "{error}");
    let mut lines = sample.lines();
    lines[3] = lines[3].replace("frayed", "good");
    sample.write_lines(&lines);
    let error = refused("Eva Rowan", note(), "x");
    assert!(matches!(error, AmendError::NotIntact(_)), "{error}");
    assert!(!sample.folder.join("amendments").exists());
}

#[test]
fn a_check_that_was_never_asked_can_be_sent_back() {
    let sample = Sample::empty();
    let record = Record::create(
        &sample.folder,
        super::samples::PLAN,
        super::samples::clock(),
    );
    record.unwrap().append(&opened_with_count()).unwrap();
    sample.review(re_inspect()).unwrap();
    let view = view(&sample.folder).unwrap();
    assert_eq!(view.state, State::Open);
    assert_eq!(view.open.iter().filter(|o| o.check == id(PIN)).count(), 1);
}

/// An amendment that cannot be read may have opened a check, so the walk is not shown ready.
#[test]
fn an_amendment_of_a_newer_version_says_so_and_leaves_nothing_ready() {
    let payload = r#"{"number":0,"prev":"","wall":"","by":"Eva Rowan","entries":1,"last_sha256":"",
        "change":{"kind":"stand-down"},"text":"","key":""}"#;
    let payload = base64::engine::general_purpose::STANDARD.encode(payload);
    let envelope = |kind: &str| {
        format!(
            r#"{{"payload":"{payload}","payloadType":"{kind}","signatures":[{{"keyid":"","sig":""}}]}}"#
        )
    };
    let cases = [
        (
            envelope("application/vnd.loadwalk.amendment.v1+json"),
            "was made by a newer version of loadwalk: it holds `stand-down`",
        ),
        (
            envelope("application/vnd.loadwalk.amendment.v2+json"),
            "was made by a newer version of loadwalk: its type is",
        ),
        ("not JSON".to_owned(), "cannot be read"),
    ];
    for (bytes, said) in cases {
        let sample = Sample::complete();
        assert_eq!(view(&sample.folder).unwrap().state, State::Ready);
        let folder = sample.folder.join("amendments");
        fs::create_dir_all(&folder).unwrap();
        fs::write(folder.join("0000.json"), bytes).unwrap();
        let view = view(&sample.folder).unwrap();
        let problem = view.integrity.first_problem.as_ref().unwrap().to_string();
        assert!(
            problem.starts_with(&format!("amendment `0000.json` {said}")),
            "{problem}"
        );
        assert_eq!(
            (view.walked_state, view.state),
            (State::Ready, State::NotReady)
        );
        let against = [format!("the record is not intact: {problem}")];
        assert_eq!(view.against, against);
    }
}

#[test]
fn a_record_that_is_not_intact_is_not_shown_ready() {
    let sample = Sample::complete();
    let clips = sample.folder.join("clips");
    let clip = fs::read_dir(&clips).unwrap().next().unwrap().unwrap();
    fs::remove_file(clip.path()).unwrap();
    let view = view(&sample.folder).unwrap();
    assert_eq!(
        (view.walked_state, view.state),
        (State::Ready, State::NotReady)
    );
    assert!(view.against[0].starts_with("the record is not intact: clip `"));
    let told = text(&view);
    let head: Vec<&str> = told.lines().take(9).collect();
    assert!(!head.join(" ").contains("COMPLETE: ready"), "{head:?}");
    assert!(told.contains("\nstands against the load\n  the record is not intact: clip `"));
}

#[test]
fn what_is_no_amendment_is_noted_and_what_looks_like_one_must_be_in_order() {
    let sample = Sample::complete();
    let folder = sample.folder.join("amendments");
    fs::create_dir_all(folder.join("@eaDir")).unwrap();
    fs::write(folder.join(".DS_Store"), "x").unwrap();
    let notes = sample.expect_intact().notes.join("\n");
    assert!(notes.contains("`.DS_Store` and `@eaDir`"), "{notes}");
    sample.review(note()).unwrap();
    sample.review(re_inspect()).unwrap();
    assert_eq!(sample.expect_intact().amendments.len(), 2);
    assert_eq!(view(&sample.folder).unwrap().state, State::NotReady);
    drop(Record::open(&sample.folder, super::samples::clock()).unwrap());

    // Renamed, what sends a check back would be out of sight.
    for name in ["0001.json.bak", "0001 (copy).json", "1.json"] {
        fs::rename(folder.join("0001.json"), folder.join(name)).unwrap();
        assert!(!sample.verify().is_intact(), "{name}");
        fs::rename(folder.join(name), folder.join("0001.json")).unwrap();
    }
    for name in ["0002.json", "00001.json", "0003.JSON"] {
        fs::write(folder.join(name), "").unwrap();
        assert!(!sample.verify().is_intact(), "{name}");
        fs::remove_file(folder.join(name)).unwrap();
    }
    sample.expect_intact();
}

use super::*;
use crate::record::State;
use crate::record::amend::{Change, amend};
use crate::record::dsse;
use crate::record::samples::{PLAN, StepClock, answered, id, opened};
use crate::record::seal::{SEAL_TYPE, seal};
use crate::record::{Record, SecretKey, Verification, new_key, verify, view};
use crate::walk::Outcome;
use std::fs;
use std::path::PathBuf;

struct Walk {
    root: tempfile::TempDir,
    folder: PathBuf,
}

/// The walk of the samples' load, so far as the entries behind its opening go.
fn walk(opened: Entry, complete: Option<bool>) -> Walk {
    let root = tempfile::tempdir().unwrap();
    let folder = root.path().join("walk");
    let mut record = Record::create(&folder, PLAN, Box::new(StepClock::at(0))).unwrap();
    record.append(&opened).unwrap();
    for corner in ["front-left", "front-right"] {
        let (pin, links) = (format!("{corner}/hook-pin"), format!("{corner}/hook-links"));
        for (check, value) in [(pin, "present"), (links, "3")] {
            let mut entry = answered(&check, value, Outcome::Conforming);
            if let (Entry::Answered { heard, .. }, "3") = (&mut entry, value) {
                heard.hearing = crate::record::samples::hearing("count", "3", "three");
            }
            record.append(&entry).unwrap();
        }
    }
    if let Some(ready) = complete {
        let against = Vec::new();
        record.append(&Entry::Completed { ready, against }).unwrap();
    }
    Walk { root, folder }
}

impl Walk {
    fn key(&self, name: &str) -> SecretKey {
        let (private, _, _) = new_key(&self.root.path().join(name), None).unwrap();
        SecretKey::read(&private, None).unwrap()
    }

    fn sealed() -> (Self, SecretKey, Statement) {
        let walk = walk(opened(), Some(true));
        let key = walk.key("ida");
        let statement = seal(&walk.folder, "Ida Fern", &key, &StepClock::at(60_000)).unwrap();
        assert_eq!(walk.found().problems, []);
        (walk, key, statement)
    }

    fn found(&self) -> Verification {
        verify(&self.folder, &[]).unwrap()
    }

    /// Writes a seal as its key's holder can, whatever it says.
    fn forge(&self, statement: &Statement, key: &SecretKey) {
        let mut statement = statement.clone();
        statement.key = key.public().to_pem();
        let payload = serde_json::to_vec(&statement).unwrap();
        fs::create_dir_all(self.folder.join("seals")).unwrap();
        let file = self.folder.join("seals").join(statement.role.file());
        fs::write(file, dsse::envelope(SEAL_TYPE, &payload, key)).unwrap();
    }

    /// What is said of the seal that does not count, and that nothing says that it does.
    fn refused(&self) -> String {
        let found = self.found();
        let is_void = |p: &&Problem| p.kind == ProblemKind::Void;
        let why = found.problems.iter().find(is_void).expect("a void seal");
        assert!(matches!(why.place, Place::Seal(_)), "{why}");
        let seen = view(&self.folder).unwrap();
        assert_ne!(seen.state, State::Ready);
        let text = crate::record::text(&seen);
        let name = found.seals.iter().find(|s| s.problem.is_some());
        let name = &name.unwrap().statement.as_ref().unwrap().signer;
        assert!(!text.contains(&format!("by {name} at")), "{text}");
        let signed = |p: &String| p.contains("signed these") && p.contains(name.as_str());
        assert!(!found.proves.iter().any(signed), "{:?}", found.proves);
        why.to_string()
    }
}

#[test]
fn a_seal_by_the_wrong_person_does_not_count() {
    let (walk, key, sealed) = Walk::sealed();
    for (signer, why) in [
        (
            "Tom Alder",
            "Tom Alder rigged this load and cannot seal its record; the inspector does",
        ),
        ("Eva Rowan", "Eva Rowan is not the inspector Ida Fern"),
        ("...", "the signer's name is missing; a seal is a person's"),
    ] {
        let signer = signer.to_owned();
        walk.forge(
            &Statement {
                signer,
                ..sealed.clone()
            },
            &key,
        );
        assert!(walk.refused().ends_with(why), "{}", walk.refused());
    }
}

#[test]
fn a_second_seal_needs_a_second_person_with_a_key_of_their_own() {
    for (signer, own, why) in [
        ("Tom Alder", true, "rigged this load"),
        ("Ida Fern", true, "not a second person"),
        ("Eva Rowan", false, "with the key of the inspector's"),
    ] {
        let (walk, key, sealed) = Walk::sealed();
        let second = Statement {
            signer: signer.to_owned(),
            role: Role::Second,
            ..sealed
        };
        let other = walk.key("eva");
        walk.forge(&second, if own { &other } else { &key });
        let found = walk.found();
        let problem = found.first_problem.unwrap().to_string();
        assert!(problem.starts_with("seal `second.json` does not count"));
        assert!(problem.contains(why), "{problem}");
    }
}

#[test]
fn a_seal_over_an_open_walk_or_one_that_is_not_ready_does_not_count() {
    let (_, _, sealed) = Walk::sealed();
    for (complete, why) in [
        (
            None,
            "the walk is not complete: nothing is open, but its end was not reached; go on with it by `loadwalk resume`, then seal",
        ),
        (
            Some(false),
            "it calls the load ready, and the record does not",
        ),
    ] {
        let walk = walk(opened(), complete);
        let key = walk.key("ida");
        let entries = super::super::read(&walk.folder).unwrap().hashes;
        let statement = Statement {
            entries,
            ..sealed.clone()
        };
        walk.forge(&statement, &key);
        assert!(walk.refused().ends_with(why), "{}", walk.refused());
        // As it is, a walk that is not ready may be sealed.
        if complete.is_some() {
            let ready = false;
            walk.forge(&Statement { ready, ..statement }, &key);
            assert_eq!(walk.found().problems, []);
        }
    }
}

/// A seal that says of the record what the entries that it signs do not. Its signature is good: its key's holder made it.
#[test]
fn a_seal_that_says_other_than_its_entries_does_not_count() {
    let root = tempfile::tempdir().unwrap();
    let folder = root.path().join("walk");
    let mut record = Record::create(&folder, PLAN, Box::new(StepClock::at(0))).unwrap();
    record.append(&opened()).unwrap();
    let clip = record.write_clip("front-left/hook-pin", b"RIFF").unwrap();
    for corner in ["front-left", "front-right"] {
        let (pin, links) = (format!("{corner}/hook-pin"), format!("{corner}/hook-links"));
        let mut entry = answered(&pin, "present", Outcome::Conforming);
        if let (Entry::Answered { heard, .. }, "front-left") = (&mut entry, corner) {
            heard.hearing.clip.clone_from(&clip.file);
            heard.hearing.clip_sha256.clone_from(&clip.sha256);
        }
        record.append(&entry).unwrap();
        let mut entry = answered(&links, "3", Outcome::Conforming);
        if let Entry::Answered { heard, .. } = &mut entry {
            heard.hearing = crate::record::samples::hearing("count", "3", "three");
        }
        record.append(&entry).unwrap();
    }
    let (ready, against) = (true, Vec::new());
    record.append(&Entry::Completed { ready, against }).unwrap();
    drop(record);
    let walk = Walk { root, folder };
    let key = walk.key("ida");
    let sealed = seal(&walk.folder, "Ida Fern", &key, &StepClock::at(60_000)).unwrap();
    assert_eq!(walk.found().problems, []);
    assert_eq!(sealed.clips.len(), 1);
    let other = "0".repeat(64);
    let with = |change: &dyn Fn(&mut Statement)| {
        let mut statement = sealed.clone();
        change(&mut statement);
        walk.forge(&statement, &key);
        walk.refused()
    };
    type Change<'a> = &'a dyn Fn(&mut Statement);
    let forged: [(Change<'_>, &str); 5] = [
        (
            &|s: &mut Statement| s.plan_sha256.clone_from(&other),
            "it names another plan than the entries that it signs",
        ),
        (
            &|s: &mut Statement| s.load = "hut roof".to_owned(),
            "it names the load hut roof, the entries that it signs stove crate",
        ),
        (
            &|s: &mut Statement| drop(s.clips.insert(clip.file.clone(), other.clone())),
            "it has another hash for the sound `0001-front-left-hook-pin-1.wav` than the entries that it signs",
        ),
        (
            &|s: &mut Statement| s.clips.clear(),
            "it does not cover the sound `0001-front-left-hook-pin-1.wav`, which an entry names",
        ),
        (
            &|s: &mut Statement| s.ready = false,
            "it calls the load not ready, and the record does",
        ),
    ];
    for (change, why) in forged {
        let told = with(change);
        assert!(told.ends_with(why), "{told}");
    }
    walk.forge(&sealed, &key);
    assert_eq!(walk.found().problems, []);
}

/// What a seal says and covers stands where it is told that it is good: a seal over "not ready" does not read like one over a
/// ready load, and of two the second may cover more.
#[test]
fn a_seal_is_told_with_its_verdict_and_the_amendments_that_it_covers() {
    let walk = walk(opened(), Some(true));
    let (ida, eva) = (walk.key("ida"), walk.key("eva"));
    let told = |what: &str| {
        let proves = walk.found().proves;
        assert!(
            proves.iter().any(|p| p.contains(what)),
            "{what}: {proves:?}"
        );
    };
    seal(&walk.folder, "Ida Fern", &ida, &StepClock::at(60_000)).unwrap();
    told("6 entries, the plan, 0 clips and no amendment as Ida Fern");
    let change = Change::HeardWrong {
        check: id("front-left/hook-pin"),
        entry: 1,
        hears: Some("missing".to_owned()),
    };
    let olga = walk.key("olga");
    let now = StepClock::at(120_000);
    amend(&walk.folder, "Olga Fenn", &olga, change, "no pin", &now).unwrap();
    seal(&walk.folder, "Eva Rowan", &eva, &StepClock::at(180_000)).unwrap();
    told("no amendment as Ida Fern");
    told("and amendment 0 as Eva Rowan: NOT READY");
    let found = walk.found();
    assert_eq!(found.problems, []);
    assert!(
        !found.notes.iter().any(|n| n.contains("several")),
        "{:?}",
        found.notes
    );
    let json = serde_json::to_value(&found.seals).unwrap();
    let covered = json.as_array().unwrap().iter();
    let covered: Vec<u64> = covered
        .map(|s| s["statement"]["amendments"].as_u64().unwrap())
        .collect();
    assert_eq!(covered, [0, 1]);
}

/// A name is what somebody typed: one hand may have written several, and several one.
#[test]
fn a_key_under_several_names_and_a_person_with_several_keys_are_told() {
    let walk = walk(opened(), Some(true));
    let (ida, other) = (walk.key("ida"), walk.key("other"));
    let now = StepClock::at(60_000);
    let note = |by: &str, key: &SecretKey| {
        let change = Change::Note { check: None };
        amend(&walk.folder, by, key, change, "seen", &now).unwrap();
    };
    let several = || {
        let notes = walk.found().notes.into_iter();
        notes.filter(|n| n.contains("several")).collect::<Vec<_>>()
    };
    note("Eva Rowan", &ida);
    note("rowan, EVA", &ida);
    assert_eq!(several(), Vec::<String>::new());
    seal(&walk.folder, "Ida Fern", &ida, &StepClock::at(60_000)).unwrap();
    let id = ida.public().id();
    assert_eq!(
        several(),
        [format!(
            "the key {id} signed under several names, so they show one hand: Ida Fern (seal `inspector.json`), Eva Rowan \
             (amendment 0)"
        )]
    );
    note("Ida Fern", &other);
    let two = format!(
        "Ida Fern signed with several keys, which may be those of several people: {id} (seal `inspector.json`), {} (amendment \
         2)",
        other.public().id()
    );
    assert_eq!(several()[1], two);
    assert_eq!(walk.found().problems, []);
}

#[test]
fn a_seal_over_what_a_review_opened_does_not_count() {
    let walk = walk(opened(), Some(true));
    let key = walk.key("ida");
    let unsealed = seal(&walk.folder, "Ida Fern", &key, &StepClock::at(60_000)).unwrap();
    fs::remove_dir_all(walk.folder.join("seals")).unwrap();
    let check = id("front-left/hook-pin");
    let change = Change::ReInspect { check };
    let now = StepClock::at(60_000);
    amend(
        &walk.folder,
        "Eva Rowan",
        &walk.key("eva"),
        change,
        "dust",
        &now,
    )
    .unwrap();
    let amendments = walk
        .found()
        .amendments
        .iter()
        .map(|a| a.sha256.clone())
        .collect();
    let ready = false;
    walk.forge(
        &Statement {
            amendments,
            ready,
            ..unsealed
        },
        &key,
    );
    assert!(walk.refused().ends_with(
        "a review opened front-left/hook-pin again; inspect it in a new walk and seal that one"
    ));
}

/// `amend` refuses both; whoever has a key can write one by hand. What it finds counts against the load all the same, and
/// what it would take back stays.
#[test]
fn an_amendment_by_the_rigger_or_by_nobody_does_not_count_but_is_heeded() {
    use crate::record::amend::{AMENDMENT_TYPE, AmendmentCheck};
    for (by, why) in [
        (
            "tom ALDER",
            "tom ALDER rigged this load and cannot review its inspection",
        ),
        ("", "needs the name of the person"),
        (" - ", "needs the name of the person"),
    ] {
        let walk = walk(opened(), Some(true));
        let eva = walk.key("eva");
        let change = Change::HeardWrong {
            check: id("front-left/hook-pin"),
            entry: 1,
            hears: Some("missing".to_owned()),
        };
        let now = StepClock::at(60_000);
        let refused = amend(&walk.folder, by, &eva, change.clone(), "no pin", &now).unwrap_err();
        assert!(refused.to_string().contains(why), "{refused}");
        let mut forged = amend(&walk.folder, "Eva Rowan", &eva, change, "no pin", &now).unwrap();
        assert_eq!(walk.found().problems, []);
        let folder = walk.folder.join("amendments");
        let mut write = |number: u64, change: Option<Change>, prev: Option<String>| {
            forged.by = by.to_owned();
            forged.number = number;
            forged.change = change.unwrap_or_else(|| forged.change.clone());
            forged.prev = prev.unwrap_or_else(|| forged.prev.clone());
            let payload = serde_json::to_vec(&forged).unwrap();
            let bytes = dsse::envelope(AMENDMENT_TYPE, &payload, &eva);
            fs::write(folder.join(format!("{number:04}.json")), &bytes).unwrap();
            crate::record::sha256_hex(&bytes)
        };
        let is_void = |a: &AmendmentCheck| {
            let problem = a.problem.as_ref();
            problem.is_some_and(|p| p.kind == ProblemKind::Void && p.detail.contains(why))
        };
        let prev = write(0, None, None);
        let found = walk.found();
        assert!(is_void(&found.amendments[0]), "{:?}", found.problems);
        let status = || view(&walk.folder).unwrap().checks[0].status;
        assert_eq!(status(), crate::record::Status::Deficient);
        write(1, Some(Change::Withdraw { amendment: 0 }), Some(prev));
        assert!(walk.found().amendments.iter().all(is_void));
        assert_eq!(status(), crate::record::Status::Deficient);
        assert_ne!(view(&walk.folder).unwrap().state, State::Ready);
    }
}

#[test]
fn a_seal_of_another_record_signed_none_of_these_entries() {
    let (_, key, sealed) = Walk::sealed();
    let other = walk(opened(), Some(false));
    other.forge(&sealed, &key);
    let why = "Ida Fern signed other entries than those that are here";
    assert!(other.refused().ends_with(why), "{}", other.refused());
    assert_eq!(other.found().first_problem.unwrap().place, Place::Entry(5));
}

#[test]
fn a_walk_that_the_rigger_inspected_is_not_intact() {
    let mut own = opened();
    if let Entry::Opened { rigger, .. } = &mut own {
        *rigger = "FERN, Ida".to_owned();
    }
    let walk = walk(own, Some(true));
    let problem = walk.found().first_problem.unwrap();
    assert_eq!(
        (&problem.place, problem.kind),
        (&Place::Entry(0), ProblemKind::Void)
    );
    assert!(
        problem.to_string().contains("cannot inspect it"),
        "{problem}"
    );
    assert_eq!(view(&walk.folder).unwrap().state, State::NotReady);
}

#[test]
fn a_seal_or_review_dated_before_what_it_is_about_is_noted() {
    let long_before = StepClock::at(-86_400_000);
    let (_, _, dated) = Walk::sealed();
    let walk = walk(opened(), Some(true));
    let change = || Change::Note { check: None };
    let eva = walk.key("eva");
    amend(
        &walk.folder,
        "Eva Rowan",
        &eva,
        change(),
        "seen",
        &StepClock::at(30_000),
    )
    .unwrap();
    amend(
        &walk.folder,
        "Eva Rowan",
        &eva,
        change(),
        "seen",
        &long_before,
    )
    .unwrap();
    let said = |what: &str| {
        walk.found()
            .notes
            .iter()
            .filter(|n| n.contains(what))
            .count()
    };
    assert_eq!(said("amendment 0 is dated"), 0);
    assert_eq!(said("amendment 1 is dated 2031-06-01T"), 1);
    seal(&walk.folder, "Ida Fern", &walk.key("ida"), &long_before).unwrap();
    assert_eq!(walk.found().problems, []);
    assert_eq!(said("the seal `inspector.json` is dated 2031-06-01T"), 2);
    assert!(dated.sealed.starts_with("2031-06-02T"));
}

#[cfg(unix)]
#[test]
fn what_a_record_holds_makes_no_lines_of_its_own() {
    let (walk, key, sealed) = Walk::sealed();
    let steers = "Ida\u{1b}\n Fern";
    let error = seal(&walk.folder, steers, &key, &StepClock::at(0)).unwrap_err();
    assert!(error.to_string().contains("control character"), "{error}");
    assert!(seal(&walk.folder, " ", &key, &StepClock::at(0)).is_err());
    // By hand, with the same letters.
    let signer = steers.to_owned();
    walk.forge(&Statement { signer, ..sealed }, &key);
    fs::write(walk.folder.join("clips/x\u{1b}[2J\nintact: all"), "").unwrap();
    let list = |n: u32, wall: &str| {
        let text = serde_json::json!({"wall": wall, "clips": {"0001-a.wav": "00"}});
        fs::write(
            walk.folder.join(format!("forgotten-{n}.json")),
            text.to_string(),
        )
        .unwrap();
    };
    list(1, "yesterday\u{1b}[2J\nintact: all");
    list(2, "2031-06-02T07:40:12.305+02:00[Europe/Vienna]");
    let found = walk.found();
    let forgotten = found
        .notes
        .iter()
        .filter(|n| n.contains("removed on purpose"));
    assert_eq!(forgotten.count(), 1);
    let text = crate::record::text(&view(&walk.folder).unwrap());
    let problems = found.problems.iter().map(|p| p.to_string() + "\n");
    for told in [text, problems.collect()] {
        let clean = |c: char| c == '\n' || !c.is_control();
        assert!(told.chars().all(clean), "{told:?}");
        assert!(!told.contains("\nintact: all"), "{told}");
    }
}

//! Seals: what they prove, and what may not be sealed.

use super::samples::{Sample, clock};
use crate::command::talk::run;
use loadwalk::record::{
    Place, ProblemKind, Record, RecordError, Role, SealError, SystemClock, forget_sound, read,
    seal, sha256_hex, verify,
};
use std::fs;

#[test]
fn a_sealed_record_proves_every_entry() {
    let change = |change: fn(&mut Vec<String>), place, kind| {
        let sample = Sample::sealed();
        let mut lines = sample.lines();
        change(&mut lines);
        sample.write_lines(&lines);
        sample.expect(Place::Entry(place), kind);
    };
    change(
        |l| l[3] = l[3].replace("frayed", "good"),
        3,
        ProblemKind::Changed,
    );
    change(
        |l| l[5] = l[5].replace("true", "false"),
        5,
        ProblemKind::Changed,
    );
    change(|l| drop(l.remove(3)), 3, ProblemKind::Removed);
    change(|l| l.truncate(4), 4, ProblemKind::Truncated);
    change(|l| l.swap(3, 4), 3, ProblemKind::Reordered);
    change(|l| l.insert(4, l[3].clone()), 4, ProblemKind::Added);
    change(|l| l.push(l[5].clone()), 6, ProblemKind::Added);
}

/// That a record is intact and signed does not make its load ready, and `verify` is what a pilot's side may run alone.
#[test]
fn verify_tells_how_the_walk_stands_in_text_and_json() {
    let told = |sample: &Sample| {
        let folder = sample.folder.to_str().unwrap();
        let (code, text, _) = run(&["verify", folder]);
        let (_, json, _) = run(&["verify", folder, "--json"]);
        let json: serde_json::Value = serde_json::from_str(&json).unwrap();
        assert_eq!(
            json["problems"].as_array().map(Vec::is_empty),
            Some(code == 0)
        );
        assert_eq!(json["entries"], sample.verify().entries);
        let line = format!("\nthe walk: {}\n", json["stands"].as_str().unwrap());
        assert!(text.contains(&line), "{text}");
        let field = |name: &str| json[name].to_string();
        let fields = [field("state"), field("walked_state"), field("practice")];
        (
            code,
            json["stands"].as_str().unwrap().to_owned(),
            fields.join(" "),
        )
    };
    let sealed = Sample::sealed();
    let (code, stands, fields) = told(&sealed);
    assert_eq!(
        (code, stands.as_str()),
        (0, "complete: READY for a person to sign")
    );
    assert_eq!(fields, r#""ready" "ready" false"#);
    sealed.review(super::amending::re_inspect()).unwrap();
    let (code, stands, fields) = told(&sealed);
    assert_eq!(code, 0);
    assert!(
        stands.starts_with("complete: NOT READY: a review changed"),
        "{stands}"
    );
    assert_eq!(fields, r#""not-ready" "ready" false"#);

    // Found not ready, sealed so, and then noted on.
    let found = super::amending::deficient();
    let (key, _) = found.key("ida");
    seal(&found.folder, "Ida Fern", &key, &SystemClock::default()).unwrap();
    found.review(super::amending::note()).unwrap();
    let (code, stands, fields) = told(&found);
    assert_eq!((code, stands.as_str()), (0, "complete: NOT READY"));
    assert_eq!(fields, r#""not-ready" "not-ready" false"#);

    let (code, stands, _) = told(&Sample::of("Ida Fern", "Tom Alder", false));
    assert_eq!(
        (code, stands.as_str()),
        (0, "OPEN: not complete, not ready")
    );
    let changed = Sample::complete();
    let mut lines = changed.lines();
    lines[3] = lines[3].replace("frayed", "good");
    changed.write_lines(&lines);
    let (code, stands, _) = told(&changed);
    assert_eq!(code, 1);
    assert!(
        stands.contains("NOT READY: the record is not intact"),
        "{stands}"
    );
}

#[test]
fn a_chain_forged_anew_does_not_fit_its_seal() {
    let sample = Sample::sealed();
    let mut lines = sample.lines();
    lines[2] = lines[2].replace("0.98", "0.99");
    for i in 3..lines.len() {
        let mut line: serde_json::Value = serde_json::from_str(&lines[i]).unwrap();
        line["prev"] = sha256_hex(lines[i - 1].as_bytes()).into();
        lines[i] = line.to_string();
    }
    sample.write_lines(&lines);
    assert_eq!(read(&sample.folder).unwrap().problem, None);
    sample.expect(Place::Entry(2), ProblemKind::Changed);
}

#[test]
fn a_sealed_record_proves_its_clips_and_takes_nothing_more() {
    let sample = Sample::sealed();
    let found = sample.expect_intact();
    assert!(
        found.proves.iter().any(|p| p.contains("as Ida Fern")),
        "{:?}",
        found.proves
    );
    let error = Record::open(&sample.folder, clock()).unwrap_err();
    assert!(matches!(error, RecordError::Sealed(_)), "{error}");
    fs::write(sample.folder.join("clips/0009-later-1.wav"), b"RIFF").unwrap();
    let place = Place::Clip {
        file: "0009-later-1.wav".to_owned(),
        entry: None,
    };
    sample.expect(place, ProblemKind::Added);
}

#[test]
fn a_changed_seal_is_no_seal() {
    let sample = Sample::sealed();
    let path = sample.folder.join("seals/inspector.json");
    let text = fs::read_to_string(&path).unwrap();
    let mut envelope: serde_json::Value = serde_json::from_str(&text).unwrap();
    let payload = envelope["payload"].as_str().unwrap().to_owned();
    // The seventh character lies inside the first key of the payload.
    let other = if &payload[6..7] == "A" { "B" } else { "A" };
    envelope["payload"] = format!("{}{other}{}", &payload[..6], &payload[7..]).into();
    fs::write(&path, envelope.to_string()).unwrap();
    let seal = Place::Seal("inspector.json".to_owned());
    sample.expect(seal.clone(), ProblemKind::Changed);
    fs::write(&path, "{").unwrap();
    sample.expect(seal, ProblemKind::Malformed);
}

#[test]
fn a_seal_of_a_stranger_is_told_from_that_of_a_known_key() {
    let sample = Sample::complete();
    let (key, public) = sample.key("ida");
    let (_, other) = sample.key("eva");
    let statement = seal(&sample.folder, "Ida Fern", &key, &SystemClock::default()).unwrap();
    assert!(statement.ready);
    assert_eq!(statement.role, Role::Inspector);
    let known = verify(&sample.folder, std::slice::from_ref(&public)).unwrap();
    assert!(known.is_intact() && known.seals[0].trusted);
    let strange = verify(&sample.folder, &[other]).unwrap();
    let problem = strange.first_problem.unwrap();
    assert_eq!(problem.place, Place::Seal("inspector.json".to_owned()));
}

#[test]
fn a_second_person_seals_after_the_inspector_with_a_key_of_their_own() {
    let sample = Sample::complete();
    let now = SystemClock::default();
    let (ida, _) = sample.key("ida");
    let (eva, _) = sample.key("eva");
    let error = seal(&sample.folder, "Eva Rowan", &eva, &now).unwrap_err();
    assert!(matches!(error, SealError::InspectorFirst { .. }), "{error}");
    seal(&sample.folder, "Ida Fern", &ida, &now).unwrap();
    let error = seal(&sample.folder, "Eva Rowan", &ida, &now).unwrap_err();
    assert!(matches!(error, SealError::OneKey(_)), "{error}");
    let statement = seal(&sample.folder, "Eva Rowan", &eva, &now).unwrap();
    assert_eq!(statement.role, Role::Second);
    let error = seal(&sample.folder, "Ida Fern", &ida, &now).unwrap_err();
    assert!(matches!(error, SealError::Sealed(_)), "{error}");
    assert_eq!(sample.expect_intact().seals.len(), 2);
}

#[test]
fn what_may_not_be_sealed_is_not() {
    let now = SystemClock::default();
    let open = Sample::of("Ida Fern", "Tom Alder", false);
    let (key, _) = open.key("ida");
    let error = seal(&open.folder, "Ida Fern", &key, &now).unwrap_err();
    assert!(
        error.to_string().contains("its end was not reached"),
        "{error}"
    );

    let alone = Sample::of("Ida Fern", "ida  fern", true);
    let error = seal(&alone.folder, "Ida Fern", &key, &now).unwrap_err();
    assert!(matches!(error, SealError::OnePerson(_)), "{error}");

    let rigger = Sample::complete();
    let error = seal(&rigger.folder, "Tom Alder", &key, &now).unwrap_err();
    assert!(matches!(error, SealError::Rigger(_)), "{error}");

    let changed = Sample::complete();
    let mut lines = changed.lines();
    lines[3] = lines[3].replace("frayed", "good");
    changed.write_lines(&lines);
    let error = seal(&changed.folder, "Ida Fern", &key, &now).unwrap_err();
    assert!(error.to_string().contains("entry 3"), "{error}");
    for sample in [&open, &alone, &rigger, &changed] {
        assert!(!sample.folder.join("seals").exists());
    }
}

#[test]
fn a_seal_by_a_key_that_was_not_named_is_told_as_that() {
    let sample = Sample::sealed();
    let (_, eva) = sample.key("eva");
    let strange = verify(&sample.folder, &[eva]).unwrap();
    let problem = strange.first_problem.unwrap();
    assert_eq!(problem.kind, ProblemKind::OtherKey);
    assert!(!problem.to_string().contains("changed"), "{problem}");
}

#[test]
fn with_a_key_named_a_record_without_its_seal_is_not_proved() {
    let sample = Sample::sealed();
    let (_, ida) = sample.known_key("ida");
    assert!(
        verify(&sample.folder, std::slice::from_ref(&ida))
            .unwrap()
            .is_intact()
    );
    fs::remove_dir_all(sample.folder.join("seals")).unwrap();
    let found = verify(&sample.folder, &[ida]).unwrap();
    assert_eq!(found.first_problem.unwrap().kind, ProblemKind::Removed);
    sample.expect_intact();
}

/// A review made while the walk was open is left, which binds the entries before it alone; the seal on what came
/// behind is taken away, and that is written anew.
#[test]
fn a_review_by_a_given_key_does_not_stand_for_the_seal_that_was_taken_away() {
    let sample = Sample::of("Ida Fern", "Tom Alder", false);
    sample.review(super::amending::note()).unwrap();
    let (mut record, _) = Record::open(&sample.folder, clock()).unwrap();
    record.append(&super::samples::completed(false)).unwrap();
    drop(record);
    let (ida, ida_public) = sample.key("ida");
    let (_, eva) = sample.known_key("eva");
    seal(&sample.folder, "Ida Fern", &ida, &SystemClock::default()).unwrap();
    let given = [ida_public.clone(), eva.clone()];
    let told = |given: &[_]| verify(&sample.folder, given).unwrap();
    assert!(told(&given).is_intact());

    fs::remove_dir_all(sample.folder.join("seals")).unwrap();
    let mut lines = sample.parsed();
    lines[5]["entry"]["ready"] = true.into();
    sample.forge(lines);
    let found = sample.expect_intact();
    let caveat = |p: &String| p.starts_with("whether there was a seal, or amendments");
    assert!(found.proves.iter().any(caveat), "{:?}", found.proves);
    for given in [&given[..], &given[1..]] {
        let found = told(given);
        let problem = found.first_problem.as_ref().expect("a problem");
        assert_eq!(problem.kind, ProblemKind::Removed, "{problem}");
        assert_eq!(problem.place, Place::Seal("seals".to_owned()));
        let idle = format!("the key {} was given and signed nothing", ida_public.id());
        let is_told = found.notes.iter().any(|n| n.starts_with(&idle));
        assert_eq!(is_told, given.len() == 2, "{:?}", found.notes);
    }
    let key = |name: &str| sample.folder.with_file_name(format!("{name}.pub.pem"));
    let (ida, eva) = (key("ida"), key("eva"));
    let keys = [
        "--key",
        ida.to_str().unwrap(),
        "--key",
        eva.to_str().unwrap(),
    ];
    let (code, text, _) = run(&[&["verify", sample.folder.to_str().unwrap()], &keys[..]].concat());
    assert_eq!(code, 1, "{text}");
    assert!(text.contains("the walk: complete: NOT READY"), "{text}");
}

/// Of an open walk nothing is sealed yet: a review of it is by a key that was given.
#[test]
fn an_open_walk_with_a_review_by_a_given_key_is_intact() {
    let sample = Sample::of("Ida Fern", "Tom Alder", false);
    sample.review(super::amending::note()).unwrap();
    let (_, eva) = sample.known_key("eva");
    assert!(verify(&sample.folder, &[eva]).unwrap().is_intact());
}

/// What a second person signed, and reviews behind the last seal, can be taken off the end without a trace: the keys
/// that then signed nothing are named, and that it does not show is said whether any are left or not.
#[test]
fn keys_that_were_given_and_signed_nothing_are_named() {
    let sample = Sample::sealed();
    let (_, ida) = sample.known_key("ida");
    sample.review(super::amending::re_inspect()).unwrap();
    let (_, eva) = sample.known_key("eva");
    let told = || verify(&sample.folder, &[ida.clone(), eva.clone()]).unwrap();
    let idle = |found: &loadwalk::record::Verification| {
        let notes = found.notes.iter();
        notes
            .filter(|n| n.contains("signed nothing that is here"))
            .count()
    };
    let taken_off =
        "whether a second person's seal, or amendments made after the last seal, were taken off";
    let found = told();
    assert!(found.is_intact() && idle(&found) == 0, "{:?}", found.notes);
    fs::remove_dir_all(sample.folder.join("amendments")).unwrap();
    let found = told();
    assert!(found.is_intact() && idle(&found) == 1, "{:?}", found.notes);
    let caveat = |p: &String| p.starts_with(taken_off);
    assert!(found.proves.iter().any(caveat), "{:?}", found.proves);
    assert_eq!(idle(&sample.verify()), 0, "no key was given");
}

#[test]
fn a_second_seal_does_not_stand_without_the_inspectors() {
    let sample = Sample::sealed();
    let (eva, _) = sample.key("eva");
    seal(&sample.folder, "Eva Rowan", &eva, &SystemClock::default()).unwrap();
    fs::remove_file(sample.folder.join("seals/inspector.json")).unwrap();
    sample.expect(
        Place::Seal("inspector.json".to_owned()),
        ProblemKind::Removed,
    );
}

#[test]
fn a_sealed_journal_without_its_last_newline_is_cut_short() {
    let sample = Sample::sealed();
    let bytes = fs::read(sample.journal()).unwrap();
    assert_eq!(bytes.last(), Some(&b'\n'));
    fs::write(sample.journal(), &bytes[..bytes.len() - 1]).unwrap();
    let problem = sample.verify().first_problem.expect("a problem");
    assert_eq!(problem.kind, ProblemKind::Truncated, "{problem}");
}

/// A folder that cannot be read may hold what opens a check again. (A file in its place: a reader with all rights
/// reads every folder.)
#[test]
fn a_folder_that_cannot_be_read_is_not_an_empty_one() {
    for name in ["amendments", "seals"] {
        let sample = Sample::complete();
        fs::write(sample.folder.join(name), "").unwrap();
        let problem = sample.verify().first_problem.expect("a problem");
        assert_eq!(problem.kind, ProblemKind::Malformed, "{problem}");
        assert!(problem.to_string().contains(name), "{problem}");
        let (key, _) = sample.key("ida");
        assert!(seal(&sample.folder, "Ida Fern", &key, &SystemClock::default()).is_err());
    }
}

/// What a link leads to is not what the walk wrote here, whatever its hashes: it is elsewhere, and changes with that.
#[cfg(unix)]
#[test]
fn a_record_holds_its_files_itself() {
    use std::os::unix::fs::symlink;
    for name in ["clips", "seals", "amendments"] {
        let sample = Sample::sealed();
        sample.review(super::amending::note()).unwrap();
        sample.expect_intact();
        let (own, elsewhere) = (sample.folder.join(name), sample.folder.with_file_name(name));
        fs::rename(&own, &elsewhere).unwrap();
        symlink(&elsewhere, &own).unwrap();
        let found = sample.verify();
        let is_link = |p: &&loadwalk::record::Problem| p.detail.starts_with("it is a link");
        let problem = found.problems.iter().find(is_link).expect("a problem");
        assert_eq!(problem.kind, ProblemKind::Changed, "{problem}");
        assert!(problem.to_string().contains(name), "{problem}");
    }
    let sample = Sample::of("Ida Fern", "Tom Alder", false);
    let elsewhere = sample.folder.with_file_name("elsewhere.jsonl");
    fs::rename(sample.journal(), &elsewhere).unwrap();
    symlink(&elsewhere, sample.journal()).unwrap();
    let error = verify(&sample.folder, &[]).unwrap_err();
    assert!(matches!(error, RecordError::NotPlain(_)), "{error}");
    let error = Record::open(&sample.folder, clock()).unwrap_err();
    assert!(matches!(error, RecordError::NotPlain(_)), "{error}");
}

#[test]
fn the_rigger_is_known_however_the_name_is_written() {
    for rigger in ["Ida-Fern", "IDA FERN.", "Ida F\u{65}\u{301}rn"] {
        let inspector = if rigger.contains('\u{301}') {
            "Ida F\u{e9}rn"
        } else {
            "Ida Fern"
        };
        let sample = Sample::of(inspector, rigger, true);
        let (key, _) = sample.key("ida");
        let error = seal(&sample.folder, inspector, &key, &SystemClock::default()).unwrap_err();
        assert!(
            matches!(error, SealError::OnePerson(_)),
            "{rigger}: {error}"
        );
    }
}

#[test]
fn a_seal_is_there_whole_or_not_at_all() {
    let sample = Sample::complete();
    let (key, _) = sample.key("ida");
    let seal = || seal(&sample.folder, "Ida Fern", &key, &SystemClock::default());
    let (seals, part) = (
        sample.folder.join("seals"),
        sample.folder.join("seals.part"),
    );
    // It is written beside its folder first; here it cannot be.
    fs::create_dir(&part).unwrap();
    assert!(matches!(seal(), Err(SealError::Record(_))));
    assert_eq!(fs::read_dir(&seals).unwrap().count(), 0);
    sample.expect_intact();
    // What a crash leaves there is no seal, and in nobody's way.
    fs::remove_dir(&part).unwrap();
    fs::write(&part, "{\"payload").unwrap();
    sample.expect_intact();
    seal().unwrap();
    assert!(!part.exists());
    assert!(sample.expect_intact().seals[0].problem.is_none());
}

/// What file managers and sync programs leave, a clip that a crash left, and what is only called like one.
#[test]
fn whatever_lies_among_the_clips_a_seal_that_was_made_verifies() {
    const LEFT_BY_CRASH: &str = "0009-front-left-hook-pin-1.wav";
    let files = [
        ".DS_Store",
        "._0002-front-left-hook-pin-1.wav",
        "Thumbs.db",
        "stray.wav",
        LEFT_BY_CRASH,
    ];
    let folders = ["@eaDir", "0009-a-folder-1.wav"];
    let sample = Sample::complete();
    let clips = sample.folder.join("clips");
    for file in files {
        fs::write(clips.join(file), file).unwrap();
    }
    for folder in folders {
        fs::create_dir_all(clips.join(folder).join("inner")).unwrap();
    }
    #[cfg(unix)]
    std::os::unix::fs::symlink("nowhere", clips.join("0009-a-link-1.wav")).unwrap();
    let (key, _) = sample.key("ida");
    let statement = seal(&sample.folder, "Ida Fern", &key, &SystemClock::default()).unwrap();
    let sealed: Vec<&String> = statement.clips.keys().collect();
    assert_eq!(sealed, ["0002-front-left-hook-pin-1.wav", LEFT_BY_CRASH]);
    let found = sample.expect_intact();
    let notes = found.notes.join("\n");
    assert!(notes.contains("in `clips/` lies what is none"), "{notes}");
    assert!(!notes.contains(LEFT_BY_CRASH), "{notes}");

    // They come and go with whoever looks at the folder.
    for file in &files[..4] {
        fs::remove_file(clips.join(file)).unwrap();
    }
    for folder in folders {
        fs::remove_dir_all(clips.join(folder)).unwrap();
    }
    fs::write(clips.join("desktop.ini"), "").unwrap();
    sample.expect_intact();
    let removal = forget_sound(
        &sample.folder,
        jiff::SignedDuration::ZERO,
        &SystemClock::default(),
    );
    removal.unwrap();
    sample.expect_intact();
    assert!(!clips.join(LEFT_BY_CRASH).exists());
    assert!(clips.join("desktop.ini").exists());
}

#[test]
fn a_sound_that_a_crash_left_is_under_the_seal() {
    let sample = Sample::complete();
    let left = sample.folder.join("clips/0009-front-left-hook-pin-1.wav");
    fs::write(&left, "RIFF").unwrap();
    let (key, _) = sample.key("ida");
    seal(&sample.folder, "Ida Fern", &key, &SystemClock::default()).unwrap();
    let place = Place::Clip {
        file: "0009-front-left-hook-pin-1.wav".to_owned(),
        entry: None,
    };
    fs::write(&left, "RIFX").unwrap();
    sample.expect(place.clone(), ProblemKind::Changed);
    fs::remove_file(&left).unwrap();
    sample.expect(place, ProblemKind::Removed);
}

#[test]
fn what_is_no_seal_does_not_seal_a_walk() {
    let open = |sample: &Sample| Record::open(&sample.folder, clock()).map(drop);
    let sample = Sample::of("Ida Fern", "Tom Alder", false);
    let seals = sample.folder.join("seals");
    fs::create_dir_all(seals.join("@eaDir")).unwrap();
    fs::write(seals.join(".DS_Store"), "x").unwrap();
    open(&sample).unwrap();
    let notes = sample.expect_intact().notes.join("\n");
    assert!(notes.contains("`.DS_Store` and `@eaDir`"), "{notes}");

    // What looks like one does, whatever it holds, and a seal by any name.
    let sealed = fs::read(Sample::sealed().folder.join("seals/inspector.json")).unwrap();
    let looks: [(&str, &[u8]); 3] = [
        ("second.json", b""),
        ("Inspector.JSON", b"{"),
        ("inspector.json.bak", &sealed),
    ];
    for (name, bytes) in looks {
        fs::write(seals.join(name), bytes).unwrap();
        let error = open(&sample).unwrap_err();
        assert!(matches!(error, RecordError::Sealed(_)), "{name}: {error}");
        assert!(!sample.verify().is_intact(), "{name}");
        fs::remove_file(seals.join(name)).unwrap();
    }
}

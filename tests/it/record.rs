//! What a user sees of a record: folder, locks, kills, verification, seals.

use loadwalk::plan::{Check, CheckId, CheckKind, Route, Station};
use loadwalk::record::{
    Clock, FORMAT, Place, ProblemKind, PublicKey, Record, RecordError, Role, SealError, SecretKey,
    SystemClock, Verification, clip_wav, new_key, read, seal, sha256_hex, verify,
};
use loadwalk::walk::{Decision, Entry, Heard, Hearing, Meaning, Note, Outcome, Stage};
use std::fs;
use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::Duration;
use tempfile::TempDir;

const PLAN: &[u8] = b"# the plan as walked\n";

fn clock() -> Box<dyn Clock> {
    Box::<SystemClock>::default()
}

fn id(text: &str) -> CheckId {
    CheckId(text.to_owned())
}

fn opened(inspector: &str, rigger: &str) -> Entry {
    let pin = Check {
        id: id("front-left/hook-pin"),
        name: "hook pin".to_owned(),
        also: Vec::new(),
        ask: "Front left hook pin?".to_owned(),
        kind: CheckKind::Presence { must_be: true },
        deficiency: None,
        when: Vec::new(),
        touches: Vec::new(),
        compare: None,
    };
    let route = Route {
        load: "stove crate".to_owned(),
        stations: vec![Station {
            key: "front-left".to_owned(),
            name: "front left corner".to_owned(),
            arrive: String::new(),
            place_m: None,
            checks: vec![pin],
        }],
        left_out: Vec::new(),
    };
    Entry::Opened {
        format: FORMAT,
        inspector: inspector.to_owned(),
        rigger: rigger.to_owned(),
        plan_sha256: sha256_hex(PLAN),
        route: Box::new(route),
        left_out: Vec::new(),
        capacity: Vec::new(),
    }
}

fn note(text: &str) -> Entry {
    Entry::Noted {
        check: None,
        note: Note {
            machine_transcript: text.to_owned(),
            clip: String::new(),
            clip_sha256: String::new(),
            typed: true,
        },
    }
}

/// An answer with its clip, as a walk writes them.
fn answer(record: &mut Record, value: &str) -> Entry {
    let wav = clip_wav(&vec![0.1; 1_600]);
    let clip = record.write_clip("front-left/hook-pin", &wav).unwrap();
    Entry::Answered {
        check: id("front-left/hook-pin"),
        value: value.to_owned(),
        outcome: match value {
            "present" => Outcome::Conforming,
            _ => Outcome::Deficient {
                deficiency: "front left hook pin missing".to_owned(),
            },
        },
        stage: Stage::Walk,
        heard: Heard {
            hearing: Hearing {
                decision: Decision::Take {
                    meaning: Meaning {
                        rule: "presence".to_owned(),
                        value: value.to_owned(),
                    },
                },
                words: value.to_owned(),
                confidence: 0.98,
                clip: clip.file,
                clip_sha256: clip.sha256,
                snr_db: Some(21.0),
            },
            confirmed_by: None,
        },
    }
}

fn asked() -> Entry {
    Entry::Asked {
        check: id("front-left/hook-pin"),
        attempt: 1,
    }
}

fn completed(ready: bool) -> Entry {
    Entry::Completed {
        ready,
        against: Vec::new(),
    }
}

/// A record on the disk that tests damage.
struct Sample {
    _root: TempDir,
    folder: PathBuf,
}

impl Sample {
    /// Six entries: opened, asked, answered, note, note, completed.
    fn complete() -> Self {
        Self::of("Ida Fern", "Tom Alder", true)
    }

    fn of(inspector: &str, rigger: &str, complete: bool) -> Self {
        let root = tempfile::tempdir().unwrap();
        let folder = root.path().join("walk");
        let mut record = Record::create(&folder, PLAN, clock()).unwrap();
        record.append(&opened(inspector, rigger)).unwrap();
        record.append(&asked()).unwrap();
        let answered = answer(&mut record, "present");
        record.append(&answered).unwrap();
        record.append(&note("strap frayed at the rim")).unwrap();
        record.append(&note("wind from the saddle")).unwrap();
        if complete {
            record.append(&completed(true)).unwrap();
        }
        Self {
            _root: root,
            folder,
        }
    }

    fn key(&self, name: &str) -> (SecretKey, PublicKey) {
        let stem = self.folder.with_file_name(name);
        let (private, public, _) = new_key(&stem, None).unwrap();
        (
            SecretKey::read(&private, None).unwrap(),
            PublicKey::read(&public).unwrap(),
        )
    }

    fn sealed() -> Self {
        let sample = Self::complete();
        let (key, _) = sample.key("ida");
        seal(&sample.folder, "Ida Fern", &key, &SystemClock::default()).unwrap();
        sample
    }

    fn journal(&self) -> PathBuf {
        self.folder.join("journal.jsonl")
    }

    fn lines(&self) -> Vec<String> {
        let text = fs::read_to_string(self.journal()).unwrap();
        text.lines().map(str::to_owned).collect()
    }

    fn write_lines(&self, lines: &[String]) {
        let text: String = lines.iter().map(|line| format!("{line}\n")).collect();
        fs::write(self.journal(), text).unwrap();
    }

    fn clip(&self) -> PathBuf {
        self.folder.join("clips/0002-front-left-hook-pin-1.wav")
    }

    fn verify(&self) -> Verification {
        verify(&self.folder, &[]).unwrap()
    }

    #[track_caller]
    fn expect(&self, place: Place, kind: ProblemKind) {
        let found = self.verify();
        let problem = found.first_problem.expect("a problem");
        assert_eq!((&problem.place, problem.kind), (&place, kind), "{problem}");
    }

    #[track_caller]
    fn expect_intact(&self) -> Verification {
        let found = self.verify();
        assert_eq!(found.problems, []);
        found
    }
}

#[test]
fn a_record_is_a_folder_that_a_person_can_read() {
    let sample = Sample::complete();
    let mut names: Vec<String> = fs::read_dir(&sample.folder)
        .unwrap()
        .map(|f| f.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    assert_eq!(
        names,
        [
            "README.txt",
            "clips",
            "journal.jsonl",
            "journal.lock",
            "plan.toml"
        ]
    );
    assert_eq!(fs::read(sample.folder.join("plan.toml")).unwrap(), PLAN);
    assert!(sample.clip().is_file());
    let line: serde_json::Value = serde_json::from_str(&sample.lines()[2]).unwrap();
    assert_eq!(line["seq"], 2);
    assert_eq!(line["entry"]["value"], "present");
    let found = sample.expect_intact();
    assert_eq!((found.entries, found.clips), (6, 1));
    assert!(found.proves.iter().any(|p| p.contains("no sound seal")));
}

#[test]
fn a_walk_goes_on_where_it_was() {
    let sample = Sample::of("Ida Fern", "Tom Alder", false);
    let (mut record, found) = Record::open(&sample.folder, clock()).unwrap();
    assert_eq!(found.entries.len(), 5);
    assert_eq!(found.torn, None);
    assert_eq!(record.append(&completed(true)).unwrap(), 5);
    drop(record);
    assert_eq!(sample.expect_intact().entries, 6);
}

#[test]
fn two_at_once_are_told_apart() {
    let sample = Sample::complete();
    let _open = Record::open(&sample.folder, clock()).unwrap();
    let error = Record::open(&sample.folder, clock()).unwrap_err();
    assert!(matches!(error, RecordError::InUse(_)), "{error}");
    assert!(error.to_string().contains("is open in another loadwalk"));
}

#[test]
fn a_folder_with_something_in_it_is_left_alone() {
    let sample = Sample::complete();
    let before = fs::read(sample.journal()).unwrap();
    let error = Record::create(&sample.folder, PLAN, clock()).unwrap_err();
    assert!(matches!(error, RecordError::NotEmpty(_)), "{error}");
    assert_eq!(fs::read(sample.journal()).unwrap(), before);
    let error = Record::open(Path::new("/nowhere/at/all"), clock()).unwrap_err();
    assert!(matches!(error, RecordError::NotARecord(_)), "{error}");
}

#[test]
fn a_torn_last_line_is_kept_aside_and_reported() {
    let sample = Sample::complete();
    let bytes = fs::read(sample.journal()).unwrap();
    fs::write(sample.journal(), &bytes[..bytes.len() - 30]).unwrap();
    sample.expect(Place::Entry(5), ProblemKind::Truncated);
    let (mut record, found) = Record::open(&sample.folder, clock()).unwrap();
    let torn = found.torn.unwrap();
    assert_eq!(torn.file, "journal.torn-1");
    assert_eq!(found.entries.len(), 5);
    let kept = fs::read(sample.folder.join("journal.torn-1")).unwrap();
    assert!(bytes[..bytes.len() - 30].ends_with(&kept));
    assert_eq!(record.append(&completed(true)).unwrap(), 5);
    drop(record);
    let found = sample.expect_intact();
    assert!(found.notes.iter().any(|n| n.contains("journal.torn-1")));
}

#[test]
fn a_record_broken_in_the_middle_is_not_gone_on_with() {
    let sample = Sample::complete();
    let mut lines = sample.lines();
    lines[3] = lines[3].replace("frayed", "good");
    sample.write_lines(&lines);
    let error = Record::open(&sample.folder, clock()).unwrap_err();
    assert!(
        error.to_string().contains("entry 3 (line 4) was changed"),
        "{error}"
    );
}

#[test]
fn a_record_of_a_newer_program_says_so() {
    let sample = Sample::complete();
    let mut lines = sample.lines();
    lines[0] = lines[0].replace("\"format\":1", "\"format\":7");
    sample.write_lines(&lines);
    let error = Record::open(&sample.folder, clock()).unwrap_err();
    assert!(
        error.to_string().contains("has journal format 7"),
        "{error}"
    );
    sample.expect(Place::Entry(0), ProblemKind::Newer);
}

#[test]
fn an_entry_cannot_name_a_clip_that_is_not_there() {
    let sample = Sample::of("Ida Fern", "Tom Alder", false);
    let (mut record, _) = Record::open(&sample.folder, clock()).unwrap();
    for clip in ["0009-never-1.wav", "../journal.jsonl"] {
        let entry = Entry::Noted {
            check: None,
            note: Note {
                machine_transcript: String::new(),
                clip: clip.to_owned(),
                clip_sha256: sha256_hex(b""),
                typed: false,
            },
        };
        let error = record.append(&entry).unwrap_err();
        assert!(matches!(error, RecordError::UnknownClip { .. }), "{error}");
    }
    assert_eq!(record.append(&completed(true)).unwrap(), 5);
}

#[test]
fn clips_of_one_check_get_names_of_their_own() {
    let root = tempfile::tempdir().unwrap();
    let mut record = Record::create(&root.path().join("walk"), PLAN, clock()).unwrap();
    let first = record.write_clip("front-left/hook-links", b"a").unwrap();
    let second = record.write_clip("front-left/hook-links", b"b").unwrap();
    assert_eq!(first.file, "0000-front-left-hook-links-1.wav");
    assert_eq!(second.file, "0000-front-left-hook-links-2.wav");
    assert_eq!(first.sha256, sha256_hex(b"a"));
}

#[test]
fn a_damaged_clip_is_named() {
    let clip = || Place::Clip {
        file: "0002-front-left-hook-pin-1.wav".to_owned(),
        entry: Some(2),
    };
    let sample = Sample::complete();
    let bytes = fs::read(sample.clip()).unwrap();
    fs::write(sample.clip(), &bytes[..bytes.len() - 100]).unwrap();
    sample.expect(clip(), ProblemKind::Truncated);
    let mut changed = bytes.clone();
    changed[200] ^= 1;
    fs::write(sample.clip(), changed).unwrap();
    sample.expect(clip(), ProblemKind::Changed);
    fs::remove_file(sample.clip()).unwrap();
    sample.expect(clip(), ProblemKind::Removed);
    fs::write(sample.clip(), bytes).unwrap();
    sample.expect_intact();
}

#[cfg(unix)]
#[test]
fn a_clip_that_is_a_link_to_elsewhere_is_not_followed() {
    let sample = Sample::complete();
    fs::remove_file(sample.clip()).unwrap();
    std::os::unix::fs::symlink("/dev/zero", sample.clip()).unwrap();
    let place = Place::Clip {
        file: "0002-front-left-hook-pin-1.wav".to_owned(),
        entry: Some(2),
    };
    sample.expect(place, ProblemKind::Changed);
}

#[test]
fn a_changed_plan_is_named() {
    let sample = Sample::complete();
    fs::write(sample.folder.join("plan.toml"), "# another\n").unwrap();
    sample.expect(Place::Plan, ProblemKind::Changed);
}

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
    assert!(error.to_string().contains("front-left/hook-pin"), "{error}");

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

/// The folder that a child works on; set only by the test that kills it.
const CHILD: &str = "LOADWALK_TEST_RECORD";

/// Goes on with a record until it is killed, and says what the journal acknowledged.
#[test]
#[ignore = "the child of `a_killed_process_loses_nothing_that_it_acknowledged`"]
fn child_that_is_killed() {
    let folder = PathBuf::from(std::env::var_os(CHILD).expect("set by the parent test"));
    let mut record = if folder.join("journal.jsonl").exists() {
        Record::open(&folder, clock()).unwrap().0
    } else {
        let mut record = Record::create(&folder, PLAN, clock()).unwrap();
        let seq = record.append(&opened("Ida Fern", "Tom Alder")).unwrap();
        println!("ack {seq} opened");
        record
    };
    loop {
        let seq = record.next_seq();
        let entry = if seq % 3 == 0 {
            answer(&mut record, "present")
        } else {
            // Long enough that a kill can fall between two blocks of one line.
            note(&format!("note {seq} {}", "on the long strap ".repeat(500)))
        };
        let name = sha256_hex(&serde_json::to_vec(&entry).unwrap());
        println!("ack {} {name}", record.append(&entry).unwrap());
    }
}

/// `LOADWALK_KILLS` sets how often; the default keeps the suite short.
#[test]
fn a_killed_process_loses_nothing_that_it_acknowledged() {
    let kills: u64 = std::env::var("LOADWALK_KILLS")
        .ok()
        .and_then(|n| n.parse().ok())
        .unwrap_or(200);
    let root = tempfile::tempdir().unwrap();
    let mut acknowledged: Vec<(u64, String)> = Vec::new();
    let mut folder = PathBuf::new();
    let mut random = 0x9e37_79b9_7f4a_7c15_u64;
    for kill in 0..kills {
        if kill % 20 == 0 {
            folder = root.path().join(format!("walk-{kill}"));
            acknowledged.clear();
        }
        // Xorshift: any spread of moments will do, and this one is the same each time.
        random ^= random << 13;
        random ^= random >> 7;
        random ^= random << 17;
        let acks = killed_after(
            &folder,
            Duration::from_micros(random % 30_000),
            random % 3 == 0,
        );
        acknowledged.extend(acks);
        check_acknowledged(&folder, &acknowledged);
    }
}

/// Runs the child and kills it after a time, counted from its first acknowledgement or its start;
/// returns what it acknowledged.
fn killed_after(folder: &Path, after: Duration, from_start: bool) -> Vec<(u64, String)> {
    let mut child = Command::new(std::env::current_exe().unwrap())
        .args([
            "record::child_that_is_killed",
            "--exact",
            "--ignored",
            "--nocapture",
        ])
        .env(CHILD, folder)
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let mut lines = BufReader::new(child.stdout.take().unwrap()).lines();
    let mut acks = Vec::new();
    if !from_start {
        acks.extend(lines.by_ref().map_while(Result::ok).find_map(|l| ack(&l)));
        assert!(!acks.is_empty(), "the child acknowledged nothing");
    }
    std::thread::sleep(after);
    child.kill().unwrap();
    child.wait().unwrap();
    acks.extend(lines.map_while(Result::ok).filter_map(|l| ack(&l)));
    acks
}

/// `ack SEQ HASH`, after whatever the test harness printed on the same line; `None` where the kill
/// cut the line.
fn ack(line: &str) -> Option<(u64, String)> {
    let mut words = line[line.find("ack ")?..].split(' ').skip(1);
    let seq = words.next()?.parse().ok()?;
    let name = words.next()?;
    (name == "opened" || name.len() == 64).then(|| (seq, name.to_owned()))
}

#[track_caller]
fn check_acknowledged(folder: &Path, acknowledged: &[(u64, String)]) {
    if acknowledged.is_empty() && !folder.join("journal.jsonl").exists() {
        // Killed before the record was made; the next child would find half a folder.
        let _ = fs::remove_dir_all(folder);
        return;
    }
    let entries = match Record::open(folder, clock()) {
        Ok((_, found)) => found.entries,
        Err(RecordError::Empty(_)) if acknowledged.is_empty() => {
            fs::remove_dir_all(folder).unwrap();
            return;
        }
        Err(error) => panic!("{error}"),
    };
    for (seq, name) in acknowledged {
        let found = &entries[usize::try_from(*seq).unwrap()].entry;
        if name != "opened" {
            assert_eq!(&sha256_hex(&serde_json::to_vec(found).unwrap()), name);
        }
    }
    let found = verify(folder, &[]).unwrap();
    assert_eq!(found.problems, []);
}

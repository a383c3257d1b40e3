//! What an inspector says against an answer is never lost: typed walks through the program, told by what
//! the record has at the end.

use super::talk::{loadwalk, ran};
use std::io::Write as _;
use std::path::PathBuf;
use std::process::Stdio;

/// A load with a keeper, padding, a drain with a wire that hangs on it, and straps on both sides.
pub(super) const PLAN: &str = r#"
format = 1
[load]
name = "stove crate"
kind = "rigid"
mass = "300 kg"
mass_from = "scale"
size = { length = "1 m", width = "1 m", height = "1 m" }
centre_of_gravity = { forward = "0 m", left = "0 m", up = "0.4 m" }
[load.provisions]
front = { forward = "0.4 m", left = "0 m", up = "1 m", rating = "900 kg" }
rear = { forward = "-0.4 m", left = "0 m", up = "1 m", rating = "900 kg" }
[sling_set]
name = "two-leg set"
key = "two"
rated_capacity = "1000 kg"
mass = "9 kg"
number_of_legs = 2
[sling_set.each_leg]
length = "1.5 m"
rating = "700 kg"
[[sling_set.leg]]
number = 1
provision = "front"
station = "front"
[[sling_set.leg]]
number = 2
provision = "rear"
station = "rear"
[lift]
by = "helicopter"
allowable = "700 kg"
allowable_from = "pilot in command"
hook_limit = "1000 kg"
[[station]]
name = "front"
[[station.check]]
name = "keeper"
kind = "state"
ask = "Keeper?"
states = [
  { say = "closed", conforms = true },
  { say = "open", deficiency = "keeper open" },
]
[[station.check]]
name = "padding"
kind = "presence"
[[station.check]]
name = "drain"
kind = "one-of"
states = ["plug in", "cap on"]
touches = ["plug-wire"]
[[station.check]]
name = "plug wire"
kind = "presence"
when = { check = "drain", is = "plug-in" }
[[station]]
name = "rear"
[[station.check]]
name = "left straps"
kind = "count"
noun = "straps"
expected = 3
[[station.check]]
name = "right straps"
kind = "count"
noun = "straps"
compare = { with = "left-straps", how = "alike" }
"#;

pub(super) struct Walked {
    pub _folder: tempfile::TempDir,
    pub record: PathBuf,
    pub out: String,
    pub code: i32,
}

/// Types these lines, a walk each with these options; the record goes on where it was broken off.
fn walk(options: &[&str], lines: &str) -> Walked {
    walk_of(PLAN, &[&["--brief"], options].concat(), lines)
}

/// The same of another plan, and as a whole.
pub(super) fn walk_of(text: &str, options: &[&str], lines: &str) -> Walked {
    let folder = tempfile::tempdir().expect("a folder");
    let plan = folder.path().join("plan.toml");
    std::fs::write(&plan, text).expect("a plan");
    let record = folder.path().join("record");
    let mut command = loadwalk();
    command.arg("walk").arg(&plan);
    command.args([
        "--inspector",
        "Ilse Brandt",
        "--rigger",
        "Oskar Venn",
        "--keys",
    ]);
    command.args(options).arg("--record").arg(&record);
    let (code, out) = typed(&mut command, lines);
    Walked {
        _folder: folder,
        record,
        out,
        code,
    }
}

fn typed(command: &mut std::process::Command, lines: &str) -> (i32, String) {
    let mut child = command
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("it starts");
    let mut stdin = child.stdin.take().expect("its input");
    for line in lines.split(" / ") {
        // A walk that ends before its last line takes no more.
        let _ = writeln!(stdin, "{line}");
    }
    drop(stdin);
    let (code, out, err) = ran(&child.wait_with_output().expect("it ends"));
    (code, format!("{out}{err}"))
}

impl Walked {
    pub fn show(&self) -> serde_json::Value {
        let (_, out, err) = ran(&loadwalk()
            .args(["show", "--json"])
            .arg(&self.record)
            .output()
            .expect("it runs"));
        serde_json::from_str(&out).unwrap_or_else(|e| panic!("{e}: {out}{err}"))
    }

    pub fn status(&self, check: &str) -> String {
        let view = self.show();
        let checks = view["checks"].as_array().expect("checks");
        let found = checks.iter().find(|c| c["check"] == check);
        found.expect("that check")["status"]
            .as_str()
            .expect("a word")
            .to_owned()
    }

    /// The check stands so; else what was said is shown.
    pub fn stands(&self, check: &str, status: &str) {
        assert_eq!(self.status(check), status, "{check}: {}", self.out);
    }

    pub fn resume(&mut self, lines: &str) {
        let mut command = loadwalk();
        command
            .arg("resume")
            .arg(&self.record)
            .args(["--keys", "--brief"]);
        (self.code, self.out) = typed(&mut command, lines);
    }
}

#[test]
fn no_before_a_finding_is_never_taken_as_that_finding() {
    for said in [
        "keeper closed no padding in place",
        "keeper closed no padding present",
        "keeper closed padding in no padding in",
        "no padding in place",
    ] {
        let walked = walk(&["--called"], said);
        assert_ne!(
            walked.status("front/padding"),
            "conforming",
            "{said}: {}",
            walked.out
        );
        assert!(
            walked.out.contains("Padding"),
            "it is asked at once: {}",
            walked.out
        );
    }
    // What was found before is corrected by another value of the same.
    let walked = walk(&["--called"], "keeper closed no keeper open");
    walked.stands("front/keeper", "deficient");
    let walked = walk(
        &["--called=rear"],
        "closed / present / cap on / left straps two no left straps three",
    );
    walked.stands("rear/left-straps", "conforming");
}

#[test]
fn a_denial_withdraws_what_was_called_before_it() {
    let mut walked = walk(
        &["--called=front"],
        "keeper closed padding in / keeper not closed / stop / carry on / carry on / drain cap on",
    );
    assert_ne!(
        walked.status("front/keeper"),
        "conforming",
        "{}",
        walked.out
    );
    walked.resume("open");
    walked.stands("front/keeper", "deficient");
}

#[test]
fn a_second_finding_is_asked_about_and_not_dropped() {
    let walked = walk(
        &["--called=front"],
        "keeper closed padding in / padding not applicable / yes",
    );
    walked.stands("front/padding", "not-applicable");
}

#[test]
fn a_number_right_behind_a_count_opens_that_count() {
    // The other count is open, and nobody named it.
    let plan = PLAN.replace("noun = \"straps\"\ncompare", "noun = \"hooks\"\ncompare");
    let called = |breath: &str| {
        let lines = format!("closed / present / cap on / {breath}");
        walk_of(&plan, &["--brief", "--called=rear"], &lines)
    };
    let walked = called("three straps, five");
    walked.stands("rear/left-straps", "open");
    walked.stands("rear/right-straps", "open");
    let walked = called("three straps, three");
    walked.stands("rear/left-straps", "conforming");
    walked.stands("rear/right-straps", "open");
}

#[test]
fn a_typed_question_or_range_is_no_answer() {
    let walked = walk(&[], "closed?");
    walked.stands("front/keeper", "open");
    for count in ["2-3", "3?"] {
        let walked = walk(&[], &format!("closed / present / cap on / {count}"));
        walked.stands("front/padding", "conforming");
        walked.stands("rear/left-straps", "open");
    }
    let walked = walk(&["--called=front"], "keeper closed? padding in");
    walked.stands("front/keeper", "open");
}

#[test]
fn which_item_was_wrong_is_asked_until_it_is_told() {
    let called = "keeper closed padding in drain cap on / correction";
    for then in ["station done", "ask me", "drain cap on"] {
        let mut walked = walk(&["--called=front"], &format!("{called} / {then}"));
        // Nothing was told, so nothing goes on: not in this walk, nor in one taken up again.
        assert!(
            walked.out.matches("Which").count() >= 2,
            "{then}: {}",
            walked.out
        );
        walked.resume("padding missing");
        assert!(walked.out.contains("Which"), "{then}: {}", walked.out);
        assert_eq!(
            walked.status("front/padding"),
            "deficient",
            "{then}: {}",
            walked.out
        );
    }
}

#[test]
fn what_an_answer_left_out_is_asked_afresh() {
    // The plug was out and is put in again: its wire is looked at again too.
    let walked = walk(
        &[],
        "closed / present / plug in / present / go back / go back / neither / plug in",
    );
    assert_ne!(
        walked.status("front/plug-wire"),
        "conforming",
        "{}",
        walked.out
    );
}

#[test]
fn a_count_with_nothing_to_compare_it_with_does_not_conform() {
    let walked = walk(
        &[],
        "closed / present / cap on / not applicable / yes / 97 / yes",
    );
    walked.stands("rear/right-straps", "deficient");
    assert_ne!(walked.code, 0);
}

#[test]
fn several_counts_of_a_station_are_read_back_by_name() {
    let walked = walk(
        &["--called=rear"],
        "closed / present / cap on / left straps three right straps three / station done",
    );
    assert!(
        walked.out.contains("Left straps three, right straps three"),
        "{}",
        walked.out
    );
}

#[test]
fn what_is_no_letter_in_a_typed_line_ends_nothing() {
    let folder = tempfile::tempdir().expect("a folder");
    let plan = folder.path().join("plan.toml");
    std::fs::write(&plan, PLAN).expect("a plan");
    let record = folder.path().join("record");
    let mut child = loadwalk()
        .arg("walk")
        .arg(&plan)
        .args([
            "--inspector",
            "Ilse Brandt",
            "--rigger",
            "Oskar Venn",
            "--keys",
            "--record",
        ])
        .arg(&record)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("it starts");
    let mut stdin = child.stdin.take().expect("its input");
    stdin
        .write_all(b"closed\nmissing\nlies f\xfcnf \x1b[31msteps off\nleave it\ncap on\n")
        .expect("typed");
    drop(stdin);
    let (_, out, err) = ran(&child.wait_with_output().expect("it ends"));
    let walked = Walked {
        _folder: folder,
        record,
        out: format!("{out}{err}"),
        code: 0,
    };
    walked.stands("front/drain", "conforming");
    let (_, text, _) = ran(&loadwalk()
        .arg("show")
        .arg(&walked.record)
        .output()
        .expect("it runs"));
    assert!(
        text.contains("steps off") && !text.contains('\u{1b}'),
        "{text}"
    );
}

#[test]
fn a_name_that_steers_a_terminal_is_refused() {
    for name in ["Ilse\nBrandt", "Ilse \u{1b}[2J"] {
        let folder = tempfile::tempdir().expect("a folder");
        let plan = folder.path().join("plan.toml");
        std::fs::write(&plan, PLAN).expect("a plan");
        let (code, _, err) = ran(&loadwalk()
            .arg("walk")
            .arg(&plan)
            .args(["--inspector", name, "--rigger", "Oskar Venn", "--keys"])
            .output()
            .expect("it runs"));
        assert_eq!(code, 2, "{err}");
        assert!(err.contains("control character"), "{err}");
    }
}

#[test]
fn a_complete_walk_is_not_gone_on_with_and_tells_how_it_stands() {
    let mut walked = walk(&[], "closed / present / cap on / 3 / 3 / yes");
    assert_eq!(walked.code, 0, "{}", walked.out);
    walked.resume("");
    assert!(walked.out.contains("READY"), "{}", walked.out);
    assert_eq!(walked.code, 0);
}

#[test]
fn a_plan_changed_in_an_open_record_is_told_before_the_walk_goes_on() {
    let mut walked = walk(&[], "closed / present");
    let plan = walked.record.join("plan.toml");
    let text = std::fs::read_to_string(&plan).expect("the plan");
    std::fs::write(&plan, text.replace("700 kg", "7000 kg")).expect("changed");
    walked.resume("cap on");
    assert_eq!(walked.code, 2, "{}", walked.out);
    assert!(walked.out.contains("plan.toml"), "{}", walked.out);
    walked.stands("front/drain", "open");
}

#[test]
fn what_a_review_sent_back_is_asked_again_when_the_walk_goes_on() {
    let mut walked = walk(&[], "closed / present");
    let key = walked.record.parent().expect("a folder").join("eva");
    let (code, _, err) = ran(&loadwalk()
        .args(["key", "new"])
        .arg(&key)
        .output()
        .expect("it runs"));
    assert_eq!(code, 0, "{err}");
    let (code, _, err) = ran(&loadwalk()
        .arg("amend")
        .arg(&walked.record)
        .args(["--as", "Eva Rowan", "--key"])
        .arg(key.with_extension("key.pem"))
        .args([
            "re-inspect",
            "front/keeper",
            "--why",
            "the voice is not clear",
        ])
        .output()
        .expect("it runs"));
    assert_eq!(code, 0, "{err}");
    walked.resume("cap on / open / 3 / 3 / yes");
    assert!(walked.out.contains("sent back in review"), "{}", walked.out);
    walked.stands("front/keeper", "deficient");
    assert_eq!(walked.code, 1);
}

#[test]
fn what_is_corrected_at_the_beginning_of_a_breath_is_what_is_named() {
    for word in ["I mean", "sorry", "correction"] {
        let lines = format!("keeper closed / padding in / {word} keeper open");
        let walked = walk(&["--called=front"], &lines);
        assert_eq!(
            walked.status("front/keeper"),
            "deficient",
            "{word}: {}",
            walked.out
        );
        assert_eq!(
            walked.status("front/padding"),
            "conforming",
            "{word}: {}",
            walked.out
        );
    }
}

#[test]
fn what_is_said_against_an_answer_behind_a_stop_is_not_lost() {
    let mut walked = walk(
        &["--called=front"],
        "keeper closed padding in / stop padding missing / carry on",
    );
    assert_ne!(
        walked.status("front/padding"),
        "conforming",
        "{}",
        walked.out
    );
    walked.resume("missing");
    walked.stands("front/padding", "deficient");
}

#[test]
fn which_item_was_wrong_outlives_a_hold_a_note_and_a_break() {
    for between in ["stand by / carry on", "take a note / carry on"] {
        let lines = format!("keeper closed padding in / correction / {between}");
        let mut walked = walk(&["--called=front"], &lines);
        walked.resume("padding missing");
        assert!(walked.out.contains("Which"), "{between}: {}", walked.out);
        assert_eq!(
            walked.status("front/padding"),
            "deficient",
            "{between}: {}",
            walked.out
        );
    }
    // With nothing to correct nothing is asked later.
    let mut walked = walk(&["--called=front"], "correction / keeper closed padding in");
    walked.resume("drain cap on");
    assert!(!walked.out.contains("Which"), "{}", walked.out);
}

#[test]
fn a_state_may_be_typed_with_its_and_a_fault_that_nobody_named_is_one() {
    let walked = walk(&[], "it's closed");
    walked.stands("front/keeper", "conforming");
    for said in [
        "not closed",
        "it isn't closed",
        "unclosed",
        "bent",
        "it's cracked",
    ] {
        let walked = walk(&[], said);
        assert_eq!(
            walked.status("front/keeper"),
            "deficient",
            "{said}: {}",
            walked.out
        );
    }
}

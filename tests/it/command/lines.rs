//! Walks that are typed line by line, and what their records hold at the end.

use super::talk::{loadwalk, ran};
use std::io::Write as _;
use std::path::PathBuf;
use std::process::Stdio;

/// A load with a keeper, padding, a drain with a wire that hangs on it, and straps on both sides.
pub const PLAN: &str = r#"
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
pub(super) fn walk(options: &[&str], lines: &str) -> Walked {
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

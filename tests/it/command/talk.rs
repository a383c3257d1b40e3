//! A walk by typed answers: the test reads what the program prints and types as it is asked.

use serde_json::Value;
use std::io::{BufRead, BufReader, Lines, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdin, ChildStdout, Command, Output, Stdio};

pub fn loadwalk() -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_loadwalk"));
    command.env("NO_COLOR", "1");
    // How the user of this machine likes it spoken is no matter here.
    command.env(
        "LOADWALK_VOICE",
        Path::new(env!("CARGO_TARGET_TMPDIR")).join("voice.json"),
    );
    // Nor is the headset that was chosen last.
    command.env("LOADWALK_DEVICES", "/nowhere/devices.json");
    // A tryout of whoever runs the tests is none of theirs.
    command.env("LOADWALK_TRYOUT", "/nowhere/tryout.json");
    command
}

pub fn shipped(plan: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("plans")
        .join(plan)
}

/// Exit code, stdout, stderr.
pub fn ran(output: &Output) -> (i32, String, String) {
    let text = |bytes: &[u8]| String::from_utf8(bytes.to_vec()).expect("UTF-8");
    let code = output.status.code().expect("it ended by itself");
    (code, text(&output.stdout), text(&output.stderr))
}

/// Runs the program on these arguments: exit code, stdout, stderr.
pub fn run(args: &[&str]) -> (i32, String, String) {
    ran(&loadwalk().args(args).output().expect("it runs"))
}

/// A new private key in a folder; its file.
pub fn key(folder: &Path, name: &str) -> String {
    let stem = folder.join(name);
    let stem = stem.to_str().expect("UTF-8");
    let (code, _, told) = run(&["key", "new", stem]);
    assert_eq!(code, 0, "{told}");
    format!("{stem}.key.pem")
}

/// One run of `walk` or `resume`.
pub struct Talk {
    pub child: Child,
    keys: Option<ChildStdin>,
    lines: Lines<BufReader<ChildStdout>>,
    /// Texts spoken, in order.
    pub said: Vec<String>,
    /// Entries that the program called durable, in order.
    pub entries: Vec<Value>,
}

impl Talk {
    pub fn walk(plan: &Path, record: &Path, more: &[&str]) -> Self {
        let mut command = loadwalk();
        command.arg("walk").arg(plan).arg("--record").arg(record);
        command.args(["--inspector", "Ilse Brandt", "--rigger", "Oskar Venn"]);
        Self::start(command, more)
    }

    pub fn resume(record: &Path, more: &[&str]) -> Self {
        let mut command = loadwalk();
        command.arg("resume").arg(record);
        Self::start(command, more)
    }

    fn start(mut command: Command, more: &[&str]) -> Self {
        command.stderr(Stdio::null());
        Self::of(command, more)
    }

    /// Talks to a command that walks or resumes.
    pub fn of(mut command: Command, more: &[&str]) -> Self {
        command.args(["--keys", "--json"]).args(more);
        command.stdin(Stdio::piped()).stdout(Stdio::piped());
        let mut child = command.spawn().expect("it starts");
        let keys = child.stdin.take();
        let lines = BufReader::new(child.stdout.take().expect("piped")).lines();
        Self {
            child,
            keys,
            lines,
            said: Vec::new(),
            entries: Vec::new(),
        }
    }

    /// Reads one line; false at the end. `listening`: whether the program now waits for an answer.
    pub fn read(&mut self, listening: &mut bool) -> bool {
        // A line cut off by a kill is no word of the program's.
        let Some(Ok(line)) = self.lines.next() else {
            return false;
        };
        let Ok(line) = serde_json::from_str::<Value>(&line) else {
            return false;
        };
        *listening = line["listening"] == true;
        if let Some(text) = line["say"].as_str() {
            self.said.push(text.to_owned());
        }
        if line["entry"].is_object() {
            self.entries.push(line["entry"].clone());
        }
        true
    }

    /// Reads until the program waits for an answer; false where it ended.
    pub fn listens(&mut self) -> bool {
        let mut listening = false;
        while !listening {
            if !self.read(&mut listening) {
                return false;
            }
        }
        true
    }

    /// Types an answer; nothing where the program is gone.
    pub fn types(&mut self, words: &str) {
        if let Some(keys) = &mut self.keys {
            let _ = writeln!(keys, "{words}");
        }
    }

    /// Waits until it listens, then types; gives what was said since the last answer.
    pub fn answer(&mut self, words: &str) -> String {
        let before = self.said.len();
        assert!(self.listens(), "it ended before {words:?}: {:?}", self.said);
        self.types(words);
        self.said[before..].join(" | ")
    }

    /// Types where it listens already, and waits until it does again or ends.
    pub fn answer_now(&mut self, words: &str) {
        self.types(words);
        self.listens();
    }

    /// Closes the keyboard; gives the exit code and what was said last.
    pub fn end(mut self) -> (i32, String) {
        let before = self.said.len();
        drop(self.keys.take());
        while self.read(&mut false) {}
        let status = self.child.wait().expect("it ends");
        let code = status.code().expect("by itself");
        (code, self.said[before..].join(" | "))
    }

    /// The check that the last question was about.
    pub fn asked(&self) -> Option<&str> {
        let asked = self.entries.iter().rev().find(|e| e["entry"] == "asked")?;
        asked["check"].as_str()
    }
}

/// Words that answer a check of a route so that it conforms.
pub fn conforming(check: &Value) -> String {
    let kind = &check["kind"];
    match kind["kind"].as_str().expect("a kind") {
        "presence" if kind["must_be"] == true => "present".to_owned(),
        "presence" => "missing".to_owned(),
        "condition" => "good".to_owned(),
        "count" => kind["expected"].as_u64().unwrap_or(1).to_string(),
        "state" => {
            let states = kind["states"].as_array().expect("states");
            let good = states.iter().find(|s| s["deficiency"].is_null());
            good.expect("one conforms")["spoken"][0]
                .as_str()
                .expect("a form")
                .to_owned()
        }
        "reading" => {
            let least = kind["min"].as_f64().unwrap_or(1.0);
            format!("{least}")
        }
        _ => kind["expected"].as_str().unwrap_or("QX7").to_owned(),
    }
}

/// All checks of the route in an `opened` entry, in order.
pub fn checks(opened: &Value) -> Vec<Value> {
    let stations = opened["route"]["stations"].as_array().expect("stations");
    let checks = stations
        .iter()
        .map(|s| s["checks"].as_array().expect("checks"));
    checks.flatten().cloned().collect()
}

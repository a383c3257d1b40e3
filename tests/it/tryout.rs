//! `loadwalk tryout` on spoken fixtures: quiet, in pad noise, silent, misread; and what the next walk keeps
//! of it. Needs the fetched models, as `make test` has them.

#![cfg(feature = "whisper")]

use crate::command::talk::{loadwalk, ran, shipped};
use loadwalk::audio::pad_noise::{Preset, mix};
use serde_json::Value;
use std::path::{Path, PathBuf};

/// Fixtures of the dozen words that are tried where no plan is given, in order.
const WORDS: [&str; 12] = [
    "joe/presence/present.flac",
    "joe/presence/missing.flac",
    "joe/count/seven.flac",
    "joe/condition/good.flac",
    "joe/condition/deficient.flac",
    "joe/count/fifteen.flac",
    "joe/control/stop.flac",
    "demo/mike-four-seven.flac",
    "joe/yes-no/yes.flac",
    "joe/control/correction.flac",
    "joe/presence/not-there.flac",
    "demo/two-point-one.flac",
];

fn fixture(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("audio-fixtures")
        .join(name)
}

/// A folder with a list of sounds and a file for the result.
struct Bench(tempfile::TempDir);

impl Bench {
    fn new() -> Self {
        Self(tempfile::tempdir().expect("a folder"))
    }

    fn kept(&self) -> PathBuf {
        self.0.path().join("tryout.json")
    }

    /// Writes a list of these files.
    fn list(&self, files: &[PathBuf]) -> PathBuf {
        let list = self.0.path().join("words.txt");
        let lines: Vec<String> = files.iter().map(|f| f.display().to_string()).collect();
        std::fs::write(&list, lines.join("\n")).expect("it is written");
        list
    }

    /// The words as `change` makes them, as sound files.
    fn changed(&self, change: impl Fn(usize, &[f32]) -> Vec<f32>) -> Vec<PathBuf> {
        let each = WORDS.iter().enumerate();
        each.map(|(n, name)| {
            let sound = loadwalk::audio::read(&fixture(name)).expect("it reads");
            let path = self.0.path().join(format!("{n}.wav"));
            let wav = loadwalk::audio::wav_bytes(&change(n, &sound));
            std::fs::write(&path, wav).expect("it is written");
            path
        })
        .collect()
    }

    /// Exit code, the words' lines, the result.
    fn try_out(&self, files: &[PathBuf]) -> (i32, Vec<Value>, Value) {
        let mut command = loadwalk();
        command.env("LOADWALK_TRYOUT", self.kept());
        command.args(["tryout", "--json", "--fast", "--threads", "1"]);
        command.args(["--inspector", "Ilse Brandt", "--answers"]);
        command.arg(self.list(files));
        let (code, out, err) = ran(&command.output().expect("it starts"));
        let lines = out.lines().map(serde_json::from_str::<Value>);
        let mut lines: Vec<Value> = lines.collect::<Result<_, _>>().expect("JSON lines");
        let last = lines.pop().unwrap_or_else(|| panic!("{err}"));
        (code, lines, last["tryout"].clone())
    }
}

fn plain() -> Vec<PathBuf> {
    WORDS.map(fixture).to_vec()
}

#[test]
fn quiet_words_are_relied_on_and_the_result_is_kept() {
    let bench = Bench::new();
    let (code, words, result) = bench.try_out(&plain());
    assert_eq!(result["advice"], "rely-on-voice", "{result} {words:#?}");
    assert_eq!((code, words.len()), (0, 12));
    assert_eq!(result["misheard"], 0);
    assert_eq!(words[6]["word"], "stop");
    assert_eq!(words[6]["kind"], "stop");
    let text = std::fs::read_to_string(bench.kept()).expect("it is kept");
    assert_eq!(serde_json::from_str::<Value>(&text).expect("JSON"), result);
}

/// The ratio is that at which the noise was mixed in: measured in another way, on cut speech, so that some
/// decibels lie between.
#[test]
fn noise_is_measured_and_worsens_the_advice() {
    let bench = Bench::new();
    let at = |snr: f64| {
        let files = bench.changed(|n, sound| {
            // Surroundings to measure the noise in.
            let quiet = vec![0.0; 16_000];
            let sound = [&quiet, sound, &quiet].concat();
            let noise = Preset::MediumFourBlade.parameters();
            let noise = noise.generate(sound.len(), 7 + n as u64);
            mix(&sound, &noise, snr).expect("it mixes")
        });
        bench.try_out(&files)
    };
    let (_, _, easy) = at(15.0);
    let (_, _, hard) = at(5.0);
    let (code, words, hopeless) = at(-8.0);
    let snr = |result: &Value| result["snr_db"].as_f64().expect("measured");
    assert!((snr(&easy) - 15.0).abs() < 5.0, "{easy}");
    assert!((snr(&hard) - 5.0).abs() < 5.0, "{hard}");
    assert!(snr(&easy) > snr(&hard) + 5.0);
    assert_ne!(hard["advice"], "rely-on-voice", "{hard}");
    assert_eq!(hopeless["advice"], "no-voice", "{hopeless} {words:#?}");
    assert_eq!(code, 1, "the answer is no");
    for result in [&easy, &hard, &hopeless] {
        let count = |key: &str| result[key].as_u64().expect("a number");
        let parts = ["taken", "confirmed", "refused", "misheard", "unheard"];
        assert_eq!(parts.map(count).iter().sum::<u64>(), 12, "{result}");
    }
}

#[test]
fn silence_is_a_muted_microphone() {
    let bench = Bench::new();
    let silence = vec![fixture("no-answer/silence.flac"); 12];
    let (code, words, result) = bench.try_out(&silence);
    assert_eq!((code, &result["advice"]), (1, &Value::from("no-voice")));
    assert_eq!(result["unheard"], 12);
    assert!(words.iter().all(|w| w["fate"] == "unheard"));
    let reasons = result["reasons"].to_string();
    assert!(reasons.contains("no sound: unmute it"), "{reasons}");
}

/// Whatever is said in the place of a word: what would be taken as the wrong thing forbids voice.
#[test]
fn a_wrong_take_forbids_voice() {
    let bench = Bench::new();
    let mut files = plain();
    files[0] = fixture("joe/presence/missing.flac");
    let (code, words, result) = bench.try_out(&files);
    assert_eq!(words[0]["fate"], "wrongly-taken", "{}", words[0]);
    assert_eq!((code, &result["advice"]), (1, &Value::from("no-voice")));
    assert_eq!(result["misheard"], 1);
}

#[test]
fn clipping_is_told() {
    let bench = Bench::new();
    let loud = |_, sound: &[f32]| -> Vec<f32> {
        let most = sound.iter().fold(0.0f32, |m, s| m.max(s.abs()));
        sound
            .iter()
            .map(|s| (s * 4.0 / most).clamp(-1.0, 1.0))
            .collect()
    };
    let (_, _, result) = bench.try_out(&bench.changed(loud));
    assert!(
        result["clipped"].as_f64().expect("a share") > 0.001,
        "{result}"
    );
    assert_ne!(result["advice"], "rely-on-voice");
    let reasons = result["reasons"].to_string();
    assert!(reasons.contains("turn the microphone down"), "{reasons}");
}

#[test]
fn a_list_that_is_too_short_is_named_with_the_word() {
    let bench = Bench::new();
    let mut command = loadwalk();
    command.env("LOADWALK_TRYOUT", bench.kept());
    command.args(["tryout", "--fast", "--answers"]);
    command.arg(bench.list(&plain()[..2]));
    let (code, _, err) = ran(&command.output().expect("it starts"));
    assert_eq!(code, 2);
    assert!(err.contains("no file for \"seven\", word 3"), "{err}");
    assert!(!bench.kept().exists());
}

/// A walk after a tryout that advises against voice: said at its start, written into the record, shown; and
/// what would make a check conform is asked back.
#[test]
fn the_next_walk_keeps_it_and_asks_back() {
    let bench = Bench::new();
    let mut files = plain();
    files[0] = fixture("joe/presence/missing.flac");
    bench.try_out(&files);
    let record = bench.0.path().join("record");
    let answers = [fixture("demo/complete.flac"), fixture("demo/complete.flac")];
    let plan = std::fs::read_to_string(shipped("generator-skid.toml")).expect("the plan");
    let plan_file = bench.0.path().join("plan.toml");
    std::fs::write(&plan_file, plan).expect("it is written");
    let walk = |inspector: &str, record: &Path| {
        let mut walk = loadwalk();
        walk.env("LOADWALK_TRYOUT", bench.kept());
        walk.arg("walk").arg(&plan_file).args(["--json", "--fast"]);
        walk.args(["--inspector", inspector, "--rigger", "Oskar Venn"]);
        walk.arg("--answers").arg(bench.list(&answers));
        walk.arg("--record").arg(record);
        ran(&walk.output().expect("it starts"))
    };
    let (_, out, err) = walk("Ilse Brandt", &record);
    assert!(
        err.contains("tried out before: do not use voice here"),
        "{err}"
    );
    let lines: Vec<Value> = out
        .lines()
        .map(|l| serde_json::from_str(l).expect("JSON lines"))
        .collect();
    let said = |words: &str| {
        let mut said = lines.iter().filter_map(|l| l["say"].as_str());
        said.any(|s| s.contains(words))
    };
    assert!(said("do not use voice here"), "{out}");
    let entries = || lines.iter().map(|l| &l["entry"]);
    let opened = entries().find(|e| e["entry"] == "opened").expect("opened");
    assert_eq!(opened["tryout"]["advice"], "no-voice");
    // The evidence sufficed, and it was asked back all the same.
    let heard = lines
        .iter()
        .find(|l| l["heard"].is_string())
        .expect("heard");
    assert_eq!(heard["decision"]["decision"], "take", "{heard}");
    let first = entries().find(|e| e["entry"] == "doubted" || e["entry"] == "answered");
    assert_eq!(first.expect("dealt with")["entry"], "doubted", "{out}");

    let mut show = loadwalk();
    let (_, shown, _) = ran(&show.arg("show").arg(&record).output().expect("it starts"));
    assert!(shown.contains("tried out before the walk"), "{shown}");
    assert!(shown.contains("do not use voice here: Ilse Brandt on files"));
    let mut verify = loadwalk();
    let (code, ..) = ran(&verify
        .arg("verify")
        .arg(&record)
        .output()
        .expect("it starts"));
    assert_eq!(code, 0);
    let mut report = loadwalk();
    let page = bench.0.path().join("report.html");
    report.arg("report").arg(&record).arg("--html").arg(&page);
    ran(&report.output().expect("it starts"));
    let page = std::fs::read_to_string(page).expect("the report");
    assert!(page.contains("<dt>Tried out before</dt>"));

    // Another inspector's voice was not tried.
    let (_, out, _) = walk("Eva Rowan", &bench.0.path().join("other"));
    assert!(!out.contains("\"tryout\""));
    assert!(!out.contains("do not use voice here"));
}

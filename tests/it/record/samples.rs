//! Records made as a walk makes them, for the tests beside this file to damage.

use loadwalk::plan::{Check, CheckId, CheckKind, LeftOut, Route, Station};
use loadwalk::record::{
    Clock, FORMAT, NO_PREV, Place, ProblemKind, PublicKey, Record, SecretKey, SystemClock,
    Verification, clip_wav, new_key, seal, sha256_hex, verify,
};
use loadwalk::walk::{
    Advice, CapacityLine, Decision, Entry, Heard, Hearing, Meaning, Note, Other, Outcome, Stage,
    Tryout,
};
use std::fs;
use std::path::PathBuf;
use tempfile::TempDir;

pub const PLAN: &[u8] = b"# the plan as walked\n";

pub fn clock() -> Box<dyn Clock> {
    Box::<SystemClock>::default()
}

pub fn id(text: &str) -> CheckId {
    CheckId(text.to_owned())
}

pub fn opened(inspector: &str, rigger: &str) -> Entry {
    let pin = Check {
        id: id("front-left/hook-pin"),
        name: "hook pin".to_owned(),
        also: Vec::new(),
        together: None,
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
        outline_m: None,
    };
    Entry::Opened {
        format: FORMAT,
        inspector: inspector.to_owned(),
        rigger: rigger.to_owned(),
        plan_sha256: sha256_hex(PLAN),
        route: Box::new(route),
        left_out: Vec::new(),
        capacity: vec![CapacityLine {
            question: "aircraft".to_owned(),
            passes: true,
            spoken: "640 of 900 kilograms".to_owned(),
            look: "Front left leg, over 80 percent of its limit".to_owned(),
        }],
        tryout: None,
        rigger_marks: Default::default(),
        practice: None,
        pace: None,
    }
}

fn tried_out() -> Tryout {
    Tryout {
        wall: "2026-07-01T08:00:00+02:00[Europe/Zurich]".to_owned(),
        inspector: "Ida Fern".to_owned(),
        microphone: "headset".to_owned(),
        advice: Advice::ConfirmMore,
        reasons: vec!["speech is only 6 dB over the noise".to_owned()],
        words: 12,
        taken: 9,
        confirmed: 2,
        refused: 1,
        misheard: 0,
        unheard: 0,
        speech_dbfs: Some(-20.5),
        noise_dbfs: None,
        snr_db: Some(6.0),
        clipped: 0.0,
    }
}

/// What the rigger says of the pin in [`opened_with_count`].
pub const RIGGER_SAYS: &str = "pinned & moused";

/// As `opened`, with a second check, and one that this load does not have.
pub fn opened_with_count() -> Entry {
    let Entry::Opened {
        format,
        inspector,
        rigger,
        plan_sha256,
        mut route,
        capacity,
        ..
    } = opened("Ida Fern", "Tom Alder")
    else {
        unreachable!("`opened` makes it");
    };
    let pin = &route.stations[0].checks[0];
    let links = Check {
        id: id("front-left/hook-links"),
        name: "hook links".to_owned(),
        ask: "How many links from the front left grab hook?".to_owned(),
        kind: CheckKind::Count {
            expected: Some(3),
            noun: "links".to_owned(),
        },
        ..pin.clone()
    };
    route.stations[0].checks.push(links);
    let left_out = LeftOut {
        check: id("spreader/keeper"),
        name: "spreader keeper".to_owned(),
        reason: "option spreader is not fitted".to_owned(),
    };
    route.left_out.push(left_out.clone());
    Entry::Opened {
        format,
        inspector,
        rigger,
        plan_sha256,
        route,
        left_out: vec![left_out],
        capacity,
        tryout: Some(Box::new(tried_out())),
        rigger_marks: [(id("front-left/hook-pin"), RIGGER_SAYS.to_owned())].into(),
        practice: None,
        pace: None,
    }
}

/// An utterance without a clip.
pub fn heard(decision: Decision, words: &str) -> Hearing {
    Hearing {
        decision,
        words: words.to_owned(),
        confidence: 0.91,
        clip: String::new(),
        clip_sha256: String::new(),
        snr_db: None,
        others: vec![Other {
            meaning: Meaning {
                rule: "presence".to_owned(),
                value: "missing".to_owned(),
            },
            behind: 3.5,
        }],
    }
}

/// An utterance that was taken, without a clip.
pub fn taken(rule: &str, value: &str) -> Hearing {
    let meaning = Meaning {
        rule: rule.to_owned(),
        value: value.to_owned(),
    };
    heard(Decision::Take { meaning }, value)
}

pub fn note(text: &str) -> Entry {
    Entry::Noted {
        check: None,
        note: Note {
            machine_transcript: text.to_owned(),
            clip: String::new(),
            clip_sha256: String::new(),
            typed: true,
            by_tool: false,
        },
    }
}

/// An answer with its clip, as a walk writes them.
pub fn answer(record: &mut Record, value: &str) -> Entry {
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
                others: Vec::new(),
            },
            confirmed_by: None,
        },
    }
}

pub fn asked(check: &str) -> Entry {
    Entry::Asked {
        check: id(check),
        attempt: 1,
    }
}

pub fn completed(ready: bool) -> Entry {
    Entry::Completed {
        ready,
        against: Vec::new(),
    }
}

/// A record on the disk that tests damage.
pub struct Sample {
    _root: TempDir,
    pub folder: PathBuf,
}

impl Sample {
    /// Six entries: opened, asked, answered, note, note, completed.
    pub fn complete() -> Self {
        Self::of("Ida Fern", "Tom Alder", true)
    }

    /// A place for a record, and none in it.
    pub fn empty() -> Self {
        let root = tempfile::tempdir().unwrap();
        let folder = root.path().join("walk");
        Self {
            _root: root,
            folder,
        }
    }

    pub fn of(inspector: &str, rigger: &str, complete: bool) -> Self {
        let sample = Self::empty();
        let mut record = Record::create(&sample.folder, PLAN, clock()).unwrap();
        record.append(&opened(inspector, rigger)).unwrap();
        record.append(&asked("front-left/hook-pin")).unwrap();
        let answered = answer(&mut record, "present");
        record.append(&answered).unwrap();
        record.append(&note("strap frayed at the rim")).unwrap();
        record.append(&note("wind from the saddle")).unwrap();
        if complete {
            record.append(&completed(true)).unwrap();
        }
        sample
    }

    pub fn key(&self, name: &str) -> (SecretKey, PublicKey) {
        new_key(&self.folder.with_file_name(name), None).unwrap();
        self.known_key(name)
    }

    /// A key that `key` made before.
    pub fn known_key(&self, name: &str) -> (SecretKey, PublicKey) {
        let private = self.folder.with_file_name(format!("{name}.key.pem"));
        let public = self.folder.with_file_name(format!("{name}.pub.pem"));
        (
            SecretKey::read(&private, None).unwrap(),
            PublicKey::read(&public).unwrap(),
        )
    }

    pub fn sealed() -> Self {
        let sample = Self::complete();
        let (key, _) = sample.key("ida");
        seal(&sample.folder, "Ida Fern", &key, &SystemClock::default()).unwrap();
        sample
    }

    pub fn journal(&self) -> PathBuf {
        self.folder.join("journal.jsonl")
    }

    pub fn lines(&self) -> Vec<String> {
        let text = fs::read_to_string(self.journal()).unwrap();
        text.lines().map(str::to_owned).collect()
    }

    pub fn write_lines(&self, lines: &[String]) {
        let text: String = lines.iter().map(|line| format!("{line}\n")).collect();
        fs::write(self.journal(), text).unwrap();
    }

    /// Writes the entries as JSON, numbered and chained anew: what whoever may write to the folder can do.
    pub fn forge(&self, lines: impl IntoIterator<Item = serde_json::Value>) {
        let mut prev = NO_PREV.to_owned();
        let chained: Vec<String> = (lines.into_iter().enumerate())
            .map(|(seq, mut line)| {
                line["seq"] = seq.into();
                line["prev"] = prev.clone().into();
                let line = line.to_string();
                prev = sha256_hex(line.as_bytes());
                line
            })
            .collect();
        self.write_lines(&chained);
    }

    /// The lines of the journal as JSON.
    pub fn parsed(&self) -> Vec<serde_json::Value> {
        let lines = self.lines();
        lines
            .iter()
            .map(|l| serde_json::from_str(l).unwrap())
            .collect()
    }

    pub fn clip(&self) -> PathBuf {
        self.folder.join("clips/0002-front-left-hook-pin-1.wav")
    }

    pub fn verify(&self) -> Verification {
        verify(&self.folder, &[]).unwrap()
    }

    #[track_caller]
    pub fn expect(&self, place: Place, kind: ProblemKind) {
        let found = self.verify();
        let problem = found.first_problem.expect("a problem");
        assert_eq!((&problem.place, problem.kind), (&place, kind), "{problem}");
    }

    #[track_caller]
    pub fn expect_intact(&self) -> Verification {
        let found = self.verify();
        assert_eq!(found.problems, []);
        found
    }
}

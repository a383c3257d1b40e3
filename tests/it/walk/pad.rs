//! A driver without sound: obeys at once, writes down what is said, heard and logged.

use loadwalk::walk::{
    Called, Decision, Effect, Ending, Entry, Event, Hearing, Listen, Manner, Meaning, MonotonicMs,
    Note, Opening, Phrase, Settings, Tone, Walk, rules,
};
use std::fmt::Write as _;

/// Where the test stands in for headset, ears and disk.
pub struct Pad {
    pub walk: Walk,
    pub now: MonotonicMs,
    /// SAY, HEAR and LOG lines.
    pub talk: String,
    pub entries: Vec<Entry>,
    pub listen: Option<Listen>,
    pub ended: Option<Ending>,
    /// Texts spoken, in order.
    pub said: Vec<String>,
    pub tones: Vec<Tone>,
    /// How it speaks, once it was told.
    pub manner: Option<Manner>,
}

impl Pad {
    pub fn start(opening: Opening, settings: Settings) -> Self {
        Self::with(Walk::new(opening, settings).expect("the walk opens"))
    }

    pub fn with(walk: Walk) -> Self {
        let mut pad = Self {
            walk,
            now: 0,
            talk: String::new(),
            entries: Vec::new(),
            listen: None,
            ended: None,
            said: Vec::new(),
            tones: Vec::new(),
            manner: None,
        };
        pad.send(Event::Begin);
        pad
    }

    /// Sends an event and obeys until nothing is left to do.
    pub fn send(&mut self, event: Event) {
        self.walk.handle(event, self.now);
        while let Some(effect) = self.walk.poll() {
            self.obey(effect);
        }
    }

    fn obey(&mut self, effect: Effect) {
        match effect {
            Effect::Journal { seq, entry } => {
                self.line("LOG ", &logged(&entry));
                self.entries.push(*entry);
                self.walk.handle(Event::Journalled(seq), self.now);
            }
            Effect::Say(say) => {
                let kind = match say.phrase {
                    Phrase::Ask => "ASK ",
                    Phrase::ReadBack => "READ",
                    Phrase::Tell => "SAY ",
                };
                self.line(kind, &say.text);
                self.said.push(say.text);
                self.now += 1_000;
                self.walk.handle(Event::Said(say.id), self.now);
            }
            Effect::Listen(listen) => self.listen = Some(listen),
            Effect::Hush => self.listen = None,
            Effect::Quiet => self.line("STOP", "speaking"),
            Effect::Tone(tone) => self.tones.push(tone),
            Effect::Manner(manner) => self.manner = Some(manner),
            Effect::Finish(ending) => {
                self.line("END ", &format!("{ending:?}"));
                self.ended = Some(ending);
            }
        }
    }

    fn line(&mut self, kind: &str, text: &str) {
        writeln!(self.talk, "{kind} {text}").expect("writing to a string");
    }

    fn hear(&mut self, how: &str, decision: Decision) {
        let words = match &decision {
            Decision::Take { meaning } | Decision::Confirm { meaning } => meaning.value.clone(),
            Decision::Refuse { reason } => reason.clone(),
        };
        self.line("HEAR", &format!("{words} ({how})"));
        let listen = self.listen.as_ref().expect("the walk listens").id;
        let hearing = hearing(decision);
        self.send(Event::Heard { listen, hearing });
    }

    /// Says words that are heard clearly.
    pub fn take(&mut self, value: &str) -> &mut Self {
        let meaning = self.meaning(value);
        self.hear("clear", Decision::Take { meaning });
        self
    }

    /// Calls findings off in one breath, each "KEY VALUE": a "?" before the value where it is half heard,
    /// "!" where it is not heard.
    pub fn call(&mut self, items: &[&str]) -> &mut Self {
        self.call_with(items, "u.wav")
    }

    /// The same with the clip of that name; none where it was typed.
    pub fn call_with(&mut self, items: &[&str], clip: &str) -> &mut Self {
        self.line("HEAR", &items.join(", "));
        let listen = self.listen.as_ref().expect("the walk listens");
        assert!(!listen.items.is_empty(), "findings may be called off");
        let listen = listen.id;
        let items = items.iter().map(|item| {
            let (rule, value) = item.split_once(' ').expect("a key and a value");
            let meaning = |value: &str| Meaning {
                rule: rule.to_owned(),
                value: value.to_owned(),
            };
            let decision = match value.split_at(1) {
                ("?", value) => Decision::Confirm {
                    meaning: meaning(value),
                },
                ("!", why) => Decision::Refuse {
                    reason: why.to_owned(),
                },
                _ => Decision::Take {
                    meaning: meaning(value),
                },
            };
            Hearing {
                clip: clip.to_owned(),
                ..hearing(decision)
            }
        });
        let called = Called {
            more: false,
            items: items.collect(),
            whole: hearing(Decision::Refuse {
                reason: "nothing that can be called off here".to_owned(),
            }),
        };
        self.send(Event::Called { listen, called });
        self
    }

    /// Says words that are half heard.
    pub fn doubt(&mut self, value: &str) -> &mut Self {
        let meaning = self.meaning(value);
        self.hear("doubtful", Decision::Confirm { meaning });
        self
    }

    /// A cough, a passing remark.
    pub fn cough(&mut self) -> &mut Self {
        let reason = "not in the grammar".to_owned();
        self.hear("refused", Decision::Refuse { reason });
        self
    }

    /// Says more behind what was just taken.
    pub fn go_on(&mut self) -> &mut Self {
        self.say_behind("more", false)
    }

    /// Says "stop" behind what was just taken.
    pub fn stop_behind(&mut self) -> &mut Self {
        self.say_behind("stop", true)
    }

    fn say_behind(&mut self, words: &str, stop: bool) -> &mut Self {
        self.line("HEAR", words);
        let reason = "more was said behind the answer".to_owned();
        let hearing = hearing(Decision::Refuse { reason });
        self.send(Event::WentOn { hearing, stop });
        self
    }

    pub fn note(&mut self, text: &str) -> &mut Self {
        let listen = self.listen.as_ref().expect("the walk listens");
        assert!(listen.free, "a note is wanted");
        let listen = listen.id;
        self.line("HEAR", &format!("{text} (note)"));
        let note = Note {
            machine_transcript: text.to_owned(),
            clip: "note.wav".to_owned(),
            clip_sha256: "00".to_owned(),
            typed: false,
            by_tool: false,
        };
        self.send(Event::NoteHeard { listen, note });
        self
    }

    /// Waits until the walk loses patience.
    pub fn silence(&mut self) -> &mut Self {
        let due = self
            .walk
            .poll_timeout()
            .expect("the walk waits for something");
        self.line("...", "silence");
        self.now = self.now.max(due);
        self.walk.handle_timeout(self.now);
        while let Some(effect) = self.walk.poll() {
            self.obey(effect);
        }
        self
    }

    fn meaning(&self, value: &str) -> Meaning {
        let listen = self.listen.as_ref().expect("the walk listens");
        let rule = match value {
            rules::YES | rules::NO => rules::YES_NO,
            rules::FIXED | rules::LEAVE => rules::FIXING,
            _ if CONTROLS.contains(&value) => rules::CONTROL,
            _ => listen.rules.first().map_or("", String::as_str),
        };
        let rule = match rule {
            rules::YES_NO if !matches!(value, rules::YES | rules::NO) => &listen.rules[1],
            rule => rule,
        };
        let active = listen.rules.iter().any(|r| r == rule);
        assert!(
            active,
            "{value} ({rule}) is not listened for: {:?}",
            listen.rules
        );
        Meaning {
            rule: rule.to_owned(),
            value: value.to_owned(),
        }
    }

    /// The text said last.
    pub fn last(&self) -> &str {
        self.said.last().map_or("", String::as_str)
    }
}

pub const CONTROLS: [&str; 18] = [
    rules::FASTER,
    rules::SLOWER,
    rules::LOUDER,
    rules::QUIETER,
    rules::CALL_OFF,
    rules::LED,
    rules::DONE,
    rules::SAY_AGAIN,
    rules::GO_BACK,
    rules::STAND_BY,
    rules::CARRY_ON,
    rules::CORRECTION,
    rules::WHERE,
    rules::DEFICIENCIES,
    rules::NOT_APPLICABLE,
    rules::NOT_SEEN,
    rules::NOTE,
    rules::END_WALK,
];

pub fn hearing(decision: Decision) -> Hearing {
    // The rest is evidence for people; the walk does not look at it. Read as the record reads it,
    // so that a field added later with a default does not break the test.
    let mut json = serde_json::json!({
        "words": "", "confidence": 0.9, "clip": "u.wav", "clip_sha256": "00",
        "snr_db": null, "typed": false, "gap": 0.0,
    });
    json["decision"] = serde_json::to_value(decision).expect("a decision is JSON");
    serde_json::from_value(json).expect("a hearing")
}

fn logged(entry: &Entry) -> String {
    match entry {
        Entry::Opened { .. } => "opened".to_owned(),
        Entry::Asked { check, attempt } => format!("asked {check}, attempt {attempt}"),
        Entry::Answered {
            check,
            value,
            outcome,
            stage,
            heard,
        } => {
            let confirmed = if heard.confirmed_by.is_some() {
                ", confirmed"
            } else {
                ""
            };
            format!("answered {check} = {value}: {outcome:?} ({stage:?}{confirmed})")
        }
        Entry::Refused { check, .. } => format!("refused {}", name(check.as_ref())),
        Entry::Doubted { check, .. } => format!("doubted {check}"),
        Entry::Control { control, check, .. } => {
            format!("control {control} {}", name(check.as_ref()))
        }
        Entry::Noted { check, note } => {
            format!(
                "noted {}: {}",
                name(check.as_ref()),
                note.machine_transcript
            )
        }
        Entry::PutRight { check, again, .. } => {
            let again: Vec<String> = again.iter().map(ToString::to_string).collect();
            format!("put right {check}, again {}", again.join(" "))
        }
        Entry::Held { why, check } => format!("held {}: {why}", name(check.as_ref())),
        Entry::Carried { check } => format!("carried on {}", name(check.as_ref())),
        Entry::Resumed { check } => format!("resumed {}", name(check.as_ref())),
        Entry::Calling { station, .. } => format!("calling at {station}"),
        Entry::Rhythm {
            checks,
            pattern,
            again,
        } => format!(
            "rhythm {pattern:?} of {}, again {}",
            checks.len(),
            name(again.as_ref())
        ),
        Entry::Completed { ready, against } => {
            format!("completed, ready {ready}, against {against:?}")
        }
    }
}

fn name(check: Option<&loadwalk::plan::CheckId>) -> String {
    check.map_or_else(|| "-".to_owned(), ToString::to_string)
}

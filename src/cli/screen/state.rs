//! What the view shows, folded from what a watcher of the walk is told. Pure.

use crate::plan::CheckId;
use crate::record::Status;
use crate::review::stations::{Station, weight};
use crate::walk::{Decision, Entry, Hearing, Ledger, Outcome, SayId};

/// Something that the view is told.
#[derive(Clone, Debug)]
pub enum Seen {
    /// The tool speaks this.
    Say(SayId, String),
    /// It spoke that phrase, and those before it, to the end.
    Said(SayId),
    /// It stopped speaking.
    Quiet,
    /// The ears are open, or not.
    Listening(bool),
    /// An utterance was heard.
    Heard(Heard),
    /// An entry is on the disk.
    Entry(Box<Entry>),
    /// Something outside went wrong, or is worth a remark.
    Remark(String),
    /// The walk was broken off from outside.
    Over(String),
}

/// What was heard last, and what was decided.
#[derive(Clone, Debug, PartialEq)]
pub struct Heard {
    /// The words; may be empty.
    pub words: String,
    /// Probability that they are right, 0 to 1.
    pub confidence: f64,
    /// The decision in words.
    pub decision: String,
}

impl Heard {
    /// From the words, the probability that they are right, and the decision.
    pub fn new(words: &str, confidence: f64, decision: &Decision) -> Self {
        Self {
            words: words.to_owned(),
            confidence,
            decision: match decision {
                Decision::Take { .. } => "TAKEN".to_owned(),
                Decision::Confirm { .. } => "NOT SURE, ASKS BACK".to_owned(),
                Decision::Refuse { reason } => format!("REFUSED: {reason}"),
            },
        }
    }

    fn of(hearing: &Hearing) -> Self {
        Self::new(&hearing.words, hearing.confidence, &hearing.decision)
    }
}

/// What the walk is doing, in one word.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Mode {
    /// Ended; a person may sign.
    Ready,
    /// Ended; something stands against the load.
    NotReady,
    /// Broken off.
    BrokenOff,
    /// Stands still.
    Held,
    /// Waits for words.
    Listening,
    /// Speaks.
    Speaking,
    /// Works on what it heard, or waits for the disk.
    Working,
}

impl Mode {
    /// The word on the screen.
    pub fn word(self) -> &'static str {
        match self {
            Self::Ready => "READY TO SIGN",
            Self::NotReady => "NOT READY",
            Self::BrokenOff => "BROKEN OFF",
            Self::Held => "HELD",
            Self::Listening => "LISTENING",
            Self::Speaking => "SPEAKING",
            Self::Working => "WAIT",
        }
    }
}

/// All that the view shows.
#[derive(Clone, Debug, Default)]
pub struct State {
    /// What is on the disk.
    pub ledger: Ledger,
    /// The check that was asked last.
    pub check: Option<CheckId>,
    /// What the tool said last.
    pub prompt: String,
    /// What was heard last.
    pub heard: Option<Heard>,
    /// The check answered last, with what was logged.
    pub logged: Option<(CheckId, Outcome)>,
    /// The last remark.
    pub remark: String,
    /// What is being typed.
    pub typed: String,
    /// What it speaks and listens with.
    pub means: String,
    /// Level of the microphone, dB of full scale; `None` without one.
    pub level_db: Option<f32>,
    /// Since the view was opened, ms.
    pub elapsed_ms: u64,
    /// Colours may be used.
    pub colour: bool,
    saying: Option<SayId>,
    listening: bool,
    over: Option<String>,
}

impl State {
    /// At the beginning. `ledger`: what is on the disk already; `means`: what the walk speaks and listens
    /// with; `colour`: whether colours may be used.
    pub fn new(ledger: Ledger, means: String, colour: bool) -> Self {
        Self {
            ledger,
            means,
            colour,
            ..Self::default()
        }
    }

    /// Takes what was told into account.
    pub fn see(&mut self, seen: Seen) {
        match seen {
            Seen::Say(id, text) => {
                self.saying = Some(id);
                self.prompt = text;
            }
            Seen::Said(id) => {
                if self.saying.is_some_and(|last| last <= id) {
                    self.saying = None;
                }
            }
            Seen::Quiet => self.saying = None,
            Seen::Listening(open) => self.listening = open,
            Seen::Heard(heard) => self.heard = Some(heard),
            Seen::Entry(entry) => self.enter(&entry),
            Seen::Remark(text) => self.remark = text,
            Seen::Over(why) => self.over = Some(why),
        }
    }

    fn enter(&mut self, entry: &Entry) {
        match entry {
            Entry::Asked { check, .. } => self.check = Some(check.clone()),
            // The station is at hand, and of it what is open.
            Entry::Calling { station, .. } => {
                let stations = &self.ledger.route().stations;
                let here = stations.iter().find(|s| s.key == *station);
                let checks = here.map_or(&[][..], |s| &s.checks);
                let open = checks.iter().find(|c| self.ledger.outcome(&c.id).is_none());
                let shown = open.or(checks.first()).map(|c| c.id.clone());
                self.check = shown.or(self.check.take());
            }
            Entry::Answered {
                check,
                outcome,
                heard,
                ..
            } => {
                self.heard = Some(Heard::of(&heard.hearing));
                self.logged = Some((check.clone(), outcome.clone()));
            }
            Entry::Refused { hearing, .. }
            | Entry::Doubted { hearing, .. }
            | Entry::Control { hearing, .. }
            | Entry::PutRight { hearing, .. } => self.heard = Some(Heard::of(hearing)),
            Entry::Carried { .. } => self.remark.clear(),
            _ => {}
        }
        // The walk made the entry from its own ledger; the view shows what it can.
        if let Err(unfit) = self.ledger.apply(entry) {
            self.remark = unfit.to_string();
        }
    }

    /// How the walk stands, in lines: what is left to be read once the view is gone.
    pub fn ending(&self) -> Vec<String> {
        let ready = self.ledger.ready();
        let mut lines = vec![match self.mode() {
            Mode::Ready => "READY for a person to sign".to_owned(),
            Mode::NotReady => "NOT READY".to_owned(),
            _ => "OPEN: not complete, not ready".to_owned(),
        }];
        // Where it was broken off all that was not asked yet stands against it, which goes without saying.
        let against = match self.ledger.completed() {
            Some(_) => ready.against(),
            None => ready.deficiencies.iter().map(|d| d.name.clone()).collect(),
        };
        lines.extend(against.iter().map(|text| format!("  ! {text}")));
        let capacity = self.ledger.opening().map_or(&[][..], |o| &o.capacity);
        let looks = capacity.iter().filter(|line| !line.look.is_empty());
        lines.extend(looks.map(|line| format!("  for a qualified person: {}", line.look)));
        lines
    }

    /// What the walk is doing.
    pub fn mode(&self) -> Mode {
        match self.ledger.completed() {
            Some(true) => Mode::Ready,
            Some(false) => Mode::NotReady,
            None if self.over.is_some() => Mode::BrokenOff,
            None if self.ledger.held().is_some() => Mode::Held,
            None if self.listening => Mode::Listening,
            None if self.saying.is_some() => Mode::Speaking,
            None => Mode::Working,
        }
    }

    /// Why it was broken off or is held, in words.
    pub fn why(&self) -> &str {
        self.over
            .as_deref()
            .or_else(|| self.ledger.held())
            .unwrap_or_default()
    }

    /// Name of the station and of the check asked about; empty before the first.
    pub fn place(&self) -> (&str, &str) {
        let found = self.check.as_ref().and_then(|c| self.ledger.locate(c));
        found.map_or(("", ""), |(station, check)| (&station.name, &check.name))
    }

    /// Number of the station asked about, from 1; 0 before the first.
    pub fn station_number(&self) -> usize {
        let here = self.check.as_ref().and_then(|c| self.ledger.locate(c));
        here.and_then(|(here, _)| {
            let stations = &self.ledger.route().stations;
            stations.iter().position(|s| s.key == here.key)
        })
        .map_or(0, |at| at + 1)
    }

    /// Checks with an outcome, and all that apply.
    pub fn progress(&self) -> (usize, usize) {
        let route = self.ledger.route();
        let all = route.checks().filter(|c| self.ledger.applies(&c.id));
        let (mut done, mut count) = (0, 0);
        for check in all {
            count += 1;
            done += usize::from(self.ledger.outcome(&check.id).is_some());
        }
        (done, count)
    }

    /// The stations with the worst status of their checks, for the plan view.
    pub fn stations(&self) -> Vec<Station> {
        let stations = self.ledger.route().stations.iter();
        stations
            .map(|station| {
                let all = station.checks.iter().map(|c| self.status(&c.id));
                let worst = all.max_by_key(|&s| weight(s)).unwrap_or(Status::Open);
                (station.name.clone(), worst, station.place_m)
            })
            .collect()
    }

    /// The load's outline from above, metres forward and left.
    pub fn outline_m(&self) -> Option<[[f64; 2]; 2]> {
        self.ledger.route().outline_m
    }

    fn status(&self, check: &CheckId) -> Status {
        match self.ledger.outcome(check) {
            Some(Outcome::Conforming) => Status::Conforming,
            Some(Outcome::Deficient { .. }) => Status::Deficient,
            Some(Outcome::NotApplicable) => Status::NotApplicable,
            Some(Outcome::NotSeen) => Status::NotSeen,
            None if self.ledger.applies(check) => Status::Open,
            None => Status::NotAsked,
        }
    }
}

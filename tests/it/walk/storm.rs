//! A seeded driver on fake time that is late, loses and doubles events, is killed, and is talked at
//! by somebody who says anything. The laws of the walk are checked at
//! every effect.

mod laws;
mod speech;

use super::pad::{CONTROLS, hearing};
use super::sites::opening;
use super::yard::{Tape, agree, conforms, good, route, rule, sample, spelled};
use loadwalk::plan::{Check, CheckId, CheckKind};
use loadwalk::walk::{
    Called, CalledAt, Decision, Effect, Ending, Entry, Event, Hearing, Ledger, Listen, Meaning,
    MonotonicMs, Note, Outcome, Phrase, Settings, Walk, rules,
};
use std::collections::{BTreeMap, BTreeSet};

/// Why nothing more will happen by itself.
#[derive(Debug, PartialEq, Eq)]
enum Rest {
    Listening,
    Waiting,
    Finished,
}

pub struct Storm {
    tape: Tape,
    walk: Walk,
    settings: Settings,
    passes: bool,
    now: MonotonicMs,
    /// Events on their way, by time.
    coming: BTreeMap<(MonotonicMs, u64), Event>,
    numbered: u64,
    /// Everything handed to the disk, in order, and how much of it is durable.
    disk: Vec<Entry>,
    volatile: BTreeSet<u64>,
    listen: Option<Listen>,
    speaking: BTreeSet<u64>,
    /// One above the highest phrase number seen.
    phrases: u64,
    /// Clips of utterances that were given to an open listen.
    fed: BTreeSet<String>,
    /// Values that were said at each check.
    given: BTreeSet<(CheckId, String)>,
    held: bool,
    /// When the mouth is free again.
    mouth: MonotonicMs,
    /// Whether the end of a phrase was never told, so that what is spoken now is not known.
    lost_an_end: bool,
    ended: Option<Ending>,
}

impl Storm {
    pub fn new(mut tape: Tape) -> Self {
        let mut opening = opening(route(&mut tape));
        let passes = tape.pick(5) != 1;
        opening.capacity[0].passes = passes;
        let brief = tape.pick(4) == 1;
        let settings = Settings {
            brief,
            // Where one of them is, so is the other: the tape stays as it was.
            reminder_ms: if brief { 4_000 } else { 0 },
            tones: !brief,
            conforming_needs_take: tape.pick(2) == 0,
            talk_over: tape.pick(3) == 1,
            called: match tape.pick(4) {
                0 => CalledAt::Nowhere,
                1 => CalledAt::Stations(["s0".to_owned(), "s2".to_owned()].into()),
                _ => CalledAt::Everywhere,
            },
            rhythm_asks: tape.pick(3) == 1,
            ..Settings::default()
        };
        let walk = Walk::new(opening, settings.clone()).expect("the route is sound");
        let mut storm = Self {
            tape,
            walk,
            settings,
            passes,
            now: 0,
            coming: BTreeMap::new(),
            numbered: 0,
            disk: Vec::new(),
            volatile: BTreeSet::new(),
            listen: None,
            speaking: BTreeSet::new(),
            phrases: 0,
            fed: BTreeSet::new(),
            given: BTreeSet::new(),
            held: false,
            mouth: 0,
            lost_an_end: false,
            ended: None,
        };
        storm.handle(Event::Begin);
        storm
    }

    /// Runs until the tape is used up, then lets a patient inspector finish the walk.
    /// Returns how it ended and the journal.
    pub fn run(mut self) -> (Option<Ending>, Vec<Entry>) {
        while !self.tape.is_out() && self.ended.is_none() {
            self.step();
        }
        self.calm();
        self.every_part_of_the_journal_restores();
        (self.ended, self.disk)
    }

    fn step(&mut self) {
        match self.tape.pick(12) {
            0..=4 => self.deliver(),
            5..=8 => self.speak(),
            9 => self.expire(),
            10 => self.mischief(),
            _ if self.tape.pick(16) == 15 => self.kill(),
            _ => self.deliver(),
        }
    }

    /// Lets the next event arrive; some arrive twice.
    fn deliver(&mut self) {
        let Some(((due, _), event)) = self.coming.pop_first() else {
            return self.speak();
        };
        self.now = self.now.max(due);
        self.arrive(event.clone());
        if self.tape.pick(8) == 7 {
            self.arrive(event);
        }
    }

    fn arrive(&mut self, event: Event) {
        match &event {
            Event::Journalled(seq) => {
                self.volatile.remove(seq);
            }
            Event::Said(id) => {
                self.speaking.remove(id);
            }
            _ => {}
        }
        self.handle(event);
    }

    fn expire(&mut self) {
        if let Some(due) = self.walk.poll_timeout() {
            self.now = self.now.max(due);
            self.lost_an_end |= !self.speaking.is_empty();
            self.walk.handle_timeout(self.now);
            self.drain();
        }
    }

    /// Events that belong to nothing.
    fn mischief(&mut self) {
        let far = self.tape.pick(40) as u64;
        // Numbers that the walk may have given out by itself, but not yet to the driver.
        let unsaid = self.phrases + far % 4;
        let unwritten = self.disk.len() as u64 + far % 3;
        match self.tape.pick(7) {
            0 => self.handle(Event::Said(unsaid)),
            1 => self.handle(Event::Journalled(unwritten)),
            2 => {
                self.held = true;
                let why = "headset lost".to_owned();
                self.handle(Event::Hold { why });
            }
            3 if far.is_multiple_of(8) => {
                self.held = false;
                let what = "the microphone is now another".to_owned();
                self.handle(Event::Replaced { what });
            }
            3 => {
                self.held = false;
                self.handle(Event::Cleared);
            }
            4 => {
                let open = self.listen.as_ref().map(|l| l.id);
                if open != Some(far) {
                    let decision = self.utterance();
                    let hearing = self.heard(decision, false);
                    self.handle(Event::Heard {
                        listen: far,
                        hearing,
                    });
                }
            }
            5 => {
                let reason = "more was said".to_owned();
                let hearing = self.heard(Decision::Refuse { reason }, true);
                let stop = self.tape.pick(2) == 0;
                self.handle(Event::WentOn { hearing, stop });
            }
            _ => self.handle(Event::Begin),
        }
    }

    /// The process dies: what was handed to the disk and not yet durable may be lost.
    fn kill(&mut self) {
        let keep = match (self.volatile.first(), self.tape.pick(2)) {
            (Some(&first), 0) => first as usize,
            _ => self.disk.len(),
        };
        // Nothing opened: no record to resume.
        if keep == 0 {
            return;
        }
        self.disk.truncate(keep);
        self.volatile.clear();
        self.coming.clear();
        self.speaking.clear();
        self.listen = None;
        self.held = false;
        self.walk = Walk::restore(&self.disk, self.settings.clone()).expect("its own journal");
        self.handle(Event::Begin);
    }

    fn handle(&mut self, event: Event) {
        self.walk.handle(event, self.now);
        self.drain();
    }

    fn drain(&mut self) {
        let checks = self.walk.ledger().route().checks().count();
        let mut effects = 0;
        while let Some(effect) = self.walk.poll() {
            effects += 1;
            assert!(effects <= 20 + 4 * checks, "one event has bounded effects");
            self.obey(effect);
        }
        self.laws();
    }

    fn obey(&mut self, effect: Effect) {
        assert_eq!(self.ended, None, "nothing follows the end");
        let late = 1 + self.tape.pick(3_000) as u64;
        match effect {
            Effect::Journal { seq, entry } => {
                assert_eq!(seq, self.disk.len() as u64, "entries are numbered in order");
                self.disk.push(*entry);
                self.volatile.insert(seq);
                self.come(late, Event::Journalled(seq));
            }
            Effect::Say(say) => {
                self.nothing_is_lost_if_killed_now(&say.text, say.phrase);
                self.blind(&say.text);
                self.speaking.insert(say.id);
                self.phrases = self.phrases.max(say.id + 1);
                // One phrase in sixteen is never told to have ended.
                if self.tape.pick(16) != 15 {
                    // One mouth: phrases end in the order in which they were given.
                    self.mouth = self.mouth.max(self.now) + late;
                    self.come(self.mouth - self.now, Event::Said(say.id));
                } else {
                    self.lost_an_end = true;
                }
            }
            Effect::Listen(listen) => {
                assert!(!self.held, "nothing is heard while held from outside");
                let over = !self.speaking.is_empty() && !self.lost_an_end;
                assert!(self.settings.talk_over || !over, "listening while speaking");
                if !self.settings.talk_over {
                    self.speaking.clear();
                    self.lost_an_end = false;
                }
                self.listen = Some(listen);
            }
            Effect::Hush => self.listen = None,
            Effect::Quiet => {
                self.speaking.clear();
                self.coming.retain(|_, e| !matches!(e, Event::Said(_)));
            }
            Effect::Tone(_) | Effect::Manner(_) => {}
            Effect::Finish(ending) => {
                self.ended = Some(ending);
                if ending == Ending::Ready {
                    self.ready_is_earned();
                }
            }
        }
    }

    fn come(&mut self, late: u64, event: Event) {
        self.numbered += 1;
        self.coming.insert((self.now + late, self.numbered), event);
    }

    /// A patient inspector with a faultless rig and headset: the walk must come to an end, and the
    /// journal must give the same ledger at its end and be readable at every entry.
    fn calm(&mut self) {
        let checks = self.walk.ledger().route().checks().count();
        let mut turns = 0;
        while self.ended.is_none() {
            turns += 1;
            let last = || &self.disk[self.disk.len().saturating_sub(12)..];
            let ends = turns < 200 + 100 * checks;
            assert!(ends, "the walk does not end: {:#?}", last());
            if self.held {
                self.held = false;
                self.handle(Event::Cleared);
            } else if let Some(listen) = self.listen.clone() {
                let decision = self.patient(&listen);
                self.say_to(listen.id, decision);
            } else if !self.coming.is_empty() {
                self.deliver();
            } else {
                self.expire();
            }
        }
    }
}

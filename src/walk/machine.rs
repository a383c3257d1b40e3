//! The walk: its inputs, its outputs and what orders them.
//!
//! Contract for the driver: after every [`Walk::handle`] and [`Walk::handle_timeout`], call
//! [`Walk::poll`] until it gives `None` and obey in order, then [`Walk::poll_timeout`], and call
//! [`Walk::handle_timeout`] once that time has come.

use super::opened::{self, Pace};
use super::phase::{Doubt, Hold, Patience, Phase, Wait};
use super::rhythm::Rhythm;
use super::settle::UTTERANCE_LIMIT_MS;
use crate::plan::CheckId;
use crate::walk::{
    Effect, Entry, Event, Ledger, Lift, MonotonicMs, OpenError, Opening, Phrase, RestoreError, Say,
    SayId, Settings, Tone,
};
use std::collections::{BTreeMap, VecDeque};
use std::rc::Rc;

/// A walk round a load: a pure state machine without clock, disk or sound.
#[derive(Clone, Debug)]
pub struct Walk {
    pub(super) settings: Settings,
    pub(super) ledger: Ledger,
    pub(super) phase: Phase,
    pub(super) hold: Option<Hold>,
    pub(super) patience: Patience,
    /// Deficiencies just found, to be noted and dealt with.
    pub(super) fresh: VecDeque<CheckId>,
    /// Where a walk that was taken up again goes on, until it does: the check that is announced, and the phase.
    pub(super) taken_up: Option<(Option<CheckId>, Option<Phase>)>,
    /// An answer whose read-back was not spoken to its end.
    pub(super) unread: Option<CheckId>,
    /// The checks answered by what was heard last.
    pub(super) taken: Vec<CheckId>,
    /// Answers called off that were not read back yet.
    pub(super) pending: Vec<CheckId>,
    /// The phrase that reads them back, and the checks in it.
    pub(super) compact: Option<SayId>,
    /// The answers read back together last.
    pub(super) batch: Vec<CheckId>,
    /// Called answers that are not sure, to be asked.
    pub(super) doubts: BTreeMap<CheckId, Doubt>,
    /// Those that may be deficient and so stop the flow.
    pub(super) urgent: VecDeque<CheckId>,
    /// The station whose calls are over; the rest of it is asked.
    pub(super) called_out: Option<String>,
    pub(super) rhythm: Rhythm,
    /// Time of the event at hand.
    pub(super) now: MonotonicMs,
    /// Key of the station announced last.
    pub(super) station: Option<String>,
    /// A hold before `Begin`.
    pub(super) early: Option<String>,
    /// What knows the effect of a wrong count, where anything does.
    pub(super) lift: Option<Rc<dyn Lift>>,
    /// Whether the journal was begun by an earlier process.
    pub(super) restored: bool,
    pub(super) out: VecDeque<Queued>,
    /// Entries that speech waits for, and whether the driver has them yet.
    pub(super) waiting: BTreeMap<u64, bool>,
    pub(super) saying: VecDeque<Speaking>,
    pub(super) ear: Option<Ear>,
    pub(super) timer: Option<(Wait, MonotonicMs)>,
    pub(super) record_slow: bool,
    next_say: SayId,
    pub(super) next_listen: u64,
}

#[derive(Clone, Debug)]
pub(super) struct Queued {
    pub effect: Effect,
    /// Held back while an entry with a lower number waits for the disk.
    pub after: u64,
}

#[derive(Clone, Debug)]
pub(super) struct Speaking {
    pub id: SayId,
    pub phrase: Phrase,
    pub letters: u64,
    pub handed: bool,
}

#[derive(Clone, Copy, Debug)]
pub(super) struct Ear {
    pub id: u64,
    /// Whether answers count, or control phrases only.
    pub answers: bool,
    pub handed: bool,
}

impl Walk {
    /// A new walk. Its first effect, after [`Event::Begin`], writes down how it was opened.
    ///
    /// # Errors
    /// The rigger is the inspector, a name is missing, or the route cannot be walked.
    pub fn new(opening: Opening, settings: Settings) -> Result<Self, OpenError> {
        opened::check(&opening)?;
        let pace = Pace::of(&settings);
        let mut walk = Self::over(Ledger::default(), settings);
        walk.journal(Entry::Opened {
            format: crate::walk::JOURNAL_FORMAT,
            left_out: opening.route.left_out.clone(),
            inspector: opening.inspector,
            rigger: opening.rigger,
            plan_sha256: opening.plan_sha256,
            route: Box::new(opening.route),
            capacity: opening.capacity,
            tryout: opening.tryout.map(Box::new),
            rigger_marks: opening.rigger_marks,
            practice: opening.practice,
            pace: (pace != Pace::default()).then(|| Box::new(pace)),
        });
        Ok(walk)
    }

    /// A walk taken up from its journal, at the check that was broken off. The entries are not
    /// written again.
    ///
    /// # Errors
    /// An entry does not follow from those before it.
    pub fn restore(entries: &[Entry], settings: Settings) -> Result<Self, RestoreError> {
        let mut ledger =
            Ledger::of(entries).map_err(|(entry, unfit)| RestoreError::Unfit { entry, unfit })?;
        opened::check(ledger.opening().ok_or(RestoreError::Empty)?)?;
        if settings.pace_chosen {
            ledger.called = None;
        }
        let mut walk = Self::over(ledger, settings);
        walk.restored = true;
        Ok(walk)
    }

    fn over(ledger: Ledger, settings: Settings) -> Self {
        Self {
            settings,
            ledger,
            phase: Phase::Fresh,
            hold: None,
            patience: Patience::default(),
            fresh: VecDeque::new(),
            taken_up: None,
            unread: None,
            taken: Vec::new(),
            pending: Vec::new(),
            compact: None,
            batch: Vec::new(),
            doubts: BTreeMap::new(),
            urgent: VecDeque::new(),
            called_out: None,
            rhythm: Rhythm::default(),
            now: 0,
            station: None,
            early: None,
            lift: None,
            restored: false,
            out: VecDeque::new(),
            waiting: BTreeMap::new(),
            saying: VecDeque::new(),
            ear: None,
            timer: None,
            record_slow: false,
            next_say: 0,
            next_listen: 0,
        }
    }

    /// The walk with what tells the effect of a wrong count.
    #[must_use]
    pub fn over_lift(mut self, lift: Rc<dyn Lift>) -> Self {
        self.lift = Some(lift);
        self
    }

    /// The walk through devices by which one may talk over it, or not; it says which.
    #[must_use]
    pub fn with_turns(mut self, talk_over: bool) -> Self {
        self.settings.talk_over = talk_over;
        self.settings.tells_turns = true;
        self
    }

    /// Everything that counts so far.
    pub fn ledger(&self) -> &Ledger {
        &self.ledger
    }

    /// The check that the conversation is about, for a screen.
    pub fn current(&self) -> Option<&CheckId> {
        let taken_up = self.taken_up.as_ref().and_then(|(next, _)| next.as_ref());
        self.phase.check().or(taken_up)
    }

    /// Whether the walk stands still.
    pub fn is_held(&self) -> bool {
        self.hold.is_some()
    }

    /// Takes an event. Stale, doubled and unasked events change nothing.
    pub fn handle(&mut self, event: Event, now: MonotonicMs) {
        self.now = now;
        match (event, &self.phase) {
            (_, Phase::Done) => {}
            (Event::Begin, Phase::Fresh) => self.begin(),
            (Event::Hold { why }, Phase::Fresh) => self.early = Some(why),
            (Event::Cleared | Event::Replaced { .. }, Phase::Fresh) => self.early = None,
            (_, Phase::Fresh) | (Event::Begin, _) => {}
            (Event::Journalled(seq), _) => self.journalled(seq),
            (Event::Said(id), _) => self.said(id, true),
            (Event::Started { listen }, _) => {
                if self.hears(listen).is_some() && !self.is_speaking() {
                    let due = now.saturating_add(UTTERANCE_LIMIT_MS);
                    self.timer = Some((Wait::Silence(listen), due));
                }
            }
            (Event::Heard { listen, hearing }, _) => {
                if let Some(answers) = self.hears(listen) {
                    self.timer = None;
                    self.taken.clear();
                    self.heard(hearing, answers);
                }
            }
            (Event::WentOn { hearing, stop }, _) => self.went_on(hearing, stop),
            (Event::Called { listen, called }, _) => {
                if let Some(answers) = self.hears(listen) {
                    self.timer = None;
                    self.taken.clear();
                    self.breath(called, answers);
                }
            }
            (Event::NoteHeard { listen, note }, _) => {
                if self.hears(listen) == Some(true) {
                    // What is said behind a note goes on with the note, and takes no answer back.
                    self.taken.clear();
                    self.note_heard(note);
                }
            }
            (Event::Hold { why }, _) => self.hold_outside(&why),
            (Event::Cleared, _) => self.cleared(),
            (Event::Replaced { what }, _) => self.replaced(&what),
        }
        self.settle(now);
    }

    /// The next thing to do, if any. Nothing is given out before [`Event::Begin`], and nothing is
    /// spoken or listened for while an answer is not yet durable.
    pub fn poll(&mut self) -> Option<Effect> {
        if self.phase == Phase::Fresh {
            return None;
        }
        let after = self.out.front()?.after;
        if self
            .waiting
            .first_key_value()
            .is_some_and(|(&seq, _)| seq < after)
        {
            return None;
        }
        let effect = self.out.pop_front()?.effect;
        match &effect {
            Effect::Journal { seq, .. } => {
                if let Some(handed) = self.waiting.get_mut(seq) {
                    *handed = true;
                }
            }
            Effect::Say(say) => {
                for s in self.saying.iter_mut().filter(|s| s.id == say.id) {
                    s.handed = true;
                }
            }
            Effect::Listen(listen) => {
                if let Some(ear) = self.ear.as_mut().filter(|e| e.id == listen.id) {
                    ear.handed = true;
                }
            }
            _ => {}
        }
        Some(effect)
    }

    /// Writes an entry. The ledger counts it at once; speech waits until it is durable.
    pub(super) fn journal(&mut self, entry: Entry) {
        let seq = self.ledger.entries();
        self.ledger
            .apply(&entry)
            // Entries are made here only, from this ledger's route and from answers that passed
            // its own judgement; the property tests drive every path.
            .expect("the walk writes entries that follow from its ledger");
        let light = matches!(
            entry,
            Entry::Asked { .. }
                | Entry::Refused { .. }
                | Entry::Doubted { .. }
                | Entry::Calling { .. }
                | Entry::Held { .. }
                | Entry::Carried { .. }
        );
        if !light {
            self.waiting.insert(seq, false);
        }
        let entry = Box::new(entry);
        self.push(Effect::Journal { seq, entry }, 0);
    }

    pub(super) fn say(&mut self, phrase: Phrase, text: impl Into<String>) -> SayId {
        let after = self.ledger.entries();
        self.speak(phrase, text.into(), after)
    }

    /// Speaks of a hold without waiting for the record, which may be what the hold is about.
    pub(super) fn say_at_once(&mut self, text: String) {
        self.speak(Phrase::Tell, text, 0);
    }

    fn speak(&mut self, phrase: Phrase, text: String, after: u64) -> SayId {
        let id = self.next_say;
        self.next_say += 1;
        self.saying.push_back(Speaking {
            id,
            phrase,
            letters: text.chars().count() as u64,
            handed: false,
        });
        self.push(Effect::Say(Say { id, text, phrase }), after);
        id
    }

    pub(super) fn tone(&mut self, tone: Tone) {
        if self.settings.tones {
            self.push(Effect::Tone(tone), 0);
        }
    }

    pub(super) fn push(&mut self, effect: Effect, after: u64) {
        self.out.push_back(Queued { effect, after });
    }

    /// Stops listening: what is heard from here on belongs to nothing.
    pub(super) fn hush(&mut self) {
        if let Some(ear) = self.ear.take() {
            self.out.retain(|q| !matches!(q.effect, Effect::Listen(_)));
            if ear.handed {
                self.push(Effect::Hush, 0);
            }
        }
    }

    /// Drops all speech that was not spoken to its end.
    pub(super) fn quiet(&mut self) {
        self.out.retain(|q| !matches!(q.effect, Effect::Say(_)));
        if self.saying.iter().any(|s| s.handed) {
            self.push(Effect::Quiet, 0);
        }
        self.saying.clear();
    }

    /// Whether something is being spoken.
    pub(super) fn is_speaking(&self) -> bool {
        !self.saying.is_empty()
    }

    /// Whether an utterance on this listen counts, and then whether as an answer.
    fn hears(&self, listen: u64) -> Option<bool> {
        self.ear
            .filter(|e| e.handed && e.id == listen)
            .map(|e| e.answers)
    }

    fn journalled(&mut self, seq: u64) {
        if self.waiting.get(&seq) == Some(&true) {
            self.waiting.remove(&seq);
        }
        if self.waiting.is_empty() {
            self.record_slow = false;
        }
    }

    /// The end of a phrase is the end of those before it.
    pub(super) fn said(&mut self, id: SayId, told: bool) {
        let Some(at) = self.saying.iter().position(|s| s.id == id && s.handed) else {
            return;
        };
        for spoken in self.saying.drain(..=at) {
            if told && spoken.phrase == Phrase::ReadBack {
                self.unread = None;
            }
            if told && self.compact == Some(spoken.id) {
                self.pending.clear();
                self.compact = None;
            }
        }
    }
}

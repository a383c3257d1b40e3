//! Deficiencies from finding to fix.

use super::build::deficiency;
use super::{AnswerView, DeficiencyView, SaidView, Status, View};
use crate::plan::CheckId;
use crate::record::envelope::Envelope;
use crate::record::show::clock_time;
use crate::walk::{Entry, Ledger, Outcome, rules};

/// A finding as it is gathered.
struct Finding {
    view: DeficiencyView,
    /// Whether it was put right or taken back.
    over: bool,
}

/// Every deficiency found, a finding each, by check in walking order. An answer in its place, or a repair, ends it.
pub(super) fn deficiencies(ledger: &Ledger, envelopes: &[Envelope]) -> Vec<DeficiencyView> {
    let standing = ledger.deficiencies();
    let checks = ledger.route().checks();
    let mut all = Vec::new();
    for check in checks {
        let mut found = findings(ledger, &check.id, envelopes);
        if let Some(stands) = standing.iter().find(|d| d.check == check.id) {
            match found.last_mut().filter(|f| !f.over) {
                Some(last) => {
                    last.view.name.clone_from(&stands.name);
                    last.view.stands = true;
                }
                // A comparison can make an answer deficient that was not when it was given.
                None => found.extend(ledger.standing(&check.id).map(|answer| Finding {
                    view: finding(&check.id, stands.name.clone(), answer.entry, true),
                    over: false,
                })),
            }
        }
        all.extend(found.into_iter().map(|f| DeficiencyView {
            left_out: !f.over && !ledger.applies(&check.id),
            ..f.view
        }));
    }
    all
}

fn finding(check: &CheckId, name: String, found: u64, stands: bool) -> DeficiencyView {
    DeficiencyView {
        check: check.clone(),
        name,
        found,
        in_review: None,
        put_right: None,
        put_right_by: None,
        left_open: None,
        since: Vec::new(),
        stands,
        left_out: false,
    }
}

/// What was found at a check, oldest first, by its own answers or by those to others.
fn findings(ledger: &Ledger, of: &CheckId, envelopes: &[Envelope]) -> Vec<Finding> {
    let by_ledger = ledger.found(of);
    let mut found: Vec<Finding> = Vec::new();
    for envelope in envelopes {
        let brought = by_ledger.iter().find(|(entry, _)| *entry == envelope.seq);
        let by_another = match &envelope.entry {
            // A comparison can make an answer deficient that was not when it was given.
            Entry::Answered { check, .. } => check != of,
            _ => false,
        };
        if let Some((seq, name)) = brought.filter(|_| by_another) {
            let last = found.last_mut().filter(|f| !f.over);
            match last {
                Some(last) => last.view.name.clone_from(name),
                None => found.push(Finding {
                    view: finding(of, name.clone(), *seq, false),
                    over: false,
                }),
            }
        }
        match &envelope.entry {
            Entry::Answered { check, outcome, .. } if check == of => {
                let deficiency = deficiency(outcome.clone());
                let last = found.last_mut();
                match (last, deficiency) {
                    // Said again, as after a restart.
                    (Some(last), Some(name)) if !last.over && last.view.name == name => {
                        last.view.since.push(envelope.seq);
                    }
                    (last, deficiency) => {
                        if let Some(last) = last {
                            last.over = true;
                            // "Not applicable" and "not seen" tell nothing of a repair.
                            if matches!(outcome, Outcome::Conforming | Outcome::Deficient { .. }) {
                                last.view.since.push(envelope.seq);
                            }
                        }
                        found.extend(deficiency.map(|name| Finding {
                            view: finding(of, name, envelope.seq, false),
                            over: false,
                        }));
                    }
                }
            }
            Entry::PutRight { check, .. } if check == of => {
                if let Some(last) = found.last_mut().filter(|f| !f.over) {
                    last.over = true;
                    last.view.put_right = Some(envelope.seq);
                    last.view.put_right_by = said(ledger, envelope);
                }
            }
            Entry::Control {
                control,
                check: Some(check),
                ..
            } if control == rules::LEAVE && check == of => {
                if let Some(last) = found.last_mut().filter(|f| !f.over) {
                    last.view.left_open = said(ledger, envelope);
                }
            }
            _ => {}
        }
    }
    found
}

/// What was said in an entry of a repair or a command; `None` of any other.
pub(super) fn said(ledger: &Ledger, envelope: &Envelope) -> Option<SaidView> {
    let (Entry::PutRight { hearing, .. } | Entry::Control { hearing, .. }) = &envelope.entry else {
        return None;
    };
    Some(SaidView {
        entry: envelope.seq,
        wall: envelope.wall.clone(),
        mono_ms: envelope.mono_ms,
        by: ledger.opening()?.inspector.clone(),
        words: hearing.words.clone(),
        confidence: hearing.confidence,
        clip: hearing.clip.clone(),
        clip_sha256: hearing.clip_sha256.clone(),
    })
}

impl SaidView {
    /// When, by whom and by which sound, in words.
    fn words(&self) -> String {
        let (at, by, words) = (clock_time(&self.wall), &self.by, &self.words);
        match self.clip.as_str() {
            "" => format!("{at}, {by}: typed \"{words}\""),
            clip => format!(
                "{at}, {by}: heard \"{words}\" {:.2} {clip}",
                self.confidence
            ),
        }
    }
}

impl DeficiencyView {
    /// Where it was found, in words.
    pub fn found_words(&self, view: &View) -> String {
        let answers = self.answers(view);
        let by_the_walk = answers
            .iter()
            .find(|a| a.entry == self.found)
            .is_some_and(|a| a.outcome == Status::Deficient);
        match self.in_review {
            None => format!("found in entry {}", self.found),
            Some(n) if by_the_walk => {
                format!("found in entry {}, heard so in review {n}", self.found)
            }
            Some(n) => format!("heard in review {n} of entry {}", self.found),
        }
    }

    /// What became of it, in words.
    pub fn fate(&self, view: &View) -> String {
        let by = self.put_right_by.as_ref();
        let by = by.map_or_else(String::new, |said| format!(" ({})", said.words()));
        let became = match self.put_right {
            _ if self.stands => format!("it stands{}", again(&self.since)),
            Some(entry) if self.since.is_empty() => {
                format!("said to be put right in entry {entry}{by}, NOT RE-INSPECTED")
            }
            Some(entry) => format!("put right in entry {entry}{by}{}", again(&self.since)),
            None if self.left_out => format!(
                "its check is left out by another answer since{}",
                again(&self.since)
            ),
            None => self.ended(view),
        };
        match &self.left_open {
            Some(left) => format!(
                "left open in entry {} ({}); {became}",
                left.entry,
                left.words()
            ),
            None => became,
        }
    }

    /// The answer in its place.
    fn ended(&self, view: &View) -> String {
        let later = self.answers(view).iter().filter(|a| a.entry > self.found);
        let other = |a: &&AnswerView| a.deficiency.as_ref() != Some(&self.name);
        let Some(end) = later.clone().find(other) else {
            return format!("no longer stands{}", again(&self.since));
        };
        let what = match (end.outcome, end.corrects) {
            (Status::NotApplicable, _) => "called not applicable",
            (Status::NotSeen, _) => "called not seen",
            (_, true) => "corrected",
            _ => "answered again",
        };
        let rest: Vec<u64> = self
            .since
            .iter()
            .copied()
            .filter(|&e| e != end.entry)
            .collect();
        format!("{what} in entry {}{}", end.entry, again(&rest))
    }

    fn answers<'a>(&self, view: &'a View) -> &'a [AnswerView] {
        let check = view.checks.iter().find(|c| c.check == self.check);
        check.map_or(&[], |c| &c.answers)
    }
}

fn again(entries: &[u64]) -> String {
    let entries: Vec<String> = entries.iter().map(u64::to_string).collect();
    match entries.len() {
        0 => String::new(),
        _ => format!("; answered again in entry {}", entries.join(", ")),
    }
}

//! A breath of called findings, taken apart: what counts of it, what was taken back, what is a command.

use super::called::{as_asked, checks_of};
use super::machine::Walk;
use crate::grammar::{NEGATED, called};
use crate::plan::{Check, CheckId, CheckKind, Station};
use crate::walk::{Decision, Hearing, Meaning, Outcome, judge, rules};

/// A finding of a breath.
pub(super) struct Finding {
    /// Number of its item in the breath; those of "both" share one.
    pub item: usize,
    pub check: CheckId,
    pub value: String,
    pub sure: bool,
    pub hearing: Hearing,
    /// Whether it takes the place of another one of this breath.
    pub instead: bool,
}

/// What a breath holds, taken apart.
#[derive(Default)]
pub(super) struct Breath {
    pub findings: Vec<Finding>,
    /// Heard, and no answer.
    pub rest: Vec<(Option<CheckId>, Hearing)>,
    /// Checks whose finding was taken back in this breath.
    pub taken_back: Vec<CheckId>,
    /// A command; nothing after it counts.
    pub control: Option<(String, bool, Hearing)>,
    /// An item named without a finding.
    pub named: Option<(CheckId, Hearing)>,
    /// A "no" just before, and what it took back: it may correct that, or deny what follows.
    no: Option<No>,
    /// The item that a "no" before it denies.
    denied: Option<usize>,
}

/// A "no" between findings.
struct No {
    sure: bool,
    hearing: Hearing,
    /// What was found before it, the item's last first; empty at the beginning of the breath.
    before: Vec<Finding>,
    /// Whether it can only correct ("sorry", "correction").
    corrects: bool,
}

impl Walk {
    /// Takes a breath apart: the last finding of each check counts, a command ends it.
    pub(super) fn taken_apart(&self, station: &Station, items: Vec<Hearing>) -> Breath {
        let mut breath = Breath::default();
        for (item, hearing) in items.into_iter().enumerate() {
            let (meaning, sure) = match &hearing.decision {
                Decision::Take { meaning } => (meaning.clone(), true),
                Decision::Confirm { meaning } => (meaning.clone(), false),
                Decision::Refuse { .. } => {
                    breath.rest.push((None, hearing));
                    continue;
                }
            };
            if breath.control.is_some() || breath.named.is_some() {
                // Nothing behind a command is an answer, but what speaks against one is not lost.
                let denied = self.denied_by(station, &meaning);
                if denied.is_empty() {
                    breath.rest.push((None, hearing));
                } else {
                    for check in denied {
                        breath.deny(item, check, hearing.clone());
                    }
                }
                continue;
            }
            match meaning.rule.as_str() {
                called::FILLER if meaning.value == called::NO => breath.no(sure, hearing),
                called::FILLER => breath.take_back(sure, hearing),
                rules::CONTROL if meaning.value == rules::CORRECTION => {
                    breath.take_back(sure, hearing);
                }
                // A doubtful command obeyed would drop what was said after it; a stop is no loss.
                rules::CONTROL
                    if !judge::is_no_value(&meaning.value)
                        && (sure || meaning.value == rules::STAND_BY) =>
                {
                    breath.no_before_a_command();
                    breath.control = Some((meaning.value, sure, hearing));
                }
                called::NAME if sure => match checks_of(station, &meaning.value).first() {
                    Some(check) => {
                        breath.no_before_a_command();
                        breath.named = Some((check.id.clone(), hearing));
                    }
                    None => breath.rest.push((None, hearing)),
                },
                // A name that may have been heard, with what nobody understood: what was found of it is asked.
                called::NAME => match checks_of(station, &meaning.value).first() {
                    Some(check) => breath.deny(item, check.id.clone(), hearing),
                    None => breath.rest.push((None, hearing)),
                },
                rules::COUNT => match self.count_just_before(station, &breath, item) {
                    // "Six bolts, five": which of them is meant is asked.
                    Some((check, told)) if told != meaning.value => {
                        breath.deny(item, check, hearing);
                    }
                    Some(_) => breath.rest.push((None, hearing)),
                    // Where it may have been another, or none, its count is asked for without a number.
                    None if !sure => breath.rest.push((None, hearing)),
                    None => match self.count_meant(station, &breath) {
                        Some(check) => {
                            breath.find(item, check, &meaning.value, sure, hearing, self);
                        }
                        None => breath.rest.push((None, hearing)),
                    },
                },
                rule => {
                    let checks = checks_of(station, rule);
                    if checks.is_empty() {
                        breath.rest.push((None, hearing.clone()));
                    }
                    for check in checks {
                        let id = check.id.clone();
                        breath.find(item, id, &meaning.value, sure, hearing.clone(), self);
                    }
                }
            }
        }
        breath.settle_no();
        breath
    }

    /// The checks that a finding calls deficient: of "both" and "all" each.
    fn denied_by(&self, station: &Station, meaning: &Meaning) -> Vec<CheckId> {
        let is_denied = |c: &&Check| {
            meaning.value == NEGATED
                || judge::answer(c, &as_asked(c, &meaning.value))
                    .and_then(|value| self.ledger.would_be(&c.id, &value))
                    .is_some_and(|o| matches!(o, Outcome::Deficient { .. }))
        };
        let checks = checks_of(station, &meaning.rule).into_iter();
        checks.filter(is_denied).map(|c| c.id.clone()).collect()
    }

    /// Whether a value calls its check deficient, or denies what it should be.
    pub(super) fn is_against(&self, check: &CheckId, value: &str) -> bool {
        value == NEGATED
            || matches!(
                self.ledger.would_be(check, value),
                Some(Outcome::Deficient { .. })
            )
    }

    /// Whether a fault would be taken back by a "no" and what conforms: "padding missing, no padding in place" may say the
    /// fault twice. A number behind a "no" can only correct.
    fn is_undone(&self, check: &CheckId, fault: &str, good: &str) -> bool {
        let in_words = self.ledger.locate(check).is_some_and(|(_, c)| {
            matches!(
                c.kind,
                CheckKind::State { .. } | CheckKind::Presence { .. } | CheckKind::Condition
            )
        });
        in_words && self.is_against(check, fault) && !self.is_against(check, good)
    }

    /// Whether two findings about a check cannot both be so, and yet neither is a fault by itself: "plug in" and "cap on" of
    /// what must be one of them.
    pub(super) fn are_at_odds(&self, check: &CheckId, one: &str, other: &str) -> bool {
        let is_state = self
            .ledger
            .locate(check)
            .is_some_and(|(_, c)| matches!(c.kind, CheckKind::State { .. }));
        is_state
            && one != other
            && !judge::is_no_value(one)
            && !judge::is_no_value(other)
            && !self.is_against(check, one)
            && !self.is_against(check, other)
    }

    /// The count that a number alone belongs to: behind a "no" the one that was told before it, else the only one that
    /// is open.
    fn count_meant(&self, station: &Station, breath: &Breath) -> Option<CheckId> {
        let is_count = |check: &CheckId| {
            let mut checks = station.checks.iter();
            checks.any(|c| c.id == *check && matches!(c.kind, CheckKind::Count { .. }))
        };
        let told =
            breath
                .no
                .as_ref()
                .filter(|no| !no.corrects)
                .and_then(|no| match no.before.first() {
                    Some(found) => Some(found.check.clone()),
                    None => self.ledger.last_answer().map(|(c, _)| c.id.clone()),
                });
        told.filter(is_count)
            .or_else(|| self.only_open_count(station, breath))
    }

    /// The count that the item before this one told, with nothing between them.
    fn count_just_before(
        &self,
        station: &Station,
        breath: &Breath,
        item: usize,
    ) -> Option<(CheckId, String)> {
        let last = breath.findings.last()?;
        let is_next = last.item + 1 == item && breath.no.is_none();
        let is_count = |c: &&Check| c.id == last.check && matches!(c.kind, CheckKind::Count { .. });
        let is_of_count = station.checks.iter().any(|c| is_count(&c));
        (is_next && is_of_count).then(|| (last.check.clone(), last.value.clone()))
    }

    /// Whether the answer given last is of another station than this check, at which nothing was answered yet.
    fn is_elsewhere(&self, check: &CheckId) -> bool {
        let station = |id: &CheckId| self.ledger.locate(id).map(|(s, _)| s);
        let (Some((last, _)), Some(here)) = (self.ledger.last_answer(), station(check)) else {
            return false;
        };
        self.is_untouched(&here.key) && station(&last.id).is_some_and(|there| there.key != here.key)
    }

    /// The only count that is open.
    fn only_open_count(&self, station: &Station, breath: &Breath) -> Option<CheckId> {
        let mut open = station.checks.iter().filter(|c| {
            matches!(c.kind, CheckKind::Count { .. })
                && self.ledger.applies(&c.id)
                && self.ledger.standing(&c.id).is_none()
                && !breath.findings.iter().any(|f| f.check == c.id)
        });
        let only = open.next()?.id.clone();
        open.next().is_none().then_some(only)
    }
}

impl Breath {
    /// "No": what it means is known by what follows.
    fn no(&mut self, sure: bool, hearing: Hearing) {
        self.settle_no();
        let mut before = Vec::new();
        if let Some(last) = self.findings.last().map(|f| f.item) {
            while self.findings.last().is_some_and(|f| f.item == last) {
                before.extend(self.findings.pop());
            }
        }
        self.no = Some(No {
            sure,
            hearing,
            before,
            corrects: false,
        });
    }

    /// A check is asked at once, and what stood of it no longer does.
    fn deny(&mut self, item: usize, check: CheckId, hearing: Hearing) {
        self.findings.retain(|f| f.check != check);
        self.findings.push(Finding {
            item,
            check,
            value: NEGATED.to_owned(),
            sure: true,
            hearing,
            instead: false,
        });
    }

    /// A "no" with no finding behind it takes back what was said before it.
    fn settle_no(&mut self) {
        let Some(no) = self.no.take() else { return };
        if no.corrects {
            self.control = Some((rules::CORRECTION.to_owned(), no.sure, no.hearing));
            return;
        }
        self.findings.extend(no.before.into_iter().rev());
        self.take_back(no.sure, no.hearing);
        self.settle_no();
    }

    /// A "no" before a command or a name takes back what was said before it; at the beginning the command says it all.
    fn no_before_a_command(&mut self) {
        match self.no.take() {
            Some(no) if no.before.is_empty() => self.rest.push((None, no.hearing)),
            no => {
                self.no = no;
                self.settle_no();
            }
        }
    }

    /// What a finding behind a "no" is worth. Another value of what was just found, or answered last, corrects that. Anything
    /// else may be denied by it ("no padding in place"): it is asked at once, and what was said before the "no" is
    /// asked about.
    fn behind_no(&mut self, finding: &mut Finding, walk: &Walk) {
        let Some(no) = self.no.take() else { return };
        let is_other =
            |found: &Finding| found.check == finding.check && found.value != finding.value;
        if no.before.iter().any(is_other) {
            let said = |found: &&Finding| is_other(found);
            let undone =
                no.before.iter().find(said).is_some_and(|found| {
                    walk.is_undone(&finding.check, &found.value, &finding.value)
                });
            self.findings.extend(no.before.into_iter().rev());
            self.take_back(no.sure, no.hearing);
            if undone {
                finding.value = NEGATED.to_owned();
            }
            return;
        }
        if no.corrects {
            // "Sorry, pin missing" tells what is corrected. What was not answered yet, or is said as it was, does not: then
            // it is asked about, and the last answer is corrected.
            let standing = walk.ledger.standing(&finding.check);
            let nothing_to_correct = walk.ledger.last_answer().is_none();
            let differs = standing.is_some_and(|a| a.value != finding.value);
            finding.instead |= differs;
            if nothing_to_correct || differs {
                return self.rest.push((None, no.hearing));
            }
            // At a station that was just begun it may tell of the one before: here it is asked.
            if walk.is_elsewhere(&finding.check) {
                finding.value = NEGATED.to_owned();
            }
            finding.sure = false;
            self.control = Some((rules::CORRECTION.to_owned(), no.sure, no.hearing));
            return;
        }
        let last = walk.ledger.last_answer();
        if no.before.is_empty() && walk.is_elsewhere(&finding.check) {
            // The tool has gone on: it may be said to what was called last, at the station before.
            self.control = Some((rules::CORRECTION.to_owned(), no.sure, no.hearing));
            finding.value = NEGATED.to_owned();
            return;
        }
        let corrects_last = no.before.is_empty()
            && last.is_some_and(|(c, a)| {
                let undone = walk.is_undone(&c.id, &a.value, &finding.value);
                c.id == finding.check && a.value != finding.value && !undone
            });
        for mut before in no.before.into_iter().rev() {
            before.sure = false;
            self.findings.push(before);
        }
        self.rest.push((None, no.hearing));
        finding.instead |= corrects_last;
        if !corrects_last {
            finding.value = NEGATED.to_owned();
        }
    }

    /// What was said just before is taken back; at the beginning it is the last answer.
    fn take_back(&mut self, sure: bool, hearing: Hearing) {
        self.settle_no();
        let Some(last) = self.findings.last().map(|f| f.item) else {
            if self.taken_back.is_empty() {
                // What is corrected is known by what follows.
                self.no = Some(No {
                    sure,
                    hearing,
                    before: Vec::new(),
                    corrects: true,
                });
            } else {
                self.rest.push((None, hearing));
            }
            return;
        };
        let mut written = false;
        while self.findings.last().is_some_and(|f| f.item == last) {
            if let Some(finding) = self.findings.pop() {
                self.taken_back.push(finding.check.clone());
                if !std::mem::replace(&mut written, true) {
                    self.rest.push((Some(finding.check), finding.hearing));
                }
            }
        }
        self.rest.push((None, hearing));
    }

    fn find(
        &mut self,
        item: usize,
        check: CheckId,
        value: &str,
        sure: bool,
        hearing: Hearing,
        walk: &Walk,
    ) {
        let mut finding = Finding {
            item,
            value: value.to_owned(),
            sure,
            hearing,
            instead: false,
            check,
        };
        match &self.denied {
            // "No both pins in" denies each of them.
            Some(denied) if *denied == item => finding.value = NEGATED.to_owned(),
            _ => {
                self.behind_no(&mut finding, walk);
                if finding.value == NEGATED && value != NEGATED {
                    self.denied = Some(item);
                }
            }
        }
        finding.instead |= self.taken_back.contains(&finding.check);
        if let Some(at) = self.findings.iter().position(|f| f.check == finding.check) {
            let before = self.findings.remove(at);
            finding.instead |= before.instead || before.value != finding.value;
            // Both were said, and neither was taken back: the good one alone is not believed, nor is the fault
            // forgotten. The check is asked.
            let meant = |f: &Finding| walk.is_against(&f.check, &f.value);
            let undone = meant(&before) && !meant(&finding);
            let taken_back = self.taken_back.contains(&finding.check);
            if !taken_back
                && (undone || walk.are_at_odds(&finding.check, &before.value, &finding.value))
            {
                finding.value = NEGATED.to_owned();
            }
            self.rest.push((Some(before.check), before.hearing));
        }
        self.findings.push(finding);
    }
}

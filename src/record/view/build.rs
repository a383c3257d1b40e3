//! Gathers a view from the entries and the ledger.

use super::amended::Review;
use super::debrief::debrief;
use super::found::deficiencies;
use super::words;
use super::{
    AnswerView, CAUTIONS, CheckView, Counts, HeardView, HoldView, Moment, NoteView, OpenView,
    RhythmView, State, Status, TRIED_OUT, VIEW_FORMAT, View,
};
use crate::plan::{Check, CheckId, Station};
use crate::record::clock::instant;
use crate::record::envelope::{Envelope, clips_of};
use crate::record::error::RecordError;
use crate::record::forget::Removed;
use crate::record::keys::PublicKey;
use crate::record::planned::{KnownPlans, plan_of};
use crate::record::verify::{Verification, examine, examine_among};
use crate::walk::{Answer, Entry, Hearing, Ledger, NotAsked, Note, Outcome, Stage, rules};
use std::collections::HashMap;
use std::path::Path;

/// Gathers a record for reading. What lies after the first bad entry is left out, and
/// [`View::integrity`] names that entry.
///
/// # Errors
/// Where there is no journal to read, or no entry in it.
pub fn view(folder: &Path) -> Result<View, RecordError> {
    let (parsed, integrity) = examine(folder, &[], true)?;
    let mut view = gather(folder, parsed.entries, integrity)?;
    if let Some(plan) = plan_of(folder, &view.plan_sha256) {
        view.lifter = Some(plan.lift.lifter());
        view.sling_set = Some(plan.sling_set.name);
    }
    Ok(view)
}

/// Proves a record as [`verify`](fn@crate::record::verify) does, and gathers it for reading; `None` where nothing of it can be
/// read.
///
/// # Errors
/// Where there is no journal to read.
pub fn verified_view(
    folder: &Path,
    trusted: &[PublicKey],
) -> Result<(Verification, Option<View>), RecordError> {
    let (parsed, found) = examine(folder, trusted, true)?;
    let view = gather(folder, parsed.entries, found.clone()).ok();
    Ok((found, view))
}

/// A [`view`] for counting over many records: clips are not read, and so [`View::integrity`] says nothing of them; a plan
/// is read once for all records that have it.
///
/// # Errors
/// As [`view`].
pub fn glance(folder: &Path, known: &mut KnownPlans) -> Result<View, RecordError> {
    let (parsed, integrity) = examine_among(folder, known)?;
    gather(folder, parsed.entries, integrity)
}

fn gather(
    folder: &Path,
    entries: Vec<Envelope>,
    integrity: Verification,
) -> Result<View, RecordError> {
    let mut ledger = Ledger::default();
    let fit = entries
        .iter()
        .take_while(|e| ledger.apply(&e.entry).is_ok())
        .count();
    let envelopes = &entries[..fit];
    let (Some(opening), Some(first), Some(last)) =
        (ledger.opening(), envelopes.first(), envelopes.last())
    else {
        return Err(match integrity.first_problem {
            Some(problem) => RecordError::Broken {
                path: folder.to_owned(),
                problem,
            },
            None => RecordError::Empty(folder.to_owned()),
        });
    };
    let review = Review::of(&ledger, &integrity.amendments);
    let mut checks = checks(&ledger, envelopes);
    checks.iter_mut().for_each(|check| review.amend(check));
    let walked_state = state(&ledger);
    // What was changed may be what made it ready, and a review that cannot be read may have opened
    // a check.
    let broken = integrity.first_problem.as_ref();
    let amended_state = match review.state(walked_state) {
        State::Ready if broken.is_some() => State::NotReady,
        state => state,
    };
    let answers = checks.iter().flat_map(|c| &c.answers);
    let corrected = answers.filter(|a| a.corrects).count() as u32;
    let mut against: Vec<String> = broken
        .map(|problem| format!("the record is not intact: {problem}"))
        .into_iter()
        .collect();
    against.extend(review.against(&ledger, &checks));
    Ok(View {
        format: VIEW_FORMAT,
        load: opening.route.load.clone(),
        inspector: opening.inspector.clone(),
        rigger: opening.rigger.clone(),
        lifter: None,
        sling_set: None,
        plan_sha256: opening.plan_sha256.clone(),
        started: first.wall.clone(),
        last: last.wall.clone(),
        recorded_ms: last.mono_ms,
        state: amended_state,
        walked_state,
        held: ledger.held().map(str::to_owned),
        capacity: opening.capacity.clone(),
        tryout: opening.tryout.clone(),
        tried_again: tried_again(envelopes),
        practice: debrief(&ledger, envelopes, &review.amendments),
        against,
        not_applicable: checks
            .iter()
            .filter(|c| c.status == Status::NotApplicable)
            .map(|c| {
                let found = if ledger.was_found(&c.check) || review.heard_deficient(&c.check) {
                    " (found deficient before)"
                } else {
                    ""
                };
                format!("{}, {}{found}", c.station, c.name)
            })
            .collect(),
        deficiencies: review.deficiencies(&ledger, envelopes, deficiencies(&ledger, envelopes)),
        open: review.open(open(&ledger), &checks),
        checks,
        outline_m: opening.route.outline_m,
        notes: notes(envelopes, None),
        amendments: review.amendments,
        left_out: opening.route.left_out.clone(),
        holds: holds(envelopes),
        sound_removed: Removed::of(folder, envelopes).gone(folder),
        rhythms: rhythms(envelopes),
        counts: counts(envelopes, corrected),
        timeline: timeline(&ledger, envelopes),
        entries,
        integrity,
        cautions: CAUTIONS.map(str::to_owned).to_vec(),
    })
}

fn state(ledger: &Ledger) -> State {
    match (ledger.completed(), ledger.held()) {
        (Some(true), _) => State::Ready,
        (Some(false), _) => State::NotReady,
        (None, Some(_)) => State::Held,
        (None, None) => State::Open,
    }
}

/// The check that an entry is about.
fn about(entry: &Entry) -> Option<&CheckId> {
    match entry {
        Entry::Asked { check, .. }
        | Entry::Answered { check, .. }
        | Entry::Doubted { check, .. }
        | Entry::PutRight { check, .. } => Some(check),
        Entry::Refused { check, .. }
        | Entry::Control { check, .. }
        | Entry::Noted { check, .. }
        | Entry::Held { check, .. }
        | Entry::Carried { check }
        | Entry::Resumed { check } => check.as_ref(),
        Entry::Rhythm { again, .. } => again.as_ref(),
        Entry::Opened { .. } | Entry::Calling { .. } | Entry::Completed { .. } => None,
    }
}

fn open(ledger: &Ledger) -> Vec<OpenView> {
    let points = ledger.open_points().into_iter();
    points
        .map(|point| OpenView {
            check: point.check,
            place: point.place,
            why: point.why.words().to_owned(),
        })
        .collect()
}

fn checks(ledger: &Ledger, envelopes: &[Envelope]) -> Vec<CheckView> {
    let mut tallies: HashMap<&CheckId, Counts> = HashMap::new();
    for envelope in envelopes {
        if let Some(check) = about(&envelope.entry) {
            count(tallies.entry(check).or_default(), &envelope.entry);
        }
    }
    let opens = ledger.open_points();
    let not_asked = ledger.not_asked();
    let alone = without_reviews(envelopes);
    let stations = ledger.route().stations.iter();
    let all = stations.flat_map(|station| station.checks.iter().map(move |c| (station, c)));
    all.map(|(station, check)| {
        let tally = tallies.get(&check.id).copied().unwrap_or_default();
        let left = not_asked.iter().find(|n| n.check == check.id);
        let why = match opens.iter().find(|o| o.check == check.id) {
            Some(open) => Some(open.why.words().to_owned()),
            None => left.map(|n| {
                let because = words::place(ledger, &n.because_of);
                if n.undecided {
                    format!("not asked yet, depends on {because}")
                } else {
                    format!("left out by the answer to {because}")
                }
            }),
        };
        let status = status_of(ledger, &not_asked, &check.id);
        let walked = alone
            .as_ref()
            .map(|(ledger, not_asked)| status_of(ledger, not_asked, &check.id));
        CheckView {
            walked: walked.unwrap_or(status),
            ..check_view(ledger, envelopes, station, check, status, why, tally)
        }
    })
    .collect()
}

/// The walk as if nothing had been sent back by a review, with what it does not ask; `None` where nothing was.
fn without_reviews(envelopes: &[Envelope]) -> Option<(Ledger, Vec<NotAsked>)> {
    let by_review =
        |e: &Entry| matches!(e, Entry::Control { control, .. } if control == rules::SENT_BACK);
    let entries = || envelopes.iter().map(|e| &e.entry);
    entries().any(by_review).then(|| {
        let mut alone = Ledger::default();
        for entry in entries().filter(|e| !by_review(e)) {
            // What does not follow without a review changes nothing.
            let _ = alone.apply(entry);
        }
        let not_asked = alone.not_asked();
        (alone, not_asked)
    })
}

/// What holds of a check by the entries.
fn status_of(ledger: &Ledger, not_asked: &[NotAsked], check: &CheckId) -> Status {
    match ledger.outcome(check) {
        Some(outcome) => status(&outcome),
        None if not_asked.iter().any(|n| n.check == *check) => Status::NotAsked,
        None => Status::Open,
    }
}

fn check_view(
    ledger: &Ledger,
    envelopes: &[Envelope],
    station: &Station,
    check: &Check,
    status: Status,
    why: Option<String>,
    tally: Counts,
) -> CheckView {
    let standing = ledger.standing(&check.id).map(|a| a.entry);
    let history = ledger.history(&check.id);
    CheckView {
        check: check.id.clone(),
        station: station.name.clone(),
        name: check.name.clone(),
        ask: check.ask.clone(),
        expected: words::expected(ledger, check),
        place_m: station.place_m,
        status,
        walked: status,
        deficiency: ledger.outcome(&check.id).and_then(deficiency),
        why,
        answers: (0..history.len())
            .map(|at| answer(envelopes, check, history, at, standing))
            .collect(),
        asked: tally.asked,
        refused: tally.refused,
        doubted: tally.doubted,
        rigger_mark: ledger
            .opening()
            .and_then(|opening| opening.rigger_marks.get(&check.id).cloned()),
        notes: notes(envelopes, Some(&check.id)),
        amendments: Vec::new(),
        heard_in_review: None,
    }
}

fn status(outcome: &Outcome) -> Status {
    match outcome {
        Outcome::Conforming => Status::Conforming,
        Outcome::Deficient { .. } => Status::Deficient,
        Outcome::NotApplicable => Status::NotApplicable,
        Outcome::NotSeen => Status::NotSeen,
    }
}

pub(super) fn deficiency(outcome: Outcome) -> Option<String> {
    match outcome {
        Outcome::Deficient { deficiency } => Some(deficiency),
        _ => None,
    }
}

/// The ledger counts entries as the journal does, so an answer's number finds its envelope.
fn envelope(envelopes: &[Envelope], entry: u64) -> Option<&Envelope> {
    envelopes.get(usize::try_from(entry).ok()?)
}

fn answer(
    envelopes: &[Envelope],
    check: &Check,
    history: &[Answer],
    at: usize,
    standing: Option<u64>,
) -> AnswerView {
    let answer = &history[at];
    let before = at.checked_sub(1).map(|before| &history[before]);
    let next = history.get(at + 1);
    let again = next.filter(|n| n.value == answer.value && in_place(envelopes, check, answer, n));
    let envelope = envelope(envelopes, answer.entry);
    AnswerView {
        entry: answer.entry,
        wall: envelope.map_or_else(String::new, |e| e.wall.clone()),
        mono_ms: envelope.map_or(0, |e| e.mono_ms),
        value: answer.value.clone(),
        said: words::said(check, &answer.value),
        outcome: status(&answer.outcome),
        deficiency: deficiency(answer.outcome.clone()),
        stage: answer.stage,
        corrects: before
            .is_some_and(|b| b.value != answer.value && in_place(envelopes, check, b, answer)),
        said_again: again.map(|n| n.entry),
        heard: heard(check, &answer.heard.hearing),
        confirmed_by: answer.heard.confirmed_by.as_ref().map(|h| heard(check, h)),
        stands: standing == Some(answer.entry),
    }
}

/// Whether an answer was given in the place of the one before it: what a repair or a review asks for again is no slip of who
/// answers, but what was answered then may be called wrong.
fn in_place(envelopes: &[Envelope], check: &Check, before: &Answer, answer: &Answer) -> bool {
    let at = |entry: u64| usize::try_from(entry).unwrap_or(usize::MAX);
    let between = envelopes
        .get(at(before.entry)..at(answer.entry))
        .unwrap_or_default();
    between
        .iter()
        .fold(answer.stage == Stage::Correction, |in_place, e| {
            match &e.entry {
                Entry::Control {
                    control,
                    check: Some(of),
                    ..
                } if *of == check.id && control == rules::CORRECTION => true,
                Entry::Control {
                    control,
                    check: Some(of),
                    ..
                } if *of == check.id && control == rules::SENT_BACK => false,
                Entry::PutRight { again, .. } if again.contains(&check.id) => false,
                _ => in_place,
            }
        })
}

fn heard(check: &Check, hearing: &Hearing) -> HeardView {
    let others = hearing.others.iter();
    HeardView {
        others: others
            .map(|o| {
                let words = words::said(check, &o.meaning.value);
                // Beyond a million to one the number says nothing more.
                (words, libm::exp(o.behind.clamp(0.0, 14.0)))
            })
            .collect(),
        words: hearing.words.clone(),
        confidence: hearing.confidence,
        snr_db: hearing.snr_db,
        clip: hearing.clip.clone(),
        clip_sha256: hearing.clip_sha256.clone(),
    }
}

fn notes(envelopes: &[Envelope], of: Option<&CheckId>) -> Vec<NoteView> {
    envelopes
        .iter()
        .filter_map(|envelope| match &envelope.entry {
            Entry::Noted { check, note } if check.as_ref() == of => Some(note_view(envelope, note)),
            _ => None,
        })
        .collect()
}

/// What the latest tryout in a break came to.
fn tried_again(envelopes: &[Envelope]) -> Option<String> {
    let notes = notes(envelopes, None).into_iter().rev();
    let latest = notes.map(|n| {
        n.transcript
            .strip_prefix(TRIED_OUT)
            .filter(|_| n.by_tool)
            .map(str::to_owned)
    });
    latest.flatten().next()
}

fn note_view(envelope: &Envelope, note: &Note) -> NoteView {
    NoteView {
        entry: envelope.seq,
        wall: envelope.wall.clone(),
        transcript: note.machine_transcript.clone(),
        typed: note.typed,
        by_tool: note.by_tool,
        clip: note.clip.clone(),
        clip_sha256: note.clip_sha256.clone(),
    }
}

fn holds(envelopes: &[Envelope]) -> Vec<HoldView> {
    let mut holds: Vec<HoldView> = Vec::new();
    let mut since: Option<u64> = None;
    let end = |since: &mut Option<u64>, holds: &mut Vec<HoldView>, envelope: &Envelope| {
        if let (Some(from), Some(hold)) = (since.take(), holds.last_mut()) {
            let recorded = envelope.mono_ms.saturating_sub(from);
            hold.recorded_ms = recorded;
            hold.held_ms = Some(match envelope.entry {
                // The record's own clock does not run between two runs.
                Entry::Resumed { .. } => by_the_wall(&hold.wall, envelope).unwrap_or(recorded),
                _ => recorded,
            });
        }
    };
    for envelope in envelopes {
        match &envelope.entry {
            Entry::Held { why, check } => {
                // One cause behind another: each has its own time, so that their sum is the time held.
                end(&mut since, &mut holds, envelope);
                since = Some(envelope.mono_ms);
                holds.push(HoldView {
                    entry: envelope.seq,
                    wall: envelope.wall.clone(),
                    why: why.clone(),
                    check: check.clone(),
                    held_ms: None,
                    recorded_ms: 0,
                });
            }
            Entry::Carried { .. } | Entry::Resumed { .. } => {
                end(&mut since, &mut holds, envelope);
            }
            _ => {}
        }
    }
    holds
}

/// Milliseconds from a time of day to an entry; `None` where the clock was set back in between.
fn by_the_wall(from: &str, to: &Envelope) -> Option<u64> {
    let ms = to.instant()?.as_millisecond() - instant(from)?.as_millisecond();
    u64::try_from(ms).ok()
}

fn rhythms(envelopes: &[Envelope]) -> Vec<RhythmView> {
    let found = envelopes
        .iter()
        .filter_map(|envelope| match &envelope.entry {
            Entry::Rhythm {
                checks,
                pattern,
                again,
            } => Some(RhythmView {
                entry: envelope.seq,
                wall: envelope.wall.clone(),
                what: pattern.words().to_owned(),
                checks: checks.clone(),
                again: again.clone(),
            }),
            _ => None,
        });
    found.collect()
}

fn counts(envelopes: &[Envelope], corrected: u32) -> Counts {
    let none = Counts {
        corrected,
        ..Counts::default()
    };
    envelopes.iter().fold(none, |mut counts, e| {
        count(&mut counts, &e.entry);
        counts
    })
}

fn count(counts: &mut Counts, entry: &Entry) {
    let one = match entry {
        Entry::Asked { .. } => &mut counts.asked,
        Entry::Answered { .. } => &mut counts.answered,
        Entry::Refused { .. } => &mut counts.refused,
        Entry::Doubted { .. } => &mut counts.doubted,
        Entry::PutRight { .. } => &mut counts.put_right,
        Entry::Held { .. } => &mut counts.held,
        Entry::Resumed { .. } => &mut counts.resumed,
        _ => return,
    };
    *one += 1;
}

fn timeline(ledger: &Ledger, envelopes: &[Envelope]) -> Vec<Moment> {
    let moments = envelopes.iter().filter(|e| e.seq > 0);
    moments
        .map(|envelope| {
            let entry = &envelope.entry;
            let id = about(entry);
            let check = id.and_then(|id| ledger.locate(id)).map(|(_, check)| check);
            Moment {
                entry: envelope.seq,
                wall: envelope.wall.clone(),
                mono_ms: envelope.mono_ms,
                kind: words::kind(entry),
                check: id.cloned(),
                text: words::entry(entry, check),
                control: match entry {
                    Entry::Control { control, .. } => Some(control.clone()),
                    _ => None,
                },
                clips: clips_of(entry).iter().map(|c| c.file.to_owned()).collect(),
            }
        })
        .collect()
}

#[cfg(test)]
mod tests;

//! Proves that a record is as it was written, or names the first entry or clip that is not.

use super::amend::{AmendmentCheck, read_amendments};
use super::clip::{check_clip, hash_file};
use super::envelope::{clips_of, sha256_hex};
use super::error::RecordError;
use super::folder::{AMENDMENTS, CLIPS, JOURNAL, PLAN, SEALS};
use super::forget::Removed;
use super::hands::{no_seal, note_hands, note_idle_keys};
use super::journal::MAX_JOURNAL_BYTES;
use super::keys::PublicKey;
use super::notes::{note_clocks, note_leftovers, note_strays};
use super::own::{amendments_in, clips_in, seals_in};
use super::parse::{Parsed, parse_journal};
use super::planned::{KnownPlans, compare};
use super::problem::{Place, Problem, ProblemKind};
use super::proves::what_it_proves;
use super::seal::{Role, SealCheck, Statement, covered, read_seals};
use super::sounds::note_sounds;
use super::void::{one_person, void};
use crate::walk::{Entry, Ledger};
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::fs;
use std::io;
use std::path::Path;

/// What a verification found.
#[derive(Clone, Debug, Serialize)]
pub struct Verification {
    /// Whole entries in the journal before its first problem.
    pub entries: u64,
    /// Clips that entries name.
    pub clips: u64,
    /// SHA-256 of the last of those lines, lower-case hex.
    pub last_sha256: String,
    /// The first thing that is wrong, in the order of the walk.
    pub first_problem: Option<Problem>,
    /// Everything that is wrong, in the order of the walk.
    pub problems: Vec<Problem>,
    /// The seals, the inspector's first.
    pub seals: Vec<SealCheck>,
    /// The amendments, in their order.
    pub amendments: Vec<AmendmentCheck>,
    /// The first words of the route that are not those of the plan in the record, where what is asked and what conforms is:
    /// another version of the program may have worded it so. Such a record is neither gone on with nor sealed.
    #[serde(skip)]
    pub other_words: Option<String>,
    /// Things to know that are not wrong: clips that no entry names, a clock set back, a torn line
    /// that was set aside, what lies in the record's folders and is none of its files.
    pub notes: Vec<String>,
    /// What this proves and what it does not, one sentence each.
    pub proves: Vec<String>,
}

impl Verification {
    /// Whether nothing is wrong. Without a seal that says less: read [`Verification::proves`].
    pub fn is_intact(&self) -> bool {
        self.problems.is_empty()
    }

    /// The record's code, to be compared by eye: 16 hexadecimal digits of the hash of the last entry; where there are amendments,
    /// of the hash of that and of theirs.
    pub fn code(&self) -> String {
        let hash = match &self.amendments[..] {
            [] => self.last_sha256.clone(),
            amendments => {
                let mut all = self.last_sha256.clone();
                all.extend(amendments.iter().map(|a| a.sha256.as_str()));
                sha256_hex(all.as_bytes())
            }
        };
        let digits: Vec<char> = hash.chars().take(16).collect();
        let fours: Vec<String> = digits.chunks(4).map(|four| four.iter().collect()).collect();
        fours.join("-")
    }
}

/// Reads a record's journal without touching it.
///
/// # Errors
/// [`RecordError::NotARecord`], [`RecordError::NotPlain`], [`RecordError::TooLong`]; file errors. What is wrong inside the
/// journal is told in [`Parsed::problem`].
pub fn read(folder: &Path) -> Result<Parsed, RecordError> {
    Ok(parse_journal(&journal_bytes(folder)?))
}

/// Proves a record. `trusted` are public keys that the caller knows to be the signers' own; a good
/// seal under any other key counts as a problem if there are any.
///
/// # Errors
/// Where there is no journal to read.
pub fn verify(folder: &Path, trusted: &[PublicKey]) -> Result<Verification, RecordError> {
    Ok(examine(folder, trusted, true)?.1)
}

/// Likewise, with the entries that it is about: a journal that is being written is longer when it is read again. Without
/// `with_clips` the clips are not read.
pub(super) fn examine(
    folder: &Path,
    trusted: &[PublicKey],
    with_clips: bool,
) -> Result<(Parsed, Verification), RecordError> {
    examine_with(
        folder,
        trusted,
        with_clips,
        None,
        &mut KnownPlans::default(),
    )
}

/// Likewise without keys and clips, one of many: what its plan gives is worked out once for all that have it.
pub(super) fn examine_among(
    folder: &Path,
    known: &mut KnownPlans,
) -> Result<(Parsed, Verification), RecordError> {
    examine_with(folder, &[], false, None, known)
}

/// What a verification with every clip will find once this seal is written.
pub(super) fn examine_sealed(
    folder: &Path,
    seal: SealCheck,
) -> Result<(Parsed, Verification), RecordError> {
    examine_with(folder, &[], true, Some(seal), &mut KnownPlans::default())
}

fn examine_with(
    folder: &Path,
    trusted: &[PublicKey],
    with_clips: bool,
    next: Option<SealCheck>,
    known: &mut KnownPlans,
) -> Result<(Parsed, Verification), RecordError> {
    let bytes = journal_bytes(folder)?;
    let parsed = parse_journal(&bytes);
    let mut seals = read_seals(folder, trusted);
    seals.extend(next);
    let mut problems: Vec<Problem> = seals.iter().filter_map(|s| s.problem.clone()).collect();
    let mut notes = Vec::new();

    // A sound seal knows the hash of every line, so its word on what happened is exact.
    let statement = seals
        .iter()
        .find(|s| s.problem.is_none())
        .and_then(|s| s.statement.as_ref());
    let by_seal = statement.and_then(|s| compare_lines(&line_hashes(&bytes), &s.entries));
    problems.extend(
        by_seal
            .or_else(|| parsed.problem.clone())
            .or_else(|| torn(&parsed))
            .or_else(|| empty(&parsed)),
    );
    problems.extend(unreadable(folder));
    let is_by = |role: Role| {
        let of = |s: &SealCheck| s.statement.as_ref().is_some_and(|s| s.role == role);
        seals.iter().any(of)
    };
    if is_by(Role::Second) && !seals.iter().any(|s| s.file == Role::Inspector.file()) {
        problems.push(Problem {
            place: Place::Seal(Role::Inspector.file().to_owned()),
            kind: ProblemKind::Removed,
            detail: "a second person's seal stands on it".to_owned(),
        });
    }
    problems.extend(unfit(&parsed).or_else(|| one_person(&parsed)));
    let mut other_words = None;
    match check_plan(folder, &parsed) {
        Some(problem) => problems.push(problem),
        None => {
            let compared = compare(folder, &parsed, known);
            problems.extend(compared.problem);
            notes.extend(compared.notes);
            other_words = compared.other_words;
        }
    }
    let clips = if with_clips {
        check_clips(folder, &parsed, statement, &mut problems, &mut notes)
    } else {
        0
    };
    let removed = Removed::of(folder, &parsed.entries);
    forget_known(&removed, statement, &mut problems);
    removed.note(folder, &mut notes);
    let amendments = read_amendments(folder, &parsed, &covered(&seals), trusted);
    problems.extend(amendments.iter().filter_map(|a| a.problem.clone()));
    problems.extend(seals.iter().filter_map(|s| unsealed(s, &amendments)));
    problems.extend(no_seal(&parsed, &seals, &amendments, trusted));
    let is_sealed_as_is = |s: &Statement| s.entries == line_hashes(&bytes);
    problems.extend(void(
        &mut seals,
        &parsed,
        &amendments,
        &removed,
        is_sealed_as_is,
    ));
    note_clocks(&parsed, &seals, &amendments, &mut notes);
    note_sounds(&parsed, &mut notes);
    note_hands(&seals, &amendments, &mut notes);
    note_idle_keys(&seals, &amendments, trusted, &mut notes);
    note_leftovers(folder, &mut notes);
    note_strays(SEALS, &seals_in(folder).strays, &mut notes);
    note_strays(AMENDMENTS, &amendments_in(folder).strays, &mut notes);
    problems.sort_by_key(order);

    let proves = what_it_proves(&seals, &amendments, trusted);
    let found = Verification {
        entries: parsed.entries.len() as u64,
        clips,
        last_sha256: parsed.last_hash().to_owned(),
        first_problem: problems.first().cloned(),
        problems,
        seals,
        amendments,
        other_words,
        notes,
        proves,
    };
    Ok((parsed, found))
}

fn journal_bytes(folder: &Path) -> Result<Vec<u8>, RecordError> {
    let path = folder.join(JOURNAL);
    // A link may lead to another walk's, or out of the record.
    let meta = fs::symlink_metadata(&path).map_err(|e| match e.kind() {
        io::ErrorKind::NotFound | io::ErrorKind::NotADirectory => {
            RecordError::NotARecord(folder.to_owned())
        }
        _ => RecordError::io(&path, "read", e),
    })?;
    if !meta.is_file() {
        return Err(RecordError::NotPlain(path));
    }
    if meta.len() > MAX_JOURNAL_BYTES {
        return Err(RecordError::TooLong {
            path,
            limit_bytes: MAX_JOURNAL_BYTES,
        });
    }
    fs::read(&path).map_err(|e| RecordError::io(&path, "read", e))
}

/// Sorts problems in the order of the walk.
fn order(problem: &Problem) -> (u8, u64) {
    match &problem.place {
        Place::Plan => (0, 0),
        Place::Entry(seq)
        | Place::Clip {
            entry: Some(seq), ..
        } => (1, *seq),
        Place::Clip { entry: None, .. } => (2, 0),
        Place::Seal(_) => (3, 0),
        Place::Amendment(_) => (4, 0),
    }
}

/// A journal without any entry, which proves nothing.
fn empty(parsed: &Parsed) -> Option<Problem> {
    parsed.entries.is_empty().then(|| Problem {
        place: Place::Entry(0),
        kind: ProblemKind::Removed,
        detail: "the journal is empty; nothing was written down, or all of it is gone".to_owned(),
    })
}

fn torn(parsed: &Parsed) -> Option<Problem> {
    (parsed.torn_bytes > 0).then(|| Problem {
        place: Place::Entry(parsed.entries.len() as u64),
        kind: ProblemKind::Truncated,
        detail: format!(
            "{} bytes of a broken-off line are there; a crash leaves that, and so does cutting the \
             file; `loadwalk resume` sets them aside",
            parsed.torn_bytes
        ),
    })
}

/// The first entry that the walk cannot have written after those before it: an answer that its own
/// evidence does not bear, a verdict that the answers do not give.
fn unfit(parsed: &Parsed) -> Option<Problem> {
    let (at, why) = Ledger::of(parsed.entries.iter().map(|e| &e.entry)).err()?;
    Some(Problem {
        place: Place::Entry(at),
        kind: ProblemKind::Unfit,
        detail: why.to_string(),
    })
}

/// SHA-256 of every line, whole or not.
fn line_hashes(bytes: &[u8]) -> Vec<String> {
    let bytes = bytes.strip_suffix(b"\n").unwrap_or(bytes);
    if bytes.is_empty() {
        return Vec::new();
    }
    bytes.split(|&b| b == b'\n').map(sha256_hex).collect()
}

/// The first line that is not the sealed one, and what happened to it.
fn compare_lines(found: &[String], sealed: &[String]) -> Option<Problem> {
    let at = (0..found.len().max(sealed.len())).find(|&i| found.get(i) != sealed.get(i))?;
    let problem = |kind, detail: String| {
        Some(Problem {
            place: Place::Entry(at as u64),
            kind,
            detail,
        })
    };
    let (is, was) = match (found.get(at), sealed.get(at)) {
        (None, _) => {
            let detail = format!("it and {} after it are gone", sealed.len() - at - 1);
            return problem(ProblemKind::Truncated, detail);
        }
        (_, None) => {
            let detail = "it stands after the last sealed entry".to_owned();
            return problem(ProblemKind::Added, detail);
        }
        (Some(is), Some(was)) => (is, was),
    };
    let is_from = sealed.iter().position(|h| h == is);
    let was_moved = found[at..].contains(was);
    match (is_from, was_moved) {
        (Some(from), true) if from > at => problem(
            ProblemKind::Reordered,
            format!("entry {from} stands in its place"),
        ),
        (Some(from), false) if from > at => problem(
            ProblemKind::Removed,
            format!("entry {from} follows in its place"),
        ),
        (_, true) => problem(
            ProblemKind::Added,
            "the sealed entry of that number stands after it".to_owned(),
        ),
        _ => problem(
            ProblemKind::Changed,
            "it is not the entry that was sealed".to_owned(),
        ),
    }
}

fn check_plan(folder: &Path, parsed: &Parsed) -> Option<Problem> {
    let Some(Entry::Opened { plan_sha256, .. }) = parsed.entries.first().map(|e| &e.entry) else {
        return None;
    };
    let problem = |kind, detail: String| {
        Some(Problem {
            place: Place::Plan,
            kind,
            detail,
        })
    };
    let path = folder.join(PLAN);
    // A pipe would never end.
    if fs::symlink_metadata(&path).is_ok_and(|meta| !meta.is_file()) {
        return problem(ProblemKind::Changed, "it is no plain file".to_owned());
    }
    match hash_file(&path) {
        Ok(found) if found.sha256 == *plan_sha256 => None,
        Ok(_) => problem(
            ProblemKind::Changed,
            "its bytes give another hash than entry 0 carries".to_owned(),
        ),
        Err(e) if e.kind() == io::ErrorKind::NotFound => {
            problem(ProblemKind::Removed, "there is no such file".to_owned())
        }
        Err(e) => problem(ProblemKind::Malformed, e.to_string()),
    }
}

/// Checks every clip that an entry or a seal names; returns how many the entries name.
fn check_clips(
    folder: &Path,
    parsed: &Parsed,
    statement: Option<&Statement>,
    problems: &mut Vec<Problem>,
    notes: &mut Vec<String>,
) -> u64 {
    let clips = folder.join(CLIPS);
    let mut named: HashMap<&str, &str> = HashMap::new();
    for envelope in &parsed.entries {
        for clip in clips_of(&envelope.entry) {
            let known = named.insert(clip.file, clip.sha256);
            if known == Some(clip.sha256) {
                continue;
            }
            problems.extend(clip_problem(
                &clips,
                clip.file,
                clip.sha256,
                Some(envelope.seq),
            ));
        }
    }
    let none = BTreeMap::new();
    let sealed = statement.map_or(&none, |s| &s.clips);
    for (file, sha256) in sealed {
        if !named.contains_key(file.as_str()) {
            problems.extend(clip_problem(&clips, file, sha256, None));
        }
    }
    let names = clips_in(folder, parsed);
    for file in names.own {
        if named.contains_key(file.as_str()) || sealed.contains_key(&file) {
            continue;
        }
        if statement.is_some() {
            problems.push(Problem {
                place: Place::Clip { file, entry: None },
                kind: ProblemKind::Added,
                detail: "neither an entry nor a seal names it".to_owned(),
            });
        } else {
            notes.push(format!(
                "clip `{file}` is named by no entry; a crash between a clip and its entry leaves that"
            ));
        }
    }
    let mut strays = names.strays;
    strays.retain(|file| !sealed.contains_key(file));
    note_strays(CLIPS, &strays, notes);
    named.len() as u64
}

fn clip_problem(clips: &Path, file: &str, sha256: &str, entry: Option<u64>) -> Option<Problem> {
    let (kind, detail) = check_clip(clips, file, sha256)?;
    Some(Problem {
        place: Place::Clip {
            file: file.to_owned(),
            entry,
        },
        kind,
        detail,
    })
}

/// Sound that was removed on purpose is no problem; that it was is told.
fn forget_known(removed: &Removed, statement: Option<&Statement>, problems: &mut Vec<Problem>) {
    let sealed = |file: &str| statement.and_then(|s| s.clips.get(file));
    problems.retain_mut(|problem| {
        let (Place::Clip { file, entry }, ProblemKind::Removed) = (&problem.place, problem.kind)
        else {
            return true;
        };
        // A list has the hash that the entries have, or it is none; of what no entry names the seal tells it.
        let known = match entry {
            Some(_) => removed.has(file),
            None => sealed(file).is_some_and(|hash| removed.has_as(file, hash)),
        };
        if let Some(why) = removed.doubted(file) {
            problem.detail = why;
        }
        !known
    });
}

/// Folders that are there and cannot be read, or are links: what they hold may change everything.
fn unreadable(folder: &Path) -> impl Iterator<Item = Problem> {
    let clips = Place::Clip {
        file: CLIPS.to_owned(),
        entry: None,
    };
    let places = [
        (SEALS, Place::Seal(SEALS.to_owned())),
        (AMENDMENTS, Place::Amendment(AMENDMENTS.to_owned())),
        (CLIPS, clips),
    ];
    let problem = |(name, place): (&str, Place)| {
        let path = folder.join(name);
        let (kind, detail) = match fs::symlink_metadata(&path) {
            Ok(meta) if meta.is_symlink() => {
                let detail =
                    "it is a link, and no folder in the record: what it leads to can be another's";
                (ProblemKind::Changed, detail.to_owned())
            }
            // What no entry and no seal names is not missed there.
            Ok(_) if name == CLIPS => return None,
            _ => {
                let error = fs::read_dir(&path).err()?;
                if error.kind() == io::ErrorKind::NotFound {
                    return None;
                }
                let detail = format!("{error}; check who may read that folder");
                (ProblemKind::Malformed, detail)
            }
        };
        Some(Problem {
            place,
            kind,
            detail,
        })
    };
    places
        .into_iter()
        .filter_map(problem)
        .collect::<Vec<_>>()
        .into_iter()
}

/// File names in a folder, sorted; none where it cannot be read (see [`unreadable`]).
pub(super) fn files_in(folder: &Path) -> BTreeSet<String> {
    let Ok(files) = fs::read_dir(folder) else {
        return BTreeSet::new();
    };
    files
        .flatten()
        .map(|f| f.file_name().to_string_lossy().into_owned())
        .collect()
}

/// The first amendment that a sound seal covers and that is not there as it was sealed.
fn unsealed(seal: &SealCheck, amendments: &[AmendmentCheck]) -> Option<Problem> {
    let statement = seal.statement.as_ref().filter(|_| seal.problem.is_none())?;
    let at = (0..statement.amendments.len())
        .find(|&i| amendments.get(i).map(|a| &a.sha256) != statement.amendments.get(i))?;
    let (kind, what) = match amendments.get(at) {
        Some(_) => (ProblemKind::Changed, "it is not the one that was sealed"),
        None => (ProblemKind::Removed, "it was sealed and is gone"),
    };
    Some(Problem {
        place: Place::Amendment(format!("{at:04}.json")),
        kind,
        detail: what.to_owned(),
    })
}

//! What may be opened, and how a walk behaves.

use super::ledger::{Opening, Unfit};
use super::manner::Manner;
use super::name::{mixes_scripts, steers};
use super::tryout::Advice;
use crate::plan::CheckId;
use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;
use unicode_normalization::UnicodeNormalization;

/// Format of the journal's entries.
pub const JOURNAL_FORMAT: u32 = 1;

/// How a walk behaves. Nothing in here can make a check conform by itself.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Settings {
    /// Silence at a question before it is repeated, and again before the walk holds, in ms.
    pub silence_ms: u64,
    /// Silence after "note?" before the walk goes on without one, in ms.
    pub note_silence_ms: u64,
    /// Silence while a deficiency may be put right by hand, as `silence_ms`, in ms.
    pub fixing_silence_ms: u64,
    /// Deficiencies are logged and left open: no note and no repair is asked for.
    pub brief: bool,
    /// An answer that makes a check conform must be taken, or confirmed by something taken: hearing
    /// the same doubtful answer twice is not enough, since a like-sounding word is misheard twice.
    pub conforming_needs_take: bool,
    /// Listens while a question is still being spoken.
    pub talk_over: bool,
    /// Says at the beginning whether one may talk over it or waits for the tone.
    pub tells_turns: bool,
    /// Speaks the standing caution before the first check.
    pub caution: bool,
    /// Reminds before the first check that the headset must not hide alarms near turning rotors, and then
    /// leaves this much time to listen round, in ms; 0: it does not.
    pub reminder_ms: u64,
    /// All answers are typed, so that there is no voice to do without.
    pub typed: bool,
    /// Plays tones; without them the words alone tell what happens.
    pub tones: bool,
    /// How it speaks at the beginning.
    pub manner: Manner,
    /// Where the inspector calls findings off and the tool does not ask, until switched by voice.
    pub called: CalledAt,
    /// Taken up again, [`Settings::called`] was chosen anew and goes before what was said by voice before the break.
    pub pace_chosen: bool,
    /// Silence after findings were called off before what was taken is read back and the rest is asked,
    /// in ms.
    pub call_silence_ms: u64,
    /// Least time in which one item can be looked at, in ms; answers given faster are flagged.
    pub look_ms: u64,
    /// What a tryout advises that was made after the walk was opened; the graver of both counts.
    pub advice: Option<Advice>,
    /// Asks one item again where the rhythm of the answers is one in which nobody looks.
    pub rhythm_asks: bool,
}

/// The stations at which findings are called off.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum CalledAt {
    /// None: every check is asked.
    #[default]
    Nowhere,
    /// All of them.
    Everywhere,
    /// The stations with these keys.
    Stations(BTreeSet<String>),
}

/// What was chosen of the pace when a walk was opened, so that it can be taken up at the same.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Pace {
    /// Where findings are called off.
    #[serde(default, skip_serializing_if = "CalledAt::is_nowhere")]
    pub called: CalledAt,
    /// Whether deficiencies are left open without a question.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub brief: bool,
    /// Whether one item is asked again where nobody can have looked.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub look_again: bool,
}

impl Pace {
    /// That of these settings.
    pub(super) fn of(settings: &Settings) -> Self {
        Self {
            called: settings.called.clone(),
            brief: settings.brief,
            look_again: settings.rhythm_asks,
        }
    }
}

impl CalledAt {
    fn is_nowhere(&self) -> bool {
        *self == Self::Nowhere
    }

    /// Whether the station with this key is among them.
    pub fn holds(&self, station: &str) -> bool {
        match self {
            Self::Nowhere => false,
            Self::Everywhere => true,
            Self::Stations(keys) => keys.contains(station),
        }
    }
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            silence_ms: 12_000,
            note_silence_ms: 6_000,
            fixing_silence_ms: 60_000,
            brief: false,
            conforming_needs_take: true,
            talk_over: false,
            tells_turns: false,
            caution: true,
            reminder_ms: 0,
            typed: false,
            tones: true,
            manner: Manner::default(),
            called: CalledAt::Nowhere,
            pace_chosen: false,
            call_silence_ms: 5_000,
            look_ms: 600,
            advice: None,
            rhythm_asks: false,
        }
    }
}

/// Why a walk cannot be opened.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum OpenError {
    /// The inspector rigged the load.
    #[error("{name} rigged this load and cannot inspect it; have another person inspect it")]
    SamePerson {
        /// The name as given for the inspector.
        name: String,
    },
    /// No name.
    #[error("the {role} has no name; give one with `--{role}`")]
    NoName {
        /// `inspector` or `rigger`.
        role: &'static str,
    },
    /// A name with a line break or another character that steers how it is shown.
    #[error("the {role}'s name holds a control character; write it with letters alone")]
    Control {
        /// `inspector` or `rigger`.
        role: &'static str,
    },
    /// A name with letters of two scripts.
    #[error(
        "the {role}'s name mixes letters of two scripts and can pass for another name; write it in one script"
    )]
    Mixed {
        /// `inspector` or `rigger`.
        role: &'static str,
    },
    /// Nothing to ask.
    #[error("the plan leaves no check to ask; check its options and stations")]
    NoChecks,
    /// Two checks of one name.
    #[error("two checks are named {0}; rename one in the plan")]
    Twice(CheckId),
    /// A condition or comparison that does not look back.
    #[error("check {check} looks at {other}, which does not come before it; reorder the plan")]
    NotEarlier {
        /// The check with the condition.
        check: CheckId,
        /// The check it looks at.
        other: CheckId,
    },
    /// A repair that names a check which the route does not have.
    #[error("check {check} touches {other}, which the route does not have; correct the plan")]
    NoSuchCheck {
        /// The check.
        check: CheckId,
        /// What it names.
        other: CheckId,
    },
}

/// Why a walk cannot be taken up from a journal.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum RestoreError {
    /// No entry at all.
    #[error("the journal is empty; start the walk again with `loadwalk walk`")]
    Empty,
    /// An entry does not follow.
    #[error("entry {entry}: {unfit}")]
    Unfit {
        /// Its number, from 0.
        entry: u64,
        /// Why.
        unfit: Unfit,
    },
    /// What was opened may not be walked.
    #[error(transparent)]
    Opening(#[from] OpenError),
}

/// Refuses what must not be walked.
pub(super) fn check(opening: &Opening) -> Result<(), OpenError> {
    for (role, name) in [
        ("inspector", &opening.inspector),
        ("rigger", &opening.rigger),
    ] {
        if name.chars().any(steers) {
            return Err(OpenError::Control { role });
        }
        if mixes_scripts(name) {
            return Err(OpenError::Mixed { role });
        }
        if plain(name).is_empty() {
            return Err(OpenError::NoName { role });
        }
    }
    if same_person(&opening.inspector, &opening.rigger) {
        return Err(OpenError::SamePerson {
            name: opening.inspector.trim().to_owned(),
        });
    }
    if opening.route.checks().next().is_none() {
        return Err(OpenError::NoChecks);
    }
    let mut before = BTreeSet::new();
    for check in opening.route.checks() {
        let looks_at = check.when.iter().map(|c| &c.check);
        let looks_at = looks_at.chain(check.compare.iter().map(|c| &c.with));
        for other in looks_at {
            if !before.contains(other) {
                return Err(OpenError::NotEarlier {
                    check: check.id.clone(),
                    other: other.clone(),
                });
            }
        }
        if !before.insert(&check.id) {
            return Err(OpenError::Twice(check.id.clone()));
        }
    }
    for check in opening.route.checks() {
        if let Some(other) = check.touches.iter().find(|t| !before.contains(t)) {
            return Err(OpenError::NoSuchCheck {
                check: check.id.clone(),
                other: other.clone(),
            });
        }
    }
    Ok(())
}

/// A name without case, blanks, dots and dashes, however its letters are put together.
fn plain(name: &str) -> String {
    // Upwards first: "ß" and "SS" become one.
    name.nfkd()
        .flat_map(char::to_uppercase)
        .flat_map(char::to_lowercase)
        .filter(|c| c.is_alphanumeric())
        .collect()
}

/// The words of a name, compared as in [`plain`], in alphabetical order: "Brandt, Ilse" is "Ilse Brandt".
fn sorted_words(name: &str) -> Vec<String> {
    let parts = name.split(|c: char| c.is_whitespace() || c == ',' || c == ';');
    let mut words: Vec<String> = parts.map(plain).filter(|word| !word.is_empty()).collect();
    words.sort();
    words
}

/// What a name is compared by: its letters and digits, and its words in alphabetical order. Two names are one person's
/// where either is the same in both. `None` of a name without a letter or digit, which is nobody's.
pub fn person_keys(name: &str) -> Option<[String; 2]> {
    let plain = plain(name);
    (!plain.is_empty()).then(|| [plain, sorted_words(name).join(" ")])
}

/// Whether two names are one person's but for case, blanks, dots, dashes, the order of the words, and accents put together
/// otherwise.
pub fn same_person(a: &str, b: &str) -> bool {
    match (person_keys(a), person_keys(b)) {
        (Some(a), Some(b)) => a[0] == b[0] || a[1] == b[1],
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_compared_without_case_and_blanks() {
        assert_eq!(plain(" Ida  M. Rast "), plain("ida m rast"));
        assert_ne!(plain("Ida Rast"), plain("Ivo Rast"));
        assert!(same_person("J\u{f6}rg \u{d6}se", "Jo\u{308}rg O\u{308}se"));
        assert!(same_person("STRASSE", "stra\u{df}e"));
        assert!(same_person("Oskar Venn", "Oskar-Venn."));
        assert!(!same_person("Ida Fern", "Ida Ferner"));
        assert!(!same_person("", "."));
        assert!(same_person("Ilse Brandt", "brandt, Ilse"));
        assert!(same_person("Ilse M. Brandt", "Brandt Ilse M"));
    }
}

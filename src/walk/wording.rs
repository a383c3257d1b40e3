//! Every phrase that a walk speaks. Short, as heard in a headset beside a load.
//!
//! An expected count is in none of them: a count is asked blind, and asked blind again.

mod answers;

pub(super) use answers::*;

use crate::plan::{Check, CheckKind, Station};
use crate::walk::{CapacityLine, rules, spoken};

/// Standing caution before the first check.
pub(super) const CAUTION: &str = "This asks and records; you judge. The maker's tag and the manuals \
     come first. Never for people. Put it away when an aircraft comes in.";
/// Before a practice walk, and where it is taken up again.
pub(super) const PRACTICE: &str = "Practice. Faults may be planted. This vouches for nothing.";
/// What stands against every load of a practice walk.
pub(super) const PRACTICE_STANDS: &str =
    "this was practice, with faults planted: it vouches for nothing";
/// The end of a practice walk.
pub(super) const PRACTICE_OVER: &str = "Practice over. Put right what was planted. It flies only after a \
     full inspection.";
/// Before a walk near turning rotors. The headset is not what protects.
pub(super) const REMINDER: &str = "Rotors near. This headset must not hide alarms or calls. Listen \
     round now. If it hides them, say stop.";
/// Answers are taken while it speaks.
pub(super) const TALK_OVER: &str = "You may answer while I speak.";
/// They are not.
pub(super) const BY_TURNS: &str = "Answer after the tone.";
/// Where a tryout found that answers are better asked back.
pub(super) const CONFIRM_MORE: &str = "By the tryout I ask back more.";
/// Where a tryout found voice unfit.
pub(super) const NO_VOICE: &str = "By the tryout, do not use voice here. Type the answers. What is spoken \
     all the same is asked back.";
/// Before checks that are asked again after a repair.
pub(super) const REINSPECT: &str = "Re-inspect.";
/// A deficiency stays.
pub(super) const LEFT_OPEN: &str = "Left open.";
/// A note was kept.
pub(super) const NOTED: &str = "Noted.";
/// No note came.
pub(super) const NO_NOTE: &str = "No note.";
/// A question was dropped and the walk goes on.
pub(super) const GOING_ON: &str = "Going on.";
/// There is no answer yet to go back to.
pub(super) const NOTHING_BEFORE: &str = "Nothing answered before this.";
/// Somebody speaks in a hold, and may not know of it.
pub(super) const STILL_HOLDING: &str = "Holding. Nothing is taken. Say carry on.";
/// Carry on was half heard.
pub(super) const CARRY_ON_AGAIN: &str = "Say carry on, once more.";
/// How a deficiency is dealt with.
pub(super) const FIXING: &str = "Fixed, or leave it open?";
/// The same, when the answer was not clear.
pub(super) const FIXING_AGAIN: &str = "Say fixed once it is put right, or leave it open.";
/// Opens a station for calls.
pub(super) const CALL: &str = "Your findings.";
/// Several items that one yes would have confirmed are asked after all.
pub(super) const ONE_BY_ONE: &str = "One by one.";
/// Goes on with the calls at a station.
pub(super) const CALL_ON: &str = "Go on.";
/// A breath of calls that was not clear.
pub(super) const CALL_UNCLEAR: &str = "Not clear. Say item and finding, or station done.";
/// Calling off is given up at a station, since it is not understood.
pub(super) const CALL_ENDED: &str = "Not clear. I ask what is left.";
/// Before a check that is asked again for the rhythm of the answers.
pub(super) const LOOK_AGAIN: &str = "One more look, please.";
/// The end of every complete walk.
pub(super) const COMPLETE: &str = "Walk complete.";
/// The verdict where nothing stands against the load. A person signs.
pub(super) const READY: &str = "Ready for signature.";
/// The record's disk does not answer.
pub(super) const RECORD_SLOW: &str = "The record does not answer. Holding.";

/// Why a walk is held, as written down.
pub(super) mod why {
    pub const STAND_BY: &str = "stand by";
    pub const SILENCE: &str = "no answer";
    pub const NOT_UNDERSTOOD: &str = "the answers are not understood";
    pub const ENDED: &str = "ended by the inspector";
}

/// An answer gone back to is kept; `what` it is.
pub(super) fn kept(what: Option<&str>) -> String {
    match what {
        Some(what) => {
            let what = what.strip_prefix("Last answer").unwrap_or(what);
            format!("Kept: {}", what.trim_start_matches([':', ',', ' ']))
        }
        None => "Kept.".to_owned(),
    }
}

/// The same where nothing was called at this station yet, and what was said may be about the one before.
pub(super) fn call_unclear_here(station: &str, before: &str) -> String {
    format!(
        "Not clear. {}: say item and finding, or station done. To change {before}, say correction.",
        capital(station)
    )
}

/// The load, and how far round it goes. `checks`: of those some, where `up_to`, are asked by the answers to others only.
pub(super) fn load(name: &str, checks: usize, up_to: bool, stations: usize) -> String {
    let checks = several(checks, "check", "checks");
    let checks = if up_to {
        format!("up to {checks}")
    } else {
        checks
    };
    format!(
        "{}. {}, {}.",
        capital(name),
        capital(&checks),
        several(stations, "station", "stations")
    )
}

/// The capacity questions that failed, spoken before all else, a phrase each; none where all pass.
pub(super) fn capacity_failed(load: &str, lines: &[CapacityLine]) -> Vec<String> {
    let failed = lines.iter().filter(|l| !l.passes);
    let mut said: Vec<String> = failed.map(|l| sentence(&l.spoken)).collect();
    if let Some(first) = said.first_mut() {
        *first = format!("{}: capacity fails. {first}", capital(load));
    }
    if let Some(last) = said.last_mut() {
        last.push_str(" This walk can only end not ready.");
    }
    said
}

/// What of the figures a qualified person should look at though all of it passes.
pub(super) fn looks(lines: &[CapacityLine]) -> Vec<String> {
    let looks = lines.iter().filter(|l| l.passes && !l.look.is_empty());
    let looks = looks.flat_map(|l| l.look.split("; "));
    let looks: Vec<String> = looks.map(sentence).collect();
    if looks.is_empty() {
        return looks;
    }
    let head = match looks.len() {
        1 => "The figures pass. One point wants a qualified person's look.".to_owned(),
        n => format!(
            "The figures pass. {} points want a qualified person's look.",
            capital(&spoken::number(n))
        ),
    };
    std::iter::once(head).chain(looks).collect()
}

/// Where to go next.
pub(super) fn arrive(station: &Station) -> String {
    let name = sentence(&station.name);
    if station.arrive.trim().is_empty() {
        name
    } else {
        format!("{name} {}", sentence(&station.arrive))
    }
}

/// A check's name with its station, without saying the station twice.
pub(super) fn place(station: &Station, check: &Check) -> String {
    in_station(station, &check.name)
}

fn in_station(station: &Station, text: &str) -> String {
    let words = |text: &str| -> String {
        let plain = |c: char| if c.is_alphanumeric() { c } else { ' ' };
        let words: String = text.to_lowercase().chars().map(plain).collect();
        let words: Vec<&str> = words.split_whitespace().collect();
        format!(" {} ", words.join(" "))
    };
    // "Spring" does not name the ring.
    if words(text).contains(&words(&station.name)) {
        text.to_owned()
    } else {
        format!("{}, {text}", station.name)
    }
}

/// The question. `refused`: how many utterances in a row were not understood; `typed`: whether all answers are typed.
pub(super) fn ask(check: &Check, refused: u32, typed: bool) -> String {
    match refused {
        0 => check.ask.clone(),
        1 => format!(
            "Once more. {} {}.",
            check.ask,
            capital(&examples(&check.kind))
        ),
        _ => format!(
            "Still not clear. {} {}. Or say stand by{}.",
            check.ask,
            capital(&examples(&check.kind)),
            if typed { "" } else { ", or use the keys" }
        ),
    }
}

/// What may be said, never the number that is expected.
fn examples(kind: &CheckKind) -> String {
    match kind {
        CheckKind::Presence { must_be: true } => "say present, missing, or damaged".to_owned(),
        CheckKind::Presence { must_be: false } => "say present, or not there".to_owned(),
        CheckKind::Condition => "say good condition, or damaged".to_owned(),
        CheckKind::Count { .. } => "say a number, digit by digit if it is noisy".to_owned(),
        CheckKind::Reading { unit, .. } => {
            format!("say the number of {unit}, digit by digit, with point")
        }
        CheckKind::Tag { .. } => "say it letter by letter, in the spelling alphabet".to_owned(),
        CheckKind::State { states } => {
            let forms: Vec<&str> = states
                .iter()
                .map(|s| s.spoken.first().map_or(s.key.as_str(), String::as_str))
                .collect();
            format!("say {}", forms.join(", or "))
        }
    }
}

/// Asks which of several answers was wrong. `again`: something else was said.
pub(super) fn which(station: &str, again: bool) -> String {
    if again {
        "Which item was wrong? Say its name, or carry on to keep all.".to_owned()
    } else {
        format!("Correction at {station}. Which item?")
    }
}

/// Asks for a note.
pub(super) fn note(about: Option<&str>) -> String {
    match about {
        Some(place) => format!("{}: note, or carry on?", capital(place)),
        None => "Note, or carry on?".to_owned(),
    }
}

/// An answer taken back.
pub(super) fn correction(place: &str) -> String {
    format!("Correction: {place}.")
}

/// An answer taken back because more was said right behind it.
pub(super) fn went_on(place: &str) -> String {
    format!("I cut in. {}.", capital(place))
}

/// Going back to an answered check.
pub(super) fn back_to(place: &str) -> String {
    format!("Back to {place}. Answer again, or say carry on.")
}

/// A hold, with where and how it ends.
pub(super) fn holding(place: &str, why: &str, by_voice: bool) -> String {
    let end = if by_voice { " Say carry on." } else { "" };
    match why {
        why::STAND_BY => format!("Standing by at {place}.{end}"),
        why::SILENCE => format!("Holding at {place}.{end}"),
        _ => format!("{}. Holding at {place}.{end}", capital(why)),
    }
}

/// The end of a hold.
pub(super) fn carrying_on(place: &str) -> String {
    format!("Carrying on at {place}.")
}

/// A walk taken up again by a new process.
pub(super) fn resuming(load: &str) -> String {
    format!("Resuming. {}.", capital(load))
}

/// Where the walk stands.
pub(super) fn whereabouts(place: &str, open: usize, all: usize) -> String {
    format!(
        "{}. {} of {} open.",
        capital(place),
        capital(&spoken::number(open)),
        spoken::number(all)
    )
}

/// Heads the list of deficiencies.
pub(super) fn deficiency_count(n: usize) -> String {
    match n {
        0 => "No deficiencies.".to_owned(),
        n => format!("{}.", capital(&several(n, "deficiency", "deficiencies"))),
    }
}

/// Deficiencies that were put right and are to be looked at again.
pub(super) fn to_look_at_again(deficiencies: &[String]) -> String {
    format!(
        "Put right, to be looked at again: {}.",
        deficiencies.join("; ")
    )
}

/// A fault called of a check that is not asked as the answers stand.
pub(super) fn not_asked_yet(check: &str) -> String {
    format!(
        "{} is not asked, by what was answered so far. Nothing was written down for it.",
        capital(check)
    )
}

/// One deficiency of a list.
pub(super) fn listed(text: &str) -> String {
    format!("{}.", capital(text))
}

/// The closing question.
pub(super) fn close(deficient: usize, unseen: usize, refused: u32) -> String {
    let mut text = String::from("All checks done.");
    if deficient > 0 {
        text += &format!(
            " {} open.",
            capital(&several(deficient, "deficiency", "deficiencies"))
        );
    }
    if unseen > 0 {
        text += &format!(" {} not seen.", capital(&spoken::number(unseen)));
    }
    text += match (refused, deficient) {
        (0, _) => " Shall I close the walk?",
        (_, 0) => " Say yes to close, or go back.",
        _ => " Say yes to close, fixed to re-inspect, or go back.",
    };
    text
}

/// Asks whether the walk is to end before its end.
pub(super) fn leave(open: usize, refused: u32) -> String {
    if refused > 0 {
        "Say yes to end the walk, or no.".to_owned()
    } else if open == 0 {
        "End the walk without closing it?".to_owned()
    } else {
        format!(
            "End the walk with {} open?",
            several(open, "check", "checks")
        )
    }
}

/// A change of pace or loudness. `changed`: whether there was a step left.
pub(super) fn manner(control: &str, changed: bool) -> &'static str {
    match (control, changed) {
        (rules::FASTER, true) => "Faster.",
        (rules::FASTER, false) => "As fast as I can.",
        (rules::SLOWER, true) => "Slower.",
        (rules::SLOWER, false) => "As slow as I can.",
        (rules::LOUDER, true) => "Louder.",
        (rules::LOUDER, false) => "As loud as I can.",
        (_, true) => "Quieter.",
        (_, false) => "As quiet as I can.",
    }
}

/// The verdict where something stands against the load.
pub(super) fn not_ready(deficient: usize, open: usize, unseen: usize, capacity: usize) -> String {
    let mut parts = Vec::new();
    if capacity > 0 {
        parts.push("capacity".to_owned());
    }
    if deficient > 0 {
        parts.push(several(deficient, "deficiency", "deficiencies"));
    }
    if unseen > 0 {
        parts.push(format!("{} not seen", spoken::number(unseen)));
    }
    if open > 0 {
        parts.push(several(open, "check open", "checks open"));
    }
    if parts.is_empty() {
        return "Not ready: it was not closed.".to_owned();
    }
    format!("Not ready. {}.", capital(&parts.join(", ")))
}

/// What was found of the planted faults.
pub(super) fn found_of(found: usize, planted: usize) -> String {
    match planted {
        0 => "Nothing was planted.".to_owned(),
        _ => format!(
            "You found {} of {}.",
            spoken::number(found),
            several(planted, "planted fault", "planted faults")
        ),
    }
}

/// A planted fault that was not called deficient.
pub(super) fn not_found(verdict: &str, deficiency: &str) -> String {
    format!("{}: {}", capital(verdict), sentence(deficiency))
}

/// A planted fault that was called by another name.
pub(super) fn found_otherwise(deficiency: &str) -> String {
    format!("Called otherwise: {}", sentence(deficiency))
}

/// What was called deficient without being planted.
pub(super) fn not_planted(deficiency: &str) -> String {
    format!(
        "Not planted, look whether it is real: {}",
        sentence(deficiency)
    )
}

/// The rest of a list that is too long to read out.
pub(super) fn and_more(n: usize) -> String {
    format!("And {} more.", spoken::number(n))
}

/// An open check of a list.
pub(super) fn open(place: &str, why: &str) -> String {
    format!("{}, {why}", place)
}

/// Said where a walk was broken off by its inspector.
pub(super) const CAN_RESUME: &str = "Walk not complete. It can be resumed.";
/// Said of a plan whose capacity questions were not asked.
pub(super) const CAPACITY_UNASKED: &str = "capacity was not worked out";

fn several(n: usize, one: &str, many: &str) -> String {
    format!("{} {}", spoken::number(n), if n == 1 { one } else { many })
}

/// The text with a capital and an end.
fn sentence(text: &str) -> String {
    let text = capital(text.trim());
    let ended = text.ends_with(['.', '!', '?']);
    if ended { text } else { text + "." }
}

/// The text with its first letter as a capital.
pub(super) fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}

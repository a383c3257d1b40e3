//! Whether voice can be relied on, from a dozen words read aloud. Pure.
//!
//! The limits follow what was measured on unseen synthetic speakers (`hearing/README.md`): of 206 answers each some 90 %
//! were taken at once at 20 dB over the noise, 88 % at 10 dB, 75 % at 5 dB and 50 % at 0 dB.

use crate::ears::level::{Level, db};
use crate::grammar::{GrammarSet, GraphError, Meaning};
use crate::plan::{Check, CheckKind, Route};
use crate::walk::{Advice, Decision, Tryout, answer_rule, rules, state_forms};

/// Share of the words to be taken at once for voice to be relied on.
const TAKEN_TO_RELY: f32 = 0.75;
/// Share of the words to be understood, taken or asked back, for voice to be used at all.
const UNDERSTOOD_TO_USE: f32 = 0.5;
/// Speech over noise in dB under which answers are asked back.
const SNR_TO_RELY_DB: f32 = 8.0;
/// Speech over noise in dB under which voice is not used: half of the answers and more are lost.
const SNR_TO_USE_DB: f32 = 1.0;
/// Share of full-scale samples from which a word counts as clipped.
const CLIPPED: f32 = 0.001;
/// Share of the words that may be clipped.
const CLIPPED_WORDS: f32 = 0.25;
/// A microphone this quiet is muted or unplugged: digital silence or next to it, in dB of full scale.
const MUTED_DBFS: f32 = -85.0;

/// What a word stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Kind {
    /// An answer that makes a check conform.
    Conforming,
    /// An answer that makes it deficient.
    Deficient,
    /// A count.
    Count,
    /// A tag by the spelling alphabet.
    Letters,
    /// Stops the walk.
    Stop,
    /// Any other answer or command.
    Other,
}

/// One word or phrase to be read aloud.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Word {
    /// As read.
    pub say: String,
    /// What it stands for.
    pub kind: Kind,
    /// Grammar rules active while it is read: those of the check where it would be an answer.
    pub rules: Vec<String>,
    /// The check's own states, where `state` is among the rules.
    pub states: Vec<(String, Vec<String>)>,
    /// What the grammar makes of it.
    pub means: Meaning,
}

/// How well one word was understood.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Fate {
    /// Rightly, and taken at once.
    Taken,
    /// Rightly, but it would be asked back.
    Confirmed,
    /// Heard, but not as an answer.
    Refused,
    /// As something else, and it would be asked back.
    Misheard,
    /// As something else, and it would be taken.
    WronglyTaken,
    /// No speech was heard.
    Unheard,
}

/// What became of one word.
#[derive(Clone, Debug, PartialEq)]
pub struct Tried {
    /// The word.
    pub word: Word,
    /// How it was understood.
    pub fate: Fate,
    /// Levels of the utterance; `None` where none was heard.
    pub level: Option<Level>,
    /// Loudest tenth of a second while it was waited for, dB of full scale.
    pub loudest_dbfs: f32,
}

/// How a decision fits what was to be said.
pub fn fate(word: &Word, decision: &Decision) -> Fate {
    match decision {
        Decision::Take { meaning } if *meaning == word.means => Fate::Taken,
        Decision::Take { .. } => Fate::WronglyTaken,
        Decision::Confirm { meaning } if *meaning == word.means => Fate::Confirmed,
        Decision::Confirm { .. } => Fate::Misheard,
        Decision::Refuse { .. } => Fate::Refused,
    }
}

/// A dozen words for any load; where a route is given, two of them are words of its own states. Its planned
/// counts and tags are not among them: nothing of the plan is spoken before the inspector saw the load.
///
/// # Errors
/// Where a rule is not among the grammars. A word that they do not hold is left out.
pub fn words(grammars: &GrammarSet, route: Option<&Route>) -> Result<Vec<Word>, GraphError> {
    let planned: Vec<String> = route.map(planned_values).unwrap_or_default();
    // The first that is not planned; where all are, none.
    let free = |choices: &[(&'static str, &str)]| {
        let mut free = choices
            .iter()
            .filter(|(_, value)| !planned.iter().any(|p| p == value));
        free.next().map(|(say, _)| *say)
    };
    let small = free(&[
        ("seven", "7"),
        ("nine", "9"),
        ("four", "4"),
        ("six", "6"),
        ("five", "5"),
        ("eight", "8"),
        ("three", "3"),
        ("two", "2"),
    ]);
    let large = free(&[
        ("fifteen", "15"),
        ("nineteen", "19"),
        ("thirteen", "13"),
        ("sixteen", "16"),
        ("eighteen", "18"),
        ("seventeen", "17"),
        ("fourteen", "14"),
    ]);
    let tag = free(&[
        ("mike four seven", "M47"),
        ("alpha seven two", "A72"),
        ("sierra one one", "S11"),
    ]);
    let of = |say: Option<&'static str>, rule, kind| say.map(|say| (say, rule, kind));
    let wanted = [
        of(Some("present"), rules::PRESENCE, Kind::Conforming),
        of(Some("missing"), rules::PRESENCE, Kind::Deficient),
        of(small, rules::COUNT, Kind::Count),
        of(Some("good"), rules::CONDITION, Kind::Conforming),
        of(Some("deficient"), rules::CONDITION, Kind::Deficient),
        of(large, rules::COUNT, Kind::Count),
        of(Some("stop"), rules::PRESENCE, Kind::Stop),
        of(tag, rules::TAG, Kind::Letters),
        of(Some("yes"), rules::YES_NO, Kind::Other),
        of(Some("correction"), rules::COUNT, Kind::Other),
    ];
    let mut wanted: Vec<_> = wanted.into_iter().flatten().collect();
    let own = route.map(own_states).unwrap_or_default();
    if own.is_empty() {
        wanted.push(("not there", rules::PRESENCE, Kind::Deficient));
        wanted.push(("two point one", rules::READING, Kind::Other));
    }
    let mut words = Vec::new();
    for (say, rule, kind) in wanted {
        let rules = vec![rule.to_owned(), rules::CONTROL.to_owned()];
        words.extend(word(grammars, say, kind, rules, Vec::new())?);
    }
    for (check, say, kind) in own {
        let rules = vec![rules::STATE.to_owned(), rules::CONTROL.to_owned()];
        words.extend(word(grammars, &say, kind, rules, state_forms(&check.kind))?);
    }
    Ok(words)
}

fn word(
    grammars: &GrammarSet,
    say: &str,
    kind: Kind,
    rules: Vec<String>,
    states: Vec<(String, Vec<String>)>,
) -> Result<Option<Word>, GraphError> {
    let names: Vec<&str> = rules.iter().map(String::as_str).collect();
    let means = grammars.graph(&names, &states)?.match_words(say);
    Ok(means.into_iter().next().map(|means| Word {
        say: say.to_owned(),
        kind,
        rules,
        states,
        means,
    }))
}

/// Every count and tag that the plan expects.
fn planned_values(route: &Route) -> Vec<String> {
    let value = |check: &Check| match &check.kind {
        CheckKind::Count { expected, .. } => expected.map(|n| n.to_string()),
        CheckKind::Tag { expected } => expected.clone(),
        _ => None,
    };
    route.checks().filter_map(value).collect()
}

/// A conforming and a deficient state of the first check that has both.
fn own_states(route: &Route) -> Vec<(&Check, String, Kind)> {
    for check in route.checks() {
        let CheckKind::State { states } = &check.kind else {
            continue;
        };
        debug_assert_eq!(answer_rule(&check.kind), rules::STATE);
        let one = |deficient: bool, kind| {
            let state = states
                .iter()
                .find(|s| s.deficiency.is_some() == deficient)?;
            Some((check, state.spoken.first()?.clone(), kind))
        };
        if let (Some(good), Some(bad)) = (one(false, Kind::Conforming), one(true, Kind::Deficient))
        {
            return vec![good, bad];
        }
    }
    Vec::new()
}

/// What all words together come to. `wall`, `inspector` and `microphone` are written into the result.
pub fn judge(tried: &[Tried], wall: String, inspector: String, microphone: String) -> Tryout {
    let count = |fate: Fate| tried.iter().filter(|t| t.fate == fate).count();
    let levels: Vec<&Level> = tried.iter().filter_map(|t| t.level.as_ref()).collect();
    let snr = median(levels.iter().filter_map(|l| l.snr_db).collect());
    let mut advice = Advice::RelyOnVoice;
    let mut reasons = Vec::new();
    let mut because = |worse: Advice, why: String| {
        advice = advice.max(worse);
        reasons.push((worse, why));
    };
    let all = tried.len();
    let share = |n: usize, of: f32| n as f32 >= of * all.max(1) as f32;
    let (taken, confirmed) = (count(Fate::Taken), count(Fate::Confirmed));
    for t in tried.iter().filter(|t| t.fate == Fate::WronglyTaken) {
        because(
            Advice::NoVoice,
            format!("\"{}\" would have been taken as something else", t.word.say),
        );
    }
    if !share(taken + confirmed, UNDERSTOOD_TO_USE) {
        let why = format!("only {} of {all} words were understood", taken + confirmed);
        because(Advice::NoVoice, why);
    } else if !share(taken, TAKEN_TO_RELY) {
        let why = format!("only {taken} of {all} words were taken at once");
        because(Advice::ConfirmMore, why);
    }
    let muted = tried.iter().all(|t| t.loudest_dbfs < MUTED_DBFS);
    if all > 0 && muted {
        because(
            Advice::NoVoice,
            "the microphone gives no sound: unmute it, or choose another with --mic".to_owned(),
        );
    }
    match snr {
        Some(snr) if snr < SNR_TO_USE_DB => because(
            Advice::NoVoice,
            format!(
                "speech is only {snr:.0} dB over the noise: bring the microphone to the mouth, or wait for quiet"
            ),
        ),
        Some(snr) if snr < SNR_TO_RELY_DB => because(
            Advice::ConfirmMore,
            format!("speech is only {snr:.0} dB over the noise"),
        ),
        _ => {}
    }
    let clipped = levels.iter().filter(|l| l.clipped >= CLIPPED).count();
    if clipped > 0 && share(clipped, CLIPPED_WORDS) {
        because(
            Advice::ConfirmMore,
            format!("{clipped} words were clipped: turn the microphone down"),
        );
    }
    for t in tried.iter().filter(|t| t.fate == Fate::Misheard) {
        because(
            Advice::ConfirmMore,
            format!(
                "\"{}\" was misheard, though it would have been asked back",
                t.word.say
            ),
        );
    }
    let stop = |t: &&Tried| t.word.kind == Kind::Stop && !is_right(t.fate);
    if tried.iter().any(|t| stop(&t)) {
        because(
            Advice::ConfirmMore,
            "\"stop\" was not understood: mind that the keyboard stops the walk too".to_owned(),
        );
    }
    if reasons.is_empty() {
        reasons.push((advice, "the words were understood".to_owned()));
    }
    // The gravest first.
    reasons.sort_by_key(|(worse, _)| std::cmp::Reverse(*worse));
    let powers = |of: &dyn Fn(&Level) -> Option<f32>| {
        let powers: Vec<f32> = levels.iter().filter_map(|l| of(l)).collect();
        let sum: f32 = powers.iter().map(|db| 10f32.powf(db / 10.0)).sum();
        (!powers.is_empty()).then(|| f64::from(db(sum / powers.len() as f32)))
    };
    let clipped: f32 = levels.iter().map(|l| l.clipped).sum();
    Tryout {
        wall,
        inspector,
        microphone,
        advice,
        reasons: reasons.into_iter().map(|(_, why)| why).collect(),
        words: all as u32,
        taken: taken as u32,
        confirmed: confirmed as u32,
        refused: count(Fate::Refused) as u32,
        misheard: (count(Fate::Misheard) + count(Fate::WronglyTaken)) as u32,
        unheard: count(Fate::Unheard) as u32,
        speech_dbfs: powers(&|l| Some(l.speech_dbfs)),
        noise_dbfs: powers(&|l| l.noise_dbfs),
        snr_db: snr.map(f64::from),
        clipped: f64::from(clipped / levels.len().max(1) as f32),
    }
}

fn is_right(fate: Fate) -> bool {
    matches!(fate, Fate::Taken | Fate::Confirmed)
}

fn median(mut values: Vec<f32>) -> Option<f32> {
    values.sort_by(f32::total_cmp);
    values.get(values.len() / 2).copied()
}

/// Loudest tenth of a second of 16 kHz sound, dB of full scale; -96 where it is silent or empty.
pub fn loudest_dbfs(samples: &[f32]) -> f32 {
    let powers = samples.chunks(1_600).map(crate::ears::level::power);
    db(powers.fold(0.0, f32::max))
}

#[cfg(test)]
mod tests;

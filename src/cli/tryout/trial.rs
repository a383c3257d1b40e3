//! The work of `loadwalk tryout`, in builds with ears.

use super::TryoutCommand;
use super::kept::keep;
use super::source::listen;
use crate::cli::args::read_plan;
use crate::cli::exit::{Exit, Failure, Outcome};
use crate::cli::out::{line, tell};
use crate::cli::world::Trial;
use crate::ears::Recognition;
use crate::ears::tryout::{Fate, Tried, Word, fate, judge, words};
use crate::grammar::GrammarSet;
use crate::plan::capital;
use crate::walk::{Advice, Tryout};
use serde_json::json;

/// Stands beside every result.
const CAUTION: &str = "It tells how these words were heard just now. Noise changes: try out again where it does. \
     Nothing here relieves anybody of looking, and local rules come first.";

/// Runs the command.
pub fn run(command: &TryoutCommand) -> Outcome {
    let file = match &command.plan {
        Some(path) => Some(read_plan(path)?),
        None => None,
    };
    let route = file.as_ref().map(|f| f.plan.route());
    let words = words(&GrammarSet::builtin(), route).map_err(Failure::wrong)?;
    let mut trial = Trial::open(&command.means)?;
    let mut tried = Vec::new();
    if !command.json {
        line(format_args!(
            "Read each word aloud as you would out there, after it was said to you."
        ));
    }
    for (id, word) in (0..).zip(words) {
        let one = one(&mut trial, word, id, command.json).map_err(|error| {
            if command.means.answers.is_some() {
                Failure::wrong(error)
            } else {
                Failure::missing(error)
            }
        })?;
        tried.push(one);
    }
    let result = judge(
        &tried,
        jiff::ZonedDateTime::now().to_string(),
        command.inspector.trim().to_owned(),
        trial.microphone.clone(),
    );
    if let Err(error) = keep(&result) {
        tell!(
            "loadwalk: {}; the next walk will not know of it",
            crate::cli::exit::told(&error)
        );
    }
    if command.json {
        line(format_args!(
            "{}",
            json!({"tryout": result, "caution": CAUTION})
        ));
    } else {
        tell(&result);
    }
    let words = format!("{}. {}.", capital(result.advice.words()), result.reasons[0]);
    // It stands on the screen already.
    let _ = trial.source.say(&words, tried.len() as u64);
    Ok(match result.advice {
        Advice::RelyOnVoice | Advice::ConfirmMore => Exit::Done,
        Advice::NoVoice => Exit::No,
    })
}

fn one(trial: &mut Trial, word: Word, id: u64, as_json: bool) -> anyhow::Result<Tried> {
    let listen = listen(&word, id);
    trial.ears.prepare(&listen)?;
    let came = trial.source.read(&word, id)?;
    let heard = match &came.utterance {
        Some(utterance) => Some(trial.ears.hear(utterance, &listen)?),
        None => None,
    };
    let tried = Tried {
        fate: heard
            .as_ref()
            .map_or(Fate::Unheard, |r| fate(&word, &r.decision())),
        level: came.utterance.as_ref().map(|u| u.level),
        loudest_dbfs: came.loudest_dbfs,
        word,
    };
    print(id, &tried, heard.as_ref(), as_json);
    Ok(tried)
}

fn print(id: u64, tried: &Tried, heard: Option<&Recognition>, as_json: bool) {
    let level = tried.level;
    if as_json {
        return line(format_args!(
            "{}",
            json!({
                "word": tried.word.say,
                "kind": tried.word.kind,
                "fate": tried.fate,
                "heard": heard.map(|r| r.words.as_str()),
                "decision": heard.map(Recognition::decision),
                "confidence": heard.map(|r| r.judgement.confidence),
                "speech_dbfs": level.map(|l| l.speech_dbfs),
                "noise_dbfs": level.and_then(|l| l.noise_dbfs),
                "snr_db": level.and_then(|l| l.snr_db),
                "clipped": level.map(|l| l.clipped),
                "loudest_dbfs": tried.loudest_dbfs.is_finite().then_some(tried.loudest_dbfs),
                "ms": heard.map(|r| r.ms),
            })
        ));
    }
    let how = match tried.fate {
        Fate::Taken => "taken",
        Fate::Confirmed => "asked back",
        Fate::Refused => "refused",
        Fate::Misheard => "MISHEARD",
        Fate::WronglyTaken => "WRONG",
        Fate::Unheard => "not heard",
    };
    let levels = level.map_or_else(String::new, |l| {
        let snr = l
            .snr_db
            .map_or_else(String::new, |db| format!(", {db:.0} dB over the noise"));
        format!("level {:.0} dB{snr}", l.speech_dbfs)
    });
    let heard = heard.map_or_else(String::new, |r| format!("  heard \"{}\"", r.words));
    line(format_args!(
        "{:>3}  {:<20} {how:<10} {levels}{heard}",
        id + 1,
        tried.word.say
    ));
}

fn tell(result: &Tryout) {
    let db =
        |db: Option<f64>| db.map_or_else(|| "not measured".to_owned(), |db| format!("{db:.0} dB"));
    line(format_args!(
        "\nspeech {} of full scale, noise {}, speech over noise {} (median), clipped {:.2} % of samples",
        db(result.speech_dbfs),
        db(result.noise_dbfs),
        db(result.snr_db),
        // Nothing heard is no negative share.
        (result.clipped * 100.0).max(0.0)
    ));
    line(format_args!(
        "of {} words {} taken at once, {} asked back, {} refused, {} misheard, {} not heard",
        result.words,
        result.taken,
        result.confirmed,
        result.refused,
        result.misheard,
        result.unheard
    ));
    line(format_args!("\n{}", result.advice.words().to_uppercase()));
    for why in &result.reasons {
        line(format_args!("  {why}"));
    }
    line(format_args!("\n{CAUTION}"));
}

//! The work of `loadwalk hear`, in builds with ears.

use super::args::{as_text, read_bytes};
use super::exit::{Exit, Failure, Outcome};
use super::hear::HearCommand;
use crate::cli::out::{output, tell};
use crate::ears::decide::Verdict;
use crate::ears::endpoint::Endpointing;
use crate::ears::{Active, Cutter, Ears, Recognition, SpeechActivity};
use crate::grammar::GrammarSet;
use serde_json::{Value, json};
use std::path::Path;

/// Runs the command.
pub fn run(command: &HearCommand) -> Outcome {
    let grammars = match &command.grammar {
        Some(path) => grammars_with(path)?,
        None => GrammarSet::builtin(),
    };
    let active = Active {
        rules: command.rule.clone(),
        states: Vec::new(),
        ..Active::default()
    };
    let activity = command.model.activity()?;
    let mut ears = command.model.ears(grammars)?;
    ears.prepare(&active).map_err(Failure::wrong)?;
    let network = SpeechActivity::load(&activity).map_err(Failure::missing)?;
    let mut cutter = Cutter::new(network, Endpointing::default());
    let mut exit = Exit::Done;
    for file in &command.files {
        match hear(&mut ears, &mut cutter, &active, file) {
            Ok(heard) => print(file, &heard, command.json)?,
            Err(error) => {
                tell!("loadwalk: {}", super::exit::told(&error));
                exit = Exit::Wrong;
            }
        }
    }
    Ok(exit)
}

/// Most that is thought of an answer beside which the file has another.
const DOUBTFUL: f32 = 0.5;

struct Heard {
    recognition: Option<Recognition>,
    /// Whether the file has another answer too.
    and_another: bool,
    snr_db: Option<f32>,
}

/// A file holds one answer: its longest utterance, unless another one of it is another answer.
fn hear(
    ears: &mut Ears,
    cutter: &mut Cutter,
    active: &Active,
    file: &Path,
) -> anyhow::Result<Heard> {
    let sound = crate::audio::read(file)?;
    let mut cut = cutter.all(&sound)?;
    cut.sort_by(|a, b| b.speech_seconds.total_cmp(&a.speech_seconds));
    let mut cut = cut.iter();
    let Some(utterance) = cut.next() else {
        return Ok(Heard {
            recognition: None,
            and_another: false,
            snr_db: None,
        });
    };
    let mut heard = ears.hear(utterance, active)?;
    let mut and_another = false;
    for other in cut {
        if heard.judgement.verdict != Verdict::Take {
            break;
        }
        let other = ears.hear(other, active)?;
        let is_answer = !matches!(other.judgement.verdict, Verdict::Refuse(_));
        and_another = is_answer && other.meaning != heard.meaning;
        if and_another {
            heard.judgement.verdict = Verdict::Confirm;
            heard.judgement.confidence = heard.judgement.confidence.min(DOUBTFUL);
        }
    }
    Ok(Heard {
        snr_db: utterance.level.snr_db,
        recognition: Some(heard),
        and_another,
    })
}

fn grammars_with(path: &Path) -> Result<GrammarSet, Failure> {
    let bytes = read_bytes(path)?;
    let text = as_text(path, &bytes)?;
    let name = path.display().to_string();
    GrammarSet::builtin_with(&[(name.as_str(), text)]).map_err(|diagnostics| {
        for diagnostic in &diagnostics {
            super::out::message(format_args!("{}", super::findings::draw(diagnostic)));
        }
        Failure::wrong(anyhow::anyhow!(
            "{name} cannot be used; mend what is shown above"
        ))
    })
}

fn print(file: &Path, heard: &Heard, as_json: bool) -> Result<(), Failure> {
    let line = line(file, heard);
    if as_json {
        output!("{line}");
        return Ok(());
    }
    let text = |key: &str| match &line[key] {
        Value::String(s) => s.clone(),
        Value::Null => "-".to_owned(),
        other => other.to_string(),
    };
    output!(
        "{:<8} {:<12} {:>5.1} %  \"{}\"  {}  {}",
        text("decision"),
        text("answer"),
        line["confidence"].as_f64().unwrap_or(0.0) * 100.0,
        text("words"),
        file.display(),
        text("reason"),
    );
    Ok(())
}

fn line(file: &Path, heard: &Heard) -> Value {
    let Some(r) = &heard.recognition else {
        return json!({
            "file": file, "decision": "refuse", "answer": null, "words": "", "gap": 0.0,
            "confidence": 0.0, "reason": "no speech", "snr_db": null,
            "ms": {"encode": 0.0, "search": 0.0, "total": 0.0},
        });
    };
    let (decision, reason) = match &r.judgement.verdict {
        Verdict::Take => ("take", String::new()),
        Verdict::Confirm if heard.and_another => {
            ("confirm", "the file has another answer too".to_owned())
        }
        Verdict::Confirm => ("confirm", "needs confirmation".to_owned()),
        Verdict::Refuse(why) => ("refuse", (*why).to_owned()),
    };
    let taken = match (&r.judgement.verdict, &r.meaning) {
        (Verdict::Refuse(_), _) | (_, None) => Value::Null,
        (_, Some(m)) => answer(&m.rule, &m.value),
    };
    let others: Vec<Value> = r
        .others
        .iter()
        .map(|(m, p)| json!({"answer": answer(&m.rule, &m.value), "log_prob": p}))
        .collect();
    json!({
        "file": file,
        "decision": decision,
        "answer": taken,
        "rule": r.meaning.as_ref().map(|m| m.rule.as_str()),
        "words": r.words,
        "gap": r.evidence.gap,
        "confidence": r.judgement.confidence,
        "reason": reason,
        "snr_db": heard.snr_db,
        "second": r.second,
        "ms": r.ms,
        "others": others,
        "evidence": r.evidence,
    })
}

/// Numbers as numbers, everything else as words; a tag of digits stays a word.
fn answer(rule: &str, value: &str) -> Value {
    if rule == "tag" {
        return json!(value);
    }
    if let Ok(whole) = value.parse::<u64>() {
        return json!(whole);
    }
    match value.parse::<f64>() {
        Ok(number) if number.is_finite() => json!(number),
        _ => json!(value),
    }
}

//! What a watcher of a walk sees: plain lines, or JSON Lines.

use crate::cli::out::{line, tell};
#[cfg(feature = "whisper")]
use crate::ears::{Breath, Recognition, decide::Verdict};
use crate::walk::{Entry, Outcome, Phrase, Say, SayId};
use serde_json::json;

/// Who watches a walk.
pub trait Observer {
    /// The tool speaks.
    fn say(&mut self, say: &Say);
    /// That phrase, and those before it, was spoken to its end.
    fn said(&mut self, _: SayId) {}
    /// The tool stopped speaking.
    fn quiet(&mut self) {}
    /// The ears are open.
    fn listening(&mut self) {}
    /// The ears are closed.
    fn hushed(&mut self) {}
    /// An utterance was heard; `from` names its file, empty for a microphone.
    #[cfg(feature = "whisper")]
    fn heard(&mut self, recognition: &Recognition, from: &str);
    /// A breath of called findings was heard.
    #[cfg(feature = "whisper")]
    fn called(&mut self, breath: &Breath, from: &str);
    /// A note's machine transcript.
    #[cfg(feature = "whisper")]
    fn note(&mut self, transcript: &str);
    /// An entry is on the disk.
    fn entry(&mut self, seq: u64, entry: &Entry);
    /// Something outside went wrong.
    fn trouble(&mut self, what: &str);
    /// The walk was broken off from outside.
    fn over(&mut self, why: &str);
}

/// Lines for a person.
pub struct Plain;

impl Observer for Plain {
    fn say(&mut self, say: &Say) {
        let mark = match say.phrase {
            Phrase::Ask => "ASKS ",
            Phrase::ReadBack => "READS",
            Phrase::Tell => "SAYS ",
        };
        line(format_args!("{mark}  {}", say.text));
    }

    #[cfg(feature = "whisper")]
    fn heard(&mut self, recognition: &Recognition, from: &str) {
        let what = match &recognition.judgement.verdict {
            Verdict::Take => "taken".to_owned(),
            Verdict::Confirm => "to be confirmed".to_owned(),
            Verdict::Refuse(why) => format!("refused: {why}"),
        };
        let from = from.rsplit(['/', '\\']).next().unwrap_or(from);
        let from = if from.is_empty() {
            String::new()
        } else {
            format!("  [{from}]")
        };
        line(format_args!(
            "       HEARS  \"{}\" {:.0} %, {what}{from}",
            recognition.words,
            recognition.judgement.confidence * 100.0
        ));
    }

    #[cfg(feature = "whisper")]
    fn called(&mut self, breath: &Breath, from: &str) {
        let from = from.rsplit(['/', '\\']).next().unwrap_or(from);
        line(format_args!("       HEARS  \"{}\"  [{from}]", breath.words));
        for item in &breath.items {
            let what = match &item.judgement.verdict {
                Verdict::Take => "taken".to_owned(),
                Verdict::Confirm => "to be confirmed".to_owned(),
                Verdict::Refuse(why) => format!("refused: {why}"),
            };
            line(format_args!(
                "              \"{}\" {:.0} %, {what}",
                item.words,
                item.judgement.confidence * 100.0
            ));
        }
    }

    #[cfg(feature = "whisper")]
    fn note(&mut self, transcript: &str) {
        line(format_args!(
            "       NOTE   machine transcript: \"{transcript}\""
        ));
    }

    fn entry(&mut self, seq: u64, entry: &Entry) {
        if let Entry::Answered {
            check,
            value,
            outcome,
            ..
        } = entry
        {
            let outcome = match outcome {
                Outcome::Conforming => "conforming".to_owned(),
                Outcome::Deficient { deficiency } => format!("DEFICIENT: {deficiency}"),
                Outcome::NotApplicable => "not applicable".to_owned(),
                Outcome::NotSeen => "not seen".to_owned(),
            };
            line(format_args!(
                "       LOGS   #{seq} {check}: {value}, {outcome}"
            ));
        }
    }

    fn trouble(&mut self, what: &str) {
        tell!("loadwalk: {what}");
    }

    fn over(&mut self, why: &str) {
        tell!("loadwalk: the walk is broken off: {why}");
    }
}

/// One JSON object a line on stdout.
pub struct JsonLines;

impl Observer for JsonLines {
    fn say(&mut self, say: &Say) {
        let phrase = match say.phrase {
            Phrase::Ask => "ask",
            Phrase::ReadBack => "read-back",
            Phrase::Tell => "tell",
        };
        line(format_args!(
            "{}",
            json!({"say": say.text, "phrase": phrase, "id": say.id})
        ));
    }

    fn said(&mut self, id: SayId) {
        line(format_args!("{}", json!({"said": id})));
    }

    fn quiet(&mut self) {
        line(format_args!("{}", json!({"quiet": true})));
    }

    fn listening(&mut self) {
        line(format_args!("{}", json!({"listening": true})));
    }

    #[cfg(feature = "whisper")]
    fn heard(&mut self, r: &Recognition, from: &str) {
        let decision = r.decision();
        line(format_args!(
            "{}",
            json!({
                "heard": r.words,
                "decision": decision,
                "confidence": r.judgement.confidence,
                "file": from,
                "ms": r.ms,
            })
        ));
    }

    #[cfg(feature = "whisper")]
    fn called(&mut self, breath: &Breath, from: &str) {
        let items = breath.items.iter().map(|item| {
            let (verdict, reason) = match item.judgement.verdict {
                Verdict::Take => ("take", None),
                Verdict::Confirm => ("confirm", None),
                Verdict::Refuse(why) => ("refuse", Some(why)),
            };
            json!({
                "heard": item.words,
                "meaning": item.meaning,
                "decision": verdict,
                "reason": reason,
                "confidence": item.judgement.confidence,
                "seconds": [item.from_seconds, item.to_seconds],
            })
        });
        let items: Vec<_> = items.collect();
        line(format_args!(
            "{}",
            json!({"called": breath.words, "items": items, "file": from})
        ));
    }

    #[cfg(feature = "whisper")]
    fn note(&mut self, transcript: &str) {
        line(format_args!("{}", json!({"note": transcript})));
    }

    fn entry(&mut self, seq: u64, entry: &Entry) {
        line(format_args!("{}", json!({"seq": seq, "entry": entry})));
    }

    fn trouble(&mut self, what: &str) {
        // A program that reads on waits for nothing else where a sound has nobody in it.
        line(format_args!("{}", json!({"trouble": what})));
        tell!("loadwalk: {what}");
    }

    fn over(&mut self, why: &str) {
        tell!("loadwalk: the walk is broken off: {why}");
    }
}

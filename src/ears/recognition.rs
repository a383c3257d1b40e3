//! What was heard in one utterance, with what decided.

use crate::ears::decide::{Evidence, Judgement, Second, Verdict, is_beyond_doubt};
use crate::grammar::Meaning;

/// Milliseconds spent on one utterance.
#[derive(Clone, Copy, Debug, Default, PartialEq, serde::Serialize)]
pub struct Spent {
    /// Spectrogram, encoder and the prompt.
    pub encode: f64,
    /// Search of the grammar.
    pub search: f64,
    /// All of the second opinion; 0 where none was asked for.
    pub second: f64,
    /// All of it.
    pub total: f64,
}

/// What was heard in one utterance.
#[derive(Clone, Debug)]
pub struct Recognition {
    /// What to do with it and why.
    pub judgement: Judgement,
    /// The best meaning, also where it is refused; `None` where nothing in the grammar came near.
    pub meaning: Option<Meaning>,
    /// The best phrase as the model writes it.
    pub words: String,
    /// Meanings that it could have been instead, with their log-probabilities.
    pub others: Vec<(Meaning, f32)>,
    /// Log-probability of the best meaning, as those of the others; `None` where there is none.
    pub best: Option<f32>,
    /// The measurements that decided.
    pub evidence: Evidence,
    /// Whether nothing that may follow the best phrase would make it mean anything else ("open" may go on
    /// to a state "open and pinned").
    pub settled: bool,
    /// What the second model made of it, where it was asked.
    pub second: Option<Second>,
    /// Where the time went.
    pub ms: Spent,
}

impl Recognition {
    /// What else it could have been, in the walk's words.
    pub fn others(&self) -> Vec<crate::walk::Other> {
        let Some(best) = self.best else {
            return Vec::new();
        };
        let others = self.others.iter().map(|(meaning, log_prob)| {
            let behind = f64::from(best - log_prob);
            (meaning, behind)
        });
        others
            // The journal takes numbers only.
            .filter(|(_, behind)| behind.is_finite())
            .map(|(meaning, behind)| crate::walk::Other {
                meaning: meaning.clone(),
                behind: behind.max(0.0),
            })
            .collect()
    }

    /// Whether the answer need not wait for the quiet that ends an utterance as a rule.
    pub fn is_beyond_doubt(&self) -> bool {
        let verdict = &self.judgement.verdict;
        self.settled
            && self
                .meaning
                .as_ref()
                .is_some_and(|m| is_beyond_doubt(verdict, m, &self.evidence))
    }

    /// The decision in the walk's words: a meaning only where it was taken or is to be confirmed.
    pub fn decision(&self) -> crate::walk::Decision {
        use crate::walk::Decision;
        match (&self.judgement.verdict, &self.meaning) {
            (Verdict::Take, Some(meaning)) => Decision::Take {
                meaning: meaning.clone(),
            },
            (Verdict::Confirm, Some(meaning)) => Decision::Confirm {
                meaning: meaning.clone(),
            },
            (Verdict::Refuse(why), _) => Decision::Refuse {
                reason: (*why).to_owned(),
            },
            (_, None) => Decision::Refuse {
                reason: "nothing like an answer".to_owned(),
            },
        }
    }
}

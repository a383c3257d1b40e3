//! Ears as one thing: an utterance and the active rules in, a decision with its evidence out.

use crate::ears::decide::{
    Evidence, Verdict, begins_with_in, ends_in_on, has_idle_nought, is_numeric, judge, judge_both,
    worth_a_second,
};
use crate::ears::listener::Listener;
use crate::ears::recognition::Recognition;
use crate::ears::{Breath, EarsError, Utterance};
use crate::grammar::{
    CalledItem, Decided, GrammarSet, Graph, Meaning, called, hides_an_opposite, with_denials,
};
use std::collections::HashMap;
use std::path::Path;
use std::time::Instant;

/// Graphs kept ready; beyond it the store starts anew.
const GRAPHS_MAX: usize = 256;

/// The rules listened for at one moment.
#[derive(Clone, Debug, Default, PartialEq, Eq, Hash)]
pub struct Active {
    /// Names of grammar rules active together.
    pub rules: Vec<String>,
    /// Spoken forms of a check's own states, where `state` is among the rules: (key, forms).
    pub states: Vec<(String, Vec<String>)>,
    /// What is counted, in the plural ("straps"), where `count` is among the rules, or the unit of a `reading`: it may follow
    /// the number.
    pub noun: Option<String>,
    /// What may be called off at a station; where there is any, its grammar takes the place of the rules.
    pub items: Vec<CalledItem>,
}

/// What one model alone makes of an utterance.
#[derive(Clone, Debug, serde::Serialize)]
pub struct Alone {
    /// Meanings with their phrase and score in nats, lengths weighed in; best first.
    pub ranked: Vec<(Meaning, String, f32)>,
    /// Score that no other meaning can have.
    pub floor: f32,
    /// About the best.
    pub evidence: Evidence,
}

/// What the ears need for one [`Active`].
pub(super) struct Ready {
    pub graph: Graph,
    pub decided: Decided,
    /// Put before the decoder's prompt; see [`context`].
    pub context: Option<String>,
}

/// A recogniser with its grammars.
pub struct Ears {
    pub(super) first: Listener,
    /// A larger model, asked where the first is not sure.
    pub(super) second: Option<Listener>,
    grammars: GrammarSet,
    ready: HashMap<Active, Ready>,
    /// The grammar of the station that is called off.
    pub(super) station: Option<(Vec<CalledItem>, Graph)>,
    /// What was heard in a pause, before it was known to be the end.
    ahead: Option<Ahead>,
    /// The same of a breath.
    pub(super) breath_ahead: Option<BreathAhead>,
}

pub(super) struct BreathAhead {
    /// See [`Utterance::as_breath`].
    pub heard: Vec<f32>,
    pub speech_seconds: f32,
    pub items: Vec<CalledItem>,
    pub breath: Breath,
}

struct Ahead {
    samples: Vec<f32>,
    active: Active,
    recognition: Recognition,
}

impl Ears {
    /// Loads a ggml Whisper file.
    ///
    /// # Errors
    /// [`EarsError::Model`] when the file cannot be read as one.
    pub fn load(model: &Path, threads: usize, grammars: GrammarSet) -> Result<Self, EarsError> {
        Ok(Self {
            first: Listener::load(model, threads)?,
            second: None,
            grammars,
            ready: HashMap::new(),
            station: None,
            ahead: None,
            breath_ahead: None,
        })
    }

    /// Adds a model to be asked where the first is not sure.
    ///
    /// # Errors
    /// As [`Ears::load`].
    pub fn with_second(mut self, model: &Path, threads: usize) -> Result<Self, EarsError> {
        self.second = Some(Listener::load(model, threads)?);
        Ok(self)
    }

    /// Makes the graph of these rules ready, so that the first utterance does not wait for it.
    ///
    /// # Errors
    /// [`EarsError::Grammar`] where a rule is unknown or the rules are too large together.
    pub fn prepare(&mut self, active: &Active) -> Result<(), EarsError> {
        if !active.items.is_empty() {
            return self.prepare_station(&active.items);
        }
        self.prepare_rules(active)
    }

    fn prepare_rules(&mut self, active: &Active) -> Result<(), EarsError> {
        if self.ready.contains_key(active) {
            return Ok(());
        }
        if self.ready.len() >= GRAPHS_MAX {
            self.ready.clear();
        }
        let rules: Vec<&str> = active.rules.iter().map(String::as_str).collect();
        // Rivals: "not latched and pinned" must not be matched to "latched and pinned".
        let states = with_denials(&active.states);
        let graph = self
            .grammars
            .graph_of(&rules, &states, active.noun.as_deref())?;
        let decided = Decided::of(graph.written()?);
        let ready = Ready {
            graph,
            decided,
            context: context(&active.states),
        };
        self.ready.insert(active.clone(), ready);
        Ok(())
    }

    fn prepare_station(&mut self, items: &[CalledItem]) -> Result<(), EarsError> {
        if self.station.as_ref().is_none_or(|(of, _)| of != items) {
            let graph = called::graph(&self.grammars, items)?;
            graph.written()?;
            self.station = Some((items.to_vec(), graph));
        }
        Ok(())
    }

    /// What typed words mean under these rules; `None` where nothing or more than one thing.
    ///
    /// # Errors
    /// As [`Ears::prepare`].
    pub fn read(&mut self, words: &str, active: &Active) -> Result<Option<Meaning>, EarsError> {
        self.prepare_rules(active)?;
        Ok(self.ready[active].graph.only_meaning(words))
    }

    /// What typed words mean as a breath of called findings; `None` where nothing or more than one thing.
    ///
    /// # Errors
    /// [`EarsError::Grammar`] where the grammar of the station cannot be made.
    pub fn read_breath(
        &mut self,
        words: &str,
        items: &[CalledItem],
    ) -> Result<Option<Vec<Meaning>>, EarsError> {
        self.prepare_station(items)?;
        Ok(self
            .station
            .as_ref()
            .and_then(|(_, graph)| only(graph.match_strings(words))))
    }

    /// Hears an utterance, or a breath where items may be called, in its first pause. If that is its end,
    /// [`Ears::hear`] or [`Ears::hear_breath`] has it ready. Gives what an utterance came to, `None` of a breath.
    ///
    /// # Errors
    /// As [`Ears::hear`].
    pub fn hear_ahead(
        &mut self,
        utterance: &Utterance,
        active: &Active,
    ) -> Result<Option<&Recognition>, EarsError> {
        if !active.items.is_empty() {
            let breath = self.hear_breath(utterance, active)?;
            self.breath_ahead = Some(BreathAhead {
                heard: utterance.as_breath().to_vec(),
                speech_seconds: utterance.speech_seconds,
                items: active.items.clone(),
                breath,
            });
            return Ok(None);
        }
        let recognition = self.hear(utterance, active)?;
        let ahead = self.ahead.insert(Ahead {
            samples: utterance.samples.clone(),
            active: active.clone(),
            recognition,
        });
        Ok(Some(&ahead.recognition))
    }

    /// Hears one utterance against the active rules.
    ///
    /// # Errors
    /// As [`Ears::prepare`], and [`EarsError::Engine`] when the model fails. Sound in which nothing
    /// can be heard is a refusal.
    pub fn hear(
        &mut self,
        utterance: &Utterance,
        active: &Active,
    ) -> Result<Recognition, EarsError> {
        if let Some(ahead) = self.ahead.take()
            && ahead.active == *active
            && ahead.samples == utterance.samples
        {
            return Ok(ahead.recognition);
        }
        self.prepare_rules(active)?;
        let begun = Instant::now();
        let ready = &self.ready[active];
        let (mut heard, mut other) = match &mut self.second {
            Some(second) if has_numbers(active) => {
                let hear = |listener: &mut Listener| listener.hear(utterance, ready);
                let (first, second) = at_once((&mut self.first, hear), (second, hear));
                (first?, Some(second?))
            }
            _ => (self.first.hear(utterance, ready)?, None),
        };
        let mut judgement = judge(&heard.evidence, heard.meaning());
        // In some accents a "not" or "isn't" runs into the "in", and "isn't in place" was heard as "in place" in
        // quiet, 6 nats before anything else.
        let is_count = heard.meaning().is_some_and(|m| m.rule == "count");
        let is_state = heard.meaning().is_some_and(|m| m.rule == "state");
        let hides = is_state && (hides_an_opposite(heard.words()) || ends_in_on(heard.words()));
        let doubtful =
            begins_with_in(heard.words()) || is_count && has_idle_nought(heard.words()) || hides;
        if judgement.verdict == Verdict::Take && doubtful {
            judgement.verdict = Verdict::Confirm;
        }
        let mut ms = heard.ms;
        let mut second = None;
        if let Some(listener) = &mut self.second
            // What both were asked about at once both decide.
            && (other.is_some() || worth_a_second(&judgement, &heard.evidence))
        {
            let other = match other.take() {
                Some(other) => other,
                None => listener.hear(utterance, ready)?,
            };
            ms.second = other.ms.total;
            let both = heard.agreed_with(&other);
            let opinion = other.second_to(&heard, &both);
            // What the first refuses alone is asked about where the second hears the same; else it was no answer.
            if opinion.agrees || !matches!(judgement.verdict, Verdict::Refuse(_)) {
                judgement = judge_both(&both.evidence, both.meaning(), both.words(), &opinion);
            }
            // Neither model hears it, so that two are no better than one.
            let is_state = both.meaning().is_some_and(|m| m.rule == "state");
            if judgement.verdict == Verdict::Take && is_state && hides_an_opposite(both.words()) {
                judgement.verdict = Verdict::Confirm;
            }
            heard = both;
            second = Some(opinion);
        }
        ms.total = begun.elapsed().as_secs_f64() * 1e3;
        Ok(heard.recognition(judgement, second, ms))
    }

    /// What each model makes of an utterance by itself, whether the second would be asked or not; with one model,
    /// one. For setting limits; decides nothing.
    ///
    /// # Errors
    /// As [`Ears::hear`].
    pub fn opinions(
        &mut self,
        utterance: &Utterance,
        active: &Active,
    ) -> Result<Vec<Alone>, EarsError> {
        self.prepare_rules(active)?;
        let ready = &self.ready[active];
        let mut opinions = vec![self.first.hear(utterance, ready)?.alone()];
        if let Some(second) = &mut self.second {
            opinions.push(second.hear(utterance, ready)?.alone());
        }
        Ok(opinions)
    }

    /// Writes down free speech as the model guesses it. Never an answer.
    ///
    /// # Errors
    /// [`EarsError::Engine`] when the model fails.
    pub fn transcribe(&mut self, samples: &[f32]) -> Result<String, EarsError> {
        self.first.transcribe(samples)
    }
}

/// Whether the first model alone is seldom believed: both are asked at once then.
fn has_numbers(active: &Active) -> bool {
    active.rules.iter().any(|rule| is_numeric(rule))
}

/// Lets two listeners do the same at once, half of the threads for each: less is lost in waiting for each
/// other than where both have all of them one after the other. Who is ready first leaves its half to the other.
pub(super) fn at_once<T: Send>(
    (first, work): (&mut Listener, impl FnOnce(&mut Listener) -> T),
    (second, other_work): (&mut Listener, impl FnOnce(&mut Listener) -> T + Send),
) -> (T, T) {
    let (own, others) = (
        first.whisper.threads().clone(),
        second.whisper.threads().clone(),
    );
    let (all, all_others) = (own.count(), others.count());
    own.set(all / 2);
    others.set(all_others / 2);
    std::thread::scope(|scope| {
        let other = scope.spawn(|| {
            let out = other_work(second);
            own.set(all);
            out
        });
        let one = work(first);
        others.set(all_others);
        let other = other
            .join()
            .unwrap_or_else(|why| std::panic::resume_unwind(why));
        (one, other)
    })
}

/// The only reading there is.
fn only(mut readings: Vec<Vec<Meaning>>) -> Option<Vec<Meaning>> {
    readings.dedup();
    match readings.as_slice() {
        [_] => readings.pop(),
        _ => None,
    }
}

/// A check's own states are words that the recogniser does not expect ("plugged", "latched and pinned").
/// Told of them as if they had just been said, it writes them far more readily. The other rules gain
/// nothing by it and take more of what is no answer.
fn context(states: &[(String, Vec<String>)]) -> Option<String> {
    let mut text = String::new();
    for form in states.iter().flat_map(|(_, forms)| forms) {
        let mut letters = form.chars();
        if let Some(first) = letters.next() {
            text.extend([' '].into_iter().chain(first.to_uppercase()));
            text.push_str(letters.as_str());
            text.push('.');
        }
        if text.len() > CONTEXT_BYTES {
            break;
        }
    }
    (!text.is_empty()).then_some(text)
}

/// Longest context; about as many tokens as a quarter of the bytes.
const CONTEXT_BYTES: usize = 400;

#[cfg(test)]
mod tests {
    use super::context;

    #[test]
    fn the_context_is_the_states_as_sentences() {
        let states = [
            ("a".to_owned(), vec!["latched and pinned".to_owned()]),
            ("b".to_owned(), vec!["open".to_owned()]),
        ];
        assert_eq!(
            context(&states).as_deref(),
            Some(" Latched and pinned. Open.")
        );
        assert_eq!(context(&[]), None);
    }
}

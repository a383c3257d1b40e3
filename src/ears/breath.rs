//! One breath of findings called off: several items, each with its own evidence and piece of sound.
//!
//! The grammar of a station is made from `walk::Listen::items` (here [`Active::items`](crate::ears::Active)):
//! `grammar::called::graph(&grammars, &items)`. Its strings give one [`Meaning`] an item; the table at the
//! head of `grammar::called` lists them. An item is to be weighed by the rule that answers it when asked
//! ([`plain`]), not by its key.

use crate::ears::decide::Judgement;
use crate::ears::decide::breath::ItemEvidence;
use crate::grammar::{CalledItem, Meaning, called};

/// What was heard in one breath of calling off.
#[derive(Clone, Debug)]
pub struct Breath {
    /// Its items in the order spoken; none where nothing in the grammar came near.
    pub items: Vec<HeardItem>,
    /// The best phrase as the model writes it.
    pub words: String,
    /// Speech over its surroundings in dB, where it was measured.
    pub snr_db: Option<f32>,
    /// Whether more was said than its items hold.
    pub more: bool,
    /// Of each model: decoder steps, milliseconds for the encoder, the search, and the same string in a hiss.
    pub spent: Vec<(usize, [f64; 3])>,
}

/// One item of it.
#[derive(Clone, Debug)]
pub struct HeardItem {
    /// What to do with it and why.
    pub judgement: Judgement,
    /// What it means, as the grammar of the station writes it.
    pub meaning: Meaning,
    /// Its words as the model writes them.
    pub words: String,
    /// Where its piece of sound begins in the utterance's samples, in seconds.
    pub from_seconds: f32,
    /// Where it ends, in seconds.
    pub to_seconds: f32,
    /// The measurements that decided.
    pub evidence: ItemEvidence,
}

/// The meaning that a called item has where its check is asked, so that both are weighed alike: the rule of
/// its answer in place of its key. A denial weighs like the deficiency that it is.
pub fn plain(items: &[CalledItem], meaning: &Meaning) -> Meaning {
    let key = meaning.rule.split(called::AND).next().unwrap_or_default();
    let item = items.iter().find(|item| item.key == key);
    let no_value = matches!(meaning.value.as_str(), "not-applicable" | "not-seen");
    let rule = match item {
        Some(_) if no_value => "control",
        Some(item) => item.rule.as_str(),
        None if meaning.rule == called::FILLER || meaning.rule == called::NAME => "control",
        None => meaning.rule.as_str(),
    };
    Meaning {
        rule: rule.to_owned(),
        value: meaning.value.clone(),
    }
}

#[cfg(feature = "whisper")]
mod heard {
    use super::{Breath, HeardItem, plain};
    use crate::ears::decide::breath::{
        BreathEvidence, ItemEvidence, Measures, denial_needed, judge_items, more_than_heard,
    };
    use crate::ears::decide::{Verdict, ends_in_on, has_idle_nought};
    use crate::ears::hearer::at_once;
    use crate::ears::listener::Listener;
    use crate::ears::pieces::pieces;
    use crate::ears::strung::{ReadItem, Reading, Turn};
    use crate::ears::{Active, Ears, EarsError, Utterance};
    use crate::grammar::{CalledItem, hides_an_opposite, sounds_in};
    use std::sync::mpsc::channel;

    /// Samples a second.
    const RATE: f32 = 16_000.0;
    /// Length of the context from which no name is added.
    const CONTEXT_BYTES: usize = 360;
    impl Ears {
        /// Hears one breath against the grammar of a station. Where there is a second model it always has
        /// its say: what only one of them hears is not taken.
        ///
        /// # Errors
        /// As [`Ears::hear`].
        pub fn hear_breath(
            &mut self,
            utterance: &Utterance,
            station: &Active,
        ) -> Result<Breath, EarsError> {
            if let Some(ahead) = self.breath_ahead.take()
                && ahead.items == station.items
                && ahead.speech_seconds == utterance.speech_seconds
                && ahead.heard == utterance.as_breath()
            {
                let snr_db = utterance.level.snr_db;
                return Ok(Breath {
                    snr_db,
                    ..ahead.breath
                });
            }
            self.prepare(station)?;
            let mut breath = Breath {
                items: Vec::new(),
                words: String::new(),
                snr_db: utterance.level.snr_db,
                more: false,
                spent: Vec::new(),
            };
            let Some((_, graph)) = &self.station else {
                return Ok(breath);
            };
            let context = names(&station.items);
            let read = |listener: &mut Listener, turn: Turn| {
                listener.read_string(utterance, graph, &context, &turn)
            };
            let (first, second) = match &mut self.second {
                Some(other) => {
                    let (tell, told) = channel();
                    let (first, second) = at_once(
                        (&mut self.first, |own| read(own, Turn::First(Some(tell)))),
                        (other, |other| read(other, Turn::Second(told))),
                    );
                    (first?, second?)
                }
                None => (read(&mut self.first, Turn::First(None))?, None),
            };
            let Some(first) = first else {
                return Ok(breath);
            };
            breath.spent = [Some(&first), second.as_ref()]
                .into_iter()
                .flatten()
                .map(|r| (r.steps, r.ms))
                .collect();
            let evidence = evidence(&first, second.as_ref(), utterance);
            let meanings: Vec<_> = first
                .items
                .iter()
                .map(|item| (&item.meaning, plain(&station.items, &item.meaning)))
                .collect();
            breath.more = more_than_heard(&evidence, &meanings);
            let mut judgements = judge_items(&evidence, &meanings);
            for ((judgement, item), (_, asked)) in
                judgements.iter_mut().zip(&first.items).zip(&meanings)
            {
                let is_doubtful = asked.rule == "count" && has_idle_nought(&item.words)
                    || asked.rule == "state"
                        && (hides_an_opposite(&item.words) || ends_in_on(&item.words));
                if judgement.verdict == Verdict::Take && is_doubtful {
                    judgement.verdict = Verdict::Confirm;
                }
            }
            let places = places(utterance, &first);
            for (i, item) in first.items.into_iter().enumerate() {
                breath.items.push(HeardItem {
                    judgement: judgements[i].clone(),
                    meaning: item.meaning,
                    words: item.words,
                    from_seconds: places[i].0,
                    to_seconds: places[i].1,
                    evidence: evidence.items[i].clone(),
                });
            }
            breath.words = first.words;
            Ok(breath)
        }
    }

    /// The names of what may be called, as sentences: told of them as if they had just been said, the
    /// recogniser writes them far more readily. No finding is among them, so that none is favoured.
    fn names(items: &[CalledItem]) -> String {
        let mut text = String::new();
        for item in items {
            if text.len() > CONTEXT_BYTES {
                break;
            }
            text.push(' ');
            text.push_str(&crate::grammar::capitalised(&item.names[0]));
            text.push('.');
        }
        text
    }

    /// What both models have for each item of the first.
    fn evidence(
        first: &Reading,
        second: Option<&Reading>,
        utterance: &Utterance,
    ) -> BreathEvidence {
        let theirs = second.map_or(&[][..], |s| &s.items);
        let pairs = in_common(&first.items, theirs);
        let items = first.items.iter().enumerate().map(|(i, item)| {
            let pair = pairs.iter().find(|(a, _)| *a == i);
            ItemEvidence {
                first: measures(item),
                second: pair.map(|(_, b)| measures(&theirs[*b])),
                denial_needed: denial_needed(&item.words),
            }
        });
        let alone = (0..theirs.len()).filter(|b| !pairs.iter().any(|(_, with)| with == b));
        BreathEvidence {
            items: items.collect(),
            only_second: alone.map(|b| theirs[b].meaning.clone()).collect(),
            pace: first.pace,
            activity: utterance.activity,
        }
    }

    fn measures(item: &ReadItem) -> Measures {
        Measures {
            gap: item.gap,
            fit: item.fit,
            worst: item.worst,
            lift: item.lift,
            denial: item.denial,
            closed: item.closed,
        }
    }

    /// The longest common subsequence of two readings, as pairs of places.
    fn in_common(one: &[ReadItem], other: &[ReadItem]) -> Vec<(usize, usize)> {
        let mut length = vec![vec![0; other.len() + 1]; one.len() + 1];
        for a in (0..one.len()).rev() {
            for b in (0..other.len()).rev() {
                length[a][b] = if one[a].meaning == other[b].meaning {
                    length[a + 1][b + 1] + 1
                } else {
                    length[a + 1][b].max(length[a][b + 1])
                };
            }
        }
        let (mut a, mut b, mut out) = (0, 0, Vec::new());
        while a < one.len() && b < other.len() {
            if one[a].meaning == other[b].meaning {
                out.push((a, b));
                (a, b) = (a + 1, b + 1);
            } else if length[a + 1][b] >= length[a][b + 1] {
                a += 1;
            } else {
                b += 1;
            }
        }
        out
    }

    /// Where each item was said, in seconds from the beginning of the utterance.
    fn places(utterance: &Utterance, reading: &Reading) -> Vec<(f32, f32)> {
        let length = utterance.samples.len() as f32 / RATE;
        let to = length - utterance.tail as f32 / RATE;
        let from = (to - utterance.speech_seconds).max(0.0);
        let sounds: Vec<f32> = reading
            .items
            .iter()
            .map(|item| sounds_in(&item.words).into_iter().max().unwrap_or(1) as f32)
            .collect();
        pieces(&utterance.samples, from, to, &sounds)
    }
}

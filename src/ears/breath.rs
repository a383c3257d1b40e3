//! One breath of findings called off: several items, each with its own evidence and piece of sound.
//!
//! The grammar of a station is made from `walk::Listen::items` (here [`Active::items`](crate::ears::Active)):
//! `grammar::called::graph(&grammars, &items)`. Its strings give one [`Meaning`] an item; the table at the
//! head of `grammar::called` lists them. An item is to be weighed by the rule that answers it when asked
//! ([`plain`]), not by its key.

use crate::ears::decide::Judgement;
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
    /// What it could have been instead, with the nats by which that is behind.
    pub others: Vec<(Meaning, f32)>,
    /// Where its piece of sound begins in the utterance's samples, in seconds.
    pub from_seconds: f32,
    /// Where it ends, in seconds.
    pub to_seconds: f32,
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
    use crate::ears::decide::{judge, judge_both};
    use crate::ears::{Active, Ears, EarsError, Utterance};

    /// Samples a second.
    const RATE: f32 = 16_000.0;

    impl Ears {
        /// Hears one breath against the grammar of a station: so far a breath of one item, which spans the
        /// utterance.
        ///
        /// # Errors
        /// As [`Ears::hear`].
        pub fn hear_breath(
            &mut self,
            utterance: &Utterance,
            station: &Active,
        ) -> Result<Breath, EarsError> {
            let heard = self.hear(utterance, station)?;
            let others = heard.others();
            let items = heard.meaning.iter().map(|meaning| {
                let asked = plain(&station.items, meaning);
                let judgement = match &heard.second {
                    Some(second) => judge_both(&heard.evidence, Some(&asked), second),
                    None => judge(&heard.evidence, Some(&asked)),
                };
                HeardItem {
                    judgement,
                    meaning: meaning.clone(),
                    words: heard.words.clone(),
                    others: others
                        .iter()
                        .map(|o| (o.meaning.clone(), o.behind as f32))
                        .collect(),
                    from_seconds: 0.0,
                    to_seconds: utterance.samples.len() as f32 / RATE,
                }
            });
            Ok(Breath {
                items: items.collect(),
                words: heard.words.clone(),
                snr_db: utterance.level.snr_db,
            })
        }
    }
}

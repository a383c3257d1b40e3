//! Whether what a microphone gives can carry an answer: not while it is muted, driven over, or drowned in
//! noise. Pure: sound in, changes out; time is that of the sound.

use crate::audio::RATE;
use crate::ears::level::{db, power};
use std::collections::VecDeque;

/// Samples that are judged together: 100 ms.
const PIECE: usize = RATE as usize / 10;
/// Pieces in which a microphone gives nothing but one value, until it counts as muted: 5 s.
const MUTED: usize = 50;
/// The same where it was seen to give nothing between words, as with a noise gate: 60 s.
const MUTED_GATED: usize = 600;
/// A stretch of nothing as long as this that ends by itself, at most this many pieces long, is a gate's.
const GATE: std::ops::RangeInclusive<usize> = 2..=30;
/// Share of full-scale samples from which a piece counts as clipped, and the sample that is at full scale.
const CLIPPED: f32 = 0.02;
const FULL: f32 = 0.999;
/// Pieces looked back on, and how many of them may be clipped: 10 s, 1 s.
const CLIP_LOOK: usize = 100;
const CLIP_MOST: usize = 10;
/// Pieces without clipping after which it is over: 3 s.
const CLIP_OVER: usize = 30;
/// Pieces over which the noise is judged, and after which it is over: 8 s, 3 s.
const NOISE_LOOK: usize = 80;
const NOISE_OVER: usize = 30;
/// The noise is the level that this share of the pieces does not exceed: speech has pauses.
const NOISE_SHARE: f32 = 0.1;
/// So much quieter than speech it must be to be over, in dB.
const NOISE_BACK_DB: f32 = 4.0;
/// Utterances over which the level of speech is taken, and the least of them.
const SPEECH_LOOK: usize = 9;
const SPEECH_LEAST: usize = 3;
/// Speech over noise in dB from which an utterance tells how loud the speaker is.
const SPEECH_SNR_DB: f32 = 6.0;

/// What is wrong with a microphone that is there.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Unfit {
    Muted,
    Clips,
    Noise,
}

impl Unfit {
    /// As spoken, with what to do.
    pub fn words(self) -> &'static str {
        match self {
            Self::Muted => "the microphone gives nothing: is it muted?",
            Self::Clips => {
                "the microphone is driven over: turn it down, or take it away from the mouth"
            }
            Self::Noise => "the noise is as loud as speech: wait, or turn away from it",
        }
    }
}

/// What changed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Change {
    Lost(Unfit),
    Back,
}

/// Follows one microphone.
#[derive(Debug, Default)]
pub(super) struct Fitness {
    rest: Vec<f32>,
    unfit: Option<Unfit>,
    /// Pieces in a row with nothing.
    nothing: usize,
    gated: bool,
    /// Pieces seen so far, up to a gate's longest: a stream may begin with nothing.
    seen: usize,
    clipped: VecDeque<bool>,
    levels: VecDeque<f32>,
    /// Pieces in a row in which the noise was well under speech.
    quieter: usize,
    speech: VecDeque<f32>,
}

impl Fitness {
    /// Another microphone, or the same in another place.
    pub fn restart(&mut self) {
        *self = Self::default();
    }

    /// What is wrong at the moment.
    pub fn unfit(&self) -> Option<Unfit> {
        self.unfit
    }

    /// An utterance of this level, dB of full scale, so far over the noise, was heard.
    pub fn spoken(&mut self, dbfs: f32, snr_db: Option<f32>) {
        if snr_db.is_some_and(|snr| snr >= SPEECH_SNR_DB) {
            push(&mut self.speech, dbfs, SPEECH_LOOK);
        }
    }

    /// Takes sound at [`RATE`]; tells a change, if there is one.
    pub fn hear(&mut self, sound: &[f32]) -> Option<Change> {
        let before = self.unfit;
        self.rest.extend_from_slice(sound);
        let mut rest = std::mem::take(&mut self.rest);
        let mut pieces = rest.chunks_exact(PIECE);
        for piece in &mut pieces {
            self.judge(piece);
        }
        let left = pieces.remainder().len();
        rest.drain(..rest.len() - left);
        self.rest = rest;
        match (before, self.unfit) {
            (None, Some(unfit)) => Some(Change::Lost(unfit)),
            (Some(_), None) => Some(Change::Back),
            _ => None,
        }
    }

    fn judge(&mut self, piece: &[f32]) {
        let nothing = piece.iter().all(|s| *s == piece[0]);
        if nothing {
            self.nothing += 1;
        } else {
            let by_itself = GATE.contains(&self.nothing) && self.seen > self.nothing;
            self.gated |= by_itself && self.unfit.is_none();
            self.nothing = 0;
        }
        self.seen = (self.seen + 1).min(*GATE.end() + 1);
        let full = piece.iter().filter(|s| s.abs() >= FULL).count();
        let clips = full as f32 >= CLIPPED * PIECE as f32;
        push(&mut self.clipped, clips, CLIP_LOOK);
        push(&mut self.levels, level(piece), NOISE_LOOK);
        let unfit = self.unfit;
        self.unfit = match unfit {
            None => self.found(),
            Some(Unfit::Muted) if !nothing => None,
            Some(Unfit::Clips) if self.clean() => {
                self.clipped.clear();
                None
            }
            Some(Unfit::Noise) if self.noise_is_over() => None,
            unfit => unfit,
        };
    }

    fn found(&mut self) -> Option<Unfit> {
        let muted = if self.gated { MUTED_GATED } else { MUTED };
        if self.nothing >= muted {
            return Some(Unfit::Muted);
        }
        if self.clipped.iter().filter(|c| **c).count() > CLIP_MOST {
            return Some(Unfit::Clips);
        }
        let loud = self.speech_level().zip(self.noise());
        if loud.is_some_and(|(speech, noise)| noise >= speech) {
            self.quieter = 0;
            return Some(Unfit::Noise);
        }
        None
    }

    fn clean(&self) -> bool {
        let latest = self.clipped.iter().rev().take(CLIP_OVER);
        self.clipped.len() >= CLIP_OVER && !latest.copied().any(|c| c)
    }

    fn noise_is_over(&mut self) -> bool {
        let here = self.levels.back().copied();
        let under = self.speech_level().zip(here);
        if under.is_some_and(|(speech, here)| here <= speech - NOISE_BACK_DB) {
            self.quieter += 1;
        } else {
            self.quieter = 0;
        }
        if self.quieter < NOISE_OVER {
            return false;
        }
        self.levels.clear();
        true
    }

    /// Level of speech, dB of full scale: the middle one of the latest utterances.
    fn speech_level(&self) -> Option<f32> {
        (self.speech.len() >= SPEECH_LEAST).then(|| share(&self.speech, 0.5))
    }

    fn noise(&self) -> Option<f32> {
        (self.levels.len() == NOISE_LOOK).then(|| share(&self.levels, NOISE_SHARE))
    }
}

fn push<T>(queue: &mut VecDeque<T>, value: T, most: usize) {
    if queue.len() == most {
        queue.pop_front();
    }
    queue.push_back(value);
}

/// The value that this share of the values does not exceed.
fn share(values: &VecDeque<f32>, share: f32) -> f32 {
    let mut sorted: Vec<f32> = values.iter().copied().collect();
    sorted.sort_by(f32::total_cmp);
    sorted[((sorted.len() - 1) as f32 * share) as usize]
}

fn level(piece: &[f32]) -> f32 {
    db(power(piece))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::audio::pad_noise::Preset;

    fn noise(seconds: usize, dbfs: f32) -> Vec<f32> {
        let noise = Preset::MediumFourBlade
            .parameters()
            .generate(seconds * RATE as usize, 7);
        let gain = 10f32.powf((dbfs - level(&noise)) / 20.0);
        noise.iter().map(|s| (s * gain).clamp(-1.0, 1.0)).collect()
    }

    fn nothing(seconds: usize) -> Vec<f32> {
        vec![0.0; seconds * RATE as usize]
    }

    /// All changes while this sound is heard in pieces as a device brings them.
    fn changes(fitness: &mut Fitness, sound: &[f32]) -> Vec<Change> {
        sound
            .chunks(341)
            .filter_map(|piece| fitness.hear(piece))
            .collect()
    }

    #[test]
    fn a_muted_microphone_is_missed_and_its_first_sound_brings_it_back() {
        for stuck in [0.0, 0.25] {
            let mut fitness = Fitness::default();
            assert_eq!(changes(&mut fitness, &noise(3, -60.0)), []);
            let stuck = vec![stuck; 6 * RATE as usize];
            let lost = [Change::Lost(Unfit::Muted)];
            assert_eq!(changes(&mut fitness, &stuck), lost);
            assert_eq!(changes(&mut fitness, &noise(1, -60.0)), [Change::Back]);
        }
    }

    #[test]
    fn a_microphone_that_was_never_heard_is_missed_too() {
        let mut fitness = Fitness::default();
        let lost = [Change::Lost(Unfit::Muted)];
        assert_eq!(changes(&mut fitness, &nothing(6)), lost);
    }

    #[test]
    fn a_gate_that_closes_between_words_is_not_a_mute_button() {
        let mut fitness = Fitness::default();
        let word = noise(1, -25.0);
        let heard = [&word[..], &nothing(1), &word, &nothing(30), &word].concat();
        assert_eq!(changes(&mut fitness, &heard), []);
        let lost = [Change::Lost(Unfit::Muted)];
        assert_eq!(changes(&mut fitness, &nothing(70)), lost);
    }

    #[test]
    fn a_microphone_driven_over_is_told_and_comes_back_once_it_is_not() {
        let mut fitness = Fitness::default();
        assert_eq!(changes(&mut fitness, &noise(5, -20.0)), []);
        let lost = [Change::Lost(Unfit::Clips)];
        assert_eq!(changes(&mut fitness, &noise(3, 0.0)), lost);
        assert_eq!(changes(&mut fitness, &noise(2, -20.0)), []);
        assert_eq!(changes(&mut fitness, &noise(2, -20.0)), [Change::Back]);
        assert_eq!(changes(&mut fitness, &noise(9, -20.0)), []);
    }

    #[test]
    fn noise_as_loud_as_the_speaker_is_told_until_it_is_well_under() {
        let mut fitness = Fitness::default();
        assert_eq!(
            changes(&mut fitness, &noise(8, -18.0)),
            [],
            "no voice known"
        );
        let mut fitness = Fitness::default();
        for _ in 0..SPEECH_LEAST {
            fitness.spoken(-20.0, Some(15.0));
            // Hardly over the noise: what is measured is the noise.
            fitness.spoken(-5.0, Some(1.0));
        }
        assert_eq!(changes(&mut fitness, &noise(8, -26.0)), []);
        let lost = [Change::Lost(Unfit::Noise)];
        assert_eq!(changes(&mut fitness, &noise(10, -18.0)), lost);
        assert_eq!(changes(&mut fitness, &noise(8, -22.0)), []);
        assert_eq!(changes(&mut fitness, &noise(8, -28.0)), [Change::Back]);
    }

    #[test]
    fn somebody_who_speaks_on_and_on_is_no_noise() {
        let mut fitness = Fitness::default();
        for _ in 0..SPEECH_LEAST {
            fitness.spoken(-20.0, Some(20.0));
        }
        let breath = [noise(2, -18.0), noise(1, -50.0)].concat();
        let talk = breath.repeat(6);
        assert_eq!(changes(&mut fitness, &talk), []);
    }
}

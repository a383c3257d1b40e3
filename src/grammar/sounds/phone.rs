//! The sounds of English and how far they are from each other.

/// A sound, named as in ARPAbet; `AX` is the neutral vowel of an unstressed syllable.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[allow(clippy::upper_case_acronyms, missing_docs)]
#[rustfmt::skip]
pub(in crate::grammar) enum Phone {
    AA, AE, AH, AO, AW, AX, AY, B, CH, D, DH, EH, ER, EY, F, G, HH, IH, IY, JH, K, L, M, N, NG, OW, OY,
    P, R, S, SH, T, TH, UH, UW, V, W, Y, Z, ZH,
}

use Phone::*;

#[rustfmt::skip]
const ALL: [(Phone, &str); 40] = [
    (AA, "AA"), (AE, "AE"), (AH, "AH"), (AO, "AO"), (AW, "AW"), (AX, "AX"), (AY, "AY"), (B, "B"),
    (CH, "CH"), (D, "D"), (DH, "DH"), (EH, "EH"), (ER, "ER"), (EY, "EY"), (F, "F"), (G, "G"),
    (HH, "HH"), (IH, "IH"), (IY, "IY"), (JH, "JH"), (K, "K"), (L, "L"), (M, "M"), (N, "N"),
    (NG, "NG"), (OW, "OW"), (OY, "OY"), (P, "P"), (R, "R"), (S, "S"), (SH, "SH"), (T, "T"),
    (TH, "TH"), (UH, "UH"), (UW, "UW"), (V, "V"), (W, "W"), (Y, "Y"), (Z, "Z"), (ZH, "ZH"),
];

/// What a sound is made of.
enum Make {
    /// Height (0 open to 1 close) and frontness (0 back to 1 front) at its start and its end.
    Vowel([f32; 4]),
    /// Manner, place (0 lips to 1 throat) and whether it is voiced.
    Consonant(Manner, f32, bool),
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Manner {
    Stop,
    Affricate,
    Fricative,
    Nasal,
    Glide,
}

impl Phone {
    /// The sound of that ARPAbet name, without stress.
    pub(super) fn named(name: &str) -> Option<Self> {
        ALL.iter()
            .find(|(_, known)| *known == name)
            .map(|(phone, _)| *phone)
    }

    #[cfg(test)]
    pub(super) fn name(self) -> &'static str {
        ALL.iter()
            .find(|(phone, _)| *phone == self)
            .map_or("", |(_, name)| name)
    }

    /// Places on the chart of the International Phonetic Alphabet, read off by eye.
    fn make(self) -> Make {
        use Manner::*;
        let vowel = |height: f32, front: f32| Make::Vowel([height, front, height, front]);
        match self {
            IY => vowel(1.0, 1.0),
            IH => vowel(0.8, 0.8),
            EH => vowel(0.45, 0.9),
            AE => vowel(0.15, 0.9),
            AA => vowel(0.0, 0.15),
            AH => vowel(0.35, 0.3),
            AX => vowel(0.5, 0.5),
            AO => vowel(0.35, 0.0),
            UH => vowel(0.8, 0.2),
            UW => vowel(1.0, 0.0),
            ER => vowel(0.5, 0.45),
            EY => Make::Vowel([0.6, 0.95, 0.9, 0.95]),
            AY => Make::Vowel([0.0, 0.4, 0.85, 0.9]),
            AW => Make::Vowel([0.0, 0.4, 0.85, 0.1]),
            OW => Make::Vowel([0.6, 0.1, 0.9, 0.05]),
            OY => Make::Vowel([0.4, 0.0, 0.85, 0.9]),
            P => Make::Consonant(Stop, 0.0, false),
            B => Make::Consonant(Stop, 0.0, true),
            T => Make::Consonant(Stop, 0.4, false),
            D => Make::Consonant(Stop, 0.4, true),
            K => Make::Consonant(Stop, 0.8, false),
            G => Make::Consonant(Stop, 0.8, true),
            CH => Make::Consonant(Affricate, 0.5, false),
            JH => Make::Consonant(Affricate, 0.5, true),
            F => Make::Consonant(Fricative, 0.1, false),
            V => Make::Consonant(Fricative, 0.1, true),
            TH => Make::Consonant(Fricative, 0.25, false),
            DH => Make::Consonant(Fricative, 0.25, true),
            S => Make::Consonant(Fricative, 0.4, false),
            Z => Make::Consonant(Fricative, 0.4, true),
            SH => Make::Consonant(Fricative, 0.55, false),
            ZH => Make::Consonant(Fricative, 0.55, true),
            HH => Make::Consonant(Fricative, 1.0, false),
            M => Make::Consonant(Nasal, 0.0, true),
            N => Make::Consonant(Nasal, 0.4, true),
            NG => Make::Consonant(Nasal, 0.8, true),
            L => Make::Consonant(Glide, 0.4, true),
            R => Make::Consonant(Glide, 0.55, true),
            Y => Make::Consonant(Glide, 0.65, true),
            W => Make::Consonant(Glide, 0.0, true),
        }
    }

    /// What it costs that the sound is not there, 0 to 1. At the end of a phrase a consonant is easily
    /// lost in noise or cut off with the utterance.
    fn absence(self, at_end: bool) -> f32 {
        match (self.make(), self) {
            (_, AX) => 0.5,
            (Make::Vowel(_), _) => 1.0,
            (_, HH) => 0.4,
            (Make::Consonant(Manner::Stop, ..), _) if at_end => 0.4,
            (Make::Consonant(Manner::Nasal, ..), _) if at_end => 0.5,
            (Make::Consonant(Manner::Glide, ..), _) => 0.5,
            _ => 0.7,
        }
    }

    /// What it costs to take one sound for another, 0 (the same) to 1 (nothing in common).
    fn exchange(self, other: Self) -> f32 {
        if self == other {
            return 0.0;
        }
        match (self.make(), other.make()) {
            (Make::Vowel(a), Make::Vowel(b)) => {
                let half = |i: usize| (a[i] - b[i]).hypot(a[i + 1] - b[i + 1]);
                // Any vowel comes near the neutral one where it is not stressed.
                let weight = if self == AX || other == AX { 0.5 } else { 1.0 };
                (weight * (0.15 + 0.4 * (half(0) + half(2)))).min(1.0)
            }
            (
                Make::Consonant(manner_a, place_a, voice_a),
                Make::Consonant(manner_b, place_b, voice_b),
            ) => {
                use Manner::*;
                let manner = match (manner_a, manner_b) {
                    (a, b) if a == b => 0.0,
                    (Stop | Fricative, Affricate) | (Affricate, Stop | Fricative) => 0.25,
                    (Nasal, Glide) | (Glide, Nasal) => 0.4,
                    (Stop, Fricative) | (Fricative, Stop) => 0.45,
                    _ => 0.6,
                };
                let voice = if voice_a == voice_b { 0.0 } else { 0.2 };
                // Nasals are told apart by place worse than other sounds.
                let weight = if manner_a == Nasal && manner_b == Nasal {
                    0.4
                } else {
                    0.7
                };
                (0.1 + manner + voice + weight * (place_a - place_b).abs()).min(1.0)
            }
            _ => match (self, other) {
                (W, UW) | (UW, W) | (Y, IY) | (IY, Y) | (R, ER) | (ER, R) => 0.3,
                _ => 1.0,
            },
        }
    }
}

/// The least cost of turning one row of sounds into another, about in sounds: 0 is the same, 1 one quite
/// different sound.
pub(in crate::grammar) fn distance(one: &[Phone], other: &[Phone]) -> f32 {
    let mut before: Vec<f32> = Vec::with_capacity(other.len() + 1);
    before.push(0.0);
    for (j, phone) in other.iter().enumerate() {
        before.push(before[j] + phone.absence(j + 1 == other.len()));
    }
    let mut now = vec![0.0; before.len()];
    for (i, a) in one.iter().enumerate() {
        let loss = a.absence(i + 1 == one.len());
        now[0] = before[0] + loss;
        for (j, b) in other.iter().enumerate() {
            let gain = b.absence(j + 1 == other.len());
            now[j + 1] = (before[j] + a.exchange(*b))
                .min(before[j + 1] + loss)
                .min(now[j] + gain);
        }
        std::mem::swap(&mut before, &mut now);
    }
    before[other.len()]
}

//! Sounds from spelling, for words outside the table: the longest rule that fits, left to right. Rough,
//! but only used to compare how two words sound.

use super::Phone;
use Phone::*;

/// Letters and their sounds. Longer rules come before shorter ones with the same beginning.
const RULES: &[(&str, &[Phone])] = &[
    ("tion", &[SH, AX, N]),
    ("sion", &[ZH, AX, N]),
    ("ture", &[CH, ER]),
    ("ough", &[AO]),
    ("augh", &[AO]),
    ("eigh", &[EY]),
    ("igh", &[AY]),
    ("tch", &[CH]),
    ("dge", &[JH]),
    ("sch", &[SH]),
    ("air", &[EH, R]),
    ("ear", &[IH, R]),
    ("eer", &[IH, R]),
    ("our", &[AO, R]),
    ("oor", &[AO, R]),
    ("ck", &[K]),
    ("ch", &[CH]),
    ("sh", &[SH]),
    ("th", &[TH]),
    ("ph", &[F]),
    ("gh", &[G]),
    ("wh", &[W]),
    ("qu", &[K, W]),
    ("ng", &[NG]),
    ("kn", &[N]),
    ("wr", &[R]),
    ("ee", &[IY]),
    ("ea", &[IY]),
    ("oo", &[UW]),
    ("ou", &[AW]),
    ("ow", &[OW]),
    ("oa", &[OW]),
    ("oi", &[OY]),
    ("oy", &[OY]),
    ("ai", &[EY]),
    ("ay", &[EY]),
    ("au", &[AO]),
    ("aw", &[AO]),
    ("ie", &[IY]),
    ("ue", &[UW]),
    ("ew", &[UW]),
    ("ey", &[IY]),
    ("ar", &[AA, R]),
    ("er", &[ER]),
    ("ir", &[ER]),
    ("ur", &[ER]),
    ("or", &[AO, R]),
    ("ce", &[S]),
    ("ci", &[S, IH]),
    ("cy", &[S, IY]),
    ("a", &[AE]),
    ("b", &[B]),
    ("c", &[K]),
    ("d", &[D]),
    ("e", &[EH]),
    ("f", &[F]),
    ("g", &[G]),
    ("h", &[HH]),
    ("i", &[IH]),
    ("j", &[JH]),
    ("k", &[K]),
    ("l", &[L]),
    ("m", &[M]),
    ("n", &[N]),
    ("o", &[AA]),
    ("p", &[P]),
    ("q", &[K]),
    ("r", &[R]),
    ("s", &[S]),
    ("t", &[T]),
    ("u", &[AH]),
    ("v", &[V]),
    ("w", &[W]),
    ("x", &[K, S]),
    ("y", &[IY]),
    ("z", &[Z]),
    ("0", &[Z, IY, R, OW]),
    ("1", &[W, AH, N]),
    ("2", &[T, UW]),
    ("3", &[TH, R, IY]),
    ("4", &[F, AO, R]),
    ("5", &[F, AY, V]),
    ("6", &[S, IH, K, S]),
    ("7", &[S, EH, V, AX, N]),
    ("8", &[EY, T]),
    ("9", &[N, AY, N]),
];

/// The long sound of a vowel before a consonant and a silent e.
fn long(letter: u8) -> Option<Phone> {
    match letter {
        b'a' => Some(EY),
        b'e' => Some(IY),
        b'i' | b'y' => Some(AY),
        b'o' => Some(OW),
        b'u' => Some(UW),
        _ => None,
    }
}

/// The sounds of a lower-case word; letters of other alphabets are a neutral vowel each.
pub(super) fn sounds(word: &str) -> Vec<Phone> {
    let mut out: Vec<Phone> = Vec::new();
    let mut rest = word;
    while let Some(first) = rest.chars().next() {
        let bytes = rest.as_bytes();
        let magic = bytes.len() == 3 && bytes[2] == b'e' && long(bytes[1]).is_none();
        if let (true, Some(vowel)) = (magic, long(bytes[0])) {
            out.push(vowel);
            rest = &rest[1..];
            continue;
        }
        if rest == "e" && !out.is_empty() {
            break;
        }
        match RULES.iter().find(|(letters, _)| rest.starts_with(letters)) {
            Some((letters, phones)) => {
                // A doubled consonant sounds once.
                let doubled = letters.len() == 1 && out.last() == phones.first();
                if !(doubled && phones.len() == 1) {
                    out.extend_from_slice(phones);
                }
                rest = &rest[letters.len()..];
            }
            None => {
                if first.is_alphabetic() {
                    out.push(AX);
                }
                rest = &rest[first.len_utf8()..];
            }
        }
    }
    out
}

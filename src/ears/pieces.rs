//! Where in a breath its items were said. Pure.
//!
//! A first guess divides the speech by the speech sounds of the items; each border then moves to the
//! quietest place nearby.

/// Samples a second.
const RATE: f32 = 16_000.0;
/// Samples of a frame whose energy is looked at: 10 ms.
const FRAME: usize = 160;
/// Frames on each side over which energies are smoothed.
const SMOOTH: usize = 2;
/// How far a border may move, in seconds.
const REACH: f32 = 0.4;
/// Decibels that a place must be quieter for each second that it is further from the guess.
const DB_A_SECOND: f32 = 15.0;

/// Divides the speech between `from` and `to` (seconds) among items of so many speech sounds each.
/// Returns where each begins and ends, in seconds; the pieces follow each other without a gap.
pub(super) fn pieces(samples: &[f32], from: f32, to: f32, sounds: &[f32]) -> Vec<(f32, f32)> {
    let all: f32 = sounds.iter().map(|s| s.max(1.0)).sum();
    let energies = energies(samples);
    let mut borders = vec![from];
    let mut so_far = 0.0;
    for s in sounds.iter().take(sounds.len().saturating_sub(1)) {
        so_far += s.max(1.0);
        let guess = from + (to - from) * so_far / all;
        let least = borders.last().copied().unwrap_or(from);
        borders.push(quietest(&energies, guess, least, to));
    }
    if !sounds.is_empty() {
        borders.push(to);
    }
    borders.windows(2).map(|b| (b[0], b[1])).collect()
}

/// The quietest place near the guess, in seconds, within the limits.
fn quietest(energies: &[f32], guess: f32, least: f32, most: f32) -> f32 {
    let a_frame = FRAME as f32 / RATE;
    let from = ((guess - REACH).max(least + 5.0 * a_frame) / a_frame).max(0.0) as usize;
    let to = ((guess + REACH).min(most) / a_frame).max(0.0) as usize;
    let cost = |frame: usize| {
        let off = (frame as f32 * a_frame - guess).abs();
        energies.get(frame).map(|e| e + DB_A_SECOND * off)
    };
    (from..to)
        .filter_map(|frame| Some((frame, cost(frame)?)))
        .min_by(|a, b| a.1.total_cmp(&b.1))
        .map_or(guess.max(least), |(frame, _)| frame as f32 * a_frame)
}

/// Smoothed energy of each frame, in dB.
fn energies(samples: &[f32]) -> Vec<f32> {
    let frames: Vec<f32> = samples
        .chunks(FRAME)
        .map(|frame| frame.iter().map(|s| s * s).sum::<f32>() / frame.len() as f32)
        .collect();
    (0..frames.len())
        .map(|at| {
            let near = &frames[at.saturating_sub(SMOOTH)..(at + SMOOTH + 1).min(frames.len())];
            10.0 * (near.iter().sum::<f32>() / near.len() as f32 + 1e-10).log10()
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::{RATE, pieces};

    /// Seconds of a tone, or of nearly nothing.
    fn sound(parts: &[(f32, bool)]) -> Vec<f32> {
        let mut out = Vec::new();
        for (seconds, loud) in parts {
            let level = if *loud { 0.3 } else { 0.002 };
            out.extend((0..(seconds * RATE) as usize).map(|i| level * (i as f32 * 0.2).sin()));
        }
        out
    }

    #[test]
    fn borders_lie_in_the_pauses() {
        let samples = sound(&[
            (0.5, false),
            (1.0, true),
            (0.15, false),
            (0.6, true),
            (0.1, false),
            (1.2, true),
            (0.3, false),
        ]);
        let cut = pieces(&samples, 0.5, 3.55, &[8.0, 7.0, 10.0]);
        assert_eq!(cut.len(), 3);
        assert!((1.5..1.65).contains(&cut[0].1), "{cut:?}");
        assert!((2.25..2.35).contains(&cut[1].1), "{cut:?}");
        assert_eq!((cut[0].0, cut[2].1), (0.5, 3.55));
        assert!(cut[0].1 == cut[1].0 && cut[1].1 == cut[2].0);
    }

    #[test]
    fn pieces_are_in_order_whatever_the_sound() {
        for samples in [
            vec![],
            vec![0.0; 100],
            vec![f32::NAN; 40_000],
            sound(&[(2.0, true)]),
        ] {
            let cut = pieces(&samples, 0.1, 1.9, &[1.0, 0.0, 30.0, 2.0]);
            assert_eq!(cut.len(), 4);
            assert!(cut.iter().all(|(a, b)| a <= b), "{cut:?}");
        }
        assert!(pieces(&[], 0.0, 1.0, &[]).is_empty());
        assert_eq!(pieces(&[], 0.0, 1.0, &[3.0]), [(0.0, 1.0)]);
    }
}

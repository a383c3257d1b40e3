//! How long an utterance takes against how long it lasted. Pure.
//!
//! With its window cut to the utterance the recogniser likes to write a short word twice: "five" comes
//! out nearly as well as "five five". The time spoken tells the two apart.

use crate::grammar::sounds_in;

/// Seconds from the first to the last speech chunk of an utterance of `n` speech sounds:
/// `BASE + LINEAR * n + ROOT * sqrt(n)`. Fitted on train and dev speakers of the hearing set,
/// quiet and in pad noise down to 0 dB; the voice activity network's own tail is in it.
const BASE: f32 = 0.519;
const LINEAR: f32 = 0.117;
const ROOT: f32 = -0.200;
/// Standard deviation of the natural logarithm of the true length over the expected one.
const SPREAD: f32 = 0.22;
/// Least value returned: one odd measurement must not outweigh everything heard.
const LEAST: f32 = -12.0;

/// Log-likelihood of a length for what was written, in nats, 0 where it is as expected. Figures may have
/// been said as one number or one by one; the reading that suits the length counts.
pub fn log_likelihood(written: &str, seconds: f32) -> f32 {
    of_a_string(written, seconds).max(LEAST)
}

/// The same without a least value: what is heard of a breath must account for all of its length.
pub fn of_a_string(written: &str, seconds: f32) -> f32 {
    sounds_in(written)
        .into_iter()
        .map(|sounds| {
            let off = (seconds.max(0.05) / expected(sounds)).ln() / SPREAD;
            -0.5 * off * off
        })
        .fold(f32::NEG_INFINITY, f32::max)
}

/// Log-likelihood that a phrase lasts as long as this, in nats: 0 where any way to say it does.
pub fn as_long(written: &str, seconds: f32) -> f32 {
    let longest = sounds_in(written).into_iter().max().unwrap_or(1);
    if seconds > expected(longest) {
        log_likelihood(written, seconds)
    } else {
        0.0
    }
}

/// Seconds of so many speech sounds.
fn expected(sounds: usize) -> f32 {
    let n = sounds.max(1) as f32;
    BASE + LINEAR * n + ROOT * n.sqrt()
}

#[cfg(test)]
mod tests {
    use super::{as_long, log_likelihood};

    #[test]
    fn what_is_short_may_be_all_that_was_said() {
        assert_eq!(as_long(" present", 0.4), 0.0);
        assert!(as_long(" present", 1.4) < -3.0);
        // Said one by one it is as long.
        assert_eq!(as_long(" 55", 0.8), 0.0);
    }

    #[test]
    fn a_short_word_is_not_a_doubled_one() {
        // Usual lengths of one spoken digit and of two.
        assert!(log_likelihood(" five", 0.45) > log_likelihood(" five five", 0.45) + 1.0);
        assert!(log_likelihood(" 5 5", 0.8) > log_likelihood(" 5", 0.8) + 1.0);
        // "55" may be "fifty five" or "five five".
        assert!(log_likelihood(" 55", 0.8) > -0.5 && log_likelihood(" 55", 1.0) > -0.5);
        assert!(log_likelihood(" good", 1.4) < log_likelihood(" unserviceable", 1.4) - 3.0);
        assert!(log_likelihood("", 0.0).is_finite());
    }
}

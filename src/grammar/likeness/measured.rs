//! What was heard as another word in measurements.

use crate::grammar::Meaning;
use std::sync::LazyLock;

/// How often a phrase was heard as another meaning: so surely that it was taken, or asked back.
#[derive(Clone, Debug, PartialEq, Eq, serde::Deserialize)]
pub struct Confusion {
    /// The rule that was listened for.
    pub rule: String,
    /// What was said.
    pub said: String,
    /// The value that was heard.
    pub heard_as: String,
    /// Utterances heard so.
    pub times: u32,
    /// Utterances of what was said.
    pub of: u32,
}

/// Quantile of the normal distribution for 95 % of one side.
const Z: f64 = 1.645;

impl Confusion {
    /// The share that the true one exceeds with 95 % confidence, 0 to 1: the lower bound of Wilson's score
    /// interval (E. B. Wilson, Journal of the American Statistical Association 22, 1927, 209 to 212).
    pub fn rate_at_least(&self) -> f64 {
        let (n, k) = (f64::from(self.of), f64::from(self.times.min(self.of)));
        if n == 0.0 {
            return 0.0;
        }
        let (p, z2) = (k / n, Z * Z);
        let middle = p + z2 / (2.0 * n);
        let half = Z * (p * (1.0 - p) / n + z2 / (4.0 * n * n)).sqrt();
        ((middle - half) / (1.0 + z2 / n)).max(0.0)
    }
}

/// The confusions that ship with the grammars: `grammars/confusions.jsonl`, which `hearing/report.py` makes of
/// what train and dev speakers said, quiet and in noise of 20 and 10 dB.
pub fn measured() -> &'static [Confusion] {
    static SHIPPED: LazyLock<Vec<Confusion>> = LazyLock::new(|| {
        include_str!("../../../grammars/confusions.jsonl")
            .lines()
            .map(|line| serde_json::from_str(line).expect("a test reads every line"))
            .collect()
    });
    &SHIPPED
}

/// Whether what was said was measured to be heard as this meaning more often than `most`, 0 to 1.
pub(super) fn is_heard_as(
    measured: &[Confusion],
    said: &str,
    heard_as: &Meaning,
    most: f64,
) -> bool {
    measured.iter().any(|c| {
        c.said == said
            && c.rule == heard_as.rule
            && c.heard_as == heard_as.value
            && c.rate_at_least() > most
    })
}

#[cfg(test)]
mod tests {
    use super::{Confusion, measured};

    fn of(times: u32, of: u32) -> f64 {
        Confusion {
            rule: "condition".into(),
            said: "fault".into(),
            heard_as: "good".into(),
            times,
            of,
        }
        .rate_at_least()
    }

    /// Against SciPy 1: `binomtest(k, n, alternative="greater").proportion_ci(0.95, "wilson").low`.
    #[test]
    fn the_bound_is_wilsons() {
        for (times, n, bound) in [
            (1, 9, 0.025191),
            (2, 20, 0.033663),
            (5, 1000, 0.002436),
            (30, 30, 0.917276),
        ] {
            assert!((of(times, n) - bound).abs() < 1e-4, "{times} of {n}");
        }
        assert_eq!(of(0, 30), 0.0);
        assert_eq!(of(0, 0), 0.0);
    }

    #[test]
    fn the_shipped_table_is_whole() {
        for c in measured() {
            assert!(c.times > 0 && c.times <= c.of, "{c:?}");
            assert_eq!(c.said, c.said.to_lowercase(), "{c:?}");
        }
    }
}

//! Denials of a check's own states ("not latched and pinned").
//!
//! A plan names what a thing can be, not what it is not. Without rivals of its own a denial is matched to the
//! plain form for want of anything nearer: of 70 hearings of "not latched and pinned" 58 were taken as latched
//! and pinned.

use super::spoken;
use std::collections::HashSet;

/// Value of a state that was denied ("keeper not closed"): no state that the plan names, and not the one
/// that conforms.
pub const NEGATED: &str = "~not";

/// Said before a form, they deny it.
const BEFORE: [&str; 4] = ["not", "isn't", "aren't", "is not"];
/// Longest form, in words, that is denied in its middle too.
const MIDDLE_MAX: usize = 6;

/// Whether the form denies something itself.
pub(super) fn is_denial(form: &str) -> bool {
    matches!(
        spoken::words(form).first().map(String::as_str),
        Some("no" | "not" | "nothing" | "none")
    )
}

/// The states with the denials of their forms beside them, under [`NEGATED`]. What a plan's form says itself
/// stays the plan's.
pub fn with_denials(states: &[(String, Vec<String>)]) -> Vec<(String, Vec<String>)> {
    let forms = || states.iter().flat_map(|(_, forms)| forms);
    let mut known: HashSet<Vec<String>> = forms().map(|f| spoken::words(f)).collect();
    let denied = forms().filter(|f| !is_denial(f)).flat_map(|f| denials(f));
    let denied: Vec<String> = denied.filter(|f| known.insert(spoken::words(f))).collect();
    let mut out = states.to_vec();
    if !denied.is_empty() {
        out.push((NEGATED.to_owned(), denied));
    }
    out
}

/// What denies a form: a "not" before it or before any of its words, also in place of its "and".
fn denials(form: &str) -> Vec<String> {
    let mut out: Vec<String> = BEFORE.iter().map(|not| format!("{not} {form}")).collect();
    let words = spoken::words(form);
    if words.len() > MIDDLE_MAX {
        return out;
    }
    for at in 1..words.len() {
        let (before, after) = (words[..at].join(" "), &words[at..]);
        if after[0] != "and" {
            out.push(format!("{before} not {}", after.join(" ")));
        } else if after.len() > 1 {
            let after = after[1..].join(" ");
            out.push(format!("{before} not {after}"));
            out.push(format!("{before} but not {after}"));
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::{NEGATED, with_denials};

    fn states(states: &[(&str, &[&str])]) -> Vec<(String, Vec<String>)> {
        let owned = |forms: &[&str]| forms.iter().map(|f| (*f).to_owned()).collect();
        states
            .iter()
            .map(|(key, forms)| ((*key).to_owned(), owned(forms)))
            .collect()
    }

    #[test]
    fn each_form_has_its_denials_beside_it() {
        let given = states(&[("pinned", &["latched and pinned"]), ("open", &["open"])]);
        let all = with_denials(&given);
        assert_eq!(all[..2], given[..]);
        let (key, denied) = &all[2];
        assert_eq!(key, NEGATED);
        for form in [
            "not latched and pinned",
            "isn't latched and pinned",
            "latched and not pinned",
            "latched not pinned",
            "latched but not pinned",
            "not open",
        ] {
            assert!(denied.iter().any(|d| d == form), "{form} in {denied:?}");
        }
        assert!(!denied.iter().any(|d| d.contains("not and")), "{denied:?}");
    }

    #[test]
    fn what_the_plan_says_itself_stays_the_plans() {
        let given = states(&[("on", &["tied"]), ("off", &["not tied", "no tie"])]);
        let all = with_denials(&given);
        assert_eq!(all[..2], given[..]);
        let denied = &all[2].1;
        assert!(
            !denied
                .iter()
                .any(|d| d == "not tied" || d.contains("no tie"))
        );
    }
}

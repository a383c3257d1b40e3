//! What in a plan's text puts its figures in doubt.

use super::judge::blank;
use super::question::Question;
use super::rig::Rig;
use super::verdict::{Grade, Verdict};
use crate::plan::Plan;

/// That the plan holds what cannot well be true, or counts that nobody checks: one point for a qualified person's
/// look, whatever the numbers say. `None` where there is no such warning.
pub(super) fn slips(plan: &Plan, rig: &Rig) -> Option<Verdict> {
    if plan.doubts().is_empty() {
        return None;
    }
    let rule = "what the plan says is taken as it stands; lint has the lines";
    let titles = plan.doubts().iter().map(|f| f.title.replace('`', ""));
    Some(Verdict {
        note: together(titles).join("; "),
        ..blank(rig, Question::Slip, "the plan", Grade::Warn, rule)
    })
}

/// What is said of several legs, once.
fn together(titles: impl Iterator<Item = String>) -> Vec<String> {
    let mut said: Vec<(String, Vec<String>, String)> = Vec::new();
    for title in titles {
        let (before, number, after) = parts(&title);
        let alike = |s: &&mut (String, Vec<String>, String)| {
            !number.is_empty() && s.0 == before && s.2 == after
        };
        match said.iter_mut().find(alike) {
            Some((_, numbers, _)) => numbers.push(number),
            None => said.push((before, vec![number], after)),
        }
    }
    let words = said
        .into_iter()
        .map(|(before, numbers, after)| match &numbers[..] {
            [first @ .., last] if !first.is_empty() => {
                let before = before.strip_suffix("leg ").unwrap_or(&before);
                format!("{before}legs {} and {last}{after}", first.join(", "))
            }
            one => format!("{before}{}{after}", one.concat()),
        });
    words.collect()
}

/// A text before, of and behind the number of the leg that it tells of.
fn parts(title: &str) -> (String, String, String) {
    let Some((before, rest)) = title.split_once("the links of leg ") else {
        return (title.to_owned(), String::new(), String::new());
    };
    let end = rest.find(' ').unwrap_or(rest.len());
    let (number, after) = rest.split_at(end);
    (
        format!("{before}the links of leg "),
        number.to_owned(),
        after.to_owned(),
    )
}

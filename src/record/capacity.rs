//! The capacity questions of a plan, as a walk is opened with them.

use crate::figures::{Verdict, capacity, worst_of_each};
use crate::plan::Plan;
use crate::walk::CapacityLine;

/// A line a question: its worst verdict as spoken, and all that wants a look.
pub fn capacity_lines(plan: &Plan) -> Vec<CapacityLine> {
    let all = capacity(plan);
    let worst = worst_of_each(&all).into_iter();
    worst
        .map(|v| CapacityLine {
            question: v.question.key().to_owned(),
            passes: v.passes(),
            spoken: with_others(&all, v),
            look: looks(&all, v),
        })
        .collect()
}

/// All that a qualified person should look at of the question that this verdict answers; empty where it fails, which says more.
fn looks(all: &[Verdict], worst: &Verdict) -> String {
    if !worst.passes() {
        return String::new();
    }
    // Subjects by what is said of them: four legs with one fault are told together.
    let mut looks: Vec<(Vec<String>, String)> = Vec::new();
    let same = all.iter().filter(|v| v.question == worst.question);
    for look in same.filter_map(Verdict::look) {
        let (subject, said) = match look.split_once(", ") {
            Some((subject, said)) => (subject.to_owned(), format!(", {said}")),
            None => (look, String::new()),
        };
        match looks
            .iter_mut()
            .find(|(_, of)| *of == said && !of.is_empty())
        {
            Some((subjects, _)) if subjects.contains(&subject) => {}
            Some((subjects, _)) => subjects.push(subject),
            None => looks.push((vec![subject], said)),
        }
    }
    let told = looks.iter().map(|(subjects, said)| match &subjects[..] {
        [first, rest @ .., last] => {
            let rest: String = rest.iter().map(|s| format!(", {}", lower(s))).collect();
            format!(
                "{first}{rest} and {}{}",
                lower(last),
                said.replace(" its ", " their ")
            )
        }
        one => format!("{}{said}", one.concat()),
    });
    told.collect::<Vec<_>>().join("; ")
}

/// The text with a small letter first.
fn lower(text: &str) -> String {
    let mut letters = text.chars();
    let first = letters.next().into_iter().flat_map(char::to_lowercase);
    first.chain(letters).collect()
}

/// The verdict as it is spoken, and how many more of its question fail.
fn with_others(all: &[Verdict], worst: &Verdict) -> String {
    let same = all.iter().filter(|v| v.question == worst.question);
    let failing = same.filter(|v| !v.passes()).count();
    match failing {
        0 | 1 => worst.spoken(),
        2 => format!("{} One more of these fails.", worst.spoken()),
        n => format!("{} {} more of these fail.", worst.spoken(), n - 1),
    }
}

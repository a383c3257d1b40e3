//! Random routes and answers, with the test's own reading of what conforms.

use super::sites::{check, count, state, station};
use loadwalk::plan::{Check, CheckKind, Compare, Condition, Relation, Route, Test};

/// Choices, made in advance so that a failing run can be shrunk; zeros once they are used up.
pub struct Tape {
    choices: Vec<u16>,
    at: usize,
}

impl Tape {
    pub fn new(choices: Vec<u16>) -> Self {
        Self { choices, at: 0 }
    }

    pub fn pick(&mut self, n: usize) -> usize {
        let choice = self.choices.get(self.at).copied().unwrap_or(0);
        self.at += 1;
        usize::from(choice) % n
    }

    pub fn is_out(&self) -> bool {
        self.at >= self.choices.len()
    }
}

/// Expected counts are not said anywhere else: no route has so many checks.
const EXPECTED: std::ops::RangeInclusive<u32> = 97..=119;

/// A route of up to 3 stations with up to 4 checks each.
pub fn route(tape: &mut Tape) -> Route {
    let mut expected = EXPECTED;
    let mut earlier: Vec<Check> = Vec::new();
    let mut stations = Vec::new();
    for s in 0..1 + tape.pick(3) {
        let mut checks = Vec::new();
        for c in 0..1 + tape.pick(4) {
            let key = format!("s{s}/c{c}");
            let mut new = check(
                &key,
                &format!("part {}", letter(s, c)),
                "How is it?",
                kind(tape, &mut expected),
            );
            let conditions = [1, 0, 0, 2][tape.pick(4)];
            for _ in 0..conditions.min(earlier.len()) {
                let on = &earlier[tape.pick(earlier.len())];
                let test = match tape.pick(4) {
                    0 => Test::Is(vec![sample(on, tape)]),
                    1 => Test::IsNot(vec![sample(on, tape)]),
                    2 => Test::AtLeast(50.0),
                    _ => Test::AtMost(50.0),
                };
                let check = on.id.clone();
                new.when.push(Condition { check, test });
            }
            let alike: Vec<&Check> = earlier
                .iter()
                .filter(|e| std::mem::discriminant(&e.kind) == std::mem::discriminant(&new.kind))
                .collect();
            if !alike.is_empty() && tape.pick(3) == 0 {
                let with = alike[tape.pick(alike.len())].id.clone();
                let pairs = vec![["out".to_owned(), "in".to_owned()]];
                let relation = match tape.pick(2) {
                    0 => Relation::Alike,
                    _ => Relation::Mirrored(pairs),
                };
                new.compare = Some(Compare { with, relation });
            }
            if !earlier.is_empty() && tape.pick(3) == 0 {
                new.touches
                    .push(earlier[tape.pick(earlier.len())].id.clone());
            }
            earlier.push(new.clone());
            checks.push(new);
        }
        stations.push(station(
            &format!("s{s}"),
            &format!("place {}", letter(s, 9)),
            "",
            checks,
        ));
    }
    Route {
        load: "hut beam".to_owned(),
        stations,
        left_out: Vec::new(),
        outline_m: None,
    }
}

pub fn letter(s: usize, c: usize) -> char {
    char::from(b'a' + (s * 7 + c) as u8)
}

pub fn kind(tape: &mut Tape, expected: &mut impl Iterator<Item = u32>) -> CheckKind {
    match tape.pick(7) {
        0 => CheckKind::Presence { must_be: true },
        1 => CheckKind::Presence { must_be: false },
        2 => count(expected.next()),
        3 => count(None),
        4 => CheckKind::State {
            states: vec![
                state("in", "goes in", None),
                state("out", "goes out", None),
                state("bent", "is bent", Some("part bent")),
            ],
        },
        5 => CheckKind::Tag {
            expected: Some("QX".to_owned()),
        },
        _ => CheckKind::Condition,
    }
}

pub fn rule(kind: &CheckKind) -> &'static str {
    match kind {
        CheckKind::Presence { .. } => "presence",
        CheckKind::Count { .. } => "count",
        CheckKind::State { .. } => "state",
        CheckKind::Reading { .. } => "reading",
        CheckKind::Tag { .. } => "tag",
        CheckKind::Condition => "condition",
    }
}

/// Some answer to the check, conforming or not.
pub fn sample(check: &Check, tape: &mut Tape) -> String {
    let of = |tape: &mut Tape, all: &[&str]| all[tape.pick(all.len())].to_owned();
    match &check.kind {
        CheckKind::Presence { .. } => of(tape, &["present", "missing"]),
        CheckKind::Condition => of(tape, &["good", "deficient"]),
        CheckKind::State { .. } => of(tape, &["in", "out", "bent", "unknown"]),
        CheckKind::Tag { .. } => of(tape, &["QX", "QY"]),
        CheckKind::Reading { .. } => of(tape, &["1"]),
        CheckKind::Count { expected, .. } => match tape.pick(4) {
            0 => expected.unwrap_or(5).to_string(),
            n => n.to_string(),
        },
    }
}

/// An answer that conforms by itself; the test's own reading of the kinds.
pub fn good(check: &Check) -> String {
    match &check.kind {
        CheckKind::Presence { must_be: true } => "present".to_owned(),
        CheckKind::Presence { must_be: false } => "missing".to_owned(),
        CheckKind::Condition => "good".to_owned(),
        CheckKind::State { states } => {
            let fine = states.iter().find(|s| s.deficiency.is_none());
            fine.expect("a state conforms").key.clone()
        }
        CheckKind::Tag { expected } => expected.clone().unwrap_or_else(|| "QX".to_owned()),
        CheckKind::Reading { min, max, .. } => min.or(*max).unwrap_or(1.0).to_string(),
        CheckKind::Count { expected, .. } => expected.unwrap_or(5).to_string(),
    }
}

pub fn conforms(check: &Check, value: &str) -> bool {
    match &check.kind {
        CheckKind::State { .. } => value == "in" || value == "out",
        CheckKind::Count { expected: None, .. } => value.parse::<u32>().is_ok(),
        _ => value == good(check),
    }
}

/// Whether two answers agree; the only mirrored pair of the yard is out and in.
pub fn agree(relation: &Relation, value: &str, other: &str) -> bool {
    match (relation, other) {
        (Relation::Mirrored(_), "out") => value == "in",
        (Relation::Mirrored(_), "in") => value == "out",
        _ => value == other,
    }
}

/// The ways in which a number from 97 to 119 can be spoken.
pub fn spelled(n: u32) -> Vec<String> {
    let ones = [
        "zero",
        "one",
        "two",
        "three",
        "four",
        "five",
        "six",
        "seven",
        "eight",
        "nine",
        "ten",
        "eleven",
        "twelve",
        "thirteen",
        "fourteen",
        "fifteen",
        "sixteen",
        "seventeen",
        "eighteen",
        "nineteen",
    ];
    let digits: Vec<&str> = n
        .to_string()
        .chars()
        .filter_map(|c| c.to_digit(10).map(|d| ones[d as usize]))
        .collect();
    let words = match n {
        90..=99 => format!("ninety-{}", ones[n as usize - 90]),
        100 => "one hundred.".to_owned(),
        _ => format!("one hundred {}", ones[n as usize - 100]),
    };
    vec![n.to_string(), digits.join(" "), words]
}

//! Which words of a plan sound too much alike, or mean two things, where they are listened for together.

use crate::diagnostic::{Finding, Severity};
use crate::grammar::likeness::{self, AlikePair};
use crate::grammar::{
    CalledItem, Clash, GrammarSet, Meaning, Phrase, called, hides_an_opposite, swallowed,
};
use crate::plan::{Check, CheckKind, Route};
use crate::walk::{answer_rule, called_items, rules, state_forms};
use std::collections::HashSet;
use std::ops::Range;

/// Phrases of one check that are compared; every check's own states are fewer.
const PHRASES_MAX: usize = 1_000;

/// The words that a plan is answered with.
pub struct Phrases<'t> {
    text: &'t str,
    lower: String,
    grammars: GrammarSet,
}

/// A pair too alike, with the checks at which it is heard.
struct Told {
    pair: AlikePair,
    costly: bool,
    checks: Vec<String>,
}

impl<'t> Phrases<'t> {
    /// The words of the plan with this text, beside the built-in grammars.
    pub fn new(text: &'t str) -> Self {
        Self {
            text,
            lower: text.to_ascii_lowercase(),
            grammars: GrammarSet::builtin(),
        }
    }

    /// Checks that cannot be listened for or whose words have two meanings (errors), and pairs of
    /// words that are too alike (warnings, each pair once).
    pub fn findings(&self, route: &Route) -> Vec<Finding> {
        let mut found = Vec::new();
        let mut told: Vec<Told> = Vec::new();
        let mut known = HashSet::new();
        for check in route.checks() {
            let states = state_forms(&check.kind);
            let weighty = weighs(route, check);
            // The same words under the same judgement are compared once.
            let key = (
                answer_rule(&check.kind),
                format!("{:?}{weighty}", check.kind),
            );
            let pairs = match known.contains(&key) {
                true => Vec::new(),
                false => self.check(check, &states, weighty, &mut found),
            };
            let seen = !pairs.is_empty() || !known.insert(key);
            for (pair, costly) in pairs {
                let same = |t: &&mut Told| t.pair.a == pair.a && t.pair.b == pair.b;
                match told.iter_mut().find(same) {
                    Some(told) => told.costly |= costly,
                    None => told.push(Told {
                        pair,
                        costly,
                        checks: Vec::new(),
                    }),
                }
            }
            if seen {
                let holds = |form: &str| states.iter().any(|(_, f)| f.iter().any(|f| f == form));
                for told in &mut told {
                    if holds(&told.pair.a) || holds(&told.pair.b) {
                        told.checks.push(check.id.to_string());
                    }
                }
            }
        }
        found.extend(told.iter().map(|t| self.alike(t)));
        found.extend(self.hidden(route));
        found.extend(self.called(route));
        found
    }

    /// Conforming forms in which an "un" would not be heard; each once.
    fn hidden(&self, route: &Route) -> Vec<Finding> {
        let mut known = HashSet::new();
        let states = route.checks().filter_map(|check| match &check.kind {
            CheckKind::State { states } => Some(states),
            _ => None,
        });
        states
            .flatten()
            .filter(|state| state.deficiency.is_none())
            .flat_map(|state| &state.spoken)
            .filter(|form| hides_an_opposite(form) && known.insert((*form).clone()))
            .map(|form| Finding {
                severity: Severity::Warning,
                title: match swallowed(form) {
                    Some(fault) => format!(
                        "\"{form}\" is asked back each time: \"{fault}\" sounds the same to the ears"
                    ),
                    None => format!(
                        "\"{form}\" is asked back each time: an \"un\" behind its \"and\" is not heard"
                    ),
                },
                span: self.place(form, form),
                label: "conforms".to_owned(),
                help: match swallowed(form) {
                    Some(_) => "find another word for it".to_owned(),
                    None => {
                        "say it in one word, as \"secured\" for \"latched and pinned\"".to_owned()
                    }
                },
            })
            .collect()
    }

    /// Names of one station that sound alike, and breaths of called findings that have two meanings.
    fn called(&self, route: &Route) -> Vec<Finding> {
        let mut found = Vec::new();
        let mut known = HashSet::new();
        for station in &route.stations {
            let items = called_items(station);
            if !known.insert(items.clone()) {
                continue;
            }
            let phrases: Vec<Phrase> = items.iter().flat_map(names).collect();
            // Taken for another name, a finding that fits both is logged at the wrong check.
            let of = |m: &Meaning| items.iter().find(|i| i.key == m.value);
            let costly = |a: &Meaning, b: &Meaning| {
                let (a, b) = (of(a), of(b));
                a.map(|i| (&i.rule, &i.states)) == b.map(|i| (&i.rule, &i.states))
            };
            for pair in likeness::too_alike(&phrases, costly, &[]) {
                found.push(Finding {
                    severity: Severity::Warning,
                    title: format!(
                        "the names \"{}\" and \"{}\" sound alike at {}",
                        pair.a, pair.b, station.key
                    ),
                    span: self.place(&pair.a, &pair.b),
                    label: "called off at one station".to_owned(),
                    help: pair.advice.clone(),
                });
            }
            found.extend(self.breaths(&station.key, &items));
        }
        found
    }

    /// A breath of two findings that has two meanings, or a station whose grammar cannot be made.
    fn breaths(&self, station: &str, items: &[CalledItem]) -> Option<Finding> {
        let fault = |title: String, at: Option<Range<usize>>, help: &str| Finding {
            severity: Severity::Warning,
            title,
            span: at,
            label: String::new(),
            help: help.to_owned(),
        };
        let name = items.first().and_then(|i| i.names.first());
        let at = name.and_then(|name| self.place(name, name));
        let graph = match called::strung(&self.grammars, items, 2) {
            Ok(graph) => graph,
            Err(error) => {
                let title = format!("{station} cannot be called off: {error}");
                return Some(fault(title, at, "give its checks fewer or shorter words"));
            }
        };
        match graph.clash() {
            // What cannot be told within the limit is refused when it is said.
            Ok(None) | Err(_) => None,
            Ok(Some(clash)) => {
                let Clash { words, one, other } = clash;
                let title =
                    format!("called off at {station}, \"{words}\" can mean {one} or {other}");
                Some(fault(title, at, "give one of them other names or words"))
            }
        }
    }

    /// The pairs of one check that are too alike, and whether taking one for the other could log a
    /// fault as conforming.
    fn check(
        &self,
        check: &Check,
        states: &[(String, Vec<String>)],
        weighty: bool,
        found: &mut Vec<Finding>,
    ) -> Vec<(AlikePair, bool)> {
        let error = |title: String, label: &str, span, help: &str| Finding {
            severity: Severity::Error,
            title,
            span,
            label: label.to_owned(),
            help: help.to_owned(),
        };
        let form = states.first().and_then(|(_, forms)| forms.first());
        let at = form.and_then(|form| self.place(form, form));
        // While an answer is doubted, yes and no are listened for beside the answers.
        let active = [answer_rule(&check.kind), rules::YES_NO, rules::CONTROL];
        let graph = match self.grammars.graph(&active, states) {
            Ok(graph) => graph,
            Err(fault) => {
                let fault = fault.to_string();
                let (title, help) = fault
                    .rsplit_once("; ")
                    .unwrap_or((&fault, "change the words"));
                found.push(error(format!("{}: {title}", check.id), "", at, help));
                return Vec::new();
            }
        };
        match graph.clash() {
            Ok(None) => {}
            Ok(Some(clash)) => found.push(error(
                format!(
                    "{}: \"{}\" can mean {} or {}",
                    check.id, clash.words, clash.one, clash.other
                ),
                "has two meanings",
                self.place(&clash.words, &clash.words).or(at.clone()),
                "give one of them other words",
            )),
            Err(fault) => found.push(error(
                format!("{}: {fault}", check.id),
                "",
                at,
                "give the check fewer or shorter forms",
            )),
        }
        let costly = |a: &Meaning, b: &Meaning| costs(check, weighty, a, b);
        let mut phrases = graph.phrases(PHRASES_MAX);
        phrases.retain(|p| !is_row(p));
        likeness::too_alike(&phrases, costly, likeness::measured())
            .into_iter()
            .filter(|pair| pair.handled.is_none())
            .map(|pair| {
                let costly = costs(check, weighty, &pair.meaning_a, &pair.meaning_b);
                (pair, costly)
            })
            .collect()
    }

    fn alike(&self, told: &Told) -> Finding {
        let Told {
            pair,
            costly,
            checks,
        } = told;
        let at = match checks.as_slice() {
            [] => String::new(),
            [one] => format!(" at {one}"),
            [first, rest @ ..] => format!(" at {first} and {} more", rest.len()),
        };
        let why = if *costly {
            "; a fault could be logged as conforming"
        } else {
            ""
        };
        Finding {
            severity: Severity::Warning,
            title: format!("\"{}\" and \"{}\" sound alike{at}{why}", pair.a, pair.b),
            span: self.place(&pair.a, &pair.b),
            label: "listened for together".to_owned(),
            help: pair.advice.clone(),
        }
    }

    /// Where one of the forms is written, nearest to the other.
    fn place(&self, one: &str, other: &str) -> Option<Range<usize>> {
        let ones = self.written(one);
        let others = self.written(other);
        let (here, there) = if ones.is_empty() {
            (others, ones)
        } else {
            (ones, others)
        };
        here.into_iter().min_by_key(|span| {
            let far = |o: &Range<usize>| o.start.abs_diff(span.start);
            there.iter().map(far).min().unwrap_or(0)
        })
    }

    /// Where the form is written in quotes.
    fn written(&self, form: &str) -> Vec<Range<usize>> {
        let quoted = format!("\"{}\"", form.to_ascii_lowercase());
        let at = self.lower.match_indices(&quoted);
        at.map(|(at, text)| at..(at + text.len()).min(self.text.len()))
            .collect()
    }
}

/// The names of an item as phrases.
fn names(item: &CalledItem) -> Vec<Phrase> {
    let names = item.names.iter();
    names
        .map(|name| Phrase {
            words: name.to_lowercase(),
            meanings: vec![Meaning {
                rule: called::NAME.to_owned(),
                value: item.key.clone(),
            }],
        })
        .collect()
}

/// Whether the phrase is a number or a tag of more than one word: it is as far from other phrases as
/// its words are, or farther.
fn is_row(phrase: &Phrase) -> bool {
    let row = |m: &Meaning| matches!(m.rule.as_str(), rules::COUNT | rules::READING | rules::TAG);
    phrase.words.contains(' ') && phrase.meanings.first().is_some_and(row)
}

/// Whether another check looks at this one's answer, so that two conforming states are not the same.
fn weighs(route: &Route, check: &Check) -> bool {
    check.compare.is_some()
        || route.checks().any(|other| {
            other.compare.as_ref().is_some_and(|c| c.with == check.id)
                || other.when.iter().any(|w| w.check == check.id)
        })
}

/// Whether taking one meaning for the other could log a fault as conforming, as the plan tells it.
fn costs(check: &Check, weighty: bool, one: &Meaning, other: &Meaning) -> bool {
    let conforms = |m: &Meaning| match &check.kind {
        CheckKind::State { states } => states
            .iter()
            .any(|s| s.key == m.value && s.deficiency.is_none()),
        _ => false,
    };
    match (one.rule == rules::STATE, other.rule == rules::STATE) {
        (true, true) => conforms(one) != conforms(other) || (weighty && conforms(one)),
        (true, false) => conforms(one),
        (false, true) => conforms(other),
        (false, false) => likeness::costly(one, other),
    }
}

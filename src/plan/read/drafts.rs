//! Reads options, count tables, blocks and stations as they are written: placeholders still in them,
//! names not yet looked up.

use super::fields::{Fields, number_text, whole_of};
use super::load::{check_key, read_place};
use super::reader::{Findings, Text, did_you_mean};
use crate::plan::expand::slug;
use crate::plan::{CountTable, LoadOption, limits};
use std::ops::Range;

/// A station with its steps.
pub(in crate::plan) struct StationDraft {
    pub key: Text,
    pub name: Option<Text>,
    pub arrive: Option<Text>,
    pub place_m: Option<[f64; 2]>,
    pub needs: Vec<NeedDraft>,
    pub steps: Vec<Step>,
    pub span: Range<usize>,
}

/// A block of checks with its parameters.
pub(in crate::plan) struct BlockDraft {
    pub name: Text,
    pub parameters: Vec<Text>,
    pub steps: Vec<Step>,
}

/// One entry of a list of checks.
pub(in crate::plan) enum Step {
    Check(Box<CheckDraft>),
    Use(UseDraft),
}

/// A block used.
pub(in crate::plan) struct UseDraft {
    pub block: Text,
    pub with: Vec<(Text, Text)>,
    pub needs: Vec<NeedDraft>,
    pub when: Vec<WhenDraft>,
    pub span: Range<usize>,
}

/// A check as written. What could not be read is `None` and was told already.
pub(in crate::plan) struct CheckDraft {
    pub key: Text,
    pub name: Option<Text>,
    pub also: Vec<Text>,
    pub ask: Option<Text>,
    pub deficiency: Option<Text>,
    pub kind: Option<KindDraft>,
    pub needs: Vec<NeedDraft>,
    pub when: Vec<WhenDraft>,
    pub touches: Vec<Text>,
    pub compare: Option<CompareDraft>,
    pub span: Range<usize>,
}

/// What a check asks for.
pub(in crate::plan) enum KindDraft {
    Presence {
        must_be: bool,
    },
    Count {
        table: Option<Text>,
        expected: Option<Text>,
        noun: Text,
    },
    OneOf {
        states: Vec<StateDraft>,
        both: Option<Text>,
        neither: Option<Text>,
    },
    State {
        states: Vec<StateDraft>,
    },
    Reading {
        unit: Text,
        min: Option<Text>,
        max: Option<Text>,
    },
    Tag {
        expected: Option<Text>,
    },
    Condition,
}

/// A state that a thing can be found in.
pub(in crate::plan) struct StateDraft {
    pub key: Option<Text>,
    pub say: Vec<Text>,
    /// `None`: conforming.
    pub deficiency: Option<Text>,
    pub span: Range<usize>,
}

/// An option that must, or must not, have one of some values.
pub(in crate::plan) struct NeedDraft {
    pub option: Text,
    pub is: Vec<Text>,
    pub is_not: Vec<Text>,
}

/// A test on an earlier answer.
pub(in crate::plan) struct WhenDraft {
    pub check: Text,
    pub is: Vec<Text>,
    pub is_not: Vec<Text>,
    pub at_least: Option<(f64, Range<usize>)>,
    pub at_most: Option<(f64, Range<usize>)>,
}

/// An agreement with another check.
pub(in crate::plan) struct CompareDraft {
    pub with: Text,
    pub mirrored: bool,
    pub pairs: Vec<[Text; 2]>,
    pub span: Range<usize>,
}

pub(super) fn read_options(r: &mut Findings, table: &Fields<'_>) -> Vec<LoadOption> {
    let mut options = Vec::new();
    for (name, mut f) in table.named_tables(r) {
        check_key(r, "the name of an option", &name);
        let values = f.texts(r, "values", "fitted");
        if !f.has("values") {
            f.missing(r, "values", "[\"fitted\", \"none\"]");
        } else if values.len() < 2 {
            r.error(
                &f.key_span("values"),
                format!("option `{}` has fewer than two values", name.value),
                "nothing to choose from",
                "write all that it may be: values = [\"fitted\", \"none\"]",
            );
        }
        for (i, value) in values.iter().enumerate() {
            if values[..i].iter().any(|v| v.value == value.value) {
                r.error(
                    &value.span,
                    format!(
                        "option `{}` has the value `{}` twice",
                        name.value, value.value
                    ),
                    "the same value again",
                    "take one of the two out",
                );
            }
        }
        let chosen = f.need_text(r, "chosen", values.first().map_or("fitted", |v| &v.value));
        if let Some(chosen) = &chosen
            && !values.is_empty()
            && !values.iter().any(|v| v.value == chosen.value)
        {
            r.error(
                &chosen.span,
                format!("option `{}` cannot be `{}`", name.value, chosen.value),
                "not one of its values",
                did_you_mean(&chosen.value, values.iter().map(|v| v.value.as_str())),
            );
        }
        f.finish(r);
        // A broken choice stands for the first value, so that nothing else is misjudged.
        let chosen = chosen
            .map(|c| c.value)
            .or_else(|| values.first().map(|v| v.value.clone()))
            .unwrap_or_default();
        options.push(LoadOption {
            name: name.value,
            values: values.into_iter().map(|v| v.value).collect(),
            chosen,
        });
    }
    options
}

/// Count tables, and the place of each table's name.
pub(super) fn read_counts(
    r: &mut Findings,
    table: &Fields<'_>,
    stations: &[Text],
) -> Vec<(CountTable, Range<usize>)> {
    let mut tables = Vec::new();
    for (name, f) in table.named_tables(r) {
        check_key(r, "the name of a count table", &name);
        let mut sets = Vec::new();
        for (set, f) in f.named_tables(r) {
            let mut counts = Vec::new();
            for (station, value) in f.entries() {
                if !stations.iter().any(|s| s.value == station.value) {
                    r.misfit(
                        &station.span,
                        format!("there is no station `{}`", station.value),
                        "not the key of a station",
                        did_you_mean(&station.value, stations.iter().map(|s| s.value.as_str())),
                    );
                }
                if let Some((count, _)) = whole_of(r, &station.value, value, 0..=limits::COUNT) {
                    counts.push((station.value, count));
                }
            }
            sets.push((set.value, counts));
        }
        tables.push((
            CountTable {
                name: name.value,
                sets,
            },
            name.span,
        ));
    }
    tables
}

pub(super) fn read_blocks(r: &mut Findings, table: &Fields<'_>) -> Vec<BlockDraft> {
    let mut blocks = Vec::new();
    for (name, mut f) in table.named_tables(r) {
        check_key(r, "the name of a block", &name);
        let parameters = f.texts(r, "parameters", "side");
        for (i, parameter) in parameters.iter().enumerate() {
            check_key(r, "a parameter", parameter);
            if parameter.value == "station" {
                r.error(
                    &parameter.span,
                    "a block cannot have a parameter `station`",
                    "always there",
                    "use {station} without naming it; it is the key of the station at hand",
                );
            }
            if parameters[..i].iter().any(|p| p.value == parameter.value) {
                r.error(
                    &parameter.span,
                    format!(
                        "block `{}` names parameter `{}` twice",
                        name.value, parameter.value
                    ),
                    "the same name again",
                    "take one of the two out",
                );
            }
        }
        let steps = read_steps(r, &mut f);
        f.finish(r);
        for parameter in &parameters {
            let hole = format!("{{{}}}", parameter.value);
            let used = steps
                .iter()
                .any(|s| texts_of(s).iter().any(|t| t.value.contains(&hole)));
            if !used {
                r.warning(
                    &parameter.span,
                    format!(
                        "block `{}` does not use its parameter `{}`",
                        name.value, parameter.value
                    ),
                    "not used",
                    format!("write {hole} where it belongs, or take the parameter out"),
                );
            }
        }
        blocks.push(BlockDraft {
            name,
            parameters,
            steps,
        });
    }
    blocks
}

pub(super) fn read_stations(r: &mut Findings, tables: Vec<Fields<'_>>) -> Vec<StationDraft> {
    let mut stations: Vec<StationDraft> = Vec::new();
    for mut f in tables.into_iter().take(limits::STATIONS) {
        let name = f.need_text(r, "name", "front left corner");
        let key = f.text(r, "key", "front-left");
        if let Some(key) = &key {
            check_key(r, "the key of a station", key);
        }
        let key = key.or_else(|| {
            name.as_ref().map(|n| Text {
                value: slug(&n.value),
                span: n.span.clone(),
            })
        });
        let arrive = f.text(r, "arrive", "stand at the corner, hand on the leg");
        let place_m = read_place(r, &mut f);
        let needs = read_needs(r, &mut f);
        let steps = read_steps(r, &mut f);
        let span = f.span.clone();
        f.finish(r);
        let Some(key) = key else { continue };
        let same_key = stations.iter().any(|s| s.key.value == key.value);
        let same_name = stations.iter().any(|s| match (&s.name, &name) {
            (Some(a), Some(b)) => a.value.eq_ignore_ascii_case(&b.value),
            _ => false,
        });
        if same_key || same_name {
            let twice = if same_key {
                &key
            } else {
                name.as_ref().unwrap_or(&key)
            };
            r.error(
                &twice.span,
                format!("two stations are called `{}`", twice.value),
                "the same name again",
                "give each station a key and a name of its own",
            );
            if same_key {
                continue;
            }
        }
        stations.push(StationDraft {
            key,
            name,
            arrive,
            place_m,
            needs,
            steps,
            span,
        });
    }
    stations
}

fn read_steps(r: &mut Findings, f: &mut Fields<'_>) -> Vec<Step> {
    let steps: Vec<Step> = f
        .tables(r, "check")
        .into_iter()
        .filter_map(|t| {
            if t.has("block") {
                read_use(r, t).map(Step::Use)
            } else {
                read_check(r, t).map(|c| Step::Check(Box::new(c)))
            }
        })
        .collect();
    if !f.has("check") {
        let inner = f.place.trim_matches(|c| c == '[' || c == ']').to_string();
        r.misfit(
            &f.span,
            format!("{} has no checks", f.place),
            "",
            format!("add [[{inner}.check]] with name and kind, or block = \"…\""),
        );
    }
    steps
}

fn read_use(r: &mut Findings, mut f: Fields<'_>) -> Option<UseDraft> {
    let block = f.need_text(r, "block", "corner");
    let mut with = Vec::new();
    if let Some(table) = f.table(r, "with") {
        for (name, value) in table.entries() {
            match number_text(value) {
                Some(text) => with.push((name, text)),
                None => r.error(
                    &value.span(),
                    format!("argument `{}` must be a text or a number", name.value),
                    "put into the block's texts",
                    format!("write {} = \"left\", say", name.value),
                ),
            }
        }
    }
    let needs = read_needs(r, &mut f);
    let when = read_whens(r, &mut f);
    let span = f.span.clone();
    f.finish(r);
    Some(UseDraft {
        block: block?,
        with,
        needs,
        when,
        span,
    })
}

const KINDS: [(&str, &str); 7] = [
    ("presence", "presence"),
    ("count", "count"),
    ("one-of", "one-of"),
    ("state", "state"),
    ("reading", "reading"),
    ("tag", "tag"),
    ("condition", "condition"),
];

fn read_check(r: &mut Findings, mut f: Fields<'_>) -> Option<CheckDraft> {
    let name = f.need_text(r, "name", "hook keeper");
    let key = f.text(r, "key", "hook-keeper").or_else(|| {
        name.as_ref().map(|n| Text {
            value: slug_keeping_holes(&n.value),
            span: n.span.clone(),
        })
    });
    if let Some(name) = &name {
        f.place = format!("check `{}`", name.value);
    }
    if !f.has("kind") {
        f.missing(r, "kind", "\"presence\"");
    }
    let kind = f.choice(r, "kind", &KINDS);
    let kind = match kind {
        Some(kind) => read_kind(r, &mut f, kind),
        None => {
            // The keys of any kind are let pass where the kind itself is wrong.
            for key in KIND_KEYS {
                f.value(key);
            }
            None
        }
    };
    let draft = CheckDraft {
        also: f.texts(r, "also", "keeper"),
        ask: f.text(r, "ask", "Hook keeper?"),
        deficiency: f.text(r, "deficiency", "hook keeper missing"),
        kind,
        needs: read_needs(r, &mut f),
        when: read_whens(r, &mut f),
        touches: f.texts(r, "touches", "hook-links"),
        compare: read_compare(r, &mut f),
        span: f.span.clone(),
        key: match key {
            Some(key) => key,
            None => {
                f.finish(r);
                return None;
            }
        },
        name,
    };
    f.finish(r);
    Some(draft)
}

const KIND_KEYS: [&str; 10] = [
    "must_be", "table", "expected", "noun", "states", "both", "neither", "unit", "min", "max",
];

fn read_kind(r: &mut Findings, f: &mut Fields<'_>, kind: &str) -> Option<KindDraft> {
    match kind {
        "presence" => {
            let must_be = f.choice(r, "must_be", &[("present", true), ("absent", false)]);
            (must_be.is_some() || !f.has("must_be")).then(|| KindDraft::Presence {
                must_be: must_be.unwrap_or(true),
            })
        }
        "count" => {
            let noun = f.text(r, "noun", "links");
            Some(KindDraft::Count {
                table: f.text(r, "table", "hook-links"),
                expected: f.number_text(r, "expected", "4"),
                noun: noun.unwrap_or_else(|| Text {
                    value: "links".into(),
                    span: f.span.clone(),
                }),
            })
        }
        "one-of" => Some(KindDraft::OneOf {
            states: read_states(r, f, true),
            both: f.text(r, "both", "drain plugged and blanked"),
            neither: f.text(r, "neither", "drain open"),
        }),
        "state" => Some(KindDraft::State {
            states: read_states(r, f, false),
        }),
        "reading" => {
            let min = f.number_text(r, "min", "2.0");
            let max = f.number_text(r, "max", "2.5");
            Some(KindDraft::Reading {
                unit: f.need_text(r, "unit", "bar")?,
                min,
                max,
            })
        }
        "tag" => Some(KindDraft::Tag {
            expected: f.number_text(r, "expected", "\"A7\""),
        }),
        _ => Some(KindDraft::Condition),
    }
}

fn read_states(r: &mut Findings, f: &mut Fields<'_>, one_of: bool) -> Vec<StateDraft> {
    use toml::de::DeValue;
    let example = if one_of {
        "[\"plugged\", \"blanked\"]"
    } else {
        "[{ say = \"straight\", conforms = true }, { say = \"twisted\", deficiency = \"chain twisted\" }]"
    };
    let Some(value) = f.value("states") else {
        f.missing(r, "states", example);
        return Vec::new();
    };
    let DeValue::Array(items) = value.get_ref() else {
        r.error(
            &value.span(),
            format!("`states` in {} takes a list", f.place),
            "not a list",
            format!("write states = {example}"),
        );
        return Vec::new();
    };
    let mut states = Vec::new();
    for item in items.iter().take(4 * limits::STATES) {
        match item.get_ref() {
            DeValue::String(s) if one_of => states.push(StateDraft {
                key: None,
                say: vec![Text {
                    value: s.trim().to_string(),
                    span: item.span(),
                }],
                deficiency: None,
                span: item.span(),
            }),
            DeValue::Table(table) => {
                let place = format!("a state of {}", f.place);
                states.push(read_state(
                    r,
                    Fields::new(table, item.span(), place),
                    one_of,
                ));
            }
            DeValue::String(s) => r.error(
                &item.span(),
                format!("state `{s}` does not say whether it conforms"),
                "conforming or not?",
                format!(
                    "write {{ say = \"{s}\", conforms = true }} or \
                     {{ say = \"{s}\", deficiency = \"what is wrong\" }}"
                ),
            ),
            _ => r.error(
                &item.span(),
                format!(
                    "`states` in {} holds something that is not a state",
                    f.place
                ),
                "not a state",
                format!("write states = {example}"),
            ),
        }
    }
    states
}

fn read_state(r: &mut Findings, mut f: Fields<'_>, one_of: bool) -> StateDraft {
    let key = f.text(r, "key", "straight");
    let say = f.texts(r, "say", "straight");
    if !f.has("say") {
        f.missing(r, "say", "\"straight\"");
    }
    let deficiency = if one_of {
        None
    } else {
        let conforms = f.flag(r, "conforms");
        let deficiency = f.text(r, "deficiency", "chain twisted");
        let is_conforming = conforms.as_ref().is_some_and(|(yes, _)| *yes);
        if is_conforming == f.has("deficiency") {
            let (title, label) = if is_conforming {
                (
                    "a state conforms and has a deficiency's name as well",
                    "one or the other",
                )
            } else {
                (
                    "a state neither conforms nor names its deficiency",
                    "conforming or not?",
                )
            };
            r.error(
                &f.span,
                title,
                label,
                "write conforms = true, or deficiency = \"what is wrong\"",
            );
        }
        deficiency
    };
    let span = f.span.clone();
    f.finish(r);
    StateDraft {
        key,
        say,
        deficiency,
        span,
    }
}

fn read_needs(r: &mut Findings, f: &mut Fields<'_>) -> Vec<NeedDraft> {
    let tables = f.one_or_more(r, "needs_option");
    let mut needs = Vec::new();
    for mut t in tables {
        let option = t.need_text(r, "option", "spreader");
        let is = t.words_or_numbers(r, "is", "\"fitted\"");
        let is_not = t.words_or_numbers(r, "is_not", "\"none\"");
        if t.has("is") == t.has("is_not") {
            r.error(
                &t.span,
                format!("{} takes one of is and is_not", t.place),
                "which value is needed?",
                "write { option = \"spreader\", is = \"fitted\" }, say",
            );
        }
        t.finish(r);
        if let Some(option) = option {
            needs.push(NeedDraft { option, is, is_not });
        }
    }
    needs
}

fn read_whens(r: &mut Findings, f: &mut Fields<'_>) -> Vec<WhenDraft> {
    let tables = f.one_or_more(r, "when");
    let mut whens = Vec::new();
    for mut t in tables {
        let check = t.need_text(r, "check", "front-left/hook-links");
        let is = t.words_or_numbers(r, "is", "\"present\"");
        let is_not = t.words_or_numbers(r, "is_not", "\"missing\"");
        let at_least = t.number(r, "at_least");
        let at_most = t.number(r, "at_most");
        let tests = ["is", "is_not", "at_least", "at_most"];
        if !tests.iter().any(|k| t.has(k)) {
            r.error(
                &t.span,
                format!("{} does not say what the answer must be", t.place),
                "is what?",
                "add is, is_not, at_least or at_most: { check = \"drain\", is = \"plugged\" }",
            );
        }
        t.finish(r);
        if let Some(check) = check {
            whens.push(WhenDraft {
                check,
                is,
                is_not,
                at_least,
                at_most,
            });
        }
    }
    whens
}

fn read_compare(r: &mut Findings, f: &mut Fields<'_>) -> Option<CompareDraft> {
    use toml::de::DeValue;
    let mut t = f.table(r, "compare")?;
    let with = t.need_text(r, "with", "front-left/hook-links");
    if !t.has("how") {
        t.missing(r, "how", "\"alike\" or \"mirrored\"");
    }
    let mirrored = t.choice(r, "how", &[("alike", false), ("mirrored", true)]);
    let mut pairs = Vec::new();
    if let Some(value) = t.value("pairs") {
        let items: &[toml::Spanned<DeValue<'_>>] = match value.get_ref() {
            DeValue::Array(items) => items,
            _ => &[],
        };
        let mut bad = items.is_empty();
        for item in items.iter().take(limits::STATES) {
            let pair = match item.get_ref() {
                DeValue::Array(two) if two.len() == 2 => {
                    number_text(&two[0]).zip(number_text(&two[1]))
                }
                _ => None,
            };
            match pair {
                Some((a, b)) => pairs.push([a, b]),
                None => bad = true,
            }
        }
        if bad {
            r.error(
                &value.span(),
                "`pairs` takes a list of pairs",
                "not a list of pairs",
                "write pairs = [[\"inside\", \"outside\"]], say",
            );
        }
    }
    if mirrored == Some(true) && !t.has("pairs") {
        t.missing(r, "pairs", "[[\"left\", \"right\"]]");
    }
    if mirrored == Some(false) && t.has("pairs") {
        r.error(
            &t.key_span("pairs"),
            "answers that must be alike have no pairs",
            "only for mirrored",
            "write how = \"mirrored\", or take the pairs out",
        );
    }
    let span = t.span.clone();
    t.finish(r);
    Some(CompareDraft {
        with: with?,
        mirrored: mirrored?,
        pairs,
        span,
    })
}

/// Like [`slug`], but `{side}` stays.
fn slug_keeping_holes(name: &str) -> String {
    let mut out = String::new();
    let mut rest = name;
    while let Some(open) = rest.find('{') {
        let close = rest[open..]
            .find('}')
            .map_or(rest.len(), |at| open + at + 1);
        let before = slug(&rest[..open]);
        if !before.is_empty() {
            if !out.is_empty() {
                out.push('-');
            }
            out.push_str(&before);
        }
        if !out.is_empty() {
            out.push('-');
        }
        out.push_str(&rest[open..close]);
        rest = &rest[close..];
    }
    let last = slug(rest);
    if !out.is_empty() && !last.is_empty() {
        out.push('-');
    }
    out + &last
}

/// All texts of a step in which a placeholder may stand.
pub(in crate::plan) fn texts_of(step: &Step) -> Vec<&Text> {
    let mut texts = Vec::new();
    match step {
        Step::Use(u) => {
            texts.extend(u.with.iter().map(|(_, value)| value));
            push_conditions(&mut texts, &u.needs, &u.when);
        }
        Step::Check(c) => {
            texts.push(&c.key);
            texts.extend(&c.name);
            texts.extend(&c.also);
            texts.extend(&c.ask);
            texts.extend(&c.deficiency);
            texts.extend(&c.touches);
            push_conditions(&mut texts, &c.needs, &c.when);
            if let Some(compare) = &c.compare {
                texts.push(&compare.with);
                texts.extend(compare.pairs.iter().flatten());
            }
            if let Some(kind) = &c.kind {
                push_kind(&mut texts, kind);
            }
        }
    }
    texts
}

fn push_conditions<'a>(texts: &mut Vec<&'a Text>, needs: &'a [NeedDraft], when: &'a [WhenDraft]) {
    for need in needs {
        texts.push(&need.option);
        texts.extend(need.is.iter().chain(&need.is_not));
    }
    for w in when {
        texts.push(&w.check);
        texts.extend(w.is.iter().chain(&w.is_not));
    }
}

fn push_kind<'a>(texts: &mut Vec<&'a Text>, kind: &'a KindDraft) {
    let push_states = |texts: &mut Vec<&'a Text>, states: &'a [StateDraft]| {
        for state in states {
            texts.extend(&state.key);
            texts.extend(&state.say);
            texts.extend(&state.deficiency);
        }
    };
    match kind {
        KindDraft::Presence { .. } | KindDraft::Condition => {}
        KindDraft::Count {
            table,
            expected,
            noun,
        } => {
            texts.extend(table);
            texts.extend(expected);
            texts.push(noun);
        }
        KindDraft::OneOf {
            states,
            both,
            neither,
        } => {
            push_states(texts, states);
            texts.extend(both);
            texts.extend(neither);
        }
        KindDraft::State { states } => push_states(texts, states),
        KindDraft::Reading { unit, min, max } => {
            texts.push(unit);
            texts.extend(min);
            texts.extend(max);
        }
        KindDraft::Tag { expected } => texts.extend(expected),
    }
}

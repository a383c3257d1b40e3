//! Goes through stations and blocks and builds their checks.

use super::blind;
use super::fill::{Frame, arguments_of, fill_compare, fill_when};
use super::{Item, Outer, Pending, Sources, State, kind, slug, speech};
use crate::plan::read::{
    CheckDraft, Findings, NeedDraft, Step, Text, UseDraft, did_you_mean, is_key,
};
use crate::plan::{CheckKind, limits};
use std::collections::{HashMap, HashSet};

pub struct Walker<'a> {
    pub sources: &'a Sources<'a>,
    pub items: Vec<Item>,
    pub by_id: HashMap<String, usize>,
    /// Spoken names by station.
    spoken: HashMap<(usize, String), String>,
    steps: usize,
    pub used_blocks: HashSet<String>,
    pub used_options: HashSet<String>,
    pub used_tables: HashSet<String>,
}

impl<'a> Walker<'a> {
    pub fn new(sources: &'a Sources<'a>) -> Self {
        Self {
            sources,
            items: Vec::new(),
            by_id: HashMap::new(),
            spoken: HashMap::new(),
            steps: 0,
            used_blocks: HashSet::new(),
            used_options: HashSet::new(),
            used_tables: HashSet::new(),
        }
    }

    pub fn steps_of(
        &mut self,
        r: &mut Findings,
        steps: &'a [Step],
        station: usize,
        frame: &Frame,
        outer: &Outer,
    ) {
        for step in steps {
            self.steps += 1;
            if self.steps > limits::STEPS {
                let span = match step {
                    Step::Check(c) => &c.span,
                    Step::Use(u) => &u.span,
                };
                if self.steps == limits::STEPS + 1 {
                    r.error(
                        span,
                        format!("the plan asks for more than {} checks", limits::STEPS),
                        "too many from here on",
                        "split the plan into several walks",
                    );
                }
                return;
            }
            match step {
                Step::Check(check) => self.check(r, check, station, frame, outer),
                Step::Use(used) => self.use_block(r, used, station, frame, outer),
            }
        }
    }

    fn use_block(
        &mut self,
        r: &mut Findings,
        used: &'a UseDraft,
        station: usize,
        frame: &Frame,
        outer: &Outer,
    ) {
        let Some(block) = self
            .sources
            .blocks
            .iter()
            .find(|b| b.name.value == used.block.value)
        else {
            r.misfit(
                &used.block.span,
                format!("there is no block `{}`", used.block.value),
                "not a block",
                did_you_mean(
                    &used.block.value,
                    self.sources.blocks.iter().map(|b| b.name.value.as_str()),
                ),
            );
            return;
        };
        self.used_blocks.insert(block.name.value.clone());
        if frame.blocks.contains(&block.name.value) {
            r.error(
                &used.block.span,
                format!("block `{}` uses itself", block.name.value),
                format!("by way of {}", frame.blocks.join(" > ")),
                "take this use out",
            );
            return;
        }
        if frame.blocks.len() >= limits::BLOCK_DEPTH {
            r.error(
                &used.block.span,
                format!("blocks are nested more than {} deep", limits::BLOCK_DEPTH),
                frame.blocks.join(" > "),
                "write the checks into one block",
            );
            return;
        }
        let arguments = arguments_of(r, used, block, frame);
        let mut blocks = frame.blocks.clone();
        blocks.push(block.name.value.clone());
        let inner = Frame {
            station: frame.station.clone(),
            blocks,
            arguments,
        };
        let mut conditions = outer.clone();
        if let Some(reason) = self.unmet(r, &used.needs, frame) {
            conditions.left_out.get_or_insert(reason);
        }
        conditions
            .when
            .extend(used.when.iter().filter_map(|w| fill_when(r, w, frame)));
        self.steps_of(r, &block.steps, station, &inner, &conditions);
    }

    /// Why the needed options do not hold, where they do not.
    pub fn unmet(
        &mut self,
        r: &mut Findings,
        needs: &[NeedDraft],
        frame: &Frame,
    ) -> Option<String> {
        let mut reason = None;
        for need in needs {
            let Some(name) = frame.fill(r, &need.option) else {
                continue;
            };
            let Some(option) = self.sources.options.iter().find(|o| o.name == name.value) else {
                r.misfit(
                    &name.span,
                    format!("there is no option `{}`", name.value),
                    frame.label("not an option of this load"),
                    did_you_mean(
                        &name.value,
                        self.sources.options.iter().map(|o| o.name.as_str()),
                    ),
                );
                continue;
            };
            self.used_options.insert(option.name.clone());
            let is = frame.fill_all(r, &need.is);
            let is_not = frame.fill_all(r, &need.is_not);
            for value in is.iter().chain(&is_not) {
                if !option.values.contains(&value.value) {
                    r.misfit(
                        &value.span,
                        format!("option `{}` is never `{}`", option.name, value.value),
                        frame.label("not one of its values"),
                        did_you_mean(&value.value, option.values.iter().map(String::as_str)),
                    );
                }
            }
            let chosen = |list: &[Text]| list.iter().any(|v| v.value == option.chosen);
            if !is.is_empty() && !chosen(&is) {
                let wanted: Vec<&str> = is.iter().map(|v| v.value.as_str()).collect();
                reason.get_or_insert(format!(
                    "option {} is {}, not {}",
                    option.name,
                    option.chosen,
                    wanted.join(" or ")
                ));
            }
            if chosen(&is_not) {
                reason.get_or_insert(format!("option {} is {}", option.name, option.chosen));
            }
        }
        reason
    }

    fn check(
        &mut self,
        r: &mut Findings,
        draft: &'a CheckDraft,
        station: usize,
        frame: &Frame,
        outer: &Outer,
    ) {
        let Some(key) = frame.fill(r, &draft.key) else {
            return;
        };
        let key = Text {
            value: match is_key(&key.value) {
                true => key.value,
                // A key made from a name may hold what an argument brought in.
                false if draft.name.as_ref().is_some_and(|n| n.span == key.span) => {
                    slug(&key.value)
                }
                false => {
                    r.error(
                        &key.span,
                        format!("`{}` cannot be the key of a check", key.value),
                        frame.label("small letters, digits and hyphens only"),
                        format!("write `{}`", slug(&key.value)),
                    );
                    slug(&key.value)
                }
            },
            span: key.span,
        };
        let id = format!("{}/{}", frame.station, key.value);
        if self.by_id.contains_key(&id) {
            r.error(
                &key.span,
                format!("two checks are called `{id}`"),
                frame.label("the same name again"),
                "give each check of a station a name of its own",
            );
            return;
        }
        let left_out = self.unmet(r, &draft.needs, frame);
        let left_out = outer.left_out.clone().or(left_out);
        let name = draft.name.as_ref().and_then(|n| frame.fill(r, n));
        let asked = left_out.is_none();
        let pending = self.pending(r, draft, name.as_ref(), station, frame, outer, asked);
        let state = match left_out {
            Some(reason) => State::LeftOut(reason),
            None => State::Asked(Box::new(pending)),
        };
        self.by_id.insert(id.clone(), self.items.len());
        self.items.push(Item {
            id,
            station,
            name: name.map_or(key.value, |n| n.value),
            span: draft.span.clone(),
            label: frame.label(""),
            state,
        });
    }

    #[expect(
        clippy::too_many_arguments,
        reason = "one call, all of it about one check"
    )]
    fn pending(
        &mut self,
        r: &mut Findings,
        draft: &CheckDraft,
        name: Option<&Text>,
        station: usize,
        frame: &Frame,
        outer: &Outer,
        asked: bool,
    ) -> Pending {
        let also = frame.fill_all(r, &draft.also);
        let together = draft.together.as_ref().and_then(|t| frame.fill(r, t));
        let together = together
            .filter(|t| speech::check_listenable(r, "the name of several checks together", t));
        for called in name.into_iter().chain(&also) {
            if speech::check_listenable(r, "the name", called) {
                speech::check_name(r, called);
            }
            if asked {
                self.claim_name(r, called, station, frame);
            }
        }
        let built = match (&draft.kind, name) {
            (Some(kind), Some(name)) => {
                kind::build(r, kind, &name.value, frame, self.sources, asked)
            }
            _ => None,
        };
        let (kind, table) = match built {
            Some(built) => (Some(built.kind), built.table),
            None => (None, None),
        };
        self.used_tables.extend(table.clone());
        // A question made from the name is looked at below.
        let named = name.into_iter().filter(|_| draft.ask.is_some());
        if let Some(kind) = &kind {
            for text in named.chain(&also) {
                blind::check_blind_name(r, text, kind);
            }
        }
        let given_ask = draft.ask.as_ref().and_then(|t| frame.fill(r, t));
        if let Some(ask) = &given_ask {
            self.check_ask(r, ask, station);
            if matches!(kind, Some(CheckKind::Presence { .. })) {
                speech::warn_of_two_things(r, ask);
            }
        }
        if let (Some(CheckKind::Presence { .. }), Some(asked)) =
            (&kind, given_ask.as_ref().or(name))
        {
            speech::warn_of_denial(r, asked);
        }
        let ask_span = given_ask.as_ref().or(name).map(|t| t.span.clone());
        let ask = match (given_ask, name, &kind) {
            (Some(ask), _, Some(kind)) => {
                blind::check_blind(r, "the question", &ask, kind);
                ask.value
            }
            (None, Some(name), Some(kind)) => {
                let derived = Text {
                    value: speech::derived_ask(&name.value, kind),
                    span: name.span.clone(),
                };
                blind::check_blind(r, "the question made from the name", &derived, kind);
                derived.value
            }
            // Told already; such a check is not asked.
            _ => String::new(),
        };
        let deficiency = draft.deficiency.as_ref().and_then(|t| frame.fill(r, t));
        match (&kind, &deficiency) {
            // It is spoken before the count is taken again.
            (Some(kind @ CheckKind::Count { .. }), Some(text)) => {
                blind::check_blind_name(r, text, kind);
            }
            // Compared, it is the name of what does not agree.
            (Some(CheckKind::State { .. }), Some(text)) if draft.compare.is_none() => {
                r.warning(
                    &text.span,
                    "the deficiency of a check with states is never told",
                    "each state has one of its own",
                    "write it at the state, or as `both` and `neither` of a one-of",
                );
            }
            _ => {}
        }
        let mut when = outer.when.clone();
        when.extend(draft.when.iter().filter_map(|w| fill_when(r, w, frame)));
        Pending {
            also: also.iter().map(|t| speech::spoken_form(&t.value)).collect(),
            together,
            ask,
            ask_span: ask_span.unwrap_or_default(),
            kind,
            table,
            deficiency,
            when,
            touches: frame.fill_all(r, &draft.touches),
            compare: draft
                .compare
                .as_ref()
                .and_then(|c| fill_compare(r, c, frame)),
        }
    }

    fn claim_name(&mut self, r: &mut Findings, called: &Text, station: usize, frame: &Frame) {
        let said = speech::spoken_form(&called.value);
        let id = format!("{}/{}", frame.station, said);
        if self.spoken.insert((station, said.clone()), id).is_some() {
            r.error(
                &called.span,
                format!(
                    "two checks at station `{}` are called `{said}`",
                    frame.station
                ),
                frame.label("the same name again"),
                "give each check of a station names of its own",
            );
        }
    }

    fn check_ask(&self, r: &mut Findings, ask: &Text, station: usize) {
        if let Some(name) = &self.sources.stations[station].name
            && blind::holds_phrase(&ask.value, &name.value)
        {
            r.warning(
                &ask.span,
                format!("the question repeats the station's name, `{}`", name.value),
                "spoken on arrival already",
                "leave it out of the question",
            );
        }
        if ask.value.chars().count() > limits::SPOKEN_CHARS {
            r.warning(
                &ask.span,
                format!(
                    "the question is longer than {} characters",
                    limits::SPOKEN_CHARS
                ),
                "slow to hear each time",
                "shorten it to a few words; what to do there belongs into `arrive`",
            );
        }
    }
}

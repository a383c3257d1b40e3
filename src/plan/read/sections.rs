//! Reads options, count tables, blocks and stations.

use super::checks::read_steps;
use super::conditions::read_needs;
use super::drafts::{BlockDraft, CountsDraft, StationDraft, texts_of};
use super::fields::Fields;
use super::load::{check_key, read_place};
use super::reader::{Findings, Text, did_you_mean};
use super::values::whole_of;
use crate::plan::expand::slug;
use crate::plan::{CountTable, LoadOption, limits};

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

pub(super) fn read_counts(
    r: &mut Findings,
    table: &Fields<'_>,
    stations: &[Text],
) -> Vec<CountsDraft> {
    let mut tables = Vec::new();
    for (name, f) in table.named_tables(r) {
        check_key(r, "the name of a count table", &name);
        let mut sets = Vec::new();
        let mut set_names = Vec::new();
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
                let count = whole_of(r, &station.value, value, 0..=limits::COUNT);
                // A count that could not be read stands as none, so that nobody misses it.
                counts.push((station.value, count.map_or(0, |(n, _)| n)));
            }
            sets.push((set.value.clone(), counts));
            set_names.push(set);
        }
        tables.push(CountsDraft {
            table: CountTable {
                name: name.value.clone(),
                sets,
            },
            name,
            sets: set_names,
        });
    }
    tables
}

pub(super) fn read_blocks(r: &mut Findings, table: &Fields<'_>) -> Vec<BlockDraft> {
    let mut blocks = Vec::new();
    for (name, mut f) in table.named_tables(r) {
        check_key(r, "the name of a block", &name);
        let parameters = f.texts(r, "parameters", "side");
        let parameters_known = parameters.len() == f.length_of("parameters");
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
            parameters_known,
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

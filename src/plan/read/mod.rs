//! Reads a plan's text: parse, take each table apart, look up names, expand.

mod checks;
mod conditions;
mod counts;
mod drafts;
mod fields;
mod leg;
mod lift;
mod load;
mod people;
mod pieces;
mod plausible;
mod quantity;
mod reader;
mod sections;
mod slings;
mod states;
mod units;
mod values;

#[cfg(test)]
mod tests;

use crate::diagnostic::{Diagnostic, Finding, Severity};
use crate::plan::expand::{Sources, expand};
use crate::plan::{Plan, limits};
use fields::Fields;
use load::ProvisionNames;
use std::ops::Range;
use std::path::Path;
use toml::de::DeTable;

pub(in crate::plan) use counts::missing_count;
pub(in crate::plan) use drafts::{
    BlockDraft, CheckDraft, CompareDraft, CountsDraft, KindDraft, NeedDraft, StateDraft,
    StationDraft, Step, UseDraft, WhenDraft,
};
pub(in crate::plan) use load::is_key;
pub(in crate::plan) use reader::{Findings, Text, did_you_mean};

/// The format that this version reads.
pub const FORMAT: u32 = 1;

/// Reads the text of a plan. `path` is only shown.
///
/// # Errors
/// All that makes the plan unusable, and the warnings beside it, in file order.
pub fn read(path: &Path, text: &str) -> Result<Plan, Diagnostic> {
    let told = |findings: Vec<Finding>| {
        Err(Diagnostic {
            path: path.to_path_buf(),
            text: text.to_string(),
            findings,
        })
    };
    if text.len() > limits::PLAN_BYTES {
        return told(vec![Finding {
            severity: Severity::Error,
            title: format!("the plan is larger than {} bytes", limits::PLAN_BYTES),
            span: None,
            label: String::new(),
            help: "split it into several plans".into(),
        }]);
    }
    // Readers put `None` for what they could not read; the finding beside it keeps the plan from being
    // used, so that a broken part is never taken for one that was left out.
    let mut r = Findings::default();
    let (document, errors) = DeTable::parse_recoverable(text);
    r.syntax(text, &errors);
    let plan = read_document(&mut r, document.get_ref());
    let errors = r.has_errors();
    let doubts = r.on_figures();
    let findings = r.into_sorted();
    match plan {
        Some(mut plan) if !errors => {
            plan.warnings = findings;
            plan.doubts = doubts;
            Ok(plan)
        }
        _ => told(findings),
    }
}

fn read_document(r: &mut Findings, document: &DeTable<'_>) -> Option<Plan> {
    let mut top = Fields::new(document, 0..0, "the plan");
    read_format(r, &mut top);
    let station_tables = top.tables(r, "station");
    if station_tables.len() > limits::STATIONS {
        r.error(
            &top.key_span("station"),
            format!("more than {} stations", limits::STATIONS),
            "too many",
            "split the plan into several walks",
        );
    }
    if !top.has("station") {
        top.missing_list(r, "station");
    }
    let stations = sections::read_stations(r, station_tables);
    let station_keys: Vec<Text> = stations.iter().map(|s| s.key.clone()).collect();

    let mut names = ProvisionNames::default();
    let under_spreader = top.has("spreader");
    let load = needed_table(r, &mut top, "load")
        .map(|f| load::read_load(r, f, &mut names, under_spreader));
    let container = top
        .table(r, "container")
        .map(|f| load::read_container(r, f));
    let spreader = top
        .table(r, "spreader")
        .map(|f| load::read_spreader(r, f, &mut names));
    let options = top.table(r, "options");
    let options = options.map_or(Vec::new(), |f| sections::read_options(r, &f));
    let option_spans = spans_of(&top, "options");
    let counts = top.table(r, "counts");
    let counts = counts.map_or(Vec::new(), |f| sections::read_counts(r, &f, &station_keys));
    let blocks = top.table(r, "block");
    let blocks = blocks.map_or(Vec::new(), |f| sections::read_blocks(r, &f));
    let slings = needed_table(r, &mut top, "sling_set").map(|f| {
        let around = leg::Around {
            provisions: &names,
            stations: &station_keys,
            counts: &counts,
        };
        slings::read_sling_set(r, f, &around)
    });
    let lift = needed_table(r, &mut top, "lift").map(|f| lift::read_lift(r, f));
    top.finish(r);

    let load = load.flatten();
    let set_key = slings.as_ref().and_then(|s| s.key.as_ref());
    let expanded = expand(
        r,
        &Sources {
            load: load.as_ref().map_or("", |l| &l.name),
            load_span: load.as_ref().map_or(0..0, |l| l.span.clone()),
            stations: &stations,
            blocks: &blocks,
            options: &options,
            counts: &counts,
            set_key: set_key.map(|k| k.value.as_str()),
        },
    );
    if expanded.route.stations.is_empty() && !r.has_errors() {
        r.misfit(
            &top_span(&stations),
            "nothing is asked: every check is left out",
            "",
            "choose other options, or add checks that this build has",
        );
    }
    for block in &blocks {
        if !expanded.used_blocks.contains(&block.name.value) {
            unused(r, &block.name.span, "block", &block.name.value);
        }
    }
    for (option, span) in options.iter().zip(option_spans) {
        if !expanded.used_options.contains(&option.name) {
            unused(r, &span, "option", &option.name);
        }
    }
    let mut slings = slings;
    let leg_tables = slings
        .as_mut()
        .map_or(Vec::new(), |s| std::mem::take(&mut s.leg_tables));
    for counts in &counts {
        let table = &counts.table;
        let by_leg = leg_tables.iter().flatten().any(|t| t.value == table.name);
        if !by_leg && !expanded.used_tables.contains(&table.name) {
            unused(r, &counts.name.span, "count table", &table.name);
        }
    }
    let mut sling_set = slings.and_then(|s| s.set);
    if let Some(set) = &mut sling_set {
        counts::tie(r, &mut set.legs, &leg_tables, &expanded.count_checks);
        // Below a spreader they are those of its drops.
        let drops = spreader
            .as_ref()
            .and_then(Option::as_ref)
            .is_some_and(|s| s.drops.is_some());
        if !drops {
            warn_of_free_provisions(r, load.as_ref(), &set.legs);
        }
        warn_of_unvisited_legs(r, &set.legs, &expanded.route);
    }
    let load = load?;
    let (sling_set, spreader) = (sling_set?, spreader.flatten());
    let (lift, container) = (lift??, container.flatten());
    plausible::look(r, &load, &sling_set, spreader.as_ref());
    plausible::limits(
        r,
        &load,
        (&sling_set, spreader.as_ref()),
        &lift,
        container.as_ref(),
    );
    units::masses(
        r,
        &load,
        (&sling_set, spreader.as_ref()),
        &lift,
        container.as_ref(),
    );
    units::sites(r, &lift);
    Some(Plan {
        sling_set,
        lift,
        container,
        spreader,
        options,
        counts: counts.into_iter().map(|c| c.table).collect(),
        route: super::Route {
            outline_m: Some(load.outline_m()),
            ..expanded.route
        },
        load,
        warnings: Vec::new(),
        doubts: Vec::new(),
    })
}

fn read_format(r: &mut Findings, top: &mut Fields<'_>) {
    if !top.has("format") {
        top.missing(r, "format", "1 as the first line");
    }
    if let Some((format, span)) = top.whole(r, "format", 0..=u32::MAX)
        && format != FORMAT
    {
        r.error(
            &span,
            format!("the plan is of format {format}; this loadwalk reads format {FORMAT}"),
            "not known here",
            "write format = 1, or read the plan with the loadwalk that it was written for",
        );
    }
}

fn needed_table<'d>(
    r: &mut Findings,
    top: &mut Fields<'d>,
    key: &'static str,
) -> Option<Fields<'d>> {
    if !top.has(key) {
        top.missing_table(r, &format!("[{key}]"));
    }
    top.table(r, key)
}

/// Where each entry under a top key has its name, in file order.
fn spans_of(top: &Fields<'_>, key: &str) -> Vec<Range<usize>> {
    top.names_under(key)
}

fn top_span(stations: &[StationDraft]) -> Range<usize> {
    stations.first().map_or(0..0, |s| s.span.clone())
}

fn unused(r: &mut Findings, span: &Range<usize>, what: &str, name: &str) {
    r.unused(
        span,
        format!("{what} `{name}` is not used"),
        "not used",
        "use it, or take it out",
    );
}

/// A leg whose station is left out of the walk is looked at by nobody.
fn warn_of_unvisited_legs(r: &mut Findings, legs: &[crate::plan::Leg], route: &crate::plan::Route) {
    let visited = |leg: &&crate::plan::Leg| route.stations.iter().any(|s| s.key == leg.station);
    for leg in legs.iter().filter(|leg| !visited(leg)) {
        r.unused(
            &leg.span,
            format!("leg {} is inspected nowhere", leg.number),
            format!("station `{}` is not visited on this build", leg.station),
            "inspect it at a station that is visited, or leave the leg out of this build",
        )
        .bears_on_figures();
    }
}

fn warn_of_free_provisions(
    r: &mut Findings,
    load: Option<&crate::plan::Load>,
    legs: &[crate::plan::Leg],
) {
    for provision in load.iter().flat_map(|l| &l.provisions) {
        if !legs.iter().any(|leg| leg.provision == provision.name) && !legs.is_empty() {
            r.unused(
                &provision.span,
                format!(
                    "no leg is made fast to lifting provision `{}`",
                    provision.name
                ),
                "not used",
                "check that it is meant",
            );
        }
    }
}

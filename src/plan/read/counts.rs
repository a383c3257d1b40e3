//! Count tables: what one lacks, told at the place where it is to be added, and which check counts the links of
//! which leg.

use super::drafts::CountsDraft;
use super::reader::{Findings, Text, did_you_mean};
use crate::plan::Leg;
use crate::plan::expand::CountCheck;

/// What is counted where a check does not say.
const LINKS: &str = "links";

/// What conforms at a check: its own number, or that of the check it must be like.
fn expected(check: &CountCheck, all: &[CountCheck]) -> Option<u32> {
    let mut check = check;
    // Each looks at an earlier one.
    for _ in 0..all.len() {
        if check.expected.is_some() {
            return check.expected;
        }
        let like = check.like.as_ref()?;
        check = all.iter().find(|c| c.id == *like)?;
    }
    None
}

/// Ties each leg with a chain to the check that counts its links: the one at its station with its table, else the
/// only one there that counts links. What conforms there must be what is planned, or a rig other than the one
/// whose figures were looked at would be found in order.
pub(super) fn tie(
    r: &mut Findings,
    legs: &mut [Leg],
    tables: &[Option<Text>],
    checks: &[CountCheck],
) {
    let planned = |leg: &Leg| leg.chain.as_ref().map(|c| c.links);
    for at in 0..legs.len() {
        let leg = &legs[at];
        let Some(links) = planned(leg) else { continue };
        let here = || checks.iter().filter(|c| c.station == leg.station);
        let table = tables.get(at).and_then(Option::as_ref);
        let by_table = table.and_then(|t| here().find(|c| c.table.as_ref() == Some(&t.value)));
        let mut of_links = here().filter(|c| c.noun == LINKS);
        let found = by_table.or_else(|| of_links.next().filter(|_| of_links.next().is_none()));
        let Some(found) = found else {
            let why = match table {
                Some(t) => format!(
                    "no check at station `{}` counts against `{}`",
                    leg.station, t.value
                ),
                None => format!(
                    "station `{}` has no check that counts links, or several",
                    leg.station
                ),
            };
            let help = match table {
                Some(t) => format!(
                    "add a check of kind \"count\" with table = \"{}\" there",
                    t.value
                ),
                None => "add a check of kind \"count\" there; with several, give each leg the \
                         count_table of its check"
                    .to_owned(),
            };
            r.unused(
                &leg.span,
                format!(
                    "the links of leg {} are not counted on the walk",
                    leg.number
                ),
                why,
                help,
            )
            .bears_on_figures();
            continue;
        };
        if found.conditional {
            r.unused(
                &leg.span,
                format!(
                    "the links of leg {} are counted after certain answers only",
                    leg.number
                ),
                format!("`{}` has a condition", found.id),
                "take the condition off the check or the block that it stands in",
            )
            .bears_on_figures();
        }
        let expected = expected(found, checks);
        if expected.is_none() {
            r.unused(
                &leg.span,
                format!(
                    "the links of leg {} are not counted against a number",
                    leg.number
                ),
                format!("`{}` is only compared", found.id),
                "give the check a table or an expected count",
            )
            .bears_on_figures();
        }
        if let Some(expected) = expected
            && expected != links
        {
            r.misfit(
                &found.span,
                format!(
                    "the check expects {expected}, but leg {} is planned with link {links}",
                    leg.number
                ),
                "another count than the leg's",
                "write the same in both; a check that counts something else than this leg's links needs a \
                 noun of its own",
            );
            continue;
        }
        let others = legs.iter().filter(|l| l.station == leg.station);
        let sharing = others.filter(|l| planned(l).is_some()).count();
        let id = found.id.clone();
        if sharing > 1 && by_table.is_none() {
            r.unused(
                &legs[at].span,
                format!(
                    "the links of leg {} are not counted by themselves",
                    legs[at].number
                ),
                format!("{sharing} legs with chains are inspected at this station"),
                "give each a count_table and a check of its own, or stations of their own",
            )
            .bears_on_figures();
            continue;
        }
        legs[at].count_check = Some(id);
    }
    // One count that stands for several chains says nothing of either.
    for at in 0..legs.len() {
        let check = legs[at].count_check.clone();
        let twice = |l: &&Leg| check.is_some() && l.count_check == check;
        if legs[..at].iter().any(|l| twice(&l)) {
            let first = legs.iter().find(twice).map_or(0, |l| l.number);
            r.unused(
                &legs[at].span,
                format!(
                    "one check counts the links of leg {first} and of leg {}",
                    legs[at].number
                ),
                "one answer for two chains",
                "give each a count_table and a check of its own",
            )
            .bears_on_figures();
        }
    }
}

/// A count table is not there, or lacks the sling set in use, or a station of it.
pub(in crate::plan) fn missing_count(
    r: &mut Findings,
    counts: &[CountsDraft],
    mention: &Text,
    set: &str,
    station: &str,
) {
    let table = &mention.value;
    let Some(found) = counts.iter().find(|t| t.table.name == *table) else {
        r.misfit(
            &mention.span,
            format!("there is no count table `{table}`"),
            "not a count table",
            did_you_mean(table, counts.iter().map(|t| t.table.name.as_str())),
        );
        return;
    };
    match found.sets.iter().find(|s| s.value == set) {
        None => r.misfit(
            &found.name.span,
            format!("count table `{table}` has no counts for the sling set in use, `{set}`"),
            "not for this set",
            format!("add [counts.{table}.{set}] with a line for each station that needs it"),
        ),
        Some(name) => r.misfit(
            &name.span,
            format!(
                "count table `{table}` has no count for sling set `{set}` at station `{station}`"
            ),
            format!("no line for `{station}`"),
            format!("add `{station} = LINKS` below [counts.{table}.{set}]"),
        ),
    }
}

//! Says what a count table lacks, at the place where it is to be added.

use super::drafts::CountsDraft;
use super::reader::{Findings, Text, did_you_mean};

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

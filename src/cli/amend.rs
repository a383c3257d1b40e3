//! `loadwalk amend`: what a reviewer says about a record.

use super::exit::{Exit, Failure, Outcome};
use super::seal::passphrase;
use crate::cli::out::tell;
use crate::plan::CheckId;
use crate::record::{AmendError, Change, SecretKey, SystemClock, amend, no_such_check, view};
use clap::{Args, Subcommand};
use std::path::PathBuf;

/// Adds a reviewer's signed word to a record. What the walk wrote stays; nothing becomes conforming
/// by it.
#[derive(Debug, Args)]
pub struct AmendCommand {
    /// Folder of the record
    record: PathBuf,
    /// Who reviews and signs; never the rigger
    #[arg(long = "as", value_name = "NAME")]
    name: String,
    /// The reviewer's private key file; LOADWALK_PASSPHRASE holds its passphrase where it has one
    #[arg(long, value_name = "FILE")]
    key: PathBuf,
    #[command(subcommand)]
    change: ChangeCommand,
}

#[derive(Debug, Subcommand)]
enum ChangeCommand {
    /// The answer that stands at a check is not what was said; the check is open until it is
    /// inspected again, or deficient where that is what the sound says
    HeardWrong {
        /// The check, as STATION/CHECK
        check: String,
        /// What the sound says, as it may be typed in a walk (`missing`, `2`, `"not good"`, `"latched only"`, `M47` or
        /// `"mike four seven"`)
        #[arg(long, value_name = "VALUE")]
        hears: Option<String>,
        /// The reason
        #[arg(long, value_name = "TEXT")]
        why: String,
    },
    /// The check has to be inspected again; it is open until then
    ReInspect {
        /// The check, as STATION/CHECK
        check: String,
        /// The reason
        #[arg(long, value_name = "TEXT")]
        why: String,
    },
    /// A note; it changes no outcome
    Note {
        /// The note
        text: String,
        /// The check that it is about, as STATION/CHECK; without it, the load
        #[arg(long)]
        check: Option<String>,
    },
    /// Takes an amendment of the same key back, while no seal covers it; both stay in sight
    Withdraw {
        /// Its number, as `loadwalk show` prints it ("review 0")
        number: u64,
        /// The reason
        #[arg(long, value_name = "TEXT")]
        why: String,
    },
}

/// Runs the command.
pub fn run(command: &AmendCommand) -> Outcome {
    let key = SecretKey::read(&command.key, passphrase().as_deref()).map_err(Failure::wrong)?;
    let (change, text) = change(command)?;
    let clock = SystemClock::default();
    match amend(&command.record, &command.name, &key, change, text, &clock) {
        Ok(amendment) => {
            let hears = match &amendment.change {
                Change::HeardWrong {
                    hears: Some(value), ..
                } => format!(", hears {value}"),
                _ => String::new(),
            };
            tell!(
                "amendment {} ({}{hears}) signed by {} with key {}",
                amendment.number,
                amendment.change.words(),
                amendment.by,
                key.public().id()
            );
            Ok(Exit::Done)
        }
        Err(
            error
            @ (AmendError::NotIntact(_) | AmendError::Rigger(_) | AmendError::NotWithdrawn(_)),
        ) => Err(Failure {
            exit: Exit::No,
            error: error.into(),
        }),
        Err(error) => Err(Failure::wrong(error)),
    }
}

fn change(command: &AmendCommand) -> Result<(Change, &str), Failure> {
    Ok(match &command.change {
        ChangeCommand::HeardWrong { check, hears, why } => {
            let change = Change::HeardWrong {
                check: CheckId(check.clone()),
                entry: standing(command, check)?,
                hears: hears.clone(),
            };
            (change, why)
        }
        ChangeCommand::ReInspect { check, why } => {
            let check = CheckId(check.clone());
            (Change::ReInspect { check }, why)
        }
        ChangeCommand::Note { text, check } => {
            let check = check.clone().map(CheckId);
            (Change::Note { check }, text)
        }
        ChangeCommand::Withdraw { number, why } => {
            let amendment = *number;
            (Change::Withdraw { amendment }, why)
        }
    })
}

/// The entry of the answer that stands at a check.
fn standing(command: &AmendCommand, check: &str) -> Result<u64, Failure> {
    let view = view(&command.record).map_err(Failure::wrong)?;
    let found = view.checks.iter().find(|c| c.check.0 == check);
    let Some(found) = found else {
        let known = view.checks.iter().map(|c| &c.check);
        let check = CheckId(check.to_owned());
        return Err(Failure::wrong(no_such_check(&check, known)));
    };
    let answer = found.answers.iter().find(|a| a.stands);
    answer.map(|a| a.entry).ok_or_else(|| {
        Failure::wrong(anyhow::anyhow!(
            "no answer stands at {check}; it is {} already",
            found.status.words()
        ))
    })
}

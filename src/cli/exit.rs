//! Exit codes: part of the command contract.

use std::process::ExitCode;

/// How a command ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Exit {
    /// 0: done.
    Done,
    /// 1: the answer is no (a figure fails, a record is not intact, the load is not ready).
    No,
    /// 2: the command or a file is wrong.
    Wrong,
    /// 3: a device or a model is missing.
    Missing,
}

impl From<Exit> for ExitCode {
    fn from(exit: Exit) -> Self {
        ExitCode::from(match exit {
            Exit::Done => 0,
            Exit::No => 1,
            Exit::Wrong => 2,
            Exit::Missing => 3,
        })
    }
}

/// A command that could not do its work: what to say and how to exit.
#[derive(Debug)]
pub struct Failure {
    /// The exit code.
    pub exit: Exit,
    /// What went wrong, ending in what to do.
    pub error: anyhow::Error,
}

impl Failure {
    /// The command or a file is wrong.
    pub fn wrong(error: impl Into<anyhow::Error>) -> Self {
        Self {
            exit: Exit::Wrong,
            error: error.into(),
        }
    }

    /// A device or a model is missing.
    pub fn missing(error: impl Into<anyhow::Error>) -> Self {
        Self {
            exit: Exit::Missing,
            error: error.into(),
        }
    }
}

impl From<crate::model::ModelError> for Failure {
    fn from(error: crate::model::ModelError) -> Self {
        Self {
            exit: match error.exit_code() {
                2 => Exit::Wrong,
                _ => Exit::Missing,
            },
            error: error.into(),
        }
    }
}

/// What every command returns.
pub type Outcome = Result<Exit, Failure>;

/// An error with its causes in one line, each told once: many messages name their cause themselves.
pub(super) fn told(error: &anyhow::Error) -> String {
    error
        .chain()
        .map(ToString::to_string)
        .reduce(|told, cause| {
            if told.contains(&cause) {
                told
            } else {
                format!("{told}: {cause}")
            }
        })
        .unwrap_or_default()
}

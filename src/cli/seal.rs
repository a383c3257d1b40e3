//! `loadwalk key` and `loadwalk seal`: signing a complete record.

use super::exit::{Exit, Failure, Outcome};
use crate::cli::out::tell;
use crate::record::{SealError, SecretKey, SystemClock, new_key, seal};
use clap::{Args, Subcommand};
use std::path::PathBuf;

/// Names the environment variable that holds the passphrase of a key file.
const PASSPHRASE: &str = "LOADWALK_PASSPHRASE";

/// Makes signing keys.
#[derive(Debug, Args)]
pub struct KeyCommand {
    #[command(subcommand)]
    action: KeyAction,
}

#[derive(Debug, Subcommand)]
enum KeyAction {
    /// Makes a pair of key files: STEM.key.pem, which stays with you, and STEM.pub.pem, which others
    /// get. Set LOADWALK_PASSPHRASE to protect the private one with a passphrase.
    New {
        /// Path without its ending
        stem: PathBuf,
    },
}

/// Signs a complete record: the inspector first, then a second person if wanted.
#[derive(Debug, Args)]
pub struct SealCommand {
    /// Folder of the record
    record: PathBuf,
    /// Who signs
    #[arg(long = "as", value_name = "NAME")]
    name: String,
    /// The signer's private key file; LOADWALK_PASSPHRASE holds its passphrase where it has one
    #[arg(long, value_name = "FILE")]
    key: PathBuf,
}

/// The passphrase of a key file, where one is set.
pub(super) fn passphrase() -> Option<String> {
    std::env::var(PASSPHRASE).ok().filter(|p| !p.is_empty())
}

/// Runs `key`.
pub fn key(command: &KeyCommand) -> Outcome {
    let KeyAction::New { stem } = &command.action;
    let (private, public, key) = new_key(stem, passphrase().as_deref()).map_err(Failure::wrong)?;
    tell!("private key, keep it to yourself: {}", private.display());
    tell!("public key {}: {}", key.id(), public.display());
    Ok(Exit::Done)
}

/// Runs `seal`.
pub fn run(command: &SealCommand) -> Outcome {
    let key = SecretKey::read(&command.key, passphrase().as_deref()).map_err(Failure::wrong)?;
    match seal(
        &command.record,
        &command.name,
        &key,
        &SystemClock::default(),
    ) {
        Ok(statement) => {
            tell!(
                "sealed by {} with key {}: {} entries{}",
                statement.signer,
                key.public().id(),
                statement.entries.len(),
                if statement.ready { "" } else { ", NOT READY" }
            );
            Ok(Exit::Done)
        }
        Err(error @ (SealError::Record(_) | SealError::Sealed(_) | SealError::Name(_))) => {
            Err(Failure::wrong(error))
        }
        // The record itself says no: open, not intact, or the wrong person.
        Err(error) => Err(Failure {
            exit: Exit::No,
            error: error.into(),
        }),
    }
}

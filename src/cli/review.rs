//! `loadwalk review`: the local page.

use super::exit::{Exit, Failure, Outcome};
use super::seal::passphrase;
use crate::cli::out::{line, tell};
use crate::record::SecretKey;
use crate::review::{Reviewer, Server, export_page};
use clap::Args;
use std::path::PathBuf;

/// Serves a page of a record to this machine alone: listen, read, filter, amend.
#[derive(Debug, Args)]
pub struct ReviewCommand {
    /// Folder of the record
    record: PathBuf,
    /// Who reviews; with --key, the page takes amendments
    #[arg(long = "as", value_name = "NAME", requires = "key")]
    name: Option<String>,
    /// The reviewer's private key file; LOADWALK_PASSPHRASE holds its passphrase where it has one
    #[arg(long, value_name = "FILE", requires = "name")]
    key: Option<PathBuf>,
    /// Port on this machine; 0 takes a free one
    #[arg(long, value_name = "N", default_value_t = 0)]
    port: u16,
    /// Writes the page with its sounds into a new folder instead, to be opened without a server:
    /// FOLDER/index.html. It holds voices
    #[arg(long, value_name = "FOLDER", conflicts_with_all = ["name", "port"])]
    export: Option<PathBuf>,
}

/// Runs the command.
pub fn run(command: &ReviewCommand) -> Outcome {
    if let Some(to) = &command.export {
        let clips = export_page(&command.record, to).map_err(Failure::wrong)?;
        let page = to.join("index.html");
        tell!("{clips} sounds; open {} in a browser", page.display());
        return Ok(Exit::Done);
    }
    let reviewer = match (&command.name, &command.key) {
        (Some(name), Some(path)) => Some(Reviewer {
            name: name.clone(),
            key: SecretKey::read(path, passphrase().as_deref()).map_err(Failure::wrong)?,
        }),
        _ => None,
    };
    let server = Server::new(&command.record, command.port, reviewer).map_err(Failure::wrong)?;
    // On stdout, so that a program can take it.
    line(format_args!("{}", server.address()));
    tell!("open that address in a browser on this machine; Ctrl-C ends");
    server.run();
    Ok(Exit::Done)
}

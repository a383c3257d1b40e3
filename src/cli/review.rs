//! `loadwalk review`: the local page.

use super::exit::{Exit, Failure, Outcome};
use super::seal::passphrase;
use crate::record::SecretKey;
use crate::review::{Reviewer, Server};
use clap::Args;
use std::io::Write;
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
}

/// Runs the command.
pub fn run(command: &ReviewCommand) -> Outcome {
    let reviewer = match (&command.name, &command.key) {
        (Some(name), Some(path)) => Some(Reviewer {
            name: name.clone(),
            key: SecretKey::read(path, passphrase().as_deref()).map_err(Failure::wrong)?,
        }),
        _ => None,
    };
    let server = Server::new(&command.record, command.port, reviewer).map_err(Failure::wrong)?;
    // On stdout, so that a program can take it; flushed, since the command goes on.
    let mut out = std::io::stdout().lock();
    let _ = writeln!(out, "{}", server.address());
    let _ = out.flush();
    drop(out);
    eprintln!("open that address in a browser on this machine; Ctrl-C ends");
    server.run();
    Ok(Exit::Done)
}

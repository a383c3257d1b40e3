//! What the commands print: the answer on stdout, messages on stderr.

use super::exit::Failure;
use crate::durable::replace;
use crate::record::record_around;
use std::fmt::Arguments;
use std::fs::File;
use std::io::{ErrorKind, Read, Write};
use std::path::{Path, PathBuf};

const HOLDS_A_KEY: &str = "there is a key in it, which would be lost";

/// Nobody reads the output any more (`loadwalk list DIR | head`).
#[derive(Debug, thiserror::Error)]
#[error("the output is not read to its end")]
pub struct Unread;

/// Prints a part of a command's answer.
///
/// # Errors
/// Where it could not be written, [`Unread`] among them: the answer did not arrive.
pub fn print(text: Arguments<'_>) -> Result<(), Failure> {
    let mut out = std::io::stdout().lock();
    let written = out.write_fmt(text).and_then(|()| out.flush());
    written.map_err(failed)
}

/// Writes a file so that under its name there is all of it or what was there before: half a report would pass for the
/// whole. A device or a pipe takes the bytes as they come.
///
/// # Errors
/// What the system says; where the file would come to lie in a record, that.
pub fn file(path: &Path, bytes: &[u8]) -> std::io::Result<()> {
    if let Some(record) = record_around(path) {
        return Err(std::io::Error::other(in_record(&record)));
    }
    if path.exists() && !path.is_file() {
        return std::fs::write(path, bytes);
    }
    if holds_a_key(path) {
        return Err(std::io::Error::other(HOLDS_A_KEY));
    }
    replace(path, |file| file.write_all(bytes))
}

/// Refuses a place that the user named and that lies in a record or holds a key.
///
/// # Errors
/// Where it does.
pub fn outside_records(path: &Path) -> Result<(), Failure> {
    match record_around(path) {
        None if path.is_file() && holds_a_key(path) => Err(Failure::wrong(anyhow::anyhow!(
            "`{}`: {HOLDS_A_KEY}; name another file",
            path.display()
        ))),
        None => Ok(()),
        Some(record) => Err(Failure::wrong(anyhow::anyhow!(
            "`{}`: {}; name a place elsewhere",
            path.display(),
            in_record(&record)
        ))),
    }
}

/// Refuses files of one call that are one and the same, so that one would take the place of another, or of what is read.
/// `read`: the file that the answer is made from.
///
/// # Errors
/// Where two are.
pub fn apart<'p>(
    written: impl IntoIterator<Item = &'p PathBuf>,
    read: Option<&Path>,
) -> Result<(), Failure> {
    let mut known: Vec<String> = read.map(place).into_iter().collect();
    for path in written {
        let here = place(path);
        if known.contains(&here) {
            return Err(Failure::wrong(anyhow::anyhow!(
                "`{}` is named twice, and one would take the place of the other; name another file",
                path.display()
            )));
        }
        known.push(here);
    }
    Ok(())
}

/// Where a file is or would be, links resolved; small letters and capitals alike, as some file systems have it.
fn place(path: &Path) -> String {
    let absolute = std::path::absolute(path).unwrap_or_else(|_| path.to_owned());
    let real = absolute.canonicalize().or_else(|error| {
        let (Some(folder), Some(name)) = (absolute.parent(), absolute.file_name()) else {
            return Err(error);
        };
        folder.canonicalize().map(|folder| folder.join(name))
    });
    real.unwrap_or(absolute).to_string_lossy().to_lowercase()
}

/// Whether a file begins as a key does (RFC 7468).
fn holds_a_key(path: &Path) -> bool {
    const BEGINS: &[u8] = b"-----BEGIN";
    let mut first = Vec::new();
    let read = File::open(path).and_then(|f| f.take(BEGINS.len() as u64).read_to_end(&mut first));
    read.is_ok() && first == BEGINS
}

fn in_record(record: &Path) -> String {
    format!(
        "it lies in the record `{}`, which nothing is added to",
        record.display()
    )
}

/// What an error of stdout means for the command.
pub fn failed(error: std::io::Error) -> Failure {
    match error.kind() {
        ErrorKind::BrokenPipe => Failure::wrong(Unread),
        _ => Failure::wrong(anyhow::anyhow!(
            "the output could not be written: {error}; check where it goes"
        )),
    }
}

/// Prints a line of a walk at once. Nobody watching is no reason to stop a walk.
pub fn line(text: Arguments<'_>) {
    let mut out = std::io::stdout().lock();
    let _ = writeln!(out, "{text}");
    let _ = out.flush();
}

/// Prints a message. A closed stderr takes nothing from the command.
pub fn message(text: Arguments<'_>) {
    let _ = std::io::stderr().lock().write_fmt(text);
}

/// Prints a line of a command's answer, or returns with what went wrong.
macro_rules! output {
    ($($text:tt)*) => { $crate::cli::out::print(format_args!("{}\n", format_args!($($text)*)))? };
}

/// Prints a line on stderr.
macro_rules! tell {
    ($($text:tt)*) => { $crate::cli::out::message(format_args!("{}\n", format_args!($($text)*))) };
}

pub(in crate::cli) use {output, tell};

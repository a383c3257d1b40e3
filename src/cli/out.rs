//! What the commands print: the answer on stdout, messages on stderr.

use super::exit::Failure;
use std::fmt::Arguments;
use std::io::{ErrorKind, Write};

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

//! The commands, one file each.
//!
//! `--json` prints JSON (JSON Lines for streams) on stdout and nothing else there; messages go to
//! stderr. Exit codes are those of [`exit::Exit`].

mod amend;
mod args;
mod devices;
pub mod drive;
pub mod exit;
pub mod figures;
pub mod findings;
mod fleet;
mod forget;
mod hear;
#[cfg(feature = "whisper")]
mod heard;
mod inspector;
mod kept;
mod lift;
mod lint;
mod manner;
mod marks;
mod model;
mod out;
mod phrases;
mod practice;
#[cfg(all(feature = "devices", feature = "whisper"))]
mod remembered;
mod report;
#[cfg(feature = "page")]
mod review;
#[cfg(feature = "screen")]
mod screen;
mod seal;
mod show;
mod spin;
mod taken_up;
mod tryout;
mod walk;
mod watch;
mod world;

use clap::{Parser, Subcommand};
use exit::{Failure, Outcome};
use std::process::ExitCode;

/// Said by a command that must hear, in a build that cannot.
#[cfg(not(feature = "whisper"))]
const NO_EARS: &str =
    "this loadwalk was built without speech recognition; build it with the feature `whisper`";

/// Asks the checks round a rigged load aloud, hears the answers, and keeps the record.
///
/// It records and computes. It does not certify a load and does not replace the inspector, the pilot
/// in command, the flight manual, the rigging manual, the maker's tag or local law. Never for people.
#[derive(Debug, Parser)]
#[command(name = "loadwalk", version, max_term_width = 100)]
struct Cli {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    Model(model::ModelCommand),
    Lint(lint::LintCommand),
    Figures(figures::FiguresArgs),
    Hear(hear::HearCommand),
    Devices(devices::DevicesCommand),
    Tryout(tryout::TryoutCommand),
    Walk(walk::WalkCommand),
    Resume(walk::ResumeCommand),
    Practice(practice::PracticeCommand),
    Show(show::ShowCommand),
    Verify(show::VerifyCommand),
    Key(seal::KeyCommand),
    Seal(seal::SealCommand),
    Report(report::ReportCommand),
    Amend(amend::AmendCommand),
    ForgetSound(forget::ForgetCommand),
    List(fleet::ListCommand),
    Trends(fleet::TrendsCommand),
    #[cfg(feature = "page")]
    Review(review::ReviewCommand),
}

/// Runs the program on the process's arguments.
pub fn main() -> ExitCode {
    let cli = Cli::parse();
    match run(cli) {
        Ok(exit) => exit.into(),
        Err(Failure { exit, error }) => {
            if !error.is::<out::Unread>() {
                out::tell!("loadwalk: {}", exit::told(&error));
            }
            exit.into()
        }
    }
}

fn run(cli: Cli) -> Outcome {
    if matches!(
        cli.command,
        Command::Hear(_) | Command::Tryout(_) | Command::Walk(_) | Command::Resume(_)
    ) {
        spin::settle();
    }
    match cli.command {
        Command::Model(command) => model::run(&command),
        Command::Lint(command) => lint::run(&command),
        Command::Figures(args) => figures::run(&args),
        Command::Hear(command) => hear::run(&command),
        Command::Devices(command) => devices::run(&command),
        Command::Tryout(command) => tryout::run(&command),
        Command::Walk(command) => walk::walk(&command),
        Command::Resume(command) => walk::resume(&command),
        Command::Practice(command) => practice::run(&command),
        Command::Show(command) => show::show(&command),
        Command::Verify(command) => show::verify(&command),
        Command::Key(command) => seal::key(&command),
        Command::Seal(command) => seal::run(&command),
        Command::Report(command) => report::run(&command),
        Command::Amend(command) => amend::run(&command),
        Command::ForgetSound(command) => forget::run(&command),
        Command::List(command) => fleet::list(&command),
        Command::Trends(command) => fleet::trends(&command),
        #[cfg(feature = "page")]
        Command::Review(command) => review::run(&command),
    }
}

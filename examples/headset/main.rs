//! Measures a walk by headset through real sound paths, in the private sound server of
//! `tests/virtual-headset.sh`, with the release build beside it:
//!
//! ```sh
//! cargo build --release --bins --examples
//! tests/virtual-headset.sh target/release/examples/headset latency
//! tests/virtual-headset.sh target/release/examples/headset soak --minutes 60
//! ```

#[path = "../../tests/it/robot/inspector.rs"]
#[allow(dead_code, reason = "the tests use all of it")]
mod inspector;

mod correlate;
mod latency;
mod plan;
mod soak;

use anyhow::{Context, ensure};
use clap::{Parser, Subcommand};
use inspector::Robot;
use std::path::PathBuf;
use std::process::Command;

/// Measures a walk by headset.
#[derive(Parser)]
struct Options {
    #[command(subcommand)]
    what: What,
}

#[derive(Subcommand)]
enum What {
    /// From the end of the inspector's speech to the start of the read-back, as recorded
    Latency(latency::Options),
    /// A long walk at the speed of life: memory, lost sound, drifting clocks
    Soak(soak::Options),
}

fn main() -> anyhow::Result<()> {
    ensure!(
        std::env::var_os("LOADWALK_VIRTUAL_HEADSET").is_some(),
        "run it by tests/virtual-headset.sh, which starts a sound server of its own"
    );
    match Options::parse().what {
        What::Latency(options) => latency::run(&options),
        What::Soak(options) => soak::run(&options),
    }
}

/// The program that was built with this example.
fn program() -> anyhow::Result<PathBuf> {
    let here = std::env::current_exe()?;
    // Examples lie one folder below the program.
    let built = here.parent().and_then(|p| p.parent());
    let program = built.context("no folder above")?.join("loadwalk");
    ensure!(
        program.is_file(),
        "{} is not there; build it first",
        program.display()
    );
    Ok(program)
}

/// A walk of so many checks, through these devices.
fn walk(checks: usize, devices: [&str; 2], more: &[String]) -> anyhow::Result<Robot> {
    let folder = tempfile::tempdir()?;
    let plan = folder.path().join("plan.toml");
    std::fs::write(&plan, plan::with_checks(checks))?;
    let mut command = Command::new(program()?);
    command.env("LOADWALK_VOICE", folder.path().join("voice.json"));
    command.env("LOADWALK_DEVICES", folder.path().join("devices.json"));
    command.env("LOADWALK_TRYOUT", "/nowhere/tryout.json");
    command.arg("walk").arg(&plan).arg("--brief");
    command.args(["--inspector", "Ilse Brandt", "--rigger", "Oskar Venn"]);
    command.args(["--mic", devices[0], "--speaker", devices[1]]);
    command.args(more);
    Ok(Robot::start(command, folder))
}

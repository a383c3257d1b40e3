//! `loadwalk lint`: reads plan and grammars and prints every finding.

use super::args::read_plan;
use super::exit::{Exit, Failure, Outcome};
use super::findings::draw;
use super::phrases::Phrases;
use crate::cli::out::tell;
use crate::diagnostic::{Diagnostic, Severity};
use clap::Args;
use std::path::PathBuf;

/// Reads a plan and the grammars, and prints every fault with its line and a fix.
///
/// It also names the words of a check that sound too much alike to be listened for together.
#[derive(Debug, Args)]
pub struct LintCommand {
    /// The plan
    plan: PathBuf,
}

/// Runs the command.
pub fn run(command: &LintCommand) -> Outcome {
    let file = read_plan(&command.plan)?;
    // The plan was read from these bytes as UTF-8.
    let text = String::from_utf8_lossy(&file.bytes).into_owned();
    let mut findings = crate::figures::findings(&file.plan);
    findings.extend(Phrases::new(&text).findings(file.plan.route()));
    let faults = findings.iter().filter(|f| f.severity == Severity::Error);
    let faults = faults.count();
    let notes = file.plan.warnings().len() + findings.len() - faults;
    if !findings.is_empty() {
        let diagnostic = Diagnostic {
            path: command.plan.clone(),
            text,
            findings,
        };
        super::out::message(format_args!("{}", draw(&diagnostic)));
    }
    if faults > 0 {
        let s = if faults == 1 { "" } else { "s" };
        return Err(Failure::wrong(anyhow::anyhow!(
            "{} cannot be walked: {faults} fault{s}; mend the plan",
            command.plan.display()
        )));
    }
    let route = file.plan.route();
    let stations = route.stations.len();
    let checks = route.checks().count();
    let left_out = route.left_out.len();
    tell!(
        "{}: {stations} stations, {checks} checks, {left_out} left out on this build; {notes} to look at",
        command.plan.display(),
    );
    Ok(Exit::Done)
}

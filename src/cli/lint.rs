//! `loadwalk lint`: reads plan and grammars and prints every finding.

use super::args::read_plan;
use super::exit::{Exit, Failure, Outcome};
use crate::grammar::GrammarSet;
use crate::walk::answer_rule;
use clap::Args;
use std::path::PathBuf;

/// Reads a plan and the grammars, and prints every fault with its line and a fix.
#[derive(Debug, Args)]
pub struct LintCommand {
    /// The plan
    plan: PathBuf,
}

/// Runs the command.
pub fn run(command: &LintCommand) -> Outcome {
    let file = read_plan(&command.plan)?;
    let route = file.plan.route();
    let grammars = GrammarSet::builtin();
    let mut faults = 0;
    for station in &route.stations {
        for check in &station.checks {
            let rule = answer_rule(&check.kind);
            let states = crate::walk::state_forms(&check.kind);
            if let Err(error) = grammars.graph(&[rule, "control"], &states) {
                eprintln!("error: {}: {error}", check.id);
                faults += 1;
            }
        }
    }
    if faults > 0 {
        return Err(Failure::wrong(anyhow::anyhow!(
            "{faults} checks cannot be listened for; mend the plan"
        )));
    }
    let stations = route.stations.len();
    let checks = route.checks().count();
    let left_out = route.left_out.len();
    eprintln!(
        "{}: {stations} stations, {checks} checks, {left_out} left out on this build; {} to look at",
        command.plan.display(),
        file.plan.warnings().len()
    );
    Ok(Exit::Done)
}

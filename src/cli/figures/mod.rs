//! `loadwalk figures PLAN`: what this rigging does to the lift.

mod text;

use crate::diagnostic::{Diagnostic, Finding};
use crate::figures::{
    CAUTION, Figures, Found, Miscount, Rig, RigError, Ways, carrying_words, design, drawing,
    findings, level, miscount,
};
use crate::plan;
use crate::record::JOURNAL_FILE;
use clap::Args;
use serde_json::{Value, json};
use std::io::Write;
use std::path::{Path, PathBuf};
use text::as_text;

/// What this rigging does to the lift: capacity, pulls, tilt, air.
#[derive(Args, Clone, Debug)]
pub struct FiguresArgs {
    /// The plan file.
    pub plan: PathBuf,
    /// Print JSON on stdout and nothing else there.
    #[arg(long)]
    pub json: bool,
    /// A count as found, in place of the planned one; may be given for several stations.
    #[arg(long, value_name = "STATION=LINKS", value_parser = count)]
    pub count: Vec<(String, u32)>,
    /// A leg that is not there; may be given for several stations.
    #[arg(long, value_name = "STATION")]
    pub missing: Vec<String>,
    /// A leg that is there but hangs slack and carries nothing; may be given for several stations.
    #[arg(long, value_name = "STATION")]
    pub slack: Vec<String>,
    /// Also list the counts that level the load within its limits, smallest change first.
    #[arg(long)]
    pub level: bool,
    /// Also hold the rig against the design rules of MIL-STD-209K for lifting provisions; advice only.
    #[arg(long)]
    pub design: bool,
    /// Draw the load as it hangs into this SVG file.
    #[arg(long, value_name = "FILE")]
    pub svg: Option<PathBuf>,
    /// Draw the load as it hangs into this PNG file.
    #[arg(long, value_name = "FILE")]
    pub png: Option<PathBuf>,
}

fn count(text: &str) -> Result<(String, u32), String> {
    let (station, links) = text
        .split_once('=')
        .ok_or("write it as STATION=LINKS, as in rear-right=8")?;
    let links = links
        .parse()
        .map_err(|_| format!("`{links}` is not a whole number of links"))?;
    Ok((station.to_owned(), links))
}

/// How many ways of levelling are listed.
const WAYS: usize = 5;

/// Runs the command. Answers go to `out`, messages to `err`.
///
/// Gives the exit code: 0 all figures pass, 1 one fails, 2 the command or a file is wrong.
///
/// # Errors
/// Only where `out` or `err` cannot be written.
pub fn run(args: &FiguresArgs, out: &mut dyn Write, err: &mut dyn Write) -> std::io::Result<u8> {
    let text = match std::fs::read_to_string(&args.plan) {
        Ok(text) => text,
        Err(error) => {
            let path = args.plan.display();
            writeln!(
                err,
                "error: {path}: {error}; name a plan file that can be read"
            )?;
            return Ok(2);
        }
    };
    let plan = match plan::read(&args.plan, &text) {
        Ok(plan) => plan,
        Err(diagnostic) => {
            writeln!(err, "{diagnostic}")?;
            return Ok(2);
        }
    };
    let mut findings = findings(&plan);
    findings.extend(plan.warnings().iter().cloned());
    if !findings.is_empty() {
        let diagnostic = Diagnostic {
            path: args.plan.clone(),
            text: text.clone(),
            findings: findings.clone(),
        };
        writeln!(err, "{diagnostic}")?;
    }
    let planned = Rig::from_plan(&plan);
    let rig = match planned.as_found(&found(args)) {
        Ok(rig) => rig,
        Err(error) => {
            writeln!(err, "error: {error}")?;
            return Ok(2);
        }
    };
    let told = miscount(&planned, &rig);
    let figures = Figures::with_rig(&plan, rig);
    let ways = args.level.then(|| level(&figures.rig, WAYS));
    if let Err(error) = pictures(args, &figures) {
        writeln!(err, "error: {error}")?;
        return Ok(2);
    }
    if let (Err(error), true) = (&figures.hang, args.svg.is_some() || args.png.is_some()) {
        writeln!(err, "no picture: {error}")?;
    }
    let rules = match &figures.hang {
        Ok(hang) if args.design => Some(design(&figures.rig, hang)),
        _ => None,
    };
    if args.json {
        let mut value = as_json(&figures, told.as_ref(), ways.as_ref());
        value["warnings"] = findings.iter().map(|f| warning(f, &text)).collect();
        if let Some(rules) = &rules {
            value["design"] = json!(rules);
        }
        serde_json::to_writer_pretty(&mut *out, &value)?;
        writeln!(out)?;
    } else {
        out.write_all(
            as_text(
                &plan,
                &figures,
                told.as_ref(),
                ways.as_ref(),
                rules.as_deref(),
            )
            .as_bytes(),
        )?;
    }
    Ok(u8::from(!figures.pass()))
}

/// How many pixels a PNG has for each of the SVG's.
#[cfg(feature = "png")]
const PNG_SCALE: f64 = 2.0;

/// Whether a file would come to lie in a record's folder, links resolved.
fn in_a_record(path: &Path) -> bool {
    let absolute = std::path::absolute(path).unwrap_or_else(|_| path.to_owned());
    let real = absolute
        .canonicalize()
        .or_else(|error| match absolute.parent() {
            Some(folder) => folder.canonicalize(),
            None => Err(error),
        });
    let journal = |folder: &Path| folder.join(JOURNAL_FILE).is_file();
    real.is_ok_and(|real| real.ancestors().any(journal))
}

/// Writes the pictures that are asked for, or says what is wrong.
fn pictures(args: &FiguresArgs, figures: &Figures) -> Result<(), String> {
    let Ok(hang) = &figures.hang else {
        return Ok(());
    };
    let write = |path: &PathBuf, bytes: &[u8]| {
        if in_a_record(path) {
            return Err(format!(
                "{}: lies in a record, which nothing is added to; name a file elsewhere",
                path.display()
            ));
        }
        crate::cli::out::file(path, bytes)
            .map_err(|e| format!("{}: {e}; name a file that can be written", path.display()))
    };
    if let Some(path) = &args.svg {
        write(path, drawing(&figures.rig, hang).as_bytes())?;
    }
    if let Some(path) = &args.png {
        #[cfg(feature = "png")]
        write(
            path,
            &crate::figures::drawing_png(&figures.rig, hang, PNG_SCALE)
                .map_err(|e| e.to_string())?,
        )?;
        #[cfg(not(feature = "png"))]
        return Err(format!(
            "{}: this build makes no PNG; take --svg, or build with the feature png",
            path.display()
        ));
    }
    Ok(())
}

fn found(args: &FiguresArgs) -> Vec<Found> {
    let counts = args.count.iter().map(|(station, links)| Found::Links {
        station: station.clone(),
        links: *links,
    });
    let missing = args.missing.iter().map(|station| Found::Missing {
        station: station.clone(),
    });
    let slack = args.slack.iter().map(|station| Found::Slack {
        station: station.clone(),
    });
    counts.chain(missing).chain(slack).collect()
}

/// A finding of the plan, with its line.
fn warning(finding: &Finding, text: &str) -> Value {
    let line = finding.span.as_ref().map(|span| {
        let before = text.bytes().take(span.start);
        before.filter(|b| *b == b'\n').count() + 1
    });
    json!({ "line": line, "title": finding.title, "help": finding.help })
}

type Levels = Result<Ways, RigError>;

fn as_json(figures: &Figures, told: Option<&Miscount>, ways: Option<&Levels>) -> Value {
    let error = |e: &dyn std::error::Error| json!({ "error": e.to_string() });
    let rig = &figures.rig;
    let masses = &figures.masses;
    let counts: serde_json::Map<String, Value> = rig
        .legs
        .iter()
        .filter(|l| l.pitch_m > 0.0)
        .map(|l| (l.station.clone(), json!(l.links)))
        .collect();
    let verdicts: Vec<Value> = figures
        .verdicts
        .iter()
        .map(|v| {
            let mut value = json!(v);
            value["spoken"] = json!(v.spoken());
            value
        })
        .collect();
    let mut value = json!({
        "load": rig.name,
        "pass": figures.pass(),
        "carrying": carrying_words(rig.carrying),
        "dynamic_factor": rig.dynamic_factor,
        "masses_kg": {
            "load": masses.load_kg,
            "under_legs": masses.under_legs_kg(),
            "gear": masses.gear_kg(),
            "on_hook": masses.load_kg + masses.gear_kg(),
        },
        "counts": counts,
        "allowable": match &figures.allowable {
            Ok(today) => json!(today),
            Err(e) => error(e),
        },
        "hang": match &figures.hang {
            Ok(hang) => json!(hang),
            Err(e) => error(e),
        },
        "verdicts": verdicts,
        "found": told.map(|t| json!({ "matters": t.matters, "sentence": t.sentence })),
        "caution": CAUTION,
    });
    if let Some(ways) = ways {
        value["level"] = match ways {
            Ok(ways) => json!(ways),
            Err(e) => error(e),
        };
    }
    value
}

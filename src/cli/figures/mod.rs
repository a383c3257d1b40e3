//! `loadwalk figures PLAN`: what this rigging does to the lift.

mod text;

use crate::cli::args::{as_text, read_plan};
use crate::cli::exit::{Exit, Failure, Outcome};
use crate::cli::findings::draw;
use crate::cli::out;
use crate::diagnostic::{Diagnostic, Finding};
use crate::figures::{
    CAUTION, Figures, Found, Miscount, Rig, RigError, Ways, carrying_words, design, drawing,
    findings, level, miscount,
};
use crate::plan::Plan;
use clap::Args;
use serde_json::{Value, json};
use std::path::{Path, PathBuf};
use text::written;

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

/// Runs the command: done where all figures pass, no where one fails.
///
/// # Errors
/// Where the command or the plan is wrong, or a picture or the answer cannot be written.
pub fn run(args: &FiguresArgs) -> Outcome {
    let file = read_plan(&args.plan)?;
    let plan = &file.plan;
    let text = as_text(&args.plan, &file.bytes)?;
    let mut findings = findings(plan);
    if !findings.is_empty() {
        let diagnostic = Diagnostic {
            path: args.plan.clone(),
            text: text.to_owned(),
            findings: findings.clone(),
        };
        out::message(format_args!("{}", draw(&diagnostic)));
    }
    // Those were drawn as the plan was read.
    findings.extend(plan.warnings().iter().cloned());
    let planned = Rig::from_plan(plan);
    let rig = planned.as_found(&found(args)).map_err(Failure::wrong)?;
    let told = miscount(&planned, &rig);
    let figures = Figures::with_rig(plan, rig);
    let ways = args.level.then(|| level(&figures.rig, WAYS));
    out::apart(args.svg.iter().chain(&args.png), Some(&args.plan))?;
    pictures(args, &figures)?;
    if let (Err(error), true) = (&figures.hang, args.svg.is_some() || args.png.is_some()) {
        out::tell!("no picture: {error}");
    }
    let rules = match &figures.hang {
        Ok(hang) if args.design => Some(design(&figures.rig, hang)),
        _ => None,
    };
    if args.json {
        let mut value = as_json(plan, &figures, told.as_ref(), ways.as_ref());
        value["warnings"] = findings.iter().map(|f| warning(f, text)).collect();
        if let Some(rules) = &rules {
            value["design"] = json!(rules);
        }
        out::output!("{value:#}");
    } else {
        let (told, ways) = (told.as_ref(), ways.as_ref());
        let answer = written(plan, &figures, told, ways, rules.as_deref());
        out::print(format_args!("{answer}"))?;
    }
    Ok(match figures.pass() {
        true => Exit::Done,
        false => Exit::No,
    })
}

/// How many pixels a PNG has for each of the SVG's.
#[cfg(feature = "png")]
const PNG_SCALE: f64 = 2.0;

/// Writes the pictures that are asked for, or says what is wrong.
fn pictures(args: &FiguresArgs, figures: &Figures) -> Result<(), Failure> {
    let Ok(hang) = &figures.hang else {
        return Ok(());
    };
    let wrong =
        |path: &Path, what: String| Failure::wrong(anyhow::anyhow!("{}: {what}", path.display()));
    let write = |path: &PathBuf, bytes: &[u8]| {
        out::outside_records(path)?;
        out::file(path, bytes)
            .map_err(|e| wrong(path, format!("{e}; name a file that can be written")))
    };
    if let Some(path) = &args.svg {
        write(path, drawing(&figures.rig, hang).as_bytes())?;
    }
    if let Some(path) = &args.png {
        #[cfg(feature = "png")]
        write(
            path,
            &crate::figures::drawing_png(&figures.rig, hang, PNG_SCALE).map_err(Failure::wrong)?,
        )?;
        #[cfg(not(feature = "png"))]
        return Err(wrong(
            path,
            "this build makes no PNG; take --svg, or build with the feature png".to_owned(),
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

fn as_json(
    plan: &Plan,
    figures: &Figures,
    told: Option<&Miscount>,
    ways: Option<&Levels>,
) -> Value {
    let error = |e: &dyn std::error::Error| json!({ "error": e.to_string() });
    let rig = &figures.rig;
    let masses = &figures.masses;
    let counts: serde_json::Map<String, Value> = rig
        .legs
        .iter()
        .zip(rig.ways_to_name())
        .filter(|(leg, _)| leg.pitch_m > 0.0)
        .map(|(leg, named)| (named, json!(leg.links)))
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
        "lifter": plan.lift.lifter(),
        "sling_set": plan.sling_set.name,
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
        "counts_as_planned": rig.miscounted().is_empty(),
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

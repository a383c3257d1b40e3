//! `loadwalk figures PLAN`: what this rigging does to the lift.

use crate::diagnostic::Diagnostic;
use crate::figures::{
    AllowableError, AllowableToday, CAUTION, Figures, Found, Grade, Hang, Miscount, Rig, RigError,
    STRETCH_AT_RATING, Verdict, Ways, carrying_words, drawing, findings, level, miscount,
};
use crate::plan::{self, Plan, STANDARD_GRAVITY};
use clap::Args;
use serde_json::{Value, json};
use std::fmt::Write as _;
use std::io::Write;
use std::path::PathBuf;

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
    let findings = findings(&plan);
    if !findings.is_empty() {
        let diagnostic = Diagnostic {
            path: args.plan.clone(),
            text,
            findings,
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
    if args.json {
        let value = as_json(&figures, told.as_ref(), ways.as_ref());
        serde_json::to_writer_pretty(&mut *out, &value)?;
        writeln!(out)?;
    } else {
        out.write_all(as_text(&plan, &figures, told.as_ref(), ways.as_ref()).as_bytes())?;
    }
    Ok(u8::from(!figures.pass()))
}

/// How many pixels a PNG has for each of the SVG's.
#[cfg(feature = "png")]
const PNG_SCALE: f64 = 2.0;

/// Writes the pictures that are asked for, or says what is wrong.
fn pictures(args: &FiguresArgs, figures: &Figures) -> Result<(), String> {
    let Ok(hang) = &figures.hang else {
        return Ok(());
    };
    let write = |path: &PathBuf, bytes: &[u8]| {
        std::fs::write(path, bytes)
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

// Writing to a string cannot fail, so the results of `write!` are let go.
fn as_text(
    plan: &Plan,
    figures: &Figures,
    told: Option<&Miscount>,
    ways: Option<&Levels>,
) -> String {
    let rig = &figures.rig;
    let unit = rig.unit;
    let mut text = String::new();
    let _ = writeln!(
        text,
        "{}: {} under the legs, {}",
        rig.name,
        unit.written(rig.mass_kg),
        carrying_words(rig.carrying)
    );
    if let Some(told) = told {
        let _ = writeln!(text, "As found: {}", told.sentence);
    }
    air(&mut text, rig, &figures.allowable);
    if let Ok(hang) = &figures.hang {
        hung(&mut text, rig, hang);
        stretch(&mut text, plan, hang);
    }
    let _ = writeln!(text, "\nVerdicts");
    let failed = |v: &&Verdict| v.grade == Grade::Fail;
    let verdicts = &figures.verdicts;
    for verdict in verdicts
        .iter()
        .filter(failed)
        .chain(verdicts.iter().filter(|v| !failed(v)))
    {
        let _ = writeln!(text, "  {verdict}");
    }
    if let Some(ways) = ways {
        levelling(&mut text, rig, ways);
    }
    let fails = verdicts.iter().filter(failed).count();
    let word = if fails == 0 {
        "Nothing fails.".to_owned()
    } else {
        format!("{fails} of {} fail.", verdicts.len())
    };
    let _ = writeln!(text, "\n{word} {CAUTION}");
    if let Some(statement) = &plan.sling_set.carrying_statement {
        let _ = writeln!(
            text,
            "All legs are taken to carry on the word of: {statement}"
        );
    }
    text
}

const FT_M: f64 = crate::figures::air::FT_M;

fn air(text: &mut String, rig: &Rig, allowable: &Result<AllowableToday, AllowableError>) {
    let Ok(today) = allowable else {
        return;
    };
    if today.sites.is_empty() {
        return;
    }
    let _ = writeln!(text, "\nAir and table");
    for site in &today.sites {
        let air = &site.air;
        let both = |m: f64| format!("{m:.0} m ({:.0} ft)", m / FT_M);
        let humid = air
            .density_altitude_humid_m
            .map_or(String::new(), |m| format!(", humid {}", both(m)));
        let _ = writeln!(
            text,
            "  {}: pressure altitude {}, {:+.1} °C from standard, density altitude {}{humid}",
            site.site,
            both(air.pressure_altitude_m),
            air.above_standard_k,
            both(air.density_altitude_dry_m),
        );
        let cell = &site.cell;
        let fuel = if site.fuel_burnt_kg > 0.0 {
            format!(", {} of fuel burnt", rig.unit.written(site.fuel_burnt_kg))
        } else {
            String::new()
        };
        let _ = writeln!(
            text,
            "    table, rows {} and {}, columns {} and {} ({}, {}; {}, {}): {}{fuel}, {} on the hook",
            cell.rows[0],
            cell.rows[1],
            cell.columns[0],
            cell.columns[1],
            cell.corners[0][0],
            cell.corners[0][1],
            cell.corners[1][0],
            cell.corners[1][1],
            rig.unit.written(cell.kg),
            rig.unit.written(site.kg),
        );
    }
    if today.deduction_percent > 0.0 {
        let _ = writeln!(
            text,
            "  {:.0} percent taken off: {} on the hook today",
            today.deduction_percent,
            rig.unit.written(today.kg)
        );
    }
}

fn hung(text: &mut String, rig: &Rig, hang: &Hang) {
    let _ = writeln!(
        text,
        "\nHangs {}, apex {:.2} m over the centre of gravity",
        hang.lean(),
        hang.apex_over_cg_m
    );
    let _ = writeln!(
        text,
        "  {:<24} {:>5} {:>9} {:>7} {:>11} {:>11} {:>11} {:>19}",
        "leg", "link", "length", "angle", "by stretch", "three", "two", "balance allows"
    );
    for (leg, hung) in rig.legs.iter().zip(&hang.legs) {
        if leg.missing {
            let word = if leg.let_go { "slack" } else { "missing" };
            let _ = writeln!(text, "  {:<24} {word}", leg.name);
            continue;
        }
        let mass = |n: f64| rig.unit.written(n / STANDARD_GRAVITY);
        let link = if leg.pitch_m > 0.0 {
            leg.links.to_string()
        } else {
            "-".to_owned()
        };
        let _ = writeln!(
            text,
            "  {:<24} {:>5} {:>7.3} m {:>6.1}° {:>11} {:>11} {:>11} {:>19}",
            leg.name,
            link,
            leg.length_m(),
            hung.angle_deg,
            if hung.slack {
                "slack".to_owned()
            } else {
                mass(hung.tension_n)
            },
            mass(hung.three_n),
            mass(hung.two_n),
            format!("{} to {}", mass(hung.bounds_n[0]), mass(hung.bounds_n[1])),
        );
    }
}

/// By what stretch the pulls were shared, where stretch decides.
fn stretch(text: &mut String, plan: &Plan, hang: &Hang) {
    let legs = &plan.sling_set.legs;
    if !hang.determinate && legs.iter().any(|l| l.elasticity.is_none()) {
        let _ = writeln!(
            text,
            "  the plan gives no stretch: {} % of a leg's length at its rating is taken",
            STRETCH_AT_RATING * 100.0
        );
    }
}

fn levelling(text: &mut String, rig: &Rig, ways: &Levels) {
    let _ = writeln!(
        text,
        "\nCounts that level it within its limits at the worst of the plus and minus, smallest change \
         first"
    );
    let found = match ways {
        Err(error) => {
            let _ = writeln!(text, "  none: {error}");
            return;
        }
        Ok(found) => found,
    };
    if rig.present().all(|(_, leg)| leg.pitch_m == 0.0) {
        let _ = writeln!(
            text,
            "  no leg has a chain, so there are no counts to change"
        );
    } else if found.ways.is_empty() && !found.cut_short {
        let _ = writeln!(
            text,
            "  none; move the centre of gravity, change the legs, or measure closer what has a plus or \
             minus"
        );
    }
    for way in &found.ways {
        let counts: Vec<String> = rig
            .legs
            .iter()
            .zip(&way.counts)
            .filter(|(leg, _)| leg.pitch_m > 0.0)
            .map(|(leg, links)| format!("{} {links}", leg.name))
            .collect();
        let moved = match way.moved {
            0 => "as it is".to_owned(),
            1 => "1 link moved".to_owned(),
            links => format!("{links} links moved"),
        };
        let _ = writeln!(
            text,
            "  {}: {moved}, {:.1}° of tilt left as typed in, {:.1}° at worst",
            counts.join(", "),
            way.tilt_deg,
            way.worst_tilt_deg
        );
    }
    if found.cut_short {
        let _ = writeln!(text, "  the search was cut short; there may be others");
    }
}

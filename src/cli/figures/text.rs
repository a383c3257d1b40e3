//! The figures as a page of text.

use super::Levels;
use crate::figures::{
    AllowableError, AllowableToday, CAUTION, DesignRule, Figures, Grade, Hang, Miscount, Rig,
    STRETCH_AT_RATING, Verdict, carrying_words, exact, site_air,
};
use crate::plan::{Plan, STANDARD_GRAVITY, Site, SiteAltitude};
use std::fmt::Write as _;

// Writing to a string cannot fail, so the results of `write!` are let go.
pub(super) fn written(
    plan: &Plan,
    figures: &Figures,
    told: Option<&Miscount>,
    ways: Option<&Levels>,
    rules: Option<&[DesignRule]>,
) -> String {
    let rig = &figures.rig;
    let unit = rig.unit;
    let mut text = String::new();
    let _ = writeln!(
        text,
        "{}: {} under the legs, {}",
        rig.name,
        unit.written(rig.mass_kg),
        match rig.legs.len() {
            1 => "on one leg",
            2 => "on two legs",
            _ => carrying_words(rig.carrying),
        }
    );
    let _ = writeln!(
        text,
        "Lifted by: {}; sling set: {}",
        plan.lift.lifter(),
        plan.sling_set.name
    );
    if figures.hang.as_ref().is_ok_and(|h| h.determinate) {
        let _ = writeln!(
            text,
            "No more than three legs can carry here, so statics alone give every pull"
        );
    }
    if let Some(told) = told {
        let _ = writeln!(text, "As found: {}", told.sentence);
    }
    air(&mut text, plan, rig, &figures.allowable);
    if let Ok(hang) = &figures.hang {
        hung(&mut text, rig, hang);
        stretch(&mut text, plan, hang);
    }
    let _ = writeln!(text, "\nVerdicts");
    // What fails first, then what is worth a look.
    let mut verdicts: Vec<&Verdict> = figures.verdicts.iter().collect();
    verdicts.sort_by_key(|v| std::cmp::Reverse(v.grade));
    for verdict in &verdicts {
        let _ = writeln!(text, "  {verdict}");
    }
    if let Some(ways) = ways {
        levelling(&mut text, rig, ways);
    }
    if let Some(rules) = rules {
        let _ = writeln!(
            text,
            "\nDesign rules of MIL-STD-209K for lifting provisions, as typed in; advice, no verdict"
        );
        for rule in rules {
            let mark = if rule.kept { "kept" } else { "LOOK" };
            let _ = writeln!(text, "  {mark}  {}: {}", rule.paragraph, rule.sentence);
        }
    }
    let count = |grade: Grade| verdicts.iter().filter(|v| v.grade == grade).count();
    let (fails, warns) = (count(Grade::Fail), count(Grade::Warn));
    let mut word = if fails == 0 {
        "Nothing fails.".to_owned()
    } else {
        format!("{fails} of {} fail.", verdicts.len())
    };
    if warns > 0 {
        let want = if warns == 1 { "wants" } else { "want" };
        let _ = write!(word, " {warns} {want} a qualified person's look.");
    }
    let off = rig.miscounted();
    if !off.is_empty() {
        let _ = write!(word, " The counts are not as planned: {}.", off.join(", "));
    }
    let _ = writeln!(text, "\n{word} {CAUTION}");
    if let Some(statement) = &plan.sling_set.carrying_statement {
        let _ = writeln!(
            text,
            "All legs are taken to carry on the word of: {statement}"
        );
    }
    if plan.load.procedure.is_none() {
        let _ = writeln!(text, "The plan names no rigging procedure.");
    }
    text
}

const FT_M: f64 = crate::figures::air::FT_M;

fn air(
    text: &mut String,
    plan: &Plan,
    rig: &Rig,
    allowable: &Result<AllowableToday, AllowableError>,
) {
    let Ok(today) = allowable else {
        return;
    };
    if plan.lift.sites.is_empty() {
        return;
    }
    let what = if today.sites.is_empty() {
        "Air"
    } else {
        "Air and table"
    };
    let _ = writeln!(text, "\n{what}");
    let typed_in = |site: &Site| {
        let exact = match &site.altitude {
            SiteAltitude::Pressure(altitude) => altitude.plus_minus.value == 0.0,
            SiteAltitude::Elevation { elevation, qnh } => {
                elevation.plus_minus.value == 0.0 && qnh.plus_minus.value == 0.0
            }
        };
        exact && site.temperature.plus_minus.value == 0.0
    };
    for (at, planned) in plan.lift.sites.iter().enumerate() {
        let tabled = today.sites.get(at);
        let (air, which) = match tabled {
            Some(site) if !typed_in(planned) => {
                (site.air, ", at the worse end of what was typed in")
            }
            Some(site) => (site.air, ""),
            None => (site_air(planned), ""),
        };
        let both = |m: f64| format!("{m:.0} m ({:.0} ft)", m / FT_M);
        let humid = air
            .density_altitude_humid_m
            .map_or(String::new(), |m| format!(", humid {}", both(m)));
        let _ = writeln!(
            text,
            "  {}: pressure altitude {}, {:+.1} °C from standard, density altitude {}{humid}{which}",
            planned.name,
            both(air.pressure_altitude_m),
            air.above_standard_k,
            both(air.density_altitude_dry_m),
        );
        let Some(site) = tabled else { continue };
        let cell = &site.cell;
        let fuel = if site.fuel_burnt_kg > 0.0 {
            format!(
                " with {} of fuel burnt by then",
                rig.unit.written(site.fuel_burnt_kg)
            )
        } else {
            String::new()
        };
        let value = rig.unit.written(cell.kg);
        let _ = writeln!(
            text,
            "    table, rows {} and {}, columns {} and {} ({}, {}; {}, {}): {value} read, so {} on the hook{fuel}",
            cell.rows[0],
            cell.rows[1],
            cell.columns[0],
            cell.columns[1],
            cell.corners[0][0],
            cell.corners[0][1],
            cell.corners[1][0],
            cell.corners[1][1],
            rig.unit.written(site.kg),
        );
    }
    if today.sites.is_empty() {
        return;
    }
    let least = today.kg / (1.0 - today.deduction_percent / 100.0);
    let _ = write!(
        text,
        "  least of all that is said: {} ({})",
        rig.unit.written(least),
        today.from
    );
    if today.deduction_percent > 0.0 {
        let _ = write!(
            text,
            ", less {} percent: {}",
            exact(today.deduction_percent),
            rig.unit.written(today.kg)
        );
    }
    let _ = writeln!(text, " on the hook today, rigging included");
}

fn hung(text: &mut String, rig: &Rig, hang: &Hang) {
    let _ = writeln!(
        text,
        "\nAs typed in, it hangs {}, apex {} over the centre of gravity",
        hang.lean(),
        rig.length_unit.written(hang.apex_over_cg_m)
    );
    if rig.dynamic_factor != 1.0 {
        let _ = writeln!(
            text,
            "  pulls at rest; the verdicts take them times {} as the lift moves",
            rig.dynamic_factor
        );
    }
    let _ = writeln!(
        text,
        "  {:<24} {:>5} {:>9} {:>7} {:>11} {:>11} {:>11} {:>19}",
        "", "", "", "", "pull by", "pull if", "pull if", "pull that"
    );
    let _ = writeln!(
        text,
        "  {:<24} {:>5} {:>9} {:>7} {:>11} {:>11} {:>11} {:>19}",
        "leg", "link", "length", "angle", "stretch", "3 carry", "2 carry", "balance allows"
    );
    let long = rig.length_unit;
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
            "  {:<24} {:>5} {:>9} {:>6.1}° {:>11} {:>11} {:>11} {:>19}",
            leg.name,
            link,
            format!("{:.3} {}", leg.length_m() / long.m(), long.sign()),
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

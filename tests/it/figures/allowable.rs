//! What may hang on the hook today.

use super::verdicts::{SKID, one, plan, skid};
use loadwalk::figures::{Figures, Grade, Question, capacity};

#[test]
fn a_site_outside_the_table_fails_and_is_not_carried_on() {
    let hot = skid(&[("temperature = \"14 °C\"", "temperature = \"34 °C\"")]);
    let verdicts = capacity(&hot);
    let aircraft = one(&verdicts, Question::Aircraft);
    assert_eq!(aircraft.grade, Grade::Fail);
    assert!(
        aircraft.note.contains("not carried on beyond"),
        "{aircraft}"
    );
}

#[test]
fn a_table_of_gross_mass_gives_the_interagency_sum() {
    // Interagency load calculation (from memory): 5,100 lb hover mass less 180 lb reduction, at most
    // 5,350 lb; operating mass 3,300 lb with fuel; 1,620 lb on the hook, 1,560 lb after 60 lb of rigging.
    let text = SKID
        .replace("gives = \"hook-load\"", "gives = \"gross-mass\"\noperating_mass = \"2900 lb\"\nfuel = \"400 lb\"\nmax_gross_mass = \"5350 lb\"");
    let start = text.find("cells = [").unwrap();
    let end = start + text[start..].find("]\n").unwrap();
    let row = "  \"4920 4920 4920 4920 4920 lb\",\n".repeat(5);
    let text = format!("{}cells = [\n{row}{}", &text[..start], &text[end..])
        .replace("fuel_burn = \"45 kg\"\n", "")
        .replace("allowable = \"1550 kg\"\nallowable_from = \"pilot in command, chart of this morning\"\n", "")
        .replace("deduction = \"10 percent\"", "")
        .replace("mass = \"28 kg\"", "mass = \"8 lb\"")
        .replace("mass = \"22 kg\"", "mass = \"42 lb\"")
        .replace("mass = \"4 kg\"", "mass = \"10 lb\"");
    let figures = Figures::of(&plan(&text));
    let today = figures.allowable.unwrap();
    let pounds = |kg: f64| kg / 0.453_592_37;
    assert!((pounds(today.kg) - 1620.0).abs() < 1e-3, "{today:?}");
    let left = pounds(today.kg - figures.masses.gear_kg());
    assert!((left - 1560.0).abs() < 1e-3, "{left}");

    // Where the table gives more than the greatest gross mass with an external load, that one is taken:
    // 5,350 lb less 3,300 lb.
    let cold = text.replace("4920", "5600");
    let today = Figures::of(&plan(&cold)).allowable.unwrap();
    assert!((pounds(today.kg) - 2050.0).abs() < 1e-3, "{today:?}");
}

#[test]
fn a_site_counts_at_the_worst_of_its_plus_and_minus() {
    let at = |changes: &[(&str, &str)]| Figures::of(&skid(changes)).allowable.unwrap().sites[1].kg;
    let typed = at(&[]);
    // In the demo table both more height and more heat take from the hook load.
    let warmer = at(&[("temperature = \"6 °C\"", "temperature = \"8 °C\"")]);
    let unsure = at(&[("temperature = \"6 °C\"", "temperature = \"6 °C +/- 2 °C\"")]);
    assert!(unsure < typed);
    assert!((unsure - warmer).abs() < 1e-6, "{unsure} {warmer}");
    let higher = at(&[("elevation = \"2310 m\"", "elevation = \"2330 m\"")]);
    let unsure = at(&[("elevation = \"2310 m\"", "elevation = \"2310 m +/- 20 m\"")]);
    assert!(unsure < typed);
    assert!((unsure - higher).abs() < 1e-6, "{unsure} {higher}");
}

/// "pad is at 3048 m, the table runs from 0 to 3048 m" told nobody what was wrong.
#[test]
fn a_site_just_outside_its_table_reads_so_in_the_tables_own_unit() {
    let said = |changes: &[(&str, &str)]| {
        let figures = Figures::of(&skid(changes));
        figures.allowable.expect_err("outside").to_string()
    };
    let elevation = "elevation = \"2310 m\"\nqnh = \"1016 hPa\"";
    let high = said(&[(elevation, "pressure_altitude = \"10001 ft\"")]);
    assert!(
        high.contains("is at 10001 ft pressure altitude, the table runs from 2000 ft to 10000 ft"),
        "{high}"
    );
    let end = said(&[(elevation, "pressure_altitude = \"9990 ft +/- 11 ft\"")]);
    assert!(
        end.contains("is at 10001 ft pressure altitude at an end of its plus or minus"),
        "{end}"
    );
    let hot = said(&[("temperature = \"14 °C\"", "temperature = \"30.4 °C\"")]);
    assert!(hot.contains("is at 30.4 °C, the table runs from"), "{hot}");
}

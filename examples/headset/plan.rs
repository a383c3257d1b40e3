//! A plan with as many checks as wanted, and what an inspector answers to them.

use std::fmt::Write;

const NET: &str = include_str!("../../tests/it/robot/gravel.toml");
/// Checks of a side of a station.
const CHECKS: usize = 8;
/// Sides of a station: a plan has at most 60 stations, and an hour more than 480 checks.
const SIDES: [(&str, &str); 3] = [("", ""), ("left ", "Left. "), ("right ", "Right. ")];

/// The net of the robot's walk with so many checks.
pub fn with_checks(checks: usize) -> String {
    // The strop hangs at the first row.
    let head = NET.replace("station = \"ring\"", "station = \"row-1\"");
    let head = head.split("[[station]]").next().unwrap_or_default();
    let mut plan = head.to_owned();
    for at in 0..checks {
        if at % (CHECKS * SIDES.len()) == 0 {
            let n = at / (CHECKS * SIDES.len()) + 1;
            let _ = write!(
                plan,
                "\n[[station]]\nkey = \"row-{n}\"\nname = \"row {n}\"\n"
            );
        }
        let (name, rest) = match at % CHECKS {
            0 => ("pin", "kind = \"presence\"\nask = \"Pin?\""),
            1 => ("mesh", "kind = \"condition\"\nask = \"Mesh?\""),
            2 => ("cap", "kind = \"presence\"\nask = \"Cap?\""),
            3 => (
                "loops",
                "kind = \"count\"\nnoun = \"loops\"\nask = \"Loops?\"\nexpected = 4",
            ),
            4 => ("strap", "kind = \"condition\"\nask = \"Strap?\""),
            5 => ("tie", "kind = \"presence\"\nask = \"Tie?\""),
            6 => (
                "knots",
                "kind = \"count\"\nnoun = \"knots\"\nask = \"Knots?\"\nexpected = 8",
            ),
            _ => ("edge", "kind = \"condition\"\nask = \"Edge?\""),
        };
        let (side, spoken) = SIDES[at / CHECKS % SIDES.len()];
        let rest = rest.replace("ask = \"", &format!("ask = \"{spoken}"));
        let _ = write!(
            plan,
            "\n[[station.check]]\nname = \"{side}{name}\"\n{rest}\n"
        );
    }
    plan
}

/// The recorded word that answers a question, where all is in order; three voices take turns.
pub fn word_for(question: &str, turn: usize) -> String {
    let word = |table: &[(&str, &'static str)]| {
        let fits = table.iter().find(|(part, _)| question.contains(part));
        fits.map(|(_, word)| *word)
    };
    let asked_back = question.contains("Did you") || question.contains("Say yes");
    if asked_back || question.contains("All checks done") {
        return "joe/yes-no/yes.flac".to_owned();
    }
    let presence = ["present", "in-place", "its-there"];
    let condition = ["good", "good-condition", "in-good-order"];
    let voice = ["joe", "rms", "slt"][turn % 3];
    let turn = turn / 3 % 3;
    match word(&[("Loops", "four"), ("Knots", "eight")]) {
        Some(count) => format!("{voice}/count/{count}.flac"),
        None if ["Pin", "Cap", "Tie"].iter().any(|p| question.contains(p)) => {
            format!("{voice}/presence/{}.flac", presence[turn])
        }
        None => format!("{voice}/condition/{}.flac", condition[turn]),
    }
}

//! The colours of a style sheet against WCAG 2.2: 4.5 to 1 for text (success criterion 1.4.3), 3 to 1
//! for the edges of controls and marks (1.4.11). Only for tests.

use std::collections::BTreeMap;

/// A colour as written, `#rgb` or `#rrggbb`.
pub(super) fn colour(text: &str) -> Option<u32> {
    let digits = text.trim().strip_prefix('#')?;
    let wide = match digits.len() {
        3 => digits.chars().flat_map(|c| [c, c]).collect(),
        6 => digits.to_owned(),
        // With an alpha channel, which no text has.
        _ => return None,
    };
    u32::from_str_radix(&wide, 16).ok()
}

/// The contrast of two colours, 1 to 21, by the standard's definition of relative luminance.
pub(super) fn contrast(a: u32, b: u32) -> f64 {
    let luminance = |hex: u32| {
        let channel = |shift: u32| {
            let c = f64::from(hex >> shift & 0xff) / 255.0;
            if c <= 0.040_45 {
                c / 12.92
            } else {
                ((c + 0.055) / 1.055).powf(2.4)
            }
        };
        0.2126 * channel(16) + 0.7152 * channel(8) + 0.0722 * channel(0)
    };
    let (a, b) = (luminance(a), luminance(b));
    (a.max(b) + 0.05) / (a.min(b) + 0.05)
}

/// A rule's selector and its declarations.
fn rules(style: &str) -> Vec<(String, Vec<(String, String)>)> {
    let mut rules = Vec::new();
    let mut start = 0;
    let mut selector = String::new();
    for (at, c) in style.char_indices() {
        match c {
            '{' => {
                style[start..at].trim().clone_into(&mut selector);
                start = at + 1;
            }
            '}' => {
                let declarations = style[start..at].split(';').filter_map(|d| {
                    let (name, value) = d.split_once(':')?;
                    Some((name.trim().to_owned(), value.trim().to_owned()))
                });
                rules.push((selector.clone(), declarations.collect()));
                start = at + 1;
            }
            _ => {}
        }
    }
    rules
}

/// Fails where a text or an edge in the style sheet is too faint on any surface that it may lie on.
/// Returns how many pairs of colours were held against the standard.
pub(super) fn check(style: &str) -> usize {
    // A comment holds no colour in use.
    let style: String = style
        .split("/*")
        .map(|part| part.split_once("*/").map_or(part, |(_, rest)| rest))
        .collect();
    let rules = rules(&style);
    let named: BTreeMap<String, u32> = rules
        .iter()
        .flat_map(|(_, all)| all)
        .filter(|(name, _)| name.starts_with("--"))
        .filter_map(|(name, value)| Some((format!("var({name})"), colour(value)?)))
        .collect();
    let find = |value: &str| {
        let mut words = value.split_whitespace();
        words.find_map(|w| colour(w).or_else(|| named.get(w).copied()))
    };
    let of = |all: &[(String, String)], names: &[&str]| {
        let found = all.iter().find(|(name, _)| names.contains(&name.as_str()));
        found.and_then(|(_, value)| find(value))
    };
    // A surface that names a text colour of its own carries that alone.
    let mut surfaces: Vec<u32> = rules
        .iter()
        .filter(|(s, all)| s == "body" || of(all, &["color"]).is_none())
        .filter_map(|(_, all)| of(all, &["background", "background-color"]))
        .collect();
    surfaces.sort_unstable();
    surfaces.dedup();
    assert!(surfaces.contains(&0xff_ff_ff), "{surfaces:06x?}");
    let mut pairs = 0;
    for (selector, all) in &rules {
        let own = of(all, &["background", "background-color"]);
        let under = own.map_or(surfaces.clone(), |own| vec![own]);
        let mut hold = |ink: Option<u32>, least: f64, under: &[u32]| {
            for &paper in under.iter().filter(|_| ink.is_some()) {
                let ratio = contrast(ink.unwrap_or_default(), paper);
                assert!(
                    ratio >= least,
                    "{selector}: {ink:06x?} on {paper:06x}: {ratio:.2}"
                );
                pairs += 1;
            }
        };
        hold(of(all, &["color"]), 4.5, &under);
        for edge in [
            "border",
            "border-color",
            "border-left",
            "border-bottom",
            "outline",
        ] {
            // Its edge lies on what is around it.
            hold(of(all, &[edge]), 3.0, &surfaces);
        }
    }
    pairs
}

#[test]
fn the_formula_and_the_reading_are_right() {
    // Black on white is 21 to 1 by definition; #767676 is the lightest grey of 4.5 to 1 on white, as
    // the guidance on the criterion has it.
    assert!((contrast(0, 0xff_ff_ff) - 21.0).abs() < 1e-9);
    assert!(contrast(0x76_76_76, 0xff_ff_ff) >= 4.5 && contrast(0x77_77_77, 0xff_ff_ff) < 4.5);
    assert_eq!(colour("#0b3"), Some(0x00_bb_33));
    let style = ":root { --a: #767676; } body { background: #fff } p { color: var(--a); }";
    assert_eq!(check(style), 1);
    let faint = style.replace("#767676", "#888");
    assert!(std::panic::catch_unwind(|| check(&faint)).is_err());
}

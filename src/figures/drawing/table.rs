//! The numbers beside the views, and the scale.

use super::super::units::LengthUnit;
use super::canvas::{Anchor, Canvas, Class, Stroke};
use super::{INK, SCALE, SLACK, Scene, view};

/// Every leg's numbers, and what the colours mean. `longer` is what names need beyond their column, pixels.
pub(super) fn table(canvas: &mut Canvas, scene: &Scene, at: [f64; 2], longer: f64) {
    let [left, mut y] = at;
    let mut columns = [34.0, 238.0, 318.0, 378.0, 434.0, 480.0].map(|at| left + at);
    for column in &mut columns[1..] {
        *column += longer;
    }
    for (column, head) in
        columns
            .into_iter()
            .zip(["leg", "pull typed in", "at worst", "share", "angle", "link"])
    {
        if head == "link" && scene.legs.iter().all(|l| l.links.is_none()) {
            continue;
        }
        let anchor = if head == "leg" {
            Anchor::Start
        } else {
            Anchor::End
        };
        canvas.text([column, y], anchor, Class::Bold, head);
    }
    for leg in &scene.legs {
        y += 24.0;
        sample(canvas, [left, y - 5.0], leg.stroke(), leg.missing);
        canvas.text([columns[0], y], Anchor::Start, Class::Plain, &leg.name);
        if leg.missing {
            canvas.text([columns[1], y], Anchor::End, Class::Bold, leg.gone());
            continue;
        }
        let pull = if leg.slack {
            "slack"
        } else {
            leg.pull.as_str()
        };
        canvas.text([columns[1], y], Anchor::End, Class::Plain, pull);
        canvas.text([columns[2], y], Anchor::End, Class::Plain, &leg.worst_pull);
        canvas.text([columns[3], y], Anchor::End, Class::Bold, &leg.share());
        canvas.text(
            [columns[4], y],
            Anchor::End,
            Class::Plain,
            &format!("{:.0}°", leg.angle_deg),
        );
        if let Some(links) = leg.links {
            let class = if leg.miscounted {
                Class::Bold
            } else {
                Class::Plain
            };
            let mark = if leg.miscounted { "!" } else { "" };
            canvas.text(
                [columns[5], y],
                Anchor::End,
                class,
                &format!("{links}{mark}"),
            );
        }
    }
    y += 34.0;
    canvas.text(
        [left, y],
        Anchor::Start,
        Class::Small,
        "share of the leg's rating, at worst",
    );
    for (_, colour, width, words) in SCALE {
        y += 22.0;
        sample(canvas, [left, y - 4.0], Stroke::solid(colour, width), false);
        canvas.text([columns[0], y], Anchor::Start, Class::Small, words);
    }
    let slack = y - 22.0 * (SCALE.len() as f64 - 1.0);
    sample(canvas, [left + 180.0, slack - 4.0], SLACK, false);
    canvas.text([left + 214.0, slack], Anchor::Start, Class::Small, "slack");
    canvas.centre_of_gravity([left + 193.0, slack + 18.0]);
    canvas.text(
        [left + 214.0, slack + 22.0],
        Anchor::Start,
        Class::Small,
        "centre of gravity",
    );
}

fn sample(canvas: &mut Canvas, at: [f64; 2], stroke: Stroke, missing: bool) {
    if !missing {
        view::cased(canvas, at, [at[0] + 26.0, at[1]], stroke);
    }
}

/// A bar of a round length, at least 40 pixels long where the unit allows.
pub(super) fn scale_bar(canvas: &mut Canvas, unit: LengthUnit, scale: f64, at: [f64; 2]) {
    let round = [1.0, 2.0, 5.0, 10.0, 20.0];
    let pixels = |length: f64| length * unit.m() * scale;
    let length = round.into_iter().find(|l| pixels(*l) >= 40.0);
    let length = length.unwrap_or(round[4]);
    let end = [at[0] + pixels(length), at[1]];
    let ink = Stroke::solid(INK, 1.5);
    canvas.line(at, end, ink);
    for x in [at[0], end[0]] {
        canvas.line([x, at[1] - 5.0], [x, at[1] + 5.0], ink);
    }
    canvas.text(
        [end[0] + 8.0, at[1] + 4.0],
        Anchor::Start,
        Class::Small,
        &format!("{length:.0} {}, all views to one scale", unit.sign()),
    );
}

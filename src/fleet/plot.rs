//! Trends as one SVG: what fails most, deficiencies and lengths by week, asking again by noise.
//! Shapes and printed numbers carry the meaning, so that it reads in black and white.

use super::query::{GroupRow, Trends};
use plotters::coord::Shift;
use plotters::prelude::*;

const WIDTH: u32 = 1_000;
const PANEL: u32 = 340;
const INK: RGBColor = RGBColor(26, 26, 26);
const FAINT: RGBColor = RGBColor(217, 217, 217);
/// Two of the colours of Okabe and Ito that readers with any colour vision tell apart.
const BLUE: RGBColor = RGBColor(0, 114, 178);
const ORANGE: RGBColor = RGBColor(213, 94, 0);

type Area<'a> = DrawingArea<SVGBackend<'a>, Shift>;
type Drawn = Result<(), Box<dyn std::error::Error + Send + Sync>>;

/// One bar: name, length from 0 to 1 of the longest, what is printed at its end.
struct Bar {
    name: String,
    share: f64,
    text: String,
}

/// All plots in one SVG file's text.
///
/// # Errors
/// Where the drawing library refuses.
pub fn plots(trends: &Trends) -> anyhow::Result<String> {
    let mut svg = String::new();
    draw(&mut svg, trends).map_err(|e| anyhow::anyhow!("the plots could not be drawn: {e}"))?;
    Ok(svg)
}

fn draw(svg: &mut String, trends: &Trends) -> Drawn {
    let root = SVGBackend::with_string(svg, (WIDTH, 4 * PANEL)).into_drawing_area();
    root.fill(&WHITE)?;
    let panels = root.split_evenly((4, 1));
    bars(
        &panels[0],
        "Checks that fail most, share of the walks that asked them",
        &worst(trends),
    )?;
    let share = |of: fn(&GroupRow) -> u64| {
        move |g: &GroupRow| (g.walks > 0).then(|| 100.0 * of(g) as f64 / g.walks as f64)
    };
    lines(
        &panels[1],
        "Walks with a deficiency (line) and with a re-inspection (dots), percent by week",
        &trends.weeks,
        &share(|g| g.with_deficiency),
        &share(|g| g.with_reinspection),
    )?;
    lines(
        &panels[2],
        "Length of the middle walk (line) and of 9 in 10 (dots), minutes by week",
        &trends.weeks,
        &|g| g.median_min,
        &|g| g.nine_tenths_min,
    )?;
    bars(
        &panels[3],
        "Utterances not taken at once, by signal to noise",
        &noise(trends),
    )?;
    root.present()?;
    Ok(())
}

fn worst(trends: &Trends) -> Vec<Bar> {
    let mut rows: Vec<_> = trends.checks.iter().filter(|c| c.deficient > 0).collect();
    let share = |deficient: u64, walks: u64| deficient as f64 / walks.max(1) as f64;
    rows.sort_by(|a, b| share(b.deficient, b.walks).total_cmp(&share(a.deficient, a.walks)));
    let bar = |c: &&super::query::CheckRow| Bar {
        name: match c.group.as_str() {
            "" => c.place.clone(),
            group => format!("{group}: {}", c.place),
        },
        share: share(c.deficient, c.walks),
        text: format!(
            "{:.1} % ({} of {})",
            100.0 * share(c.deficient, c.walks),
            c.deficient,
            c.walks
        ),
    };
    rows.iter().take(10).map(bar).collect()
}

fn noise(trends: &Trends) -> Vec<Bar> {
    let bar = |n: &super::query::NoiseRow| {
        let share = n.not_taken as f64 / n.heard.max(1) as f64;
        Bar {
            name: match n.from_db {
                0 => "below 5 dB".to_owned(),
                db => format!("from {db} dB"),
            },
            share,
            text: format!("{:.1} % ({} of {})", 100.0 * share, n.not_taken, n.heard),
        }
    };
    trends.noise.iter().map(bar).collect()
}

fn title(area: &Area<'_>, text: &str) -> Drawn {
    let style = ("sans-serif", 18).into_font().color(&INK);
    area.draw(&Text::new(text.to_owned(), (20, 16), style))?;
    Ok(())
}

/// The text with so many letters at most, its end kept: a check's name stands behind its group's.
fn cut(text: &str, most: usize) -> String {
    let letters: Vec<char> = text.chars().collect();
    if letters.len() <= most {
        return text.to_owned();
    }
    let head: String = letters[..most / 4].iter().collect();
    let tail: String = letters[letters.len() - (most - most / 4 - 3)..]
        .iter()
        .collect();
    format!("{head}...{tail}")
}

fn bars(area: &Area<'_>, name: &str, rows: &[Bar]) -> Drawn {
    const LEFT: i32 = 380;
    const LONGEST: f64 = 420.0;
    title(area, name)?;
    let style = ("sans-serif", 14).into_font().color(&INK);
    if rows.is_empty() {
        area.draw(&Text::new("nothing to show", (20, 54), style))?;
        return Ok(());
    }
    let most = rows.iter().map(|r| r.share).fold(0.0, f64::max).max(1e-9);
    for (row, y) in rows.iter().zip((50..).step_by(28)) {
        let name = cut(&row.name, 50);
        area.draw(&Text::new(name, (20, y + 4), style.clone()))?;
        let end = LEFT + (LONGEST * row.share / most).round() as i32;
        area.draw(&Rectangle::new(
            [(LEFT, y), (end.max(LEFT + 1), y + 18)],
            BLUE.filled(),
        ))?;
        area.draw(&Text::new(
            row.text.clone(),
            (end + 8, y + 4),
            style.clone(),
        ))?;
    }
    Ok(())
}

/// A value of a group of walks, where it has one.
type Of<'a> = &'a dyn Fn(&GroupRow) -> Option<f64>;

fn lines(area: &Area<'_>, name: &str, weeks: &[GroupRow], line: Of<'_>, dots: Of<'_>) -> Drawn {
    title(area, name)?;
    let points = |of: Of<'_>| -> Vec<(f64, f64)> {
        let values = weeks.iter().enumerate();
        values
            .filter_map(|(i, g)| Some((i as f64, of(g)?)))
            .collect()
    };
    let (line, dots) = (points(line), points(dots));
    let style = ("sans-serif", 14).into_font().color(&INK);
    if line.is_empty() {
        area.draw(&Text::new("nothing to show", (20, 54), style))?;
        return Ok(());
    }
    let most = line.iter().chain(&dots).map(|p| p.1).fold(0.0, f64::max);
    let last = weeks.len().saturating_sub(1).max(1) as f64;
    let mut chart = ChartBuilder::on(area)
        .margin_top(44)
        .margin_right(40)
        .margin_bottom(8)
        .x_label_area_size(30)
        .y_label_area_size(60)
        .build_cartesian_2d(-0.02 * last..1.02 * last, 0.0..(1.1 * most).max(1.0))?;
    let week = |x: &f64| {
        // Labels stand at round numbers of weeks only.
        let at = x.round();
        let known = (at - x).abs() < 1e-6 && at >= 0.0;
        let found = known.then(|| weeks.get(at as usize)).flatten();
        found.map_or_else(String::new, |g| g.group.clone())
    };
    chart
        .configure_mesh()
        .light_line_style(WHITE)
        .bold_line_style(FAINT)
        .axis_style(INK)
        .x_labels(weeks.len().clamp(2, 8))
        .x_label_formatter(&week)
        .label_style(style)
        .draw()?;
    // A line of one point would not show.
    chart.draw_series(line.iter().map(|&at| Circle::new(at, 2, BLUE.filled())))?;
    chart.draw_series(LineSeries::new(line, BLUE.stroke_width(2)))?;
    chart.draw_series(
        dots.into_iter()
            .map(|at| Circle::new(at, 3, ORANGE.filled())),
    )?;
    Ok(())
}

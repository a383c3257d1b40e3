//! The stations of a load as seen from above, for drawing.

use crate::record::{Status, View};

/// A station as drawn.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Mark {
    /// Its number in walking order, from 1.
    pub number: usize,
    /// Its name.
    pub name: String,
    /// The worst of its checks.
    pub status: Status,
    /// Where, from the upper left corner, 0 to 1 of the drawing's width; forward is up.
    pub x: f64,
    /// Likewise downwards, in the same unit.
    pub y: f64,
}

/// A drawing of the stations.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Drawing {
    /// In walking order.
    pub marks: Vec<Mark>,
    /// The load's outline: left, top, right and bottom in the marks' unit; `None` where a record of
    /// before does not tell it.
    pub outline: Option<[f64; 4]>,
    /// Height over width, 0.25 to 1.
    pub aspect: f64,
}

/// How bad a status is, for the sum of a station.
pub(crate) fn weight(status: Status) -> u8 {
    match status {
        Status::NotAsked => 0,
        Status::NotApplicable => 1,
        Status::Conforming => 2,
        Status::NotSeen => 3,
        Status::Open => 4,
        Status::Deficient => 5,
    }
}

/// A station's name, the worst status of its checks, and where it is (metres forward and left).
pub(crate) type Station = (String, Status, Option<[f64; 2]>);

/// All stations in walking order with the worst status of their checks and their place.
pub(super) fn stations(view: &View) -> Vec<Station> {
    let mut stations: Vec<Station> = Vec::new();
    for check in &view.checks {
        match stations.last_mut() {
            Some((name, worst, _)) if *name == check.station => {
                if weight(check.status) > weight(*worst) {
                    *worst = check.status;
                }
            }
            _ => stations.push((check.station.clone(), check.status, check.place_m)),
        }
    }
    stations
}

/// The stations by name in a line each, numbered by their order: how they stand, and what was called not applicable there.
pub(super) fn station_lines(view: &View) -> Vec<String> {
    let line = |(name, status, _): Station| {
        let here = view.checks.iter().filter(|c| c.station == name);
        let waived = here.filter(|c| c.status == Status::NotApplicable).count();
        let but = match waived {
            0 => String::new(),
            _ if status == Status::NotApplicable => String::new(),
            n => format!(", {n} called not applicable"),
        };
        format!("{name}: {}{but}", status.words())
    };
    stations(view).into_iter().map(line).collect()
}

/// The drawing; `None` where fewer than two stations have a place.
pub(super) fn drawing(view: &View) -> Option<Drawing> {
    drawing_of(&stations(view), view.outline_m)
}

/// As [`drawing`], of stations in walking order and the load's outline: its rear right and its front
/// left corner, metres forward and left.
pub(crate) fn drawing_of(
    stations: &[Station],
    outline_m: Option<[[f64; 2]; 2]>,
) -> Option<Drawing> {
    let placed: Vec<(usize, &_)> = stations
        .iter()
        .enumerate()
        .filter(|(_, (_, _, place))| place.is_some_and(|p| p.iter().all(|x| x.is_finite())))
        .collect();
    if placed.len() < 2 {
        return None;
    }
    // Forward is up, and so left is left.
    let turned = |[forward, left]: [f64; 2]| (-left, -forward);
    let at: Vec<(f64, f64)> = placed
        .iter()
        .filter_map(|(_, (_, _, place))| place.map(turned))
        .collect();
    let outline = outline_m
        .filter(|corners| corners.iter().flatten().all(|x| x.is_finite()))
        .map(|corners| corners.map(turned));
    let range = |of: fn(&(f64, f64)) -> f64| {
        let all = || at.iter().chain(outline.iter().flatten()).map(of);
        let least = all().fold(f64::INFINITY, f64::min);
        let most = all().fold(f64::NEG_INFINITY, f64::max);
        (least, most - least)
    };
    let ((x0, width), (y0, height)) = (range(|p| p.0), range(|p| p.1));
    let scale = width.max(height);
    if scale <= 0.0 || !scale.is_finite() {
        return None;
    }
    let aspect = (height / width.max(scale * 0.25)).clamp(0.25, 1.0);
    // The longer side fills the drawing less a margin; the shorter is centred in it.
    let unit = (0.8 / width.max(1e-9)).min(0.8 * aspect / height.max(1e-9));
    let across = |x: f64| 0.5 + (x - x0 - width / 2.0) * unit;
    let down = |y: f64| aspect / 2.0 + (y - y0 - height / 2.0) * unit;
    let marks = placed
        .iter()
        .zip(&at)
        .map(|((i, (name, status, _)), (x, y))| Mark {
            number: i + 1,
            name: name.clone(),
            status: *status,
            x: across(*x),
            y: down(*y),
        });
    Some(Drawing {
        marks: apart(marks.collect()),
        outline: outline.map(|[rear_right, front_left]| {
            [
                across(front_left.0),
                down(front_left.1),
                across(rear_right.0),
                down(rear_right.1),
            ]
        }),
        aspect,
    })
}

/// Stations at one place would hide each other; later ones are put beside.
fn apart(mut marks: Vec<Mark>) -> Vec<Mark> {
    const STEP: f64 = 0.07;
    for i in 1..marks.len() {
        let mut tries = 0;
        while tries < 12
            && marks[..i]
                .iter()
                .any(|m| (m.x - marks[i].x).abs() < STEP && (m.y - marks[i].y).abs() < STEP)
        {
            marks[i].x = (marks[i].x + STEP).min(0.97);
            tries += 1;
        }
    }
    marks
}

//! The load as seen from above, front up, with its stations.

use super::draw::Look;
use super::letters::line;
use super::state::State;
use crate::record::Status;
use crate::review::stations::{Drawing, drawing_of};
use ratatui::buffer::Buffer;
use ratatui::layout::{Alignment, Rect};
use ratatui::style::Style;
use ratatui::widgets::{Block, Widget};

/// A cell is about twice as high as wide.
const CELL_ASPECT: f64 = 2.0;
/// What the signs behind the numbers mean.
const LEGEND: &str = "+ done  ! deficient  ? unseen";

/// Draws the stations into the area, or lists them where the plan does not place them.
pub fn map(state: &State, look: Look, area: Rect, buf: &mut Buffer) {
    if area.height < 5 || area.width < 16 {
        return;
    }
    let frame = Rect {
        height: area.height - 1,
        ..area
    };
    let block = Block::bordered()
        .title("FRONT")
        .title_alignment(Alignment::Center)
        .border_style(look.base());
    let inner = block.inner(frame);
    block.render(frame, buf);
    let legend = Rect {
        y: area.bottom() - 1,
        height: 1,
        ..area
    };
    line(LEGEND, look.base(), legend, buf);
    let here = state.station_number();
    let drawing = drawing_of(&state.stations(), state.outline_m());
    if let Some(drawing) = &drawing {
        outline(drawing, look, inner, buf);
    }
    for (label, style, x, y) in labels(state, drawing, look, here, inner) {
        buf.set_stringn(x, y, &label, usize::from(inner.right() - x), style);
    }
}

/// From places on a drawing to cells of the area, with the drawing's sides in proportion.
fn fitted(drawing: &Drawing, area: Rect) -> impl Fn(f64, f64) -> (f64, f64) + use<> {
    let across = f64::from(area.width);
    let down = f64::from(area.height) * CELL_ASPECT / drawing.aspect;
    let scale = across.min(down);
    let left = (across - scale) / 2.0;
    let top = (f64::from(area.height) - scale * drawing.aspect / CELL_ASPECT) / 2.0;
    move |x, y| (left + x * scale, top + y * scale / CELL_ASPECT)
}

/// The load itself, as a frame of light lines.
fn outline(drawing: &Drawing, look: Look, area: Rect, buf: &mut Buffer) {
    let Some([left, top, right, bottom]) = drawing.outline else {
        return;
    };
    let cell = fitted(drawing, area);
    let most = |cells: u16| f64::from(cells.saturating_sub(1));
    let at = |x: f64, y: f64| {
        let (x, y) = cell(x, y);
        let x = x.clamp(0.0, most(area.width)) as u16;
        let y = y.clamp(0.0, most(area.height)) as u16;
        (area.x + x, area.y + y)
    };
    let ((left, top), (right, bottom)) = (at(left, top), at(right, bottom));
    let frame = Rect::new(left, top, right - left + 1, bottom - top + 1);
    Block::bordered()
        .border_style(look.base())
        .render(frame, buf);
}

type Label = (String, Style, u16, u16);

/// The labels with their cells, none over another as far as there is room.
fn labels(
    state: &State,
    drawing: Option<Drawing>,
    look: Look,
    here: usize,
    area: Rect,
) -> Vec<Label> {
    let stations = state.stations();
    let mark = |number: usize, status: Status| {
        let sign = match status {
            Status::Deficient => "!",
            Status::NotSeen => "?",
            Status::Open => "",
            Status::Conforming | Status::NotApplicable | Status::NotAsked => "+",
        };
        let text = if number == here {
            format!("[{number}{sign}]")
        } else {
            format!(" {number}{sign} ")
        };
        (text, look.station(status, number == here))
    };
    let places: Vec<(usize, Status, f64, f64)> = match drawing {
        Some(drawing) => {
            let cell = fitted(&drawing, area);
            let marks = drawing.marks.into_iter();
            marks
                .map(|m| {
                    let (x, y) = cell(m.x, m.y);
                    (m.number, m.status, x, y)
                })
                .collect()
        }
        None => stations
            .iter()
            .enumerate()
            .map(|(i, (_, status, _))| {
                let a_row = usize::from(area.width / 6).max(1);
                let (x, y) = ((i % a_row) as f64 * 6.0 + 3.0, (i / a_row) as f64);
                (i + 1, *status, x, y)
            })
            .collect(),
    };
    let mut labels: Vec<Label> = Vec::new();
    for (number, status, x, y) in places {
        let (text, style) = mark(number, status);
        let wide = text.len() as u16;
        let x =
            (x as i32 - i32::from(wide) / 2).clamp(0, i32::from(area.width.saturating_sub(wide)));
        let y = (y as i32).clamp(0, i32::from(area.height) - 1);
        if let Some((x, y)) = free(&labels, area, wide, (x as u16, y as u16)) {
            labels.push((text, style, area.x + x, area.y + y));
        }
    }
    labels
}

/// The cell nearest to the wanted one where a label of that width hides no other.
fn free(labels: &[Label], area: Rect, wide: u16, wanted: (u16, u16)) -> Option<(u16, u16)> {
    let hides = |x: u16, y: u16| {
        labels.iter().any(|(text, _, lx, ly)| {
            let (lx, ly) = (lx - area.x, ly - area.y);
            ly == y && lx < x + wide && x < lx + text.len() as u16
        })
    };
    let columns = 0..=area.width.saturating_sub(wide);
    let cells = (0..area.height).flat_map(|y| columns.clone().map(move |x| (x, y)));
    cells
        .filter(|&(x, y)| !hides(x, y))
        .min_by_key(|&(x, y)| x.abs_diff(wanted.0) + 2 * y.abs_diff(wanted.1))
}

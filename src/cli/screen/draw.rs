//! The view as cells. Pure: the same state and area give the same cells.

use super::letters::{LARGE, fitted, large, line, plain};
use super::map::map;
use super::state::{Mode, State};
use crate::cli::drive::clock_text;
use crate::record::Status;
use crate::walk::Outcome;
use ratatui::buffer::Buffer;
use ratatui::layout::{Constraint, Layout, Rect};
use ratatui::style::{Color, Modifier, Style};

/// Smaller than this only the most needful is shown, in lines.
const LEAST: (u16, u16) = (60, 20);
/// From this height on station and check are in large letters too, rows.
const ROOMY: u16 = 30;
/// Width of the plan view and the deficiencies, cells.
const SIDE: u16 = 30;
/// Level at the left end of the meter, dB of full scale.
const METER_FROM_DB: f32 = -60.0;

/// How things look: dark on light with signs and words, or without colours where none are wanted.
#[derive(Clone, Copy)]
pub struct Look {
    colour: bool,
}

impl Look {
    /// All text.
    pub fn base(self) -> Style {
        match self.colour {
            true => Style::new().fg(Color::Black).bg(Color::White),
            false => Style::new(),
        }
    }

    fn bold(self) -> Style {
        self.base().add_modifier(Modifier::BOLD)
    }

    /// Light on dark: bars and what must be seen.
    fn turned(self) -> Style {
        match self.colour {
            true => Style::new().fg(Color::White).bg(Color::Black),
            false => Style::new().add_modifier(Modifier::REVERSED),
        }
        .add_modifier(Modifier::BOLD)
    }

    fn alarm(self) -> Style {
        match self.colour {
            true => self.turned().bg(Color::Red),
            false => self.turned(),
        }
    }

    fn mode(self, mode: Mode) -> Style {
        match mode {
            Mode::Held | Mode::NotReady | Mode::BrokenOff => self.alarm(),
            Mode::Listening => self.turned(),
            Mode::Ready | Mode::Speaking | Mode::Working => self.bold(),
        }
    }

    /// A station's label.
    pub fn station(self, status: Status, here: bool) -> Style {
        match (status, here) {
            (Status::Deficient, _) => self.alarm(),
            (_, true) => self.turned(),
            _ => self.bold(),
        }
    }
}

/// Draws the state into the area.
pub fn draw(state: &State, area: Rect, buf: &mut Buffer) {
    let look = Look {
        colour: state.colour,
    };
    buf.set_style(area, look.base());
    if area.width < LEAST.0 || area.height < LEAST.1 {
        return small(state, look, area, buf);
    }
    let [title, _, body, _, progress, remark, typed] = Layout::vertical([
        Constraint::Length(1),
        Constraint::Length(1),
        Constraint::Fill(1),
        Constraint::Length(1),
        Constraint::Length(1),
        Constraint::Length(1),
        Constraint::Length(1),
    ])
    .areas(area);
    head(state, look, title, buf);
    match state.mode() {
        Mode::Held | Mode::BrokenOff => held(state, look, body, buf),
        Mode::Ready | Mode::NotReady => ended(state, look, body, buf),
        _ => asking(state, look, body, buf),
    }
    bar(state, look, progress, buf);
    let told = [&state.remark, &state.means];
    let told = told.into_iter().find(|t| !t.is_empty());
    line(told.map_or("", |t| t), look.base(), remark, buf);
    type_line(state, look, typed, buf);
}

/// Load, time and outcome so far.
fn head(state: &State, look: Look, area: Rect, buf: &mut Buffer) {
    buf.set_style(area, look.turned());
    let right = clock_text(state.elapsed_ms);
    let left = usize::from(area.width).saturating_sub(right.len() + 3);
    let load = fitted(&state.ledger.route().load.to_uppercase(), left);
    line(&format!(" {load}"), look.turned(), area, buf);
    let x = area.right().saturating_sub(right.len() as u16 + 1);
    buf.set_string(x, area.y, right, look.turned());
}

/// The walk goes on: what is asked, what was heard, where it is.
fn asking(state: &State, look: Look, area: Rect, buf: &mut Buffer) {
    let [left, _, right] = Layout::horizontal([
        Constraint::Fill(1),
        Constraint::Length(2),
        Constraint::Length(SIDE),
    ])
    .areas(area);
    let mode = state.mode();
    let mut rows = Rows(left);
    rows.take(
        |a, b| large(mode.word(), look.mode(mode), top(a, LARGE.1), b),
        buf,
    );
    rows.skip();
    let (station, check) = state.place();
    // Large where there is room for it, so that it is read from afar.
    for name in [station, check] {
        let name = name.to_uppercase();
        let room = if area.height >= ROOMY { 2 * LARGE.1 } else { 2 };
        rows.take(
            |a, b| large(&name, look.bold(), top(a, room), b).min(room),
            buf,
        );
        if area.height >= ROOMY {
            rows.skip();
        }
    }
    rows.skip();
    let ears = 6;
    let room = rows.0.height.saturating_sub(ears);
    rows.take(
        |a, b| plain(&state.prompt, look.base(), top(a, room), b),
        buf,
    );
    let mut rows = Rows(Rect {
        y: left.bottom().saturating_sub(ears - 1),
        height: ears - 1,
        ..left
    });
    heard(state, look, &mut rows, buf);
    side(state, look, right, buf);
}

fn heard(state: &State, look: Look, rows: &mut Rows, buf: &mut Buffer) {
    let mut one = |text: &str, style: Style| {
        rows.take(
            |a, b| {
                line(text, style, a, b);
                1
            },
            buf,
        );
    };
    match &state.heard {
        Some(heard) => {
            let sure = heard.confidence * 100.0;
            one(
                &format!("HEARD  \"{}\"  {sure:.0} %", heard.words),
                look.bold(),
            );
            one(&format!("       {}", heard.decision), look.bold());
        }
        None => one("HEARD  nothing yet", look.base()),
    }
    if let Some((check, outcome)) = &state.logged {
        let name = state.ledger.locate(check).map_or("", |(_, c)| &c.name);
        match outcome {
            Outcome::Deficient { deficiency } => {
                one(&format!("LOGGED ! DEFICIENT: {deficiency}"), look.alarm());
            }
            Outcome::Conforming => one(&format!("LOGGED {name}: conforming"), look.base()),
            Outcome::NotApplicable => one(&format!("LOGGED {name}: not applicable"), look.base()),
            Outcome::NotSeen => one(&format!("LOGGED {name}: not seen, open"), look.base()),
        }
    }
    if let Some(level) = state.level_db {
        one(&meter(level), look.base());
    }
}

/// The level of the microphone as a row of signs.
fn meter(level_db: f32) -> String {
    let share = ((level_db - METER_FROM_DB) / -METER_FROM_DB).clamp(0.0, 1.0);
    let full = (share * 20.0).round() as usize;
    format!("MIC    [{}{}]", "#".repeat(full), "-".repeat(20 - full))
}

/// Plan view and deficiencies.
fn side(state: &State, look: Look, area: Rect, buf: &mut Buffer) {
    let found = state.ledger.deficiencies();
    let listed = found.len().min(usize::from(area.height / 3)) as u16;
    let [above, title, below] = Layout::vertical([
        Constraint::Fill(1),
        Constraint::Length(1),
        Constraint::Length(listed),
    ])
    .areas(area);
    map(state, look, above, buf);
    let style = if found.is_empty() {
        look.bold()
    } else {
        look.alarm()
    };
    line(&format!("DEFICIENT: {}", found.len()), style, title, buf);
    // The newest are at the end of the route, as far as it was walked.
    let newest = found.iter().rev().take(usize::from(listed));
    for (deficiency, row) in newest.zip(below.rows()) {
        line(&format!("! {}", deficiency.name), look.base(), row, buf);
    }
}

/// It stands still: why, in large, and what was said about it.
fn held(state: &State, look: Look, area: Rect, buf: &mut Buffer) {
    let mode = state.mode();
    let mut rows = Rows(area);
    rows.take(|a, b| large(mode.word(), look.mode(mode), a, b), buf);
    rows.skip();
    let room = rows.0.height.saturating_sub(1);
    let why = state.why().to_uppercase();
    rows.take(|a, b| large(&why, look.bold(), top(a, room), b), buf);
    if rows.0.height > 1 {
        rows.skip();
    }
    rows.take(|a, b| plain(&state.prompt, look.base(), a, b), buf);
}

/// It is over: the verdict and what stands against the load.
fn ended(state: &State, look: Look, area: Rect, buf: &mut Buffer) {
    let mode = state.mode();
    let mut rows = Rows(area);
    rows.take(|a, b| large(mode.word(), look.mode(mode), a, b), buf);
    rows.skip();
    let against = state.ledger.ready().against();
    let lines = usize::from(rows.0.height.saturating_sub(1));
    for text in against.iter().take(lines) {
        rows.take(
            |a, b| {
                line(&format!("! {text}"), look.bold(), a, b);
                1
            },
            buf,
        );
    }
    if against.len() > lines {
        let more = format!("and {} more", against.len() - lines);
        rows.take(|a, b| plain(&more, look.bold(), a, b), buf);
    }
}

/// How far round the load.
fn bar(state: &State, look: Look, area: Rect, buf: &mut Buffer) {
    let (done, all) = state.progress();
    let stations = state.ledger.route().stations.len();
    let text = format!(
        " {done} of {all} checks, station {} of {stations}",
        state.station_number()
    );
    let cells = usize::from(area.width).saturating_sub(text.len() + 2);
    let full = (cells * done).checked_div(all).unwrap_or(0);
    let bar = format!("[{}{}]{text}", "#".repeat(full), "-".repeat(cells - full));
    line(&bar, look.bold(), area, buf);
}

/// What is being typed; its end stays in sight.
fn type_line(state: &State, look: Look, area: Rect, buf: &mut Buffer) {
    buf.set_style(area, look.turned());
    let room = usize::from(area.width).saturating_sub(4);
    let letters = state.typed.chars().count();
    let shown: String = state
        .typed
        .chars()
        .skip(letters.saturating_sub(room))
        .collect();
    let text = if shown.is_empty() {
        "> speak, or type an answer or command and press Enter; Ctrl-C breaks off".to_owned()
    } else {
        format!("> {shown}_")
    };
    line(&text, look.turned(), area, buf);
}

/// Little room: the most needful in lines, what must be known first.
fn small(state: &State, look: Look, area: Rect, buf: &mut Buffer) {
    let (done, all) = state.progress();
    let mode = state.mode();
    let (station, check) = state.place();
    let heard = state.heard.as_ref();
    let heard = heard.map(|h| format!("\"{}\" {}", h.words, h.decision));
    let found = state.ledger.deficiencies().len();
    let typed = (!state.typed.is_empty()).then(|| format!("> {}_", state.typed));
    let texts = [
        Some((mode.word().to_owned(), look.mode(mode))),
        typed.map(|t| (t, look.turned())),
        Some((state.why().to_uppercase(), look.bold())),
        Some((station.to_uppercase(), look.bold())),
        Some((check.to_uppercase(), look.bold())),
        heard.map(|t| (t, look.base())),
        Some((format!("{done} of {all}, deficient: {found}"), look.base())),
        Some((state.prompt.clone(), look.base())),
    ];
    let texts = texts.into_iter().flatten().filter(|(t, _)| !t.is_empty());
    for ((text, style), row) in texts.zip(area.rows()) {
        line(&text, style, row, buf);
    }
}

/// At most so many rows of the area.
fn top(area: Rect, rows: u16) -> Rect {
    Rect {
        height: area.height.min(rows),
        ..area
    }
}

/// Rows not yet used, from the top.
struct Rows(Rect);

impl Rows {
    /// Draws into what is left; `draw` gives the rows that it used.
    fn take(&mut self, draw: impl FnOnce(Rect, &mut Buffer) -> u16, buf: &mut Buffer) {
        if self.0.height == 0 {
            return;
        }
        let used = draw(self.0, buf).min(self.0.height);
        self.0.y += used;
        self.0.height -= used;
    }

    fn skip(&mut self) {
        let used = self.0.height.min(1);
        self.0.y += used;
        self.0.height -= used;
    }
}

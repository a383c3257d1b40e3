//! Letters as large as the place for them allows.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;
use ratatui::text::{Line, Span};
use ratatui::widgets::{Paragraph, Widget, Wrap};
use tui_big_text::{BigText, PixelSize};

/// Cells of a large letter, across and down.
pub const LARGE: (u16, u16) = (4, 4);

/// The text in large letters if they fit into the area, else in ordinary ones. Gives the rows used.
pub fn large(text: &str, style: Style, area: Rect, buf: &mut Buffer) -> u16 {
    let lines = wrapped(text, usize::from(area.width / LARGE.0));
    let rows = lines.len() as u16 * LARGE.1;
    if lines.is_empty() || rows > area.height || !text.is_ascii() {
        return plain(text, style, area, buf);
    }
    let widest = lines.iter().map(String::len).max().unwrap_or(0) as u16;
    let inked = Rect {
        width: (widest * LARGE.0).min(area.width),
        height: rows,
        ..area
    };
    buf.set_style(inked, style);
    let lines: Vec<Line> = lines.into_iter().map(Line::from).collect();
    BigText::builder()
        .pixel_size(PixelSize::Quadrant)
        .style(style)
        .lines(lines)
        .build()
        .render(inked, buf);
    rows
}

/// The text in ordinary letters, broken between words. Gives the rows used.
pub fn plain(text: &str, style: Style, area: Rect, buf: &mut Buffer) -> u16 {
    let rows = wrapped(text, usize::from(area.width)).len().max(1) as u16;
    let cut = Rect {
        height: area.height.min(rows),
        ..area
    };
    Paragraph::new(text)
        .style(style)
        .wrap(Wrap { trim: true })
        .render(cut, buf);
    cut.height
}

/// One line, cut off with a mark where it is too long.
pub fn line(text: &str, style: Style, area: Rect, buf: &mut Buffer) {
    if area.height > 0 {
        let text = fitted(text, usize::from(area.width));
        Span::styled(text, style).render(Rect { height: 1, ..area }, buf);
    }
}

/// The text, cut off with a mark where it is wider than `width` cells.
pub fn fitted(text: &str, width: usize) -> String {
    if Span::raw(text).width() <= width {
        return text.to_owned();
    }
    let (mut out, mut used) = (String::new(), 0);
    for c in text.chars() {
        let wide = Span::raw(c.to_string()).width();
        if used + wide + 1 > width {
            break;
        }
        out.push(c);
        used += wide;
    }
    if width > 0 {
        out.push('…');
    }
    out
}

/// The words in lines of `width` cells; a longer word is broken.
fn wrapped(text: &str, width: usize) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    if width == 0 {
        return lines;
    }
    for word in text.split_whitespace() {
        let mut rest: Vec<char> = word.chars().collect();
        if let Some(last) = lines.last_mut()
            && last.chars().count() + 1 + rest.len() <= width
        {
            last.push(' ');
            last.extend(rest);
            continue;
        }
        while rest.len() > width {
            lines.push(rest.drain(..width).collect());
        }
        lines.push(rest.into_iter().collect());
    }
    lines
}

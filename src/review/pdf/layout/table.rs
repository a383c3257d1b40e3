//! Tables, over several pages if they must be.

use super::{BOTTOM, Flow, Ink, LEADING, MARGIN, Owner, PADDING, Role, TEXT, TOP, Tree};
use crate::review::pdf::fonts::Face;

/// A column of a table.
pub(in crate::review::pdf) struct Column {
    pub title: &'static str,
    /// Its part of the whole width; the parts sum up to 1.
    pub share: f32,
}

/// A row of a table.
pub(in crate::review::pdf) struct Row {
    /// The first names the row. As many as there are columns.
    pub cells: Vec<(Face, String)>,
    /// Marked by a bar at the left.
    pub bad: bool,
}

impl Flow<'_> {
    pub(in crate::review::pdf) fn table(&mut self, columns: &[Column], rows: Vec<Row>) {
        let body = self.body_width();
        let mut lefts = vec![MARGIN];
        for column in columns {
            lefts.push(lefts.last().copied().unwrap_or(MARGIN) + column.share * body);
        }
        let head = Row {
            cells: columns
                .iter()
                .map(|c| (Face::Bold, c.title.to_owned()))
                .collect(),
            bad: false,
        };
        let mut tree = Vec::new();
        let start = rows
            .first()
            .map_or(0.0, |first| self.table_start(columns, first));
        self.keep(start.max(56.0));
        let cells = self.row(&lefts, &head, Some(Role::ColumnHead), None, false);
        tree.push(Tree::Group(Role::Row, cells));
        for (n, row) in rows.iter().enumerate() {
            let cells = self.row(&lefts, row, None, Some(&head), n > 0);
            tree.push(Tree::Group(Role::Row, cells));
        }
        self.group(Role::Table, tree);
        self.y += 6.0;
    }

    /// Room that a table's head takes with its first row, or where that has more lines than go with the head on a page, with
    /// its first lines: a head alone at the foot of a page says nothing.
    pub(in crate::review::pdf) fn table_start(&self, columns: &[Column], first: &Row) -> f32 {
        let body = self.body_width();
        let line_height = TEXT * LEADING;
        let lines = |face, text: &str, share: f32| {
            self.fonts
                .wrap(face, TEXT, text, share * body - 2.0 * PADDING)
                .len()
        };
        let high = |lines: Option<usize>| lines.unwrap_or(0) as f32 * line_height + 2.0 * PADDING;
        let head = columns.iter().map(|c| lines(Face::Bold, c.title, c.share));
        let cells = columns.iter().zip(&first.cells);
        let row = cells.map(|(c, (face, text))| lines(*face, text, c.share));
        let (head, row) = (high(head.max()), high(row.max()));
        match row <= (self.height - BOTTOM - TOP) / 2.0 {
            true => head + row,
            false => head + high(Some(3)),
        }
    }

    /// Draws a row, over several pages if it must be; `head` is drawn again on each new page. `whole`: on a page of its own
    /// rather than broken.
    fn row(
        &mut self,
        lefts: &[f32],
        row: &Row,
        role: Option<Role>,
        head: Option<&Row>,
        whole: bool,
    ) -> Vec<Tree> {
        let line_height = TEXT * LEADING;
        let mut cells: Vec<(Face, Vec<String>, usize)> = Vec::new();
        for (i, (face, text)) in row.cells.iter().enumerate() {
            let width = lefts[i + 1] - lefts[i] - 2.0 * PADDING;
            let lines = self.fonts.wrap(*face, TEXT, text, width);
            cells.push((*face, lines, self.leaf()));
        }
        let mut most = cells.iter().map(|c| c.1.len()).max().unwrap_or(0);
        let high = most as f32 * line_height + 2.0 * PADDING;
        let page = self.height - BOTTOM - TOP;
        if whole && high <= page - 40.0 && self.y + high > self.height - BOTTOM {
            self.continue_table(lefts, head);
        }
        while most > 0 {
            let room = self.height - BOTTOM - self.y - 2.0 * PADDING;
            if room < line_height {
                self.continue_table(lefts, head);
                continue;
            }
            let fit = ((room / line_height).floor() as usize).min(most);
            let top = self.y;
            for (i, (face, lines, leaf)) in cells.iter_mut().enumerate() {
                let now: Vec<String> = lines.drain(..fit.min(lines.len())).collect();
                self.y = top + PADDING;
                self.lines_of(*leaf, &now, *face, TEXT, lefts[i] + PADDING);
            }
            self.y = top + fit as f32 * line_height + 2.0 * PADDING;
            let bottom = self.y;
            let width = if matches!(role, Some(Role::ColumnHead)) {
                1.0
            } else {
                0.4
            };
            self.rule([MARGIN, bottom], [self.width - MARGIN, bottom], width);
            if row.bad {
                self.rule([MARGIN - 3.0, top + 1.0], [MARGIN - 3.0, bottom - 1.0], 3.0);
            }
            most -= fit;
            if most > 0 {
                self.continue_table(lefts, head);
            }
        }
        let tagged = cells.iter().enumerate().map(|(i, (_, _, leaf))| {
            let role = match (&role, i) {
                (Some(role), _) => role.clone(),
                (None, 0) => Role::RowHead,
                (None, _) => Role::Cell,
            };
            Tree::Group(role, vec![Tree::Leaf(*leaf)])
        });
        tagged.collect()
    }

    /// Starts a new page with the table's head, which is decoration there: it was read before.
    fn continue_table(&mut self, lefts: &[f32], head: Option<&Row>) {
        self.new_page();
        let Some(head) = head else {
            return;
        };
        for (i, (face, text)) in head.cells.iter().enumerate() {
            let text = self.fonts.clean(*face, text);
            let ink = Ink::Text {
                x: lefts[i] + PADDING,
                y: self.y + PADDING + TEXT,
                face: *face,
                size: TEXT,
                text,
                white: false,
            };
            self.put(Owner::Decoration, ink);
        }
        self.y += TEXT * LEADING + 2.0 * PADDING;
        let y = self.y;
        self.rule([MARGIN, y], [self.width - MARGIN, y], 1.0);
    }
}

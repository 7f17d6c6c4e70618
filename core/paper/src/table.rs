//! Tables: widths from what is in them, heads again on every page, rows higher than a page split.

use crate::face::{Shaped, Style};
use crate::figures;
use crate::flow::{Flow, SIDE, stacked};
use crate::lines::Breaker;
use crate::sheet::{Belongs, Kind, Mark, TagId};
use evenwire_core::report::Table;

const TEXT: Style = Style { bold: false, size: 7.8, leading: 10.2, grey: 0 };
const HEAD: Style = Style { bold: true, size: 7.2, leading: 9.4, grey: 0 };
/// Between two columns.
const GUTTER: f32 = 9.0;
/// Above and below the lines of a row.
const PAD: f32 = 2.4;

/// A table broken into lines.
pub struct LaidTable {
    caption: String,
    widths: Vec<f32>,
    figures: Vec<bool>,
    head: Vec<Vec<Shaped>>,
    rows: Vec<LaidRow>,
}

struct LaidRow {
    cells: Vec<Vec<Shaped>>,
    struck: bool,
}

/// Breaks a table into lines for a width.
pub fn lay(breaker: Breaker<'_>, table: &Table, width: f32) -> LaidTable {
    let widths = widths(breaker, table, width);
    let broken = |texts: &mut dyn Iterator<Item = &String>, style: Style| -> Vec<Vec<Shaped>> {
        texts.zip(&widths).map(|(text, width)| breaker.lines(text, style, *width)).collect()
    };
    let head = broken(&mut table.columns.iter().map(|column| &column.title), HEAD);
    let row =
        |row: &evenwire_core::report::Row| LaidRow { cells: broken(&mut row.cells.iter(), TEXT), struck: row.struck };
    LaidTable {
        caption: table.caption.clone(),
        figures: table.columns.iter().map(|column| column.figures).collect(),
        rows: table.rows.iter().map(row).collect(),
        head,
        widths,
    }
}

/// What each column gets: at least its longest word, at most its longest line, the rest shared out.
fn widths(breaker: Breaker<'_>, table: &Table, width: f32) -> Vec<f32> {
    let gutters = GUTTER * (table.columns.len().saturating_sub(1)) as f32;
    let room = width - gutters;
    let of_column = |index: usize| {
        let head = breaker.widths(&table.columns[index].title, HEAD);
        let cells = table.rows.iter().map(|row| breaker.widths(&row.cells[index], TEXT));
        cells.fold(head, |all, one| (all.0.max(one.0), all.1.max(one.1)))
    };
    let asked: Vec<(f32, f32)> = (0..table.columns.len()).map(of_column).collect();
    let (least, most) = asked.iter().fold((0.0, 0.0), |sum, one| (sum.0 + one.0, sum.1 + one.1));
    let slack = 0.6;
    if most + slack * asked.len() as f32 <= room {
        // Figures stay narrow: what is left goes to the words.
        let words = table.columns.iter().filter(|column| !column.figures).count().max(1) as f32;
        let more = ((room - most) / words).min(60.0);
        let all_figures = table.columns.iter().all(|column| column.figures);
        let widen = |(one, column): (&(f32, f32), &evenwire_core::report::Column)| {
            if column.figures && !all_figures { one.1 + slack } else { one.1 + more }
        };
        return asked.iter().zip(&table.columns).map(widen).collect();
    }
    if least + slack * asked.len() as f32 <= room {
        let share = (room - least) / (most - least).max(0.01);
        return asked.iter().map(|(low, high)| low + (high - low) * share).collect();
    }
    // Not even the longest words fit: short columns keep theirs, the long ones share what is left.
    let fair = room / asked.len() as f32;
    let short: f32 = asked.iter().filter(|one| one.0 <= fair).map(|one| one.0 + slack).sum();
    let long: f32 = asked.iter().filter(|one| one.0 > fair).map(|one| one.0).sum();
    let left = (room - short).max(0.0);
    asked.iter().map(|one| if one.0 <= fair { one.0 + slack } else { one.0 * left / long.max(0.01) }).collect()
}

fn height(cells: &[Vec<Shaped>], style: Style) -> f32 {
    let most = cells.iter().map(Vec::len).max().unwrap_or(1);
    style.leading * most as f32 + 2.0 * PAD
}

impl LaidTable {
    /// Height of the head and the first row: what has to stand together.
    pub fn lead(&self) -> f32 {
        let first = self.rows.first().map_or(0.0, |row| height(&row.cells, TEXT));
        height(&self.head, HEAD) + first.min(8.0 * TEXT.leading)
    }

    /// Puts it down.
    pub fn place(self, flow: &mut Flow<'_>) {
        let table = flow.sheet.tag(flow.parent, Kind::Table(self.caption.clone()));
        flow.room_for(self.lead());
        let head = flow.sheet.tag(table, Kind::Head);
        let row = flow.sheet.tag(head, Kind::Row);
        self.place_head(flow, Some(row));
        let body = flow.sheet.tag(table, Kind::Rows);
        let mut rows = self.rows;
        let frame = Frame { widths: self.widths, figures: self.figures, head: self.head };
        for row in rows.drain(..) {
            frame.place_row(flow, body, row);
        }
        flow.gap(8.0);
    }

    fn place_head(&self, flow: &mut Flow<'_>, row: Option<TagId>) {
        head(flow, (&self.widths, &self.figures, &self.head), row);
    }
}

/// The head of a table; without a tag it is only said again.
fn head(flow: &mut Flow<'_>, (widths, figures, cells): (&[f32], &[bool], &[Vec<Shaped>]), row: Option<TagId>) {
    let top = flow.y;
    let tall = height(cells, HEAD);
    let mut x = SIDE;
    for ((lines, width), right) in cells.iter().zip(widths).zip(figures) {
        let belongs = match row {
            Some(row) => Belongs::To(flow.sheet.tag(row, Kind::ColumnTitle)),
            None => Belongs::Nothing,
        };
        // Titles stand on the line, however many lines the others have.
        let y = top + tall - PAD - HEAD.leading * lines.len() as f32;
        flow.put(belongs, set(lines.clone(), (x, y, *width), (HEAD, *right)));
        x += width + GUTTER;
    }
    let rule = top + tall - 0.5;
    let end = SIDE + flow.width();
    flow.put(Belongs::Nothing, figures::line((SIDE, rule), (end, rule), 0.9, 0));
    flow.y = top + tall;
}

struct Frame {
    widths: Vec<f32>,
    figures: Vec<bool>,
    head: Vec<Vec<Shaped>>,
}

impl Frame {
    fn next_page(&self, flow: &mut Flow<'_>) {
        flow.new_page();
        head(flow, (&self.widths, &self.figures, &self.head), None);
    }

    fn place_row(&self, flow: &mut Flow<'_>, body: TagId, row: LaidRow) {
        let tag = flow.sheet.tag(body, Kind::Row);
        let cells: Vec<TagId> = row.cells.iter().map(|_| flow.sheet.tag(tag, Kind::Cell)).collect();
        let tall = height(&row.cells, TEXT);
        let on_a_page = flow.full() - height(&self.head, HEAD);
        if tall > flow.left() && (tall <= on_a_page || flow.left() < 4.0 * TEXT.leading) {
            self.next_page(flow);
        }
        let mut rest = row.cells;
        loop {
            let fits = (((flow.left() - 2.0 * PAD) / TEXT.leading) as usize).max(1);
            let after: Vec<Vec<Shaped>> = rest.iter_mut().map(|lines| lines.split_off(fits.min(lines.len()))).collect();
            self.piece(flow, &cells, (rest, row.struck));
            if after.iter().all(Vec::is_empty) {
                break;
            }
            self.next_page(flow);
            rest = after;
        }
    }

    fn piece(&self, flow: &mut Flow<'_>, tags: &[TagId], (cells, struck): (Vec<Vec<Shaped>>, bool)) {
        let (top, tall) = (flow.y, height(&cells, TEXT));
        let mut x = SIDE;
        for (((lines, tag), width), right) in cells.into_iter().zip(tags).zip(&self.widths).zip(&self.figures) {
            let through = if struck { strokes(&lines, (x, top + PAD, *width), *right) } else { Vec::new() };
            flow.put(Belongs::To(*tag), set(lines, (x, top + PAD, *width), (TEXT, *right)));
            flow.put(Belongs::Nothing, through);
            x += width + GUTTER;
        }
        let rule = top + tall;
        let end = SIDE + flow.width();
        flow.put(Belongs::Nothing, figures::line((SIDE, rule), (end, rule), 0.3, 170));
        flow.y = rule;
    }
}

/// The lines of a cell, at its left or right edge.
fn set(lines: Vec<Shaped>, (x, y, width): (f32, f32, f32), (style, right): (Style, bool)) -> Vec<Mark> {
    let shift = |line: &Shaped| if right { (width - line.width).max(0.0) } else { 0.0 };
    let shifts: Vec<f32> = lines.iter().map(shift).collect();
    let mut marks = stacked(lines, (x, y), style);
    for (mark, shift) in marks.iter_mut().zip(shifts) {
        if let Mark::Text { x, .. } = mark {
            *x += shift;
        }
    }
    marks
}

fn strokes(lines: &[Shaped], (x, y, width): (f32, f32, f32), right: bool) -> Vec<Mark> {
    let stroke = |(index, line): (usize, &Shaped)| {
        let from = if right { x + (width - line.width).max(0.0) } else { x };
        let at = y + TEXT.leading * (index as f32 + 0.5);
        figures::line((from, at), (from + line.width, at), 0.6, 0)
    };
    lines.iter().enumerate().filter(|(_, line)| line.width > 0.0).filter_map(stroke).collect()
}

//! Sections: a title that stays with what follows, and the blocks below it.

use crate::Photos;
use crate::face::{Shaped, Style};
use crate::flow::{Flow, SIDE, stacked};
use crate::photos::{self, LaidPhoto};
use crate::sheet::{Belongs, Kind, TagId};
use crate::table::{self, LaidTable};
use crate::{figures, ladder, trace};
use evenwire_core::report::{Block, Field, LadderPicture, Section, TracePicture};

const TEXT: Style = Style { bold: false, size: 9.0, leading: 12.0, grey: 0 };
const LABEL: Style = Style { bold: false, size: 8.4, leading: 11.8, grey: 85 };
const VALUE: Style = Style { bold: false, size: 8.6, leading: 11.8, grey: 0 };
const HEADLINE: Style = Style { bold: true, size: 13.0, leading: 17.0, grey: 0 };
const SUBTITLE: Style = Style { bold: true, size: 8.8, leading: 12.0, grey: 0 };
const TITLE: Style = Style { bold: true, size: 10.4, leading: 13.4, grey: 0 };
const DETAILS: Style = Style { bold: true, size: 15.0, leading: 20.0, grey: 0 };
/// Width of the names beside values.
const LABELS: f32 = 132.0;
/// How far an item of a list stands in.
const INDENT: f32 = 11.0;

/// A block broken into lines.
enum Laid<'r> {
    Subtitle(&'r str, Vec<Shaped>),
    Headline(Vec<Shaped>),
    Words(Vec<Shaped>),
    List(Vec<Vec<Shaped>>),
    Fields(Vec<(Vec<Shaped>, Vec<Shaped>)>),
    Table(LaidTable),
    Ladder(&'r LadderPicture),
    Trace(&'r TracePicture),
    Photos(Vec<LaidPhoto<'r>>),
}

/// The title over the details.
pub fn details_title(flow: &mut Flow<'_>, words: &str) {
    let lines = flow.breaker.lines(words, DETAILS, flow.width());
    heading(flow, (words, 2), (lines, DETAILS));
    flow.gap(2.0);
}

/// Puts a section down. `level`: of its title among the headings.
pub fn section(flow: &mut Flow<'_>, section: &Section, (level, photos): (u16, &Photos<'_>)) {
    let parent = flow.parent;
    let laid = lay(flow, &section.blocks, photos);
    let title = flow.breaker.lines(&section.title, TITLE, flow.width());
    flow.gap(6.0);
    let lead = TITLE.leading * title.len() as f32 + 6.0 + lead_from(flow, &laid);
    flow.room_for(lead);
    flow.parent = flow.sheet.tag(parent, Kind::Section);
    heading(flow, (&section.title, level), (title, TITLE));
    let rule = flow.y + 1.0;
    flow.put(Belongs::Nothing, figures::line((SIDE, rule), (SIDE + flow.width(), rule), 0.6, 0));
    flow.y = rule + 3.0;
    let leads: Vec<f32> = (0..laid.len()).map(|from| lead_from(flow, &laid[from..])).collect();
    for (block, lead) in laid.into_iter().zip(leads) {
        flow.room_for(lead);
        place(flow, block, level + 1);
    }
    flow.parent = parent;
}

fn heading(flow: &mut Flow<'_>, (words, level): (&str, u16), (lines, style): (Vec<Shaped>, Style)) {
    flow.room_for(style.leading * lines.len() as f32);
    let tag = flow.sheet.tag(flow.parent, Kind::Heading(level, words.to_owned()));
    let (page, y) = (flow.page(), flow.y);
    flow.sheet.titles.push((level, words.to_owned(), page, y));
    flow.lines(lines, (SIDE, style), Belongs::To(tag));
}

fn lay<'r>(flow: &Flow<'_>, blocks: &'r [Block], photos: &Photos<'_>) -> Vec<Laid<'r>> {
    let (breaker, width) = (flow.breaker, flow.width());
    let mut laid: Vec<Laid> = Vec::new();
    for block in blocks {
        let next = match block {
            Block::Subtitle(words) => Laid::Subtitle(words, breaker.lines(words, SUBTITLE, width)),
            Block::Headline(words) => Laid::Headline(breaker.lines(words, HEADLINE, width - 12.0)),
            Block::Words(words) => Laid::Words(breaker.lines(words, TEXT, width)),
            Block::List(items) => {
                Laid::List(items.iter().map(|item| breaker.lines(item, TEXT, width - INDENT)).collect())
            }
            Block::Fields(fields) => Laid::Fields(fields.iter().map(|field| lay_field(flow, field)).collect()),
            Block::Table(table) => Laid::Table(table::lay(breaker, table, width)),
            Block::Ladder(picture) => Laid::Ladder(picture),
            Block::Trace(picture) => Laid::Trace(picture),
            Block::Photo(photo) => {
                let photo = photos::lay(flow, photo, photos);
                if let Some(Laid::Photos(row)) = laid.last_mut()
                    && row.len() < photos::IN_A_ROW
                {
                    row.push(photo);
                    continue;
                }
                Laid::Photos(vec![photo])
            }
        };
        laid.push(next);
    }
    laid
}

fn lay_field(flow: &Flow<'_>, field: &Field) -> (Vec<Shaped>, Vec<Shaped>) {
    let breaker = flow.breaker;
    (breaker.lines(&field.label, LABEL, LABELS - 10.0), breaker.lines(&field.value, VALUE, flow.width() - LABELS))
}

/// What has to stand together from the first block on; subtitles hold on to what follows them.
fn lead_from(flow: &Flow<'_>, laid: &[Laid<'_>]) -> f32 {
    let lines = |count: usize, style: Style| style.leading * count.min(3) as f32;
    match laid.split_first() {
        None => 0.0,
        Some((Laid::Subtitle(_, own), rest)) => 5.0 + lines(own.len(), SUBTITLE) + lead_from(flow, rest),
        Some((Laid::Headline(own), _)) => HEADLINE.leading * own.len() as f32,
        // What is said of a trace stands over it.
        Some((Laid::Words(own), [Laid::Trace(_), ..])) => lines(own.len(), TEXT) + 3.0 + trace::HEIGHT,
        Some((Laid::Words(own), _)) => lines(own.len(), TEXT),
        Some((Laid::List(items), _)) => lines(items.first().map_or(1, Vec::len), TEXT),
        Some((Laid::Fields(fields), _)) => {
            lines(fields.first().map_or(1, |(label, value)| label.len().max(value.len())), VALUE)
        }
        Some((Laid::Table(table), _)) => table.lead(),
        Some((Laid::Ladder(picture), _)) => ladder::lead(flow, picture),
        Some((Laid::Trace(_), _)) => trace::HEIGHT,
        Some((Laid::Photos(row), _)) => photos::height(row),
    }
}

fn place(flow: &mut Flow<'_>, block: Laid<'_>, level: u16) {
    match block {
        Laid::Subtitle(words, lines) => {
            flow.gap(5.0);
            heading(flow, (words, level), (lines, SUBTITLE));
        }
        Laid::Headline(lines) => headline(flow, lines),
        Laid::Words(lines) => {
            let tag = flow.sheet.tag(flow.parent, Kind::Paragraph);
            flow.lines(lines, (SIDE, TEXT), Belongs::To(tag));
            flow.gap(3.0);
        }
        Laid::List(items) => list(flow, items),
        Laid::Fields(fields) => self::fields(flow, fields),
        Laid::Table(table) => table.place(flow),
        Laid::Ladder(picture) => ladder::place(flow, picture),
        Laid::Trace(picture) => trace::place(flow, picture),
        Laid::Photos(row) => photos::place(flow, row),
    }
}

/// The sentence that matters most, with a bar beside it.
fn headline(flow: &mut Flow<'_>, lines: Vec<Shaped>) {
    let tall = HEADLINE.leading * lines.len() as f32;
    flow.room_for(tall);
    let tag = flow.sheet.tag(flow.parent, Kind::Paragraph);
    let bar = figures::filled(figures::rect(SIDE, flow.y + 1.5, 3.0, tall - 3.0), 0);
    flow.put(Belongs::Nothing, bar);
    flow.lines(lines, (SIDE + 12.0, HEADLINE), Belongs::To(tag));
    flow.gap(3.0);
}

fn list(flow: &mut Flow<'_>, items: Vec<Vec<Shaped>>) {
    let list = flow.sheet.tag(flow.parent, Kind::List);
    for lines in items {
        let item = flow.sheet.tag(list, Kind::Item);
        let together = TEXT.leading * if lines.len() < 4 { lines.len() } else { 2 } as f32;
        flow.room_for(together);
        let label = flow.sheet.tag(item, Kind::Label);
        let dash = flow.breaker.line("–", TEXT);
        let marks = stacked(vec![dash], (SIDE, flow.y), TEXT);
        flow.put(Belongs::To(label), marks);
        let body = flow.sheet.tag(item, Kind::Body);
        flow.lines(lines, (SIDE + INDENT, TEXT), Belongs::To(body));
    }
    flow.gap(3.0);
}

fn fields(flow: &mut Flow<'_>, fields: Vec<(Vec<Shaped>, Vec<Shaped>)>) {
    let list = flow.sheet.tag(flow.parent, Kind::List);
    for (label, value) in fields {
        field(flow, list, (label, value));
    }
    flow.gap(5.0);
}

fn field(flow: &mut Flow<'_>, list: TagId, (label, value): (Vec<Shaped>, Vec<Shaped>)) {
    let item = flow.sheet.tag(list, Kind::Item);
    let most = label.len().max(value.len());
    flow.room_for(VALUE.leading * most.min(6) as f32);
    let (page, top) = (flow.page(), flow.y);
    let tall = LABEL.leading * label.len() as f32;
    let of_label = flow.sheet.tag(item, Kind::Label);
    let marks = stacked(label, (SIDE, top), LABEL);
    flow.put(Belongs::To(of_label), marks);
    let of_value = flow.sheet.tag(item, Kind::Body);
    flow.lines(value, (SIDE + LABELS, VALUE), Belongs::To(of_value));
    if flow.page() == page {
        flow.y = flow.y.max(top + tall);
    }
}

//! The head of the first page, and what stands at the edge of every page.

use crate::ShopHeader;
use crate::face::Style;
use crate::figures;
use crate::flow::{Flow, SIDE, stacked};
use crate::sheet::{Belongs, Kind, Mark};
use evenwire_core::report::{Field, Report};
use krilla::image::Image;

const NAME: Style = Style { bold: true, size: 11.0, leading: 14.0, grey: 0 };
const ADDRESS: Style = Style::plain(8.0).grey();
const TITLE: Style = Style { bold: true, size: 18.0, leading: 22.0, grey: 0 };
const LABEL: Style = Style { bold: false, size: 6.8, leading: 8.6, grey: 85 };
const VALUE: Style = Style { bold: true, size: 9.0, leading: 11.6, grey: 0 };
const NOTICE: Style = Style { bold: true, size: 9.0, leading: 12.0, grey: 0 };
const EDGE: Style = Style { bold: false, size: 7.4, leading: 9.6, grey: 85 };
/// Most room for a logo, points.
const LOGO: (f32, f32) = (132.0, 46.0);
/// Cells of the card beside each other.
const ACROSS: usize = 3;

/// Shop, title, what has to be known first, and the card.
pub fn first_page(flow: &mut Flow<'_>, report: &Report, shop: &ShopHeader) {
    flow.y = 40.0;
    shop_head(flow, report, shop);
    let title = flow.breaker.lines(&report.title, TITLE, flow.width());
    let tag = flow.sheet.tag(flow.parent, Kind::Heading(1, report.title.clone()));
    let (page, y) = (flow.page(), flow.y);
    flow.sheet.titles.push((1, report.title.clone(), page, y));
    flow.lines(title, (SIDE, TITLE), Belongs::To(tag));
    flow.gap(5.0);
    notice(flow, &report.notice);
    card(flow, &report.head);
    flow.gap(2.0);
}

fn shop_head(flow: &mut Flow<'_>, report: &Report, shop: &ShopHeader) {
    let top = flow.y;
    let logo = shop.logo.clone().and_then(picture);
    let beside = if logo.is_some() { LOGO.0 + 12.0 } else { 0.0 };
    let width = flow.width() - beside;
    if !shop.name.is_empty() {
        let lines = flow.breaker.lines(&shop.name, NAME, width);
        let tag = flow.sheet.tag(flow.parent, Kind::Paragraph);
        flow.lines(lines, (SIDE, NAME), Belongs::To(tag));
    }
    for line in shop.address.iter().filter(|line| !line.is_empty()) {
        let lines = flow.breaker.lines(line, ADDRESS, width);
        let tag = flow.sheet.tag(flow.parent, Kind::Paragraph);
        flow.lines(lines, (SIDE, ADDRESS), Belongs::To(tag));
    }
    if let Some(image) = logo {
        let (wide, tall) = (image.size().0.max(1) as f32, image.size().1.max(1) as f32);
        let scale = (LOGO.0 / wide).min(LOGO.1 / tall);
        let (width, height) = (wide * scale, tall * scale);
        let x = SIDE + flow.width() - width;
        let tag = flow.sheet.tag(flow.parent, Kind::Figure(report.page_words.logo.clone()));
        flow.put(Belongs::To(tag), [Mark::Picture { x, y: top, width, height, image }]);
        flow.y = flow.y.max(top + height);
    }
    if flow.y > top {
        let rule = flow.y + 5.0;
        flow.put(Belongs::Nothing, figures::line((SIDE, rule), (SIDE + flow.width(), rule), 0.9, 0));
        flow.y = rule + 8.0;
    }
}

/// A PNG or a JPEG, told apart by how it begins.
fn picture(bytes: Vec<u8>) -> Option<Image> {
    let jpeg = bytes.starts_with(&[0xFF, 0xD8]);
    if jpeg { Image::from_jpeg(bytes.into(), true).ok() } else { Image::from_png(bytes.into(), true).ok() }
}

/// What has to be known first, in a frame.
fn notice(flow: &mut Flow<'_>, said: &[String]) {
    if said.is_empty() {
        return;
    }
    let width = flow.width() - 16.0;
    let lines: Vec<_> = said.iter().flat_map(|words| flow.breaker.lines(words, NOTICE, width)).collect();
    let tall = NOTICE.leading * lines.len() as f32 + 9.0;
    let frame = figures::rect(SIDE, flow.y, flow.width(), tall);
    flow.put(Belongs::Nothing, figures::drawn(frame, 1.2, 0));
    flow.y += 4.5;
    let tag = flow.sheet.tag(flow.parent, Kind::Paragraph);
    flow.lines(lines, (SIDE + 8.0, NOTICE), Belongs::To(tag));
    flow.y += 4.5 + 6.0;
}

/// The job card: cells with a small name above a value.
fn card(flow: &mut Flow<'_>, fields: &[Field]) {
    let top = flow.y;
    let list = flow.sheet.tag(flow.parent, Kind::List);
    let cell = flow.width() / ACROSS as f32;
    for row in fields.chunks(ACROSS) {
        // A single cell takes the whole row.
        let wide = if row.len() == 1 { flow.width() } else { cell };
        let values: Vec<_> = row.iter().map(|field| flow.breaker.lines(&field.value, VALUE, wide - 14.0)).collect();
        let most = values.iter().map(Vec::len).max().unwrap_or(1);
        let tall = LABEL.leading + VALUE.leading * most as f32 + 6.0;
        let y = flow.y;
        for (column, (field, value)) in row.iter().zip(values).enumerate() {
            let x = SIDE + cell * column as f32 + 7.0;
            let item = flow.sheet.tag(list, Kind::Item);
            let label = flow.sheet.tag(item, Kind::Label);
            let name = flow.breaker.cut(&field.label, LABEL, wide - 14.0);
            flow.put(Belongs::To(label), stacked(vec![name], (x, y + 3.0), LABEL));
            let body = flow.sheet.tag(item, Kind::Body);
            flow.put(Belongs::To(body), stacked(value, (x, y + 3.0 + LABEL.leading), VALUE));
            if column > 0 {
                let at = SIDE + cell * column as f32;
                flow.put(Belongs::Nothing, figures::line((at, y), (at, y + tall), 0.5, 0));
            }
        }
        flow.y += tall;
        let rule = figures::line((SIDE, flow.y), (SIDE + flow.width(), flow.y), 0.5, 0);
        flow.put(Belongs::Nothing, rule);
    }
    let frame = figures::rect(SIDE, top, flow.width(), flow.y - top);
    flow.put(Belongs::Nothing, figures::drawn(frame, 0.9, 0));
}

/// Head of the pages after the first, and the foot of all: order, vehicle, page of how many.
pub fn every_page(flow: &mut Flow<'_>, report: &Report, shop: &ShopHeader) {
    let (width, height) = flow.size.points();
    let of = flow.sheet.pages.len();
    let right = width - SIDE;
    let who = [report.order.as_str(), report.vehicle.as_str()];
    let who: Vec<&str> = who.into_iter().filter(|text| !text.is_empty()).collect();
    for page in 0..of {
        let mut marks = Vec::new();
        if page > 0 {
            let title = flow.breaker.line(&report.title, EDGE);
            let shop = flow.breaker.cut(&shop.name, EDGE, flow.width() - title.width - 20.0);
            marks.extend(stacked(vec![shop], (SIDE, 30.0), EDGE));
            marks.extend(stacked(vec![title.clone()], (right - title.width, 30.0), EDGE));
            marks.extend(figures::line((SIDE, 42.0), (right, 42.0), 0.4, 120));
        }
        let foot = height - 48.0;
        marks.extend(figures::line((SIDE, foot), (right, foot), 0.4, 120));
        let number = flow.breaker.line(&report.page_words.page(page + 1, of), EDGE);
        let who = flow.breaker.cut(&who.join("  ·  "), EDGE, flow.width() - number.width - 20.0);
        marks.extend(stacked(vec![who], (SIDE, foot + 3.0), EDGE));
        marks.extend(stacked(vec![number.clone()], (right - number.width, foot + 3.0), EDGE));
        if !shop.footer.is_empty() {
            let words = flow.breaker.cut(&shop.footer, EDGE, flow.width());
            marks.extend(stacked(vec![words], (SIDE, foot + 3.0 + EDGE.leading), EDGE));
        }
        flow.sheet.put(page, Belongs::Page, marks);
    }
}

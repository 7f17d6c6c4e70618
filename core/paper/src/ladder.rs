//! The conductors as rungs on a shared ohm axis. The shape of a mark says what it is; no colour is needed.

use crate::face::Style;
use crate::figures::{circle, dashed, drawn, filled, line, polygon, polyline, rect};
use crate::flow::{Flow, SIDE, stacked};
use crate::sheet::{Belongs, Kind, Mark};
use evenwire_core::report::LadderPicture;
use evenwire_core::view;

const NAME: Style = Style { bold: true, size: 7.8, leading: 10.0, grey: 0 };
const VALUE: Style = Style { bold: false, size: 7.8, leading: 10.0, grey: 0 };
const SMALL: Style = Style { bold: false, size: 7.0, leading: 9.0, grey: 85 };
const GROUP: Style = Style { bold: true, size: 8.2, leading: 11.0, grey: 0 };
/// Most room for a name before the rail, and for a value, a difference and a word behind it.
const MOST: [f32; 4] = [116.0, 60.0, 96.0, 84.0];
/// Between two of them.
const GUTTER: f32 = 9.0;
/// Room under the rungs for the axis.
const AXIS: f32 = 18.0;
/// Fewest rungs that are drawn together.
const TOGETHER: usize = 4;

/// How far apart rungs stand: closer, the more there are.
fn pitch(picture: &LadderPicture) -> f32 {
    match picture.ladder.rungs.len() {
        0..=12 => 14.0,
        13..=24 => 12.0,
        _ => 10.5,
    }
}

/// Lines above the rungs.
fn head(picture: &LadderPicture) -> f32 {
    let group = if picture.ladder.group.is_empty() { 0.0 } else { GROUP.leading };
    let band = if picture.band_words.is_empty() { 0.0 } else { SMALL.leading };
    group + band + key_height(picture) + 2.0
}

fn key_height(picture: &LadderPicture) -> f32 {
    if picture.old_words.is_empty() && picture.limit_words.is_empty() { 0.0 } else { SMALL.leading + 1.0 }
}

/// What has to stand together: all of a small ladder, the first rungs of a large one.
pub fn lead(flow: &Flow<'_>, picture: &LadderPicture) -> f32 {
    let whole = head(picture) + pitch(picture) * picture.ladder.rungs.len() as f32 + AXIS;
    if whole <= flow.full() * 0.6 { whole } else { head(picture) + pitch(picture) * TOGETHER as f32 + AXIS }
}

/// Puts it down, in as many pieces as pages ask for; each has its axis.
pub fn place(flow: &mut Flow<'_>, picture: &LadderPicture) {
    let rungs = &picture.ladder.rungs;
    let mut from = 0;
    while from < rungs.len() {
        let above = if from == 0 { head(picture) } else { 4.0 };
        let fits = ((flow.left() - above - AXIS) / pitch(picture)).max(0.0) as usize;
        let rest = rungs.len() - from;
        if fits < rest.min(TOGETHER) && flow.left() < flow.full() {
            flow.new_page();
            continue;
        }
        let to = from + fits.clamp(1, rest);
        let tag = flow.sheet.tag(flow.parent, Kind::Figure(picture.alternative.clone()));
        let top = flow.y + above;
        let mut marks = Vec::new();
        if from == 0 {
            marks.extend(words_above(flow, picture));
        }
        marks.extend(piece(flow, picture, (from, to), top));
        flow.put(Belongs::To(tag), marks);
        flow.y = top + pitch(picture) * (to - from) as f32 + AXIS;
        from = to;
    }
    flow.gap(5.0);
}

fn words_above(flow: &Flow<'_>, picture: &LadderPicture) -> Vec<Mark> {
    let mut marks = Vec::new();
    let mut y = flow.y;
    let width = flow.width();
    if !picture.ladder.group.is_empty() {
        let words = flow.breaker.cut(&picture.ladder.group, GROUP, width);
        marks.extend(stacked(vec![words], (SIDE, y), GROUP));
        y += GROUP.leading;
    }
    if !picture.band_words.is_empty() {
        marks.extend(filled(rect(SIDE, y + 1.5, 9.0, 6.0), 215));
        let words = flow.breaker.cut(&picture.band_words, SMALL, width - 14.0);
        marks.extend(stacked(vec![words], (SIDE + 14.0, y), SMALL));
        y += SMALL.leading;
    }
    let mut x = SIDE + 4.0;
    let middle = y + SMALL.leading * 0.5;
    if !picture.old_words.is_empty() {
        marks.extend(diamond(x, middle));
        let words = flow.breaker.line(&picture.old_words, SMALL);
        let wide = words.width;
        marks.extend(stacked(vec![words], (x + 10.0, y), SMALL));
        x += 10.0 + wide + 16.0;
    }
    if !picture.limit_words.is_empty() {
        marks.extend(limit(x, middle));
        let words = flow.breaker.line(&picture.limit_words, SMALL);
        marks.extend(stacked(vec![words], (x + 8.0, y), SMALL));
    }
    marks
}

/// How the width is shared: what the texts need, the rest to the rail.
struct Columns {
    /// Widths of name, value, difference and word.
    texts: [f32; 4],
    /// Where the rail begins.
    start: f32,
    /// How wide it is.
    wide: f32,
}

fn columns(flow: &Flow<'_>, picture: &LadderPicture) -> Columns {
    let needed = |text: &dyn Fn(&view::Rung) -> (&str, Style)| {
        let one = |rung| flow.breaker.line(text(rung).0, text(rung).1).width;
        picture.ladder.rungs.iter().map(one).fold(0.0, f32::max) + 0.5
    };
    let asked = [
        needed(&|rung| (&rung.name, NAME)),
        needed(&|rung| (&rung.value, VALUE)),
        needed(&|rung| (&rung.difference, VALUE)),
        needed(&|rung| (&rung.word, NAME)),
    ];
    let mut texts = MOST;
    texts.iter_mut().zip(asked).for_each(|(most, asked)| *most = most.min(asked));
    let start = SIDE + texts[0] + GUTTER;
    let behind = texts[1] + texts[2] + texts[3] + 3.0 * GUTTER;
    Columns { texts, start, wide: flow.width() - texts[0] - GUTTER - behind }
}

fn piece(flow: &Flow<'_>, picture: &LadderPicture, (from, to): (usize, usize), top: f32) -> Vec<Mark> {
    let ladder = &picture.ladder;
    let step = pitch(picture);
    let columns = columns(flow, picture);
    let (start, wide) = (columns.start, columns.wide);
    let place = |at: u32| start + wide * at.min(1_000) as f32 / 1_000.0;
    let bottom = top + step * (to - from) as f32;
    let mut marks = Vec::new();
    if let Some(band) = &ladder.band {
        let left = place(band.from);
        marks.extend(filled(rect(left, top, (place(band.to) - left).max(1.0), bottom - top), 215));
        let reference = place(band.reference);
        marks.extend(dashed((reference, top), (reference, bottom), 0.6, 2.0));
    }
    for (index, rung) in ladder.rungs[from..to].iter().enumerate() {
        let y = top + step * (index as f32 + 0.5);
        marks.extend(line((start, y), (start + wide, y), 0.25, 150));
        marks.extend(on_the_rail(rung, &place, y));
        marks.extend(beside(flow, rung, (&columns, y)));
    }
    marks.extend(line((start, bottom + 2.0), (start + wide, bottom + 2.0), 0.6, 0));
    let mut taken = f32::MIN;
    for tick in &ladder.ticks {
        let at = place(tick.at);
        marks.extend(line((at, bottom + 2.0), (at, bottom + 5.0), 0.6, 0));
        let label = flow.breaker.line(&tick.label, SMALL);
        let x = at - label.width / 2.0;
        if x > taken {
            taken = x + label.width + 3.0;
            marks.extend(stacked(vec![label], (x, bottom + 5.5), SMALL));
        }
    }
    let axis = flow.breaker.line(&picture.axis_words, SMALL);
    marks.extend(stacked(vec![axis], (start + wide + 10.0, bottom - 1.0), SMALL));
    marks
}

/// Name before the rail, figures and word behind it.
fn beside(flow: &Flow<'_>, rung: &view::Rung, (columns, y): (&Columns, f32)) -> Vec<Mark> {
    let [names, values, differences, words] = columns.texts;
    let top = y - VALUE.leading * 0.5;
    let mut marks = Vec::new();
    let name = flow.breaker.cut(&rung.name, NAME, names);
    marks.extend(stacked(vec![name], (SIDE, top), NAME));
    let mut x = columns.start + columns.wide + GUTTER;
    for (text, room) in [(&rung.value, values), (&rung.difference, differences)] {
        let shown = flow.breaker.cut(text, VALUE, room);
        let at = x + room - shown.width;
        marks.extend(stacked(vec![shown], (at, top), VALUE));
        x += room + GUTTER;
    }
    let style = if rung.mark == view::Mark::Consistent { VALUE } else { NAME };
    let word = flow.breaker.cut(&rung.word, style, words);
    marks.extend(stacked(vec![word], (x, top), style));
    marks
}

/// Touches, uncertainty, old part, limit and the mark itself.
fn on_the_rail(rung: &view::Rung, place: &dyn Fn(u32) -> f32, y: f32) -> Vec<Mark> {
    let mut marks = Vec::new();
    if let Some(at) = rung.limit_at {
        marks.extend(limit(place(at), y));
    }
    for touch in &rung.touches {
        marks.extend(line((place(*touch), y - 2.4), (place(*touch), y + 2.4), 0.5, 0));
    }
    if let Some((from, to)) = rung.bar {
        let (from, to) = (place(from), place(to));
        marks.extend(line((from, y), (to, y), 1.1, 0));
        marks.extend(line((from, y - 2.0), (from, y + 2.0), 0.8, 0));
        marks.extend(line((to, y - 2.0), (to, y + 2.0), 0.8, 0));
    }
    if let Some(at) = rung.old_at {
        marks.extend(diamond(place(at), y));
    }
    // Without a number it stands at the far end by itself.
    let x = rung.at.map_or_else(|| place(1_000), place);
    marks.extend(sign(rung.mark, x, y));
    marks
}

fn diamond(x: f32, y: f32) -> Vec<Mark> {
    let shape = || polygon(&[(x, y - 3.6), (x + 3.6, y), (x, y + 3.6), (x - 3.6, y)]);
    filled(shape(), 255).into_iter().chain(drawn(shape(), 0.7, 0)).collect()
}

fn limit(x: f32, y: f32) -> Vec<Mark> {
    let bar = line((x, y - 4.4), (x, y + 4.4), 1.4, 0);
    let hook = drawn(polyline(&[(x - 2.6, y - 4.4), (x, y - 4.4)]), 1.0, 0);
    bar.into_iter().chain(hook).collect()
}

/// The mark of a finding.
fn sign(mark: view::Mark, x: f32, y: f32) -> Vec<Mark> {
    let r = 3.1;
    let ring = || filled(circle(x, y, r), 255).into_iter().chain(drawn(circle(x, y, r), 0.9, 0));
    match mark {
        view::Mark::Consistent => filled(circle(x, y, r), 0).into_iter().collect(),
        view::Mark::High => {
            filled(polygon(&[(x - 3.8, y + 3.0), (x + 3.8, y + 3.0), (x, y - 4.0)]), 0).into_iter().collect()
        }
        view::Mark::Low => {
            filled(polygon(&[(x - 3.8, y - 3.0), (x + 3.8, y - 3.0), (x, y + 4.0)]), 0).into_iter().collect()
        }
        view::Mark::Open => line((x - 3.4, y - 3.4), (x + 3.4, y + 3.4), 1.5, 0)
            .into_iter()
            .chain(line((x - 3.4, y + 3.4), (x + 3.4, y - 3.4), 1.5, 0))
            .collect(),
        view::Mark::Unstable => {
            let wave = [(-5.0, 1.5), (-2.5, -2.5), (0.0, 2.5), (2.5, -2.5), (5.0, 1.5)];
            drawn(polyline(&wave.map(|(dx, dy)| (x + dx, y + dy))), 1.3, 0).into_iter().collect()
        }
        // An open ring; one with a stroke in it is undecided, an empty dash was never measured.
        view::Mark::Undecided => ring().chain(line((x, y - 1.8), (x, y + 0.6), 0.9, 0)).collect(),
        view::Mark::NotMeasured => line((x - 3.2, y), (x + 3.2, y), 1.6, 0).into_iter().collect(),
    }
}

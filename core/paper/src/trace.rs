//! A sweep over time: the readings as a line, what counts as steady as a band, what stands out by number.

use crate::face::Style;
use crate::figures::{circle, dashed, drawn, filled, line, polyline, rect};
use crate::flow::{Flow, SIDE, stacked};
use crate::sheet::{Belongs, Kind, Mark};
use evenwire_core::report::TracePicture;
use evenwire_core::view::{Tick, TraceView};

const SMALL: Style = Style { bold: false, size: 6.8, leading: 8.6, grey: 85 };
const NUMBER: Style = Style { bold: true, size: 6.2, leading: 8.0, grey: 255 };
/// Room for the labels of the ohm axis.
const LABELS: f32 = 34.0;
/// Room above for the numbers of events.
const ABOVE: f32 = 14.0;
/// The plot itself.
const PLOT: f32 = 96.0;
/// Room below for time and marks.
const BELOW: f32 = 24.0;
/// Height of all of it.
pub const HEIGHT: f32 = ABOVE + PLOT + BELOW;

/// Where things stand in the plot.
struct Axes {
    x: f32,
    y: f32,
    width: f32,
}

impl Axes {
    fn time(&self, at: u32) -> f32 {
        self.x + self.width * at.min(1_000) as f32 / 1_000.0
    }

    fn ohm(&self, at: u32) -> f32 {
        self.y + PLOT * (1.0 - at.min(1_000) as f32 / 1_000.0)
    }
}

/// Puts it down.
pub fn place(flow: &mut Flow<'_>, picture: &TracePicture) {
    flow.room_for(HEIGHT);
    let tag = flow.sheet.tag(flow.parent, Kind::Figure(picture.alternative.clone()));
    let axes = Axes { x: SIDE + LABELS, y: flow.y + ABOVE, width: flow.width() - LABELS - 4.0 };
    let trace = &picture.trace;
    let mut marks = Vec::new();
    if let Some((low, high)) = trace.band {
        let top = axes.ohm(high);
        marks.extend(filled(rect(axes.x, top, axes.width, (axes.ohm(low) - top).max(0.8)), 225));
    }
    marks.extend(frame(flow, &axes, picture));
    marks.extend(readings(&axes, trace));
    marks.extend(events(flow, &axes, trace));
    flow.put(Belongs::To(tag), marks);
    flow.y += HEIGHT;
    flow.gap(4.0);
}

fn frame(flow: &Flow<'_>, axes: &Axes, picture: &TracePicture) -> Vec<Mark> {
    let trace = &picture.trace;
    let bottom = axes.y + PLOT;
    let mut marks: Vec<Mark> = Vec::new();
    marks.extend(line((axes.x, axes.y), (axes.x, bottom), 0.6, 0));
    marks.extend(line((axes.x, bottom), (axes.x + axes.width, bottom), 0.6, 0));
    for tick in &trace.ohm_ticks {
        let y = axes.ohm(tick.at);
        marks.extend(line((axes.x - 3.0, y), (axes.x, y), 0.6, 0));
        let label = flow.breaker.line(&tick.label, SMALL);
        let x = axes.x - 5.0 - label.width;
        marks.extend(stacked(vec![label], (x, y - SMALL.leading / 2.0), SMALL));
    }
    let unit = flow.breaker.line(&picture.axis_words, SMALL);
    marks.extend(stacked(vec![unit], (SIDE, axes.y - ABOVE + 1.0), SMALL));
    for mark in &trace.marks {
        let x = axes.time(mark.at);
        marks.extend(dashed((x, axes.y), (x, bottom), 0.3, 1.6));
    }
    for tick in &trace.time_ticks {
        let x = axes.time(tick.at);
        marks.extend(line((x, bottom), (x, bottom + 3.0), 0.6, 0));
    }
    marks.extend(row_of_labels(flow, axes, (&trace.time_ticks, bottom + 3.0)));
    marks.extend(row_of_labels(flow, axes, (&trace.marks, bottom + 3.0 + SMALL.leading)));
    marks
}

/// Labels side by side; one that would run into the one before is left out.
fn row_of_labels(flow: &Flow<'_>, axes: &Axes, (ticks, y): (&[Tick], f32)) -> Vec<Mark> {
    let mut marks = Vec::new();
    let mut taken = f32::MIN;
    for tick in ticks {
        let label = flow.breaker.line(&tick.label, SMALL);
        let most = axes.x + axes.width + 4.0 - label.width;
        let x = (axes.time(tick.at) - label.width / 2.0).clamp(axes.x - 4.0, most.max(axes.x));
        if x < taken {
            continue;
        }
        taken = x + label.width + 4.0;
        marks.extend(stacked(vec![label], (x, y), SMALL));
    }
    marks
}

fn readings(axes: &Axes, trace: &TraceView) -> Vec<Mark> {
    let mut marks: Vec<Mark> = Vec::new();
    for points in &trace.lines {
        let placed: Vec<(f32, f32)> = points.iter().map(|(at, ohm)| (axes.time(*at), axes.ohm(*ohm))).collect();
        match placed.as_slice() {
            [] => {}
            [(x, y)] => marks.extend(filled(circle(*x, *y, 0.9), 0)),
            many => marks.extend(drawn(polyline(many), 0.8, 0)),
        }
    }
    // Over-range: a thick bar at the top edge.
    for (from, to) in &trace.outs {
        let (from, to) = (axes.time(*from), axes.time(*to));
        marks.extend(filled(rect(from, axes.y - 1.5, (to - from).max(1.2), 4.0), 0));
    }
    marks
}

fn events(flow: &Flow<'_>, axes: &Axes, trace: &TraceView) -> Vec<Mark> {
    let mut marks: Vec<Mark> = Vec::new();
    let mut taken = f32::MIN;
    for event in &trace.events {
        let middle = (axes.time(event.from) + axes.time(event.to)) / 2.0;
        let x = middle.max(taken);
        if x > axes.x + axes.width {
            break;
        }
        let y = axes.y - 7.5;
        marks.extend(line((middle, axes.y - 2.0), (x, y + 4.0), 0.5, 0));
        marks.extend(filled(circle(x, y, 4.6), 0));
        let number = flow.breaker.line(&event.number.to_string(), NUMBER);
        let at = x - number.width / 2.0;
        marks.extend(stacked(vec![number], (at, y - NUMBER.leading / 2.0), NUMBER));
        taken = x + 10.0;
    }
    marks
}

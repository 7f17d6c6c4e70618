//! Shapes as paths.

use crate::sheet::Mark;
use krilla::geom::{Path, PathBuilder, Rect};

/// How far a curve's handles stand out for a quarter of a circle.
const QUARTER: f32 = 0.552_285;

fn built(draw: impl FnOnce(&mut PathBuilder)) -> Option<Path> {
    let mut path = PathBuilder::new();
    draw(&mut path);
    path.finish()
}

/// A line through points.
pub fn polyline(points: &[(f32, f32)]) -> Option<Path> {
    let (first, rest) = points.split_first()?;
    built(|path| {
        path.move_to(first.0, first.1);
        rest.iter().for_each(|(x, y)| path.line_to(*x, *y));
    })
}

/// The same, closed.
pub fn polygon(points: &[(f32, f32)]) -> Option<Path> {
    let (first, rest) = points.split_first()?;
    built(|path| {
        path.move_to(first.0, first.1);
        rest.iter().for_each(|(x, y)| path.line_to(*x, *y));
        path.close();
    })
}

/// A rectangle by its top left corner.
pub fn rect(x: f32, y: f32, width: f32, height: f32) -> Option<Path> {
    let rect = Rect::from_xywh(x, y, width.max(0.01), height.max(0.01))?;
    built(|path| path.push_rect(rect))
}

/// A circle.
pub fn circle(x: f32, y: f32, r: f32) -> Option<Path> {
    let k = r * QUARTER;
    built(|path| {
        path.move_to(x + r, y);
        path.cubic_to(x + r, y + k, x + k, y + r, x, y + r);
        path.cubic_to(x - k, y + r, x - r, y + k, x - r, y);
        path.cubic_to(x - r, y - k, x - k, y - r, x, y - r);
        path.cubic_to(x + k, y - r, x + r, y - k, x + r, y);
        path.close();
    })
}

/// A filled shape.
pub fn filled(path: Option<Path>, grey: u8) -> Option<Mark> {
    path.map(|path| Mark::Fill { path, grey })
}

/// A drawn shape.
pub fn drawn(path: Option<Path>, width: f32, grey: u8) -> Option<Mark> {
    path.map(|path| Mark::Line { path, width, grey, dash: None })
}

/// A straight line.
pub fn line(from: (f32, f32), to: (f32, f32), width: f32, grey: u8) -> Option<Mark> {
    drawn(polyline(&[from, to]), width, grey)
}

/// A dashed line.
pub fn dashed(from: (f32, f32), to: (f32, f32), width: f32, dash: f32) -> Option<Mark> {
    polyline(&[from, to]).map(|path| Mark::Line { path, width, grey: 0, dash: Some(dash) })
}

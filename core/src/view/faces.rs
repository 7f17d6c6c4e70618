//! Connector faces: cavities row by row, as seen from the mating side, and mirrored for the wire side.

use super::model::{CavityView, Face, PartView};
use crate::job::Job;
use crate::part::{End, Part, Point};

/// The faces of a part; `clips`: where the clips go now.
pub(super) fn of(part: &Part, clips: &[Point]) -> Vec<Face> {
    part.connectors
        .iter()
        .enumerate()
        .map(|(index, connector)| {
            let rows = connector.rows.clamp(1, 4);
            let columns = connector.cavities.min(crate::part::MAX_CAVITIES).div_ceil(rows);
            let cavity = |number: u8| {
                let (row, column) = ((number - 1) / columns, (number - 1) % columns);
                let (conductor, state) = at(part, (index, number), clips);
                CavityView { number, row, column, mirror_column: columns - 1 - column, conductor, state }
            };
            let cavities = (1..=connector.cavities.min(crate::part::MAX_CAVITIES)).map(cavity).collect();
            Face { name: connector.name.clone(), rows, columns, cavities }
        })
        .collect()
}

fn at(part: &Part, (connector, cavity): (usize, u8), clips: &[Point]) -> (Option<u32>, String) {
    let here = |end: &End| usize::from(end.connector) == connector && end.cavity == cavity;
    let clipped = |point: Point| usize::from(point.connector()) == connector && point.cavity() == cavity;
    let conductor = (0u32..).zip(&part.conductors).find(|(_, c)| here(&c.from) || here(&c.to));
    let state = match conductor {
        _ if clips.iter().any(|point| clipped(*point)) => "clip",
        None => "free",
        Some((index, _)) if part.clip_points(index as usize).is_err() => "never",
        Some(_) => "used",
    };
    (conductor.map(|(index, _)| index), state.to_owned())
}

/// The part of a job with its faces.
pub(super) fn part_of(job: &Job, clips: &[Point]) -> Option<PartView> {
    let part = job.part.as_ref()?;
    Some(PartView { part: part.clone(), faces: of(part, clips), fixed: job.was_measured() || job.finished.is_some() })
}

/// An end in words: "A6", or "wheel/6" where the plug has a longer name (plug/cavity, as circuit diagrams write it:
/// common practice, no source).
pub(crate) fn end_name(part: &Part, end: &End) -> String {
    let connector = part.connectors.get(usize::from(end.connector)).map_or("?", |c| c.name.as_str());
    match connector.chars().count() {
        0..=2 => format!("{connector}{}", end.cavity),
        _ => format!("{connector}/{}", end.cavity),
    }
}

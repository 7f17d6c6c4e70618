//! What lies off the baseline: which readings, which of them belong together, and what to call it.

use super::level::Baseline;
use super::numbers::below;
use super::{EventKind, Point, Spacing, SweepEvent, at_one_place};

/// All events of a cleaned stream, in time order.
pub(super) fn found(points: &[Point], base: &Baseline, threshold: f64, spacing: &Spacing) -> Vec<SweepEvent> {
    let marked: Vec<usize> = (0..points.len())
        .filter(|&i| points[i].ohms.is_none_or(|x| below(threshold, (x - base.at(points[i].t)).abs())))
        .collect();
    let belongs = |a: usize, b: usize| match b - a {
        1 => true,
        2 => !spacing.gap_between(points[a].t, points[b].t),
        _ => false,
    };
    marked
        .chunk_by(|a, b| belongs(*a, *b))
        .map(|run| {
            let run: Vec<&Point> = run.iter().map(|&i| &points[i]).collect();
            name_run(&run, base, threshold, spacing.usual)
        })
        .collect()
}

/// Names a run of readings that belong together. `run` is never empty.
fn name_run(run: &[&Point], base: &Baseline, threshold: f64, usual_interval: f64) -> SweepEvent {
    let start = run[0].t;
    let duration = run[run.len() - 1].t - start + usual_interval;
    let lost = run.iter().find(|p| p.ohms.is_none());
    if let Some(lost) = lost {
        let kind = EventKind::Dropout;
        return SweepEvent { kind, start, duration, samples: run.len(), peak: None, angle: lost.angle };
    }
    let mut peak = (0.0_f64, None);
    for point in run {
        let off = point.ohms.unwrap_or(0.0) - base.at(point.t);
        if off.abs() > peak.0.abs() {
            peak = (off, point.angle);
        }
    }
    let jump = run.len() >= 2 || below(2.0 * threshold, peak.0.abs());
    let kind = if jump { EventKind::Jump } else { EventKind::Spike };
    SweepEvent { kind, start, duration, samples: run.len(), peak: Some(peak.0), angle: peak.1 }
}

/// True when two events lie within 15 degrees: a fault that comes back at the same place.
pub(super) fn two_at_one_place(events: &[SweepEvent]) -> bool {
    let angles: Vec<f64> = events.iter().filter_map(|event| event.angle).collect();
    angles.iter().enumerate().any(|(i, a)| angles[i + 1..].iter().any(|b| at_one_place(*a, *b)))
}

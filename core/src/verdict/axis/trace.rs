//! Where readings, times and places of the way of a sweep stand in its picture, in thousandths.

use super::{Axis, Band};
use crate::meter::Shown;
use crate::sweep::numbers::{below, median};
use crate::sweep::plan::{Movement, PlacedMark, UNEVEN_SHARE, degrees};
use crate::sweep::written::{Finding, FoundEvent};
use crate::sweep::{at_one_place, is_gap};
use crate::unit::{Figure, Millis};

/// Points of the drawn lines, about: more readings are drawn as lowest and highest of a stretch of time. At most two
/// more for every line, and four times as many in all, however the trace is torn.
pub(crate) const MOST_POINTS: usize = 600;
/// A picture spans at least so many seconds.
const SHORTEST_S: f64 = 10.0;

/// A hand is at a mark within a tenth of a turn or of the way, however well it keeps time. Common practice, no source.
const HAND_MILLI: f64 = 100.0;

/// A sweep with its axes: readings in, thousandths and labels out.
pub(crate) struct Picture {
    first: Millis,
    dots: Vec<Dot>,
    usual: f64,
    times: Times,
    steady: Option<Steady>,
    band: Option<Band>,
    axis: Axis,
}

impl Picture {
    /// The picture of readings as they came, with what was found in them; `ended`: no more will come.
    pub(crate) fn of(readings: &[(Millis, Shown)], finding: Option<&Finding>, ended: bool) -> Picture {
        let dots = dots(readings);
        let steady = finding.and_then(Steady::of);
        let band = steady.map(|s| s.band(dots.last().map_or(0.0, |(t, _)| *t)));
        Picture {
            first: readings.first().map_or(Millis(0), |(at, _)| *at),
            usual: usual(&dots),
            times: Times::over(&dots, ended),
            axis: ohms(&dots, band),
            steady,
            band,
            dots,
        }
    }

    /// The ohm axis is logarithmic.
    pub(crate) fn is_logarithmic(&self) -> bool {
        self.axis.is_logarithmic()
    }

    /// Labels of the ohm axis.
    pub(crate) fn ohm_ticks(&self) -> Vec<(u32, String)> {
        self.axis.ticks()
    }

    /// Labels of the time axis.
    pub(crate) fn time_ticks(&self) -> Vec<(u32, String)> {
        self.times.ticks()
    }

    /// A moment on the time axis.
    pub(crate) fn moment(&self, at: Millis) -> u32 {
        self.times.place(at.since(self.first).0 as f64 / 1_000.0)
    }

    /// What counts as steady, on the ohm axis.
    pub(crate) fn band(&self) -> Option<(u32, u32)> {
        self.band.map(|band| (self.axis.place(band.from), self.axis.place(band.to)))
    }

    /// The trace, as [`lines`].
    pub(crate) fn lines(&self) -> Vec<Vec<(u32, u32)>> {
        lines(&self.dots, self.usual, &self.times, &self.axis)
    }

    /// Over-range, as [`outs`].
    pub(crate) fn outs(&self) -> Vec<(u32, u32)> {
        outs(&self.dots, self.usual, &self.times)
    }

    /// Begin and end of an event on the time axis, and its peak on the ohm axis.
    pub(crate) fn event(&self, event: &FoundEvent) -> (u32, u32, Option<u32>) {
        let start = event.start.read();
        let peak = self.steady.zip(event.peak.as_ref());
        (
            self.times.place(start),
            self.times.place(start + event.duration.read()),
            peak.map(|(steady, peak)| self.axis.place(steady.at(start) + peak.read())),
        )
    }
}

/// An event on the way of the part: on its axis, and in thousandths of a turn or of the movement.
pub(crate) struct Spot {
    pub(crate) at: u32,
    pub(crate) from: u32,
    pub(crate) to: u32,
    pub(crate) milli: i32,
    /// How far off that may be.
    pub(crate) off: i32,
}

/// Two events are at one place, as far as both places are known.
pub(crate) fn repeats(a: &FoundEvent, b: &FoundEvent) -> bool {
    let angles = a.angle.as_ref().zip(b.angle.as_ref());
    angles.is_some_and(|(a, b)| at_one_place(a.read(), b.read()))
}

/// A reading on the time axis: seconds from the first, ohm, `None` for over-range.
pub(crate) type Dot = (f64, Option<f64>);

/// Readings as dots.
pub(crate) fn dots(readings: &[(Millis, Shown)]) -> Vec<Dot> {
    let first = readings.first().map_or(Millis(0), |(at, _)| *at);
    let dot = |(at, shown): &(Millis, Shown)| {
        let t = at.since(first).0 as f64 / 1_000.0;
        match shown {
            Shown::Value(value) => Some((t, Some(value.to_f64()))),
            Shown::OverRange => Some((t, None)),
            Shown::Blank => None,
        }
    };
    readings.iter().filter_map(dot).collect()
}

/// The time axis: while a sweep runs it grows in steps, so that the picture stands still in between.
pub(crate) struct Times {
    /// Seconds at its end.
    pub(crate) end: f64,
}

impl Times {
    pub(crate) fn over(dots: &[Dot], ended: bool) -> Times {
        let last = dots.last().map_or(0.0, |(t, _)| *t);
        let end = if ended { last } else { (last / SHORTEST_S).ceil() * SHORTEST_S };
        Times { end: end.max(SHORTEST_S) }
    }

    pub(crate) fn place(&self, t: f64) -> u32 {
        ((t / self.end).clamp(0.0, 1.0) * 1_000.0).round() as u32
    }

    /// Round seconds, six labels at most.
    pub(crate) fn ticks(&self) -> Vec<(u32, String)> {
        let steps = [2.0, 5.0, 10.0, 20.0, 60.0, 120.0];
        let long = (self.end / 1_800.0).ceil() * 300.0;
        let step = steps.into_iter().find(|step| self.end / step <= 6.0).unwrap_or(long);
        let count = (self.end / step).floor() as u32;
        (0..=count).map(|n| (self.place(f64::from(n) * step), format!("{} s", f64::from(n) * step))).collect()
    }
}

/// The level a trace runs along, and how far off it may be.
#[derive(Clone, Copy)]
pub(crate) struct Steady {
    level: f64,
    slope: f64,
    pub(crate) threshold: f64,
}

impl Steady {
    pub(crate) fn of(finding: &Finding) -> Option<Steady> {
        Some(Steady {
            level: finding.baseline.as_ref()?.read(),
            slope: finding.slope.as_ref().map_or(0.0, Figure::read),
            threshold: finding.threshold.as_ref()?.read(),
        })
    }

    pub(crate) fn at(&self, t: f64) -> f64 {
        self.level + self.slope * t
    }

    /// The band over the whole trace: drift widens it.
    pub(crate) fn band(&self, end: f64) -> Band {
        let (first, last) = (self.at(0.0), self.at(end));
        Band { from: first.min(last) - self.threshold, to: first.max(last) + self.threshold }
    }
}

/// The ohm axis: twice the band at least, so that the noise of a steady trace looks flat.
pub(crate) fn ohms(dots: &[Dot], band: Option<Band>) -> Axis {
    let finite = || dots.iter().filter_map(|(_, ohm)| *ohm);
    let mut values: Vec<f64> = finite().reduce(f64::min).into_iter().chain(finite().reduce(f64::max)).collect();
    if let Some(band) = band {
        let half = (band.to - band.from) / 2.0;
        values.extend([band.from - half, band.to + half]);
    }
    Axis::over(&values, band)
}

/// The trace as lines, interrupted where nothing was read or over-range was shown. `usual` as of [`usual`].
pub(crate) fn lines(dots: &[Dot], usual: f64, times: &Times, axis: &Axis) -> Vec<Vec<(u32, u32)>> {
    let joined = |a: &Dot, b: &Dot| a.1.is_some() && b.1.is_some() && !is_gap(b.0 - a.0, usual);
    let runs: Vec<&[Dot]> = dots.chunk_by(joined).filter(|run| run[0].1.is_some()).collect();
    let point = |(t, ohm): &Dot| (times.place(*t), axis.place(ohm.unwrap_or(0.0)));
    if runs.iter().map(|run| run.len()).sum::<usize>() <= MOST_POINTS {
        return runs.into_iter().map(|run| run.iter().map(point).collect()).collect();
    }
    // Every bucket gives two points at most to a run …
    let width = times.end / (MOST_POINTS / 2) as f64;
    let bucket = |dot: &Dot| (dot.0 / width).floor();
    // … and of the runs that lie wholly in it two are drawn at most: a contact that flickers makes thousands.
    let within = |run: &[Dot]| Some(bucket(&run[0])).filter(|first| *first == bucket(&run[run.len() - 1]));
    let together = runs.chunk_by(|a, b| within(a).is_some() && within(a) == within(b));
    let seen = together.flat_map(|runs| outermost(runs, |run| run.iter()));
    seen.map(|run| run.chunk_by(|a, b| bucket(a) == bucket(b)))
        .map(|stretches| stretches.flat_map(|dots| outermost(dots, std::iter::once)).map(point).collect())
        .collect()
}

/// The one with the lowest and the one with the highest reading, in their order; one or two.
fn outermost<'a, T, D: Iterator<Item = &'a Dot>>(all: &'a [T], dots: impl Fn(&'a T) -> D) -> Vec<&'a T> {
    let each = || all.iter().enumerate().flat_map(|(i, one)| dots(one).map(move |dot| (dot.1.unwrap_or(0.0), i)));
    let low = each().min_by(|a, b| a.0.total_cmp(&b.0));
    let high = each().max_by(|a, b| a.0.total_cmp(&b.0));
    let mut found: Vec<usize> = low.into_iter().chain(high).map(|(_, i)| i).collect();
    found.sort_unstable();
    found.dedup();
    found.into_iter().map(|i| &all[i]).collect()
}

/// Stretches of over-range on the time axis, from the first such reading to the next value, or to a hole: what was not
/// read is not known to be open. Those that touch in the picture are one. `usual` as of [`usual`].
pub(crate) fn outs(dots: &[Dot], usual: f64, times: &Times) -> Vec<(u32, u32)> {
    let mut found: Vec<(u32, u32)> = Vec::new();
    let mut at = 0;
    for run in dots.chunk_by(|a, b| a.1.is_none() == b.1.is_none() && !is_gap(b.0 - a.0, usual)) {
        at += run.len();
        if run[0].1.is_some() {
            continue;
        }
        let last = run[run.len() - 1].0;
        let end = dots.get(at).map(|(t, _)| *t).filter(|t| !is_gap(t - last, usual));
        let (from, to) = (times.place(run[0].0), times.place(end.unwrap_or(last + usual)));
        match found.last_mut() {
            Some(before) if from <= before.1 => before.1 = to.max(before.1),
            _ => found.push((from, to)),
        }
    }
    found
}

/// The usual interval between readings, seconds.
pub(crate) fn usual(dots: &[Dot]) -> f64 {
    let intervals: Vec<f64> = dots.windows(2).map(|pair| pair[1].0 - pair[0].0).collect();
    median(&intervals).unwrap_or(0.0)
}

/// The way of the part as an axis.
pub(crate) struct Way {
    from: f64,
    to: f64,
}

impl Way {
    pub(crate) fn of(movement: Movement) -> Way {
        match movement {
            Movement::Turns { each_side } => {
                let end = f64::from(each_side.max(1)) * 1_000.0;
                Way { from: -end, to: end }
            }
            Movement::Flexes { .. } => Way { from: 0.0, to: 1_000.0 },
        }
    }

    pub(crate) fn place(&self, milli: f64) -> u32 {
        (((milli - self.from) / (self.to - self.from)).clamp(0.0, 1.0) * 1_000.0).round() as u32
    }

    /// Where an event lies; `None` without a place.
    pub(crate) fn spot(&self, marks: &[PlacedMark], event: &FoundEvent) -> Option<Spot> {
        let milli = event.angle.as_ref()?.read() / degrees(1.0);
        let off = off(marks, milli);
        Some(Spot {
            at: self.place(milli),
            from: self.place(milli - off),
            to: self.place(milli + off),
            milli: milli.round() as i32,
            off: off.ceil() as i32,
        })
    }

    /// Where the way is labelled, with what: every turn, or every so many; both ends of a movement.
    pub(crate) fn ticks(&self) -> Vec<(u32, i32)> {
        self.stops().into_iter().map(|milli| (self.place(f64::from(milli)), milli)).collect()
    }

    fn stops(&self) -> Vec<i32> {
        let turns = (self.to / 1_000.0).round() as i32;
        if self.from == 0.0 {
            return vec![0, 1_000];
        }
        let every = usize::try_from((turns + 2) / 3).unwrap_or(1).max(1);
        let right = (0..=turns).step_by(every).map(|t| t * 1_000);
        let mut stops: Vec<i32> = right.flat_map(|t| [-t, t]).collect();
        stops.sort_unstable();
        stops.dedup();
        stops
    }
}

/// How far off a place may be, thousandths: a hand's at a mark, a share of the way between two. Asked of the place, not
/// of the event's start: an event that begins at a mark has its peak beyond it.
pub(crate) fn off(marks: &[PlacedMark], milli: f64) -> f64 {
    let way = |pair: &[PlacedMark]| {
        let (a, b) = (f64::from(pair[0].milli), f64::from(pair[1].milli));
        let between = below(a.min(b), milli) && below(milli, a.max(b));
        between.then_some((a - b).abs() * UNEVEN_SHARE)
    };
    marks.windows(2).filter_map(way).fold(HAND_MILLI, f64::max)
}

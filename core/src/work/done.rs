//! Whether what was entered at a step makes it done, by its kind. What is measured is looked at by the job.

use super::decide::StepRefusal;
use super::entry::{CentreEntry, StepEntry};
use super::state::Work;
use super::wait::{WaitOver, Waiting};
use crate::dtc::{NotATroubleCode, TroubleCode};
use crate::procedure::{Amount, Centre, CodesWhen, LiveValue, Measure, ProveDead, Step, StepKind, Torque};
use crate::record::{CentredHow, Done};
use crate::torque::{self, Adapter};
use crate::unit::{Decimal, Now, NumberError, Quantity, Unit};

/// A known live source reads at least this, volt (our own limit): a meter that shows less is not proven to work.
const ALIVE_VOLT: i64 = 1;
/// Counted by hand, turns come out so exactly (common practice, no source), hundredths of a turn.
const TURNS_ALIKE: i64 = 50;
/// Wall and boot clock may differ so far over a wait before it is noted, ms.
const WALL_APART_MS: i64 = 5_000;
/// Most codes of one scan.
const MAX_CODES: usize = 200;

/// What was entered comes to.
#[derive(Debug)]
pub(super) enum Entered {
    /// The step is done.
    Done(Done),
    /// It is not: a supply was seen where none may be.
    Alive(Quantity),
}

impl Work {
    /// What `entry` comes to at `step`.
    ///
    /// # Errors
    /// What is missing or wrong; nothing changes.
    pub(super) fn entered(&self, step: &Step, entry: &StepEntry, now: &Now) -> Result<Entered, StepRefusal> {
        let done = match (&step.kind, entry) {
            (_, StepEntry::NotTested) if step.may_be_untested() => Done::NotTested,
            (StepKind::Do | StepKind::Check | StepKind::Note | StepKind::Photo { .. }, StepEntry::Tick) => Done::Ticked,
            (StepKind::Wait(wait), StepEntry::Tick) => match self.waiting(wait, now) {
                Waiting::Over(over) => self.waited(&over, now),
                Waiting::Counting { left, .. } => return Err(StepRefusal::Wait { left_s: left.0.div_ceil(1_000) }),
                Waiting::Stopped(_) => return Err(StepRefusal::WaitStopped),
            },
            (StepKind::ProveDead(prove), StepEntry::ProveDead { before, points, after }) => {
                return proven(prove, (before, points, after));
            }
            (StepKind::Codes(codes), StepEntry::Codes { list, none_stored, no_scanner, lamp }) => {
                let codes_read = listed(list, *none_stored, *no_scanner)?;
                if codes.when == CodesWhen::After && lamp.is_none() {
                    return Err(StepRefusal::Empty { field: "lamp".into() });
                }
                Done::Codes { codes: codes_read, no_scanner: *no_scanner, lamp: *lamp }
            }
            (StepKind::Centre(centre), StepEntry::Centre(entry)) => Done::Centred { how: centred(centre, entry)? },
            (StepKind::Torque(torque), StepEntry::Torque { wrench, most, new_fastener, angle_turned }) => {
                tightened(torque, (wrench, most), (*new_fastener, *angle_turned))?
            }
            (StepKind::LiveValue(live), StepEntry::Value { values }) => read(live, values)?,
            (StepKind::Sign(sign), StepEntry::Sign { outcome }) => match (sign.closes, outcome) {
                (true, None) => return Err(StepRefusal::Empty { field: "outcome".into() }),
                (closes, outcome) => Done::Signed { outcome: outcome.filter(|_| closes) },
            },
            (StepKind::Part(part), StepEntry::Part { number, origin, from }) => {
                let (number, from) = (written("number", number)?, written("from", from)?);
                if !part.may_be.contains(origin) {
                    return Err(StepRefusal::Origin);
                }
                Done::PartChosen { number, origin: *origin, from }
            }
            _ => return Err(StepRefusal::OtherKind),
        };
        Ok(Entered::Done(done))
    }

    fn waited(&self, over: &WaitOver, now: &Now) -> Done {
        let began = self.held.get(&crate::procedure::Fact::CableOff).map(|held| held.wall.unix_millis());
        let by_wall = began.map(|began| now.wall.unix_millis().saturating_sub(began));
        let passed = i64::try_from(over.passed.0).unwrap_or(i64::MAX);
        let apart = by_wall.map(|wall| wall.saturating_sub(passed)).filter(|apart| apart.abs() > WALL_APART_MS);
        Done::Waited { from_ms: over.from, required_ms: over.required, passed_ms: over.passed, wall_apart_ms: apart }
    }
}

fn refused(field: &str, why: NumberError) -> StepRefusal {
    match why {
        NumberError::Empty => StepRefusal::Empty { field: field.into() },
        why => StepRefusal::Number { field: field.into(), ambiguous: why == NumberError::Ambiguous },
    }
}

/// A text that is there and short enough to be kept.
pub(super) fn written(field: &str, text: &str) -> Result<String, StepRefusal> {
    let text = text.trim();
    let fits = text.chars().count() <= super::decide::MAX_WORDS;
    match (text.is_empty(), fits) {
        (true, _) => Err(StepRefusal::Empty { field: field.into() }),
        (_, false) => Err(StepRefusal::TooLong { field: field.into() }),
        _ => Ok(text.to_owned()),
    }
}

fn proven(prove: &ProveDead, (before, points, after): (&str, &[String], &str)) -> Result<Entered, StepRefusal> {
    let volt = |field: &str, text: &str| Quantity::typed(text, Unit::Volt, false).map_err(|why| refused(field, why));
    let alive = |read: Quantity| {
        let least = Quantity::new(ALIVE_VOLT, 0, Unit::Volt).expect("no places");
        let size = Quantity::new(read.digits().saturating_abs(), read.places(), Unit::Volt);
        size.and_then(|size| size.compare(least)).is_some_and(|order| order.is_ge())
    };
    let limit = prove.limit.quantity().ok_or(StepRefusal::OtherKind)?;
    let above = |read: &Quantity| {
        let size = Quantity::new(read.digits().saturating_abs(), read.places(), Unit::Volt);
        !size.and_then(|size| size.compare(limit)).is_some_and(|order| order.is_le())
    };
    // A supply that is seen is seen, whatever else was typed or is missing.
    if let Some(live) = points.iter().filter_map(|text| volt("point", text).ok()).find(above) {
        return Ok(Entered::Alive(live));
    }
    let before = volt("before", before)?;
    if !alive(before) {
        return Err(StepRefusal::KnownSource { field: "before".into() });
    }
    if points.len() != prove.points.len() {
        return Err(StepRefusal::Empty { field: format!("point-{}", points.len()) });
    }
    let mut read = Vec::new();
    for (index, text) in points.iter().enumerate() {
        read.push(volt(&format!("point-{index}"), text)?);
    }
    let after = volt("after", after)?;
    if !alive(after) {
        return Err(StepRefusal::KnownSource { field: "after".into() });
    }
    Ok(Entered::Done(Done::ProvenDead { before, points: read, after }))
}

fn listed(list: &str, none_stored: bool, no_scanner: bool) -> Result<Vec<TroubleCode>, StepRefusal> {
    let lines = list.split(['\n', ',', ';']).map(str::trim).filter(|line| !line.is_empty());
    let codes = lines.map(|line| match TroubleCode::parse(line) {
        Ok(code) => Ok(code),
        Err(NotATroubleCode::NoCode | NotATroubleCode::Empty | NotATroubleCode::NotPrintable) => {
            Err(StepRefusal::Code { text: line.chars().take(crate::dtc::MAX_OWN).collect() })
        }
    });
    let mut codes: Vec<TroubleCode> = codes.collect::<Result<_, _>>()?;
    if codes.len() > MAX_CODES {
        return Err(StepRefusal::TooLong { field: "list".into() });
    }
    codes.sort();
    codes.dedup();
    // An empty list says nothing: that there is none is told, not left open.
    match (codes.is_empty(), none_stored || no_scanner) {
        (true, false) => Err(StepRefusal::Empty { field: "list".into() }),
        (false, true) => Err(StepRefusal::CodesAndNone),
        _ => Ok(codes),
    }
}

fn centred(centre: &Centre, entry: &CentreEntry) -> Result<CentredHow, StepRefusal> {
    if entry.sealed {
        return Ok(CentredHow::Sealed);
    }
    let turns = |field: &str, text: &str| Amount::typed(text, Measure::Turn, false).map_err(|why| refused(field, why));
    let (total, left, right) =
        (turns("total", &entry.total)?, turns("left", &entry.left)?, turns("right", &entry.right)?);
    let alike = Amount::new(TURNS_ALIKE, 2, Measure::Turn).expect("few digits");
    if !total.apart_at_most(centre.total, alike) {
        return Err(StepRefusal::TurnsUnlikePublished);
    }
    if !(centre.free_each_side.at_most(left) && centre.free_each_side.at_most(right)) {
        return Err(StepRefusal::TooFewTurns);
    }
    if !left.apart_at_most(right, alike) {
        return Err(StepRefusal::SidesUnlike);
    }
    Ok(CentredHow::Counted { total, left, right })
}

fn tightened(torque: &Torque, (wrench, most): (&str, &str), ticks: (bool, bool)) -> Result<Done, StepRefusal> {
    let wrench = written("wrench", wrench)?;
    let typed = Some(most).filter(|most| !most.trim().is_empty());
    let most = typed.map(|most| Amount::typed(most, torque.value.measure(), false)).transpose();
    let wrench_most = most.map_err(|why| refused("most", why))?;
    if torque.new_fastener && !ticks.0 {
        return Err(StepRefusal::NewFastener);
    }
    if torque.angle.is_some() && !ticks.1 {
        return Err(StepRefusal::AngleNotTurned);
    }
    Ok(Done::Tightened { value: torque.value, wrench, set_to: torque.set_to(), wrench_most })
}

impl Torque {
    /// Least and most a wrench's largest setting may be for it to be exact at what it is set to here: the setting, and
    /// five times that (see [`torque::Torque::suits`]).
    pub fn wrench_most(&self) -> Option<(Amount, Amount)> {
        let set = self.set_to().unwrap_or(self.value);
        let (digits, places) = (set.value().digits(), set.value().places());
        Some((set, Amount::new(digits.checked_mul(5)?, places, set.measure())?))
    }

    /// What the wrench is set to with the adapter straight on it, in the published unit, to a tenth; `None` without an
    /// adapter.
    pub fn set_to(&self) -> Option<Amount> {
        let (wrench, adapter) = self.lengths?;
        let unit = self.value.measure().torque_unit()?;
        let published = torque::Torque::new(self.value.value(), unit).ok()?;
        let straight = Adapter { length: adapter.value(), angle_degree: Decimal::new(0, 0)? };
        let set = torque::setting(published, wrench.value(), straight).ok()?;
        // Shown to a tenth: no click wrench is set finer.
        let tenths = (set.value().to_f64() * 10.0).round();
        Amount::new(tenths as i64, 1, self.value.measure())
    }
}

fn read(live: &LiveValue, values: &[String]) -> Result<Done, StepRefusal> {
    let measure = live.target.map(|(target, _)| target).or(live.steady_within).map(Amount::measure);
    let measure = measure.ok_or(StepRefusal::OtherKind)?;
    let wanted = if live.steady_within.is_some() { 2 } else { 1 };
    if values.len() != wanted {
        return Err(StepRefusal::Empty { field: format!("value-{}", values.len().min(wanted)) });
    }
    let one = |(index, text): (usize, &String)| {
        let field = format!("value-{index}");
        Amount::typed(text, measure, false).map_err(|why| refused(&field, why))
    };
    let values: Vec<Amount> = values.iter().enumerate().map(one).collect::<Result<_, _>>()?;
    let near =
        live.target.is_none_or(|(target, tolerance)| values.iter().all(|value| value.apart_at_most(target, tolerance)));
    let steady = live.steady_within.is_none_or(|most| values[0].apart_at_most(values[values.len() - 1], most));
    Ok(Done::Read { values, within: near && steady })
}

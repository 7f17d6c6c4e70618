//! From what a meter tells and a person types to the instrument of the record.

use super::connection::Connection;
use super::entered;
use crate::job::{MeterSpecEntry, Refusal};
use crate::meter::link::Source;
use crate::meter::{MAX_RESTRAINT_MICROAMPERE, Shown};
use crate::record::Instrument;
use crate::unit::{Day, Quantity, Unit};

/// The instrument as the meter tells it and the person completes it.
pub(super) fn instrument(connection: &Connection, spec: &MeterSpecEntry) -> Result<Instrument, Refusal> {
    let current = connection.facts().and_then(|f| f.test_current_microampere);
    if current.is_some_and(|c| c > MAX_RESTRAINT_MICROAMPERE) {
        return Err(Refusal::TestCurrent);
    }
    let label = spec.label.trim();
    let identity = connection.serial.clone().or((!label.is_empty()).then(|| label.to_owned()));
    let identity = identity.ok_or(Refusal::MeterUnknown)?;
    if identity.chars().count() > crate::part::MAX_NAME {
        return Err(Refusal::TooLong { field: "label".into() });
    }
    let filled = connection.spec();
    let figures = figures(&completed(spec, &filled), &filled)?;
    if let Some(Shown::Value(shown)) = connection.latest.map(|r| r.shown) {
        step_fits(figures.step, shown)?;
    }
    Ok(Instrument {
        identity,
        told: connection.serial.is_some(),
        name: connection.name.clone(),
        source: connection.source,
        profile: connection.profile.clone(),
        ..figures
    })
}

/// An instrument as the fields of its description.
pub(crate) fn spec_of(known: &Instrument) -> MeterSpecEntry {
    let percent = Quantity::new(i64::from(known.accuracy_milli_percent), 3, Unit::Ohm).expect("three places");
    MeterSpecEntry {
        label: if known.told { String::new() } else { known.identity.clone() },
        step: known.step.to_string(),
        accuracy_percent: shortest(percent).to_string(),
        accuracy_counts: known.accuracy_counts.to_string(),
        top: known.top.to_string(),
        calibration_due: known.calibration_due.map(|day| day.to_string()).unwrap_or_default(),
    }
}

/// The same amount without zeros at its end.
pub(super) fn shortest(quantity: Quantity) -> Quantity {
    (0..quantity.places()).find_map(|places| quantity.with_places(places)).unwrap_or(quantity)
}

/// What was left empty is what the meter tells: it may have told it only after the fields were shown.
fn completed(spec: &MeterSpecEntry, filled: &MeterSpecEntry) -> MeterSpecEntry {
    let or = |typed: &str, told: &str| if typed.trim().is_empty() { told.to_owned() } else { typed.to_owned() };
    MeterSpecEntry {
        label: spec.label.clone(),
        step: or(&spec.step, &filled.step),
        accuracy_percent: or(&spec.accuracy_percent, &filled.accuracy_percent),
        accuracy_counts: or(&spec.accuracy_counts, &filled.accuracy_counts),
        top: or(&spec.top, &filled.top),
        calibration_due: spec.calibration_due.clone(),
    }
}

/// The display counts in its step: a step that the number shown is no multiple of, or that is finer than its last
/// place, is not the one of this range.
fn step_fits(step: Quantity, shown: Quantity) -> Result<(), Refusal> {
    let multiple = step.with_places(shown.places()).is_some_and(|step| shown.digits() % step.digits() == 0);
    if multiple || shown.unit() != Unit::Ohm {
        return Ok(());
    }
    Err(Refusal::StepUnlikeDisplay { step: step.to_string(), shown: shown.to_string() })
}

/// A meter without radio, as the person describes it.
pub(super) fn typed_instrument(spec: &MeterSpecEntry) -> Result<Instrument, Refusal> {
    let identity = spec.label.trim().to_owned();
    if identity.is_empty() {
        return Err(Refusal::MeterUnknown);
    }
    if identity.chars().count() > crate::part::MAX_NAME {
        return Err(Refusal::TooLong { field: "label".into() });
    }
    let figures = figures(spec, &MeterSpecEntry::default())?;
    Ok(Instrument { identity: identity.clone(), name: identity, ..figures })
}

/// Step, accuracy, range and calibration day; everything else is that of a typed meter without a name.
fn figures(spec: &MeterSpecEntry, filled: &MeterSpecEntry) -> Result<Instrument, Refusal> {
    // In the order in which they are asked for, so that the first one that is wrong is told first. What was filled in
    // for the person and left as it was is no riddle: its point is a decimal point.
    let step = given(entered::positive, "step", (&spec.step, &filled.step))?;
    let percents = (spec.accuracy_percent.as_str(), filled.accuracy_percent.as_str());
    let accuracy_milli_percent = given(entered::milli_percent, "accuracy_percent", percents)?;
    let counts = (spec.accuracy_counts.as_str(), filled.accuracy_counts.as_str());
    let accuracy_counts = given(entered::counts, "accuracy_counts", counts)?;
    let top = given(entered::positive, "top", (&spec.top, &filled.top))?;
    let due = spec.calibration_due.trim();
    let due = if due.is_empty() { None } else { Some(Day::parse(due)) };
    Ok(Instrument {
        identity: String::new(),
        told: false,
        name: String::new(),
        source: Source::Typed,
        profile: "typed".to_owned(),
        step,
        accuracy_milli_percent,
        accuracy_counts,
        top,
        calibration_due: due.transpose().map_err(|_| Refusal::Day { field: "calibration_due".into() })?,
    })
}

/// A figure of the meter as `read` reads it; an empty one is not known yet.
fn given<T>(
    read: impl Fn(&str, &str, bool) -> Result<T, Refusal>,
    field: &str,
    (text, filled): (&str, &str),
) -> Result<T, Refusal> {
    if text.trim().is_empty() { Err(Refusal::MeterUnknown) } else { read(field, text, text == filled) }
}

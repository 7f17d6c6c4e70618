//! From what a meter tells and a person types to the instrument of the record.

use super::connection::Connection;
use crate::job::{MeterSpecEntry, Refusal};
use crate::meter::link::Source;
use crate::meter::{MAX_RESTRAINT_MICROAMPERE, Shown};
use crate::record::Instrument;
use crate::unit::{Day, NumberError, Quantity, Unit};

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
    // What was filled in for the person and left as it was is no riddle: its point is a decimal point.
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
    // In the order in which they are asked for, so that the first one that is wrong is told first.
    let step = positive("step", &spec.step, &filled.step)?;
    let percent = number("accuracy_percent", &spec.accuracy_percent, &filled.accuracy_percent)?;
    let milli = percent.with_places(3).and_then(|q| u32::try_from(q.digits()).ok()).filter(|m| *m <= 100_000);
    let counts = number("accuracy_counts", &spec.accuracy_counts, &filled.accuracy_counts)?;
    let counts = counts.with_places(0).and_then(|q| u32::try_from(q.digits()).ok()).filter(|c| *c <= 10_000);
    let (milli, counts) =
        (milli.ok_or_else(|| wrong("accuracy_percent"))?, counts.ok_or_else(|| wrong("accuracy_counts"))?);
    let top = positive("top", &spec.top, &filled.top)?;
    let due = spec.calibration_due.trim();
    let due = if due.is_empty() { None } else { Some(Day::parse(due)) };
    Ok(Instrument {
        identity: String::new(),
        told: false,
        name: String::new(),
        source: Source::Typed,
        profile: "typed".to_owned(),
        step,
        accuracy_milli_percent: milli,
        accuracy_counts: counts,
        top,
        calibration_due: due.transpose().map_err(|_| Refusal::Day { field: "calibration_due".into() })?,
    })
}

fn wrong(field: &str) -> Refusal {
    Refusal::Number { field: field.into(), ambiguous: false }
}

fn number(field: &str, text: &str, filled: &str) -> Result<Quantity, Refusal> {
    // A step of 0,001 begins with zero and is not ambiguous; 1.000 typed as a top is asked back.
    Quantity::typed(text, Unit::Ohm, text == filled).map_err(|why| match why {
        NumberError::Empty => Refusal::MeterUnknown,
        NumberError::Ambiguous => Refusal::Number { field: field.into(), ambiguous: true },
        NumberError::NotADigit(_) | NumberError::TooLong => wrong(field),
    })
}

fn positive(field: &str, text: &str, filled: &str) -> Result<Quantity, Refusal> {
    let quantity = number(field, text, filled)?;
    if quantity.digits() > 0 { Ok(quantity) } else { Err(wrong(field)) }
}

//! The meter on the screen: a number only while it is fresh, otherwise words.

use super::model::{Display, MeterView};
use super::words::{MeterCode, first_number_words, meter_words, practice_name, sign_words};
use crate::job::Job;
use crate::meter::link::FoundMeter;
use crate::meter::{FrameError, Reading, Shown};
use crate::session::{MeterState, Session, spec_of};
use crate::unit::Now;

/// The link, the instrument and its present display.
pub(super) fn of(session: &Session, now: &Now) -> MeterView {
    let language = session.language();
    let state = session.meter(now);
    let by_eye = state.wanted.is_none() && session.job().is_some_and(Job::is_typed);
    let code = if by_eye { MeterCode::ByEye } else { code_of(&state) };
    let (words, remedy) = meter_words(code, language);
    MeterView {
        link: state.link,
        live: state.live.is_some(),
        code: code.code().to_owned(),
        words,
        remedy,
        name: state.wanted.map(|w| practice_name(&w.name, w.source, language)),
        source: state.wanted.map(|w| w.source),
        identity: state.instrument.map(|i| i.identity.clone()).or(state.serial.map(str::to_owned)),
        found: state
            .found
            .iter()
            .map(|f| FoundMeter { name: practice_name(&f.name, f.source, language), ..f.clone() })
            .collect(),
        searching: state.searching,
        display: state.live.map(|reading| display(&reading, now, language)),
        spec: state.spec.clone(),
        missing: state.missing.iter().map(|m| (*m).to_owned()).collect(),
        first_number: if state.first_number_tells { first_number_words(language).to_owned() } else { String::new() },
        in_use: session.meter_is_of_job(),
        typed_spec: session.typed_meter().map(spec_of).unwrap_or_default(),
    }
}

fn code_of(state: &MeterState<'_>) -> MeterCode {
    match (state.live, state.trouble) {
        (_, Some(FrameError::WrongUnit { .. })) => MeterCode::WrongUnit,
        (_, Some(_)) => MeterCode::Unreadable,
        (Some(reading), None) if reading.flags.low_battery => MeterCode::LowBattery,
        (Some(reading), None) if reading.flags.hold => MeterCode::Hold,
        (Some(_), None) => MeterCode::Live,
        (None, None) if state.waits_for_step => MeterCode::StepUnknown,
        (None, None) if state.stale => MeterCode::Stale,
        (None, None) => MeterCode::Link(state.link),
    }
}

fn display(reading: &Reading, now: &Now, language: crate::verdict::words::Language) -> Display {
    let (text, unit, state) = match reading.shown {
        Shown::Value(quantity) => (quantity.to_string(), quantity.unit().sign(), "value"),
        Shown::OverRange => ("OL".to_owned(), "", "over-range"),
        Shown::Blank => ("--".to_owned(), "", "blank"),
    };
    Display {
        text,
        unit: unit.to_owned(),
        state: state.to_owned(),
        age_ms: now.boot.since(reading.at),
        signs: sign_words(reading.flags, language),
    }
}
